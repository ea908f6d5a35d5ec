"""The forecast: its contract, no look ahead, and gardens that tell it little."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames import (
    CHECKS,
    DRAWS,
    FITTED,
    LEFT_OUT,
    WEEKLY_BY_CROP,
    WEEKLY_BY_VARIETY,
    check_frame,
)
from harvestcast.growth.forecast import Outlook, forecast
from harvestcast.growth.future.fitted import LEVELS, ready_quantiles
from harvestcast.growth.log.series import NO_WEATHER
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household
from tests.simulated import as_garden, simulate_garden

SET_OUT = pd.Timestamp("2025-05-20")


def _weather(last: str = "2025-12-31", *, frost: str | None = None) -> pd.DataFrame:
    """Three invented years of a smooth yearly wave; optionally a hard frost on one day."""
    days = pd.date_range("2023-01-01", last)
    mean = 10 - 13 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    frame = pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 6})
    if frost is not None:
        frame.loc[frame["date"] == pd.Timestamp(frost), "tmin_c"] = -5.0
    return frame


def _plantings(*rows: tuple[object, ...]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=["crop", "variety", "date", "how", "plants"])


TOMATO = ("tomato", "Lantern", SET_OUT, "set_out", 6.0)
CUCUMBER = ("cucumber", "Creek", pd.Timestamp("2025-05-25"), "sown", 5.0)


def _picks(crop: str, variety: str, first: str, last: str, every: int, kg: float) -> pd.DataFrame:
    days = pd.date_range(first, last, freq=f"{every}D")
    return pd.DataFrame({"date": days, "crop": crop, "variety": variety, "mass_kg": kg})


def _garden(picks: pd.DataFrame | None, plantings: pd.DataFrame, **weather: object) -> Garden:
    return garden_from_frames(
        picks,
        plantings,
        _weather(**weather),
        household=Household(first_frost="10-10", last_frost="05-08"),
    )


@pytest.fixture(scope="module")
def simulated() -> Garden:
    return as_garden(simulate_garden(3, crops=("cucumber", "tomato", "snap bean"), truth=False))


@pytest.fixture(scope="module")
def outlook(simulated: Garden) -> Outlook:
    return forecast(simulated, "2026-08-10", draws=120, seed=4)


def test_a_table_in_pounds_is_named_so(outlook: Outlook) -> None:
    """One pound is 0.45359237 kg exactly (international yard and pound agreement of 1959)."""
    for metric, pounds in (
        (outlook.weekly(), outlook.weekly(units="us")),
        (outlook.daily("variety"), outlook.daily("variety", units="us")),
    ):
        assert not [name for name in pounds.columns if name.endswith("_kg")]
        assert len(pounds.columns) == len(metric.columns)
        np.testing.assert_allclose(pounds["q90_lb"] * 0.45359237, metric["q90_kg"])
        np.testing.assert_array_equal(pounds["mean_count"], metric["mean_count"])
    with pytest.raises(ValueError, match="metric"):
        outlook.weekly(units="imperial")  # type: ignore[arg-type]


def test_frames_keep_their_contract(outlook: Outlook) -> None:
    check_frame(outlook.weekly(), WEEKLY_BY_CROP)
    check_frame(outlook.weekly(by="variety"), WEEKLY_BY_VARIETY)
    check_frame(outlook.draws, DRAWS)
    check_frame(outlook.checks, CHECKS)
    check_frame(outlook.left_out, LEFT_OUT)
    check_frame(outlook.fitted, FITTED)
    weekly = outlook.weekly()
    assert weekly["start"].min() == pd.Timestamp("2026-08-11")
    assert weekly["end"].max() == pd.Timestamp("2026-08-31")
    assert set(outlook.draws["date"]) == set(pd.date_range("2026-08-11", "2026-08-31"))
    assert outlook.checks["passed"].all()


def test_draws_are_finite_and_never_negative(outlook: Outlook) -> None:
    for array in (outlook.mass_kg, outlook.counts):
        assert np.isfinite(array).all()
        assert (array >= 0).all()
        assert array.shape == (120, 21, 6)
    assert outlook.mass_kg.sum() > 0


def test_the_same_seed_gives_the_same_draws(simulated: Garden, outlook: Outlook) -> None:
    again = forecast(simulated, "2026-08-10", draws=120, seed=4)
    np.testing.assert_array_equal(again.mass_kg, outlook.mass_kg)
    np.testing.assert_array_equal(again.counts, outlook.counts)
    other = forecast(simulated, "2026-08-10", draws=120, seed=5)
    assert not np.array_equal(other.mass_kg, outlook.mass_kg)


def test_crops_are_sums_of_their_varieties_in_each_draw(outlook: Outlook) -> None:
    draws = outlook.draws
    week = draws[draws["date"] <= outlook.as_of + pd.Timedelta(days=7)]
    totals = week.groupby(["crop", "draw"])[["mass_kg", "count"]].sum()
    weekly = outlook.weekly().set_index(["crop", "week"])
    for crop in ("cucumber", "snap bean", "tomato"):
        # Quantiles of numbers are not rounded to whole fruits: half a fruit a pick off at most.
        picks = (week[(week["crop"] == crop) & (week["mass_kg"] > 0)]).groupby("draw").size().max()
        for column, unit, off in (("mass_kg", "kg", 1e-6), ("count", "count", 0.5 * picks)):
            own = totals.loc[crop][column]
            row = weekly.loc[(crop, 1)]
            assert row[f"mean_{unit}"] == pytest.approx(own.mean(), rel=0.02 if off > 0.1 else 1e-6)
            for level in (5, 25, 50, 75, 95):
                seen = own.quantile(level / 100)
                assert row[f"q{level:02d}_{unit}"] == pytest.approx(seen, abs=off)
    by_variety = outlook.weekly(by="variety").groupby(["crop", "week"])["mean_kg"].sum()
    np.testing.assert_allclose(by_variety, outlook.weekly().set_index(["crop", "week"])["mean_kg"])


def test_daily_adds_up_to_weekly(outlook: Outlook) -> None:
    daily, weekly = outlook.daily(), outlook.weekly()
    assert daily["mean_kg"].sum() == pytest.approx(weekly["mean_kg"].sum())
    with pytest.raises(ValueError, match="crop"):
        outlook.weekly(by="bed")  # type: ignore[arg-type]


def test_counts_and_masses_agree(simulated: Garden, outlook: Outlook) -> None:
    # Fruits per kilogram of the draws against the garden's own rows that have both.
    picks = simulated.picks[simulated.picks["date"] <= outlook.as_of]
    both = picks[(picks["count"] > 0) & (picks["mass_kg"] > 0)]
    assert len(both) > 20
    for column, (crop, variety) in enumerate(outlook.keys):
        own = both[(both["crop"] == crop) & (both["variety"] == variety)]
        mass, count = outlook.mass_kg[..., column], outlook.counts[..., column]
        if own.empty or mass.sum() == 0:
            continue
        written = own["mass_kg"].sum() / own["count"].sum()
        assert mass.sum() / count.sum() == pytest.approx(written, rel=0.35)


def test_frames_given_out_are_copies(outlook: Outlook) -> None:
    checks, fitted = outlook.checks, outlook.fitted
    checks["passed"] = False
    fitted["ready_q50_kg"] = -1.0
    assert outlook.checks["passed"].all()
    assert (outlook.fitted["ready_q50_kg"] >= 0).all()


def test_nothing_after_the_day_changes_the_forecast(simulated: Garden, outlook: Outlook) -> None:
    """What became known later is cut off, or made grossly wrong: the draws stay as they are."""
    day = outlook.as_of
    picks, weather = simulated.picks, simulated.weather
    wrong_picks = picks.copy()
    later = wrong_picks["date"] > day
    wrong_picks.loc[later, ["mass_kg", "count"]] *= 50
    wrong_weather = weather.copy()
    wrong_weather.loc[wrong_weather["date"] > day, ["tmin_c", "tmax_c"]] += 15.0
    assert later.any()
    for other_picks, other_weather in (
        (picks[picks["date"] <= day], weather[weather["date"] <= day]),
        (wrong_picks, wrong_weather),
    ):
        other = garden_from_frames(
            other_picks, simulated.plantings, other_weather, household=simulated.household
        )
        again = forecast(other, day, draws=120, seed=4)
        np.testing.assert_array_equal(again.mass_kg, outlook.mass_kg)


def _sound(made: Outlook) -> None:
    check_frame(made.weekly(), WEEKLY_BY_CROP)
    check_frame(made.draws, DRAWS)
    check_frame(made.fitted, FITTED)
    assert np.isfinite(made.mass_kg).all()
    assert (made.mass_kg >= 0).all()


def _median(made: Outlook, crop: str, week: int = 1) -> float:
    weekly = made.weekly().set_index(["crop", "week"])
    return float(weekly.loc[(crop, week), "q50_kg"])


def test_counts_alone_and_weights_alone() -> None:
    weights = _picks("cucumber", "Creek", "2025-07-18", "2025-08-10", 2, 0.9)
    counts = weights.assign(count=6.0).drop(columns="mass_kg")
    both = weights.assign(count=6.0)
    made = {
        name: forecast(_garden(rows, _plantings(CUCUMBER)), "2025-08-10", draws=200)
        for name, rows in (("counts", counts), ("weights", weights), ("both", both))
    }
    for one in made.values():
        _sound(one)
        assert np.isfinite(one.counts).all()
    # 3.15 kg a week so far: a week that goes on like that lies inside every band.
    for one in made.values():
        week = one.weekly().iloc[0]
        assert week["q05_kg"] <= 3.15 <= week["q95_kg"]
        assert week["q05_count"] <= 21 <= week["q95_count"]
    assert _median(made["both"], "cucumber") == pytest.approx(
        _median(made["weights"], "cucumber"), rel=0.3
    )


def test_two_picks_in_the_whole_season() -> None:
    rows = pd.concat(
        [
            _picks("cucumber", "Creek", "2025-07-20", "2025-07-20", 1, 0.8),
            _picks("cucumber", "Creek", "2025-08-03", "2025-08-03", 1, 1.1),
        ]
    )
    _sound(forecast(_garden(rows, _plantings(CUCUMBER, TOMATO)), "2025-08-05", draws=60))


def test_before_the_first_pick_of_all() -> None:
    made = forecast(_garden(None, _plantings(TOMATO, CUCUMBER)), "2025-05-28", draws=2000)
    _sound(made)
    # A week after sowing and setting out nothing is ripe.
    assert made.weekly()["q95_kg"].max() == 0.0
    late = forecast(_garden(None, _plantings(TOMATO, CUCUMBER)), "2025-07-25", draws=2000)
    _sound(late)
    assert (late.weekly()["q95_kg"] > 0.3).all()


def test_an_empty_garden_has_no_forecast_and_no_error() -> None:
    made = forecast(_garden(None, _plantings(TOMATO).iloc[:0]), "2025-07-01", draws=10)
    assert made.keys == ()
    assert made.weekly().empty
    assert made.draws.empty
    assert made.checks.empty
    assert made.left_out.empty


def test_unknown_crop_gets_a_wide_forecast() -> None:
    rows = _picks("moonroot", "unnamed", "2025-07-18", "2025-08-10", 3, 0.5)
    made = forecast(
        _garden(rows, _plantings(("moonroot", "unnamed", SET_OUT, "sown", np.nan))),
        "2025-08-10",
        draws=100,
    )
    _sound(made)
    assert made.weekly()["q95_kg"].iloc[0] > 0.5


def test_perennial_without_a_date() -> None:
    rows = _picks("raspberry", "Hedge", "2025-06-28", "2025-07-12", 2, 0.4)
    made = forecast(
        _garden(rows, _plantings(("raspberry", "Hedge", pd.NaT, "set_out", 8.0))),
        "2025-07-12",
        draws=100,
    )
    _sound(made)
    assert ("raspberry", "Hedge") in made.keys
    assert _median(made, "raspberry") > 0.1


def test_a_planting_that_cannot_be_dated_is_left_out_with_the_reason() -> None:
    made = forecast(
        _garden(None, _plantings(TOMATO, ("snap bean", "Reed", pd.NaT, "sown", 30.0))),
        "2025-07-12",
        draws=20,
    )
    left = made.left_out
    assert left["crop"].tolist() == ["snap bean"]
    assert left["code"].tolist() == ["planting.undated"]
    assert ("snap bean", "Reed") not in made.keys


def test_killing_frost_ends_tender_crops_and_no_others() -> None:
    rows = pd.concat(
        [
            _picks("tomato", "Lantern", "2025-08-01", "2025-09-28", 3, 1.0),
            _picks("chard", "Broad", "2025-06-15", "2025-09-28", 4, 0.3),
        ]
    )
    chard = ("chard", "Broad", pd.Timestamp("2025-04-20"), "sown", 20.0)
    plantings = _plantings(TOMATO, chard)
    killed = forecast(_garden(rows, plantings, frost="2025-09-29"), "2025-09-30", draws=100)
    spared = forecast(_garden(rows, plantings), "2025-09-30", draws=100)
    by_crop = killed.weekly().groupby("crop")["mean_kg"].sum()
    was = spared.weekly().groupby("crop")["mean_kg"].sum()
    assert was["tomato"] > 1.0
    assert was["chard"] > 0.3
    assert by_crop["chard"] > 0.3
    # What hung ripe on the day of the frost may still be brought in; nothing ripens any more.
    fitted = killed.fitted
    coming = fitted[(fitted["crop"] == "tomato") & (fitted["date"] > killed.as_of)]
    assert (coming["ready_q90_kg"] == 0).all()
    assert by_crop["tomato"] < 0.6 * was["tomato"]


def test_zero_rows_every_sunday_change_little() -> None:
    """A household that writes 0 on Sundays because it does not pick then."""
    rows = _picks("cucumber", "Creek", "2025-07-18", "2025-08-15", 1, 0.5)
    rows = rows[rows["date"].dt.day_of_week != 6]
    sundays = pd.date_range("2025-07-20", "2025-08-15", freq="W-SUN")
    zeros = pd.DataFrame({"date": sundays, "crop": "cucumber", "variety": "Creek", "mass_kg": 0.0})
    plain = forecast(_garden(rows, _plantings(CUCUMBER)), "2025-08-15", draws=200)
    with_zeros = forecast(
        _garden(pd.concat([rows, zeros]).sort_values("date"), _plantings(CUCUMBER)),
        "2025-08-15",
        draws=200,
    )
    _sound(with_zeros)
    assert _median(with_zeros, "cucumber") > 0.6 * _median(plain, "cucumber")
    sunday = with_zeros.mass_kg[:, with_zeros.dates.day_of_week == 6].mean()
    friday = with_zeros.mass_kg[:, with_zeros.dates.day_of_week == 4].mean()
    assert sunday < friday


def test_a_greenhouse_whose_zeros_mean_not_picked() -> None:
    """Zeros on every day without a pick, most of them Sundays: the week goes on as it was."""
    days = pd.date_range("2025-07-10", "2025-08-31")
    picked = (days.day_of_week != 6) & (np.arange(len(days)) % 2 == 0)
    rows = pd.DataFrame(
        {
            "date": days,
            "crop": "cucumber",
            "variety": "Creek",
            "mass_kg": np.where(picked, 1.0, 0.0),
        }
    )
    made = forecast(_garden(rows, _plantings(CUCUMBER)), "2025-08-31", draws=2000)
    _sound(made)
    lately = rows["mass_kg"].to_numpy()[-21:].sum() / 3
    week = made.weekly().iloc[0]
    assert week["q10_kg"] < lately < week["q95_kg"]
    assert 0.4 * lately < week["q50_kg"] < 1.6 * lately
    sunday = made.mass_kg[:, made.dates.day_of_week == 6].mean()
    assert sunday < 0.5 * made.mass_kg[:, made.dates.day_of_week != 6].mean()


def test_weather_that_had_to_be_filled_is_a_check() -> None:
    weather = _weather()
    gap = (weather["date"] >= "2025-06-01") & (weather["date"] <= "2025-06-20")
    whole = _garden(None, _plantings(TOMATO))
    holed = garden_from_frames(None, whole.plantings, weather[~gap], household=whole.household)
    checks = forecast(holed, "2025-07-20", draws=20).checks
    row = checks[checks["code"] == "weather.filled"].iloc[0]
    assert row["statistic"] == 20
    assert not row["passed"]
    assert "weather.filled" not in set(forecast(whole, "2025-07-20", draws=20).checks["code"])


@pytest.mark.parametrize("ahead", [False, True])
def test_without_one_observed_day_of_weather_nothing_is_forecast(ahead: bool) -> None:
    """A forecast of the weather is not a record of it; one observed day is."""
    picks = pd.concat(
        [
            _picks("cucumber", "Creek", "2025-07-05", "2025-07-25", 2, 1.0),
            _picks("zucchini", "Bellows", "2025-07-05", "2025-07-25", 2, 1.0),
        ]
    )
    home, beds = Household(), _plantings(TOMATO, CUCUMBER)
    none = _weather().iloc[:0] if not ahead else _weather().tail(3).assign(kind="forecast")
    found = forecast(garden_from_frames(picks, beds, none, household=home), "2025-07-25", draws=40)
    assert found.weekly().empty
    left = check_frame(found.left_out, LEFT_OUT)
    # The zucchini was picked only: it has no row of its own among the plantings.
    assert sorted(left["crop"]) == ["cucumber", "tomato", "zucchini"]
    assert set(left["code"]) == {NO_WEATHER}
    one = _weather("2025-07-20").tail(1)
    some = forecast(garden_from_frames(picks, beds, one, household=home), "2025-07-25", draws=40)
    assert set(some.weekly()["crop"]) == {"cucumber", "tomato", "zucchini"}
    before = forecast(garden_from_frames(picks, beds, one, household=home), "2025-07-19", draws=40)
    assert before.weekly().empty


@pytest.mark.parametrize("removed", ["2025-08-11", "2025-08-19", "2025-08-20"])
def test_removed_plantings_bear_no_more(removed: str) -> None:
    """Picked for the last time and taken out, days ago or on the last day known itself."""
    rows = _picks("cucumber", "Creek", "2025-07-18", removed, 1, 0.9)
    plantings = _plantings(CUCUMBER).assign(removed=pd.Timestamp(removed))
    made = forecast(_garden(rows, plantings), "2025-08-20", draws=60)
    _sound(made)
    assert made.mass_kg.max() == 0.0
    fitted = made.fitted
    assert (fitted.loc[fitted["date"] > made.as_of, "ready_q90_kg"] < 1e-6).all()


def test_more_draws_and_weeks(simulated: Garden) -> None:
    made = forecast(simulated, "2026-08-10", weeks=5, draws=30)
    assert made.weekly()["week"].max() == 5
    assert made.mass_kg.shape[:2] == (30, 35)
    assert replace(made).draws["draw"].nunique() == 30


@pytest.mark.parametrize("draws", [1, 2, 37, 400])
def test_quantiles_of_what_ripens_are_those_of_numpy(draws: int) -> None:
    ready = np.random.default_rng(1).gamma(2.0, size=(5, 3, draws)).astype(np.float32)
    expected = np.quantile(ready.astype(float), LEVELS, axis=-1)
    np.testing.assert_allclose(ready_quantiles(ready), expected, rtol=1e-12)


def test_before_a_forecast_frost_all_that_is_tender_is_brought_in() -> None:
    """Seven draws in ten bring it in on one of the six days before; after the frost comes little.

    Which days are said to freeze is all that differs; the household is simulated.
    """
    told = simulate_garden(604, crops=("tomato", "zucchini"), truth=False)
    garden = as_garden(told)
    day = pd.Timestamp("2026-08-20")
    last = day + pd.Timedelta(days=14)
    made = []
    for low in (9.0, -5.0):
        weather = garden.weather[garden.weather["date"] <= last].reset_index(drop=True)
        ahead = weather["date"] > day
        weather.loc[ahead, ["tmin_c", "tmax_c"]] = [9.0, 20.0]
        weather.loc[weather["date"] == day + pd.Timedelta(days=7), "tmin_c"] = low
        weather.loc[ahead, "kind"] = "forecast"
        weather.loc[ahead, "issued"] = day
        picks = garden.picks[garden.picks["date"] <= day].reset_index(drop=True)
        said = replace(garden, weather=weather, picks=picks)
        made.append(forecast(said, day, weeks=2, draws=800, rehearsals=0).mass_kg)
    before = [kg[:, :6].sum(axis=(1, 2)).mean() for kg in made]
    after = [kg[:, 8:].sum(axis=(1, 2)).mean() for kg in made]
    assert before[1] > 1.05 * before[0]
    assert after[1] < 0.1 * after[0]
