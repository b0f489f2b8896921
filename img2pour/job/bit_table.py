"""Tables of bits: the one that comes along, and a user's own ``bits.toml``."""

from __future__ import annotations

from functools import cache
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any

from pydantic import BeforeValidator, Field, PlainValidator, model_validator

from img2pour.errors import SettingsError
from img2pour.job.bit_spec import parse_bit_spec
from img2pour.job.bits import Bit, BitKind, check_shape, flank_height_mm
from img2pour.job.faults import Fault, validate
from img2pour.job.reading import load_text, read_toml
from img2pour.job.section import Section
from img2pour.job.values import (
    NonNegativeLength,
    PositiveLength,
    need_text,
    read_share,
    read_speed,
)
from img2pour.units import Length, quoted


def _read_angle(value: Any) -> float:
    spec = parse_bit_spec(f"vee {need_text(value, '30 deg')}")
    if spec.angle_deg is None or spec.diameter or spec.tip or spec.shank or spec.cut:
        raise SettingsError(f"{quoted(value)} is not an angle; write it like 30 deg")
    return spec.angle_deg


def _read_row_name(value: Any) -> str:
    name = " ".join(need_text(value, "my engraver").split())
    if not 1 <= len(name) <= 60 or not name.isprintable():
        raise SettingsError(f"{quoted(value)} is no name for a bit; use 1 to 60 plain characters")
    return name


_Angle = Annotated[float, PlainValidator(_read_angle)]
_Speed = Annotated[Length, PlainValidator(read_speed)]
_Share = Annotated[float, PlainValidator(read_share), Field(gt=0)]


class BitRow(Section):
    """One bit of a table; the cutting length of a vee or a taper may follow from its shape."""

    name: Annotated[str, BeforeValidator(_read_row_name)]
    kind: BitKind
    diameter: PositiveLength | None = None
    angle: _Angle | None = None
    tip: NonNegativeLength | None = None
    ball_radius: PositiveLength | None = None
    shank: PositiveLength
    cutting_length: PositiveLength | None = None
    feed: _Speed
    plunge: _Speed
    stepover: _Share
    depth_per_pass: PositiveLength

    @model_validator(mode="after")
    def _check(self) -> BitRow:
        self.to_bit()
        return self

    def to_bit(self) -> Bit:
        """Return the row as a bit.

        Raises
        ------
        SettingsError
            When a number is missing or the shape is impossible.
        """
        diameter_mm, ball_mm = self._diameter_mm(), self._ball_mm()
        tip_mm = self.tip.mm if self.tip else 0.0
        check_shape(self.kind, diameter_mm, self.angle, tip_mm, ball_mm)
        return Bit(
            name=self.name,
            kind=self.kind,
            diameter_mm=diameter_mm,
            angle_deg=self.angle if self.kind in {"vee", "taper"} else None,
            tip_mm=tip_mm,
            ball_radius_mm=ball_mm,
            shank_mm=self.shank.mm,
            cutting_length_mm=self._cutting_length_mm(diameter_mm, tip_mm, ball_mm),
            feed_mm_min=self.feed.mm,
            plunge_mm_min=self.plunge.mm,
            stepover_share=self.stepover,
            depth_per_pass_mm=self.depth_per_pass.mm,
        )

    def _diameter_mm(self) -> float:
        if self.diameter:
            return self.diameter.mm
        if self.kind == "taper":
            return self.shank.mm
        if self.kind == "ball" and self.ball_radius:
            return 2 * self.ball_radius.mm
        raise SettingsError(f"a {self.kind} bit needs its diameter", name="kind")

    def _ball_mm(self) -> float | None:
        if self.ball_radius:
            return self.ball_radius.mm
        return self._diameter_mm() / 2 if self.kind == "ball" else None

    def _cutting_length_mm(self, diameter_mm: float, tip_mm: float, ball_mm: float | None) -> float:
        if self.cutting_length:
            return self.cutting_length.mm
        if self.angle is None:
            raise SettingsError(f"a {self.kind} bit needs its cutting_length", name="kind")
        return flank_height_mm(self.kind, diameter_mm, self.angle, tip_mm, ball_mm or 0.0)


class BitFile(Section):
    """A table of bits: one ``[[bit]]`` for each."""

    bit: tuple[BitRow, ...]

    @model_validator(mode="after")
    def _check(self) -> BitFile:
        names = [row.name.lower() for row in self.bit]
        for name in names:
            if names.count(name) > 1:
                raise SettingsError(f"two bits are named {quoted(name)}; rename one", name="bit")
        return self


def read_bit_table(text: str, source: str = "bits.toml") -> tuple[Bit, ...]:
    """Return the bits of a table.

    Raises
    ------
    JobError
        Everything that is wrong with it, each with its line.
    """

    def build(data: dict[str, Any]) -> tuple[BitFile | None, list[Fault]]:
        return validate(BitFile, data)

    return tuple(row.to_bit() for row in read_toml(text, source, build).bit)


@cache
def shipped_bits() -> tuple[Bit, ...]:
    """Return the bits that come with img2pour."""
    text = files("img2pour.job").joinpath("bits.toml").read_text(encoding="utf-8")
    return read_bit_table(text)


def load_bit_table(path: Path | None) -> tuple[Bit, ...]:
    """Return a user's own bits, then the shipped ones that have other names.

    Raises
    ------
    SettingsError
        When the file cannot be read or is wrong.
    """
    if path is None:
        return shipped_bits()
    own = read_bit_table(load_text(path, "table of bits"), path.name)
    names = {bit.name.lower() for bit in own}
    return (*own, *(bit for bit in shipped_bits() if bit.name.lower() not in names))
