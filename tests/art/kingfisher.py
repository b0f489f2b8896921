"""Flat art: a kingfisher on a branch before a pale disc, in six colours with its name below."""

from math import cos, pi, sin

from tests.art.letters import lettering
from tests.art.scene import Scene
from tests.art.shapes import Point, disc, ellipse, pieced, smooth, stroke, tapered

PALETTE = {
    "sand": "#ecd6a9",
    "cream": "#fbf5e6",
    "blue": "#155a93",
    "turquoise": "#35aebb",
    "orange": "#dc7a2c",
    "umber": "#3a2a26",
}


def kingfisher() -> Scene:
    """Return the scene, 1600 x 1300 px."""
    scene = Scene(1600, 1300, PALETTE)
    scene.add("cream", disc((800, 560), 470))
    _water(scene)
    _reeds(scene)
    _branch(scene)
    _tail(scene)
    _body(scene)
    _wing(scene)
    _head(scene)
    _feet(scene)
    scene.add("umber", lettering("KINGFISHER", (800, 1190), 96, 17, 0.42))
    return scene


def _water(scene: Scene) -> None:
    ripples = [
        ("turquoise", (452, 905), 210, 12), ("blue", (700, 925), 150, 9),
        ("turquoise", (985, 945), 190, 12), ("blue", (560, 955), 170, 10),
        ("turquoise", (770, 985), 160, 10), ("blue", (890, 1005), 120, 8),
    ]  # fmt: skip
    for colour, (x, y), length, weight in ripples:
        waves = [(x + length * (t / 8 - 0.5), y + 6 * sin(t * pi / 2)) for t in range(9)]
        scene.add(colour, tapered(waves, [2, weight, weight, 2]))


def _reeds(scene: Scene) -> None:
    stems: list[tuple[list[Point], list[float]]] = [
        ([(1120, 1010), (1135, 800), (1170, 560), (1190, 420)], [13, 11, 9, 6]),
        ([(1165, 985), (1190, 830), (1240, 680), (1275, 610)], [11, 10, 8, 5]),
    ]
    for points, widths in stems:
        scene.add("turquoise", tapered(points, widths))
    blade: list[Point] = [(1090, 1015), (1075, 900), (1100, 760), (1165, 660)]
    scene.add("turquoise", tapered(blade, [10, 26, 20, 2]))
    blade = [(1190, 975), (1240, 900), (1260, 830), (1330, 775)]
    scene.add("turquoise", tapered(blade, [10, 24, 20, 2]))
    for (x, y), long, turn in (((1197, 345), 88, 98), ((1291, 552), 72, 112)):
        scene.add("umber", ellipse((x, y), long, 21, turn))
        tip = (x - (long + 30) * cos(pi * turn / 180), y - (long + 30) * sin(pi * turn / 180))
        scene.add("umber", stroke([(x, y), tip], 6, cap="round"))


def _branch(scene: Scene) -> None:
    wood: list[Point] = [(215, 800), (420, 822), (640, 806), (860, 826), (1080, 794), (1395, 828)]
    scene.add("umber", tapered(wood, [20, 44, 52, 56, 50, 40, 26]))
    scene.add("umber", tapered([(1085, 800), (1180, 750), (1290, 742)], [34, 22, 10]))
    scene.add("umber", tapered([(430, 824), (350, 770), (300, 700)], [34, 18, 8]))
    streaks: list[list[Point]] = [
        [(300, 806), (420, 814), (540, 808)],
        [(560, 822), (660, 814), (730, 816)],
        [(905, 808), (1010, 796), (1060, 792)],
        [(1110, 812), (1230, 812), (1330, 822)],
    ]
    for streak in streaks:
        scene.add("sand", tapered(streak, [3, 7, 3]))
    scene.add("sand", ellipse((1125, 789), 13, 8, 10))
    for (x, y), turn, size in LEAVES:
        _leaf(scene, (x, y), turn, size)


LEAVES: list[tuple[Point, float, float]] = [
    ((301, 704), 252, 1.0),
    ((352, 772), 192, 0.85),
    ((1288, 741), -28, 1.0),
]


def _leaf(scene: Scene, foot: Point, turn_deg: float, size: float) -> None:
    def at(x: float, y: float) -> Point:
        c, s = cos(pi * turn_deg / 180), sin(pi * turn_deg / 180)
        return foot[0] + size * (c * x - s * y), foot[1] + size * (s * x + c * y)

    upper = [at(-8, 0), at(40, -34), at(95, -32), at(150, 4)]
    lower = [at(150, 4), at(95, 28), at(40, 26), at(-8, 0)]
    scene.add("turquoise", pieced(upper, lower))
    scene.add("cream", tapered([at(10, 0), at(60, -4), at(118, 1)], [5, 6, 3]))


def _tail(scene: Scene) -> None:
    scene.add("blue", pieced(
        [(905, 770), (945, 880), (985, 985)],
        [(985, 985), (1020, 1000), (1052, 980)],
        [(1052, 980), (1040, 870), (1010, 730)],
    ))  # fmt: skip
    scene.add("turquoise", tapered([(985, 868), (1003, 920), (1022, 966)], [4, 11, 5]))


