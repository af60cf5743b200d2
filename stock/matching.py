"""A sample on a photograph: how large it is, and which of the workshop's glasses it is like."""

import io
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import dist

from PIL import Image

from stock.models import Bead, GlassColour, SampleMatch
from workshop.physics import colour as colours
from workshop.physics.shapes import ShapeError

Point = tuple[int, int]
SIZES = ("known_a", "known_b", "bead_a", "bead_b")
SPOTS = ("spot", "white")

SLIP = 3.0  # points of the picture that a tap may be off; a judgement
RADIUS = 6  # of a spot, in points of the picture: larger than a speck, smaller than a bead
MOST_SHOWN = 5
# How far apart two colours are (CIEDE2000), in words; common practice, no source.
SAME, CLOSE, FAMILY = 2.0, 5.0, 12.0
NEAR_SIZE = 0.12  # of its size a bead may differ and still be told like a sample; a judgement


class NotToTell(Exception):
    """A photograph does not show what is asked of it.

    point     where it lies
    dazzled   it is so bright that its colour is lost; else it is too dark
    """

    def __init__(self, point: str, *, dazzled: bool) -> None:
        super().__init__(point)
        self.point, self.dazzled = point, dazzled


@dataclass(frozen=True)
class Near:
    """One of our glasses, and how far the sample's colour lies from it."""

    glass: GlassColour
    apart: float
    word: str


@dataclass(frozen=True)
class Found:
    """What a photograph says of the sample on it.

    size_mm, doubt_mm  how large, give or take
    seen               its colour, the light taken out where a white was tapped
    scatter            half the points of the spot lie nearer to its middle than this
    light              how far the light moved the colour: taken out where `balanced`, else how far
                       it would lie off if the whole picture were grey on average
    near               our glasses, the nearest in front
    """

    size_mm: float
    doubt_mm: float
    seen: str
    scatter: float
    light: float
    balanced: bool
    near: Sequence[Near]


def look_at(picture: bytes, points: Mapping[str, Point], known_mm: float) -> Found:
    """Measure a sample and find its nearest glasses (1 query).

    Raises NotToTell where a spot is too bright or too dark to have a colour.
    """
    size_mm, doubt_mm = colours.length_beside(
        dist(points["bead_a"], points["bead_b"]),
        dist(points["known_a"], points["known_b"]),
        known_mm,
        slip=SLIP,
    )
    image = Image.open(io.BytesIO(picture)).convert("RGB")
    pixels = _spot(image, points["spot"])
    raw = colours.middle(pixels)
    white = points.get("white")
    if white is not None:
        seen = _balanced(raw, colours.middle(_spot(image, white)))
        light = colours.apart(colours.lab_of(raw), colours.lab_of(seen))
    else:
        if min(raw) >= colours.BRIGHTEST_WHITE:
            raise NotToTell("spot", dazzled=True)
        seen = raw
        light = colours.apart(colours.lab_of(raw), colours.lab_of(_if_grey(image, raw)))
    return Found(
        size_mm, doubt_mm, colours.text_of(seen), colours.spread(pixels), light,
        white is not None, nearest(colours.text_of(seen)),
    )  # fmt: skip


def _spot(image: Image.Image, point: Point) -> list[colours.Triple]:
    """The points of a picture around one of them."""
    x, y = point
    box = (
        max(0, x - RADIUS), max(0, y - RADIUS),
        min(image.width, x + RADIUS + 1), min(image.height, y + RADIUS + 1),
    )  # fmt: skip
    data = image.crop(box).tobytes()
    return [(data[at], data[at + 1], data[at + 2]) for at in range(0, len(data), 3)]


def _balanced(raw: colours.Triple, white: colours.Triple) -> colours.Triple:
    if max(white) >= colours.BRIGHTEST_WHITE:
        raise NotToTell("white", dazzled=True)
    try:
        return colours.balanced(raw, white)
    except ValueError:
        raise NotToTell("white", dazzled=False) from None


def _if_grey(image: Image.Image, raw: colours.Triple) -> colours.Triple:
    """The colour if the lamp were what turns the mean of the picture from grey.

    The grey-world rule, G. Buchsbaum, "A spatial processor model for object colour perception",
    Journal of the Franklin Institute 310 (1980), 1-26; cited from memory.
    """
    data = image.resize((32, 32), Image.Resampling.BOX).tobytes()
    mean = [sum(data[start::3]) / (len(data) // 3) for start in range(3)]
    lights = [max(0.001, colours.linear(each / 255)) for each in mean]
    bright = sum(lights) / 3
    red, green, blue = (
        255 * colours.curved(min(1.0, colours.linear(each / 255) * bright / light))
        for each, light in zip(raw, lights, strict=True)
    )
    return red, green, blue


def nearest(seen: str) -> list[Near]:
    """The few glasses that are nearest to a colour, the nearest in front (1 query)."""
    return _by_distance(seen)[:MOST_SHOWN]


def _by_distance(seen: str) -> list[Near]:
    target = colours.lab_of(colours.rgb_of(seen))
    found = []
    for glass in GlassColour.objects.filter(in_use=True, kept_from__isnull=True):
        far = colours.apart(target, colours.lab_of(colours.rgb_of(glass.swatch)))
        found.append(Near(glass, far, _word(far)))
    return sorted(found, key=lambda near: near.apart)


def _word(apart: float) -> str:
    steps = ((SAME, "same"), (CLOSE, "close"), (FAMILY, "family"))
    return next((word for most, word in steps if apart <= most), "far")


def family_of(colour: GlassColour) -> list[int]:
    """A glass and those of its colour family, by key (1 query)."""
    return [near.glass.pk for near in _by_distance(colour.swatch) if near.apart <= FAMILY]


def beads_like(match: SampleMatch, beads: Iterable[Bead]) -> list[int]:
    """Of some beads those about as large as a sample, across or along the bore, by key."""
    return [bead.pk for bead in beads if _as_large(bead, float(match.size_mm), match)]


def _as_large(bead: Bead, size_mm: float, match: SampleMatch) -> bool:
    try:
        shape = bead.measure()
    except ShapeError:
        return False
    near = max(2 * float(match.doubt_mm), NEAR_SIZE * size_mm)
    sizes = (shape.across_mm(), shape.length_on_cord_mm())
    return any(abs(each - size_mm) <= near for each in sizes)
