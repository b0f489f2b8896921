"""Run a command and measure it: wall time, CPU seconds, peak memory of the whole process tree."""

import os
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path

SAMPLE_EVERY_S = 0.01
PAGE_BYTES = os.sysconf("SC_PAGE_SIZE")


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
    if watch_memory:
        peak = max(peak, usage.ru_maxrss / 1024)
    return Run(wall, usage.ru_utime + usage.ru_stime, peak)


def _watch(child: subprocess.Popen[bytes]) -> float:
    """Return the largest sum of resident memory of the tree, MB, sampled until the child ends."""
    peak = 0.0
    while os.waitid(os.P_PID, child.pid, os.WEXITED | os.WNOHANG | os.WNOWAIT) is None:
        peak = max(peak, sum(_resident_mb(pid) for pid in _tree(child.pid)))
        time.sleep(SAMPLE_EVERY_S)
    return peak


def _tree(pid: int) -> list[int]:
    try:
        tasks = list(Path(f"/proc/{pid}/task").iterdir())
        children = [int(c) for t in tasks for c in (t / "children").read_text().split()]
    except (FileNotFoundError, ProcessLookupError):
        return []
    return [pid, *(found for child in children for found in _tree(child))]


def _resident_mb(pid: int) -> float:
    try:
        return int(Path(f"/proc/{pid}/statm").read_text().split()[1]) * PAGE_BYTES / 2**20
    except (FileNotFoundError, ProcessLookupError):
        return 0.0
