"""Back-test: rows, sums and seasons with made-up forecasters; no look ahead with the real one."""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.errors import InputError
from harvestcast.frames import SCORES, check_frame
from harvestcast.growth.backtest import ALL_VARIETIES, as_known, backtest, daily_mass
from harvestcast.growth.forecast import forecast
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household

START = pd.Timestamp("2025-05-20")


@dataclass(frozen=True)
class Drawn:
    """The least a forecaster must return."""

    draws: pd.DataFrame


def _garden(seed: int = 1) -> Garden:
    """An invented garden: two tomatoes and a bean, picked every second or third day."""
    rng = np.random.default_rng(seed)
    picks = []
    for crop, variety, first, last, level in (
        ("tomato", "Amber Lantern", "2025-07-20", "2025-09-25", 0.9),
        ("tomato", "Dusk Plum", "2025-08-01", "2025-09-20", 0.6),
        ("snap bean", "Creek Runner", "2025-07-05", "2025-08-10", 0.3),
    ):
        day = pd.Timestamp(first)
        while day <= pd.Timestamp(last):
            picks.append((day, crop, variety, level * rng.gamma(4, 0.25)))
            day += pd.Timedelta(days=int(rng.integers(2, 4)))
    plantings = pd.DataFrame(
        {
            "crop": ["tomato", "tomato", "snap bean", "snap bean"],
            "variety": ["Amber Lantern", "Dusk Plum", "Creek Runner", "Creek Runner"],
            "bed": ["east"] * 4,
            "date": [START, START, pd.Timestamp("2025-05-12"), pd.Timestamp("2025-08-15")],
            "how": ["set_out", "set_out", "sown", "sown"],
            "plants": [6.0, 4.0, 40.0, 40.0],
            "removed": [pd.NaT, pd.NaT, pd.Timestamp("2025-08-12"), pd.NaT],
        }
    )
    days = pd.date_range("2014-01-01", "2025-10-10")
    mean = 9 - 14 * np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 15) / 365)
    mean = mean + rng.normal(0, 3, len(days))
    weather = pd.DataFrame({"date": days, "tmin_c": mean - 5, "tmax_c": mean + 5})
    pantry = pd.DataFrame(
        {
            "date": pd.to_datetime(["2025-08-03", "2025-09-20"]),
            "product": ["salsa", "salsa"],
            "change": [4.0, 6.0],
        }
    )
    return garden_from_frames(
        pd.DataFrame(picks, columns=["date", "crop", "variety", "mass_kg"]),
        plantings,
        weather,
        pantry,
        household=Household(first_frost="10-05"),
    )


def _forecaster(value: Callable[[Garden, str, str, pd.Timestamp], float], spread: float = 0.0):
    """Return a forecaster whose every draw and day of a planted variety has the value given."""

    def made(garden: Garden, *, as_of, weeks: int, draws: int, seed: int) -> Drawn:
        rng = np.random.default_rng(seed)
        names = sorted(set(zip(garden.plantings["crop"], garden.plantings["variety"], strict=True)))
        dates = pd.date_range(as_of + pd.Timedelta(days=1), periods=7 * weeks)
        parts = []
        for crop, variety in names:
            frame = pd.MultiIndex.from_product([range(draws), dates], names=["draw", "date"])
            frame = frame.to_frame(index=False)
            factor = np.exp(spread * rng.standard_normal(draws))[frame["draw"]]
            mass = value(garden, crop, variety, as_of) * factor
            parts.append(frame.assign(crop=crop, variety=variety, mass_kg=mass, count=np.nan))
        return Drawn(pd.concat(parts))

    return made


NOTHING = _forecaster(lambda *_: 0.0)


def _week_sum(garden: Garden, crop: str, variety: str | None, origin, week: int = 1) -> float:
    picks = garden.picks
    days = (picks["date"] - origin).dt.days
    chosen = (picks["crop"] == crop) & days.between(7 * week - 6, 7 * week)
    if variety is not None:
        chosen &= picks["variety"] == variety
    return float(picks.loc[chosen, "mass_kg"].sum())


