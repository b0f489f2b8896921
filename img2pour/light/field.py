"""Solves for the light: smooth over the sheet, one offset a drawn colour, one step for a shadow.

For a pixel of patch p with drawn colour k:  log light = field(x, y) + colour[k] + covered[p] step.
The field is a grid of values joined linearly and held smooth by its second differences.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.light.patches import Patches, trust_in
from img2pour.light.shade import Shade
from img2pour.light.srgb import encoded

_CELLS = 28
_SAMPLES = 7000
# Deviations (natural log) that the parts of the least-squares sum are weighed by.
_PIXEL_NOISE = 0.03
_BEND_NOISE = 0.06
_BORDER_NOISE = 0.03
_STEP_NOISE = 0.003
_REWEIGHINGS = 3
# Patches whose colours differ by no more than this many levels are one drawn colour.
_SAME_COLOUR_LEVELS = 6.0


@dataclass(frozen=True, eq=False)
class LightField:
    """The light over a reduced picture.

    Attributes
    ----------
    grid : (R, C, 3) float64
        Log of the light at the grid's nodes, node (0, 0) at the upper left corner.
    cell_px : float
        Distance of the nodes in reduced pixels.
    group : (count,) int64
        Drawn colour of each patch.
    colours : (K, 3) float64
        Log of each drawn colour relative to the field.
    step : (3,) float64 or None
        The shadow's, as solved.
    """

    grid: NDArray[np.float64]
    cell_px: float
    group: NDArray[np.int64]
    colours: NDArray[np.float64]
    step: NDArray[np.float64] | None

    def at(self, shape: tuple[int, int]) -> NDArray[np.float32]:
        """Return the log of the light at every pixel of the reduced picture (H, W, 3)."""
        x = (np.arange(shape[1]) + 0.5) / self.cell_px
        y = (np.arange(shape[0]) + 0.5) / self.cell_px
        column = np.minimum(x.astype(np.intp), self.grid.shape[1] - 2)
        row = np.minimum(y.astype(np.intp), self.grid.shape[0] - 2)
        across = (x - column)[None, :, None]
        wide = self.grid[:, column] * (1 - across) + self.grid[:, column + 1] * across
        down = (y - row)[:, None, None]
        return np.asarray(wide[row] * (1 - down) + wide[row + 1] * down, np.float32)


def solve_field(patches: Patches, shade: Shade | None) -> LightField:
    """Return the light field: first with a colour a patch, then with equal colours joined."""
    group = np.arange(patches.count)
    field = _solve(patches, shade, group)
    for _ in range(2):
        group = _joined(patches, field)
        field = _solve(patches, shade, group)
    return field


def _joined(patches: Patches, field: LightField) -> NDArray[np.int64]:
    """Return the drawn colour of each patch: the largest patches found the colours."""
    log_colours = field.colours[field.group]
    levels = encoded(0.96 * np.exp(log_colours - log_colours.max(axis=0)))
    founders: list[int] = []
    group = np.zeros(patches.count, np.int64)
    for patch in range(patches.count):
        gaps = [np.abs(levels[patch] - levels[other]).max() for other in founders]
        if gaps and min(gaps) <= _SAME_COLOUR_LEVELS:
            group[patch] = int(np.argmin(gaps))
        else:
            group[patch] = len(founders)
            founders.append(patch)
    return group


def _samples(patches: Patches) -> NDArray[np.intp]:
    """Return flat indices of core pixels spread evenly over the picture."""
    flat = np.flatnonzero(patches.core)
    stride = max(1, len(flat) // _SAMPLES)
    # A stride that shares no divisor with the width walks over all columns.
    width = patches.core.shape[1]
    while stride > 1 and np.gcd(stride, width) > 1:
        stride += 1
    return flat[stride // 2 :: stride]


def _solve(patches: Patches, shade: Shade | None, group: NDArray[np.int64]) -> LightField:
    height, width = patches.core.shape
    cell_px = max(height, width) / _CELLS
    rows, columns = int(np.ceil(height / cell_px)) + 1, int(np.ceil(width / cell_px)) + 1
    nodes, colours = rows * columns, int(group.max()) + 1
    unknowns = nodes + colours + (shade is not None)
    parts = [
        _pixel_rows(patches, shade, group, cell_px, (rows, columns)),
        _bend_rows(rows, columns),
        _border_rows(patches, shade, group, nodes),
    ]
    if shade is not None:
        parts.append(_step_row(shade, unknowns))
    solved = _robust_solution(parts, unknowns)
    return LightField(
        solved[:nodes].reshape(rows, columns, 3),
        cell_px,
        group,
        solved[nodes : nodes + colours],
        solved[-1] if shade is not None else None,
    )


_Rows = tuple[NDArray[np.intp], NDArray[np.intp], NDArray[np.float64], NDArray[np.float64]]


def _step_row(shade: Shade, unknowns: int) -> _Rows:
    """Return the row that alone holds the step until equal colours in light and shade join."""
    at, weight = np.zeros(1, np.intp), np.full(1, 1 / _STEP_NOISE)
    return at, at + unknowns - 1, weight, shade.step[None] / _STEP_NOISE


def _robust_solution(parts: list[_Rows], unknowns: int) -> NDArray[np.float64]:
    """Return what fits all rows best (unknowns, 3); what fits badly loses its weight.

    Texture and fills that run into each other are such rows.
    """
    from scipy import sparse
    from scipy.sparse.linalg import splu

    starts = np.cumsum([0, *(len(goal) for *_, goal in parts)])
    places = np.concatenate(
        [rows + start for (rows, *_), start in zip(parts, starts, strict=False)]
    )
    columns, values = (np.concatenate([part[k] for part in parts]) for k in (1, 2))
    matrix = sparse.csr_matrix((values, (places, columns)), shape=(starts[-1], unknowns))
    goal = np.vstack([part[3] for part in parts])
    ridge = 1e-6 * sparse.eye(unknowns)
    weight = np.ones(len(goal))
    for _ in range(_REWEIGHINGS + 1):
        weighted = sparse.csr_matrix(matrix.multiply(weight[:, None]))
        normal = (weighted.T @ weighted + ridge).tocsc()
        solved = splu(normal).solve(np.asarray(weighted.T @ (goal * weight[:, None])))
        left = np.abs(matrix @ solved - goal).max(axis=1)
        weight = 1 / np.maximum(1.0, left / 2.0)
    return np.asarray(solved, np.float64)


def _pixel_rows(
    patches: Patches,
    shade: Shade | None,
    group: NDArray[np.int64],
    cell_px: float,
    shape: tuple[int, int],
) -> _Rows:
    flat = _samples(patches)
    y, x = np.divmod(flat, patches.core.shape[1])
    u, v = (x + 0.5) / cell_px, (y + 0.5) / cell_px
    column, row = (
        np.minimum(u.astype(np.intp), shape[1] - 2),
        np.minimum(v.astype(np.intp), shape[0] - 2),
    )
    a, b = u - column, v - row
    patch = patches.label.ravel()[flat]
    light = patches.log_light.reshape(-1, 3)[flat].astype(np.float64)
    # In the dark the logarithm is noise.
    weight = trust_in(light.max(axis=1)) / _PIXEL_NOISE
    node = row * shape[1] + column
    nodes = shape[0] * shape[1]
    index = np.arange(len(flat))
    columns = [node, node + 1, node + shape[1], node + shape[1] + 1, nodes + group[patch]]
    values = [(1 - a) * (1 - b), a * (1 - b), (1 - a) * b, a * b, np.ones(len(flat))]
    rows = [index] * 5
    if shade is not None:
        inside = np.flatnonzero(shade.covered[patch])
        rows.append(inside)
        columns.append(np.full(len(inside), nodes + int(group.max()) + 1))
        values.append(np.ones(len(inside)))
    row_index = np.concatenate(rows)
    return (
        row_index,
        np.concatenate(columns),
        np.concatenate(values) * weight[row_index],
        light * weight[:, None],
    )


def _bend_rows(rows: int, columns: int) -> _Rows:
    """Return second differences along rows, columns and diagonals, which shall be small."""
    index = np.arange(rows * columns).reshape(rows, columns)
    triples = [
        (index[:, :-2], index[:, 1:-1], index[:, 2:], 1.0),
        (index[:-2], index[1:-1], index[2:], 1.0),
    ]
    row_list, column_list, value_list, start = [], [], [], 0
    for before, middle, after, factor in triples:
        count = before.size
        at = np.arange(start, start + count)
        for spot, value in ((before, 1.0), (middle, -2.0), (after, 1.0)):
            row_list.append(at)
            column_list.append(spot.ravel())
            value_list.append(np.full(count, value * factor / _BEND_NOISE))
        start += count
    square = (index[:-1, :-1], index[:-1, 1:], index[1:, :-1], index[1:, 1:])
    at = np.arange(start, start + square[0].size)
    for spot, value in zip(square, (1.0, -1.0, -1.0, 1.0), strict=True):
        row_list.append(at)
        column_list.append(spot.ravel())
        value_list.append(np.full(at.size, value / _BEND_NOISE))
    start += at.size
    return (
        np.concatenate(row_list),
        np.concatenate(column_list),
        np.concatenate(value_list),
        np.zeros((start, 3)),
    )


def _border_rows(
    patches: Patches, shade: Shade | None, group: NDArray[np.int64], nodes: int
) -> _Rows:
    """Return one row a border: the light is the same on both sides of a drawn edge."""
    row_list, column_list, value_list = [], [], []
    goals: list[NDArray[np.float64]] = []
    for border in patches.borders:
        weight = (
            float(border.trust.mean()) * np.sqrt(border.length) / (_BORDER_NOISE + border.spread)
        )
        entries: dict[int, float] = {}
        for patch, sign in ((border.two, 1.0), (border.one, -1.0)):
            column = nodes + int(group[patch])
            entries[column] = entries.get(column, 0.0) + sign
            if shade is not None and shade.covered[patch]:
                last = nodes + int(group.max()) + 1
                entries[last] = entries.get(last, 0.0) + sign
        for column, value in entries.items():
            row_list.append(len(goals))
            column_list.append(column)
            value_list.append(value * weight)
        goals.append(border.step * weight)
    return (
        np.array(row_list, np.intp),
        np.array(column_list, np.intp),
        np.array(value_list, np.float64),
        np.array(goals, np.float64).reshape(-1, 3),
    )
