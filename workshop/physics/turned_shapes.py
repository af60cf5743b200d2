"""Beads that are bodies of revolution about their bore: round, tube, barrel and their kin."""

from dataclasses import dataclass
from math import pi, sqrt
from typing import ClassVar

from workshop.physics.sentences import gettext_noop, plain
from workshop.physics.shape_base import BeadShape, ShapeError, at_most, bore_narrower_than

OBLATE_TOO_LONG = gettext_noop(
    "A bead %(diameter)s mm across with a %(bore)s mm bore has flat ends only up to"
    " %(most)s mm long, and the length is %(found)s mm. Make it no more than %(most)s mm,"
    " or choose a round bead."
)


class _Turned(BeadShape):
    """Shared by bodies of revolution: widest at the middle, bored along the axis."""

    __slots__ = ()
    diameter_mm: float
    bore_mm: float

    def across_mm(self) -> float:
        return self.diameter_mm

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        length_mm = self.length_on_cord_mm()
        return (
            ("cylinder", self.diameter_mm),
            ("plate", length_mm),
            # A wall that loses heat only outward is at most half a plate twice as thick.
            ("plate", self.diameter_mm - self.bore_mm),
        )


@dataclass(frozen=True, slots=True)
class Round(_Turned):
    """A sphere bored through its middle.

    diameter_mm  of the sphere [mm]
    bore_mm      of the straight hole [mm], narrower than the sphere

    Raises ShapeError if the bore leaves no glass. Exact for a true sphere.

    >>> bead = Round(diameter_mm=10, bore_mm=2)
    >>> round(bead.volume_mm3(), 6), round(bead.length_on_cord_mm(), 3)
    (492.499135, 9.798)

    Source: the napkin-ring result, volume pi h³/6 with h the length left (CRC Standard
    Mathematical Tables, from memory; checked by quadrature).
    """

    diameter_mm: float
    bore_mm: float
    kind: ClassVar[str] = "round"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm")

    def length_on_cord_mm(self) -> float:
        return sqrt((self.diameter_mm - self.bore_mm) * (self.diameter_mm + self.bore_mm))

    def volume_mm3(self) -> float:
        return pi * self.length_on_cord_mm() ** 3 / 6

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        return (("sphere", self.diameter_mm), ("plate", self.diameter_mm - self.bore_mm))


@dataclass(frozen=True, slots=True)
class Tube(_Turned):
    """A cylinder bored along its axis.

    diameter_mm, bore_mm  outer and inner [mm]; the bore is the narrower
    length_mm             along the bore [mm]

    Raises ShapeError if the bore leaves no glass. Rounded ends weigh less.

    >>> round(Tube(diameter_mm=8, length_mm=12, bore_mm=2).volume_mm3(), 3)
    565.487

    Source: volume of a hollow cylinder (solid geometry).
    """

    diameter_mm: float
    length_mm: float
    bore_mm: float
    kind: ClassVar[str] = "tube"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm")

    def length_on_cord_mm(self) -> float:
        return self.length_mm

    def volume_mm3(self) -> float:
        wall = (self.diameter_mm - self.bore_mm) * (self.diameter_mm + self.bore_mm)
        return pi / 4 * wall * self.length_mm


@dataclass(frozen=True, slots=True)
class Disc(Tube):
    """A flat disc pierced through its face, so it lies square to the cord.

    Sizes, range, errors and source as `Tube`; `length_mm` is its thickness along the bore.

    >>> round(Disc(diameter_mm=12, length_mm=4, bore_mm=2.5).volume_mm3(), 6)
    432.754388
    """

    kind: ClassVar[str] = "disc"


@dataclass(frozen=True, slots=True)
class Barrel(_Turned):
    """A barrel: its side a parabola from the middle down to both ends.

    diameter_mm      at the middle [mm]
    end_diameter_mm  of both flat ends [mm], wider than the bore, no wider than the middle
    length_mm        along the bore [mm]
    bore_mm          [mm]

    Raises ShapeError if the bore leaves no end, or the ends are wider than the middle.

    >>> round(Barrel(diameter_mm=12, end_diameter_mm=8, length_mm=15, bore_mm=3).volume_mm3(), 6)
    1251.139274

    Source: parabolic barrel, pi L (8 D² + 4 D De + 3 De²)/60 (re-derived; checked by quadrature).
    """

    diameter_mm: float
    end_diameter_mm: float
    length_mm: float
    bore_mm: float
    kind: ClassVar[str] = "barrel"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm", "end_diameter_mm")
        at_most(self, "end_diameter_mm", "diameter_mm")

    def length_on_cord_mm(self) -> float:
        return self.length_mm

    def volume_mm3(self) -> float:
        middle, end = self.diameter_mm, self.end_diameter_mm
        solid = (8 * middle**2 + 4 * middle * end + 3 * end**2) / 60
        return pi * self.length_mm * (solid - self.bore_mm**2 / 4)


@dataclass(frozen=True, slots=True)
class Bicone(Barrel):
    """Two cones base to base, their tips cut off flat.

    Sizes, range and errors as `Barrel`; the side runs straight from the middle to the ends.

    >>> round(Bicone(diameter_mm=12, end_diameter_mm=4, length_mm=14, bore_mm=3).volume_mm3(), 6)
    663.399649

    Source: two cone frustums (CRC Standard Mathematical Tables, from memory; checked by
    quadrature).
    """

    kind: ClassVar[str] = "bicone"

    def volume_mm3(self) -> float:
        middle, end = self.diameter_mm, self.end_diameter_mm
        solid = (middle**2 + middle * end + end**2) / 12
        return pi * self.length_mm * (solid - self.bore_mm**2 / 4)


