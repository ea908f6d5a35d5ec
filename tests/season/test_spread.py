"""The spread between plantings: published trials, and the Gaussian algebra against closed forms."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvestcast.season.yields.spread import Spread, between_plots, draw_expected, plot_spread


def _sure(
    plot: float, plant: float, variety: float, year: float = 0.0, both: float = 0.0
) -> Spread:
    """Spreads that are known exactly, so that the posterior has a closed form."""
    return Spread(
        plot=(plot, 0.0), plant=(plant, 0.0), variety=(variety, 0.0), year=(year, 0.0),
        variety_year=(both, 0.0), source="test",
    )  # fmt: skip


def test_published_spreads_between_plots(shared: Callable[[str], Path]) -> None:
    """science/between_plot_cv.csv: coefficients of variation computed from agridat data files."""
    outside = pd.read_csv(shared("science/between_plot_cv.csv"))
    ours = between_plots()
    wanted = outside[outside["what"] != "early fruit count per plot"]
    assert sorted(ours["plots"]) == sorted(wanted["n"])
    for number in sorted(set(wanted["n"])):
        mine = sorted(ours.loc[ours["plots"] == number, "cv"])
        assert mine == pytest.approx(sorted(wanted.loc[wanted["n"] == number, "cv"]), abs=5e-4)


def test_spread_of_a_crop_lies_between_its_trials_and_all_crops() -> None:
    tomato = between_plots().query("crop == 'tomato'")["cv"]
    assert 0.9 * tomato.min() < plot_spread("tomato")[0] < tomato.max()
    unknown = plot_spread("moon melon")
    # No trial of the crop: the geometric mean of all, CV 0.08 to 0.34.
    assert 0.15 < unknown[0] < 0.25
    assert unknown[1] > 0.3


def test_one_variety_is_the_mean_of_its_plantings() -> None:
    """Nearly free mean, known spreads: mean and variance of the sample mean (closed form)."""
    y = np.array([1.0, 1.4, 0.9, 1.1])
    found = draw_expected(
        y, np.zeros(4), np.zeros(4, int), np.full(4, 4.0), _sure(0.2, 0.3, 0.4),
        draws=40_000, rng=np.random.default_rng(1), logged=False,
    )  # fmt: skip
    variance = (0.2**2 + 0.3**2 / 4) / 4
    assert found.expected.mean() == pytest.approx(y.mean(), abs=0.01)
    assert found.expected.std() == pytest.approx(np.sqrt(variance), rel=0.02)
    again = np.sqrt(variance + 0.2**2 + 0.3**2 / 4)
    assert found.again.std() == pytest.approx(again, rel=0.02)


def test_logged_values_give_the_log_of_the_mean() -> None:
    """exp of a normal has mean exp(mu + s^2/2): the expected yield lies above the median."""
    rng = np.random.default_rng(7)
    sd = np.hypot(0.2, 0.3)
    plots = np.log(5.0) + sd * rng.standard_normal(60)
    plots += np.log(5.0) - plots.mean()  # the sample's own luck taken out
    found = draw_expected(
        plots, np.zeros(60), np.zeros(60, int), np.ones(60), _sure(0.2, 0.3, 0.4),
        draws=2000, rng=rng,
    )  # fmt: skip
    assert np.median(np.exp(found.expected)) == pytest.approx(5 * np.exp(sd**2 / 2), rel=0.01)
    assert np.exp(found.again).mean() == pytest.approx(5 * np.exp(sd**2 / 2), rel=0.03)


def test_two_varieties_are_drawn_together_as_the_algebra_says() -> None:
    """Two varieties, a plant each: the difference shrinks by 2w/(2w+2p) (normal model).

    Gelman et al., Bayesian Data Analysis, 3rd ed., section 5.4: group means under a flat mean.
    """
    y = np.array([0.0, 1.0])
    w, p = 0.3, 0.4
    found = draw_expected(
        y, np.zeros(2), np.array([0, 1]), np.ones(2), _sure(p, 0.0, w),
        draws=60_000, rng=np.random.default_rng(2), logged=False,
    )  # fmt: skip
    difference = found.expected[:, 1] - found.expected[:, 0]
    shrink = w**2 / (w**2 + p**2)
    assert difference.mean() == pytest.approx(shrink, abs=0.01)
    assert difference.std() == pytest.approx(np.sqrt(2 * p**2 * shrink), rel=0.02)


def test_more_seasons_narrow_the_mean_over_seasons() -> None:
    spread = Spread(plot=(0.2, 0.3), plant=(0.3, 0.3), variety=(0.3, 0.3), year=(0.2, 0.3),
                    variety_year=(0.1, 0.3), source="test")  # fmt: skip
    widths = []
    for seasons in (1, 4, 9):
        y = np.full(seasons, 1.0)
        found = draw_expected(
            y, np.full(seasons, 0.1), np.zeros(seasons, int), np.full(seasons, 3.0), spread,
            draws=4000, rng=np.random.default_rng(3), year=np.arange(seasons),
        )  # fmt: skip
        widths.append(np.ptp(np.quantile(found.expected, [0.05, 0.95])))
    assert widths[0] > 1.5 * widths[1] > 1.2 * 1.5 * widths[2]


def test_data_move_the_spread_between_plots() -> None:
    """Many plantings that differ a lot: one more planting spreads as they do, not as the prior."""
    spread = Spread(plot=(0.2, 0.6), plant=(0.1, 0.3), variety=(0.3, 0.3), year=(0.2, 0.3),
                    variety_year=(0.1, 0.3), source="test")  # fmt: skip
    rng = np.random.default_rng(4)
    y = rng.normal(0.0, 0.6, 40)
    found = draw_expected(y, np.zeros(40), np.zeros(40, int), np.full(40, 9.0), spread,
                          draws=4000, rng=rng, logged=False)  # fmt: skip
    assert found.again.std() == pytest.approx(np.std(y), rel=0.15)
    assert found.effective > 20


def test_same_seed_same_draws() -> None:
    def once() -> np.ndarray:
        return draw_expected(
            np.array([0.1, 0.4]), np.full(2, 0.1), np.array([0, 1]), np.ones(2),
            _sure(0.2, 0.3, 0.4), draws=50, rng=np.random.default_rng(9),
        ).expected  # fmt: skip

    assert (once() == once()).all()