def test_a_forecast_of_nothing_scores_what_was_picked() -> None:
    garden = _garden()
    scores = backtest(garden, 2025, draws=5, forecaster=NOTHING, progress=False)
    assert list(scores.columns) == SCORES.names
    check_frame(scores, SCORES)
    for row in scores.itertuples():
        assert row.observed == pytest.approx(_week_sum(garden, row.crop, row.variety, row.origin))
        assert row.crps == pytest.approx(row.observed)
        assert row.mean == row.q50 == 0
    assert (scores["observed"] == 0).any()  # the week after a crop's end counts as nothing picked


def test_in_season_looks_at_the_past_only() -> None:
    garden = _garden()
    scores = backtest(garden, draws=5, forecaster=NOTHING, progress=False)
    picks = garden.picks
    for row in scores.itertuples():
        own = picks[(picks["crop"] == row.crop) & (picks["variety"] == row.variety)]
        age = (row.origin - own["date"]).dt.days
        assert age.between(0, 20).any()
    origins = scores["origin"].drop_duplicates().sort_values()
    assert origins.iloc[0] == picks["date"].min() + pd.Timedelta(days=6)
    assert set(origins.diff().dropna().dt.days) == {7}
    assert origins.iloc[-1] + pd.Timedelta(days=7) <= garden.last_day


def test_planted_scores_every_week_from_planting_on() -> None:
    garden = _garden()
    season = backtest(garden, draws=5, forecaster=NOTHING, progress=False)
    planted = backtest(garden, draws=5, forecaster=NOTHING, rows="planted", progress=False)
    assert planted["origin"].min() == pd.Timestamp("2025-05-12")
    assert len(planted) > len(season)
    early = planted[planted["origin"] < "2025-05-20"]
    assert set(early["variety"]) == {"Creek Runner"}


def test_crop_rows_add_up_draw_by_draw() -> None:
    garden = _garden()
    spread = _forecaster(lambda *_: 0.1, spread=0.8)
    scores = backtest(garden, draws=400, by="both", forecaster=spread, progress=False)
    crops = scores[scores["variety"] == ALL_VARIETIES]
    alone = backtest(garden, draws=400, by="crop", forecaster=spread, progress=False)
    pd.testing.assert_frame_equal(crops.reset_index(drop=True), pd.DataFrame(alone))
    tomato = scores[scores["crop"] == "tomato"]
    for origin, group in tomato.groupby("origin"):
        rows = group.set_index("variety")
        whole, parts = rows.loc[ALL_VARIETIES], rows.drop(ALL_VARIETIES)
        if len(parts) < 2:
            continue
        assert whole["observed"] == pytest.approx(parts["observed"].sum()), origin
        assert whole["mean"] == pytest.approx(parts["mean"].sum())
        # Independent varieties: the crop's quantile lies inside the sum of the quantiles.
        assert whole["q90"] < parts["q90"].sum()


def test_several_weeks_ahead() -> None:
    garden = _garden()
    scores = backtest(garden, weeks=3, draws=5, forecaster=NOTHING, progress=False)
    assert set(scores["week"]) == {1, 2, 3}
    for row in scores.sample(25, random_state=1).itertuples():
        assert row.observed == pytest.approx(
            _week_sum(garden, row.crop, row.variety, row.origin, row.week)
        )
        assert row.origin + pd.Timedelta(days=7 * row.week) <= garden.last_day


def test_given_origins_are_used() -> None:
    scores = backtest(
        _garden(), origins=["2025-08-10", "2025-08-31"], draws=5, forecaster=NOTHING, progress=False
    )
    assert sorted(set(scores["origin"].dt.strftime("%m-%d"))) == ["08-10", "08-31"]


def test_a_series_left_out_of_the_forecast_counts_as_nothing_forecast() -> None:
    garden = _garden()
    plantings = garden.plantings
    unplanted = replace(garden, plantings=plantings[plantings["variety"] != "Dusk Plum"])
    one = _forecaster(lambda *_: 1.0)
    scores = backtest(unplanted, draws=5, forecaster=one, progress=False)
    left = scores[scores["variety"] == "Dusk Plum"]
    assert len(left) > 5
    assert (left["mean"] == 0).all()
    assert (scores.loc[scores["variety"] == "Amber Lantern", "mean"] == 7).all()


