"""One counter of the race for the last beads, run as a process of its own.

make             an empty database gets 300 beads and a batch of 100 to finish
hold N F         waits for the file F, tries N holds of one bead, prints how many it got
naive N F        the same without care
finish F         waits, then tries to finish the whole batch; prints 1 or 0
reset            lets go of every hold
read             prints quantity and held
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


def shelf():
    from stock.models import Balance, PlaceKind

    return Balance.objects.at(PlaceKind.BEAD_SHELF).get()


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
        if row.held < row.quantity:
            time.sleep(0.0005)
            Balance.objects.filter(pk=row.pk).update(held=row.held + 1)
            won += 1
    return won


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

        Balance.objects.update(held=0)
    elif act == "read":
        row = shelf()
        print(row.quantity, row.held)
    elif act == "finish":
        wait_for(rest[0])
        print(finish_once())
    else:
        wait_for(rest[1])
        print({"hold": hold_many, "naive": naive_many}[act](int(rest[0])))


if __name__ == "__main__":
    main(*sys.argv[1:])
