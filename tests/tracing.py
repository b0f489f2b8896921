"""Tracing known art in tests: exact labels of a piece, and a traced map as plain outlines."""

from __future__ import annotations

import cv2
import numpy as np
import shapely
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from img2pour.colours.saddles import remove_saddles
from img2pour.plane.regionmap import RegionMap, ring_areas, ring_outline, rings
from img2pour.plane.shapes import chords
from tests.art import degrade
from tests.art.known import KnownArt
from tests.art.raster import coverage
from tests.outlines import Outline, TracedFace

OUTSIDE = 255


def saddle_free(labels: np.ndarray) -> np.ndarray:
    """Return a label image without saddles, whatever its pixels looked like."""
    plain = np.zeros((*labels.shape, 3), np.uint8)
    return remove_saddles(labels.astype(np.uint8), plain, np.zeros((256, 3)), OUTSIDE)


def label_images(most: int = 10, labels: tuple[int, ...] = (0, 1, 2, OUTSIDE)) -> st.SearchStrategy:
    """Return a strategy for small label images without saddles."""
    sizes = st.tuples(st.integers(1, most), st.integers(1, most))
    return arrays.arrays(np.uint8, sizes, elements=st.sampled_from(labels)).map(saddle_free)


def components(labels: np.ndarray) -> list[tuple[int, np.ndarray]]:
    """Return the 4-connected regions of equal label: their label and mask."""
    found = []
    for label in np.unique(labels):
        count, numbers = cv2.connectedComponents((labels == label).astype(np.uint8), connectivity=4)
        found += [(int(label), numbers == k) for k in range(1, count)]
    return found


def exact_labels(art: KnownArt) -> np.ndarray:
    """Return the colour that covers most of each pixel, saddles removed."""
    covered = np.zeros((len(art.palette), art.height, art.width))
    for colour in range(len(art.palette)):
        shapes = [shape for own, shape in art.regions if own == colour]
        if shapes:
            covered[colour] = coverage(shapes, art.width, art.height)
    return saddle_free(np.argmax(covered, axis=0))


def picture_of(art: KnownArt, state: str, seed: int = 3) -> np.ndarray:
    """Return the art as a picture (H, W, 3) in one of the states of `degrade`."""
    data = degrade.STATES[state](art.render(), seed)
    decoded = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR)
    return np.ascontiguousarray(decoded[..., ::-1])


def palette_of(art: KnownArt) -> np.ndarray:
    return np.array(art.palette, dtype=np.float64)


def traced_faces(region_map: RegionMap) -> list[TracedFace]:
    """Return every face as outlines, the outer one first."""
    found = rings(region_map)
    areas = ring_areas(region_map, found)
    outlines: list[list[Outline]] = [[] for _ in range(region_map.face_count)]
    for ring in np.argsort(-areas, kind="stable"):
        if found.faces[ring] >= 0:
            outline = Outline(*ring_outline(region_map, found.ring(int(ring))))
            outlines[found.faces[ring]].append(outline)
    return [
        TracedFace(int(colour), tuple(own))
        for colour, own in zip(region_map.face_colours, outlines, strict=True)
    ]


def all_lines(region_map: RegionMap, sagitta: float = 0.001) -> shapely.Geometry:
    """Return all arcs as chords."""
    return shapely.multilinestrings(
        [
            shapely.LineString(chords(*region_map.arc(arc), sagitta)[0])
            for arc in range(region_map.arc_count)
        ]
    )


def assert_sound(region_map: RegionMap) -> None:
    """Check the graph: ends at nodes, rings, and what each ring goes round."""
    starts = region_map.vertices[region_map.arc_offsets[:-1]]
    ends = region_map.vertices[region_map.arc_offsets[1:] - 1]
    nodes = np.full((int(region_map.arc_nodes.max()) + 1, 2), np.nan)
    nodes[region_map.arc_nodes[:, 0]] = starts
    nodes[region_map.arc_nodes[:, 1]] = ends
    assert (nodes[region_map.arc_nodes[:, 0]] == starts).all()
    assert (nodes[region_map.arc_nodes[:, 1]] == ends).all()
    halves = np.arange(2 * region_map.arc_count)
    assert (np.sort(region_map.next_half) == halves).all()
    tail = region_map.arc_nodes.ravel()
    head = region_map.arc_nodes[:, ::-1].ravel()
    assert (head == tail[region_map.next_half]).all()
    faces = region_map.half_faces()
    assert (faces == faces[region_map.next_half]).all()
    found = rings(region_map)
    assert sorted(found.halves.tolist()) == halves.tolist()
    areas = ring_areas(region_map, found)
    outer = np.bincount(found.faces[(areas > 0) & (found.faces >= 0)])
    assert (outer == 1).all()
    assert len(outer) == region_map.face_count
