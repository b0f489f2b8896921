"""Writing a mesh as a binary glTF 2.0 file (Khronos specification 2.0, sections 3 and 4.4)."""

from __future__ import annotations

import json
import struct

import numpy as np
from numpy.typing import NDArray

from img2pour.errors import OutputError

MAGIC, VERSION = 0x46546C67, 2
JSON_CHUNK, BINARY_CHUNK = 0x4E4F534A, 0x004E4942
FLOAT, UNSIGNED_INT = 5126, 5125
VERTEX_BUFFER, INDEX_BUFFER = 34962, 34963
TRIANGLES = 4

MM_IN_M = 0.001
MOST_BYTES = 15_000_000

WOOD_RGBA = (0.72, 0.53, 0.34, 1.0)
"""A middling maple, linear."""


def glb_bytes(
    vertices_mm: NDArray[np.float64],
    triangles: NDArray[np.int64],
    *,
    name: str = "board",
    version: str = "",
) -> bytes:
    """Return a mesh as the bytes of a GLB file.

    Parameters
    ----------
    vertices_mm : (V, 3) float64
        x to the right, y away, z up, in mm.
    triangles : (T, 3) int64
        Anticlockwise seen from outside.
    name : str
        Of the node.
    version : str
        Of the program, for the file's generator entry.

    Returns
    -------
    bytes
        The mesh stays in mm, with y up as glTF asks; one node scales it to metres.

    Raises
    ------
    OutputError
        If the file would be larger than 15 MB.
    """
    x, y, z = vertices_mm.T
    positions = np.column_stack([x, z, -y]).astype("<f4")
    indices = triangles.astype("<u4").ravel()
    data = positions.tobytes() + indices.tobytes()
    head = _document(positions, indices, name, version)
    text = json.dumps(head, separators=(",", ":"), allow_nan=False).encode("ascii")
    text += b" " * (-len(text) % 4)
    total = 12 + 8 + len(text) + 8 + len(data)
    if total > MOST_BYTES:
        raise OutputError(
            f"the 3D board would take {total / 1e6:.1f} MB; the limit is {MOST_BYTES / 1e6:g} MB"
        )
    return b"".join(
        [
            struct.pack("<III", MAGIC, VERSION, total),
            struct.pack("<II", len(text), JSON_CHUNK),
            text,
            struct.pack("<II", len(data), BINARY_CHUNK),
            data,
        ]
    )


def _document(
    positions: NDArray[np.float32], indices: NDArray[np.uint32], name: str, version: str
) -> dict[str, object]:
    """Return the JSON part: one scene, one node, one mesh, one material."""
    generator = f"img2pour {version}".strip()
    return {
        "asset": {"version": "2.0", "generator": generator},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"name": name, "mesh": 0, "scale": [MM_IN_M] * 3}],
        "meshes": [{"name": name, "primitives": [_PRIMITIVE]}],
        "materials": [_WOOD],
        "accessors": _accessors(positions, indices),
        "bufferViews": _views(positions.nbytes, indices.nbytes),
        "buffers": [{"byteLength": positions.nbytes + indices.nbytes}],
    }


_PRIMITIVE = {"attributes": {"POSITION": 0}, "indices": 1, "material": 0, "mode": TRIANGLES}

_WOOD = {
    "name": "wood",
    "pbrMetallicRoughness": {
        "baseColorFactor": list(WOOD_RGBA),
        "metallicFactor": 0.0,
        "roughnessFactor": 0.8,
    },
}


def _accessors(
    positions: NDArray[np.float32], indices: NDArray[np.uint32]
) -> list[dict[str, object]]:
    """Return how the corners and the triangles lie in their views."""
    return [
        {
            "bufferView": 0,
            "componentType": FLOAT,
            "count": len(positions),
            "type": "VEC3",
            "min": positions.min(axis=0).tolist(),
            "max": positions.max(axis=0).tolist(),
        },
        {
            "bufferView": 1,
            "componentType": UNSIGNED_INT,
            "count": len(indices),
            "type": "SCALAR",
        },
    ]


def _views(corners_bytes: int, triangles_bytes: int) -> list[dict[str, object]]:
    """Return where corners and triangles lie in the binary part."""
    return [
        {"buffer": 0, "byteLength": corners_bytes, "target": VERTEX_BUFFER},
        {
            "buffer": 0,
            "byteOffset": corners_bytes,
            "byteLength": triangles_bytes,
            "target": INDEX_BUFFER,
        },
    ]
