"""Two processes at the kilns at the same moment; run as a process of its own.

An empty database gets a small workshop. For each race two processes are forked, wait for one
moment and act; what each was told is printed as JSON, beside what the book then says.
"""

import json
import os
import signal
import sys
import time
from datetime import timedelta

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "workshop.settings")


def at_once(*acts) -> list[dict]:
    """Run each act in a process of its own at one moment; gives what each was told."""
    from django.db import connections

    connections.close_all()
    moment = time.time() + 0.4
    pipes = []
    for act in acts:
        read, write = os.pipe()
        if os.fork() == 0:
            os.close(read)
            with os.fdopen(write, "w") as out:
                out.write(json.dumps(_told(act, moment)))
            os._exit(0)
        os.close(write)
        pipes.append(read)
    told = []
    for read in pipes:
        with os.fdopen(read) as said:
            told.append(json.loads(said.read()))
        os.wait()
    return told


def _told(act, moment: float) -> dict:
    from django.core.exceptions import ValidationError

    while time.time() < moment:
        time.sleep(0.002)
    try:
        act()
    except ValidationError as refused:
        return {"done": False, "said": " ".join(refused.messages)}
    except Exception as error:  # told to the test, which fails on it
        return {"done": False, "said": f"{type(error).__name__}: {error}", "broke": True}
    return {"done": True, "said": ""}


def make() -> dict:
    from django.core.management import call_command
    from django.db import transaction

    call_command("migrate", verbosity=0, skip_checks=True)
    from tests.builders import make_person
    from tests.orders.firing.conftest import make_workshop

    with transaction.atomic():
        workshop = make_workshop()
        for name, full in (("olek", "Olek Farrow"), ("mirja", "Mirja Vane")):
            workshop[name] = make_person("kiln", username=name, full_name=full)
    return workshop


# --- the races --------------------------------------------------------------------------------


def confirming(workshop: dict) -> dict:
    """Six moulds are owned and four are promised: two counters want the last two."""
    from orders.counter.services.ordering import confirm_order
    from orders.models import Order
    from tests.builders import make_customer, make_draft, make_order, make_person

    make_order(2, design=workshop["design"], customer=make_customer("First come"))
    numbers = [
        make_draft(1, design=workshop["design"], customer=make_customer(f"Customer {n}")).number
        for n in range(2)
    ]

    def confirm(number: int):
        return lambda: confirm_order(
            Order.objects.get(number=number), person=make_person("owner"), owner_word="agreed"
        )

    told = at_once(*(confirm(number) for number in numbers))
    return {"told": told, **moulds_in_use()}


def moulds_in_use() -> dict:
    """The most moulds in use at any minute, and kilns with two loads at once, told by hand."""
    from stock.models import KilnLoad

    spans = []
    for load in KilnLoad.objects.select_related("kiln").prefetch_related("trays"):
        used = sum(tray.moulds for tray in load.trays.all())
        end = load.starts_at + timedelta(minutes=load.occupies_min)
        spans.append((load.starts_at, end, used, load.kiln_id))
    most = max(sum(used for a, b, used, _k in spans if a <= start < b) for start, *_ in spans)
    clashes = sum(
        one is not two and one[3] == two[3] and one[0] <= two[0] < one[1]
        for one in spans
        for two in spans
    )
    return {"most": most, "clashes": clashes, "loads": len(spans)}


def accepting(workshop: dict) -> dict:
    """Two keepers accept two plans that were worked out from the same state."""
    from orders.firing.services.plan import accept_plan, propose_plan
    from orders.models import FiringPlan

    plans = [
        propose_plan(person=workshop[name], seconds=0.1, bound=False) for name in ("olek", "mirja")
    ]
    told = at_once(
        *(
            lambda plan=plan, name=name: accept_plan(plan, person=workshop[name])
            for plan, name in zip(plans, ("olek", "mirja"), strict=True)
        )
    )
    return {"told": told, "accepted": FiringPlan.objects.exclude(accepted_at=None).count()}


def moving(workshop: dict) -> dict:
    """Two keepers carry the same tray into two different new loads."""
    from orders.firing.services.load_moves import Move, move_tray
    from orders.floor.read_floor import read_floor
    from stock.models import KilnLoad, LoadTray
    from tests.orders.firing.conftest import day_after_tomorrow

    tray = LoadTray.objects.filter(load__state="planned").order_by("pk").last()
    beads = sum(LoadTray.objects.values_list("beads", flat=True))
    seen = {
        name: LoadTray.objects.select_related("load__kiln", "bead__mould").get(pk=tray.pk)
        for name in ("olek", "mirja")
    }

    def move(name: str, days: int):
        def act() -> None:
            wanted = Move(
                seen[name], 99, kiln=workshop["kiln"],
                starts_at=day_after_tomorrow(12) + timedelta(days=days),
            )  # fmt: skip
            move_tray(read_floor(), wanted, person=workshop[name])

        return act

    told = at_once(move("olek", 3), move("mirja", 4))
    after = sum(LoadTray.objects.values_list("beads", flat=True))
    return {"told": told, "beads": [beads, after], "loads": KilnLoad.objects.count()}


