"""The path data of SVG (SVG 1.1, section 8.3) and its transforms (section 7.6), into a pen."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

import numpy as np

from img2pour.compose.pen import Pen
from img2pour.plane.regionmap import FloatArray

Point = tuple[float, float]

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
_SPACE = re.compile(r"[\s,]*")
_TRANSFORM = re.compile(r"\s*,?\s*(matrix|translate|scale|rotate|skewX|skewY)\s*\(([^)]*)\)")
_COUNTS = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2, "A": 7, "Z": 0}

STEEPEST_PIECE = math.pi / 8
"""Ellipses are drawn as cubic curves of at most this angle: within 7e-8 of their size."""

SAME_SCALE = 1e-9


class PathError(ValueError):
    """Path data that cannot be read; what came before it counts."""


class PlacedPen:
    """A pen behind an affine map; circles stay arcs where the map is a similarity."""

    def __init__(self, pen: Pen, matrix: FloatArray) -> None:
        self.pen = pen
        self.rows: list[list[float]] = matrix[:2].tolist()
        (a, c, _), (b, d, _) = self.rows
        size = max(abs(a), abs(b), abs(c), abs(d), 1e-300)
        self.keeps = abs(a - d) + abs(b + c) < SAME_SCALE * size
        self.mirrors = abs(a + d) + abs(b - c) < SAME_SCALE * size
        self.at: Point = (0.0, 0.0)
        self.begin: Point = (0.0, 0.0)

    def _placed(self, point: Point) -> Point:
        x, y = point
        (a, c, e), (b, d, f) = self.rows
        made = (a * x + c * y + e, b * x + d * y + f)
        if not (math.isfinite(made[0]) and math.isfinite(made[1])):
            raise PathError("a coordinate is not a finite number")
        return made

    def move(self, point: Point) -> None:
        """Begin a new outline."""
        self.pen.move(self._placed(point))
        self.at = self.begin = point

    def line(self, point: Point) -> None:
        """Draw a line."""
        self.pen.line(self._placed(point))
        self.at = point

    def cubic(self, first: Point, second: Point, point: Point) -> None:
        """Draw a cubic curve."""
        self.pen.cubic(self._placed(first), self._placed(second), self._placed(point))
        self.at = point

    def quadratic(self, control: Point, point: Point) -> None:
        """Draw a quadratic curve."""
        self.pen.quadratic(self._placed(control), self._placed(point))
        self.at = point

    def close(self) -> None:
        """Close the outline."""
        self.pen.close()
        self.at = self.begin

    def ellipse(
        self, radii: Point, turn_deg: float, flags: tuple[bool, bool], point: Point
    ) -> None:
        """Draw an elliptical arc as SVG gives it (its appendix F.6.5)."""
        arc = _centred(self.at, radii, turn_deg, flags, point)
        if arc is None:
            self.line(point)
            return
        centre, (rx, ry), turn, first, sweep = arc
        round_ = abs(rx - ry) <= SAME_SCALE * rx and (self.keeps or self.mirrors)
        parts = math.ceil(abs(sweep) / (math.pi if round_ else STEEPEST_PIECE) - 1e-9)
        step = sweep / max(parts, 1)
        for k in range(1, parts + 1):
            angle = first + k * step
            end = point if k == parts else _on(centre, (rx, ry), turn, angle)
            if round_:
                bulge = max(-1.0, min(1.0, math.tan(step / 4))) * (-1 if self.mirrors else 1)
                self.pen.arc(self._placed(end), bulge)
                self.at = end
            else:
                self._ellipse_piece(centre, (rx, ry), turn, (angle - step, angle), end)

    def _ellipse_piece(
        self, centre: Point, radii: Point, turn: float, angles: tuple[float, float], end: Point
    ) -> None:
        reach = 4 / 3 * math.tan((angles[1] - angles[0]) / 4)
        controls = []
        for angle, sign in ((angles[0], 1.0), (angles[1], -1.0)):
            x, y = math.cos(angle), math.sin(angle)
            u, v = radii[0] * (x - sign * reach * y), radii[1] * (y + sign * reach * x)
            controls.append(_turned(centre, u, v, turn))
        self.cubic(controls[0], controls[1], end)


def _turned(centre: Point, u: float, v: float, turn: float) -> Point:
    cosine, sine = math.cos(turn), math.sin(turn)
    return centre[0] + cosine * u - sine * v, centre[1] + sine * u + cosine * v


def _on(centre: Point, radii: Point, turn: float, angle: float) -> Point:
    return _turned(centre, radii[0] * math.cos(angle), radii[1] * math.sin(angle), turn)


def _centred(
    start: Point, radii: Point, turn_deg: float, flags: tuple[bool, bool], end: Point
) -> tuple[Point, Point, float, float, float] | None:
    """Return centre, radii, turn, first angle and sweep of an arc; None where it is a line."""
    rx, ry = abs(radii[0]), abs(radii[1])
    if min(rx, ry) < 1e-12 or start == end:
        return None
    turn = math.radians(turn_deg)
    cosine, sine = math.cos(turn), math.sin(turn)
    dx, dy = (start[0] - end[0]) / 2, (start[1] - end[1]) / 2
    u, v = cosine * dx + sine * dy, -sine * dx + cosine * dy
    grow = math.sqrt((u / rx) ** 2 + (v / ry) ** 2)
    if grow > 1:
        rx, ry = rx * grow, ry * grow
    far = (u / rx) ** 2 + (v / ry) ** 2
    factor = math.sqrt(max(0.0, 1 / far - 1)) * (-1 if flags[0] == flags[1] else 1)
    cu, cv = factor * rx * v / ry, -factor * ry * u / rx
    middle = ((start[0] + end[0]) / 2, (start[1] + end[1]) / 2)
    first = math.atan2((v - cv) / ry, (u - cu) / rx)
    last = math.atan2((-v - cv) / ry, (-u - cu) / rx)
    sweep = (last - first) % (2 * math.pi)
    if not flags[1]:
        sweep -= 2 * math.pi
    return _turned(middle, cu, cv, turn), (rx, ry), turn, first, sweep


def _steps(data: str) -> Iterator[tuple[str, list[float]]]:
    """Yield each command with its numbers; repeated ones are spelt out."""
    at, command = 0, ""
    while True:
        at = _SPACE.match(data, at).end()  # type: ignore[union-attr]
        if at >= len(data):
            return
        if data[at].isalpha():
            command = data[at]
            at += 1
            if command.upper() not in _COUNTS:
                raise PathError(f"{command!r} is no command of a path")
            if command in "Zz":
                yield command, []
                continue
        elif not command or command in "Zz":
            raise PathError("a number stands where a command belongs")
        numbers, at = _numbers(data, at, command)
        yield command, numbers
        command = {"M": "L", "m": "l"}.get(command, command)


def _numbers(data: str, at: int, command: str) -> tuple[list[float], int]:
    numbers = []
    for k in range(_COUNTS[command.upper()]):
        at = _SPACE.match(data, at).end()  # type: ignore[union-attr]
        if command in "Aa" and k in {3, 4} and data[at : at + 1] in {"0", "1"}:
            numbers.append(float(data[at]))
            at += 1
            continue
        match = _NUMBER.match(data, at)
        if match is None:
            raise PathError(f"a number is missing after {command!r}")
        numbers.append(float(match[0]))
        at = match.end()
    return numbers, at


def draw_path(data: str, pen: PlacedPen) -> None:
    """Draw path data.

    Raises
    ------
    PathError
        At the first thing that cannot be read; what came before it is drawn.
    """
    control: Point | None = None
    before = ""
    for command, numbers in _steps(data):
        kind = command.upper()
        if not before and kind != "M":
            raise PathError("it does not begin with a move")
        if kind in "ST" and before not in {"S": "CS", "T": "QT"}[kind]:
            control = None
        points = _points(command, numbers, pen.at)
        control = _draw(kind, numbers, points, pen, control)
        before = kind


def _points(command: str, numbers: list[float], at: Point) -> list[Point]:
    """Return the points among a command's numbers, made absolute."""
    x, y = at if command.islower() else (0.0, 0.0)
    kind = command.upper()
    if kind == "H":
        return [(x + numbers[0], at[1])]
    if kind == "V":
        return [(at[0], y + numbers[0])]
    if kind == "A":
        return [(x + numbers[5], y + numbers[6])]
    return [(x + u, y + v) for u, v in zip(numbers[::2], numbers[1::2], strict=True)]


