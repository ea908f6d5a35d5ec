"""Keep, try again or drop: by all whole seasons, each in average weather."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames.season_tables import OVER_SEASONS, VERDICTS
from harvestcast.season.review.varieties import VarietyReview, compare_varieties
from harvestcast.season.verdict import judge
from tests.season.gardens import bell, garden, picks, plantings

KG = {"Best": 30.0, "Twin": 29.0, "Poor": 6.0}
"""Of ten plants in a season; luck aside."""
NOTES = {("Poor", 2024): "mealy", ("Best", 2025): "best on bread"}


@pytest.fixture(scope="module")
def review() -> VarietyReview:
    """Three varieties in two seasons that are over."""
    rng = np.random.default_rng(4)
    planted, picked = [], []
    for year in (2024, 2025):
        for variety, kg in KG.items():
            planted.append(("tomato", variety, None, f"{year}-05-15", "set_out", 10))
            total = kg * np.exp(rng.normal(0.0, 0.1))
            days = bell(f"{year}-07-20", 60, total)
            picked += [(day, "tomato", variety, mass) for day, mass in days]
    table = picks(picked)
    table["note"] = table["note"].astype(object)
    for (variety, year), words in NOTES.items():
        mine = (table["variety"] == variety) & (table["date"].dt.year == year)
        table.loc[table.index[mine][0], "note"] = words
    return compare_varieties(garden(plantings(planted), table), year=2025, draws=400)


def test_each_season_stands_by_itself_with_dates_and_notes(review: VarietyReview) -> None:
    table = review.over_seasons
    assert list(table.columns) == OVER_SEASONS.names
    assert table.groupby("variety")["season"].agg(list).to_dict() == {
        name: [2024, 2025] for name in KG
    }
    row = table.set_index(["variety", "season"]).loc[("Poor", 2024)]
    assert row["notes"] == "mealy"
    assert row["first_pick"] == pd.Timestamp("2024-07-20")
    assert row["last_pick"] == pd.Timestamp("2024-09-15")
    each = table.pivot_table(index="season", columns="variety", values="kg_per_plant")
    assert each["Best"].to_numpy() == pytest.approx(3.0, rel=0.3)
    # A poor one is drawn towards its crop, but not far.
    assert (each["Poor"] < 0.5 * each["Best"]).all()
    assert (table["average_q05"] < table["average_kg_per_plant"]).all()


def test_the_poor_one_goes_and_twins_stay(review: VarietyReview) -> None:
    table = review.verdicts.set_index("variety")
    assert list(review.verdicts.columns) == VERDICTS.names
    assert table["verdict"].to_dict() == {"Best": "keep", "Twin": "keep", "Poor": "drop"}
    assert (table["seasons"] == 2).all() and (table["plants"] == 20).all()
    assert table.loc["Poor", "chance_better"] < 0.1 and table.loc["Poor", "notes"] == "mealy"
    assert table.loc["Poor", "against"] in ("Best", "Twin")
    assert "better with chance" in table.loc["Poor", "says"]


def test_a_second_season_makes_it_surer(review: VarietyReview) -> None:
    """The same variety in two seasons has a narrower range than in one of them alone."""
    one = review.measures.query("measure == 'kg_per_m2'").set_index("variety")
    two = review.verdicts.set_index("variety")
    for variety in KG:
        # Over seasons the luck of a season is in the range too, so not half of it.
        wide = np.log(one.loc[variety, "again_q95"] / one.loc[variety, "again_q05"])
        assert np.log(two.loc[variety, "q95"] / two.loc[variety, "q05"]) < 2.0 * wide


@pytest.mark.parametrize(
    ("chance", "planted", "verdict"),
    [
        (0.05, None, "drop"),
        (0.2, None, "try_again"),
        (0.4, None, "keep"),
        (0.9, None, "keep"),
        (0.05, True, "keep"),
        (0.05, False, "drop"),
        (0.9, False, "try_again"),
    ],
)
def test_one_rule_for_season_and_plan(chance: float, planted: bool | None, verdict: str) -> None:
    wins = round(100 * chance)
    yields = np.array([[2.0, 1.0]] * wins + [[1.0, 9.0]] * (100 - wins))
    found = judge(yields, 0, [1], planted=planted)
    assert (found.verdict, found.against, found.chance) == (verdict, 1, pytest.approx(chance))


def test_the_only_one_stays() -> None:
    alone = judge(np.ones((4, 1)), 0, [])
    assert alone.verdict == "keep" and alone.against is None and np.isnan(alone.chance)
