"""Papers for the kiln and the bench: the load sheet and the work ticket. No prices, no debts."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from orders.papers.live import base_context
from orders.queries.bench import BenchWork
from orders.queries.kilns import (
    cautions_of,
    fuel_expected,
    load_advice,
    places_taken,
    times_of,
)
from orders.queries.trays import TrayRow, drawn_rows, tray_rows, trays_of
from stock.models import KilnLoad
from workshop.drawing import strand_svg
from workshop.models import Business


@dataclass(frozen=True)
class SheetTray:
    """A tray with its bead drawn for paper."""

    row: TrayRow
    picture: str


def load_sheet_html(load: KilnLoad, business: Business) -> str:
    """What goes into the kiln, how it is fired, and boxes to write what came out."""
    trays = trays_of(load)
    rows = tray_rows(trays)
    pictures = _pictures([(row.tray.bead_id, row.drawn) for row in rows])
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
        fuel=fuel_expected(load, trays),
        cautions=cautions_of(load, trays),
    )
    return render_to_string("print/load_sheet.html", context)


def bench_ticket_html(work: BenchWork, business: Business) -> str:
    """The day's work at the bench, with the glass to weigh out and boxes to write into."""
    jobs = [*work.to_mould, *work.to_paint, *work.to_finish]
    drawn = drawn_rows(each.job.bead for each in jobs)
    pictures = _pictures(list(drawn.items()))

    def pictured(each: Any) -> dict[str, Any]:
        return {"work": each, "picture": pictures.get(each.job.bead_id, "")}

    context = base_context(
        business,
        _("Work ticket"),
        work=work,
        to_mould=[pictured(each) for each in work.to_mould],
        to_paint=[pictured(each) for each in work.to_paint],
        to_finish=[pictured(each) for each in work.to_finish],
        to_string=work.to_string,
    )
    return render_to_string("print/bench_ticket.html", context)


def _pictures(drawn: Sequence[tuple[int, Any]]) -> dict[int, str]:
    return {
        pk: strand_svg(strand, width=120, paper=True, prefix=f"b{pk}")
        for pk, strand in drawn
        if strand is not None
    }
