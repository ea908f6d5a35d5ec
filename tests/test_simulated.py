"""The simulator must be right before anything is judged by it."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames import PICKS, PLANTINGS, WEATHER, check_frame
from harvestcast.records.garden import open_garden
from tests.simulated import (
    CROPS,
    Habits,
    Site,
    as_garden,
    grow_garden,
    next_year,
    simulate_garden,
    simulate_weather,
    write_folder,
)


def test_the_same_seed_gives_the_same_garden_with_and_without_truth() -> None:
    one = simulate_garden(5, years=(2025, 2026))
    other = simulate_garden(5, years=(2025, 2026), truth=False)
    for name in ("picks", "plantings", "weather", "varieties"):
        pd.testing.assert_frame_equal(getattr(one, name), getattr(other, name))
    assert other.truth is None
    assert not one.picks.equals(simulate_garden(6, years=(2025, 2026)).picks)


def test_frames_are_those_of_the_library() -> None:
    garden = simulate_garden(3, crops=tuple(CROPS))
    assert set(garden.picks["crop"]) == set(CROPS)
    check_frame(garden.picks, PICKS)
    check_frame(garden.plantings, PLANTINGS)
    check_frame(garden.weather, WEATHER)
    assert (garden.weather["tmin_c"] <= garden.weather["tmax_c"]).all()


def test_the_book_holds_exactly_what_was_picked() -> None:
    habits = Habits(record=dict.fromkeys(CROPS, "both"), scale_kg=1e-6, find=0.8)
    garden = simulate_garden(11, crops=("cucumber", "tomato", "okra"), habits=habits)
    assert garden.truth is not None
    book = garden.picks.groupby(["crop", "variety"])[["count", "mass_kg"]].sum()
    truth = garden.truth.seasons.set_index(["crop", "variety"])
    np.testing.assert_array_equal(book["count"], truth.loc[book.index, "picked_count"])
    np.testing.assert_allclose(book["mass_kg"], truth.loc[book.index, "picked_kg"], atol=1e-4)
    oversize = garden.picks[garden.picks["grade"] == "oversize"]
    share = oversize.groupby(["crop", "variety"])["mass_kg"].sum() / book["mass_kg"]
    np.testing.assert_allclose(share.fillna(0), truth.loc[book.index, "oversize_share"], rtol=1e-3)
    assert (truth["picked_count"] <= truth["ready_count"]).all()
    weekly = garden.truth.weekly("2026-01-01")
    assert weekly["picked_kg"].sum() == pytest.approx(truth["picked_kg"].sum())


def test_nothing_is_picked_before_it_is_ready() -> None:
    garden = simulate_garden(12, crops=("tomato", "zucchini", "pea"))
    assert garden.truth is not None
    daily = garden.truth.daily()
    running = daily.groupby(["crop", "variety"])[["ready_count", "picked_count"]].cumsum()
    assert (running["picked_count"] <= running["ready_count"]).all()


def test_expected_harvest_is_the_mean_of_many_seasons() -> None:
    """Same plants and weather, new shocks and plots: the mean must be the expected amount."""
    garden = simulate_garden(21, crops=("cucumber", "snap bean", "tomato"), sowings=1)
    ready, expected = [], []
    for seed in range(120):
        again = grow_garden(
            seed,
            varieties=garden.varieties,
            plantings=garden.plantings,
            weather=garden.weather,
            habits=garden.habits,
        )
        assert again.truth is not None
        table = again.truth.seasons
        ready.append(table["ready_count"])
        expected.append(table["expected_count"])
    error = np.std(ready, axis=0) / np.sqrt(len(ready))
    z = (np.mean(ready, axis=0) - np.mean(expected, axis=0)) / error
    assert np.abs(z).max() < 4  # six varieties; beyond 4 by chance once in some 2,600 runs


def test_killing_frost_ends_tender_crops_only() -> None:
    garden = simulate_garden(8, crops=("cucumber", "tomato", "chard"), years=(2024, 2025, 2026))
    picks = garden.picks
    for year in (2024, 2025, 2026):
        days = garden.weather[garden.weather["date"].dt.year == year]
        autumn = days[(days["date"].dt.month >= 8) & (days["tmin_c"] <= -0.5)]
        frost = autumn["date"].min()
        tender = picks[(picks["date"].dt.year == year) & (picks["crop"] != "chard")]
        assert tender["date"].max() < frost
    assert picks.loc[picks["crop"] == "chard", "date"].dt.month.max() >= 10


def test_skipped_days_make_fruit_oversize() -> None:
    daily = Habits(weekdays=(1.0,) * 7, rain=1.0, away=0.0, find=0.98)
    weekend = Habits(weekdays=(0.0,) * 5 + (1.0, 0.0), rain=1.0, away=0.0, find=0.98)
    shares = []
    for habits in (daily, weekend):
        garden = simulate_garden(9, crops=("zucchini",), habits=habits)
        assert garden.truth is not None
        shares.append(garden.truth.seasons["oversize_share"].mean())
    assert shares[0] < 0.2 < 0.5 < shares[1]


def test_next_year_keeps_the_varieties_and_brings_new_weather() -> None:
    garden = simulate_garden(4, crops=("tomato", "cucumber"), years=(2026,))
    plantings = garden.plantings.assign(
        date=garden.plantings["date"] + pd.DateOffset(years=1), plants=50
    )
    seasons = [next_year(garden, plantings, seed=seed) for seed in (1, 2)]
    assert seasons[0].picks["date"].dt.year.unique().tolist() == [2027]
    last = [s.weather[s.weather["date"].dt.year == 2027]["tmin_c"].mean() for s in seasons]
    assert last[0] != last[1]
    assert garden.truth is not None and seasons[0].truth is not None
    old = garden.truth.seasons.set_index("variety")["expected_kg_per_plant"]
    new = seasons[0].truth.seasons.set_index("variety")["expected_kg_per_plant"]
    assert (new / old).between(0.5, 2).all()


def test_weather_has_the_climate_it_was_asked_for() -> None:
    site = Site(year_c=0.0, heat_waves=0.0)
    days = simulate_weather(1, years=range(1980, 2020), site=site)
    mean = (days["tmin_c"] + days["tmax_c"]) / 2
    wet = days["rain_mm"] > 0
    # Mean of the wave less the chill of wet days; 40 years put the error near 0.1.
    assert mean.mean() == pytest.approx(site.mean_c - 0.8 * wet.mean(), abs=0.3)
    july = mean[days["date"].dt.month == 7].mean()
    january = mean[days["date"].dt.month == 1].mean()
    assert july - january == pytest.approx(2 * site.amplitude_c, rel=0.06)
    assert wet[wet.shift(1, fill_value=False)].mean() == pytest.approx(0.48, abs=0.03)
    assert wet[~wet.shift(1, fill_value=False)].mean() == pytest.approx(0.24, abs=0.03)
    rest = mean - mean.groupby(days["date"].dt.day_of_year).transform("mean")
    assert rest.autocorr(1) == pytest.approx(site.persistence, abs=0.05)


def test_cutting_leaves_no_trace_of_later_days(tmp_path) -> None:
    garden = simulate_garden(2, years=(2025, 2026), as_of="2026-07-20")
    assert garden.picks["date"].max() <= pd.Timestamp("2026-07-20")
    assert garden.weather["date"].max() == pd.Timestamp("2026-07-20")
    assert garden.truth is not None
    assert garden.truth.daily()["date"].max() > pd.Timestamp("2026-08-20")
    folder = write_folder(garden, tmp_path / "g")
    assert sorted(p.name for p in folder.iterdir()) == [
        "garden.toml",
        "picks.csv",
        "plantings.csv",
        "weather.csv",
    ]
    assert pd.read_csv(folder / "picks.csv")["date"].max() <= "2026-07-20"


def test_the_folder_reads_back_as_the_garden_it_was_written_from(tmp_path) -> None:
    garden = simulate_garden(2, crops=("cucumber", "tomato"), as_of="2026-08-10")
    straight = as_garden(garden)
    folder = write_folder(garden, tmp_path / "g")
    read = open_garden(folder)
    pd.testing.assert_frame_equal(
        read.picks[["date", "crop", "variety", "count", "mass_kg", "grade"]],
        straight.picks[["date", "crop", "variety", "count", "mass_kg", "grade"]],
        rtol=1e-5,
    )
    assert len(read.plantings) == len(straight.plantings)
    assert read.last_day == straight.last_day


def test_weekly_harvests_vary_as_much_as_real_ones() -> None:
    """Coefficient of variation of weekly pepper yield: 0.51 to 0.77 small, 1.04 to 1.45 large.

    Wubs et al. 2009, HortScience 44:1296-1301, for fruit of different sizes. The simulated
    peppers must lie between the quietest and the wildest of them.
    """
    spread = []
    for seed in range(12):
        garden = simulate_garden(seed, crops=("sweet pepper", "hot pepper"), sowings=1)
        assert garden.truth is not None
        for _, days in garden.truth.daily().groupby(["crop", "variety"]):
            weeks = days.set_index("date")["ready_kg"].resample("7D").sum()
            share = weeks.cumsum() / weeks.sum()
            season = weeks[(share > 0.02) & (share.shift(1, fill_value=0) < 0.98)]
            spread.append(season.std() / season.mean())
    assert 0.51 <= np.median(spread) <= 1.45
