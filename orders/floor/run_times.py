"""Rounds follow each other: when one grows or moves, the later ones of its run are pushed along."""

from dataclasses import replace

from django.db.models import F

from orders.floor.read_floor import read_floor
from orders.planning.instance import Plan
from orders.planning.rounds.settle import settled_pairs
from orders.planning.times import LoadTimes, plan_times
from stock.models import KilnLoad
from workshop.models import Kiln, Programme, WayOfWorking

TIMES = (
    "lit", "hands", "in_after_min", "first_after_min", "free_after_min", "done_after_min",
)  # fmt: skip


def set_times(row: KilnLoad, times: LoadTimes) -> None:
    """How a round, or a load with a soak, stands in its run: lit, hands, and minutes from its
    start. A load of a closed kiln without a soak is told by its kiln alone."""
    load = times.load
    row.lit, row.hands = load.lit, load.hands
    plain = times.run is None and times.slow_min == 0
    row.in_after_min = None if plain else times.in_min - load.start_min
    row.first_after_min = None if plain else times.first_min - load.start_min
    row.free_after_min = None if plain else times.end_min - load.start_min
    row.done_after_min = None if plain else times.done_min - load.start_min


def knows_rounds() -> bool:
    """Whether loads here are more than closed ones of one length (2 queries)."""
    return (
        Kiln.objects.filter(in_use=True, way=WayOfWorking.HOT).exists()
        or Programme.objects.filter(soak_c__isnull=False).exists()
    )


def settle_rounds() -> None:
    """Make the minutes of all planned loads agree; call inside the transaction of an act that
    changed one. Nothing is done in a workshop whose kilns are all closed and soak nothing."""
    if not knows_rounds():
        return
    floor = read_floor()
    fixed = frozenset(pin.load for pin in floor.instance.pinned)
    pairs = settled_pairs(replace(floor.instance, pinned=()), floor.whole_plan, fixed)
    after = dict(pairs)
    times = {
        id(one.load): one
        for one in plan_times(floor.instance, Plan(tuple(load for _before, load in pairs)))
    }
    changed = []
    for row in floor.loads:
        load = after.get(floor.load_of(row))
        if load is None or row.state != KilnLoad.State.PLANNED:
            continue
        starts_at = floor.clock.moment(load.start_min)
        old = {name: getattr(row, name) for name in TIMES}
        set_times(row, times[id(load)])
        if row.starts_at != starts_at or old != {name: getattr(row, name) for name in TIMES}:
            row.starts_at = starts_at
            row.version = F("version") + 1  # type: ignore[assignment]
            changed.append(row)
    KilnLoad.objects.bulk_update(changed, ["starts_at", "version", *TIMES])
