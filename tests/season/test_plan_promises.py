"""What a plan must not promise: impossible speeds, fruit after frost, roots dug every day."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames import WEATHER, check_frame
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.records.garden import Garden
from harvestcast.season.next import plan as module
from harvestcast.season.next.futures import season_futures
from harvestcast.season.next.options import planting_options
from harvestcast.season.next.plan import plan_next_season
from harvestcast.season.yields.curves import FASTEST, alive, brought_in_once, learn, least_days
from tests.season.gardens import bell, garden, picks, plantings, tomatoes


@pytest.fixture(autouse=True)
def _few_futures(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(module, "TRIALS", 60)
    monkeypatch.setattr(module, "FRESH_FUTURES", 100)


def _too_fast() -> Garden:
    """A log with slips in its planting dates: beans 15 days from seed, cucumbers 12 from set."""
    planted = plantings([("snap bean", "A", "n", "2026-06-20", "sown", 60),
                         ("cucumber", "B", "n", "2026-06-20", "set_out", 6)])  # fmt: skip
    rows = [(day, "snap bean", "A", kg) for day, kg in bell("2026-07-05", 40, 9.0)]
    rows += [(day, "cucumber", "B", kg) for day, kg in bell("2026-07-02", 80, 20.0)]
    rows += [("2026-09-28", "cucumber", "B", 0.1)]
    return garden(planted, picks(rows))


def test_the_least_days_stay_below_the_published_ones() -> None:
    """Days to maturity, North Dakota State University Extension H912: cucumber 50 to 70 from seed.

    Snap beans 444 to 644 degC d from seed (Oregon State University, 1969, in the almanac).
    """
    assert 0.5 * 50 < least_days(crop_facts("cucumber"), set_out=False) < 50
    assert 25 <= least_days(crop_facts("snap bean"), set_out=False) < 45
    assert least_days(crop_facts("cucumber"), set_out=True) >= 25


def test_no_planting_bears_before_it_can_whatever_the_log_says() -> None:
    case = _too_fast()
    options = planting_options(case, year=2027, sowings=3)
    drawn = season_futures(case, learn(case, 2027), options, year=2027, draws=60, seed=1)
    assert {option.crop for option in options} == {"snap bean", "cucumber"}
    for place, option in enumerate(options):
        day = (option.date - pd.Timestamp(2027, 1, 1)).days
        least = least_days(crop_facts(option.crop), set_out=option.how == "set_out")
        first = drawn.first_pick[:, place]
        first = first[np.isfinite(first)]
        assert len(first) and first.min() >= day + least


def test_nothing_of_a_tender_crop_comes_in_after_the_killing_frost() -> None:
    case = tomatoes()
    weather = case.weather
    # A frost on 1 September of every year, in the middle of the harvest, then warm again.
    frost = (weather["date"].dt.month == 9) & (weather["date"].dt.day == 1)
    cold = weather.assign(tmin_c=weather["tmin_c"].where(~frost, -3.0))
    case = replace(case, weather=check_frame(cold, WEATHER))
    options = planting_options(case, year=2027, sowings=1)
    drawn = season_futures(case, learn(case, 2027), options, year=2027, draws=60, seed=1)
    late = drawn.weeks >= pd.Timestamp("2027-09-01")
    assert drawn.per_plant.sum() > 0
    assert drawn.per_plant[:, late].sum() == 0
    # A leap day of the year that lends its weather moves that frost by one.
    frost_day = pd.Timestamp("2027-09-01").day_of_year - 1 + (drawn.weather_year % 4 == 0)
    assert (np.nan_to_num(drawn.last_pick) < frost_day[:, None]).all()


def test_alive_knows_spring_from_autumn_and_hardy_from_tender() -> None:
    tmin = np.full((1, 365), 10.0)
    tmin[0, [100, 280]] = -3.0  # April: people cover their plants; October
    tender = alive(tmin, crop_facts("tomato"))
    assert tender[0, 279] and not tender[0, 280:].any()
    assert alive(tmin, crop_facts("carrot")).all()


def test_a_crop_brought_in_once_comes_in_on_one_day() -> None:
    rng = np.random.default_rng(3)
    rate = rng.random((20, 50))
    looked = rng.random((20, 50)) < 0.5
    lives = np.ones((20, 50), dtype=bool)
    lives[:10, 30:] = False
    ripe = np.where(lives, rate, 0.0)
    got = brought_in_once(ripe, looked, lives)
    assert ((got > 0).sum(axis=1) == 1).all()
    assert (got.sum(axis=1) >= 0.9 * ripe.sum(axis=1) - 1e-9).all()
    assert (got.sum(axis=1) <= ripe.sum(axis=1) + 1e-9).all()
    assert not got[:10, 30:].any()


def _roots() -> Garden:
    planted = plantings([("potato", "P", "n", "2026-04-20", "sown", 20),
                         ("onion", "O", "n", "2026-04-15", "set_out", 60),
                         ("winter squash", "W", "n", "2026-05-20", "sown", 4)])  # fmt: skip
    rows = [("2026-08-25", "potato", "P", 18.0), ("2026-08-10", "onion", "O", 7.0),
            ("2026-09-25", "winter squash", "W", 16.0)]  # fmt: skip
    return garden(planted, picks(rows))


def test_crops_dug_once_are_sown_once_dug_once_and_fit_what_is_wanted() -> None:
    case = _roots()
    options = planting_options(case, year=2027, sowings=3)
    assert [option.crop for option in options] == ["onion", "potato", "winter squash"]
    drawn = season_futures(case, learn(case, 2027), options, year=2027, draws=60, seed=1)
    assert ((drawn.per_plant > 0).sum(axis=1) <= 1).all()  # one week of each future
    plan = plan_next_season(case, year=2027, futures=10, bed_area_m2=200.0)
    assert (plan.beds.groupby("crop").size() == 1).all()
    tasks = plan.calendar.groupby(["crop", "task"]).size()
    assert "last pick" not in tasks.index.get_level_values("task")
    wanted = plan.reliability.set_index("product")["target"]
    for row in plan.beds.itertuples():
        # Enough for nine seasons in ten, and no field of it.
        assert 1.0 < row.mean_kg / wanted[f"fresh: {row.crop}"] < 8.0, row.crop
    # Potatoes are wanted for the weeks they keep, not for the week they are dug in.
    week = 7 * 0.457  # kg, appetite of four people (planning estimate of the kitchen room)
    assert wanted["fresh: potato"] > 0.75 * week * 2
    assert "plan.stored" in [line.code for line in plan.lines]


def test_tender_crops_get_no_date_that_frost_would_overtake() -> None:
    planted = plantings([("snap bean", "A", "n", "2026-08-15", "sown", 60)])
    rows = [("2026-09-28", "snap bean", "A", 1.0)]
    options = planting_options(garden(planted, picks(rows)), year=2027, sowings=3)
    frost = pd.Timestamp("2027-10-10")
    least = pd.Timedelta(days=least_days(crop_facts("snap bean"), set_out=False))
    assert 1 <= len(options) < 3
    assert all(option.date + least < frost for option in options)


KITCHEN = {"targets": {"frozen tomatoes": 12}, "equipment": [{"kind": "freezer", "free_l": 120}],
           "hours": {"saturday": 5, "wednesday": 2}}  # fmt: skip


def test_the_plan_says_where_the_bed_area_comes_from_and_its_floor_on_speed() -> None:
    plan = plan_next_season(tomatoes(**KITCHEN), year=2027, futures=10)
    lines = {line.code: line.facts for line in plan.lines}
    assert lines["beds.as_taken"]["season"] == ""
    assert lines["plan.no_pick_before"] == {"share": FASTEST}
    own = plan_next_season(tomatoes(**KITCHEN, bed_area_m2=60.0), year=2027, futures=10)
    assert any("60.0 m2, as in garden.toml" in line for line in own.text) or any(
        "646 sq ft, as in garden.toml" in line for line in own.text
    )


def test_a_missed_target_names_the_limit_that_binds() -> None:
    small = plan_next_season(tomatoes(**KITCHEN), year=2027, futures=10, bed_area_m2=3.0)
    limits = next(line.facts["limits"] for line in small.lines if line.code == "plan.binds")
    assert any("limit.bed" in codes for codes, _ in limits)
    case = tomatoes(**{**KITCHEN, "hours": {"saturday": 0.05}, "bed_area_m2": 100.0})
    busy = plan_next_season(case, year=2027, futures=10).reliability.set_index("product")
    assert "limit.hours" in busy.loc["frozen_tomatoes", "limits"]
