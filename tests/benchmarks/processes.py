"""Run a command and measure it: wall time, CPU seconds, peak memory of the whole process tree."""

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

SAMPLE_EVERY_S = 0.01


@contextmanager
def compiled_into(folder: Path) -> Iterator[None]:
    """Let the commands that are run meanwhile keep Python's compiled files in a folder.

    A first run fills it and later ones read it, as after an installation, whatever this
    process was told and without a trace in the package's own folder.
    """
    before = dict(os.environ)
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.environ["PYTHONPYCACHEPREFIX"] = str(folder)
    try:
        yield
    finally:
        os.environ.clear()
        os.environ.update(before)


@dataclass(frozen=True)
class Run:
    """One run; `peak_mb` is 0 when memory was not watched."""

    wall_s: float
    cpu_s: float
    peak_mb: float


def run(command: list[str], *, watch_memory: bool = False) -> Run:
    """Run a command to its end; CPU seconds include its children."""
    began = time.perf_counter()
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE) as child:
        peak = _watch(child) if watch_memory else 0.0
        # wait4 gives the resource use of just this child and what it waited for.
        _, status, usage = os.wait4(child.pid, 0)
        wall = time.perf_counter() - began
        child.returncode = os.waitstatus_to_exitcode(status)
        if child.returncode:
            message = child.stderr.read().decode() if child.stderr else ""
            sys.exit(f"{' '.join(command)} ended with {child.returncode}:\n{message}")
    return Run(wall, usage.ru_utime + usage.ru_stime, peak)


def _watch(child: subprocess.Popen[bytes]) -> float:
    """Return the largest resident memory of the tree, MB, sampled until the child ends.

    That is the largest sum at any sample, or one process's own high-water mark if that is more.
    (The maximum that wait4 gives is no use: it starts with the memory of the parent.)
    """
    peak = 0.0
    while os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None:
        sizes = [_memory_mb(pid) for pid in _tree(child.pid)]
        now = sum(resident for resident, _ in sizes)
        peak = max(peak, now, *(highest for _, highest in sizes))
        time.sleep(SAMPLE_EVERY_S)
    return peak


def _tree(pid: int) -> list[int]:
    try:
        tasks = list(Path(f"/proc/{pid}/task").iterdir())
        children = [int(c) for t in tasks for c in (t / "children").read_text().split()]
    except (FileNotFoundError, ProcessLookupError):
        return []
    return [pid, *(found for child in children for found in _tree(child))]


def _memory_mb(pid: int) -> tuple[float, float]:
    """Return the resident memory now and its high-water mark."""
    try:
        lines = Path(f"/proc/{pid}/status").read_text(encoding="utf-8").splitlines()
    except (FileNotFoundError, ProcessLookupError):
        return 0.0, 0.0
    kilobytes = {line.split(":")[0]: line.split()[1] for line in lines if line.startswith("Vm")}
    return int(kilobytes.get("VmRSS", 0)) / 1024, int(kilobytes.get("VmHWM", 0)) / 1024
