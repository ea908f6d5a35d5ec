"""What was decided stands unless something real has changed, and then the change is named.

The whole ten evenings of the sample are run by ``python -m tests.benchmarks.ten_days``.
"""

import json
import shutil
from dataclasses import replace

import pandas as pd
import pytest

from harvestcast.growth.forecast import forecast
from harvestcast.kitchen.household.what_if import changed_household
from harvestcast.kitchen.week.plan import DECIDED_DAYS, plan_week
from harvestcast.kitchen.week.standing import (
    changes_since,
    from_plain,
    option_key,
    standing_of,
    to_plain,
)
from harvestcast.records.garden import open_garden
from harvestcast.records.writing.decided import read_runs, write_run
from tests.benchmarks.ten_days import folder_up_to, ten_days, wandered

EVENINGS = pd.date_range("2026-07-12", "2026-07-24")
DAYS, DRAWS, FEW = 7, 60, 8
NEXT = pd.Timedelta(days=1)


def evening(garden, day, standing=None):
    outlook = forecast(garden, as_of=day, weeks=2, draws=DRAWS, seed=1)
    plan = plan_week(outlook, garden, days=DAYS, scenarios=FEW, standing=standing)
    return outlook, plan, standing_of(plan, outlook, garden, DECIDED_DAYS)


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    return folder_up_to("2026-07-10", tmp_path_factory.mktemp("stand"))


@pytest.fixture(scope="module")
def garden(folder):
    return open_garden(folder, today="2026-07-25")


@pytest.fixture(scope="module")
def first(garden):
    """The first evening on which a batch for the pantry is decided for a day after the next."""
    for day in EVENINGS:
        made = evening(garden, day)
        due = made[2].batches
        for_pantry = ~due["product"].isin(["cucumber_vinegar_slices"])
        if (due["firm"].astype(bool) & for_pantry & (due["day"] > day + NEXT)).any():
            return made
    raise AssertionError("the case must have something to hold on to")


def decided(plan):
    own = plan.batches[plan.batches["decided"]]
    return {(r["day"], option_key(r)): r["batches"] for r in own.to_dict("records")}


def test_the_same_evening_again_decides_the_same(garden, first):
    _, again, _ = evening(garden, first[2].as_of, standing=first[2])
    assert decided(again) == decided(first[1])
    assert not len(again.changed)
    since = again.batches.loc[again.batches["decided"], "since"]
    assert (since == first[2].as_of).all()


def test_the_next_evening_keeps_what_lies_ahead(garden, first):
    """Nothing of the next days was due, so nothing but a named change may touch them."""
    next_day = first[2].as_of + pd.Timedelta(days=1)
    outlook, plan, _ = evening(garden, next_day, standing=first[2])
    changes = changes_since(first[2], outlook, garden)
    until = first[2].as_of + pd.Timedelta(days=DECIDED_DAYS)
    was = {k: n for k, n in decided(first[1]).items() if k[0] > next_day}
    now = {k: n for k, n in decided(plan).items() if k[0] <= until}
    named = {(row["day"], row["label"]) for row in plan.changed.to_dict("records")}
    labels = dict(zip(first[2].batches["option"], first[2].batches["label"], strict=True))
    assert was, "the case must have something to hold on to"
    for key in was:
        if now.get(key, 0) < was[key]:
            assert (key[0], labels[key[1]]) in named
            assert changes, "and nothing goes where nothing has changed"


def more_picked(garden, day, kg):
    picks = garden.picks
    row = (
        picks[picks["crop"] == "cucumber"].tail(1).assign(date=day, mass_kg=kg, count=float("nan"))
    )
    whole = pd.concat([picks, row]).sort_values("date", kind="stable")
    return replace(garden, picks=whole.reset_index(drop=True))