def _body(scene: Scene) -> None:
    scene.add("orange", smooth([
        (640, 470), (606, 540), (612, 630), (650, 715), (722, 782), (815, 812), (905, 806),
        (960, 760), (950, 640), (900, 520), (830, 440), (740, 420),
    ]))  # fmt: skip
    scene.add("blue", pieced(
        [(765, 455), (742, 520), (762, 600), (822, 690), (905, 770), (990, 832)],
        [(990, 832), (1020, 770), (1012, 680), (975, 570), (918, 460), (858, 370)],
        [(858, 370), (800, 400), (765, 455)],
    ))  # fmt: skip
    scene.add("turquoise", pieced(
        [(862, 385), (915, 475), (965, 580), (996, 690), (1002, 790)],
        [(1002, 790), (968, 745), (940, 650), (900, 545), (845, 440)],
        [(845, 440), (846, 405), (862, 385)],
    ))  # fmt: skip


def _wing(scene: Scene) -> None:
    scene.add("blue", pieced(
        [(742, 500), (724, 560), (742, 640), (800, 725), (885, 805), (985, 862)],
        [(985, 862), (968, 780), (940, 680), (895, 580), (840, 500), (790, 470), (742, 500)],
    ))  # fmt: skip
    feathers: list[list[Point]] = [
        [(790, 660), (850, 735), (940, 815)],
        [(818, 650), (876, 725), (944, 790)],
        [(846, 640), (894, 705), (936, 755)],
    ]
    for feather in feathers:
        scene.add("turquoise", tapered(feather, [4, 9, 4]))
    rows = [
        [(762, 512), (792, 506), (822, 520)],
        [(752, 542), (783, 537), (814, 546), (842, 562)],
        [(753, 575), (784, 570), (816, 578), (846, 592), (868, 612)],
        [(768, 608), (800, 604), (832, 612), (860, 628)],
    ]
    for row in rows:
        for x, y in row:
            scene.add("turquoise", ellipse((x, y), 10, 6.5, 62))


def _head(scene: Scene) -> None:
    scene.add("blue", pieced(
        [(604, 398), (618, 330), (668, 276), (742, 256), (818, 280), (868, 345), (884, 420)],
        [(884, 420), (835, 432), (760, 428), (690, 430), (604, 398)],
    ))  # fmt: skip
    scene.add("orange", pieced(
        [(690, 402), (748, 386), (806, 404), (836, 440)],
        [(836, 440), (790, 470), (730, 466), (680, 438), (690, 402)],
    ))  # fmt: skip
    scene.add("cream", pieced(
        [(808, 412), (852, 416), (893, 448)], [(893, 448), (862, 474), (820, 476), (790, 462)],
        [(790, 462), (812, 440), (808, 412)],
    ))  # fmt: skip
    scene.add("cream", pieced(
        [(600, 424), (660, 436), (730, 464), (776, 484)],
        [(776, 484), (720, 512), (660, 506), (618, 476), (600, 424)],
    ))  # fmt: skip
    scene.add("orange", ellipse((634, 378), 22, 9, 160))
    scene.add("umber", tapered([(618, 405), (660, 402), (708, 398)], [26, 18, 5]))
    scene.add("umber", disc((678, 372), 27))
    scene.add("cream", disc((669, 363), 8))
    for x, y in _speckles():
        scene.add("turquoise", ellipse((x, y), 8, 5, 20))
    _beak(scene)


def _speckles() -> list[Point]:
    rows = [((738, 300), 122, 24, 6), ((742, 322), 96, 22, 5), ((775, 346), 72, 14, 4)]
    points = []
    for (x, y), reach, rise, count in rows:
        for k in range(count):
            u = 2 * k / (count - 1) - 1
            points.append((x + u * reach * 0.8, y - rise * (1 - u * u) + 18 * u * u))
    return points


def _beak(scene: Scene) -> None:
    scene.add("umber", pieced(
        [(622, 378), (560, 372), (450, 394), (318, 446)],
        [(318, 446), (345, 443), (450, 428), (560, 416), (624, 414)],
        [(624, 414), (628, 396), (622, 378)],
    ))  # fmt: skip
    scene.add("orange", pieced(
        [(624, 414), (560, 416), (450, 428), (345, 443)],
        [(345, 443), (460, 444), (560, 436), (618, 432)], [(618, 432), (624, 424), (624, 414)],
    ))  # fmt: skip


def _feet(scene: Scene) -> None:
    for x in (762, 842):
        for k, reach in enumerate((-30, 0, 28)):
            toe: list[Point] = [(x, 792), (x + reach * 0.7, 806), (x + reach, 834 - 4 * (k % 2))]
            scene.add("orange", tapered(toe, [15, 15, 9]))
        scene.add("orange", tapered([(x, 788), (x, 800)], [20, 22]))
