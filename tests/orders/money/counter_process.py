"""One counter that issues papers, run as a process of its own.

make N            an empty database gets a business and N confirmed orders of one line
issue FROM TO F   waits for the file F, invoices orders FROM to TO; one in five is rolled back after
                  the number was taken; prints each number once it is committed
naive FROM TO F   the same, numbered by looking for the highest number first; prints refused tries
same F            waits, then invoices order 1; prints 1 or 0
mobile F          waits, then books one mobile reference; prints 1 or 0
read              prints papers, highest number, next number of the series, invoices without lines
"""

import os
import sys
import time
from decimal import Decimal
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")


class ChangedMind(Exception):
    """Raised after an invoice was issued, to undo its transaction."""


def make(orders: int) -> None:
    from django.core.management import call_command

    call_command("migrate", verbosity=0, skip_checks=True)
    from django.utils import timezone

    from orders.models import Order, OrderLine
    from tests.builders import make_business
    from tests.orders.money.setting import design, trader

    make_business()
    people, strand, today = (
        [trader(f"Trader {n}") for n in range(5)],
        design(),
        timezone.localdate(),
    )
    Order.objects.bulk_create(
        Order(number=n, customer=people[n % 5], state="confirmed", taken_on=today)
        for n in range(1, orders + 1)
    )
    OrderLine.objects.bulk_create(
        OrderLine(order=order, position=0, design=strand, strands=1, price=Decimal("6.50"))
        for order in Order.objects.all()
    )


def wait_for(flag: str) -> None:
    while not Path(flag).exists():
        time.sleep(0.005)


def issue(first: int, last: int) -> None:
    from django.db import transaction

    from orders.models import Order
    from orders.money.services.papers import issue_invoice

    for number in range(first, last + 1):
        order = Order.objects.get(number=number)
        try:
            with transaction.atomic():
                paper = issue_invoice(order, person=None)
                if number % 5 == 0:
                    raise ChangedMind
        except ChangedMind:
            continue
        print(paper.sequence, flush=True)


def naive(first: int, last: int) -> int:
    """The seeded mutant: the highest number is looked up before the transaction begins."""
    from django.db import IntegrityError
    from django.db.models import Max

    from orders.models import Document, Order

    refused = 0
    for number in range(first, last + 1):
        order = Order.objects.get(number=number)
        sequence = (Document.objects.aggregate(most=Max("sequence"))["most"] or 0) + 1
        time.sleep(0.002)
        try:
            Document.objects.create(
                kind="opening",
                sequence=sequence,
                number=f"X{sequence}",
                issued_on=order.taken_on,
                customer=order.customer,
                currency="EUR",
                content={},
            )
        except IntegrityError:
            refused += 1
    return refused


def same_order() -> int:
    from django.core.exceptions import ValidationError

    from orders.models import Order
    from orders.money.services.papers import issue_invoice

    try:
        issue_invoice(Order.objects.get(number=1), person=None)
    except ValidationError:
        return 0
    return 1


def mobile() -> int:
    from django.core.exceptions import ValidationError

    from orders.models import Customer
    from orders.money.services.payments import PaymentDetails, record_payment

    try:
        way = PaymentDetails("mobile", network="Tide Cash", reference="ONE")
        record_payment(Customer.objects.earliest("pk"), Decimal(5), person=None, way=way)
    except ValidationError:
        return 0
    return 1


def read() -> str:
    from django.db.models import Max

    from orders.models import Document
    from workshop.models import NumberSequence

    papers = Document.objects.filter(kind=Document.Kind.INVOICE)
    series = NumberSequence.objects.filter(kind="invoice").first()
    bare = papers.filter(lines=None).count()
    highest = papers.aggregate(most=Max("sequence"))["most"] or 0
    return f"{papers.count()} {highest} {series.next_number if series else 1} {bare}"


def main(act: str, *args: str) -> None:
    import django

    django.setup()
    if act == "make":
        make(int(args[0]))
    elif act == "issue":
        wait_for(args[2])
        issue(int(args[0]), int(args[1]))
    elif act == "naive":
        wait_for(args[2])
        print(naive(int(args[0]), int(args[1])))
    elif act == "same":
        wait_for(args[0])
        print(same_order())
    elif act == "mobile":
        wait_for(args[0])
        print(mobile())
    else:
        print(read())


if __name__ == "__main__":
    main(*sys.argv[1:])
