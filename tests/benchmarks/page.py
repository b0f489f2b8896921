"""The page through HTTP: how soon a setting is seen at 12 MP, and many jobs at once."""

import json
import os
import re
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import httpx

from tests.art.bench import assorted
from tests.art.degrade import jpeg
from tests.art.raster import to_bytes
from tests.benchmarks.speed import SIZES
from tests.benchmarks.tables import table

JOBS_AT_ONCE = 20
LONG_S = 600.0
SEALS = ("flood", "none", "brush", "band")
RESINS = ("casting 2:1", "table-top 1:1")
SETTINGS: dict[str, Callable[[int, list[str]], tuple[str, Any]]] = {
    "width": lambda n, names: ("size.width", f"{400 + n} mm"),
    "role of a colour": lambda n, names: (
        "override",
        [{"colour": names[n % len(names)], "role": "wood"}],
    ),
    "depth": lambda n, names: ("carving.depth", f"{3 + n / 10:.1f} mm"),
    "seal": lambda n, names: ("seal.kind", SEALS[n % len(SEALS)]),
    "resin": lambda n, names: ("mixing.resin", RESINS[n % len(RESINS)]),
}
"""The nth value of each setting, none of them worked out before."""


@dataclass
class Served:
    """A running server."""

    client: httpx.Client
    pid: int

    def edit(self, job_id: str, path: str, value: Any) -> int:
        """Change one setting; return the revision."""
        body = {"label": path, "changes": [{"path": path, "value": value}]}
        answer = self.client.post(f"/api/jobs/{job_id}/edit", json=body)
        answer.raise_for_status()
        return int(answer.json()["revision"])

    def events(self, job_id: str) -> Iterator[tuple[str, dict[str, Any]]]:
        """Yield events as they come."""
        with self.client.stream("GET", f"/api/jobs/{job_id}/events", timeout=LONG_S) as answer:
            name = ""
            for line in answer.iter_lines():
                if line.startswith("event: "):
                    name = line[7:]
                elif line.startswith("data: "):
                    yield name, json.loads(line[6:])

    def peak_mb(self) -> float:
        """Return the peak memory of the server and all processes that it started, MB."""
        return sum(map(_peak_kb, self._processes())) / 1024

    def cpu_s(self) -> float:
        """Return the CPU seconds of the server and all processes that it started."""
        return sum(map(_cpu_s, self._processes()))

    def _processes(self) -> list[int]:
        children = Path(f"/proc/{self.pid}/task/{self.pid}/children")
        return [self.pid, *map(int, children.read_text().split())]


def _peak_kb(pid: int) -> int:
    text = Path(f"/proc/{pid}/status").read_text()
    match = re.search(r"VmHWM:\s+(\d+) kB", text)
    return int(match[1]) if match else 0


