"""Calibration on simulated gardens whose plants and pickers share no formula with the model."""

import numpy as np
import pandas as pd
import pytest
from scipy.stats import binom

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.forecast import forecast
from harvestcast.records.garden import garden_from_frames
from harvestcast.records.household import Household
from tests.simulated import as_garden, simulate_garden

CROPS = ("cucumber", "zucchini", "snap bean", "tomato", "sweet pepper", "okra", "eggplant")


def _inside(seeds: range, as_of: str) -> np.ndarray:
    """Whether next week's true pick of each bearing variety lies in the central 80 %.

    Ties (weeks without a pick) are broken at random, so that a calibrated forecast scores 0.8.
    """
    rng = np.random.default_rng(9)
    out = []
    for seed in seeds:
        sim = simulate_garden(seed, crops=CROPS, varieties=1)
        made = forecast(as_garden(sim.until(as_of)), as_of, weeks=1, draws=200)
        truth = sim.truth.weekly(as_of, 1).set_index(["crop", "variety"])["picked_kg"]
        book = sim.picks[sim.picks["count"].gt(0) | sim.picks["mass_kg"].gt(0)]
        dates = book.groupby(["crop", "variety"])["date"].agg(["min", "max"])
        for column, key in enumerate(made.keys):
            if key not in dates.index or not (
                dates.loc[key, "min"] <= made.as_of < dates.loc[key, "max"]
            ):
                continue
            total = made.mass_kg[:, :, column].sum(axis=1)
            seen = float(truth.get(key, 0.0))
            place = (total < seen).mean() + rng.random() * (total == seen).mean()
            out.append(0.1 <= place <= 0.9)
    return np.array(out)


def _within_limits(inside: np.ndarray, least: int) -> None:
    n = len(inside)
    assert n >= least
    low, high = binom.ppf([0.005, 0.995], n, 0.8)
    assert low <= inside.sum() <= high, f"{inside.sum()} of {n}; expected {low:.0f} to {high:.0f}"


def test_bearing_crops_are_covered_four_times_in_five() -> None:
    _within_limits(_inside(range(200, 208), "2026-08-10"), 35)


@pytest.mark.statistics
@pytest.mark.parametrize("as_of", ["2026-07-20", "2026-08-10", "2026-08-31"])
def test_bearing_crops_are_covered_in_many_gardens(as_of: str) -> None:
    _within_limits(_inside(range(300, 324), as_of), 90)


def test_no_draw_bears_more_than_the_plants_can() -> None:
    """Crops not picked yet: a wide prior, but no week beyond what the almanac's plants bear."""
    days = pd.date_range("2024-01-01", "2025-12-31")
    mean = 10 - 13 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    weather = pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 6})
    plantings = pd.DataFrame(
        {
            "crop": ["sweet corn", "tomato"],
            "variety": ["Row", "Stake"],
            "date": pd.to_datetime(["2025-05-15", "2025-05-20"]),
            "how": ["sown", "set_out"],
            "plants": [80.0, 28.0],
        }
    )
    garden = garden_from_frames(None, plantings, weather, household=Household())
    made = forecast(garden, "2025-08-05", draws=1000)
    fitted = made.fitted
    # Sweet corn: at most 1.5 times the almanac's high yield of every plant; tomatoes: 3 times, a
    # season's worth spread over the shortest time of picking.
    corn, tomato = crop_facts("sweet corn"), crop_facts("tomato")
    most = {
        "sweet corn": 1.5 * corn.yield_kg_per_plant[1] * 80,
        "tomato": 3.0 * tomato.yield_kg_per_plant[1] * 28 * 3 / tomato.picking_weeks[0],
    }
    coming = fitted[fitted["date"] > made.as_of].groupby("crop")["ready_q90_kg"].max()
    for column, (crop, _) in enumerate(made.keys):
        assert coming[crop] < most[crop]
        week = made.mass_kg[:, :7, column].sum(axis=1)
        assert 0 < np.quantile(week, 0.95) < 0.75 * most[crop]
