"""Papers for the kiln and the bench: the load sheet and the work ticket. No prices, no debts."""

from dataclasses import dataclass

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from orders.drawn.pictures import bead_pictures
from orders.firing.queries.kilns import (
    cautions_of,
    fuel_expected,
    places_taken,
    times_of,
)
from orders.firing.queries.load_advice import load_advice
from orders.firing.queries.trays import TrayRow, tray_rows, trays_of
from orders.floor.glass_shelf import shares_by_bead
from orders.papers.epc import qr_svg
from orders.papers.live import base_context
from stock.models import KilnLoad
from workshop.letterhead import written_to
from workshop.models import Business


@dataclass(frozen=True)
class SheetTray:
    """A tray with its bead drawn for paper."""

    row: TrayRow
    picture: str


@written_to()
def load_sheet_html(load: KilnLoad, business: Business, address: str = "") -> str:
    """What goes into the kiln, how it is fired, and boxes to write what came out.

    address  of the load's own page, for the code that a phone reads
    """
    trays = trays_of(load)
    colours = shares_by_bead(tray.bead_id for tray in trays)
    rows = tray_rows(trays, colours)
    pictures = bead_pictures([(row.tray.bead_id, row.drawn) for row in rows])
    context = base_context(
        business,
        _("Load sheet"),
        load=load,
        rows=[SheetTray(row, pictures.get(row.tray.bead_id, "")) for row in rows],
        times=times_of(load),
        taken=places_taken(trays),
        beads=sum(tray.beads for tray in trays),
        # On paper only what the keeper must act on; the screen says the rest.
        advice=[each for each in load_advice(load, trays) if each.warns or each.whole_load],
        fuel=fuel_expected(load, trays, colours),
        cautions=cautions_of(load, trays),
        code=mark_safe(qr_svg(address)) if address else "",
    )
    return render_to_string("print/load_sheet.html", context)
