"""A print to be scanned: a lighthouse above the sea in an arched window, six colours."""

from math import cos, pi, sin

import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from tests.art.letters import lettering
from tests.art.scene import Scene
from tests.art.shapes import (
    Point,
    arc_points,
    disc,
    ellipse,
    pieced,
    rectangle,
    smooth,
    spline,
    stroke,
    tapered,
)

PALETTE = {
    "paper": "#f4ecd8",
    "sky": "#82b6b8",
    "navy": "#1d3957",
    "red": "#c23d2e",
    "yellow": "#f1bd48",
    "brown": "#6b4d3c",
}
WIDTH, HEIGHT = 1650, 2100
WINDOW = shapely.union_all([shapely.box(170, 800, 1480, 1800), disc((825, 800), 655)])
TOWER_X, FOOT_Y, TOP_Y = 960.0, 1400.0, 690.0


def lighthouse() -> Scene:
    """Return the scene, 1650 x 2100 px: 5.5 x 7 in at 300 dpi."""
    scene = Scene(WIDTH, HEIGHT, PALETTE)
    frame = shapely.buffer(WINDOW, 34, quad_segs=64)
    scene.add("navy", shapely.difference(frame, shapely.buffer(WINDOW, 18, quad_segs=64)))
    scene.add("sky", WINDOW)
    _beams(scene)
    _clouds(scene)
    _gulls(scene)
    _sea(scene)
    _boat(scene)
    _headland(scene)
    _cottage(scene)
    _tower(scene)
    _lantern(scene)
    _waves(scene)
    _words(scene)
    return scene


def _inside(shape: BaseGeometry) -> BaseGeometry:
    return shapely.intersection(shape, WINDOW)


def _words(scene: Scene) -> None:
    scene.add("red", lettering("LIGHT ON THE POINT", (825, 1955), 70, 13, 0.36))
    for x in (212.0, 1438.0):
        scene.add("navy", rectangle((x, 1955), 20, 20, 45))


def _beams(scene: Scene) -> None:
    lamp = (TOWER_X, 560.0)
    for low, high in ((174, 192), (205, 217), (-14, 6), (-42, -28)):
        ray = Polygon([lamp, *(_away(lamp, a, 1400.0) for a in (low, high))])
        scene.add("yellow", _inside(ray))


def _away(start: Point, angle_deg: float, length: float) -> Point:
    a = angle_deg * pi / 180
    return start[0] + length * cos(a), start[1] + length * sin(a)


def _cloud(x: float, y: float, size: float) -> BaseGeometry:
    puffs = [(-1.5, -0.25, 0.45), (-0.75, -0.6, 0.72), (0.25, -0.75, 0.9), (1.15, -0.4, 0.6)]
    parts: list[BaseGeometry] = [disc((x + u * size, y + v * size), r * size) for u, v, r in puffs]
    parts.append(rectangle((x, y - 0.1 * size), 3.9 * size, 0.62 * size))
    cut = shapely.box(x - 3 * size, y - 3 * size, x + 3 * size, y + 0.2 * size)
    ends = [disc((x + u * size, y - 0.1 * size), 0.3 * size) for u in (-1.95, 1.95)]
    return shapely.union(
        shapely.intersection(shapely.union_all(parts), cut), shapely.union_all(ends)
    )


def _clouds(scene: Scene) -> None:
    for x, y, size in ((468, 880, 86), (1296, 860, 66), (700, 420, 52)):
        scene.add("paper", _inside(_cloud(x, y, size)))


def _gulls(scene: Scene) -> None:
    for x, y, size in ((520, 640, 70), (628, 706, 46), (1236, 436, 50), (408, 560, 38)):
        left = [(x - size, y - 0.1 * size), (x - 0.55 * size, y - 0.42 * size), (x, y)]
        right = [(x, y), (x + 0.5 * size, y - 0.48 * size), (x + size, y - 0.2 * size)]
        for wing in (left, right):
            scene.add("navy", tapered(wing, [3, 0.14 * size, 5]))


