"""Spread learned from past forecasts: widened, narrowed, left alone; and never looking ahead."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.forecast import forecast
from harvestcast.growth.future.calibration import (
    ENOUGH,
    NARROWEST,
    TRUST,
    WIDEST,
    learn_width,
    stretch,
    stretch_weeks,
)
from tests.simulated import as_garden, simulate_garden


def _past(true_sd: float, said_sd: float, cases: int, seed: int = 1) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(seed)
    level = rng.uniform(5.0, 15.0, cases)
    observed = level * (1.0 + true_sd * rng.standard_normal(cases))
    draws = level[:, None] * (1.0 + said_sd * rng.standard_normal((cases, 300)))
    return np.maximum(observed, 0.0), np.maximum(draws, 0.0)


@pytest.mark.parametrize(
    ("true_sd", "said_sd", "low", "high"),
    [(0.3, 0.2, 1.3, 1.6), (0.2, 0.2, 0.9, 1.1), (0.15, 0.2, 0.7, 0.85)],
)
def test_the_width_follows_past_errors(true_sd, said_sd, low, high):
    width = learn_width(*_past(true_sd, said_sd, 400))
    assert low <= width.factor <= high
    assert width.cases == 400


def test_learned_widths_mend_the_coverage_of_weeks_not_learned_from():
    width = learn_width(*_past(0.3, 0.2, 300))
    observed, draws = _past(0.3, 0.2, 2000, seed=2)

    def covered(d: np.ndarray) -> float:
        low, high = np.quantile(d, [0.1, 0.9], axis=1)
        return float(((low <= observed) & (observed <= high)).mean())

    assert covered(draws) < 0.65
    assert 0.76 <= covered(stretch(draws, width.factor)) <= 0.86


def test_too_few_weeks_change_nothing():
    assert learn_width(*_past(0.9, 0.1, ENOUGH - 1)).factor == 1.0


def test_the_factor_is_the_conformal_quantile_held_towards_one():
    """Worked by hand: ranges of -1 to 1 about 0 moved to 10, misses of 0.1, 0.2 ... 4.0."""
    draws = np.tile(10.0 + np.linspace(-1.25, 1.25, 2501), (40, 1))  # 10 % and 90 %: 9 and 11
    missed = 10.0 + np.arange(1, 41) / 10.0
    # 0.8 * 41 / 40 = 0.82 of the way from 0.1 to 4.0 by steps of 0.1: 3.298
    expected = np.exp(np.log(3.298) * 40 / (40 + TRUST))
    assert learn_width(missed, draws).factor == pytest.approx(min(expected, WIDEST), rel=1e-3)
    near = 10.0 + np.arange(1, 41) / 40.0
    expected = np.exp(np.log(3.298 / 4) * 40 / (40 + TRUST))
    assert learn_width(near, draws).factor == pytest.approx(expected, rel=1e-3)


def test_weeks_are_stretched_about_their_median_in_whole_pieces():
    rng = np.random.default_rng(4)
    number = rng.poisson(12.0, (4000, 14, 2)).astype(float)
    number[:40] = 0.0
    wide = stretch_weeks(number, 1.4, seed=1)
    np.testing.assert_array_equal(wide, np.rint(wide))
    assert (wide[:40] == 0).all()
    for week in (slice(0, 7), slice(7, 14)):
        before, after = number[40:, week].sum(axis=1), wide[40:, week].sum(axis=1)
        np.testing.assert_allclose(np.median(after, axis=0), np.median(before, axis=0), atol=1.0)
        # Rounding to pieces adds at most 7/4 to a variance of 1.4^2 * 84.
        np.testing.assert_allclose(after.std(axis=0), 1.4 * before.std(axis=0), rtol=0.03)
    assert stretch_weeks(number, 1.0, seed=1) is number


def test_rehearsals_of_a_garden_learn_from_its_past_weeks_only():
    garden = as_garden(simulate_garden(3, years=(2026,), truth=False))
    day = pd.Timestamp("2026-08-12")
    plain = forecast(garden, as_of=day, weeks=1, draws=100)
    learned = forecast(garden, as_of=day, weeks=1, draws=100, rehearsals=3)
    row = learned.checks.query("check == 'spread learned from past forecasts'")
    assert len(row) == 1 and NARROWEST <= row["statistic"].item() <= WIDEST
    np.testing.assert_allclose(
        np.median(learned.mass_kg.sum(axis=1), axis=0),
        np.median(plain.mass_kg.sum(axis=1), axis=0),
        rtol=0.1,
        atol=0.3,
    )
    later = garden.picks["date"] > day
    cut = replace(garden, picks=garden.picks[~later].reset_index(drop=True))
    again = forecast(cut, as_of=day, weeks=1, draws=100, rehearsals=3)
    np.testing.assert_array_equal(again.mass_kg, learned.mass_kg)


def test_rehearsals_out_of_range_are_refused():
    garden = as_garden(simulate_garden(3, crops=("cucumber",), years=(2026,), truth=False))
    with pytest.raises(ValueError, match="from 0 to 12"):
        forecast(garden, rehearsals=13)
