"""The draws of a forecast against full Markov chain Monte Carlo of the same posterior (emcee)."""

from dataclasses import replace
from functools import cache

import emcee
import numpy as np
import pytest

from harvestcast.growth.future.draws import draw_series, hanging_past, log_likelihood
from harvestcast.growth.future.numbers import coming_knots, garden_numbers
from harvestcast.growth.model.curve import CURVE, bearing, curve_of
from harvestcast.growth.model.density import Evidence
from harvestcast.growth.model.fit import Fit, fit_garden
from tests.growth.plain import log_posterior
from tests.simulated import as_garden, simulate_garden

CROPS = ("cucumber", "zucchini", "snap bean", "tomato", "sweet pepper", "okra")


EARLY, LATE = "2026-07-26", "2026-08-23"


@cache
def _fit(day: str) -> Fit:
    garden = as_garden(simulate_garden(3, crops=CROPS, varieties=1, truth=False))
    return fit_garden(garden, day)


@pytest.fixture
def fit() -> Fit:
    """A season that is under way for some crops and still ahead for others."""
    return _fit(EARLY)


def _row(fit: Fit, crop: str) -> int:
    return [s.crop for s in fit.series].index(crop)


def _own(fit: Fit, row: int, level: int, copies: int) -> Evidence:
    """Evidence of one series, its own days and knots only, so many times over."""
    since, own = int(fit.since[row]), int(fit.posteriors[level].knots[row])
    e = fit.evidence_under(level).at(np.full(copies, row))
    return replace(
        e,
        heat=e.heat[..., since:],
        share=e.share[..., since:],
        log_warmth=e.log_warmth[:, since:],
        picked=e.picked[:, since:],
        came=e.came[:, since:],
        gathered=e.gathered[:, since:],
        knots=e.knots[since:, :own],
    )


def _coming_week(fit: Fit, row: int, theta: np.ndarray, deviation: np.ndarray) -> np.ndarray:
    """What becomes ready in seven days, were they as warm as the last seven (draws,)."""
    s = fit.series[row]
    heat = s.heat[0, -1] + np.cumsum(s.daily[-7:])
    log = theta[:, :1] + fit.evidence.log_warmth[row, -7:] + deviation
    shape = bearing(curve_of(theta.astype(float)[:, None]), heat)
    return (np.exp(log) * shape).sum(axis=1)


def _density(fit: Fit, row: int, level: int, u: np.ndarray) -> np.ndarray:
    """Log posterior as draws are weighed by it, but for a constant (draws,)."""
    single, noise = np.float32, fit.noises[level]
    theta = fit.evidence.prior_mean[row] + fit.evidence.prior_sd[row] * u[:, :CURVE]
    basis = fit.bases[level][int(fit.since[row]) : len(fit.dates), : u.shape[1] - CURVE]
    ones = np.ones(len(u), dtype=single)
    hanging = hanging_past(
        fit,
        row,
        theta.astype(single),
        (basis @ u[:, CURVE:].T).astype(single),
        single(noise.keep[row]) * ones,
    )
    said = log_likelihood(fit, row, hanging, single(noise.size[row]) * ones)
    return said.sum(axis=0, dtype=float) - 0.5 * (u**2).sum(axis=1)


def test_the_density_draws_are_weighed_by_is_that_of_the_model(fit: Fit) -> None:
    rng = np.random.default_rng(1)
    for row in range(len(fit.series)):
        level = int(fit.weight[row].argmax())
        post = fit.posteriors[level]
        u = post.draw_own(row, rng.standard_normal((40, CURVE + int(post.knots[row]))))
        noise = fit.noises[level].at(np.full(40, row))
        plain = log_posterior(_own(fit, row, level, 40), noise, u)
        fast = _density(fit, row, level, u)
        # Up to a constant, over a range of tens.
        assert np.ptp(plain) > 5.0
        np.testing.assert_allclose(fast - fast[0], plain - plain[0], atol=2e-3)


@pytest.mark.statistics
@pytest.mark.parametrize(
    ("day", "crop", "times"),
    [
        (EARLY, "okra", 1),  # not picked yet
        (EARLY, "zucchini", 1),
        (LATE, "okra", 1),
        (LATE, "sweet pepper", 1),
        (LATE, "cucumber", 1),
        (LATE, "tomato", 1),
        # Hardly picked yet, and its 90 % quantile uncertain by a thirtieth of the range after a
        # chain as short as the others': a longer one, and more draws.
        (EARLY, "snap bean", 4),
        (LATE, "zucchini", 1),
    ],
)
def test_quantiles_of_the_week_agree_with_the_chain(day: str, crop: str, times: int) -> None:
    fit = _fit(day)
    row = _row(fit, crop)
    level = int(fit.weight[row].argmax())
    post, rng = fit.posteriors[level], np.random.default_rng(2)
    width, walkers = CURVE + int(post.knots[row]), 256

    def density(u: np.ndarray) -> np.ndarray:
        # That of the test above: five times as fast as the plain one.
        with np.errstate(over="ignore"):
            return _density(fit, row, level, u)

    # Not DESnookerMove: in emcee 3.1 it does not keep the density (its direction is divided by the
    # root of its length), and chains with it fall 5 % short of the largest harvests here.
    moves = [(emcee.moves.DEMove(), 0.8), (emcee.moves.StretchMove(), 0.2)]
    chain = emcee.EnsembleSampler(walkers, width, density, vectorize=True, moves=moves)
    chain.random_state = np.random.RandomState(3).get_state()
    begin = chain.run_mcmc(post.draw_own(row, rng.standard_normal((walkers, width))), 500)
    chain.reset()
    chain.run_mcmc(begin, 1000 * times, thin_by=5)
    u = chain.get_chain(flat=True)
    assert len(u) / chain.get_autocorr_time(tol=0).max() > 10000
    ahead = fit.bases[level][len(fit.dates) : len(fit.dates) + 7]
    to_come = coming_knots(fit)
    basis = np.concatenate((ahead[:, : width - CURVE], ahead[:, -to_come:]), axis=1)
    fresh = rng.standard_normal((len(u), to_come))
    deviation = np.concatenate((u[:, CURVE:], fresh), axis=1) @ basis.T
    theta = fit.evidence.prior_mean[row] + fit.evidence.prior_sd[row] * u[:, :CURVE]
    theirs = np.quantile(_coming_week(fit, row, theta, deviation), (0.1, 0.5, 0.9))

    only = np.zeros_like(fit.weight)
    only[:, level] = 1.0
    ours = []
    for seed in range(times):
        numbers = garden_numbers(fit, 2**15, tried=2**17, seed=seed)
        drawn = draw_series(replace(fit, weight=only), row, numbers.tried, numbers.own[row])
        on = ~drawn.over  # the chain knows of no end that nobody wrote down
        ours.append(_coming_week(fit, row, drawn.theta[on], drawn.coming[:7, on].T))
    off = (np.quantile(np.concatenate(ours), (0.1, 0.5, 0.9)) - theirs) / (theirs[2] - theirs[0])
    assert np.abs(off).max() < 0.05, off.round(3)
