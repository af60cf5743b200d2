"""The bead shapes the workshop makes, by name: which sizes each needs, and the shape itself.

>>> bead_shape("round", diameter_mm=10, bore_mm=2).length_on_cord_mm() < 10
True
"""

from workshop.physics.flat_shapes import Coin, Cross, Cube, Fish, Star
from workshop.physics.sentences import gettext_noop
from workshop.physics.shape_base import FIELD_WORDS, LARGEST_MM, BeadShape, ShapeError
from workshop.physics.turned_shapes import (
    Barrel,
    Bicone,
    Disc,
    Ellipsoid,
    Oblate,
    Ring,
    Round,
    SharpBicone,
    Tube,
)

__all__ = [
    "FIELD_WORDS",
    "LARGEST_MM",
    "SHAPE_CLASSES",
    "SHAPE_FIELDS",
    "SHAPE_WORDS",
    "Barrel",
    "BeadShape",
    "Bicone",
    "Coin",
    "Cross",
    "Cube",
    "Disc",
    "Ellipsoid",
    "Fish",
    "Oblate",
    "Ring",
    "Round",
    "ShapeError",
    "SharpBicone",
    "Star",
    "Tube",
    "bead_shape",
]

SHAPE_CLASSES: dict[str, type[BeadShape]] = {
    shape.kind: shape
    for shape in (
        *(Round, Tube, Disc, Coin, Barrel, Bicone, SharpBicone),
        *(Ellipsoid, Oblate, Ring, Cube, Star, Cross, Fish),
    )
}

SHAPE_FIELDS: dict[str, tuple[str, ...]] = {
    kind: shape.__match_args__ for kind, shape in SHAPE_CLASSES.items()
}

SHAPE_WORDS = {
    "round": gettext_noop("round"),
    "tube": gettext_noop("tube"),
    "disc": gettext_noop("disc"),
    "coin": gettext_noop("coin"),
    "barrel": gettext_noop("barrel"),
    "bicone": gettext_noop("bicone"),
    "sharp_bicone": gettext_noop("sharp bicone"),
    "ellipsoid": gettext_noop("ellipsoid"),
    "oblate": gettext_noop("oblate"),
    "ring": gettext_noop("ring"),
    "cube": gettext_noop("cube"),
    "star": gettext_noop("star"),
    "cross": gettext_noop("cross"),
    "fish": gettext_noop("fish"),
}

UNKNOWN_KIND = gettext_noop("There is no bead shape called “%(kind)s”. Choose one of: %(known)s.")
SIZE_MISSING = gettext_noop(
    "This shape (%(kind)s) needs its %(word)s, and none is given. Write it in."
)
SIZE_NOT_USED = gettext_noop(
    "This shape (%(kind)s) has no %(word)s. Leave it empty, or choose another shape."
)


def bead_shape(kind: str, **dimensions: object) -> BeadShape:
    """The bead shape of a kind with its sizes.

    kind        a key of `SHAPE_FIELDS`, such as "round" or "sharp_bicone"
    dimensions  exactly the names `SHAPE_FIELDS[kind]` lists [mm; `points` a count]; numbers
                (int, float, Decimal) above 0 and up to 500 mm; a bore of 0 is a bead not yet
                pierced. Sizes of other shapes may be passed as None.

    Returns a frozen, hashable dataclass. Raises ShapeError, which names the field to mend, if
    the kind is unknown, a size is missing, not needed or no size, or no glass is left.

    >>> bead_shape("tube", diameter_mm=8, length_mm=12, bore_mm=2, points=None)
    Tube(diameter_mm=8.0, length_mm=12.0, bore_mm=2.0)
    >>> bead_shape("round", diameter_mm=6, bore_mm=6)
    Traceback (most recent call last):
    ...
    workshop.physics.shape_base.ShapeError: The bore is 6 mm and the diameter 6 mm, so no glass \
is left around it. Make the bore narrower than 6 mm.

    Source: each shape's own docstring.
    """
    names = SHAPE_FIELDS.get(kind)
    if names is None:
        raise ShapeError(
            "kind", UNKNOWN_KIND, kind=str(kind)[:40], known=", ".join(SHAPE_WORDS.values())
        )
    given = {name: value for name, value in dimensions.items() if value is not None}
    for name in names:
        if name not in given:
            raise ShapeError(name, SIZE_MISSING, kind=SHAPE_WORDS[kind], word=FIELD_WORDS[name])
    if len(given) > len(names):
        extra = next(name for name in given if name not in names)
        word = FIELD_WORDS.get(extra, extra)
        raise ShapeError(extra, SIZE_NOT_USED, kind=SHAPE_WORDS[kind], word=word)
    return SHAPE_CLASSES[kind](**given)
