"""What must hold for every plan, whatever the kitchen and the fruit."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from harvestcast.errors import InfeasiblePlanError
from harvestcast.kitchen.household.capacity import hours_per_piece
from harvestcast.kitchen.solve.follow import Followed, follow
from harvestcast.kitchen.solve.inputs import MustDo, ProgrammeInputs, with_spans
from harvestcast.kitchen.solve.solve import FEASIBLE_AT_LIMIT, OPTIMAL, Solution, solve_programme
from harvestcast.kitchen.week.balance import account_for, balance_frame
from harvestcast.kitchen.week.draws import spread_draws
from tests.kitchen.programme_cases import random_kitchen, with_capacity

SEEDS = range(8)


def _plan(seed: int, **kitchen) -> tuple[Solution, Followed]:
    inputs = random_kitchen(seed, days=6, draws=4, **kitchen)
    solution = solve_programme(inputs, gap=1e-6)
    return solution, follow(inputs, solution.shared)


@pytest.mark.parametrize("seed", SEEDS)
def test_every_row_of_the_balance_closes(seed: int) -> None:
    _, followed = _plan(seed)
    table = balance_frame(followed, account_for(followed))
    out = table[["eaten", "put_up", "given", "spoiled", "carried_out"]].sum(axis=1)
    np.testing.assert_allclose(table["carried_in"] + table["picked"], out, atol=1e-6)
    assert (table.drop(columns=["day", "crop"]) >= -1e-6).all(axis=None)
    for _, days in table.groupby("crop"):
        np.testing.assert_allclose(days["carried_in"][1:], days["carried_out"][:-1], atol=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_no_more_is_eaten_than_the_ceiling_of_good_and_oversize_fruit_together(seed: int) -> None:
    """A glut of both grades and no hours: all there is to do is eat, to the ceiling, not past."""
    inputs = random_kitchen(seed, days=6, draws=4, kg_day=60.0)
    inputs = with_capacity(inputs, hours=np.zeros(inputs.days))
    followed = follow(inputs, solve_programme(inputs, gap=1e-6).shared)
    most = inputs.fresh["eat_at_most_kg_day"].to_numpy(float)
    eat = followed.plan.eat[0]
    both = 0
    for day, crop in np.ndindex(eat.shape[:2]):
        mine = eat[day, crop][eat[day, crop] >= 0]
        eaten = followed.columns[:, mine].sum(axis=1)
        assert (eaten <= most[crop] + 1e-6).all()
        both += int(len(mine) == 3 and eaten.max() > most[crop] - 1e-6)
    # The ceiling is reached where there are both grades, or the test would say nothing.
    assert both > 0 or (eat[:, :, 2] < 0).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_every_use_is_served_from_fruit_young_enough(seed: int) -> None:
    """The hand-out by pick day leaves no use of the programme unserved, and spoils the rest."""
    _, followed = _plan(seed)
    account = account_for(followed)
    fruit = followed.plan.uses.column[0]
    np.testing.assert_allclose(account.used[:, fruit], followed.columns[:, fruit], atol=1e-6)
    supply = followed.inputs.by_pick_day().sum(axis=(1, 2))
    kept = account.used[:, fruit].sum(axis=1) - account.used[:, followed.plan.carry[0]].sum(axis=1)
    gone = account.spoiled.sum(axis=(1, 2)) + account.carried.sum(axis=1)
    np.testing.assert_allclose(supply, kept + gone, atol=1e-6)
    np.testing.assert_allclose(
        account.surplus.sum(axis=(1, 2)), account.spoiled.sum(axis=(1, 2)), atol=1e-9
    )


@pytest.mark.parametrize("seed", SEEDS)
def test_ages_hold_by_a_maximum_flow(seed: int) -> None:
    """Ages worked out from the options' own table, not from the programme's slots."""
    _, followed = _plan(seed)
    inputs, put_up = followed.inputs, followed.plan.put_up[0]
    scale = 10_000
    for draw in range(inputs.draws):
        by_day = inputs.by_pick_day()[draw]
        for lane in range(inputs.lanes):
            crop = inputs.crops[inputs.lane_crop[lane]]
            keep = int(inputs.keep[inputs.lane_crop[lane]])
            ripen = int(inputs.ripen[inputs.lane_crop[lane]])
            grade = int(inputs.lane_oversize[lane])
            wanted = []
            for day in range(inputs.days):
                for number, option in enumerate(inputs.options.to_dict("records")):
                    column = put_up[day, number, grade]
                    if option["crop"] == crop and column >= 0:
                        kg = followed.columns[draw, column]
                        assert kg < 1e-6 or not grade or option["takes_oversize"]
                        wanted.append((day, min(option["max_age_days"], keep), kg))
            uses = [one for one in wanted if one[2] > 1e-6]
            slots = by_day.shape[1]
            graph = np.zeros((slots + len(uses) + 2,) * 2, dtype=np.int32)
            graph[-2, :slots] = np.ceil(by_day[lane] * scale) + 1
            for number, (day, age, kg) in enumerate(uses):
                for slot in range(slots):
                    old = day - (slot - inputs.back + ripen)
                    if 0 <= old <= age:
                        graph[slot, slots + number] = 10**8
                graph[slots + number, -1] = int(kg * scale)
            flow = maximum_flow(csr_array(graph), len(graph) - 2, len(graph) - 1).flow_value
            assert flow == graph[:, -1].sum()


@pytest.mark.parametrize("seed", SEEDS)
def test_no_capacity_is_exceeded(seed: int) -> None:
    solution, followed = _plan(seed)
    inputs, capacity = followed.inputs, followed.inputs.capacity
    kg = inputs.options["kg_per_batch"].to_numpy(float)
    used = followed.amount(followed.plan.put_up[0]).sum(axis=3)
    loads = used / kg
    loads[:, : inputs.decided] = solution.batches
    assert (used[:, : inputs.decided] <= solution.batches * kg + 1e-6).all()
    hours = loads @ inputs.options["hands_on_h"].to_numpy(float)
    assert (hours <= capacity.hours + 1e-6).all()
    for kind in ("boiling_water_canner", "pressure_canner"):
        mine = (inputs.options["equipment"] == kind).to_numpy()
        busy = loads[:, :, mine] @ inputs.options.loc[mine, "equipment_h"].to_numpy(float)
        assert (busy <= capacity.number_of(kind) * hours_per_piece(kind) + 1e-6).all()
    per_kg = (inputs.options["lids_per_batch"] / inputs.options["kg_per_batch"]).to_numpy(float)
    lids = used.sum(axis=1) @ per_kg
    bought = solution.bought[:4].sum()  # jars bring a lid each; then lids themselves
    assert (lids <= capacity.store("lids") + bought + 1e-6).all()
    litres = (inputs.options["freezer_l_per_batch"] / inputs.options["kg_per_batch"]).to_numpy()
    assert (used.sum(axis=1) @ litres <= capacity.store("freezer_l") + 1e-6).all()
    crocks = (inputs.options["equipment"] == "crock").to_numpy()
    lasts = np.ceil(inputs.options.loc[crocks, "equipment_h"].to_numpy(float) / 24).astype(int)
    for day in range(inputs.days):
        standing = sum(
            loads[:, begun, number]
            for number, days in zip(np.flatnonzero(crocks), lasts, strict=True)
            for begun in range(max(0, day - days + 1), day + 1)
        )
        assert np.all(standing <= capacity.number_of("crock") + 1e-6)


def _more_of_each(inputs: ProgrammeInputs):
    capacity = inputs.capacity
    yield "hours", with_capacity(inputs, hours=capacity.hours + 1.0)
    for number, kind in enumerate(capacity.kinds):
        pieces = capacity.pieces.copy()
        pieces[number] += 1
        yield kind, with_capacity(inputs, pieces=pieces)
    for name, amount in capacity.stores:
        stores = dict(capacity.stores) | {name: amount + 10}
        yield name, with_capacity(inputs, stores=tuple(stores.items()))


@pytest.mark.parametrize("seed", range(20, 25))
def test_more_of_anything_never_costs(seed: int) -> None:
    risk = {"dislike_of_bad_weeks": 0.5} if seed % 2 else None
    inputs = random_kitchen(seed, choices=risk)
    base = solve_programme(inputs, gap=1e-9).cost
    for name, more in _more_of_each(inputs):
        assert solve_programme(more, gap=1e-9).cost <= base + 1e-6, name


@pytest.mark.parametrize("seed", range(30, 34))
def test_equal_draws_are_one_draw(seed: int) -> None:
    risk = {"dislike_of_bad_weeks": 0.7} if seed % 2 else None
    one = random_kitchen(seed, draws=1, choices=risk)
    many = replace(
        one, picked=np.repeat(one.picked, 5, axis=0), weights=np.array([0.1, 0.2, 0.3, 0.2, 0.2])
    )
    single, several = (solve_programme(inputs, gap=1e-9) for inputs in (one, many))
    assert several.cost == pytest.approx(single.cost, abs=1e-6)


@pytest.mark.parametrize("seed", range(40, 43))
def test_the_same_input_gives_the_same_answer(seed: int) -> None:
    inputs = random_kitchen(seed, days=6, options=8)
    first, second = (solve_programme(inputs) for _ in range(2))
    np.testing.assert_array_equal(first.shared, second.shared)
    assert (first.cost, first.bound, first.steps) == (second.cost, second.bound, second.steps)


def test_disliking_bad_weeks_lowers_the_worst_tenth() -> None:
    """The average of the worst tenth falls, the mean of the whole may rise."""
    worst = {}
    for dislike in (0.0, 1.0):
        inputs = random_kitchen(
            77, crops=4, options=8, days=6, draws=20, kg_day=20.0, rich=False,
            choices={"dislike_of_bad_weeks": dislike},
        )  # fmt: skip
        solution = solve_programme(inputs, gap=1e-5)
        spoiled = account_for(follow(inputs, solution.shared)).spoiled.sum(axis=(1, 2))
        worst[dislike] = np.sort(spoiled)[-2:].mean()
    assert worst[1.0] <= worst[0.0] + 1e-6


def test_the_bound_and_the_status_are_honest() -> None:
    inputs = random_kitchen(50, crops=6, options=20, days=8, draws=10, decided=3, kg_day=30.0)
    found = solve_programme(inputs, gap=1e-4)
    assert found.status == OPTIMAL
    assert found.gap <= 1e-4 + 1e-9
    assert found.bound <= found.cost + 1e-9
    for nodes in (0, 3):
        hurried = solve_programme(inputs, gap=1e-9, most_nodes=nodes)
        assert hurried.status == FEASIBLE_AT_LIMIT
        assert hurried.gap > 1e-9
        assert hurried.bound - 1e-6 <= found.cost <= hurried.cost + 1e-6


def test_no_fruit_no_work() -> None:
    inputs = random_kitchen(60)
    nothing = replace(
        inputs, picked=np.zeros_like(inputs.picked), stock=np.zeros_like(inputs.stock)
    )
    found = solve_programme(nothing)
    assert found.batches.sum() == 0
    assert found.cost == pytest.approx(0.0, abs=1e-9)


def test_must_do_batches_are_done_or_the_limits_named() -> None:
    inputs = random_kitchen(61, hours=np.array([2.0, 1.0, 2.0, 2.0]))
    option = inputs.options.iloc[0]
    free = solve_programme(inputs, gap=1e-9)
    one = (MustDo(day=0, option=str(option["option"]), batches=1),)
    hours = np.array([float(option["hands_on_h"]) + 0.1, 1.0, 2.0, 2.0])
    roomy = with_capacity(replace(inputs, must=one), hours=hours)
    done = solve_programme(roomy, gap=1e-9)
    assert done.batches[0, 0] >= 1
    assert done.cost >= solve_programme(with_capacity(inputs, hours=hours), gap=1e-9).cost - 1e-6
    assert free.status == OPTIMAL
    tight = with_capacity(roomy, hours=np.array([0.2, 1.0, 2.0, 2.0]))
    with pytest.raises(InfeasiblePlanError, match="hands-on hours on Friday 7 August") as caught:
        solve_programme(tight)
    lacks = float(option["hands_on_h"]) - 0.2
    assert any(f"lacks {lacks:.3g}" in limit for limit in caught.value.limits)


@pytest.mark.parametrize(
    ("must", "words"),
    [
        (MustDo(day=9, option="product 00/pint/dryer", batches=1), "not one of the 2 days"),
        (MustDo(day=0, option="nothing known", batches=1), "not among what this household"),
        (MustDo(day=0, option="nothing known", batches=-1), "not among"),
    ],
)
def test_must_do_batches_that_cannot_be_are_refused_in_words(must: MustDo, words: str) -> None:
    with pytest.raises(InfeasiblePlanError, match=words):
        solve_programme(random_kitchen(61, must=(must,)))


def test_the_order_of_rows_does_not_matter() -> None:
    from harvestcast.kitchen.solve.inputs import programme_inputs

    inputs = random_kitchen(63, rich=False)
    picked = {(crop, "good"): inputs.picked[:, :, lane] for lane, crop in enumerate(inputs.crops)}
    lying = pd.DataFrame(
        [
            (inputs.capacity.start - pd.Timedelta(days=inputs.back - slot), crop, "good", kg)
            for lane, crop in enumerate(inputs.crops)
            for slot, kg in enumerate(inputs.stock[lane])
            if kg > 0
        ],
        columns=["date", "crop", "grade", "mass_kg"],
    )
    made = [
        programme_inputs(
            options=inputs.options.iloc[::step],
            fresh=inputs.fresh.iloc[::step],
            wanted=inputs.wanted.iloc[::step],
            capacity=inputs.capacity,
            choices=inputs.choices,
            on_hand=lying.iloc[::step],
            picked=dict(list(picked.items())[::step]),
            decided=2,
        )
        for step in (1, -1)
    ]
    first, second = (solve_programme(one) for one in made)
    np.testing.assert_array_equal(first.batches, second.batches)
    assert first.cost == second.cost


def test_spread_draws_cover_lean_and_rich_evenly() -> None:
    mass = np.random.default_rng(1).gamma(2.0, 5.0, (400, 10, 3))
    chosen = spread_draws(mass, 40, seed=2)
    rank = np.argsort(np.argsort(mass.sum(axis=(1, 2))))[chosen]
    assert len(set(chosen.tolist())) == 40
    np.testing.assert_array_equal(rank // 10, np.arange(40))
    times = np.zeros(400)
    for seed in range(400):
        times[spread_draws(mass, 40, seed=seed)] += 1
    # Each draw is chosen with chance 1/10: 40 times of 400, standard deviation 6.
    assert abs(times - 40).max() < 6 * 5


def test_spans_cover_the_days_once() -> None:
    inputs = with_spans(random_kitchen(64, days=6), (1, 2))
    assert inputs.spans == ((0, 0), (1, 1), (2, 2), (3, 4), (5, 5))
