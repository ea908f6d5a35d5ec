"""The model builder and the solver kept open, against another way to write and another solver."""

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from harvestcast.errors import PlanError
from harvestcast.solver import LIMIT, OPTIMAL, Infeasible, Model, NotFound, Solver


def _random(seed: int, rows: int = 6, columns: int = 9) -> tuple[Model, tuple[np.ndarray, ...]]:
    """Return a model, and the same as arrays: cost, high, whole, matrix, limit."""
    rng = np.random.default_rng(seed)
    matrix = np.where(rng.random((rows, columns)) < 0.6, rng.uniform(0.2, 3, (rows, columns)), 0.0)
    cost, high = -rng.uniform(0.5, 4, columns), rng.uniform(0.5, 6, columns)
    whole, limit = rng.random(columns) < 0.5, rng.uniform(3, 12, rows)
    model = Model()
    # In two blocks, with holes: the numbers of the columns follow the blocks.
    first = model.columns((2, 3), cost[:6].reshape(2, 3), 0.0, high[:6].reshape(2, 3),
                          whole=whole[:6].reshape(2, 3))  # fmt: skip
    there = np.array([True, False, True, True])
    second = model.columns(4, [cost[6], 0, *cost[7:]], high=[high[6], 0, *high[7:]],
                           whole=[whole[6], False, *whole[7:]], where=there)  # fmt: skip
    assert second.tolist() == [6, -1, 7, 8]
    number = model.rows(rows, limit, name="room")
    model.add(number[:, None, None], first, matrix[:, :6].reshape(rows, 2, 3))
    model.add(number[:, None], second, np.insert(matrix[:, 6:], 1, 7.0, axis=1))
    return model, (cost, high, whole, matrix, limit)


@pytest.mark.parametrize("seed", range(20))
def test_finds_what_scipy_finds(seed: int) -> None:
    """Written with arrays and solved by scipy's milp and linprog."""
    model, (cost, high, whole, matrix, limit) = _random(seed)
    assert (model.height, model.width) == matrix.shape
    np.testing.assert_array_equal(model.matrix().toarray(), matrix)
    opened = Solver(model)
    found = opened.solve()
    other = milp(cost, integrality=whole.astype(int), bounds=Bounds(0, high),
                 constraints=LinearConstraint(matrix, -np.inf, limit))  # fmt: skip
    assert found.ended == OPTIMAL
    assert found.cost == pytest.approx(other.fun, abs=1e-7)
    assert found.bound <= found.cost <= found.bound + 1e-6
    assert (found.x[whole] == np.rint(found.x[whole])).all()
    relaxed = opened.solve(relaxed=True)
    other = linprog(cost, A_ub=matrix, b_ub=limit, bounds=np.stack([0 * high, high], axis=1))
    assert relaxed.cost == pytest.approx(other.fun, abs=1e-7)
    np.testing.assert_allclose(
        relaxed.slope, other.lower.marginals + other.upper.marginals, atol=1e-7
    )


@pytest.mark.parametrize("seed", range(5))
def test_solving_again_from_where_it_stood_is_solving_anew(seed: int) -> None:
    model, (cost, high, _, _, _) = _random(seed)
    opened = Solver(model)
    opened.solve(relaxed=True)
    opened.hold([0, -1, 3], 0.25)
    opened.price([4, -1], -9.0)
    again = opened.solve(relaxed=True)
    anew = Solver(model)
    anew.hold([0, 3], 0.25, 0.25)
    anew.price(4, -9.0)
    assert again.cost == pytest.approx(anew.solve(relaxed=True).cost, abs=1e-9)
    assert again.x[[0, 3]] == pytest.approx([0.25, 0.25], abs=1e-9)
    # Bounds and prices moved back: nothing is left over.
    opened.hold([0, 3], 0.0, high[[0, 3]])
    opened.price(4, cost[4])
    assert opened.solve().cost == pytest.approx(Solver(model).solve().cost, abs=1e-7)


def test_a_gap_counts_from_what_is_at_stake() -> None:
    """With a thousand points that nobody can change, 1 % of the whole would be ten points."""
    model, _ = _random(3, rows=12, columns=9)
    fixed = model.columns(cost=-1000.0, low=1.0, high=1.0)
    opened = Solver(model)
    best = opened.solve().cost
    found = opened.solve(gap=0.01, zero=-1000.0)
    assert found.cost - best <= 0.01 * abs(found.cost + 1000.0) + 1e-9
    assert found.x[fixed] == 1.0


def test_contradictions_and_too_little_work_are_told_apart() -> None:
    model = Model()
    x = model.columns(2, 1.0, whole=True)
    row = model.rows(high=1.0)
    model.add(row, x)
    opened = Solver(model)
    opened.hold(x, 1.0)
    with pytest.raises(Infeasible):
        opened.solve()
    assert issubclass(Infeasible, PlanError) and issubclass(NotFound, PlanError)
    rng = np.random.default_rng(1)
    model = Model()
    x = model.columns(40, -rng.uniform(1, 2, 40), high=1.0, whole=True)
    rows = model.rows(30, 10.0)
    model.add(rows[:, None], x, rng.uniform(0, 1, (30, 40)))
    opened = Solver(model)
    few = opened.solve(most_nodes=30)
    assert few.ended == LIMIT
    assert few.bound < few.cost
    more = opened.solve(gap=0.02, most_nodes=100_000)
    assert more.ended == OPTIMAL and more.nodes > few.nodes
    assert few.bound - 1e-6 <= more.cost <= few.cost + 1e-6


def test_nothing_is_printed(capfd: pytest.CaptureFixture[str]) -> None:
    Solver(_random(1)[0]).solve()
    assert capfd.readouterr() == ("", "")


def test_an_empty_model_costs_nothing() -> None:
    answer = Solver(Model()).solve()
    assert (answer.cost, len(answer.x)) == (0.0, 0)
