"""Rules between the sections of a job; each is checked as soon as its sections are sound."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from img2pour.errors import SettingsError
from img2pour.job.bit_spec import parse_bit_spec
from img2pour.job.carve_sections import Bits, Board, Carving, Limits, Override
from img2pour.job.faults import Fault, Path, did_you_mean
from img2pour.job.picture_sections import Colours, Size
from img2pour.job.pour_rules import POUR_RULES
from img2pour.job.values import show_board
from img2pour.units import quoted

THIN_BOARD_SHARE = 1 / 3  # of the thickness stays as floor; common practice, no source


def broken_rules(sections: Mapping[str, Any]) -> list[Fault]:
    """Return what is wrong between the given sections (those that are sound by themselves)."""
    found: list[Fault] = []
    for names, rule in _RULES:
        if all(name in sections for name in names):
            found.extend(rule(*(sections[name] for name in names)))
    return found


def _surface_below_depth(carving: Carving, limits: Limits) -> Iterator[Fault]:
    left_mm = carving.depth.mm - carving.surface.mm
    if left_mm < limits.least_depth.mm - 1e-9:
        yield Fault(
            ("carving", "depth"),
            f"{carving.depth} less {carving.surface} of surface leaves {left_mm:.4g} mm of colour, "
            f"below the least depth of {limits.least_depth}; carve deeper or take off less",
            carving.depth.text,
        )


def _floor_under_pocket(carving: Carving, board: Board, limits: Limits) -> Iterator[Fault]:
    floor_mm = min(limits.least_floor.mm, board.thickness.mm * THIN_BOARD_SHARE)
    deepest_mm = board.thickness.mm - floor_mm
    if carving.depth.mm > deepest_mm + 1e-9:
        yield Fault(
            ("carving", "depth"),
            f"{carving.depth} is too deep for a board {board.thickness} thick: "
            f"{floor_mm:.4g} mm must stay under it, so at most {deepest_mm:.4g} mm; "
            "carve less deep or take a thicker board",
            carving.depth.text,
        )


def _bits_are_known(bits: Bits) -> Iterator[Fault]:
    """Check the grammar of bits; with a table of one's own, names are checked against it later."""
    if bits.table is None:
        yield from _unknown_bits(("bits", "use"), bits.use)


def _override_bits_are_known(bits: Bits, override: tuple[Override, ...]) -> Iterator[Fault]:
    for i, one in enumerate(override):
        if bits.table is None and one.bits:
            yield from _unknown_bits(("override", i, "bits"), one.bits)


def _unknown_bits(path: Path, specs: tuple[str, ...]) -> Iterator[Fault]:
    for i, spec in enumerate(specs):
        try:
            parse_bit_spec(spec)
        except SettingsError as why:
            yield Fault((*path, i), str(why), spec)


def _bit_fits_board(bits: Bits, size: Size) -> Iterator[Fault]:
    sides = [x for x in (size.width, size.height, *(size.board or ())) if x is not None]
    shown = show_board(size.board) or (sides and str(sides[0]))
    for i, text in enumerate(bits.use):
        try:
            spec = parse_bit_spec(text)
        except SettingsError:
            continue
        wide = spec.diameter if spec.kind in {"flat", "ball"} else None
        if wide and any(wide.mm >= side.mm for side in sides):
            yield Fault(
                ("bits", "use", i),
                f"the bit {quoted(text)} is wider than the piece ({shown}); take a smaller bit "
                "or a larger board",
                text,
            )


def _walls_need_flat_bit(carving: Carving, bits: Bits) -> Iterator[Fault]:
    if carving.walls != "upright" or bits.table is not None:
        return
    if not any(text.lower().startswith("flat") for text in bits.use):
        yield Fault(
            ("carving", "walls"),
            "upright walls need a flat bit, and none is on the shelf; add one, for example "
            '"flat 1/8in", or write walls = "sloped"',
            "upright",
        )


def _wood_is_listed(colours: Colours) -> Iterator[Fault]:
    if colours.wood not in {"auto", "none"}:
        yield from _unlisted(colours, ("colours", "wood"), colours.wood)


def _overrides_are_listed(
    colours: Colours, override: tuple[Override, ...], *pieces: tuple[object, ...]
) -> Iterator[Fault]:
    if any(pieces):
        return  # they bring colours of their own
    for i, one in enumerate(override):
        yield from _unlisted(colours, ("override", i, "colour"), one.colour)


def _unlisted(colours: Colours, path: Path, name: str) -> Iterator[Fault]:
    """Check a name against the listed colours; without a list the picture decides later."""
    if not isinstance(colours.palette, tuple):
        return
    names = [name or code for code, name in colours.palette]
    known = [*names, *(code for code, _ in colours.palette)]
    if name not in known:
        listed = ", ".join(map(quoted, names))
        hint = did_you_mean(name, known)
        yield Fault(path, f"{quoted(name)} is none of the colours: {listed}{hint}", name)


def _one_override_each(override: tuple[Override, ...]) -> Iterator[Fault]:
    seen: set[str] = set()
    for i, one in enumerate(override):
        if one.colour in seen:
            yield Fault(
                ("override", i, "colour"),
                f"{quoted(one.colour)} has an override already; put both into one",
                one.colour,
            )
        seen.add(one.colour)


_RULES: tuple[tuple[tuple[str, ...], Callable[..., Iterator[Fault]]], ...] = (
    (("carving", "limits"), _surface_below_depth),
    (("carving", "board", "limits"), _floor_under_pocket),
    (("bits",), _bits_are_known),
    (("bits", "override"), _override_bits_are_known),
    (("bits", "size"), _bit_fits_board),
    (("carving", "bits"), _walls_need_flat_bit),
    (("colours",), _wood_is_listed),
    (("colours", "override", "art", "shape", "text"), _overrides_are_listed),
    (("override",), _one_override_each),
    *POUR_RULES,
)
