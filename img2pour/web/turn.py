"""Which order a worker is at, and how it is called back."""

from __future__ import annotations

import contextlib
import ctypes
import sys
import threading
import time
from types import FrameType

from img2pour.errors import CancelledError

INSIST_S = 0.05
WHOLE = ("/threading.py", "/concurrent/futures/", "<frozen importlib")
"""Parts of Python that are not to be cut in the middle."""


class Turn:
    """Which order is being worked on, and how it is called back in the middle of a step.

    Between steps the progress asks. Within one, the working thread is told by the interpreter to
    raise as soon as it comes back from the library that it is in; a library that never comes back
    is for the server to end. It is not told while it starts threads or waits for them, nor while
    it imports: cut there, Python itself would be left in pieces.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._token: int | None = None
        self._thread = 0
        self._last = 0
        self._base: FrameType | None = None
        self._stopped: set[int] = set()

    def begin(self, token: int) -> None:
        """Take up an order in this thread."""
        with self._lock:
            self._token, self._last, self._thread = token, token, threading.get_ident()
            self._base = sys._getframe(1)

    def end(self, token: int) -> None:
        """Lay an order down: from here on nothing interrupts this thread.

        A call that came in before is heard in here, and has nothing left to stop.
        """
        while self._token is not None:
            with contextlib.suppress(CancelledError), self._lock:
                self._token = self._base = None
                self._stopped.discard(token)

    def stop(self, token: int) -> None:
        """Call an order back."""
        with self._lock:
            if self._token == token or token > self._last:
                self._stopped.add(token)
        threading.Thread(target=self._insist, args=(token,), daemon=True).start()

    def _insist(self, token: int) -> None:
        """Tell the working thread until it has heard: what it is in may swallow the first."""
        while True:
            with self._lock:
                if self._token != token:
                    return
                if self._may_be_cut():
                    _raise_in(self._thread)
            time.sleep(INSIST_S)

    def _may_be_cut(self) -> bool:
        """Tell whether the working thread is where it can be stopped."""
        frame = sys._current_frames().get(self._thread)
        while frame is not None and frame is not self._base:
            name = frame.f_code.co_filename.replace("\\", "/")
            if any(part in name for part in WHOLE):
                return False
            frame = frame.f_back
        return True

    def is_stopped(self, token: int) -> bool:
        """Tell whether an order was called back."""
        return token in self._stopped


def _raise_in(thread: int) -> None:
    """Let a thread raise that it was stopped."""
    ctypes.pythonapi.PyThreadState_SetAsyncExc(
        ctypes.c_ulong(thread), ctypes.py_object(CancelledError)
    )
