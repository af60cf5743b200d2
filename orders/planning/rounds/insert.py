"""Putting work into rounds and loads: into room that is there, else into new ones."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from random import Random

from orders.planning.calendar import NEVER
from orders.planning.rounds.board import RoundBoard
from orders.planning.rounds.round import Sheet

Fill = list[tuple[int, int]]
"""Tasks and moulds of each, for one load."""

MOST_PLACES = 8
"""Places for a new load that are weighed with what could fill it. Our choice, measured."""

MOST_LAID = 4
"""Places for a new load that are tried in earnest. Our choice, measured."""


MOST_SOON, MOST_EMPTY = 40, 8
"""Places, and windows still empty, tried where work must be put in whatever it costs."""


class Opening:
    """A place where a new load could stand: its list, its place there, and about when."""

    __slots__ = ("at", "extra", "in_min", "sheet", "start")

    def __init__(self, sheet: Sheet, at: int, start: int, in_min: int, extra: int) -> None:
        self.sheet = sheet
        self.at = at
        self.start = start
        self.in_min = in_min
        self.extra = extra


class Inserter:
    def __init__(self, board: RoundBoard, rng: Random) -> None:
        self.board = board
        self.problem = board.problem
        self.rng = rng
        self.smallest_each = min(self.problem.mould_places, default=1)

    def on_time_by(self, task: int) -> int:
        """Latest cold that makes no order later than it is, or than it was due."""
        board, problem = self.board, self.problem
        after = problem.after[task]
        if after >= 0:
            begins = board.start_of(after)
            if begins < NEVER:
                return begins - problem.gap[task]
            return problem.latest_end(task)
        order = problem.order[task]
        last = problem.due[order]
        for part in problem.order_tasks[order]:
            last = max(last, board.end_of(part))
        return last

    # -- room that is there -------------------------------------------------------------

    def into_room(self, task: int, by: int, whole: bool = False) -> bool:
        """Put the task into loads that stand and are cold by then. True if all of it went in."""
        board, problem, rng = self.board, self.problem, self.rng
        ready = board.ready_at(task)
        low_c, high_c, low_min, high_min = problem.boxes[problem.box[task]]
        each, method, shape = problem.each[task], problem.method[task], problem.shape[task]
        kilns, slow = problem.task_kilns[task], problem.slow[task]
        wanted = board.left[task]
        found = []
        for r in board.rounds():
            if (
                r.free < each
                or r.kiln not in kilns
                or r.low_c > high_c
                or low_c > r.high_c
                or r.low_min > high_min
                or low_min > r.high_min
                or r.in_min < ready
                or (method and r.method and method != r.method)
                or (r.pin is not None and (r.pin.sealed or low_min > r.low_min))
                or board.cold(r, task) > by
            ):
                continue
            most = min(r.free // each, board.most_pierced(r, task), board.moulds_free(r, shape))
            if most <= 0:
                continue
            longer = max(0, low_min - r.low_min) + max(0, slow - r.slow)
            turned = low_c > r.temp_c or high_c < r.temp_c
            score = longer + 10 * turned + (r.free - min(most, wanted) * each)
            found.append((score + rng.random() * 4 * each, id(r), r, most))
        if not found or (whole and sum(f[3] for f in found) < wanted):
            return False
        found.sort()
        full = [f for f in found if f[3] >= wanted]
        for _, _, r, most in [*full, *(f for f in found if f[3] < wanted)]:
            moulds = min(most, board.left[task])
            if moulds > 0:
                board.put(r, task, moulds)
            if not board.left[task]:
                return True
        return False

    # -- new loads ----------------------------------------------------------------------

    def into_new(self, tasks: list[int], soon: bool = False) -> list[int]:
        """Open loads for the tasks, each filled with as many of them as it takes.

        soon  as early as can be, not where it costs least
        Returns the tasks that found no load on time.
        """
        board = self.board
        waiting = [t for t in tasks if board.left[t]]
        missed = []
        while waiting:
            seed = waiting[0]
            if not self._open_for(seed, waiting, soon):
                missed.append(seed)
                waiting.pop(0)
            waiting = [t for t in waiting if board.left[t]]
        return missed

    def _open_for(self, seed: int, waiting: list[int], soon: bool) -> bool:
        board, rng = self.board, self.rng
        by = NEVER if soon else self.problem.hours.open_by(self.on_time_by(seed))
        after = self.problem.after[seed]
        if soon and after >= 0 and board.start_of(after) < NEVER:
            by = self.on_time_by(seed)
        openings = self._openings(seed, by, soon)
        limits = {t: self._limits(t, soon) for t in waiting}
        waiting = self._by_likeness(seed, waiting)
        weighed: list[tuple[float, int, Opening, Fill]] = []
        blur = 3.0 if rng.random() < 0.1 else 0.2
        for opening in openings:
            fill, places = self._fill(seed, waiting, opening, limits)
            if not fill:
                continue
            if soon:
                weight = -(opening.in_min + opening.extra * 0.01)
            else:
                weight = places / max(1, opening.extra) * (1 + blur * rng.random())
            weighed.append((weight, len(weighed), opening, fill))
        weighed.sort(reverse=True)
        for _, _, opening, fill in weighed if soon else weighed[:MOST_LAID]:
            parts = [fill, fill[:1]] if len(fill) > 1 else [fill]
            if soon and fill[0][1] > 1:
                parts.append([(seed, 1)])
            if any(board.open(opening.sheet, opening.at, part) for part in parts):
                return True
        return False

    def _by_likeness(self, seed: int, waiting: list[int]) -> list[int]:
        """The seed, then what is fired as long or a little shorter, then what is longer."""
        box, lower = self.problem.box, self.problem.lower_min
        minutes = lower[box[seed]]

        def rank(task: int) -> tuple[bool, int]:
            own = lower[box[task]]
            return own > minutes, abs(own - minutes) if task != seed else -1

        return sorted(waiting, key=rank)

    def _limits(self, task: int, soon: bool) -> tuple[int, int]:
        ready = self.board.ready_at(task)
        after = self.problem.after[task]
        if soon and (after < 0 or self.board.start_of(after) >= NEVER):
            return ready, NEVER
        return ready, self.on_time_by(task)

    def _openings(self, seed: int, by: int, soon: bool) -> list[Opening]:
        """Places on time for the seed: in lists that stand, and in windows still empty."""
        board, problem, rng = self.board, self.problem, self.rng
        hours = problem.hours
        ready = board.ready_at(seed)
        minutes = problem.lower_min[problem.box[seed]]
        first = bisect_left(hours.closes, ready + minutes)
        last = len(hours.opens) if by >= NEVER else bisect_right(hours.opens, by)
        found: list[Opening] = []
        empty: list[Opening] = []
        for kiln in problem.task_kilns[seed]:
            hot = problem.hot[kiln]
            cools = problem.anneal[seed] if hot else 0
            unlit = 0
            for window in range(first, min(last, len(hours.opens))):
                rounds = board.lists[kiln][window]
                if not rounds:
                    opening = self._in_empty(seed, (kiln, window), ready)
                    if self._done(opening, kiln, minutes) + cools <= by and self._inside(
                        opening, kiln, minutes
                    ):
                        empty.append(opening)
                        unlit += 1
                        if soon and unlit > MOST_EMPTY:
                            break
                    continue
                for opening in self._among(seed, (kiln, window), ready):
                    if self._done(opening, kiln, minutes) + cools <= by and self._inside(
                        opening, kiln, minutes
                    ):
                        found.append(opening)
        if soon:
            return sorted([*found, *empty], key=lambda o: o.in_min)[:MOST_SOON]
        if len(empty) > 3:
            empty = [empty[0], empty[-1], rng.choice(empty[1:-1])]
        if len(found) > MOST_PLACES:
            found.sort(key=lambda o: o.extra * (1 + 0.3 * rng.random()))
            found = found[:MOST_PLACES]
        return [*found, *empty]

    def _done(self, opening: Opening, kiln: int, minutes: int) -> int:
        hot = self.problem.hot[kiln]
        if hot:
            return opening.in_min + hot.change_min + minutes
        return opening.start + self.problem.base_min[kiln] + minutes

    def _inside(self, opening: Opening, kiln: int, minutes: int) -> bool:
        """Whether what stands after it, pushed along, still fits before closing, about."""
        board, problem = self.board, self.problem
        kiln, window = opening.sheet
        rounds = board.lists[kiln][window]
        close = problem.hours.closes[window]
        lead = problem.preheat[kiln]
        past = problem.hours.past_closing and not problem.hot[kiln]
        if opening.at == len(rounds):
            end = opening.start + (lead + minutes if past else opening.extra)
            return end <= close
        last = rounds[-1]
        if past:
            end = opening.start + opening.extra
            for r in rounds[opening.at :]:
                start = max(r.start, end)
                end = start + r.end - r.start
            fired = start + lead + last.low_min
            return fired <= close and end <= self._until(opening.sheet)
        pushed = opening.extra - max(0, rounds[opening.at].start - opening.start)
        return last.done + max(0, pushed) <= close

    def _until(self, sheet: Sheet) -> int:
        """When the next load of a kiln, in a later window, begins."""
        kiln, window = sheet
        busy = self.board.busy[kiln]
        later = bisect_right(busy, window)
        return self.board.lists[kiln][busy[later]][0].start if later < len(busy) else NEVER

    def _in_empty(self, seed: int, sheet: Sheet, ready: int) -> Opening:
        problem, board = self.problem, self.board
        kiln, window = sheet
        hot = problem.hot[kiln]
        opens = max(problem.hours.opens[window], self._free_from(kiln, window))
        minutes = problem.lower_min[problem.box[seed]]
        if hot is None:
            start = max(opens, ready)
            extra = problem.occupancy(kiln, minutes, problem.slow[seed])
            return Opening(sheet, 0, start, start, extra)
        start = max(opens, ready - hot.warm_up_min)
        extra = hot.warm_up_min + hot.change_min + minutes
        _ = board
        return Opening(sheet, 0, start, start + hot.warm_up_min, extra)

    def _free_from(self, kiln: int, window: int) -> int:
        busy = self.board.busy[kiln]
        at = bisect_left(busy, window)
        return self.board.lists[kiln][busy[at - 1]][-1].end if at else 0

    def _among(self, seed: int, sheet: Sheet, ready: int) -> list[Opening]:
        board, problem = self.board, self.problem
        kiln, window = sheet
        rounds = board.lists[kiln][window]
        hot = problem.hot[kiln]
        low_c, high_c, minutes, _ = problem.boxes[problem.box[seed]]
        found = []
        for at in range(len(rounds) + 1):
            before = rounds[at - 1] if at else None
            after = rounds[at] if at < len(rounds) else None
            if (
                after is not None
                and after.pin is not None
                and after.pin.load.start_min <= (before.end if before else ready)
            ):
                continue
            if hot is None:
                start = max(before.end if before else self._opens(sheet), ready)
                extra = problem.occupancy(kiln, minutes, problem.slow[seed])
                found.append(Opening(sheet, at, start, start, extra))
                continue
            extra = hot.change_min + minutes
            if before is None:
                start = max(self._opens(sheet), ready - hot.warm_up_min)
                goes_in = start + hot.warm_up_min
                if after is not None:
                    temp_c = min(max(after.temp_c, low_c), high_c)
                    extra += problem.turn_min(kiln, temp_c, after.temp_c)
            else:
                temp_c = min(max(before.temp_c, low_c), high_c)
                if before.low_c != before.high_c:
                    near = min(max(temp_c, before.low_c), before.high_c)
                    turn = problem.turn_min(kiln, near, temp_c)
                else:
                    turn = problem.turn_min(kiln, before.temp_c, temp_c)
                goes_in = max(before.end, ready)
                start = goes_in
                if goes_in - before.end > hot.keep_hot_min:
                    start = max(before.end, ready - hot.warm_up_min)
                    goes_in = start + hot.warm_up_min
                    extra += hot.warm_up_min
                else:
                    extra += turn + goes_in - before.end
                if after is not None and not after.lit:
                    extra += problem.turn_min(kiln, temp_c, after.temp_c) - after.turn
            found.append(Opening(sheet, at, start, goes_in, extra))
        if len(found) > 4 and hot is None:
            return [found[0], found[-1], self.rng.choice(found[1:-1])]
        return found

    def _opens(self, sheet: Sheet) -> int:
        return max(self.problem.hours.opens[sheet[1]], self._free_from(*sheet))

    def _fill(
        self,
        seed: int,
        waiting: list[int],
        opening: Opening,
        limits: dict[int, tuple[int, int]],
    ) -> tuple[Fill, int]:
        """The seed, then what else is ready, meets all in the load and finds room and hands."""
        board, problem = self.board, self.problem
        kiln, _ = opening.sheet
        made = problem.instance.kilns[kiln]
        hot = problem.hot[kiln]
        hold = problem.hot_hold if hot else problem.hold
        low_c, high_c, low_min, high_min = made.temp_min_c, made.temp_max_c, 0, NEVER
        room = total = problem.places[kiln]
        method, parts, window_parts = None, 0, NEVER
        minutes = problem.lower_min[problem.box[seed]]
        ends = self._done(opening, kiln, minutes)
        mould_left: dict[int, int] = {}
        fill: Fill = []
        for task in waiting:
            first = task == seed
            box = problem.boxes[problem.box[task]]
            if kiln in problem.task_kilns[task]:
                if room < self.smallest_each:
                    break
                ready, by = limits[task]
                own = problem.method[task]
                if (
                    room < problem.each[task]
                    or box[0] > high_c
                    or box[1] < low_c
                    or box[2] > high_min
                    or box[3] < low_min
                    or (not first and ready > opening.in_min)
                    or ends + (problem.anneal[task] if hot else 0) > by
                    or (own and method and own != method)
                    or (not first and problem.slow[task] > problem.slow[seed])
                ):
                    continue
                shape = problem.shape[task]
                if shape not in mould_left:
                    mould_left[shape] = problem.owned[shape] - board.in_use[shape].peak(
                        opening.in_min, max(ends + hold[shape], opening.in_min + 1)
                    )
                    if first and mould_left[shape] <= 0:
                        # Laid, it waits until moulds are free.
                        mould_left[shape] = problem.owned[shape]
                moulds = min(board.left[task], room // problem.each[task], mould_left[shape])
                low, high = max(low_min, box[2]), min(high_min, box[3])
                if own is not None or method is not None:
                    skill = own or method
                    assert skill is not None
                    hands = problem.count[skill[0]]
                    if skill[1]:
                        most = hands * (high - low) * problem.parts
                    else:
                        most = hands * min(window_parts, problem.window_parts[task] or NEVER)
                    each = problem.hand_parts[task]
                    if each:
                        moulds = min(moulds, (most - parts) // each)
                    elif most < parts:
                        continue
                if moulds <= 0:
                    continue
                mould_left[shape] -= moulds
                room -= moulds * problem.each[task]
                low_c, high_c = max(low_c, box[0]), min(high_c, box[1])
                low_min, high_min = low, high
                if own is not None:
                    method = own
                    parts += moulds * problem.hand_parts[task]
                    window_parts = min(window_parts, problem.window_parts[task])
                fill.append((task, moulds))
        return fill, total - room
