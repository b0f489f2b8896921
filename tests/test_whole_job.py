"""The whole job on a drawn pond, judged from outside: closed forms, other readers, other ways."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import ezdxf
import numpy as np
import pytest
import shapely

from img2pour import convert
from img2pour.job import Job
from img2pour.pipeline import run
from img2pour.pours.look import fold_looks, whole_outline
from img2pour.results import Result
from tests.drawing_readers import even_odd_area, rings_by_layer
from tests.pond import (
    HEIGHT_PX,
    MM_PER_PX,
    SEA_BOX,
    SPOT,
    SUN_DISC,
    pond_bytes,
    pond_job,
    write_pond,
)

DEPTH_MM, SURFACE_MM, SHALLOWER_MM, UNDERLAP_MM = 3.175, 0.5, 0.4, 2.0
BOARD = shapely.box(0, 0, 120, 90)


def on_board(shape: shapely.Geometry) -> shapely.Geometry:
    """Return a shape of the picture in mm on the board, y up."""
    matrix = [MM_PER_PX, 0, 0, -MM_PER_PX, 0, HEIGHT_PX * MM_PER_PX]
    return shapely.affinity.affine_transform(shape, matrix)


SUN, SMALL, SEA = on_board(SUN_DISC), on_board(SPOT), on_board(SEA_BOX)
RADII = 15.0, 6.0


@cache
def pond(bits: tuple[str, ...], **more: str) -> Result:
    sections: dict[str, Any] = {"bits": {"use": list(bits)}, "seal": {"kind": "none"}}
    for path, value in more.items():
        section, key = path.split("__")
        sections.setdefault(section, {})[key] = value
    return convert(pond_bytes(), pond_job(**sections), extent="planned")


def pockets_ml(result: Result) -> dict[str, float]:
    """Return what the mixes say that the pockets of each pour hold."""
    return {
        mix["pour"]: sum(batch["pockets_ml"] for batch in mix["batches"])
        for stage in result.report["stages"]
        for mix in stage["mixes"]
    }


def test_flat_bits_need_what_the_closed_forms_say() -> None:
    """Sea: a box less what is left of two discs, its corners as round as the 1/8 in bit.

    The sea goes 2 mm under both suns: discs of 13 and 4 mm are left.
    """
    held = pockets_ml(pond(("flat 1/8 in",)))
    corners = (4 - math.pi) * (25.4 / 16) ** 2
    cores = sum(math.pi * (radius - UNDERLAP_MM) ** 2 for radius in RADII)
    sea = (90 * 60 - corners - cores) * DEPTH_MM / 1000
    suns = sum(math.pi * r**2 for r in RADII) * (DEPTH_MM - SHALLOWER_MM) / 1000
    assert held["sea"] == pytest.approx(sea, rel=1e-3)
    assert held["sun"] == pytest.approx(suns, rel=1e-3)
    assert sum(held.values()) == pytest.approx(sea + suns, rel=1e-3)


def volume_ml(section: Callable[[float], float], depth_mm: float) -> float:
    """Return the integral of a section's area over the depth, by Simpson's rule."""
    heights = np.linspace(0.0, depth_mm, 201)
    weights = np.ones(201)
    weights[1:-1:2], weights[2:-1:2] = 4, 2
    areas = [section(float(height)) for height in heights]
    return float(weights @ areas * depth_mm / 200 / 3 / 1000)


def test_vee_bits_need_what_the_closed_forms_say() -> None:
    """With a vee of 30 degrees walls lean by tan 15 degrees, through the edge at the face."""
    lean = math.tan(math.radians(15.0))
    held = pockets_ml(pond(("vee 30 deg",), carving__walls="sloped"))

    def sun(height: float) -> float:  # above its floor
        depth = DEPTH_MM - SHALLOWER_MM
        return sum(math.pi * (r + lean * (height - depth + SURFACE_MM)) ** 2 for r in RADII)

    def sea(height: float) -> float:
        out = lean * (height - DEPTH_MM + SURFACE_MM)  # how far the wall stands outside the edge
        box = (90 + 2 * out) * (60 + 2 * out)
        box -= (4 - math.pi) * max(out, 0.0) ** 2  # above the face the cone rounds the corners
        return box - sum(math.pi * (r - UNDERLAP_MM - out) ** 2 for r in RADII)

    assert held["sun"] == pytest.approx(volume_ml(sun, DEPTH_MM - SHALLOWER_MM), rel=1e-3)
    assert held["sea"] == pytest.approx(volume_ml(sea, DEPTH_MM), rel=1e-3)


def test_a_taper_needs_what_its_round_floor_leaves() -> None:
    """A ball of 0.5 mm below walls that lean by 6.2 degrees; in the disc's rim only.

    Above the ball's centre the wall leans; below, the floor's rim is a quarter circle whose end
    meets the wall as a tangent. Turned about the disc's middle.
    """
    lean, ball = math.radians(6.2), 0.5
    depth = DEPTH_MM - SHALLOWER_MM
    held = pockets_ml(pond(("taper 12.4 deg r0.5 mm",), carving__walls="sloped"))

    def edge(height: float) -> float:
        """Return how far the wall stands outside the edge at a height above the floor."""
        touch = ball * (1 - math.sin(lean))
        face = depth - SURFACE_MM
        at_touch = -math.tan(lean) * (face - touch)
        if height >= touch:
            return at_touch + math.tan(lean) * (height - touch)
        centre = at_touch - ball * math.cos(lean)
        return centre + math.sqrt(ball**2 - (ball - height) ** 2)

    def sun(height: float) -> float:
        return sum(math.pi * (r + edge(height)) ** 2 for r in RADII)

    assert held["sun"] == pytest.approx(volume_ml(sun, depth), rel=3e-3)


def test_with_bits_as_fine_as_can_be_the_look_is_the_design() -> None:
    """Neither order nor underlap nor seal changes what shows; clear counts as wood."""
    for more in ({}, {"pours__order": ("sun", "sea")}, {"seal__kind": "band"}):
        result = pond(("flat 1/8 in",), **more)
        planned = result.planned
        assert planned is not None
        look = fold_looks(planned.plan.stages, BOARD, whole_outline)[-1]
        off = 0.0
        for name, wished in result.regions.items():
            seen = look.wood_and_clear if name == "sand" else look.shape(name)
            off += seen.symmetric_difference(wished).area
        assert off < 1e-9 * BOARD.area


def test_the_underlap_is_there_and_hidden() -> None:
    result = pond(("flat 1/8 in",))
    (sea,) = result.report["stages"][0]["pockets"]
    rings = sum(math.pi * (r**2 - (r - UNDERLAP_MM) ** 2) for r in RADII)
    assert sea["pour"] == "sea"
    assert sea["under_later_mm2"] == pytest.approx(rings, rel=3e-3)
    planned = result.planned
    assert planned is not None
    with_bits = planned.plan.looks[-1]
    wished = result.regions["sun"]
    assert with_bits.shape("sun").symmetric_difference(wished).area < 1e-3 * wished.area


def write_job(folder: Path, **more: object) -> tuple[Path, dict[str, Any]]:
    write_pond(folder / "pond.png")
    job: Job = pond_job(**more)
    run(job, folder / "out", base=folder)
    return folder / "out", json.loads((folder / "out" / "report.json").read_text("utf-8"))


def test_every_stage_is_read_back_with_the_area_of_the_report(tmp_path: Path) -> None:
    """By GDAL; stages and their layers sort in the order of the work, the same in one file."""
    out, report = write_job(tmp_path)
    names = [stage["name"] for stage in report["stages"]]
    assert names == ["clear", "sea", "sun"]
    files = sorted(path.name for path in (out / "carve").iterdir())
    assert files == [
        "all-stages.dxf",
        "stage-1-clear.dxf",
        "stage-2-sea.dxf",
        "stage-3-sun.dxf",
    ]
    together = rings_by_layer(out / "carve" / "all-stages.dxf")
    wanted = []
    for stage in report["stages"]:
        alone = rings_by_layer(out / stage["file"])
        for pocket in stage["pockets"]:
            layer = pocket["layer"]
            wanted.append(layer)
            assert even_odd_area(alone[layer]) == pytest.approx(pocket["drawn_mm2"], rel=1e-6)
            assert pocket["drawn_mm2"] == pytest.approx(pocket["area_mm2"], rel=2e-3)
            assert len(together[layer]) == len(alone[layer])
            assert even_odd_area(together[layer]) == pytest.approx(pocket["drawn_mm2"], rel=1e-6)
        others = {name for name in alone if re.match(r"S\d\d_", name)}
        assert others == {pocket["layer"] for pocket in stage["pockets"]}
    assert wanted == sorted(wanted) == ["S01_CLEAR", "S02_SEA", "S03_SUN"]


def boards_and_pins(path: Path) -> tuple[np.ndarray, list[tuple[float, float, float]]]:
    """Return the board's box and the pins of a drawing, as another library reads them."""
    model = ezdxf.readfile(path).modelspace()
    (board,) = model.query('LWPOLYLINE[layer=="BOARD"]')
    points = np.array([(x, y) for x, y, *_ in board.get_points()])
    pins = [
        (pin.dxf.center.x, pin.dxf.center.y, 2 * pin.dxf.radius)
        for pin in model.query('CIRCLE[layer=="PINS"]')
    ]
    return np.concatenate([points.min(axis=0), points.max(axis=0)]), pins


