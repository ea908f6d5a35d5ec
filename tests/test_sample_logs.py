"""The invented garden that comes with the project."""

import filecmp
from pathlib import Path

import pandas as pd

from tests.make_sample_logs import LAST_DAY, write_sample_logs


def test_the_sample_is_what_its_generator_writes(tmp_path: Path, sample_folder: Path) -> None:
    """Anyone can make the same files again from the seed, byte for byte."""
    again = write_sample_logs(tmp_path / "again")
    # Reports, and the lock that they were written under, may have come into the folder since.
    names = sorted(
        path.name
        for path in sample_folder.iterdir()
        if path.is_file() and not path.name.startswith(".")
    )
    assert names == sorted(path.name for path in again.iterdir())
    _, different, unreadable = filecmp.cmpfiles(sample_folder, again, names, shallow=False)
    assert (different, unreadable) == ([], [])


def test_the_sample_says_that_it_is_invented(sample_folder: Path) -> None:
    assert "INVENTED" in (sample_folder / "garden.toml").read_text("utf-8").split("\n\n")[0]


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
