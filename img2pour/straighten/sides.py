"""The sides of a sheet at full size: edge points, straight lines, and the lens bulge they show."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.straighten.lens import Lens
from img2pour.straighten.sampling import sampled

POINTS_PER_SIDE = 160
# Corners of paper curl and are rounded: they do not speak for the side.
END_SHARE = 0.04
# Points farther than this from their line are outliers (shadow, finger, printed stroke).
NEAR_PX = 3.0
# The most that a lens bows a side, as a share of its length.
MOST_BOW = 0.03
# A bulge is believed from this size at the sheet's edge, and from this many standard errors.
SHOWN_PX = 1.5
SHOWN_ERRORS = 6.0


@dataclass(frozen=True, eq=False)
class Sides:
    """Four sides fitted at full size.

    Attributes
    ----------
    corners : (4, 2) float64
        In pixels of the photo (bulge left in), clockwise from the upper left.
    lens : Lens or None
        None when no bulge shows.
    inliers : (4,) float64
        Share of the points of each side that lie within 3 px of its line.
    spread_px : (4,) float64
        Root mean square distance of those points.
    steps : (4,) float64
        Typical step across each side in grey levels: above zero in the sense that was sought.
    """

    corners: NDArray[np.float64]
    lens: Lens | None
    inliers: NDArray[np.float64]
    spread_px: NDArray[np.float64]
    steps: NDArray[np.float64]


def fit_sides(
    rgb: NDArray[np.uint8], corners: NDArray[np.float64], reach_px: float, bright_inside: bool
) -> Sides:
    """Return the sides near rough `corners` (4, 2), searched within `reach_px` of them.

    The second look goes along the lines, bowed by the lens, that the first one found: then the
    search is narrow and a printed edge near the side no longer catches it.
    """
    first = _fit_once(rgb, corners, reach_px, bright_inside, None)
    narrow = max(NEAR_PX + 1, 0.4 * reach_px)
    if not np.all(np.isfinite(first.corners)):
        return first
    return _fit_once(rgb, first.corners, narrow, bright_inside, first.lens)


def _fit_once(
    rgb: NDArray[np.uint8],
    corners: NDArray[np.float64],
    reach_px: float,
    bright_inside: bool,
    guess: Lens | None,
) -> Sides:
    frame = (rgb.shape[1], rgb.shape[0])
    lens = guess or Lens.of_frame(frame, 0.0)
    ends = lens.straight(corners)
    points, steps = [], []
    for side in range(4):
        path = _path(ends[side], ends[(side + 1) % 4], lens)
        spots, heights = _edge_points(rgb, path, reach_px, bright_inside)
        points.append(spots)
        steps.append(heights)
    near = [
        _consistent(spots, np.isfinite(step)) for spots, step in zip(points, steps, strict=True)
    ]
    return _straight_sides(points, steps, near, frame)


def _straight_sides(
    points: list[NDArray[np.float64]],
    steps: list[NDArray[np.float64]],
    near: list[NDArray[np.bool_]],
    frame: tuple[int, int],
) -> Sides:
    """Return lines through the points that agree, with the bulge that all four sides share."""
    lens = _shown_bulge(points, near, frame)
    flat = [lens.straight(spots) for spots in points] if lens else points
    fitted = [_line(spots, good) for spots, good in zip(flat, near, strict=True)]
    close = []
    for _ in range(2):
        distance = [np.abs((s - f[0]) @ f[1]) for s, f in zip(flat, fitted, strict=True)]
        close = [(d < NEAR_PX) & np.isfinite(h) for d, h in zip(distance, steps, strict=True)]
        fitted = [_line(spots, good) for spots, good in zip(flat, close, strict=True)]
    meet = np.array([_meeting(fitted[i - 1], fitted[i]) for i in range(4)])
    return Sides(
        lens.seen(meet) if lens else meet,
        lens,
        np.array([c.mean() for c in close]),
        np.array([_rms(d[c]) for d, c in zip(distance, close, strict=True)]),
        np.array([_typical(h) for h in steps]),
    )


def _typical(values: NDArray[np.float64]) -> float:
    known = values[np.isfinite(values)]
    return float(np.median(known)) if known.size else 0.0


def _path(start: NDArray[np.float64], end: NDArray[np.float64], lens: Lens) -> NDArray[np.float64]:
    """Return points (P, 2) of the photo along a side that is straight without the lens."""
    share = np.linspace(END_SHARE, 1 - END_SHARE, POINTS_PER_SIDE)
    return lens.seen(start + share[:, None] * (end - start))


def _rms(values: NDArray[np.float64]) -> float:
    return float(np.sqrt(np.mean(values**2))) if values.size else float("inf")


def _edge_points(
    rgb: NDArray[np.uint8], base: NDArray[np.float64], reach_px: float, bright_inside: bool
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the steepest place across the side at each point of it, and the step there."""
    along = base[-1] - base[0]
    along = along / max(float(np.linalg.norm(along)), 1e-9)
    inward = np.array([-along[1], along[0]])  # the corners run clockwise, y down
    shifts = np.arange(-reach_px - 4, reach_px + 4.5, 1.0)
    grey = _profiles(rgb, base, along, inward, shifts)
    smooth = np.asarray(
        cv2.GaussianBlur(grey, (0, 0), 1.0, borderType=cv2.BORDER_REPLICATE), np.float32
    )
    slope = np.gradient(smooth, axis=1)[:, 3:-3]
    if not bright_inside:
        slope = -slope
    steepest = np.argmax(slope, axis=1)
    rows = np.arange(len(base))
    height = _step_height(smooth, steepest + 3)
    height = height if bright_inside else -height
    fine = shifts[3:-3][steepest] + _peak_shift(slope, rows, steepest)
    at_end = (steepest == 0) | (steepest == slope.shape[1] - 1)
    weak = at_end | (slope[rows, steepest] < 0.8)
    return base + fine[:, None] * inward, np.where(weak, np.nan, height)


