"""One counter of the race for the last beads, run as a process of its own.

make             an empty database gets 300 beads and a batch of 100 to finish
hold N F         waits for the file F, tries N holds of one bead, prints how many it got
naive N F        the same without care
finish F         waits, then tries to finish the whole batch; prints 1 or 0
by_hand N F      waits, tries N times to hold one bead by hand for an order that takes 18
reset            lets go of every hold of the last beads
read             prints quantity and held
agree            prints what the order holds by hand, and each disagreement with the book
"""

import os
import sys
import time
from pathlib import Path

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")

BEADS = 300


def make() -> None:
    from django.core.management import call_command
    from django.db import transaction

    call_command("migrate", verbosity=0, skip_checks=True)
    from stock.models import GlassForm
    from stock.services.beads import mould_beads
    from tests.builders import make_bead, make_colour, make_person, put_beads, put_glass

    with transaction.atomic():
        put_beads(make_bead(), BEADS)
        put_glass(make_colour(), GlassForm.POWDER, 5)
        mould_beads(make_bead("To finish"), 100, person=make_person())
        make_order_without_beads()


def make_order_without_beads() -> None:
    """An order of one bracelet of 18 beads, none of which it holds, and 60 on the shelf."""
    from orders.making.services.holds import let_all_go
    from orders.making.services.refit import refit
    from tests.builders import (
        make_bead,
        make_business,
        make_design,
        make_kiln,
        make_order,
        make_person,
        put_beads,
    )

    make_business()
    make_kiln()
    bead = make_bead("By hand")
    put_beads(bead, 60)
    order = make_order(1, design=make_design(beads=bead))
    let_all_go(order)
    refit(order, person=make_person())


def shelf():
    return shelf_of("Green round")


def shelf_of(bead: str):
    from stock.models import Balance, LocationKind

    return Balance.objects.at(LocationKind.BEAD_SHELF).get(item__batch__bead__name=bead)


def wait_for(flag: str) -> None:
    while not Path(flag).exists():
        time.sleep(0.005)


def hold_many(tries: int) -> int:
    """The book's own hold: one conditional UPDATE."""
    from stock.services.book import NotEnough, hold

    row, won = shelf(), 0
    for _try in range(tries):
        try:
            hold(row, 1)
            won += 1
        except NotEnough:
            continue
    return won


def naive_many(tries: int) -> int:
    """The seeded mutant: look, think, then write down what was thought."""
    from stock.models import Balance

    won = 0
    for _try in range(tries):
        row = shelf()
        if row.reserved < row.quantity:
            time.sleep(0.0005)
            Balance.objects.filter(pk=row.pk).update(reserved=row.reserved + 1)
            won += 1
    return won


def hold_by_hand_many(tries: int) -> int:
    """Several people hold beads by hand for the same order, which takes only so many."""
    from django.core.exceptions import ValidationError

    from orders.making.services.holding_by_hand import hold_by_hand
    from orders.models import Order
    from tests.builders import make_person

    order, tray, person, won = Order.objects.get(), shelf_of("By hand"), make_person(), 0
    for _try in range(tries):
        try:
            hold_by_hand(order, tray, 1, person=person)
            won += 1
        except ValidationError:
            continue
    return won


def agree() -> None:
    from orders.models import StockReservation
    from stock.services.check import MORE_CHECKS

    print(sum(StockReservation.objects.filter(by_hand=True).values_list("quantity", flat=True)))
    for check in MORE_CHECKS:
        for sentence in check.differences():
            if "Green round" not in sentence:
                print(sentence)


def finish_once() -> int:
    """Two people sort the same batch; the beads are there once."""
    from stock.models import BeadBatch
    from stock.services.beads import log_good_beads
    from stock.services.book import NotEnough
    from tests.builders import make_person

    batch = BeadBatch.objects.select_related("bead").get(bead__name="To finish")
    try:
        log_good_beads(batch, good=92, rejected=8, person=make_person())
    except NotEnough:
        return 0
    return 1


def main(act: str, *rest: str) -> None:
    import django

    django.setup()
    if act == "make":
        make()
    elif act == "reset":
        from stock.models import Balance

        Balance.objects.filter(pk=shelf().pk).update(reserved=0)
    elif act == "read":
        row = shelf()
        print(row.quantity, row.reserved)
    elif act == "agree":
        agree()
    elif act == "finish":
        wait_for(rest[0])
        print(finish_once())
    else:
        wait_for(rest[1])
        tries = {"hold": hold_many, "naive": naive_many, "by_hand": hold_by_hand_many}[act]
        print(tries(int(rest[0])))


if __name__ == "__main__":
    main(*sys.argv[1:])
