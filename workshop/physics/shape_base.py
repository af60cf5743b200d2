"""What every bead shape shares: its checks, its questions, and how thick it is to the kiln."""

from abc import ABC, abstractmethod
from typing import ClassVar

from workshop.physics.sentences import PhysicsError, gettext_noop, number_in, plain

LARGEST_MM = 500.0  # a judgement: past this the figure is a slip, not a bead
MOST_POINTS = 60

FIELD_WORDS = {
    "diameter_mm": gettext_noop("diameter"),
    "inner_diameter_mm": gettext_noop("diameter between the points"),
    "end_diameter_mm": gettext_noop("diameter of the ends"),
    "length_mm": gettext_noop("length"),
    "thickness_mm": gettext_noop("thickness"),
    "width_mm": gettext_noop("width"),
    "arm_mm": gettext_noop("width of the arms"),
    "bore_mm": gettext_noop("bore"),
    "points": gettext_noop("number of points"),
    "body_length_mm": gettext_noop("length of the body"),
    "body_height_mm": gettext_noop("height of the body"),
    "tail_length_mm": gettext_noop("length of the tail"),
    "tail_height_mm": gettext_noop("height of the tail"),
}

NOT_A_SIZE = gettext_noop("The %(word)s is not a number yet. Write it in millimetres, such as 10.")
NOT_POSITIVE = gettext_noop(
    "The %(word)s is %(found)s mm and must be more than nothing."
    " Write it in millimetres, such as 10."
)
BORE_NEGATIVE = gettext_noop(
    "The bore is %(found)s mm and cannot be less than nothing. Write 0 for a bead not pierced."
)
TOO_LARGE = gettext_noop(
    "The %(word)s is %(found)s mm, and no bead is larger than %(most)s mm. Check the unit."
)
POINTS_NEEDED = gettext_noop(
    "A star has 3 to %(most)s points, a whole number. Write one, such as 5."
)
BORE_TOO_WIDE = gettext_noop(
    "The bore is %(bore)s mm and the %(word)s %(size)s mm, so no glass is left around it."
    " Make the bore narrower than %(size)s mm."
)
WIDER_THAN = gettext_noop(
    "The %(word)s is %(found)s mm and the %(other)s %(size)s mm."
    " Make the %(word)s no more than %(size)s mm."
)
NARROWER_THAN = gettext_noop(
    "The %(word)s is %(found)s mm and the %(other)s %(size)s mm."
    " Make the %(word)s less than %(size)s mm."
)


class ShapeError(PhysicsError):
    """A shape that leaves no glass, or a size that is no size.

    field     the dimension to mend, named as in `SHAPE_FIELDS` ("bore_mm"), or "kind"
    sentence  what is wrong, what was found and what would do

    >>> str(ShapeError("bore_mm", "The bore leaves no glass."))
    'The bore leaves no glass.'
    """

    def __init__(self, field: str, template: str, **params: object) -> None:
        self.field = field
        super().__init__(template, **params)


class BeadShape(ABC):
    """A bead as solid geometry: millimetres in, cubic millimetres out.

    Every shape answers the same questions, all with the bore taken out:
    `volume_mm3()`, `length_on_cord_mm()`, `across_mm()`, `thickest()`.
    """

    __slots__ = ()
    __match_args__: ClassVar[tuple[str, ...]]  # set by @dataclass: its sizes, in order
    kind: ClassVar[str]

    def __post_init__(self) -> None:
        for name in self.__match_args__:
            given = getattr(self, name)
            value = _points(given) if name == "points" else _size_mm(name, given)
            object.__setattr__(self, name, value)
        self._check_glass_is_left()

    def dimensions(self) -> dict[str, float]:
        """Its sizes by name, in the order of `SHAPE_FIELDS`."""
        return {name: getattr(self, name) for name in self.__match_args__}

    @abstractmethod
    def _check_glass_is_left(self) -> None:
        """Raise ShapeError where the sizes, each fine alone, leave no bead together."""

    @abstractmethod
    def volume_mm3(self) -> float:
        """Glass in the bead, the bore taken out [mm³]."""

    @abstractmethod
    def length_on_cord_mm(self) -> float:
        """The furthest the glass that is left reaches along the bore [mm].

        This is what the bead takes of the cord: a bored round bead is shorter than its
        diameter, since the bore carries the poles away.
        """

    @abstractmethod
    def across_mm(self) -> float:
        """The largest size across the cord [mm], measured square to it (not corner to corner)."""

    @abstractmethod
    def _enclosing_forms(self) -> tuple[tuple[str, float], ...]:
        """Simple bodies that each hold the bead: their heat bounds the bead's from above."""

    def thickest(self) -> tuple[str, float]:
        """The simple body to cool the bead as: ("sphere" | "cylinder" | "plate", size in mm).

        Of the simple bodies that hold the bead whole, the one that may cool fastest. Inside any
        of them the bead is never hotter than that body would be at the same place (maximum
        principle of the heat equation), so even the fastest is on the safe side. The size is
        the thickness of a plate or the diameter of a cylinder or sphere.
        """
        return max(self._enclosing_forms(), key=lambda form: COOLING_FACTOR[form[0]] / form[1] ** 2)


# How much faster than a slab each form may cool at the same size: mean less surface temperature
# is R a²/(m κ). Adams & Williamson, J. Franklin Inst. 190 (1920) 597; checked numerically.
COOLING_FACTOR = {"plate": 3.0, "cylinder": 8.0, "sphere": 15.0}


def _size_mm(name: str, given: object) -> float:
    value = number_in(given)
    word = FIELD_WORDS[name]
    if value is None:
        raise ShapeError(name, NOT_A_SIZE, word=word)
    if name == "bore_mm" and value < 0:
        raise ShapeError(name, BORE_NEGATIVE, found=plain(value))
    if name != "bore_mm" and value <= 0:
        raise ShapeError(name, NOT_POSITIVE, word=word, found=plain(value))
    if value > LARGEST_MM:
        raise ShapeError(
            name,
            TOO_LARGE,
            word=word,
            found=plain(value) if value < 1e9 else f"{value:.0e}",
            most=plain(LARGEST_MM),
        )
    return value


def _points(given: object) -> int:
    value = number_in(given)
    if value is None or value != int(value) or not 3 <= value <= MOST_POINTS:
        raise ShapeError("points", POINTS_NEEDED, most=MOST_POINTS)
    return int(value)


def bore_narrower_than(shape: BeadShape, *names: str) -> None:
    """Raise ShapeError unless the bore is narrower than each of the named sizes."""
    bore_mm: float = shape.bore_mm  # type: ignore[attr-defined]
    for name in names:
        size_mm = getattr(shape, name)
        if bore_mm >= size_mm:
            raise ShapeError(
                "bore_mm",
                BORE_TOO_WIDE,
                bore=plain(bore_mm),
                word=FIELD_WORDS[name],
                size=plain(size_mm),
            )


def at_most(shape: BeadShape, name: str, other: str, *, strictly: bool = False) -> None:
    """Raise ShapeError unless one size is no more (or, strictly, less) than another."""
    found, size = getattr(shape, name), getattr(shape, other)
    if found > size or (strictly and found == size):
        raise ShapeError(
            name,
            NARROWER_THAN if strictly else WIDER_THAN,
            word=FIELD_WORDS[name],
            found=plain(found),
            other=FIELD_WORDS[other],
            size=plain(size),
        )
