"""The yield curve: answers derivable by hand, numerical derivatives, and everybody who calls it."""

import numpy as np
import pandas as pd
import pytest
from scipy.integrate import quad
from scipy.special import expit

from harvestcast.growth.crops.almanac import crop_facts, daily_heat
from harvestcast.growth.log.series import log_warmth
from harvestcast.growth.model.curve import (
    CURVE,
    SHAPE,
    bearing,
    curve_of,
    derivatives,
    rate,
    season_heat,
    season_total,
    stand_bearing,
    summed_bends,
)
from harvestcast.growth.model.density import rates
from harvestcast.growth.model.fit import Fit, fit_garden
from harvestcast.season.next.futures import _rate
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.review.average_year import _total
from harvestcast.season.yields.curves import Curves
from harvestcast.season.yields.placing import grown_in, season_rate
from tests.growth.plain import log_rate
from tests.simulated import as_garden, simulate_garden

P = np.array([np.log(0.02), np.log(600.0), np.log(500.0), np.log(0.1), np.log(0.2)])
HEAT = np.linspace(0.0, 2500.0, 26)


def test_half_height_where_it_rises_and_falls() -> None:
    h1, h2, _, _ = curve = curve_of(P)
    values = bearing(curve, np.array([h1, h2]))
    # The other edge is many widths away: 10 at the rise, 5 at the fall.
    assert values[0] == pytest.approx(0.5 * expit(500 / 100), rel=1e-12)
    assert values[1] == pytest.approx(0.5 * expit(500 / 50), rel=1e-12)


def test_never_above_full_bearing_and_one_peak() -> None:
    values = bearing(curve_of(P), np.linspace(0, 3000, 500))
    assert values.max() <= 1
    turns = np.diff(np.sign(np.diff(values)))
    assert (turns != 0).sum() == 1


def test_far_outside_it_is_finite_in_logs_in_either_precision() -> None:
    for kind in (np.float64, np.float32):
        curve = tuple(kind(x) for x in (600.0, 1100.0, 1.0, 1.0))
        values = bearing(curve, np.array([0.0, 1e6], dtype=kind))
        assert values.dtype == kind
        assert np.isfinite(np.log(values)).all()
        assert (values < 1e-15).all()


def test_total_and_heat_of_shares_agree_with_integration() -> None:
    def at(h: float) -> float:
        return float(rate(P, np.array(h)))

    h1, h2 = (float(x) for x in curve_of(P)[:2])
    total = quad(at, 0, 3000, points=[h1, h2], limit=200)[0]
    assert season_total(P) == pytest.approx(total, rel=2e-4)
    for share, heat in zip((0.1, 0.5, 0.9), season_heat(P), strict=True):
        assert quad(at, 0, heat, points=[h1], limit=200)[0] / total == pytest.approx(
            share, abs=2e-3
        )


def _curves(number: int) -> np.ndarray:
    return P + np.random.default_rng(3).normal(0.0, 0.3, (number, CURVE))


def test_the_rate_is_the_formula_written_down_plainly() -> None:
    for theta in _curves(20):
        np.testing.assert_allclose(rate(theta, HEAT), np.exp(log_rate(theta, HEAT)), rtol=1e-12)


def test_slopes_are_those_of_a_complex_step() -> None:
    """f'(x) = Im f(x + ih) / h to the last digit (Squire and Trapp 1998, from memory)."""
    theta = _curves(20)
    found = derivatives(curve_of(theta), HEAT[:, None])
    np.testing.assert_allclose(found.bearing * np.exp(theta[:, 0]), rate(theta, HEAT[:, None]))
    for one in range(SHAPE):
        step = np.zeros(CURVE, dtype=complex)
        step[1 + one] = 1e-30j
        by = [log_rate(theta[k] + step, HEAT).imag / 1e-30 for k in range(len(theta))]
        np.testing.assert_allclose(found.slopes[..., one], np.transpose(by), rtol=1e-9, atol=1e-12)


