"""Finds the sheet in a photo and takes out perspective, lens bulge and small turns."""

from img2pour.straighten.finding import SheetFinding, find_sheet
from img2pour.straighten.lens import Lens
from img2pour.straighten.measure import find_card, mm_per_px_between
from img2pour.straighten.sheets import SHEET_SIZES_MM, sheet_by_proportion, sheet_size
from img2pour.straighten.step import Straightened, straighten

__all__ = [
    "SHEET_SIZES_MM",
    "Lens",
    "SheetFinding",
    "Straightened",
    "find_card",
    "find_sheet",
    "mm_per_px_between",
    "sheet_by_proportion",
    "sheet_size",
    "straighten",
]
