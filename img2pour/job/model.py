"""The job as a value: every setting, in sections, with its default and what is allowed.

The description of each field becomes its comment in a written job file, so a new field needs only
its line in the section's own module. Rules inside one section stand below it; rules between
sections are in :mod:`img2pour.job.rules`.
"""

from __future__ import annotations

from pathlib import Path

from pydantic import model_validator

from img2pour.errors import SettingsError
from img2pour.job.carve_sections import Bits, Board, Carving, Limits, Machine, Override
from img2pour.job.output_section import Output
from img2pour.job.picture_sections import (
    Artwork,
    CellColour,
    Colours,
    Drawing,
    Photo,
    Size,
    Tracing,
)
from img2pour.job.piece_sections import ArtPiece, ShapePiece, TextPiece
from img2pour.job.pour_sections import (
    Blank,
    LogNote,
    Mixing,
    Pours,
    ResinUse,
    RoleRule,
    Seal,
    Shop,
)
from img2pour.job.section import Section
from img2pour.job.touch_section import FRAMING, Touch
from img2pour.units import Shown


class Job(Section):
    """Everything that is wanted from one picture.

    Built from keyword sections, each a mapping or a section::

        Job(size={"width": "12 in"}, carving={"depth": "1/8 in"})

    Raises
    ------
    pydantic.ValidationError
        When a setting or a combination is wrong. :func:`img2pour.job.make_job` says the same in
        one line for each fault.
    """

    artwork: Artwork = Artwork()
    photo: Photo = Photo()
    drawing: Drawing = Drawing()
    size: Size = Size()
    colours: Colours = Colours()
    bits: Bits = Bits()
    carving: Carving = Carving()
    tracing: Tracing = Tracing()
    board: Board = Board()
    blank: Blank = Blank()
    pours: Pours = Pours()
    seal: Seal = Seal()
    mixing: Mixing = Mixing()
    shop: Shop = Shop()
    limits: Limits = Limits()
    machine: Machine = Machine()
    output: Output = Output()
    override: tuple[Override, ...] = ()
    cell: tuple[CellColour, ...] = ()
    touch: tuple[Touch, ...] = ()
    art: tuple[ArtPiece, ...] = ()
    shape: tuple[ShapePiece, ...] = ()
    text: tuple[TextPiece, ...] = ()
    resin: tuple[ResinUse, ...] = ()
    role: tuple[RoleRule, ...] = ()
    log: tuple[LogNote, ...] = ()

    @model_validator(mode="after")
    def _check(self) -> Job:
        from img2pour.job.rules import broken_rules

        broken = broken_rules({name: getattr(self, name) for name in Job.model_fields})
        if broken:
            raise SettingsError("; ".join(fault.message for fault in broken))
        return self

    @property
    def shown_units(self) -> Shown:
        """The units that a person reads: as asked for, else as the size was typed."""
        if self.output.units != "auto":
            return self.output.units
        typed = self.size.width or self.size.height or (self.size.board or (self.carving.depth,))[0]
        return "in" if typed.unit in {"in", "ft"} else "mm"

    @property
    def has_size(self) -> bool:
        """Whether the job says how large the piece is, or where the photo shows it."""
        told = self.photo.sheet is not None or self.photo.measure is not None
        return bool(self.size.given) or told

    def need_size(self) -> None:
        """Ask for the size.

        Raises
        ------
        SettingsError
            When none of width, height, board and scale is given, and the photo gives none.
        """
        if not self.has_size:
            raise SettingsError(
                "how large shall the piece be? Give --width 12in, --height 8in, "
                "--board 21x14.25in, --scale dpi to believe the picture's own density, or tell "
                "what the photo shows: --sheet a4 or --measure",
                name="size",
            )

    def artwork_path(self, base: Path) -> Path:
        """Return where the picture lies, for a job file in the folder `base`.

        Raises
        ------
        SettingsError
            When the job names no picture.
        """
        if self.artwork.file is None:
            raise SettingsError(
                'the job names no picture; give file = "..." under [artwork]', name="artwork.file"
            )
        return base / self.artwork.file

    @property
    def framing(self) -> tuple[Touch, ...]:
        """The touch-ups that crop, mirror or turn: the others leave the pixels as they are."""
        return tuple(touch for touch in self.touch if touch.action in FRAMING)

    @property
    def has_pieces(self) -> bool:
        """True where art, shapes or texts are laid over the artwork."""
        return bool(self.art or self.shape or self.text)

    def override_for(self, name: str, code: str) -> Override | None:
        """Return what differs for the colour of this name or ``#rrggbb`` code, or None."""
        for override in self.override:
            if override.colour in {name, code}:
                return override
        return None
