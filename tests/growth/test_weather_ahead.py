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


def _moves(ahead, weather: pd.DataFrame) -> np.ndarray:
    """Return by how much each draw's minima lie above those of its past year (draws, days)."""
    table = weather.set_index("date")["tmin_c"]
    first = ahead.dates[0]
    out = np.empty(ahead.tmin_c.shape)
    for draw, year in enumerate(ahead.year):
        leap = first.is_leap_year or (first.month, first.day) != (2, 29)
        day = 28 if not leap or (first.day == 29 and year % 4) else first.day
        start = pd.Timestamp(year, first.month, day)
        past = table.loc[start : start + pd.Timedelta(days=ahead.tmin_c.shape[1] - 1)]
        out[draw] = ahead.tmin_c[draw] - past.to_numpy()
    return out


def test_each_draw_is_one_past_year_in_its_own_order_moved_like_all_others() -> None:
    ahead = weather_futures(LONG, "2025-07-10", 60, draws=150, seed=3)
    assert ahead.tmin_c.shape == ahead.tmax_c.shape == (150, 60)
    assert ahead.source == "past_years"
    assert ahead.notices == ()
    moves = _moves(ahead, LONG)
    np.testing.assert_allclose(moves, np.broadcast_to(moves[0], moves.shape), atol=1e-9)
    np.testing.assert_allclose(ahead.tmax_c - ahead.tmin_c, 10.0)


def test_past_years_are_moved_by_what_the_last_days_were_and_that_fades() -> None:
    dates = LONG["date"]
    warm = LONG["tmin_c"] + 5.0 * (dates > "2025-06-25")
    ahead = weather_futures(LONG.assign(tmin_c=warm, tmax_c=warm + 10), "2025-07-10", 60,
                            draws=15, seed=3)  # fmt: skip
    plain = weather_futures(LONG, "2025-07-10", 60, draws=15, seed=3)
    gap = (ahead.tmin_c - plain.tmin_c).mean(axis=0)
    assert gap[0] > 2.0
    assert gap[0] > gap[6] > gap[20] > gap[59] - 0.05
    assert abs(gap[59]) < 0.5


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
    np.testing.assert_allclose(short.tmin_c, long.tmin_c[:, :7], atol=0.05)


def test_the_29th_of_february() -> None:
    weather = _weather("2010-01-01", "2024-02-28")
    ahead = weather_futures(weather, "2024-02-28", 3, draws=14, seed=1)
    assert ahead.dates[0] == pd.Timestamp("2024-02-29")
    # Each is its year's 29 February or else its 28th, moved like all others.
    moves = _moves(ahead, weather)[:, 0]
    np.testing.assert_allclose(moves, moves[0], atol=1e-9)
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


def test_few_years_set_a_climate_and_it_is_said() -> None:
    weather = _weather("2023-01-01", "2025-07-10")
    ahead = weather_futures(weather, "2025-07-10", 14, draws=420, seed=1)
    assert ahead.source == "climate"
    assert set(ahead.year) == {0}
    assert len(ahead.notices) == 1
    assert "Only 2 past years of weather cover" in ahead.notices[0]
    # These days come after -0.9 degC, 0.1 degC warmer each; every year has been so.
    assert ahead.tmin_c.mean() == pytest.approx(0.0, abs=1.5)


def test_one_year_short_of_enough_is_few() -> None:
    years = ENOUGH_YEARS - 1
    weather = _weather(f"{2025 - years}-07-01", "2025-07-10")
    assert weather_futures(weather, "2025-07-10", 7, draws=9, seed=1).source == "climate"
    weather = _weather(f"{2025 - years - 1}-07-01", "2025-07-10")
    assert weather_futures(weather, "2025-07-10", 7, draws=9, seed=1).source == "past_years"


def test_short_gaps_are_bridged_and_years_with_long_ones_left_out() -> None:
    gap = LONG[~LONG["date"].between("2015-07-12", "2015-07-14")]
    ahead = weather_futures(gap, "2025-07-10", 14, draws=60, seed=1)
    assert 2015 in ahead.year
    assert np.isfinite(ahead.tmin_c[ahead.year == 2015][0]).all()
    long_gap = LONG[~LONG["date"].between("2015-07-12", "2015-07-20")]
    ahead = weather_futures(long_gap, "2025-07-10", 14, draws=60, seed=1)
    assert 2015 not in ahead.year


