"""Stages: what is carved and poured when, each pocket with its outline and depth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from img2pour.errors import SettingsError
from img2pour.job.bits import Bit
from img2pour.pours.geometry import Geometry, areal, empty, union
from img2pour.pours.limits import check_limits
from img2pour.pours.order import Stages
from img2pour.pours.pour import CLEAR, Pour
from img2pour.pours.seals import Seal
from img2pour.pours.underlap import Carried, UnderlapSettings, carry_under

__all__ = [
    "CLEAR",
    "BitChoice",
    "Stage",
    "StagePocket",
    "StageSettings",
    "flat_radius_mm",
    "plan_stages",
    "stage_warnings",
]

OVERLAP_MM2 = 1e-3  # outlines that merely touch overlap by less
_LIMITS = {
    "depth_mm": (0.0, 1000.0),
    "surface_mm": (0.0, 100.0),
    "blank_mm": (0.1, 10000.0),
    "face_below_top_mm": (0.0, 1000.0),
    "shallower_mm": (0.0, 10.0),
    "least_depth_mm": (0.0, 100.0),
    "seal_deeper_mm": (0.0, 100.0),
    "least_core_wall_mm": (0.0, 100.0),
}
PALE_OVER_DARK_STEP = 20.0  # CIE L*; own judgement


@dataclass(frozen=True)
class StageSettings:
    """Depths and heights of the stages.

    Attributes
    ----------
    depth_mm : float
        Of a pour, from the carved face.
    surface_mm : float
        Taken off the top at the end.
    blank_mm : float
        Thickness of the blank, whose underside lies on the machine's bed.
    face_below_top_mm : float
        How far the carved face lies below the blank's top: the recess of a tray.
    shallower_mm : float
        A pour over an earlier one is cut this much shallower, so that its floor stays in cured
        resin.
    least_depth_mm : float
        At the finished face; a shallower pour lets what lies below shine through.
    seal_deeper_mm : float
        The seal goes this much deeper than the deepest pour that touches it.
    least_core_wall_mm : float
        Wall of wood between two underlaps of one stage.
    underlap : UnderlapSettings
    done : int
        How many stages of `order` are poured already.
    added : tuple of str
        Pours decided on since: the stages that are done do not go under them.
    """

    depth_mm: float = 3.175
    surface_mm: float = 0.5
    blank_mm: float = 19.05
    face_below_top_mm: float = 0.0
    shallower_mm: float = 0.4
    least_depth_mm: float = 1.5875
    seal_deeper_mm: float = 0.5
    least_core_wall_mm: float = 1.0
    underlap: UnderlapSettings = field(default_factory=UnderlapSettings)
    done: int = 0
    added: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Check depths and heights.

        Raises
        ------
        SettingsError
            When a number is outside its limits, the depth does not reach below the finished face,
            or the pockets would go through the blank.
        """
        check_limits(self, _LIMITS)
        if self.depth_mm <= self.surface_mm:
            raise SettingsError(
                f"depth {self.depth_mm:g} mm must be more than the {self.surface_mm:g} mm that are "
                "taken off the surface",
                name="depth_mm",
                value=self.depth_mm,
            )
        if self.depth_mm >= self.top_mm:
            raise SettingsError(
                f"depth {self.depth_mm:g} mm goes through the blank, which is {self.top_mm:g} mm "
                "thick at the carved face: cut less deep or take a thicker blank",
                name="depth_mm",
                value=self.depth_mm,
            )

    @property
    def top_mm(self) -> float:
        """The carved face above the machine's bed."""
        return self.blank_mm - self.face_below_top_mm


@dataclass(frozen=True, eq=False)
class StagePocket:
    """What is carved for one pour of a stage.

    Attributes
    ----------
    pour, resin : str
        Their names.
    outline : shapely MultiPolygon
        The final top outline at the finished face, underlap included.
    under : shapely MultiPolygon
        The part of it that later pours cover.
    depth_mm : float
        From the carved face.
    bits : tuple of Bit
        What cuts it.
    """

    pour: str
    resin: str
    outline: Geometry
    under: Geometry
    depth_mm: float
    bits: tuple[Bit, ...]