@pytest.mark.parametrize(("zero", "corner"), [("corner", (0.0, 0.0)), ("centre", (-60.0, -45.0))])
def test_all_drawings_have_one_zero_and_pins_that_cannot_be_turned(
    tmp_path: Path, zero: str, corner: tuple[float, float]
) -> None:
    out, report = write_job(tmp_path, output={"zero": zero})
    paths = [out / "design" / "regions.dxf", *sorted((out / "carve").iterdir())]
    x, y = corner
    for path in paths:
        board, pins = boards_and_pins(path)
        assert board == pytest.approx([x, y, x + 120, y + 90], abs=1e-6)
        if path.parent.name == "carve":
            (left, right) = pins
            assert left[2] == right[2] == pytest.approx(6.35)
            middle = np.array([x + 60, y + 45])
            stands = {(round(px, 3), round(py, 3)) for px, py, _ in pins}
            for turn in ([-1, -1], [-1, 1], [1, -1]):  # half a turn, and turned over both ways
                turned = [middle + turn * (np.array(pin[:2]) - middle) for pin in pins]
                assert {(round(px, 3), round(py, 3)) for px, py in turned} != stands
            for px, py, width in pins:  # in the waste around the board, inside the blank
                away = shapely.box(*board).distance(shapely.Point(px, py))
                assert width / 2 < away < 25.4 - width / 2
    # Places in the report are where the drawings have them.
    shown = shapely.affinity.translate(SUN, x, y).union(shapely.affinity.translate(SMALL, x, y))
    fills = report["stages"][-1]["mixes"][0]["pockets"]
    assert len(fills) == 2
    assert all(shown.contains(shapely.Point(fill["at_mm"])) for fill in fills)