def _sea(scene: Scene) -> None:
    crests = [(100 + 60 * k, 1370 + (10 if k % 2 else -4)) for k in range(26)]
    edge = spline([(float(x), float(y)) for x, y in crests])
    scene.add("navy", _inside(Polygon([*edge, (1650.0, 1900.0), (0.0, 1900.0)])))


def _waves(scene: Scene) -> None:
    lines = [
        ("sky", 330, 1440, 220), ("paper", 520, 1492, 170), ("sky", 300, 1548, 200),
        ("paper", 366, 1602, 200), ("sky", 740, 1704, 230), ("paper", 330, 1716, 180),
        ("sky", 1060, 1738, 240), ("paper", 1260, 1690, 190), ("sky", 600, 1766, 150),
        ("paper", 900, 1764, 150),
    ]  # fmt: skip
    for colour, x, y, length in lines:
        swell = [(x + length * (t / 6 - 0.5), y + 7 * sin(t * pi / 2)) for t in range(7)]
        scene.add(colour, _inside(tapered(swell, [3, 11, 11, 3])))


def _boat(scene: Scene) -> None:
    scene.add("paper", pieced(
        [(372, 1160), (404, 1236), (398, 1330)], [(398, 1330), (330, 1336), (276, 1326)],
        [(276, 1326), (336, 1250), (372, 1160)],
    ))  # fmt: skip
    scene.add("yellow", pieced(
        [(418, 1190), (462, 1256), (474, 1328)], [(474, 1328), (444, 1334), (418, 1330)],
        [(418, 1330), (420, 1260), (418, 1190)],
    ))  # fmt: skip
    scene.add("brown", stroke([(408, 1130), (408, 1352)], 8, cap="round"))
    scene.add("red", pieced(
        [(262, 1346), (380, 1354), (510, 1340)], [(510, 1340), (480, 1384), (440, 1402)],
        [(440, 1402), (370, 1406), (306, 1400)], [(306, 1400), (280, 1380), (262, 1346)],
    ))  # fmt: skip
    scene.add("red", Polygon([(408, 1132), (446, 1144), (408, 1158)]))


def _headland(scene: Scene) -> None:
    rock = pieced(
        [(560, 1560), (600, 1500), (668, 1474), (706, 1432), (790, 1404), (960, 1388)],
        [(960, 1388), (1180, 1392), (1340, 1376), (1500, 1392)],
        [(1500, 1392), (1500, 1660)],
        [(1500, 1660), (1330, 1676), (1180, 1640), (1010, 1668), (850, 1622), (700, 1626)],
        [(700, 1626), (620, 1610), (560, 1560)],
    )
    scene.add("brown", _inside(rock))
    ledges: list[tuple[str, list[Point], float]] = [
        ("yellow", [(812, 1418), (960, 1404), (1180, 1408), (1320, 1394), (1470, 1406)], 15),
        ("navy", [(700, 1490), (790, 1476), (860, 1488)], 12),
        ("navy", [(940, 1520), (1060, 1500), (1200, 1516)], 14),
        ("navy", [(1230, 1574), (1330, 1560), (1450, 1578)], 14),
        ("navy", [(760, 1566), (860, 1552), (950, 1570)], 12),
        ("paper", [(600, 1600), (720, 1640), (860, 1638), (1010, 1684), (1180, 1656)], 13),
        ("paper", [(1230, 1674), (1340, 1692), (1472, 1676)], 12),
    ]
    for colour, points, width in ledges:
        scene.add(colour, _inside(tapered(points, [3, width, width, 3])))
    for x, y, a, b in ((606, 1640, 46, 24), (540, 1616, 30, 17)):
        scene.add("brown", ellipse((x, y), a, b, 8))


