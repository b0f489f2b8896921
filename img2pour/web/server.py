"""Start the server: bind, print the link, open the browser, serve until stopped."""

from __future__ import annotations

import errno
import logging
import socket
import sys
import webbrowser
from collections.abc import Callable
from contextlib import suppress
from logging.handlers import RotatingFileHandler
from pathlib import Path
from typing import Any

import uvicorn

from img2pour.errors import OutputError, SettingsError
from img2pour.web.app import create_app
from img2pour.web.door import ANY_ADDRESS, Door, is_loopback
from img2pour.web.protocol import PageProtocol
from img2pour.web.settings import MB, PageSettings, usual_data_folder

LOG_BYTES = 1_000_000
END_S = 3
BACKLOG = 128


class PageServer(uvicorn.Server):
    """Lets listeners go before it waits for the open connections."""

    def __init__(self, config: uvicorn.Config, release: Callable[[], None]) -> None:
        super().__init__(config)
        self._release = release

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        """End."""
        self._release()
        await super().shutdown(sockets)


def serve(
    host: str,
    port: int,
    *,
    data: Path | None,
    cap_mb: int,
    opens_browser: bool,
    say: Callable[[str], None],
) -> None:
    """Serve the page until it is stopped.

    Parameters
    ----------
    host : str
        Address to bind; beyond the machine the link carries a token.
    port : int
        0 takes a free one.
    data : Path or None
        Folder of the jobs; the user's own data folder by default.
    cap_mb : int
        Room for all jobs.
    opens_browser : bool
    say : callable
        Prints a line for the person who started it.

    Raises
    ------
    SettingsError
        When the address or the port cannot be had.
    OutputError
        When the data folder cannot be written.
    """
    settings = PageSettings((data or usual_data_folder()).resolve(), cap_mb * MB)
    bound = bind(host, port)
    door = Door.at(host, bound.getsockname()[1])
    try:
        app = create_app(settings, door)
        _log_to(settings.data)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise OutputError(f"the folder {str(settings.data)!r} cannot be used: {reason}") from error
    config = uvicorn.Config(
        app,
        http=PageProtocol,
        ws="none",
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=END_S,
        limit_concurrency=500,
    )
    link = link_of(door)
    say(f"The page is at {link}")
    if door.token is not None:
        say("Everybody with this link sees and changes the jobs here; the way there is not sealed.")
    say("Stop it with Ctrl-C.")
    if opens_browser:
        webbrowser.open(link)
    with suppress(KeyboardInterrupt):  # the usual way to stop it
        PageServer(config, app.state.desk.release).run(sockets=[bound])


def bind(host: str, port: int) -> socket.socket:
    """Return a listening socket.

    Raises
    ------
    SettingsError
        When the address is none of this machine's, or the port is taken.
    """
    try:
        family, kind, _, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        return _listening(family, kind, address)
    except (OSError, OverflowError) as error:
        taken = getattr(error, "errno", None) == errno.EADDRINUSE
        why = "it is in use; give another --port" if taken else "give an address of this machine"
        raise SettingsError(
            f"the page cannot be served at {host}, port {port}: {why}", name="port", value=port
        ) from error


def _listening(family: int, kind: int, address: Any) -> socket.socket:
    bound = socket.socket(family, kind)
    try:
        if sys.platform != "win32":
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        bound.bind(address)
        bound.listen(BACKLOG)
    except OSError:
        bound.close()
        raise
    return bound


def link_of(door: Door) -> str:
    """Return the link to the page; beyond the machine it carries the token."""
    host = door.host
    if is_loopback(host):
        host = "127.0.0.1" if host != "::1" else "[::1]"
    elif host in ANY_ADDRESS:
        host = own_address()
    elif ":" in host:
        host = f"[{host.strip('[]')}]"
    query = "" if door.token is None else f"?token={door.token}"
    return f"http://{host}:{door.port}/{query}"


def own_address() -> str:
    """Return this machine's address in its network; no packet is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))  # RFC 5737: a documentation address
            return str(probe.getsockname()[0])
        except OSError:
            return socket.gethostname()


def _log_to(data: Path) -> None:
    """Send the log to a file in the data folder; traces are told there alone."""
    handler = RotatingFileHandler(data / "page.log", maxBytes=LOG_BYTES, backupCount=1)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(message)s"))
    for name in ("img2pour.web", "uvicorn.error"):
        logger = logging.getLogger(name)
        logger.handlers = [handler]
        logger.propagate = False
        logger.setLevel(logging.INFO if name == "img2pour.web" else logging.WARNING)
