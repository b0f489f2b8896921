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
from typing import TYPE_CHECKING, Any, BinaryIO

from img2pour.errors import CancelledError, Img2PourError
from img2pour.progress import Progress
from img2pour.web.frames import pack, read_frame
from img2pour.web.turn import Turn

if TYPE_CHECKING:
    from img2pour.web.benches import Benches

BESIDE = frozenset({"at"})
"""Orders that are answered beside the work, from what is known already."""


class Answers:
    """The output: one frame at a time, from whichever thread."""

    def __init__(self, stream: BinaryIO) -> None:
        self._stream = stream
        self._lock = threading.Lock()

    def send(self, head: dict[str, Any], body: bytes = b"") -> None:
        """Send one frame; a frame goes out in one call, so that nothing can cut it in two."""
        frame = pack(head, body)
        with self._lock:
            self._stream.write(frame)
            self._stream.flush()


class Answer:
    """What is said about one order."""

    def __init__(self, answers: Answers, token: int, turn: Turn) -> None:
        self._answers = answers
        self._turn = turn
        self.token = token

    @property
    def progress(self) -> Progress:
        """Tells of each step, and stops when the order was called back."""
        return Progress(self._step, lambda: self._turn.is_stopped(self.token))

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
    turn = Turn()
    lanes = ((orders, turn), (beside, Turn()))
    for waiting, own in lanes:
        threading.Thread(
            target=_serve, args=(waiting, benches, answers, own, settings["seconds"]), daemon=True
        ).start()
    answers.send({"kind": "ready"})
    while (frame := read_frame(source)) is not None:
        order = frame[0]
        if order["op"] == "stop":
            turn.stop(order["token"])
        else:
            (beside if order["op"] in BESIDE else orders).put(order)
    os._exit(0)


def _serve(
    waiting: queue.Queue[dict[str, Any]],
    benches: Benches,
    answers: Answers,
    turn: Turn,
    seconds: float,
) -> None:
    """Do orders one after the other."""
    while True:
        order = waiting.get()
        _do(order, benches, Answer(answers, order["token"], turn), turn, seconds)


def _do(
    order: dict[str, Any], benches: Benches, answer: Answer, turn: Turn, seconds: float
) -> None:
    """Do one order; whatever goes wrong, the server hears of it."""
    if order["op"] not in BESIDE:
        limit_time(seconds)
    try:
        try:
            turn.begin(answer.token)
            answer.progress.at(order["op"], 0.0)
            benches.do(order, answer)
        finally:
            turn.end(answer.token)
    except Exception as error:
        answer.fault(error)


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
