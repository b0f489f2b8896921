"""The map while it is being fitted: vertices that move, pieces between them, points that pull."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.plane.regionmap import FloatArray, IntArray


@dataclass(frozen=True, eq=False)
class Joints:
    """Places at which two pieces shall run into each other without a kink.

    Attributes
    ----------
    before, after : (S,) int64
        Pieces that meet.
    before_reversed, after_reversed : (S,) bool
        True where the piece is walked from its end to its start.
    """

    before: IntArray
    after: IntArray
    before_reversed: NDArray[np.bool_]
    after_reversed: NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Draft:
    """Pieces of all arcs with the points that they are fitted to.

    Attributes
    ----------
    vertices : (V, 2) float64
        Nodes first, then the joints between the pieces of each arc.
    is_free : (V, 2) bool
        False where a coordinate lies on the frame and stays there.
    start, end : (P,) int64
        Vertices of each piece.
    bulges : (P,) float64
    is_arc : (P,) bool
    offsets : (A + 1,) int64
        Pieces of each arc; none for arcs that are not fitted.
    joints : Joints
    points : (N, 2) float64
    owner : (N,) int64
        The piece of each point, ascending.
    weights : (N,) float64
    """

    vertices: FloatArray
    is_free: NDArray[np.bool_]
    start: IntArray
    end: IntArray
    bulges: FloatArray
    is_arc: NDArray[np.bool_]
    offsets: IntArray
    joints: Joints
    points: FloatArray
    owner: IntArray
    weights: FloatArray


@dataclass(frozen=True, eq=False)
class Frames:
    """The local frame of each piece: chord length, unit chord and unit left normal."""

    length: FloatArray
    along: FloatArray
    normal: FloatArray
    middle: FloatArray


def frames(draft: Draft) -> Frames:
    """Return the local frames of all pieces."""
    first, last = draft.vertices[draft.start], draft.vertices[draft.end]
    chord = last - first
    length = np.maximum(np.hypot(*chord.T), 1e-6)
    along = chord / length[:, None]
    normal = np.stack([-along[:, 1], along[:, 0]], axis=1)
    return Frames(length, along, normal, (first + last) / 2)


def residuals(draft: Draft) -> FloatArray:
    """Return the distance of every point from its piece, positive to the left, in pixels.

    In the piece's frame the circle through both ends with bulge b is the zero of
    F = v (1 - b^2) - (2 b / c) (u^2 + v^2) + b c / 2, and |grad F| = 1 + b^2 on it.
    """
    frame = frames(draft)
    u, v, length, bulge = local_points(draft, frame)
    top = v * (1 - bulge**2) - 2 * bulge / length * (u * u + v * v) + bulge * length / 2
    distance: FloatArray = top / (1 + bulge**2)
    return distance


def local_points(
    draft: Draft, frame: Frames
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Return u, v, chord length and bulge for every point."""
    sizes = np.bincount(draft.owner, minlength=len(draft.start))
    u, v = in_frames(draft.points, frame, sizes)
    return u, v, np.repeat(frame.length, sizes), np.repeat(draft.bulges, sizes)


def in_frames(points: FloatArray, frame: Frames, sizes: IntArray) -> tuple[FloatArray, FloatArray]:
    """Return u and v of points, of which so many after each other lie in each frame.

    Axis by axis, for sums over rows of two are slow.
    """
    x = points[:, 0] - np.repeat(frame.middle[:, 0], sizes)
    y = points[:, 1] - np.repeat(frame.middle[:, 1], sizes)
    along_x, along_y = np.repeat(frame.along[:, 0], sizes), np.repeat(frame.along[:, 1], sizes)
    return x * along_x + y * along_y, y * along_x - x * along_y


def curvatures(draft: Draft, frame: Frames) -> FloatArray:
    """Return the signed curvature of every piece, 1/px, positive where it turns left."""
    curvature: FloatArray = 4 * draft.bulges / (frame.length * (1 + draft.bulges**2))
    return curvature


def end_directions(draft: Draft, frame: Frames) -> tuple[FloatArray, FloatArray]:
    """Return the direction (radians) of every piece at its start and at its end."""
    chord = np.arctan2(frame.along[:, 1], frame.along[:, 0])
    half = 2 * np.arctan(draft.bulges)
    return chord - half, chord + half


def joint_turns(draft: Draft, frame: Frames, joints: Joints) -> FloatArray:
    """Return the kink at every joint, in radians, wrapped to [-pi, pi)."""
    begins, ends = end_directions(draft, frame)
    arriving = np.where(joints.before_reversed, begins[joints.before] + np.pi, ends[joints.before])
    leaving = np.where(joints.after_reversed, ends[joints.after] + np.pi, begins[joints.after])
    return (leaving - arriving + np.pi) % (2 * np.pi) - np.pi
