"""Divides uneven light, hard shadows and colour casts out of a photo of a flat drawing."""

from img2pour.light.step import PAPER_LIGHT, even_light

__all__ = ["PAPER_LIGHT", "even_light"]
