"""img2pour: from a picture to carved pockets, poured resin and a sheet for the shop."""

__version__ = "0.1.0"
