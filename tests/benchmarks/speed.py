"""The whole command against the plain script, in alternating runs; and what imports cost."""

import statistics
import subprocess
import sys
import tempfile
from pathlib import Path

from tests.art.bench import assorted, dense
from tests.art.degrade import jpeg, scan
from tests.art.raster import to_bytes
from tests.benchmarks.processes import Run, run
from tests.benchmarks.tables import table

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


def _pictures(sizes: list[int], folder: Path) -> dict[str, Path]:
    """Write the pictures: flat art as JPEG 92, a scan, and the dense piece."""
    made = {}
    for size in sizes:
        picture = assorted(*SIZES[size]).render()
        made[f"flat {size} MP"] = jpeg(to_bytes(picture), 92)
        if size == 12:
            made["scan 12 MP"] = scan(picture, 1)
            made["dense 12 MP"] = jpeg(dense(*SIZES[12]).picture(), 92)
    paths = {}
    for name, data in made.items():
        paths[name] = folder / f"{name.replace(' ', '-')}.jpg"
        paths[name].write_bytes(data)
    return paths


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


PROGRAMS = {
    "img2pour": _ours,
    "plain script": _plain,
    "plain script, k-means on every pixel": _plain_all,
    "img2pour, every file": _everything,
}


def report(sizes: list[int], runs: int) -> str:
    """Return the table of all programs and how many times slower than img2pour each is."""
    rows = []
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for picture_name, picture in _pictures(sizes, folder).items():
            commands = {
                program: make(picture, folder / f"out-{index}")
                for index, (program, make) in enumerate(PROGRAMS.items())
            }
            rows += _compare(picture_name, commands, runs)
    head = ["picture", "program", "wall s (spread)", "CPU s", "peak MB", "wanted", "wall, ratio"]
    note = (
        f"{runs} runs of each program in turn after a first one of each, in which memory was "
        "watched (whole process tree); median (least to most). CPU: user and system, all processes."
    )
    return f"### Speed of the whole command\n\n{note}\n\n" + table(head, rows)


def _compare(name: str, commands: dict[str, list[str]], runs: int) -> list[list[object]]:
    watched = {program: run(command, watch_memory=True) for program, command in commands.items()}
    timed: dict[str, list[Run]] = {program: [] for program in commands}
    for _ in range(runs):
        for program, command in commands.items():
            timed[program].append(run(command))
    ours = _median_wall(timed["img2pour"])
    wanted = "{} s, {} MB".format(*WANTED[name]) if name in WANTED else ""
    return [
        [
            name,
            program,
            _wall(timed[program]),
            _cpu(timed[program]),
            f"{watched[program].peak_mb:.0f}",
            wanted if program == "img2pour" else "",
            f"{_median_wall(timed[program]) / ours:.2f}",
        ]
        for program in commands
    ]


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
        done = subprocess.run(command, check=True, capture_output=True, text=True)
    times = ", ".join(f"{float(line):.2f}" for line in done.stdout.split())
    return (
        f"### In one process\n\n`convert` of flat {runs_of} MP three times: {times} s (wanted 1.0)"
    )


IMPORTS = {
    "python -c pass": ["-c", "pass"],
    "import img2pour": ["-c", "import img2pour"],
    "img2pour --help": ["-m", "img2pour", "--help"],
    "import numpy, cv2, shapely, ezdxf": ["-c", "import numpy, cv2, shapely, ezdxf"],
}


def imports(runs: int) -> str:
    """Return what starting and importing cost."""
    rows = []
    for name, arguments in IMPORTS.items():
        command = [sys.executable, *arguments]
        run(command)
        timed = [run(command) for _ in range(runs)]
        rows.append([f"`{name}`", _wall(timed), _cpu(timed)])
    return "### Imports\n\n" + table(["command", "wall s (spread)", "CPU s"], rows)
