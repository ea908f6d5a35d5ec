"""What a review must not do: crash on loose picks, contradict the log, judge half a season."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from harvestcast.records.garden import Garden
from harvestcast.report.season import page as season_page
from harvestcast.report.season.page import variety_tables
from harvestcast.report.season.results import season_of
from harvestcast.report.season.words import since_of_crop, terminal
from harvestcast.season.review.varieties import VarietyReview, compare_varieties
from tests.season.gardens import bell, garden, picks, plantings, tomatoes


def _loose() -> Garden:
    planted = plantings([("tomato", "A", "n", "2026-05-15", "set_out", 2),
                         ("tomato", "B", "n", "2026-05-15", "set_out", 2)])  # fmt: skip
    rows = [(day, "tomato", name, kg) for name in ("A", "B", "unnamed")
            for day, kg in bell("2026-07-20", 90, 10.0)]  # fmt: skip
    return garden(planted, picks(rows))


@pytest.fixture(scope="module")
def loose() -> VarietyReview:
    return compare_varieties(_loose(), year=2026, draws=200)


def test_picks_without_a_variety_are_kept_unknown_per_plant_and_said(loose: VarietyReview) -> None:
    table = loose.table.set_index("variety")
    assert table.loc["unnamed", "mass_kg"] == pytest.approx(10.0)
    assert np.isnan(table.loc["unnamed", "kg_per_plant"])
    assert "without a variety" in table.loc["unnamed", "how_sure"]
    best = loose.best.query("measure == 'kg_per_plant'").set_index("variety")["probability_best"]
    assert set(best.index) == {"A", "B", "unnamed"}
    assert np.isnan(best["unnamed"])
    assert best[["A", "B"]].sum() == pytest.approx(1.0)
    shares = [line.facts["crops"] for line in loose.lines if line.code == "review.unnamed"]
    assert shares == [[("tomato", pytest.approx(1 / 3, abs=0.01))]]


def test_every_part_of_the_page_can_be_written_with_loose_picks(loose: VarietyReview) -> None:
    season = season_of(_loose(), loose)
    for part in (season_page.head, season_page.rankings, season_page.told_apart,
                 season_page.variety_tables):  # fmt: skip
        assert part(season)
    assert "unnamed" in terminal(season)


def test_the_first_pick_is_the_logged_one() -> None:
    """Varieties whose first picks lie weeks apart: the model draws them together, the log not."""
    planted = plantings([("tomato", name, "n", "2026-05-15", "set_out", 3)
                         for name in ("Early", "Middle", "Late")])  # fmt: skip
    begins = {"Early": "2026-07-01", "Middle": "2026-07-20", "Late": "2026-08-20"}
    rows: list[tuple[Any, ...]] = [
        (day, "tomato", name, kg) for name, start in begins.items() for day, kg in
        bell(start, 50, 10.0)
    ]  # fmt: skip
    # Looked and found nothing is no pick.
    rows.append(("2026-06-25", "tomato", "Early", 0.0, 0.0))
    home = garden(planted, picks(rows))
    table = compare_varieties(home, year=2026, draws=200).table.set_index("variety")
    found = home.picks[home.picks["mass_kg"] > 0].groupby("variety")["date"].min()
    for name in begins:
        assert table.loc[name, "first_pick_date"] == found[name]
        for date in ("date_10", "date_10_q05", "date_50_q05"):
            assert table.loc[name, date] >= found[name]


def test_a_variety_without_any_fruit_has_no_logged_first_pick_and_it_is_said() -> None:
    planted = plantings([("tomato", name, "n", "2026-05-15", "set_out", 3) for name in "AB"])
    rows: list[tuple[Any, ...]] = [(d, "tomato", "A", kg) for d, kg in bell("2026-07-20", 90, 9.0)]
    rows.append(("2026-08-01", "tomato", "B", 0.0, 0.0))
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=200)
    assert pd.isna(review.table.set_index("variety").loc["B", "first_pick_date"])
    assert any("No fruit was logged of tomato B" in line for line in review.text)


def _known(home: Garden) -> Garden:
    """Return the garden with the weather up to the last day of its log."""
    weather = home.weather
    return replace(home, weather=weather[weather["date"] <= home.last_day])


def _two(last: str, later: str = "2026-05-15") -> Garden:
    """Two cucumbers, the second a poor one; picked every third day up to a last day."""
    planted = plantings([("cucumber", "Rich", "n", "2026-05-15", "sown", 8),
                         ("cucumber", "Poor", "n", later, "sown", 8)])  # fmt: skip
    days = pd.date_range("2026-07-05", last, freq="3D")
    rows = [(day, "cucumber", name, kg) for name, kg in (("Rich", 1.5), ("Poor", 0.1))
            for day in days]  # fmt: skip
    return garden(planted, picks(rows))


def _told(review: VarietyReview) -> set[tuple[str, str]]:
    """Return the pairs that the lines tell apart."""
    told = [line.facts["apart"] for line in review.lines if line.code == "review.pairs"]
    return {(first, other) for pairs in told for first, other, _ in pairs}


def _unfinished(review: VarietyReview) -> bool:
    return any(line.code == "review.unfinished" for line in review.lines)


def _pooled(review: VarietyReview) -> list[str]:
    facts = [line.facts["seasons"] for line in review.lines if line.code == "review.pooled"]
    return list(facts[0])


def test_an_unfinished_season_says_so_first_and_gives_no_verdict() -> None:
    review = compare_varieties(_known(_two("2026-07-25", later="2026-06-14")), year=2026, draws=200)
    # The first line says what the figures are; what the page and the terminal show begins after it.
    open_since, ages = review.lines[1:3]
    assert open_since.code == "review.unfinished"
    assert open_since.facts["last"] == pd.Timestamp("2026-07-23")
    assert ages.code == "review.ages_apart"
    assert ages.facts["crops"] == [
        ("cucumber", pd.Timestamp("2026-05-15"), pd.Timestamp("2026-06-14"))
    ]
    assert not _told(review)
    pair = review.told_apart.query("measure == 'kg_per_plant'").iloc[0]
    assert not pair["told_apart"] and pair["code"] == "told.no_verdict"
    assert pair["probability_better"] > 10 / 11  # the chance stays
    best = review.best.query("measure == 'kg_per_plant'").set_index("variety")
    assert best.loc["Rich", "probability_best"] > 0.9


@pytest.mark.parametrize("how", ["weather", "removed"])
def test_a_season_ends_without_a_pick_to_say_so(how: str) -> None:
    """By a weather record that goes on past the frost, or by plants written down as removed."""
    home = _two("2026-09-20")
    known = _known(home)
    assert _unfinished(compare_varieties(known, year=2026, draws=200))
    if how == "weather":
        over = home
    else:
        plants = known.plantings
        over = replace(known, plantings=plants.assign(removed=pd.Timestamp("2026-09-25")))
    review = compare_varieties(over, year=2026, draws=200)
    assert not _unfinished(review)
    assert ("Rich", "Poor") in _told(review)


def test_a_finished_season_gives_its_verdict() -> None:
    review = compare_varieties(_two("2026-10-12"), year=2026, draws=200)
    assert not _unfinished(review)
    assert ("Rich", "Poor") in _told(review)
    pair = review.told_apart.query("measure == 'kg_per_plant'").iloc[0]
    assert pair["told_apart"] and pair["code"] == "told.apart"


def test_a_crop_that_is_done_may_be_judged_while_the_season_goes_on() -> None:
    """Both stopped bearing in July, the log goes on with another crop into September."""
    early = _two("2026-07-25")
    planted = plantings([("cucumber", name, "n", "2026-05-15", "sown", 8)
                         for name in ("Rich", "Poor")])  # fmt: skip
    rows = [(r.date, r.crop, r.variety, r.mass_kg) for r in early.picks.itertuples()]
    rows += [("2026-09-01", "tomato", "A", 1.0)]
    review = compare_varieties(_known(garden(planted, picks(rows))), year=2026, draws=200)
    assert review.lines[1].facts["bearing"] == ["tomato"]
    assert ("Rich", "Poor") in _told(review)


def test_half_a_season_does_not_pull_down_the_mean_over_seasons() -> None:
    planted = plantings([("cucumber", "A", "n", f"{year}-05-15", "sown", 8)
                         for year in (2024, 2025, 2026)])  # fmt: skip
    rows = [(day, "cucumber", "A", kg) for year in (2024, 2025)
            for day, kg in bell(f"{year}-07-05", 60, 24.0)]  # fmt: skip
    rows += [("2026-07-08", "cucumber", "A", 0.4), ("2026-07-11", "cucumber", "A", 0.5)]
    home = _known(garden(planted, picks(rows)))
    review = compare_varieties(home, year=2026, draws=400)
    pooled = review.pooled.query("measure == 'kg_per_plant'").iloc[0]
    assert pooled["plantings"] == 2 and pooled["seen"] == pytest.approx(3.0)
    assert 2.4 < pooled["estimate"] < 3.7
    assert _pooled(review) == ["2024", "2025"]
    # Nor where an earlier season is reviewed while this one goes on.
    earlier = compare_varieties(home, year=2025, draws=200)
    assert earlier.pooled.query("measure == 'kg_per_plant'")["plantings"].iloc[0] == 2
    assert _pooled(earlier) == ["2024", "2025"]
    # Reviewed by itself, a season that is over takes part.
    over = [*rows[:-2], ("2025-10-12", "cucumber", "A", 0.1)]
    whole = compare_varieties(garden(planted, picks(over)), year=2025, draws=200)
    assert whole.pooled.query("measure == 'kg_per_plant'")["plantings"].iloc[0] == 2


def test_three_sowings_rest_on_three_plantings() -> None:
    sown = [("a", "2026-04-10"), ("b", "2026-05-05"), ("c", "2026-07-20")]
    planted = plantings([("lettuce", "Crisp Ada", bed, day, "sown", 40) for bed, day in sown])
    rows = [(day, "lettuce", "Crisp Ada", kg) for day, kg in bell("2026-06-01", 120, 20.0)]
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=100)
    assert review.table["how_sure"].tolist() == [
        "120 plants in 3 plantings; which picks came from which was not written down"
    ]
    # Where the picks name their bed, the log tells the plantings apart.
    beds = [("a", "2026-06-01"), ("b", "2026-07-01"), ("c", "2026-08-20")]
    rows = [(day, "lettuce", "Crisp Ada", kg, float("nan"), "good", bed) for bed, start in beds
            for day, kg in bell(start, 30, 6.0)]  # fmt: skip
    told = compare_varieties(garden(planted, picks(rows)), year=2026, draws=100)
    assert told.table["how_sure"].tolist() == ["120 plants in 3 plantings"]


def test_what_stands_is_counted_from_the_new_year_and_says_so() -> None:
    planted = plantings([("raspberry", "Hedgewife", "f", "2022-04-15", "set_out", 12),
                         ("snap bean", "Lean Piet", "c", "2026-05-16", "sown", 60)])  # fmt: skip
    rows = [(day, "raspberry", "Hedgewife", kg) for day, kg in bell("2026-07-01", 25, 9.0)]
    rows += [(day, "snap bean", "Lean Piet", kg) for day, kg in bell("2026-07-14", 40, 9.0)]
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=100)
    since = review.table.set_index("crop")["counted_from"]
    assert since["raspberry"] == pd.Timestamp("2026-01-01")
    assert since["snap bean"] == pd.Timestamp("2026-05-16")
    shown = season_of(garden(planted, picks(rows), units="metric"), review)
    assert since_of_crop(review, "raspberry", "metric") == "1 Jan"
    assert since_of_crop(review, "snap bean", "metric") == "planting"
    html = variety_tables(shown).html
    berries, beans = html.split("Snap bean", 1)
    assert berries.count("from 1 Jan") == 2  # days and heat to the first pick
    assert "from 1 Jan" not in beans


def test_chances_of_an_unfinished_season_are_those_so_far() -> None:
    case = tomatoes()
    early = case.picks[case.picks["date"] <= "2026-08-10"].reset_index(drop=True)
    seen = case.weather[case.weather["date"] <= "2026-08-10"].reset_index(drop=True)
    open_ = replace(case, picks=early, weather=seen)
    review = compare_varieties(open_, year=2026, draws=100)
    assert review.no_verdict == ("tomato",)
    said = terminal(season_of(open_, review))
    assert "best so far with chance" in said and "; best with chance" not in said
    assert "Best yield a plant so far" in variety_tables(season_of(open_, review)).html
    whole = compare_varieties(case, year=2026, draws=100)
    assert whole.no_verdict == ()
    assert "; best with chance" in terminal(season_of(case, whole))


def test_nothing_is_said_of_a_chance_that_is_not_known() -> None:
    case = tomatoes()
    loose = case.picks.head(3).assign(variety="unnamed")
    mixed = replace(case, picks=pd.concat([case.picks, loose], ignore_index=True))
    review = compare_varieties(mixed, year=2026, draws=100)
    said = terminal(season_of(mixed, review)).splitlines()
    (line,) = [one for one in said if one.startswith("  unnamed: ")]
    assert "first pick" in line and "chance" not in line
