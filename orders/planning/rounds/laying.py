"""The loads of a list given their minutes, one after the other, each as early as can be.

Of a kiln kept hot that is a run: turns of heat and the hands that pierce are counted.
"""

from __future__ import annotations

from bisect import bisect_left

from orders.planning.calendar import NEVER
from orders.planning.rounds.round import Round
from orders.planning.rounds.sheets import Sheets

MOST_TRIES = 40
"""Times a load is put off before its list counts as impossible. Our choice."""


class Laying(Sheets):
    """A list is laid anew whenever it changes."""

    def lay(self, kiln: int, window: int, at: int = 0, alone: bool = False) -> bool:
        """Give the loads of a list from `at` on their minutes; False if there is no way.

        alone  the list has the same loads as before, and only that at `at` has other contents
        """
        self.stale[kiln, window] = None
        busy = self.busy[kiln]
        place = bisect_left(busy, window)
        free_from = self.lists[kiln][busy[place - 1]][-1].end if place else 0
        later = place + (place < len(busy) and busy[place] == window)
        until = self.lists[kiln][busy[later]][0].start if later < len(busy) else NEVER
        if self.problem.hot[kiln]:
            minutes = self._lay_rounds(kiln, window, free_from, until, at, alone)
        else:
            minutes = self._lay_closed(kiln, window, free_from, until, at)
        if minutes is None:
            return False
        self.kiln_minutes += minutes - self.minutes[kiln][window]
        self.minutes[kiln][window] = minutes
        return True

    def _lift(self, rounds: list[Round]) -> None:
        for r in rounds:
            self._use_off(r)
            r.used = []

    def _before_second(self, r: Round, *, kept: bool = False) -> bool:
        """Whether no second firing stands before the first is over; `kept`: of what is pinned."""
        problem = self.problem
        for task in (task for task, _ in r.kept) if kept else r.items:
            after = problem.after[task]
            if after >= 0:
                goes_in = self.start_of(after)
                if goes_in < NEVER and self.cold(r, task) + problem.gap[task] > goes_in:
                    return False
        return True

    def _mould_list(self, r: Round) -> list[tuple[int, int]]:
        needs: dict[int, int] = {}
        shape = self.problem.shape
        for task, moulds in r.items.items():
            needs[shape[task]] = needs.get(shape[task], 0) + moulds
        for task, item in r.kept:
            needs[shape[task]] = needs.get(shape[task], 0) + item.moulds
        return list(needs.items())

    def _past_shut(self, kiln: int, start: int, end: int) -> int:
        """The end of a span in which the kiln cannot be used and that [start, end) meets, or 0."""
        for shut, opened in self.problem.instance.kilns[kiln].closed:
            if start < opened and shut < end:
                return opened
        return 0

    def _use_moulds(self, r: Round, moulds: list[tuple[int, int]], holds: list[int]) -> None:
        for shape, count in moulds:
            until = max(r.done + holds[shape], r.in_min + 1)
            self.in_use[shape].add(r.in_min, until, count)
            r.used.append((self.in_use[shape], r.in_min, until, count))

    # -- closed loads -------------------------------------------------------------------

    def _lay_closed(
        self, kiln: int, window: int, free_from: int, until: int, at: int
    ) -> int | None:
        problem = self.problem
        hours, base, preheat = problem.hours, problem.base_min[kiln], problem.preheat[kiln]
        now, close = max(free_from, hours.opens[window]), hours.closes[window]
        rounds = self.lists[kiln][window]
        total = sum(r.end - r.start for r in rounds[:at])
        now = max((now, *(r.end for r in rounds[:at])))
        before = rounds[at - 1] if at else None
        self._lift(rounds[at:])
        for r in rounds[at:]:
            occupancy = base + r.low_min + r.slow
            inside = preheat + r.low_min if hours.past_closing else occupancy
            moulds = self._mould_list(r)
            start = max(now, self._ready(r), r.earliest)
            if r.pin is not None and r.fixed:
                start = r.pin.load.start_min
            else:
                found = self._free_from(kiln, start, occupancy, moulds)
                if found is None or found + inside > close or found + occupancy > hours.last:
                    return None
                start = found
            if self.pins_stay and r.pin is not None and start != r.pin.load.start_min:
                return None
            end = start + occupancy
            r.start = r.in_min = start
            r.end = r.done = end
            r.temp_c = r.low_c  # the lowest that suits; of a pinned load its own
            if before is not None and start < before.end and not (r.fixed and before.fixed):
                return None
            if not r.fixed and (start < now or end > until):
                return None
            before = r
            self._use_moulds(r, moulds, problem.hold)
            if not self._before_second(r):
                return None
            total += occupancy
            now = max(now, end)
        return total

    def _free_from(
        self, kiln: int, start: int, occupancy: int, moulds: list[tuple[int, int]]
    ) -> int | None:
        problem = self.problem
        for _ in range(MOST_TRIES):
            again = self._past_shut(kiln, start, start + occupancy) or start
            for shape, count in moulds:
                tied = max(1, occupancy + problem.hold[shape])
                most = problem.owned[shape] - count
                again = max(again, self.in_use[shape].free_from(again, tied, most))
            if again == start:
                return start
            if again >= NEVER:
                return None
            start = again
        return None

    # -- rounds -------------------------------------------------------------------------

    def _lay_rounds(
        self, kiln: int, window: int, free_from: int, until: int, at: int, alone: bool
    ) -> int | None:
        problem = self.problem
        hot = problem.hot[kiln]
        assert hot is not None
        rounds = self.lists[kiln][window]
        temps = string_through([(r.low_c, r.high_c) for r in rounds])
        now = max(free_from, problem.hours.opens[window], self.not_before[kiln][window])
        close = problem.hours.closes[window]
        total = waits = 0
        before: Round | None = None
        for n in range(at):
            if rounds[n].temp_c != temps[n]:
                at = n
                break
        if alone and self._laid_alone(rounds, temps, at, now, close):
            at = len(rounds)
        self._lift(rounds[at:])
        for n, (r, temp_c) in enumerate(zip(rounds, temps, strict=True)):
            if n < at:
                if r.lit or before is None:
                    total += r.end - r.start
                else:
                    total += r.end - before.end
                    waits += r.start - before.end
                now, before = max(now, r.end), r
                continue
            r.temp_c = temp_c
            if not self._lay_round(r, before, now, close):
                return None
            if not r.fixed and (r.start < now or r.end > until):
                return None
            if r.lit or before is None:
                total += r.end - r.start
            else:
                total += r.end - before.end
                waits += r.start - before.end
            if not self._before_second(r):
                return None
            now, before = max(now, r.end), r
        self.waits[kiln][window] = waits
        return total

    def _laid_alone(
        self, rounds: list[Round], temps: list[float], at: int, now: int, close: int
    ) -> bool:
        """Whether a round with other contents ends as before, so that those after it stand."""
        if at >= len(rounds) or rounds[at].fixed:
            return False
        if any(r.temp_c != temp_c for r, temp_c in zip(rounds[at:], temps[at:], strict=True)):
            return False
        r, before = rounds[at], rounds[at - 1] if at else None
        now = max(now, before.end if before else 0)
        stood = r.start, r.end, r.done
        self._lift([r])
        return (
            self._lay_round(r, before, now, close)
            and stood == (r.start, r.end, r.done)
            and self._before_second(r)
        )

    def _lay_round(self, r: Round, before: Round | None, now: int, close: int) -> bool:
        problem = self.problem
        hot = problem.hot[r.kiln]
        assert hot is not None
        ready = max(self._ready(r), r.earliest)
        moulds = self._mould_list(r)
        start, pinned = now, r.pin.load if r.pin and r.fixed else None
        if pinned is not None:
            if before is not None and pinned.start_min < before.end and not before.fixed:
                return False
            start = pinned.start_min
        delay = 0
        for _ in range(MOST_TRIES):
            turn = problem.turn_min(r.kiln, before.temp_c, r.temp_c) if before else 0
            goes_in = max(start, ready) + delay
            joins = before is not None and goes_in - before.end <= hot.keep_hot_min
            lit = not joins or turn > hot.warm_up_min
            if pinned is not None:
                lit, goes_in = pinned.lit, pinned.start_min
                # A run under way whose first rounds are no part of the problem is hot already.
                if not lit and before is not None and not before.fixed and not joins:
                    return False
            if lit:
                turn = 0
                opened = start if pinned else max(start, goes_in - hot.warm_up_min)
                goes_in = opened + hot.warm_up_min
            else:
                opened = goes_in
            first = goes_in + hot.change_min + turn + r.low_min
            pierced = self._pierced(r, first)
            if pierced is None:
                return False
            hands, span, later = pierced
            done = first + span
            end = done if r.method is None or r.method[1] else first
            if pinned is None:
                if done > close:
                    return False
                later = max(later, self._later_for_moulds(r, goes_in, done, moulds))
                shut = self._past_shut(r.kiln, opened, end)
                if shut:
                    later = max(later, shut + (hot.warm_up_min if lit else 0) - goes_in)
                    before = None
                if later >= NEVER // 2:
                    return False
                if later:
                    delay = goes_in + later - max(start, ready)
                    continue
            pushed = r.pin is not None and opened != r.pin.load.start_min
            if pushed and self.pins_stay and (before is None or before.pin is None):
                return False
            r.start, r.in_min, r.turn, r.lit, r.hands = opened, goes_in, turn, lit, hands
            r.end, r.done = end, done
            self._use_moulds(r, moulds, problem.hot_hold)
            if r.method is not None and span:
                use = self.hands_in_use[r.method[0]]
                use.add(first, done, hands)
                r.used.append((use, first, done, hands))
            return True
        return False

    def _pierced(self, r: Round, first: int) -> tuple[int, int, int] | None:
        """(hands, span, minutes to put off until they are free); None if never in time."""
        if r.method is None:
            return 0, 0, 0
        skill, one_by_one = r.method
        count, parts = self.problem.count[skill], self.problem.parts
        use = self.hands_in_use[skill]
        best = None
        for hands in range(count, 0, -1):
            if one_by_one:
                span = -(-r.parts // (parts * hands))
                in_time = r.low_min + span <= r.high_min
            else:
                span = -(-r.parts // (parts * hands))
                in_time = r.parts <= r.window_parts * hands
            if not in_time and not r.fixed:
                break
            if best is None:
                best = hands, span
            if r.fixed or count - use.peak(first, max(first + 1, first + span)) >= hands:
                return hands, span, 0
        if best is None:
            return None
        hands, span = best
        return hands, span, use.free_from(first, max(1, span), count - hands) - first

    def _later_for_moulds(
        self, r: Round, goes_in: int, done: int, moulds: list[tuple[int, int]]
    ) -> int:
        problem = self.problem
        later = 0
        for shape, count in moulds:
            tied = max(1, done + problem.hot_hold[shape] - goes_in)
            most = problem.owned[shape] - count
            later = max(later, self.in_use[shape].free_from(goes_in, tied, most) - goes_in)
        return later


def string_through(windows: list[tuple[float, float]]) -> list[float]:
    """Temperatures inside each window with the least turning: a string pulled through them.

    Where the string may lie anywhere it lies low.

    >>> string_through([(700, 760), (840, 900), (840, 860), (720, 800)])
    [760, 840, 840, 800]
    """
    temps: list[float] = []
    low, high, begun = 0.0, 0.0, 0
    for n, (next_low, next_high) in enumerate(windows):
        if n == 0:
            low, high = next_low, next_high
        elif next_low <= high and low <= next_high:
            low, high = max(low, next_low), min(high, next_high)
        else:
            at = high if next_low > high else low
            temps += [at] * (n - begun)
            # Coming from one side, nothing is lost by going on from the near end.
            low, high, begun = next_low, next_high, n
    if windows:
        previous = temps[-1] if temps else low
        temps += [min(max(previous, low), high)] * (len(windows) - begun)
    return temps
