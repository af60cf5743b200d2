"""Bottles: what one of each kind usually weighs."""

from dataclasses import dataclass

from workshop.physics.sentences import gettext_noop


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
