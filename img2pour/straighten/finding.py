"""Says whether a photo shows a sheet, where its corners are, and how sure that is."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.colours.drawn import looks_drawn
from img2pour.straighten.cut import sides_cut
from img2pour.straighten.lens import Lens
from img2pour.straighten.lines import find_lines
from img2pour.straighten.quads import Quad, best_quads
from img2pour.straighten.sides import Sides, fit_sides

REDUCED_PX = 800
# From here on the program acts by itself.
SURE = 0.75
MIN_FRAME_PX = 64
# Sides are sought this far (reduced px) from the straight line between rough corners.
_REACH_PX = 5.5
# A reading that encloses the chosen one casts doubt on it from this confidence on.
_ENCLOSING = 0.4
# ... unless the chosen one is flawless: wood grain makes poor quads around a good sheet.
_EXCELLENT = 0.95


@dataclass(frozen=True, eq=False)
class SheetFinding:
    """Where the sheet is.

    Attributes
    ----------
    corners_px : (4, 2) float64 or None
        Clockwise from the upper left, pixels of the upright photo; None when there is no sheet.
    confidence : float
        0 to 1; from 0.75 on the corners are acted on without asking.
    why : str
        In plain words, what speaks for or against it.
    lens : Lens or None
        The bulge that the sheet's sides show.
    cut : tuple of str
        Where the frame seems to cut a sheet that was not found, in words.
    """

    corners_px: NDArray[np.float64] | None
    confidence: float
    why: str
    lens: Lens | None = None
    cut: tuple[str, ...] = ()

    @property
    def is_sure(self) -> bool:
        """Whether the corners may be acted on without asking."""
        return self.corners_px is not None and self.confidence >= SURE


def find_sheet(rgb: NDArray[np.uint8]) -> SheetFinding:
    """Return the sheet (or framed drawing, or sign) in a photo (H, W, 3) uint8.

    Corners come from lines fitted to the sides at full size. Nothing is found in clean digital
    artwork, whatever frames it shows.
    """
    height, width = rgb.shape[:2]
    if min(height, width) < MIN_FRAME_PX:
        return SheetFinding(None, 0.0, f"the picture is only {width} x {height} px")
    if looks_drawn(rgb):
        return SheetFinding(None, 0.0, "clean digital artwork: left exactly as it is")
    scale = max(1.0, max(height, width) / REDUCED_PX)
    small = _reduced(rgb, scale)
    quads = _candidates(small)
    if not quads:
        return _unless_cut(SheetFinding(None, 0.0, "no four straight sides were found"), small)
    return _unless_cut(_best_finding(rgb, quads, scale), small)


def _unless_cut(finding: SheetFinding, small: NDArray[np.uint8]) -> SheetFinding:
    """Return the finding, or that the sheet runs out of the frame where that explains the doubt."""
    sides = () if finding.is_sure else sides_cut(small)
    if not sides:
        return finding
    where = " and ".join(sides)
    words = f"the sheet seems to run out of the picture {where}: step back so that all of it shows"
    return SheetFinding(None, 0.0, words, cut=sides)


def _reduced(rgb: NDArray[np.uint8], scale: float) -> NDArray[np.uint8]:
    size = (round(rgb.shape[1] / scale), round(rgb.shape[0] / scale))
    small = cv2.resize(rgb, size, interpolation=cv2.INTER_AREA) if scale > 1 else rgb
    return np.asarray(small, np.uint8)


def _candidates(small: NDArray[np.uint8]) -> list[Quad]:
    """Return quads seen in the lightness and in the strongest colour difference."""
    frame = (small.shape[1], small.shape[0])
    found: list[Quad] = []
    for grey in _grey_views(small):
        lines = find_lines(grey)
        if lines is not None:
            found += best_quads(lines, frame)
    return sorted(found, key=lambda quad: -quad.score)


def _grey_views(small: NDArray[np.uint8]) -> list[NDArray[np.float32]]:
    """Return the lightness; and, where the table is as light as the sheet, the blue channel."""
    values = small.astype(np.float32)
    return [values.mean(axis=2), values[..., 2]]


def _best_finding(rgb: NDArray[np.uint8], quads: list[Quad], scale: float) -> SheetFinding:
    """Fit the most promising quads at full size; the largest of the good ones is the sheet."""
    looked: list[tuple[float, float, Sides]] = []
    best_score = quads[0].score
    for quad in quads[:10]:
        if quad.score < best_score - 0.15:
            break
        sides = fit_sides(rgb, quad.corners * scale, _REACH_PX * scale, quad.bright_inside)
        looked.append((_confidence(sides, rgb), _area(sides.corners), sides))
    top = max(confidence for confidence, _, _ in looked)
    good = [entry for entry in looked if entry[0] >= top - 0.02]
    confidence, _, sides = max(good, key=lambda entry: entry[1])
    rival = _rival(sides, looked, confidence)
    confidence = min(confidence, 1 - 0.5 * rival)
    return SheetFinding(sides.corners, round(confidence, 3), _reason(sides, rgb, rival), sides.lens)


def _area(corners: NDArray[np.float64]) -> float:
    x, y = corners[:, 0], corners[:, 1]
    return float(0.5 * np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))


def _confidence(sides: Sides, rgb: NDArray[np.uint8]) -> float:
    """Return 0 to 1 from the worst side: points on the line, their spread, one sense of step."""
    if not np.all(np.isfinite(sides.corners)) or _area(sides.corners) <= 0:
        return 0.0
    size = np.array([rgb.shape[1], rgb.shape[0]], np.float64)
    if np.any(sides.corners < 0.5) or np.any(sides.corners > size - 0.5):
        return 0.0
    on_line = 0.6 * float(sides.inliers.min()) + 0.4 * float(sides.inliers.mean())
    return on_line * _straightness(sides) * _evenness(sides) * _corner_squareness(sides)


def _straightness(sides: Sides) -> float:
    """Return 1 for sides as straight as cut paper, less for ragged ones such as wood grain."""
    return float(np.clip(1.15 - 0.3 * sides.spread_px.max(), 0, 1))


def _evenness(sides: Sides) -> float:
    """Return 1 when the four steps are of one kind, less when one is a mere trace."""
    typical = float(np.median(sides.steps))
    if typical <= 0:
        return 0.0
    return float(np.clip(0.6 + sides.steps.min() / typical, 0, 1))


def _corner_squareness(sides: Sides) -> float:
    """Return 1 for corners of 60 to 120 degrees, less for sharper ones."""
    edge = np.roll(sides.corners, -1, axis=0) - sides.corners
    back = -np.roll(edge, 1, axis=0)
    cosine = np.sum(edge * back, axis=1) / (
        np.linalg.norm(edge, axis=1) * np.linalg.norm(back, axis=1)
    )
    return float(np.clip(1.5 - np.abs(cosine).max(), 0, 1))


def _rival(chosen: Sides, looked: list[tuple[float, float, Sides]], confidence: float) -> float:
    """Return how strong (0 to 1) another reading is that does not simply lie in this one."""
    worst = 0.0
    for other_confidence, _, other in looked:
        apart = np.abs(other.corners - chosen.corners).max()
        if apart < 12 or _within(other.corners, chosen.corners):
            continue
        if confidence < _EXCELLENT and _within(chosen.corners, other.corners):
            doubt = (other_confidence - _ENCLOSING) / 0.2
        else:
            doubt = (other_confidence - confidence + 0.1) / 0.1
        worst = max(worst, float(np.clip(doubt, 0, 1)))
    return worst


def _within(inner: NDArray[np.float64], outer: NDArray[np.float64]) -> bool:
    """Return whether all inner corners lie in the outer quad (a bowed side gives some play)."""
    ring = outer.astype(np.float32).reshape(-1, 1, 2)
    play = 0.03 * float(np.ptp(outer, axis=0).max())
    return all(cv2.pointPolygonTest(ring, (float(x), float(y)), True) > -play for x, y in inner)


def _reason(sides: Sides, rgb: NDArray[np.uint8], rival: float) -> str:
    share = _area(sides.corners) / (rgb.shape[0] * rgb.shape[1])
    words = [
        f"a sheet over {100 * share:.0f} % of the photo",
        f"{100 * sides.inliers.min():.0f} % of its worst side lies on a straight line",
    ]
    if sides.lens is not None:
        words.append(f"the lens bulges by {sides.lens.k:+.4f}")
    if rival > 0:
        words.append("another reading fits nearly as well")
    return "; ".join(words)
