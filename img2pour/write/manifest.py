"""The list of the files of a run, by which the next run knows what is ours."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from pathlib import Path, PurePosixPath

from img2pour.errors import OutputError

MANIFEST = "manifest.json"
_WRITER = "img2pour"


def manifest_bytes(files: Mapping[str, bytes]) -> bytes:
    """Return the manifest of `files`: name, size and SHA-256 of each, in order of name."""
    listed = {
        name: {"bytes": len(files[name]), "sha256": hashlib.sha256(files[name]).hexdigest()}
        for name in sorted(files)
    }
    return (json.dumps({"written_by": _WRITER, "files": listed}, indent=2) + "\n").encode("ascii")


def read_manifest(folder: Path) -> dict[str, str] | None:
    """Return name and SHA-256 of the files that the folder's manifest lists, None without one.

    A manifest that is damaged, of somebody else's, or that names files outside the folder counts
    as none.
    """
    path = folder / MANIFEST
    if path.is_symlink() or not path.is_file():
        return None
    try:
        data = json.loads(path.read_bytes())
        if data["written_by"] != _WRITER:
            return None
        listed = {str(name): str(entry["sha256"]) for name, entry in data["files"].items()}
    except (ValueError, KeyError, TypeError, AttributeError):
        return None
    return listed if all(is_plain_name(name) for name in listed) else None


def is_plain_name(name: str) -> bool:
    """Tell whether `name` is a relative path with forward strokes that stays in its folder."""
    parts = PurePosixPath(name).parts
    fits = bool(parts) and str(PurePosixPath(name)) == name and "\\" not in name
    return fits and not name.startswith("/") and not {".", ".."} & set(parts) and "\0" not in name


def require_plain_names(files: Mapping[str, bytes]) -> None:
    """Raise for file names that would leave the folder or clash with the manifest.

    Raises
    ------
    OutputError
        Naming the file.
    """
    for name in files:
        if not is_plain_name(name) or name == MANIFEST:
            raise OutputError(f"{name!r} cannot be the name of a file in the output folder")


def sha256_of(path: Path) -> str:
    """Return the SHA-256 of a file in hexadecimal."""
    with path.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()
