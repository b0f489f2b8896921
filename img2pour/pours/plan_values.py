"""What the plan of the pours is told, what it asks of the carving side, and what it says."""

from __future__ import annotations

from dataclasses import dataclass, field

from img2pour.pours.checks import Finding, WoodSettings
from img2pour.pours.fills import Volumes, upright_volumes
from img2pour.pours.hints import StageHint
from img2pour.pours.look import Look, PourLoss, Reach, StandingLine, Uncut, whole_outline
from img2pour.pours.machine import MachineHours
from img2pour.pours.mixes import Mix, MixSettings
from img2pour.pours.order import Choice
from img2pour.pours.order_rules import OrderSettings
from img2pour.pours.resins import Resin, standard_resins
from img2pour.pours.schedule import Schedule, ScheduleSettings
from img2pour.pours.seal_checks import ThinWood
from img2pour.pours.seal_options import SealOption
from img2pour.pours.seals import SealKind, SealSettings
from img2pour.pours.stages import BitChoice, Stage, StageSettings
from img2pour.pours.totals import ProductTotal
from img2pour.pours.touch_ups import TouchUp


@dataclass(frozen=True)
class PlanSettings:
    """Everything that the plan can be told.

    Attributes
    ----------
    seal_kind : SealKind
    seal, stage, order, mixing, schedule, wood
        Settings of each step.
    clear_product : str
        Name in the table of resins of what seals.
    resins : tuple of Resin
    wanted_order : tuple of str
        Names of pours, or empty to have it worked out.
    done : int
        Stages that are poured and levelled already, the seal's stage counted.
    done_pours : tuple of tuple of str
        Names of the pours in each of those, without the seal.
    cut_width_mm : float
        The narrowest stroke that the bits cut.
    least_line_mm : float
        The least wall of cured resin.
    fine_bit_mm : float
        A slender bit narrower than this at its tip is fine: resin cures longer before it.
    bed_mm : tuple of float or None
        The machine's bed.
    least_floor_mm : float or None
    least_wall_mm : float
        The least wall of wood, checked again after the seal.
    """

    seal_kind: SealKind = "band"
    seal: SealSettings = field(default_factory=SealSettings)
    stage: StageSettings = field(default_factory=StageSettings)
    order: OrderSettings = field(default_factory=OrderSettings)
    mixing: MixSettings = field(default_factory=MixSettings)
    schedule: ScheduleSettings = field(default_factory=ScheduleSettings)
    wood: WoodSettings = field(default_factory=WoodSettings)
    clear_product: str = "table-top 1:1"
    resins: tuple[Resin, ...] = field(default_factory=standard_resins)
    wanted_order: tuple[str, ...] = ()
    done: int = 0
    done_pours: tuple[tuple[str, ...], ...] = ()
    cut_width_mm: float = 0.0
    least_line_mm: float = 0.8
    fine_bit_mm: float = 1.6
    bed_mm: tuple[float, float] | None = None
    least_floor_mm: float | None = None
    least_wall_mm: float = 1.5


@dataclass(frozen=True, eq=False)
class PourPlan:
    """What is carved and poured when, and everything that follows from it.

    Attributes
    ----------
    choice : Choice
        The order, why, and the runner-up.
    seal : SealOption
        The chosen seal.
    seal_options : tuple of SealOption
        All kinds, to compare.
    stages : tuple of Stage
    looks : tuple of Look
        After each stage.
    losses : tuple of PourLoss
    lines : tuple of StandingLine
    uncut : tuple of Uncut
        What the bits leave of the stages' pockets.
    hints : tuple of StageHint
        What another stage would win.
    thin_wood : tuple of ThinWood
        Walls that the seal leaves too thin.
    mixes : tuple of tuple of Mix
        For each stage, for each of its pockets.
    touch_ups : tuple of TouchUp
        The reserve for pinholes.
    totals : tuple of ProductTotal
        Of what is still to be mixed, the reserve counted.
    schedule : Schedule
    findings : tuple of Finding
    warnings : tuple of str
    days_alone : int
        If no two pours shared a stage.
    """

    choice: Choice
    seal: SealOption
    seal_options: tuple[SealOption, ...]
    stages: tuple[Stage, ...]
    looks: tuple[Look, ...]
    losses: tuple[PourLoss, ...]
    lines: tuple[StandingLine, ...]
    uncut: tuple[Uncut, ...]
    hints: tuple[StageHint, ...]
    thin_wood: tuple[ThinWood, ...]
    mixes: tuple[tuple[Mix, ...], ...]
    touch_ups: tuple[TouchUp, ...]
    totals: tuple[ProductTotal, ...]
    schedule: Schedule
    findings: tuple[Finding, ...]
    warnings: tuple[str, ...]
    days_alone: int = 0


@dataclass(frozen=True)
class Tools:
    """What the plan asks of the carving side.

    Attributes
    ----------
    bits : BitChoice
    reach : callable
        What the bits open of a pocket, at the finished face.
    volumes : callable
        What each polygon of a pocket holds.
    machine_hours : callable
        To carve a stage.
    """

    bits: BitChoice
    machine_hours: MachineHours
    reach: Reach = whole_outline
    volumes: Volumes = upright_volumes
