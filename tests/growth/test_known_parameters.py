"""Gardens drawn from known curves: what the fit recovers, and how far it is from who knows all.

The large count is ``python -m tests.benchmarks.known_parameters``.
"""

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames import PICKS, PLANTINGS, WEATHER, check_frame
from tests.benchmarks.known_parameters import cases, recovered
from tests.simulated.known import known_garden, oracle

SEEDS = range(7000, 7006)


def _by_garden(values: pd.Series, seed: pd.Series) -> tuple[float, float]:
    """Return the mean over gardens and its standard error; cases of a garden share its luck."""
    means = values.astype(float).groupby(seed).mean()
    return float(means.mean()), float(means.std(ddof=1) / np.sqrt(len(means)))


def test_the_same_seed_gives_the_same_garden_and_another_another() -> None:
    one, same, other = known_garden(1), known_garden(1), known_garden(2)
    np.testing.assert_array_equal(one.number, same.number)
    assert not np.array_equal(one.number, other.number)
    garden = one.until(230)
    for frame, columns in (
        (garden.picks, PICKS),
        (garden.plantings, PLANTINGS),
        (garden.weather, WEATHER),
    ):
        check_frame(frame, columns)
    assert garden.picks["date"].max() <= pd.Timestamp("2026-08-19")


def test_nothing_is_picked_where_nothing_ripens() -> None:
    known = known_garden(3)
    ripened = known.calm.cumsum(axis=1)
    assert (known.number[ripened == 0] == 0).all()
    assert (known.number.sum(axis=1) > 0).any()


def test_the_oracle_knows_more_after_a_pick() -> None:
    """Its spread, over its mean, shrinks as picks come in; before them it knows the curve only."""
    known = known_garden(4)
    row = int((known.number > 0).sum(axis=1).argmax())
    first = int((known.number[row] > 0).argmax())
    made = oracle(known, row, [first, first + 28], 7, draws=400, seed=1).sum(axis=2)
    spread = made.std(axis=1) / made.mean(axis=1)
    assert spread[1] < spread[0]


@pytest.fixture(scope="module")
def forecasts() -> pd.DataFrame:
    return pd.concat([cases(seed, weeks=1, draws=300, with_oracle=True) for seed in SEEDS])


@pytest.mark.slow
def test_ranges_hold_four_times_in_five(forecasts: pd.DataFrame) -> None:
    assert len(forecasts) > 400
    for name in ("ours", "oracle"):
        held, error = _by_garden(forecasts[f"{name}_inside"], forecasts["seed"])
        assert abs(held - 0.8) < 3 * error, (name, held, error)


@pytest.mark.slow
def test_after_four_weeks_of_picks_little_is_lost_to_the_oracle(forecasts: pd.DataFrame) -> None:
    """At most 15 % in the long run (3 standard errors here); and nobody beats the oracle."""
    late = forecasts[forecasts["weeks"] >= 4].dropna(subset=["ours_crps"])
    ours, theirs = late["ours_crps"].mean(), late["oracle_crps"].mean()
    _, error = _by_garden(late["ours_crps"] - 1.15 * late["oracle_crps"], late["seed"])
    assert ours < 1.15 * theirs + 3 * error
    assert ours > theirs


@pytest.mark.slow
def test_parameters_are_recovered_at_the_season_s_end() -> None:
    table = pd.concat([recovered(seed, 300) for seed in range(7000, 7016)])
    for what in ("season total", "level"):
        part = table[table["what"] == what]
        held, error = _by_garden(part["inside"], part["seed"])
        assert abs(held - 0.8) < 3 * error, (what, held, error)
        middle, error = _by_garden(part["error"], part["seed"])
        assert abs(middle) < 3 * error + 0.1, (what, middle, error)
    # Heats: a little too narrow (the curve's shape is fitted as if flushes were none).
    heats = table[table["what"].str.startswith("heat")]
    assert heats["inside"].mean() > 0.65
    assert heats.groupby("what")["error"].median().abs().max() < 0.06
