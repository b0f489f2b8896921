"""A worker process: reads orders from its input, works, and answers on its output.

Pictures come from anybody, and their decoders can crash: what happens here never takes the server
along. Memory and time are limited by the system itself.
"""

from __future__ import annotations

import contextlib
import json
import os
import queue
import sys
import threading
import traceback
from typing import Any, BinaryIO

from img2pour.errors import CancelledError, Img2PourError
from img2pour.progress import Progress
from img2pour.web.frames import pack, read_frame

BESIDE = frozenset({"at"})
"""Orders that are answered beside the work, from what is known already."""


class Answers:
    """The output: one frame at a time, from whichever thread."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._lock = threading.Lock()

    def send(self, head: dict[str, Any], body: bytes = b"") -> None:
        """Send one frame."""
        with self._lock:
            self._stream.write(pack(head, body))
            self._stream.flush()


class Answer:
    """What is said about one order."""

    def __init__(self, answers: Answers, token: int, stopped: set[int]) -> None:
        self._answers = answers
        self._stopped = stopped
        self.token = token

    @property
    def progress(self) -> Progress:
        """Tells of each step, and stops when the order was called back."""
        return Progress(self._step, lambda: self.token in self._stopped)

    def _step(self, step: str, share: float) -> None:
        self._say("progress", step=step, share=round(share, 3))

    def part(self, name: str, body: bytes, key: str = "") -> None:
        """Hand over a finished part."""
        self._say("part", body, part=name, key=key)

    def same(self, name: str, key: str) -> None:
        """Say that a part is as it was handed over before."""
        self._say("same", part=name, key=key)

    def data(self, name: str, data: dict[str, Any], key: str = "") -> None:
        """Hand over a finished part as plain data."""
        self.part(name, json.dumps(data, ensure_ascii=False, allow_nan=False).encode(), key)

    def end(self, **said: Any) -> None:
        """Say that the order is done."""
        self._say("end", **said)

    def fault(self, error: Exception) -> None:
        """Say in words why the order cannot be done."""
        if isinstance(error, CancelledError):
            self._say("stopped")
        elif isinstance(error, Img2PourError):
            self._say("fault", message=str(error), name=getattr(error, "name", ""))
        elif isinstance(error, MemoryError):
            self._say("fault", message=MEMORY_WORDS, name="")
        else:
            self._say("broken", trace=traceback.format_exc())

    def _say(self, kind: str, body: bytes = b"", **said: Any) -> None:
        self._answers.send({"kind": kind, "token": self.token, **said}, body)


MEMORY_WORDS = (
    "there is not enough memory for this picture; make it smaller, or crop it to what is carved"
)


def main() -> None:
    """Serve orders until the input ends."""
    source, answers = sys.stdin.buffer, Answers(_private_output())
    settings = json.loads(sys.argv[1])
    limit_memory(settings["memory_mb"])
    from img2pour.web.benches import Benches

    benches = Benches(settings["kept_mb"] * 1_000_000)
    orders: queue.Queue[dict[str, Any]] = queue.Queue()
    beside: queue.Queue[dict[str, Any]] = queue.Queue()
    stopped: set[int] = set()
    for waiting in (orders, beside):
        threading.Thread(
            target=_serve, args=(waiting, benches, answers, stopped, settings), daemon=True
        ).start()
    answers.send({"kind": "ready"})
    while (frame := read_frame(source)) is not None:
        order = frame[0]
        if order["op"] == "stop":
            stopped.add(order["token"])
        else:
            (beside if order["op"] in BESIDE else orders).put(order)
    os._exit(0)


def _serve(
    waiting: queue.Queue[dict[str, Any]],
    benches: Any,
    answers: Answers,
    stopped: set[int],
    settings: dict[str, Any],
) -> None:
    """Do orders one after the other."""
    while True:
        order = waiting.get()
        answer = Answer(answers, order["token"], stopped)
        if order["op"] not in BESIDE:
            limit_time(settings["seconds"])
        try:
            answer.progress.at(order["op"], 0.0)
            benches.do(order, answer)
        except Exception as error:  # whatever it was, the server hears of it
            answer.fault(error)
        finally:
            stopped.discard(order["token"])


def _private_output() -> BinaryIO:
    """Return the real output; whatever a library prints goes where errors go."""
    real = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    return real


def limit_memory(memory_mb: int) -> None:
    """Let the system refuse memory beyond a limit, where it can."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        most = memory_mb * 1_000_000
        resource.setrlimit(resource.RLIMIT_AS, (most, most))


def limit_time(seconds: float) -> None:
    """Let the system end this process when it works so much longer, on all cores together."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        used = resource.getrusage(resource.RUSAGE_SELF)
        cores = os.cpu_count() or 1
        most = int(used.ru_utime + used.ru_stime + seconds * cores) + 1
        resource.setrlimit(resource.RLIMIT_CPU, (most, resource.getrlimit(resource.RLIMIT_CPU)[1]))


if __name__ == "__main__":
    main()
