"""Balances from before the workshop kept this book."""

from datetime import date
from decimal import Decimal

from django.db import transaction
from django.utils import timezone

from orders.models import Customer, Document, Payment, keep_accounts
from orders.money.queries import snapshot
from orders.money.services.paper_numbers import Amounts, write_paper
from orders.money.services.payment_allocations import hold_account
from workshop.models import Business, Person
from workshop.services.acts import record_act


@transaction.atomic
def open_balance(
    customer: Customer,
    amount: Decimal,
    *,
    person: Person | None,
    number: str = "",
    issued_on: date | None = None,
    due_on: date | None = None,
) -> Document | Payment:
    """Bring forward what a customer owes (above 0) or has in credit (below 0).

    `number` is that of the old paper; ages are reckoned from its day to pay.
    """
    business = Business.current()
    on = issued_on or timezone.localdate()
    hold_account(customer)
    if amount < 0:
        payment = Payment.objects.create(
            customer=customer,
            on=on,
            amount=-amount,
            unused=-amount,
            method=Payment.Method.OPENING,
            reference=number,
            taken_by=person,
        )
        keep_accounts({customer.pk})
        record_act(person, "bring balance forward", payment, after={"amount": str(amount)})
        return payment
    paper = write_paper(
        Document.Kind.OPENING,
        snapshot.opening(Document.Kind.OPENING, business, customer, on=on, order=None)
        | {"taxes": [], "lines": []},
        Amounts(amount),
        customer=customer,
        person=person,
        on=on,
        number=number,
        due_on=due_on or on,
    )
    record_act(person, "bring balance forward", paper, after={"amount": str(amount)})
    return paper