def test_a_basket_beyond_all_expectation_is_named(garden, first):
    day = first[2].as_of + pd.Timedelta(days=1)
    rich = more_picked(garden, day, 60.0)
    outlook = forecast(rich, as_of=day, weeks=2, draws=DRAWS, seed=1)
    said = changes_since(first[2], outlook, rich)["cucumber"]
    assert said[0].code == "change.more_came"
    high = first[2].coming.query("crop == 'cucumber' and day == @day")["q90_kg"].iloc[0]
    came = rich.picks.query("crop == 'cucumber' and date == @day")["mass_kg"].sum()
    assert said[0].facts["kg"] == pytest.approx(came - high)


def test_what_was_not_done_is_named(garden, first):
    """Nobody writes a batch down: on the evening of its day it is said."""
    due = first[2].batches
    due = due[due["firm"].astype(bool) & (due["day"] <= first[2].as_of + pd.Timedelta(days=3))]
    due = due[~due["product"].isin(["cucumber_vinegar_slices"])]
    assert len(due)
    day = due["day"].min()
    outlook = forecast(garden, as_of=day, weeks=2, draws=DRAWS, seed=1)
    said = changes_since(first[2], outlook, garden)[str(due["crop"].iloc[0])]
    assert "change.not_done" in [one.code for one in said]


def test_a_changed_setting_is_named_and_a_count_of_jars_is_none(garden, first):
    home = changed_household(garden.household, {"hours": {"saturday": 1}})
    changed = replace(garden, household=home)
    assert changes_since(first[2], first[0], changed)[""][0].facts["keys"] == ["hours"]
    counted = changed_household(garden.household, {"jars": {"pint": 3}})
    assert "" not in changes_since(first[2], first[0], replace(garden, household=counted))


def test_a_decision_survives_being_written_down(folder, first):
    run = json.loads(json.dumps(to_plain(first[2])))
    again = from_plain(run)
    pd.testing.assert_frame_equal(again.batches, first[2].batches, check_dtype=False)
    pd.testing.assert_frame_equal(again.coming, first[2].coming, check_dtype=False)
    assert from_plain({"as_of": "2026-07-01"}) is None


def test_runs_are_kept_by_evening_and_nothing_else_is_replaced(tmp_path):
    write_run(tmp_path, {"as_of": "2026-07-13", "n": 1})
    write_run(tmp_path, {"as_of": "2026-07-12", "n": 2})
    write_run(tmp_path, {"as_of": "2026-07-13", "n": 3})
    assert [(run["as_of"], run["n"]) for run in read_runs(tmp_path)] == [
        ("2026-07-12", 2),
        ("2026-07-13", 3),
    ]
    copy = tmp_path / "copy"
    shutil.copytree(tmp_path / "reports", copy / "reports")
    assert read_runs(copy) == read_runs(tmp_path)
    other = tmp_path / "reports" / "decided.json"
    other.write_text('{"mine": 1}', "utf-8")
    from harvestcast.errors import InputError

    with pytest.raises(InputError):
        write_run(tmp_path, {"as_of": "2026-07-14"})
    assert other.read_text("utf-8") == '{"mine": 1}'
    assert read_runs(tmp_path) == []


def test_a_batch_that_may_stay_empty_is_no_decision(first):
    batches = first[1].batches
    low = batches.loc[batches["decided"], "jars_low"]
    assert (low >= 0.5).all()
    perhaps = batches[batches["if_kg"].notna()]
    assert not perhaps["decided"].any()
    assert (perhaps["jars_low"] < 0.5).all()
    assert set(first[1].shopping["use"].dropna()).isdisjoint(perhaps["label"])


@pytest.mark.statistics
@pytest.mark.parametrize("start", ["2026-07-10", "2025-08-04"])
def test_ten_evenings_in_a_row_change_nothing_without_naming_it(start, tmp_path):
    folder = folder_up_to(start, tmp_path)
    plans = ten_days(folder, pd.date_range(start, periods=11), stand=True, draws=150)
    named = {
        (f"{evening:%d}", f"{row['day']:%d}")
        for evening, (plan, _) in plans.items()
        for row in plan.changed.to_dict("records")
    }
    assert {(evening, day) for evening, day, *_ in wandered(plans)} <= named
