"""Kilns, moulds and hours with what they are promised to, as the counter's question needs them.

What stands in a load is told by mould and programme and not bead by bead, so the board is small
however many orders are open. Beads of other orders that stand in no load are given the room that
one plain pass of the planner finds for them, so that no kiln time is promised twice.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from random import Random

from orders.costing.results import BeadCosting
from orders.floor.facts import GLASS_COMES_DAYS, PAINT_DRY_MIN, FloorFacts, paint_gap_min
from orders.floor.five_minutes import job_on_grid
from orders.floor.labour import Amount
from orders.floor.promise_rows import FiringOf, WaitingRow, firings_of, tray_rows, waiting_rows
from orders.models import Order
from orders.planning.board import Board
from orders.planning.errors import PlanningError
from orders.planning.greedy import greedy
from orders.planning.instance import DAY_MIN, Firing, Instance, Item, Job, Load, PinnedLoad
from orders.planning.instance import Order as PlannedOrder
from orders.planning.problem import Problem
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.problem import RoundProblem
from orders.planning.rounds.search import RoundSearch
from stock.models import KilnLoad
from workshop.models import Skill

PLANNED = "loads already planned"


@dataclass(frozen=True)
class KilnBoard:
    """The workshop's kilns with every load already planned pinned.

    rows     the key of each planned load by its kiln and start
    firings  how each kind of bead is fired
    """

    facts: FloorFacts
    instance: Instance
    rows: Mapping[tuple[str, int], int]
    firings: FiringOf = field(compare=False)

    def usual(self, bead: int, number: int) -> tuple[float, int]:
        """°C and minutes that a firing of a bead usually has."""
        row = self.firings.beads[bead]
        programme = (row.second_programme if number == 2 else None) or row.programme
        return float(programme.hold_c), programme.hold_min


def kiln_board(facts: FloorFacts, asking: Order | None) -> KilnBoard:
    """What stands in the kilns from now on, and who waits for them (3 queries, 8 after a
    change of the workshop itself).

    asking  the order whose own beads are not counted, because the question is about them
    A load that is burning or pinned by the keeper takes nothing more; one that was not lit when
    it should have been holds no kiln.
    """
    loads = [load for load in facts.loads if load.pk not in facts.overdue]
    firings = firings_of(facts)
    jobs, pinned = _pinned(loads, firings, facts)
    orders = (PlannedOrder(PLANNED, 0),)
    instance = facts.instance(firings.moulds.values(), orders, jobs, pinned)
    rows = {
        (pin.load.kiln, pin.load.start_min): load.pk
        for load, pin in zip(loads, pinned, strict=True)
        if not load.is_fixed
    }
    asked = _with_waiting(instance, waiting_rows(asking, facts), firings, facts)
    return KilnBoard(facts, asked, rows, firings)


# --- the board --------------------------------------------------------------------------------


def _pinned(
    loads: Sequence[KilnLoad], firings: FiringOf, facts: FloorFacts
) -> tuple[tuple[Job, ...], tuple[PinnedLoad, ...]]:
    """The loads, and a job for each mould and programme that stands in any of them (1 query)."""
    sums: dict[int, dict[Firing, list[int]]] = {load.pk: {} for load in loads}
    by_key = {load.pk: load for load in loads}
    again: set[int] = set()
    for load_pk, bead, number, moulds, count in tray_rows(loads):
        if number == 1 and firings.beads[bead].second_programme and by_key[load_pk].kiln.as_hot:
            again.add(load_pk)
        firing = firings(bead, number) or firings(bead, 1)
        assert firing is not None
        _add(sums[load_pk], _wide(firing, by_key[load_pk]), moulds, count)
    inside = Inside()
    pinned = tuple(
        PinnedLoad(
            facts.load(load, inside.items(sums[load.pk])),
            # A round that grows or is pushed would come too late for a second firing.
            sealed=load.is_fixed or load.pk in again,
            temp_fixed=load.is_fixed or load.pk in again,
        )
        for load in loads
    )
    return inside.jobs(), pinned


def _wide(firing: Firing, load: KilnLoad) -> Firing:
    """Windows wide enough for the load it stands in: the keeper may have set other heat."""
    (low_c, high_c), (low_min, high_min) = firing.temp_c, firing.minutes
    if low_c <= load.hold_c <= high_c and low_min <= load.hold_min <= high_min:
        return firing
    return replace(
        firing,
        temp_c=(min(low_c, load.hold_c), max(high_c, load.hold_c)),
        minutes=(min(low_min, load.hold_min), max(high_min, load.hold_min)),
    )


def _with_waiting(
    instance: Instance, rows: Sequence[WaitingRow], firing_of: FiringOf, facts: FloorFacts
) -> Instance:
    """The instance with room pinned for beads that wait and stand in no load yet."""
    jobs, orders, now = [], {}, facts.first_min
    for pk, order, bead, due, glass, first, left, more in rows:
        name = f"order {order}"
        orders[name] = PlannedOrder(name, now if due is None else facts.clock.start_of(due))
        firings = [f for number in (1, 2)[first - 1 :] if (f := firing_of(bead, number))]
        release = now + glass * GLASS_COMES_DAYS * DAY_MIN
        if left > 0 and firings:
            gap = PAINT_DRY_MIN if len(firings) == 2 else 0
            jobs.append(Job(f"waiting {pk}", name, left, release, gap, tuple(firings)))
        if more > 0:
            again = release + DAY_MIN
            jobs.append(Job(f"waiting {pk} again", name, more, again, 0, (firings[-1],)))
    if not jobs:
        return instance
    asked = replace(
        instance,
        orders=(*instance.orders, *orders.values()),
        jobs=(*instance.jobs, *jobs),
    )
    try:
        return _with_room(asked)
    except PlanningError:
        return instance  # the firing page names the bead that no kiln can fire


@lru_cache(maxsize=4)
def _with_room(asked: Instance) -> Instance:
    """One plain pass of the planner, its loads pinned and told by mould and programme as well;
    kept, because the counter asks with every key typed."""
    board: Board | RoundBoard
    if asked.has_rounds:
        search = RoundSearch(RoundProblem(asked), Random(0))
        search.first()
        board = search.board
    else:
        board = Board(Problem(asked))
        greedy(board)
    firings = {(job.id, n): f for job in asked.jobs for n, f in enumerate(job.firings, 1)}
    before = {(pin.load.kiln, pin.load.start_min): pin for pin in asked.pinned}
    inside = Inside()
    pinned = []
    for load in _as_planned(board, before):
        old = before.get((load.kiln, load.start_min))
        sums: dict[Firing, list[int]] = {}
        for item in load.items:
            _add(sums, firings[item.job, item.firing], item.moulds, item.beads)
        sealed, fixed = (old.sealed, old.temp_fixed) if old else (False, False)
        kept = replace(load, items=inside.items(sums))
        pinned.append(PinnedLoad(kept, sealed=sealed, temp_fixed=fixed))
    return replace(
        asked, orders=(PlannedOrder(PLANNED, 0),), jobs=inside.jobs(), pinned=tuple(pinned)
    )


def _as_planned(
    board: Board | RoundBoard, before: Mapping[tuple[str, int], PinnedLoad]
) -> Sequence[Load]:
    """The board's loads; those that stand already keep the minute they are known by."""
    if isinstance(board, Board):
        return board.plan().loads
    new = {id(r): items for r, items in board.reserved()}
    found = []
    for r in sorted(board.rounds(), key=lambda r: (r.start, r.kiln)):
        kept = tuple(item for _, item in r.kept)
        load = board.as_load(r, (*kept, *new.get(id(r), ())))
        if r.pin is not None:
            load = replace(load, start_min=r.pin.load.start_min, lit=r.pin.load.lit)
        found.append(load)
    return found


