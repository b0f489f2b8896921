"""Independent measures of a traced picture against known art.

Everything works from outlines, shapely polygons and colours; nothing comes from the tracer.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from tests.art.known import KnownArt
from tests.outlines import Outline, TracedFace

Floats = NDArray[np.float64]
SAMPLE_STEP_PX = 0.5
CHORD_SAGITTA_PX = 0.001
COUNTED_AREA_PX2 = 9.0
ON_FRAME_PX = 1e-6
CORNER_TURN_DEG = 15.0


@dataclass(frozen=True)
class BoundaryErrors:
    """Distances in px between traced and true boundaries, sampled both ways."""

    mean: float
    p95: float
    largest: float
    largest_back: float


def boundary_errors(
    faces: list[TracedFace], art: KnownArt, on_frame_px: float = ON_FRAME_PX
) -> BoundaryErrors:
    """Return the distances of points along each boundary to the other; the frame is left out."""
    traced = traced_edges(faces, art, on_frame_px)
    _, there = distances(traced, art.edges)
    _, back = distances(art.edges, traced)
    pooled = np.concatenate([there, back])
    return BoundaryErrors(
        float(pooled.mean()),
        float(np.percentile(pooled, 95)),
        float(there.max(initial=0.0)),
        float(back.max(initial=0.0)),
    )


def traced_edges(
    faces: list[TracedFace], art: KnownArt, on_frame_px: float = ON_FRAME_PX
) -> BaseGeometry:
    """Return all chords of the traced outlines but those on the frame."""
    pairs = []
    for face in faces:
        for outline in face.outlines:
            points = outline.chords(CHORD_SAGITTA_PX)
            pairs.append(np.stack([points, np.roll(points, -1, axis=0)], axis=1))
    edges = np.concatenate(pairs)
    size = np.array([art.width, art.height])
    on_low = (np.abs(edges) < on_frame_px).all(axis=1).any(axis=1)
    on_high = (np.abs(edges - size) < on_frame_px).all(axis=1).any(axis=1)
    return shapely.multilinestrings(shapely.linestrings(edges[~(on_low | on_high)]))


def worst_places(faces: list[TracedFace], art: KnownArt, count: int) -> list[tuple[float, ...]]:
    """Return (x, y, distance) of the worst samples of both ways, 10 px apart from each other."""
    traced = traced_edges(faces, art)
    there, back = distances(traced, art.edges), distances(art.edges, traced)
    points = np.concatenate([there[0], back[0]])
    far = np.concatenate([there[1], back[1]])
    found: list[tuple[float, ...]] = []
    while len(found) < count and far.max(initial=0.0) > 0:
        worst = int(far.argmax())
        found.append((*points[worst], far[worst]))
        far[np.hypot(*(points - points[worst]).T) < 10] = 0
    return found


def distances(lines: BaseGeometry, others: BaseGeometry) -> tuple[Floats, Floats]:
    """Return evenly spaced points on the lines and their distances to the other lines."""
    places = _samples(lines)
    tree = shapely.STRtree(shapely.get_parts(others))
    pairs, distance = tree.query_nearest(
        shapely.points(places), return_distance=True, all_matches=False
    )
    found = np.zeros(len(places))
    found[pairs[0]] = distance
    return places, found


def _samples(lines: BaseGeometry) -> Floats:
    """Return points along the lines, one every SAMPLE_STEP_PX of the whole length."""
    ends = shapely.get_coordinates(shapely.get_parts(lines)).reshape(-1, 2, 2)
    length = np.hypot(*(ends[:, 1] - ends[:, 0]).T)
    along = np.concatenate([[0.0], np.cumsum(length)])
    at = np.arange(SAMPLE_STEP_PX / 2, along[-1], SAMPLE_STEP_PX)
    which = np.clip(np.searchsorted(along, at, side="right") - 1, 0, len(length) - 1)
    share = (at - along[which]) / length[which]
    points: Floats = ends[which, 0] + share[:, None] * (ends[which, 1] - ends[which, 0])
    return points


@dataclass(frozen=True)
class Islands:
    """How many regions of over 9 px2 are missed or invented."""

    missed: int
    invented: int


def islands(faces: list[TracedFace], art: KnownArt) -> Islands:
    """Pair each true region with the traced face of its colour that covers half of both."""
    true = [(c, shape) for c, shape in art.regions if shape.area > COUNTED_AREA_PX2]
    traced = [(f.colour, _valid(f.polygon(0.05))) for f in faces if f.area() > COUNTED_AREA_PX2]
    tree = shapely.STRtree([shape for _, shape in traced])
    taken: set[int] = set()
    for colour, shape in true:
        for k in tree.query(shape):
            common = shapely.intersection(shape, traced[k][1]).area
            alike = common > 0.5 * max(shape.area, traced[k][1].area)
            if traced[k][0] == colour and alike and k not in taken:
                taken.add(int(k))
                break
    return Islands(len(true) - len(taken), len(traced) - len(taken))


def _valid(shape: BaseGeometry) -> BaseGeometry:
    return shape if shape.is_valid else shapely.make_valid(shape)


@dataclass(frozen=True)
class Tiling:
    """Faults of a tiling as shares of the artwork's area, and faces that are not valid."""

    area_off: float
    gap: float
    overlap: float
    unshared_edges: int
    invalid_faces: int


