"""The season ahead: nothing lost, nothing invented, dates near the truth, rooms counted by hand."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import harvestcast as hc
from harvestcast.frames.season_tables import (
    AHEAD_CROPS,
    AHEAD_HOURS,
    AHEAD_LIMITS,
    AHEAD_ROOM,
    AHEAD_SHELVES,
    AHEAD_WEEKS,
)
from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.season.ahead import ahead as module
from harvestcast.season.ahead.ahead import SeasonAhead, season_ahead
from harvestcast.season.ahead.growing import WEEKS, Growing
from tests.season.gardens import weather
from tests.season.overwintered import northern_garden, southern_garden

WEEK = pd.Timedelta(days=7)
JUNE = pd.Timestamp("2026-06-01")


@pytest.fixture(scope="module")
def sample(sample_folder: Path) -> Garden:
    return hc.open_garden(sample_folder, today="2026-07-26")


@pytest.fixture(scope="module")
def june(sample: Garden) -> SeasonAhead:
    """The sample as it is once the beds are in, before anything was picked of the new season."""
    return season_ahead(sample, JUNE, draws=200)


def test_tables_keep_their_specifications(june: SeasonAhead) -> None:
    for table, spec in (
        (june.weeks, AHEAD_WEEKS),
        (june.crops, AHEAD_CROPS),
        (june.shelves, AHEAD_SHELVES),
        (june.room, AHEAD_ROOM),
        (june.limits, AHEAD_LIMITS),
        (june.hours, AHEAD_HOURS),
    ):
        assert list(table.columns) == spec.names
        assert len(table)


def test_all_that_comes_goes_somewhere(june: SeasonAhead) -> None:
    """Nothing lies in the kitchen on 1 June, so what is used is what comes."""
    crops = june.crops
    used = crops[["eaten_kg", "given_kg", "put_up_kg", "over_kg", "stored_kg"]].sum(axis=1)
    assert used.to_numpy() == pytest.approx(crops["mean_kg"].to_numpy(), rel=1e-6)


def test_no_target_and_no_room_is_overdrawn(june: SeasonAhead, sample: Garden) -> None:
    shelves = june.shelves
    assert (shelves["q90_jars"] <= shelves["wanted_jars"] + 1e-6).all()
    assert shelves["p_met"].between(0, 1).all()
    limits = june.limits.set_index("store")
    assert limits.loc["freezer", "q90"] <= limits.loc["freezer", "there"] + 1e-6
    hours = june.hours
    assert (hours["q90"] <= hours["there"] + 1e-6).all()
    bags = sum(jars for name, jars in sample.household.targets.items() if name.startswith("frozen"))
    # None of the frozen ones will stand on the shelf in autumn, so all bags of the targets are
    # wanted, and in the best seasons taken.
    assert limits.loc["freezer_bags", "q90"] == pytest.approx(bags)
    assert limits.loc["freezer_bags", "there"] < bags
    assert limits.loc["freezer_bags", "p_full"] > 0.5


def test_nothing_dated_later_is_read_but_what_is_to_be_sown(
    sample: Garden, june: SeasonAhead
) -> None:
    known = replace(
        sample,
        picks=sample.picks[sample.picks["date"] <= JUNE],
        pantry=sample.pantry[sample.pantry["date"] <= JUNE],
        weather=sample.weather[
            (sample.weather["date"] <= JUNE) & (sample.weather["kind"] != "forecast")
        ],
    )
    again = season_ahead(known, JUNE, draws=200)
    pd.testing.assert_frame_equal(again.weeks, june.weeks)
    pd.testing.assert_frame_equal(again.shelves, june.shelves)
    later = next(line for line in june.lines if line.code == "ahead.sown_later")
    assert ("snap bean", "Patterwick", pd.Timestamp("2026-07-08")) in later.facts["sown"]
    sown = replace(known, plantings=known.plantings[~(known.plantings["date"] > JUNE)])
    fewer = season_ahead(sown, JUNE, draws=200)
    beans = [one.crops.set_index("crop").loc["snap bean", "mean_kg"] for one in (fewer, june)]
    assert beans[0] < 0.8 * beans[1]


def test_totals_lie_where_the_season_before_puts_them(sample: Garden, june: SeasonAhead) -> None:
    """With about as many plants as in 2025, most crops bring about as much."""
    log = sample.picks
    log = log[log["date"].dt.year == 2025].groupby("crop")["mass_kg"].sum()
    crops = june.crops.set_index("crop")
    heavy = [crop for crop in crops.index if log[crop] > 10]
    inside = [crops["q10_kg"][crop] < log[crop] < crops["q90_kg"][crop] for crop in heavy]
    assert np.mean(inside) >= 0.8


@pytest.mark.parametrize(
    ("make", "last"),
    [
        (southern_garden, "2025-12-01"),
        (southern_garden, "2025-09-20"),
        (northern_garden, "2025-05-28"),
    ],
    ids=["south, over New Year", "south, spring", "north"],
)
def test_dates_lie_within_a_week_of_the_truth(make, last) -> None:  # type: ignore[no-untyped-def]
    garden, truth, plants = make(last)
    day = pd.Timestamp(last)
    crops = season_ahead(garden, draws=200).crops.set_index("crop")
    checked = 0
    for plant in plants:
        perennial = len(plant.day) > 5
        start = garden.seasons.start(day)
        sown = start if perennial else garden.plantings.query("crop == @plant.crop")["date"].max()
        days, share = truth.bears(plant, sown)
        if not (share[days > day].sum() > 0.2):
            assert plant.crop not in crops.index or crops.loc[plant.crop, "mean_kg"] < 0.2 * (
                plant.plants * plant.kg
            ), plant.crop
            continue
        row, left = crops.loc[plant.crop], share[days > day].sum() * plant.plants * plant.kg
        if row["so_far_kg"] == 0:
            assert abs(row["first_q50"] - days[0]) <= WEEK, plant.crop
            checked += 1
        assert 0.5 < row["q50_kg"] / left < 2.0, plant.crop
    assert checked >= 2


def test_a_first_season_is_told_from_plantings_alone() -> None:
    """No pick yet, in this season or any: the almanac and the weather say when."""
    planted = pd.DataFrame(
        {
            "crop": ["cucumber", "tomato"],
            "variety": ["Thorpe", "Lowgate"],
            "date": pd.to_datetime(["2026-05-20", "2026-05-20"]),
            "how": ["sown", "set_out"],
            "plants": [10.0, 6.0],
        }
    )
    days = weather()
    known = days[days["date"] <= "2026-05-31"]
    garden = garden_from_frames(plantings=planted, weather=known, people=4,
                                last_frost="05-01", first_frost="10-10")  # fmt: skip
    ahead = season_ahead(garden, draws=200)
    assert ahead.as_of == pd.Timestamp("2026-05-31")
    crops = ahead.crops.set_index("crop")
    assert (crops["q90_kg"] > 2 * crops["q10_kg"]).all()
    assert (
        pd.Timestamp("2026-06-25") < crops.loc["cucumber", "first_q50"] < pd.Timestamp("2026-08-10")
    )
    assert {line.code for line in ahead.lines} == {"ahead.no_targets", "ahead.rests_on"}


def _grown(kg: np.ndarray) -> Growing:
    """Beans and tomatoes, the same in all hundred futures but the last thirty, which bring none."""
    full = np.zeros((100, WEEKS, 2))
    full[:70, : len(kg)] = kg
    first = np.where(full.sum(axis=1) > 0, 1.0, np.nan)
    empty = pd.DataFrame(columns=["crop", "variety", "bed", "date", "code", "reason"])
    return Growing(crops=("snap bean", "tomato"), kg=full, first=first, left_out=empty, lines=())


def test_a_freezer_filled_by_hand(monkeypatch: pytest.MonkeyPatch) -> None:
    """Ten kilograms of beans a week, two eaten, one given; the rest frozen until it is full.

    What a bag takes of beans and of the freezer is read from the options, so that only the
    counting is checked: the freezer has room for two and a half weeks' surplus, so it is full in
    the third week, in the seven futures of ten that bring any.
    """
    from harvestcast.kitchen.week.options import weekly_options

    settings = {
        "people": 4,
        "elevation_m": 200,
        "crops": {"snap bean": {"eat_kg_per_person_week": 0.5, "give_kg_week": 1.0,
                                "eat_at_most_kg_per_person_week": 0.5}},
        "hours": dict.fromkeys(["monday", "wednesday", "friday", "sunday"], 8),
        "jars": {"freezer_bags": 500},
        "targets": {"frozen snap beans": 400},
    }  # fmt: skip

    def garden(litres: float) -> Garden:
        return garden_from_frames(
            weather=weather(),
            plantings=pd.DataFrame(
                {"crop": ["snap bean"], "date": ["2026-05-20"], "how": "sown", "plants": [9]}
            ),
            equipment=[{"kind": "freezer", "free_l": litres}],
            **settings,
        )

    options = weekly_options(garden(100.0)).set_index("product").loc[["frozen_snap_beans"]].iloc[0]
    bags_kg = options["jars_per_batch"] / options["kg_per_batch"]
    litres_kg = options["freezer_l_per_batch"] / options["kg_per_batch"]
    kg = np.zeros((6, 2))
    kg[:, 0] = 10.0
    monkeypatch.setattr(module, "growing", lambda *_, **__: _grown(kg))
    ahead = season_ahead(garden(2.5 * 8.0 * litres_kg), "2026-06-30", draws=100)
    room = ahead.room.query("store == 'freezer'")
    assert room["q50"].to_numpy()[:4] / litres_kg == pytest.approx([8.0, 16.0, 20.0, 20.0])
    freezer = ahead.limits.set_index("store").loc["freezer"]
    assert freezer["p_full"] == pytest.approx(0.7)
    assert freezer["full_q50"] == pd.Timestamp("2026-07-15")
    assert pd.isna(freezer["full_q90"])
    shelf = ahead.shelves.iloc[0]
    assert shelf["q50_jars"] == pytest.approx(20.0 * bags_kg)
    assert shelf["p_met"] == 0 and pd.isna(shelf["met_q10"])
    bags = ahead.limits.set_index("store").loc["freezer_bags"]
    assert bags["q90"] == pytest.approx(20.0 * bags_kg) and bags["p_full"] == 0


def test_without_an_elevation_nothing_is_canned_and_the_page_says_so(sample: Garden) -> None:
    home = sample.household.model_copy(update={"elevation_m": None})
    ahead = season_ahead(replace(sample, household=home), JUNE, draws=100)
    assert "ahead.no_elevation" in {line.code for line in ahead.lines}
    shelves = ahead.shelves.set_index("product")
    assert pd.isna(shelves.loc["dill_pickles", "q50_jars"])
    assert shelves.loc["frozen_snap_beans", "q50_jars"] > 0


def test_the_same_twice_and_shown(sample: Garden, june: SeasonAhead) -> None:
    again = season_ahead(sample, JUNE, draws=200)
    pd.testing.assert_frame_equal(again.crops, june.crops)
    assert "season of 2026" in repr(june) and "<table" in june._repr_html_()
    assert june.plot().get_xlabel() == "week from"
    assert june.plot("tomato", units="us").get_ylabel() == "lb a week"
    with pytest.raises(ValueError, match="nothing is to come"):
        june.plot("rhubarb")
    with pytest.raises(ValueError, match="at least 100"):
        season_ahead(sample, draws=5)
    with pytest.raises(TypeError, match="season_ahead needs"):
        hc.season_ahead("sample_logs")