def test_no_weather_at_all_takes_a_stated_climate() -> None:
    ahead = weather_futures(WEATHER.empty(), "2025-07-10", 60, draws=500, seed=1)
    assert ahead.source == "climate"
    assert "mid-latitude place in the north" in ahead.notices[0]
    assert np.isfinite(ahead.tmin_c).all()
    assert (ahead.tmax_c >= ahead.tmin_c).all()
    # What nobody knows is wide, and warmer than the year's mean: most gardens lie in the north.
    assert ahead.tmin_c.std(axis=0).mean() > 5
    assert 10 < np.median(ahead.tmin_c[:, :14]) < 22


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


def test_latitude_and_elevation_say_what_to_expect() -> None:
    def mean(day: str, latitude: float, elevation_m: float | None = None) -> float:
        ahead = weather_futures(
            WEATHER.empty(), day, 14, draws=300, seed=1, latitude=latitude, elevation_m=elevation_m
        )
        return float(0.5 * (ahead.tmin_c + ahead.tmax_c).mean())

    # Long-term means of January and July, rounded (monthly_means.csv beside the stations): Oxford
    # 4 and 17 degC, Melbourne 21 and 10, Singapore 27 and 28; Niwot Ridge, 3,020 m, -7 and 13.
    for latitude, elevation, january, july in (
        (51.8, 63, 4, 17), (-37.7, 113, 21, 10), (1.4, 16, 27, 28), (40.0, 3020, -7, 13),
    ):  # fmt: skip
        # How far from the sea a place lies is not said, and moves its winter by ten degrees.
        assert mean("2025-01-10", latitude, elevation) == pytest.approx(january, abs=9)
        assert mean("2025-07-10", latitude, elevation) == pytest.approx(july, abs=9)


def test_the_climate_follows_this_seasons_days() -> None:
    season = _weather("2025-05-01", "2025-07-10").assign(tmin_c=24.0, tmax_c=38.0)
    ahead = weather_futures(season, "2025-07-10", 7, draws=300, seed=1)
    assert ahead.source == "climate"
    assert ahead.tmax_c.mean() == pytest.approx(38.0, abs=1.0)
    assert "the days on record" in ahead.notices[0]
    # Days that were all alike will be so next week: a house, or the tropics.
    assert ahead.tmax_c[:, 0].std() < 1.0


def test_a_fortnight_says_what_next_week_is_like() -> None:
    """After 18 to 29 degC next week was once taken as 8 to 17."""
    days = _weather("2025-06-01", "2025-06-14").assign(tmin_c=18.0, tmax_c=29.0)
    ahead = weather_futures(days, "2025-06-14", 7, draws=300, seed=1)
    assert ahead.tmin_c.mean() == pytest.approx(18.0, abs=1.5)
    assert ahead.tmax_c.mean() == pytest.approx(29.0, abs=1.5)


def test_summer_is_in_january_where_the_record_says_so() -> None:
    """Nothing is said of the place; a year of record of the south ends on 15 September."""
    dates = pd.date_range("2024-09-15", "2025-09-15")
    mean = 15 + 8 * np.cos(2 * np.pi * (dates.day_of_year.to_numpy() - 20) / 365)
    noise = np.random.default_rng(3).normal(0, 2, len(dates))
    weather = _weather("2024-09-15", "2025-09-15").assign(
        tmin_c=mean + noise - 5, tmax_c=mean + noise + 5
    )
    ahead = weather_futures(weather, "2025-09-15", 120, draws=300, seed=1)
    assert ahead.tmax_c[:, -10:].mean() > ahead.tmax_c[:, :10].mean() + 5


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
        # Days are moved by what this August was like, which has faded by then.
        found = frost[ahead.year == year]
        assert len(set(found)) == 1
        assert found[0] == pytest.approx((autumn - pd.Timestamp(year, 9, 1)).days, abs=6)


def test_bad_arguments_are_refused() -> None:
    with pytest.raises(ValueError, match="at least 1"):
        weather_futures(LONG, "2025-07-10", 0, draws=3, seed=1)
