"""Draws of varieties of one crop go wrong together, and each variety keeps its law."""

from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest
from scipy.stats import spearmanr

from harvestcast.growth.future.draws import draw_series
from harvestcast.growth.future.numbers import (
    DOUBT_OF_CROP,
    OF_CROP,
    OF_GARDEN,
    dealt,
    garden_numbers,
)
from harvestcast.growth.future.ripening import futures
from harvestcast.growth.model.fit import Fit, fit_garden
from tests.simulated import as_garden, simulate_garden

AS_OF = pd.Timestamp("2026-08-09")
DRAWS = 4096


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
    fit = _fit()
    own = garden_numbers(fit, DRAWS, tried=8, seed=1).own
    assert {_of_one_crop(fit, pair) for pair in _pairs(fit)} == {True, False}
    for one in own:
        assert one.coming.var() == pytest.approx(1.0, abs=0.05)
        assert np.corrcoef(one.coming.T)[0, 1] == pytest.approx(0.0, abs=0.05)
    for one, other in _pairs(fit):
        told = OF_GARDEN + OF_CROP * _of_one_crop(fit, (one, other))
        seen = np.corrcoef(own[one].coming.ravel(), own[other].coming.ravel())[0, 1]
        assert seen == pytest.approx(told, abs=0.05)


def test_doubt_is_shared_by_the_varieties_of_a_crop_once_they_have_been_picked() -> None:
    """Before, what is doubtful is mostly when a variety begins, and that is its own."""
    fit = _fit()
    assert (fit.evidence.picked > 0).any(axis=1).all()
    unpicked = replace(fit, evidence=replace(fit.evidence, picked=fit.evidence.picked * np.nan))
    for known, of_crop in ((fit, DOUBT_OF_CROP), (unpicked, 0.0)):
        own = garden_numbers(known, DRAWS, tried=8, seed=1).own
        for one, other in _pairs(fit):
            seen = np.corrcoef(own[one].doubt, own[other].doubt)[0, 1]
            told = of_crop * _of_one_crop(fit, (one, other))
            assert seen == pytest.approx(told, abs=0.05)


def test_each_place_is_dealt_once_and_high_ones_to_high_doubt() -> None:
    rng = np.random.default_rng(2)
    doubt, later = rng.standard_normal(DRAWS), rng.random(DRAWS)
    place = dealt(doubt, later)
    np.testing.assert_array_equal(np.sort(place), np.arange(DRAWS))
    # A sixty-fourth of the draws stand in one part, in order of what comes later.
    assert spearmanr(place, doubt).statistic > 0.999
    part = place // 64
    for one in (0, 31, 63):
        own = part == one
        np.testing.assert_array_equal(np.argsort(place[own]), np.argsort(later[own]))


def test_dealing_by_rank_leaves_a_variety_the_draws_it_had() -> None:
    """The same states under another doubt: another order only."""
    fit = _fit()
    numbers = garden_numbers(fit, DRAWS, tried=2 * DRAWS, seed=3)
    own = numbers.own[0]
    turned = own._replace(doubt=-own.doubt)
    one, other = (draw_series(fit, 0, numbers.tried, o) for o in (own, turned))
    assert not np.array_equal(one.theta, other.theta)
    for name in ("theta", "size", "keep"):
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
