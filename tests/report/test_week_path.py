"""The week from the folder to the page: views of real results, and the whole command once."""

import json
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

import harvestcast as hc
from harvestcast.frames import BATCHES, check_frame
from harvestcast.growth.series import gather
from harvestcast.report import week_views as views
from harvestcast.report import week_words
from harvestcast.report.week import summary


@pytest.fixture(scope="module")
def sample(sample_folder: Path) -> SimpleNamespace:
    garden = hc.open_garden(sample_folder)
    outlook = hc.forecast(garden, weeks=2, draws=60, seed=1)
    return SimpleNamespace(
        garden=garden,
        outlook=outlook,
        picked=views.picked_days(gather(garden, outlook.as_of)),
    )


def test_the_last_seven_days_are_those_of_the_log(sample: SimpleNamespace) -> None:
    """Where every pick of a crop was weighed, the sum is the log's own."""
    table = views.coming(sample.outlook, sample.picked)
    as_of = sample.outlook.as_of
    picks = sample.garden.picks
    recent = picks[picks["date"].between(as_of - pd.Timedelta(days=6), as_of)]
    weighed = recent.groupby("crop")["mass_kg"].apply(lambda kg: kg.notna().all())
    some = [crop for crop in weighed.index[weighed] if crop in set(table["crop"])]
    assert len(some) >= 3
    for crop in some:
        own = recent.loc[recent["crop"] == crop, "mass_kg"].sum()
        said = table.loc[table["crop"] == crop, "last_7_days_kg"].iloc[0]
        assert said == pytest.approx(own)


def test_past_weeks_do_not_overlap_and_end_on_the_day(sample: SimpleNamespace) -> None:
    as_of = sample.outlook.as_of
    for crop in ("cucumber", "zucchini"):
        weeks = views.picked_weeks(sample.picked, crop, as_of)
        assert weeks["start"].iloc[-1] == as_of - pd.Timedelta(days=6)
        assert (weeks["start"].diff().dropna() == pd.Timedelta(days=7)).all()
        own = sample.picked[sample.picked["crop"] == crop]
        inside = own[own["date"] >= weeks["start"].iloc[0]]
        assert weeks["mass_kg"].sum() == pytest.approx(inside["mass_kg"].sum())


def test_a_pick_is_spread_over_the_days_since_the_last(sample: SimpleNamespace) -> None:
    key = sample.picked[sample.picked["crop"] == "cucumber"].iloc[0]
    rates = views.pick_rates(sample.picked, "cucumber", str(key["variety"]))
    own = sample.picked[
        (sample.picked["crop"] == "cucumber") & (sample.picked["variety"] == key["variety"])
    ]
    days = (rates["date"] - rates["since"]).dt.days
    assert (days >= 1).all()
    assert (rates["since"].iloc[1:].to_numpy() >= rates["date"].iloc[:-1].to_numpy()).all()
    assert (rates["kg_per_day"] * days).sum() == pytest.approx(own["mass_kg"].sum())


def test_a_week_with_an_unweighed_pick_is_unknown() -> None:
    as_of = pd.Timestamp("2026-07-14")
    picked = pd.DataFrame(
        {
            "crop": "kale",
            "variety": "x",
            "date": [as_of, as_of - pd.Timedelta(days=1), as_of - pd.Timedelta(days=8)],
            "mass_kg": [1.0, np.nan, 2.0],
            "count": np.nan,
        }
    )
    weeks = views.picked_weeks(picked, "kale", as_of)
    assert weeks["mass_kg"].isna().tolist() == [False, True]
    assert views.picked_weeks(picked, "leek", as_of).empty


def test_shares_balance(made_up: SimpleNamespace) -> None:
    table = views.shares(made_up.balance)
    out = table[["eaten", "put_up", "given", "spoiled", "carried_out"]].sum(axis=1)
    np.testing.assert_allclose(out, table["lying_kg"] + table["picked_kg"], atol=1e-9)
    assert table["crop"].iloc[0] == "cucumber"


