"""The whole way from a picture to files: truth by closed forms, reproducibility, bad input."""

from __future__ import annotations

import hashlib
import json
import math
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

import img2pour
from img2pour.errors import Img2PourError
from img2pour.job import make_job
from img2pour.job.reading import load_job
from img2pour.pipeline import convert, run
from img2pour.results import Result
from img2pour.steps import Step, as_table
from img2pour.table import STEPS
from tests.art.degrade import png
from tests.art.raster import coverage, to_bytes

SAMPLE = Path(__file__).parent.parent / "sample_images" / "kingfisher.png"
SAND, NAVY, RED = (236.0, 214.0, 169.0), (21.0, 60.0, 120.0), (190.0, 40.0, 50.0)


def disc_picture(size: int = 300, radius: float = 90.3, speck: float = 0.0) -> bytes:
    """Draw a navy disc on sand, exactly antialiased, and perhaps a small red disc in a corner."""
    import shapely

    picture = np.broadcast_to(np.array(SAND), (size, size, 3)).copy()
    middle = shapely.Point(size / 2 + 0.2, size / 2 - 0.3).buffer(radius, quad_segs=256)
    for shape, colour in ((middle, NAVY), (shapely.Point(30, 30).buffer(speck, 64), RED)):
        if not shape.is_empty:
            covered = coverage([shape], size, size)[..., None]
            picture += covered * (np.array(colour) - picture)
    return png(to_bytes(picture))


def disc_job(**more: object) -> img2pour.Job:
    return make_job(size={"width": "300 mm"}, **more)


def convert_disc(speck: float = 0.0, **more: object) -> Result:
    return convert(disc_picture(speck=speck), disc_job(**more))


def test_disc_has_the_area_of_the_formula() -> None:
    """Area pi r^2: one mm a pixel, so the disc measures what was drawn."""
    result = convert_disc()
    by_role = {row["role"]: row for row in result.report["colours"]}
    assert by_role["pour"]["area_mm2"] == pytest.approx(math.pi * 90.3**2, rel=1e-4)
    assert by_role["pour"]["regions"] == 1
    whole = sum(row["area_mm2"] for row in result.report["colours"])
    assert whole == pytest.approx(300.0**2, rel=1e-12)
    assert sum(row["area_percent"] for row in result.report["colours"]) == pytest.approx(100)


def test_flat_bit_fills_a_disc_to_the_wall() -> None:
    """A flat bit cuts a disc wider than itself whole: pi r^2 times the depth."""
    result = convert_disc(bits={"use": ("flat 1/8 in",)}, carving={"depth": "4 mm"})
    poured = next(row for row in result.report["colours"] if row["role"] == "pour")
    assert poured["volume_ml"] == pytest.approx(math.pi * 90.3**2 * 4 / 1000, rel=5e-4)


def test_island_smaller_than_the_bit_is_removed_and_listed() -> None:
    """A disc of 2 x 5 mm cannot take a bit of 1/2 in; it is listed where it was drawn."""
    result = convert_disc(5.0, bits={"use": ("flat 1/2 in",)})
    (removed,) = result.report["removed"]
    assert removed["at_mm"] == pytest.approx([30, 270], abs=0.1)
    assert removed["area_mm2"] == pytest.approx(math.pi * 25, rel=1e-2)
    kept = convert_disc(5.0, bits={"use": ("flat 1/2 in",)}, carving={"small": "keep"})
    assert kept.report["removed"] == []
    assert sum(row["regions"] for row in kept.report["colours"]) == 3


def test_regions_are_shapely_geometry_that_tiles() -> None:
    result = convert_disc(5.0, carving={"small": "keep"})
    whole = sum(shape.area for shape in result.regions.values())
    assert whole == pytest.approx(300.0**2, rel=1e-9)
    assert all(shape.is_valid for shape in result.regions.values())