class Inside:
    """What stands in loads, told as one job for each mould and programme."""

    def __init__(self) -> None:
        self.names: dict[Firing, str] = {}
        self.beads: dict[Firing, int] = {}

    def items(self, sums: Mapping[Firing, Sequence[int]]) -> tuple[Item, ...]:
        """One load's moulds and beads by firing, as the planner's items."""
        found = []
        for firing, (moulds, beads) in sums.items():
            name = self.names.setdefault(firing, f"in loads {len(self.names)}")
            self.beads[firing] = self.beads.get(firing, 0) + beads
            found.append(Item(name, 1, moulds, beads))
        return tuple(found)

    def jobs(self) -> tuple[Job, ...]:
        return tuple(
            Job(name, PLANNED, self.beads[firing], 0, 0, (firing,))
            for firing, name in self.names.items()
        )


def _add(sums: dict[Firing, list[int]], firing: Firing, moulds: int, beads: int) -> None:
    both = sums.setdefault(firing, [0, 0])
    both[0] += moulds
    both[1] += beads


# --- what is asked ----------------------------------------------------------------------------


def wanted_job(board: KilnBoard, bead: BeadCosting, release_min: int) -> Job:
    """The beads of one kind that an order being asked about starts."""
    key = int(bead.key)
    found = [board.firings(key, firing.number) for firing in bead.firings]
    gap = 0
    if len(found) > 1:
        amount = Amount(beads=bead.start, moulds=bead.fills)
        row = board.firings.beads[key]
        gap = paint_gap_min(board.facts.labour.minutes(Skill.PAINTING, amount, row))
    firings = tuple(firing for firing in found if firing)
    return job_on_grid(Job(bead.name, "", bead.start, release_min, gap, firings))
