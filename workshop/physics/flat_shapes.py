"""Beads cut as slabs and pierced edgeways: coin, cube, star, cross, fish.

Each is an outline of even thickness with a straight bore running in its plane, half-way up the
thickness. The bore takes out pi d²/4 times its mean chord: the length of glass it runs through,
averaged over the round of the bore. That is exact, also where the bore leaves by a point or a
curved rim. So each bore must be narrower than the slab is thick.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import asin, cos, pi, sin, sqrt
from typing import ClassVar

from workshop.physics.shape_base import BeadShape, at_most, bore_narrower_than

Point = tuple[float, float]


def bore_through_ellipse_mm3(length_mm: float, width_mm: float, bore_mm: float) -> float:
    """Volume a bore takes out of an elliptical slab, run along one axis of the ellipse.

    length_mm  the axis along the bore [mm]
    width_mm   the axis across it [mm], at least the bore
    bore_mm    [mm]; the slab is at least as thick

    Returns mm³. Exact. For a coin both axes are its diameter.

    >>> round(bore_through_ellipse_mm3(20, 20, 2), 4)
    62.7532

    Source: two crossing cylinders, 8R/3 ((R² + r²) E - (R² - r²) K) with E, K the complete
    elliptic integrals of modulus r/R, here by the arithmetic-geometric mean (re-derived; agrees
    with the series 1 - x/8 - x²/64 - ... and with quadrature).
    """
    if bore_mm == 0:
        return 0.0
    share = bore_mm / width_mm
    if share == 1:  # E is 1 there, and K without end counts for nothing
        return 2 / 3 * width_mm**2 * length_mm
    mean, other, power, lost = 1.0, sqrt((1 - share) * (1 + share)), 0.5, share**2 / 2
    while abs(mean - other) > 1e-15 * mean and power < 1e9:
        mean, other, gap = (mean + other) / 2, sqrt(mean * other), (mean - other) / 2
        power *= 2
        lost += power * gap**2
    first = pi / (2 * mean)  # K; and E = K (1 - lost)
    if share < 0.02:  # the bracket is a small difference here, its series is not
        square = share**2
        bracket = 3 * pi / 4 * square * (1 - square / 8 - square**2 / 64)
    else:
        bracket = first * ((1 + share**2) * (1 - lost) - (1 - share**2))
    return width_mm**2 * length_mm * bracket / 3


def bore_through_polygon_mm3(corners: Sequence[Point], bore_mm: float) -> float:
    """Volume a bore along the y axis takes out of a slab whose outline is a polygon.

    corners  (x, y) in mm, in order around the outline
    bore_mm  centred on x = 0 [mm]; the slab is at least as thick

    Returns mm³. Exact: each straight side is integrated in closed form.

    >>> square = [(-5, -5), (5, -5), (5, 5), (-5, 5)]
    >>> round(bore_through_polygon_mm3(square, 2), 6) == round(pi * 10, 6)
    True

    Source: Green's theorem with the bore's chord 2 sqrt(r² - x²) as weight (re-derived).
    """
    radius = bore_mm / 2
    if radius == 0:
        return 0.0
    total = 0.0
    for (x0, y0), (x1, y1) in zip(corners, [*corners[1:], corners[0]], strict=True):
        low, high = max(-radius, min(radius, x0)), max(-radius, min(radius, x1))
        if low == high:
            continue
        slope = (y1 - y0) / (x1 - x0)
        rise = y0 - slope * x0
        total += _under_side(high, rise, slope, radius) - _under_side(low, rise, slope, radius)
    return abs(total)


def _under_side(x: float, rise: float, slope: float, radius: float) -> float:
    half = sqrt(max(0.0, (radius - x) * (radius + x)))
    return rise * (x * half + radius**2 * asin(x / radius)) - 2 / 3 * slope * half**3


class _Slab(BeadShape):
    """Shared by the flat shapes: the kiln sees a plate, unless the slab is as thick as wide."""

    __slots__ = ()
    thickness_mm: float
    bore_mm: float


@dataclass(frozen=True, slots=True)
class Coin(_Slab):
    """A disc pierced along a diameter, so it lies flat along the cord.

    diameter_mm   of the disc [mm]; also its length on the cord, for the rim beside the bore stays
    thickness_mm  [mm], more than the bore
    bore_mm       [mm]

    Raises ShapeError if the bore breaks through a face. Holds for flat faces and a square rim.

    >>> round(Coin(diameter_mm=20, thickness_mm=5, bore_mm=2).volume_mm3(), 3)
    1508.043

    Source: cylinder less `bore_through_ellipse_mm3`.
    """

    diameter_mm: float
    thickness_mm: float
    bore_mm: float
    kind: ClassVar[str] = "coin"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm", "thickness_mm")

    def length_on_cord_mm(self) -> float:
        return self.diameter_mm

    def across_mm(self) -> float:
        return max(self.diameter_mm, self.thickness_mm)

    def volume_mm3(self) -> float:
        disc = pi / 4 * self.diameter_mm**2 * self.thickness_mm
        return disc - bore_through_ellipse_mm3(self.diameter_mm, self.diameter_mm, self.bore_mm)

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        return (("plate", self.thickness_mm), ("cylinder", self.diameter_mm))


@dataclass(frozen=True, slots=True)
class Cube(BeadShape):
    """A cube bored from face to face.

    length_mm  its edge [mm]
    bore_mm    [mm], narrower than the edge

    Raises ShapeError if the bore leaves no glass. Rounded corners weigh less.

    >>> round(Cube(length_mm=8, bore_mm=2).volume_mm3(), 3)
    486.867

    Source: a³ - pi d² a/4 (solid geometry).
    """

    length_mm: float
    bore_mm: float
    kind: ClassVar[str] = "cube"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "length_mm")

    def length_on_cord_mm(self) -> float:
        return self.length_mm

    def across_mm(self) -> float:
        return self.length_mm

    def volume_mm3(self) -> float:
        return self.length_mm * (self.length_mm**2 - pi / 4 * self.bore_mm**2)

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        corner_to_corner_mm = self.length_mm * sqrt(2)
        return (("plate", self.length_mm), ("cylinder", corner_to_corner_mm))


@dataclass(frozen=True, slots=True)
class Star(_Slab):
    """A flat star, pierced in its plane through its height: from one tip straight down.

    diameter_mm        of the circle through the tips [mm]
    inner_diameter_mm  of the circle through the notches between them [mm]
    points             how many tips, 3 to 60
    thickness_mm       [mm], more than the bore
    bore_mm            [mm], narrower than the inner circle

    An even star is pierced tip to tip, an odd one tip to notch. Raises ShapeError if the bore
    breaks out or the notches lie no deeper than the tips.

    >>> star = Star(diameter_mm=20, inner_diameter_mm=8, points=5, thickness_mm=4, bore_mm=0)
    >>> round(star.volume_mm3(), 3), round(star.length_on_cord_mm(), 3)
    (470.228, 18.09)

    Source: area n R r sin(pi/n) (2n triangles from the centre), less `bore_through_polygon_mm3`.
    """

    diameter_mm: float
    inner_diameter_mm: float
    points: int
    thickness_mm: float
    bore_mm: float
    kind: ClassVar[str] = "star"

    def _check_glass_is_left(self) -> None:
        at_most(self, "inner_diameter_mm", "diameter_mm", strictly=True)
        bore_narrower_than(self, "inner_diameter_mm", "thickness_mm")

    def corners_mm(self) -> list[Point]:
        """Its outline about the centre, first tip straight up along the bore: (x, y) in mm."""
        step = pi / self.points
        outer, inner = self.diameter_mm / 2, self.inner_diameter_mm / 2
        radii = (outer, inner)
        return [
            (radii[i % 2] * sin(i * step), radii[i % 2] * cos(i * step))
            for i in range(2 * self.points)
        ]

    def length_on_cord_mm(self) -> float:
        heights = [y for _, y in self.corners_mm()]
        return max(heights) - min(heights)

    def across_mm(self) -> float:
        return max(2 * max(x for x, _ in self.corners_mm()), self.thickness_mm)

    def volume_mm3(self) -> float:
        radii = self.diameter_mm * self.inner_diameter_mm / 4
        area = self.points * radii * sin(pi / self.points)
        return area * self.thickness_mm - bore_through_polygon_mm3(self.corners_mm(), self.bore_mm)

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        return (("plate", self.thickness_mm), ("cylinder", self.diameter_mm))


@dataclass(frozen=True, slots=True)
class Cross(_Slab):
    """A flat cross of two crossing bars, pierced along its height.

    width_mm      across [mm]
    length_mm     its height, along the bore [mm]
    arm_mm        how wide each bar is [mm], less than width and height
    thickness_mm  [mm], more than the bore
    bore_mm       [mm], narrower than the bar

    Raises ShapeError if the bore breaks out or the bars are no bars.

    >>> cross = Cross(width_mm=14, length_mm=20, arm_mm=5, thickness_mm=4, bore_mm=2)
    >>> round(cross.volume_mm3(), 3) == round(580 - pi * 20, 3)
    True

    Source: w (W + H - w) t less the bore pi d² H/4 (solid geometry).
    """

    width_mm: float
    length_mm: float
    arm_mm: float
    thickness_mm: float
    bore_mm: float
    kind: ClassVar[str] = "cross"

    def _check_glass_is_left(self) -> None:
        at_most(self, "arm_mm", "width_mm", strictly=True)
        at_most(self, "arm_mm", "length_mm", strictly=True)
        bore_narrower_than(self, "arm_mm", "thickness_mm")

    def length_on_cord_mm(self) -> float:
        return self.length_mm

    def across_mm(self) -> float:
        return max(self.width_mm, self.thickness_mm)

    def volume_mm3(self) -> float:
        area = self.arm_mm * (self.width_mm + self.length_mm - self.arm_mm)
        return area * self.thickness_mm - pi / 4 * self.bore_mm**2 * self.length_mm

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        return (("plate", self.thickness_mm),)


@dataclass(frozen=True, slots=True)
class Fish(_Slab):
    """A flat fish: an ellipse for the body, a triangle for the tail, pierced nose to tail.

    body_length_mm, body_height_mm  the ellipse along and across the bore [mm]
    tail_length_mm, tail_height_mm  the triangle along and across the bore [mm], its tip at the body
    thickness_mm                    [mm], more than the bore
    bore_mm                         [mm], narrower than body and tail are high

    Raises ShapeError if the bore breaks out. Body and tail meet in a point: the fillet that
    joins them in a real mould is left out of the volume.

    >>> fish = Fish(body_length_mm=18, body_height_mm=9, tail_length_mm=6, tail_height_mm=8,
    ...             thickness_mm=4, bore_mm=0)
    >>> round(fish.volume_mm3(), 3), fish.length_on_cord_mm()
    (604.938, 24.0)

    Source: ellipse and triangle (solid geometry) less the bore through each.
    """

    body_length_mm: float
    body_height_mm: float
    tail_length_mm: float
    tail_height_mm: float
    thickness_mm: float
    bore_mm: float
    kind: ClassVar[str] = "fish"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "body_height_mm", "tail_height_mm", "thickness_mm")

    def length_on_cord_mm(self) -> float:
        return self.body_length_mm + self.tail_length_mm

    def across_mm(self) -> float:
        return max(self.body_height_mm, self.tail_height_mm, self.thickness_mm)

    def volume_mm3(self) -> float:
        body = pi / 4 * self.body_length_mm * self.body_height_mm
        tail = self.tail_length_mm * self.tail_height_mm / 2
        return (body + tail) * self.thickness_mm - self._bore_mm3()

    def _bore_mm3(self) -> float:
        half, back = self.tail_height_mm / 2, self.tail_length_mm
        tail = ((0.0, 0.0), (half, -back), (-half, -back))
        body = bore_through_ellipse_mm3(self.body_length_mm, self.body_height_mm, self.bore_mm)
        return body + bore_through_polygon_mm3(tail, self.bore_mm)

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        return (("plate", self.thickness_mm),)
