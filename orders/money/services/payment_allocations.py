"""Laying money on what is owed: payments and credit notes onto invoices and refunds.

Callers hold the customer's row (`hold_account`), so no two of them spend the same credit; the
conditional updates and the checks in the database stand behind that.
"""

from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import connection
from django.db.models import F
from django.utils.translation import gettext as _

from orders.models import Customer, Document, Order, Payment, PaymentAllocation, keep_accounts
from workshop.formats import money
from workshop.models import exact


def hold_account(customer: Customer) -> None:
    """Let nobody else move this customer's money until the transaction ends.

    On SQLite nobody can: a transaction that writes holds the whole book.
    """
    if connection.features.has_select_for_update:
        Customer.objects.select_for_update().only("pk").get(pk=customer.pk)


def lay(source: Payment | Document, target: Document | Payment, amount: Decimal, on: date) -> None:
    """Settle `amount` of an invoice or refund from a payment or credit note."""
    if amount <= 0:
        raise ValidationError(_("Lay an amount above 0 on the invoice."))
    _draw(source, amount)
    if isinstance(target, Document):
        _settle(target, amount)
    else:
        Payment.objects.filter(pk=target.pk).update(unused=F("unused") + exact(amount))
    _write(source, target, amount, on)


def take_back(share: PaymentAllocation, on: date) -> None:
    """Undo a share in full by one below 0; the money is the customer's credit again."""
    source, target = share.payment or share.credit, share.paper or share.refund
    assert source is not None and target is not None
    if isinstance(source, Payment):
        Payment.objects.filter(pk=source.pk).update(unused=F("unused") + exact(share.amount))
    else:
        Document.objects.filter(pk=source.pk).update(settled=F("settled") - exact(share.amount))
    if isinstance(target, Document):
        Document.objects.filter(pk=target.pk).update(settled=F("settled") - exact(share.amount))
    else:
        Payment.objects.filter(pk=target.pk).update(unused=F("unused") - exact(share.amount))
    _write(source, target, -share.amount, on)


def lay_on_each(source: Payment | Document, papers: Iterable[Document], on: date) -> Decimal:
    """Settle papers one after the other as far as the money goes; gives what is left of it."""
    source.refresh_from_db()
    left = spendable(source)
    for paper in papers:
        amount = min(left, paper.open_amount)
        if amount > 0:
            lay(source, paper, amount, on)
            left -= amount
    source.refresh_from_db()
    return left


def spendable(source: Payment | Document) -> Decimal:
    """What is left of a payment, or of a credit note."""
    return source.unused if isinstance(source, Payment) else source.open_amount


def credits_of(customer: Customer, order: Order | None = None) -> list[Payment | Document]:
    """The customer's unspent credit, oldest first; what belongs to the order stands in front."""
    payments = (
        Payment.objects.filter(customer=customer, unused__gt=0)
        .select_related("order")
        .order_by("on", "id")
    )
    notes = Document.objects.filter(
        customer=customer, kind=Document.Kind.CREDIT, settled__lt=F("total")
    ).order_by("issued_on", "id")
    found: list[Payment | Document] = [*notes, *payments]
    if order is not None:
        found.sort(key=lambda credit: credit.order_id != order.pk)
    return found


def _draw(source: Payment | Document, amount: Decimal) -> None:
    if isinstance(source, Payment):
        drawn = Payment.objects.filter(pk=source.pk, unused__gte=amount).update(
            unused=F("unused") - exact(amount)
        )
    else:
        drawn = Document.objects.filter(
            pk=source.pk, kind=Document.Kind.CREDIT, settled__lte=F("total") - exact(amount)
        ).update(settled=F("settled") + exact(amount))
    if not drawn:
        source.refresh_from_db()
        raise ValidationError(
            _("Only %(left)s of this credit is left, and %(amount)s is to be used. Use less.")
            % {"left": money(spendable(source)), "amount": money(amount)}
        )


def _settle(paper: Document, amount: Decimal) -> None:
    settled = (
        Document.objects.owing()
        .filter(pk=paper.pk, settled__lte=F("total") - exact(amount))
        .update(settled=F("settled") + exact(amount))
    )
    if not settled:
        paper.refresh_from_db()
        raise ValidationError(
            _("Only %(open)s of %(number)s is open, and %(amount)s was laid on it. Lay on less.")
            % {
                "open": money(paper.open_amount, paper.currency),
                "number": paper.number,
                "amount": money(amount, paper.currency),
            }
        )


def _write(
    source: Payment | Document, target: Document | Payment, amount: Decimal, on: date
) -> None:
    PaymentAllocation.objects.create(
        payment=source if isinstance(source, Payment) else None,
        credit=source if isinstance(source, Document) else None,
        paper=target if isinstance(target, Document) else None,
        refund=target if isinstance(target, Payment) else None,
        amount=amount,
        on=on,
    )
    keep_accounts({source.customer_id, target.customer_id})
