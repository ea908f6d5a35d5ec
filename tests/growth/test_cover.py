"""What stands under glass: no frost ends it, and its heat is that of the house."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.crops.cover import under_cover, weather_is_inside
from harvestcast.growth.forecast import forecast
from harvestcast.growth.log.series import Series, covered_part, gather
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from tests.benchmarks.families import cases_of, our_scores
from tests.simulated.families import cover_unsaid, glass_beside_open

FROST = pd.Timestamp("2026-10-05")
AS_OF = pd.Timestamp("2026-10-20")


def _garden(beds: list[tuple[str, str | None]], *, frost: bool = True) -> Garden:
    """Return tomatoes by variety and cover, picked twice a week up to the frost and a month on."""
    days = pd.date_range("2015-01-01", AS_OF)
    mean = 11 - 10 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    freezes = frost & (days.month == FROST.month) & (days.day == FROST.day)
    low = np.where(freezes, -12.0, np.maximum(mean - 5, 1.5))
    weather = pd.DataFrame({"date": days, "tmin_c": low, "tmax_c": mean + 6})
    start = pd.Timestamp("2026-05-20")
    picked = pd.date_range("2026-08-01", FROST - pd.Timedelta(days=2), freq="3D")
    rows = [(day, "tomato", "Bell", 1.5) for day in picked]
    return garden_from_frames(
        pd.DataFrame(rows, columns=["date", "crop", "variety", "mass_kg"]),
        pd.DataFrame(
            [("tomato", variety, start, "set_out", 6.0, cover) for variety, cover in beds],
            columns=["crop", "variety", "date", "how", "plants", "cover"],
        ),
        weather,
        household=Household(first_frost="10-05", last_frost="05-08"),
    )


def _series(garden: Garden, day: pd.Timestamp = AS_OF) -> Series:
    (one,) = gather(garden, day).series
    return one


def test_no_frost_ends_what_stands_under_glass() -> None:
    out, under = (_garden([("Bell", cover)]) for cover in (None, "glass"))
    assert _series(out).frosted_days == (AS_OF - FROST).days + 1 and _series(out).over
    assert _series(under).frosted_days == 0 and not _series(under).over
    kg = [
        forecast(one, as_of=AS_OF, draws=400).mass_kg.sum(axis=(1, 2)).mean()
        for one in (out, under)
    ]
    assert kg[0] < 0.02 < 0.2 < kg[1]


def test_no_coming_frost_ends_it_either() -> None:
    """A week before the frost of every year on record."""
    day = FROST - pd.Timedelta(days=7)
    out, under = (_garden([("Bell", cover)]) for cover in (None, "glass"))
    last = [
        forecast(one, as_of=day, draws=400).mass_kg[:, 14:].sum(axis=(1, 2)) for one in (out, under)
    ]
    assert (last[1] > 0).mean() > (last[0] > 0).mean() + 0.3


def test_beside_it_the_same_variety_in_the_open_ends_alone() -> None:
    one = _series(_garden([("Bell", None), ("Bell", "glass")]))
    assert one.frosted_days == 0 and not one.over
    assert one.share[:, -1].tolist() == [0.0, 0.5]
    before = one.share.shape[1] - (AS_OF - FROST).days - 2
    assert one.share[:, before].tolist() == [0.5, 0.5]
    # Each has the heat of its own place, and what ripens draws on the mean of what stands.
    assert one.heat[1, before] > 1.2 * one.heat[0, before]
    part = covered_part(one.share, one.covered)
    assert part[before] == 0.5 and part[-1] == 1.0


def test_days_under_cover_are_warmer_and_never_freeze() -> None:
    low = np.array([-12.0, 0.0, 8.0, 20.0])
    high = np.array([-2.0, 3.0, 22.0, 38.0])
    inside = under_cover(low, high)
    assert (inside[0] > 0).all() and (inside[0] >= low).all() and (inside[1] > high).all()
    assert (inside[1] >= inside[0]).all()
    # A grey day of the same maximum warms it less than a clear one.
    grey, clear = under_cover(np.array([9.0, 2.0]), np.array([12.0, 12.0]))[1]
    assert 12.0 < grey < clear < 30.0


def test_a_record_of_the_house_is_used_as_it_is() -> None:
    inside = _garden([("Bell", "glass")], frost=False)
    assert weather_is_inside(inside)
    assert not weather_is_inside(_garden([("Bell", "glass")]))
    assert not weather_is_inside(_garden([("Bell", "glass"), ("Bell", None)], frost=False))
    bare = _garden([("Bell", None)], frost=False)
    assert _series(inside).heat.tolist() == _series(bare).heat.tolist()


@pytest.mark.statistics
def test_a_covered_variety_is_forecast_better_where_the_cover_is_said() -> None:
    """Simulated tunnels beside open beds; the weather is that of the open (even seeds)."""
    scores = []
    for seed in (700, 702, 704):
        garden = glass_beside_open(seed)
        cases = [one.where(one.variety == "kind 2") for one in cases_of(garden)[:1]]
        scores.append(
            [
                our_scores(cases, one, draws=400)[0]["crps"].mean()
                for one in (garden, cover_unsaid(garden))
            ]
        )
    said, unsaid = np.mean(scores, axis=0)
    assert said < 0.985 * unsaid
