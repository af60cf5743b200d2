"""Moulds in use and the first start with moulds free, against counting every minute."""

from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from orders.planning.board import Board
from orders.planning.calendar import NEVER
from orders.planning.greedy import Style, greedy
from orders.planning.insert import Inserter
from orders.planning.json_form import instance_from_json
from orders.planning.mould_use import MouldUse
from orders.planning.problem import Problem
from tests.planning.instances import workshop

LAST = 80
uses = st.lists(st.tuples(st.integers(0, 50), st.integers(0, 20), st.integers(1, 4)), max_size=12)


@given(uses=uses, removed=st.integers(0, 6), start=st.integers(0, 60), long=st.integers(1, 25))
def test_peaks_and_free_spans_agree_with_counting_every_minute(uses, removed, start, long):
    use, minutes = MouldUse(), [0] * (LAST + 60)
    for sign, some in ((1, uses), (-1, uses[:removed])):
        for begin, length, moulds in some:
            use.add(begin, begin + length, sign * moulds)
            for minute in range(begin, begin + length):
                minutes[minute] += sign * moulds
    assert use.peak(start, start + long) == max(minutes[start : start + long])
    for most in range(4):
        first = next(t for t in range(start, LAST) if max(minutes[t : t + long]) <= most)
        assert use.free_from(start, long, most) == first
    # What was taken out again leaves no step behind.
    assert all(a != b for a, b in zip(use.levels, use.levels[1:], strict=False))
    assert use.levels[-1] == 0


def test_fewer_than_no_moulds_are_never_free():
    assert MouldUse().free_from(0, 10, -1) == NEVER


@pytest.mark.parametrize(
    "kind", [{}, {"moulds": (8, 14)}, {"past_closing": True, "mixed_kilns": True}], ids=str
)
def test_the_first_start_is_the_first_minute_the_rules_allow(kind):
    problem = Problem(instance_from_json(workshop(30, 2, 3, days=12, **kind)))
    board = Board(problem)
    greedy(board, Style())
    inserter, rng = Inserter(board, Random(0)), Random(1)
    for _ in range(12):
        task = rng.randrange(len(problem.job))
        kiln, wanted = rng.choice(problem.task_kilns[task]), rng.randint(1, 6)
        ready, shape = rng.randrange(4000), problem.shape[task]
        minutes = problem.lower_min[problem.box[task]]
        found = inserter._first_start(kiln, shape, wanted, ready, minutes, NEVER)
        assert found == _first_minute(problem, board, kiln, shape, wanted, ready, minutes)


def _first_minute(problem, board, kiln, shape, wanted, ready, minutes):
    """Every minute is asked: kiln idle, somebody there, moulds free."""
    hours, occupancy = problem.hours, problem.base_min[kiln] + minutes
    inside = hours.inside_min(problem.preheat[kiln] + minutes, occupancy)
    slots = [slot for slot in board.slots() if not slot.blocks]
    taken = [(s.start, s.end) for s in slots if s.kiln == kiln]
    hold = problem.hold[shape]
    tied = [(s.start, s.end + hold, s.use.get(shape, 0)) for s in slots]
    for start in range(ready, hours.last):
        end = start + occupancy
        if any(a < end and start < b for a, b in taken) or end > hours.last:
            continue
        if not any(
            a <= start and start + inside <= b
            for a, b in zip(hours.opens, hours.closes, strict=True)
        ):
            continue
        moments = [start, *(a for a, _, _ in tied if start < a < end + hold)]
        most = max(sum(n for a, b, n in tied if a <= at < b) for at in moments)
        if most + wanted <= problem.owned[shape]:
            return start
    return NEVER
