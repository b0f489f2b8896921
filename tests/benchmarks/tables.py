"""Markdown tables and the header that tells where figures were measured."""

import os
import platform
from collections.abc import Iterable
from importlib.metadata import version
from pathlib import Path

LIBRARIES = ("numpy", "opencv-python-headless", "shapely", "ezdxf", "pillow", "pydantic", "scipy")


def table(head: list[str], rows: Iterable[Iterable[object]]) -> str:
    return "\n".join(line(cells) for cells in [head, ["---"] * len(head), *rows])


def line(cells: Iterable[object]) -> str:
    return "| " + " | ".join(str(cell) for cell in cells) + " |"


def header() -> str:
    """Return the machine and the versions, one line each."""
    versions = ", ".join(f"{name} {version(name)}" for name in LIBRARIES)
    return (
        f"Machine: {_processor()}, {len(os.sched_getaffinity(0))} cores used of "
        f"{os.cpu_count()}, {_memory_gb():.0f} GB, {platform.system()} {platform.release()}\n"
        f"Load before the start: {os.getloadavg()[0]:.2f}\n"
        f"Versions: Python {platform.python_version()}, {versions}"
    )


def _processor() -> str:
    for line in Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines():
        if line.startswith("model name"):
            return line.split(":", 1)[1].strip()
    return platform.machine()


def _memory_gb() -> float:
    return os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 1e9
