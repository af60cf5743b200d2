"""What the planner is given and what it gives back, as frozen dataclasses.

All times are whole minutes from 00:00 of the plan's first day; day d starts at 1440 d.
Temperatures are degrees Celsius. Nothing is checked here; `problem.Problem` checks.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from fractions import Fraction

from workshop.physics.kept_hot import KeptHot

DAY_MIN = 1440

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Calendar:
    """When somebody is there to load and unload.

    open  (from, to) windows [min]; a load starts and ends inside one of them
    cooling_may_run_past_closing  then only preheat and firing must be inside the window
    """

    open: tuple[Span, ...]
    cooling_may_run_past_closing: bool = False

    def from_minute(self, minute: int) -> Calendar:
        """The same calendar with nothing open before a minute.

        >>> Calendar(((480, 1020), (1920, 2460))).from_minute(600).open
        ((600, 1020), (1920, 2460))
        """
        kept = tuple((max(start, minute), end) for start, end in self.open if end > minute)
        return Calendar(kept, self.cooling_may_run_past_closing)

    def without_days(self, days: frozenset[int] | set[int]) -> Calendar:
        """The same calendar with no firing on the given days (counted from 0).

        A window over midnight is cut at midnight; the minutes on the other days stay.

        >>> Calendar(((480, 1020), (1920, 2460))).without_days({0}).open
        ((1920, 2460),)
        """
        kept: list[Span] = []
        for start, end in self.open:
            last = max(start, end - 1)
            if not any(day in days for day in range(start // DAY_MIN, last // DAY_MIN + 1)):
                kept.append((start, end))
                continue
            kept.extend(_outside_days(start, end, days))
        return Calendar(tuple(kept), self.cooling_may_run_past_closing)


def _outside_days(start: int, end: int, days: frozenset[int] | set[int]) -> list[Span]:
    """The parts of one window that fall on days not in `days`, joined where days touch."""
    parts: list[Span] = []
    for day in range(start // DAY_MIN, (end - 1) // DAY_MIN + 1):
        if day in days:
            continue
        part = (max(start, day * DAY_MIN), min(end, (day + 1) * DAY_MIN))
        if parts and parts[-1][1] == part[0]:
            part = (parts.pop()[0], part[1])
        parts.append(part)
    return parts


@dataclass(frozen=True, slots=True)
class Kiln:
    """One kiln. `closed` holds spans [min] in which it cannot be used (repair, hired out).

    hot  how it is worked if it is kept hot; None: each load is heated, held and cooled in it
    """

    id: str
    places: int
    preheat_min: int
    turnaround_min: int
    temp_min_c: float
    temp_max_c: float
    closed: tuple[Span, ...] = ()
    hot: KeptHot | None = None


@dataclass(frozen=True, slots=True)
class Mould:
    """All moulds of one shape: `places` each takes in a kiln, `count` owned.

    hold_min      a mould stays tied up this long after its load ends
    hot_hold_min  and this long after coming out hot; None: as long
    """

    shape: str
    places: int
    count: int
    hold_min: int = 0
    hot_hold_min: int | None = None

    @property
    def tied_up_hot_min(self) -> int:
        return self.hold_min if self.hot_hold_min is None else self.hot_hold_min


@dataclass(frozen=True, slots=True)
class Hands:
    """How many with a skill are there in every working window."""

    skill: str
    count: int


@dataclass(frozen=True, slots=True)
class Pierce:
    """Piercing while the glass is soft.

    minutes_a_mould  of one hand
    window_min       a mould stays soft for
    one_by_one       the others wait in the heat; else all moulds of a round come out at once
    """

    skill: str
    minutes_a_mould: Fraction
    window_min: Fraction
    one_by_one: bool = True


@dataclass(frozen=True, slots=True)
class Order:
    id: str
    due_min: int


@dataclass(frozen=True, slots=True)
class Firing:
    """One firing of a job: mould shape, beads a mould holds, and the two windows, ends included.

    way         "closed" or "hot": only that kind of kiln; "": either
    pierce      pierced while soft; only in kilns kept hot
    anneal_min  from out of a kiln kept hot (and pierced) to cold
    slow_min    minutes its soak and slow cooling add to a closed load
    """

    shape: str
    cavities: int
    temp_c: tuple[float, float]
    minutes: Span
    way: str = ""
    pierce: Pierce | None = None
    anneal_min: int = 0
    slow_min: int = 0


@dataclass(frozen=True, slots=True)
class Job:
    """Beads of one kind for one order, fired once or twice.

    release_min  no load of it may start earlier
    gap_min      elapsed minutes, nights included, between its first and second firing
    """

    id: str
    order: str
    beads: int
    release_min: int
    gap_min: int
    firings: tuple[Firing, ...]


@dataclass(frozen=True, slots=True)
class Item:
    """Part of one job's firing in one load. `firing` counts from 1."""

    job: str
    firing: int
    moulds: int
    beads: int


@dataclass(frozen=True, slots=True)
class Load:
    """One firing of one kiln, from `start_min`, at one temperature for `minutes`.

    lit    of a kiln kept hot: it is lit for this round, from `start_min`
    hands  who pierce what is pierced of it
    """

    kiln: str
    start_min: int
    temp_c: float
    minutes: int
    items: tuple[Item, ...] = ()
    lit: bool = False
    hands: int = 0


@dataclass(frozen=True, slots=True)
class Plan:
    loads: tuple[Load, ...] = ()


@dataclass(frozen=True, slots=True)
class PinnedLoad:
    """A load that stays where it is: its kiln, start, minutes and moulds never change.

    sealed      no other work may join it (it is being filled or fired, or the keeper said so)
    temp_fixed  its temperature may not be moved inside the windows of what is in it
    """

    load: Load
    sealed: bool = True
    temp_fixed: bool = True


@dataclass(frozen=True, slots=True)
class Instance:
    """Everything a plan must answer to. Ids are unique within their kind."""

    calendar: Calendar
    kilns: tuple[Kiln, ...]
    moulds: tuple[Mould, ...]
    orders: tuple[Order, ...]
    jobs: tuple[Job, ...]
    pinned: tuple[PinnedLoad, ...] = field(default=())
    hands: tuple[Hands, ...] = ()

    @property
    def has_rounds(self) -> bool:
        """Whether anything in it asks for more than closed loads of one length."""
        return any(kiln.hot for kiln in self.kilns) or any(
            firing.way or firing.pierce or firing.slow_min
            for job in self.jobs
            for firing in job.firings
        )
