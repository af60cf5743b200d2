"""Printed numbers of papers: one series per kind and year, without a gap."""

from datetime import date

from django.core.exceptions import ValidationError
from django.utils.translation import gettext as _

from orders.models import Paper
from workshop.formats import date_long
from workshop.models import PaperSeries
from workshop.services.numbers import take_number

PREFIXES = {
    Paper.Kind.QUOTE: "Q-",
    Paper.Kind.INVOICE: "INV-",
    Paper.Kind.CREDIT: "CN-",
    Paper.Kind.RECEIPT: "R-",
    Paper.Kind.REFUND: "RF-",
    Paper.Kind.OPENING: "BF-",
    "pay": "PAY-",
}


def next_paper_number(kind: str, on: date) -> tuple[int, int, str]:
    """Year, place in the series and printed number; call in the transaction that issues the paper.

    The owner's own prefix is carried over into a new year. A series of year 0 runs on for ever.
    """
    latest = PaperSeries.objects.filter(kind=kind).order_by("-year").first()
    runs_on = PaperSeries.objects.filter(kind=kind, year=0).exists()
    year = 0 if runs_on else on.year
    prefix = latest.prefix if latest else PREFIXES.get(kind, "")
    sequence = take_number(kind, year=year, prefix=prefix)
    printed = f"{prefix}{year}-{sequence:04d}" if year else f"{prefix}{sequence:04d}"
    return year, sequence, printed


def refuse_backdating(kind: str, on: date) -> None:
    """Numbers follow the calendar: a later number never carries an earlier day."""
    last = Paper.objects.filter(kind=kind).order_by("-id").values("number", "issued_on").first()
    if last and last["issued_on"] > on:
        raise ValidationError(
            _("%(number)s is dated %(last)s; date the next paper of its kind that day or later.")
            % {"number": last["number"], "last": date_long(last["issued_on"])}
        )
