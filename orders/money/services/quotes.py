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

from orders.costing.errors import CostingError
from orders.facts.order import order_facts
from orders.models import Document, Order, OrderLine
from orders.money.queries import snapshot
from orders.money.queries.accounts import usual_deposit
from orders.money.queries.charging import rated, sums_of
from orders.money.services.paper_numbers import write_paper
from orders.money.services.paper_sums import amounts_of, goods_content
from orders.reckoning.reckon import with_its_loads
from orders.reckoning.working import frozen_working
from workshop.models import Business, Person
from workshop.services.acts import record_act


@transaction.atomic
def issue_quote(order: Order, *, person: Person | None) -> Document:
    """Write an order's prices down for the customer; they stand for the owner's number of days."""
    business = Business.current()
    on = timezone.localdate()
    order = (
        Order.objects.select_for_update(of=("self",)).select_related("customer").get(pk=order.pk)
    )
    lines = [(line, line.strands) for line in _lines_to_quote(order)]
    wanted, rate = rated(lines, business, on=on)
    with_tax = order.prices_with_tax
    totals = sums_of(wanted, business, with_tax=with_tax, ordinary=rate)
    until = on + timedelta(days=business.quote_days)
    content = snapshot.opening(Document.Kind.QUOTE, business, order.customer, on=on, order=order)
    content |= {
        "due_on": until.isoformat(),
        "deposit": snapshot.text(usual_deposit(totals.due, business, order.customer)),
        **goods_content(wanted, totals, business, rate, with_tax=with_tax, reader=order.customer),
        **_worked_out(order, business, on),
    }
    paper = write_paper(
        Document.Kind.QUOTE,
        content,
        amounts_of(totals),
        customer=order.customer,
        person=person,
        on=on,
        order=order,
        due_on=until,
    )
    if order.state == Order.State.DRAFT:
        Order.objects.filter(pk=order.pk).update(state=Order.State.QUOTED)
    record_act(person, "issue quote", paper, after={"total": str(paper.total)})
    return paper


def _lines_to_quote(order: Order) -> list[OrderLine]:
    if not order.is_offered:
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
    return lines


def quote_working(quote: Document) -> dict[str, Any] | None:
    """The working that was frozen with a quote, as it was kept then."""
    packed = quote.content.get("working")
    return json.loads(zlib.decompress(base64.b64decode(packed))) if packed else None


def _worked_out(order: Order, business: Business, on: date) -> dict[str, str | None]:
    """The honest day, and the whole working, packed: it runs to hundreds of kilobytes.

    The working is kept with the quote and never printed on it.
    """
    promised, working = order.due_on or order.p90_on, ""
    try:
        facts = order_facts(order, business=business, on=on)
        costing, promise = with_its_loads(facts, today=on, business=business)
    except CostingError:
        pass  # prices may be quoted for what cannot be costed yet
    else:
        promised = promised or promise.p90_on
        told = json.dumps(frozen_working(costing, promise, order), separators=(",", ":"))
        working = base64.b64encode(zlib.compress(told.encode())).decode()
    return {"promised_on": promised.isoformat() if promised else None, "working": working}


def quote_stands(quote: Document, on: date | None = None) -> bool:
    """Whether a quote's days are not over."""
    return quote.due_on is not None and (on or timezone.localdate()) <= quote.due_on