def test_old_drawings_name_their_unit_in_the_report_too(tmp_path: Path) -> None:
    out, report = write_job(tmp_path, output={"dxf": "R12"}, seal={"kind": "none"})
    files = [stage["file"] for stage in report["stages"]]
    assert files == ["carve/stage-1-sea-mm.dxf", "carve/stage-2-sun-mm.dxf"]
    assert all((out / file).is_file() for file in files)
    assert (out / "carve" / "all-stages-mm.dxf").is_file()


def pieces(path: Path) -> dict[str, int]:
    """Return how many lines and arcs stand on each layer."""
    found: dict[str, int] = {}
    for line in ezdxf.readfile(path).modelspace().query("LWPOLYLINE"):
        found[line.dxf.layer] = found.get(line.dxf.layer, 0) + len(line)
    return found


def test_outlines_of_stages_stay_short(tmp_path: Path) -> None:
    """At most 1.5 times the lines and arcs of the regions that they come from."""
    sample = Path(__file__).parent.parent / "sample_images" / "kingfisher.png"
    job = pond_job(
        artwork={"file": str(sample)}, size={"width": "12 in"}, colours={"palette": "auto"}
    )
    result = convert(sample, job, extent="planned")
    from img2pour.outputs import design_files
    from img2pour.shop_files import carve_files

    for name, data in (design_files(result) | carve_files(result)).items():
        if name in ("design/regions.dxf", "carve/all-stages.dxf"):
            (tmp_path / Path(name).name).write_bytes(data)
    design, stages = pieces(tmp_path / "regions.dxf"), pieces(tmp_path / "all-stages.dxf")
    layers = {row["name"]: row["layer"] for row in result.report["colours"]}
    for stage in result.report["stages"][1:]:
        for pocket in stage["pockets"]:
            own = design[layers[pocket["pour"]]]
            assert stages[pocket["layer"]] <= 1.5 * own, pocket["pour"]


def test_all_of_the_report_is_there(tmp_path: Path) -> None:
    """Checks of the board and cautions reach the data, the page and the warnings, each once."""
    out, report = write_job(tmp_path, board={"thickness": "10 mm"}, blank={"bed": "100 mm x 80 mm"})
    findings = report["plan"]["findings"]
    assert any("the board is 120 x 90 mm, the machine's bed 100 x 80 mm" in one for one in findings)
    assert set(findings) <= set(report["warnings"])
    assert len(report["warnings"]) == len(set(report["warnings"]))
    titles = [caution["title"] for caution in report["cautions"]]
    assert {"Skin and eyes", "Dust", "Hearing", "Heat in the cup"} <= set(titles)
    page = (out / "report.html").read_text("utf-8")
    for words in findings:
        assert page.count(in_page(words)) == 1, words
    for title in titles:
        assert f"<h3>{title}</h3>" in page
    seals = {one["kind"]: one for one in report["plan"]["seals"]}
    assert {"band", "flood", "brush", "none"} <= set(seals)
    assert seals["none"]["volume_ml"] == 0
    assert report["plan"]["cost"] == pytest.approx(
        sum(one["cost"] for one in report["plan"]["products"])
    )


def in_page(words: str) -> str:
    """Return words as they stand in a page."""
    return words.replace("&", "&amp;").replace("'", "&#39;")


def test_places_of_the_verdict_are_measured_from_the_zero_of_the_files() -> None:
    """The same thin stroke, once from the corner and once from the board's middle."""
    found = []
    for zero in ("corner", "centre"):
        job = pond_job(bits={"use": ["flat 1/2 in"]}, output={"zero": zero})
        places = convert(pond_bytes(), job, extent="judged").report["verdict"]["places"]
        found.append([place["at_mm"] for place in places])
    corner, centre = (np.array(places) for places in found)
    assert len(corner) > 0
    assert centre == pytest.approx(corner - [60, 45])