def _cpu_s(pid: int) -> float:
    """Return what `proc(5)` calls utime and stime, in seconds."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def served(folder: Path) -> Iterator[Served]:
    """Run the command itself."""
    command = [sys.executable, "-m", "img2pour", "serve", "--port", "0", "--no-browser"]
    with subprocess.Popen(
        [*command, "--data", str(folder)], stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        link = process.stdout.readline().rpartition(" ")[2].strip()
        try:
            with httpx.Client(base_url=link, timeout=LONG_S) as client:
                yield Served(client, process.pid)
        finally:
            process.terminate()


def report(runs: int) -> str:
    """Return the tables."""
    with tempfile.TemporaryDirectory() as name, served(Path(name)) as page:
        settings = _settings(page, runs)
        many = _many(page)
    load = os.getloadavg()
    return "\n\n".join([settings, many, f"Load of the machine: {load[0]:.1f} (1 min)."])


def _picture(megapixels: int) -> bytes:
    return jpeg(to_bytes(assorted(*SIZES[megapixels]).render()), 92)


def _settings(page: Served, runs: int) -> str:
    """Measure from the change to the design's data in hand."""
    picture = _picture(12)
    rows: list[tuple[str, ...]] = []
    began, used = time.perf_counter(), page.cpu_s()
    job_id = page.client.post("/api/jobs", content=picture).json()["id"]
    page.edit(job_id, "colours.wood", "none")
    for name, data in page.events(job_id):
        if name == "ready" and data["part"] in ("source", "preview"):
            rows.append((f"new picture: {data['part']}", *_since(page, began, used), "", ""))
        if name == "idle":
            break
    revision = page.edit(job_id, "size.width", "380 mm")
    _until(page, job_id, "idle", revision)
    design = page.client.get(f"/api/jobs/{job_id}/parts/design").json()
    names = [colour["name"] for colour in design["colours"]]
    for setting, change in SETTINGS.items():
        calm = [_seen_after(page, job_id, change(n, names), True) for n in range(runs)]
        busy = [_seen_after(page, job_id, change(n, names), False) for n in range(runs, 2 * runs)]
        _until(page, job_id, "idle", 0)
        rows.append((setting, *_pair(calm), *_pair(busy)))
    head = ["what", "all else done: s", "CPU s", "while plan and verdict run: s", "CPU s"]
    return "12 MP, from the change to the design in hand, median (slowest):\n\n" + table(head, rows)


def _pair(runs: list[tuple[float, float]]) -> tuple[str, str]:
    """Return wall and CPU seconds of some runs."""
    return _shown([wall for wall, _ in runs]), _shown([cpu for _, cpu in runs])


def _shown(times: list[float]) -> str:
    return f"{statistics.median(times):.2f} ({max(times):.2f})"


def _seen_after(
    page: Served, job_id: str, change: tuple[str, Any], is_calm: bool
) -> tuple[float, float]:
    """Return how long a change takes to be seen, and the CPU seconds of all processes in that."""
    began, used = time.perf_counter(), page.cpu_s()
    revision = page.edit(job_id, *change)
    _until(page, job_id, "design", revision)
    seconds, cpu = time.perf_counter() - began, page.cpu_s() - used
    if is_calm:
        _until(page, job_id, "idle", revision)
    return seconds, cpu


def _until(page: Served, job_id: str, wanted: str, revision: int) -> None:
    """Wait for a part and fetch it, or until nothing is left to do."""
    for name, data in page.events(job_id):
        if data["revision"] < revision:
            continue
        if name == wanted:
            return
        if name == "ready" and data["part"] == wanted:
            page.client.get(f"/api/jobs/{job_id}/parts/{wanted}").raise_for_status()
            return


def _since(page: Served, began: float, used: float) -> tuple[str, str]:
    return f"{time.perf_counter() - began:.2f}", f"{page.cpu_s() - used:.2f}"


def _marked(picture: bytes, number: int) -> bytes:
    """Return a JPEG with a comment, so that no other is known by the same content."""
    return picture[:2] + b"\xff\xfe\x00\x03" + bytes([number]) + picture[2:]


def _many(page: Served) -> str:
    """Give many jobs at once and see that each ends."""
    picture = _picture(1)
    began = time.perf_counter()
    ids = [page.client.post("/api/jobs", content=picture).json()["id"] for _ in range(JOBS_AT_ONCE)]
    for job_id in ids:
        page.edit(job_id, "colours.wood", "none")
    wanted = {job_id: page.edit(job_id, "size.width", "500 mm") for job_id in ids}
    for job_id, revision in wanted.items():
        _until(page, job_id, "idle", revision)
    seconds = time.perf_counter() - began
    parts = [
        page.client.get(f"/api/jobs/{job_id}/parts/{part}").status_code
        for job_id in ids
        for part in ("design", "plan", "check")
    ]
    row = (
        str(JOBS_AT_ONCE),
        f"{parts.count(200)} of {len(parts)}",
        f"{seconds:.0f}",
        f"{page.peak_mb():.0f}",
    )
    return "1 MP jobs at once:\n\n" + table(["jobs", "parts done", "s", "peak MB, all"], [row])
