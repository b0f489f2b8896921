"""Moving folders in one step: the few system calls that safe writing rests on."""

from __future__ import annotations

import contextlib
import ctypes
import errno
import os
import sys
from pathlib import Path

_AT_FDCWD = -100
_RENAME_EXCHANGE = 2
"""Constants of Linux (fcntl.h, fs.h)."""

_NOT_OFFERED = (errno.ENOSYS, errno.EINVAL, errno.EOPNOTSUPP, errno.EXDEV)
"""What systems and file systems answer that cannot exchange two folders."""


def exchange(first: Path, second: Path) -> bool:
    """Exchange two folders in one step, so that at no moment either name is missing.

    Returns
    -------
    bool
        False where the system or the file system cannot; then nothing was changed.

    Raises
    ------
    OSError
        When the system refuses for another reason.
    """
    call = _exchange_call()
    if call is None:
        return False
    if call(_AT_FDCWD, os.fsencode(first), _AT_FDCWD, os.fsencode(second), _RENAME_EXCHANGE) == 0:
        return True
    code = ctypes.get_errno()
    if code in _NOT_OFFERED:
        return False
    raise OSError(code, os.strerror(code), str(second))


def _exchange_call() -> ctypes._NamedFuncPointer | None:
    """Return the C library's renameat2, or None where there is none."""
    if not sys.platform.startswith("linux"):
        return None
    library = ctypes.CDLL(None, use_errno=True)
    return getattr(library, "renameat2", None)


def sync_folder(folder: Path) -> None:
    """Have the names in `folder` reach the disk, where the system can do that for folders."""
    if os.name != "posix":
        return
    number = os.open(folder, os.O_RDONLY)
    try:
        # Some network file systems cannot; the names then reach the disk in their own time.
        with contextlib.suppress(OSError):
            os.fsync(number)
    finally:
        os.close(number)


def write_synced(path: Path, data: bytes) -> None:
    """Write a new file and have it reach the disk."""
    number = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o666)
    try:
        left = memoryview(data)
        while left:
            left = left[os.write(number, left) :]
        os.fsync(number)
    finally:
        os.close(number)


class FolderLock:
    """A lock on a folder that ends with the process, however it ends."""

    def __init__(self, folder: Path) -> None:
        self._number = os.open(folder, os.O_RDONLY) if os.name == "posix" else -1

    def take(self) -> bool:
        """Take the lock; False when another process holds it."""
        if sys.platform == "win32":
            return True
        import fcntl

        try:
            fcntl.flock(self._number, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as problem:
            # A file system without locks must not keep anybody from writing.
            return problem.errno not in (errno.EWOULDBLOCK, errno.EACCES)
        return True

    def release(self) -> None:
        """Give the lock back."""
        if self._number >= 0:
            os.close(self._number)
            self._number = -1
