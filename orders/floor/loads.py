"""Planned and burning loads as the planner sees them: which part of which job stands where."""

from collections.abc import Iterable

from orders.floor.facts import FloorFacts
from orders.floor.floor import Work, rest_name, shelf_name, work_name
from orders.floor.rows import FiredShare
from orders.models import LoadShare, WorkOrder
from orders.planning.instance import Item, Load, PinnedLoad
from orders.planning.problem import moulds_needed
from stock.models import KilnLoad, LoadTray


class StandingLoads:
    """Turns loads into the planner's; `work` holds the jobs it knows by name."""

    def __init__(self, facts: FloorFacts, work: dict[str, Work]) -> None:
        self.facts = facts
        self.work = work
        self.taken_of_rest: dict[str, int] = {}

    def split(self, rows: Iterable[KilnLoad]) -> tuple[list[PinnedLoad], list[Load]]:
        """The loads that stay, burning or pinned, and those that may be planned anew."""
        pinned, standing = [], []
        for row in rows:
            load = self.load(row)
            if row.is_fixed:
                pinned.append(PinnedLoad(load))
            else:
                standing.append(load)
        return pinned, standing

    def load(self, row: KilnLoad) -> Load:
        return self.facts.load(row, (i for tray in row.trays.all() for i in self._items(tray)))

    def _items(self, tray: LoadTray) -> Iterable[Item]:
        shares = list(tray.shares.all())
        for share in shares:
            work = self.work.get(work_name(share.job))
            if work is None and tray.batch is not None:
                work = self.work.get(shelf_name(tray.batch))  # of an order cancelled since
            if work is not None and tray.firing >= work.first:
                yield from self._parts(work, tray, share)
        if not shares and tray.batch is not None:
            work = self.work.get(shelf_name(tray.batch))
            if work is not None and tray.firing >= work.first:
                yield from self._parts(work, tray, tray)

    def _parts(self, work: Work, tray: LoadTray, share: LoadShare | LoadTray) -> Iterable[Item]:
        """A share, or a whole tray for the shelf, as the planner counts it: beads fired once in an
        earlier load come first."""
        beads = share.beads
        rest = self.work.get(rest_name(work.name))
        if rest is not None and tray.firing == rest.first:
            taken = self.taken_of_rest.get(rest.name, 0)
            early = min(beads, rest.beads - taken)
            self.taken_of_rest[rest.name] = taken + early
            beads -= early
            if early:
                yield Item(rest.name, 1, moulds_needed(early, tray.bead.mould.cavities), early)
        if beads:
            moulds = moulds_needed(beads, tray.bead.mould.cavities)
            moulds = share.moulds if beads == share.beads else moulds
            yield Item(work.name, tray.firing - work.first + 1, moulds, beads)


class Fired:
    """What of each job's batch has been through the fire already."""

    def __init__(self, shares: Iterable[FiredShare]) -> None:
        self.beads: dict[tuple[int, int], int] = {}
        self.sound: dict[tuple[int, int], int] = {}
        for share in shares:
            pair = share.job, share.firing
            self.beads[pair] = self.beads.get(pair, 0) + share.beads
            self.sound[pair] = self.sound.get(pair, 0) + share.good

    def cooled(self, job: WorkOrder, firing: int) -> int:
        return self.beads.get((job.pk, firing), 0)

    def good(self, job: WorkOrder, firing: int) -> int:
        return self.sound.get((job.pk, firing), 0)