@dataclass(frozen=True, eq=False)
class Stage:
    """One carve and one pour, then cure and levelling.

    Attributes
    ----------
    number : int
        1 for the first.
    name : str
        Of its pours, joined by " + ".
    kind : {"seal", "pour"}
    pockets : tuple of StagePocket
        Of pours that do not touch.
    top_mm : float
        The carved face above the machine's bed.
    """

    number: int
    name: str
    kind: Literal["seal", "pour"]
    pockets: tuple[StagePocket, ...]
    top_mm: float

    @property
    def outline(self) -> Geometry:
        """All that is carved in this stage, at the finished face."""
        return union(pocket.outline for pocket in self.pockets)

    @property
    def depth_mm(self) -> float:
        """Depth of the deepest pocket, from the carved face."""
        return max((pocket.depth_mm for pocket in self.pockets), default=0.0)

    @property
    def floor_mm(self) -> float:
        """The deepest floor above the machine's bed."""
        return self.top_mm - self.depth_mm

    @property
    def resins(self) -> tuple[str, ...]:
        """Names of the resins, each once."""
        return tuple(dict.fromkeys(pocket.resin for pocket in self.pockets))


@dataclass(frozen=True)
class BitChoice:
    """Which bits cut what.

    Attributes
    ----------
    shelf : tuple of Bit
        For every pour that has none of its own.
    own : Mapping of str to tuple of Bit
        By the pour's name.
    seal : tuple of Bit
        For the seal's channel; the shelf's when empty.
    """

    shelf: tuple[Bit, ...] = ()
    own: Mapping[str, tuple[Bit, ...]] | None = None
    seal: tuple[Bit, ...] = ()

    def of(self, pour: str) -> tuple[Bit, ...]:
        """Return the bits of one pour."""
        return (self.own or {}).get(pour, self.shelf)


def flat_radius_mm(bits: Sequence[Bit]) -> float | None:
    """Return the radius of the narrowest bit if all are flat: it alone shapes the pocket."""
    if not bits or any(bit.kind != "flat" for bit in bits):
        return None
    return min(bit.diameter_mm for bit in bits) / 2.0


def plan_stages(
    pours: Sequence[Pour],
    order: Stages,
    wood: Geometry,
    bits: BitChoice,
    settings: StageSettings,
    seal: Seal | None = None,
) -> tuple[Stage, ...]:
    """Return the stages of an order, with underlap, depths and the seal first.

    Parameters
    ----------
    pours : sequence of Pour
    order : tuple of tuple of int
        Indices of pours, stage by stage.
    wood : shapely geometry
        The wood around the pours.
    bits : BitChoice
    settings : StageSettings
    seal : Seal, optional
        A stage of its own if it carves anything.
    """
    planned: list[Stage] = []
    if seal is not None and not seal.outline.is_empty:
        planned.append(_seal_stage(seal, bits, settings))
    shapes = [[pours[i].shape for i in stage] for stage in order]
    later_of = _later_unions(shapes)
    for at, (members, later) in enumerate(zip(order, later_of, strict=True)):
        solid = [wood, *(shape for stage in shapes[:at] for shape in stage)]
        if at < settings.done and settings.added:
            later = _without(later, pours, settings.added)
        pockets = []
        for i in members:
            others = [pours[j] for j in members if j != i]
            carried = _carried(pours[i], others, later, solid, settings)
            pockets.append(_pocket(pours[i], carried, bits, settings, planned))
        name = " + ".join(pocket.pour for pocket in pockets)
        stage = Stage(len(planned) + 1, name, "pour", tuple(pockets), settings.top_mm)
        planned.append(stage)
    return tuple(planned)


def _later_unions(shapes: Sequence[Sequence[Geometry]]) -> list[Geometry]:
    """Return, for each stage, the union of all that is poured after it."""
    found = [empty()]
    for stage in reversed(shapes[1:]):
        found.append(union([found[-1], *stage]))
    return found[::-1][: len(shapes)]


