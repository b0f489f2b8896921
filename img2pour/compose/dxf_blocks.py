"""What a DXF drawing holds in blocks, within bounds; and what of it is no outline."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from ezdxf.lldxf.const import DXFError

from img2pour.compose.drawing import DrawingFinding
from img2pour.errors import SettingsError
from img2pour.units import quoted

DEEPEST_BLOCKS = 20
MOST_BLOCKS = 20_000
"""More blocks than a design for a board is made of; a drawing that unfolds to more is refused."""

MOST_TEXTS = 20
"""Texts that are told one by one."""

BY_INSERT = "0"
"""What lies on this layer in a block belongs to the layer that the block is put on."""


@dataclass
class Blocks:
    """Unfolds blocks in blocks.

    Attributes
    ----------
    source : str
        Name of the file, for messages.
    findings : list of DrawingFinding
        Blocks that could not be unfolded.
    """

    source: str
    findings: list[DrawingFinding] = field(default_factory=list)
    _count: int = 0

    def entities(
        self, space: Iterable[Any], inherited: str | None = None, depth: int = 0
    ) -> Iterator[tuple[Any, str]]:
        """Yield all entities with their layers, those of blocks in their place too.

        Raises
        ------
        SettingsError
            When blocks hold blocks without end.
        """
        for entity in space:
            layer = str(entity.dxf.get("layer", "0"))
            if inherited is not None and layer == BY_INSERT:
                layer = inherited
            if entity.dxftype() != "INSERT":
                yield entity, layer
                continue
            for one in self._each(entity):
                yield from self._unfolded(one, layer, depth)

    def _each(self, insert: Any) -> Iterator[Any]:
        """Yield an insert once for each of its rows and columns."""
        self._need_room(insert.mcount)
        if insert.mcount > 1:
            yield from insert.multi_insert()
        else:
            yield insert

    def _need_room(self, count: int) -> None:
        self._count += count
        if self._count > MOST_BLOCKS:
            raise SettingsError(
                f"the drawing {quoted(self.source)} puts more than {MOST_BLOCKS} blocks into each "
                "other or beside each other; explode it in the drawing program and keep what is "
                "to be carved",
                name="file",
            )

    def _unfolded(self, insert: Any, layer: str, depth: int) -> Iterator[tuple[Any, str]]:
        name, at = str(insert.dxf.get("name", "")), place_of(insert)
        block = insert.block()
        if block is None or block.block.dxf.flags & 4:  # group code 70 of BLOCK: a reference
            why = "lies in another file or is missing; it is left out"
            self.findings.append(DrawingFinding(f"the block {quoted(name)} {why}", at))
        elif depth >= DEEPEST_BLOCKS:
            why = "holds itself, or more than 20 in each other; what is deeper is left out"
            self.findings.append(DrawingFinding(f"the block {quoted(name)} {why}", at))
        else:
            try:
                inner = list(insert.virtual_entities())
            except (DXFError, RecursionError, ValueError, ZeroDivisionError):
                why = "cannot be read and is left out"
                self.findings.append(DrawingFinding(f"the block {quoted(name)} {why}", at))
                return
            yield from self.entities(inner, layer, depth + 1)


@dataclass
class Unused:
    """What holds no outline: texts one by one, the rest counted by kind."""

    texts: list[DrawingFinding] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=dict)
    first: dict[str, tuple[float, float] | None] = field(default_factory=dict)

    def add(self, entity: Any) -> None:
        """Note an entity that is left out."""
        kind, at = entity.dxftype(), place_of(entity)
        if kind in {"TEXT", "MTEXT", "ATTRIB"} and len(self.texts) < MOST_TEXTS:
            words = entity.plain_text() if hasattr(entity, "plain_text") else ""
            self.texts.append(
                DrawingFinding(
                    f"the text {quoted(words, 40)} is left out; set it as [[text]] with a font "
                    "file, or turn it into outlines in the drawing program",
                    at,
                )
            )
            return
        self.counts[kind] = self.counts.get(kind, 0) + 1
        self.first.setdefault(kind, at)

    def findings(self) -> list[DrawingFinding]:
        """Return what is said of all of it."""
        return self.texts + [
            DrawingFinding(
                f"{count} of the kind {kind} hold no closed outline and are left out; the first",
                self.first[kind],
            )
            if self.first[kind] is not None
            else DrawingFinding(f"{count} of the kind {kind} hold no closed outline; left out")
            for kind, count in sorted(self.counts.items())
        ]


def place_of(entity: Any) -> tuple[float, float] | None:
    """Return where an entity is put, where it tells."""
    for name in ("insert", "location", "start", "center"):
        point = entity.dxf.get(name) if entity.dxf.is_supported(name) else None
        if point is not None and math.isfinite(point[0]) and math.isfinite(point[1]):
            return float(point[0]), float(point[1])
    return None
