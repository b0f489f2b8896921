"""How good the picture is for its purpose: figures, and what to do about each."""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from img2pour.picture import Picture

# Limits are judgement, no source: where tracing begins to guess.
_BLURRED_PX = 1.6
_COARSE_MM = 0.25
_LEAST_STROKE_PX = 3.0
_MOST_TAPER = 2.0
# Resampling and compression leave seams along edges, up to this share of the contrast.
_RINGING = 0.2
_GLARE_SHARE = 0.002
_BURNT_SHARE = 0.05
_BURNT_LEVEL = 254
_GLOW = 14
# Two pixels are needed on either side of an edge to place it: nothing finer is certain.
_CERTAIN_PX = 2.0


@dataclass(frozen=True)
class QualityNote:
    """One finding about the picture.

    Attributes
    ----------
    kind : str
        blur, resolution, glare, burnt, corners or strokes.
    value : float
        The figure it rests on.
    unit : str
        px, mm, share or count.
    message : str
        What is wrong and what to do, in one line.
    """

    kind: str
    value: float
    unit: str
    message: str


def judge_quality(
    picture: Picture,
    *,
    mm_per_px: float | None = None,
    smallest_mm: float | None = None,
    blur_px: float = 0.0,
    photo: Picture | None = None,
    cut: tuple[str, ...] = (),
) -> tuple[QualityNote, ...]:
    """Return what a person should know about the picture before it is traced.

    Parameters
    ----------
    picture : Picture
        The artwork as it will be traced (straightened, evenly lit).
    mm_per_px : float or None
        Scale on the board; None leaves out what needs it.
    smallest_mm : float or None
        Narrowest feature that the bits can cut.
    blur_px : float
        Sigma of the blur of edges, as the palette step measured it.
    photo : Picture or None
        The photo as taken: glare and burnt-out areas are sought there.
    cut : tuple of str
        Where its frame cuts the sheet, in words.
    """
    found = [
        _blur_note(blur_px, mm_per_px),
        resolution_note(mm_per_px, smallest_mm),
        _stroke_note(picture, mm_per_px),
        *_light_notes(photo or picture),
        cut_note(cut),
    ]
    return tuple(note for note in found if note is not None)


def _blur_note(blur: float, mm_per_px: float | None) -> QualityNote | None:
    if blur < _BLURRED_PX:
        return None
    on_board = f" ({blur * mm_per_px:.2f} mm on the board)" if mm_per_px else ""
    return QualityNote(
        "blur",
        blur,
        "px",
        f"edges are blurred by {blur:.1f} px{on_board}: hold the camera still, focus on the sheet "
        f"or give it more light",
    )


def resolution_note(mm_per_px: float | None, smallest_mm: float | None) -> QualityNote | None:
    """Return what the pixels leave to guesswork at this scale, if it is worth a word."""
    if mm_per_px is None:
        return None
    certain = _CERTAIN_PX * mm_per_px
    if mm_per_px < _COARSE_MM and (smallest_mm is None or certain <= smallest_mm):
        return None
    return QualityNote(
        "resolution",
        mm_per_px,
        "mm",
        f"one pixel is {_two_digits(mm_per_px)} mm on the board: finer than "
        f"{_two_digits(certain)} mm is guesswork; "
        f"a picture of more pixels or a smaller board helps",
    )


def _two_digits(value: float) -> str:
    return f"{value:.0f}" if value >= 10 else f"{value:.2g}"


def _stroke_note(picture: Picture, mm_per_px: float | None) -> QualityNote | None:
    width = finest_stroke_px(picture.rgb)
    if width is None:
        return None
    more = _LEAST_STROKE_PX / max(width, 0.5)
    if round(more, 1) <= 1:
        return None
    on_board = f" ({width * mm_per_px:.2f} mm on the board)" if mm_per_px else ""
    return QualityNote(
        "strokes",
        width,
        "px",
        f"the finest strokes are {width:.1f} px wide{on_board}, {_LEAST_STROKE_PX:g} are needed: "
        f"take the picture {more:.1f} times closer or scan it finer",
    )


def finest_stroke_px(rgb: NDArray[np.uint8]) -> float | None:
    """Return the width of the finest strokes, light or dark, in pixels; None when there are none.

    It is the width as it is seen, blur included: darkness summed across the stroke over darkness in
    its middle, for strokes that a square of 7 px does not fit into. The finest tenth counts.
    """
    grey = np.asarray(cv2.cvtColor(_middle_part(rgb), cv2.COLOR_RGB2GRAY), np.uint8)
    kernel = np.ones((7, 7), np.uint8)
    ringing = _RINGING * float(np.ptp(np.percentile(grey[::4, ::4], [1, 99])))
    widths = [
        _ridge_widths(cv2.morphologyEx(grey, operation, kernel), ringing)
        for operation in (cv2.MORPH_BLACKHAT, cv2.MORPH_TOPHAT)
    ]
    together = np.concatenate(widths)
    if together.size < 60:
        return None
    return float(np.percentile(together, 10))


