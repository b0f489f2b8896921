"""Writing the output folder so that it is always the old one or the new one, never a mixture.

A new folder is filled beside OUT, and every file reaches the disk; then one rename puts it in
place. Where the system can, it exchanges the two folders; else the old one is moved aside first,
and a run that finds OUT missing and the old one aside moves it back. Of what lies in OUT only
files that its manifest lists, unchanged, are ever removed.
"""

from __future__ import annotations

import contextlib
import os
import stat
from collections.abc import Collection, Iterator, Mapping
from pathlib import Path

from img2pour.errors import OutputError
from img2pour.write.exchange import FolderLock, exchange, sync_folder, write_synced
from img2pour.write.leftovers import aside_name, remove_ours, repair
from img2pour.write.manifest import (
    MANIFEST,
    manifest_bytes,
    read_manifest,
    require_plain_names,
    sha256_of,
)


def write_folder(
    out: Path, files: Mapping[str, bytes], *, may_change: Collection[str] = ()
) -> None:
    """Write `files` and a manifest as the folder `out`, whole or not at all.

    Parameters
    ----------
    out : Path
        Made when it is missing, with the folders above it. When it holds only what its manifest
        lists, it is replaced. A symbolic link is followed and stays.
    files : mapping of str to bytes
        Name, with forward strokes for folders inside, and content.
    may_change : collection of str
        Files in `out` that are replaced although they were edited since they were written: the
        job file that this very run has read.

    Raises
    ------
    OutputError
        When `out` holds a file of somebody else's, or the system refuses; `out` is as before.
    """
    require_plain_names(files)
    target = _resolved(out)
    with _plain_words(out):
        _require_writable(out, target)
        made = _make_parents(target.parent)
        try:
            repair(target)
            _require_ours(out, target, may_change)
            _replace(target, files)
        except BaseException:
            for folder in made:
                with contextlib.suppress(OSError):
                    folder.rmdir()
            raise


def check_folder(out: Path, *, may_change: Collection[str] = ()) -> None:
    """Raise now what :func:`write_folder` would raise later about `out`; repair a cut run.

    Raises
    ------
    OutputError
        When `out` cannot be written or holds a file of somebody else's.
    """
    target = _resolved(out)
    with _plain_words(out):
        if target.parent.is_dir():
            repair(target)
        _require_ours(out, target, may_change)
        _require_writable(out, target)


def _resolved(out: Path) -> Path:
    """Return the true place of `out`; refuse the folder one stands in and those above it."""
    try:
        target = Path(os.path.realpath(out))
    except ValueError as problem:
        raise OutputError(f"{str(out)!r} is no path: {problem}") from problem
    here = Path(os.path.realpath(os.curdir))
    if target == here or target in here.parents:
        raise OutputError(
            f"{str(out)!r} is the folder you are working in, or above it; "
            "name a folder of its own for the output, for example ./out"
        )
    return target


@contextlib.contextmanager
def _plain_words(out: Path) -> Iterator[None]:
    """Turn a refusal of the system into one line about `out`."""
    try:
        yield
    except OutputError:
        raise
    except OSError as problem:
        why = problem.strerror or str(problem)
        where = f" at {str(problem.filename)!r}" if problem.filename is not None else ""
        raise OutputError(
            f"cannot write the output folder {str(out)!r}: {why}{where}; "
            "nothing was changed; make room there or name another folder"
        ) from problem


def _make_parents(parent: Path) -> list[Path]:
    """Make the missing folders down to `parent`; return those made, the deepest first."""
    missing = [folder for folder in [parent, *parent.parents] if not folder.exists()]
    made: list[Path] = []
    try:
        for folder in reversed(missing):
            folder.mkdir(exist_ok=True)
            made.insert(0, folder)
    except OSError:
        for folder in made:
            folder.rmdir()
        raise
    return made


