"""The programme against other ways of writing it down and other ways of solving it."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import ProgrammeInputs, with_spans
from harvestcast.kitchen.solve.model import Uses, _Building, _holding, week_model
from harvestcast.kitchen.solve.solve import OPTIMAL, solve_programme
from harvestcast.solver import Infeasible, Solver
from tests.kitchen.arc_programme import arc_programme, solve_arcs, solve_with_cbc
from tests.kitchen.programme_cases import random_kitchen

BAD_WEEKS = {"dislike_of_bad_weeks": 0.5}


def _choices(seed: int) -> dict[str, float] | None:
    return BAD_WEEKS if seed % 4 == 0 else None


@pytest.mark.parametrize("seed", range(20))
def test_equals_the_arc_form_at_zero_gap(seed: int) -> None:
    """Chains that hold fruit overnight find what arcs from pick day to use find."""
    inputs = random_kitchen(seed, choices=_choices(seed))
    found = solve_programme(inputs, gap=1e-9)
    assert found.status == OPTIMAL
    assert found.cost == pytest.approx(solve_arcs(arc_programme(inputs)), abs=1e-5)


@pytest.mark.statistics
@pytest.mark.parametrize("seed", range(1000, 1100))
def test_equals_the_arc_form_at_zero_gap_more_cases(seed: int) -> None:
    inputs = random_kitchen(seed, crops=4, options=7, days=6, draws=4, choices=_choices(seed))
    found = solve_programme(inputs, gap=1e-9)
    assert found.cost == pytest.approx(solve_arcs(arc_programme(inputs)), abs=1e-4)


def _plans(inputs: ProgrammeInputs) -> list[tuple[tuple[int, ...], ...]]:
    """Every whole plan that the hands-on hours of the decided days allow."""
    hours = inputs.options["hands_on_h"].to_numpy(float)
    days = []
    for day in range(inputs.decided):
        most = [int(inputs.capacity.hours[day] / h + 1e-9) for h in hours]
        days.append(
            [
                counts
                for counts in itertools.product(*(range(n + 1) for n in most))
                if np.dot(counts, hours) <= inputs.capacity.hours[day] + 1e-9
            ]
        )
    return list(itertools.product(*days))


@pytest.mark.parametrize("seed", range(200, 230))
def test_equals_trying_every_plan(seed: int) -> None:
    """Brute force: every whole plan, each followed by the arc form's recourse."""
    decided = 1 + seed % 2
    inputs = random_kitchen(
        seed, crops=2, options=3, days=3, draws=2, decided=decided, choices=_choices(seed),
        hours=np.array([2.5, 1.5 if decided == 2 else 3.0, 2.0]),
    )  # fmt: skip
    arcs = arc_programme(inputs)
    best = np.inf
    plans = _plans(inputs)
    assert 2 <= len(plans) < 2000
    for plan in plans:
        held = {(t, m): n for t, counts in enumerate(plan) for m, n in enumerate(counts)}
        best = min(best, solve_arcs(arcs, held=held, whole=False))
    assert solve_programme(inputs, gap=1e-9).cost == pytest.approx(best, abs=1e-6)


@pytest.mark.parametrize("seed", range(300, 303))
def test_agrees_with_cbc(seed: int) -> None:
    """CBC on the arc form: another solver on another formulation."""
    inputs = random_kitchen(seed, crops=3, options=6, days=5, draws=3, decided=2)
    other, status = solve_with_cbc(arc_programme(inputs), gap=0.0)
    assert status == "Optimal"
    assert solve_programme(inputs, gap=1e-9).cost == pytest.approx(other, abs=1e-4)


