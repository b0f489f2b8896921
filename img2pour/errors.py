"""Errors that a person can act on.

The tree::

    Img2PourError
        ImageError                 the picture cannot be read or used
        SettingsError (ValueError) an option or a line of the job is wrong
        GeometryError              the region map broke a promise of its own
        OutputError (OSError)      the output folder cannot be written
        CancelledError                  the work was stopped on request

Each message is one line that says what is wrong and what to change. Findings about artwork (an
island lost, a neck too narrow) are results, never errors.
"""


class Img2PourError(Exception):
    """Base of every error that img2pour raises on purpose."""


class ImageError(Img2PourError):
    """The picture cannot be read or used."""


class SettingsError(Img2PourError, ValueError):
    """An option or a line of the job is wrong.

    Attributes
    ----------
    name : str
        The option or job field at fault, or "".
    value : object
        The value that was given, or None.
    """

    def __init__(self, message: str, *, name: str = "", value: object = None) -> None:
        super().__init__(message)
        self.name = name
        self.value = value


class GeometryError(Img2PourError):
    """The region map broke one of its own promises."""


class OutputError(Img2PourError, OSError):
    """The output folder cannot be written."""


class CancelledError(Img2PourError):
    """The work was stopped on request."""
