"""The fit: the mode is a mode, a series without noise gives back its curve, weights are weights."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import minimize

from harvestcast.growth.log.habit import EASE
from harvestcast.growth.log.series import gather
from harvestcast.growth.model.curve import CURVE, rate, season_heat, season_total
from harvestcast.growth.model.density import look_around, rates, rows_of, side_by_side
from harvestcast.growth.model.fit import Fit, fit_garden
from harvestcast.growth.model.noise import (
    FAST_DAYS,
    NOISE_LEVELS,
    SLOW_DAYS,
    deviation_basis,
    knots_of,
    noise_weights,
)
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from tests.growth.plain import log_posterior
from tests.simulated import as_garden, simulate_garden

SOWN = pd.Timestamp("2025-05-15")
LAST = pd.Timestamp("2025-09-30")
TRUE = np.log([0.02, 720.0, 420.0, 0.10, 0.15])
"""Level (kg per degree-day), heat of the rise, span, rise and fall as shares of the span."""


def _weather() -> pd.DataFrame:
    days = pd.date_range("2024-01-01", "2025-12-31")
    mean = 11 - 13 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    return pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 6})


def _garden(picks: pd.DataFrame | None = None) -> Garden:
    plantings = pd.DataFrame(
        {"crop": ["cucumber"], "variety": "Creek", "date": SOWN, "how": "sown", "plants": 6.0}
    )
    return garden_from_frames(picks, plantings, _weather(), household=Household())


@pytest.fixture(scope="module")
def exact() -> Garden:
    """A garden whose daily picks are exactly what the true curve makes ready that day."""
    season = gather(_garden(), LAST)
    series = season.series[0]
    mass = rate(TRUE, series.heat[0]) * series.daily
    standing = (season.dates > SOWN) & (mass > 0.01)
    picks = pd.DataFrame(
        {
            "date": season.dates[standing],
            "crop": "cucumber",
            "variety": "Creek",
            "mass_kg": mass[standing],
        }
    )
    return _garden(picks)


@pytest.fixture(scope="module")
def fitted(exact: Garden) -> Fit:
    return fit_garden(exact, LAST)


def _parameters(fit: Fit) -> np.ndarray:
    best = int(fit.weight[0].argmax())
    u = fit.posteriors[best].mode[0, :CURVE]
    return fit.evidence.prior_mean[0] + fit.evidence.prior_sd[0] * u


def test_a_series_without_noise_gives_back_its_curve(fitted: Fit) -> None:
    found = _parameters(fitted)
    # Not the prior: what is recovered starts a good way off.
    prior = fitted.evidence.prior_mean[0]
    assert abs(np.exp(prior[0] - TRUE[0]) - 1) > 0.25
    assert abs(season_heat(prior)[2] / season_heat(TRUE)[2] - 1) > 0.1
    np.testing.assert_allclose(season_heat(found)[1], season_heat(TRUE)[1], rtol=0.06)
    np.testing.assert_allclose(season_heat(found)[[0, 2]], season_heat(TRUE)[[0, 2]], rtol=0.12)
    # The level alone is told apart from a slow deviation only by the prior of both ...
    assert season_total(found) == pytest.approx(season_total(TRUE), rel=0.2)


def test_fitted_days_add_up_to_what_was_picked(exact: Garden, fitted: Fit) -> None:
    """... but curve and deviation together are what was picked every day."""
    best = int(fitted.weight[0].argmax())
    found = rates(fitted.evidence_under(best), fitted.posteriors[best].mode)
    assert found[0].sum() == pytest.approx(exact.picks["mass_kg"].sum(), rel=0.05)


def test_a_household_that_picks_whatever_is_there_is_recognised(exact: Garden, fitted: Fit) -> None:
    """In full bearing, daily picks without noise are what is thought to ripen."""
    assert fitted.noises[0].ease[0] > 1.0 > EASE
    best = int(fitted.weight[0].argmax())
    found = rates(fitted.evidence_under(best), fitted.posteriors[best].mode)[0]
    picked = fitted.evidence.picked[0]
    full = np.nan_to_num(picked) > 0.5 * np.nanmax(picked)
    assert full.sum() > 20
    assert found[full].sum() == pytest.approx(picked[full].sum(), rel=0.05)


def test_the_mode_is_a_mode(fitted: Fit) -> None:
    """A general-purpose optimiser of the same density finds nothing better."""
    noise, evidence = fitted.noises[0], fitted.evidence_under(0)
    mode = fitted.posteriors[0].mode

    def lost(u: np.ndarray) -> float:
        return -float(log_posterior(evidence, noise, u[None])[0])

    better = minimize(lost, mode[0], method="L-BFGS-B", options={"maxiter": 40})
    assert lost(mode[0]) - better.fun < 0.05
    assert fitted.posteriors[0].distance[0] < 0.05
    far = mode[0].copy()
    far[0] += 0.5
    assert lost(far) > lost(mode[0]) + 0.5


def test_the_curvature_is_that_of_the_density(fitted: Fit) -> None:
    """Second differences of the plainly written density, along every unknown and two at a time."""
    noise, evidence = fitted.noises[0], fitted.evidence_under(0)
    mode, found = fitted.posteriors[0].mode[0], fitted.posteriors[0].precision[0]
    rng = np.random.default_rng(5)
    eye = np.eye(len(mode))
    ways = [*eye[:8], *(rng.standard_normal((6, len(mode))))]
    for way in ways:
        step = 1e-3 * way / np.linalg.norm(way)
        three = [
            float(log_posterior(evidence, noise, (mode + k * step)[None])[0]) for k in (-1, 0, 1)
        ]
        bend = (2 * three[1] - three[0] - three[2]) / 1e-6
        assert bend == pytest.approx(way @ found @ way / (way @ way), rel=2e-3)


def test_draws_have_the_spread_of_the_posterior(fitted: Fit) -> None:
    post = fitted.posteriors[0]
    normals = np.random.default_rng(2).standard_normal((20000, post.mode.shape[1]))
    draws = post.draw_one(0, normals)
    np.testing.assert_allclose(draws.mean(axis=0), post.mode[0], atol=0.05)
    covariance = np.linalg.inv(post.precision[0])
    np.testing.assert_allclose(np.cov(draws.T), covariance, atol=0.05)


def test_picks_narrow_the_curve(exact: Garden) -> None:
    """The spread of the level and of the end of bearing falls as picks come in."""
    spread = []
    for day in ("2025-07-01", "2025-07-25", "2025-09-20"):
        fit = fit_garden(exact, day)
        head = np.linalg.inv(fit.posteriors[0].precision[0])[:CURVE, :CURVE]
        spread.append(np.sqrt(np.diag(head)) * fit.evidence.prior_sd[0])
    before, some, all_of_it = spread
    assert all_of_it[0] < some[0] < before[0]
    assert all_of_it[2] < before[2]


def test_nothing_later_is_read(exact: Garden) -> None:
    day = pd.Timestamp("2025-08-01")
    picks, weather = exact.picks, exact.weather
    cut = garden_from_frames(
        picks[picks["date"] <= day],
        exact.plantings,
        weather[weather["date"] <= day],
        household=exact.household,
    )
    one, two = fit_garden(exact, day), fit_garden(cut, day)
    np.testing.assert_array_equal(one.posteriors[0].mode, two.posteriors[0].mode)
    np.testing.assert_array_equal(one.weight, two.weight)


def test_deviation_between_knots_has_the_covariance_of_two_decaying_processes() -> None:
    basis = deviation_basis(61, 20, slow=0.6, fast=0.4)
    assert basis.shape == (81, knots_of(61) + 4)
    at = np.r_[0:30:10, 30:81:5]  # the last day known is the 61st, on a knot
    apart = np.abs(at[:, None] - at)
    expected = 0.36 * np.exp(-apart / SLOW_DAYS) + 0.16 * np.exp(-apart / FAST_DAYS)
    np.testing.assert_allclose((basis @ basis.T)[np.ix_(at, at)], expected, atol=1e-10)


def test_a_shorter_past_is_the_head_of_a_longer_one() -> None:
    long, short = (deviation_basis(days, slow=0.6, fast=0.4) for days in (97, 33))
    np.testing.assert_allclose(long[-33:, : knots_of(33)], short, atol=1e-12)
    np.testing.assert_allclose(long[-33:, knots_of(33) :], 0.0, atol=1e-12)
    for days in (1, 2, 6):
        alone = deviation_basis(days, slow=0.6, fast=0.4)
        assert alone.shape == (days, knots_of(days))
        assert (alone[-1] ** 2).sum() == pytest.approx(0.52)


def test_weights_sum_to_one_and_follow_the_evidence() -> None:
    n = len(NOISE_LEVELS)
    even = noise_weights(np.zeros((3, n)), np.array([False, False, True]))
    np.testing.assert_allclose(even.sum(axis=1), 1.0)
    np.testing.assert_allclose(even[0], np.array([t.fruit for t in NOISE_LEVELS]), atol=1e-6)
    stand = np.array([t.stand for t in NOISE_LEVELS])
    np.testing.assert_allclose(even[2], stand / stand.sum(), atol=1e-6)
    told = np.zeros((3, n))
    told[0, 2] = 30.0
    weight = noise_weights(told, np.zeros(3, dtype=bool))
    assert weight[0, 2] > 0.99
    # The garden's mix is learned: kin lean towards what one of them shows.
    assert weight[1, 2] > even[1, 2]


def test_no_series_is_no_error() -> None:
    fit = fit_garden(
        garden_from_frames(None, None, _weather(), household=Household()), "2025-07-01"
    )
    assert fit.series == ()
    assert fit.weight.shape == (0, len(NOISE_LEVELS))


def test_one_weight_in_grams_does_not_make_every_fruit_a_hundredweight() -> None:
    days = pd.date_range("2025-07-15", periods=12, freq="2D")
    picks = pd.DataFrame(
        {"date": days, "crop": "cucumber", "variety": "Creek", "count": 8.0, "mass_kg": 2.1}
    )
    slip = picks.copy()
    slip.loc[5, "mass_kg"] = 2100.0
    right, wrong = (gather(_garden(rows), LAST).series[0] for rows in (picks, slip))
    assert wrong.fruit_kg == pytest.approx(right.fruit_kg, rel=0.02)
    assert wrong.doubted == 1


@pytest.mark.parametrize("zeros", [False, True])
def test_rows_of_two_chunks_side_by_side_stand_where_they_stood(zeros: bool) -> None:
    """Chunks of unlike length, their rows mixed; what is not a row's own says nothing of it."""
    garden = as_garden(simulate_garden(5, years=(2026,), truth=False))
    fit = fit_garden(garden, "2026-08-05")
    days = len(fit.dates)
    past = [basis[:days, : knots_of(days)] for basis in fit.bases]
    rng = np.random.default_rng(4)
    parts, places, starts = [], [], []
    for series, span in ((np.array([0, 1, 2]), days), (np.array([3, 4]), days - 23)):
        knots = knots_of(span)
        rows = rows_of(fit.evidence, fit.noises, past, series, span, knots)
        some = np.arange(0, len(rows.first), 2)
        parts.append(rows.at(some))
        if zeros and len(parts) == 2:  # zeros were written in one of the chunks only
            empty = np.arange(span)[:, None] % 3 == 0
            parts[1] = replace(parts[1], zero=empty & ~parts[1].picked)
        starts.append(0.3 * rng.standard_normal((len(some), CURVE + knots)))
        places.append(look_around(parts[-1], starts[-1], np.arange(len(some)) % 2 == 0))
    widest = starts[0].shape[1]
    u = np.zeros((sum(map(len, starts)), widest))
    u[: len(starts[0])] = starts[0]
    u[len(starts[0]) :, : starts[1].shape[1]] = starts[1]
    near = np.concatenate([np.arange(len(s)) % 2 == 0 for s in starts])
    both = look_around(side_by_side(parts), u, near)
    at = 0
    for start, place in zip(starts, places, strict=True):
        mine, own = slice(at, at + len(start)), start.shape[1]
        np.testing.assert_allclose(both.value[mine], place.value, rtol=1e-9)
        np.testing.assert_allclose(both.slope[mine, :own], place.slope, rtol=1e-6, atol=1e-8)
        np.testing.assert_allclose(
            both.curvature[mine, :own, :own], place.curvature, rtol=1e-6, atol=1e-8
        )
        np.testing.assert_array_equal(both.slope[mine, own:], 0.0)
        at += len(start)
