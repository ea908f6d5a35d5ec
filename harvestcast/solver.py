"""Linear and whole-number programmes: written down block by block, solved, kept open.

A :class:`Model` gathers columns, rows and coefficients, each call a whole array of them. A
:class:`Solver` hands the model to HiGHS and keeps it there: bounds are moved and it is solved again
from where it stood. Work is limited by what is counted (nodes of the search tree), never by the
clock, on one thread and with one seed: the same model gives the same answer on any busy machine.

References
----------
Huangfu and Hall, Parallelizing the dual revised simplex method, *Math. Prog. Comp.* 10 (2018),
doi:10.1007/s12532-017-0130-5 (HiGHS, the solver; citation from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import highspy
import numpy as np
from numpy.typing import ArrayLike
from scipy.sparse import coo_array

from harvestcast.arrays import Array, Index
from harvestcast.errors import PlanError

OPTIMAL, LIMIT, INFEASIBLE = "optimal", "limit", "infeasible"
"""How a solve ended: proved within the gap; out of nodes; no answer keeps all the limits."""

MOST_NODES = 2_000
"""Nodes of the search tree at most. A week takes 0 to 20, rarely 100."""

_OPTIONS: dict[str, bool | float | str] = {
    "parallel": "off",
    "random_seed": 0,
    # Plain branch and bound: searches inside the search, cuts at every node and trial branches
    # take most of the time at these sizes and find nothing better (tests.benchmarks.programme).
    "mip_heuristic_run_rins": False,
    "mip_heuristic_run_rens": False,
    "mip_heuristic_run_root_reduced_cost": False,
    "mip_heuristic_run_feasibility_jump": False,
    "mip_heuristic_effort": 0.0,
    "mip_allow_restart": False,
    "mip_allow_cut_separation_at_nodes": False,
    "mip_pscost_minreliable": 0,
}

_ENDED = {
    highspy.HighsModelStatus.kOptimal: OPTIMAL,
    highspy.HighsModelStatus.kModelEmpty: OPTIMAL,
    highspy.HighsModelStatus.kSolutionLimit: LIMIT,
    highspy.HighsModelStatus.kInfeasible: INFEASIBLE,
    # With costs and bounds of ours nothing is without end: HiGHS could not tell the two apart.
    highspy.HighsModelStatus.kUnboundedOrInfeasible: INFEASIBLE,
}


class Infeasible(PlanError):
    """The limits contradict each other."""


class NotFound(PlanError):
    """Nothing was found within the work allowed."""


class Model:
    """Find x with low <= x <= high and row low <= A x <= row high at least cost; a builder.

    It lives only while a programme is written down.

    Examples
    --------
    Two crops share 4 hours; the second is worth more but takes longer, and is put up in whole
    batches.

    >>> model = Model()
    >>> kg = model.columns(2, cost=[-1.0, -3.0], high=[3.0, 2.0], whole=[False, True])
    >>> hours = model.rows(high=4.0)
    >>> model.add(hours, kg, [1.0, 1.5])
    >>> answer = Solver(model).solve()
    >>> answer.x.tolist(), answer.cost, answer.ended
    ([1.0, 2.0], -7.0, 'optimal')
    """

    def __init__(self) -> None:
        self._columns: list[tuple[Array, ...]] = []
        self._rows: list[tuple[Array, ...]] = []
        self._entries: list[tuple[Any, ...]] = []
        self.row_names: list[str] = []
        self.width = 0
        """Columns so far."""

    @property
    def height(self) -> int:
        """Rows so far."""
        return len(self.row_names)

    def columns(
        self,
        shape: int | tuple[int, ...] = (),
        cost: ArrayLike = 0.0,
        low: ArrayLike = 0.0,
        high: ArrayLike = np.inf,
        *,
        whole: ArrayLike = False,
        where: ArrayLike = True,
    ) -> Index:
        """Begin columns.

        Parameters
        ----------
        shape : int or tuple of int
            Their arrangement; the other arguments broadcast to it.
        cost, low, high, whole : array_like
            Cost and bounds, and whether only whole numbers will do.
        where : array_like of bool
            Where there is a column at all.

        Returns
        -------
        ndarray of int
            Their numbers, in that shape; -1 where there is none.
        """
        there = np.broadcast_to(np.asarray(where, bool), shape)
        parts = (np.broadcast_to(np.asarray(one, float), shape)[there] for one in (cost, low, high))
        self._columns.append((*parts, np.broadcast_to(np.asarray(whole, bool), shape)[there]))
        numbers = np.full(there.shape, -1, dtype=np.int64)
        numbers[there] = self.width + np.arange(np.count_nonzero(there))
        self.width += int(np.count_nonzero(there))
        return numbers

    def rows(
        self,
        shape: int | tuple[int, ...] = (),
        high: ArrayLike = 0.0,
        *,
        low: ArrayLike = -np.inf,
        name: str = "",
    ) -> Index:
        """Begin rows of one name and return their numbers, in the shape asked for."""
        limits = tuple(
            np.broadcast_to(np.asarray(one, float), shape).ravel() for one in (low, high)
        )
        self._rows.append(limits)
        numbers = self.height + np.arange(limits[0].size).reshape(shape)
        self.row_names += [name] * limits[0].size
        return numbers

    def add(self, rows: ArrayLike, columns: ArrayLike, values: ArrayLike = 1.0) -> None:
        """Add coefficients; the arguments broadcast against each other.

        Coefficients of 0 and columns of -1 are left out; what is written twice adds up.
        """
        row, column, value = np.broadcast_arrays(rows, columns, np.asarray(values, float))
        keep = (value != 0) & (column >= 0)
        self._entries.append((row[keep], column[keep], value[keep]))

    def matrix(self) -> coo_array:
        """Return the coefficients, shape (rows, columns)."""
        row, column, value = (
            np.concatenate(part) if part else np.zeros(0)
            for part in (zip(*self._entries, strict=True) if self._entries else ((), (), ()))
        )
        where = (row.astype(np.int64), column.astype(np.int64))
        return coo_array((value, where), shape=(self.height, self.width))

    def columns_so_far(self) -> tuple[Array, Array, Array, Any]:
        """Return cost, low, high and whole, each of shape (columns,)."""
        cost, low, high, whole = (
            np.concatenate([np.zeros(0), *part])
            for part in (zip(*self._columns, strict=True) if self._columns else ((),) * 4)
        )
        return cost, low, high, whole.astype(bool)

    def row_limits(self) -> tuple[Array, Array]:
        """Return the least and the most of each row, shape (rows,)."""
        low, high = (
            np.concatenate([np.zeros(0), *part])
            for part in (zip(*self._rows, strict=True) if self._rows else ((),) * 2)
        )
        return low, high


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Answer:
    """A solved programme.

    Parameters
    ----------
    x : ndarray, shape (columns,)
        The columns, whole ones made whole.
    cost, bound : float
        Its cost, and the least that any answer could cost.
    ended : str
        :data:`OPTIMAL` or :data:`LIMIT`.
    slope : ndarray, shape (columns,)
        By how much the cost moves with each column at its bound, per unit (reduced costs); zeros
        where whole numbers were asked for.
    nodes, steps : int
        Nodes of the search tree, and steps of the simplex method.
    """

    x: Array
    cost: float
    bound: float
    ended: str
    slope: Array
    nodes: int
    steps: int


class _Quiet(highspy.Highs):
    """HiGHS that prints nothing, its banner neither."""

    def enableCallbacks(self) -> None:
        """Fall silent before anything else happens."""
        self.silent()
        super().enableCallbacks()


class Solver:
    """A model kept open: move bounds, solve, move bounds, solve again from where it stood."""

    def __init__(self, model: Model) -> None:
        self._cost, low, high, self._whole = model.columns_so_far()
        row_low, row_high = model.row_limits()
        matrix = model.matrix().tocsc()
        matrix.sum_duplicates()
        lp = highspy.HighsLp()
        lp.num_col_, lp.num_row_ = len(low), len(row_low)
        lp.col_cost_, lp.col_lower_, lp.col_upper_ = self._cost, low, high
        lp.row_lower_, lp.row_upper_ = row_low, row_high
        lp.a_matrix_.format_ = highspy.MatrixFormat.kColwise
        lp.a_matrix_.start_ = matrix.indptr
        lp.a_matrix_.index_ = matrix.indices
        lp.a_matrix_.value_ = matrix.data
        if self._whole.any():
            kinds = (highspy.HighsVarType.kContinuous, highspy.HighsVarType.kInteger)
            lp.integrality_ = [kinds[int(one)] for one in self._whole]
        self._highs = _Quiet()
        for name, value in _OPTIONS.items():
            self._highs.setOptionValue(name, value)
        self._highs.passModel(lp)

    def hold(self, columns: ArrayLike, low: ArrayLike, high: ArrayLike | None = None) -> None:
        """Move the bounds of columns (-1: none); without ``high`` they are held at ``low``."""
        number, least, most = np.broadcast_arrays(
            columns, np.asarray(low, float), np.asarray(low if high is None else high, float)
        )
        there = number >= 0
        self._highs.changeColsBounds(
            int(there.sum()), number[there].astype(np.int32), least[there], most[there]
        )

    def price(self, columns: ArrayLike, cost: ArrayLike) -> None:
        """Change the cost of columns (-1: none)."""
        number, points = np.broadcast_arrays(columns, np.asarray(cost, float))
        there = number >= 0
        self._highs.changeColsCost(int(there.sum()), number[there].astype(np.int32), points[there])

    def solve(
        self,
        *,
        relaxed: bool = False,
        gap: float = 1e-9,
        zero: float = 0.0,
        most_nodes: int = MOST_NODES,
    ) -> Answer:
        """Solve the programme as it stands.

        Parameters
        ----------
        relaxed : bool
            Whether parts will do where whole numbers are asked for.
        gap : float
            Share of the distance between the cost and ``zero`` within which the answer must be
            proved best.
        zero : float
            Cost that counts as nothing at stake, for the gap.
        most_nodes : int
            Nodes of the search tree after which the best found is taken.

        Returns
        -------
        Answer

        Raises
        ------
        Infeasible
            Where no answer keeps all limits.
        NotFound
            Where nothing was found within the nodes.
        PlanError
            Where the solver fails.
        """
        highs, whole = self._highs, bool(self._whole.any()) and not relaxed
        highs.setOptionValue("solve_relaxation", not whole)
        highs.setOptionValue("mip_rel_gap", gap)
        highs.setOptionValue("mip_max_nodes", most_nodes)
        highs.changeObjectiveOffset(-zero)
        if whole:
            highs.clearSolver()  # else the last relaxed answer is mended first, which takes longer
        highs.run()
        ended = _ENDED.get(highs.getModelStatus())
        if ended == INFEASIBLE and whole:
            # Simplifying beforehand can lose an answer among amounts a billion times smaller than
            # others; a programme is only called infeasible where it is so as it was written.
            highs.setOptionValue("presolve", "off")
            highs.clearSolver()
            highs.run()
            highs.setOptionValue("presolve", _OPTIONS.get("presolve", "choose"))
            ended = _ENDED.get(highs.getModelStatus())
        if ended == INFEASIBLE:
            raise Infeasible("no answer keeps all the limits")
        found, facts = highs.getSolution(), highs.getInfo()
        there = found.value_valid or not len(self._whole)
        if ended == LIMIT and not there:
            raise NotFound(f"nothing was found within {most_nodes} nodes")
        if ended is None or not there:
            status = highs.modelStatusToString(highs.getModelStatus())
            raise PlanError(f"the solver failed: {status}")
        x = np.array(found.col_value)
        if whole:
            x[self._whole] = np.rint(x[self._whole])
        cost = facts.objective_function_value + zero
        return Answer(
            x=x,
            cost=cost,
            bound=min(cost, facts.mip_dual_bound + zero) if whole else cost,
            ended=ended,
            slope=np.zeros(len(x)) if whole else np.array(found.col_dual),
            nodes=max(0, int(facts.mip_node_count)) if whole else 0,
            steps=int(facts.simplex_iteration_count),
        )
