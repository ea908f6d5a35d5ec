"""Seasons that cross New Year: plantings, plants and picks of a winter crop stay one season."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.forecast import forecast
from harvestcast.growth.log.series import gather, quiet_start
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from tests.benchmarks.weather import scores, table

FIRST, NEW_YEAR = "2025-11-20", pd.Timestamp("2026-01-01")


def _house(last: str, *, first: str = FIRST, tmin: float = 16.0) -> Garden:
    """A house planted in September and picked every other day from a day on."""
    days = pd.date_range("2025-09-01", "2026-06-30")
    weather = pd.DataFrame({"date": days, "tmin_c": tmin, "tmax_c": tmin + 8.0})
    plantings = pd.DataFrame(
        {"crop": ["cucumber"], "variety": ["Finch"], "date": pd.Timestamp("2025-09-20"),
         "how": "set_out", "plants": [8.0]}
    )  # fmt: skip
    picks = pd.DataFrame(
        {"date": pd.date_range(first, last, freq="2D"), "crop": "cucumber", "variety": "Finch",
         "mass_kg": 1.0}
    )  # fmt: skip
    return garden_from_frames(picks, plantings, weather, household=Household())


@pytest.mark.parametrize("last", ["2025-12-30", "2026-01-02", "2026-02-14"])
def test_a_winter_crop_keeps_its_planting_its_plants_and_its_log(last: str) -> None:
    garden = _house(last)
    season = gather(garden, pd.Timestamp(last))
    (series,) = season.series
    assert season.dates[0] < pd.Timestamp("2025-09-20")
    assert series.plants == 8.0
    assert series.dated
    assert np.nansum(series.mass) == len(garden.picks)


def test_the_forecast_goes_on_across_new_year() -> None:
    """Half a kilogram a day before and after: the weeks about New Year are alike."""
    weeks = [
        forecast(_house(str(day.date())), day, weeks=1, draws=300).weekly().iloc[0]["q50_kg"]
        for day in (pd.Timestamp("2025-12-26"), pd.Timestamp("2026-01-09"))
    ]
    assert weeks[1] == pytest.approx(weeks[0], rel=0.35)
    assert 2.0 < weeks[1] < 5.5


def test_what_has_not_borne_by_new_year_is_still_on_its_way() -> None:
    garden = _house("2025-09-30", first="2025-10-01")
    late = garden_from_frames(
        None,
        garden.plantings.assign(date=pd.Timestamp("2025-12-10")),
        garden.weather,
        household=garden.household,
    )
    season = gather(late, pd.Timestamp("2026-01-10"))
    assert [s.plants for s in season.series] == [8.0]


def test_what_frost_has_killed_is_not() -> None:
    garden = _house("2025-09-30", first="2025-10-01", tmin=-6.0)
    outdoors = garden_from_frames(
        None,
        garden.plantings.assign(date=pd.Timestamp("2025-12-10")),
        garden.weather,
        household=garden.household,
    )
    assert gather(outdoors, pd.Timestamp("2026-01-10")).series == ()


def test_a_season_is_the_calendar_year_where_winter_is_quiet() -> None:
    picks = pd.DataFrame(
        {"date": pd.to_datetime(["2025-10-05", "2026-06-10"]), "count": 1.0, "mass_kg": 1.0}
    )
    assert quiet_start(picks, NEW_YEAR, pd.Timestamp("2026-06-10")) == NEW_YEAR
    # Five weeks after the last pick it has ended, whatever comes.
    assert quiet_start(picks.iloc[:1], NEW_YEAR, pd.Timestamp("2026-01-05")) == NEW_YEAR
    autumn = picks.iloc[:1].assign(date=pd.Timestamp("2025-12-20"))
    assert quiet_start(autumn, NEW_YEAR, pd.Timestamp("2026-01-05")) < NEW_YEAR


def test_a_winter_crop_moves_the_season_of_no_other() -> None:
    """Kale picked all winter beside cucumbers of two summers: each has the season it would alone.

    Else the cucumbers of both summers would be one stand.
    """
    days = pd.date_range("2025-01-01", "2026-07-20")
    warm = 10.0 - 12.0 * np.cos(2 * np.pi * (days.day_of_year - 20) / 365.25)
    weather = pd.DataFrame({"date": days, "tmin_c": warm - 5.0, "tmax_c": warm + 5.0})
    beds = [("cucumber", "Finch", "2025-05-15", 8.0), ("cucumber", "Finch", "2026-05-15", 12.0),
            ("kale", "Rook", "2025-07-12", 20.0)]  # fmt: skip
    plantings = pd.DataFrame(beds, columns=["crop", "variety", "date", "plants"])
    plantings = plantings.assign(date=pd.to_datetime(plantings["date"]), how="sown")
    picked = [
        pd.DataFrame({"date": pd.date_range(first, last, freq="5D"), "crop": crop, "variety": name})
        for crop, name, first, last in (
            ("cucumber", "Finch", "2025-07-05", "2025-09-20"),
            ("cucumber", "Finch", "2026-07-05", "2026-07-20"),
            ("kale", "Rook", "2025-10-01", "2026-04-10"),
        )
    ]
    picks = pd.concat(picked, ignore_index=True).assign(mass_kg=1.0)
    both = {
        s.crop: s
        for s in gather(garden_from_frames(picks, plantings, weather), days[-1]).series
    }  # fmt: skip
    for crop, plants in (("cucumber", 12.0), ("kale", 20.0)):
        mine, beds = picks[picks["crop"] == crop], plantings[plantings["crop"] == crop]
        alone = gather(garden_from_frames(mine, beds, weather), days[-1])
        (own,) = alone.series
        assert both[crop].plants == own.plants == plants
        held = len(alone.dates)
        np.testing.assert_array_equal(both[crop].mass[-held:], own.mass)
        np.testing.assert_allclose(both[crop].heat[:, -held:], own.heat, rtol=1e-12)
        np.testing.assert_array_equal(both[crop].share[:, -held:], own.share)
        assert np.isnan(both[crop].mass[:-held]).all()
        assert not both[crop].share[:, :-held].any()
        assert both[crop].frosted_days == own.frosted_days


def test_weather_ahead_beats_what_was_known_at_places_nothing_was_fitted_on(shared) -> None:
    """CRPS of degree-days from one season of record; ``years`` of others are known to nobody."""
    shared("data/stations/daily.csv.gz")
    found = table(scores("judge", 40, place=True))
    assert found["over known"].max() < 1.05
    assert found.loc[7, "over known"].mean() < 0.9
    assert found.loc[21, "over known"].mean() < 0.75
    assert found["held"].mean() == pytest.approx(0.8, abs=0.06)
