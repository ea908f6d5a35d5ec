"""When the garden's season is, what it is called, and what contradicts it."""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames import WEATHER
from harvestcast.records.checks.season import say_season
from harvestcast.records.garden import check_garden, garden_from_frames
from harvestcast.records.household import Household
from harvestcast.records.seasons import Seasons, read_season, seasons_of, warm_half
from harvestcast.records.tables.findings import Findings

NORTH, SOUTH = Seasons(hemisphere="north"), Seasons(hemisphere="south")


def days(summer: str, mean: float = 11.0, swing: float = 8.0, years: int = 4) -> pd.DataFrame:
    """Return invented weather whose warmest day is in July or in January."""
    dates = pd.date_range("2021-01-01", periods=365 * years)
    wave = np.cos(2 * np.pi * (dates.day_of_year.to_numpy() - (200 if summer == "north" else 17))
                  / 365.25)  # fmt: skip
    middle = mean + swing * wave
    frame = pd.DataFrame({"date": dates, "tmin_c": middle - 5, "tmax_c": middle + 5})
    return garden_from_frames(weather=frame).weather


def test_a_season_is_numbered_by_the_year_it_begins_in() -> None:
    assert [NORTH.of(pd.Timestamp(d)) for d in ("2025-01-01", "2025-12-31")] == [2025, 2025]
    assert [SOUTH.of(pd.Timestamp(d)) for d in ("2025-06-30", "2025-07-01", "2026-02-10")] == [
        2024, 2025, 2025]  # fmt: skip
    assert SOUTH.span(2025) == (pd.Timestamp("2025-07-01"), pd.Timestamp("2026-06-30"))
    assert NORTH.span(2025) == (pd.Timestamp("2025-01-01"), pd.Timestamp("2025-12-31"))
    assert (NORTH.label(2025), SOUTH.label(2025), SOUTH.label(1999)) == (
        "2025", "2025/26", "1999/00")  # fmt: skip
    assert SOUTH.day("10-05", 2025) == pd.Timestamp("2025-10-05")
    assert SOUTH.day("05-10", 2025) == pd.Timestamp("2026-05-10")
    several = pd.Series(pd.to_datetime(["2025-06-30", "2025-07-01", None]))
    assert SOUTH.of_each(several).tolist()[:2] == [2024, 2025]


@pytest.mark.parametrize("text", ["2025/26", "2025", " 2025-26 ", "2025/2026"])
def test_a_season_is_read_as_it_is_said(text: str) -> None:
    assert read_season(text) == 2025


@pytest.mark.parametrize("text", ["25", "2025/27", "summer", "2025/26/27", ""])
def test_what_is_no_season_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="no season"):
        read_season(text)


@pytest.mark.parametrize(
    ("settings", "weather", "found"),
    [
        ({"latitude": -41.2, "last_frost": "05-10"}, "north", ("south", "latitude")),
        ({"hemisphere": "south"}, "north", ("south", "hemisphere")),
        ({"last_frost": "05-10"}, "south", ("south", "weather")),
        ({"last_frost": "10-15"}, None, ("south", "frosts")),
        ({"first_frost": "04-15"}, None, ("south", "frosts")),
        ({"last_frost": "05-10"}, None, ("north", "frosts")),
        ({}, "south", ("south", "weather")),
        ({}, None, ("north", "assumed")),
    ],
)
def test_where_the_garden_lies_is_given_or_found(
    settings: dict[str, object], weather: str | None, found: tuple[str, str]
) -> None:
    frame = WEATHER.empty() if weather is None else days(weather)
    seasons = seasons_of(Household.model_validate(settings), frame)
    assert (seasons.hemisphere, seasons.basis) == found


def test_weather_that_hardly_changes_tells_nothing() -> None:
    assert warm_half(days("south", mean=25.0, swing=1.0)) is None
    assert warm_half(days("south", years=1).iloc[:100]) is None
    assert warm_half(days("north")) == "north"


def _kinds(settings: dict[str, object], weather: pd.DataFrame) -> tuple[list[str], list[str]]:
    findings = Findings()
    say_season(Household.model_validate(settings), weather, findings)
    return (
        [problem.column for problem in findings.problems],
        findings.notices["column"].tolist(),
    )


def test_what_contradicts_the_season_is_said() -> None:
    assert _kinds({"latitude": -41.0, "last_frost": "10-20"}, days("south")) == ([], [])
    assert _kinds({"latitude": 41.0, "last_frost": "04-20"}, days("north")) == ([], [])
    assert _kinds({"latitude": 41.0, "hemisphere": "south"}, days("north"))[0] == ["hemisphere"]
    assert _kinds({"latitude": 41.0}, days("south")) == ([], ["latitude"])
    assert _kinds({"latitude": -41.0, "last_frost": "05-10"}, days("south"))[1] == ["last_frost"]
    assert _kinds({"last_frost": "05-10", "first_frost": "04-20"}, WEATHER.empty())[1] == [
        "first_frost"]  # fmt: skip
    # Of this weather the last frost is in March; June is two months and more away.
    assert _kinds({"latitude": 41.0, "last_frost": "06-25"}, days("north"))[1] == ["last_frost"]


def test_the_check_reads_the_latitude(tmp_path: Path) -> None:
    (tmp_path / "garden.toml").write_text("latitude = -41\nhemisphere = 'north'\n", "utf-8")
    problems, _ = check_garden(tmp_path)
    assert [problem.column for problem in problems] == ["hemisphere"]
    (tmp_path / "garden.toml").write_text("latitude = -141\n", "utf-8")
    problems, _ = check_garden(tmp_path)
    assert [problem.column for problem in problems] == ["latitude"]
