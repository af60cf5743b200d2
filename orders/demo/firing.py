"""The demo's kilns: loads burnt day by day."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from random import Random
from typing import Any

from django.db.models import Q, Sum
from django.utils import timezone

from orders.making.services.kiln_room import free_planned
from orders.making.services.progress import job_fired
from orders.models import LoadShare, Order, WorkOrder
from stock.models import KilnLoad, LoadTray
from stock.services.beads import load_beads, log_good_beads, unload_beads
from stock.services.load_costs import charges_of_load
from stock.services.moves import Cost
from workshop.models import Kiln
from workshop.services.numbers import take_number

Step = WorkOrder.Step
READY = (Step.FIRING, Step.SECOND)


def fire_todays_loads(story: Any) -> None:
    """What is ready goes into the kilns by its programme, and comes out again; two loads a day."""
    groups = _ready_by_programme(story)
    kilns = 2 * list(Kiln.objects.filter(in_use=True).order_by("-places"))
    # The programme whose beads have waited longest is fired first.
    for programme, trays in sorted(groups.items(), key=lambda pair: min(t.since for t in pair[1])):
        while trays and (kiln := _kiln_for(programme, kilns)):
            kilns.remove(kiln)
            trays = _burn(story, kiln, programme, trays)


def _kiln_for(programme: Any, kilns: list[Kiln]) -> Kiln | None:
    return next((k for k in kilns if k.lowest_c <= programme.hold_c <= k.highest_c), None)


@dataclass
class Waiting:
    """Beads of one batch that wait for a firing, for an order or for the shelf."""

    batch: Any
    firing: int
    left: int
    since: datetime
    job: WorkOrder | None = None


def _ready_by_programme(story: Any) -> dict:
    jobs = (
        WorkOrder.objects.filter(order__state=Order.State.CONFIRMED, step__in=READY)
        .select_related("order", "batch__bead__mould", "bead__mould")
        .select_related("bead__programme", "bead__second_programme")
        .annotate(fired_once=_fired(1), fired_twice=_fired(2))
        .order_by("order__due_on", "pk")
    )
    waiting = []
    for job in jobs:
        firing = 2 if job.step == Step.SECOND else 1
        done = (job.fired_twice if firing == 2 else job.fired_once) or 0
        left = _still_whole(job.batch, firing) - done
        waiting.append(Waiting(job.batch, firing, left, job.step_since, job))
    waiting += story.drying
    groups = defaultdict(list)
    for each in waiting:
        bead = each.batch.bead
        groups[bead.second_programme if each.firing == 2 else bead.programme].append(each)
    return groups


def _fired(firing: int):
    return Sum("batch__trays__beads", filter=Q(batch__trays__firing=firing))


def _burn(story: Any, kiln: Kiln, programme: Any, waiting: list[Waiting]) -> list[Waiting]:
    """Fill one load, moulds by what is owned; returns what did not fit."""
    now = timezone.now()
    load = KilnLoad.objects.create(
        number=take_number("load"),
        kiln=kiln,
        state=KilnLoad.State.COOLED,
        starts_at=now,
        started_at=now,
        ended_at=now + timedelta(minutes=kiln.preheat_min + programme.hold_min + kiln.cooling_min),
        hold_c=programme.hold_c,
        hold_min=programme.hold_min,
        peak_c=programme.hold_c + story.dice.randint(-8, 12),
        fuel_used=Decimal(story.dice.randint(210, 320)) / 10,
        keeper=story.kiln,
    )
    places, owned = kiln.places, {}
    trays = []
    for each in waiting:
        mould = each.batch.bead.mould
        free = min(owned.get(mould.pk, mould.owned), places // mould.places)
        moulds = min(-(-each.left // mould.cavities), free)
        if moulds < 1:
            continue
        places -= moulds * mould.places
        owned[mould.pk] = owned.get(mould.pk, mould.owned) - moulds
        trays.append((each, _put_in(story, load, each, moulds)))
    charges = charges_of_load(load, [tray for _each, tray in trays])
    for each, tray in trays:
        _take_out(story, load, each, tray, charges[tray.pk])
    return [each for each in waiting if each.left]


def _put_in(story: Any, load: KilnLoad, each: Waiting, moulds: int) -> LoadTray:
    batch, bead = each.batch, each.batch.bead
    count = min(each.left, moulds * bead.mould.cavities)
    tray = LoadTray.objects.create(
        load=load, bead=bead, batch=batch, firing=each.firing, moulds=moulds, beads=count
    )
    if each.job is not None:
        LoadShare.objects.create(tray=tray, job=each.job, moulds=moulds, beads=count)
    load_beads(batch, count, person=story.kiln, load=str(load.number))
    return tray


def _take_out(
    story: Any, load: KilnLoad, each: Waiting, tray: LoadTray, charges: Sequence[Cost]
) -> None:
    batch, job, bead, count = each.batch, each.job, each.batch.bead, tray.beads
    unload_beads(batch, count, person=story.kiln, load=str(load.number), charges=charges)
    rate = bead.second_reject_rate if each.firing == 2 else bead.reject_rate
    tray.good, tray.rejected = throw_rejects(story.dice, count, float(rate))
    tray.save(update_fields=["good", "rejected"])
    each.left -= count
    if each.left:
        return
    if job is not None:
        free_planned(job, each.firing)  # it was fired in another load than its room was kept in
        if each.firing == 1 and bead.firings == 2:
            sort_beads(story, batch, 1)
        job_fired(job, firing=each.firing, person=story.kiln)
        return
    story.drying.remove(each)
    sort_beads(story, batch, each.firing)
    if each.firing == 1 and bead.firings == 2:
        story.drying.append(Waiting(batch, 2, _still_whole(batch, 2), timezone.now()))


def sort_beads(story: Any, batch: Any, firing: int) -> int:
    """Finish and sort a batch whose trays have all cooled; returns the good beads."""
    trays = LoadTray.objects.filter(batch=batch, firing=firing)
    out = trays.aggregate(good=Sum("good"), rejected=Sum("rejected"))
    log_good_beads(
        batch, good=out["good"], rejected=out["rejected"], firing=firing, person=story.bench
    )
    return out["good"]


def _still_whole(batch: Any, firing: int) -> int:
    return batch.started - batch.rejected if firing == 2 else batch.started


def throw_rejects(dice: Random, count: int, rate: float) -> tuple[int, int]:
    """How many of `count` beads come good and how many do not, by the dice."""
    rejected = sum(dice.random() < rate for _bead in range(count))
    return count - rejected, rejected
