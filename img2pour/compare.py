"""Try-outs side by side: jobs, and changes to them, with what each loses, takes and costs."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from img2pour.bare_board import artwork_of
from img2pour.errors import SettingsError
from img2pour.job.options import OPTION_PATHS, OVERRIDE_OPTIONS, merge_options
from img2pour.pours.order import order_words
from img2pour.progress import Progress
from img2pour.units import fl_oz_from_ml, quoted

if TYPE_CHECKING:
    from img2pour.job.model import Job
    from img2pour.results import Result

AS_IT_IS = "as it is"
MOST_TRYOUTS = 24
NAMES = tuple(name for name in (*OPTION_PATHS, *OVERRIDE_OPTIONS) if name != "picture")


@dataclass(frozen=True)
class Tryout:
    """One job to be compared.

    Attributes
    ----------
    job_name : str
        Of the job file or picture.
    change : str
        What is changed in it, as it was typed; "as it is" for nothing.
    job : Job
    base : Path
        Folder that the job's own paths count from.
    """

    job_name: str
    change: str
    job: Job
    base: Path


@dataclass(frozen=True)
class Figures:
    """What a try-out comes to.

    Attributes
    ----------
    stages, days : int
    order : str
        In words.
    machine_hours : float
    resin_ml, resin_fl_oz : float
        To be mixed.
    cost : float
        In the user's own money.
    wished_mm2, lost_mm2 : float
        Of all pours.
    """

    stages: int
    days: int
    order: str
    machine_hours: float
    resin_ml: float
    resin_fl_oz: float
    cost: float
    wished_mm2: float
    lost_mm2: float

    @property
    def lost_percent(self) -> float:
        """Share of the poured area that is lost."""
        return 100 * self.lost_mm2 / self.wished_mm2 if self.wished_mm2 > 0 else 0.0


@dataclass(frozen=True, eq=False)
class Compared:
    """A try-out with its figures and its result; figures are None where nothing is poured."""

    tryout: Tryout
    figures: Figures | None
    result: Result


def read_change(text: str) -> dict[str, Any]:
    """Read what a try-out changes: names of options and values, ``depth=4mm,seal=flood``.

    A comma ends a value where the name of an option follows, so lists keep theirs:
    ``order=navy,red,gold,depth=4mm``.

    Raises
    ------
    SettingsError
        When a part has no value, or its name is no option.
    """
    known = "|".join(re.escape(_typed(name)) for name in NAMES)
    parts = re.split(rf",(?=\s*(?:{known})\s*=)", text)
    options: dict[str, Any] = {}
    for part in parts:
        name, equals, value = part.partition("=")
        key = name.strip().replace("-", "_")
        if not equals or not value.strip():
            raise SettingsError(
                f"{quoted(part.strip())} changes nothing; write it like depth=4mm", name="try"
            )
        if key not in NAMES:
            raise SettingsError(
                f"{quoted(name.strip())} is no option; there are: {', '.join(map(_typed, NAMES))}",
                name="try",
                value=name.strip(),
            )
        _add(options, key, value.strip())
    return options


def _typed(name: str) -> str:
    return name.replace("_", "-")


def _add(options: dict[str, Any], key: str, value: str) -> None:
    """Put an option as the command line would hand it on: numbers read, lists gathered."""
    if key in OVERRIDE_OPTIONS or key == "bit":
        options[key] = (*options.get(key, ()), value)
    elif key in ("done", "tones") and value.isdigit():
        options[key] = int(value)
    else:
        options[key] = value


def tryouts_of(jobs: Sequence[tuple[str, Job, Path]], changes: Sequence[str]) -> tuple[Tryout, ...]:
    """Return every job as it is, each followed by itself with each change.

    Raises
    ------
    SettingsError
        When a change is wrong, naming it; when there are too many, or only one.
    """
    count = len(jobs) * (1 + len(changes))
    if count < 2:
        raise SettingsError(
            'there is only one job to compare; name another, or give --try "depth=4mm"',
            name="try",
        )
    if count > MOST_TRYOUTS:
        raise SettingsError(
            f"{count} try-outs are too many for one page; at most {MOST_TRYOUTS}", name="try"
        )
    found = []
    for name, job, base in jobs:
        found.append(Tryout(name, AS_IT_IS, job, base))
        found += [Tryout(name, text, _changed(job, text), base) for text in changes]
    return tuple(found)


def _changed(job: Job, text: str) -> Job:
    try:
        return merge_options(job, read_change(text))
    except SettingsError as why:
        lines = (f"--try {quoted(text)}: {line}" for line in str(why).splitlines())
        raise SettingsError("\n".join(lines), name="try", value=text) from why


Convert = Callable[..., "Result"]


def compare(
    tryouts: Sequence[Tryout], convert: Convert, progress: Progress = Progress()
) -> tuple[Compared, ...]:
    """Do every try-out; what several share is worked out once.

    Parameters
    ----------
    tryouts : sequence of Tryout
    convert : callable
        :func:`img2pour.convert`.
    progress : Progress

    Raises
    ------
    Img2PourError
        When one cannot be done, naming it.
    """
    kept: MutableMapping[str, Any] = {}
    found = []
    for number, tryout in enumerate(tryouts):
        part = _part(progress, number, len(tryouts), tryout)
        try:
            picture, job = artwork_of(tryout.job, tryout.base)
            result = convert(
                picture,
                job,
                base=tryout.base,
                progress=part,
                kept=kept,
                extent="planned",
            )
        except SettingsError as why:
            words = f"{tryout.job_name}, {tryout.change}: "
            lines = (words + line for line in str(why).splitlines())
            raise SettingsError("\n".join(lines), name=why.name, value=why.value) from why
        found.append(Compared(tryout, figures_of(result), result))
    return tuple(found)


def _part(progress: Progress, number: int, count: int, tryout: Tryout) -> Progress:
    """Return the progress of one try-out as its share of the whole."""

    def report(step: str, share: float) -> None:
        progress.at(f"{tryout.change}: {step}", (number + share) / count)

    return Progress(report)


def figures_of(result: Result) -> Figures | None:
    """Return what a result comes to; None where nothing is poured."""
    if result.planned is None:
        return None
    plan = result.planned.plan
    resin_ml = sum(total.total_ml for total in plan.totals)
    return Figures(
        stages=len(plan.stages),
        days=plan.schedule.days,
        order=order_words(
            plan.choice.order.stages, [pour.name for pour in result.planned.layout.pours]
        ),
        machine_hours=plan.schedule.machine_hours,
        resin_ml=resin_ml,
        resin_fl_oz=fl_oz_from_ml(resin_ml),
        cost=sum(total.cost for total in plan.totals),
        wished_mm2=sum(loss.wished_mm2 for loss in plan.losses),
        lost_mm2=sum(loss.lost_mm2 for loss in plan.losses),
    )


def rows_of(compared: Sequence[Compared]) -> list[dict[str, object]]:
    """Return one row for each try-out, the figures None where nothing is poured."""
    return [
        {
            "job": one.tryout.job_name,
            "change": one.tryout.change,
            "board_width_mm": one.result.board.width_mm,
            "board_height_mm": one.result.board.height_mm,
            **_figure_columns(one.figures),
        }
        for one in compared
    ]


def _figure_columns(figures: Figures | None) -> Mapping[str, object]:
    names = (
        "stages", "order", "days", "machine_hours", "resin_ml", "resin_fl_oz", "cost",
        "wished_mm2", "lost_mm2", "lost_percent",
    )  # fmt: skip
    return {name: None if figures is None else getattr(figures, name) for name in names}
