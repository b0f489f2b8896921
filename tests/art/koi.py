"""A drawing to be photographed: a koi pond on an A4 sheet, six colours."""

from dataclasses import dataclass
from math import cos, pi, sin

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from tests.art.letters import lettering
from tests.art.scene import Scene
from tests.art.shapes import Point, arc_points, disc, pieced, sector, smooth, spline, tapered

PALETTE = {
    "paper": "#f7f2e6",
    "water": "#2c7d86",
    "deep": "#123f4a",
    "orange": "#e2622a",
    "pink": "#eba79b",
    "leaf": "#7fae5a",
}
WIDTH, HEIGHT = 1782, 1260
PX_PER_MM = 6.0
FISH_LENGTH = 440.0


def koi_pond() -> Scene:
    """Return the scene, 1782 x 1260 px: A4 at 6 px a millimetre."""
    scene = Scene(WIDTH, HEIGHT, PALETTE)
    pond = smooth([
        (130, 620), (205, 330), (480, 160), (880, 118), (1270, 128), (1560, 260), (1672, 560),
        (1600, 880), (1330, 1070), (940, 1128), (560, 1112), (270, 950),
    ])  # fmt: skip
    scene.add("deep", shapely.buffer(pond, 22, quad_segs=64))
    scene.add("water", pond)
    _ripples(scene)
    _pads(scene)
    _koi(scene, spline([(560, 330), (720, 300), (860, 380), (930, 520), (1010, 600)]), "paper")
    _koi(scene, spline([(1180, 850), (1030, 900), (870, 860), (760, 740), (650, 690)]), "orange")
    _lotus(scene, (1290, 420), 1.0)
    _lotus(scene, (430, 840), 0.72)
    scene.add("deep", lettering("KOI", (1640, 1170), 58, 12, 0.4))
    return scene