def tiling(faces: list[TracedFace], frame: BaseGeometry) -> Tiling:
    """Measure gaps and overlaps from exact areas, from an overlay, and edge by edge.

    The overlay's own rounding is about 1e-12 of the area. An edge is shared when the same chord is
    walked once each way, or once along the frame.
    """
    polygons = [face.polygon() for face in faces]
    valid = np.array([polygon.is_valid for polygon in polygons])
    whole = shapely.union_all([_valid(polygon) for polygon in polygons])
    chorded = sum(polygon.area for polygon in polygons)
    return Tiling(
        area_off=abs(sum(face.area() for face in faces) - frame.area) / frame.area,
        gap=shapely.difference(frame, whole).area / frame.area,
        overlap=abs(chorded - whole.area) / frame.area,
        unshared_edges=_unshared_edges(faces, frame),
        invalid_faces=int((~valid).sum()),
    )


def _unshared_edges(faces: list[TracedFace], frame: BaseGeometry) -> int:
    count: dict[tuple[float, float, float, float], int] = {}
    for face in faces:
        for outline in face.outlines:
            points = outline.chords(0.002)
            for (x0, y0), (x1, y1) in zip(points, np.roll(points, -1, axis=0), strict=True):
                forwards, backwards = (x0, y0, x1, y1), (x1, y1, x0, y0)
                if count.get(backwards, 0):
                    count[backwards] -= 1
                else:
                    count[forwards] = count.get(forwards, 0) + 1
    left = np.array([key for key, n in count.items() for _ in range(n)]).reshape(-1, 2, 2)
    off_frame = shapely.distance(shapely.points(left.mean(axis=1)), frame.exterior) > 1e-6
    return int(off_frame.sum())


def corner_errors(faces: list[TracedFace], art: KnownArt, apart_px: float = 8.0) -> Floats:
    """Return each true corner's distance in px to the nearest traced corner.

    Corners nearer than `apart_px` to another corner or junction are left out.
    """
    corners, junctions = art.turns
    tree = shapely.STRtree(shapely.points(np.concatenate([corners, junctions])))
    near, _ = tree.query(shapely.points(corners), predicate="dwithin", distance=apart_px)
    lonely = np.bincount(near, minlength=len(corners)) == 1
    found = shapely.multipoints(traced_corners(faces))
    distances: Floats = shapely.distance(shapely.points(corners[lonely]), found)
    return distances


def traced_corners(faces: list[TracedFace]) -> Floats:
    """Return the vertices where an outline turns by more than CORNER_TURN_DEG."""
    found = [
        outline.vertices[np.abs(outline.turns_deg()) > CORNER_TURN_DEG]
        for face in faces
        for outline in face.outlines
    ]
    return np.concatenate(found)


def joint_turns(
    faces: list[TracedFace], art: KnownArt, least_radius_px: float = 0.0, clear_px: float = 4.0
) -> Floats:
    """Return |turn| in degrees at joints where the art is smooth.

    Those are the vertices farther than `clear_px` from every true corner, junction and the frame,
    and from every bend tighter than `least_radius_px`.
    """
    outlines = [outline for face in faces for outline in face.outlines]
    vertices = np.concatenate([outline.vertices for outline in outlines])
    turns = np.abs(np.concatenate([outline.turns_deg() for outline in outlines]))
    bends, radius = art.tight_bends
    places = np.concatenate([*art.turns, bends[radius < least_radius_px]])
    points = shapely.points(vertices)
    clear = shapely.distance(points, art.frame.exterior) > clear_px
    near, _ = shapely.STRtree(shapely.points(places)).query(
        points, predicate="dwithin", distance=clear_px
    )
    clear[near] = False
    found: Floats = turns[clear]
    return found


def primitive_pieces(faces: list[TracedFace], art: KnownArt) -> dict[str, list[int]]:
    """Return, per kind of free-standing shape, the pieces in the outline traced for it.

    A shape whose face is not found counts as 0 pieces.
    """
    polygons = [_valid(face.polygon(0.05)) for face in faces]
    tree = shapely.STRtree(polygons)
    pieces: dict[str, list[int]] = {}
    for primitive in art.primitives:
        best = 0
        for k in tree.query(primitive.shape):
            common = shapely.intersection(primitive.shape, polygons[k]).area
            if common > 0.5 * max(primitive.shape.area, polygons[k].area):
                best = len(faces[k].outer().vertices)
        pieces.setdefault(primitive.kind, []).append(best)
    return pieces


def outline_of(polygon: shapely.Polygon) -> tuple[Outline, ...]:
    """Return a polygon's rings as outlines of lines."""
    rings = [shapely.get_coordinates(ring)[:-1] for ring in shapely.get_rings(polygon)]
    return tuple(Outline(points, np.zeros(len(points))) for points in rings)
