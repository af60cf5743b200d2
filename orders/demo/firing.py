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

from orders.floor.kiln_room import free_planned
from orders.making.services.progress import job_fired
from orders.models import LoadShare, Order, WorkOrder
from stock.models import KilnLoad, LoadTray
from stock.services.beads import load_beads, log_good_beads, paint_beads, unload_beads
from stock.services.load_costs import charges_of_load
from stock.services.moves import Cost
from workshop.days import soonest
from workshop.models import BeadKind, Kiln
from workshop.physics.kept_hot import PiercedRound, round_times
from workshop.services.numbers import take_number

Step = WorkOrder.Step
READY = (Step.FIRING, Step.SECOND)
ROUNDS_A_DAY = 6
PIERCING_A_MOULD_MIN = Decimal("0.9")


def fire_todays_loads(story: Any) -> None:
    """What is ready goes into the kilns by its programme, and comes out again: two loads a day in a
    closed kiln, and as many rounds as the day holds in the one that is kept hot."""
    groups = _ready_by_programme(story)
    everyone = list(Kiln.objects.filter(in_use=True).order_by("-way", "-places"))
    kilns = [kiln for kiln in everyone for _again in range(ROUNDS_A_DAY if kiln.as_hot else 2)]
    run: list[KilnLoad] = []
    # The programme whose beads have waited longest is fired first.
    for programme, trays in sorted(groups.items(), key=lambda pair: min(t.since for t in pair[1])):
        for pierced in (True, False):
            waiting = [each for each in trays if _is_pierced(each) is pierced]
            # Painted beads would crack, and centrepieces want to cool slowly.
            closed = programme.kind == BeadKind.CENTREPIECE or any(w.firing == 2 for w in waiting)
            while waiting and (kiln := _kiln_for(programme, kilns, pierced, closed)):
                kilns.remove(kiln)
                waiting = _burn(story, kiln, programme, waiting, run)


def _is_pierced(each: "Waiting") -> bool:
    return each.firing == 1 and each.batch.bead.pierced_hot


def _kiln_for(programme: Any, kilns: list[Kiln], pierced: bool, closed: bool) -> Kiln | None:
    """Pierced beads come hot out of the fire; others go where they may."""
    for kiln in kilns:
        right = kiln.is_kept_hot if pierced else not (kiln.is_kept_hot and closed)
        if right and kiln.lowest_c <= programme.hold_c <= kiln.highest_c:
            return kiln
    return None


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
        .order_by(soonest("order__due_on"), "pk")
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


def _burn(
    story: Any, kiln: Kiln, programme: Any, waiting: list[Waiting], run: list[KilnLoad]
) -> list[Waiting]:
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
    if kiln.is_kept_hot:
        _as_a_round(load, run, sum(t.moulds for e, t in trays if _is_pierced(e)))
    charges = charges_of_load(load, [tray for _each, tray in trays])
    for each, tray in trays:
        _take_out(story, load, each, tray, charges[tray.pk])
    return [each for each in waiting if each.left]


def _as_a_round(load: KilnLoad, run: list[KilnLoad], pierced: int) -> None:
    """The minutes of a round, behind those of its day; the first one lights the kiln."""
    hot, before = load.kiln.as_hot, run[-1] if run else None
    assert hot is not None
    times = round_times(
        hot, 0, load.hold_c, load.hold_min, before_c=before.hold_c if before else None,
        pierced=PiercedRound(pierced * PIERCING_A_MOULD_MIN, 1) if pierced else None,
    )  # fmt: skip
    load.lit, load.hands = before is None, 1 if pierced else 0
    load.in_after_min, load.first_after_min = times.in_min, times.first_min
    load.free_after_min, load.done_after_min = times.end_min, times.done_min
    if before is not None:
        free = before.started_at + timedelta(minutes=before.free_after_min or 0)
        load.starts_at = load.started_at = free
    load.ended_at = load.started_at + timedelta(minutes=times.done_min)
    if pierced:
        load.pierced_until = load.ended_at
    load.fuel_used = None
    load.save()
    run.append(load)


def _put_in(story: Any, load: KilnLoad, each: Waiting, moulds: int) -> LoadTray:
    batch, bead = each.batch, each.batch.bead
    count = min(each.left, moulds * bead.mould.cavities)
    tray = LoadTray.objects.create(
        load=load, bead=bead, batch=batch, firing=each.firing, moulds=moulds, beads=count
    )
    if each.job is not None:
        LoadShare.objects.create(tray=tray, job=each.job, moulds=moulds, beads=count)
    load_beads(
        batch, count, person=story.kiln, load=str(load.number), firing=each.firing
    )  # fmt: skip
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
        paint_beads(batch, person=story.bench)
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
