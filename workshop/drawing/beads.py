"""One bead in side view, to scale, from its shape, its glass and how it was made.

Powder beads are matt; fused ones let the light through; painted ones carry a painted band;
remade ones show the pieces they were; a centrepiece is ringed and dotted.
"""

from functools import lru_cache

from workshop.drawing.layouts import body, contrasting
from workshop.drawing.light import edge, light, lights
from workshop.drawing.look import DrawnBead
from workshop.drawing.svg import CORD, Frame, num, svg, tag, words

MOST_MEASURED_PX, MOST_MEASURED_PX_PER_MM = 130.0, 11.0


# The same few hundred beads are drawn on every page, under the same few names.
@lru_cache(maxsize=2048)
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


def measured_svg(
    bead: DrawnBead, *, bore_mm: float, said: tuple[str, str, str], prefix: str, title: str
) -> str:
    """One bead large, with its measures on it: along the bore, across it, and the bore itself.

    said  the three measures in words, in this order
    """
    high, wide = bead.across_mm, bead.length_mm
    scale = min(MOST_MEASURED_PX / max(high, wide), MOST_MEASURED_PX_PER_MM)
    one = 1 / scale  # a pixel
    x, y = wide / 2, high / 2
    below, beside = y + 16 * one, x + 16 * one
    bore = min(bore_mm, high * 0.9) / 2
    lines = (
        f"M{num(-x)} {num(below)}H{num(x)}M{num(-x)} {num(below - 5 * one)}v{num(10 * one)}"
        f"M{num(x)} {num(below - 5 * one)}v{num(10 * one)}"
        f"M{num(beside)} {num(-y)}V{num(y)}M{num(beside - 5 * one)} {num(-y)}h{num(10 * one)}"
        f"M{num(beside - 5 * one)} {num(y)}h{num(10 * one)}"
    )
    pen = {"class_": "sd-axis", "stroke": CORD, "fill": "none", "stroke_width": one}
    along, across, through = (
        words(0.0, below + 19 * one, said[0], size=14 * one, text_anchor="middle"),
        words(beside + 9 * one, 5 * one, said[1], size=14 * one),
        words(-x - 12 * one, -bore - 7 * one, said[2], size=14 * one, text_anchor="end"),
    )
    hole = f"M{num(-x - 8 * one)} {num(-bore)}H{num(x)}M{num(-x - 8 * one)} {num(bore)}H{num(x)}"
    left, right, top, foot = 92 * one, 84 * one, 22 * one, 40 * one
    picture = (
        tag("defs", lights(prefix, {bead.finish}))
        + tag("g", bead_parts(prefix, bead), class_=f"sd-bead {bead.shape}")
        + tag("path", d=hole, stroke_dasharray=f"{num(4 * one)} {num(3 * one)}", **pen)
        + tag("path", d=lines, **pen)
        + along
        + across
        + through
    )
    view = (-x - left, -y - top, wide + left + right, high + top + foot)
    return svg(
        picture,
        Frame(
            width=view[2] * scale,
            height=view[3] * scale,
            view=view,
            title=title,
            class_="sd-measured",
            text=True,
        ),
    )