def _without(later: Geometry, pours: Sequence[Pour], names: Sequence[str]) -> Geometry:
    """Return what is poured later without some pours."""
    return areal(later.difference(union(p.shape for p in pours if p.name in names)))


def _seal_stage(seal: Seal, bits: BitChoice, settings: StageSettings) -> Stage:
    depth = settings.depth_mm + settings.seal_deeper_mm
    pocket = StagePocket(CLEAR, CLEAR, seal.outline, empty(), depth, bits.seal or bits.shelf)
    return Stage(1, CLEAR, "seal", (pocket,), settings.top_mm)


def _carried(
    pour: Pour,
    together: Sequence[Pour],
    later: Geometry,
    solid: Sequence[Geometry],
    settings: StageSettings,
) -> Carried:
    return carry_under(
        pour.shape,
        later,
        settings.underlap,
        solid=solid,
        beside=[other.shape for other in together if other.resin != pour.resin],
        least_wall_mm=settings.least_core_wall_mm,
    )


def _pocket(
    pour: Pour,
    carried: Carried,
    bits: BitChoice,
    settings: StageSettings,
    earlier: Sequence[Stage],
) -> StagePocket:
    depth = _depth_over(carried.outline, earlier, settings)
    own = bits.of(pour.name)
    return StagePocket(pour.name, pour.resin, carried.outline, carried.under, depth, own)


def _depth_over(outline: Geometry, earlier: Sequence[Stage], settings: StageSettings) -> float:
    """Return the depth that keeps the floor in the cured resin of every earlier pour it cuts."""
    depth = settings.depth_mm
    for stage in earlier:
        for pocket in stage.pockets:
            shallower = pocket.depth_mm - settings.shallower_mm
            if shallower < depth and _overlap(pocket.outline, outline):
                depth = shallower
    return depth


def _overlap(one: Geometry, two: Geometry) -> bool:
    return bool(one.intersection(two).area > OVERLAP_MM2)


def stage_warnings(
    stages: Sequence[Stage], pours: Sequence[Pour], settings: StageSettings
) -> tuple[str, ...]:
    """Return what is doubtful about depths: pours too shallow, and pale over dark, a line each."""
    lightness = {pour.name: pour.lightness for pour in pours}
    shallow: list[tuple[float, str]] = []
    pale: list[str] = []
    seen: list[StagePocket] = []
    for stage in stages:
        for pocket in stage.pockets:
            shown = pocket.depth_mm - settings.surface_mm
            if shown < settings.least_depth_mm - 1e-9:
                shallow.append((shown, pocket.pour))
            pale += _pale_over_dark(pocket, seen, lightness, shown)
        seen += stage.pockets
    found = [_shallow_words(shallow, settings.least_depth_mm)] if shallow else []
    if pale:
        found.append(f"{'; '.join(pale)}: use an opaque pigment")
    return tuple(found)


def _shallow_words(shallow: Sequence[tuple[float, str]], least_mm: float) -> str:
    (shown, pour), *others = sorted(shallow)
    also = ", ".join(f"{name} {depth:.2f} mm" for depth, name in others)
    return (
        f"{pour}: only {shown:.2f} mm deep at the finished face{f' ({also})' if also else ''}, "
        f"below the least depth of {least_mm:.2f} mm: make all pours deeper by "
        f"{least_mm - shown:.2f} mm or use fewer stages"
    )


def _pale_over_dark(
    pocket: StagePocket,
    earlier: Sequence[StagePocket],
    lightness: Mapping[str, float],
    shown_mm: float,
) -> list[str]:
    below = []
    for other in earlier:
        step = lightness.get(pocket.pour, 0.0) - lightness.get(other.pour, 100.0)
        if step < PALE_OVER_DARK_STEP:
            continue
        over = pocket.outline.intersection(other.outline).area
        if over > OVERLAP_MM2:
            below.append(f"{other.pour} ({over / 100.0:.1f} cm2)")
    if not below:
        return []
    return [
        f"{pocket.pour} is lighter, {shown_mm:.2f} mm thick, and lies over the darker "
        f"{', '.join(below)}"
    ]
