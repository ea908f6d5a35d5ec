"""The season's end and next season: pages, summaries and JSON, on the sample garden."""

import json
import re
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pandas as pd
import pytest

from harvestcast import figures
from harvestcast.frames.season_tables import MEASURES
from harvestcast.kitchen.household.jars import own_words
from harvestcast.records.garden import garden_from_frames, open_garden
from harvestcast.records.household import Household
from harvestcast.report.html.page import Piece
from harvestcast.report.next import page as next_page
from harvestcast.report.next import planting
from harvestcast.report.next import results as next_results
from harvestcast.report.next import words as next_words
from harvestcast.report.next.results import NextSeason
from harvestcast.report.season import measures
from harvestcast.report.season import page as season_page
from harvestcast.report.season import results as season_results
from harvestcast.report.season import words as season_words
from harvestcast.report.season.ahead import words as ahead_words
from harvestcast.report.season.results import SeasonEnd
from harvestcast.season.next import plan as plan_module
from harvestcast.season.review.tables import APART
from harvestcast.words.crops import crops_said_as
from harvestcast.words.units import area_words


def _text(html: str) -> str:
    words = re.sub(r"<[^>]+>", " ", re.sub(r'src="data:[^"]*"', "", html))
    return words.replace("\N{NO-BREAK SPACE}", " ")


def _in_units(results: Any, units: str) -> Any:
    """Return results as a household of those units would have them: lines carry their units."""
    name = "plan" if hasattr(results, "plan") else "review"
    made = getattr(results, name)
    lines = tuple(
        replace(line, facts={**line.facts, "units": units} if "units" in line.facts else line.facts)
        for line in made.lines
        if line.code != "plan.appetite"  # holds amounts in words already, in the garden's units
    )
    return replace(results, units=units, **{name: replace(made, lines=lines)})


@pytest.fixture(scope="module")
def metric_next(sample_folder: Path) -> NextSeason:
    """Return beds for the same garden, whose household thinks in kilograms; a quick plan."""
    garden = open_garden(sample_folder)
    home = garden.household.model_copy(update={"units": "metric"})
    garden = replace(garden, household=home)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan_module, "TRIALS", 30)
        patch.setattr(plan_module, "FRESH_FUTURES", 30)
        plan = plan_module.plan_next_season(garden, year=2027, futures=10, sowings=1)
    return next_results.next_of(garden, plan)


def test_every_part_is_made_in_both_units(
    season_end: Any, next_season: Any, metric_next: Any
) -> None:
    for parts, results in ((season_page.PARTS, season_end), (next_page.PARTS, next_season)):
        for units, own, other in (("us", "lb", "kg"), ("metric", "kg", "lb")):
            shown = _in_units(results, units)
            if units == "metric" and results is next_season:
                # Its reasons are sentences in the household's own units.
                shown = metric_next
            made = [part(shown) for part in parts]
            assert all(isinstance(piece, Piece) for piece in made)
            text = _text("\n".join(piece.html for piece in made))
            assert re.search(rf"\b{own}\b", text)
            assert not re.search(rf"\b{other}\b", text), (units, other)


def test_the_yield_of_the_page_is_that_of_the_review(season_end: Any) -> None:
    html = _text(season_page.ways(season_end).html)
    table = season_end.review.measures
    row = table.loc[table["measure"] == "kg_per_plant"].iloc[0]
    said = measures.measured(row["estimate"], row["q05"], row["q95"], "kg", season_end.units)
    assert said in html
    assert str(row["variety"]) in html


def test_the_season_ahead_counts_in_the_households_jars() -> None:
    garden = garden_from_frames(household=Household(units="metric", jars={"500 ml": 20}))
    season = SimpleNamespace(
        units="metric", ahead=SimpleNamespace(as_of=pd.Timestamp("2026-08-13"))
    )
    shelf = pd.Series({"product": "dill_pickles", "label": "dill pickles", "wanted_jars": 1.2,
                       "q10_jars": 1.0, "q50_jars": 1.0, "q90_jars": 1.0, "p_met": 0.3,
                       "met_q10": pd.NaT, "met_q50": pd.NaT, "met_q90": pd.NaT})  # fmt: skip
    with crops_said_as(own_words(garden)):
        assert ahead_words.amount(11.0, "pints", season) == "11 jars of 500 ml"
        line = ahead_words.shelf_line(shelf, season)
        assert line.startswith("dill pickles, 1 jar of 500 ml still wanted: 1 likely")
    assert ahead_words.amount(11.0, "pints", season) == "11 pints"


@pytest.mark.parametrize(
    ("kg", "said"), [(0.001, "beside hardly any picked"), (3.0, "beside 6.6 lb picked")]
)
def test_crumbs_picked_so_far_are_no_amount(kg: float, said: str) -> None:
    season = SimpleNamespace(units="us", ahead=SimpleNamespace(as_of=pd.Timestamp("2026-08-13")))
    row = pd.Series({"crop": "chard", "q10_kg": 0.0, "q50_kg": 0.0, "q90_kg": 1.0,
                     "so_far_kg": kg, "last_q50": pd.NaT})  # fmt: skip
    assert said in ahead_words.crop_line(row, season)


