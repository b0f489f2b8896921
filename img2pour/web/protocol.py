"""HTTP as the server speaks it: a head that does not arrive in time is not waited for."""

from __future__ import annotations

import asyncio

import h11
from uvicorn.protocols.http.h11_impl import H11Protocol

HEAD_S = 15.0


class PageProtocol(H11Protocol):
    """Hangs up on connections that say nothing, or never come to the end of a head."""

    _head_timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first head."""
        super().connection_made(transport)
        self._wait_for_head(True)

    def data_received(self, data: bytes) -> None:
        """Take what has come; half a head has to go on in time."""
        super().data_received(data)
        is_half = self.conn.their_state is h11.IDLE and bool(self.conn.trailing_data[0])
        self._wait_for_head(is_half)

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no longer."""
        self._wait_for_head(False)
        super().connection_lost(exc)

    def _wait_for_head(self, is_waiting: bool) -> None:
        if not is_waiting and self._head_timer is not None:
            self._head_timer.cancel()
            self._head_timer = None
        elif is_waiting and self._head_timer is None:
            self._head_timer = self.loop.call_later(HEAD_S, self.transport.close)
