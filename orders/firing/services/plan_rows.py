"""An accepted plan written into the loads, the bench's days and the days told to orders."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from math import ceil

from orders.firing.queries.plan_effects import last_outs
from orders.floor.doubt import firing_records, rounds_of
from orders.floor.floor import SHELF, Finish, Floor
from orders.floor.open_days import OpenDays
from orders.floor.promise import CAREFUL, SPARE_DAYS_PER_FIRING
from orders.floor.run_times import set_times
from orders.models import BenchShare, LoadShare, Order
from orders.planning.bench import BenchUse
from orders.planning.doubt import quantile, simulate_board
from orders.planning.instance import DAY_MIN, Load, Plan
from orders.planning.times import cold_min, firings_in, plan_times
from stock.models import KilnLoad, LoadTray
from workshop.services.numbers import take_numbers

PLANNED_FIELDS = (
    "kiln", "starts_at", "hold_c", "hold_min", "lit", "hands", "in_after_min", "first_after_min",
    "free_after_min", "done_after_min", "version",
)  # fmt: skip
RUNS = 400  # of the whole board; the day found wavers by less than one in fifty


def write_plan(floor: Floor, plan: Plan) -> list[KilnLoad]:
    """The plan's loads in the place of the unpinned planned ones (a fixed number of queries).

    A number that was printed or spoken of stays with its load and never names another one; that
    of a load that is no more is not used again. Call inside a transaction.
    """
    old = [row for row in floor.loads if row.state == KilnLoad.State.PLANNED and not row.pinned]
    wanted = sorted(plan.loads, key=lambda load: (load.start_min, load.kiln))
    rows = _rows_of(floor, wanted, old)
    kilns = {kiln.name: kiln for kiln in floor.facts.kilns}
    times = {one.load: one for one in plan_times(floor.instance, floor.with_pinned(plan))}
    for load, row in rows.items():
        row.kiln = kilns[load.kiln]
        row.starts_at = floor.clock.moment(load.start_min)
        row.hold_c, row.hold_min = round(load.temp_c), load.minutes
        row.state = KilnLoad.State.PLANNED
        set_times(row, times[load])
        row.version += 1
    # Nothing else hangs on a tray, so neither is read first, nor deleted by the hundred.
    LoadShare.objects.filter(tray__load__in=old).delete()
    trays = LoadTray.objects.filter(load__in=old)
    trays._raw_delete(trays.db)
    kept = [row for row in rows.values() if row.pk is not None]
    KilnLoad.objects.filter(pk__in={row.pk for row in old} - {row.pk for row in kept}).delete()
    KilnLoad.objects.bulk_update(kept, PLANNED_FIELDS)
    KilnLoad.objects.bulk_create(row for row in rows.values() if row.pk is None)
    _fill_loads(floor, rows)
    return list(rows.values())


def _rows_of(floor: Floor, wanted: Sequence[Load], old: Sequence[KilnLoad]) -> dict[Load, KilnLoad]:
    """For each load of a plan the row that it is already, or a new one with a number of its own."""
    found = rows_that_stay(floor, wanted, old)
    new = [load for load in wanted if load not in found]
    numbers = take_numbers("load", len(new)) if new else ()
    found |= {load: KilnLoad(number=number) for load, number in zip(new, numbers, strict=True)}
    return {load: found[load] for load in wanted}


def rows_that_stay(
    floor: Floor, wanted: Sequence[Load], old: Sequence[KilnLoad]
) -> dict[Load, KilnLoad]:
    """Of the loads of a plan, those that stand already, with their rows.

    One stands when most of its beads are in that one, or when kiln and minute are the same and
    some of the beads, or nothing was in it.
    """
    rows = {row.pk: row for row in old}
    held = {row.pk: _beads_of_row(row) for row in old}
    holders = defaultdict(list)
    for pk, beads in held.items():
        for each in beads:
            holders[each, rows[pk].kiln.name].append(pk)
    empty = {
        (row.kiln.name, floor.clock.minute(row.starts_at)): row.pk
        for row in old
        if not held[row.pk]
    }
    likeness = []
    for place, load in enumerate(wanted):
        its = _beads_of_plan(floor, load)
        same: Counter[int] = Counter()
        for each, many in its.items():
            for pk in holders[each, load.kiln]:
                same[pk] += min(many, held[pk][each])
        if (load.kiln, load.start_min) in empty:
            same[empty[load.kiln, load.start_min]] = 1
        for pk, beads_same in same.items():
            stays = load.start_min == floor.clock.minute(rows[pk].starts_at)
            if stays or 2 * beads_same > sum(its.values()):
                likeness.append((beads_same, stays, -place, -pk))
    found: dict[Load, KilnLoad] = {}
    for _beads, _stays, place, pk in sorted(likeness, reverse=True):
        load = wanted[-place]
        if load not in found and -pk in rows:
            found[load] = rows.pop(-pk)
    return found


def _beads_of_row(row: KilnLoad) -> Counter[tuple[int, str]]:
    """Beads of a load that stands, by kind and order."""
    found: Counter[tuple[int, str]] = Counter()
    for tray in row.trays.all():
        left = tray.beads
        for share in tray.shares.all():
            found[tray.bead_id, str(share.job.order.number)] += share.beads
            left -= share.beads
        if left:
            found[tray.bead_id, SHELF] += left
    return found


def _beads_of_plan(floor: Floor, load: Load) -> Counter[tuple[int, str]]:
    """The same of a load of a plan."""
    found: Counter[tuple[int, str]] = Counter()
    for item in load.items:
        if (work := floor.work.get(item.job)) is not None:
            order = SHELF if work.job is None else str(work.job.order.number)
            found[work.bead.pk, order] += item.beads
    return found


def _fill_loads(floor: Floor, rows: Mapping[Load, KilnLoad]) -> None:
    """A tray for each part of a job in a load, with the share that belongs to its order."""
    put = [
        (row, item, work)
        for load, row in rows.items()
        for item in load.items
        if (work := floor.work.get(item.job)) is not None and item.beads > 0
    ]
    trays = LoadTray.objects.bulk_create(
        LoadTray(
            load=row,
            bead=work.bead,
            batch_id=work.batch_id,
            firing=item.firing + work.first - 1,
            moulds=item.moulds,
            beads=item.beads,
        )
        for row, item, work in put
    )
    LoadShare.objects.bulk_create(
        LoadShare(tray=tray, job=work.job, moulds=item.moulds, beads=item.beads)
        for tray, (_row, item, work) in zip(trays, put, strict=True)
        if work.job is not None
    )


# --- what the orders are told -----------------------------------------------------------------


def tell_orders(floor: Floor, plan: Plan) -> None:
    """The likely and the careful day of each order follow a whole plan, and so does its bench
    time. Call inside a transaction."""
    finishes = floor.finish(last_outs(floor, plan))
    orders = {
        str(order.number): order
        for order in Order.objects.open().filter(number__in=[int(name) for name in finishes])
    }
    careful = _careful_days(floor, plan, finishes)
    moved = []
    for name, order in orders.items():
        days = finishes[name].day, careful[name]
        if (order.likely_on, order.p90_on) != days:
            order.likely_on, order.p90_on = days
            moved.append(order)
    Order.objects.bulk_update(moved, ["likely_on", "p90_on"])
    _write_bench(floor, plan, orders, finishes)


def _careful_days(floor: Floor, plan: Plan, finishes: dict[str, Finish]) -> dict[str, date]:
    """The day that holds nine times in ten, by playing the whole board many times.

    A lost day moves every load after it, for all orders together. Until the records are enough,
    a spare day for each firing day is allowed.
    """
    days = floor.facts.days
    fired_on = _firing_days(floor, plan, finishes)
    records = firing_records(floor.facts)
    if not records.enough or records.lost_days >= records.working_days:
        return {
            name: _later(days, finish.day, SPARE_DAYS_PER_FIRING * len(fired_on.get(name, ())))
            for name, finish in finishes.items()
        }
    working = sorted({opens // DAY_MIN for opens, _shuts in floor.facts.windows})
    reject = min(0.9, records.beads_rejected / records.beads_sorted)
    outcomes = simulate_board(
        fired_on, working, records.lost_days / records.working_days, runs=RUNS, seed=1,
        refire_chance=_refire(floor, reject),
    )  # fmt: skip
    found = {}
    for name, finish in finishes.items():
        last = max(fired_on.get(name, ()), default=None)
        day = quantile(outcomes.get(name, ()), CAREFUL)
        if last is None:
            found[name] = finish.day
            continue
        lost = 1 if day is None else sum(last < each <= day for each in working)
        found[name] = _later(days, finish.day, max(1, lost))
    return found


def _firing_days(floor: Floor, plan: Plan, finishes: dict[str, Finish]) -> dict[str, list[int]]:
    order_of = {job.id: job.order for job in floor.instance.jobs}
    found: dict[str, set[int]] = {}
    for load in plan.loads:
        for item in load.items:
            name = order_of.get(item.job, SHELF)
            if name in finishes:
                found.setdefault(name, set()).add(max(0, load.start_min // DAY_MIN))
    return {name: sorted(on) for name, on in found.items()}


def _refire(floor: Floor, reject: float) -> dict[str, float]:
    """The chance of each order that too few of its beads come good the first time."""
    beads: dict[str, list[tuple[int, int]]] = {}
    for job in floor.jobs:
        needed = max(0, job.needed - job.good)
        beads.setdefault(str(job.order.number), []).append((needed, job.to_start))
    return {name: min(0.9, 1 - rounds_of(kinds, reject)[0]) for name, kinds in beads.items()}


def _later(days: OpenDays, day: date, many: int) -> date:
    for _again in range(many):
        day = days.first_open(day + timedelta(days=1))
    return day


def _write_bench(
    floor: Floor, plan: Plan, orders: dict[str, Order], finishes: dict[str, Finish]
) -> None:
    """Bench time of every order in the plan, by day and skill, in the place of what was kept."""
    painting = floor.painting(_first_outs(floor, plan))
    rows = []
    for name, order in orders.items():
        sums: dict[tuple[int, str], float] = {}
        uses: Sequence[BenchUse] = [
            *floor.bench.before.get(name, ()), *painting.get(name, ()), *finishes[name].uses,
        ]  # fmt: skip
        for use in uses:
            sums[use.day, use.skill] = sums.get((use.day, use.skill), 0) + use.minutes
        rows += [
            BenchShare(
                order=order, day=floor.clock.day(day * DAY_MIN), skill=skill,
                minutes=ceil(minutes - 1e-6),
            )
            for (day, skill), minutes in sums.items()
            if minutes > 1e-6
        ]  # fmt: skip
    BenchShare.objects.filter(order__in=list(orders.values())).delete()
    BenchShare.objects.bulk_create(rows)


def _first_outs(floor: Floor, plan: Plan) -> dict[str, int]:
    """The minute at which the last first firing of each order is over."""
    jobs = {job.id: job for job in floor.instance.jobs}
    outs: dict[str, int] = {}
    for one in plan_times(floor.instance, plan):
        for item, firing in firings_in(jobs, one.load):
            job = jobs[item.job]
            if item.firing == 1 and len(job.firings) > 1:
                outs[job.order] = max(outs.get(job.order, 0), cold_min(one, firing))
    return outs
