"""Short, usual cautions for carving wood and pouring resin, printed in every report.

They are reminders, not instructions: the maker's data sheets, the machine's manual, local rules
and trained practice go before them.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Caution:
    """One caution: a title of a few words, and one to three sentences."""

    title: str
    text: str


CAUTIONS: tuple[Caution, ...] = (
    Caution(
        "What goes before this sheet",
        "These are the usual cautions, in short. The data sheets of the resin, pigment and wood, "
        "the manuals of the machine and bits, local rules and trained practice go before them. "
        "The figures in this report are plans: check them before you cut or mix.",
    ),
    Caution(
        "Skin and eyes",
        "Uncured resin and hardener can make skin sensitive for life. Wear nitrile or butyl "
        "gloves and eye protection, keep sleeves down, and wash with soap and water, never with "
        "solvent.",
    ),
    Caution(
        "Air",
        "Mix and pour with fresh air moving through the room. The resin's data sheet says whether "
        "a respirator is needed and of which kind.",
    ),
    Caution(
        "Dust",
        "Dust of wood can harm nose and lungs, and dust of half-cured resin can sensitise. Extract "
        "at the source, wear a dust mask that fits, and let resin cure before cutting or sanding.",
    ),
    Caution(
        "Hearing",
        "Router, extractor and sander are loud for hours. Wear hearing protection while they run.",
    ),
    Caution(
        "Heat in the cup",
        "Mixed resin heats itself: a deep cup can smoke, crack and burn. Mix what the next minutes "
        "need, pour it out soon, keep within the depth the data sheet allows, and let leftovers "
        "cure spread thin, outdoors, away from anything that burns.",
    ),
    Caution(
        "Spills and waste",
        "Do not soak up hardener with sawdust: the two can heat by themselves. Let leftovers cure "
        "before they go to the waste, as the data sheet and local rules say.",
    ),
    Caution(
        "Holding the work",
        "Clamp or screw the blank down outside every cut, on a flat bed, and check that no clamp "
        "or screw lies in the bit's way. The last cut, around the piece, needs tabs or another "
        "hold.",
    ),
    Caution(
        "A spinning bit",
        "Keep hands, sleeves, hair and gloves away from a turning bit, stop the spindle before "
        "reaching in, and stay within reach of the stop button. Never leave a cut unwatched.",
    ),
    Caution(
        "A first pass in air",
        "Before each stage check the zero, the bit and the depth, and run the first pass above the "
        "work. A wrong zero on a board with cured pours costs days.",
    ),
)
"""Every caution, in the order in which it is printed."""
