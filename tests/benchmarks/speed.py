"""The whole command against the plain script, in alternating runs; and what imports cost."""

import os
import statistics
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from tests.art.bench import assorted, dense
from tests.art.degrade import jpeg, scan
from tests.art.raster import to_bytes
from tests.benchmarks.processes import Run, compiled_into, run
from tests.benchmarks.tables import line, table

SIZES = {1: (1224, 816), 12: (4242, 2828), 48: (8484, 5656)}
WANTED = {"flat 12 MP": (2.0, 350), "flat 48 MP": (4.0, 700), "dense 12 MP": (4.0, "any")}
PLAIN_SCRIPT = Path(__file__).with_name("plain_script.py")
IN_PROCESS = """
import sys, time
from pathlib import Path
import img2pour
from img2pour.job.model import Job
job = Job.model_validate({"size": {"width": "500mm"}, "colours": {"wood": "none"}})
for _ in range(3):
    began = time.perf_counter()
    img2pour.convert(Path(sys.argv[1]), job)
    print(time.perf_counter() - began)
"""


def _pictures(sizes: list[int], folder: Path) -> Iterator[tuple[str, Path]]:
    """Write one picture after the other: flat art as JPEG 92, a scan, and the dense piece."""
    for size in sizes:
        picture = assorted(*SIZES[size]).render()
        yield _written(f"flat {size} MP", jpeg(to_bytes(picture), 92), folder)
        if size == 12:
            yield _written("scan 12 MP", scan(picture, 1), folder)
            yield _written("dense 12 MP", jpeg(dense(*SIZES[12]).picture(), 92), folder)


def _written(name: str, data: bytes, folder: Path) -> tuple[str, Path]:
    path = folder / f"{name.replace(' ', '-')}.jpg"
    path.write_bytes(data)
    return name, path


def _everything(picture: Path, out: Path) -> list[str]:
    options = ["--width", "500mm", "--wood", "none", "-q", "-o", str(out)]
    return [sys.executable, "-m", "img2pour", "run", str(picture), *options]


def _ours(picture: Path, out: Path) -> list[str]:
    """Return the command for what the plain script does too: regions, areas, volumes."""
    return [*_everything(picture, out), "--files", "design"]


def _plain(picture: Path, out: Path) -> list[str]:
    return [sys.executable, str(PLAIN_SCRIPT), str(picture), str(out)]


def _plain_all(picture: Path, out: Path) -> list[str]:
    return [*_plain(picture, out), "--all-pixels"]


RIVALS = {"img2pour": _ours, "plain script": _plain}
ONCE = {"plain script, k-means on every pixel": _plain_all, "img2pour, every file": _everything}
HEAD = ["picture", "program", "wall s (spread)", "CPU s", "peak MB", "wanted", "wall, ratio"]


def report(sizes: list[int], runs: int) -> Iterator[str]:
    """Yield the table line by line: how long each program takes, and that over img2pour's time."""
    yield (
        f"### Speed of the whole command\n\nimg2pour and the plain script {runs} times each in "
        "turn, after a first run of each that compiles Python's files and in which memory is "
        "watched (whole process tree); median (least to most). Other rows: one run, on flat art. "
        "CPU: user and system, all processes.\n"
    )
    yield from (line(HEAD), line(["---"] * len(HEAD)))
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        with compiled_into(folder / "compiled"):
            for picture_name, picture in _pictures(sizes, folder):
                yield from _compare(picture_name, picture, runs)
    yield f"\nLoad at the end: {os.getloadavg()[0]:.2f}"


def _compare(name: str, picture: Path, runs: int) -> Iterator[str]:
    """Yield the rows of one picture."""
    out = picture.with_suffix("")
    commands = {program: make(picture, out / program) for program, make in RIVALS.items()}
    watched = {program: run(command, watch_memory=True) for program, command in commands.items()}
    timed: dict[str, list[Run]] = {program: [] for program in commands}
    for _ in range(runs):
        for program, command in commands.items():
            timed[program].append(run(command))
    ours = _median_wall(timed["img2pour"])
    for program in RIVALS:
        yield _row(name, program, timed[program], watched[program].peak_mb, ours)
    if name.startswith("flat"):
        for program, make in ONCE.items():
            once = run(make(picture, out / program), watch_memory=True)
            yield _row(name, program, [once], once.peak_mb, ours)


def _row(name: str, program: str, timed: list[Run], peak_mb: float, ours_s: float) -> str:
    wanted = "{} s, {} MB".format(*WANTED[name]) if name in WANTED else ""
    return line(
        [
            name,
            program,
            _wall(timed),
            _cpu(timed),
            f"{peak_mb:.0f}",
            wanted if program == "img2pour" else "",
            f"{_median_wall(timed) / ours_s:.2f}",
        ]
    )


def _median_wall(runs: list[Run]) -> float:
    return statistics.median(one.wall_s for one in runs)


def _wall(runs: list[Run]) -> str:
    walls = [one.wall_s for one in runs]
    return f"{statistics.median(walls):.2f} ({min(walls):.2f} to {max(walls):.2f})"


def _cpu(runs: list[Run]) -> str:
    return f"{statistics.median(one.cpu_s for one in runs):.2f}"


def in_process(runs_of: int = 12) -> str:
    """Return the time of the second and third conversion in one process."""
    with tempfile.TemporaryDirectory() as name:
        picture = Path(name) / "flat.jpg"
        picture.write_bytes(jpeg(assorted(*SIZES[runs_of]).picture(), 92))
        command = [sys.executable, "-c", IN_PROCESS, str(picture)]
        with compiled_into(Path(name) / "compiled"):
            done = subprocess.run(command, check=True, capture_output=True, text=True)
    times = ", ".join(f"{float(line):.2f}" for line in done.stdout.split())
    return (
        f"### In one process\n\n`convert` of flat {runs_of} MP three times: {times} s (wanted 1.0)"
    )


IMPORTS = {
    "python -c pass": ["-c", "pass"],
    "import img2pour": ["-c", "import img2pour"],
    "img2pour --help": ["-m", "img2pour", "--help"],
    "import img2pour.cli, img2pour.pipeline": ["-c", "import img2pour.cli, img2pour.pipeline"],
    "import numpy, cv2, shapely, ezdxf": ["-c", "import numpy, cv2, shapely, ezdxf"],
}


def imports(runs: int) -> str:
    """Return what starting and importing cost."""
    rows = []
    with tempfile.TemporaryDirectory() as folder, compiled_into(Path(folder)):
        for name, arguments in IMPORTS.items():
            command = [sys.executable, *arguments]
            run(command)
            timed = [run(command) for _ in range(runs)]
            rows.append([f"`{name}`", _wall(timed), _cpu(timed)])
    return "### Imports\n\n" + table(["command", "wall s (spread)", "CPU s"], rows)
