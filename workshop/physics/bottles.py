"""Bottles: what one weighs, and how many to collect for the glass that is short."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import ceil

from workshop.physics.sentences import PhysicsError, gettext_noop, number_in

CLEAN_YIELD = 0.97  # common practice, no source
SCREEN_YIELD = 0.90  # common practice, no source
FIRST_GUESS_ERROR = 0.15  # of every mass below: makers and years differ


@dataclass(frozen=True, slots=True)
class Bottle:
    """A kind of bottle and its usual mass.

    key     "wine_75"
    name    in words
    mass_g  empty, without cap and label [g], a first guess within 15 %
    source  author and year, or "from memory"

    >>> BOTTLES["wine_75"].mass_g
    500.0
    """

    key: str
    name: str
    mass_g: float
    source: str


_PACKAGING = "Packaging Digest, 14 February 2014"
_MEMORY = "from memory"
BOTTLES = {
    bottle.key: bottle
    for bottle in (
        Bottle("wine_75", gettext_noop("wine, 75 cl"), 500.0, "British Glass and WRAP, 2007"),
        Bottle("wine_75_light", gettext_noop("light wine, 75 cl"), 365.0, "WRAP, 2008"),
        Bottle("soft_33", gettext_noop("soft drink, 33 cl"), 240.0, f"{_PACKAGING} (made 2005)"),
        Bottle("soft_33_light", gettext_noop("light soft drink, 33 cl"), 190.0, _PACKAGING),
        Bottle("mixer_20", gettext_noop("mixer, 20 cl"), 140.0, _PACKAGING),
        Bottle(
            "beer_33_returnable",
            gettext_noop("returnable beer, 33 cl"),
            300.0,
            "derived from a maker's announcement: 210 g is 30 % lighter",
        ),
        Bottle(
            "beer_33_returnable_light",
            gettext_noop("light returnable beer, 33 cl"),
            210.0,
            "maker's announcement",
        ),
        Bottle("beer_33", gettext_noop("one-way beer, 33 cl"), 200.0, _MEMORY),
        Bottle("beer_50", gettext_noop("returnable beer, 50 cl"), 380.0, _MEMORY),
        Bottle(
            "beer_50_heavy",
            gettext_noop("heavy refillable beer, 50 cl"),
            473.0,
            "Japanese Ministry of the Environment, packaging life-cycle study (second-hand)",
        ),
        Bottle("soft_35", gettext_noop("returnable soft drink, 35 cl"), 390.0, _MEMORY),
    )
}

BAD_BOTTLE = gettext_noop("One bottle weighs %(found)s g. Write its mass in grams, such as 500.")
BAD_NEED = gettext_noop("The glass needed is %(found)s kg. Write 0 or more.")
BAD_YIELD = gettext_noop(
    "A yield is the share that is left, above 0 and up to 1, and one is %(found)s. Write such as"
    " 0.9."
)
NONE_WEIGHED = gettext_noop("No bottle is weighed yet. Weigh a few, ten is a good number.")

Number = float | int | Decimal | Fraction


def bottles_to_collect(
    usable_kg: Number,
    bottle_g: Number,
    *,
    clean_yield: Number = CLEAN_YIELD,
    screen_yield: Number = SCREEN_YIELD,
) -> int:
    """How many bottles give so much usable glass.

    usable_kg     clean, broken or sieved glass wanted [kg], 0 or more
    bottle_g      one empty bottle [g], above 0
    clean_yield   left after washing and sorting, above 0 and up to 1
    screen_yield  left after breaking and sieving, above 0 and up to 1

    Returns a whole number, rounded up exactly (floats are taken as they print). Raises
    PhysicsError for figures that cannot be.

    >>> bottles_to_collect(50, 380, clean_yield=0.95, screen_yield=0.85)
    163
    >>> bottles_to_collect(3, 100, clean_yield=1, screen_yield=1)
    30

    Source: ceil(kg/(m y y)) (definition).
    """
    needed = _exact(usable_kg, BAD_NEED)
    bottle = _exact(bottle_g, BAD_BOTTLE)
    clean, screen = _exact(clean_yield, BAD_YIELD), _exact(screen_yield, BAD_YIELD)
    if needed < 0:
        raise PhysicsError(BAD_NEED, found=usable_kg)
    if bottle <= 0:
        raise PhysicsError(BAD_BOTTLE, found=bottle_g)
    for share, given in ((clean, clean_yield), (screen, screen_yield)):
        if not 0 < share <= 1:
            raise PhysicsError(BAD_YIELD, found=given)
    return ceil(needed * 1000 / (bottle * clean * screen))


def bottle_mass_from_weighing_g(masses_g: Sequence[float]) -> float:
    """The mass to reckon with for one bottle, from a few weighed.

    masses_g  each above 0 [g]

    Returns their mean [g]. Raises PhysicsError if none is weighed or one weighs nothing.

    >>> bottle_mass_from_weighing_g([498, 503, 499])
    500.0

    Source: arithmetic mean.
    """
    if not masses_g:
        raise PhysicsError(NONE_WEIGHED)
    for mass in masses_g:
        number = number_in(mass)
        if number is None or number <= 0:
            raise PhysicsError(BAD_BOTTLE, found=mass)
    return sum(masses_g) / len(masses_g)


def _exact(value: Number, template: str) -> Fraction:
    if number_in(value) is None:
        raise PhysicsError(template, found=value)
    return Fraction(str(value)) if isinstance(value, float) else Fraction(value)
