"""The programme of the beds against another solver, plain definitions and its own limits."""

from dataclasses import replace

import numpy as np
import pulp
import pytest

from harvestcast.errors import PlanError
from harvestcast.season.next.programme import BedsProgramme
from harvestcast.season.next.search import area_taken, outcome
from tests.season.synthetic import Invented, invented


def _small(seed: int = 2) -> tuple[Invented, np.ndarray]:
    case = invented(seed, crops=2, varieties=3, dates=2, products=3, weeks=10)
    return case, case.draw(8, seed)


def _by_hand(case: Invented, per_plant: np.ndarray) -> float:
    """Write the same programme down again, name by name, and solve it with CBC."""
    k, c, g = case.kitchen, case.choices, case.goals
    futures, weeks, options = per_plant.shape
    model = pulp.LpProblem("beds", pulp.LpMinimize)
    x = [pulp.LpVariable(f"x{o}", c.low[o], c.high[o]) for o in range(options)]
    worth = -pulp.lpSum(c.price[o] * x[o] for o in range(options))
    for week in range(c.stands.shape[1]):
        taken = pulp.lpSum(c.area_m2[o] * c.stands[o, week] * x[o] for o in range(options))
        model += taken <= c.bed_m2
    products, crops = len(k.products), len(k.crops)
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
        for t in range(products):
            got = pulp.lpSum(put[w][t] * k.jars_per_kg[t] for w in range(weeks))
            model += got <= k.need[t]
            filled = [
                pulp.LpVariable(f"j{s}_{t}_{i}", 0, part * k.need[t])
                for i, part in enumerate((0.5, 0.3, 0.2))
            ]
            model += pulp.lpSum(filled) <= got
            worth += pulp.lpSum(p * j for p, j in zip(g.jar[t], filled, strict=True)) / futures
        worth -= (
            g.hour_price
            * pulp.lpSum(
                put[w][m] * k.hours_per_kg[m] for w in range(weeks) for m in range(products)
            )
            / futures
        )
        # A meal's worth falls: half of the appetite, up to eight tenths of it, all of it.
        for w in range(weeks):
            for n in range(crops):
                tiers = [
                    pulp.LpVariable(f"t{s}_{w}_{n}_{i}", 0, part * k.eat[n])
                    for i, part in enumerate((0.5, 0.3, 0.2))
                ]
                model += pulp.lpSum(tiers) <= eat[w][n]
                worth += pulp.lpSum(p * t for p, t in zip(g.eaten[n], tiers, strict=True)) / futures
        total = pulp.lpSum(picked[w][n] for w in range(weeks) for n in range(crops))
        used = pulp.lpSum(
            eat[w][n] + give[w][n] for w in range(weeks) for n in range(crops)
        ) + pulp.lpSum(put[w][m] for w in range(weeks) for m in range(products))
        worth -= g.glut_price / futures * (total - used - pulp.lpSum(carry[weeks - 1]))
    model += -worth
    model.solve(pulp.PULP_CBC_CMD(msg=False))
    return -float(pulp.value(model.objective))


# The modelling library announces what its next major version will change.
@pytest.mark.filterwarnings("ignore:Constructing LpVariable:DeprecationWarning")
@pytest.mark.filterwarnings("ignore:PULP_CBC_CMD:DeprecationWarning")
@pytest.mark.parametrize("seed", [2, 5])
def test_another_solver_finds_the_same_value(seed: int) -> None:
    """The programme written again by name and solved with CBC (COIN-OR)."""
    case, per_plant = _small(seed)
    choices = replace(case.choices, bed_m2=9.0 if seed == 5 else 1e6)
    case = replace(case, choices=choices)
    ours = BedsProgramme(per_plant, case.kitchen, choices, case.goals).solve()
    assert ours.worth == pytest.approx(_by_hand(case, per_plant), rel=1e-6)


def test_hindsight_is_never_worse_than_the_weekly_rule() -> None:
    case, per_plant = _small()
    for plants in (np.full(6, 8.0), np.full(6, 2.0), np.arange(6.0)):
        programme = BedsProgramme(per_plant, case.kitchen, case.choices, case.goals)
        mine = outcome(per_plant, plants, case.kitchen, case.choices, case.goals)
        rows = case.goals.row_price * np.count_nonzero(plants)
        assert programme.worth(plants) >= mine.worth + rows - 1e-6


def test_a_dearer_missing_jar_takes_more_plants() -> None:
    case, per_plant = _small()
    plants = [
        BedsProgramme(
            per_plant, case.kitchen, case.choices, replace(case.goals, jar=np.full(3, jar))
        )
        .solve()
        .plants.sum()
        for jar in (0.1, 1.0, 40.0)
    ]
    assert np.diff(plants).min() >= -1e-9 and plants[2] > plants[0]


def test_more_room_never_costs() -> None:
    case, per_plant = _small()
    rooms = [
        BedsProgramme(
            per_plant, case.kitchen, replace(case.choices, bed_m2=room), case.goals
        ).solve()
        for room in (4.0, 8.0, 1e9)
    ]
    assert [one.worth for one in rooms] == sorted(one.worth for one in rooms)
    # What a square metre would bring: no less where there is less, nothing where there is plenty.
    marginal = [one.a_square_metre for one in rooms]
    assert marginal == sorted(marginal, reverse=True) and marginal[2] == 0.0
    a_little = BedsProgramme(
        per_plant, case.kitchen, replace(case.choices, bed_m2=4.001), case.goals
    ).solve()
    assert (a_little.worth - rooms[0].worth) / 0.001 == pytest.approx(marginal[0], rel=0.01)
    hours = [
        BedsProgramme(
            per_plant, replace(case.kitchen, hours=np.full(10, h)), case.choices, case.goals
        )
        .solve()
        .worth
        for h in (1.0, 4.0, 40.0)
    ]
    assert hours == sorted(hours)


def test_bed_area_and_limits_hold() -> None:
    case, per_plant = _small()
    choices = replace(
        case.choices, bed_m2=5.0, group_high=np.array([3.0, np.inf, np.inf]), low=np.eye(6)[5]
    )
    found = BedsProgramme(per_plant, case.kitchen, choices, case.goals).solve()
    assert area_taken(found.plants, choices).max() <= 5.0 + 1e-6
    assert found.plants[choices.group == 0].sum() <= 3.0 + 1e-6
    assert found.plants[5] >= 1.0 - 1e-9


def test_contradicting_limits_are_named() -> None:
    case, per_plant = _small()
    choices = replace(case.choices, bed_m2=1.0, low=np.full(6, 30.0))
    with pytest.raises(PlanError, match="take more room than there is"):
        BedsProgramme(per_plant, case.kitchen, choices, case.goals).solve()


def test_no_whole_plants_are_worth_more_than_the_bound() -> None:
    case, per_plant = _small()
    programme = BedsProgramme(per_plant, case.kitchen, case.choices, case.goals)
    relaxed = programme.solve()
    for whole in (np.ceil(relaxed.plants), np.round(relaxed.plants), np.full(6, 5.0)):
        assert programme.worth(whole) <= relaxed.worth + 1e-6
    # The programme kept open stands where it stood: nothing of the plants held is left over.
    assert programme.solve().worth == pytest.approx(relaxed.worth, abs=1e-6)
