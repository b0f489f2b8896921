"""The schedule as a drawing: a bar for each stage, work dark and waiting hatched."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from img2pour.pours.schedule import Step
from img2pour.write.text import xml_text

WIDTH = 400.0
LEFT, RIGHT = 4.0, 4.0
ROW = 34.0
BAR = 13.0
TYPE = 11.0
TYPE_WIDTH = 6.6
"""Of a letter, with some to spare."""

HEAD = 18.0
LEAST_WORK = 2.0
"""Work narrower than this on the drawing would not be seen."""

MOST_TICKS = 16
HOURS_PER_DAY = 24.0


@dataclass(frozen=True)
class Lane:
    """What is drawn on one line: its title and its steps."""

    title: str
    steps: tuple[Step, ...]


def lanes(steps: Sequence[Step], names: dict[int, str]) -> tuple[Lane, ...]:
    """Return the steps gathered by stage, in the order of the work.

    Parameters
    ----------
    steps : sequence of Step
    names : dict of int to str
        Names of the stages by number.
    """
    found: list[Lane] = []
    for step in steps:
        if step.stage:
            title = f"Stage {step.stage}: {names.get(step.stage, '')}"
        else:
            title = "Finish" if found else "Prepare"
        if found and found[-1].title == title:
            found[-1] = Lane(title, (*found[-1].steps, step))
        else:
            found.append(Lane(title, (step,)))
    return tuple(found)


def chart_svg(steps: Sequence[Step], names: dict[int, str]) -> str:
    """Return the chart as an SVG element whose colours come from the page's style.

    Parameters
    ----------
    steps : sequence of Step
    names : dict of int to str
        Names of the stages by number; any text.
    """
    drawn = lanes(steps, names)
    days = max(
        1, math.ceil(max((step.end_h for step in steps), default=0.0) / HOURS_PER_DAY - 1e-9)
    )
    height = HEAD + ROW * len(drawn) + 4
    scale = (WIDTH - LEFT - RIGHT) / (days * HOURS_PER_DAY)
    parts = [
        f'<svg class="chart" viewBox="0 0 {WIDTH:g} {height:g}" role="img" '
        f'aria-label="Stages over {days} days; every step stands in the table below">',
        '<defs><pattern id="wait" width="5" height="5" patternUnits="userSpaceOnUse" '
        'patternTransform="rotate(45)"><rect class="wait-ground" width="5" height="5"/>'
        '<line class="wait-line" x1="0" y1="0" x2="0" y2="5"/></pattern></defs>',
        *_ticks(days, scale, height),
    ]
    for index, lane in enumerate(drawn):
        parts += _lane(lane, HEAD + ROW * index, scale)
    return "\n".join([*parts, "</svg>"])


def _ticks(days: int, scale: float, height: float) -> list[str]:
    """Return a line and a number at the beginning of days, not too many of them."""
    step = next(n for n in (1, 2, 5, 7, 14, 28, 84, 365, days) if days / n <= MOST_TICKS)
    found = [f'<text class="tick" x="{LEFT:g}" y="11">day</text>']
    for day in range(0, days + 1, step):
        x = LEFT + day * HOURS_PER_DAY * scale
        found.append(
            f'<line class="grid" x1="{x:.1f}" x2="{x:.1f}" y1="{HEAD - 3:g}" y2="{height:g}"/>'
        )
        if 0 < day < days:
            found.append(f'<text class="tick" x="{x + 2:.1f}" y="11">{day + 1}</text>')
    return found


def _lane(lane: Lane, top: float, scale: float) -> list[str]:
    first = lane.steps[0].day
    last = max(first, math.ceil(lane.steps[-1].end_h / HOURS_PER_DAY - 1e-9))
    when = f"day {first}" if first == last else f"days {first} to {last}"
    start = LEFT + lane.steps[0].start_h * scale
    is_late = start + TYPE_WIDTH * len(f"{_short(lane.title)} {when}") > WIDTH
    anchor, at = ("end", WIDTH - RIGHT) if is_late else ("start", start)
    found = [
        f'<text class="lane" x="{at:.1f}" y="{top + TYPE:.1f}" text-anchor="{anchor}">'
        f"{xml_text(_short(lane.title))} <tspan>{when}</tspan></text>"
    ]
    for step in lane.steps:
        found += _bars(step, top + TYPE + 4, scale)
    return found


def _short(title: str) -> str:
    return title if len(title) <= 34 else title[:32] + "..."


def _bars(step: Step, y: float, scale: float) -> list[str]:
    """Return the bar of waiting up to a step's end, and the one of its work over it."""
    x = LEFT + step.start_h * scale
    busy = max((step.end_h - step.start_h - step.wait_hours) * scale, 0.0)
    end = (step.end_h - step.start_h) * scale
    found = []
    if step.wait_hours:
        kind = "wait reserve" if step.is_reserve else "wait"
        found.append(_bar(kind, x, y, end))
    if step.work_hours or step.machine_hours:
        kind = "machine" if step.machine_hours else "hands"
        found.append(_bar(kind, x, y, max(busy, LEAST_WORK)))
    return found


def _bar(kind: str, x: float, y: float, width: float) -> str:
    return f'<rect class="{kind}" x="{x:.2f}" y="{y:.1f}" width="{width:.2f}" height="{BAR:g}"/>'
