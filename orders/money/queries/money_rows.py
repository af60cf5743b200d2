"""All money rows of a period, as the bookkeeper takes them: they add up to the statements."""

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch
from django.utils.translation import gettext as _

from orders.models import Document, DocumentLine, DrawerCount, Payment, PaymentAllocation, PaySlip
from stock.models import Sack

Row = list[Any]


def sheets(first_day: date, last_day: date) -> dict[str, Iterator[Row]]:
    """Name of each sheet and its rows, the first of them the head (7 queries)."""
    return {
        "papers": papers(first_day, last_day),
        "lines": paper_lines(first_day, last_day),
        "taxes": taxes(first_day, last_day),
        "payments": payments(first_day, last_day),
        "settled": settled(first_day, last_day),
        "pay": pay(first_day, last_day),
        "sacks": sacks(first_day, last_day),
        "drawers": drawers(first_day, last_day),
    }


def _papers(first_day: date, last_day: date):
    kinds = (*Document.OWING, Document.Kind.CREDIT)
    return (
        Document.objects.filter(kind__in=kinds, issued_on__range=(first_day, last_day))
        .select_related("customer", "order", "names")
        .order_by("issued_on", "id")
    )


def papers(first_day: date, last_day: date) -> Iterator[Row]:
    """Invoices, credit notes (their amounts below 0) and balances brought forward."""
    yield [
        _("paper"),
        _("number"),
        _("issued"),
        _("due"),
        _("customer"),
        _("order"),
        _("refers to"),
        _("currency"),
        _("net"),
        _("tax"),
        _("rounding"),
        _("total"),
        _("open"),
    ]
    for paper in _papers(first_day, last_day).defer("content").iterator():
        sign = -1 if paper.kind == Document.Kind.CREDIT else 1
        yield [
            paper.kind,
            paper.number,
            paper.issued_on.isoformat(),
            paper.due_on.isoformat() if paper.due_on else "",
            paper.customer.name,
            paper.order.number if paper.order else "",
            paper.names.number if paper.names else "",
            paper.currency,
            sign * paper.net,
            sign * paper.tax,
            sign * paper.rounding,
            sign * paper.total,
            sign * paper.open_amount,
        ]


def paper_lines(first_day: date, last_day: date) -> Iterator[Row]:
    """Lines, discounts and carriage; signed so that a paper's lines add up to its net."""
    yield [
        _("number"),
        _("line"),
        _("what"),
        _("how many"),
        _("each"),
        _("net"),
        _("category"),
        _("rate"),
    ]
    lines = DocumentLine.objects.order_by("position")
    found = _papers(first_day, last_day).defer("content")
    for paper in found.prefetch_related(Prefetch("lines", lines)).iterator(chunk_size=500):
        sign = -1 if paper.kind == Document.Kind.CREDIT else 1
        for line in paper.lines.all():
            own = sign * line.sign
            yield [
                paper.number,
                line.position,
                line.words,
                line.quantity,
                line.price,
                own * line.net,
                line.tax_category,
                line.tax_rate,
            ]


def taxes(first_day: date, last_day: date) -> Iterator[Row]:
    """The tax breakdown of each paper, credit notes below 0."""
    yield [_("number"), _("issued"), _("category"), _("rate"), _("taxable"), _("tax"), _("reason")]
    for paper in _papers(first_day, last_day).iterator():
        sign = -1 if paper.kind == Document.Kind.CREDIT else 1
        for tax in paper.content.get("taxes", ()):
            yield [
                paper.number,
                paper.issued_on.isoformat(),
                tax["category"],
                Decimal(tax["rate"]),
                sign * Decimal(tax["base"]),
                sign * Decimal(tax["tax"]),
                tax.get("reason", ""),
            ]


def payments(first_day: date, last_day: date) -> Iterator[Row]:
    """Money in, and back (below 0); cash rounding and fees apart."""
    yield [
        _("receipt"),
        _("day"),
        _("customer"),
        _("order"),
        _("how"),
        _("network"),
        _("payer’s number"),
        _("reference"),
        _("drawer"),
        _("amount"),
        _("cash rounding"),
        _("fee"),
        _("not yet used"),
    ]
    found = (
        Payment.objects.filter(on__range=(first_day, last_day))
        .select_related("customer", "order", "paper")
        .defer("paper__content")
        .order_by("on", "id")
    )
    for payment in found.iterator():
        paper = getattr(payment, "paper", None)
        yield [
            paper.number if paper else "",
            payment.on.isoformat(),
            payment.customer.name,
            payment.order.number if payment.order else "",
            payment.method,
            payment.network,
            payment.payer_number,
            payment.reference,
            payment.drawer,
            payment.amount,
            payment.rounding,
            payment.fee,
            payment.unused,
        ]


def settled(first_day: date, last_day: date) -> Iterator[Row]:
    """What was laid on what."""
    yield [_("day"), _("from"), _("to"), _("amount")]
    found = (
        PaymentAllocation.objects.filter(on__range=(first_day, last_day))
        .select_related("payment__paper", "credit", "paper", "refund__paper")
        .defer("payment__paper__content", "credit__content", "paper__content")
        .defer("refund__paper__content")
        .order_by("on", "id")
    )
    for share in found.iterator():
        yield [
            share.on.isoformat(),
            _number(share.credit, share.payment),
            _number(share.paper, share.refund),
            share.amount,
        ]


def _number(paper: Document | None, payment: Payment | None) -> str:
    if paper is not None:
        return paper.number
    receipt = getattr(payment, "paper", None)
    return receipt.number if receipt else ""


def pay(first_day: date, last_day: date) -> Iterator[Row]:
    """Pay slips."""
    yield [
        _("slip"),
        _("paid"),
        _("hand"),
        _("from"),
        _("to"),
        _("earned"),
        _("made up"),
        _("paid"),
    ]
    found = PaySlip.objects.filter(paid_on__range=(first_day, last_day)).defer("content")
    for slip in found.select_related("hand").order_by("id").iterator():
        yield [
            slip.number,
            slip.paid_on.isoformat(),
            str(slip.hand),
            slip.first_day.isoformat(),
            slip.last_day.isoformat(),
            slip.earned,
            slip.top_up,
            slip.total,
        ]


def sacks(first_day: date, last_day: date) -> Iterator[Row]:
    """What was paid to collectors."""
    yield [_("slip"), _("sack"), _("paid"), _("collector"), _("amount")]
    found = Sack.objects.filter(paid_on__range=(first_day, last_day), amount__gt=0)
    for sack in (
        found.select_related("collector", "payout")
        .defer("payout__content")
        .order_by("paid_on", "number")
        .iterator()
    ):
        yield [
            sack.payout.number if sack.payout else "",
            sack.number,
            sack.paid_on.isoformat(),
            sack.collector.name,
            sack.amount,
        ]


def drawers(first_day: date, last_day: date) -> Iterator[Row]:
    """Drawers counted, with the differences that were found."""
    yield [_("day"), _("drawer"), _("by the book"), _("counted"), _("difference"), _("note")]
    for count in DrawerCount.objects.filter(on__range=(first_day, last_day)).order_by("id"):
        yield [
            count.on.isoformat(),
            count.drawer,
            count.expected,
            count.counted,
            count.difference,
            count.note,
        ]
