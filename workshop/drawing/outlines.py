"""The side view of every bead shape: its outline in mm, cord along x, middle of the bead at 0, 0.

Each outline is what is left after boring: it is exactly as long as the bead is on the cord and
exactly as high as the bead is across it.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from math import asin, ceil, cos, pi, sin, sqrt, tan

from workshop.drawing.svg import num

Sizes = Mapping[str, float]


@dataclass(frozen=True)
class Outline:
    """`path` of the glass seen from the side, `length` along the cord and `height` across, mm."""

    path: str
    length: float
    height: float
    eye: tuple[float, float] | None = None


def _points(points: list[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{num(x)} {num(y)}" for x, y in points) + "Z"


def _box(length: float, height: float, corner: float) -> str:
    x, y, r = length / 2, height / 2, min(corner, length / 2, height / 2)
    return (
        f"M{num(-x + r)} {num(-y)}H{num(x - r)}Q{num(x)} {num(-y)} {num(x)} {num(-y + r)}"
        f"V{num(y - r)}Q{num(x)} {num(y)} {num(x - r)} {num(y)}H{num(-x + r)}"
        f"Q{num(-x)} {num(y)} {num(-x)} {num(y - r)}V{num(-y + r)}"
        f"Q{num(-x)} {num(-y)} {num(-x + r)} {num(-y)}Z"
    )


def _arc(cx: float, rx: float, ry: float, start: float, end: float) -> str:
    """Part of an ellipse about cx, 0 as cubic curves, at most a quarter each; angles in radians.

    Curves rather than SVG's own arcs, for printers of PDF measure an arc's size wrongly. A quarter
    of a circle drawn so is off by less than 0.03 % of the radius, and its outermost point is exact.
    """
    pieces, turn = [], end - start
    step = turn / max(1, ceil(abs(turn) / (pi / 2) - 1e-9))
    pull = 4 / 3 * tan(step / 4)
    angle = start
    while abs(end - angle) > 1e-9:
        after = angle + step
        c0, s0, c1, s1 = cos(angle), sin(angle), cos(after), sin(after)
        numbers = (
            cx + rx * (c0 - pull * s0),
            ry * (s0 + pull * c0),
            cx + rx * (c1 + pull * s1),
            ry * (s1 - pull * c1),
            cx + rx * c1,
            ry * s1,
        )
        pieces.append("C" + " ".join(num(number) for number in numbers))
        angle = after
    return "".join(pieces)


def _bulge(length: float, end: float, rx: float, ry: float) -> str:
    """Two arcs of an ellipse between flat ends, each in two halves that meet at the top."""
    x, y = num(length / 2), num(end / 2)
    side = asin(min(1.0, end / 2 / ry))
    top = _arc(0, rx, ry, -pi + side, -pi / 2) + _arc(0, rx, ry, -pi / 2, -side)
    foot = _arc(0, rx, ry, side, pi / 2) + _arc(0, rx, ry, pi / 2, pi - side)
    return f"M-{x} -{y}{top}V{y}{foot}Z"


def _round(s: Sizes) -> Outline:
    d, bore = s["diameter_mm"], s["bore_mm"]
    length = sqrt(d * d - bore * bore)
    return Outline(_bulge(length, bore, d / 2, d / 2), length, d)


def _ellipsoid(s: Sizes) -> Outline:
    d, bore = s["diameter_mm"], s["bore_mm"]
    length = s["length_mm"] * sqrt(1 - (bore / d) ** 2)
    return Outline(_bulge(length, bore, s["length_mm"] / 2, d / 2), length, d)


def _oblate(s: Sizes) -> Outline:
    d, length = s["diameter_mm"], s["length_mm"]
    end = sqrt(max(d * d - length * length, s["bore_mm"] ** 2))
    return Outline(_bulge(length, end, d / 2, d / 2), length, d)


def _straight(s: Sizes) -> Outline:
    length, d = s["length_mm"], s["diameter_mm"]
    return Outline(_box(length, d, min(length, d) * 0.12), length, d)


def _coin(s: Sizes) -> Outline:
    r = s["diameter_mm"] / 2
    path = f"M{num(-r)} 0{_arc(0, r, r, pi, 3 * pi)}Z"
    return Outline(path, s["diameter_mm"], s["diameter_mm"])


def _barrel(s: Sizes) -> Outline:
    x, end = s["length_mm"] / 2, s["end_diameter_mm"] / 2
    # A quadratic curve is a parabola, which is what a barrel's staves follow.
    top = s["diameter_mm"] - end
    path = (
        f"M{num(-x)} {num(-end)}Q0 {num(-top)} {num(x)} {num(-end)}"
        f"V{num(end)}Q0 {num(top)} {num(-x)} {num(end)}Z"
    )
    return Outline(path, s["length_mm"], s["diameter_mm"])


def _cones(length: float, across: float, end: float) -> Outline:
    x, y, e = length / 2, across / 2, end / 2
    return Outline(_points([(-x, -e), (0, -y), (x, -e), (x, e), (0, y), (-x, e)]), length, across)


def _bicone(s: Sizes) -> Outline:
    return _cones(s["length_mm"], s["diameter_mm"], s["end_diameter_mm"])


def _sharp_bicone(s: Sizes) -> Outline:
    left = s["length_mm"] * (1 - s["bore_mm"] / s["diameter_mm"])
    return _cones(left, s["diameter_mm"], s["bore_mm"])


def _ring(s: Sizes) -> Outline:
    thick = (s["diameter_mm"] - s["bore_mm"]) / 2
    return Outline(_box(thick, s["diameter_mm"], thick / 2), thick, s["diameter_mm"])


def _cube(s: Sizes) -> Outline:
    edge = s["length_mm"]
    return Outline(_box(edge, edge, edge * 0.08), edge, edge)


def _star(s: Sizes) -> Outline:
    count = int(s["points"])
    radii = (s["diameter_mm"] / 2, s["inner_diameter_mm"] / 2)
    # The first tip lies along the bore.
    corners = [
        (radii[i % 2] * cos(i * pi / count), radii[i % 2] * sin(i * pi / count))
        for i in range(2 * count)
    ]
    left, right = min(x for x, _ in corners), max(x for x, _ in corners)
    middle = (left + right) / 2
    height = 2 * max(y for _, y in corners)
    return Outline(_points([(x - middle, y) for x, y in corners]), right - left, height)


def _cross(s: Sizes) -> Outline:
    x, y, a = s["length_mm"] / 2, s["width_mm"] / 2, s["arm_mm"] / 2
    quarter = [(-x, -a), (-a, -a), (-a, -y), (a, -y), (a, -a), (x, -a)]
    return Outline(
        _points([*quarter, *[(-px, -py) for px, py in quarter]]), s["length_mm"], s["width_mm"]
    )


def _fish(s: Sizes) -> Outline:
    body, high = s["body_length_mm"], s["body_height_mm"] / 2
    tail, wide = s["tail_length_mm"], s["tail_height_mm"] / 2
    left, right = -(body + tail) / 2, (body + tail) / 2
    meet = left + body
    middle = left + body / 2
    path = (
        f"M{num(left)} 0{_arc(middle, body / 2, high, pi, 2 * pi)}"
        f"L{num(right)} {num(-wide)}V{num(wide)}L{num(meet)} 0"
        f"{_arc(middle, body / 2, high, 0, pi)}Z"
    )
    eye = (left + body * 0.2, -high * 0.3)
    return Outline(path, body + tail, 2 * max(high, wide), eye)


OUTLINES: dict[str, Callable[[Sizes], Outline]] = {
    "round": _round,
    "tube": _straight,
    "disc": _straight,
    "spacer": _straight,
    "coin": _coin,
    "barrel": _barrel,
    "bicone": _bicone,
    "sharp_bicone": _sharp_bicone,
    "ellipsoid": _ellipsoid,
    "oblate": _oblate,
    "ring": _ring,
    "cube": _cube,
    "star": _star,
    "cross": _cross,
    "fish": _fish,
}


def outline(kind: str, sizes: Sizes) -> Outline:
    """The side view of a shape; ValueError for a shape nobody drew."""
    draw = OUTLINES.get(kind)
    if draw is None:
        raise ValueError(f"There is no drawing of a bead shaped “{kind}”.")
    return draw(sizes)
