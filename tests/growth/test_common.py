"""Draws of varieties of one crop go wrong together, and each variety keeps its law."""

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy.stats import spearmanr

from harvestcast.growth.future.draws import draw_series
from harvestcast.growth.future.ripening import futures
from harvestcast.growth.future.shared_draws import (
    DOUBT_OF_CROP,
    OF_CROP,
    OF_GARDEN,
    common_to_series,
    dealt_by_rank,
    own_normals,
)
from harvestcast.growth.model.fit import Fit, fit_garden
from tests.simulated import as_garden, simulate_garden

AS_OF = pd.Timestamp("2026-08-09")
DRAWS = 4000


@cache
def _fit() -> Fit:
    """Two varieties each of three crops in full bearing."""
    told = simulate_garden(604, crops=("zucchini", "cucumber", "snap bean"))
    return fit_garden(as_garden(told), AS_OF, days_ahead=7)


def _pairs(fit: Fit) -> list[tuple[int, int]]:
    n = len(fit.series)
    return [(one, other) for one in range(n) for other in range(one)]


def _of_one_crop(fit: Fit, pair: tuple[int, int]) -> bool:
    return fit.series[pair[0]].crop == fit.series[pair[1]].crop


def test_coming_normals_are_standard_normals_shared_in_part() -> None:
    fit, rng = _fit(), np.random.default_rng(1)
    common = common_to_series(fit, DRAWS, rng)
    both = [one.coming + own_normals(one, rng) for one in common]
    assert {_of_one_crop(fit, pair) for pair in _pairs(fit)} == {True, False}
    for normals in both:
        assert normals.var() == pytest.approx(1.0, abs=0.05)
    for pair in _pairs(fit):
        told = OF_GARDEN + OF_CROP * _of_one_crop(fit, pair)
        seen = np.corrcoef(both[pair[0]].ravel(), both[pair[1]].ravel())[0, 1]
        assert seen == pytest.approx(told, abs=0.05)


def test_each_draw_is_dealt_once_and_high_ones_to_high_draws_of_the_garden() -> None:
    """Once it has been picked; before, its draws are dealt at random.

    Normals of correlation r have a rank correlation of 6 / pi asin(r / 2) (Pearson 1907, from
    memory).
    """
    fit, rng = _fit(), np.random.default_rng(2)
    level = rng.standard_normal(DRAWS, dtype=np.float32)
    theta = np.tile(fit.evidence.prior_mean[0].astype(np.float32), (DRAWS, 1))
    theta[:, 0] += level
    doubt = rng.standard_normal(DRAWS, dtype=np.float32)
    picked = fit.evidence.picked
    assert (picked[0] > 0).any()
    by_rank = 6.0 / np.pi * np.arcsin(np.sqrt(DOUBT_OF_CROP) / 2.0)
    for log, expected in ((picked, by_rank), (np.full_like(picked, np.nan), 0.0)):
        known = replace(fit, evidence=replace(fit.evidence, picked=log))
        place = dealt_by_rank(known, 0, theta, np.zeros_like(level), doubt, rng)
        np.testing.assert_array_equal(np.sort(place), np.arange(DRAWS))
        assert spearmanr(level[place], doubt).statistic == pytest.approx(expected, abs=0.05)


def test_dealing_by_rank_leaves_a_variety_the_draws_it_had() -> None:
    """The same stream of random numbers under another doubt of the crop: another order only."""
    fit = _fit()
    common = common_to_series(fit, DRAWS, np.random.default_rng(3))[0]
    turned = common._replace(doubt=-common.doubt)
    one, other = (draw_series(fit, 0, c, np.random.default_rng(4)) for c in (common, turned))
    assert not np.array_equal(one.theta, other.theta)
    for name in ("theta", "hanging", "size", "keep"):
        ours, theirs = (np.sort(getattr(drawn, name), axis=0) for drawn in (one, other))
        np.testing.assert_array_equal(ours, theirs)


def test_next_week_s_picks_of_a_crop_s_varieties_go_together_and_those_of_others_hardly() -> None:
    fit = _fit()
    weather = np.full((DRAWS, 7), 14.0), np.full((DRAWS, 7), 27.0)
    week = futures(fit, *weather, seed=5).number.sum(axis=1)
    same, others = [], []
    for one, other in _pairs(fit):
        found = spearmanr(week[:, one], week[:, other]).statistic
        (same if _of_one_crop(fit, (one, other)) else others).append(found)
    assert len(same) == 3
    assert min(same) > 0.2
    assert max(same) < 0.5
    assert max(np.abs(others)) < 0.2
