"""How the texts of a job compare with the bit: asked of fonts alone, before anything is traced."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from img2pour.compose.fonts import open_font
from img2pour.compose.pieces import piece_names
from img2pour.compose.words import LetterSize, letter_sizes, set_words, too_small
from img2pour.job.piece_sections import Piece, TextPiece


@dataclass(frozen=True)
class TextSize:
    """The strokes of one text.

    Attributes
    ----------
    name : str
        What the piece is called.
    height_mm : float
        Of its capitals.
    bit_mm : float
        Narrowest width that the bits cut.
    letters : tuple of LetterSize
        Each different letter once, the thinnest first.
    """

    name: str
    height_mm: float
    bit_mm: float
    letters: tuple[LetterSize, ...]

    @property
    def note(self) -> str:
        """What is too small, "" where nothing is."""
        said = too_small(self.letters, self.bit_mm, self.height_mm)
        return f"{self.name}: {said}" if said else ""

    def data(self) -> dict[str, Any]:
        """Return the figures for the report."""
        return {
            "piece": self.name,
            "height_mm": self.height_mm,
            "bit_mm": self.bit_mm,
            "strokes": [
                {"letter": one.letter, "stroke_mm": one.stroke_mm, "widest_mm": one.widest_mm}
                for one in self.letters
            ],
        }


def text_sizes(pieces: Sequence[Piece], base: Path, bit_mm: float) -> tuple[TextSize, ...]:
    """Return the strokes of every text among the pieces.

    Parameters
    ----------
    pieces : sequence of Piece
        The lowest first.
    base : Path
        Folder from which fonts are seen.
    bit_mm : float
        Narrowest width that the bits cut.

    Raises
    ------
    SettingsError
        When a font cannot be used, or has no such letter.
    """
    found = []
    for name, piece in zip(piece_names(pieces), pieces, strict=True):
        if isinstance(piece, TextPiece):
            letters = set_words(piece.words, open_font(base / piece.font), piece.height.mm)
            found.append(TextSize(name, piece.height.mm, bit_mm, letter_sizes(letters)))
    return tuple(found)
