"""The variety review: what it must say, and what it must not pretend to know."""

import pickle
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.errors import InputError
from harvestcast.frames import check_frame
from harvestcast.frames import season_tables as specs
from harvestcast.season.review.varieties import VarietyReview, compare_varieties
from tests.season.gardens import bell, garden, picks, plantings, tomatoes


@pytest.fixture(scope="module")
def review() -> VarietyReview:
    return compare_varieties(tomatoes(), year=2026, draws=800, seed=3)


def _measure(review: VarietyReview, name: str) -> pd.DataFrame:
    table = review.measures
    return table[table["measure"] == name].set_index("variety")


def test_every_table_keeps_its_specification(review: VarietyReview) -> None:
    for table, spec in (
        (review.table, specs.VARIETY_TABLE),
        (review.measures, specs.VARIETY_MEASURES),
        (review.normalised, specs.VARIETY_MEASURES),
        (review.pooled, specs.VARIETY_MEASURES),
        (review.best, specs.BEST),
        (review.best_average_year, specs.BEST),
        (review.told_apart, specs.TOLD_APART),
        (review.by_bed, specs.BY_BED),
        (review.calendar, specs.CALENDAR),
        (review.cumulative, specs.CUMULATIVE),
        (review.kitchen_lessons, specs.LESSONS),
        (review.over_capacity, specs.OVER_CAPACITY),
    ):
        pd.testing.assert_frame_equal(check_frame(table, spec), table)


def test_what_was_logged_is_given_as_logged(review: VarietyReview) -> None:
    seen = _measure(review, "kg_per_plant")["seen"]
    assert seen["Many"] == pytest.approx(57 / 12)
    assert seen["Some"] == pytest.approx(4.0)
    assert seen["Single"] == pytest.approx(6.0)
    whole = review.table.set_index("variety")
    assert whole.loc["Many", "mass_kg"] == pytest.approx(57.0)
    assert whole.loc["Single", "plants"] == 1


def test_fewer_plants_make_wider_intervals(review: VarietyReview) -> None:
    table = _measure(review, "kg_per_plant")
    width = np.log(table["q95"] / table["q05"])
    assert width["Single"] > width["Some"] > width["Many"]
    # One plant: at least what plots and plants of one variety differ by in published trials
    # (CV 0.2 and 0.3 to 0.4, data/between_plot_cv.csv), so 90 % spans more than a factor of two.
    assert np.exp(width["Single"]) > 2.0
    again = np.log(table["again_q95"] / table["again_q05"])
    assert (again > width).all()


def test_the_text_says_that_one_plant_shows_little(review: VarietyReview) -> None:
    single = [line.facts["names"] for line in review.lines if line.code == "review.single"]
    assert single == [["tomato Single"]]
    sure = review.table.set_index("variety")["how_sure"]
    assert sure["Single"].startswith("one plant")
    assert sure["Many"] == "12 plants in 2 plantings"


def test_a_single_high_plant_is_not_declared_best(review: VarietyReview) -> None:
    """6 kg of one plant against 4.75 kg a plant of twelve: likely better, not surely."""
    best = review.best
    chance = best[best["measure"] == "kg_per_plant"].set_index("variety")["probability_best"]
    assert 0.3 < chance["Single"] < 0.85
    pairs = review.told_apart
    pair = pairs[(pairs["measure"] == "kg_per_plant") & (pairs["variety"] == "Single")]
    pair = pair[pair["other"] == "Many"]
    assert len(pair) == 1 and not pair["told_apart"].iloc[0]
    assert pair["code"].iloc[0] == "told.alike"


def test_probabilities_of_being_best_add_up(review: VarietyReview) -> None:
    total = review.best.groupby(["crop", "measure"])["probability_best"].sum()
    assert np.allclose(total, 1.0)


def test_beds_are_told_apart_where_picks_name_them(review: VarietyReview) -> None:
    beds = review.by_bed.set_index(["variety", "bed"])
    assert beds.loc[("Many", "east"), "mass_kg"] == pytest.approx(30.0)
    assert beds.loc[("Many", "west"), "kg_per_plant"] == pytest.approx(4.5)


def test_every_planting_has_its_days_and_what_was_noted() -> None:
    case = tomatoes()
    mine = case.picks["variety"] == "Single"
    at = case.picks.index[mine][[0, 1, -1]]
    picks = case.picks
    picks.loc[at, "note"] = ["sweet", "sweet", "split in the rain"]
    beds = compare_varieties(replace(case, picks=picks), year=2026, draws=100).by_bed
    row = beds.set_index("variety").loc["Single"]
    days = picks.loc[mine & (picks["mass_kg"] > 0), "date"]
    assert (row["first_pick"], row["last_pick"]) == (days.min(), days.max())
    assert row["notes"] == "sweet; split in the rain"
    others = beds[beds["variety"] != "Single"]
    assert others["notes"].isna().all() and (others["first_pick"] < others["last_pick"]).all()


