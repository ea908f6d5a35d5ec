"""The programme of the beds against another solver, plain definitions and its own limits."""

from dataclasses import replace

import numpy as np
import pulp
import pytest

from harvestcast.errors import PlanError
from harvestcast.season.kitchen_year import run_year
from harvestcast.season.next.programme import BedsProgramme
from harvestcast.season.next.search import area_taken, picked_by_crop
from tests.season.synthetic import Invented, invented


def _small(seed: int = 2) -> tuple[Invented, np.ndarray, np.ndarray]:
    case = invented(seed, crops=2, varieties=3, dates=2, products=3, weeks=10)
    return case, case.draw(8, seed), np.full(5, 40.0)


def _by_hand(case: Invented, per_plant: np.ndarray, weights: np.ndarray) -> float:
    """Write the same programme down again, name by name, and solve it with CBC."""
    k, c, g = case.kitchen, case.choices, case.goals
    futures, weeks, options = per_plant.shape
    model = pulp.LpProblem("beds", pulp.LpMinimize)
    x = [pulp.LpVariable(f"x{o}", c.low[o], c.high[o]) for o in range(options)]
    bed = pulp.LpVariable("bed", 0)
    cost = g.bed_price * bed + pulp.lpSum(
        0.01 * g.bed_price * c.area_m2[o] * c.stands[o].mean() * x[o] for o in range(options)
    )
    for week in range(c.stands.shape[1]):
        model += pulp.lpSum(c.area_m2[o] * c.stands[o, week] * x[o] for o in range(options)) <= bed
    products, crops = len(k.products), len(k.crops)
    goal = [*k.need, *g.fresh_kg]
    eta = [pulp.LpVariable(f"eta{t}", 0) for t in range(products + crops)]
    for s in range(futures):
        picked = [
            [
                pulp.lpSum(per_plant[s, w, o] * x[o] for o in range(options) if c.crop[o] == n)
                for n in range(crops)
            ]
            for w in range(weeks)
        ]
        eat, give, carry, put = (
            [[pulp.LpVariable(f"{name}{s}_{w}_{i}", 0) for i in range(size)] for w in range(weeks)]
            for name, size in (("e", crops), ("g", crops), ("r", crops), ("y", products))
        )
        for w in range(weeks):
            for n in range(crops):
                ways = [m for m in range(products) if k.method_crop[m] == n]
                before = carry[w - 1][n] if w else 0.0
                model += (
                    eat[w][n] + give[w][n] + carry[w][n] + pulp.lpSum(put[w][m] for m in ways)
                    <= picked[w][n] + before
                )
                model += eat[w][n] <= k.eat[n]
                model += give[w][n] <= k.most[n] - k.eat[n] + k.give[n]
                recent = [picked[v][n] for v in range(max(w - k.keep_weeks[n] + 1, 0), w + 1)]
                model += carry[w][n] <= (pulp.lpSum(recent) if k.keep_weeks[n] else 0.0)
                fresh = [m for m in ways if k.fresh_only[m]]
                if fresh:
                    model += pulp.lpSum(put[w][m] / k.usable[m] for m in fresh) <= picked[w][n]
            model += (
                pulp.lpSum(put[w][m] * k.hours_per_kg[m] for m in range(products)) <= k.hours[w]
            )
            used = [m for m in range(products) if k.equipment[m] == 0]
            model += (
                pulp.lpSum(put[w][m] * k.equipment_h_per_kg[m] for m in used) <= k.equipment_h[0, w]
            )
        model += (
            pulp.lpSum(put[w][m] * k.freezer_l_per_kg[m] for w in range(weeks)
                       for m in range(products)) <= k.freezer_l
        )  # fmt: skip
        for t in range(products + crops):
            if t < products:
                got = pulp.lpSum(put[w][t] * k.jars_per_kg[t] for w in range(weeks))
                model += got <= k.need[t]
            else:
                n = t - products
                got = pulp.lpSum(eat[w][n] for w in range(weeks) if g.fresh_weeks[w, n])
            short = pulp.LpVariable(f"u{s}_{t}", 0)
            model += short >= 1 - got / goal[t] - eta[t]
            cost += weights[t] * short / ((1 - g.probability) * futures)
        total = pulp.lpSum(picked[w][n] for w in range(weeks) for n in range(crops))
        used = pulp.lpSum(
            eat[w][n] + give[w][n] for w in range(weeks) for n in range(crops)
        ) + pulp.lpSum(put[w][m] for w in range(weeks) for m in range(products))
        cost += g.glut_price / futures * (total - used - pulp.lpSum(carry[weeks - 1]))
    model += cost + pulp.lpSum(weights[t] * eta[t] for t in range(products + crops))
    model.solve(pulp.PULP_CBC_CMD(msg=False))
    return float(pulp.value(model.objective))


