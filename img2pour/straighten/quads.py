"""Four lines that bound a sheet: all sensible combinations, the best supported first."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.straighten.lines import Lines

MIN_AREA_SHARE = 0.08
# Opposite sides of a sheet seen at up to about 40 degrees of tilt differ by less than this.
MAX_CONVERGENCE_DEG = 32.0
MIN_CORNER_DEG = 50.0


@dataclass(frozen=True, eq=False)
class Quad:
    """Corners (4, 2) in reduced px, clockwise from the upper left, and how each side is seen.

    Attributes
    ----------
    support : (4,) float64
        Share of each side (upper, right, lower, left) along which the picture steps across it.
    bright_inside : bool
        Whether the inside is the brighter side.
    """

    corners: NDArray[np.float64]
    support: NDArray[np.float64]
    bright_inside: bool
    score: float


def best_quads(lines: Lines, frame: tuple[int, int], count: int = 12) -> list[Quad]:
    """Return up to `count` quads inside a frame of (width, height) px, the best first."""
    meet, position = _meetings(lines)
    first, second = _opposites(lines)
    one, two = _crossing_pairs(lines, first, second)
    if one.size == 0:
        return []
    sides = np.stack([first[one], first[two], second[one], second[two]], axis=1)
    following = np.roll(sides, -1, axis=1)
    corners = meet[sides, following]
    good = _sensible(corners, frame)
    sides, corners = sides[good], corners[good]
    if len(sides) == 0:
        return []
    bright, dark = _side_support(lines, position, sides, corners)
    scores_bright, scores_dark = _score(bright), _score(dark)
    score = np.maximum(scores_bright, scores_dark)
    areas = np.abs(_signed_areas(corners)) / (frame[0] * frame[1])
    score = score + 0.02 * np.log(areas)
    order = np.argsort(-score, kind="stable")[: count * 20]
    found: list[Quad] = []
    for index in order:
        is_bright = bool(scores_bright[index] >= scores_dark[index])
        support = (bright if is_bright else dark)[index]
        quad = _upright(corners[index], support, is_bright, float(score[index]))
        if all(np.abs(quad.corners - other.corners).max() > 4 for other in found):
            found.append(quad)
        if len(found) == count:
            break
    return found


def _meetings(lines: Lines) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where lines i and j meet (L, L, 2) and the position of that on line i (L, L)."""
    direction = lines.directions
    turn = (
        direction[:, None, 0] * direction[None, :, 1]
        - direction[:, None, 1] * direction[None, :, 0]
    )
    gap = lines.origins[None] - lines.origins[:, None]
    safe = np.where(np.abs(turn) < 1e-9, 1e-9, turn)
    position = (gap[..., 0] * direction[None, :, 1] - gap[..., 1] * direction[None, :, 0]) / safe
    meet: NDArray[np.float64] = lines.origins[:, None] + position[..., None] * direction[:, None]
    return meet, np.asarray(position, np.float64)


def _angles(lines: Lines) -> NDArray[np.float64]:
    """Return the unsigned angle between any two lines in degrees (L, L)."""
    cosine = np.abs(lines.directions @ lines.directions.T)
    angles: NDArray[np.float64] = np.degrees(np.arccos(np.clip(cosine, 0, 1)))
    return angles


def _opposites(lines: Lines) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    first, second = np.triu_indices(len(lines.origins), 1)
    close = _angles(lines)[first, second] < MAX_CONVERGENCE_DEG
    return first[close], second[close]


def _crossing_pairs(
    lines: Lines, first: NDArray[np.intp], second: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Return pairs of opposites whose lines all cross at a plain corner."""
    angle = _angles(lines)
    wide = (angle >= MIN_CORNER_DEG).astype(np.uint8)
    crossing = (
        wide[first][:, first]
        & wide[first][:, second]
        & wide[second][:, first]
        & wide[second][:, second]
    )
    one, two = np.nonzero(np.triu(crossing, 1))
    return one, two


def _signed_areas(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    x, y = corners[..., 0], corners[..., 1]
    areas: NDArray[np.float64] = 0.5 * np.sum(
        x * np.roll(y, -1, axis=-1) - y * np.roll(x, -1, axis=-1), axis=-1
    )
    return areas


def _sensible(corners: NDArray[np.float64], frame: tuple[int, int]) -> NDArray[np.bool_]:
    """Return which quads are convex, large enough and inside the frame."""
    size = np.array(frame, np.float64)
    inside = np.all((corners > -0.01 * size) & (corners < 1.01 * size), axis=(1, 2))
    edge = np.roll(corners, -1, axis=1) - corners
    after = np.roll(edge, -1, axis=1)
    turns = edge[..., 0] * after[..., 1] - edge[..., 1] * after[..., 0]
    convex = np.all(turns > 0, axis=1) | np.all(turns < 0, axis=1)
    large = np.abs(_signed_areas(corners)) > MIN_AREA_SHARE * frame[0] * frame[1]
    good: NDArray[np.bool_] = inside & convex & large
    return good


def _side_support(
    lines: Lines,
    position: NDArray[np.float64],
    sides: NDArray[np.intp],
    corners: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the supported share of each side, for a brighter and for a darker inside (N, 4)."""
    before, after = np.roll(sides, 1, axis=1), np.roll(sides, -1, axis=1)
    ends = np.sort(np.stack([position[sides, before], position[sides, after]]), axis=0)
    last = lines.bright.shape[1] - 1
    low, high = np.clip(np.rint(ends - lines.start), 0, last).astype(np.intp)
    length = np.maximum(high - low, 1)
    brighter = (lines.bright[sides, high] - lines.bright[sides, low]) / length
    darker = (lines.dark[sides, high] - lines.dark[sides, low]) / length
    # Which side of the line is inside? The left-hand normal points in or out.
    middle = corners.mean(axis=1)[:, None] - lines.origins[sides]
    direction = lines.directions[sides]
    inward = direction[..., 0] * middle[..., 1] - direction[..., 1] * middle[..., 0] > 0
    return np.where(inward, brighter, darker), np.where(inward, darker, brighter)


def _score(support: NDArray[np.float64]) -> NDArray[np.float64]:
    worst = support.min(axis=1)
    score: NDArray[np.float64] = 0.5 * worst + 0.5 * support.mean(axis=1)
    return score


def _upright(
    corners: NDArray[np.float64], support: NDArray[np.float64], bright: bool, score: float
) -> Quad:
    """Return the quad clockwise on the screen from its upper left corner.

    `support[i]` belongs to line i; corner i lies between lines i and i + 1.
    """
    corners = np.roll(corners, 1, axis=0)  # corner i now starts side i
    if _signed_areas(corners) < 0:
        corners = np.roll(corners[::-1], 0, axis=0)
        support = np.roll(support[::-1], -1)
    first = int(np.argmin(_lean(corners)))
    return Quad(np.roll(corners, -first, axis=0), np.roll(support, -first), bright, score)


def _lean(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return x + y of each corner about the middle: smallest at the upper left."""
    centred = corners - corners.mean(axis=0)
    lean: NDArray[np.float64] = centred.sum(axis=1)
    return lean
