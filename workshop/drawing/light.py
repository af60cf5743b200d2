"""What the light does on a bead: matt powder, light coming through fused glass, gloss on paint."""

from workshop.drawing.colours import luminance
from workshop.drawing.look import DrawnBead
from workshop.drawing.svg import INK, num, tag


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


def _flat_light(prefix: str, bead: DrawnBead) -> str:
    """Light and shade as plain bands, for paper: PDF viewers disagree about soft gradients."""
    shape = bead.outline
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


def light(prefix: str, bead: DrawnBead, *, paper: bool) -> str:
    """What the light does on it; `lights` must stand in the same drawing unless it is for paper."""
    shape = bead.outline
    overlay = {"powder": "matt", "remade": "matt", "fused": "through"}.get(bead.finish, "gloss")
    if paper:
        parts = [_flat_light(prefix, bead)]
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


def edge(bead: DrawnBead) -> str:
    """A fine edge, so that white and clear beads do not vanish on paper."""
    shape = bead.outline
    pale = max(luminance(colour) for colour in bead.colours) > 0.5
    return tag(
        "path",
        d=shape.path,
        fill="none",
        class_="sd-edge",
        stroke=INK,
        stroke_opacity=0.5 if pale else 0.3,
        stroke_width=0.28,
    )