# The modelling library announces what its next major version will change.
@pytest.mark.filterwarnings("ignore:Constructing LpVariable:DeprecationWarning")
@pytest.mark.filterwarnings("ignore:PULP_CBC_CMD:DeprecationWarning")
@pytest.mark.parametrize("seed", [2, 5])
def test_another_solver_finds_the_same_value(seed: int) -> None:
    """The programme written again by name and solved with CBC (COIN-OR)."""
    case, per_plant, weights = _small(seed)
    ours = BedsProgramme(per_plant, case.kitchen, case.choices, case.goals).solve(weights)
    assert ours.value == pytest.approx(_by_hand(case, per_plant, weights), rel=1e-6)


def test_hindsight_is_never_worse_than_the_weekly_rule() -> None:
    """Without prices on targets the programme only minimises bed and glut of given plants."""
    case, per_plant, _ = _small()
    plants = np.full(6, 8.0)
    programme = BedsProgramme(per_plant, case.kitchen, case.choices, case.goals)
    value = programme.value(plants, np.zeros(5))
    picked = picked_by_crop(per_plant, plants, case.choices.crop, 2)
    area = area_taken(plants, case.choices)
    rule = run_year(picked, case.kitchen).glut.sum(axis=1).mean()
    assert value <= area.max() + 0.01 * area.mean() + rule + 1e-6


def test_dearer_targets_are_missed_less() -> None:
    case, per_plant, weights = _small()
    programme = BedsProgramme(per_plant, case.kitchen, case.choices, case.goals)
    cheap, dear = programme.solve(0.02 * weights), programme.solve(10 * weights)
    assert dear.plants.sum() > cheap.plants.sum()


def test_more_room_never_costs() -> None:
    case, per_plant, weights = _small()
    tight = replace(case.choices, bed_m2=4.0)
    values = [
        BedsProgramme(per_plant, case.kitchen, replace(tight, bed_m2=room), case.goals)
        .solve(weights)
        .value
        for room in (4.0, 8.0, 1e9)
    ]
    assert values == sorted(values, reverse=True)
    hours = [
        BedsProgramme(
            per_plant, replace(case.kitchen, hours=np.full(10, h)), case.choices, case.goals
        )
        .solve(weights)
        .value
        for h in (1.0, 4.0, 40.0)
    ]
    assert hours == sorted(hours, reverse=True)


def test_bed_area_and_limits_hold() -> None:
    case, per_plant, weights = _small()
    choices = replace(
        case.choices, bed_m2=5.0, group_high=np.array([3.0, np.inf, np.inf]), low=np.eye(6)[5]
    )
    found = BedsProgramme(per_plant, case.kitchen, choices, case.goals).solve(weights)
    assert area_taken(found.plants, choices).max() <= 5.0 + 1e-6
    assert found.plants[choices.group == 0].sum() <= 3.0 + 1e-6
    assert found.plants[5] >= 1.0 - 1e-9


def test_contradicting_limits_are_named() -> None:
    case, per_plant, weights = _small()
    choices = replace(case.choices, bed_m2=1.0, low=np.full(6, 30.0))
    with pytest.raises(PlanError, match="take more room than there is"):
        BedsProgramme(per_plant, case.kitchen, choices, case.goals).solve(weights)


def test_relaxed_value_bounds_whole_plants() -> None:
    case, per_plant, weights = _small()
    programme = BedsProgramme(per_plant, case.kitchen, case.choices, case.goals)
    relaxed = programme.solve(weights)
    for whole in (np.ceil(relaxed.plants), np.round(relaxed.plants), np.full(6, 5.0)):
        assert programme.value(whole, weights) >= relaxed.value - 1e-6
    # The programme kept open stands where it stood: nothing of the plants held is left over.
    assert programme.solve(weights).value == pytest.approx(relaxed.value, abs=1e-6)