def test_counts_without_weights_are_scored_in_kilograms() -> None:
    garden = _garden()
    picks = garden.picks
    grams = picks["mass_kg"].where(picks.index % 3 == 0)
    counted = replace(garden, picks=picks.assign(count=10.0, mass_kg=grams))
    daily = daily_mass(counted, pd.Timestamp("2025-01-01"), counted.last_day)
    assert daily.shape[1] == 3
    weighed = grams.groupby([picks["crop"], picks["variety"]]).sum()
    assert (daily.sum() > weighed.reindex(daily.columns)).all()


def _changed_after(garden: Garden, day: pd.Timestamp) -> Garden:
    """Everything that happened after a day becomes something else."""
    picks, plantings, weather, pantry = (
        garden.picks,
        garden.plantings,
        garden.weather,
        garden.pantry,
    )
    late = picks["date"] > day
    picks["mass_kg"] = picks["mass_kg"].where(~late, 50 * picks["mass_kg"] + 9)
    more = picks[late].assign(variety="Late Surprise", crop="okra")
    warm = weather["date"] > day
    weather["tmin_c"] = weather["tmin_c"].where(~warm, 31.0)
    weather["tmax_c"] = weather["tmax_c"].where(~warm, 44.0)
    plantings["removed"] = plantings["removed"].where(
        plantings["removed"] <= day, day + pd.Timedelta(days=1)
    )
    planted = plantings["date"] > day
    plantings["plants"] = plantings["plants"].where(~planted, 4000.0)
    late_ones = plantings.iloc[:1].assign(date=day + pd.Timedelta(days=1), plants=900.0)
    later = pantry["date"] > day
    pantry["change"] = pantry["change"].where(~later, 999.0)
    return replace(
        garden,
        picks=pd.concat([picks, more], ignore_index=True),
        plantings=pd.concat([plantings, late_ones], ignore_index=True),
        weather=weather,
        pantry=pantry,
    )


CUTS = ("2025-07-15", "2025-08-11", "2025-09-10")


@pytest.mark.parametrize("cut", CUTS)
def test_nothing_after_the_origin_changes_a_backtested_forecast(cut: str) -> None:
    garden, day = _garden(), pd.Timestamp(cut)
    told = [c for c in SCORES.names if c not in ("observed", "crps")]
    kept = [
        backtest(g, origins=[day], weeks=2, draws=60, by="both", progress=False)
        for g in (garden, _changed_after(garden, day))
    ]
    same = kept[0].merge(kept[1][["crop", "variety", "week"]], on=["crop", "variety", "week"])
    assert len(same) == len(kept[0]) > 0
    both = [k.set_index(["crop", "variety", "week"]).sort_index() for k in kept]
    pd.testing.assert_frame_equal(
        both[0][told[0:1] + told[4:]], both[1].loc[both[0].index, told[0:1] + told[4:]]
    )
    assert not np.allclose(both[0]["observed"], both[1].loc[both[0].index, "observed"])


@pytest.mark.parametrize("cut", CUTS)
def test_nothing_after_the_origin_changes_a_forecast_of_the_whole_garden(cut: str) -> None:
    """The forecast itself keeps the promise too, not only the back-test that cuts the garden."""
    garden, day = _garden(), pd.Timestamp(cut)
    names = ["draw", "date", "crop", "variety"]
    first, second = (
        forecast(g, as_of=day, weeks=2, draws=40, seed=3).draws.sort_values(names)
        for g in (garden, _changed_after(garden, day))
    )
    pd.testing.assert_frame_equal(
        first.reset_index(drop=True), second.reset_index(drop=True), check_exact=True
    )


