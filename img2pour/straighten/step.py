"""The straightening step: from the upright photo to the artwork alone, seen square on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from img2pour.colours.drawn import looks_drawn
from img2pour.errors import SettingsError
from img2pour.picture import Picture
from img2pour.straighten.corners import checked_corners, corners_outside
from img2pour.straighten.finding import SheetFinding, find_sheet
from img2pour.straighten.lens import Lens
from img2pour.straighten.measure import find_card
from img2pour.straighten.sheets import (
    SHEET_SIZES_MM,
    sheet_by_proportion,
    sheet_proportion,
    sheet_size,
    unit_square_homography,
)
from img2pour.straighten.turn import small_turn_deg
from img2pour.straighten.warp import cover_fringe, project, warp

# A proportion this near to a published one is taken to be it (relative).
_SNAP = 0.02
# Over the frame the scale changes by more than this share where a sheet lay aslant to a camera.
_LEAST_LEAN = 0.03


@dataclass(frozen=True, eq=False)
class Straightened:
    """The artwork seen square on.

    Attributes
    ----------
    picture : Picture
        The very same object when there was nothing to do.
    matrix : (3, 3) float64
        From upright input pixels, lens bulge taken out, to pixels of `picture`.
    lens : Lens or None
        The bulge that was taken out.
    size_mm : (width, height) or None
        Of the whole `picture`, when the sheet's name, a card or the file tells it.
    notes : tuple of str
        What was done and how sure it is, in plain words.
    cut : tuple of str
        Where the photo's frame cuts the sheet, in words.
    """

    picture: Picture
    matrix: NDArray[np.float64]
    lens: Lens | None
    size_mm: tuple[float, float] | None
    notes: tuple[str, ...]
    cut: tuple[str, ...] = ()

    @property
    def mm_per_px(self) -> float | None:
        """Millimetres a pixel of `picture`, or None when the size is not known."""
        if self.size_mm is None:
            return None
        return float(self.size_mm[0] / self.picture.rgb.shape[1])


def straighten(
    picture: Picture,
    wish: str | Sequence[Sequence[float]] = "auto",
    sheet: str | None = None,
) -> Straightened:
    """Return the artwork without perspective, lens bulge or small turn.

    Parameters
    ----------
    picture : Picture
    wish : "auto", "off" or four (x, y)
        Auto acts only when the sheet is found with confidence of at least 0.75; corners are in
        upright input pixels, the sheet's upper left first.
    sheet : str or None
        A name of `SHEET_SIZES_MM`, "auto" to tell A4 from letter by its proportion, "card" for a
        bank card (ISO/IEC 7810 ID-1) beside the sheet, or None.

    Raises
    ------
    SettingsError
        On an unknown wish or sheet, and on corners that cross or lie on one line.
    """
    if sheet is not None and sheet.lower() not in {"auto", "card", *SHEET_SIZES_MM}:
        sheet_size(sheet, landscape=False)
    if isinstance(wish, str) and wish not in ("auto", "off"):
        raise SettingsError(
            f"straighten is '{wish}': use auto, off or four corners", name="straighten", value=wish
        )
    if isinstance(wish, str):
        if wish == "off":
            return _unchanged(picture, ())
        return _straighten_auto(picture, sheet)
    frame = (picture.rgb.shape[1], picture.rgb.shape[0])
    corners = checked_corners(wish, frame)
    finding = SheetFinding(corners, 1.0, "corners as given")
    return _to_rectangle(picture, finding, sheet)


def _unchanged(picture: Picture, notes: tuple[str, ...], cut: tuple[str, ...] = ()) -> Straightened:
    return Straightened(picture, np.eye(3), None, None, notes, cut)


def _straighten_auto(picture: Picture, sheet: str | None) -> Straightened:
    finding = find_sheet(picture.rgb)
    if finding.is_sure:
        return _to_rectangle(picture, finding, sheet)
    turn = small_turn_deg(picture.rgb)
    if turn:
        return replace(_turned_back(picture, turn), cut=finding.cut)
    if finding.corners_px is None:
        return _unchanged(picture, (f"not straightened: {finding.why}",), finding.cut)
    spots = " ".join(f"{x:.0f},{y:.0f}" for x, y in finding.corners_px)
    note = (
        f"not straightened: a sheet may lie at {spots}, but only {100 * finding.confidence:.0f} % "
        f"sure ({finding.why}); give these corners to use them"
    )
    return _unchanged(picture, (note,))


def _leans(matrix: NDArray[np.float64], frame: tuple[int, int]) -> bool:
    """Return whether the sheet lay aslant to the eye, as it never does in a scanner."""
    return bool(np.abs(matrix[2, :2] * frame).max() > _LEAST_LEAN)


def _to_rectangle(picture: Picture, finding: SheetFinding, sheet: str | None) -> Straightened:
    """Resample the sheet at the scale at which its nearest part was seen."""
    seen = finding.corners_px
    if seen is None:
        return _unchanged(picture, ())
    frame = (picture.rgb.shape[1], picture.rgb.shape[0])
    corners = finding.lens.straight(seen) if finding.lens else seen
    ratio, size_mm, notes = _proportions(corners, frame, sheet)
    size = _output_size(corners, ratio)
    matrix = np.diag([size[0], size[1], 1.0]) @ np.linalg.inv(unit_square_homography(corners))
    matrix = matrix / matrix[2, 2]
    rgb = cover_fringe(warp(picture.rgb, matrix, size, finding.lens))
    if sheet is not None and sheet.lower() == "card":
        size_mm, notes = _size_by_card(picture, matrix, finding, size)
    done = (
        f"straightened, {100 * finding.confidence:.0f} % sure: {finding.why}; "
        f"{size[0]} x {size[1]} px"
    )
    outside = _warped_outside(picture, matrix, size, finding.lens)
    made = replace(
        picture,
        rgb=rgb,
        outside=outside,
        dpi=None,
        notes=(*picture.notes, done, *notes),
        by_camera=_leans(matrix, frame) and not looks_drawn(picture.rgb),
    )
    cut = corners_outside(seen, frame)
    return Straightened(made, matrix, finding.lens, size_mm, (done, *notes), cut)


def _proportions(
    corners: NDArray[np.float64], frame: tuple[int, int], sheet: str | None
) -> tuple[float, tuple[float, float] | None, tuple[str, ...]]:
    """Return width over height, the size when it is known, and what to say about it."""
    seen = sheet_proportion(corners, frame)
    guess = sheet_by_proportion(seen.ratio)
    landscape = seen.ratio > 1
    name = (sheet or "").lower()
    if name in SHEET_SIZES_MM:
        size = sheet_size(name, landscape=landscape)
        return size[0] / size[1], size, _mismatch(name, size[0] / size[1], seen.ratio)
    if name == "auto" and guess is not None:
        size = sheet_size(guess, landscape=landscape)
        return size[0] / size[1], size, (f"the sheet's proportion ({seen.ratio:.3f}) says {guess}",)
    if name == "auto":
        note = f"the sheet's proportion ({seen.ratio:.3f}) is that of no known sheet: size unknown"
        return seen.ratio, None, (note,)
    if guess is not None:
        size = sheet_size(guess, landscape=landscape)
        if abs(size[0] / size[1] / seen.ratio - 1) <= max(_SNAP, seen.spread):
            note = f"the proportion is that of {guess}: give the sheet to have its size"
            return size[0] / size[1], None, (note,)
    return seen.ratio, None, ()


def _mismatch(name: str, ratio: float, seen: float) -> tuple[str, ...]:
    if abs(ratio / seen - 1) < 0.05:
        return ()
    return (
        f"the sheet looks {max(seen, 1 / seen):.3f} times as long as wide, {name} is "
        f"{max(ratio, 1 / ratio):.3f}: check the corners or the sheet",
    )


def _output_size(corners: NDArray[np.float64], ratio: float) -> tuple[int, int]:
    """Return (width, height) px that keep the photo's own pixels where they are largest."""
    edges = np.linalg.norm(np.roll(corners, -1, axis=0) - corners, axis=1)
    width = max(edges[0], edges[2], ratio * max(edges[1], edges[3]))
    area = 0.5 * abs(
        float(
            np.sum(
                corners[:, 0] * np.roll(corners[:, 1], -1)
                - corners[:, 1] * np.roll(corners[:, 0], -1)
            )
        )
    )
    # Not more than a quarter more pixels than were seen: a steep view has no more detail to give.
    width = min(float(width), float(np.sqrt(1.25 * area * ratio)))
    return max(16, round(width)), max(16, round(width / ratio))


