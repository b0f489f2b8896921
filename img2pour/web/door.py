"""Who may come in: by which name the server is called, and with which secret."""

from __future__ import annotations

import ipaddress
import secrets
import socket
from dataclasses import dataclass, field

LOOPBACK_NAMES = ("127.0.0.1", "localhost", "[::1]")
ANY_ADDRESS = ("0.0.0.0", "::", "[::]")


@dataclass(frozen=True)
class Door:
    """Who may come in.

    Attributes
    ----------
    host : str
        The address that the server is bound to.
    port : int
    token : str or None
        In the printed link; None on the machine itself.
    session : str
        What the cookie holds.
    """

    host: str
    port: int
    token: str | None = None
    session: str = field(default_factory=lambda: secrets.token_urlsafe(32), repr=False)

    @classmethod
    def at(cls, host: str, port: int) -> Door:
        """Return the door for an address: beyond the machine it asks for a token."""
        return cls(host, port, None if is_loopback(host) else secrets.token_urlsafe(32))

    @property
    def cookie(self) -> str:
        """Name of the cookie; other ports of the same machine have their own."""
        return f"img2pour_{self.port}"

    def knows_host(self, host: str) -> bool:
        """Tell whether a Host header names this server."""
        name, colon, port = host.rpartition(":")
        if not colon or name.endswith(":") or (":" in name and not name.startswith("[")):
            name, port = host, "80"
        if port != str(self.port):
            return False
        return name.casefold() in LOOPBACK_NAMES or self._is_own_name(name.casefold())

    def _is_own_name(self, name: str) -> bool:
        """Tell whether a name is ours beyond the machine; no name server can forge an address."""
        if is_loopback(self.host):
            return False
        if self.host not in ANY_ADDRESS:
            return name.strip("[]") == self.host.casefold().strip("[]")
        try:
            ipaddress.ip_address(name.strip("[]"))
        except ValueError:
            own = socket.gethostname().casefold()
            return name in {own, f"{own}.local"}
        return True


def is_loopback(host: str) -> bool:
    """Tell whether an address reaches this machine alone."""
    if host == "localhost":
        return True
    try:
        return ipaddress.ip_address(host.strip("[]")).is_loopback
    except ValueError:
        return False