def test_the_leak_test_would_see_a_leak() -> None:
    """A forecaster that adds up all picks it can see is fooled by the future only if handed it."""

    def total(garden: Garden, crop: str, variety: str, as_of: pd.Timestamp) -> float:
        return float(garden.picks["mass_kg"].sum())

    day = pd.Timestamp("2025-08-11")
    peeking = _forecaster(total)
    garden, changed = _garden(), _changed_after(_garden(), day)
    straight = [peeking(g, as_of=day, weeks=1, draws=2, seed=1).draws for g in (garden, changed)]
    assert not np.allclose(straight[0]["mass_kg"].max(), straight[1]["mass_kg"].max())
    cut = [
        backtest(g, origins=[day], draws=2, forecaster=peeking, progress=False)
        for g in (garden, changed)
    ]
    assert np.allclose(cut[0]["mean"], cut[1]["mean"])


def test_what_was_known_on_a_day() -> None:
    garden = _garden()
    weather = garden.weather
    told = weather.iloc[-3:].assign(
        kind="forecast", date=weather["date"].max() + pd.Timedelta("9D")
    )
    told["date"] = told["date"] + pd.to_timedelta([1, 2, 3], unit="D")
    told["issued"] = pd.to_datetime(["2025-08-01", "2025-09-01", None])
    garden = replace(garden, weather=pd.concat([weather, told], ignore_index=True))
    known = as_known(garden, "2025-08-11")
    assert known.picks["date"].max() <= pd.Timestamp("2025-08-11")
    assert known.plantings["date"].max() == START
    assert known.plantings["removed"].isna().all()
    assert len(known.pantry) == 1
    observed = known.weather[known.weather["kind"] != "forecast"]
    assert observed["date"].max() == pd.Timestamp("2025-08-11")
    issued = known.weather.loc[known.weather["kind"] == "forecast", "issued"]
    assert issued.tolist() == [pd.Timestamp("2025-08-01")]
    later = as_known(garden, garden.last_day)
    assert later.weather.loc[later.weather["kind"] == "forecast", "issued"].isna().sum() == 1
    assert later.plantings["removed"].notna().sum() == 1


def test_the_same_seed_gives_the_same_scores() -> None:
    first, second = (
        backtest(_garden(), origins=["2025-08-10"], draws=50, progress=False) for _ in range(2)
    )
    pd.testing.assert_frame_equal(first, second)


def test_the_real_forecast_beats_a_forecast_of_nothing() -> None:
    garden = _garden()
    days = pd.date_range("2025-07-20", "2025-09-10", freq="14D")
    ours = backtest(garden, origins=days, draws=100, by="crop", progress=False)
    nothing = backtest(garden, origins=days, draws=5, by="crop", forecaster=NOTHING, progress=False)
    assert ours["crps"].mean() < 0.8 * nothing["crps"].mean()


def test_bad_arguments_and_empty_seasons_are_refused_in_plain_words() -> None:
    garden = _garden()
    with pytest.raises(InputError, match="season of 2019 has no picks"):
        backtest(garden, 2019, progress=False)
    with pytest.raises(InputError, match="no week to score"):
        backtest(garden, origins=[garden.last_day], forecaster=NOTHING, progress=False)
    empty = replace(garden, picks=garden.picks.iloc[:0])
    with pytest.raises(InputError, match="has no picks"):
        backtest(empty, progress=False)
    with pytest.raises(ValueError, match="at least 1"):
        backtest(garden, weeks=0)
    with pytest.raises(ValueError, match="rows="):
        backtest(garden, rows="some")


def test_a_season_of_the_southern_hemisphere_runs_over_new_year() -> None:
    garden = _garden()
    half = pd.DateOffset(months=6)

    def moved(frame: pd.DataFrame) -> pd.DataFrame:
        return frame.assign(date=frame["date"] + half).drop_duplicates()

    plantings = moved(garden.plantings)
    plantings["removed"] = plantings["removed"] + half
    south = replace(
        garden,
        household=Household(last_frost="10-15", first_frost="04-20"),
        picks=moved(garden.picks),
        plantings=plantings,
        weather=moved(garden.weather).drop_duplicates("date"),
        pantry=moved(garden.pantry),
    )
    scores = backtest(south, 2025, draws=5, forecaster=NOTHING, progress=False)
    assert scores["origin"].min() == pd.Timestamp("2026-01-05") + pd.Timedelta(days=6)
    assert scores["origin"].max() > pd.Timestamp("2026-03-01")