@dataclass(frozen=True, slots=True)
class SharpBicone(_Turned):
    """Two cones base to base, running to points that the bore carries away.

    diameter_mm  at the middle [mm]
    length_mm    tip to tip before boring [mm]
    bore_mm      [mm], narrower than the middle

    Raises ShapeError if the bore leaves no glass.

    >>> bead = SharpBicone(diameter_mm=12, length_mm=20, bore_mm=3)
    >>> round(bead.volume_mm3(), 6), bead.length_on_cord_mm()
    (636.172512, 15.0)

    Source: cone frustums less the bore, L(1 - d/D) left of the length (re-derived; quadrature).
    """

    diameter_mm: float
    length_mm: float
    bore_mm: float
    kind: ClassVar[str] = "sharp_bicone"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm")

    def length_on_cord_mm(self) -> float:
        return self.length_mm * (self.diameter_mm - self.bore_mm) / self.diameter_mm

    def volume_mm3(self) -> float:
        # D² + D d + d² - 3 d² = (D - d)(D + 2 d): never a small difference of large numbers.
        wide, bore = self.diameter_mm, self.bore_mm
        return pi / 12 * self.length_on_cord_mm() * (wide - bore) * (wide + 2 * bore)


@dataclass(frozen=True, slots=True)
class Ellipsoid(_Turned):
    """A round bead drawn out (or pressed flat) along the bore.

    diameter_mm  across the bore [mm]
    length_mm    along the bore before boring [mm]
    bore_mm      [mm], narrower than the diameter

    Raises ShapeError if the bore leaves no glass.

    >>> bead = Ellipsoid(diameter_mm=10, length_mm=16, bore_mm=2)
    >>> round(bead.volume_mm3(), 6), round(bead.length_on_cord_mm(), 3)
    (787.998616, 15.677)

    Source: the bored sphere stretched along its bore (re-derived; checked by quadrature).
    """

    diameter_mm: float
    length_mm: float
    bore_mm: float
    kind: ClassVar[str] = "ellipsoid"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm")

    def _left(self) -> float:
        share = self.bore_mm / self.diameter_mm
        return sqrt((1 - share) * (1 + share))

    def length_on_cord_mm(self) -> float:
        return self.length_mm * self._left()

    def volume_mm3(self) -> float:
        return pi * self.length_mm * self.diameter_mm**2 / 6 * self._left() ** 3

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        longest = ("sphere", max(self.diameter_mm, self.length_mm))
        return (longest, *_Turned._enclosing_forms(self))


@dataclass(frozen=True, slots=True)
class Oblate(_Turned):
    """A round bead with its two ends ground flat.

    diameter_mm  of the sphere [mm]
    length_mm    between the flat ends [mm], at most sqrt(D² - d²) so the flats are there
    bore_mm      [mm]

    Raises ShapeError if the bore leaves no glass or the length leaves no flats.

    >>> round(Oblate(diameter_mm=14, length_mm=8, bore_mm=3).volume_mm3(), 3)
    1040.914

    Source: spherical zone less the bore (CRC Standard Mathematical Tables, from memory;
    checked by quadrature).
    """

    diameter_mm: float
    length_mm: float
    bore_mm: float
    kind: ClassVar[str] = "oblate"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm")
        most_mm = sqrt((self.diameter_mm - self.bore_mm) * (self.diameter_mm + self.bore_mm))
        if self.length_mm > most_mm * (1 + 1e-12):
            raise ShapeError(
                "length_mm",
                OBLATE_TOO_LONG,
                diameter=plain(self.diameter_mm),
                bore=plain(self.bore_mm),
                most=plain(int(most_mm * 1000) / 1000),
                found=plain(self.length_mm),
            )

    @property
    def end_diameter_mm(self) -> float:
        """Diameter of the flat ends [mm]."""
        return sqrt((self.diameter_mm - self.length_mm) * (self.diameter_mm + self.length_mm))

    def length_on_cord_mm(self) -> float:
        return self.length_mm

    def volume_mm3(self) -> float:
        zone = self.diameter_mm**2 - self.length_mm**2 / 3
        return pi / 4 * self.length_mm * (zone - self.bore_mm**2)

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        return (("sphere", self.diameter_mm), *_Turned._enclosing_forms(self))


@dataclass(frozen=True, slots=True)
class Ring(_Turned):
    """A ring of round section; its hole is the bore, so it lies square to the cord.

    diameter_mm  outside [mm]
    bore_mm      the hole [mm], narrower than the outside

    Raises ShapeError if the hole leaves no glass.

    >>> ring = Ring(diameter_mm=12, bore_mm=4)
    >>> round(ring.volume_mm3(), 6), ring.length_on_cord_mm()
    (315.827341, 4.0)

    Source: torus, pi² (Do + Di)(Do - Di)²/32 (CRC Standard Mathematical Tables, from memory;
    checked by quadrature).
    """

    diameter_mm: float
    bore_mm: float
    kind: ClassVar[str] = "ring"

    def _check_glass_is_left(self) -> None:
        bore_narrower_than(self, "diameter_mm")

    def length_on_cord_mm(self) -> float:
        return (self.diameter_mm - self.bore_mm) / 2

    def volume_mm3(self) -> float:
        outer, hole = self.diameter_mm, self.bore_mm
        return pi**2 * (outer + hole) * (outer - hole) ** 2 / 32

    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        # A bent rod stays up to 3 % warmer than a straight one; 2 % more width makes up for it.
        return (("cylinder", 1.02 * self.length_on_cord_mm()),)
