"""Read a job file: every fault at once, each with its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, TypeVar

from img2pour.errors import SettingsError
from img2pour.job.build import try_job
from img2pour.job.faults import Fault, JobError, spell_path
from img2pour.job.faults import Path as FaultPath
from img2pour.job.model import Job
from img2pour.job.toml_lines import line_index
from img2pour.units import quoted

LARGEST_FILE_BYTES = 1_000_000  # a job is a few kilobytes

_T = TypeVar("_T")
_UNQUOTED = re.compile(r"(\s*[A-Za-z0-9_.-]+\s*=\s*)([^\"'\[{\s#][^\"#]*?)\s*(#.*)?")
_WHERE = re.compile(r" \(at (?:line (\d+), column \d+|end of document)\)$")


def read_job(text: str, source: str = "job.toml") -> Job:
    """Build a job from the text of a job file.

    Parameters
    ----------
    text : str
    source : str
        Name of the file, for messages.

    Raises
    ------
    JobError
        All faults at once, each with its line, the setting, the value and what is allowed.
    """
    return read_toml(text, source, try_job)


def load_job(path: Path) -> Job:
    """Read a job file. The picture's path in it counts from the file's folder.

    Raises
    ------
    SettingsError
        When the file is missing or no text, or (as JobError) when settings are wrong.
    """
    return read_job(load_text(path, "job file"), path.name)


def load_text(path: Path, what: str) -> str:
    """Return the text of a TOML file.

    Raises
    ------
    SettingsError
        When there is no such file, or it is too large or not UTF-8.
    """
    try:
        if path.is_file() and path.stat().st_size > LARGEST_FILE_BYTES:
            raise SettingsError(f"{quoted(path)} is too large for a {what} (1 MB at most)")
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SettingsError(f"{quoted(path)} is no {what}: it is not text in UTF-8") from None
    except OSError as error:
        reason = (error.strerror or "cannot be read").lower()
        raise SettingsError(f"the {what} {quoted(path, 120)} cannot be read: {reason}") from error


def read_toml(
    text: str, source: str, build: Callable[[dict[str, Any]], tuple[_T | None, list[Fault]]]
) -> _T:
    """Read TOML with `build`, and say all that is wrong with it, in the order of its lines.

    Raises
    ------
    JobError
    """
    data, text, broken = _parse(text.replace("\r\n", "\n"))
    value, faults = build(data)
    if value is not None and not broken:
        return value
    lines = line_index(text)
    if broken:  # lines were left out: a rule between settings may only miss one of them
        faults = [fault for fault in faults if fault.path in lines]
    placed = [_place(fault, lines, source) for fault in faults]
    placed += [(line, Fault((), why, place=f"{source}, line {line}")) for line, why in broken]
    raise JobError([fault for _, fault in sorted(placed, key=lambda pair: pair[0])])


def _place(fault: Fault, lines: dict[FaultPath, int], source: str) -> tuple[int, Fault]:
    """Return the line of the longest known part of a fault's path, and the fault placed there."""
    known = [fault.path[:n] for n in range(len(fault.path), 0, -1) if fault.path[:n] in lines]
    line = lines[known[0]] if known else 0
    where = f"{source}, line {line}" if line else source
    spelt = f": {spell_path(fault.path)}" if fault.path else ""
    return line, replace(fault, place=where + spelt)


def _parse(text: str) -> tuple[dict[str, Any], str, list[tuple[int, str]]]:
    """Return the values, the text without unreadable lines, and what is wrong with those.

    A value without quotes (``width = 12 in``), the most common slip, is noted and stepped over, so
    that the rest of the file is checked as well; any other broken line ends the reading.
    """
    broken: list[tuple[int, str]] = []
    while True:
        try:
            return tomllib.loads(text), text, broken
        except tomllib.TOMLDecodeError as error:
            where = _WHERE.search(str(error))
            lines = text.split("\n")
            number = int(where[1]) if where and where[1] else len(lines)
            slip = _UNQUOTED.fullmatch(lines[number - 1])
            why = _WHERE.sub("", str(error))
            if slip is None:
                return {}, "", [*broken, (number, f"this is not TOML: {why.lower()}")]
            broken.append((number, _say_quotes(slip)))
            lines[number - 1] = ""
            text = "\n".join(lines)


def _say_quotes(slip: re.Match[str]) -> str:
    right = f'{slip[1].strip()} "{slip[2].strip()}"'
    return f"{quoted(slip[2])} is text and needs quotes; write {right}"
