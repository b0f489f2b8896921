"""Rules for the sections that speak of pours; checked with those of :mod:`img2pour.job.rules`."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from img2pour.errors import SettingsError
from img2pour.job.bit_spec import parse_bit_spec
from img2pour.job.carve_sections import Bits, Board, Carving
from img2pour.job.faults import Fault, Path, did_you_mean
from img2pour.job.picture_sections import Colours
from img2pour.job.pour_sections import Blank, Mixing, Pours, ResinUse, RoleRule, Seal
from img2pour.pours.limits import (
    CLEARANCE_MM,
    LEAST_BORDER_MM,
    LEAST_BORDER_OVER_ERROR_MM,
    REGISTRATION_MM,
)
from img2pour.pours.resins import find_resin, standard_resins
from img2pour.pours.species import SHRINKAGE
from img2pour.units import Length, quoted

# More than this is a slip of the unit; own judgement.
GREATEST_MM = {"gap": 100.0, "underlap": 100.0, "shallower": 10.0, "overfill": 20.0, "soak": 5.0}


def _lengths_are_sane(pours: Pours, mixing: Mixing) -> Iterator[Fault]:
    for section, name in ((pours, "pours"), (mixing, "mixing")):
        for key, greatest_mm in GREATEST_MM.items():
            value = getattr(section, key, None)
            if isinstance(value, Length) and value.mm > greatest_mm:
                yield Fault((name, key), f"{value} must be at most {greatest_mm:g} mm", value.text)


def _order_is_sound(pours: Pours) -> Iterator[Fault]:
    for i, name in enumerate(pours.order):
        if name in pours.order[:i]:
            yield Fault(
                ("pours", "order", i), f"{quoted(name)} is there twice; name each pour once", name
            )


def _done_stages_are_planned(pours: Pours) -> Iterator[Fault]:
    named = [name for stage in pours.stages for name in stage]
    if pours.stages and pours.done > len(pours.stages):
        yield Fault(
            ("pours", "done"),
            f"{pours.done} stages are said to be done, but the plan has only {len(pours.stages)}",
            pours.done,
        )
    for i, stage in enumerate(pours.stages):
        for name in stage:
            if named.count(name) > 1:
                yield Fault(
                    ("pours", "stages", i),
                    f"{quoted(name)} is there twice; each pour is poured once",
                    name,
                )
                return


def _names_in_order_are_listed(
    pours: Pours, colours: Colours, resin: tuple[ResinUse, ...], role: tuple[RoleRule, ...]
) -> Iterator[Fault]:
    """Check the order against the listed colours; without a list the picture decides later."""
    if not isinstance(colours.palette, tuple):
        return
    names = [name or code for code, name in colours.palette]
    known = [*names, *(use.name for use in resin if use.name), *(r.pour for r in role if r.pour)]
    codes = {code for code, _ in colours.palette}
    for i, name in enumerate(pours.order):
        if name.split(" (")[0] not in known and name not in codes:
            listed = ", ".join(map(quoted, known))
            yield Fault(
                ("pours", "order", i),
                f"{quoted(name)} is none of the pours: {listed}{did_you_mean(name, known)}",
                name,
            )


def _colours_are_listed(
    colours: Colours, resin: tuple[ResinUse, ...], role: tuple[RoleRule, ...]
) -> Iterator[Fault]:
    if not isinstance(colours.palette, tuple):
        return
    names = [name or code for code, name in colours.palette]
    known = [*names, *(code for code, _ in colours.palette)]
    wanted: list[tuple[Path, str | None]] = [
        (("resin", i, "colours", k), key)
        for i, use in enumerate(resin)
        for k, key in enumerate(use.colours)
    ]
    for i, rule in enumerate(role):
        wanted += [(("role", i, "colour"), rule.colour), (("role", i, "touching"), rule.touching)]
    for path, key in wanted:
        if key is not None and key not in known:
            listed = ", ".join(map(quoted, names))
            hint = did_you_mean(key, known)
            yield Fault(path, f"{quoted(key)} is none of the colours: {listed}{hint}", key)


def _resins_are_apart(resin: tuple[ResinUse, ...]) -> Iterator[Fault]:
    """Each colour is cast in one resin, each name stands once."""
    seen: set[str] = set()
    names: set[str] = set()
    for i, use in enumerate(resin):
        if not use.colours:
            yield Fault(("resin", i, "colours"), "no colours are listed; name at least one", ())
        for k, key in enumerate(use.colours):
            if key in seen:
                yield Fault(
                    ("resin", i, "colours", k),
                    f"{quoted(key)} has a resin already; a colour is cast in one",
                    key,
                )
            seen.add(key)
        if use.name is not None and use.name in names:
            yield Fault(
                ("resin", i, "name"),
                f"{quoted(use.name)} is there twice; put all its colours into one [[resin]]",
                use.name,
            )
        names.add(use.name or "".join(use.colours[:1]))


def _products_are_known(mixing: Mixing, resin: tuple[ResinUse, ...]) -> Iterator[Fault]:
    """Check products by name; with a table of one's own that table is asked later."""
    if mixing.table is not None:
        return
    wanted: list[tuple[Path, str]] = [(("mixing", "resin"), mixing.resin)]
    wanted.append((("mixing", "clear"), mixing.clear))
    wanted += [(("resin", i, "product"), use.product) for i, use in enumerate(resin) if use.product]
    table = standard_resins()
    for path, name in wanted:
        try:
            find_resin(table, name)
        except SettingsError as why:
            yield Fault(path, str(why), name)


