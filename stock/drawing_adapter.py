"""Rows of beads into the pictures that the drawing room makes."""

from stock.models import Bead
from workshop.drawing import DrawnBead, Glass, drawn_bead
from workshop.physics.shapes import ShapeError


def draw_bead(bead: Bead) -> DrawnBead | None:
    """The bead to scale; None while its sizes leave no glass. Colours must be prefetched."""
    glass = [
        Glass(part.colour.swatch, float(part.share), part.colour.see_through)
        for part in bead.colours.all()
    ]
    try:
        shape = bead.measure()
    except ShapeError:
        return None
    return drawn_bead(shape, glass or [Glass("#b9b2a3")], pattern=bead.pattern, finish=bead.kind)
