"""Server-sent events: what listeners of a job are told, and how it is written."""

from __future__ import annotations

import asyncio
import contextlib
import json
from collections.abc import AsyncIterator, Callable, Sequence
from typing import Any

Event = tuple[str, dict[str, Any]]

MOST_WAITING = 500
HEARTBEAT_S = 15.0


class Listeners:
    """Those who listen to one job."""

    def __init__(self) -> None:
        self._queues: set[asyncio.Queue[Event | None]] = set()

    def __len__(self) -> int:
        return len(self._queues)

    def tell(self, name: str, **data: Any) -> None:
        """Tell everybody; who does not keep up is let go and asks again."""
        for queue in list(self._queues):
            try:
                queue.put_nowait((name, data))
            except asyncio.QueueFull:
                self._let_go(queue)

    def close(self) -> None:
        """Let everybody go."""
        for queue in list(self._queues):
            self._let_go(queue)

    def _let_go(self, queue: asyncio.Queue[Event | None]) -> None:
        self._queues.discard(queue)
        while queue.full():
            queue.get_nowait()
        queue.put_nowait(None)

    async def stream(self, first: Callable[[], Sequence[Event]]) -> AsyncIterator[bytes]:
        """Yield events as they are sent: the present standing, then whatever happens.

        Parameters
        ----------
        first : callable
            Asked for the standing once this listener is told of changes: what happens between
            the request and its answer must not be lost.
        """
        queue: asyncio.Queue[Event | None] = asyncio.Queue(MOST_WAITING)
        self._queues.add(queue)
        try:
            yield b"retry: 1000\n\n"
            for event in first():
                yield written(*event)
            while True:
                event_or_none: Event | None = None
                try:
                    event_or_none = await asyncio.wait_for(queue.get(), HEARTBEAT_S)
                except TimeoutError:
                    yield b": still here\n\n"
                    continue
                if event_or_none is None:
                    return
                yield written(*event_or_none)
        finally:
            with contextlib.suppress(KeyError):
                self._queues.remove(queue)


def written(name: str, data: dict[str, Any]) -> bytes:
    """Return one event as it is sent."""
    return f"event: {name}\ndata: {json.dumps(data, ensure_ascii=False)}\n\n".encode()
