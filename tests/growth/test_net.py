"""The safety net: leaning on the recent pace as far as past weeks say so, and no further."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.forecast import forecast
from harvestcast.growth.future.net import (
    NO_NET,
    Net,
    Rehearsed,
    averaged,
    lean,
    learn_net,
    pace_quantiles,
    weekly_pace,
)
from harvestcast.growth.messages import MESSAGES
from harvestcast.growth.scores import crps_ensemble
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from harvestcast.words.messages import say
from tests.simulated import as_garden, simulate_garden

LEVELS = (np.arange(60) + 0.5) / 60


def _cases(curve_off: float, pace_off: float, seed: int, number: int = 40) -> list[Rehearsed]:
    """Draw weeks of 10 kg give or take 20 %, forecast with medians that are off by factors."""
    rng = np.random.default_rng(seed)
    spread = np.exp(0.2 * rng.standard_normal(number))
    shape = np.quantile(np.exp(0.2 * rng.standard_normal(4000)), LEVELS)
    return [
        Rehearsed(1 + i % 4, 10 * come, 10 * curve_off * shape, 10 * pace_off * shape, 10.0)
        for i, come in enumerate(spread)
    ]


def test_a_curve_that_does_well_is_kept() -> None:
    net = learn_net(_cases(1.0, 2.0, seed=1))
    assert net.weight == 0.0
    assert net.width == pytest.approx(1.0, abs=0.11)


def test_a_curve_that_is_half_what_comes_gives_way_to_the_pace() -> None:
    net = learn_net(_cases(0.5, 1.0, seed=2))
    assert net.weight >= 0.5
    assert net.came == pytest.approx(2.0, rel=0.1)


def test_two_that_are_off_on_either_side_are_averaged() -> None:
    assert 0.2 <= learn_net(_cases(0.7, 1.3, seed=3)).weight <= 0.7


def test_one_series_of_one_week_does_not_overthrow_the_curve() -> None:
    assert learn_net(_cases(0.7, 1.0, seed=4, number=1)).weight == 0.0
    assert learn_net([]) == NO_NET


def test_ranges_much_too_wide_are_narrowed() -> None:
    rng = np.random.default_rng(5)
    shape = np.quantile(np.exp(0.8 * rng.standard_normal(4000)), LEVELS)
    cases = [
        Rehearsed(1, 10 * come, 10 * shape, 10 * shape, 10.0)
        for come in np.exp(0.2 * rng.standard_normal(40))
    ]
    assert learn_net(cases).width <= 0.65


def test_the_score_is_that_of_an_outside_reference() -> None:
    """Held against the CRPS of an ensemble (Jordan, Krueger and Lerch 2019, by our scores)."""
    from harvestcast.growth.future.net import _score

    rng = np.random.default_rng(6)
    quantiles = np.sort(rng.gamma(2, 3, (30, 400)), axis=1)
    observed = rng.gamma(2, 3, 30)
    theirs = crps_ensemble(observed, quantiles, estimator="nrg")
    np.testing.assert_allclose(_score(observed, quantiles), theirs, rtol=0.01)


def test_the_pace_knows_nothing_that_came_later() -> None:
    rng = np.random.default_rng(7)
    picked = np.where(rng.random((4, 70)) < 0.6, rng.gamma(2, 1, (4, 70)), np.nan)
    whole = weekly_pace(picked)
    for week in range(2, 9):
        cut = weekly_pace(picked[:, : 7 * (week + 1)])
        np.testing.assert_array_equal(cut.level[:, -1], whole.level[:, week])
        np.testing.assert_array_equal(
            pace_quantiles(cut, week, LEVELS), pace_quantiles(whole, week, LEVELS)
        )


def test_draws_lean_and_keep_their_order_and_days() -> None:
    rng = np.random.default_rng(8)
    number = rng.poisson(3.0, (200, 14, 2)).astype(np.float32)
    number[:20, :7, 0] = 0.0
    quantiles = np.tile(np.linspace(50.0, 70.0, 200), (2, 1))
    out = lean(number, Net(0.5, 1.0, 40, 2.0), quantiles, np.array([True, False]))
    np.testing.assert_array_equal(out[..., 1], number[..., 1])
    before, after = number[:, :7, 0].sum(axis=1), out[:, :7, 0].sum(axis=1)
    np.testing.assert_allclose(
        np.sort(after), averaged(np.sort(before), quantiles[0], 0.5, 1.0), rtol=1e-5
    )
    some = before > 0
    ratio = out[some, :7, 0] / np.maximum(number[some, :7, 0], 1)
    np.testing.assert_allclose(
        np.where(number[some, :7, 0] > 0, ratio, (after / before.clip(1))[some, None]),
        np.broadcast_to((after / before.clip(1))[some, None], ratio.shape),
        rtol=1e-4,
    )
    # A week later the pace says less.
    moved = np.log(out[:, 7:, 0].sum() / number[:, 7:, 0].sum())
    assert 0 < moved < np.log(after.sum() / before.sum())


def test_nothing_to_lean_on_leaves_the_draws_alone() -> None:
    number = np.ones((5, 7, 1), dtype=np.float32)
    assert lean(number, NO_NET, np.ones((1, 5)), np.array([True])) is number


def _regular(times: float) -> Garden:
    """Peppers picked on Saturdays, as many every week, of which a curve knows nothing."""
    days = pd.date_range("2025-01-01", "2025-12-31")
    mean = 11 - 13 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    weather = pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 6})
    names = [f"kind {i}" for i in range(4)]
    plantings = pd.DataFrame(
        {"crop": "sweet pepper", "variety": names, "date": pd.Timestamp("2025-05-20"),
         "how": "set_out", "plants": 6.0}
    )  # fmt: skip
    saturdays = pd.date_range("2025-07-12", "2025-08-30", freq="7D")
    rng = np.random.default_rng(3)
    picks = pd.concat(
        [
            pd.DataFrame(
                {"date": saturdays, "crop": "sweet pepper", "variety": name,
                 "mass_kg": times * np.exp(0.1 * rng.standard_normal(len(saturdays)))}
            )
            for name in names
        ]
    ).sort_values("date")  # fmt: skip
    return garden_from_frames(picks, plantings, weather, household=Household())


def test_a_calm_log_gets_narrow_ranges_about_its_pace() -> None:
    garden = _regular(2.0)
    made = forecast(garden, "2025-08-30", weeks=1, draws=1000)
    plain = forecast(garden, "2025-08-30", weeks=1, draws=1000, rehearsals=0)
    week, alone = made.weekly("variety"), plain.weekly("variety")
    width, was = (frame["q90_kg"] - frame["q10_kg"] for frame in (week, alone))
    assert width.mean() < 0.85 * was.mean()
    assert np.abs(week["q50_kg"] - 2.0).mean() < np.abs(alone["q50_kg"] - 2.0).mean() + 0.05
    # Late August: it is getting cooler.
    assert week["q50_kg"].between(1.2, 2.8).all()


def test_past_weeks_are_forecast_from_what_was_known_then() -> None:
    garden = as_garden(simulate_garden(409, truth=False))
    day = pd.Timestamp("2026-08-09")
    made = forecast(garden, as_of=day, weeks=1, draws=100)
    cut = garden_from_frames(
        garden.picks[garden.picks["date"] <= day],
        garden.plantings[garden.plantings["date"] <= day],
        garden.weather[garden.weather["date"] <= day],
        household=garden.household,
    )
    again = forecast(cut, as_of=day, weeks=1, draws=100)
    assert made._net == again._net
    np.testing.assert_array_equal(made.mass_kg, again.mass_kg)


def test_what_it_leans_on_is_a_check() -> None:
    checks = forecast(_regular(2.0), "2025-08-30", weeks=1, draws=100).checks
    row = checks[checks["code"] == "forecast.leans"].iloc[0]
    assert row["crop"] == "all"
    assert row["threshold"] == 0.5
    assert row["comment"]
    none = forecast(_regular(2.0), "2025-08-30", weeks=1, draws=100, rehearsals=0).checks
    assert "forecast.leans" not in set(none["code"])


def test_what_it_leans_on_is_said_in_words() -> None:
    text = MESSAGES["forecast.leans"].cure
    said = [
        say(text, Net(*facts)._asdict())
        for facts in (
            (0.35, 0.8, 24, 5 / 3),
            (0.35, 0.8, 24, 0.8),
            (0.0, 0.8, 24, 1.02),
            (0.0, 1.0, 24, 1.3),
        )
    ]
    assert "by 35 %, since the curve has been 40 % too low" in said[0]
    assert "25 % too high" in said[1]
    assert "narrower" in said[2]
    assert "done as well" in said[3]
    assert forecast(_regular(2.0), "2025-08-30", weeks=1, draws=100).leaning.cases == 16


def test_in_the_first_weeks_the_pace_is_heard_whatever_past_weeks_say() -> None:
    """Three series of 7 pieces a week by the curve and 14 by the pace; nothing learned yet."""
    number = np.ones((50, 14, 3), dtype=np.float32)
    quantiles, alive = np.full((3, 50), 14.0), np.array([True, True, False])
    made = lean(number, NO_NET, quantiles, alive, np.array([0.3, 0.0, 0.3]))
    weeks = made.reshape(50, 2, 7, 3).sum(axis=2)[0]
    np.testing.assert_allclose(weeks[0], [9.1, 7.0, 7.0], rtol=1e-5)
    np.testing.assert_allclose(weeks[1], [8.05, 7.0, 7.0], rtol=1e-5)
    # Where past weeks ask for more than that, they are followed.
    more = lean(number, Net(0.5, 1.0, 9, 1.0), quantiles, alive, np.array([0.3, 0.0, 0.3]))
    np.testing.assert_allclose(more[:, :7].sum(axis=1)[0], [10.5, 10.5, 7.0], rtol=1e-5)


def test_rehearsals_out_of_range_are_refused() -> None:
    with pytest.raises(ValueError, match="from 0 to 12"):
        forecast(_regular(1.0), "2025-08-30", rehearsals=13)


def test_a_week_in_which_nothing_came_is_said() -> None:
    said = say(
        MESSAGES["forecast.leans"].cure, {"weight": 0.3, "width": 1.0, "cases": 2, "came": 0.0}
    )
    assert "nothing came" in said
