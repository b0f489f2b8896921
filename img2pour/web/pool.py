"""One worker process and one warm spare: orders, calling back, and what to do when one dies."""

from __future__ import annotations

import asyncio
import contextlib
import json
import logging
import sys
from collections.abc import Callable
from itertools import count
from pathlib import Path
from typing import IO, Any

import img2pour
from img2pour.web.frames import START_BYTES, lengths_of, pack
from img2pour.web.settings import PageSettings

Frame = tuple[dict[str, Any], bytes]
LAST_KINDS = frozenset({"end", "fault", "broken", "stopped"})
MOST_WAITING = 10_000
START_S = 60.0
BUFFER_BYTES = 1 << 22

log = logging.getLogger("img2pour.web")


class WorkerDiedError(Exception):
    """The worker process ended before it answered."""


class TooLongError(Exception):
    """The worker took longer than it may, and was ended."""


class Worker:
    """One worker process.

    Parameters
    ----------
    settings : PageSettings
    errors : file
        Where the process writes what goes wrong.
    """

    def __init__(self, settings: PageSettings, errors: IO[bytes]) -> None:
        self._settings = settings
        self._errors = errors
        self._open: dict[int, asyncio.Queue[Frame | None]] = {}
        self._tokens = count(1)
        self._ready = asyncio.Event()
        self._process: asyncio.subprocess.Process | None = None
        self._reader: asyncio.Task[None] | None = None
        self.is_dead = False

    async def start(self) -> None:
        """Begin the process; it is warm once :meth:`ready` returns."""
        limits = {
            "memory_mb": self._settings.memory_mb,
            "kept_mb": self._settings.kept_mb,
            "seconds": self._settings.seconds,
        }
        self._process = await asyncio.create_subprocess_exec(
            sys.executable,
            "-m",
            "img2pour.web.worker",
            json.dumps(limits),
            cwd=Path(img2pour.__file__).parent.parent,
            stdin=asyncio.subprocess.PIPE,
            stdout=asyncio.subprocess.PIPE,
            stderr=self._errors,
            limit=BUFFER_BYTES,
            start_new_session=True,
        )
        self._reader = asyncio.create_task(self._read())

    @property
    def pid(self) -> int | None:
        """Id of the process."""
        return None if self._process is None else self._process.pid

    async def ready(self) -> None:
        """Wait until the process is warm.

        Raises
        ------
        WorkerDiedError
            When it does not start.
        """
        with contextlib.suppress(TimeoutError):
            await asyncio.wait_for(self._ready.wait(), START_S)
        if self.is_dead or not self._ready.is_set():
            self.kill()
            raise WorkerDiedError

    async def ask(
        self,
        order: dict[str, Any],
        heard: Callable[[dict[str, Any], bytes], None] = lambda head, body: None,
        begun: Callable[[int], None] = lambda token: None,
    ) -> dict[str, Any]:
        """Give an order and return its last answer; the others go to `heard`.

        Raises
        ------
        WorkerDiedError
        TooLongError
        """
        token = next(self._tokens)
        frames: asyncio.Queue[Frame | None] = asyncio.Queue(MOST_WAITING)
        self._open[token] = frames
        try:
            await self.ready()
            begun(token)
            self._send({**order, "token": token})
            async with asyncio.timeout(self._settings.seconds):
                while True:
                    frame = await frames.get()
                    if frame is None:
                        raise WorkerDiedError
                    if frame[0]["kind"] in LAST_KINDS:
                        return frame[0]
                    heard(*frame)
        except TimeoutError:
            self.kill()
            raise TooLongError from None
        finally:
            self._open.pop(token, None)

    def stop(self, token: int) -> None:
        """Ask to stop an order, and end the process when it does not in time."""
        if token not in self._open:
            return
        self._send({"op": "stop", "token": token})
        loop = asyncio.get_running_loop()
        loop.call_later(self._settings.grace_s, self._enforce, token)

    def _enforce(self, token: int) -> None:
        if token in self._open:
            self.kill()

    def kill(self) -> None:
        """End the process now."""
        self.is_dead = True
        if self._process is not None and self._process.returncode is None:
            with contextlib.suppress(ProcessLookupError):
                self._process.kill()

    async def close(self) -> None:
        """End the process and wait for it."""
        self.kill()
        if self._process is not None:
            await self._process.wait()
        if self._reader is not None:
            await self._reader

    def _send(self, order: dict[str, Any]) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        with contextlib.suppress(ConnectionError, RuntimeError):
            self._process.stdin.write(pack(order))

    async def _read(self) -> None:
        """Hand each answer to the order that it belongs to, until the process ends."""
        assert self._process is not None
        assert self._process.stdout is not None
        stream = self._process.stdout
        try:
            while True:
                head_bytes, body_bytes = lengths_of(await stream.readexactly(START_BYTES))
                head = json.loads(await stream.readexactly(head_bytes))
                body = await stream.readexactly(body_bytes)
                if head.get("kind") == "ready":
                    self._ready.set()
                elif (frames := self._open.get(head.get("token"))) is not None:
                    frames.put_nowait((head, body))
        except (asyncio.IncompleteReadError, ConnectionError):
            pass
        except (ValueError, asyncio.QueueFull):
            log.exception("a worker answered what cannot be read")
        finally:
            self.kill()
            self._ready.set()
            for frames in self._open.values():
                with contextlib.suppress(asyncio.QueueFull):
                    frames.put_nowait(None)


class Pool:
    """The worker and its spare."""

    def __init__(self, settings: PageSettings) -> None:
        self.settings = settings
        self._errors: IO[bytes] | None = None
        self._worker: Worker | None = None
        self._spare: Worker | None = None
        self._changing = asyncio.Lock()

    async def start(self) -> None:
        """Begin both processes."""
        self.settings.data.mkdir(parents=True, exist_ok=True)
        self._errors = (self.settings.data / "worker.log").open("wb")
        self._worker, self._spare = await self._new(), await self._new()

    async def _new(self) -> Worker:
        assert self._errors is not None
        worker = Worker(self.settings, self._errors)
        await worker.start()
        return worker

    async def worker(self) -> Worker:
        """Return the worker; the spare takes over from a dead one, and a new spare begins."""
        async with self._changing:
            assert self._worker is not None
            if self._worker.is_dead:
                await self._worker.close()
                self._worker = await self._living_spare()
                self._spare = await self._new()
            return self._worker

    async def spare(self) -> Worker:
        """Return the spare, which looks at what nobody has looked at yet."""
        async with self._changing:
            return await self._living_spare()

    async def _living_spare(self) -> Worker:
        assert self._spare is not None
        if self._spare.is_dead:
            await self._spare.close()
            self._spare = await self._new()
        return self._spare

    async def close(self) -> None:
        """End both processes."""
        for worker in (self._worker, self._spare):
            if worker is not None:
                await worker.close()
        if self._errors is not None:
            self._errors.close()
