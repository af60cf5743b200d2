"""An instance compiled to flat lists of whole numbers, and checked, for the planner's loops.

A *task* is one firing of one job. A *box* is a pair of windows (temperature x minutes); many
tasks share one box. Boxes are axis-parallel, so if every two boxes in a load meet, all of them
share a point (Helly's theorem for boxes): a load only has to remember, as the bits of one
integer, which boxes still meet everything in it.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Hashable, Iterable
from math import ceil

from orders.planning.calendar import WorkingHours
from orders.planning.errors import PlanningError
from orders.planning.instance import Firing, Instance, Job

Box = tuple[float, float, int, int]


def moulds_needed(beads: int, cavities: int) -> int:
    """Moulds to hold the beads, the last one perhaps part filled.

    >>> moulds_needed(60, 12), moulds_needed(61, 12)
    (5, 6)
    """
    return -(-beads // cavities)


class AxisBits:
    """Intervals on one axis, answering "which of them meet [low, high]" as bits of an integer.

    Prefix unions over the sorted ends make an answer two binary searches and one AND,
    however many intervals there are.
    """

    def __init__(self, intervals: list[tuple[float, float]]) -> None:
        numbers = range(len(intervals))
        by_start = sorted(numbers, key=lambda b: intervals[b][0])
        self.starts = [intervals[b][0] for b in by_start]
        self.begun = [0]
        for b in by_start:
            self.begun.append(self.begun[-1] | 1 << b)
        by_end = sorted(numbers, key=lambda b: intervals[b][1])
        self.ends = [intervals[b][1] for b in by_end]
        self.unfinished = [0]
        for b in reversed(by_end):
            self.unfinished.append(self.unfinished[-1] | 1 << b)
        self.unfinished.reverse()

    def meeting(self, low: float, high: float) -> int:
        """
        >>> bin(AxisBits([(1, 3), (2, 5), (6, 7)]).meeting(3, 4))
        '0b11'
        """
        begun = self.begun[bisect_right(self.starts, high)]
        return begun & self.unfinished[bisect_left(self.ends, low)]


def _index(ids: Iterable[Hashable], kind: str) -> dict[Hashable, int]:
    index: dict[Hashable, int] = {}
    for name in ids:
        if name in index:
            raise PlanningError(f"There are two {kind}s called {name}; give each its own name.")
        index[name] = len(index)
    return index


class Problem:
    """Raises PlanningError, naming the job, when a job can never be fired in this workshop."""

    def __init__(self, instance: Instance) -> None:
        self.instance = instance
        self.hours = WorkingHours(instance.calendar)
        self._kilns()
        self._moulds()
        self.order_index = _index((o.id for o in instance.orders), "order")
        self.due = [o.due_min for o in instance.orders]
        self.order_tasks: list[list[int]] = [[] for _ in instance.orders]
        self._tasks()
        self._boxes()
        self._pins()
        self._shortest()

    def _kilns(self) -> None:
        kilns = self.instance.kilns
        self.kiln_index = _index((k.id for k in kilns), "kiln")
        self.places = [k.places for k in kilns]
        self.preheat = [k.preheat_min for k in kilns]
        self.base_min = [k.preheat_min + k.turnaround_min for k in kilns]
        for kiln in kilns:
            if kiln.temp_min_c > kiln.temp_max_c:
                raise PlanningError(
                    f"Kiln {kiln.id} is said to reach from {kiln.temp_min_c} °C down to "
                    f"{kiln.temp_max_c} °C; give the lower temperature first."
                )
        if not kilns:
            raise PlanningError("There is no kiln, so nothing can be fired; add a kiln.")

    def _moulds(self) -> None:
        moulds = self.instance.moulds
        self.shape_index = _index((m.shape for m in moulds), "mould shape")
        self.owned = [m.count for m in moulds]
        self.hold = [m.hold_min for m in moulds]
        self.mould_places = [m.places for m in moulds]

    def _tasks(self) -> None:
        self.job: list[Job] = []
        self.firing: list[int] = []
        self.what: list[Firing] = []
        self.shape: list[int] = []
        self.each: list[int] = []
        self.beads: list[int] = []
        self.release: list[int] = []
        self.before: list[int] = []
        self.after: list[int] = []
        self.gap: list[int] = []
        self.order: list[int] = []
        self.task_index: dict[tuple[Hashable, int], int] = {}
        _index((j.id for j in self.instance.jobs), "job")
        for job in self.instance.jobs:
            order = self.order_index.get(job.order)
            if order is None:
                raise PlanningError(
                    f"Job {job.id} belongs to order {job.order}, which is not in the list of "
                    "orders; add the order or mend the name.",
                    job=job.id,
                )
            if job.beads > 0:
                for number, firing in enumerate(job.firings, 1):
                    self._task(job, number, firing, order)

    def _task(self, job: Job, number: int, firing: Firing, order: int) -> None:
        shape = self.shape_index.get(firing.shape)
        if shape is None:
            raise PlanningError(
                f"Job {job.id} needs moulds of shape {firing.shape}, and no such mould is listed; "
                "add the mould or choose another shape.",
                job=job.id,
            )
        task = len(self.job)
        self.task_index[job.id, number] = task
        self.job.append(job)
        self.firing.append(number)
        self.what.append(firing)
        self.shape.append(shape)
        self.each.append(self.mould_places[shape])
        self.beads.append(job.beads)
        self.release.append(max(0, job.release_min))
        self.before.append(task - 1 if number > 1 else -1)
        self.after.append(task + 1 if number < len(job.firings) else -1)
        self.gap.append(job.gap_min)
        self.order.append(order)
        self.order_tasks[order].append(task)

    def _boxes(self) -> None:
        index: dict[Box, int] = {}
        self.box: list[int] = []
        for firing in self.what:
            box = (*firing.temp_c, *firing.minutes)
            self.box.append(index.setdefault(box, len(index)))
        self.boxes: list[Box] = list(index)
        self._temp_axis = AxisBits([box[:2] for box in self.boxes])
        self._minutes_axis = AxisBits([box[2:] for box in self.boxes])
        self.meets = [
            self._temp_axis.meeting(*box[:2]) & self._minutes_axis.meeting(*box[2:])
            for box in self.boxes
        ]
        self.bit = [1 << b for b in range(len(self.boxes))]
        self.lower_min = [box[2] for box in self.boxes]
        self.least_minutes = min(self.lower_min, default=0)
        if self.boxes and self.least_minutes + min(self.base_min) == 0:
            # A load that takes no time still fills its moulds: each is tied up for a minute.
            self.hold = [max(1, hold) for hold in self.hold]
        self.kiln_bits = [
            self._temp_axis.meeting(kiln.temp_min_c, kiln.temp_max_c)
            for kiln in self.instance.kilns
        ]
        self._minutes_bits: dict[int, int] = {}

    def bits_at_minutes(self, minutes: int) -> int:
        """The bits of all boxes whose firing minutes allow `minutes`."""
        bits = self._minutes_bits.get(minutes)
        if bits is None:
            bits = self._minutes_bits[minutes] = self._minutes_axis.meeting(minutes, minutes)
        return bits

    def bits_at_temp(self, temp_c: float) -> int:
        """The bits of all boxes whose temperature window allows `temp_c`."""
        return self._temp_axis.meeting(temp_c, temp_c)

    def _shortest(self) -> None:
        """The kilns each task can use and the shortest occupancy it needs there."""
        self.task_kilns: list[tuple[int, ...]] = []
        self.shortest_min: list[int] = []
        seen: dict[Hashable, tuple[tuple[int, ...], int]] = {}
        for task in range(len(self.job)):
            if not self.need[task]:
                # Work that stands wholly in pinned loads is the keeper's own business.
                self.task_kilns.append(())
                self.shortest_min.append(self.lower_min[self.box[task]])
                continue
            kind = self._alike(task)
            if kind not in seen:
                seen[kind] = self._usable_kilns(task)
            kilns, occupancy = seen[kind]
            self.task_kilns.append(kilns)
            self.shortest_min.append(occupancy)

    def _alike(self, task: int) -> tuple[Hashable, ...]:
        """Tasks that share this can be fired in the same kilns."""
        return self.box[task], self.shape[task]

    def _usable_kilns(self, task: int) -> tuple[tuple[int, ...], int]:
        job, shape, box = self.job[task], self.shape[task], self.box[task]
        kilns = self.instance.kilns
        low_c, high_c, minutes, _ = self.boxes[box]
        mould = self.instance.moulds[shape]

        def refuse(sentence: str) -> PlanningError:
            return PlanningError(f"Job {job.id} cannot be fired: {sentence}", job=job.id)

        if mould.count < 1:
            raise refuse(f"there are no moulds of shape {mould.shape}; make or buy at least one.")
        hot = [k for k in range(len(kilns)) if self.kiln_bits[k] & self.bit[box]]
        if not hot:
            raise refuse(
                f"firing {self.firing[task]} needs {low_c} to {high_c} °C, and no kiln reaches "
                "that; widen the window or add a kiln that does."
            )
        wide = [k for k in hot if kilns[k].places >= mould.places]
        if not wide:
            raise refuse(
                f"a mould of shape {mould.shape} takes {mould.places} places, and the roomiest "
                f"kiln hot enough has {max(kilns[k].places for k in hot)}; "
                "use a smaller mould or a larger kiln."
            )
        fits = [k for k in wide if self._inside(k, minutes) <= self.hours.longest_min]
        if not fits:
            need = min(self._inside(k, minutes) for k in wide)
            raise refuse(
                f"its shortest load needs {need} minutes inside one working window, and the "
                f"longest window has {self.hours.longest_min}; open a longer window"
                + ("." if self.hours.past_closing else " or let cooling run past closing.")
            )
        return tuple(fits), min(self.base_min[k] + minutes for k in fits)

    def _inside(self, kiln: int, minutes: int) -> int:
        return self.hours.inside_min(self.preheat[kiln] + minutes, self.base_min[kiln] + minutes)

    # -- how often a kiln can be emptied, for what no plan can beat -----------------------

    def lead(self, kiln: int) -> int:
        """Minutes from the opening before the first load can go in."""
        return 0

    def turn(self, kiln: int, minutes: int) -> int:
        """Minutes from one load's going in to the next one's, at the least."""
        return self.base_min[kiln] + minutes

    def alone_turn(self, task: int, kiln: int) -> int:
        """The shortest turn of a load that holds some of a task."""
        return self.turn(kiln, self.lower_min[self.box[task]])

    def turn_inside(self, kiln: int, minutes: int) -> int:
        """The part of a turn that must lie inside one window."""
        return self._inside(kiln, minutes)

    def cools(self, task: int, kiln: int) -> int:
        """Minutes until a task's beads are cold once they are out of a kiln."""
        return 0

    def least_hold(self, shape: int) -> int:
        return self.hold[shape]

    def _pins(self) -> None:
        """Beads already in pinned loads are taken off the work still to be placed."""
        self.open_beads = list(self.beads)
        for pin in self.instance.pinned:
            if pin.load.kiln not in self.kiln_index:
                raise PlanningError(
                    f"A pinned load stands in kiln {pin.load.kiln}, which is not in the list of "
                    "kilns; add the kiln or unpin the load."
                )
            for item in pin.load.items:
                task = self.task_index.get((item.job, item.firing))
                if task is None:
                    raise PlanningError(
                        f"A pinned load holds job {item.job}, firing {item.firing}, which is not "
                        "in the list of jobs; add the job or unpin the load.",
                        job=item.job,
                    )
                self.open_beads[task] = max(0, self.open_beads[task] - item.beads)
        self.need = [
            moulds_needed(beads, firing.cavities)
            for beads, firing in zip(self.open_beads, self.what, strict=True)
        ]

    def burden_min(self, task: int) -> float:
        """Minutes by which one mould of the task holds up all other work, about.

        The scarcer of two things counts: its share of the moulds of its shape, or its share of
        the places in all kilns, each for as long as one load ties it up.
        """
        occupancy, shape = self.shortest_min[task], self.shape[task]
        by_moulds = (occupancy + self.hold[shape]) / self.owned[shape]
        by_places = occupancy * self.each[task] / sum(self.places)
        return max(by_moulds, by_places)

    def latest_end(self, task: int) -> int:
        """The latest end of this firing that can leave its order on time, looked at alone."""
        due = self.due[self.order[task]]
        after = self.after[task]
        if after < 0:
            return due
        return due - self.gap[task] - self.shortest_min[after]

    def temperature(self, kiln: int, boxes: Iterable[int]) -> float:
        """The lowest temperature the kiln and all boxes allow."""
        low = self.instance.kilns[kiln].temp_min_c
        return max([low, *(self.boxes[b][0] for b in boxes)])


def whole_up(value: float) -> int:
    """Round up, forgiving the last digits of a float.

    >>> whole_up(3.0000000001), whole_up(3.01)
    (3, 4)
    """
    return ceil(value - 1e-6)
