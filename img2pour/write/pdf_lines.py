"""Outlines of lines and arcs as paths of a PDF page."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Any

from img2pour.write.outlines import Outline

QUARTER = math.pi / 2


def draw_outline(canvas: Any, outline: Outline) -> None:
    """Draw lines and arcs; an arc becomes curves of at most a quarter turn."""
    points, bulges = outline.vertices.tolist(), outline.bulges.tolist()
    path = canvas.beginPath()
    path.moveTo(*points[0])
    ends = [*points[1:], points[0]] if outline.closed else points[1:]
    for start, end, bulge in zip(points, ends, bulges, strict=False):
        if bulge == 0.0:
            path.lineTo(*end)
            continue
        for controls in arc_curves(start, end, bulge):
            path.curveTo(*controls)
    if outline.closed:
        path.close()
    canvas.drawPath(path)


def arc_curves(
    start: Sequence[float], end: Sequence[float], bulge: float
) -> Iterator[tuple[float, float, float, float, float, float]]:
    """Yield an arc as cubic curves: two control points and an end each.

    The handles of a curve over an angle t are 4/3 tan(t/4) r long, which leaves less than
    0.03 % of the radius for a quarter turn (a closed form).
    """
    angle = 4.0 * math.atan(bulge)
    chord_x, chord_y = end[0] - start[0], end[1] - start[1]
    # The centre lies beside the chord's middle, on the left where the arc turns to the left.
    offset = (1.0 - bulge * bulge) / (4.0 * bulge)
    centre_x = (start[0] + end[0]) / 2 - chord_y * offset
    centre_y = (start[1] + end[1]) / 2 + chord_x * offset
    first = math.atan2(start[1] - centre_y, start[0] - centre_x)
    radius = math.hypot(start[0] - centre_x, start[1] - centre_y)
    count = max(1, math.ceil(abs(angle) / QUARTER - 1e-9))
    step = angle / count
    handle = 4.0 / 3.0 * math.tan(step / 4.0) * radius
    for index in range(count):
        one, two = first + index * step, first + (index + 1) * step
        x0, y0 = centre_x + radius * math.cos(one), centre_y + radius * math.sin(one)
        x3, y3 = centre_x + radius * math.cos(two), centre_y + radius * math.sin(two)
        yield (
            x0 - handle * math.sin(one),
            y0 + handle * math.cos(one),
            x3 + handle * math.sin(two),
            y3 - handle * math.cos(two),
            x3,
            y3,
        )
