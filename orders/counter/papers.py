"""The order slip."""

from django.template.loader import render_to_string
from django.utils.safestring import mark_safe
from django.utils.translation import gettext as _

from orders.drawn.strands import printed_lengths
from orders.drawn.titles import titled
from orders.models import Order
from orders.money.queries.accounts import order_money, with_usual_tax
from orders.papers.live import base_context
from orders.papers.pages import Line, address_lines, price
from orders.papers.snapshot import buyer_of, drawings
from workshop.models import Business
from workshop.money import ZERO


def order_slip_html(order: Order, business: Business, *, roll: bool = False) -> str:
    """What was ordered, until when, and what was paid on it."""
    lines = list(order.lines.select_related("design"))
    pictures = drawings(line.design for line in lines)
    lengths = printed_lengths(line.design for line in lines)
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
                lengths[line.design_id],
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
    # What is to be paid is never told without VAT.
    context["with_tax"] = with_usual_tax(context["total"], business)
    context["tax"] = context["with_tax"] - context["total"]
    context["left"] = context["with_tax"] - context["paid"]
    return render_to_string(
        "print/order_slip_roll.html" if roll else "print/order_slip.html", context
    )
