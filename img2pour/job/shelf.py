"""The bits of a job, complete: what was typed, the tables, the machine's figures."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Literal

from img2pour.errors import SettingsError
from img2pour.job.bit_spec import complete_bit, parse_bit_spec
from img2pour.job.bit_table import load_bit_table
from img2pour.job.bits import Bit
from img2pour.job.carve_sections import Machine
from img2pour.job.model import Job
from img2pour.units import quoted


@dataclass(frozen=True)
class Shelf:
    """The bits at hand.

    Attributes
    ----------
    bits : tuple of Bit
        In the order of the job.
    by_colour : tuple of (str, tuple of Bit)
        Name or ``#hex`` of a colour, and its own bits.
    """

    bits: tuple[Bit, ...]
    by_colour: tuple[tuple[str, tuple[Bit, ...]], ...] = ()

    def for_colour(self, name: str, code: str = "") -> tuple[Bit, ...]:
        """Return the bits for the colour of this name or ``#rrggbb`` code."""
        for key, bits in self.by_colour:
            if key in {name, code}:
                return bits
        return self.bits

    @property
    def assumed(self) -> tuple[str, ...]:
        """What was taken from the tables, one line for each bit, in plain words."""
        every = dict.fromkeys(self.bits + tuple(b for _, bits in self.by_colour for b in bits))
        return tuple(f"{bit.name}: {', '.join(bit.assumed)}" for bit in every if bit.assumed)


def settle_walls(job: Job, bits: Sequence[Bit]) -> Literal["upright", "sloped"]:
    """Return how walls are cut: as the job says, else upright when one of the bits is flat."""
    if job.carving.walls != "auto":
        return job.carving.walls
    return "upright" if any(bit.kind == "flat" for bit in bits) else "sloped"


def gather_bits(job: Job, base: Path | None = None) -> Shelf:
    """Return the bits of a job.

    Parameters
    ----------
    job : Job
    base : Path, optional
        Folder from which the job's own table of bits is seen; the working folder by default.

    Raises
    ------
    SettingsError
        When a bit is unknown, impossible, or too short for the depth.
    """
    table = load_bit_table((base or Path()) / job.bits.table if job.bits.table else None)
    shelf = Shelf(
        _complete_all(job.bits.use, table, job.machine),
        tuple(
            (one.colour, _complete_all(one.bits, table, job.machine))
            for one in job.override
            if one.bits
        ),
    )
    for bits in (shelf.bits, *(bits for _, bits in shelf.by_colour)):
        _check_reach(bits, job)
    _check_flat(shelf.bits, job)
    return shelf


def _complete_all(texts: Sequence[str], table: Sequence[Bit], machine: Machine) -> tuple[Bit, ...]:
    return tuple(_with_machine(find_bit(text, table), machine) for text in texts)


def find_bit(text: str, table: Sequence[Bit]) -> Bit:
    """Return the bit of this name in the table, else the one that the text describes.

    Raises
    ------
    SettingsError
        When it is neither.
    """
    plain = " ".join(text.lower().split())
    named = next((bit for bit in table if bit.name.lower() == plain), None)
    try:
        spec = parse_bit_spec(text)
    except SettingsError:
        if named is None:
            raise
        return named
    return complete_bit(spec, table)


def _with_machine(bit: Bit, machine: Machine) -> Bit:
    return replace(
        bit,
        feed_mm_min=machine.feed.mm if machine.feed else bit.feed_mm_min,
        plunge_mm_min=machine.plunge.mm if machine.plunge else bit.plunge_mm_min,
        stepover_share=bit.stepover_share if machine.stepover is None else machine.stepover,
        depth_per_pass_mm=(
            machine.depth_per_pass.mm if machine.depth_per_pass else bit.depth_per_pass_mm
        ),
    )


def _check_reach(bits: Iterable[Bit], job: Job) -> None:
    depth = job.carving.depth
    for bit in bits:
        if depth.mm > bit.cutting_length_mm + 1e-9:
            raise SettingsError(
                f"the bit {quoted(bit.name)} cuts {bit.cutting_length_mm:.4g} mm deep at most, but "
                f"the depth is {depth} ({depth.mm:.4g} mm); carve less deep or take a longer bit",
                name="carving.depth",
                value=depth.text,
            )


def _check_flat(bits: Sequence[Bit], job: Job) -> None:
    if job.carving.walls == "upright" and not any(bit.kind == "flat" for bit in bits):
        raise SettingsError(
            "upright walls need a flat bit, and none is on the shelf; add one, for example "
            '"flat 1/8in", or ask for sloped walls',
            name="carving.walls",
            value="upright",
        )
