"""Which of several plans is taken, on invented kitchens."""

from dataclasses import replace

import numpy as np
import pytest

from harvestcast.kitchen.solve.choice import CRUMB, _apart, _still_running, choose_plan
from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.solve import solve_programme
from tests.kitchen.programme_cases import random_kitchen


def _few_and_many(seed: int) -> tuple[ProgrammeInputs, ProgrammeInputs]:
    """Return a kitchen seen through two unlike draws, and through forty-four."""
    many = random_kitchen(seed, crops=2, options=4, days=4, draws=44, kg_day=12.0, rich=False)
    lean = np.argsort(many.picked.sum(axis=(1, 2)))[:2]
    return replace(many, picked=many.picked[lean], weights=np.full(2, 0.5)), many


@pytest.mark.parametrize("seed", range(2))
def test_the_plan_taken_is_no_worse_on_the_draws_it_was_followed_through(seed: int) -> None:
    """Two lean draws mislead the programme; what is said of the choice is worked out again."""
    few, many = _few_and_many(seed)
    found = solve_programme(few, gap=1e-6)
    choice = choose_plan(found, many)
    own, taken = (follow(many, one.shared).cost for one in (found, choice.solution))
    assert taken.mean() <= own.mean() + CRUMB * max(found.worth, 0.0) + 1e-6
    assert choice.gain >= 0
    if choice.draws == many.draws:
        assert choice.cost == pytest.approx(taken.mean(), abs=1e-6)
        assert choice.cost_error == pytest.approx(taken.std(ddof=1) / np.sqrt(44), abs=1e-6)
    # What the programme proved stays what it proved.
    assert (choice.solution.status, choice.solution.gap) == (found.status, found.gap)
    assert (choice.solution.cost, choice.solution.bound) == (found.cost, found.bound)
    again = choose_plan(found, many)
    np.testing.assert_array_equal(again.solution.shared, choice.solution.shared)
    assert again.cost == choice.cost


def test_misleading_draws_are_put_right() -> None:
    """At least one of these kitchens is planned differently after the comparison, and better."""
    gains = []
    for seed in range(4):
        few, many = _few_and_many(seed)
        gains.append(choose_plan(solve_programme(few, gap=1e-6), many).gain)
    assert max(gains) > 0.5


def test_a_plan_is_dropped_only_when_it_can_hardly_win() -> None:
    rng = np.random.default_rng(5)
    base = rng.normal(100.0, 10.0, 40)
    cost = np.stack([base, base + 5.0, base + rng.normal(0.2, 3.0, 40), base - 0.001])
    # Behind by 5 points in every draw: dropped. Nearly equal but noisy: kept.
    assert _still_running(cost, [0, 1, 2, 3], crumb=0.1) == [2, 3]
    assert _still_running(cost, [0, 1], crumb=0.1) == [0]
    assert _still_running(cost, [1], crumb=0.1) == [1]


def test_plans_with_the_same_batches_are_one_and_the_mean_stays() -> None:
    batches = np.array([[0, 1]])
    plans = np.array([[1, 0, 7.0], [1, 0, 8.0], [0, 1, 0], [2, 0, 0], [3, 0, 0], [0, 2, 0]])
    kept = _apart(batches, plans.astype(float))
    np.testing.assert_array_equal(kept, plans[[0, 2, 3, 5]])
    same = _apart(batches, plans[[0, 2, 1]].astype(float))
    np.testing.assert_array_equal(same, plans[[0, 2]])
