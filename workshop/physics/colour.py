"""Colours as eyes part them: from a screen's sRGB to CIELAB, and how far two of them lie apart.

Sources: IEC 61966-2-1 (sRGB, its curve and primaries); CIE 15 (CIELAB, for the sRGB white D65);
G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 color-difference formula: implementation notes,
supplementary test data, and mathematical observations", Color Research & Application 30 (2005),
21-30.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import atan2, cos, degrees, exp, hypot, radians, sin, sqrt

Triple = tuple[float, float, float]

# XYZ of linear sRGB; each row sums to its part of the white D65 (IEC 61966-2-1).
TO_XYZ = (
    (0.4124, 0.3576, 0.1805),
    (0.2126, 0.7152, 0.0722),
    (0.0193, 0.1192, 0.9505),
)
WHITE: Triple = (0.9505, 1.0, 1.089)
CUBE = 6 / 29  # where CIELAB's curve turns straight (CIE 15)


@dataclass(frozen=True)
class Lab:
    """A colour in CIELAB: how light, how red or green, how yellow or blue."""

    light: float
    a: float
    b: float


def linear(channel: float) -> float:
    """Light of one sRGB channel, both 0 to 1.

    >>> round(linear(0.5), 4)
    0.214
    """
    return channel / 12.92 if channel <= 0.04045 else ((channel + 0.055) / 1.055) ** 2.4


def curved(light: float) -> float:
    """The sRGB channel of a light, both 0 to 1; the way back of `linear`."""
    return 12.92 * light if light <= 0.0031308 else 1.055 * light ** (1 / 2.4) - 0.055


def rgb_of(text: str) -> Triple:
    """Red, green and blue, 0 to 255, of a colour written `#rrggbb`.

    >>> rgb_of("#2f6b4a")
    (47.0, 107.0, 74.0)
    """
    red, green, blue = (float(int(text[at : at + 2], 16)) for at in (1, 3, 5))
    return red, green, blue


def text_of(rgb: Triple) -> str:
    """A colour as it is written: `#rrggbb`."""
    return "#" + "".join(f"{round(min(255.0, max(0.0, each))):02x}" for each in rgb)


def lab_of(rgb: Triple) -> Lab:
    """A colour of a screen, 0 to 255 each, in CIELAB.

    >>> white = lab_of((255, 255, 255))
    >>> round(white.light, 3), abs(white.a) < 0.01, abs(white.b) < 0.01
    (100.0, True, True)
    """
    lights = tuple(linear(each / 255) for each in rgb)
    x, y, z = (
        _cube_root(sum(part * light for part, light in zip(row, lights, strict=True)) / white)
        for row, white in zip(TO_XYZ, WHITE, strict=True)
    )
    return Lab(116 * y - 16, 500 * (x - y), 200 * (y - z))


def _cube_root(t: float) -> float:
    return t ** (1 / 3) if t > CUBE**3 else t / (3 * CUBE**2) + 4 / 29


def apart(one: Lab, other: Lab) -> float:
    """How far two colours lie apart: CIEDE2000, with all its weights 1.

    Source: Sharma, Wu, Dalal (2005), equations 2 to 22.

    >>> round(apart(Lab(50, 2.6772, -79.7751), Lab(50, 0, -82.7485)), 4)
    2.0425
    """
    mean_c7 = ((hypot(one.a, one.b) + hypot(other.a, other.b)) / 2) ** 7
    stretch = 1 + 0.5 * (1 - sqrt(mean_c7 / (mean_c7 + 25.0**7)))
    c1, h1 = _polar(one.a * stretch, one.b)
    c2, h2 = _polar(other.a * stretch, other.b)
    d_light, d_chroma = other.light - one.light, c2 - c1
    d_hue = 2 * sqrt(c1 * c2) * sin(radians(_turn(h1, h2) if c1 * c2 else 0.0) / 2)
    light, chroma = (one.light + other.light) / 2, (c1 + c2) / 2
    hue = _mean_hue(h1, h2) if c1 * c2 else h1 + h2
    t = (
        1
        - 0.17 * cos(radians(hue - 30))
        + 0.24 * cos(radians(2 * hue))
        + 0.32 * cos(radians(3 * hue + 6))
        - 0.20 * cos(radians(4 * hue - 63))
    )
    s_light = 1 + 0.015 * (light - 50) ** 2 / sqrt(20 + (light - 50) ** 2)
    s_chroma, s_hue = 1 + 0.045 * chroma, 1 + 0.015 * chroma * t
    turning = 30 * exp(-(((hue - 275) / 25) ** 2))
    c7 = chroma**7
    rotation = -2 * sqrt(c7 / (c7 + 25.0**7)) * sin(radians(2 * turning))
    parts = (d_light / s_light, d_chroma / s_chroma, d_hue / s_hue)
    square = sum(part * part for part in parts) + rotation * parts[1] * parts[2]
    return sqrt(max(0.0, square))


def _polar(a: float, b: float) -> tuple[float, float]:
    """Chroma and hue [degrees, 0 to 360]; a grey has hue 0."""
    return hypot(a, b), degrees(atan2(b, a)) % 360 if a or b else 0.0


def _turn(h1: float, h2: float) -> float:
    """The shorter way from one hue to another [degrees]."""
    turn = h2 - h1
    if turn > 180:
        return turn - 360
    return turn + 360 if turn < -180 else turn


def _mean_hue(h1: float, h2: float) -> float:
    """The hue halfway between two, on the shorter side [degrees]."""
    total = h1 + h2
    if abs(h1 - h2) <= 180:
        return total / 2
    return (total + 360) / 2 if total < 360 else (total - 360) / 2


def balanced(rgb: Triple, white: Triple) -> Triple:
    """A colour as it would look in white light of a usual strength, from a `white` paper beside it.

    Each channel's light is divided by the white's, and the paper then gives back as much of each
    as white paper does (the rule of von Kries, on the channels of the picture): so neither the
    colour of the lamp nor the camera's exposure moves it.
    Raises ValueError where the white is too dark to tell.

    >>> text_of(balanced((200, 180, 140), (200, 180, 140)))
    '#ededed'
    """
    lights = [linear(each / 255) for each in white]
    if min(lights) < DARKEST_WHITE:
        raise ValueError("too dark to be a white")
    made = [
        255 * curved(min(1.0, linear(each / 255) * PAPER / light))
        for each, light in zip(rgb, lights, strict=True)
    ]
    return made[0], made[1], made[2]


PAPER = 0.85  # of the light that falls on it, white paper gives back; common practice, no source
DARKEST_WHITE = 0.08  # a judgement: less light than this in a channel tells nothing of a white
BRIGHTEST_WHITE = 252.0  # a judgement: a camera that is dazzled writes 255 whatever the light was


def middle(pixels: Sequence[Triple]) -> Triple:
    """The middle colour of a spot, channel by channel: glints and specks do not move it."""
    channels = zip(*pixels, strict=True)
    red, green, blue = (sorted(each)[len(pixels) // 2] for each in channels)
    return red, green, blue


def spread(pixels: Sequence[Triple]) -> float:
    """How far the points of a spot lie from its middle: half of them nearer than this (CIEDE2000).

    >>> spread([(10, 20, 30)] * 9)
    0.0
    """
    centre = lab_of(middle(pixels))
    found = sorted(apart(lab_of(each), centre) for each in pixels)
    return found[len(found) // 2]


def length_beside(
    bead: float, known: float, known_mm: float, *, slip: float
) -> tuple[float, float]:
    """How long a thing is that lies beside a thing of known length, and the doubt of it [mm].

    bead, known  what the two measure in the picture [points of the picture]
    slip         how far each of the four tapped points may be off [points of the picture]

    The doubt is one standard deviation: two slips at each end of both, squared and added
    (JCGM 100:2008, 5.1.2, for a quotient). It knows nothing of a thing that lies nearer to the
    camera than the other.
    Raises ValueError where nothing was measured.

    >>> size, doubt = length_beside(300, 600, 24, slip=3)
    >>> round(size, 1), round(doubt, 2)
    (12.0, 0.19)
    """
    if min(bead, known, known_mm) <= 0:
        raise ValueError("nothing was measured")
    size = known_mm * bead / known
    return size, size * sqrt(2) * slip * hypot(1 / bead, 1 / known)
