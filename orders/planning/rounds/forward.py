"""A plan built as the days go: the kiln that is free soonest takes what is worth most.

Day after day each kiln is asked, when it is free, for the round that carries the most urgent work
in the fewest minutes: its hold, the turn to its heat and piercing. A kiln is lit only where those
that cost less cannot do all that is due. One pass takes a few hundredths of a second for two
hundred jobs, so that many styles can be tried.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from heapq import heapify, heappop, heappush
from math import exp

from orders.planning.calendar import NEVER
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.problem import Method, RoundProblem
from orders.planning.rounds.round import Round

Fill = list[tuple[int, int]]
"""Tasks and moulds of each, for one load."""

Ranked = list[tuple[float, int]]
"""Tasks by what a place of theirs is worth, the most (as the least below 0) first."""

MOST_SEEDS = 8
"""Kinds of work that are weighed against each other for one round. Our choice."""

FULL = 0.85
"""A load less full than this waits while nothing in it is due and more that suits it is to come.
Our choice."""

WORTH_LIGHTING = 0.5
"""Share of a day's minutes for which a kiln is lit where nothing is due. Our choice."""

FARTHEST = 600.0
"""Largest exponent in what work is worth: all that is later than this is worth nothing now."""


@dataclass(frozen=True, slots=True)
class Style:
    """patience_min  working minutes of spare time for which work is worth a third
    small_first   how much more work weighs the less is left of its order; 0: not at all
    closed_days   windows of spare time within which a closed kiln takes what a hot one could
    turn_weight   times a minute spent on turning the heat counts
    ease          share of the minutes of better kilns up to which no other is lit; 0: lit for half
                  a day's work
    full          share of its places up to which a closed load waits for more
    """

    patience_min: float = 1500.0
    small_first: float = 0.0
    closed_days: int = -1
    turn_weight: float = 1.5
    ease: float = 0.8
    full: float = 0.95


