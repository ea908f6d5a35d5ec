"""Earlier seasons of the household teach this one's curves, and the forecast gets better by it."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.forecast import forecast
from harvestcast.growth.log.series import gather
from harvestcast.growth.model.curve import rate
from harvestcast.growth.model.fit import fit_garden
from harvestcast.growth.scores import crps_ensemble
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from tests.simulated import as_garden, simulate_garden

TRUE = np.log([0.03, 600.0, 500.0, 0.10, 0.15])
"""Level (kg per degree-day), heat of the rise, span, rise and fall as shares of the span."""


def _garden(picks: pd.DataFrame | None) -> Garden:
    days = pd.date_range("2023-01-01", "2025-12-31")
    mean = 11 - 13 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    weather = pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 6})
    plantings = pd.DataFrame(
        {
            "crop": "cucumber",
            "variety": ["Creek", "Creek", "Brook"],
            "date": pd.to_datetime(["2024-05-15", "2025-05-15", "2025-05-15"]),
            "how": "sown",
            "plants": 6.0,
        }
    )
    return garden_from_frames(picks, plantings, weather, household=Household())


@pytest.fixture(scope="module")
def last_year() -> pd.DataFrame:
    """What the true curve makes ready in two days, picked every other day of 2024."""
    season = gather(_garden(None), pd.Timestamp("2024-10-10"))
    series = season.series[0]
    mass = rate(TRUE, series.heat[0]) * series.daily
    mass = mass + np.roll(mass, 1)
    days = (season.dates > pd.Timestamp("2024-05-17")) & (mass > 0.02)
    days &= np.arange(len(mass)) % 2 == 0
    return pd.DataFrame(
        {
            "date": season.dates[days],
            "crop": "cucumber",
            "variety": "Creek",
            "mass_kg": mass[days],
        }
    )


def test_last_year_moves_what_is_expected_before_the_first_pick(last_year: pd.DataFrame) -> None:
    day = "2025-06-20"
    with_it, without = fit_garden(_garden(last_year), day), fit_garden(_garden(None), day)
    assert [s.variety for s in with_it.series] == ["Brook", "Creek"]
    kin, own = 0, 1
    for part, least in ((0, 0.35), (1, 0.35), (2, 0.2)):  # level, earliness, length
        before = without.evidence.prior_mean[own, part] - TRUE[part]
        after = with_it.evidence.prior_mean[own, part] - TRUE[part]
        # What the almanac happens to have right, as the length here, is not spoilt by a fifth.
        assert abs(after) < max((1.0 - least) * abs(before), 0.2)
        narrower = with_it.evidence.prior_sd[:, part] / without.evidence.prior_sd[:, part]
        # The same variety learns more than another one of its crop, and both learn something.
        assert narrower[own] < narrower[kin] < 1.0
    season = with_it.evidence.prior_mean[own] - with_it.evidence.prior_mean[kin]
    assert np.abs(season).max() > 0.0


def test_seasons_to_come_teach_nothing(last_year: pd.DataFrame) -> None:
    day = "2024-06-20"
    one, two = fit_garden(_garden(last_year), day), fit_garden(_garden(None), day)
    np.testing.assert_array_equal(one.evidence.prior_mean, two.evidence.prior_mean)


CROPS = ("cucumber", "zucchini", "snap bean", "tomato", "sweet pepper", "okra")


@pytest.mark.statistics
def test_forecasts_are_better_with_an_earlier_season() -> None:
    """CRPS of the next week, in mean weeks of each variety, with and without the season before."""
    rows = []
    for seed in range(520, 526):
        sim = simulate_garden(seed, crops=CROPS, varieties=2, years=(2025, 2026))
        for day in ("2026-07-01", "2026-07-15", "2026-08-01", "2026-08-20"):
            both = as_garden(sim.until(day))
            cut = pd.Timestamp("2026-01-01")
            alone = garden_from_frames(
                both.picks[both.picks["date"] >= cut],
                both.plantings[both.plantings["date"].isna() | (both.plantings["date"] >= cut)],
                both.weather,
                household=both.household,
            )
            truth = sim.truth.weekly(day, 1).set_index(["crop", "variety"])["picked_kg"]
            for name, garden in (("with", both), ("without", alone)):
                made = forecast(garden, day, weeks=1, draws=300)
                seen = np.array([float(truth.get(key, 0.0)) for key in made.keys])
                score = crps_ensemble(seen, made.mass_kg.sum(axis=1).T)
                rows.extend(
                    (name, seed, key, *pair)
                    for key, pair in zip(
                        made.keys, zip(seen.tolist(), score.tolist(), strict=True), strict=True
                    )
                )
    scores = pd.DataFrame(rows, columns=["name", "seed", "key", "seen", "crps"])
    week = scores.groupby(["seed", "key"])["seen"].transform("mean")
    scaled = (scores["crps"] / week)[week > 0.05].groupby(scores["name"]).mean()
    assert len(scores) >= 500
    assert scaled["with"] < 0.98 * scaled["without"]
