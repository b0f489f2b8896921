"""Truth: the label image changed pixel by pixel and walked again."""

import numpy as np
import shapely
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from img2pour.plane.edit import contract_arcs, merge_alike, merge_faces
from img2pour.plane.regionmap import RegionMap, face_areas, rings
from img2pour.plane.shapes import face_polygons
from img2pour.plane.walk import walk
from tests.tracing import assert_sound, components, label_images

QUICK = settings(derandomize=True, max_examples=60, deadline=None)


def face_numbers(labels: np.ndarray, region_map: RegionMap) -> np.ndarray:
    """Return the face of every pixel, from the faces' polygons."""
    y, x = np.mgrid[: labels.shape[0], : labels.shape[1]] + 0.5
    numbers = np.full(labels.shape, -1)
    for face, polygon in enumerate(face_polygons(region_map, 0.01)):
        numbers[shapely.contains_xy(polygon, x, y)] = face
    assert (numbers >= 0).all()
    return numbers


def assert_same_regions(region_map: RegionMap, numbers: np.ndarray) -> None:
    """Check that each face is one region of equal number, as sets of pixels."""
    y, x = np.mgrid[: numbers.shape[0], : numbers.shape[1]] + 0.5
    polygons = face_polygons(region_map, 0.01)
    found = {shapely.contains_xy(polygon, x, y).tobytes() for polygon in polygons}
    assert found == {mask.tobytes() for _, mask in components(numbers)}
    assert all(polygon.is_valid for polygon in polygons)
    assert face_areas(region_map).sum() == numbers.size


@QUICK
@given(label_images(), st.lists(st.integers(0, 10_000), max_size=6))
def test_merging_neighbours_is_painting_them(labels: np.ndarray, picks: list[int]):
    region_map = walk(labels).region_map
    numbers = face_numbers(labels, region_map)
    target = np.arange(region_map.face_count)
    inner = np.flatnonzero((region_map.arc_faces >= 0).all(axis=1))
    assume(len(inner) > 0)
    for pick in picks:
        face, into = region_map.arc_faces[inner[pick % len(inner)]]
        while target[into] != into:
            into = target[into]
        while target[face] != face:
            face = target[face]
        target[face] = into
        numbers[numbers == face] = into
    merged = merge_faces(region_map, target)
    assert_sound(merged)
    assert_same_regions(merged, numbers)


@QUICK
@given(label_images(), st.lists(st.integers(0, 1), min_size=256, max_size=256))
def test_merging_alike_is_recolouring(labels: np.ndarray, shades: list[int]):
    region_map = walk(labels).region_map
    colours = np.array(shades)[region_map.face_colours % 256]
    merged = merge_alike(region_map, colours)
    assert_sound(merged)
    painted = np.array(shades)[labels]
    assert_same_regions(merged, painted)
    expected = sorted((label, float(mask.sum())) for label, mask in components(painted))
    found = sorted(zip(merged.face_colours.tolist(), face_areas(merged).tolist(), strict=True))
    assert found == expected


@QUICK
@given(label_images(), st.integers(0, 10_000))
def test_contracting_an_arc_leaves_it_out_of_its_two_rings(labels: np.ndarray, pick: int):
    region_map = walk(labels).region_map
    open_arcs = np.flatnonzero(region_map.arc_nodes[:, 0] != region_map.arc_nodes[:, 1])
    assume(len(open_arcs) > 0)
    arc = int(open_arcs[pick % len(open_arcs)])
    number = np.arange(region_map.arc_count)
    number[arc] = -1
    number[arc + 1 :] -= 1

    def ring_sets(own: RegionMap, renumber: np.ndarray) -> set[tuple[int, ...]]:
        found = rings(own)
        sets = set()
        for index in range(len(found)):
            halves = found.ring(index)
            halves = halves[renumber[halves >> 1] >= 0]
            halves = 2 * renumber[halves >> 1] + (halves & 1)
            if len(halves):
                first = int(np.argmin(halves))
                sets.add(tuple(np.roll(halves, -first).tolist()))
        return sets

    contracted = contract_arcs(region_map, np.array([arc]))
    assert contracted.arc_count == region_map.arc_count - 1
    every = np.arange(contracted.arc_count)
    assert ring_sets(contracted, every) == ring_sets(region_map, number)
    for old, new in enumerate(number.tolist()):
        if new >= 0:
            assert (contracted.arc(new)[0] == region_map.arc(old)[0]).all()
            assert (contracted.arc_faces[new] == region_map.arc_faces[old]).all()


def test_chains_of_targets_are_followed():
    labels = np.repeat(np.arange(4, dtype=np.uint8), 2)[None].repeat(3, axis=0)
    region_map = walk(labels).region_map
    order = np.argsort(region_map.face_colours)
    target = np.arange(4)
    target[order[0]], target[order[1]], target[order[2]] = order[1], order[2], order[3]
    merged = merge_faces(region_map, target)
    assert merged.face_count == 1
    assert merged.face_colours.tolist() == [3]
    assert face_areas(merged).tolist() == [24.0]
