"""Finished parts of a job on disk: what the page shows, each with the revision that it is of."""

from __future__ import annotations

import hashlib
import json
import secrets
from dataclasses import asdict, dataclass
from pathlib import Path

INDEX = "index.json"
VIEWS = ("source", "preview", "design", "check", "plan", "work")
PICTURES = ("source.jpg", "artwork.jpg")


@dataclass(frozen=True)
class Part:
    """One finished part.

    Attributes
    ----------
    revision : int
        That it is of.
    tag : str
        Of its content.
    key : str
        What it was made from, where the worker tells it.
    """

    revision: int
    tag: str
    key: str = ""


class Parts:
    """The parts in a folder; they can all be made again, so nothing waits for the disk.

    Parameters
    ----------
    folder : Path
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self._parts: dict[str, Part] = {}
        try:
            told = json.loads((folder / INDEX).read_bytes())
            known = {name: Part(**row) for name, row in told.items()}
        except (OSError, ValueError, TypeError, AttributeError):
            return
        self._parts = {name: part for name, part in known.items() if self._is_whole(name, part)}

    def _is_whole(self, name: str, part: Part) -> bool:
        try:
            return _tag((self.folder / name).read_bytes()) == part.tag
        except OSError:
            return False

    def put(self, name: str, revision: int, body: bytes, key: str = "") -> None:
        """Keep a part, in place of the one before."""
        self.folder.mkdir(parents=True, exist_ok=True)
        self._write(name, body)
        self._parts[name] = Part(revision, _tag(body), key)
        self._write_index()

    def still(self, name: str, revision: int) -> bool:
        """Take a part for another revision as it is; False where there is none."""
        part = self._parts.get(name)
        if part is None:
            return False
        self._parts[name] = Part(revision, part.tag, part.key)
        self._write_index()
        return True

    def get(self, name: str, revision: int) -> Part | None:
        """Return a part of a revision; None where it is not there, or of another one."""
        part = self._parts.get(name)
        return part if part is not None and part.revision == revision else None

    def latest(self, name: str) -> Part | None:
        """Return a part of whichever revision."""
        return self._parts.get(name)

    def read(self, name: str) -> bytes:
        """Return the content of a part."""
        return (self.folder / name).read_bytes()

    def ready(self, revision: int) -> list[str]:
        """Return the names of all views of a revision."""
        return [name for name in VIEWS if self.get(name, revision) is not None]

    @property
    def source_key(self) -> str:
        """What source and pictures were made from; "" where they are not of one make."""
        keys = {part.key if part else "" for part in map(self.latest, ("source", *PICTURES))}
        return keys.pop() if len(keys) == 1 else ""

    def _write(self, name: str, body: bytes) -> None:
        fresh = self.folder / f".{secrets.token_hex(4)}"
        fresh.write_bytes(body)
        fresh.replace(self.folder / name)

    def _write_index(self) -> None:
        told = {name: asdict(part) for name, part in self._parts.items()}
        self._write(INDEX, json.dumps(told).encode())


def _tag(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()[:24]
