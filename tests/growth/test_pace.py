"""The recent pace moves the level of the draws and nothing else."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.forecast import forecast
from harvestcast.growth.future.pace import (
    FLOOR,
    MOST,
    blend,
    pace_weight,
    recent_pace,
)
from tests.simulated import as_garden, simulate_garden

UNIT = np.array([0.2])


def _blend(picked: np.ndarray, number: np.ndarray, *, from_stand: bool = True) -> np.ndarray:
    """Blend a single variety of a single crop."""
    return blend(picked, number, UNIT, crop=np.zeros(1, int), from_stand=np.array([from_stand]))


def _draws(level: float, *, draws: int = 4000, days: int = 21) -> np.ndarray:
    rng = np.random.default_rng(3)
    picks = rng.random((draws, days, 1)) < 0.4
    return np.where(picks, rng.poisson(level / 0.4 / UNIT[0], (draws, days, 1)), 0).astype(float)


def test_steady_picking_is_its_own_pace():
    pace, days = recent_pace(np.full((1, 30), 0.7), 10.0)
    assert pace[0] == pytest.approx(0.7)
    assert days[0] == 30


def test_pace_weighs_recent_days_more_than_a_plain_mean():
    rising = np.arange(1.0, 41.0)[None]
    pace, _ = recent_pace(rising)
    assert rising.mean() < pace[0] < recent_pace(rising, 10.0)[0][0] < rising.max()


@pytest.mark.parametrize("lately", [0.25, 1.0, 4.0])
def test_the_level_lies_between_curve_and_pace(lately):
    number = _draws(1.0)
    out = _blend(np.full((1, 60), lately), number)
    weight = pace_weight(np.array([60.0]), 3)[0]
    for week, w in enumerate(weight):
        part = slice(7 * week, 7 * week + 7)
        before, after = number[:, part].mean() * UNIT[0], out[:, part].mean() * UNIT[0]
        first = number[:, :7].mean() * UNIT[0]
        expected = before * ((lately + FLOOR * first) / ((1 + FLOOR) * first)) ** w
        assert after == pytest.approx(expected, rel=1e-5)
    assert 0 < weight[0] < weight[1] < weight[2] < MOST


def test_what_ripens_follows_its_curve_alone():
    number = _draws(1.0, draws=50)
    out = _blend(np.full((1, 60), 4.0), number, from_stand=False)
    np.testing.assert_array_equal(out, number)


def test_nothing_moves_before_the_first_pick():
    number = _draws(1.0, draws=50)
    np.testing.assert_array_equal(_blend(np.full((1, 60), np.nan), number), number)


def test_varieties_of_a_crop_move_together_and_what_is_over_stays():
    """The pace is that of the crop: who of its varieties gave it does not matter."""
    number = np.repeat(_draws(1.0, draws=500), 3, axis=2)
    picked = np.full((3, 60), np.nan)
    picked[0] = 6.0
    both = {"unit": np.repeat(UNIT, 3), "from_stand": np.ones(3, bool)}
    out = blend(picked, number, crop=np.array([0, 0, 1]), **both)
    np.testing.assert_array_equal(out[..., 1:], number[..., 1:])  # never picked, or over
    picked[1] = 0.0
    out = blend(picked, number, crop=np.array([0, 0, 1]), **both)
    # Three times the level a variety, so more than once the two of them are expected to give.
    assert out[..., 0].sum() == pytest.approx(out[..., 1].sum(), rel=0.02)
    assert 1.5 < out[..., 0].sum() / number[..., 0].sum() < 3.0


def test_days_without_a_pick_stay_so():
    number = _draws(1.0, draws=200)
    out = _blend(np.full((1, 60), 3.0), number)
    assert (out[number == 0] == 0).all()


def test_a_fit_that_fails_is_said_and_its_last_weeks_stand_in(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from harvestcast.growth.model import fit as fitting

    garden = as_garden(simulate_garden(5, years=(2026,), truth=False))
    day = pd.Timestamp("2026-08-05")
    usual = forecast(garden, as_of=day, weeks=2, draws=300, rehearsals=0)
    whole = fitting.posteriors

    def without_the_first(*given, **settings):
        found = whole(*given, **settings)
        far = [np.where(np.arange(len(p.distance)) == 0, np.nan, p.distance) for p in found]
        return tuple(replace(p, distance=d) for p, d in zip(found, far, strict=True))

    monkeypatch.setattr(fitting, "posteriors", without_the_first)
    made = forecast(garden, as_of=day, weeks=2, draws=300, rehearsals=0)
    checks = made.checks[made.checks["code"] == "fit.converged"].reset_index(drop=True)
    assert not checks["passed"][0]
    assert "its last weeks, drawn again" in checks["comment"][0]
    assert checks["passed"][1:].all()
    crop = made.keys[0][0]
    past = np.nan_to_num(fitting.fit_garden(garden, day).series[0].mass[-28:]).reshape(4, 7)
    drawn = np.unique(made.mass_kg[:, :7, 0].sum(axis=1))
    away = np.abs(drawn[:, None] - past.sum(axis=1)).min(axis=1)
    assert 1 < len(np.unique(drawn.round(6))) <= 4
    assert (away < 1e-6).all()
    # Others of other crops are what they were.
    others = [k for k, key in enumerate(made.keys) if key[0] != crop]
    np.testing.assert_array_equal(made.mass_kg[:, :, others], usual.mass_kg[:, :, others])


def test_a_garden_that_gives_more_lately_is_expected_to_give_more():
    """Same garden, same day; the last fortnight's picks are doubled."""
    simulated = simulate_garden(5, years=(2026,), truth=False)
    garden = as_garden(simulated)
    day = pd.Timestamp("2026-08-05")
    picks = garden.picks
    late = (picks["date"] > day - pd.Timedelta(days=14)) & (picks["date"] <= day)
    more = picks.copy()
    more.loc[late, ["mass_kg", "count"]] = more.loc[late, ["mass_kg", "count"]] * 2
    usual = forecast(garden, as_of=day, weeks=1, draws=200).mass_kg.sum(axis=(1, 2)).mean()
    doubled = forecast(replace(garden, picks=more), as_of=day, weeks=1, draws=200)
    assert doubled.mass_kg.sum(axis=(1, 2)).mean() > 1.15 * usual
