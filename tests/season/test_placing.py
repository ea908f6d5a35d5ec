"""Curves set to where the season's harvest began and ended."""

import numpy as np
import pytest

from harvestcast.growth.model.curve import curve_of
from harvestcast.season.yields.curves import Learned, learn, posterior_curve
from harvestcast.season.yields.placing import (
    MOST_MOVED,
    grown_in,
    heat_of_shares,
    placed,
    season_rate,
)
from tests.season.gardens import bell, garden, picks, plantings


@pytest.fixture(scope="module")
def learned() -> Learned:
    planted = plantings([("snap bean", "A", "n", "2026-05-15", "sown", 60),
                         ("snap bean", "A", "n", "2026-06-02", "sown", 60),
                         ("tomato", "B", "n", "2026-05-15", "set_out", 4)])  # fmt: skip
    rows = [(day, "snap bean", "A", kg) for day, kg in bell("2026-07-10", 40, 20.0)]
    rows += [(day, "tomato", "B", kg) for day, kg in bell("2026-07-20", 75, 30.0)]
    return learn(garden(planted, picks(rows)), 2027)


@pytest.mark.parametrize("crop", ["snap bean", "tomato"])
@pytest.mark.parametrize(("move", "stretch"), [(0.0, 1.0), (0.03, 0.9), (-0.03, 1.15)])
def test_a_curve_begins_and_ends_where_it_is_told_to(
    learned: Learned, crop: str, move: float, stretch: float
) -> None:
    """Two sowings of one variety are moved as one harvest; days are as fine as it gets."""
    fit = learned.fit
    assert fit is not None
    row = next(i for i, one in enumerate(fit.series) if one.crop == crop)
    theta = posterior_curve(fit, row, 40, None, np.random.default_rng(1))
    heat = fit.evidence.heat[row]
    first = heat[int(np.argmax(heat[:, -1]))]
    began, ended = heat_of_shares(season_rate(grown_in(fit, row), theta), first)
    early = began * (1 + move)
    late = np.minimum(early + (ended - began) * stretch, 0.97 * first[-1])
    found = placed(grown_in(fit, row), theta, early, late)
    there = heat_of_shares(season_rate(grown_in(fit, row), found), first)
    a_day = float(np.max(np.diff(first)))
    assert np.abs(there[0] - early).mean() < 1.5 * a_day
    assert np.abs(there[1] - late).mean() < 1.5 * a_day
    assert (found[:, [0, 3, 4]] == theta[:, [0, 3, 4]]).all()


def test_a_curve_is_not_torn_apart(learned: Learned) -> None:
    fit = learned.fit
    assert fit is not None
    theta = posterior_curve(fit, 0, 10, None, np.random.default_rng(1))
    far = placed(grown_in(fit, 0), theta, np.full(10, 5000.0), np.full(10, 9000.0))
    for mine, was in zip(curve_of(far)[:2], curve_of(theta)[:2], strict=True):
        assert (np.abs(np.log(mine / was)) <= MOST_MOVED + 1e-9).all()
