"""A glut of cucumbers over full shelves of pickles: the plan turns to other ways and says why.

The garden is simulated and the household invented.
"""

from dataclasses import replace

import pandas as pd
import pytest

from harvestcast import forecast, frames, plan_week
from harvestcast.kitchen.household.demand import fresh_use
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.reasons import batch_reasons
from harvestcast.report.week import page as week_page
from harvestcast.report.week.results import week_of
from harvestcast.report.week.summary import summary
from tests.kitchen.conftest import FULL_KITCHEN
from tests.simulated import as_garden, simulate_garden

PICKLES = {"dill pickles": 30, "bread and butter pickles": 20}
KITCHEN = tuple(one for one in FULL_KITCHEN if one["kind"] != "crock")


@pytest.fixture(scope="module")
def glut():
    """Return a garden in the ten days of most cucumbers, with room for pickles on no shelf."""
    sim = simulate_garden(11, crops=("cucumber", "snap bean"), years=(2025,))
    cucumbers = sim.picks[sim.picks["crop"] == "cucumber"]
    daily = cucumbers.groupby("date")["mass_kg"].sum()
    as_of = daily.rolling(10, min_periods=1).sum().idxmax()
    week = dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), 2.0)
    garden = as_garden(
        sim,
        units="metric",
        equipment=KITCHEN,
        hours=week | {"saturday": 5.0, "sunday": 4.0},
        jars={"pint": 60, "quart": 30, "half_pint": 24, "lids": 120},
        targets=PICKLES | {"cucumber relish": 8},
    )
    book = pd.DataFrame(
        {
            "date": pd.to_datetime(["2025-01-05", "2025-01-05"]),
            "product": ["dill pickles", "bread and butter pickles"],
            "jar": "pint",
            "change": [42.0, 26.0],
            "produce_kg": float("nan"),
            "hours": float("nan"),
            "what": None,
            "note": None,
            "file": None,
            "line": None,
        }
    )
    picks = garden.picks
    picks[["mass_kg", "count"]] *= 3  # three times the bed
    full = replace(garden, picks=picks, pantry=frames.check_frame(book, frames.PANTRY))
    outlook = forecast(full, as_of=as_of, weeks=2, draws=40, seed=4)
    return full, outlook, plan_week(outlook, full, days=7, scenarios=6, seed=4)


def test_the_plan_turns_to_other_ways(glut) -> None:
    """Relish, and dishes for the week: as many as are eaten beyond the usual, and no more."""
    garden, _, plan = glut
    cucumbers = plan.batches[plan.batches["crop"] == "cucumber"]
    made = cucumbers.groupby("product")["mass_kg"].sum()
    assert made.get("cucumber_relish", 0.0) > 0
    fresh = fresh_use(garden, ["cucumber"]).iloc[0]
    most = 7 * (fresh["eat_at_most_kg_day"] - fresh["eat_kg_day"])
    assert 0.8 * most <= made["cucumber_vinegar_slices"] <= most + 1e-6
    balance = plan.balance[plan.balance["crop"] == "cucumber"]
    assert balance["eaten"].sum() > 0
    assert balance["given"].sum() > 0


def test_full_shelves_alone_make_the_difference(glut) -> None:
    """The same glut with empty shelves is pickled."""
    garden, outlook, plan = glut
    empty = replace(garden, pantry=frames.PANTRY.empty())
    other = plan_week(outlook, empty, days=7, scenarios=6, seed=4)

    def pickled(batches: pd.DataFrame) -> float:
        mine = batches["product"].isin(["dill_pickles", "bread_and_butter_pickles"])
        return float(batches.loc[mine, "mass_kg"].sum())

    assert pickled(other.batches) > 2 * pickled(plan.batches) + 1.0
    assert "cucumber" not in set(other.reasons["crop"])
    first = other.batches[other.batches["product"] == "dill_pickles"].iloc[0]
    assert first["reason"] == "0 of 30 pints on the shelf"