def test_matrix_takes_picture_points_to_the_files() -> None:
    """The middle of the picture lands in the middle of the board, for every zero."""
    for zero, middle in (("corner", 150.0), ("centre", 0.0)):
        report = convert_disc(output={"zero": zero}).report
        x, y, _ = np.array(report["image_to_mm"]) @ (150.0, 150.0, 1.0)
        assert (x, y) == pytest.approx((middle, middle))


def test_only_what_a_setting_touches_is_done_again() -> None:
    """Width places anew, depth measures anew; neither reads, reduces or traces again."""
    from img2pour.pipeline import _bench
    from img2pour.progress import Progress

    kept: dict[str, object] = {}

    def steps_run(**sections: dict[str, object]) -> list[str]:
        bench = _bench(disc_picture(), make_job(**sections), Path(), Progress(), kept)
        bench.get("pockets")
        return bench.ran

    first = steps_run(size={"width": "300 mm"})
    assert "trace" in first
    assert steps_run(size={"width": "300 mm"}) == []
    wider = set(steps_run(size={"width": "400 mm"}))
    small_values = {"geometry", "size", "lengths", "tolerance"}
    placed = {"touch-ups", "place", "pieces", "rules", "adjust", "limit", "cut", "pockets"}
    assert wider == small_values | placed
    again = steps_run(size={"width": "400 mm"}, carving={"depth": "4 mm"})
    assert set(again) == {"shelf", "size", "adjust", "limit", "cut", "pockets"}
    assert "trace" in steps_run(size={"width": "400 mm"}, colours={"palette": 2, "wood": "none"})


def test_steps_stand_in_order() -> None:
    as_table(list(STEPS.values()))
    with pytest.raises(ValueError, match="stands twice or before"):
        as_table([Step("late", len, ("early",)), Step("early", len)])


def run_disc(out: Path, tmp_path: Path) -> None:
    picture = tmp_path / "disc.png"
    picture.write_bytes(disc_picture(speck=5.0))
    run(disc_job(artwork={"file": "disc.png"}), out, base=tmp_path)


