"""How the colours lie in a bead and what is painted on it: mm, clipped to its outline."""

from collections.abc import Callable, Sequence

from workshop.drawing.colours import luminance, mix
from workshop.drawing.look import DrawnBead, Glass
from workshop.drawing.outlines import Outline
from workshop.drawing.svg import num, tag


def _shares(glass: tuple[Glass, ...]) -> list[float]:
    """Shares that add up to one; equal ones if none is given, and for a bead without glass."""
    whole = sum(max(0.0, g.share) for g in glass)
    if whole <= 0:
        return [1 / max(1, len(glass))] * max(1, len(glass))
    return [max(0.0, g.share) / whole for g in glass]


def _rect(x: float, y: float, w: float, h: float, fill: str) -> str:
    return tag("rect", x=float(x), y=float(y), width=float(w), height=float(h), fill=fill)


def _layers(bead: DrawnBead, shape: Outline) -> str:
    """Bands across the bore, each as long as its share."""
    parts, x = [], -shape.length / 2
    for colour, share in zip(bead.colours, _shares(bead.glass), strict=True):
        wide = shape.length * share
        parts.append(_rect(x, -shape.height / 2, wide + 0.05, shape.height, colour))
        x += wide
    return "".join(parts)


def _stripes(bead: DrawnBead, shape: Outline) -> str:
    """Canes along the bore: about six across the face, each colour returning in turn."""
    rounds = max(1, round(6 / len(bead.glass)))
    parts, y = [], -shape.height / 2
    for _ in range(rounds):
        for colour, share in zip(bead.colours, _shares(bead.glass), strict=True):
            high = shape.height * share / rounds
            parts.append(_rect(-shape.length / 2, y, shape.length, high + 0.05, colour))
            y += high
    return "".join(parts)


# Where chips lie in a unit box, and how they are turned; irregular on purpose, the same each time.
_CHIPS = (
    (-0.34, -0.22, 0.2, 25),
    (0.1, -0.36, 0.17, 60),
    (0.36, -0.1, 0.19, 10),
    (-0.12, 0.04, 0.22, 75),
    (0.22, 0.24, 0.2, 40),
    (-0.3, 0.3, 0.18, 5),
    (0.02, 0.42, 0.14, 50),
)


def _mixed(bead: DrawnBead, shape: Outline) -> str:
    """Pieces of every colour, as they were pressed together."""
    colours = bead.colours
    ground = _rect(-shape.length / 2, -shape.height / 2, shape.length, shape.height, colours[0])
    others = colours[1:] or [mix(colours[0], "#ffffff", 0.28), mix(colours[0], "#000000", 0.25)]
    chips = []
    for place, (u, v, size, turn) in enumerate(_CHIPS):
        w, h = size * shape.length, size * shape.height * 1.15
        x, y = u * shape.length, v * shape.height
        chips.append(
            tag(
                "path",
                d=f"M{num(x - w)} {num(y - h * 0.4)}L{num(x + w * 0.3)} {num(y - h)}"
                f"L{num(x + w)} {num(y + h * 0.5)}L{num(x - w * 0.4)} {num(y + h)}Z",
                fill=others[place % len(others)],
                transform=f"rotate({turn} {num(x)} {num(y)})",
            )
        )
    return ground + "".join(chips)


_LAYOUTS: dict[str, Callable[[DrawnBead, Outline], str]] = {
    "layers": _layers,
    "stripes": _stripes,
}


def _clipped(prefix: str, bead: DrawnBead, inside: str) -> str:
    name = f"{prefix}-{bead.mark}-c"
    clip = tag("clipPath", tag("path", d=bead.outline.path), id=name)
    return clip + tag("g", inside, clip_path=f"url(#{name})")


def _painted_band(shape: Outline, ground: str, paint: str) -> str:
    """A band of paint round the waist with dots on it."""
    wide = shape.length * 0.3
    dots = "".join(
        tag("circle", cx=0.0, cy=shape.height * v, r=min(wide, shape.height) * 0.17, fill=ground)
        for v in (-0.32, 0.0, 0.32)
    )
    lines = "".join(
        _rect(x - wide * 0.06, -shape.height / 2, wide * 0.12, shape.height, paint)
        for x in (-wide * 0.8, wide * 0.8)
    )
    return _rect(-wide / 2, -shape.height / 2, wide, shape.height, paint) + lines + dots


def _centre_detail(shape: Outline, colours: Sequence[str]) -> str:
    """Rings at the shoulders and an eye in the middle: work that takes an afternoon."""
    first, second = colours[0], colours[1] if len(colours) > 1 else mix(colours[0], "#ffffff", 0.7)
    third = colours[2] if len(colours) > 2 else mix(second, "#ffffff", 0.55)
    line = shape.length * 0.045
    rings = "".join(
        _rect(x - line / 2, -shape.height / 2, line, shape.height, second)
        for x in (
            -shape.length * 0.36,
            -shape.length * 0.28,
            shape.length * 0.28,
            shape.length * 0.36,
        )
    )
    r = min(shape.length, shape.height) * 0.2
    eye = "".join(
        tag("circle", cx=0.0, cy=0.0, r=r * share, fill=fill)
        for share, fill in ((1.0, second), (0.68, third), (0.36, first))
    )
    small = "".join(
        tag("circle", cx=0.0, cy=y, r=r * 0.3, fill=third)
        for y in (-shape.height * 0.36, shape.height * 0.36)
    )
    return rings + eye + small


def contrasting(colour: str) -> str:
    """A colour that is seen on this one."""
    return "#f4ead2" if luminance(colour) < 0.35 else mix(colour, "#1b1408", 0.72)


def body(prefix: str, bead: DrawnBead) -> str:
    """The glass of a bead, before any light falls on it."""
    shape, colours = bead.outline, bead.colours
    several = len(colours) > 1
    ground = tag("path", d=shape.path, fill=colours[0])
    if bead.finish == "painted":
        paint = colours[1] if several else contrasting(colours[0])
        return ground + _clipped(prefix, bead, _painted_band(shape, colours[0], paint))
    if bead.finish == "centrepiece" and bead.pattern in {"plain", "layers"}:
        return ground + _clipped(prefix, bead, _centre_detail(shape, colours))
    if bead.finish == "remade" or bead.pattern == "mixed":
        return _clipped(prefix, bead, _mixed(bead, shape))
    if several:
        return _clipped(prefix, bead, _LAYOUTS.get(bead.pattern, _layers)(bead, shape))
    return ground
