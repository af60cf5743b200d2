"""One bead in side view, to scale, from its shape, its glass and how it was made.

Powder beads are matt; fused ones let the light through; painted ones carry a painted band;
remade ones show the pieces they were; a centrepiece is ringed and dotted.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from hashlib import blake2s
from types import MappingProxyType
from typing import Any

from workshop.drawing.colours import checked, luminance, mix
from workshop.drawing.outlines import Outline, outline
from workshop.drawing.svg import INK, num, svg, tag

FINISHES = ("powder", "fused", "remade", "painted", "centrepiece", "metal")
PATTERNS = ("plain", "layers", "stripes", "mixed")


@dataclass(frozen=True)
class Glass:
    """A colour in a bead: #rrggbb, its share of the bead, and whether light comes through it."""

    colour: str
    share: float = 1.0
    see_through: bool = True


@dataclass(frozen=True)
class DrawnBead:
    """What can be seen of a bead.

    shape    a key of outlines.OUTLINES
    sizes    its dimensions by name, mm
    glass    its colours in order, the first at the left or outermost
    pattern  "plain", "layers" across the bore, "stripes" along it, or "mixed"
    finish   kind of bead: "powder", "fused", "remade", "painted", "centrepiece"; "metal" for a finding
    """

    shape: str
    sizes: Mapping[str, float] = field(hash=False)
    glass: tuple[Glass, ...] = (Glass("#b9b2a3"),)
    pattern: str = "plain"
    finish: str = "powder"

    @cached_property
    def outline(self) -> Outline:
        return outline(self.shape, self.sizes)

    @property
    def length_mm(self) -> float:
        """What it takes up on the cord."""
        return self.outline.length

    @property
    def across_mm(self) -> float:
        return self.outline.height

    @cached_property
    def mark(self) -> str:
        """Short name of this very drawing; equal beads share it."""
        told = f"{self.shape}{sorted(self.sizes.items())}{self.glass}{self.pattern}{self.finish}"
        return blake2s(told.encode(), digest_size=4).hexdigest()


def drawn_bead(
    shape: Any,
    glass: tuple[Glass, ...] | list[Glass],
    *,
    pattern: str = "plain",
    finish: str = "powder",
) -> DrawnBead:
    """A DrawnBead from a `workshop.physics.shapes.BeadShape` and its colours."""
    sizes = {name: float(getattr(shape, name)) for name in shape.__match_args__}
    return DrawnBead(
        shape.kind, MappingProxyType(sizes), tuple(glass), pattern=pattern, finish=finish
    )


def spacer(length_mm: float, across_mm: float, colour: str = "#b08d57") -> DrawnBead:
    """A metal or shell finding that lies between beads."""
    sizes = MappingProxyType(
        {"length_mm": float(length_mm) or 1.0, "diameter_mm": float(across_mm) or 3.0}
    )
    return DrawnBead("spacer", sizes, (Glass(colour, see_through=False),), finish="metal")


# --- light: three overlays that all beads of a drawing share ---------------------------------


def _stop(offset: str, colour: str, opacity: float) -> str:
    return tag("stop", offset=offset, stop_color=colour, stop_opacity=float(opacity))


def _fall(name: str, *stops: str) -> str:
    return tag("linearGradient", "".join(stops), id=name, x1="0", y1="0", x2="0", y2="1")


def lights(prefix: str, finishes: set[str]) -> str:
    """The gradients that the finishes in a drawing need."""
    made = []
    if finishes & {"powder", "remade"}:
        made.append(
            _fall(
                f"{prefix}-matt",
                _stop("0", "#ffffff", 0.2),
                _stop(".4", "#ffffff", 0.03),
                _stop("1", "#1a1208", 0.3),
            )
        )
    if finishes - {"powder", "remade", "fused"}:
        made.append(
            _fall(
                f"{prefix}-gloss",
                _stop("0", "#ffffff", 0.1),
                _stop(".2", "#ffffff", 0.42),
                _stop(".42", "#ffffff", 0),
                _stop("1", "#120c06", 0.4),
            )
        )
    if "fused" in finishes:
        # Light falls in at the top and gathers low in the glass: dark above, bright below.
        made.append(
            _fall(
                f"{prefix}-through",
                _stop("0", "#120c06", 0.3),
                _stop(".45", "#120c06", 0.05),
                _stop("1", "#120c06", 0.12),
            )
            + tag(
                "radialGradient",
                _stop("0", "#ffffff", 0.62)
                + _stop(".55", "#ffffff", 0.2)
                + _stop("1", "#ffffff", 0),
                id=f"{prefix}-glow",
                cx=".5",
                cy=".8",
                r=".52",
            )
        )
    return "".join(made)


