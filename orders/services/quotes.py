"""Quotes: prices promised for some days, with the working behind them frozen."""

import base64
import json
import zlib
from datetime import date, timedelta
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.adapter import order_facts
from orders.costing.cost_order import cost_order
from orders.costing.errors import CostingError
from orders.models import Order, OrderLine, Paper
from orders.papers import snapshot
from orders.services.paper_numbers import next_paper_number, refuse_backdating
from orders.services.paper_sums import ToCharge, standard_rate, sums_of, taxed
from orders.services.promise import promise_for
from orders.services.working import frozen_working
from workshop.formats import length
from workshop.models import Business, Person
from workshop.money import round_half_up
from workshop.services.acts import record_act

QUOTABLE = (Order.State.DRAFT, Order.State.QUOTED)


@transaction.atomic
def issue_quote(order: Order, *, by: Person | None, on: date | None = None) -> Paper:
    """Write an order's prices down for the customer; they stand for the owner's number of days."""
    business = Business.current()
    on = on or timezone.localdate()
    order = (
        Order.objects.select_for_update(of=("self",)).select_related("customer").get(pk=order.pk)
    )
    if order.state not in QUOTABLE:
        raise ValidationError(
            _("Order %(number)s is %(state)s; only an order not yet confirmed can be quoted.")
            % {"number": order.number, "state": order.get_state_display()}
        )
    lines = list(OrderLine.objects.filter(order=order).select_related("design"))
    if not lines:
        raise ValidationError(
            _("Order %(number)s has no lines, so there is nothing to quote. Add a line first.")
            % {"number": order.number}
        )
    rate = standard_rate(business, on)
    kind = taxed(rate)
    totals = sums_of(
        [ToCharge(line, line.strands, rate) for line in lines], business, ordinary=rate
    )
    year, sequence, number = next_paper_number(Paper.Kind.QUOTE, on)
    refuse_backdating(Paper.Kind.QUOTE, on)
    until = on + timedelta(days=business.quote_days)
    working, likely_on = _worked_out(order, business, on)
    promised = order.due_on or order.careful_on or likely_on
    content = snapshot.opening(Paper.Kind.QUOTE, business, order.customer, on=on, order=order)
    content |= {
        "number": number,
        "due_on": until.isoformat(),
        "promised_on": promised.isoformat() if promised else None,
        "deposit": snapshot.text(
            round_half_up(totals.due * business.deposit_share, business.currency)
        ),
        "prices_include_tax": business.tax_registered and business.prices_include_tax,
        "lines": [
            {
                "design": line.design_id,
                "words": line.design.name,
                "detail": length(line.design.finished_mm),
                "quantity": line.strands,
                "price": snapshot.text(line.price),
                "net": snapshot.text(net),
                "category": kind["category"],
                "rate": snapshot.text(kind["rate"]),
            }
            for line, net in zip(lines, totals.line_nets, strict=True)
        ],
        "charges": [],
        "taxes": snapshot.taxes(totals, [rate] if rate else []),
        "sums": snapshot.sums(totals),
        "drawings": snapshot.drawings(line.design for line in lines),
        # Kept with the quote, never printed on it: it says what the price was reckoned from.
        "working": working,
    }
    paper = Paper.objects.create(
        kind=Paper.Kind.QUOTE,
        year=year,
        sequence=sequence,
        number=number,
        issued_on=on,
        issued_by=by,
        customer=order.customer,
        order=order,
        due_on=until,
        currency=business.currency,
        net=totals.without_tax,
        tax=totals.tax,
        rounding=totals.rounding,
        total=totals.due,
        content=content,
    )
    if order.state == Order.State.DRAFT:
        Order.objects.filter(pk=order.pk).update(state=Order.State.QUOTED)
    record_act(by, "issue quote", paper, after={"total": str(paper.total)})
    return paper


def quote_working(quote: Paper) -> dict[str, Any] | None:
    """The working that was frozen with a quote, as it was kept then."""
    packed = quote.content.get("working")
    return json.loads(zlib.decompress(base64.b64decode(packed))) if packed else None


def _worked_out(order: Order, business: Business, on: date) -> tuple[str, date | None]:
    """The whole working, packed (it runs to hundreds of kilobytes), and the honest date."""
    try:
        costing = cost_order(order_facts(order, business=business, on=on))
    except CostingError:
        return "", None  # prices may be quoted for what cannot be costed yet
    promise = promise_for(costing, today=on, business=business)
    told = json.dumps(frozen_working(costing, promise), separators=(",", ":"))
    return base64.b64encode(zlib.compress(told.encode())).decode(), promise.likely_on


def quote_stands(quote: Paper, on: date | None = None) -> bool:
    """Whether a quote's days are not over."""
    return quote.due_on is not None and (on or timezone.localdate()) <= quote.due_on