@pytest.mark.statistics
@pytest.mark.parametrize("seed", range(310, 316))
def test_agrees_with_cbc_at_the_size_of_a_week(seed: int) -> None:
    """Six kitchens of 8 crops, 25 ways and 10 days: within the two solvers' gaps."""
    inputs = random_kitchen(
        seed, crops=8, options=25, days=10, draws=4, decided=3, kg_day=25.0, rich=False
    )
    gap = 0.002
    found = solve_programme(inputs, gap=gap)
    other, status = solve_with_cbc(arc_programme(inputs), gap=gap)
    assert status == "Optimal"
    # CBC's gap refers to the cost without the constant; a bound that holds for both:
    room = gap * (found.worth + 10) + gap * 3 * abs(other - arc_programme(inputs).constant)
    assert abs(found.cost - other) <= room
    assert found.bound <= other + 1e-6


@pytest.mark.parametrize("seed", range(400, 412))
def test_holding_chains_are_exact(seed: int) -> None:
    """What the chains allow is what a maximum flow from pick days to uses can serve.

    Hall's condition for uses that accept runs of days, tried on random amounts near the limit.
    """
    rng = np.random.default_rng(seed)
    inputs = random_kitchen(seed, crops=3, options=6, days=6, draws=1, decided=0)
    ready = np.rint(inputs.ready()[0] * 4)
    made, uses = _Building(inputs), week_model(inputs).uses
    fruit = made.model.columns(ready.shape, low=ready, high=ready)
    uses = replace(uses, column=made.model.columns(uses.column.shape))
    _holding(made, fruit, uses)
    chains = Solver(made.model)
    seen = []
    for _ in range(120):
        share = rng.uniform(0.005, 0.1)
        count = len(uses.lane)
        wanted = rng.integers(1, 4, count) * (rng.random(count) < share)
        chains.hold(uses.column[0], wanted)
        seen.append(_allowed(chains))
        assert seen[-1] == _servable(uses, inputs, ready[0].astype(np.int32), wanted)
    assert 3 <= sum(seen) <= 117, "the cases must lie on both sides of the limit"


def _allowed(chains: Solver) -> bool:
    try:
        chains.solve()
    except Infeasible:
        return False
    return True


def _servable(uses: Uses, inputs: ProgrammeInputs, fruit: np.ndarray, wanted: np.ndarray) -> bool:
    """Maximum flow, one lane at a time."""
    ends = [last for _, last in inputs.spans] + [inputs.days]
    for lane in range(inputs.lanes):
        mine = np.flatnonzero((uses.lane == lane) & (wanted > 0))
        slots = fruit.shape[1]
        graph = np.zeros((slots + len(mine) + 2,) * 2, dtype=np.int32)
        source, sink = slots + len(mine), slots + len(mine) + 1
        graph[source, :slots] = fruit[lane]
        for number, use in enumerate(mine):
            last = min(inputs.back + ends[uses.span[use]], slots - 1)
            graph[uses.first[use] : last + 1, slots + number] = 10_000
            graph[slots + number, sink] = wanted[use]
        flow = maximum_flow(csr_array(graph), source, sink).flow_value
        if flow < wanted[mine].sum():
            return False
    return True


@pytest.mark.parametrize("seed", range(500, 510))
def test_following_a_plan_costs_what_the_programme_says(seed: int) -> None:
    """Draw by draw, with batches held, the parts add up to the whole."""
    inputs = random_kitchen(seed, days=5, draws=4, choices=_choices(seed))
    found = solve_programme(inputs, gap=1e-9)
    followed = follow(inputs, found.shared)
    assert inputs.weights @ followed.cost == pytest.approx(found.cost, abs=1e-5)


@pytest.mark.parametrize("seed", range(520, 530))
def test_taking_later_days_together_only_relaxes(seed: int) -> None:
    """A plan over spans is never dearer than day by day, so its bound holds for days as well."""
    inputs = random_kitchen(seed, days=7, draws=3)
    costs = []
    for lengths in ((1,), (1, 2), (5,)):
        parted = with_spans(inputs, lengths)
        costs.append(Solver(week_model(parted).model).solve(relaxed=True).cost)
    assert costs[0] >= costs[1] - 1e-7
    assert costs[0] >= costs[2] - 1e-7
