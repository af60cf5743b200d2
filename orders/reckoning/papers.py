"""The cost sheet: the kept working of an order on paper."""

from collections.abc import Mapping
from typing import Any

from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from orders.models import Order
from orders.papers.live import base_context
from orders.reckoning.answer import answer_of
from orders.reckoning.working import kept_term
from workshop.letterhead import written_to
from workshop.models import Business

SHEET_DEPTH = 3  # deep enough to follow the money, and still a few pages


@written_to()
def cost_sheet_html(
    order: Order,
    business: Business,
    working: Mapping[str, Any] | None = None,
    *,
    whole: bool = False,
) -> str:
    """The answer of an order (or its quote), and behind it the kept working, so far or in full."""
    kept = working or order.working
    assert kept is not None
    tree = kept_term(kept["tree"])
    rows = []

    def open_up(term: Any, depth: int) -> None:
        rows.append({"term": term, "depth": min(depth, 7)})
        if whole or depth < SHEET_DEPTH:
            for child in term.children:
                open_up(child, depth + 1)

    open_up(tree, 0)
    context = base_context(
        business,
        _("Cost sheet"),
        order=order,
        answer=answer_of(tree),
        rows=rows,
        whole=whole,
    )
    return render_to_string("print/cost_sheet.html", context)
