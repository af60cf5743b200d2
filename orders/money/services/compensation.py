"""Money on account of a cancelled order that the workshop keeps: no price of goods, so no VAT."""

from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from orders.models import Document, DocumentLine, Order
from orders.money.queries import snapshot
from orders.money.queries.charging import OUTSIDE
from orders.money.services.credit_notes import issue_credit_note
from orders.money.services.paper_numbers import Amounts, write_paper
from orders.money.services.payment_allocations import lay
from orders.money.totals import CATEGORIES
from workshop.letterhead import read_in
from workshop.models import Business, Person
from workshop.services.acts import record_act


@transaction.atomic
def keep_as_compensation(
    paper: Document, *, person: Person, reason: str, adviser_agrees: bool
) -> Document:
    """Keep what was paid on account: its VAT is credited, and the sum charged without any.

    Only the owner does so, and only where her adviser agrees that no VAT falls due on it.

    Source: Court of Justice, C-277/05: a hotel's deposit kept on cancellation is compensation and
    not the price of a service.
    """
    order = paper.order
    if not paper.on_account or order is None or order.state != Order.State.CANCELLED:
        raise ValidationError(
            _("Only a payment on account of a cancelled order can be kept as compensation.")
        )
    if not person.is_owner:
        raise ValidationError(_("Only the owner keeps a payment as compensation."))
    if not adviser_agrees:
        raise ValidationError(
            {
                "adviser_agrees": _(
                    "Ask your tax adviser first whether VAT falls due on what is kept; countries "
                    "differ."
                )
            }
        )
    note = issue_credit_note(paper, person=person, reason=reason)
    if not note.open_amount:
        raise ValidationError(_("No money is there to be kept: this payment did not come in."))
    kept = _write(order, note.open_amount, person)
    lay(note, kept, kept.total, kept.issued_on)
    kept.refresh_from_db()
    record_act(person, "keep as compensation", kept, after={"total": str(kept.total)})
    return kept


def _write(order: Order, amount: Decimal, person: Person) -> Document:
    business, on = Business.current(), timezone.localdate()
    with read_in(business, order.customer):
        words = _("Compensation for order %(number)s, cancelled") % {"number": order.number}
    said, nothing = snapshot.text(amount), "0"
    kind = {"category": OUTSIDE, "rate": nothing}
    content = snapshot.opening(
        Document.Kind.INVOICE, business, order.customer, on=on, order=order
    ) | {
        # Not subject to VAT: the e-invoice of a registered seller cannot say so (BR-O-02).
        "e_invoice": False,
        "due_on": on.isoformat(),
        "prices_include_tax": False,
        "lines": [
            {"design": None, "words": words, "detail": "", "quantity": 1, "price": said}
            | {"net": said, "amount": said}
            | kind
        ],
        "charges": [],
        "taxes": [{"name": "", "reason": CATEGORIES[OUTSIDE], "base": said, "tax": nothing} | kind],
        "sums": dict.fromkeys(("lines", "net", "gross", "total", "due"), said)
        | dict.fromkeys(("allowances", "charges", "tax", "rounding", "prepaid"), nothing),
        "prepaid": [],
        "drawings": {},
    }
    paper = write_paper(
        Document.Kind.INVOICE,
        content,
        Amounts(amount),
        customer=order.customer,
        person=person,
        on=on,
        order=order,
        due_on=on,
    )
    DocumentLine.objects.create(
        paper=paper, position=1, words=words, price=amount, net=amount, tax_category=OUTSIDE
    )
    return paper
