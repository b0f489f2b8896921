"""Reads line drawings: lines bound cells, and each cell becomes a region."""

from img2pour.sketch.detect import cells_are_plain, is_line_drawing
from img2pour.sketch.step import Cell, LineDrawing, even_lines, read_drawing

__all__ = [
    "Cell",
    "LineDrawing",
    "cells_are_plain",
    "even_lines",
    "is_line_drawing",
    "read_drawing",
]
