"""What next season is planned from: standing perennials, the last two seasons, whole seasons."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.errors import InputError
from harvestcast.frames import PLANTINGS, WEATHER, check_frame
from harvestcast.records.garden import Garden
from harvestcast.records.household import Household
from harvestcast.season.next import plan as module
from harvestcast.season.next.case import bed_limit
from harvestcast.season.next.options import (
    grown_lines,
    latest_plantings,
    planted_in,
    planting_options,
)
from harvestcast.season.next.plan import plan_next_season
from harvestcast.season.yields.curves import learn
from harvestcast.season.yields.unfinished import unfinished_since
from tests.season.gardens import bell, garden, picks, plantings, weather


def _two_seasons(*, to: str = "2026-08-10") -> Garden:
    """Return a garden whose second season lacks rows for two crops; raspberries stand."""
    planted = plantings(
        [
            ("raspberry", "Hedgewife", "f", "2022-04-15", "set_out", 12),
            ("lettuce", "Crisp Ada", "a", "2025-04-10", "sown", 30),
            ("potato", "Clod", "b", "2025-04-20", "sown", 25),
            ("snap bean", "Lean Piet", "c", "2025-05-15", "sown", 60),
            ("snap bean", "Lean Piet", "c", "2026-05-16", "sown", 60),
        ]
    )
    rows = [(day, "raspberry", "Hedgewife", kg) for day, kg in bell("2025-07-01", 25, 9.0)]
    rows += [(day, "lettuce", "Crisp Ada", kg) for day, kg in bell("2025-06-01", 30, 6.0)]
    rows += [("2025-08-25", "potato", "Clod", 20.0)]
    rows += [(day, "snap bean", "Lean Piet", kg) for day, kg in bell("2025-07-12", 40, 12.0)]
    rows += [("2025-09-18", "snap bean", "Lean Piet", 0.2)]
    rows += [(day, "lettuce", "Crisp Ada", kg) for day, kg in bell("2026-06-01", 30, 5.0)]
    rows += [(day, "snap bean", "Lean Piet", kg) for day, kg in bell("2026-07-14", 25, 5.0)]
    case = garden(planted, picks([row for row in rows if pd.Timestamp(row[0]) <= pd.Timestamp(to)]))
    # The weather record ends with the log, so that only the log says what is over.
    seen = weather(2018, 2026)
    return replace(case, weather=check_frame(seen[seen["date"] <= to], WEATHER))


def test_what_stands_is_kept_and_not_planted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "TRIALS", 60)
    monkeypatch.setattr(module, "FRESH_FUTURES", 60)
    case = _two_seasons()
    # More people than twelve canes feed.
    case = replace(case, household=case.household.model_copy(update={"people": 20}))
    plan = plan_next_season(case, year=2027, futures=10, sowings=1, bed_area_m2=300.0)
    berries = plan.beds.set_index("crop").loc["raspberry"]
    assert (berries["how"], berries["plants"]) == ("stands", 12)
    assert berries["date"] == pd.Timestamp("2022-04-15")  # the day it was planted, not a task
    assert berries["area_m2"] > 0 and berries["mean_kg"] > 0
    assert berries["first_pick"].year == 2027
    tasks = plan.calendar[plan.calendar["crop"] == "raspberry"]["task"]
    assert set(tasks) == {"first pick", "last pick"}
    limits = plan.reliability.set_index("product")["limits"]
    assert limits["fresh: raspberry"] == "limit.standing"
    # Crops of the season before are options, and said to be.
    assert {"lettuce", "potato"} <= set(plan.beds["crop"])
    lines = {line.code: line.facts for line in plan.lines}
    assert lines["grown.older"]["last"] == "2026"
    assert lines["grown.older"]["crops"] == ["lettuce", "potato"]
    assert [season for season, _ in lines["log.rests_on"]["seasons"]] == ["2025"]


def test_crops_of_the_last_two_seasons_are_options() -> None:
    case = _two_seasons()
    options = planting_options(case, year=2027, sowings=1)
    this_year = {one.crop: one.this_year for one in options}
    assert this_year == {"lettuce": 0.0, "potato": 0.0, "raspberry": 12.0, "snap bean": 60.0}
    before = planted_in(case, options, 2025)
    assert dict(zip(this_year, before, strict=True)) == {
        "lettuce": 30.0, "potato": 25.0, "raspberry": 12.0, "snap bean": 60.0}  # fmt: skip
    # The beds may be as large as those of the season that took more at once.
    taken = {"": 3.0, "2025": 9.0}
    limit, line = bed_limit(case.household, None, taken)
    assert (limit, line.code, line.facts["season"]) == (9.0, "beds.as_taken", "2025")
    dates = {one.crop: str(one.date.date()) for one in options}
    assert dates["potato"] == "2027-04-20"
    # Two seasons on, what was given up is no option any more.
    later = plantings([("snap bean", "Lean Piet", "c", "2027-05-16", "sown", 60)])
    more = check_frame(pd.concat([case.plantings, later], ignore_index=True), PLANTINGS)
    left = {one.crop for one in planting_options(replace(case, plantings=more), year=2028)}
    assert left == {"raspberry", "snap bean"}


def test_a_crop_without_a_planting_is_named_as_left_out() -> None:
    case = _two_seasons()
    loose = case.plantings[case.plantings["crop"] != "lettuce"].reset_index(drop=True)
    said = grown_lines(replace(case, plantings=loose), 2027, ["potato", "raspberry", "snap bean"])
    missing = [line.facts["names"] for line in said if line.code == "grown.no_planting"]
    assert missing == [["lettuce"]]
    assert "lettuce" not in str([line.facts for line in grown_lines(case, 2027, [])])
    # Of crops planned from an older row one may say that they are wanted no more.
    older = grown_lines(case, 2027, ["lettuce", "potato"])
    assert [x.facts["crops"] for x in older if x.code == "grown.older"] == [["lettuce", "potato"]]
    home = Household.model_validate({"crops": {"lettuce": {"eat_kg_per_person_week": 0}}})
    less = grown_lines(replace(case, household=home), 2027, ["lettuce", "potato"])
    assert [line.facts["crops"] for line in less if line.code == "grown.older"] == [["potato"]]


def test_garlic_of_this_autumn_does_not_push_out_the_rest() -> None:
    planted = plantings(
        [
            ("garlic", "Old Sock", "a", "2025-10-10", "sown", 40),
            ("tomato", "Rosy Jan", "b", "2026-05-15", "set_out", 6),
            ("garlic", "Old Sock", "a", "2026-10-12", "sown", 50),
        ]
    )
    rows = [("2026-07-15", "garlic", "Old Sock", 2.0)]
    rows += [(day, "tomato", "Rosy Jan", kg) for day, kg in bell("2026-07-25", 50, 20.0)]
    case = garden(planted, picks(rows))
    options = planting_options(case, year=2027, sowings=1)
    found = {one.crop: (str(one.date.date()), one.this_year) for one in options}
    assert found == {"garlic": ("2026-10-12", 50.0), "tomato": ("2027-05-15", 6.0)}
    # Before this autumn's is planted, last autumn's is moved by one year and not by two.
    early = replace(case, plantings=planted.iloc[:2])
    garlic = planting_options(early, year=2027, sowings=1)[0]
    assert (garlic.crop, str(garlic.date.date())) == ("garlic", "2026-10-10")


def test_rows_without_a_date_are_not_dropped() -> None:
    planted = plantings([("tomato", "Rosy Jan", "b", None, "set_out", 6)])
    rows = [(day, "tomato", "Rosy Jan", kg) for day, kg in bell("2026-07-25", 50, 20.0)]
    case = garden(planted, picks(rows))
    assert latest_plantings(case, 2027)["variety"].tolist() == ["Rosy Jan"]
    assert {one.variety for one in planting_options(case, year=2027)} == {"Rosy Jan"}


def test_one_rule_says_whether_a_season_is_over() -> None:
    both = _two_seasons()
    assert unfinished_since(both, 2025) is None
    learned = learn(both, 2027)
    assert list(learned.ends) == [2025] and learned.unfinished == (2026,)
    assert learned.ends[2025] == pd.Timestamp("2025-09-18")
    assert {unit.year for mine in learned.units.values() for unit in mine} == {2025}
    # The same log without the later season: nobody knows whether more was to come.
    alone = _two_seasons(to="2025-09-18")
    assert unfinished_since(alone, 2025) == pd.Timestamp("2025-09-18")
    assert not learn(alone, 2026).whole


def test_a_pick_more_after_the_summer_changes_no_season(monkeypatch: pytest.MonkeyPatch) -> None:
    case = _two_seasons()
    late = picks([("2025-10-25", "snap bean", "Lean Piet", 0.1)])
    more = replace(case, picks=pd.concat([case.picks, late], ignore_index=True))
    assert list(learn(case, 2027).ends) == list(learn(more, 2027).ends)
    kg = [sum(u.mass.sum() for u in learn(one, 2027).units["snap bean"]) for one in (case, more)]
    assert np.isclose(kg[0] + 0.1, kg[1])


def test_a_log_that_broke_off_is_said() -> None:
    case = _two_seasons()
    short = case.picks[(case.picks["date"] < "2025-08-01") | (case.picks["date"] > "2026-01-01")]
    learned = learn(replace(case, picks=short.reset_index(drop=True)), 2027)
    assert list(learned.ends) == [2025]
    assert [day.month for day in learned.broken_off] == [7]
    assert learn(case, 2027).broken_off == ()


def test_a_variety_planted_under_another_crop_is_named() -> None:
    planted = plantings([("cherry tomato", "Pip", "a", "2026-05-15", "set_out", 3),
                         ("tomato", "Rosy Jan", "a", "2026-05-15", "set_out", 3)])  # fmt: skip
    rows = [("2026-08-01", "tomato", "Pip", 1.0), ("2026-08-02", "tomato", "Rosy Jan", 1.0),
            ("2026-08-02", "tomato", "unnamed", 1.0)]  # fmt: skip
    said = grown_lines(garden(planted, picks(rows)), 2027, ["cherry tomato", "tomato"])
    assert [(line.code, line.facts["names"]) for line in said] == [
        ("grown.no_planting", ["tomato Pip"])
    ]


def test_a_year_that_is_past_is_refused_and_one_that_runs_is_said(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    case = _two_seasons()
    with pytest.raises(InputError, match="past: the log runs to 7 August 2026") as caught:
        plan_next_season(case, year=2025)
    assert "Plan 2026 or a later season." in str(caught.value)
    monkeypatch.setattr(module, "TRIALS", 30)
    monkeypatch.setattr(module, "FRESH_FUTURES", 30)
    beans = case.plantings[case.plantings["crop"] == "snap bean"].reset_index(drop=True)
    case = replace(case, plantings=beans)
    running = plan_next_season(case, year=2026, futures=10, sowings=1, bed_area_m2=50.0)
    assert running.lines[0].code == "plan.begun"
    assert running.lines[0].facts == {"last": pd.Timestamp("2026-08-07")}
