"""How the server and its workers speak: a head in JSON, then as many bytes as it says.

Plain data only, so that nothing that a worker says can run in the server.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Mapping
from typing import Any, BinaryIO

_LENGTHS = struct.Struct(">II")
LARGEST_BYTES = 400_000_000


def pack(head: Mapping[str, Any], body: bytes = b"") -> bytes:
    """Return one frame."""
    text = json.dumps(head, ensure_ascii=False).encode()
    return _LENGTHS.pack(len(text), len(body)) + text + body


def lengths_of(start: bytes) -> tuple[int, int]:
    """Return the lengths of head and body from the first bytes of a frame.

    Raises
    ------
    ValueError
        When they cannot be right.
    """
    head, body = _LENGTHS.unpack(start)
    if head + body > LARGEST_BYTES:
        raise ValueError(f"a frame of {head + body} bytes")
    return head, body


START_BYTES = _LENGTHS.size


def read_frame(stream: BinaryIO) -> tuple[dict[str, Any], bytes] | None:
    """Return the next frame of a stream; None at its end."""
    start = stream.read(START_BYTES)
    if len(start) < START_BYTES:
        return None
    head, body = lengths_of(start)
    text, data = stream.read(head), stream.read(body)
    if len(text) < head or len(data) < body:
        return None
    return json.loads(text), data