def _role_rules_say_where(role: tuple[RoleRule, ...]) -> Iterator[Fault]:
    for i, rule in enumerate(role):
        if not (rule.colour or rule.inside or rule.below or rule.touching or rule.at):
            yield Fault(
                ("role", i),
                "the rule names no regions; give colour, inside, below, touching or at",
            )
        if rule.inside and len(set(rule.inside)) < 3:
            yield Fault(
                ("role", i, "inside"),
                f"a polygon has 3 corners or more, {len(set(rule.inside))} given",
                rule.inside,
            )
        if rule.pour is not None and rule.role != "pour":
            yield Fault(
                ("role", i, "pour"),
                f"{quoted(rule.pour)} is named as a pour, but the role is {rule.role}; write role "
                '= "pour", or leave pour out',
                rule.pour,
            )
        if rule.resin is not None and rule.role != "pour":
            yield Fault(
                ("role", i, "resin"),
                f"{quoted(rule.resin)} is named as a resin, but the role is {rule.role}; write "
                'role = "pour", or leave resin out',
                rule.resin,
            )
        if rule.pour is not None and not rule.pour.strip():
            yield Fault(("role", i, "pour"), "the name of a pour is empty", rule.pour)


def _border_stands(seal: Seal, bits: Bits) -> Iterator[Fault]:
    least_mm = max(LEAST_BORDER_MM, REGISTRATION_MM + LEAST_BORDER_OVER_ERROR_MM)
    if seal.border.mm < least_mm - 1e-9:
        yield Fault(
            ("seal", "border"),
            f"{seal.border} is below {least_mm:g} mm, the least that stays beside the colour when "
            f"the board comes back up to {REGISTRATION_MM:g} mm out of place; make it wider",
            seal.border.text,
        )
    if bits.table is not None:
        return
    try:
        spec = parse_bit_spec(seal.bit)
    except SettingsError as why:
        yield Fault(("seal", "bit"), str(why), seal.bit)
        return
    if spec.kind != "flat" or spec.diameter is None:
        yield Fault(
            ("seal", "bit"),
            f"the seal's channel needs a flat bit, and {quoted(seal.bit)} is none; write it like "
            '"flat 1/4 in"',
            seal.bit,
        )
    elif seal.border.mm >= (spec.diameter.mm + CLEARANCE_MM) / 2:
        yield Fault(
            ("seal", "border"),
            f"{seal.border} is half of the channel that {quoted(seal.bit)} cuts, or more; make it "
            "narrower or take a wider bit",
            seal.border.text,
        )


def _species_is_known(board: Board) -> Iterator[Fault]:
    if board.species not in SHRINKAGE:
        listed = ", ".join(SHRINKAGE)
        hint = did_you_mean(board.species, SHRINKAGE)
        yield Fault(
            ("board", "species"),
            f"{quoted(board.species)} is not in the table of woods; there are: {listed}{hint}",
            board.species,
        )


def _recess_leaves_wood(blank: Blank, board: Board, carving: Carving) -> Iterator[Fault]:
    left_mm = board.thickness.mm - blank.face_below_top.mm
    if blank.face_below_top.mm and carving.depth.mm >= left_mm:
        yield Fault(
            ("blank", "face_below_top"),
            f"{blank.face_below_top} below the top of a board {board.thickness} thick leaves "
            f"{max(left_mm, 0.0):.4g} mm for pockets {carving.depth} deep; make the recess "
            "shallower or take a thicker board",
            blank.face_below_top.text,
        )


POUR_RULES: tuple[tuple[tuple[str, ...], Callable[..., Iterator[Fault]]], ...] = (
    (("pours", "mixing"), _lengths_are_sane),
    (("pours",), _order_is_sound),
    (("pours",), _done_stages_are_planned),
    (("pours", "colours", "resin", "role"), _names_in_order_are_listed),
    (("colours", "resin", "role"), _colours_are_listed),
    (("resin",), _resins_are_apart),
    (("mixing", "resin"), _products_are_known),
    (("role",), _role_rules_say_where),
    (("seal", "bits"), _border_stands),
    (("board",), _species_is_known),
    (("blank", "board", "carving"), _recess_leaves_wood),
)
