"""Results of steps that a worker keeps between requests, bounded in bytes.

What a later step can do without goes first: pixels are large, and once the regions are traced
only a new colour or corner asks for them again.
"""

from __future__ import annotations

import dataclasses
from collections import OrderedDict
from collections.abc import Iterator, MutableMapping
from typing import Any

import numpy as np
import shapely

PIXEL_STEPS = (
    "read",
    "straighten",
    "frame",
    "light",
    "drawing",
    "tones",
    "labels",
    "pixels",
    "half",
    "half labels",
)
"""Steps whose results are pixels; the rest is outlines and figures."""

POINT_BYTES = 16
SHAPE_BYTES = 300
DEEPEST = 8


class KeptResults(MutableMapping[str, Any]):
    """Results by key, the least used forgotten first when :meth:`trim` is called.

    Nothing is forgotten while steps run: what a step was promised stays until the work is done.

    Parameters
    ----------
    most_bytes : int
    """

    def __init__(self, most_bytes: int) -> None:
        self.most_bytes = most_bytes
        self._results: OrderedDict[str, Any] = OrderedDict()

    def __getitem__(self, key: str) -> Any:
        result = self._results[key]
        self._results.move_to_end(key)
        return result

    def __setitem__(self, key: str, result: Any) -> None:
        self._results[key] = result

    def __delitem__(self, key: str) -> None:
        del self._results[key]

    def __contains__(self, key: object) -> bool:
        return key in self._results

    def __iter__(self) -> Iterator[str]:
        return iter(list(self._results))

    def __len__(self) -> int:
        return len(self._results)

    @property
    def used_bytes(self) -> int:
        """Size of all results; arrays that several share count once."""
        seen: set[int] = set()
        return sum(size_of(result, seen) for result in self._results.values())

    def trim(self) -> None:
        """Forget pixels, then anything, the least used first, until the rest is small enough."""
        pixels = [key for key in self._results if key.rpartition(" ")[0] in PIXEL_STEPS]
        others = [key for key in self._results if key not in pixels]
        for key in (*pixels, *others):
            if self.used_bytes <= self.most_bytes:
                return
            del self._results[key]


def size_of(value: Any, seen: set[int], depth: int = 0) -> int:
    """Return about how many bytes a result holds that were not seen yet.

    Parameters
    ----------
    value : object
        Arrays, shapes, dataclasses, and what gathers them.
    seen : set of int
        Of arrays and values that were counted; grows.
    depth : int
        How deep this is inside the result.
    """
    if value is None or isinstance(value, (bool, int, float)) or depth > DEEPEST:
        return 0
    if isinstance(value, np.ndarray):
        return _size_of_array(value, seen)
    if isinstance(value, (str, bytes)):
        return len(value)
    if id(value) in seen:
        return 0
    seen.add(id(value))
    if isinstance(value, shapely.Geometry):
        return SHAPE_BYTES + POINT_BYTES * int(shapely.get_num_coordinates(value))
    if isinstance(value, dict):
        return sum(size_of(item, seen, depth + 1) for item in value.values())
    if isinstance(value, (tuple, list)):
        return sum(size_of(item, seen, depth + 1) for item in value)
    if dataclasses.is_dataclass(value):
        return sum(size_of(item, seen, depth + 1) for item in vars(value).values())
    return 0


def _size_of_array(array: np.ndarray, seen: set[int]) -> int:
    """Return the size of what an array looks at, once."""
    base = array
    while isinstance(base.base, np.ndarray):
        base = base.base
    if id(base) in seen:
        return 0
    seen.add(id(base))
    if base.dtype != object:
        return int(base.nbytes)
    return SHAPE_BYTES * base.size + POINT_BYTES * int(shapely.get_num_coordinates(base).sum())
