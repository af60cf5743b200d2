"""Colours of glass: lighter, darker, and how light they look."""

import re

_HEX = re.compile(r"#[0-9a-fA-F]{6}\Z")
UNKNOWN = "#b9b2a3"


def checked(colour: str) -> str:
    """A colour as #rrggbb; anything else is drawn as undyed clay rather than let into the page."""
    return colour.lower() if _HEX.match(colour or "") else UNKNOWN


def channels(colour: str) -> tuple[int, int, int]:
    """Red, green and blue of a colour such as "#2e5e4e", each 0 to 255.

    >>> channels("#2e5e4e")
    (46, 94, 78)

    Source: hexadecimal sRGB notation, CSS Color Module Level 4.
    """
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)


def mix(colour: str, other: str, share: float) -> str:
    """`share` of the other colour stirred into the first.

    >>> mix("#000000", "#ffffff", 0.5)
    '#808080'
    """
    pairs = zip(channels(colour), channels(other), strict=True)
    return "#" + "".join(f"{round(a + (b - a) * share):02x}" for a, b in pairs)


def luminance(colour: str) -> float:
    """Relative luminance, 0 black to 1 white.

    Source: WCAG 2.2, definition of relative luminance.
    """

    def linear(channel: int) -> float:
        share = channel / 255
        return share / 12.92 if share <= 0.04045 else ((share + 0.055) / 1.055) ** 2.4

    red, green, blue = (linear(channel) for channel in channels(colour))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio of two colours, 1 to 21.

    Source: WCAG 2.2, definition of contrast ratio.
    """
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)