# --- how the colours lie ----------------------------------------------------------------------


def _shares(glass: tuple[Glass, ...]) -> list[float]:
    whole = sum(max(0.0, g.share) for g in glass) or 1.0
    return [max(0.0, g.share) / whole for g in glass]


def _rect(x: float, y: float, w: float, h: float, fill: str) -> str:
    return tag("rect", x=float(x), y=float(y), width=float(w), height=float(h), fill=fill)


def _layers(bead: DrawnBead, shape: Outline) -> str:
    """Bands across the bore, the first colour again at the far end when there are more than two."""
    parts, x = [], -shape.length / 2
    for glass, share in zip(bead.glass, _shares(bead.glass), strict=True):
        wide = shape.length * share
        parts.append(_rect(x, -shape.height / 2, wide + 0.05, shape.height, checked(glass.colour)))
        x += wide
    return "".join(parts)


def _stripes(bead: DrawnBead, shape: Outline) -> str:
    """Canes along the bore: about six across the face, each colour returning in turn."""
    rounds = max(1, round(6 / len(bead.glass)))
    parts, y = [], -shape.height / 2
    for _ in range(rounds):
        for glass, share in zip(bead.glass, _shares(bead.glass), strict=True):
            high = shape.height * share / rounds
            parts.append(
                _rect(-shape.length / 2, y, shape.length, high + 0.05, checked(glass.colour))
            )
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
    colours = [checked(g.colour) for g in bead.glass]
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
    "mixed": _mixed,
}


# --- how it was made --------------------------------------------------------------------------


def _clipped(prefix: str, bead: DrawnBead, inside: str, shape: Outline) -> str:
    name = f"{prefix}-{bead.mark}-c"
    clip = tag("clipPath", tag("path", d=shape.path), id=name)
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


def _centre_detail(shape: Outline, colours: list[str]) -> str:
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


def _contrasting(colour: str) -> str:
    return "#f4ead2" if luminance(colour) < 0.35 else mix(colour, "#1b1408", 0.72)


def _body(prefix: str, bead: DrawnBead, shape: Outline) -> str:
    colours = [checked(g.colour) for g in bead.glass] or ["#b9b2a3"]
    several = len(colours) > 1
    if bead.finish == "painted":
        paint = colours[1] if several else _contrasting(colours[0])
        inside = _painted_band(shape, colours[0], paint)
    elif bead.finish == "centrepiece" and bead.pattern in {"plain", "layers"}:
        inside = _centre_detail(shape, colours)
    elif bead.pattern in _LAYOUTS and (several or bead.pattern == "mixed"):
        return _clipped(prefix, bead, _LAYOUTS[bead.pattern](bead, shape), shape)
    elif bead.finish == "remade":
        return _clipped(prefix, bead, _mixed(bead, shape), shape)
    elif several:
        return _clipped(prefix, bead, _layers(bead, shape), shape)
    else:
        return tag("path", d=shape.path, fill=colours[0])
    ground = tag("path", d=shape.path, fill=colours[0])
    return ground + _clipped(prefix, bead, inside, shape)


def _flat_light(prefix: str, bead: DrawnBead, shape: Outline) -> str:
    """Light and shade as plain bands, for paper: PDF viewers disagree about soft gradients."""
    half, wide = shape.height / 2, shape.length + 0.2
    shade = ("#ffffff", 0.22) if bead.finish == "fused" else ("#1a1208", 0.16)
    top = {"fused": ("#1a1208", 0.12), "powder": ("#ffffff", 0.1), "remade": ("#ffffff", 0.1)}.get(
        bead.finish, ("#ffffff", 0.2)
    )
    bands = "".join(
        tag(
            "rect",
            x=-wide / 2,
            y=y,
            width=wide,
            height=high,
            fill=colour,
            fill_opacity=float(opacity),
        )
        for y, high, (colour, opacity) in (
            (-half, half * 0.62, top),
            (half * 0.3, half * 0.7, shade),
            (half * 0.64, half * 0.36, shade),
        )
    )
    name = f"{prefix}-{bead.mark}-l"
    clip = tag("clipPath", tag("path", d=shape.path), id=name)
    return clip + tag("g", bands, clip_path=f"url(#{name})")


