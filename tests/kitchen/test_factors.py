"""The household's own factors against an independent computation and by simulation."""

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from harvestcast.kitchen.handbook.amounts import amounts
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.household.learned import factor_of, factor_table, learned_factors, shrunk

LB = 0.45359237
AS_OF = "2026-09-01"


def _reference(groups, sd0=0.25, freedom0=4.0, handbook=4.0, household=4.0):
    """Posterior by conditioning one big normal vector (no shrinkage formulas).

    Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), section 14.2: with y ~ N(0, s^2 V)
    and s^2 scaled inverse chi-square, the rest is Student's t.
    """
    y = np.concatenate(groups)
    member = np.repeat(np.arange(len(groups)), [len(g) for g in groups])
    shared = np.full((len(y), len(y)), 1 / handbook)
    same = (member[:, None] == member[None, :]) / household
    cov = shared + same + np.eye(len(y))
    freedom = freedom0 + len(y)
    scale2 = (freedom0 * sd0**2 + y @ np.linalg.solve(cov, y)) / freedom
    out = []
    for j in [*range(len(groups)), None]:  # None: a product without batches
        cross = np.full(len(y), 1 / handbook) + (member == j) / household
        prior = 1 / handbook + 1 / household
        weight = np.linalg.solve(cov, cross)
        centre, var = weight @ y, prior - weight @ cross
        half = stats.t.ppf(0.95, freedom) * np.sqrt(scale2 * var)
        out.append(np.exp([centre, centre - half, centre + half]))
    return np.array(out)


@pytest.mark.parametrize("seed", range(8))
def test_closed_form_equals_conditioning_the_whole_vector(seed):
    rng = np.random.default_rng(seed)
    sizes = rng.integers(1, 9, size=rng.integers(1, 6))
    groups = [rng.normal(rng.normal(-0.1, 0.2), 0.3, size=n) for n in sizes]
    ratios = pd.DataFrame(
        {
            "product": np.repeat([f"p{j}" for j in range(len(sizes))], sizes),
            "y": np.concatenate(groups),
        }
    )
    table = shrunk(ratios, "jars")
    found = table[["factor", "low90", "high90"]].to_numpy(float)
    np.testing.assert_allclose(found, _reference(groups), rtol=1e-10)
    assert table["batches"].tolist() == [*sizes, 0]


def test_without_batches_the_handbook_stands(garden_of):
    table = learned_factors(garden_of(), AS_OF)
    assert table["factor"].tolist() == [1.0, 1.0]
    assert (table["low90"] < 1).all() and (table["high90"] > 1).all()
    assert factor_of(factor_table(table), "salsa", "jars") == 1.0


def _dills(n, jars=6.0, kg=8 * LB, hours=3.6):
    days = pd.date_range("2026-06-01", periods=n).strftime("%F")
    return [(day, "dill pickles", "pint", jars, kg, hours) for day in days]


def test_a_recipe_for_eight_jars_that_fills_six(garden_of):
    # MSU 01600865: 8 lb make 7 to 9 pints. One batch of 6 moves the factor a little, forty a lot.
    factors = [
        learned_factors(garden_of(pantry=_dills(n)), AS_OF).query("kind == 'jars'").iloc[0]
        for n in (1, 4, 40)
    ]
    for row in factors:
        assert row["raw"] == pytest.approx(6 / 8)
        assert row["low90"] < row["factor"] < row["high90"]
    first, fourth, fortieth = (row["factor"] for row in factors)
    assert 1 > first > fourth > fortieth > 6 / 8
    # Worked by hand: one batch counts against four of the household's (1/5), the household's
    # factor then holds a weight of 4/5 against the handbook's four (4/5 / (4 + 4/5) = 1/6).
    y = np.log(6 / 8)
    assert first == pytest.approx(np.exp(y / 5 + 4 / 5 * (y / 6)))
    assert fortieth == pytest.approx(6 / 8, abs=0.025)


def test_hours_against_the_plan(garden_of):
    item = product("dill_pickles")
    planned = item.fixed_h + item.h_per_kg * 8 * LB  # 8 pints are one recipe
    table = learned_factors(garden_of(pantry=_dills(30, jars=8, hours=2 * planned)), AS_OF)
    hours = table[table["kind"] == "hours"].set_index("product")
    assert hours.loc["dill_pickles", "raw"] == pytest.approx(2)
    assert hours.loc["dill_pickles", "factor"] == pytest.approx(2, rel=0.05)
    # A product never made is expected to take longer too, less surely so.
    assert 1 < hours.loc["(household)", "factor"] < hours.loc["dill_pickles", "factor"]
    width = hours["high90"] / hours["low90"]
    assert width["(household)"] > width["dill_pickles"]


def test_quarts_are_held_against_quarts(garden_of):
    per = amounts(product("canned_snap_beans"), "quart").kg_per_jar
    rows = [("2026-07-01", "canned green beans", "quart", 7, 7 * per, None)]
    table = learned_factors(garden_of(pantry=rows), AS_OF)
    assert table.loc[0, "product"] == "canned_snap_beans"
    assert table.loc[0, "raw"] == pytest.approx(1.0)


def test_rows_without_produce_or_hours_or_of_eating_teach_nothing(garden_of):
    rows = [
        ("2026-07-01", "dill pickles", "pint", 8, None, None),
        ("2026-07-05", "dill pickles", "pint", -2, None, None),
        ("2026-07-06", "quince cheese", "pint", 8, 4.0, 3.0),
        ("2026-12-01", "dill pickles", "pint", 8, 1.0, 9.0),  # after the day
    ]
    assert learned_factors(garden_of(pantry=rows), AS_OF)["batches"].tolist() == [0, 0]


def test_intervals_hold_what_they_promise():
    """Households drawn from the prior: 90 % intervals hold the truth in 90 % of cases."""
    rng = np.random.default_rng(20260801)
    held = tried = 0
    for _ in range(500):
        sd = np.sqrt(4 * 0.25**2 / rng.chisquare(4))
        mu = rng.normal(0, sd / 2)
        theta = rng.normal(mu, sd / 2, size=3)
        ratios = pd.DataFrame(
            {
                "product": np.repeat(["a", "b", "c"], [1, 4, 12]),
                "y": rng.normal(np.repeat(theta, [1, 4, 12]), sd),
            }
        )
        table = shrunk(ratios, "jars").iloc[:3]
        truth = np.exp(theta)
        held += int(((table["low90"] <= truth) & (truth <= table["high90"])).sum())
        tried += 3
    # Three standard errors of a share of 0.9 over 1,500 (dependent within a household: 500).
    assert abs(held / tried - 0.9) < 3 * np.sqrt(0.9 * 0.1 / 500)