def _ripples(scene: Scene) -> None:
    circles = [
        ((520, 560), 90, 130, 260), ((520, 560), 60, 150, 250), ((1120, 700), 70, 190, 330),
        ((1120, 700), 100, 200, 320), ((1190, 250), 90, 200, 320), ((1190, 250), 60, 215, 305),
        ((640, 960), 90, 30, 150), ((640, 960), 60, 40, 140), ((1500, 740), 70, 20, 150),
    ]  # fmt: skip
    for centre, radius, start, end in circles:
        points = arc_points(centre, radius, start, end)
        scene.add("paper", tapered(points[:: max(1, len(points) // 8)], [2, 8, 9, 8, 2]))


def _pads(scene: Scene) -> None:
    pads = [
        ((300, 440), 112, 20), ((452, 262), 60, 200), ((1300, 470), 150, 150),
        ((1480, 560), 70, 60), ((1420, 900), 96, 230), ((1256, 1020), 50, 300),
        ((440, 860), 118, -40), ((262, 756), 52, 110), ((990, 196), 50, 80),
    ]  # fmt: skip
    for centre, radius, opening in pads:
        notch = sector(centre, radius * 1.2, opening - 16, opening + 16)
        pad = shapely.difference(disc(centre, radius), notch)
        scene.add("deep", shapely.buffer(pad, 7, quad_segs=32))
        scene.add("leaf", pad)
        for k in range(1, 8):
            angle = (opening + 45 * k) * pi / 180
            tip = (centre[0] + 0.8 * radius * cos(angle), centre[1] + 0.8 * radius * sin(angle))
            scene.add("deep", tapered([centre, tip], [max(4.0, radius / 18), 2.5]))


def _lotus(scene: Scene, centre: Point, size: float) -> None:
    for reach, half, count, turn, colour in (
        (112, 34, 8, 0, "pink"), (80, 27, 8, 22.5, "paper"), (50, 20, 6, 10, "pink"),
    ):  # fmt: skip
        for k in range(count):
            petal = _petal(centre, size * reach, size * half, turn + 360 * k / count)
            scene.add("deep", shapely.buffer(petal, 4 * size + 1, quad_segs=16))
            scene.add(colour, petal)
    scene.add("orange", disc(centre, 20 * size))


def _petal(centre: Point, reach: float, half: float, turn_deg: float) -> Polygon:
    c, s = cos(turn_deg * pi / 180), sin(turn_deg * pi / 180)

    def at(x: float, y: float) -> Point:
        return centre[0] + c * x - s * y, centre[1] + s * x + c * y

    one = [at(0, 0), at(0.4 * reach, -0.9 * half), at(0.75 * reach, -0.8 * half), at(reach, 0)]
    other = [at(reach, 0), at(0.75 * reach, 0.8 * half), at(0.4 * reach, 0.9 * half), at(0, 0)]
    return pieced(one, other)


@dataclass(frozen=True)
class Bend:
    """Carries shapes of a straight fish onto a curved spine: x along it, y to its side."""

    spine: np.ndarray

    def __call__(self, shape: BaseGeometry) -> BaseGeometry:
        return shapely.transform(shapely.segmentize(shape, 2.0), self._carry)

    def _carry(self, points: np.ndarray) -> np.ndarray:
        step = np.hypot(*np.diff(self.spine, axis=0).T)
        along = np.concatenate([[0], np.cumsum(step)]) / step.sum()
        share = points[:, 0] / FISH_LENGTH
        middle = np.column_stack([np.interp(share, along, self.spine[:, i]) for i in (0, 1)])
        slope = np.gradient(self.spine, along, axis=0)
        tangent = np.column_stack([np.interp(share, along, slope[:, i]) for i in (0, 1)])
        tangent /= np.hypot(*tangent.T)[:, None]
        beyond = (share - np.clip(share, 0, 1)) * FISH_LENGTH
        normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
        bent: np.ndarray = middle + tangent * beyond[:, None] + normal * points[:, 1:2] * 1.15
        return bent


def _mirrored(shape: BaseGeometry) -> BaseGeometry:
    return shapely.transform(shape, lambda points: points * (1, -1))


def _koi(scene: Scene, spine: list[Point], colour: str) -> None:
    bend = Bend(np.array(spine))
    outline = 7.0
    body = smooth([
        (0, 0), (22, 34), (80, 54), (150, 58), (230, 46), (310, 24), (352, 13),
        (352, -13), (310, -24), (230, -46), (150, -58), (80, -54), (22, -34),
    ])  # fmt: skip
    tail = pieced(
        [(338, 12), (390, 30), (436, 62), (476, 74)],
        [(476, 74), (452, 30), (428, 0), (452, -30), (476, -74)],
        [(476, -74), (436, -62), (390, -30), (338, -12)],
    )
    front = pieced(
        [(92, 46), (112, 88), (158, 122), (196, 124)], [(196, 124), (176, 84), (146, 48)]
    )
    back = pieced([(232, 38), (250, 66), (284, 80)], [(284, 80), (280, 54), (266, 30)])
    fins = [tail, front, _mirrored(front), back, _mirrored(back)]
    for part in [*fins, body]:
        scene.add("deep", shapely.buffer(bend(part), outline, quad_segs=32))
    for fin in fins:
        scene.add("pink", bend(fin))
        scene.add("deep", *(bend(ray) for ray in _rays(fin)))
    scene.add(colour, bend(body))
    _markings(scene, bend, body, "orange" if colour == "paper" else "paper")
    for side in (1, -1):
        scene.add("deep", bend(disc((40, 30 * side), 7)))
        scene.add(
            "deep", bend(tapered([(4, 12 * side), (-16, 22 * side), (-26, 40 * side)], [5, 3]))
        )


def _rays(fin: BaseGeometry) -> list[BaseGeometry]:
    low_x, low_y, high_x, high_y = fin.bounds
    if low_y * high_y < 0:
        return [tapered([(372, y / 3), (440, 0.75 * y)], [2.5, 5, 2.5]) for y in (-44, 0, 44)][::2]
    side = 1 if low_y > 0 else -1
    near, far = (low_y, high_y) if side > 0 else (high_y, low_y)
    start = (low_x + 0.3 * (high_x - low_x), near + 0.3 * (far - near))
    return [
        tapered([start, (low_x + 0.8 * (high_x - low_x), near + 0.8 * (far - near))], [2.5, 5, 2.5])
    ]


def _markings(scene: Scene, bend: Bend, body: BaseGeometry, colour: str) -> None:
    patches = [
        smooth([(20, -26), (60, -32), (96, -10), (92, 24), (56, 30), (24, 12)]),
        smooth([(128, -64), (196, -66), (214, -22), (190, 14), (150, 10), (124, -20)]),
        smooth([(236, 6), (276, -8), (318, 4), (312, 40), (262, 60), (232, 36)]),
    ]
    for patch in patches:
        scene.add(colour, bend(shapely.intersection(patch, body)))
    for x, y, r in ((112, 34, 9), (226, -20, 8), (332, -6, 6)):
        scene.add("deep", bend(disc((x, y), r)))
