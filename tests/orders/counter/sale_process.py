"""One counter that sells from the shelf, run as a process of its own.

make N     an empty database gets N ready strands, two of them held for an order
sell N F   waits for the file F, then sells one strand N times; prints how many it sold
naive N F  the same, by looking at the shelf and writing it down without a lock
read       prints strands on the shelf, held, sold, and the highest invoice number
"""

import os
import sys
import time
from decimal import Decimal
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")


def make(strands: int) -> None:
    from django.core.management import call_command

    call_command("migrate", verbosity=0, skip_checks=True)
    from orders.counter.services.ordering import confirm_order, draft_order
    from orders.models import WantedLine
    from tests.builders import make_business, make_customer, make_kiln, make_person
    from tests.orders.counter.selling import ready_strands

    make_business()
    make_kiln()
    design, owner = ready_strands(strands=strands), make_person("owner")
    order = draft_order(make_customer(), [WantedLine(design.pk, 2, Decimal(9))], person=owner)
    confirm_order(order, person=owner, owner_word="agreed")


def sell_one(tries: int) -> int:
    from django.core.exceptions import ValidationError

    from orders.counter.services.selling import sell
    from orders.models import StrandDesign, WantedLine
    from orders.money.services.payments import PaymentDetails
    from workshop.models import Person

    won, design, owner = 0, StrandDesign.objects.get(), Person.objects.get()
    for _try in range(tries):
        try:
            sell(
                [WantedLine(design.pk, 1, Decimal(9))],
                person=owner,
                way=PaymentDetails(),
                owner_word="agreed",
            )
        except ValidationError:
            continue
        won += 1
    return won


def naive(tries: int) -> int:
    """The seeded mutant: looks first, thinks, and writes what it believes is left."""
    from stock.models import Balance, LocationKind

    won = 0
    for _try in range(tries):
        shelf = Balance.objects.get(place__kind=LocationKind.STRAND_SHELF)
        if shelf.free_quantity < 1:
            continue
        time.sleep(0.2)  # long enough for a counter whose program starts later to look too
        Balance.objects.filter(pk=shelf.pk).update(quantity=shelf.quantity - 1)
        won += 1
    return won


def read() -> str:
    from django.db.models import Max

    from orders.models import Document, Sale
    from stock.models import Balance, LocationKind

    shelf = Balance.objects.get(place__kind=LocationKind.STRAND_SHELF)
    papers = Document.objects.filter(kind="invoice")
    highest = papers.aggregate(n=Max("sequence"))["n"] or 0
    return f"{shelf.quantity} {shelf.reserved} {Sale.objects.count()} {highest}"


def main(act: str, *args: str) -> None:
    import django

    django.setup()
    if act == "make":
        make(int(args[0]))
        return
    if act == "read":
        print(read())
        return
    while not Path(args[1]).exists():
        time.sleep(0.005)
    print({"sell": sell_one, "naive": naive}[act](int(args[0])))


if __name__ == "__main__":
    main(*sys.argv[1:])