def _warped_outside(
    picture: Picture, matrix: NDArray[np.float64], size: tuple[int, int], lens: Lens | None
) -> NDArray[np.bool_] | None:
    if picture.outside is None:
        return None
    mask = picture.outside.view(np.uint8)
    moved = warp(mask, matrix, size, lens, smooth=False).astype(bool)
    return moved if moved.any() else None


def _size_by_card(
    picture: Picture, matrix: NDArray[np.float64], finding: SheetFinding, size: tuple[int, int]
) -> tuple[tuple[float, float] | None, tuple[str, ...]]:
    if finding.corners_px is None:
        return None, ()
    mm_per_px = find_card(picture.rgb, matrix, finding.lens, finding.corners_px)
    if mm_per_px is None:
        note = "no bank card was found beside the sheet: lay it flat, apart from it, on the table"
        return None, (note,)
    note = f"the card beside the sheet gives {mm_per_px:.4f} mm a pixel"
    return (size[0] * mm_per_px, size[1] * mm_per_px), (note,)


def _turned_back(picture: Picture, turn_deg: float) -> Straightened:
    """Turn a scan about its middle; the corners that come in are filled with the rim's colour."""
    height, width = picture.rgb.shape[:2]
    angle = np.deg2rad(turn_deg)
    cosine, sine = np.cos(angle), np.sin(angle)
    middle = np.array([width / 2, height / 2])
    matrix = np.array([[cosine, sine, 0], [-sine, cosine, 0], [0, 0, 1.0]])
    matrix[:2, 2] = middle - matrix[:2, :2] @ middle
    rgb = warp(picture.rgb, matrix, (width, height), None)
    note = f"a small turn of {turn_deg:+.2f} degrees was taken out: its long edges agree on it"
    outside = _warped_outside(picture, matrix, (width, height), None)
    made = replace(picture, rgb=rgb, outside=outside, notes=(*picture.notes, note))
    return Straightened(made, matrix, None, None, (note,))


__all__ = ["Straightened", "project", "straighten"]
