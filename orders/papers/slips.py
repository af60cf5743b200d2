"""The order slip and the cost sheet."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from orders.models import Order
from orders.papers.live import base_context
from orders.papers.pages import Line, address_lines, price
from orders.papers.snapshot import buyer_of, drawings
from orders.papers.titles import titled
from orders.queries.money import order_money
from orders.services.working import kept_term
from workshop.formats import length
from workshop.models import Business

ZERO = Decimal(0)


def order_slip_html(order: Order, business: Business, *, roll: bool = False) -> str:
    """What was ordered, until when, and what was paid on it."""
    lines = list(order.lines.select_related("design"))
    pictures = drawings(line.design for line in lines)
    purse = order_money(order)
    buyer = buyer_of(order.customer)
    context = base_context(
        business,
        _("Order slip"),
        order=order,
        buyer=buyer,
        buyer_lines=address_lines(buyer),
        lines=[
            Line(
                line.design.name,
                length(line.design.finished_mm),
                line.strands,
                price(line.price, business.currency),
                line.price * line.strands,
                mark_safe(titled(pictures.get(str(line.design_id), ""), line.design.name)),
                "",
            )
            for line in lines
        ],
        total=order.total or sum((line.price * line.strands for line in lines), ZERO),
        paid=purse.paid,
    )
    context["left"] = context["total"] - context["paid"]
    return render_to_string(
        "print/order_slip_roll.html" if roll else "print/order_slip.html", context
    )


SHEET_DEPTH = 3  # deep enough to follow the money, and still a few pages


def cost_sheet_html(
    order: Order,
    business: Business,
    working: Mapping[str, Any] | None = None,
    *,
    whole: bool = False,
) -> str:
    """The kept working of an order (or of its quote): the tree of its page, so far or in full."""
    kept = working or order.working
    assert kept is not None
    tree = kept_term(kept["tree"])
    rows = []

    def open_up(term, depth: int) -> None:
        rows.append({"term": term, "depth": min(depth, 7)})
        if whole or depth < SHEET_DEPTH:
            for child in term.children:
                open_up(child, depth + 1)

    open_up(tree, 0)
    context = base_context(business, _("Cost sheet"), order=order, rows=rows, whole=whole)
    return render_to_string("print/cost_sheet.html", context)
