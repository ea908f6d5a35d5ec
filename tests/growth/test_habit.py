"""The household's habits: which days it comes, which weeks it passes a crop over, unseen ends."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.forecast import forecast
from harvestcast.growth.future.draws import draw_series
from harvestcast.growth.future.numbers import garden_numbers
from harvestcast.growth.future.ripening import futures
from harvestcast.growth.log.habit import (
    PASSED_OVER,
    learn_habit,
    learn_passed_over,
    visits_ahead,
)
from harvestcast.growth.model.fit import fit_garden
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household

LAST = pd.Timestamp("2025-09-14")


def _log(weeks: int, chance: float, passed: float, *, crops: int, seed: int) -> tuple:
    """Draw days with a pick of crops looked at with one chance a day, some weeks passed over."""
    rng = np.random.default_rng(seed)
    over = rng.random((crops, weeks)) < passed
    picked = (rng.random((crops, 7 * weeks)) < chance) & ~np.repeat(over, 7, axis=1)
    return picked, np.full(picked.shape, 1.0 - chance), np.arange(crops)


@pytest.mark.parametrize("passed", [0.0, 0.1, 0.25])
def test_weeks_passed_over_are_recovered(passed: float) -> None:
    found = learn_passed_over(*_log(30, 0.5, passed, crops=30, seed=1))
    # Only whole empty weeks counted from the first pick show; spells seldom begin there.
    assert passed * 0.4 - 0.01 < found < passed + 0.02


def test_rare_picks_are_no_weeks_passed_over() -> None:
    """A crop looked at once in ten days has half its weeks empty, and none of them passed over."""
    assert learn_passed_over(*_log(30, 0.1, 0.0, crops=20, seed=2)) < PASSED_OVER + 0.02


def test_a_short_log_says_little_of_weeks_passed_over() -> None:
    picked, missed, crop = _log(3, 0.6, 0.0, crops=2, seed=3)
    assert learn_passed_over(picked, missed, crop) == pytest.approx(PASSED_OVER, abs=0.02)


def test_empty_days_while_little_bears_are_garden_days_too() -> None:
    """Somebody comes two days of three, and each of three crops is picked on 4 of 10 of them."""
    rng = np.random.default_rng(5)
    came = rng.random(60) < 2 / 3
    picked = np.where(came & (rng.random((3, 60)) < 0.4), 1.0, np.nan)
    habit = learn_habit(pd.date_range("2025-05-05", periods=60), picked)
    rows = ~np.isnan(picked).all(axis=0)
    assert rows.mean() + 0.02 < habit.weekday.mean() < came.mean() + 0.02


RHYTHMS = {
    "daily": lambda day, weekday: weekday >= 0,
    "every second day": lambda day, weekday: day % 2 == 0,
    "every third day": lambda day, weekday: day % 3 == 0,
    "weekends": lambda day, weekday: weekday >= 5,
    "weekdays": lambda day, weekday: weekday < 5,
    "once a week": lambda day, weekday: weekday == 5,
}


@pytest.mark.parametrize("rhythm", RHYTHMS)
@pytest.mark.parametrize("weeks", [3, 8])
def test_a_rhythm_is_learned_within_three_weeks(rhythm: str, weeks: int) -> None:
    dates = pd.date_range("2025-06-04", periods=7 * weeks + 7)
    came = RHYTHMS[rhythm](np.arange(len(dates)), dates.day_of_week.to_numpy())
    picked = np.where(came[: 7 * weeks], 1.0, np.nan) * np.ones((3, 1))
    habit = learn_habit(dates[: 7 * weeks], picked)
    ahead = visits_ahead(habit, dates[7 * weeks], 7, 2000, np.random.default_rng(1))
    there = came[7 * weeks :]
    chance = ahead.mean(axis=0)
    # One day in a hundred is wrong once it has been seen for two months, one in four after three
    # weeks: by then a strict rhythm is three to twenty days with a row.
    least = 0.7 if weeks == 3 else 0.88
    assert chance[there].mean() > least
    if not there.all():
        assert chance[~there].mean() < 1.0 - least
    assert (~ahead.any(axis=1)).mean() < (0.08 if weeks == 3 else 0.05)


def test_the_day_before_the_first_one_to_come_is_known() -> None:
    """Every other day: whether somebody comes tomorrow hangs on whether they came today."""
    chance = []
    for days in (42, 43):
        picked = np.where(np.arange(days) % 2 == 0, 1.0, np.nan) * np.ones((3, 1))
        dates = pd.date_range("2025-06-04", periods=days)
        start = dates[-1] + pd.Timedelta(days=1)
        ahead = visits_ahead(learn_habit(dates, picked), start, 2, 2000, np.random.default_rng(1))
        chance.append(ahead.mean(axis=0))
    assert chance[0][0] > 0.85 > 0.15 > chance[1][0]


def test_after_a_fortnight_away_the_old_rhythm_comes_back() -> None:
    days = np.arange(70)
    there = ~((days >= 40) & (days < 54))
    picked = np.where(there, 1.0, np.nan) * np.ones((3, 1))
    dates = pd.date_range("2025-06-04", periods=70)
    start = dates[-1] + pd.Timedelta(days=1)
    ahead = visits_ahead(learn_habit(dates, picked), start, 7, 2000, np.random.default_rng(1))
    assert ahead.mean() > 0.85


@pytest.mark.parametrize("gaps", [(6, 6, 7), (6, 6, 7, 7, 7, 8, 8), (6, 7, 7, 8, 7, 8, 7, 6, 7)])
def test_a_weekly_picker_who_drifts_by_a_day_is_no_weekday_s(gaps: tuple[int, ...]) -> None:
    """A week without a pick is hardly expected: days on which nobody came tell of the next one."""
    visits = np.cumsum([0, *gaps])
    there = np.isin(np.arange(visits[-1] + 6), visits)
    ahead = _week_after(there)
    assert (~ahead.any(axis=1)).mean() < 0.07
    assert ahead[:, :3].mean() > 1.5 * ahead[:, 3:6].mean()


@pytest.mark.parametrize("away", [3, 8, 12, 20])
def test_who_has_been_away_comes_back_on_a_day_like_any_other(away: int) -> None:
    """Somebody who came daily for five weeks; no absence has been seen to end."""
    ahead = _week_after(np.arange(35 + away) < 35)
    assert (~ahead.any(axis=1)).mean() < 0.2
    assert ahead[:, -1].mean() > 0.6


def _week_after(there: np.ndarray) -> np.ndarray:
    picked = np.where(there, 1.0, np.nan) * np.ones((3, 1))
    dates = pd.date_range("2025-06-04", periods=len(there))
    start = dates[-1] + pd.Timedelta(days=1)
    return visits_ahead(learn_habit(dates, picked), start, 7, 2000, np.random.default_rng(1))


@pytest.mark.parametrize("nothing_ripe", [False, True])
def test_days_before_the_log_s_first_row_say_nothing(nothing_ripe: bool) -> None:
    """Whoever begins to write in July may have picked in June."""
    day = pd.Timestamp("2025-08-24")
    garden = _garden("2025-08-20")
    began = pd.Timestamp("2025-07-21")
    late = garden_from_frames(
        garden.picks[garden.picks["date"] >= began],
        garden.plantings,
        garden.weather,
        household=Household(day_without_row="nothing_ripe" if nothing_ripe else "not_picked"),
    )
    fit = fit_garden(late, day)
    before = fit.dates < began
    assert before.sum() > 20
    assert (fit.evidence.came[:, before] == 0.0).all()
    assert (fit.evidence.came[:, ~before] > 0.0).all()
    # Not so where an earlier season was written down: then the household writes.
    rows = garden.picks.assign(date=garden.picks["date"] - pd.Timedelta(days=365))
    picks = pd.concat([rows, late.picks])
    fit = fit_garden(
        garden_from_frames(picks, late.plantings, late.weather, household=late.household), day
    )
    assert (fit.evidence.came > 0.0).all()


def _garden(until: str) -> Garden:
    """Zucchini every other day until a day, tomatoes daily to the last: somebody was there."""
    days = pd.date_range("2024-01-01", "2025-12-31")
    mean = 11 - 13 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    weather = pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 6})
    plantings = pd.DataFrame(
        {
            "crop": ["zucchini", "tomato"],
            "variety": ["Heron", "Finch"],
            "date": pd.Timestamp("2025-05-15"),
            "how": "set_out",
            "plants": [3.0, 6.0],
        }
    )
    rows = [
        pd.DataFrame(
            {"date": pd.date_range("2025-07-05", until, freq="2D"), "crop": "zucchini"}
        ).assign(variety="Heron", mass_kg=0.8),
        pd.DataFrame({"date": pd.date_range("2025-07-25", LAST), "crop": "tomato"}).assign(
            variety="Finch", mass_kg=1.2
        ),
    ]
    picks = pd.concat(rows).sort_values("date")
    return garden_from_frames(picks, plantings, weather, household=Household())


def test_a_crop_nobody_picks_any_more_may_have_ended_unseen() -> None:
    """Longer without a pick while others are picked, more likely over, and less to come."""
    over, none, middle = [], [], []
    for until in ("2025-09-14", "2025-09-06", "2025-08-30"):
        made = forecast(_garden(until), LAST, weeks=1, draws=1000)
        fit = made._fit
        row = made.keys.index(("zucchini", "Heron"))
        numbers = garden_numbers(fit, 1000, tried=2000, seed=1)
        over.append(draw_series(fit, row, numbers.tried, numbers.own[row]).over.mean())
        week = made.mass_kg[:, :, row].sum(axis=1)
        none.append((week == 0).mean())
        middle.append(np.median(week))
    assert over[0] < 0.02
    # After a fortnight a curve that has come to its own end explains it as well.
    assert min(over[1:]) > 0.1
    assert none[0] < 0.1 < none[1] < 0.5 < none[2]
    assert middle[0] > 2 * middle[1] > middle[2] == 0


def test_a_week_passed_over_is_none_s_pick_of_that_crop_and_leaves_it_hanging() -> None:
    fit = fit_garden(_garden("2025-09-14"), LAST, days_ahead=14)
    tmin, tmax = np.full((800, 14), 12.0), np.full((800, 14), 25.0)
    never = futures(replace(fit, habit=replace(fit.habit, passed_over=0.0)), tmin, tmax, seed=2)
    half = futures(replace(fit, habit=replace(fit.habit, passed_over=0.5)), tmin, tmax, seed=2)
    empty = [(f.number[:, :7].sum(axis=1) == 0).mean(axis=0) for f in (never, half)]
    np.testing.assert_allclose(empty[1] - empty[0], 0.5 * (1 - empty[0]), atol=0.06)
    # What hung over from a week passed over is picked in the next: more than without.
    skipped = half.number[:, :7].sum(axis=1) == 0
    picked = half.number[:, 7:].sum(axis=1)
    for row in range(len(fit.series)):
        after = picked[skipped[:, row], row]
        usual = picked[~skipped[:, row], row]
        assert after[after > 0].mean() > 1.2 * usual[usual > 0].mean()
