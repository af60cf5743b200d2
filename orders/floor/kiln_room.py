"""Room kept for an order: kiln places and bench minutes, from its confirmation until it is planned.

What confirming reserves stands in the loads as trays of the order, marked as reserved. Later
promises work around them; a plan that the keeper accepts takes their place; cancelling or
changing the order frees them. Whoever changes what the kilns are promised to first holds the
kilns' own rows, so that no two people give away the last place.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from math import ceil

from django.db import transaction
from django.db.models import Exists, F, OuterRef, QuerySet, Sum

from orders.floor.promise import Promise, Room
from orders.floor.run_times import settle_rounds
from orders.floor.usual_places import usual_places
from orders.models import BenchShare, LoadShare, Order, WorkOrder
from orders.planning.bench import BenchUse
from orders.planning.reservation import Reservation
from stock.models import KilnLoad, LoadTray
from workshop.models import Kiln, Person
from workshop.services.acts import record_act, record_acts
from workshop.services.numbers import take_numbers

PLANNED = KilnLoad.State.PLANNED


def hold_the_kilns() -> None:
    """Wait until nobody else changes what the kilns are promised to; first in the transaction.

    On SQLite the transaction itself has waited already.
    """
    list(Kiln.objects.select_for_update().order_by("pk").values_list("pk"))


@transaction.atomic
def reserve_room(order: Order, promise: Promise, *, person: Person) -> list[KilnLoad]:
    """Write the room that a promise stands on into the loads and the bench's days.

    Call with the kilns held since before the promise was found. Returns the loads that were
    joined or begun.
    """
    if promise.room is None:
        return []
    room = promise.room
    waiting = order.jobs.filter(step__in=[WorkOrder.Step.GLASS, WorkOrder.Step.MOULDING])
    jobs = {job.bead_id: job for job in waiting}
    places = usual_places(room)
    loads = _loads_for(room, places)
    _reserve_in(loads, places, room, jobs)
    write_bench(order, room.board.facts.clock.first_day, room.bench)
    settle_rounds()
    record_acts(person, "keep room", loads, after={"order": order.number})
    return loads


def _reserve_in(
    loads: Sequence[KilnLoad],
    places: Sequence[Reservation],
    room: Room,
    jobs: dict[int, WorkOrder],
) -> None:
    """A tray for each part of a job in its load, with the share that belongs to the order."""
    wanted = [
        (load, item, jobs[room.wanted[item.job]])
        for load, place in zip(loads, places, strict=True)
        for item in place.items
    ]
    trays = LoadTray.objects.bulk_create(
        LoadTray(
            load=load, bead_id=job.bead_id, firing=item.firing, moulds=item.moulds,
            beads=item.beads,
        )
        for load, item, job in wanted
    )  # fmt: skip
    LoadShare.objects.bulk_create(
        LoadShare(tray=tray, job=job, moulds=item.moulds, beads=item.beads, reserved=True)
        for tray, (_load, item, job) in zip(trays, wanted, strict=True)
    )


def _loads_for(room: Room, places: Sequence[Reservation]) -> list[KilnLoad]:
    """Of each place kept, the planned load that is joined, now held at a heat that suits all in
    it; or a new one."""
    clock, standing = room.board.facts.clock, room.board.rows
    rows = [None if p.new else standing.get((p.kiln, p.start_min)) for p in places]
    joins = {pk: place for place, pk in zip(places, rows, strict=True) if pk is not None}
    KilnLoad.objects.bulk_update(
        (
            KilnLoad(
                pk=pk, version=F("version") + 1, hold_c=round(place.temp_c), hands=place.hands,
                starts_at=clock.moment(
                    place.start_min if place.moved_to is None else place.moved_to
                ),
            )
            for pk, place in joins.items()
        ),
        ["version", "hold_c", "hands", "starts_at"],
    )  # fmt: skip
    joined = KilnLoad.objects.in_bulk(joins)
    begun = [place for place, pk in zip(places, rows, strict=True) if pk is None]
    numbers = take_numbers("load", len(begun)) if begun else ()
    kilns = {kiln.name: kiln for kiln in room.board.facts.kilns}
    made = iter(
        KilnLoad.objects.bulk_create(
            KilnLoad(
                number=number, kiln=kilns[place.kiln],
                starts_at=clock.moment(place.start_min),
                hold_c=round(place.temp_c), hold_min=place.minutes, lit=place.lit,
                hands=place.hands,
            )
            for number, place in zip(numbers, begun, strict=True)
        )
    )  # fmt: skip
    return [next(made) if pk is None else joined[pk] for pk in rows]


def write_bench(order: Order, first_day: date, uses: Iterable[BenchUse]) -> None:
    """The bench minutes of an order by day and skill, in the place of what was kept before."""
    sums: dict[tuple[int, str], float] = defaultdict(float)
    for use in uses:
        sums[use.day, use.skill] += use.minutes
    BenchShare.objects.filter(order=order).delete()
    BenchShare.objects.bulk_create(
        BenchShare(
            order=order, day=first_day + timedelta(days=day), skill=skill,
            minutes=ceil(minutes - 1e-6),
        )
        for (day, skill), minutes in sorted(sums.items())
        if minutes > 1e-6
    )  # fmt: skip


@transaction.atomic
def free_room(order: Order, *, person: Person | None = None) -> int:
    """Nothing is kept for an order any more; returns how many planned trays it stood in."""
    hold_the_kilns()
    BenchShare.objects.filter(order=order).delete()
    return _take_out(LoadShare.objects.filter(job__order=order), person)


@transaction.atomic
def free_planned(job: WorkOrder, firing: int | None = None, *, person: Person | None = None) -> int:
    """Take the beads of one job out of the planned loads, of one firing or of all."""
    shares = LoadShare.objects.filter(job=job)
    return _take_out(shares if firing is None else shares.filter(tray__firing=firing), person)


@transaction.atomic
def free_jobs(jobs: Iterable[WorkOrder], *, person: Person | None) -> int:
    """Take the beads of some jobs out of the planned loads."""
    keys = [job.pk for job in jobs if job.pk]
    return _take_out(LoadShare.objects.filter(job__in=keys), person) if keys else 0


@transaction.atomic
def fit_room(job: WorkOrder, *, person: Person | None = None) -> None:
    """Planned loads keep no more room for a job than the beads it starts now, earliest first."""
    shares = LoadShare.objects.filter(job=job, tray__load__state=PLANNED)
    spare, kept = [], {1: job.to_start, 2: job.to_start}
    for share in shares.select_related("tray__load").order_by("tray__load__starts_at", "pk"):
        firing = share.tray.firing
        beads = min(kept[firing], share.beads)
        kept[firing] -= beads
        if not beads:
            spare.append(share.pk)
        elif beads < share.beads:
            _cut(share, beads, -(-beads // job.bead.mould.cavities))
            record_act(person, "free room", share.tray.load)
    _take_out(LoadShare.objects.filter(pk__in=spare), person)


def _cut(share: LoadShare, beads: int, moulds: int) -> None:
    LoadTray.objects.filter(pk=share.tray_id).update(
        beads=F("beads") - (share.beads - beads), moulds=F("moulds") - (share.moulds - moulds)
    )
    LoadShare.objects.filter(pk=share.pk).update(beads=beads, moulds=moulds)
    KilnLoad.objects.filter(pk=share.tray.load_id).update(version=F("version") + 1)


def _take_out(shares: QuerySet[LoadShare], person: Person | None) -> int:
    """Planned trays lose what belongs to these shares; a load left empty and unpinned goes."""
    rows = list(shares.filter(tray__load__state=PLANNED).select_related("tray"))
    loads = {share.tray.load_id for share in rows}
    for share in rows:
        share.delete()
    trays = LoadTray.objects.filter(pk__in={share.tray_id for share in rows})
    trays = trays.annotate(n=Sum("shares__beads"), fills=Sum("shares__moulds"))
    for tray in trays:
        if tray.n:
            LoadTray.objects.filter(pk=tray.pk).update(beads=tray.n, moulds=tray.fills)
        else:
            tray.delete()
    KilnLoad.objects.filter(pk__in=loads).update(version=F("version") + 1)
    record_acts(person, "free room", KilnLoad.objects.filter(pk__in=loads))
    drop_empty(loads)
    settle_rounds()
    return len(rows)


def drop_empty(loads: Iterable[int]) -> None:
    """Planned loads among these in which nothing stands any more, unless they are pinned."""
    standing = LoadTray.objects.filter(load=OuterRef("pk"))
    KilnLoad.objects.filter(~Exists(standing), pk__in=loads, state=PLANNED, pinned=False).delete()
