"""The kilns, the hours and the beads that wait, put together for the planner."""

import hashlib
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from functools import lru_cache

from django.utils import timezone

from orders.floor.facts import FloorFacts, read_facts
from orders.floor.floor import SHELF, Floor, Refused
from orders.floor.loads import StandingLoads
from orders.floor.rows import active_loads, floor_rows
from orders.floor.work import WorkReader
from orders.planning.errors import PlanningError
from orders.planning.instance import DAY_MIN, Instance, Load, Plan
from orders.planning.instance import Order as PlannedOrder
from orders.planning.rounds.problem import compiled
from workshop.models import NoFiring


def read_floor(no_firing: Iterable[NoFiring] = ()) -> Floor:
    """The floor now (15 queries, 6 more after a change of the workshop itself).

    no_firing  days without firing that are only being thought about
    """
    return _Reader(read_facts(timezone.now(), no_firing)).floor()


class _Reader:
    def __init__(self, facts: FloorFacts) -> None:
        self.facts = facts
        self.rows = floor_rows(facts.loads)
        self.reader = WorkReader(self.rows, facts)

    def floor(self) -> Floor:
        reader = self.reader
        reader.read()
        pinned, standing = StandingLoads(self.facts, reader.work).split(self.facts.loads)
        moulds = {bead.mould_id: bead.mould for bead in reader.beads.values()}
        jobs = (work.as_job(self.facts.heat) for work in reader.work.values())
        instance, refused = _without_the_impossible(
            self.facts.instance(moulds.values(), self._orders(), jobs, pinned)
        )
        names = {job.id for job in instance.jobs}
        return Floor(
            self.facts,
            instance,
            Plan(tuple(_only(load, names) for load in standing)),
            reader.work,
            {name: order.due_on for name, order in reader.order_of.items()},
            reader.bench_room(),
            self.rows.jobs,
            reader.missing,
            list(refused),
            self._mark(),
        )

    # --- when it is wanted ----------------------------------------------------------------

    def _orders(self) -> Iterable[PlannedOrder]:
        last = self.facts.last_min
        for name, order in self.reader.order_of.items():
            due = order.due_on or order.p90_on
            minutes = self.reader.working_min_after(name)
            yield PlannedOrder(name, self._fired_by(due, minutes) if due else last)
        yield PlannedOrder(SHELF, last)

    def _fired_by(self, due: date, minutes: int) -> int:
        """The last minute at which beads may come out, to be finished and strung by a day's end."""
        days, clock = self.facts.days, self.facts.clock
        day = due if days.is_open(due) else days.last_open_before(due) or due
        end = clock.start_of(day) + max((b for _a, b in days.windows(day)), default=DAY_MIN - 1)
        for opens, shuts in reversed(self.facts.windows):
            if opens >= end:
                continue
            worked = min(shuts, end) - opens
            if minutes <= worked:
                return min(shuts, end) - minutes
            minutes -= worked
        return end - minutes

    def _mark(self) -> str:
        """Changes whenever anything does that a plan was worked out from."""
        told, jobs, loads = self.facts, self.rows.jobs, self.facts.loads
        facts = (
            [(load.number, load.version, load.state, load.pinned) for load in loads],
            [(job.pk, job.step, job.to_start, job.batch_id, job.order.due_on) for job in jobs],
            sorted(
                (str(row.day), row.kiln_id or 0)
                for row in told.no_firing
                if row.pk and row.day >= told.today
            ),
            sorted(str(day) for day in told.days.closed),
            [(day, str(hours)) for day, hours in told.days.hours.items()],
            [
                (kiln.pk, kiln.places, kiln.preheat_min, kiln.cooling_min, kiln.as_hot)
                for kiln in told.kilns
            ],
            str(told.today),
        )
        return hashlib.sha256(repr(facts).encode()).hexdigest()


@lru_cache(maxsize=4)
def _without_the_impossible(instance: Instance) -> tuple[Instance, Sequence[Refused]]:
    """Work that no kiln can fire is set apart, so that the rest can be planned all the same."""
    refused: list[Refused] = []
    while True:
        try:
            compiled(instance)
        except PlanningError as error:
            if not error.job:
                # No kiln, no hours: nothing can be planned, and what stands can still be shown.
                return instance, (*refused, Refused("", str(error)))
            refused.append(Refused(str(error.job), str(error)))
            jobs = tuple(job for job in instance.jobs if job.id != error.job)
            names = {job.id for job in jobs}
            pinned = tuple(replace(pin, load=_only(pin.load, names)) for pin in instance.pinned)
            instance = replace(instance, jobs=jobs, pinned=pinned)
        else:
            return instance, tuple(refused)


def _only(load: Load, names: set[str]) -> Load:
    if all(item.job in names for item in load.items):
        return load
    items = tuple(item for item in load.items if item.job in names)
    return replace(load, items=items)


__all__ = ["active_loads", "read_floor"]
