"""A few lines between the planner and the HiGHS solver.

`highspy` is imported when a model is solved, never before: no web request solves one.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from math import ceil, inf
from typing import Any


@dataclass(frozen=True, slots=True)
class Answer:
    """values  of the columns, in the order they were added; empty if none was found
    value   of the goal at `values`, inf if none was found
    bound   no solution has a smaller goal
    proved  `values` is the best there is
    """

    values: tuple[float, ...]
    value: float
    bound: float
    proved: bool


@dataclass
class Model:
    """Minimise cost @ x, column bounds and rows given one by one."""

    cost: list[float] = field(default_factory=list)
    lower: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    whole: list[bool] = field(default_factory=list)
    row_lower: list[float] = field(default_factory=list)
    row_upper: list[float] = field(default_factory=list)
    row_start: list[int] = field(default_factory=lambda: [0])
    row_index: list[int] = field(default_factory=list)
    row_value: list[float] = field(default_factory=list)

    def column(self, cost: float = 0.0, *, upper: float = inf, whole: bool = False) -> int:
        """Add a variable from 0 to `upper`; returns its number."""
        self.cost.append(cost)
        self.lower.append(0.0)
        self.upper.append(upper)
        self.whole.append(whole)
        return len(self.cost) - 1

    def row(self, terms: dict[int, float], *, lower: float = -inf, upper: float = inf) -> None:
        """Add lower <= sum of coefficient times column <= upper."""
        self.row_index.extend(terms)
        self.row_value.extend(terms.values())
        self.row_start.append(len(self.row_index))
        self.row_lower.append(lower)
        self.row_upper.append(upper)

    def fix(self, column: int, value: float) -> None:
        """Leave a column no other value."""
        self.lower[column] = self.upper[column] = value

    def solve(self, seconds: float, nodes: int | None = None) -> Answer:
        """Solve within about `seconds`, or within so many nodes of the search tree.

        The same model and number of nodes give the same answer, if the time is long enough.
        gap  relative distance to the bound at which the search may stop
        """
        import highspy
        import numpy as np

        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(self.cost), len(self.row_lower)
        lp.col_cost_ = np.array(self.cost)
        lp.col_lower_, lp.col_upper_ = np.array(self.lower), np.array(self.upper)
        lp.row_lower_, lp.row_upper_ = np.array(self.row_lower), np.array(self.row_upper)
        lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
        lp.a_matrix_.start_ = np.array(self.row_start)
        lp.a_matrix_.index_ = np.array(self.row_index)
        lp.a_matrix_.value_ = np.array(self.row_value, dtype=float)
        kinds = highspy.HighsVarType
        lp.integrality_ = [kinds.kInteger if w else kinds.kContinuous for w in self.whole]
        solver = highspy.Highs()
        solver.silent()
        solver.setOptionValue("time_limit", float(seconds))
        solver.setOptionValue("mip_rel_gap", 0.0)
        solver.setOptionValue("random_seed", 0)
        if nodes is not None:
            solver.setOptionValue("mip_max_nodes", nodes)
        solver.passModel(lp)
        solver.run()
        return self._answer(solver, highspy)

    def _answer(self, solver: Any, highspy: Any) -> Answer:
        info = solver.getInfo()
        status = solver.getModelStatus()
        proved = status == highspy.HighsModelStatus.kOptimal
        if status == highspy.HighsModelStatus.kInfeasible:
            return Answer((), inf, inf, True)
        feasible = info.primal_solution_status == highspy.SolutionStatus.kSolutionStatusFeasible
        if any(self.whole):
            bound = info.mip_dual_bound
        else:
            bound = info.objective_function_value if proved else -inf
        if not feasible:
            return Answer((), inf, bound, False)
        values = tuple(solver.getSolution().col_value)
        return Answer(values, info.objective_function_value, bound, proved)


def at_least(bound: float) -> int:
    """A bound on a whole number, rounded up past the solver's tolerance."""
    return max(0, ceil(bound - 1e-6 * max(1.0, abs(bound)))) if bound > -inf else 0
