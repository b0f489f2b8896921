"""Folders beside the output folder: their names, and what becomes of them after a cut run."""

from __future__ import annotations

import contextlib
import hashlib
import os
import re
import secrets
from pathlib import Path

from img2pour.write.exchange import FolderLock
from img2pour.write.manifest import MANIFEST, read_manifest


def aside_name(target: Path, kind: str) -> str:
    """Return a name beside `target` that only its own runs take for theirs."""
    return f".img2pour-{_mark_of(target)}-{kind}-{secrets.token_hex(4)}"


def _mark_of(target: Path) -> str:
    return hashlib.sha256(os.fsencode(target.name)).hexdigest()[:16]


def repair(target: Path) -> None:
    """Undo what a cut run left: put an old folder back, remove what was not finished.

    Folders that another run is filling at this moment are left alone.
    """
    pattern = re.compile(rf"\.img2pour-{_mark_of(target)}-(new|old)-[0-9a-f]{{8}}")
    left = sorted(name for name in os.listdir(target.parent) if pattern.fullmatch(name))
    for name in left:
        place = target.parent / name
        if "-old-" in name and not os.path.lexists(target):
            place.rename(target)
            continue
        _remove_if_unused(place)


def _remove_if_unused(place: Path) -> None:
    """Remove what a cut run left at `place`, unless a run is using it."""
    with contextlib.suppress(OSError):
        lock = FolderLock(place)
        try:
            if lock.take():
                remove_ours(place)
        finally:
            lock.release()


def remove_ours(folder: Path) -> None:
    """Remove the files that the folder's manifest lists, then the folder if nothing is left.

    The manifest goes last, so that a cut can be taken up again. Without a manifest only a folder
    that is empty, or holds nothing but the beginning of one, is removed.

    Raises
    ------
    OSError
        When something of somebody else's lies there.
    """
    for name in read_manifest(folder) or {}:
        with contextlib.suppress(FileNotFoundError):
            (folder / name).unlink()
    for place, _, _ in os.walk(folder, topdown=False):
        if Path(place) != folder:
            Path(place).rmdir()
    if set(os.listdir(folder)) <= {MANIFEST}:
        with contextlib.suppress(FileNotFoundError):
            (folder / MANIFEST).unlink()
        folder.rmdir()
