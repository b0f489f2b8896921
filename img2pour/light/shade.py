"""Finds a hard shadow: one step of light that recurs, and the patches that lie in it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from img2pour.light.patches import Border, Patches

# Logs of the light left in a shadow, mean over the channels: 85 % down to 18 %.
_WEAKEST, _DEEPEST = -0.16, -1.7
# Shade keeps the hue: what a channel may deviate, as a share of the depth, and at least.
_HUE_SHARE, _HUE_LEAST = 0.22, 0.03
# Borders with the same step (a channel) belong to the same shadow.
_SAME_STEP = 0.11
# A shadow comes in over the rim; a patch that touches less of it is not a cause to believe in one.
_RIM_SHARE = 0.02
_SEEN_PAIRS = 10
_FEWEST_PAIRS = 4


@dataclass(frozen=True, eq=False)
class Shade:
    """A hard shadow.

    Attributes
    ----------
    step : (3,) float64
        Log of the light left in it, a channel (all below zero).
    covered : (count,) bool
        Patches that lie in it.
    """

    step: NDArray[np.float64]
    covered: NDArray[np.bool_]


def find_shade(patches: Patches, *, uneven: bool) -> Shade | None:
    """Return the hard shadow over the patches, or None.

    Parameters
    ----------
    uneven : bool
        Whether the light varies smoothly too. In a picture of perfectly even light a grey area at
        the rim is a drawn one, unless the same step is seen on two different colours.
    """
    rim = _rim_shares(patches)
    best, best_fit = None, 0.0
    for step in _recurring_steps(patches, rim, uneven=uneven):
        covered = _reaching_rim(patches, _covered(patches, step), rim)
        if not covered.any() or covered.all():
            continue
        fit = _fit(patches, covered, step)
        if fit > best_fit:
            best, best_fit = Shade(step, covered), fit
    return best


def _fit(patches: Patches, covered: NDArray[np.bool_], step: NDArray[np.float64]) -> float:
    """Return the length of the borders that the shadow explains, less those it contradicts."""
    total = 0.0
    for border in patches.borders:
        if covered[border.one] == covered[border.two]:
            continue
        sign = 1 if covered[border.two] else -1
        is_right = border.is_like(sign * step, _SAME_STEP)
        weight = border.length * float(border.trust.mean())
        total += weight if is_right else -weight
    return total


def _rim_shares(patches: Patches) -> NDArray[np.float64]:
    """Return the share of the picture's rim that each patch holds."""
    label = patches.label
    rim = np.concatenate([label[0], label[-1], label[1:-1, 0], label[1:-1, -1]])
    return np.bincount(rim, minlength=patches.count) / rim.size


def _as_shadow(step: NDArray[np.float64]) -> NDArray[np.float64] | None:
    """Return the step turned so that it darkens, or None when no shadow would look like that."""
    turned = step if step.mean() < 0 else -step
    depth = float(turned.mean())
    allowed = _HUE_SHARE * abs(depth) + _HUE_LEAST
    if not _DEEPEST < depth < _WEAKEST or np.abs(turned - depth).max() > allowed:
        return None
    return turned


def _recurring_steps(
    patches: Patches, rim: NDArray[np.float64], *, uneven: bool
) -> list[NDArray[np.float64]]:
    """Return distinct steps that may be a shadow's, each backed by the rim or by two colours."""
    candidates = []
    for border in sorted(patches.borders, key=lambda border: -border.length):
        turned = _as_shadow(border.step)
        if turned is not None and border.length >= _SEEN_PAIRS:
            candidates.append((border, turned))
    found: list[NDArray[np.float64]] = []
    for _, step in candidates:
        if any(np.abs(step - other).max() < _SAME_STEP / 2 for other in found):
            continue
        alike = [(b, s) for b, s in candidates if np.abs(s - step).max() < _SAME_STEP]
        at_rim = any(min(rim[b.one], rim[b.two]) > _RIM_SHARE for b, _ in alike)
        seen = [b for b, _ in alike]
        recurs = _colour_count(patches, seen) >= 2 or _separate_pairs(seen) >= _FEWEST_PAIRS
        if (uneven and at_rim) or recurs:
            found.append(step)
    return found[:6]


