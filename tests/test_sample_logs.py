"""The invented gardens that come with the project."""

import filecmp
from pathlib import Path

import pandas as pd

from harvestcast.kitchen.household.book import kitchen_notices
from harvestcast.records.garden import open_garden
from tests.make_sample_logs import LAST_DAY, write_sample_logs
from tests.sample_south import LAST_DAY as SOUTHS_LAST_DAY


def test_the_sample_is_what_its_generator_writes(tmp_path: Path, sample_folder: Path) -> None:
    """Anyone can make the same files again from the seeds, byte for byte."""
    again = write_sample_logs(tmp_path / "again")
    for kept, made in ((sample_folder, again), (sample_folder / "south", again / "south")):
        # Reports, and the lock that they were written under, may have come into the folder since.
        names = [path.name for path in kept.iterdir() if path.is_file()]
        names = sorted(name for name in names if not name.startswith("."))
        assert names == sorted(path.name for path in made.iterdir() if path.is_file())
        _, different, unreadable = filecmp.cmpfiles(kept, made, names, shallow=False)
        assert (different, unreadable) == ([], [])


def test_the_sample_says_that_it_is_invented(sample_folder: Path) -> None:
    for folder in (sample_folder, sample_folder / "south"):
        assert "INVENTED" in (folder / "garden.toml").read_text("utf-8").split("\n\n")[0]


def test_the_first_garden_reads_nothing_of_the_second(sample_folder: Path) -> None:
    north, south = open_garden(sample_folder), open_garden(sample_folder / "south")
    for table in ("picks", "plantings", "weather", "kitchen", "pantry"):
        files = set(getattr(north, table).get("file", pd.Series(dtype=str)))
        assert not any("south" in str(name) for name in files)
    assert not set(north.picks["variety"]) & set(south.picks["variety"])


def test_the_sample_holds_what_the_tool_can_say(sample_folder: Path) -> None:
    """Finished seasons, a winter, a house of glass, a crock, fresh counts, two spellings."""
    garden = open_garden(sample_folder)
    assert sorted(garden.picks["date"].dt.year.unique()) == [2024, 2025, 2026]
    winter = garden.picks[garden.picks["date"].dt.month.isin([12, 1, 2])]
    assert {"kale", "spinach"} <= set(winter["crop"])
    assert {"garlic", "strawberry"} <= set(garden.picks["crop"])
    assert {"counted", "bought", "given", "fed"} <= set(garden.kitchen["what"])
    fresh = garden.kitchen[garden.kitchen["date"] == LAST_DAY]
    assert {"cucumbers", "green beans"} <= set(fresh["item"])
    (crock,) = garden.pantry.loc[garden.pantry["product"] == "fermented dill pickles", "date"]
    assert LAST_DAY - pd.Timedelta(days=21) < crock <= LAST_DAY
    assert {"Bargepole", "crisp-wick"} <= {str(one.value) for one in garden.notices.itertuples()}
    assert garden.picks["note"].str.contains("sweetest so far").sum() == 3


def test_the_southern_season_crosses_new_year(sample_folder: Path) -> None:
    garden = open_garden(sample_folder / "south")
    assert garden.seasons.label(garden.seasons.of(SOUTHS_LAST_DAY)) == "2025/26"
    assert garden.last_day == SOUTHS_LAST_DAY
    assert garden.household.units == "metric"
    assert set(garden.household.jars) == {"250 ml", "500 ml", "900 ml", "lids", "freezer_bags"}
    assert kitchen_notices(garden).empty


def test_the_sample_has_what_a_real_log_has(sample_folder: Path) -> None:
    """Crops, ways of writing picks down, skipped days, zeros, culls: all must be there."""
    picks = pd.concat(
        [pd.read_csv(path) for path in sorted(sample_folder.glob("picks-*.csv"))],
        ignore_index=True,
    )
    plantings = pd.read_csv(sample_folder / "plantings.csv")
    assert plantings.loc[plantings["date"] >= "2026", "crop"].nunique() >= 8
    assert plantings["variety"].nunique() >= 14
    assert picks["variety"].nunique() >= 14
    by_crop = picks.groupby("crop")[["count", "weight_lb"]].agg(lambda column: column.notna().any())
    ways = set(map(tuple, by_crop.to_numpy().tolist()))
    assert ways == {(True, False), (False, True), (True, True)}
    assert (picks[["count", "weight_lb"]].fillna(0).max(axis=1) == 0).sum() >= 10
    assert (picks["grade"] == "oversize").sum() >= 20
    assert picks["date"].max() == LAST_DAY.strftime("%Y-%m-%d")
    season = pd.date_range("2025-06-15", "2025-09-15").strftime("%Y-%m-%d")
    assert 0.1 < 1 - season.isin(picks["date"]).mean() < 0.5
    weather = pd.read_csv(sample_folder / "weather.csv")
    assert weather["date"].str[:4].nunique() == 10
