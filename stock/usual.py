"""Bottle colours that most yards see, to begin with. Common practice, no source.

Every figure is a first guess, to be corrected on the colour's own page; weighing teaches better.
"""

from dataclasses import dataclass

from django.utils.translation import gettext_lazy as _


@dataclass(frozen=True)
class UsualColour:
    """A colour of bottle glass: how it is drawn, and what an empty bottle of it weighs [g]."""

    key: str
    name: object
    swatch: str
    bottle_g: int
    see_through: bool = True


# Weights of usual bottles: common practice, no source. Yields are those of the model.
USUAL_COLOURS = (
    UsualColour("green", _("green"), "#2f6b4a", 450),
    UsualColour("amber", _("amber"), "#9a5a14", 300),
    UsualColour("clear", _("clear"), "#cfe0de", 350),
    UsualColour("olive", _("olive"), "#6b7136", 500),
    UsualColour("aqua", _("aqua"), "#6fb3ad", 400),
    UsualColour("cobalt", _("cobalt"), "#244f9e", 420),
    UsualColour("milk", _("milk"), "#f2ede1", 250, see_through=False),
    UsualColour("black", _("black"), "#2b2724", 520, see_through=False),
)
