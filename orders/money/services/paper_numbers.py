"""Issuing: the one place where a paper gets its number and is written into the book.

One series per kind and year, without a gap: the number is kept only if the paper is.
"""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Customer, Document, Order, PassedPaper, Payment, keep_accounts
from workshop.formats import date_long
from workshop.models import Person
from workshop.money import ZERO
from workshop.services.acts import record_act
from workshop.services.numbers import next_number


@dataclass(frozen=True)
class Amounts:
    """What a paper asks for or gives back; the four always add up."""

    net: Decimal
    tax: Decimal = ZERO
    rounding: Decimal = ZERO

    @property
    def total(self) -> Decimal:
        return self.net + self.tax + self.rounding


def write_paper(
    kind: str,
    content: dict[str, Any],
    amounts: Amounts,
    *,
    customer: Customer,
    person: Person | None,
    on: date,
    order: Order | None = None,
    number: str = "",
    due_on: date | None = None,
    names: Document | None = None,
    payment: Payment | None = None,
    on_account: bool = False,
) -> Document:
    """Give a paper its number and write it; call in the transaction of the act it belongs to.

    A balance brought forward keeps the day and, where it has one, the number of the old paper; it
    takes its place in the series of the day it is written.
    """
    opens = kind == Document.Kind.OPENING
    year, sequence, printed = next_paper_number(kind, timezone.localdate() if opens else on)
    refuse_day_ahead(on)
    if not opens:
        refuse_backdating(kind, on)  # after the counter row is locked, so that nobody slips between
    number = number or printed
    paper = Document.objects.create(
        kind=kind,
        year=year,
        sequence=sequence,
        number=number,
        issued_on=on,
        issued_by=person,
        customer=customer,
        order=order,
        names=names,
        payment=payment,
        due_on=due_on,
        currency=content["currency"],
        net=amounts.net,
        tax=amounts.tax,
        rounding=amounts.rounding,
        total=amounts.total,
        on_account=on_account,
        content=content | {"number": number},
    )
    if kind in {*Document.OWING, Document.Kind.CREDIT}:
        keep_accounts({customer.pk})
    return paper


def next_paper_number(kind: str, on: date) -> tuple[int, int, str]:
    """Year, place in the series and printed number; call where the paper is issued."""
    return next_number(kind, on)


def refuse_day_ahead(on: date) -> None:
    """A paper dated ahead of today would refuse every paper of its kind until that day."""
    if on > timezone.localdate():
        raise ValidationError(
            _("A paper cannot carry a day still ahead, as %(day)s is. Date it today or earlier.")
            % {"day": date_long(on)}
        )


def refuse_backdating(kind: str, on: date) -> None:
    """Numbers follow the calendar: a later number never carries an earlier day."""
    papers = Document.objects.filter(kind=kind, passed__isnull=True)
    last = papers.order_by("-id").values("number", "issued_on").first()
    if last and last["issued_on"] > max(on, timezone.localdate()):
        raise ValidationError(
            _(
                "%(number)s is dated %(last)s, a day still ahead: the clock ran ahead when it was "
                "written. Once the clock is right, the owner goes past it on its page."
            )
            % {"number": last["number"], "last": date_long(last["issued_on"])}
        )
    if last and last["issued_on"] > on:
        raise ValidationError(
            _("%(number)s is dated %(last)s; date the next paper of its kind that day or later.")
            % {"number": last["number"], "last": date_long(last["issued_on"])}
        )


@transaction.atomic
def pass_paper(paper: Document, *, person: Person, why: str) -> PassedPaper:
    """Let papers of today follow one that a clock ran ahead with; it keeps its number and day."""
    if paper.issued_on <= timezone.localdate():
        raise ValidationError(
            _("%(number)s is not dated ahead; the next of its kind follows it as it is.")
            % {"number": paper.number}
        )
    if not why.strip():
        raise ValidationError({"reason": _("Write why; the book keeps the reason.")})
    passed, made = PassedPaper.objects.get_or_create(
        paper=paper, defaults={"passed_by": person, "why": why.strip()}
    )
    if made:
        record_act(person, "go past paper", paper, after={"why": passed.why})
    return passed