def test_first_pick_and_shares_of_the_harvest(review: VarietyReview) -> None:
    table = review.table.set_index("variety")
    assert _measure(review, "first_pick_days").loc["Single", "seen"] == 64  # 15 May to 18 July
    for variety in table.index:
        row = table.loc[variety]
        assert row["first_pick_dd"] < row["dd_10"] < row["dd_50"] < row["dd_90"]
        assert row["first_pick_date"] < row["date_50"] < row["date_90"]
        assert row["date_50_q05"] <= row["date_50"] <= row["date_50_q95"]


def test_row_order_changes_nothing() -> None:
    plain = tomatoes()
    shuffled = replace(
        plain,
        picks=plain.picks.sample(frac=1, random_state=1).reset_index(drop=True),
        plantings=plain.plantings.sample(frac=1, random_state=2).reset_index(drop=True),
    )
    one = compare_varieties(plain, year=2026, draws=200).measures
    other = compare_varieties(shuffled, year=2026, draws=200).measures
    pd.testing.assert_frame_equal(one, other)


def test_the_same_seed_gives_the_same_review() -> None:
    one = compare_varieties(tomatoes(), year=2026, draws=200, seed=5)
    other = compare_varieties(tomatoes(), year=2026, draws=200, seed=5)
    pd.testing.assert_frame_equal(one.table, other.table)
    pd.testing.assert_frame_equal(one.best, other.best)


def test_what_was_not_written_down_is_unknown_not_zero(review: VarietyReview) -> None:
    """No grades, no counts, no hours in this log."""
    table = review.table
    for name in ("oversize_share", "damaged_share", "fruit_kg", "pick_hours_per_kg",
                 "count_per_plant", "count"):  # fmt: skip
        assert table[name].isna().all(), name


def test_grades_hours_and_fruit_weight_where_written_down() -> None:
    planted = plantings([("cucumber", "A", "n", "2026-05-20", "sown", 8),
                         ("cucumber", "B", "n", "2026-05-20", "sown", 8)])  # fmt: skip
    rows = []
    for variety, share in (("A", 0.05), ("B", 0.4)):
        for day, kg in bell("2026-07-05", 45, 20.0):
            rows.append((day, "cucumber", variety, kg * (1 - share), kg * (1 - share) / 0.15,
                         "good", None, 0.1))  # fmt: skip
            rows.append((day, "cucumber", variety, kg * share, kg * share / 0.4, "oversize"))
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=400)
    table = review.measures.set_index(["variety", "measure"])
    assert table.loc[("A", "oversize_share"), "seen"] == pytest.approx(0.05)
    assert table.loc[("B", "oversize_share"), "seen"] == pytest.approx(0.4)
    assert table.loc[("A", "fruit_kg"), "estimate"] == pytest.approx(0.15, rel=0.05)
    assert table.loc[("A", "pick_hours_per_kg"), "seen"] == pytest.approx(15 * 0.1 / 19.0)
    pair = review.told_apart.query("measure == 'oversize_share'").iloc[0]
    assert pair["variety"] == "A" and pair["told_apart"]


def test_unknown_numbers_of_plants_say_nothing_per_plant() -> None:
    planted = plantings([("tomato", "A", "n", "2026-05-15", "set_out", None)])
    rows = [(day, "tomato", "A", kg) for day, kg in bell("2026-07-20", 60, 10.0)]
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=200)
    row = review.table.iloc[0]
    assert np.isnan(row["kg_per_plant"]) and row["mass_kg"] == pytest.approx(10.0)
    assert "not written down" in row["how_sure"]
    assert row["dd_50"] > 0


def test_volunteers_without_a_planting_are_kept() -> None:
    planted = plantings([("tomato", "A", "n", "2026-05-15", "set_out", 2)])
    rows = [(day, "tomato", name, kg) for name in ("A", "volunteers")
            for day, kg in bell("2026-07-20", 60, 10.0)]  # fmt: skip
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=200)
    table = review.table.set_index("variety")
    assert table.loc["volunteers", "mass_kg"] == pytest.approx(10.0)
    assert np.isnan(table.loc["volunteers", "kg_per_plant"])
    assert np.isnan(table.loc["volunteers", "first_pick_dd"])


