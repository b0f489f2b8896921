"""The schedule: every step from the bare blank to the finished piece, with hours and days."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal

from img2pour.errors import SettingsError
from img2pour.pours.limits import check_limits
from img2pour.pours.resins import Resin

StepKind = Literal["prepare", "carve", "coat", "pour", "cure", "level", "finish"]

_LIMITS = {
    "shop_c": (0.0, 50.0),
    "cold_below_c": (0.0, 50.0),
    "slow_factor": (1.0, 10.0),
    **dict.fromkeys(
        (
            "face_hours",
            "coat_gel_hours",
            "layer_hours",
            "mix_hours",
            "level_hours",
            "touch_up_hours",
            "surface_hours",
            "cut_out_hours",
        ),
        (0.0, 1000.0),
    ),
}
THUMBNAIL_TEST = (
    "press a thumbnail into a thick place first: if it leaves a mark, wait longer; half-cured "
    "resin gums the bit and smears"
)


@dataclass(frozen=True)
class ScheduleSettings:
    """Hours of the shop. Common practice, no source; all editable.

    Attributes
    ----------
    shop_c : float
        Temperature while resin cures.
    cold_below_c : float
        Below it resin waits longer.
    slow_factor : float
        How much longer for fine bits or a cold shop: 48 h become 72 h.
    workday_hours : float
        Hands and machine work this long each day; cure goes on day and night.
    face : {"coat", "masking", "none"}
        What keeps resin out of the face's pores.
    face_hours, coat_gel_hours, layer_hours : float
        To coat or mask the face; until a coat gels; between two layers.
    mix_hours, level_hours, touch_up_hours, surface_hours, cut_out_hours : float
        Work for each of these; mixing and pouring for each resin.
    reserve : bool
        Whether a touch-up of pinholes, with its cure, is planned.
    """

    shop_c: float = 21.0
    cold_below_c: float = 18.0
    slow_factor: float = 1.5
    workday_hours: float = 8.0
    face: Literal["coat", "masking", "none"] = "coat"
    face_hours: float = 0.5
    coat_gel_hours: float = 6.0
    layer_hours: float = 6.0
    mix_hours: float = 0.75
    level_hours: float = 0.5
    touch_up_hours: float = 0.5
    surface_hours: float = 0.5
    cut_out_hours: float = 0.5
    reserve: bool = True

    def __post_init__(self) -> None:
        """Check hours and temperatures.

        Raises
        ------
        SettingsError
            When the working day is not above 0 and at most 24 h, or a number is outside its limits.
        """
        check_limits(self, _LIMITS)
        if not 0.0 < self.workday_hours <= 24.0:
            raise SettingsError(
                f"a working day of {self.workday_hours:g} h cannot be; give 1 to 24",
                name="workday_hours",
                value=self.workday_hours,
            )


@dataclass(frozen=True)
class StageWork:
    """What the schedule knows of one stage.

    Attributes
    ----------
    name : str
    kind : {"seal", "pour"}
    machine_hours : float
        To carve it.
    resins : tuple of Resin
        What is poured.
    layers : int
        Of the deepest pour.
    coats : int
        Brushed seal coats between carving and pouring.
    cut_next_with_fine_bits : bool
        Whether a fine bit cuts this resin in the next stage.
    """

    name: str
    kind: Literal["seal", "pour"]
    machine_hours: float
    resins: tuple[Resin, ...]
    layers: int = 1
    coats: int = 0
    cut_next_with_fine_bits: bool = False


@dataclass(frozen=True)
class Step:
    """One line of the schedule.

    Attributes
    ----------
    number : int
        1 for the first.
    stage : int
        Number of the stage, 0 for what belongs to none.
    kind : StepKind
    what : str
        In plain words.
    note : str
        What to mind.
    work_hours, machine_hours, wait_hours : float
        Of hands, of the machine (someone stays beside it), and of waiting.
    start_h, end_h : float
        On the clock, from the morning of the first day; 24 h a day.
    is_reserve : bool
        Whether it may turn out to be needless.
    """

    number: int
    stage: int
    kind: StepKind
    what: str
    note: str
    work_hours: float
    machine_hours: float
    wait_hours: float
    start_h: float
    end_h: float
    is_reserve: bool = False

    @property
    def day(self) -> int:
        """The day on which it starts, 1 for the first."""
        return math.floor(self.start_h / 24.0 + 1e-9) + 1


@dataclass(frozen=True)
class Schedule:
    """All steps.

    Attributes
    ----------
    steps : tuple of Step
    days : int
        On which the piece is finished, reserve included.
    days_without_reserve : int
    machine_hours, work_hours : float
        In all.
    """

    steps: tuple[Step, ...]
    days: int
    days_without_reserve: int
    machine_hours: float
    work_hours: float


@dataclass(frozen=True)
class _Task:
    """A step before it has its time."""

    stage: int
    kind: StepKind
    what: str
    note: str = ""
    work: float = 0.0
    machine: float = 0.0
    wait: float = 0.0
    is_reserve: bool = False


def plan_schedule(
    stages: Sequence[StageWork], settings: ScheduleSettings | None = None, *, done: int = 0
) -> Schedule:
    """Plan every step; with `done` stages poured and levelled already, only the rest.

    Raises
    ------
    SettingsError
        When more stages are said to be done than there are, or fewer than none.
    """
    settings = settings or ScheduleSettings()
    if not 0 <= done <= len(stages):
        raise SettingsError(
            f"done is {done}, but there are {len(stages)} stages: give 0 to {len(stages)}",
            name="done",
            value=done,
        )
    tasks = tuple(_tasks(stages, settings, done))
    steps = _timed(tasks, settings)
    without = _timed(tuple(task for task in tasks if not task.is_reserve), settings)
    return Schedule(
        steps,
        _days(steps),
        _days(without),
        math.fsum(step.machine_hours for step in steps),
        math.fsum(step.work_hours for step in steps),
    )


def cure_hours(resin: Resin, settings: ScheduleSettings, *, fine_bits: bool) -> float:
    """Return how long a pour waits before it is cut: longer for fine bits or in a cold shop."""
    slow = fine_bits or settings.shop_c < settings.cold_below_c
    return resin.cure_hours * (settings.slow_factor if slow else 1.0)


def _tasks(stages: Sequence[StageWork], settings: ScheduleSettings, done: int) -> Iterator[_Task]:
    if done == 0:
        yield from _face(settings)
    for number, stage in enumerate(stages, 1):
        if number > done:
            yield from _stage_tasks(number, stage, settings)
    if settings.reserve and stages:
        last = stages[-1].resins
        wait = max((cure_hours(r, settings, fine_bits=False) for r in last), default=0.0)
        yield _Task(
            0,
            "finish",
            "touch up pinholes",
            "mix a little of each colour for it; the amounts stand with the resin in all",
            work=settings.touch_up_hours,
            wait=wait,
            is_reserve=True,
        )
    yield _Task(
        0,
        "finish",
        "surface the face",
        "take off what the design allows for",
        machine=settings.surface_hours,
    )
    yield _Task(
        0,
        "finish",
        "cut out the piece",
        "last of all: it frees the piece; tabs hold it",
        machine=settings.cut_out_hours,
    )


def _face(settings: ScheduleSettings) -> Iterator[_Task]:
    if settings.face == "coat":
        yield _Task(
            0,
            "prepare",
            "coat the face",
            "it keeps resin out of the pores",
            work=settings.face_hours,
            wait=settings.coat_gel_hours,
        )
    elif settings.face == "masking":
        yield _Task(
            0,
            "prepare",
            "mask the face",
            "it keeps resin out of the pores",
            work=settings.face_hours,
        )


def _stage_tasks(number: int, stage: StageWork, settings: ScheduleSettings) -> Iterator[_Task]:
    what = "the seal" if stage.kind == "seal" else stage.name
    yield _Task(
        number, "carve", f"carve {what}", "check zero and pins first", machine=stage.machine_hours
    )
    for coat in range(1, stage.coats + 1):
        yield _Task(
            number,
            "coat",
            f"brush seal coat {coat}",
            "thin; let it gel",
            work=settings.face_hours,
            wait=settings.coat_gel_hours,
        )
    for layer in range(1, stage.layers + 1):
        of = f", layer {layer} of {stage.layers}" if stage.layers > 1 else ""
        is_last = layer == stage.layers
        yield _Task(
            number,
            "pour",
            f"mix and pour {what}{of}",
            _pot_life_words(stage, settings),
            work=settings.mix_hours * max(1, len(stage.resins)),
            wait=0.0 if is_last else settings.layer_hours,
        )
    fine = stage.cut_next_with_fine_bits
    wait = max((cure_hours(r, settings, fine_bits=fine) for r in stage.resins), default=0.0)
    yield _Task(number, "cure", f"let {what} cure", THUMBNAIL_TEST, wait=wait)
    yield _Task(
        number,
        "level",
        f"level {what}",
        "down to the carved face, no deeper",
        machine=settings.level_hours,
    )


def _pot_life_words(stage: StageWork, settings: ScheduleSettings) -> str:
    words = [
        f"{resin.name}: about {resin.pot_life_at_min(settings.shop_c):.0f} min in the pot at "
        f"{settings.shop_c:g} C ({resin.pot_life_g:g} g; less in a fuller cup; common practice)"
        for resin in dict.fromkeys(stage.resins)
    ]
    return "; ".join(words)


def _timed(tasks: Sequence[_Task], settings: ScheduleSettings) -> tuple[Step, ...]:
    """Give each task its time: work only in the working day, waiting at any hour."""
    steps: list[Step] = []
    clock = 0.0
    for number, task in enumerate(tasks, 1):
        start, busy_until = _work(clock, task.work + task.machine, settings.workday_hours)
        clock = busy_until + task.wait
        steps.append(
            Step(
                number,
                task.stage,
                task.kind,
                task.what,
                task.note,
                task.work,
                task.machine,
                task.wait,
                start,
                clock,
                task.is_reserve,
            )
        )
    return tuple(steps)


def _work(clock: float, hours: float, workday: float) -> tuple[float, float]:
    """Return when work starts and ends: today if it fits, else from the next morning on."""
    if hours <= 0.0:
        return clock, clock
    day, hour = divmod(clock, 24.0)
    left = workday - hour
    if left <= 0.0 or (hours > left + 1e-9 and hour > 0.0):
        day, left = day + 1.0, workday
        clock = day * 24.0
    start = clock
    while hours > left + 1e-9:
        hours -= left
        day, left = day + 1.0, workday
        clock = day * 24.0
    return start, clock + hours


def _days(steps: Sequence[Step]) -> int:
    """Return the number of days that the steps take, the last one counted."""
    end = max((step.end_h for step in steps), default=0.0)
    return max(1, math.ceil(end / 24.0 - 1e-9)) if steps else 0
