"""The yardstick itself: which weeks are forecast, and that rivals never see them."""

import dataclasses

import numpy as np
import pandas as pd
import pytest

from harvestcast.records.garden import garden_from_frames
from tests.benchmarks.cases import Cases, joined, summarise, weekly_cases
from tests.benchmarks.families import shared
from tests.benchmarks.rivals import FEW_WEEKS, calibrated, calibrated_as_known, rivals


def _cases() -> Cases:
    """Two invented varieties, one picked daily for 50 days, one every fourth day for 60."""
    first = pd.date_range("2025-07-01", periods=50)
    second = pd.date_range("2025-07-03", periods=15, freq="4D")
    picks = pd.concat(
        [
            pd.DataFrame(
                {"date": first, "variety": "Amber Lantern", "mass_kg": 1 + np.arange(50.0)}
            ),
            pd.DataFrame({"date": second, "variety": "Dusk Plum", "mass_kg": 2.0}),
        ]
    ).assign(crop="tomato")
    return weekly_cases(garden_from_frames(picks=picks), 2025, "variety")


def test_origins_histories_and_coming_weeks() -> None:
    cases = _cases()
    own = cases.variety == "Amber Lantern"
    origins = pd.DatetimeIndex(cases.origin[own])
    assert origins[0] == pd.Timestamp("2025-07-07")
    assert set(np.diff(origins).astype("timedelta64[D]").astype(int)) == {7}
    # The log ends on 28 August: the last origin is the last one with seven days after it.
    assert origins[-1] == pd.Timestamp("2025-08-18")
    for number, i in enumerate(np.flatnonzero(own)):
        days = 1 + np.arange(7 * (number + 2))
        expected = np.where(days <= 50, days, 0).reshape(-1, 7).sum(axis=1)
        assert cases.history[i].tolist() == expected[:-1].tolist()
        assert cases.observed[i] == expected[-1]
    assert cases.in_season.all()
    assert len(cases) == own.sum() + (cases.variety == "Dusk Plum").sum()


def test_a_series_is_out_of_season_three_weeks_after_its_last_pick() -> None:
    days = pd.date_range("2025-07-01", periods=10)
    other = pd.date_range("2025-07-01", "2025-09-30")
    picks = pd.concat(
        [
            pd.DataFrame({"date": days, "crop": "pea", "mass_kg": 1.0}),
            pd.DataFrame({"date": other, "crop": "okra", "mass_kg": 1.0}),
        ]
    )
    cases = weekly_cases(garden_from_frames(picks=picks), 2025, "crop")
    pea = cases.crop == "pea"
    age = (cases.origin[pea] - np.datetime64(days[-1])) / np.timedelta64(1, "D")
    assert cases.in_season[pea].tolist() == (age < 21).tolist()


def test_a_rivals_spread_comes_from_the_other_series() -> None:
    cases = _cases()
    point = np.array([h[-1] for h in cases.history])
    own = cases.series == 0
    # Another outcome of a series leaves its own forecast as it was.
    changed = dataclasses.replace(
        cases, observed=np.where(own, 3 * cases.observed + 5, cases.observed)
    )
    for form, draws in calibrated(cases, point).items():
        again = calibrated(changed, point)[form]
        assert np.array_equal(draws[own], again[own])
        assert not np.array_equal(draws[~own], again[~own])
        assert (draws >= 0).all()


def test_a_rivals_spread_as_known_comes_from_weeks_that_were_over() -> None:
    one = _cases()
    cases = joined([one] * 10)  # enough weeks
    point = np.array([h[-1] for h in cases.history])
    draws = calibrated_as_known(cases, point)["ratios as known"]
    middle = np.unique(cases.origin)[5]
    over = cases.origin + np.timedelta64(7, "D") <= middle
    assert over.sum() >= FEW_WEEKS
    later = dataclasses.replace(cases, observed=np.where(over, cases.observed, 99.0))
    now = cases.origin == middle
    assert np.array_equal(draws[now], calibrated_as_known(later, point)["ratios as known"][now])
    ratio = (cases.observed / point)[over]
    last = draws[now] / point[now, None]
    assert last.min() >= ratio.min() and last.max() <= ratio.max()


@pytest.mark.statistics  # the forecasters compile themselves on first use
def test_every_rival_forecasts_from_one_week_on() -> None:
    rng = np.random.default_rng(1)
    for name, candidates in rivals().items():
        for weeks in (1, 2, 3, 5, 9):
            history = rng.gamma(2, 2, weeks)
            history[weeks // 2] = 0 if weeks > 3 else history[weeks // 2]
            value = candidates[0](history)
            assert np.isfinite(value), (name, weeks)


def test_the_summary_scales_by_the_mean_week() -> None:
    cases = _cases()
    nothing = np.zeros((len(cases), 10))
    point = np.zeros(len(cases))
    scores = summarise(cases, nothing, (point,), np.ones(len(cases), bool))
    assert scores["mae"] == pytest.approx(1.0)
    assert scores["crps"] == pytest.approx(1.0)
    assert scores["wape"] == pytest.approx(1.0)
    so_far = np.array([h.mean() for h in cases.history])
    assert scores["mae_so_far"] == pytest.approx((cases.observed / so_far).mean())
    perfect = np.repeat(cases.observed[:, None], 10, axis=1)
    scores = summarise(cases, perfect, (point, cases.observed), np.ones(len(cases), bool))
    assert scores["mae"] == scores["crps"] == 0
    assert scores["coverage"] == 1


def test_a_true_forecast_of_small_counts_shares_four_in_five_and_holds_more() -> None:
    """Counts whose law is known: closed ranges hold 94 %, though the forecast is exact."""
    rng = np.random.default_rng(1)
    mean = rng.gamma(1.0, 1.0, 4000)
    seen, draws = rng.poisson(mean).astype(float), rng.poisson(mean[:, None], (4000, 400))
    low, high = np.quantile(draws, [0.1, 0.9], axis=1)
    assert ((low <= seen) & (seen <= high)).mean() > 0.9
    assert shared(seen, draws).mean() == pytest.approx(0.8, abs=0.015)
    # Draws twice as far apart as they should be are found out.
    wide = rng.poisson(mean[:, None] * np.exp(rng.standard_normal((4000, 400))))
    assert shared(seen, wide).mean() > 0.84