def _profiles(
    rgb: NDArray[np.uint8],
    base: NDArray[np.float64],
    along: NDArray[np.float64],
    inward: NDArray[np.float64],
    shifts: NDArray[np.float64],
) -> NDArray[np.float32]:
    """Return grey profiles across a side (P, S), each the mean of five lines 1 px apart."""
    spots = base[:, None] + shifts[None, :, None] * inward
    grey = np.zeros(spots.shape[:2], np.float32)
    for slide in (-2.0, -1.0, 0.0, 1.0, 2.0):
        at = (spots + slide * along - 0.5).astype(np.float32)
        seen = sampled(rgb, at, cv2.INTER_LINEAR)
        grey += seen.astype(np.float32).mean(axis=2) / 5
    return grey


def _step_height(smooth: NDArray[np.float32], place: NDArray[np.intp]) -> NDArray[np.float64]:
    rows, last = np.arange(len(smooth)), smooth.shape[1] - 1
    inside = smooth[rows, np.minimum(place + 4, last)]
    outside = smooth[rows, np.maximum(place - 4, 0)]
    return np.asarray(inside - outside, np.float64)


def _peak_shift(
    slope: NDArray[np.float32], rows: NDArray[np.intp], peak: NDArray[np.intp]
) -> NDArray[np.float64]:
    """Return where a parabola through the peak and its neighbours is highest, -0.5 to 0.5."""
    last = slope.shape[1] - 1
    before = slope[rows, np.maximum(peak - 1, 0)].astype(np.float64)
    after = slope[rows, np.minimum(peak + 1, last)].astype(np.float64)
    bend = before - 2 * slope[rows, peak] + after
    shift = np.where(np.abs(bend) > 1e-6, 0.5 * (before - after) / np.where(bend == 0, 1, bend), 0)
    return np.clip(shift, -0.5, 0.5)


