"""A bead that may only be typed: its picture with measures, its glass, and what is to be expected
of its firing. Nothing is written.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext as _

from orders.drawn.strands import bead_drawing
from orders.firing.queries.advice import Counsel, counsels
from stock.masses import fill_mg, finished_mg
from stock.models import Bead, BeadColour, GlassColour
from stock.services.fitness import mould_fault
from workshop import formats
from workshop.drawing import DrawnBead
from workshop.models import Kiln, Programme
from workshop.physics.shapes import ShapeError

NOT_SAVED = 0  # the key of a bead that is only being typed


@dataclass(frozen=True)
class Look:
    """The bead drawn with its measures in words; or the sentence that says which size is amiss."""

    drawn: DrawnBead | None = None
    bore_mm: float = 0.0
    said: tuple[str, str, str] = ("", "", "")
    mass_g: Decimal | None = None
    fill_g: Decimal | None = None
    fault: str = ""


@dataclass(frozen=True)
class Judged:
    """What is beside the bead: its mould, and what physics says of its firing."""

    mould: str = ""
    mould_fault: str = ""
    programme: str = ""
    counsels: Sequence[Counsel] = ()


def laid_shares(bead: Bead, rows: Sequence[tuple[int, GlassColour, Decimal]]) -> list[BeadColour]:
    """The colours that stand in the rows, in their order; the bead then has them as its own."""
    bead.pk = bead.pk or NOT_SAVED
    shares = [
        BeadColour(bead=bead, colour=colour, share=share, layer=layer)
        for layer, (_row, colour, share) in enumerate(rows)
    ]
    bead._prefetched_objects_cache = {"colours": shares}  # type: ignore[attr-defined]
    return shares


def looked_at(bead: Bead, shares: Sequence[BeadColour]) -> Look:
    """The bead's picture and masses, as far as its sizes leave glass."""
    try:
        shape = bead.measure()
        drawn = bead_drawing(bead, shares)
    except ShapeError as error:
        return Look(fault=error.said(_))
    said = (
        formats.mm(_tenth(shape.length_on_cord_mm())),
        formats.mm(_tenth(shape.across_mm())),
        _("bore %(size)s") % {"size": formats.mm(bead.bore_mm)},
    )
    look = Look(drawn, float(bead.bore_mm), said)
    if not shares:
        return look
    return Look(
        drawn, look.bore_mm, said, finished_mg(bead, shares) / 1000, fill_mg(bead, shares) / 1000
    )


def _tenth(size_mm: float) -> Decimal:
    return round(Decimal(repr(size_mm)), 1)


def judged(bead: Bead, shares: Sequence[BeadColour]) -> Judged:
    """Whether the mould fits, and what is to be expected of the firing, where they are chosen."""
    mould = bead.mould if bead.mould_id else None
    programme = bead.programme if bead.programme_id else None
    try:
        shape = bead.measure()
    except ShapeError:
        return Judged()
    fault = mould_fault(mould, shape) if mould else ""
    found: Sequence[Counsel] = ()
    if mould and programme and shares and bead.kind:
        kilns = [kiln for kiln in Kiln.objects.filter(in_use=True) if _reaches(kiln, programme)]
        found = counsels(bead, programme, kilns[:1])
    return Judged(str(mould or ""), fault, str(programme or ""), found)


def _reaches(kiln: Kiln, programme: Programme) -> bool:
    return kiln.lowest_c <= programme.hold_c <= kiln.highest_c
