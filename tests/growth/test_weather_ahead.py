"""Weather of the coming days: forecasts, past years, few years, none; frost; no look ahead."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames import WEATHER, check_frame
from harvestcast.growth.future.weather import ENOUGH_YEARS, killing_frost, weather_futures


def _weather(first: str, last: str, seed: int = 0) -> pd.DataFrame:
    """Every value names its day: the minimum is the day of the year over ten, less 20."""
    dates = pd.date_range(first, last)
    low = dates.day_of_year.to_numpy() / 10 - 20 + (dates.year.to_numpy() % 50) / 1000
    return check_frame(
        pd.DataFrame(
            {
                "date": dates,
                "tmin_c": low,
                "tmax_c": low + 10,
                "rain_mm": np.nan,
                "kind": "observed",
                "issued": pd.NaT,
            }
        ),
        WEATHER,
    )


def _forecast(first: str, days: int, issued: str | None, low: float) -> pd.DataFrame:
    dates = pd.date_range(first, periods=days)
    return check_frame(
        pd.DataFrame(
            {
                "date": dates,
                "tmin_c": low,
                "tmax_c": low + 8,
                "rain_mm": np.nan,
                "kind": "forecast",
                "issued": pd.Timestamp(issued) if issued else pd.NaT,
            }
        ),
        WEATHER,
    )


LONG = _weather("2010-01-01", "2025-07-10")


def test_each_draw_is_one_past_year_in_its_own_order() -> None:
    ahead = weather_futures(LONG, "2025-07-10", 21, draws=150, seed=3)
    assert ahead.tmin_c.shape == ahead.tmax_c.shape == (150, 21)
    assert ahead.source == "past_years"
    assert ahead.notices == ()
    table = LONG.set_index("date")
    for draw in range(150):
        start = pd.Timestamp(ahead.year[draw], 7, 11)
        days = table.loc[start : start + pd.Timedelta(days=20)]
        assert np.array_equal(ahead.tmin_c[draw], days["tmin_c"])
        assert np.array_equal(ahead.tmax_c[draw], days["tmax_c"])


def test_years_are_dealt_out_evenly() -> None:
    ahead = weather_futures(LONG, "2025-07-10", 7, draws=152, seed=3)
    years, number = np.unique(ahead.year, return_counts=True)
    assert years.tolist() == list(range(2010, 2025))
    assert number.max() - number.min() <= 1


def test_the_same_seed_gives_the_same_weather_and_another_seed_does_not() -> None:
    one, same, other = (weather_futures(LONG, "2025-07-10", 7, draws=50, seed=s) for s in (1, 1, 2))
    assert np.array_equal(one.tmin_c, same.tmin_c)
    assert not np.array_equal(one.year, other.year)


def test_more_days_do_not_change_the_first_ones() -> None:
    short, long = (weather_futures(LONG, "2025-07-10", n, draws=60, seed=4) for n in (7, 28))
    assert np.array_equal(short.tmin_c, long.tmin_c[:, :7])


def test_the_29th_of_february() -> None:
    weather = _weather("2010-01-01", "2024-02-28")
    ahead = weather_futures(weather, "2024-02-28", 3, draws=14, seed=1)
    assert ahead.dates[0] == pd.Timestamp("2024-02-29")
    table = weather.set_index("date")
    for draw, year in enumerate(ahead.year):
        leap = year % 4 == 0
        start = pd.Timestamp(year, 2, 29 if leap else 28)
        assert ahead.tmin_c[draw, 0] == table.loc[start, "tmin_c"]
    # A span over a leap day keeps its length in every year.
    across = weather_futures(weather, "2024-02-20", 20, draws=14, seed=1)
    assert across.tmin_c.shape == (14, 20)
    assert np.isfinite(across.tmin_c).all()


def test_days_after_as_of_are_never_read() -> None:
    whole = weather_futures(LONG, "2018-06-01", 30, draws=40, seed=1, last_day="2025-07-10")
    cut = LONG[LONG["date"] <= "2018-06-01"]
    alone = weather_futures(cut, "2018-06-01", 30, draws=40, seed=1, last_day="2025-07-10")
    assert np.array_equal(whole.tmin_c, alone.tmin_c)
    assert whole.year.max() == 2017
    spoilt = LONG.assign(tmin_c=LONG["tmin_c"].where(LONG["date"] <= "2018-06-01", -40.0))
    again = weather_futures(spoilt, "2018-06-01", 30, draws=40, seed=1, last_day="2025-07-10")
    assert np.array_equal(whole.tmin_c, again.tmin_c)


def test_forecast_days_override_in_every_draw_and_the_latest_issue_wins() -> None:
    weather = pd.concat(
        [
            LONG,
            _forecast("2025-07-11", 5, "2025-07-09", 11.0),
            _forecast("2025-07-11", 3, "2025-07-10", 12.0),
            _forecast("2025-07-11", 9, "2025-07-11", 13.0),  # issued too late to be known
        ]
    )
    ahead = weather_futures(weather, "2025-07-10", 10, draws=30, seed=1)
    assert (ahead.tmin_c[:, :3] == 12).all()
    assert (ahead.tmin_c[:, 3:5] == 11).all()
    assert (ahead.tmax_c[:, 3:5] == 19).all()
    assert ahead.forecast.tolist() == [True] * 5 + [False] * 5
    plain = weather_futures(LONG, "2025-07-10", 10, draws=30, seed=1)
    assert np.array_equal(ahead.tmin_c[:, 5:], plain.tmin_c[:, 5:])


def test_a_forecast_without_day_of_issue_counts_as_of_the_last_day() -> None:
    weather = pd.concat([LONG, _forecast("2025-07-04", 14, None, 11.0)])
    late = weather_futures(weather, "2025-07-10", 5, draws=9, seed=1, last_day="2025-07-10")
    assert late.forecast.all()
    early = weather_futures(weather, "2025-07-03", 5, draws=9, seed=1, last_day="2025-07-10")
    assert not early.forecast.any()
    by_weather = weather_futures(weather, "2025-07-03", 5, draws=9, seed=1)
    assert not by_weather.forecast.any()


def test_few_years_are_shifted_and_said() -> None:
    weather = _weather("2023-01-01", "2025-07-10")
    ahead = weather_futures(weather, "2025-07-10", 14, draws=420, seed=1)
    assert ahead.source == "few_years"
    assert set(ahead.year) == {2023, 2024}
    assert (ahead.shift_days.min(), ahead.shift_days.max()) == (-10, 10)
    assert len(ahead.notices) == 1
    assert "Only 2 past year(s)" in ahead.notices[0]
    table = weather.set_index("date")
    for draw in range(0, 420, 37):
        start = pd.Timestamp(ahead.year[draw], 7, 11) + pd.Timedelta(days=ahead.shift_days[draw])
        assert ahead.tmin_c[draw, 0] == table.loc[start, "tmin_c"]


def test_one_year_short_of_enough_is_few() -> None:
    years = ENOUGH_YEARS - 1
    weather = _weather(f"{2025 - years}-07-01", "2025-07-10")
    assert weather_futures(weather, "2025-07-10", 7, draws=9, seed=1).source == "few_years"
    weather = _weather(f"{2025 - years - 1}-07-01", "2025-07-10")
    assert weather_futures(weather, "2025-07-10", 7, draws=9, seed=1).source == "past_years"


def test_short_gaps_are_bridged_and_years_with_long_ones_left_out() -> None:
    gap = LONG[~LONG["date"].between("2015-07-12", "2015-07-14")]
    ahead = weather_futures(gap, "2025-07-10", 14, draws=60, seed=1)
    assert 2015 in ahead.year
    bridged = ahead.tmin_c[ahead.year == 2015][0]
    assert np.isfinite(bridged).all()
    long_gap = LONG[~LONG["date"].between("2015-07-12", "2015-07-20")]
    ahead = weather_futures(long_gap, "2025-07-10", 14, draws=60, seed=1)
    assert 2015 not in ahead.year


def test_no_weather_at_all_takes_a_stated_climate() -> None:
    ahead = weather_futures(WEATHER.empty(), "2025-07-10", 60, draws=500, seed=1)
    assert ahead.source == "climatology"
    assert "continental mid-latitude" in ahead.notices[0]
    assert np.isfinite(ahead.tmin_c).all()
    assert (ahead.tmax_c > ahead.tmin_c).all()
    assert ahead.tmin_c.std(axis=0).mean() > 2
    assert 14 < ahead.tmin_c[:, :14].mean() < 25


def test_the_climate_is_moved_to_the_households_frosts() -> None:
    def first_frosts(first_frost: str, last_frost: str) -> float:
        ahead = weather_futures(
            WEATHER.empty(),
            "2025-08-01",
            150,
            draws=400,
            seed=1,
            first_frost=first_frost,
            last_frost=last_frost,
        )
        return float(np.median(killing_frost(ahead, 0.0)))

    early, late = first_frosts("09-20", "05-20"), first_frosts("10-30", "04-10")
    # Days after 1 August: 20 September is day 50, 30 October day 90.
    assert early == pytest.approx(50, abs=12)
    assert late == pytest.approx(90, abs=12)
    south = weather_futures(
        WEATHER.empty(), "2025-01-01", 5, draws=50, seed=1, first_frost="05-20", last_frost="10-01"
    )
    assert south.tmax_c.mean() > 18


def test_the_climate_follows_this_seasons_days() -> None:
    season = _weather("2025-05-01", "2025-07-10").assign(tmin_c=24.0, tmax_c=38.0)
    ahead = weather_futures(season, "2025-07-10", 7, draws=300, seed=1)
    assert ahead.source == "climatology"
    assert ahead.tmax_c.mean() > 33
    assert "this season's days" in ahead.notices[0]


def test_killing_frost_is_the_first_day_cold_enough() -> None:
    ahead = weather_futures(LONG, "2025-07-10", 4, draws=3, seed=1)
    cold = ahead._replace(
        tmin_c=np.array([[2.0, -1.0, 3.0, -4.0], [5.0, 5.0, 5.0, 5.0], [-3.0, 1.0, 1.0, 1.0]])
    )
    assert killing_frost(cold, -1.0).tolist() == [1, 4, 0]
    assert killing_frost(cold, -3.5).tolist() == [3, 4, 4]


def test_real_past_frosts_are_carried_into_the_scenarios(shared) -> None:
    """First autumn minimum of -1 degC per year, 2010 to 2019, counted straight from the file."""
    raw = pd.read_csv(shared("data/home_garden_2020/weather.csv"), parse_dates=["date"])
    raw = raw.assign(rain_mm=np.nan, kind="observed", issued=pd.NaT)
    weather = check_frame(raw, WEATHER)
    ahead = weather_futures(weather, "2020-08-31", 90, draws=100, seed=1)
    frost = killing_frost(ahead, -1.0)
    for year in range(2010, 2020):
        autumn = raw[(raw["date"] >= f"{year}-09-01") & (raw["tmin_c"] <= -1)]["date"].min()
        assert set(frost[ahead.year == year]) == {(autumn - pd.Timestamp(year, 9, 1)).days}


def test_bad_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="at least 1"):
        weather_futures(LONG, "2025-07-10", 0, draws=3, seed=1)