class Forward:
    """Passes over the calendar, from any of its windows on; what is pinned stays."""

    def __init__(self, board: RoundBoard) -> None:
        self.board = board
        self.problem = problem = board.problem
        self.smallest_each = min(problem.mould_places, default=1)
        self._kinds()
        self._dues()
        self.by_cost = sorted(
            (k for k, hot in enumerate(problem.hot) if hot), key=lambda k: _cost(problem, k)
        )

    def _kinds(self) -> None:
        """Tasks that are fired alike are of one kind."""
        problem = self.problem
        numbers: dict[tuple, int] = {}
        self.kind = [
            numbers.setdefault((problem.box[t], problem.method[t], problem.slow[t]), len(numbers))
            for t in range(len(problem.job))
        ]
        self._suits: dict[tuple[int, bool], set[int]] = {}
        self._one_of = {kind: task for task, kind in enumerate(self.kind)}
        # What filling a load asks of a task, in one place: this is the innermost loop.
        boxes = [problem.boxes[box] for box in problem.box]
        self._facts: list[tuple[float, float, int, int, int, Method | None, int, int]] = [
            (
                box[0], box[1], box[3], problem.each[t], problem.shape[t], problem.method[t],
                problem.hand_parts[t], problem.window_parts[t],
            )
            for t, box in enumerate(boxes)
        ]  # fmt: skip

    def _suiting(self, seed: int, hot: bool) -> set[int]:
        """Kinds that lengthen no round of a seed's kind."""
        kind = self.kind[seed]
        found = self._suits.get((kind, hot))
        if found is None:
            problem = self.problem
            low, meets = problem.lower_min[problem.box[seed]], problem.meets[problem.box[seed]]
            method = problem.method[seed]
            found = {
                other
                for other, task in self._one_of.items()
                if meets & problem.bit[problem.box[task]]
                and problem.lower_min[problem.box[task]] <= low
                and (not method or not problem.method[task] or method == problem.method[task])
                and (hot or problem.slow[task] <= problem.slow[seed])
            }
            self._suits[kind, hot] = found
        return found

    def _dues(self) -> None:
        """For each task the latest minute its moulds may come out, and that minute's window."""
        problem = self.problem
        hours = problem.hours
        self.due = [NEVER] * len(problem.job)
        for task in reversed(range(len(problem.job))):
            after = problem.after[task]
            by = problem.due[problem.order[task]]
            if after >= 0:
                turns = [problem.alone_turn(after, k) for k in problem.task_kilns[after]]
                by = self.due[after] - min(turns, default=0) - problem.gap[task]
            by -= min((problem.cools(task, k) for k in problem.task_kilns[task]), default=0)
            self.due[task] = hours.open_by(by)
        self.due_window = [bisect_right(hours.opens, due - 1) - 1 for due in self.due]
        self.last_begin = [
            hours.worked_by(due) - problem.shortest_min[task] for task, due in enumerate(self.due)
        ]

    # -- the pass -----------------------------------------------------------------------

    def run(self, style: Style, window: int = 0) -> None:
        """Fire all that has no place yet, from a window on. Some may find no place."""
        board, problem = self.board, self.problem
        self.style = style
        self.waiting: list[dict[int, int]] = [{} for _ in problem.places]
        self.coming = [
            (board.ready_at(task), task)
            for task, left in enumerate(board.left)
            if left and (problem.before[task] < 0 or not board.left[problem.before[task]])
        ]
        heapify(self.coming)
        self.burning: dict[int, int] = {}
        self.order_left = [0] * len(problem.due)
        for task, left in enumerate(board.left):
            self.order_left[problem.order[task]] += left * problem.each[task]
        patience = style.patience_min
        self.base = [exp(-min(FARTHEST, max(0, m) / patience)) for m in self.last_begin]
        self.weight = [1.0] * len(problem.job)
        if style.small_first:
            for order in range(len(problem.due)):
                self._weigh(order)
        asked = [(problem.hours.opens[window], kiln) for kiln in range(len(problem.places))]
        heapify(asked)
        while asked and board.unplaced:
            now, kiln = heappop(asked)
            again = self._serve(kiln, now)
            if again < NEVER:
                heappush(asked, (again, kiln))

    def _weigh(self, order: int) -> None:
        weight = (100.0 / (10.0 + self.order_left[order])) ** self.style.small_first
        for task in self.problem.order_tasks[order]:
            self.weight[task] = weight

    def _serve(self, kiln: int, now: int) -> int:
        """Fire the kiln if that is worth it; returns when to ask for it again."""
        board, problem = self.board, self.problem
        hours = problem.hours
        window = bisect_right(hours.closes, now)
        if window >= len(hours.opens):
            return NEVER
        rounds = board.lists[kiln][window]
        start = max(now, hours.opens[window], rounds[-1].end if rounds else 0)
        busy = board.busy[kiln]
        place = bisect_left(busy, window)
        if place:
            start = max(start, board.lists[kiln][busy[place - 1]][-1].end)
        if start > now:
            return start
        hot = problem.hot[kiln]
        keep_hot = hot.keep_hot_min if hot else 0
        before = rounds[-1] if rounds and hot and start - rounds[-1].end <= keep_hot else None
        in_min = start + (hot.warm_up_min if hot and before is None else 0)
        while self.coming and self.coming[0][0] <= in_min:
            ready, task = heappop(self.coming)
            for k in problem.task_kilns[task]:
                self.waiting[k][task] = ready
        fill = self._best(kiln, window, start, in_min, before)
        if fill is not None:
            placed = self._place(kiln, window, fill)
            if placed is not None:
                self.burning[kiln] = placed.end
                return placed.end
        elif self.coming:
            # What is soon there is waited for, in the heat or beside a closed kiln.
            soon = self.coming[0][0]
            until = before.end + keep_hot if before else 0 if hot else hours.closes[window] - 1
            if in_min < soon <= until:
                return soon
        self.burning.pop(kiln, None)
        return hours.opens[window + 1] if window + 1 < len(hours.opens) else NEVER

    def _place(self, kiln: int, window: int, fill: Fill) -> Round | None:
        board, problem = self.board, self.problem
        at = len(board.lists[kiln][window])
        placed = board.open((kiln, window), at, fill) or board.open((kiln, window), at, fill[:1])
        if placed is None:
            return None
        for task, moulds in placed.items.items():
            order = problem.order[task]
            self.order_left[order] -= moulds * problem.each[task]
            if self.style.small_first:
                self._weigh(order)
            if not board.left[task]:
                for k in problem.task_kilns[task]:
                    del self.waiting[k][task]
                after = problem.after[task]
                if after >= 0 and board.left[after]:
                    heappush(self.coming, (board.ready_at(after), after))
        return placed

    # -- what to fire -------------------------------------------------------------------

    def _best(
        self, kiln: int, window: int, start: int, in_min: int, before: Round | None
    ) -> Fill | None:
        """What is worth most a minute in the next load; None if nothing is worth firing now."""
        hot = self.problem.hot[kiln]
        ranked = self._ranked(start, in_min, kiln)
        more: Ranked = []
        if hot is None:
            # What could go into a round fills up a closed load, but lights none.
            more = [entry for entry in ranked if not self._for_closed(entry[1], window)]
            ranked = [entry for entry in ranked if self._for_closed(entry[1], window)]
        if not ranked:
            return None
        if hot and before is None and not self._worth_lighting(kiln, window, start, ranked):
            return None
        kind = self.kind
        seeds = {kind[entry[1]]: entry for entry in reversed(ranked)}
        mine = None
        if hot is None:
            mine = {task for _, task in ranked}
            # A load soaks as long as the slowest in it: what soaks long goes together.
            slow, due = self.problem.slow, self.due_window
            ranked.sort(key=lambda entry: (due[entry[1]] > window, -slow[entry[1]]))
        best, most = None, 0.0
        for seed in sorted(seeds.values())[:MOST_SEEDS]:
            work = [seed, *ranked, *more]
            found = self._fill(kiln, window, start, in_min, before, work, mine)
            if found is not None and found[0] > most:
                most, best = found
        return best

    def _ranked(self, start: int, in_min: int, kiln: int) -> Ranked:
        base, weight = self.base, self.weight
        worked = self.problem.hours.worked_by(start)
        now = exp(min(FARTHEST, max(0.0, worked / self.style.patience_min)))
        ranked = [
            (-(worth if (worth := base[task] * now) < 1.0 else 1.0) * weight[task], task)
            for task, ready in self.waiting[kiln].items()
            if ready <= in_min
        ]
        ranked.sort()
        return ranked

    def _for_closed(self, task: int, window: int) -> bool:
        problem = self.problem
        if not any(problem.hot[k] for k in problem.task_kilns[task]):
            return True
        return self.due_window[task] - window <= self.style.closed_days

    def _worth_lighting(self, kiln: int, window: int, start: int, ranked: Ranked) -> bool:
        """Whether there is work for the day beside what kilns that burn already can do."""
        problem, board = self.problem, self.board
        hot = problem.hot[kiln]
        assert hot is not None
        opens, close = problem.hours.opens[window], problem.hours.closes[window]
        work = due = 0.0
        for _, task in ranked:
            each = hot.change_min + problem.lower_min[problem.box[task]]
            minutes = each * board.left[task] * problem.each[task] / problem.places[kiln]
            work += minutes
            if self.due_window[task] <= window:
                due += minutes
        burning = sum(max(0, close - end) for end in self.burning.values() if end > opens)
        if due > burning:
            return True
        if self.style.ease:
            return self._needed(kiln, window, start)
        if not self.coming and not burning:
            return True
        return work - burning > WORTH_LIGHTING * (close - start - hot.warm_up_min)

    def _needed(self, kiln: int, window: int, start: int) -> bool:
        """Whether kilns kept hot that cost less cannot do all that is due, in time."""
        problem, board = self.problem, self.board
        hours = problem.hours
        better = self.by_cost[: self.by_cost.index(kiln)]
        if not better:
            return True
        asked: dict[int, float] = {}
        for task, left in enumerate(board.left):
            if left:
                can = [k for k in better if k in problem.task_kilns[task]]
                if not can:
                    return True
                change = problem.base_min[can[0]] - problem.lead(can[0])
                minutes = change + problem.lower_min[problem.box[task]]
                at = max(window, self.due_window[task])
                asked[at] = asked.get(at, 0.0) + minutes * left * problem.each[task]
        total = room = 0.0
        at = window - 1
        for due in sorted(asked):
            total += asked[due]
            while at < min(due, len(hours.opens) - 1):
                at += 1
                for k in better:
                    lit = k in self.burning and at == window
                    begin = max(start, hours.opens[at]) + (0 if lit else problem.lead(k))
                    room += max(0, hours.closes[at] - begin) * problem.places[k]
            if total > self.style.ease * room:
                return True
        return False

    def _fill(
        self,
        kiln: int,
        window: int,
        start: int,
        in_min: int,
        before: Round | None,
        ranked: Ranked,
        mine: set[int] | None,
    ) -> tuple[float, Fill] | None:
        """What the best load around a seed, ranked first, is worth a minute, and what is in it.

        mine  of a closed kiln: the work for whose sake it is fired
        """
        problem, board = self.problem, self.board
        made, hot = problem.instance.kilns[kiln], problem.hot[kiln]
        seed = ranked[0][1]
        suits, kind = self._suiting(seed, hot is not None), self.kind
        facts, left, smallest = self._facts, board.left, self.smallest_each
        low_c, high_c, low, high = problem.boxes[problem.box[seed]]
        low_c, high_c = max(low_c, made.temp_min_c), min(high_c, made.temp_max_c)
        hold = problem.hot_hold if hot else problem.hold
        occupied = problem.turn(kiln, low) + (0 if hot else problem.slow[seed])
        ends = in_min + occupied
        total = room = problem.places[kiln]
        method, parts, window_parts = problem.method[seed], 0, NEVER
        mould_left: dict[int, int] = {}
        worth, due = 0.0, NEVER
        fill: Fill = []
        for value, task in ranked:
            if room < smallest:
                break
            if kind[task] not in suits or (fill and task == seed):
                continue
            box_low_c, box_high_c, box_high, each, shape, own, hand, soft = facts[task]
            if (
                each > room
                or box_low_c > high_c
                or box_high_c < low_c
                or (own and method and own != method)
            ):
                continue
            if shape not in mould_left:
                tied = board.in_use[shape].peak(in_min, max(ends + hold[shape], in_min + 1))
                mould_left[shape] = problem.owned[shape] - tied
            moulds = min(left[task], room // each, mould_left[shape])
            skill = own or method
            if skill is not None:
                hands = problem.count[skill[0]]
                if skill[1]:
                    most = hands * (min(high, box_high) - low) * problem.parts
                else:
                    most = hands * min(window_parts, soft or NEVER)
                if hand:
                    moulds = min(moulds, (most - parts) // hand)
                elif most < parts:
                    continue
            if moulds <= 0:
                if not fill:
                    return None
                continue
            mould_left[shape] -= moulds
            room -= moulds * each
            low_c, high_c = max(low_c, box_low_c), min(high_c, box_high_c)
            high = min(high, box_high)
            if own is not None:
                method = own
                parts += moulds * hand
                window_parts = min(window_parts, soft)
            worth -= value * moulds * each
            due = min(due, self.due_window[task])
            fill.append((task, moulds))
        full, places = FULL, total - room
        if mine is not None:
            full = self.style.full
            places = sum(moulds * facts[task][3] for task, moulds in fill if task in mine)
        if places < full * total and due > window and self._more_to_come(seed, kiln):
            return None
        minutes, weighed = occupied, 0.0
        if hot is None:
            if start + problem.turn_inside(kiln, low) > problem.hours.closes[window]:
                return None
        else:
            if method is not None:
                minutes += -(-parts // (problem.parts * problem.count[method[0]]))
            turn = self._turn(kiln, before, low_c, high_c) if before else 0
            minutes += turn
            weighed = (self.style.turn_weight - 1) * turn
            if in_min + minutes > problem.hours.closes[window]:
                return None
        return worth / max(1.0, minutes + weighed), fill

    def _turn(self, kiln: int, before: Round, low_c: float, high_c: float) -> int:
        """Minutes from the heat before, that may still move within its windows, to this one's."""
        if low_c > before.high_c:
            return self.problem.turn_min(kiln, before.high_c, low_c)
        if high_c < before.low_c:
            return self.problem.turn_min(kiln, before.low_c, high_c)
        return 0

    def _more_to_come(self, seed: int, kiln: int) -> bool:
        """Whether work that suits a seed is yet to be released or to come out of a firing."""
        waiting, problem = self.waiting[kiln], self.problem
        meets = problem.meets[problem.box[seed]]
        return any(
            left
            and task not in waiting
            and meets & problem.bit[problem.box[task]]
            and kiln in problem.task_kilns[task]
            for task, left in enumerate(self.board.left)
        )


def _cost(problem: RoundProblem, kiln: int) -> float:
    """Minutes a place of a full day costs beside the hold: changes, and a share of the warm-up."""
    hot = problem.hot[kiln]
    assert hot is not None
    longest = max(1, problem.hours.longest_min - hot.warm_up_min)
    each = hot.change_min + problem.least_minutes
    return each * (1 + hot.warm_up_min / longest) / problem.places[kiln]
