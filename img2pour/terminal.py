"""What a person sees in the terminal: progress, one table, the stages, then the warnings.

Everything is drawn from plain report data. Colour codes are left out when the output is no
terminal or ``NO_COLOR`` is set; names from people are shown as text, never as markup.
"""

from __future__ import annotations

import sys
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from typing import IO, TYPE_CHECKING, Any

from rich.console import Console
from rich.table import Column, Table
from rich.text import Text

from img2pour.plan_words import in_units
from img2pour.progress import Progress
from img2pour.units import (
    Shown,
    fl_oz_from_ml,
    format_area,
    format_length,
    format_volume,
    length_from_mm,
)

if TYPE_CHECKING:
    from img2pour.job.bits import Bit
    from img2pour.job.pour_sections import LogNote
    from img2pour.palette import Palette
    from img2pour.pours.resins import Resin

PIPED_WIDTH = 120  # columns when nobody's window sets them
MOST_REMOVED = 8  # removed regions that are listed; the report holds them all
MOST_WARNINGS = 10
NOTHING = "-"


def open_console(stream: IO[str] | None = None) -> Console:
    """Return a console on `stream` (standard output by default)."""
    stream = sys.stdout if stream is None else stream
    width = None if stream.isatty() else PIPED_WIDTH
    return Console(file=stream, width=width, highlight=False, emoji=False, markup=False)


def shown_text(text: object) -> str:
    """Return text from people on one line, without characters that steer a terminal."""
    plain = "".join(c if c.isprintable() else " " for c in str(text))
    return " ".join(plain.split())


@contextmanager
def progress_shown(quiet: bool = False) -> Iterator[Progress]:
    """Give a Progress that draws two bars on standard error, if that is a terminal.

    One is of the whole, the other begins anew with each step.
    """
    if quiet or not sys.stderr.isatty():
        yield Progress()
        return
    from rich.progress import BarColumn, TextColumn, TimeElapsedColumn
    from rich.progress import Progress as Bars

    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeElapsedColumn())
    with Bars(*columns, console=open_console(sys.stderr), transient=True) as bars:
        whole = bars.add_task("in all", total=1.0)
        own = bars.add_task("start", total=None)
        named = ""

        def tell(step: str, share: float) -> None:
            nonlocal named
            bars.update(whole, completed=share)
            if step != named:
                named = step
                bars.reset(own, description=shown_text(step), total=None)

        yield Progress(tell)


def show_report(console: Console, report: Mapping[str, Any], units: Shown) -> None:
    """Print one table of the colours, with the board's size above and removed regions below."""
    board = report["board"]
    size = " x ".join(format_length(board[side], units) for side in ("width_mm", "height_mm"))
    console.print(Text(f"Board {size}, {report['scale_mm_per_px']:.4g} mm a pixel"))
    console.print(colour_table(report["colours"], units))
    for line in [
        *plan_lines(report),
        *text_lines(report.get("texts", ()), units),
        *cut_out_lines(report.get("cut_outs", ()), units),
        *removed_lines(report["removed"], units),
    ]:
        console.print(Text(line))


def plan_lines(report: Mapping[str, Any]) -> list[str]:
    """Return the stages in their order and what they come to; nothing without a plan."""
    plan = report.get("plan")
    if not plan or not report["stages"]:
        return []
    stages = ", ".join(
        f"{stage['number']} {shown_text(stage['name'])}{' (done)' if stage['done'] else ''}"
        for stage in report["stages"]
    )
    schedule, total_ml = plan["schedule"], plan["total_ml"]
    return [
        f"Stages: {stages}",
        f"In all: {_count(schedule['days'], 'day')}, {schedule['machine_hours']:.1f} h at the "
        f"machine, {total_ml:.0f} ml ({fl_oz_from_ml(total_ml):.2f} fl oz) of resin to mix, "
        f"{plan['cost']:.2f} in your money",
    ]


def colour_table(colours: Sequence[Mapping[str, Any]], units: Shown) -> Table:
    """Return a table with one row for each colour of a report."""
    table = _table("", "Colour", "Hex", "Role", ">Area", ">Share", ">Regions", ">Resin")
    for row in colours:
        if row["regions"] == 0:
            continue  # given away by a touch-up; the report still lists it
        volume_ml = row.get("volume_ml")
        table.add_row(
            _swatch(row["hex"]),
            Text(shown_text(row["name"])),
            row["hex"],
            row["role"],
            format_area(row["area_mm2"], units),
            f"{row['area_percent']:.1f} %",
            str(row["regions"]),
            NOTHING if volume_ml is None else format_volume(volume_ml, units),
        )
    return table


def text_lines(texts: Sequence[Mapping[str, Any]], units: Shown) -> list[str]:
    """Return one line for each text: its thinnest stroke against the bit."""
    lines = []
    for text in texts:
        if text["strokes"]:
            thinnest = text["strokes"][0]
            words = (
                f": thinnest stroke {thinnest['stroke_mm']:.2f} mm "
                f"({shown_text(thinnest['letter'])}), the bit cuts {text['bit_mm']:.2f} mm"
            )
            lines.append(shown_text(text["piece"]) + in_units(words, units))
    return lines


