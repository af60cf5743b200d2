"""Short texts to a customer: a quote, it is ready, it will be late, a receipt.

Nothing is sent from here: the telephone's own message sheet does that, or the text is copied.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import quote

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from orders.models import Document, Order, Stage
from orders.money.queries.accounts import OrderMoney, order_money
from orders.money.services.payments import e164
from workshop import formats
from workshop.letterhead import read_in
from workshop.models import AuditEntry, Business, Person
from workshop.services.acts import record_act

LONGEST = 480  # three messages of 160 signs (3GPP TS 23.038); more is a letter
ACT = "tell customer"


@dataclass(frozen=True)
class ShortText:
    """What can be told now: its name for the teller, its words in the customer's language."""

    kind: str
    name: Any
    text: str


def texts_for(
    order: Order, business: Business, *, late_until: date | None = None, page: str = ""
) -> list[ShortText]:
    """The texts that fit where an order stands (at most 17 queries).

    page  the address of the customer's page, where there is one
    """
    purse = order_money(order)
    if late_until is not None:
        _check_late(order, late_until)
    with read_in(business, order.customer):
        found = [*_quote(order, purse, business), *_ready(order, purse, business)]
        if late_until is not None:
            found.append(_late(order, business, late_until))
        if page:
            text = _("%(us)s: how far order %(number)s is: %(page)s") % {
                "us": business.name,
                "number": order.number,
                "page": page,
            }
            found.append(ShortText("page", gettext_lazy("Her page"), text))
        return found + list(_receipt(order, purse, business))


def _quote(order: Order, purse: OrderMoney, business: Business) -> Iterable[ShortText]:
    paper = purse.quote
    if paper is None or not order.is_offered:
        return
    text = _("%(us)s: quote %(number)s, %(what)s: %(sum)s, good until %(day)s.") % {
        "us": business.name,
        "number": paper.number,
        "what": _what(order),
        "sum": _money(paper.total, paper),
        "day": formats.date_short(paper.due_on),
    }
    yield ShortText("quote", gettext_lazy("A quote"), text)


def _ready(order: Order, purse: OrderMoney, business: Business) -> Iterable[ShortText]:
    if not order.is_open or order.stage < Stage.STRUNG:
        return
    text = _("%(us)s: order %(number)s (%(what)s) is ready to collect.") % {
        "us": business.name,
        "number": order.number,
        "what": _what(order),
    }
    if purse.asks.left > 0:
        text += " " + _("To pay: %(sum)s.") % {"sum": formats.money(purse.asks.left)}
    yield ShortText("ready", gettext_lazy("It is ready"), text)


def _check_late(order: Order, until: date) -> None:
    """Raises ValidationError for a day that is no later day, or an order that is not awaited."""
    if not order.is_open or order.stage >= Stage.STRUNG:
        raise ValidationError({"day": _("This order does not wait for its day any more.")})
    told = order.told_on
    if until < timezone.localdate() or (told is not None and until <= told):
        words = {"day": formats.date_short(told)} if told else {"day": _("today")}
        raise ValidationError(
            {"day": _("%(day)s is what was told before; write a later day.") % words}
        )


def _late(order: Order, business: Business, until: date) -> ShortText:
    words = {"us": business.name, "number": order.number, "day": formats.date_short(until)}
    if order.told_on is None:
        text = _("%(us)s: order %(number)s will be ready on %(day)s. We are sorry.") % words
    else:
        words["told"] = formats.date_short(order.told_on)
        text = (
            _("%(us)s: order %(number)s will be ready on %(day)s, not on %(told)s. We are sorry.")
            % words
        )
    return ShortText("late", gettext_lazy("It will be late"), text)


def _receipt(order: Order, purse: OrderMoney, business: Business) -> Iterable[ShortText]:
    came_in = [payment for payment in purse.payments if payment.amount > 0]
    if not came_in:
        return
    payment = came_in[-1]
    paper = getattr(payment, "paper", None)
    text = _("%(us)s: received %(sum)s on %(day)s for order %(order)s.") % {
        "us": business.name,
        "sum": formats.money(payment.handed_over),
        "day": formats.date_short(payment.on),
        "order": order.number,
    }
    if paper is not None:
        text += " " + _("Receipt %(number)s.") % {"number": paper.number}
    yield ShortText("receipt", gettext_lazy("A receipt"), text)


def _what(order: Order) -> str:
    lines = list(order.lines.all())
    words = ", ".join(f"{line.strands} × {line.design.name_for_reader}" for line in lines[:2])
    return f"{words}, …" if len(lines) > 2 else words


def _money(amount: Decimal, paper: Document) -> str:
    return formats.money(amount, paper.currency)


def sms_address(telephone: str, text: str, business: Business) -> str:
    """The address that opens the telephone's message sheet; "" without a number that can be read.

    Source: RFC 5724, the sms scheme with its body.
    """
    try:
        number = e164(telephone, business.country)
    except ValidationError:
        return ""
    return f"sms:{number}?body={quote(text)}"


@transaction.atomic
def say_sent(order: Order, kind: str, text: str, *, to: str, person: Person) -> AuditEntry:
    """Note that a text was said to be sent: what, to which number, by whom."""
    text = text.strip()
    if not text:
        raise ValidationError({"text": _("The text is empty; write what was sent.")})
    if len(text) > LONGEST:
        raise ValidationError(
            {"text": _("Write %(most)s signs at most; a short text is read.") % {"most": LONGEST}}
        )
    return record_act(person, ACT, order, after={"what": kind, "to": to.strip(), "text": text})


def was_told(order: Order) -> list[AuditEntry]:
    """What the customer was told of an order, the latest first (1 query)."""
    told = AuditEntry.objects.filter(
        subject_kind="order", subject_ref=str(order.number), act=ACT, refused=False
    )
    return list(told.select_related("person").order_by("-pk")[:10])
