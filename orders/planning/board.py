"""The kiln board: every load of a plan in the making, what cannot move on it, and its cost."""

from __future__ import annotations

from typing import NamedTuple

from orders.planning.instance import Item, Load, Plan
from orders.planning.measure import Key
from orders.planning.moves import Moves, Slot
from orders.planning.problem import Problem

Snapshot = list[tuple[int, int, int, Load | None, dict[int, int]]]


class Cost(NamedTuple):
    """The key of a board; moulds not yet placed weigh more than anything else."""

    unplaced: int
    tardiness_min: int
    late_orders: int
    kiln_minutes: int
    loads: int
    finish_min: int


class Board(Moves):
    def __init__(self, problem: Problem) -> None:
        super().__init__(problem)
        self.order_late: list[int] = [0] * len(problem.due)
        self.tardiness = 0
        self.late = 0
        self._block_closed_kilns()
        self._pin_loads()

    # -- what cannot move ---------------------------------------------------------------

    def _block_closed_kilns(self) -> None:
        for k, kiln in enumerate(self.problem.instance.kilns):
            for start, end in kiln.closed:
                slot = Slot(k, start, 0, end)
                slot.sealed = slot.blocks = True
                self._list_in_kiln(slot)

    def _pin_loads(self) -> None:
        problem = self.problem
        kept_end, kept_start = self.kept_end, self.kept_start
        for pin in problem.instance.pinned:
            load = pin.load
            kiln = problem.kiln_index[load.kiln]
            end = load.start_min + problem.base_min[kiln] + load.minutes
            slot = Slot(kiln, load.start_min, load.minutes, end)
            slot.pinned, slot.sealed = load, pin.sealed
            slot.kept = tuple(
                [(problem.task_index[item.job, item.firing], item) for item in load.items]
            )
            room = problem.places[kiln]
            moulds: dict[int, int] = {}
            in_window = problem.bits_at_temp(load.temp_c)
            slot.temp_fixed = pin.temp_fixed
            for task, item in slot.kept:
                room -= problem.each[task] * item.moulds
                shape = problem.shape[task]
                moulds[shape] = moulds.get(shape, 0) + item.moulds
                if end > kept_end[task]:
                    kept_end[task] = end
                if load.start_min < kept_start[task]:
                    kept_start[task] = load.start_min
                self.dirty[problem.order[task]] = None
                if not in_window & problem.bit[problem.box[task]]:
                    slot.temp_fixed = True
            slot.free = room
            if not pin.sealed:
                slot.mask = self._mask(slot)
            self.add(slot)
            for shape, count in moulds.items():
                self._use(slot, shape, count)
        self.log.clear()

    # -- the key ------------------------------------------------------------------------

    def _settle(self) -> None:
        problem = self.problem
        out_at, order_tasks, after = problem.hours.out_at, problem.order_tasks, problem.after
        for order in self.dirty:
            end = 0
            for task in order_tasks[order]:
                if after[task] < 0:
                    last = self.end_of(task)
                    if last > end:
                        end = last
            late = out_at(end) - problem.due[order]
            if late < 0 or not (end or self._begun(order)):
                late = 0
            before = self.order_late[order]
            self.tardiness += late - before
            self.late += (late > 0) - (before > 0)
            self.order_late[order] = late
        self.dirty.clear()

    def _begun(self, order: int) -> bool:
        return any(self.where[task] for task in self.problem.order_tasks[order])

    def cost(self) -> Cost:
        self._settle()
        last = 0
        for slots in self.kiln_slots:
            for slot in reversed(slots):
                if slot.blocks:
                    continue
                if slot.end > last:
                    last = slot.end
                # Of loads that take no time at all, several may stand at one minute.
                if slot.end > slot.start:
                    break
        return Cost(
            self.unplaced,
            self.tardiness,
            self.late,
            self.kiln_minutes,
            self.loads,
            self.problem.hours.out_at(last) if last else 0,
        )

    def slots(self) -> list[Slot]:
        """All loads, pinned ones too, closed spans apart, by start and then kiln."""
        found = [s for slots in self.kiln_slots for s in slots if not s.blocks]
        found.sort(key=lambda s: (s.start, s.kiln))
        return found

    def snapshot(self) -> Snapshot:
        """The loads as they are, cheaper to make than a plan; see `restore`."""
        return [
            (s.kiln, s.start, s.minutes, s.pinned, dict(s.items))
            for slots in self.kiln_slots
            for s in slots
            if not s.blocks
        ]

    def restore(self, snapshot: Snapshot) -> None:
        """Put the board back to a snapshot of the same problem."""
        pinned = {}
        for slot in self.slots():
            for task, moulds in list(slot.items.items()):
                self.take(slot, task, moulds)
            if slot.pinned is None:
                self.drop(slot)
            else:
                pinned[id(slot.pinned)] = slot
        for kiln, start, minutes, load, items in snapshot:
            slot = self.open(kiln, start, minutes) if load is None else pinned[id(load)]
            for task, moulds in items.items():
                self.put(slot, task, moulds)
        self.mark()

    # -- out and in ---------------------------------------------------------------------

    def plan(self) -> Plan:
        """The plan on the board, with beads shared out mould by mould, exactly."""
        problem = self.problem
        beads_left = list(problem.open_beads)
        loads = []
        for slot in self.slots():
            items = [item for _, item in slot.kept]
            for task, moulds in slot.items.items():
                beads = min(beads_left[task], moulds * problem.what[task].cavities)
                beads_left[task] -= beads
                job = problem.job[task]
                items.append(Item(job.id, problem.firing[task], moulds, beads))
            temp_c = self.temperature(slot)
            kiln = problem.instance.kilns[slot.kiln].id
            loads.append(Load(kiln, slot.start, temp_c, slot.minutes, tuple(items)))
        return Plan(tuple(loads))

    def temperature(self, slot: Slot) -> float:
        problem = self.problem
        boxes = [problem.box[task] for task in slot.items]
        if slot.pinned is not None:
            planned_c = slot.pinned.temp_c
            if slot.temp_fixed or all(
                problem.boxes[b][0] <= planned_c <= problem.boxes[b][1] for b in boxes
            ):
                return planned_c
            boxes += [problem.box[task] for task, _ in slot.kept]
        return problem.temperature(slot.kiln, boxes)

    def load_plan(self, plan: Plan) -> None:
        """Put up a plan's loads (those not pinned). They may be moved later."""
        problem = self.problem
        for load in plan.loads:
            slot = self.open(problem.kiln_index[load.kiln], load.start_min, load.minutes)
            for item in load.items:
                self.put(slot, problem.task_index[item.job, item.firing], item.moulds)
        self.mark()

    def key(self) -> Key:
        return Key(*self.cost()[1:])
