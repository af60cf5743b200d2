"""One bead in side view, to scale, from its shape, its glass and how it was made.

Powder beads are matt; fused ones let the light through; painted ones carry a painted band;
remade ones show the pieces they were; a centrepiece is ringed and dotted.
"""

from workshop.drawing.layouts import body, contrasting
from workshop.drawing.light import edge, light, lights
from workshop.drawing.look import DrawnBead
from workshop.drawing.svg import CORD, Frame, num, svg, tag


def bead_parts(prefix: str, bead: DrawnBead, *, paper: bool = False) -> str:
    """The bead about 0, 0 in mm, without the gradients of `lights`."""
    eye = ""
    if place := bead.outline.eye:
        eye = tag(
            "circle",
            cx=place[0],
            cy=place[1],
            r=bead.across_mm * 0.06,
            fill=contrasting(bead.colours[0]),
        )
    return body(prefix, bead) + light(prefix, bead, paper=paper) + eye + edge(bead)


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
        stroke=CORD,
        stroke_width=0.6,
    )
    picture = (
        ("" if paper else tag("defs", lights(prefix, {bead.finish})))
        + cord
        + tag("g", bead_parts(prefix, bead, paper=paper), class_=f"sd-bead {bead.shape}")
    )
    return svg(
        picture,
        Frame(
            width=wide * px_per_mm,
            height=high * px_per_mm,
            view=(-wide / 2, -high / 2, wide, high),
            title=title,
        ),
    )