def test_the_plan_says_why(glut) -> None:
    _, _, plan = glut
    assert plan.batches["reason"].notna().all()
    (said,) = plan.reasons.loc[plan.reasons["crop"] == "cucumber", "reason"]
    assert "dill pickles (42 of 30 pints)" in said
    assert "bread and butter pickles (26 of 20 pints)" in said
    assert "are full; of about " in said
    for words in ("for cucumber relish", "eaten fresh", "given away"):
        assert words in said
    relish = plan.batches[plan.batches["product"] == "cucumber_relish"]
    assert relish["reason"].str.startswith("0 of 8 half pints on the shelf").all()
    # What has no target of its own points to the full shelves.
    free = plan.batches[
        ~plan.batches["product"].isin([*PICKLES, "cucumber_relish"])
        & (plan.batches["crop"] == "cucumber")
    ]
    for reason in free["reason"]:
        assert "dill pickles (42 of 30 pints)" in reason
        assert reason.endswith("full") or "so that nothing spoils" in reason


def test_a_decided_batch_says_how_full_it_may_become(glut) -> None:
    garden, _, plan = glut
    offered = weekly_options(garden, plan.as_of).set_index(["product", "jar", "method"])
    decided = plan.batches[plan.batches["decided"]]
    assert len(decided)
    for row in decided.to_dict("records"):
        each = offered.loc[(row["product"], row["jar"], row["method"]), "jars_per_batch"]
        assert 0 <= row["jars_low"] <= row["jars_high"] <= row["batches"] * each + 1e-6
    later = plan.batches[~plan.batches["decided"]]
    assert later[["jars_low", "jars_high"]].isna().all(axis=None)


def test_the_amounts_said_add_up(glut) -> None:
    """Of about x kg: the parts named are the whole but for what is too little to name."""
    _, _, plan = glut
    (said,) = plan.reasons.loc[plan.reasons["crop"] == "cucumber", "reason"]
    whole, parts = said.split("of about ")[1].split(": ")
    named = sum(float(part.split(" kg")[0]) for part in parts.split(", "))
    assert named == pytest.approx(float(whole.split(" kg")[0]), rel=0.05)


def test_the_page_and_the_plain_values_say_why(glut) -> None:
    garden, outlook, plan = glut
    week = week_of(garden, outlook, plan)
    html = week_page.kitchen_sheet(week).html
    assert "dill pickles (42 of 30 pints)" in html
    values = summary(week)
    assert values["reasons"][0]["crop"] == "cucumber"
    assert all("reason" in row for row in values["work"])


def _one_reason(*, stock: float, wanted: float, jars: float, past: float | None = None) -> str:
    """Return the reason of pints of dill pickles towards a target of 30."""
    shelf = pd.DataFrame(
        {
            "product": ["dill_pickles"],
            "label": ["dill pickles"],
            "target_jars": [30.0],
            "stock_jars": [stock],
            "wanted_jars": [wanted],
            "eaten_jars_week": [1.0],
            "run_out": [pd.NaT],
        }
    )
    row = {column.name: None for column in frames.BATCHES.columns} | {
        "day": pd.Timestamp("2026-08-07"), "crop": "cucumber", "product": "dill_pickles",
        "label": "dill pickles", "method": "boiling_water", "batches": 1.0, "mass_kg": 4.0,
        "jar": "pint", "jars": jars, "hands_on_h": 2.0, "equipment": "boiling_water_canner",
        "equipment_h": 1.0, "decided": True,
    }  # fmt: skip
    options = pd.DataFrame({"crop": ["cucumber"], "product": ["dill_pickles"]})
    old = None
    if past is not None:
        old = pd.DataFrame({"product": ["dill_pickles", "salsa"], "past_jars": [past, 3.0]})
    return str(batch_reasons(pd.DataFrame([row]), shelf, options, old)["reason"].item())


def test_a_shelf_that_will_be_eaten_is_not_full() -> None:
    """Words of a shelf above its target of which part will be eaten by the season's end."""
    assert _one_reason(stock=32.0, wanted=6.0, jars=6.0) == (
        "32 of 30 pints on the shelf, but 6 more are wanted by the season's end"
    )


def test_a_shelf_of_old_jars_says_that_they_do_not_count() -> None:
    assert _one_reason(stock=28.0, wanted=30.0, jars=9.0, past=28.0) == (
        "28 of 30 pints on the shelf, but 30 more are wanted by the season's end: 28 of those on "
        "the shelf are past their best by then"
    )
    assert _one_reason(stock=20.0, wanted=10.0, jars=9.0, past=0.0) == (
        "20 of 30 pints on the shelf"
    )


def test_what_goes_beyond_the_target_is_said() -> None:
    assert _one_reason(stock=27.0, wanted=3.0, jars=9.0) == (
        "27 of 30 pints on the shelf; 6 of the 9 in this plan go beyond what is wanted, only so "
        "that nothing spoils"
    )
