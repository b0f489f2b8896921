"""What is wrong with a job: one fault a line, all of them at once."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, TypeVar

from pydantic import BaseModel, TypeAdapter, ValidationError
from pydantic_core import ErrorDetails

from img2pour.errors import SettingsError
from img2pour.units import quoted

Path = tuple[str | int, ...]
_T = TypeVar("_T")


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong.

    Attributes
    ----------
    path : tuple of str and int
        Where it stands, from the outermost section inwards; () for the whole.
    message : str
        One line: the value, what is allowed, what to change.
    value : object
        What was given, or None.
    place : str
        Where a person finds it: ``"job.toml, line 12: size.width"`` or ``"--width"``.
    """

    path: Path
    message: str
    value: object = None
    place: str = ""

    def __str__(self) -> str:
        return f"{self.place}: {self.message}" if self.place else self.message


class JobError(SettingsError):
    """A job is wrong in one or more places; the message has one line for each.

    Attributes
    ----------
    faults : tuple of Fault
    """

    def __init__(self, faults: Sequence[Fault]) -> None:
        first = faults[0]
        super().__init__(
            "\n".join(map(str, faults)), name=spell_path(first.path), value=first.value
        )
        self.faults = tuple(faults)


def spell_path(path: Path) -> str:
    """Return a path to read: ``override 2.role`` (counted from one)."""
    text = ""
    for part in path:
        text += f" {part + 1}" if isinstance(part, int) else f".{part}" if text else part
    return text


def validate(
    kind: Any, data: object, *, root: Any = None, at: Path = ()
) -> tuple[Any, list[Fault]]:
    """Build a value of type `kind` from plain data: (value, []) or (None, faults).

    When the value is a part of something larger, `root` is the type of the whole and `at` the
    place of the part in it.
    """
    try:
        return _adapter(kind).validate_python(data), []
    except ValidationError as error:
        details = error.errors(include_url=False)
        return None, [_fault(one, root or kind, at) for one in details]


@cache
def _adapter(kind: Any) -> TypeAdapter[Any]:
    """Return what reads a type; to make it takes longer than to read."""
    return TypeAdapter(kind)


def _fault(details: ErrorDetails, root: Any, at: Path) -> Fault:
    path: Path = (*at, *details["loc"])
    value = details["input"]
    cause = details.get("ctx", {}).get("error")
    if not isinstance(cause, SettingsError):
        return Fault(path, _reword(details, path, root), value)
    if cause.name and isinstance(value, Mapping):
        return Fault((*path, cause.name), str(cause), value.get(cause.name))
    return Fault(path, str(cause), value)


_BOUNDS = {
    "greater_than": ("above", "gt"),
    "greater_than_equal": ("at least", "ge"),
    "less_than_equal": ("at most", "le"),
}


def _reword(details: ErrorDetails, path: Path, root: Any) -> str:
    value = details["input"]
    limits = details.get("ctx", {})
    match details["type"]:
        case "extra_forbidden":
            return _unknown_key(path, root)
        case "literal_error":
            return _not_allowed(value, limits["expected"])
        case "missing":
            return "is missing"
        case "float_type" | "int_type" | "float_parsing":
            return f"{quoted(value)} is not a number; write it without quotes"
        case "greater_than" | "greater_than_equal" | "less_than_equal" as kind:
            words, key = _BOUNDS[kind]
            return f"{quoted(value)} must be {words} {limits[key]:g}"
        case "bool_type":
            return f"{quoted(value)} is neither true nor false; write it without quotes"
        case "finite_number":
            return f"{quoted(value)} is not a finite number"
        case "string_type":
            return f"{quoted(value)} is not text; put it in quotes"
        case "string_too_short":
            return "is empty; give a value or leave the line out"
        case "model_type" | "model_attributes_type" | "dict_type":
            return f"{quoted(value)} stands where a section belongs; write [{path[0]}]"
        case "tuple_type":
            return _not_a_list(value, path)
        case _:
            return f"{quoted(value)}: {details['msg']}"


def _not_a_list(value: object, path: Path) -> str:
    if len(path) == 1:
        return f"{quoted(value)} stands where a list of sections belongs; write [[{path[0]}]]"
    return f'{quoted(value)} is not a list; write it in square brackets, like ["navy"]'


def _not_allowed(value: object, expected: str) -> str:
    allowed = [word.strip("'") for word in expected.replace(" or ", ", ").split(", ")]
    return f"{quoted(value)} is not allowed; use {_either(allowed)}{did_you_mean(value, allowed)}"


def _either(words: Sequence[str]) -> str:
    return " or ".join([", ".join(words[:-1]), words[-1]]) if len(words) > 1 else words[0]


def did_you_mean(word: object, known: Iterable[str]) -> str:
    """Return `` (did you mean depth?)`` for a near miss, else an empty text."""
    near = difflib.get_close_matches(str(word).lower(), list(known), n=1)
    return f" (did you mean {near[0]}?)" if near else ""


def _unknown_key(path: Path, root: Any) -> str:
    key = str(path[-1])
    section = _section_at(path[:-1], root)
    known = list(section.model_fields) if section else []
    for name, field in root.model_fields.items():
        other = field.annotation
        if _is_section(other) and key in other.model_fields:
            return f"{quoted(key)} is not known here; it belongs under [{name}]"
    hint = did_you_mean(key, known) or f"; known here: {', '.join(known)}"
    return f"{quoted(key)} is not known{hint}"


def _is_section(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, BaseModel)


def _section_at(path: Path, kind: Any) -> type[BaseModel] | None:
    """Return the model that stands at a path; a list of sections is looked through."""
    for part in path:
        if isinstance(part, int):
            continue
        kind = kind.model_fields[part].annotation
        if not _is_section(kind):
            kind = kind.__args__[0]
    return kind if _is_section(kind) else None


def place_all(faults: Iterable[Fault], places: Mapping[Path, str]) -> list[Fault]:
    """Return the faults with the place of each: that of the longest known part of its path."""
    placed = []
    for fault in faults:
        known = [fault.path[:n] for n in range(len(fault.path), 0, -1) if fault.path[:n] in places]
        place = places[known[0]] if known else spell_path(fault.path)
        placed.append(replace(fault, place=place))
    return placed