def test_bends_are_differences_of_the_slopes() -> None:
    """Central differences of complex-step slopes; weighted sums over days are sums."""
    theta, step = _curves(20), 1e-5

    def slopes(moved: np.ndarray) -> np.ndarray:
        return derivatives(curve_of(moved), HEAT[:, None]).slopes

    at = derivatives(curve_of(theta), HEAT[:, None])
    expected = np.empty((len(HEAT), len(theta), SHAPE, SHAPE))
    for one in range(SHAPE):
        move = step * np.eye(CURVE)[1 + one]
        expected[..., one] = (slopes(theta + move) - slopes(theta - move)) / (2 * step)
    for day in range(len(HEAT)):
        alone = np.zeros((len(HEAT), len(theta)))
        alone[day] = 1.0
        np.testing.assert_allclose(summed_bends(at, alone), expected[day], rtol=1e-6, atol=1e-6)
    weight = np.random.default_rng(4).normal(size=(len(HEAT), len(theta)))
    np.testing.assert_allclose(
        summed_bends(at, weight),
        np.einsum("dk,dkij->kij", weight, expected),
        rtol=1e-6,
        atol=1e-5,
    )


@pytest.fixture(scope="module")
def fit() -> Fit:
    """Two varieties of two crops in full bearing, one of them sown twice."""
    told = simulate_garden(604, crops=("zucchini", "snap bean"), truth=False)
    return fit_garden(as_garden(told), pd.Timestamp("2026-08-09"), days_ahead=7)


def _expected(fit: Fit, row: int, theta: np.ndarray) -> np.ndarray:
    """Rates of the season so far by the plain formula, no deviations (days,)."""
    heat, share = fit.evidence.heat[row], fit.evidence.share[row]
    grown = (share * np.exp([log_rate(theta, h) for h in heat])).sum(axis=0)
    return np.asarray(grown * np.exp(fit.evidence.log_warmth[row]))


def test_the_fit_and_the_season_call_the_same_curve(fit: Fit) -> None:
    e = fit.evidence
    u = np.zeros((len(e.prior_mean), CURVE + e.knots.shape[1]))
    found = rates(e, u)
    for row, theta in enumerate(e.prior_mean):
        expected = _expected(fit, row, theta)
        # The fit adds a picogram, so that it can take logs.
        np.testing.assert_allclose(found[row], expected, rtol=1e-9, atol=1e-9)
        np.testing.assert_allclose(
            season_rate(grown_in(fit, row), theta[None])[0], expected, rtol=1e-9
        )


def test_draws_of_the_forecast_call_the_same_curve() -> None:
    theta = _curves(20)
    heat = np.stack((HEAT, HEAT + 200.0))
    share = np.array([0.25, 0.75])
    found = stand_bearing(
        theta.astype(np.float32),
        heat[:, :, None].astype(np.float32),
        share[:, None, None].astype(np.float32),
    )
    for draw, one in enumerate(theta):
        level = np.exp(one[0])
        expected = sum(s * rate(one, h) / level for s, h in zip(share, heat, strict=True))
        np.testing.assert_allclose(found[:, draw], expected, rtol=2e-4, atol=1e-12)


def _weather() -> tuple[np.ndarray, np.ndarray]:
    day = np.arange(349)
    mean = 11 - 13 * np.cos(2 * np.pi * (day - 14) / 365)
    return mean - 4.0, mean + 8.0


def test_an_average_year_calls_the_same_curve() -> None:
    facts = crop_facts("cucumber")
    tmin, tmax = _weather()
    daily = daily_heat(facts, tmin, tmax)
    heat = np.cumsum(np.where(np.arange(len(daily)) >= 140, daily, 0.0))
    by_day = np.exp(log_rate(P, heat) - P[0] + log_warmth(daily))
    by_day[:140] = 0.0
    assert _total(P[None], facts, 140, (tmin, tmax), -50.0) == pytest.approx(by_day.sum(), rel=1e-9)


def test_next_year_calls_the_same_curve() -> None:
    facts = crop_facts("rhubarb")
    daily = daily_heat(facts, *_weather())[None]
    option = PlantingOption(
        crop="rhubarb",
        variety="Old Crown",
        how="set_out",
        date=pd.Timestamp("2027-01-01"),
        area_m2=1.0,
        row_m=1.0,
        step=1,
        low=1.0,
        high=1.0,
        this_year=1.0,
        since=pd.NaT,
        basis="",
    )
    base = P[0] + log_warmth(daily)
    curve = Curves(theta=P[None], noise_sd=0.0, plot_sd=0.0, basis="", least_heat=np.zeros(1))
    found = _rate(option, facts, curve, daily, base, pd.Timestamp("2027-01-01"), 0)
    expected = np.exp(log_rate(P, np.cumsum(daily, axis=1)) + log_warmth(daily))
    np.testing.assert_allclose(found, expected, rtol=1e-9)