def _consistent(spots: NDArray[np.float64], known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return which points lie on the best gently bowed curve along the side.

    Parabolas through three points each (fixed spread of triples) are tried; a straight line or a
    bulge both fit one.
    """
    place = np.flatnonzero(known)
    if place.size < 12:
        return known
    first, last = spots[place[0]], spots[place[-1]]
    along = (last - first) / max(float(np.linalg.norm(last - first)), 1e-9)
    normal = np.array([-along[1], along[0]])
    t, d = (spots - first) @ along, (spots - first) @ normal
    t = t / max(float(np.ptp(t)), 1e-9)
    trials = _spread_triples(place, t)
    if len(trials) == 0:
        return known
    curves = np.linalg.solve(t[trials][..., None] ** np.array([2, 1, 0]), d[trials][..., None])
    heights = curves[..., 0] @ np.stack([t**2, t, np.ones_like(t)])
    near = known & (np.abs(heights - d) < NEAR_PX / 2)
    near[np.abs(curves[:, 0, 0]) / 4 > MOST_BOW * float(np.linalg.norm(last - first))] = False
    return np.asarray(near[int(np.argmax(near.sum(axis=1)))], np.bool_)


def _spread_triples(place: NDArray[np.intp], t: NDArray[np.float64]) -> NDArray[np.intp]:
    """Return triples of points (N, 3), in order and apart along the side; always the same ones."""
    rng = np.random.default_rng(0)
    picks = np.sort(rng.integers(0, len(place), (400, 3)), axis=1)
    trials = place[picks]
    apart = np.diff(t[trials], axis=1).min(axis=1) >= 0.15
    return np.asarray(trials[apart], np.intp)


def _line(
    spots: NDArray[np.float64], good: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return a point and the unit normal of the least-squares line through the good points."""
    chosen = spots[good] if good.sum() >= 2 else spots
    centre = chosen.mean(axis=0)
    axes = np.linalg.svd(chosen - centre, full_matrices=False)[2]
    return centre, axes[1]


def _meeting(
    one: tuple[NDArray[np.float64], NDArray[np.float64]],
    two: tuple[NDArray[np.float64], NDArray[np.float64]],
) -> NDArray[np.float64]:
    normals = np.array([one[1], two[1]])
    if abs(np.linalg.det(normals)) < 1e-6:
        return (one[0] + two[0]) / 2
    met: NDArray[np.float64] = np.linalg.solve(
        normals, np.array([one[0] @ one[1], two[0] @ two[1]])
    )
    return met


def _shown_bulge(
    points: list[NDArray[np.float64]], near: list[NDArray[np.bool_]], frame: tuple[int, int]
) -> Lens | None:
    """Return the lens when one coefficient makes all four sides clearly straighter, else None."""
    k, error, total_before, after = _bulge_step(points, near, Lens.of_frame(frame, 0.0))
    for _ in range(2):
        change, error, _, after = _bulge_step(points, near, Lens.of_frame(frame, k))
        k += change
    lens = Lens.of_frame(frame, k)
    if not any(good.any() for good in near):
        return None
    corners = np.vstack(
        [spots[good][[0, -1]] for spots, good in zip(points, near, strict=True) if good.any()]
    )
    moved = np.linalg.norm(lens.straight(corners) - corners, axis=1).max()
    shown = moved > SHOWN_PX and abs(k) > SHOWN_ERRORS * error and abs(k) < 0.2
    return lens if shown and after < 0.7 * total_before else None


def _bulge_step(
    points: list[NDArray[np.float64]], near: list[NDArray[np.bool_]], lens: Lens
) -> tuple[float, float, float, float]:
    """Return the change of k, its standard error, and the rms distance before and after.

    Distances from each side's line are linear in (offset, slope, k): one least-squares solution
    with k shared by the four sides.
    """
    rows, goals = [], []
    for side, (spots, good) in enumerate(zip(points, near, strict=True)):
        if good.sum() < 12:
            continue
        seen = spots[good]
        flat = lens.straight(seen)
        centre, normal = _line(flat, np.ones(len(flat), bool))
        along = np.array([-normal[1], normal[0]])
        offset = seen - np.array(lens.centre_px)
        rho2 = np.sum(offset**2, axis=1) / lens.radius_px**2
        row = np.zeros((len(seen), 9))
        row[:, 2 * side] = 1
        row[:, 2 * side + 1] = (flat - centre) @ along / lens.radius_px
        row[:, 8] = (offset @ normal) * rho2
        rows.append(row)
        goals.append(-(flat - centre) @ normal)
    if not rows:
        return 0.0, 1.0, 0.0, 0.0
    design, goal = np.vstack(rows), np.concatenate(goals)
    solved = np.linalg.lstsq(design, goal, rcond=None)[0]
    left = design @ solved - goal
    variance = float(left @ left) / max(len(goal) - design.shape[1], 1)
    # The sign is free: k moves points outwards along row 8, lines follow by offset and slope.
    covariance = np.linalg.pinv(design.T @ design) * variance
    error = float(np.sqrt(max(covariance[8, 8], 0.0)))
    return (
        float(solved[8]),
        error,
        float(np.sqrt(np.mean(goal**2))),
        float(np.sqrt(np.mean(left**2))),
    )