def digests(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def test_written_job_gives_the_same_bytes_again(tmp_path: Path) -> None:
    out = tmp_path / "out"
    run_disc(out, tmp_path)
    first = digests(out)
    assert {"design/regions.dxf", "report.json", "colours.csv", "finished.png"} <= first.keys()
    run(load_job(out / "job.toml"), out, base=out)
    assert digests(out) == first


@pytest.mark.parametrize(("seed", "threads"), [("0", "1"), ("77", "2")])
def test_bytes_do_not_depend_on_hash_seed_or_threads(
    tmp_path: Path, seed: str, threads: str
) -> None:
    run_disc(tmp_path / "here", tmp_path)
    environment = os.environ | {
        "PYTHONHASHSEED": seed,
        "OMP_NUM_THREADS": threads,
        "OPENBLAS_NUM_THREADS": threads,
        "OPENCV_FOR_THREADS_NUM": threads,
    }
    command = [sys.executable, "-m", "img2pour", "run", "disc.png", "--width", "300mm", "-q"]
    subprocess.run([*command, "-o", "there"], cwd=tmp_path, env=environment, check=True)
    here, there = digests(tmp_path / "here"), digests(tmp_path / "there")
    assert here == there


def test_report_in_the_folder_is_what_python_gets(tmp_path: Path) -> None:
    run_disc(tmp_path / "out", tmp_path)
    written = json.loads((tmp_path / "out" / "report.json").read_text())
    assert written["input_sha256"] == hashlib.sha256(disc_picture(speck=5.0)).hexdigest()
    assert written["board"]["width_mm"] == pytest.approx(300)


BAD_PICTURES = {
    "empty.png": b"",
    "text.png": b"this is no picture\n" * 40,
    "cut.png": disc_picture()[:900],
    "dot.png": png(np.full((1, 1, 3), 120, np.uint8)),
}


@pytest.mark.parametrize("name", BAD_PICTURES)
def test_bad_picture_is_one_line_and_leaves_the_folder_alone(tmp_path: Path, name: str) -> None:
    run_disc(tmp_path / "out", tmp_path)
    before = digests(tmp_path / "out")
    (tmp_path / name).write_bytes(BAD_PICTURES[name])
    with pytest.raises(Img2PourError) as caught:
        run(disc_job(artwork={"file": name}), tmp_path / "out", base=tmp_path)
    assert "\n" not in str(caught.value)
    assert digests(tmp_path / "out") == before


def test_bomb_is_refused_before_decoding(tmp_path: Path) -> None:
    """20,000 x 20,000 px of one colour are few bytes and 1.2 GB of pixels."""
    Image.MAX_IMAGE_PIXELS = None
    Image.new("1", (20_000, 20_000)).save(tmp_path / "bomb.png")
    with pytest.raises(Img2PourError, match="megapixel"):
        run(disc_job(artwork={"file": "bomb.png"}), tmp_path / "out", base=tmp_path)
    assert not (tmp_path / "out").exists()


def test_one_flat_colour_works() -> None:
    result = convert(png(np.full((40, 60, 3), 120, np.uint8)), disc_job())
    (colour,) = result.report["colours"]
    assert colour["role"] == "wood"
    assert colour["area_mm2"] == pytest.approx(300 * 200)
    assert any("nothing is poured" in warning for warning in result.warnings)


@pytest.mark.parametrize("shape", [(2, 2), (3, 40)])
def test_tiny_pictures_work(shape: tuple[int, int]) -> None:
    pixels = np.full((*shape, 3), 120, np.uint8)
    pixels[0, 0] = (250, 250, 250)
    result = convert(png(pixels), disc_job(colours={"wood": "none"}, carving={"small": "keep"}))
    height_mm = 300 * shape[0] / shape[1]
    whole = sum(row["area_mm2"] for row in result.report["colours"])
    assert whole == pytest.approx(300 * height_mm)


def test_bit_wider_than_the_board_is_refused() -> None:
    with pytest.raises(Img2PourError, match="smaller bit or a larger board"):
        convert(disc_picture(), make_job(size={"width": "5 mm"}, bits={"use": ("flat 1/4 in",)}))


def test_size_is_asked_for_not_guessed() -> None:
    with pytest.raises(Img2PourError, match="how large shall the piece be"):
        convert(disc_picture(), make_job())
    with pytest.raises(Img2PourError, match="no density"):
        convert(disc_picture(), make_job(size={"scale": "dpi"}))


def test_unknown_colour_in_an_override_is_named() -> None:
    job = disc_job(override=({"colour": "no such colour", "role": "pour"},))
    with pytest.raises(Img2PourError, match="no such colour"):
        convert(disc_picture(), job)


def test_board_with_margin_centres_the_artwork() -> None:
    job = make_job(size={"board": "500 mm x 400 mm", "margin": "50 mm"})
    result = convert(disc_picture(), job)
    assert result.report["board"]["width_mm"] == pytest.approx(500)
    assert result.report["scale_mm_per_px"] == pytest.approx(1.0)
    assert result.design.region_map.bounds == pytest.approx((100, 50, 400, 350))


def test_tolerance_caps_the_deviation() -> None:
    """A coarse cap leaves fewer pieces than a fine one and never more vertices."""
    fine = convert(SAMPLE, make_job(size={"width": "12 in"}))
    coarse = convert(SAMPLE, make_job(size={"width": "12 in"}, tracing={"tolerance": "0.001 mm"}))
    assert coarse.report["tracing"]["tolerance_mm"] == pytest.approx(0.001)
    assert fine.report["tracing"]["tolerance_mm"] > 0.001


def test_public_names_load_and_are_sorted() -> None:
    assert list(img2pour.__all__) == sorted(img2pour.__all__)
    assert all(getattr(img2pour, name) is not None for name in img2pour.__all__)
    with pytest.raises(AttributeError, match="no attribute"):
        img2pour.nothing_of_the_kind  # noqa: B018
