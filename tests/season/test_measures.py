"""Measures of a season's picks against plain loops and cases derivable by hand."""

import numpy as np
import pytest

from harvestcast.season.yields.measures import (
    heaviest_run,
    place_of_share,
    shaken,
    steady_weeks,
    week_noise,
)

SEEDS = range(20)


def _picks(seed: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    return np.where(rng.random(90) < 0.6, rng.gamma(2.0, 1.0, 90), 0.0)


@pytest.mark.parametrize("seed", SEEDS)
def test_heaviest_run_equals_a_plain_loop(seed: int) -> None:
    picks = _picks(seed)
    loop = [picks[day : day + 7].sum() for day in range(90)]
    mass, start = heaviest_run(picks, 7)
    assert float(mass) == pytest.approx(max(loop))
    assert picks[int(start) : int(start) + 7].sum() == pytest.approx(max(loop))


@pytest.mark.parametrize("seed", SEEDS)
def test_share_places_are_ordered_and_reach_the_share(seed: int) -> None:
    picks, day = _picks(seed), np.arange(90.0)
    places = [float(place_of_share(picks, share, day)) for share in (0.1, 0.5, 0.9, 1.0)]
    assert places == sorted(places)
    running, days = np.cumsum(picks), np.flatnonzero(picks)
    for share, place in zip((0.1, 0.5, 0.9), places[:3], strict=True):
        reached = days[np.searchsorted(days, place - 1e-9)]  # the pick on or after the place
        assert running[reached] >= share * running[-1] - 1e-9
        assert running[reached] - picks[reached] <= share * running[-1] + 1e-9
    assert places[3] == np.flatnonzero(picks)[-1]


def test_share_places_follow_any_rising_place() -> None:
    picks = np.array([0.0, 1.0, 0.0, 1.0, 2.0])
    heat = np.array([5.0, 10.0, 20.0, 30.0, 50.0])
    # A quarter is in on the first pick, half of it on the second, the rest on the last day.
    assert float(place_of_share(picks, 0.25, heat)) == 10.0
    assert float(place_of_share(picks, 0.5, heat)) == 30.0
    assert float(place_of_share(picks, 0.75, heat)) == 40.0


def test_nothing_picked_has_no_place_and_no_steady_week() -> None:
    assert np.isnan(place_of_share(np.zeros(10), 0.5, np.arange(10.0)))
    assert float(steady_weeks(np.zeros(10))) == 0.0


@pytest.mark.parametrize("weeks", [1, 3, 8])
def test_an_even_supply_is_steady_all_along(weeks: int) -> None:
    assert float(steady_weeks(np.ones(7 * weeks))) == weeks


def test_one_glut_week_ends_the_steady_run() -> None:
    even, poor = np.ones(7), np.full(7, 0.1)
    assert float(steady_weeks(np.concatenate([even, even, poor, even, even, even]))) == 3.0


def test_all_measures_take_leading_axes() -> None:
    many = np.stack([_picks(1), _picks(2)])
    for one in (
        lambda x: place_of_share(x, 0.5, np.arange(90.0)),
        steady_weeks,
        lambda x: heaviest_run(x, 14)[0],
    ):
        both = np.asarray(one(many))
        assert both.tolist() == [float(one(many[0])), float(one(many[1]))]


@pytest.mark.parametrize("sd", [0.2, 0.5, 0.9])
def test_week_noise_returns_the_noise_it_was_given(sd: float) -> None:
    """A level season, shaken: the estimate comes back within a quarter of the truth."""
    level = np.ones(7 * 30)
    drawn = shaken(level, noise_sd=sd, draws=60, rng=np.random.default_rng(3))
    found = [week_noise(one)[0] for one in drawn]
    # Weekly sums of a deviation that wanders within the week vary a little less than its days.
    assert np.sqrt(np.nanmean(found)) == pytest.approx(0.9 * sd, rel=0.25)


def test_shaken_keeps_the_mean_and_the_days_without_a_pick() -> None:
    picks = _picks(5)
    drawn = shaken(picks, noise_sd=0.5, draws=4000, rng=np.random.default_rng(1))
    assert (drawn[:, picks == 0] == 0).all()
    assert drawn.mean(axis=0).sum() == pytest.approx(picks.sum(), rel=0.02)
    again = shaken(picks, noise_sd=0.5, draws=4000, rng=np.random.default_rng(1))
    assert (drawn == again).all()
