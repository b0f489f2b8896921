"""Files that are the old one or the new one, never a mixture."""

from __future__ import annotations

import json
import os
import secrets
from collections.abc import Mapping
from pathlib import Path
from typing import Any


def replace_file(path: Path, data: bytes) -> None:
    """Put `data` in place of a file in one step."""
    path.parent.mkdir(parents=True, exist_ok=True)
    fresh = path.with_name(f".{path.name}.{secrets.token_hex(4)}")
    try:
        with fresh.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        fresh.replace(path)
    finally:
        fresh.unlink(missing_ok=True)


def replace_json(path: Path, data: Mapping[str, Any]) -> None:
    """Put plain data in place of a file in one step."""
    replace_file(path, json.dumps(data, ensure_ascii=False).encode())


def read_json(path: Path) -> dict[str, Any]:
    """Return the plain data of a file."""
    data: dict[str, Any] = json.loads(path.read_bytes())
    return data


def size_of_folder(folder: Path) -> int:
    """Return the bytes of all files below a folder; what vanishes meanwhile counts nothing."""
    total = 0
    for place, _, names in os.walk(folder):
        for name in names:
            try:
                total += os.lstat(os.path.join(place, name)).st_size
            except FileNotFoundError:
                continue
    return total