def _middle_part(rgb: NDArray[np.uint8], most: int = 2000) -> NDArray[np.uint8]:
    """Return at most 2000 x 2000 px from the middle, at full detail."""
    top, left = (max(0, (side - most) // 2) for side in rgb.shape[:2])
    return rgb[top : top + most, left : left + most]


def _ridge_widths(hat: NDArray[np.generic], ringing: float) -> NDArray[np.float64]:
    """Return stroke widths along the ridges of a top-hat picture, those above ringing."""
    depth = np.asarray(hat, np.uint8)
    floor = max(25.0, 8 * _middle_level(depth), ringing)
    ridge = (depth > floor) & (depth >= cv2.dilate(depth, np.ones((3, 3), np.uint8)))
    # Only long strokes: corners and specks leave dots of a few pixels.
    count, label, stats, _ = cv2.connectedComponentsWithStats(
        (depth > floor / 2).astype(np.uint8), connectivity=8
    )
    long = np.max(stats[:count, 2:4], axis=1) >= 25
    long[0] = False
    row, column = np.nonzero(ridge)
    kept = long[label[row, column]]
    row, column = row[kept], column[kept]
    framed = np.asarray(cv2.copyMakeBorder(depth, 4, 4, 4, 4, cv2.BORDER_REFLECT_101), np.uint8)
    steps = range(-4, 5)
    across_x = sum(framed[row + 4, column + 4 + step].astype(np.int64) for step in steps)
    across_y = sum(framed[row + 4 + step, column + 4].astype(np.int64) for step in steps)
    width = np.asarray(np.minimum(across_x, across_y) / depth[row, column], np.float64)
    return _usual_of_each(width, label[row, column])


def _middle_level(levels: NDArray[np.uint8]) -> float:
    """Return the median of a picture's levels."""
    counts = cv2.calcHist([levels], [0], None, [256], [0, 256]).ravel()
    return float(np.searchsorted(np.cumsum(counts), levels.size / 2))


def _usual_of_each(widths: NDArray[np.float64], stroke: NDArray[np.int32]) -> NDArray[np.float64]:
    """Return for each place the median width of its stroke; wedges, which taper, are left out."""
    order = np.lexsort((widths, stroke))
    starts = np.flatnonzero(np.diff(stroke[order], prepend=-1))
    counts = np.diff(np.append(starts, len(order)))
    narrow, middle, wide = (
        widths[order][starts + (counts * share).astype(np.intp)] for share in (0.1, 0.5, 0.9)
    )
    even = wide < _MOST_TAPER * narrow
    return np.repeat(middle[even], counts[even])


def _light_notes(photo: Picture) -> list[QualityNote]:
    """Return notes on glare (small burnt patches with a glow) and on a burnt-out exposure."""
    scale = max(1.0, max(photo.rgb.shape[:2]) / 1000)
    size = (round(photo.rgb.shape[1] / scale), round(photo.rgb.shape[0] / scale))
    small = cv2.resize(photo.rgb, size, interpolation=cv2.INTER_AREA)
    darkest = small.min(axis=2)
    burnt = darkest >= _BURNT_LEVEL
    share = float(burnt.mean())
    if share < _GLARE_SHARE or not _has_glow(small, burnt) or _is_white_paper(darkest, burnt):
        return []
    if share > _BURNT_SHARE:
        message = (
            f"{100 * share:.0f} % of the photo is burnt out: pale colours there are lost; expose "
            f"for the paper or use less light"
        )
        return [QualityNote("burnt", share, "share", message)]
    message = (
        f"glare covers {100 * share:.1f} % of the photo: tilt the lamp or the sheet, switch the "
        f"flash off"
    )
    return [QualityNote("glare", share, "share", message)]


def _is_white_paper(darkest: NDArray[np.generic], burnt: NDArray[np.bool_]) -> bool:
    """Return whether the burnt parts are hardly lighter than what is light beside them.

    Drawn or scanned white that was resampled or compressed has specks a little below white.
    """
    rest = np.asarray(darkest)[~burnt]
    if rest.size == 0:
        return True
    solid = cv2.erode(burnt.astype(np.uint8), np.ones((3, 3), np.uint8)).mean()
    return bool(np.percentile(rest, 75) >= _BURNT_LEVEL - _GLOW or solid < _GLARE_SHARE / 2)


def _has_glow(small: NDArray[np.generic], burnt: NDArray[np.bool_]) -> bool:
    """Return whether the burnt parts fade out softly; drawn white has a sharp edge or none."""
    values = np.asarray(small, np.uint8).min(axis=2)
    around = cv2.dilate(burnt.astype(np.uint8), np.ones((7, 7), np.uint8)) > 0
    ring = values[around & ~burnt]
    return ring.size > 0 and float(np.mean(ring >= _BURNT_LEVEL - _GLOW)) > 0.6


def cut_note(cut: tuple[str, ...]) -> QualityNote | None:
    """Return where the frame cuts the sheet, if it does."""
    if not cut:
        return None
    return QualityNote(
        "corners",
        float(len(cut)),
        "count",
        f"the frame cuts the sheet ({', '.join(cut)}): step back so that all four corners show",
    )