def _draw(
    kind: str, numbers: list[float], points: list[Point], pen: PlacedPen, control: Point | None
) -> Point | None:
    """Draw one command and return the control point that a smooth one after it mirrors."""
    mirrored = pen.at
    if control is not None:
        mirrored = (2 * pen.at[0] - control[0], 2 * pen.at[1] - control[1])
    if kind == "Z":
        pen.close()
    elif kind == "M":
        pen.move(points[0])
    elif kind in "LHV":
        pen.line(points[0])
    elif kind == "A":
        pen.ellipse(
            (numbers[0], numbers[1]), numbers[2], (bool(numbers[3]), bool(numbers[4])), points[0]
        )
    elif kind in "CS":
        first = points[0] if kind == "C" else mirrored
        pen.cubic(first, points[-2], points[-1])
        return points[-2]
    else:
        middle = points[0] if kind == "Q" else mirrored
        pen.quadratic(middle, points[-1])
        return middle
    return None


def read_transform(text: str) -> FloatArray:
    """Return the 3 x 3 matrix of a transform attribute.

    Raises
    ------
    PathError
    """
    matrix = np.eye(3)
    at = 0
    while text[at:].strip():
        match = _TRANSFORM.match(text, at)
        if match is None:
            raise PathError(f"the transform {text[:40]!r} cannot be read")
        numbers = [float(number) for number in _NUMBER.findall(match[2])]
        matrix = matrix @ _one_transform(match[1], numbers)
        at = match.end()
    return matrix


def _one_transform(kind: str, n: list[float]) -> FloatArray:
    if kind == "matrix" and len(n) == 6:
        return np.array([[n[0], n[2], n[4]], [n[1], n[3], n[5]], [0, 0, 1]])
    if kind == "translate" and len(n) in {1, 2}:
        return np.array([[1, 0, n[0]], [0, 1, n[1] if len(n) == 2 else 0], [0, 0, 1]])
    if kind == "scale" and len(n) in {1, 2}:
        return np.diag([n[0], n[-1], 1.0])
    if kind == "rotate" and len(n) in {1, 3}:
        x, y = n[1:] if len(n) == 3 else (0.0, 0.0)
        cosine, sine = math.cos(math.radians(n[0])), math.sin(math.radians(n[0]))
        about = np.array([[1, 0, x], [0, 1, y], [0, 0, 1.0]])
        turn = np.array([[cosine, -sine, 0], [sine, cosine, 0], [0, 0, 1]])
        made: FloatArray = about @ turn @ np.linalg.inv(about)
        return made
    if kind in {"skewX", "skewY"} and len(n) == 1:
        made = np.eye(3)
        made[(0, 1) if kind == "skewX" else (1, 0)] = math.tan(math.radians(n[0]))
        return made
    raise PathError(f"{kind} has {len(n)} numbers")