def test_later_work_is_added_up_by_product(made_up: SimpleNamespace) -> None:
    one = made_up.batches
    more = one[~one["decided"]].assign(day=lambda t: t["day"] + pd.Timedelta(days=1))
    table = views.later(check_frame(pd.concat([one, more]), BATCHES))
    relish = table[table["product"] == "relish"].iloc[0]
    assert relish["batches"] == 2
    assert relish["hands_on_h"] == pytest.approx(5.0)
    assert relish["last_day"] - relish["day"] == pd.Timedelta(days=1)
    assert not table["decided"].any()
    assert views.later(one[one["decided"]]).empty


def test_too_much_is_what_is_likely_or_large(made_up: SimpleNamespace) -> None:
    """Likely from a half; large from 1 kg at the upper end of the 80 % range; nothing else."""
    rows = made_up.surplus.loc[made_up.surplus["week"] == 1].reset_index(drop=True).head(4)
    rows["p_beats_capacity"] = [0.5, 0.2, 0.2, 0.6]
    rows["q90_kg"] = [0.4, 1.0, 0.99, 0.0]
    assert views.too_much(rows).tolist() == [True, True, False, False]
    assert set(views.left_over(rows)["crop"]) == set(rows["crop"].iloc[:2])
    assert set(views.may_be_left(rows)["crop"]) == set(rows["crop"].iloc[2:])
    week = made_up.week("metric")
    said = [week_words.surplus_words(row, week) for _, row in rows.assign(q50_kg=0.0).iterrows()]
    assert said[0] == "up to 400 g, chance of any 50%"
    assert said[3] == "likely none, chance of any 60%"


def test_no_forecast_is_likely_none_up_to_nothing(made_up: SimpleNamespace) -> None:
    row = made_up.weekly.iloc[0].copy()
    row[["q10_kg", "q50_kg", "q90_kg"]] = [0.0, 0.0, 0.004]
    assert week_words.coming_line(row, made_up.week("us")) == "likely none"


def test_the_shelf_adds_what_is_planned(made_up: SimpleNamespace) -> None:
    table = views.shelf(made_up.wanted, made_up.batches).set_index("product")
    assert table.loc["dill_pickles", "planned_jars"] == 18
    assert table.loc["snap_beans", "planned_jars"] == 9


def test_the_summary_of_a_week_can_be_written_as_json(made_up: SimpleNamespace) -> None:
    for units in ("us", "metric"):
        week = made_up.week(units)
        said = summary(week, "page.html")
        assert json.loads(json.dumps(said, allow_nan=False)) == said
        assert said["coming"][0]["q50_kg"] == pytest.approx(week.coming["q50_kg"].iloc[0], abs=1e-6)
        lines = week_words.terminal(week)
        assert (" lb" in lines) == (units == "us")
        assert (" kg" in lines) == (units == "metric")


@pytest.mark.notebook
@pytest.mark.slow
def test_the_week_of_the_sample_from_the_command_line(sample_folder: Path, tmp_path: Path) -> None:
    """One real process: the page is written, standard output is JSON and nothing else."""
    out = tmp_path / "deep" / "week.html"
    told = subprocess.run(
        [sys.executable, "-c", "from harvestcast.report.command import main; main()",
         "week", str(sample_folder), "--out", str(out), "--json"],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert told.returncode == 0, told.stderr
    said = json.loads(told.stdout)
    assert said["report"] == str(out)
    assert len(said["coming"]) >= 24
    assert said["work"]
    assert "writing the report: done in" in told.stderr
    assert "Traceback" not in told.stderr
    html = out.read_text("utf-8")
    assert "<script" not in html.lower()
    assert html.count("<img ") >= 10
    canned = [row for row in said["work"] if row["method"] in ("boiling_water", "pressure")]
    assert all(row["process_min"] and row["source"] for row in canned)
