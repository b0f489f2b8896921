"""Write a job file: complete, commented, always in the same order, read back to the same job."""

from __future__ import annotations

import os
import textwrap
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from img2pour.job.model import Job

_HEADING = """\
# A job for img2pour. Run it with:  img2pour run job.toml -o OUT
# Every setting is here. A line that starts with # is left out; take the # away to use it.
"""
_ESCAPES = {'"': '\\"', "\\": "\\\\", "\b": "\\b", "\t": "\\t", "\n": "\\n", "\f": "\\f"}
_ESCAPES["\r"] = "\\r"
_WIDTH = 88


def write_job(job: Job) -> str:
    """Return the text of the job file: reading it gives the same job."""
    data = job.model_dump()
    blocks = [_HEADING]
    for name, field in Job.model_fields.items():
        section = getattr(job, name)
        if isinstance(section, BaseModel):
            blocks.append(_section(f"[{name}]", type(section), data[name]))
        else:
            blocks.append(_list_of_sections(name, field, data[name]))
    return "\n".join(blocks)


def point_at(job: Job, folder: Path, *, base: Path) -> Job:
    """Return the job with its paths (pictures, fonts, tables) seen from another folder.

    Parameters
    ----------
    job : Job
    folder : Path
        Where the job file will lie.
    base : Path
        Where the paths of the job count from now.
    """
    moved: dict[str, Any] = {}
    for section, key in (("artwork", "file"), ("bits", "table"), ("mixing", "table")):
        path = getattr(getattr(job, section), key)
        if path is not None:
            there = {key: relative_path(base / path, folder)}
            moved[section] = getattr(job, section).model_copy(update=there)
    for section in ("art", "text"):
        moved[section] = tuple(
            piece.model_copy(
                update={
                    key: relative_path(base / path, folder)
                    for key in ("file", "font")
                    if (path := getattr(piece, key, None)) is not None
                }
            )
            for piece in getattr(job, section)
        )
    return job.model_copy(update=moved)


def relative_path(path: Path, folder: Path) -> str:
    """Return `path` seen from `folder`, with slashes; absolute when they share no root."""
    try:
        return Path(os.path.relpath(path.resolve(), folder.resolve())).as_posix()
    except ValueError:
        return path.resolve().as_posix()


def _section(heading: str, kind: type[BaseModel], data: dict[str, Any]) -> str:
    lines = _comment(kind.__doc__ or "")
    lines.append(heading)
    for name, field in kind.model_fields.items():
        lines += _comment(field.description or "")
        lines.append(_setting(name, field, data[name]))
    return "\n".join(lines) + "\n"


def plain_section(heading: str, section: BaseModel) -> str:
    """Return the text of one section, without comments, to be put into a job file."""
    given = {name: value for name, value in section.model_dump().items() if value is not None}
    return "\n".join([heading, *(f"{name} = {_spell(value)}" for name, value in given.items()), ""])


def _setting(name: str, field: FieldInfo, value: Any) -> str:
    if value is None:
        return f"# {name} = {_spell((field.examples or [field.default])[0])}"
    return f"{name} = {_spell(value)}"


def _list_of_sections(name: str, field: FieldInfo, items: tuple[dict[str, Any], ...]) -> str:
    kind: type[BaseModel] = get_args(field.annotation)[0]
    if items:
        return "\n".join(_section(f"[[{name}]]", kind, item) for item in items)
    lines = _section(f"[[{name}]]", kind, dict.fromkeys(kind.model_fields)).splitlines()
    return "\n".join(line if line.startswith("#") else f"# {line}" for line in lines) + "\n"


def _comment(text: str) -> list[str]:
    lines: list[str] = []
    for paragraph in text.strip().split("\n\n"):
        lines += textwrap.wrap(" ".join(paragraph.split()), _WIDTH)
    return [f"# {line}" for line in lines]


def _spell(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return '"' + "".join(map(_escape, value)) + '"'
    if isinstance(value, (list, tuple)):
        items = [_spell(item) for item in value]
        line = f"[{', '.join(items)}]"
        if len(line) <= _WIDTH:
            return line
        return "[\n" + "".join(f"    {item},\n" for item in items) + "]"
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    return repr(value)


def _escape(character: str) -> str:
    if character in _ESCAPES:
        return _ESCAPES[character]
    if character.isprintable():
        return character
    code = ord(character)
    return f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"
