"""Keeping a sheet's pictures within a number of bytes."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np

from img2pour.write.pictures import PNG_LEVEL
from img2pour.write.sheet import Sheet
from img2pour.write.values import Picture

STEP = 0.75
"""Each time the largest picture is made this much narrower."""

LEAST_SIDE_PX = 160


def fit_pictures(sheet: Sheet, most_bytes: int) -> Sheet:
    """Return the sheet with its largest pictures made smaller until all fit.

    Parameters
    ----------
    sheet : Sheet
    most_bytes : int
        For all pictures together.
    """
    pictures = _pictures(sheet)
    while sum(len(picture.data) for picture in pictures) > most_bytes:
        largest = max(range(len(pictures)), key=lambda index: len(pictures[index].data))
        if min(pictures[largest].width_px, pictures[largest].height_px) <= LEAST_SIDE_PX:
            break
        pictures[largest] = smaller(pictures[largest], STEP)
    return _with_pictures(sheet, pictures)


def smaller(picture: Picture, times: float) -> Picture:
    """Return a picture scaled down."""
    width = max(1, round(picture.width_px * times))
    height = max(1, round(picture.height_px * times))
    pixels = cv2.imdecode(np.frombuffer(picture.data, np.uint8), cv2.IMREAD_COLOR)
    scaled = cv2.resize(np.asarray(pixels), (width, height), interpolation=cv2.INTER_AREA)
    _, data = cv2.imencode(".png", scaled, [cv2.IMWRITE_PNG_COMPRESSION, PNG_LEVEL])
    return Picture(data.tobytes(), width, height, picture.words)


def _pictures(sheet: Sheet) -> list[Picture]:
    """Return all pictures of a sheet: the finished piece, the losses, the stages."""
    stages = sheet.pours.stages if sheet.pours else ()
    losses = [sheet.losses] if sheet.losses else []
    return [sheet.finished, *losses, *(stage.picture for stage in stages)]


def _with_pictures(sheet: Sheet, pictures: list[Picture]) -> Sheet:
    """Return the sheet with other pictures, in the same order."""
    left = iter(pictures)
    finished = next(left)
    losses = next(left) if sheet.losses else None
    pours = sheet.pours
    if pours is not None:
        stages = tuple(replace(stage, picture=next(left)) for stage in pours.stages)
        pours = replace(pours, stages=stages)
    return replace(sheet, finished=finished, losses=losses, pours=pours)
