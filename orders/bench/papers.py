"""The bench's paper: the work ticket. No prices, no debts."""

from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from orders.bench.queries.work import BenchWork
from orders.drawn.pictures import bead_pictures
from orders.firing.queries.trays import drawn_rows
from orders.papers.live import base_context
from workshop.letterhead import written_to
from workshop.models import Business


@written_to()
def bench_ticket_html(work: BenchWork, business: Business) -> str:
    """The day's work at the bench, with the glass to weigh out and boxes to write into."""
    jobs = [*work.to_mould, *work.to_paint, *work.to_finish]
    kinds = [each.job.bead for each in jobs] + [each.batch.bead for each in work.shelf_to_paint]
    drawn = drawn_rows(kinds)
    pictures = bead_pictures(list(drawn.items()))

    def pictured(each: Any) -> dict[str, Any]:
        return {"work": each, "picture": pictures.get(each.job.bead_id, "")}

    context = base_context(
        business,
        _("Work ticket"),
        work=work,
        to_mould=[pictured(each) for each in work.to_mould],
        to_paint=[pictured(each) for each in work.to_paint],
        shelf_to_paint=[
            {"work": each, "picture": pictures.get(each.batch.bead_id, "")}
            for each in work.shelf_to_paint
        ],
        to_finish=[pictured(each) for each in work.to_finish],
        to_pierce=work.to_pierce,
        to_string=work.to_string,
        to_pack=work.to_pack,
    )
    return render_to_string("print/bench_ticket.html", context)