def _cottage(scene: Scene) -> None:
    scene.add("paper", shapely.box(1150, 1276, 1372, 1392))
    scene.add("red", Polygon([(1126, 1284), (1186, 1190), (1340, 1190), (1396, 1284)]))
    scene.add("navy", shapely.box(1300, 1146, 1330, 1200))
    for x in (1178.0, 1300.0):
        scene.add("navy", shapely.box(x, 1312, x + 44, 1352))
        scene.add("yellow", shapely.box(x + 6, 1318, x + 19, 1346))
        scene.add("yellow", shapely.box(x + 25, 1318, x + 38, 1346))
    scene.add("brown", shapely.box(1244, 1316, 1280, 1392))


def _tower(scene: Scene) -> None:
    sides = [_half_width(FOOT_Y + (TOP_Y - FOOT_Y) * k / 12) for k in range(13)]
    heights = [FOOT_Y + (TOP_Y - FOOT_Y) * k / 12 for k in range(13)]
    right = [(TOWER_X + w, y) for w, y in zip(sides, heights, strict=True)]
    left = [(TOWER_X - w, y) for w, y in zip(sides, heights, strict=True)]
    tower = Polygon(spline(right) + spline(left[::-1]))
    scene.add("paper", tower)
    for y in (1330.0, 1130.0, 930.0, 760.0):
        top, bottom = _bow(y - 52), _bow(y + 48)
        scene.add("red", shapely.intersection(Polygon(top + bottom[::-1]), tower))
    for y, size in ((1232.0, 20.0), (1030.0, 18.0), (846.0, 16.0)):
        _arched(scene, (TOWER_X - 12, y), size)
    _arched(scene, (TOWER_X, FOOT_Y - 70), 34.0, 1.65)
    scene.add("brown", shapely.box(TOWER_X - 160, FOOT_Y - 14, TOWER_X + 160, FOOT_Y + 12))


def _half_width(y: float) -> float:
    rise = (FOOT_Y - y) / (FOOT_Y - TOP_Y)
    return 84 + 58 * (1 - rise) ** 1.6


def _bow(y: float) -> list[Point]:
    return spline([(TOWER_X - 200, y - 14), (TOWER_X, y + 12), (TOWER_X + 200, y - 14)])


def _arched(scene: Scene, middle: Point, half: float, tall: float = 1.6) -> None:
    x, y = middle
    crown = arc_points((x, y - half * 0.4), half, 180, 360)
    scene.add("navy", Polygon([*crown, (x + half, y + half * tall), (x - half, y + half * tall)]))


def _lantern(scene: Scene) -> None:
    x = TOWER_X
    scene.add("navy", Polygon([(x - 84, 700), (x + 84, 700), (x + 122, 664), (x - 122, 664)]))
    scene.add("navy", shapely.box(x - 134, 646, x + 134, 666))
    scene.add("yellow", shapely.box(x - 66, 476, x + 66, 648))
    for offset in (-66, -22, 22, 66):
        scene.add("navy", shapely.box(x + offset - 5, 470, x + offset + 5, 648))
    scene.add("navy", shapely.box(x - 70, 556, x + 70, 564))
    scene.add("paper", disc((x, 560), 30))
    scene.add("navy", stroke([(x - 128, 600), (x + 128, 600)], 7, cap="round"))
    for offset in (-126, -96, 96, 126):
        scene.add("navy", shapely.box(x + offset - 3, 600, x + offset + 3, 648))
    dome = arc_points((x, 478), 88, 180, 360)
    scene.add("red", Polygon(dome))
    scene.add("navy", shapely.box(x - 100, 468, x + 100, 488))
    scene.add("navy", disc((x, 384), 17))
    scene.add("navy", stroke([(x, 380), (x, 318)], 7, cap="round"))
    scene.add("red", smooth([(x, 330), (x + 34, 322), (x + 66, 336), (x + 34, 350), (x, 346)]))