def cut_out_lines(cut_outs: Sequence[Mapping[str, Any]], units: Shown) -> list[str]:
    """Return one line for each piece that is cut out of the blank, with its number of copies."""
    by_piece: dict[str, list[Mapping[str, Any]]] = {}
    for row in cut_outs:
        by_piece.setdefault(row["piece"], []).append(row)
    lines = []
    for piece, rows in by_piece.items():
        size = " x ".join(format_length(rows[0][side], units) for side in ("width_mm", "height_mm"))
        pinned = sum(len(row["pins_mm"]) > 0 for row in rows)
        lines.append(
            f"Cut out: {len(rows)} of {shown_text(piece)}, {size}, {pinned} of them with two pins "
            "in the waste"
        )
    return lines


def removed_lines(removed: Sequence[Mapping[str, Any]], units: Shown) -> list[str]:
    """Return one line for each removed region, the largest first, and one for the rest."""
    if not removed:
        return []
    largest = sorted(removed, key=lambda row: -row["area_mm2"])
    lines = [f"Removed: {_count(len(removed), 'region')}, the largest first"]
    for row in largest[:MOST_REMOVED]:
        x, y = (format_length(value, units) for value in row["at_mm"])
        area = format_area(row["area_mm2"], units)
        piece = f" of {shown_text(row['piece'])}" if "piece" in row else ""
        lines.append(
            f"  {shown_text(row['colour'])}{piece}, {area} at {x}, {y}: {shown_text(row['reason'])}"
        )
    if len(removed) > MOST_REMOVED:
        lines.append(
            f"  and {_count(len(removed) - MOST_REMOVED, 'smaller one')}; report.json lists all"
        )
    return lines


def show_verdict(console: Console, report: Mapping[str, Any], units: Shown) -> None:
    """Print a report's verdict: the word, a table of the colours, the advice, a size ladder."""
    verdict = report["verdict"]
    console.print(Text(f"Verdict: {shown_text(verdict['word'])}", style="bold"))
    table = _table("Colour", ">Kept", ">Lost", ">Necks", ">Thinnest stroke", ">Thinnest wall")
    for row in verdict["colours"]:
        table.add_row(
            Text(shown_text(row["name"])),
            f"{row['kept_percent']:.1f} %",
            str(row["islands_lost"]),
            str(row["necks"]),
            _length(row["thinnest_stroke_mm"], units),
            _length(row["thinnest_wall_mm"], units),
        )
    console.print(table)
    for line in verdict["advice"]:
        console.print(Text(f"- {shown_text(line)}"))
    if verdict.get("ladder"):
        console.print(ladder_table(verdict["ladder"], units))
    if report.get("work"):
        console.print(work_table(report["work"], units))


def ladder_table(steps: Sequence[Mapping[str, Any]], units: Shown) -> Table:
    """Return a table of what is lost, poured and spent at several widths."""
    table = _table(">Width", ">Lost", ">Resin", ">Minutes")
    for step in steps:
        table.add_row(
            format_length(step["width_mm"], units),
            f"{step['lost_percent']:.1f} %",
            format_volume(step["volume_ml"], units),
            f"{step['minutes']:.0f}",
        )
    return table


def work_table(rows: Sequence[Mapping[str, Any]], units: Shown) -> Table:
    """Return a table of what each bit removes from all pockets together."""
    table = _table("Bit", ">Opens", ">Removes", ">Share", ">Leaves", ">Minutes (estimate)")
    whole_ml = sum(row["removed_ml"] for row in rows)
    for bit in dict.fromkeys(row["bit"] for row in rows):
        own = [row for row in rows if row["bit"] == bit]
        removed_ml = sum(row["removed_ml"] for row in own)
        table.add_row(
            Text(shown_text(bit)),
            format_area(sum(row["area_mm2"] for row in own), units),
            format_volume(removed_ml, units),
            f"{100 * removed_ml / whole_ml if whole_ml else 0.0:.1f} %",
            format_volume(sum(row["left_ml"] for row in own), units),
            f"{sum(row['minutes'] for row in own):.0f}",
        )
    return table


def show_warnings(warnings: Iterable[str]) -> None:
    """Print each warning on a line of standard error; of many the first, and how many more."""
    sys.stdout.flush()
    lines = list(warnings)
    for warning in lines[:MOST_WARNINGS]:
        print(f"warning: {shown_text(warning)}", file=sys.stderr)
    if len(lines) > MOST_WARNINGS:
        left = _count(len(lines) - MOST_WARNINGS, "more warning")
        print(f"and {left}; the report lists all", file=sys.stderr)


def palette_table(palette: Palette) -> Table:
    """Return a table of the colours that a picture is made of."""
    table = _table("", "Colour", "Hex", ">Share")
    for colour in palette.colours:
        share = f"{100 * colour.share:.1f} %"
        table.add_row(_swatch(colour.hex), Text(shown_text(colour.name)), colour.hex, share)
    return table


