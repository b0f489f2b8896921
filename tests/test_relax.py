"""Truth: finite differences, explicit sums over the points, and shapes whose points are exact."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from img2pour.plane.draft import Draft, Joints, frames, joint_turns, residuals
from img2pour.plane.outlines import no_joints
from img2pour.plane.pulls import point_sums, pull_blocks, slope_terms
from img2pour.plane.relax import RelaxSettings, joint_slopes, relax
from tests.outlines import piece_points

QUICK = settings(derandomize=True, max_examples=60, deadline=None)
STEP = 1e-6


def chain(seed: int) -> Draft:
    """Return three random pieces in a row, each with points near it."""
    random = np.random.default_rng(seed)
    vertices = np.cumsum(random.uniform(4, 15, (4, 2)), axis=0) * [1, random.choice([-1, 1])]
    bulges = random.uniform(-0.6, 0.6, 3)
    points = [
        piece_points(vertices[k], vertices[k + 1], bulges[k], 0.01)[1:-1]
        if abs(bulges[k]) > 0.05
        else np.linspace(vertices[k], vertices[k + 1], 9)[1:-1]
        for k in range(3)
    ]
    owner = np.repeat(np.arange(3), [len(own) for own in points])
    scattered = np.concatenate(points) + random.normal(0, 0.2, (len(owner), 2))
    return Draft(
        vertices=vertices,
        is_free=np.ones((4, 2), bool),
        start=np.arange(3),
        end=np.arange(1, 4),
        bulges=bulges,
        is_arc=np.ones(3, bool),
        offsets=np.array([0, 3]),
        joints=no_joints(),
        points=scattered,
        owner=owner,
        weights=random.uniform(0.2, 1, len(owner)),
    )


def unknowns(draft: Draft, piece: int) -> list[tuple[str, tuple[int, ...]]]:
    start, end = int(draft.start[piece]), int(draft.end[piece])
    ends = [("vertices", (vertex, axis)) for vertex in (start, end) for axis in (0, 1)]
    return [*ends, ("bulges", (piece,))]


def nudged(draft: Draft, name: str, place: tuple[int, ...], by: float) -> Draft:
    values = getattr(draft, name).copy()
    values[place] += by
    return replace(draft, **{name: values})


def slope(draft: Draft, name: str, place: tuple[int, ...], measure) -> np.ndarray:
    ahead, behind = (measure(nudged(draft, name, place, by)) for by in (STEP, -STEP))
    return (ahead - behind) / (2 * STEP)


def local_basis(draft: Draft, piece: int) -> np.ndarray:
    frame = frames(draft)
    away = draft.points[draft.owner == piece] - frame.middle[piece]
    u, v = away @ frame.along[piece], away @ frame.normal[piece]
    return np.stack([np.ones_like(u), u, v, u * u + v * v])


@QUICK
@given(st.integers(0, 10_000), st.integers(0, 2))
def test_slopes_of_the_distances(seed: int, piece: int):
    draft = chain(seed)
    terms = slope_terms(frames(draft), draft.bulges)[piece]
    own = draft.owner == piece
    for row, (name, place) in enumerate(unknowns(draft, piece)):
        expected = slope(draft, name, place, residuals)[own]
        assert terms[row] @ local_basis(draft, piece) == pytest.approx(expected, abs=2e-6)


@QUICK
@given(st.integers(0, 10_000))
def test_sums_pull_as_their_points_do(seed: int):
    first = chain(seed)
    random = np.random.default_rng(seed)
    sums = point_sums(first, np.ones(3, bool))
    # The pieces move on; the sums were taken before.
    draft = replace(
        first,
        vertices=first.vertices + random.normal(0, 0.3, (4, 2)),
        bulges=first.bulges + random.normal(0, 0.03, 3),
    )
    inward, allowance = random.normal(0, 0.1, 3), np.full(3, 0.1)
    matrices, rights = pull_blocks(sums, draft, inward, allowance)
    miss = residuals(draft) - inward[draft.owner]
    weight = draft.weights * np.minimum(1, 0.3 / np.abs(miss))
    assert (weight < draft.weights).any()
    for piece in range(3):
        own = draft.owner == piece
        slopes = slope_terms(frames(draft), draft.bulges)[piece] @ local_basis(draft, piece)
        expected = (slopes * weight[own]) @ slopes.T
        assert matrices[piece] == pytest.approx(expected, rel=1e-8, abs=1e-8)
        assert rights[piece] == pytest.approx((slopes * weight[own]) @ miss[own], abs=1e-8)


@QUICK
@given(st.integers(0, 10_000), st.booleans(), st.booleans())
def test_slopes_of_the_kinks(seed: int, before_reversed: bool, after_reversed: bool):
    draft = chain(seed)
    joints = Joints(
        np.array([0]), np.array([1]), np.array([before_reversed]), np.array([after_reversed])
    )
    draft = replace(draft, joints=joints)

    def kink(moved: Draft) -> np.ndarray:
        return joint_turns(moved, frames(moved), joints)

    if abs(kink(draft)[0]) > 3.1:  # the kink jumps by a whole turn there
        return
    slopes = joint_slopes(draft, frames(draft))[0]
    totals: dict[tuple[str, tuple[int, ...]], float] = {}
    for value, key in zip(slopes, unknowns(draft, 0) + unknowns(draft, 1), strict=True):
        totals[key] = totals.get(key, 0.0) + value
    for (name, place), value in totals.items():
        assert value == pytest.approx(slope(draft, name, place, kink)[0], abs=1e-6)


def test_exact_points_of_two_lines_put_the_corner_in_its_place():
    along = np.linspace(0, 1, 40)[1:-1, None]
    a, corner, b = np.array([0, 0]), np.array([30.0, 4.0]), np.array([33.0, 40.0])
    points = np.concatenate([a + along * (corner - a), corner + along * (b - corner)])
    draft = Draft(
        vertices=np.array([a, corner + np.array([0.7, -0.5]), b], dtype=float),
        is_free=np.array([[False, False], [True, True], [False, False]]),
        start=np.array([0, 1]),
        end=np.array([1, 2]),
        bulges=np.zeros(2),
        is_arc=np.zeros(2, bool),
        offsets=np.array([0, 2]),
        joints=no_joints(),
        points=points,
        owner=np.repeat([0, 1], 38),
        weights=np.ones(76),
    )
    found = relax(draft, RelaxSettings(np.full(2, 0.05), 0.0, 60.0), 12)
    assert np.hypot(*(found.vertices[1] - corner)) < 1e-3
    assert (found.vertices[[0, 2]] == draft.vertices[[0, 2]]).all()


def test_pieces_that_may_not_move_stay():
    draft = chain(3)
    apart = replace(draft, start=np.array([0, 1, 2]), end=np.array([1, 0, 3]))
    settings_ = RelaxSettings(np.full(3, 0.1), 0.0, 60.0)
    found = relax(apart, settings_, 2, np.array([False, False, True]))
    assert (found.vertices[:2] == apart.vertices[:2]).all()
    assert (found.bulges[:2] == apart.bulges[:2]).all()
    assert (found.vertices[2:] != apart.vertices[2:]).any()
