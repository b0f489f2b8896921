"""Options that several commands share. They stay text here: the job reads and checks them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

_Command = TypeVar("_Command", bound=Callable[..., Any])

SIZE = (
    click.option("--width", metavar="LENGTH", help="Width of the artwork, like 12in or 30cm."),
    click.option("--height", metavar="LENGTH", help="Height of the artwork, instead of a width."),
    click.option("--board", metavar="WxH", help="Fit it on a board, like 21x14.25in."),
    click.option("--margin", metavar="LENGTH", help="Wood left free around it on the board."),
    click.option("--scale", metavar="dpi", help="dpi: believe the picture's own density."),
)
PHOTO = (
    click.option(
        "--straighten",
        metavar="auto|off|CORNERS",
        help='Take out perspective; four corners as "x,y x,y x,y x,y" in pixels.',
    ),
    click.option("--sheet", metavar="NAME", help="a4, letter ...: the sheet gives the scale."),
    click.option("--measure", metavar="TEXT", help='Two points: "120,80 940,96 = 7 1/2in".'),
    click.option("--light", metavar="auto|off", help="Even out shadows and paper tone."),
    click.option("--drawing", metavar="auto|on|off", help="Read it as a line drawing."),
    click.option("--lines", metavar="shared|keep|stand", help="What becomes of drawn lines."),
    click.option("--line-width", metavar="LENGTH", help="Even width of lines that are kept."),
    click.option("--close", metavar="LENGTH", help="Bridge gaps in lines up to this (2mm)."),
    click.option("--tones", type=int, metavar="N", help="N tones by lightness, for portraits."),
)
OVER = click.option(
    "--over",
    multiple=True,
    metavar="FILE@PLACE,SIZE",
    help="Lay art over it: crest.png@centre,120mm or name.svg@lower,height 2in,clear white.",
)
COLOURS = (
    click.option(
        "--colours",
        metavar="auto|N|LIST",
        help='How many, or which: "#0b1f3a=navy,#e9d8a6=sand".',
    ),
    click.option("--wood", metavar="NAME|#hex|auto|none", help="The colour left as bare wood."),
    click.option("--max-megapixels", type=float, metavar="N", help="Refuse larger pictures (200)."),
)
CARVING = (
    click.option(
        "--bit",
        multiple=True,
        metavar="SPEC",
        help='A bit: "flat 1/8in", "vee 30deg", "taper 12.4deg r0.5mm", "ball 3mm". '
        "May be given several times.",
    ),
    click.option("--bit-table", metavar="FILE", help="Your own table of bits (TOML)."),
    click.option("--depth", metavar="LENGTH", help="Depth of the pockets (1/8in)."),
    click.option("--surface", metavar="LENGTH", help="Taken off the top at the end (0.5mm)."),
    click.option("--rim", metavar="LENGTH", help="Wood kept along the board's edge (0mm)."),
    click.option("--walls", metavar="auto|upright|sloped", help="How the flat bit meets the wall."),
    click.option("--tolerance", metavar="auto|LENGTH", help="Cap on the deviation of outlines."),
    click.option("--small", metavar="drop|widen|keep", help="What the bits cannot enter."),
    click.option("--thin-walls", metavar="mark|merge|thicken", help="Walls too thin to stand."),
    click.option("--thickness", metavar="LENGTH", help="Of the board (3/4in)."),
    click.option("--grain", metavar="horizontal|vertical", help="The way the grain runs."),
    click.option(
        "--role",
        multiple=True,
        metavar="COLOUR=ROLE",
        help="pour, wood or outside, like navy=pour.",
    ),
    click.option(
        "--bit-for", multiple=True, metavar="COLOUR=SPEC", help="A bit for one colour alone."
    ),
    click.option(
        "--small-for", multiple=True, metavar="COLOUR=WORD", help="drop, widen or keep for one."
    ),
)
POURS = (
    click.option("--order", metavar="NAMES", help='Pours in order: "navy,red,gold".'),
    click.option("--done", type=int, metavar="N", help="Stages poured already; plan the rest."),
    click.option("--seal", metavar="KIND", help="band, flood, flood board, brush or none."),
    click.option("--border", metavar="LENGTH", help="Clear left beside the colour (0.8mm)."),
    click.option("--resin", metavar="NAME", help="Product for the colours (img2pour resins)."),
    click.option("--resin-table", metavar="FILE", help="Your own table of resins (TOML)."),
    click.option(
        "--log",
        multiple=True,
        type=click.Path(path_type=Path),
        metavar="JOB.toml",
        help="An earlier job: waste and soak follow what was noted in it too.",
    ),
)
FILES = (
    click.option("--files", metavar="all|design", help="design: the regions alone, fast."),
    click.option("--units", metavar="auto|in|mm", help="Units to read; lengths name their own."),
    click.option("--dxf", metavar="VERSION", help="R12, R2000, R2010 (default) or R2018."),
    click.option(
        "--section", metavar="LENGTH", help="Height of the cut that the report shows, like 4in."
    ),
    click.option("--zero", metavar="corner|centre|pin", help="Where the files have their zero."),
    click.option(
        "--pin-x", metavar="LENGTH", help="The pin, to the right of the lower-left corner."
    ),
    click.option("--pin-y", metavar="LENGTH", help="The pin, above the lower-left corner."),
)
ACCEPT_LOSS = click.option(
    "--accept-loss", metavar="PERCENT", help="May be lost of a colour before check says no, as 1%."
)
AS_JSON = click.option("--json", "as_json", is_flag=True, help="Print data instead of a table.")
QUIET = click.option("-q", "--quiet", is_flag=True, help="Print nothing but errors.")
ART_OR_JOB = click.argument("source", metavar="ART|JOB.toml", type=click.Path(path_type=Path))


def shared_options(*groups: Any) -> Callable[[_Command], _Command]:
    """Return a decorator that adds options, or groups of them, in this order."""
    flat = [x for group in groups for x in (group if isinstance(group, tuple) else (group,))]

    def add(command: _Command) -> _Command:
        for option in reversed(flat):
            command = option(command)
        return command

    return add


def out_option(required: bool, text: str) -> Callable[[_Command], _Command]:
    """Return the option ``-o``."""
    return click.option(
        "-o", "--out", type=click.Path(path_type=Path), metavar="OUT", required=required, help=text
    )