def _light(prefix: str, bead: DrawnBead, shape: Outline, *, paper: bool) -> str:
    """What the light does on it."""
    overlay = {"powder": "matt", "remade": "matt", "fused": "through"}.get(bead.finish, "gloss")
    if paper:
        parts = [_flat_light(prefix, bead, shape)]
    else:
        parts = [tag("path", d=shape.path, fill=f"url(#{prefix}-{overlay})")]
    if bead.finish == "fused":
        if not paper:
            parts.append(tag("path", d=shape.path, fill=f"url(#{prefix}-glow)"))
        if any(glass.see_through for glass in bead.glass):
            bore = float(bead.sizes.get("bore_mm", 0.0))
            # The cord is seen through the glass.
            parts.append(
                tag(
                    "path",
                    d=f"M{num(-shape.length / 2)} 0H{num(shape.length / 2)}",
                    stroke="#2a2419",
                    stroke_opacity=0.3,
                    stroke_width=min(bore, 0.9),
                )
            )
        parts.append(
            tag(
                "ellipse",
                cx=-shape.length * 0.16,
                cy=-shape.height * 0.3,
                rx=shape.length * 0.15,
                ry=shape.height * 0.065,
                fill="#ffffff",
                fill_opacity=0.72,
            )
        )
    elif overlay == "gloss":
        parts.append(
            tag(
                "ellipse",
                cx=-shape.length * 0.12,
                cy=-shape.height * 0.3,
                rx=shape.length * 0.2,
                ry=shape.height * 0.05,
                fill="#ffffff",
                fill_opacity=0.55,
            )
        )
    return "".join(parts)


def _edge(shape: Outline, colour: str) -> str:
    """A fine edge, so that white and clear beads do not vanish on paper."""
    pale = luminance(colour) > 0.5
    return tag(
        "path",
        d=shape.path,
        fill="none",
        class_="sd-edge",
        stroke=INK,
        stroke_opacity=0.5 if pale else 0.3,
        stroke_width=0.28,
    )


def bead_parts(prefix: str, bead: DrawnBead, *, paper: bool = False) -> str:
    """The bead about 0, 0 in mm, without the gradients of `lights`."""
    shape = bead.outline
    colours = [checked(g.colour) for g in bead.glass] or ["#b9b2a3"]
    palest = max(colours, key=luminance)
    eye = (
        tag(
            "circle",
            cx=shape.eye[0],
            cy=shape.eye[1],
            r=shape.height * 0.06,
            fill=_contrasting(colours[0]),
        )
        if shape.eye
        else ""
    )
    return (
        _body(prefix, bead, shape)
        + _light(prefix, bead, shape, paper=paper)
        + eye
        + _edge(shape, palest)
    )


def bead_svg(
    bead: DrawnBead,
    *,
    px_per_mm: float = 4.0,
    title: str = "",
    prefix: str = "b",
    paper: bool = False,
) -> str:
    """One bead on a stub of cord, drawn `px_per_mm` times its size; `paper` for PDF."""
    stub = max(1.5, bead.length_mm * 0.18)
    wide, high = bead.length_mm + 2 * stub, bead.across_mm + 1
    cord = tag(
        "path",
        d=f"M{num(-wide / 2)} 0H{num(wide / 2)}",
        class_="sd-cord",
        stroke="#8d8370",
        stroke_width=0.6,
    )
    body = (
        ("" if paper else tag("defs", lights(prefix, {bead.finish})))
        + cord
        + tag("g", bead_parts(prefix, bead, paper=paper), class_=f"sd-bead {bead.shape}")
    )
    return svg(
        body,
        width=wide * px_per_mm,
        height=high * px_per_mm,
        view=(-wide / 2, -high / 2, wide, high),
        title=title,
    )
