"""Receipts for money that came in, slips for money given back."""

from typing import Any

from django.utils import timezone

from orders.models import Document, Payment
from orders.money.queries import snapshot
from orders.money.queries.accounts import balance_of
from orders.money.services.paper_numbers import Amounts, write_paper
from workshop.models import Business, Person
from workshop.money import ZERO


def issue_receipt(payment: Payment, *, person: Person | None) -> Document:
    """The receipt of a payment: what it settled, and what is still owed after it."""
    return _issue(Document.Kind.RECEIPT, payment, person)


def issue_refund_slip(payment: Payment, *, person: Person | None) -> Document:
    """The slip for money given back, with what it came from."""
    return _issue(Document.Kind.REFUND, payment, person)


def _issue(kind: str, payment: Payment, person: Person | None) -> Document:
    business, customer = Business.in_force(), payment.customer
    # Money that came in last week is booked with its own day; its receipt is of today.
    on = max(timezone.localdate(), payment.on)
    amount = abs(payment.amount)
    content = snapshot.opening(kind, business, customer, on=on, order=payment.order)
    content |= {
        "payment": {
            "on": payment.on.isoformat(),
            "method": payment.method,
            "network": payment.network,
            "payer_number": payment.payer_number,
            "reference": payment.reference,
            "drawer": payment.drawer,
            "amount": snapshot.text(amount),
            "rounding": snapshot.text(abs(payment.rounding)),
            "handed_over": snapshot.text(abs(payment.handed_over)),
        },
        "settles": _settles(payment),
        "held": snapshot.text(max(payment.unused, ZERO)),
        # Whoever buys without a name owes nothing afterwards.
        "balance": snapshot.text(ZERO if customer.nameless else balance_of(customer).balance),
    }
    return write_paper(
        kind,
        content,
        Amounts(amount),
        customer=payment.customer,
        person=person,
        on=on,
        order=payment.order,
        payment=payment,
    )


def _settles(payment: Payment) -> list[dict[str, Any]]:
    shares = payment.shares if payment.amount > 0 else payment.refund_shares
    found = []
    for share in shares.select_related("paper", "credit", "payment").order_by("id"):
        paper = share.paper or share.credit
        if paper is not None:
            found.append(snapshot.paper_words(paper, share.amount))
        elif share.payment is not None:
            found.append(snapshot.payment_words(share.payment, share.amount))
    return found
