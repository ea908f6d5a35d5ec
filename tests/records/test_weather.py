"""Weather: units, gaps, forecasts told from records."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.logs.weather import fill_gaps
from harvestcast.records.tables.findings import Findings

Maker = Callable[..., Path]
TODAY = "2026-07-25"


def weather_of(make: Maker, **files: str | bytes | None) -> pd.DataFrame:
    return open_garden(make(**files), today=TODAY).weather


def lines(days: pd.DatetimeIndex, low: float = 10, high: float = 20) -> str:
    return "".join(f"{day.date()},{low},{high}\n" for day in days)


HEAD = "date,tmin_c,tmax_c\n"


@pytest.mark.parametrize(
    "text",
    [
        "date,tmin_f,tmax_f\n2026-07-20,50,68\n",
        "Date,Low (F),High (F)\n7/20/2026,50,68\n",
        "day;min temp °C;max temp °C\n2026-07-20;10,0;20,0\n",
        "date,minimum,maximum,unit\n2026-07-20,50,68,deg F\n",
        "date,tmin_f,tmax_f,tmin_c,tmax_c\n2026-07-20,50,68,10,20\n",
    ],
)
def test_units_stand_in_the_heading_or_a_column(make: Maker, text: str) -> None:
    found = weather_of(make, weather=text)
    assert found[["tmin_c", "tmax_c"]].to_numpy().tolist() == [[10, 20]]


def test_trace_and_missing(make: Maker) -> None:
    text = (
        "date,tmin_f,tmax_f,rain_in\n2026-07-18,50,68,T\n2026-07-19,M,68,M\n2026-07-20,50,68,0.5\n"
    )
    found = weather_of(make, weather=text)
    assert found["rain_mm"].fillna(-1).to_list() == [0, -1, 12.7]
    assert found["kind"].to_list() == ["observed", "filled", "observed"]
    assert found["tmin_c"].to_list() == [10, 10, 10]


def test_short_gaps_lie_on_a_straight_line(make: Maker) -> None:
    text = HEAD + "2026-07-15,10,20\n2026-07-19,14,28\n2026-07-20,14,28\n"
    found = weather_of(make, weather=text)
    assert found["tmin_c"].to_list() == pytest.approx([10, 11, 12, 13, 14, 14])
    assert found["tmax_c"].to_list() == pytest.approx([20, 22, 24, 26, 28, 28])
    assert found["kind"].to_list() == ["observed", *["filled"] * 3, *["observed"] * 2]


def test_a_long_gap_follows_the_usual_year() -> None:
    """Ten years of one smooth course, thirty days taken out of the last: they come back."""
    days = pd.date_range("2016-01-01", "2025-12-31")
    season = -np.cos(2 * np.pi * (days.day_of_year - 15) / 365.25)
    truth = pd.DataFrame(
        {
            "date": days,
            "tmin_c": 5 + 10 * season + 0.3 * (days.year - 2016),
            "tmax_c": 15 + 12 * season,
            "rain_mm": 0.0,
            "kind": "observed",
            "issued": pd.NaT,
            "file": "weather.csv",
        }
    )
    gap = (days >= "2025-06-01") & (days <= "2025-06-30")
    findings = Findings()
    found = fill_gaps(truth[~gap].reset_index(drop=True), findings)
    assert len(found) == len(truth)
    filled = found["kind"].eq("filled").to_numpy()
    assert filled.sum() == 30 and (filled == gap).all()
    first = int(np.argmax(gap))
    for column in ("tmin_c", "tmax_c"):
        values = truth[column].to_numpy()
        error = np.abs(found[column].to_numpy() - values).max()
        straight = np.interp(np.arange(30), [-1, 30], values[[first - 1, first + 30]])
        # The usual day is a mean over a fortnight, which flattens the course a little.
        assert error < 0.1 < np.abs(straight - values[gap]).max()
    assert findings.notices["code"].to_list() == ["weather.gap"]
    facts = {"days": 30, "last": dt.date(2025, 6, 30), "filled": "usual"}
    assert findings.notices["facts"].to_list() == [facts]


def test_a_gap_of_years_stays_open(make: Maker) -> None:
    old, new = pd.date_range("2020-01-01", periods=5), pd.date_range("2026-07-16", "2026-07-20")
    folder = make(weather=HEAD + lines(old) + lines(new))
    garden = open_garden(folder, today=TODAY)
    assert len(garden.weather) == 10
    assert garden.notices["code"].to_list() == ["weather.gap"]
    assert garden.notices["facts"].iloc[0]["filled"] == "open"


def test_days_after_the_last_pick_are_a_forecast(make: Maker) -> None:
    text = HEAD + lines(pd.date_range("2026-07-10", "2026-07-27"))
    found = weather_of(make, weather=text)
    ahead = found[found["kind"] == "forecast"]
    assert ahead["date"].to_list() == list(pd.date_range("2026-07-21", "2026-07-27"))
    assert ahead["issued"].isna().all()


def test_a_record_that_goes_on_for_weeks_is_no_forecast(make: Maker) -> None:
    text = HEAD + lines(pd.date_range("2026-07-10", "2026-09-30"))
    garden = open_garden(make(weather=text), today="2026-10-01")
    assert set(garden.weather["kind"]) == {"observed"}
    assert garden.notices["code"].to_list() == ["weather.long"]
    facts = {"days": 72, "last": dt.date(2026, 7, 20), "reach": 16}
    assert garden.notices["facts"].to_list() == [facts]


def test_forecast_files_keep_their_days_of_issue(make: Maker) -> None:
    ahead = (
        "date,tmin_c,tmax_c,issued\n2026-07-21,11,21,2026-07-19\n2026-07-21,12,22,2026-07-20\n"
        "2026-07-20,9,19,2026-07-19\n"
    )
    text = HEAD + lines(pd.date_range("2026-07-10", "2026-07-21"))
    found = weather_of(make, weather=text, **{"weather-forecast.csv": ahead})
    forecast = found[found["kind"] == "forecast"]
    assert forecast[["tmin_c", "tmax_c"]].to_numpy().tolist() == [
        [9, 19],  # issued before the day, which was then observed too
        [10, 20],  # the plain file's own day ahead, issue unknown
        [11, 21],
        [12, 22],
    ]
    assert found[found["kind"] == "observed"]["date"].is_unique


def test_the_kind_may_stand_in_a_column(make: Maker) -> None:
    text = "date,tmin_c,tmax_c,kind\n2026-07-19,1,2,observed\n2026-07-20,3,4,Forecast\n"
    assert weather_of(make, weather=text)["kind"].to_list() == ["observed", "forecast"]


def test_without_picks_the_clock_tells_the_forecast(make: Maker) -> None:
    text = HEAD + lines(pd.date_range("2026-07-20", "2026-07-27"))
    garden = open_garden(make(weather=text, picks="date,crop,count\n", pantry=None), today=TODAY)
    assert (garden.weather["kind"] == "forecast").sum() == 2
    assert garden.last_day == pd.Timestamp(TODAY)


def test_two_files_of_one_place_complete_each_other(make: Maker) -> None:
    extra = "date,tmin_c,tmax_c,rain_mm\n2026-07-18,1,2,9\n2026-07-21,1,2,9\n"
    folder = make(
        weather="date,tmin_c,tmax_c\n2026-07-18,14,26\n", **{"weather-station.csv": extra}
    )
    found = open_garden(folder, today=TODAY).weather
    first = found.iloc[0]
    assert (first["tmin_c"], first["rain_mm"]) == (1, 9)  # weather-station.csv sorts first
    problems, notices = check_garden(folder, today=TODAY)
    assert problems == ()
    twice = notices.loc[notices["code"] == "weather.twice", "facts"]
    facts = {"days": 1, "unlike": 1, "apart_c": 24.0, "forecast": False}
    assert facts in twice.to_list()


def test_decimal_commas(make: Maker) -> None:
    text = "date;tmin_c;tmax_c;rain_mm\n2026-07-20;12,5;25,75;1,2\n"
    found = weather_of(make, weather=text)
    assert found[["tmin_c", "tmax_c", "rain_mm"]].to_numpy().tolist() == [[12.5, 25.75, 1.2]]


def test_files_that_contradict_each_other_are_said_to_differ(make: Maker) -> None:
    first = "date,tmin_c,tmax_c,rain_mm\n2026-07-18,14,26,0\n2026-07-19,15,27,0\n"
    for name, second, apart_c in (
        ("same", "2026-07-18,14.2,26,0\n2026-07-19,15,27,0\n", None),
        ("apart", "2026-07-18,14,26,0\n2026-07-19,10,27,0\n", 5.0),
        ("rain", "2026-07-18,14,26,0\n2026-07-19,15,27,20\n", 0.0),
    ):
        other = "date,tmin_c,tmax_c,rain_mm\n" + second
        garden = open_garden(
            make(name, weather=first, **{"weather2.csv": other}), today="2026-07-25"
        )
        twice = garden.notices.loc[garden.notices["code"] == "weather.twice"].iloc[0]
        assert twice["facts"] == {
            "days": 2,
            "unlike": 0 if apart_c is None else 1,
            "apart_c": apart_c or 0.0,
            "forecast": False,
        }
        if apart_c is not None:
            assert (twice["file"], twice["line"]) == ("weather2.csv", 3)
        assert garden.weather["tmin_c"].tolist() == [14, 15]


def test_two_forecasts_of_one_day_that_differ_are_said(make: Maker) -> None:
    text = "date,tmin_c,tmax_c,issued\n2026-07-22,14,26,2026-07-20\n2026-07-22,10,26,2026-07-20\n"
    garden = open_garden(make(**{"weather-forecast.csv": text}), today="2026-07-25")
    twice = garden.notices.loc[garden.notices["code"] == "weather.twice", "facts"]
    assert [(facts["forecast"], facts["unlike"]) for facts in twice] == [(True, 1)]
    ahead = garden.weather[garden.weather["kind"] == "forecast"]
    assert ahead["tmin_c"].tolist() == [14]