def _separate_pairs(borders: list[Border]) -> int:
    """Return how many of the borders share no patch: lines cut paper in light and shade alike."""
    used: set[int] = set()
    count = 0
    for border in borders:
        if border.one not in used and border.two not in used:
            used |= {border.one, border.two}
            count += 1
    return count


def _colour_count(patches: Patches, borders: list[Border]) -> int:
    """Return on how many different lit colours the step is seen."""
    seen: list[NDArray[np.float64]] = []
    means = patch_means(patches)
    for border in borders:
        darkens = border.step.mean() < 0
        lit = means[border.one if darkens else border.two]
        if all(np.abs(lit - other).max() > 0.35 for other in seen):
            seen.append(lit)
    return len(seen)


def patch_means(patches: Patches) -> NDArray[np.float64]:
    """Return the mean log light of each patch (count, 3)."""
    label = patches.label[patches.core]
    values = patches.log_light[patches.core]
    sums = [np.bincount(label, values[:, c], patches.count) for c in range(3)]
    means: NDArray[np.float64] = np.stack(sums, axis=1) / np.maximum(patches.areas, 1)[:, None]
    return means


def _covered(patches: Patches, step: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return which patches lie in the shadow: the reading that fits the borders' lengths best.

    A border with the shadow's step should part shade from light; any other border should not, for a
    drawn edge seldom runs along a shadow's.
    """
    wants = []
    for border in patches.borders:
        sense = 0
        for sign in (1, -1):
            if border.is_like(sign * step, _SAME_STEP):
                sense = sign
        wants.append((border.one, border.two, sense, border.length * float(border.trust.mean())))
    covered = _spread_from_largest(patches.count, wants)
    for _ in range(10):
        changed = _improve(covered, wants)
        if not changed:
            break
    return covered > 0


_Wants = list[tuple[int, int, int, float]]


def _spread_from_largest(count: int, wants: _Wants) -> NDArray[np.int8]:
    """Return a first reading along the longest borders, each patch once (a spanning tree)."""
    level = np.zeros(count, np.int64)
    group = np.arange(count)
    for one, two, sense, _ in sorted(wants, key=lambda want: -want[3]):
        if group[one] == group[two]:
            continue
        moved = group == group[two]
        level[moved] += level[one] + sense - level[two]
        group[moved] = group[one]
    for name in np.unique(group):
        members = group == name
        level[members] -= level[members].min()
    return np.clip(level, 0, 1).astype(np.int8)


def _improve(covered: NDArray[np.int8], wants: _Wants) -> bool:
    """Turn each patch whose borders fit better the other way; return whether any was turned."""
    gain = np.zeros(len(covered))
    for one, two, sense, length in wants:
        here = covered[two] - covered[one]
        fits = here == sense
        for patch, other_way in (
            (one, covered[two] - (1 - covered[one])),
            (two, (1 - covered[two]) - covered[one]),
        ):
            gain[patch] += length * (float(other_way == sense) - float(fits))
    worst = int(np.argmax(gain))
    if gain[worst] <= 0:
        return False
    covered[worst] = 1 - covered[worst]
    return True


def _reaching_rim(
    patches: Patches, covered: NDArray[np.bool_], rim: NDArray[np.float64]
) -> NDArray[np.bool_]:
    """Return the shadow without parts that do not hang together with the rim."""
    reached = covered & (rim > 0)
    for _ in range(patches.count):
        grown = reached.copy()
        for border in patches.borders:
            if covered[border.one] and covered[border.two]:
                touches = reached[border.one] or reached[border.two]
                grown[[border.one, border.two]] |= touches
        if np.array_equal(grown, reached):
            break
        reached = grown
    return reached