def test_several_seasons_are_pooled() -> None:
    planted = plantings([("tomato", name, "n", f"{year}-05-15", "set_out", 4)
                         for name in ("A", "B") for year in (2024, 2025, 2026)])  # fmt: skip
    rows = [
        (day, "tomato", name, kg)
        for name, total in (("A", 20.0), ("B", 32.0))
        for year, luck in ((2024, 0.8), (2025, 1.0), (2026, 1.25))
        for day, kg in bell(f"{year}-07-20", 60, total * luck)
    ]
    # A last look in October: a season that is not over would be left out.
    rows += [("2026-10-12", "tomato", name, 0.0) for name in ("A", "B")]
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=1500)
    pooled = review.pooled.query("measure == 'kg_per_plant'").set_index("variety")
    season = review.measures.query("measure == 'kg_per_plant'").set_index("variety")
    assert (pooled["plantings"] == 3).all()
    # The last season was the best one: over the seasons less is expected.
    assert (pooled["estimate"] < season["estimate"]).all()
    ratio = pooled.loc["B", "estimate"] / pooled.loc["A", "estimate"]
    assert 1.25 < ratio < 1.7


def test_an_average_year_takes_a_cool_summer_out_of_the_figures() -> None:
    """The invented 2026 is cooler than the mean of 2018 to 2026: fewer days on average."""
    review = compare_varieties(tomatoes(), year=2026, draws=300)
    joined = review.measures.merge(
        review.normalised, on=["crop", "variety", "measure"], suffixes=("", "_average")
    ).set_index(["variety", "measure"])
    change = joined["estimate_average"] / joined["estimate"]
    assert change["Many", "first_pick_days"] < 1.0
    assert change["Many", "dd_50"] == pytest.approx(1.0)
    assert 0.8 < change["Many", "kg_per_plant"] < 1.3


def test_without_past_weather_the_average_year_is_said_to_be_missing() -> None:
    plain = tomatoes()
    weather = plain.weather
    review = compare_varieties(
        replace(plain, weather=weather[weather["date"].dt.year >= 2025]), year=2026, draws=200
    )
    assert {"average.not_covered", "average.few_years"} & {line.code for line in review.lines}
    pd.testing.assert_series_equal(review.normalised["estimate"], review.measures["estimate"])


def test_a_season_without_picks_is_refused_with_the_seasons_there_are() -> None:
    with pytest.raises(InputError, match="Choose a season with picks: 2026"):
        compare_varieties(tomatoes(), year=2020)
    with pytest.raises(ValueError, match="at least 100"):
        compare_varieties(tomatoes(), year=2026, draws=10)


def test_tables_are_given_out_as_copies_and_survive_pickling(review: VarietyReview) -> None:
    mine = review.table
    mine.loc[0, "mass_kg"] = -1.0
    assert review.table.loc[0, "mass_kg"] > 0
    other = pickle.loads(pickle.dumps(review))
    pd.testing.assert_frame_equal(other.measures, review.measures)
    with pytest.raises(AttributeError):
        review.year = 1999  # type: ignore[misc]


def test_the_calendar_adds_up_to_the_season(review: VarietyReview) -> None:
    weeks = review.calendar.groupby("variety")
    assert weeks["mass_kg"].sum()["Many"] == pytest.approx(57.0)
    assert np.allclose(weeks["share"].sum(), 1.0)
    assert (review.calendar["start"].dt.day_of_week == 0).all()


def test_the_running_harvest_ends_at_the_total_within_its_band(review: VarietyReview) -> None:
    last = review.cumulative.groupby("variety").last()
    assert last.loc["Many", "picked_kg"] == pytest.approx(57.0)
    assert (last["q05_kg"] < last["q50_kg"]).all() and (last["q50_kg"] < last["q95_kg"]).all()
    for _, rows in review.cumulative.groupby("variety"):
        for name in ("picked_kg", "q05_kg", "q50_kg", "q95_kg", "degree_days"):
            assert (np.diff(rows[name].dropna()) >= -1e-9).all()


def test_all_at_once_and_a_few_every_day_are_both_shown() -> None:
    """A canner's variety and a table's variety of the same yield: each leads on its measure."""
    planted = plantings([("snap bean", "Burst", "n", "2026-05-15", "sown", 60),
                         ("snap bean", "Steady", "n", "2026-05-15", "sown", 60)])  # fmt: skip
    rows = [(day, "snap bean", "Burst", kg) for day, kg in bell("2026-07-10", 24, 12.0)]
    days = pd.date_range("2026-07-05", periods=30, freq="3D")
    rows += [(day, "snap bean", "Steady", 12.0 / 30) for day in days]
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=600)
    best = review.best.set_index(["measure", "variety"])["probability_best"]
    assert best["canner_kg_per_plant", "Burst"] > 0.8
    assert best["steady_weeks", "Steady"] > 0.9
    assert best["peak_week_share", "Steady"] > 0.9
