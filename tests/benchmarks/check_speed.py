"""What `check` adds to the design alone, on art of 3,000 and of 20,000 outline vertices."""

import statistics
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from tests.art.bench import scattered
from tests.art.degrade import jpeg
from tests.art.raster import to_bytes
from tests.benchmarks.processes import Run, run
from tests.benchmarks.tables import table

WANTED_S = {3_000: 2.0, 20_000: 8.0}


@dataclass(frozen=True)
class Art:
    """A piece by its places across and down, its size and the outline vertices it should have."""

    places: tuple[int, int]
    size_px: tuple[int, int]
    vertices: int


ARTS = (Art((10, 6), (2700, 1620), 3_000), Art((25, 17), (4250, 2890), 20_000))


def report(runs: int) -> str:
    """Return the table: outline vertices, both commands, and the difference."""
    rows = []
    with tempfile.TemporaryDirectory() as name:
        for art in ARTS:
            picture = Path(name) / f"{art.vertices}.jpg"
            picture.write_bytes(jpeg(to_bytes(scattered(*art.size_px, *art.places).render()), 95))
            for bits in ([], ["--bit", "flat 1/8in", "--bit", "taper 12.4deg r0.5mm"]):
                rows.append(_row(art, picture, Path(name) / "out", bits, runs))
    head = ["outline vertices", "bits", "design wall s", "CPU s", "check wall s", "CPU s"]
    head += ["check adds: wall s", "CPU s", "wanted s"]
    note = (
        f"Medians of {runs} runs of `run --files design` and of `check` in turn; 500 mm wide, "
        "no wood. Outline vertices: of all closed outlines in `design/regions.dxf`."
    )
    return f"### What check adds\n\n{note}\n\n" + table(head, rows)


def _row(art: Art, picture: Path, out: Path, bits: list[str], runs: int) -> list[object]:
    shared = [str(picture), "--width", "500mm", "--wood", "none", *bits]
    program = [sys.executable, "-m", "img2pour"]
    design = [*program, "run", *shared, "-q", "-o", str(out), "--files", "design"]
    check = [*program, "check", *shared, "--accept-loss", "100%", "--json"]
    pairs = [(run(design), run(check)) for _ in range(runs)]
    plain, judged = ([pair[index] for pair in pairs] for index in (0, 1))
    return [
        outline_vertices(out),
        "own" if bits else "default",
        *_medians(plain),
        *_medians(judged),
        f"{statistics.median(b.wall_s - a.wall_s for a, b in pairs):.2f}",
        f"{statistics.median(b.cpu_s - a.cpu_s for a, b in pairs):.2f}",
        WANTED_S[art.vertices],
    ]


def _medians(runs: list[Run]) -> list[str]:
    return [
        f"{statistics.median(one.wall_s for one in runs):.2f}",
        f"{statistics.median(one.cpu_s for one in runs):.2f}",
    ]


def outline_vertices(out: Path) -> int:
    """Return the vertices of the closed outlines in the design's drawing, the board's left out."""
    import ezdxf

    drawing = ezdxf.readfile(out / "design" / "regions.dxf")
    board = {"BOARD", "MARKS"}
    outlines = drawing.modelspace().query("LWPOLYLINE")
    return sum(len(one) for one in outlines if one.dxf.layer not in board)
