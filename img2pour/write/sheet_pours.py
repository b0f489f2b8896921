"""What stands on the work sheet once the pours are planned: stages, mixes, seals, days."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from img2pour.pours.schedule import Schedule
from img2pour.pours.totals import ProductTotal
from img2pour.pours.touch_ups import TouchUp
from img2pour.write.values import Picture, Point

DROP_ML = 0.1
"""About two drops; own judgement."""


@dataclass(frozen=True)
class WeightMeasure:
    """One batch on a scale, grams; `step_g` is what the scale must show."""

    a_g: float
    b_g: float
    total_g: float
    step_g: float


@dataclass(frozen=True)
class VolumeMeasure:
    """One batch in cups: both parts and their sum, in one unit."""

    a: float
    b: float
    total: float


@dataclass(frozen=True)
class BatchSheet:
    """One layer's mixing.

    Attributes
    ----------
    layer : int
        1 for the first.
    depth_mm : float
    pocket_ml, overfill_ml, soak_ml, waste_ml, least_batch_ml, total_ml : float
        What the parts of the volume are for, before rounding up to marks.
    cups : int
        How many cups, one after another.
    weight : WeightMeasure
    ml, fl_oz : VolumeMeasure or None
        None where no cup shows the ratio well enough.
    pigment_g : float
    """

    layer: int
    depth_mm: float
    pocket_ml: float
    overfill_ml: float
    soak_ml: float
    waste_ml: float
    least_batch_ml: float
    total_ml: float
    cups: int
    weight: WeightMeasure
    ml: VolumeMeasure | None
    fl_oz: VolumeMeasure | None
    pigment_g: float


@dataclass(frozen=True)
class FillLine:
    """What one pocket takes, by its number on the stage's picture; drops have none there."""

    place: str
    ml: float
    layer_ml: tuple[float, ...]
    syringe: bool
    dam_mm: float

    @property
    def is_drop(self) -> bool:
        """Whether it takes a drop or two: too many of these to number each."""
        return self.ml < DROP_ML


@dataclass(frozen=True)
class MixSheet:
    """Everything to mix for one pour.

    Attributes
    ----------
    pour, product : str
        The pour's name and that of its resin in the table.
    parts_by_volume, parts_by_weight : (A, B)
        The ratio.
    pot_life : str
        In words.
    batches : tuple of BatchSheet
    fills : tuple of FillLine
    cost : float
        In the user's own money.
    """

    pour: str
    product: str
    parts_by_volume: Point
    parts_by_weight: Point
    pot_life: str
    batches: tuple[BatchSheet, ...]
    fills: tuple[FillLine, ...]
    cost: float


@dataclass(frozen=True)
class PocketLine:
    """What is carved for one pour: depth from the carved face, floor above the machine's bed."""

    pour: str
    resin: str
    hex: str
    layer: str
    bits: tuple[str, ...]
    depth_mm: float
    floor_mm: float
    area_mm2: float
    under_mm2: float


@dataclass(frozen=True)
class StageSheet:
    """One carve and one pour.

    Attributes
    ----------
    number : int
    name : str
    kind : {"seal", "pour"}
    file : str
        Its drawing, as it is called in the output folder.
    top_mm, floor_mm, depth_mm : float
        Top of the cut and deepest floor above the machine's bed, and their difference.
    machine_hours : float
    is_done : bool
        Whether it is poured and levelled already.
    pockets : tuple of PocketLine
    mixes : tuple of MixSheet
    picture : Picture
        The stage's own pockets in full colour and numbered, the rest pale.
    """

    number: int
    name: str
    kind: Literal["seal", "pour"]
    file: str
    top_mm: float
    floor_mm: float
    depth_mm: float
    machine_hours: float
    is_done: bool
    pockets: tuple[PocketLine, ...]
    mixes: tuple[MixSheet, ...]
    picture: Picture


@dataclass(frozen=True)
class RuleLine:
    """A rule of the order with its figure for the order that is used and for the runner-up."""

    words: str
    unit: str
    value: float
    other: float | None


@dataclass(frozen=True)
class OrderSheet:
    """Why this order; `runner_up` is the next best one in words."""

    given: bool
    order: str
    why: str
    runner_up: str | None
    rules: tuple[RuleLine, ...]


@dataclass(frozen=True)
class SealLine:
    """What one kind of seal takes."""

    kind: str
    chosen: bool
    total_ml: float
    cost: float
    days: float
    edge_mm: float
    unsealed_mm: float


@dataclass(frozen=True)
class LossLine:
    """What one pour keeps of its wish after all stages."""

    pour: str
    wished_mm2: float
    kept_percent: float
    islands_mm2: float
    narrow_mm2: float
    corners_mm2: float


@dataclass(frozen=True)
class SpotLine:
    """A place without a number: what is there, where, and how wide or long it is."""

    what: str
    at_mm: Point
    size_mm: float


@dataclass(frozen=True)
class PourSheet:
    """What is known once the pours are planned.

    Attributes
    ----------
    order : OrderSheet
    hints : tuple of str
        What another stage would win.
    seals : tuple of SealLine
    bare_edges : tuple of SpotLine
        Edge that the seal leaves bare, the longest stretch first.
    thin_wood : tuple of SpotLine
        Walls that the seal leaves too thin.
    coat : MixSheet or None
        What to mix where the seal is brushed.
    stages : tuple of StageSheet
    losses : tuple of LossLine
    standing : tuple of SpotLine
        Lines left standing in cured resin.
    touch_ups : tuple of TouchUp
        The reserve for pinholes, counted in the products.
    products : tuple of ProductTotal
    schedule : Schedule
    data_sheet : str
        What governs every mix.
    """

    order: OrderSheet
    hints: tuple[str, ...]
    seals: tuple[SealLine, ...]
    bare_edges: tuple[SpotLine, ...]
    thin_wood: tuple[SpotLine, ...]
    coat: MixSheet | None
    stages: tuple[StageSheet, ...]
    losses: tuple[LossLine, ...]
    standing: tuple[SpotLine, ...]
    touch_ups: tuple[TouchUp, ...]
    products: tuple[ProductTotal, ...]
    schedule: Schedule
    data_sheet: str

    @property
    def total_ml(self) -> float:
        """Resin in all, as measured out."""
        return sum(product.total_ml for product in self.products)

    @property
    def cost(self) -> float:
        """Of all resin, in the user's own money."""
        return sum(product.cost for product in self.products)