def bits_table(bits: Sequence[Bit], units: Shown) -> Table:
    """Return a table of bits."""
    table = _table(
        "Bit", "Kind", ">Width", ">Angle", ">Tip", ">Ball r", ">Shank", ">Cuts", ">mm/min",
        ">Plunge", ">Step", ">Pass",
    )  # fmt: skip
    for bit in bits:
        table.add_row(
            Text(shown_text(bit.name)),
            bit.kind,
            _short(bit.diameter_mm, units),
            NOTHING if bit.angle_deg is None else f"{bit.angle_deg:g} deg",
            _short(bit.tip_mm or None, units),
            _short(bit.ball_radius_mm, units),
            _short(bit.shank_mm, units),
            _short(bit.cutting_length_mm, units),
            f"{bit.feed_mm_min:g}",
            f"{bit.plunge_mm_min:g}",
            f"{100 * bit.stepover_share:g} %",
            _short(bit.depth_per_pass_mm, units),
        )
    return table


def resins_table(resins: Sequence[Resin]) -> Table:
    """Return a table of resins."""
    table = _table(
        "Resin", ">A : B, ml", ">A : B, g", ">g/ml", ">Pot life", ">Layer, mm", ">Cure",
        ">Pigment", ">A litre",
    )  # fmt: skip
    for resin in resins:
        table.add_row(
            Text(shown_text(resin.name)),
            f"{resin.parts_a:.3g} : {resin.parts_b:.3g}",
            f"100 : {resin.parts_b_by_weight:.3g}",
            f"{resin.mixed_density_g_per_ml:.2f}",
            f"{resin.pot_life_min:g} min ({resin.pot_life_g:g} g, {resin.pot_life_c:g} C)",
            f"{resin.least_depth_mm:g} to {resin.greatest_depth_mm:g}",
            f"{resin.cure_hours:g} h",
            f"{100 * resin.pigment_share:g} %",
            f"{resin.price_per_litre:g}",
        )
    return table


def compare_table(rows: Sequence[Mapping[str, Any]]) -> Table:
    """Return try-outs side by side, with the rows of ``compare.csv``."""
    table = _table(
        "Try-out", ">Lost", ">Stages", ">Days", ">At the machine", ">Resin", ">Cost", "Order"
    )
    for row in rows:
        title = Text(shown_text(f"{row['job']}: {row['change']}"))
        if row["stages"] is None:
            table.add_row(title, *[NOTHING] * 6, "nothing is poured")
            continue
        table.add_row(
            title,
            f"{row['lost_percent']:.2f} %",
            str(row["stages"]),
            str(row["days"]),
            f"{row['machine_hours']:.1f} h",
            f"{row['resin_ml']:.0f} ml, {row['resin_fl_oz']:.2f} fl oz",
            f"{row['cost']:.2f}",
            Text(shown_text(row["order"])),
        )
    return table


def note_lines(note: LogNote, learned: str, units: Shown) -> list[str]:
    """Return what a note of a pour comes to, beside its plan and what follows from it."""
    mixed, left, pocket, allowed = (
        format_volume(ml or 0.0, units)
        for ml in (note.mixed_ml, note.left_ml, note.pocket_ml, note.allowed_ml)
    )
    lines = [
        f"{shown_text(note.pour)}: {mixed} mixed, {left} left over; planned {pocket} for the "
        f"pockets, {allowed} for soak and waste"
    ]
    return [*lines, learned[:1].upper() + learned[1:]] if learned else lines


def batch_table(rows: Sequence[Mapping[str, str]]) -> Table:
    """Return the summary of a batch, with the rows of its ``batch.csv``."""
    table = _table("Picture", "Result", ">Colours", ">Regions", ">Removed", ">Resin, ml", "Said")
    for row in rows:
        table.add_row(
            Text(shown_text(row["picture"])),
            row["result"],
            *(row[name] or NOTHING for name in ("colours", "regions", "removed", "volume_ml")),
            Text(shown_text(row["said"])),
        )
    return table


def _table(*heads: str) -> Table:
    """Return an empty table; heads that start with ``>`` are of figures, set to the right."""
    columns = [
        Column(head[1:], justify="right", no_wrap=True)
        if head[:1] == ">"
        else Column(head, overflow="fold")
        for head in heads
    ]
    return Table(*columns, box=None, pad_edge=False, header_style="bold")


def _swatch(code: str) -> Text:
    return Text("  ", style=f"on {code}")


def _length(mm: float | None, units: Shown) -> str:
    return NOTHING if mm is None else format_length(mm, units)


def _short(mm: float | None, units: Shown) -> str:
    """Return a length of a cutter: as a fraction of an inch if it is one, else in mm."""
    if mm is None:
        return NOTHING
    length = length_from_mm(mm, units)
    return str(length) if length.unit == "in" and "." not in length.text else f"{mm:.4g} mm"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"