def logging(workshop: dict) -> dict:
    """Two keepers log the same burning load."""
    from orders.firing.queries.trays import trays_of
    from orders.firing.services.log import TrayOut, log_firing
    from stock.models import Balance, KilnLoad, Posting
    from tests.orders.firing.conftest import burning_load, moulded_job

    job = moulded_job(workshop, customer="Burning")
    load = burning_load(workshop, job)
    seen = {name: KilnLoad.objects.select_related("kiln").get(pk=load.pk) for name in NAMES}
    before = Posting.objects.count()

    def log(name: str):
        def act() -> None:
            out = [TrayOut(tray, tray.beads) for tray in trays_of(seen[name])]
            log_firing(seen[name], out, person=workshop[name])

        return act

    told = at_once(log("olek"), log("mirja"))
    return {
        "told": told,
        "postings": Posting.objects.count() - before,
        "beads": [job.to_start, sum(_beads_of(job.batch_id, Balance))],
    }


NAMES = ("olek", "mirja")


def changing(workshop: dict) -> dict:
    """Two at the counter change the same promised order: one wants more of it, one fewer."""
    from orders.counter.services.changing import change_order
    from orders.models import Order, WantedLine
    from stock.services.check import MORE_CHECKS, first_difference
    from tests.builders import make_order

    order = make_order(3, design=workshop["design"])
    seen = {name: Order.objects.get(pk=order.pk) for name in NAMES}

    def change(name: str, strands: int):
        wanted = [WantedLine(workshop["design"].pk, strands)]
        return lambda: change_order(seen[name], wanted, person=workshop[name], owner_word="agreed")

    told = at_once(change("olek", 5), change("mirja", 1))
    checks = [line for check in MORE_CHECKS for line in check.differences()]
    return {
        "told": told,
        "strands": order.lines.get().strands,
        "wrong": [str(first_difference() or ""), *checks],
    }


def packing(workshop: dict) -> dict:
    """Two hands pack the same order, for which they are paid once."""
    from orders.bench.services import pack_order
    from orders.models import Order, Stage
    from stock.models import WorkTicket
    from tests.builders import make_order, make_rate

    make_rate("Packing", skill="stringing", basis="order")
    order = make_order(1, design=workshop["design"])
    Order.objects.filter(pk=order.pk).update(stage=Stage.STRUNG)

    def pack(name: str):
        return lambda: pack_order(order, {"Packing": 9}, person=workshop[name])

    told = at_once(pack("olek"), pack("mirja"))
    return {"told": told, "tickets": WorkTicket.objects.filter(step="Packing").count()}


def breaking(workshop: dict) -> dict:
    """Two hands tell of the last mould of its kind."""
    from stock.services.moulds import mould_gone
    from workshop.models import Mould

    mould = Mould.objects.create(
        name="Last one", shape="round", bead_across_mm=14, cavities=4, owned=1, clay_g=300
    )

    def gone(name: str):
        return lambda: mould_gone(mould, person=workshop[name])

    told = at_once(gone("olek"), gone("mirja"))
    mould.refresh_from_db()
    return {"told": told, "owned": mould.owned, "gone": mould.gone.count()}


def _beads_of(batch: int, Balance) -> list[int]:
    rows = Balance.objects.inside().filter(item__batch=batch)
    return list(rows.values_list("quantity", flat=True))


def searching(workshop: dict) -> dict:
    """A worker starts a longer search and is killed; meanwhile an order is taken."""
    from django.db import connections

    from orders.firing.services import longer_search
    from orders.models import FiringSearch
    from tests.builders import make_customer, make_order

    connections.close_all()
    longer_search.SECONDS = 3
    worker = os.fork()
    if worker == 0:
        longer_search.search_longer(person=workshop["olek"])
        time.sleep(60)
    wait_until(lambda: FiringSearch.objects.filter(seen_at__isnull=False).exists())
    children = zombies_of(worker)
    os.kill(worker, signal.SIGKILL)
    os.waitpid(worker, 0)
    connections.close_all()
    began = time.monotonic()
    make_order(1, design=workshop["design"], customer=make_customer("Beside the search"))
    took_s = time.monotonic() - began
    wait_until(lambda: FiringSearch.objects.filter(ended_at__isnull=False).exists())
    search = FiringSearch.objects.get()
    return {
        "plan": search.plan_id is not None, "said": search.said, "searched": search.searched_s,
        "zombies": children, "order_took_s": took_s,
    }  # fmt: skip


def zombies_of(parent: int) -> int:
    """Ended processes that a parent has not collected (Linux's own list of processes)."""
    found = 0
    for name in os.listdir("/proc"):
        if name.isdigit():
            try:
                with open(f"/proc/{name}/stat") as stat:
                    state, ppid = stat.read().rpartition(")")[2].split()[:2]
            except OSError:
                continue
            found += state == "Z" and int(ppid) == parent
    return found


def wait_until(happened, seconds: float = 90) -> None:
    from django.db import connections

    end = time.monotonic() + seconds
    while not happened():
        if time.monotonic() > end:
            raise SystemExit("It did not happen in time.")
        connections.close_all()
        time.sleep(0.1)


def main() -> None:
    import django

    django.setup()
    workshop = make()
    races = (confirming, accepting, moving, logging, changing, packing, breaking, searching)
    json.dump({race.__name__: race(workshop) for race in races}, sys.stdout)


if __name__ == "__main__":
    main()