def test_every_shown_measure_is_one_of_the_tables() -> None:
    assert {name for name, _ in season_page.SHOWN} <= set(MEASURES)
    for unit, _, _ in MEASURES.values():
        assert measures.measure_unit(unit, "us")


def test_what_the_log_cannot_tell_is_said(season_end: Any) -> None:
    pairs = season_end.review.told_apart
    own = pairs.loc[pairs["measure"] == "kg_per_plant"]
    html = season_page.told_apart(season_end).html
    undecided = own.loc[~own["told_apart"]]
    early = undecided["probability_better"] >= APART
    assert html.count("not told apart") == int((~early).sum())
    assert html.count("no verdict yet") == int(early.sum())


def test_the_terminal_names_every_variety(season_end: Any, next_season: Any) -> None:
    said = season_words.terminal(season_end)
    for name in season_end.review.table["variety"]:
        assert str(name) in said
    ahead = next_words.terminal(next_season)
    for name in next_season.plan.beds["variety"]:
        assert str(name) in ahead
    assert "\x1b" not in said + ahead


def test_json_has_stable_keys_and_no_strange_numbers(season_end: Any, next_season: Any) -> None:
    one = season_results.summary(season_end)
    assert set(one) == {
        "over_seasons", "verdicts",
        "kind", "place", "units", "year", "season", "draws", "seed", "report", "text", "lines",
        "varieties", "plantings", "measures", "best", "told_apart", "average_year", "all_seasons",
        "kitchen_lessons",
        "over_capacity", "no_verdict",
    }  # fmt: skip
    two = next_results.summary(next_season)
    assert set(two) == {
        "kind", "place", "units", "year", "season", "probability", "futures", "seed", "report",
        "text", "lines", "beds", "staying", "places", "seeds", "reliability", "glut", "compared",
        "trade_off", "calendar", "solve", "kept_out",
    }  # fmt: skip
    for value in (one, two):
        assert json.loads(json.dumps(value, allow_nan=False)) == value


def test_every_bed_of_the_plan_is_shown(next_season: Any) -> None:
    html = planting.beds(next_season).html
    assert html.count('role="rowheader"') == len(next_season.plan.beds)


def test_what_if_stands_beside_the_plan_as_it_is(next_season: NextSeason) -> None:
    assert next_results.tried("no such folder", next_season, {}) is None
    assert "nothing was tried" in next_page.what_if(next_season, None).html
    fewer = replace(next_season.plan, beds=next_season.plan.beds.iloc[:1])
    said = next_page.what_if(next_season, replace(next_season, plan=fewer)).html
    assert "with the change" in said and "as it is" in said
    assert f">{int(fewer.beds['plants'].sum())}<" in said


def test_another_measure_ranks_where_it_is_asked_for(season_end: SeasonEnd) -> None:
    said = season_page.by_measure(season_end, "first_pick_days").html
    assert "Ranked by: To first pick" in said and "<img" in said
    with pytest.raises(ValueError, match="there is no measure"):
        season_page.by_measure(season_end, "taste")


def _with_one_standing(season: NextSeason) -> NextSeason:
    beds = season.plan.beds
    beds.loc[0, ["how", "date"]] = ["stands", pd.Timestamp("2021-04-10")]
    return replace(season, plan=replace(season.plan, beds=beds))


def test_what_stands_is_not_told_to_be_planted(next_season: NextSeason) -> None:
    stands = _with_one_standing(next_season)
    row = stands.plan.beds.iloc[0]
    plant = f"{row['plants']} {row['crop']}, {row['variety']}"
    ahead = next_words.terminal(stands)
    assert f"Stays where it stands\n  {plant}\n" in ahead
    assert f": set out {plant}" not in ahead and f": sow {plant}" not in ahead
    said = dict(next_words.brief(stands))
    assert said["Stays"].startswith(f"{row['plants']} {row['crop']}")
    assert str(row["variety"]) not in said["First"]
    html = _text(planting.beds(stands).html)
    assert f"stays where it stands: {plant}" in html and "2021" not in html
    assert next_results.summary(stands)["beds"][0]["how"] == "stands"
    title = {"units": "us", "title": "What goes in when"}
    alt = figures.sowing_calendar_alt(stands.plan.beds, **title)  # type: ignore[arg-type]
    assert f"{row['plants']} stay where they stand" in alt


def test_the_bed_is_said_at_once_and_never_above_its_limit(
    next_season: NextSeason,
) -> None:
    said = dict(next_words.brief(next_season))["Bed"]
    area = float(next_season.plan.compared["area_m2"].iloc[0])
    assert said == f"{area_words(area, next_season.units)} are taken at once at most."
    assert "Bed at once" in next_page.compared(next_season).html


def test_scripts_read_the_words_of_the_terminal(next_season: NextSeason) -> None:
    ahead, told = next_words.terminal(next_season), next_results.summary(next_season)
    for line in told["text"]:
        assert line in ahead
    assert not any("futures" in line or "What binds" in line for line in told["text"])
    for row in told["reliability"]:
        assert row["comment"] is None or f"; {row['comment']}" in ahead