def _require_writable(out: Path, target: Path) -> None:
    """Raise when no folder can be made beside `target`, or `target` itself is protected."""
    nearest = next(folder for folder in target.parents if os.path.lexists(folder))
    if not nearest.is_dir():
        raise OutputError(
            f"cannot write {str(out)!r}: {str(nearest)!r} is a file; name a folder instead"
        )
    if not _may_write(nearest):
        raise OutputError(
            f"cannot write {str(out)!r}: no permission to make a folder in {str(nearest)!r}; "
            "name an output folder in a place of yours"
        )
    if os.path.ismount(target):
        raise OutputError(
            f"{str(out)!r} is a mount point, which cannot be replaced in one step; "
            "name a folder inside it"
        )
    if target.is_dir() and not _may_write(target):
        raise OutputError(
            f"cannot replace {str(out)!r}: it is protected against writing; name another folder"
        )


def _may_write(folder: Path) -> bool:
    effective = os.access in os.supports_effective_ids
    return os.access(folder, os.W_OK | os.X_OK, effective_ids=effective)


def _require_ours(out: Path, target: Path, may_change: Collection[str]) -> None:
    """Raise when `target` is no folder, or holds anything that its manifest does not list."""
    if not os.path.lexists(target):
        return
    if not target.is_dir():
        raise OutputError(f"{str(out)!r} is a file; name a folder for the output")
    listed = read_manifest(target)
    known = {} if listed is None else listed
    for name in _entries(target):
        if name == MANIFEST and listed is not None:
            continue
        if name not in known:
            raise OutputError(
                f"{str(out)!r} holds {name!r}, which img2pour did not write; "
                "move it away or name another folder"
            )
        if name not in may_change and not _is_unchanged(target / name, known[name]):
            raise OutputError(
                f"{str(out)!r} holds {name!r}, which was changed after img2pour wrote it; "
                "move it away or name another folder"
            )


def _is_unchanged(path: Path, sha256: str) -> bool:
    return stat.S_ISREG(path.lstat().st_mode) and sha256_of(path) == sha256


def _entries(folder: Path) -> list[str]:
    """Return the names of all files in `folder` and below, and of empty folders and links."""
    names = []
    for place, folders, files in os.walk(folder, onerror=_raise):
        here = Path(place)
        links = [name for name in folders if (here / name).is_symlink()]
        names += [(here / name).relative_to(folder).as_posix() for name in files + links]
        if here != folder and not folders and not files:
            names.append(here.relative_to(folder).as_posix())
    return sorted(names)


def _raise(problem: OSError) -> None:
    raise problem


def _replace(target: Path, files: Mapping[str, bytes]) -> None:
    """Fill a folder beside `target` and put it in its place."""
    fresh = target.parent / aside_name(target, "new")
    fresh.mkdir()
    lock = FolderLock(fresh)
    try:
        lock.take()
        _fill(fresh, files, target)
        _put_in_place(fresh, target)
    finally:
        lock.release()
        # After an exchange the old folder lies here; after a failure what was filled so far.
        with contextlib.suppress(OSError):
            remove_ours(fresh)
        with contextlib.suppress(OSError):
            sync_folder(target.parent)


def _fill(fresh: Path, files: Mapping[str, bytes], target: Path) -> None:
    """Write manifest and files; the manifest goes first, so that a cut run is known as ours."""
    write_synced(fresh / MANIFEST, manifest_bytes(files))
    folders = {fresh}
    for name, data in files.items():
        path = fresh / name
        path.parent.mkdir(parents=True, exist_ok=True)
        folders |= {folder for folder in path.parents if fresh in folder.parents}
        write_synced(path, data)
    if target.exists():
        fresh.chmod(stat.S_IMODE(target.stat().st_mode))
    for folder in sorted(folders):
        sync_folder(folder)


def _put_in_place(fresh: Path, target: Path) -> None:
    """Rename `fresh` to `target`; an old folder ends up under the name of the fresh one."""
    if not os.path.lexists(target) or not any(target.iterdir()):
        fresh.rename(target)
        return
    if exchange(fresh, target):
        return
    old = target.parent / aside_name(target, "old")
    target.rename(old)
    try:
        fresh.rename(target)
    except OSError:
        old.rename(target)
        raise
    with contextlib.suppress(OSError):
        remove_ours(old)
