"""The season's end and next season: pages, summaries and JSON, on the sample garden."""

import json
import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

import harvestcast as hc
from harvestcast.frames.season_tables import MEASURES
from harvestcast.report import figures
from harvestcast.report.html.page import Piece
from harvestcast.report.html.render import write_report
from harvestcast.report.next import page as next_page
from harvestcast.report.next import try_out as next_try
from harvestcast.report.next import words as next_words
from harvestcast.report.season import kitchen as season_kitchen
from harvestcast.report.season import measures
from harvestcast.report.season import page as season_page
from harvestcast.season.review.tables import APART
from harvestcast.words.units import area_words

SEASON_PARTS = (
    season_page.head,
    season_page.rankings,
    season_page.told_apart,
    season_page.ways,
    season_page.canner_or_table,
    season_page.curves,
    season_page.calendar,
    season_kitchen.kitchen,
    season_page.variety_tables,
)
NEXT_PARTS = (
    next_page.head,
    next_page.beds,
    next_page.calendar,
    next_page.targets,
    next_page.glut,
    next_page.compared,
    next_page.trade_off,
    next_page.basis,
)


def _text(html: str) -> str:
    words = re.sub(r"<[^>]+>", " ", re.sub(r'src="data:[^"]*"', "", html))
    return words.replace("\N{NO-BREAK SPACE}", " ")


def test_every_part_is_made_in_both_units(season_end: Any, next_season: Any) -> None:
    for parts, results in ((SEASON_PARTS, season_end), (NEXT_PARTS, next_season)):
        for units, own, other in (("us", "lb", "kg"), ("metric", "kg", "lb")):
            shown = replace(results, units=units)
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
    said = season_page.terminal(season_end)
    for name in season_end.review.table["variety"]:
        assert str(name) in said
    ahead = next_page.terminal(next_season)
    for name in next_season.plan.beds["variety"]:
        assert str(name) in ahead
    assert "\x1b" not in said + ahead


def test_json_has_stable_keys_and_no_strange_numbers(season_end: Any, next_season: Any) -> None:
    one = season_page.summary(season_end)
    assert set(one) == {
        "kind", "place", "units", "year", "draws", "seed", "report", "text", "varieties",
        "measures", "best", "told_apart", "average_year", "all_seasons", "kitchen_lessons",
        "over_capacity", "no_verdict", "season", "lines",
    }  # fmt: skip
    two = next_page.summary(next_season)
    assert set(two) == {
        "kind", "place", "units", "year", "probability", "futures", "seed", "report", "text",
        "beds", "reliability", "glut", "compared", "trade_off", "calendar", "solve", "kept_out",
        "season", "lines",
    }  # fmt: skip
    for value in (one, two):
        assert json.loads(json.dumps(value, allow_nan=False)) == value


def test_every_bed_of_the_plan_is_shown(next_season: Any) -> None:
    html = next_page.beds(next_season).html
    assert html.count('role="rowheader"') == len(next_season.plan.beds)


@pytest.mark.notebook
def test_the_season_notebook_runs_by_itself(sample_folder: Path, tmp_path: Path) -> None:
    out = write_report("season", sample_folder, tmp_path / "s.html", year=2025)
    html = out.read_text("utf-8")
    assert "<script" not in html.lower()
    for variety in ("Long Friar", "Marsh Bishop"):
        assert variety in html


@pytest.mark.notebook
@pytest.mark.slow
def test_the_next_season_notebook_runs_by_itself(sample_folder: Path, tmp_path: Path) -> None:
    """On the cucumbers of the sample alone, with its last cell asked what a change would do."""
    small = tmp_path / "cucumbers"
    small.mkdir()
    for path in sample_folder.glob("*.csv"):
        lines = path.read_text("utf-8").splitlines(keepends=True)
        kept = [x for x in lines[1:] if "weather" in path.name or "ucumber" in x]
        (small / path.name).write_text("".join([*lines[:1], *kept]), "utf-8")
    settings = (sample_folder / "garden.toml").read_text("utf-8")
    targets = re.search(r"^\[targets\]\n(?:.*=.*\n)+", settings, flags=re.M)
    assert targets is not None
    few = settings.replace(targets[0], '[targets]\n"dill pickles" = 20\n')
    (small / "garden.toml").write_text(few, "utf-8")
    out = write_report("next", small, tmp_path / "n.html", year=2027, change={"people": 3})
    html = out.read_text("utf-8")
    assert hc.open_garden(small).household.place.split(" ")[0] in html
    assert "What if" in html and "with the change" in html
    assert "Crispwick" in html and "Kettle Red" not in html


def test_results_of_another_kind_are_refused(tmp_path: Path, season_end: Any) -> None:
    import pickle

    path = tmp_path / "r.pickle"
    path.write_bytes(pickle.dumps({"no": "season"}))
    for reader in (season_page.read, next_page.read):
        with pytest.raises(TypeError, match="holds no results"):
            reader(path)
    path.write_bytes(pickle.dumps(season_end))
    assert season_page.read(path).review.year == season_end.review.year


def test_what_if_stands_beside_the_plan_as_it_is(next_season: next_page.NextSeason) -> None:
    assert next_try.tried("no such folder", next_season, {}) is None
    assert next_try.what_if(next_season, None).html == ""
    fewer = replace(next_season.plan, beds=next_season.plan.beds.iloc[:1])
    said = next_try.what_if(next_season, replace(next_season, plan=fewer)).html
    assert "with the change" in said and "as it is" in said
    assert f">{int(fewer.beds['plants'].sum())}<" in said


def test_another_measure_ranks_where_it_is_asked_for(season_end: season_page.SeasonEnd) -> None:
    assert season_page.by_measure(season_end, None).html == ""
    said = season_page.by_measure(season_end, "first_pick_days").html
    assert "Ranked by: To first pick" in said and "<img" in said
    with pytest.raises(ValueError, match="there is no measure"):
        season_page.by_measure(season_end, "taste")


def _with_one_standing(season: next_page.NextSeason) -> next_page.NextSeason:
    beds = season.plan.beds
    beds.loc[0, ["how", "date"]] = ["stands", pd.Timestamp("2021-04-10")]
    return replace(season, plan=replace(season.plan, beds=beds))


def test_what_stands_is_not_told_to_be_planted(next_season: next_page.NextSeason) -> None:
    stands = _with_one_standing(next_season)
    row = stands.plan.beds.iloc[0]
    plant = f"{row['plants']} {row['crop']}, {row['variety']}"
    ahead = next_page.terminal(stands)
    assert f"Stays where it stands\n  {plant}\n" in ahead
    assert f": set out {plant}" not in ahead and f": sow {plant}" not in ahead
    said = dict(next_words.brief(stands))
    assert said["Stays"].startswith(f"{row['plants']} {row['crop']}")
    assert str(row["variety"]) not in said["First"]
    html = _text(next_page.beds(stands).html)
    assert f"stays where it stands: {plant}" in html and "2021" not in html
    assert next_page.summary(stands)["beds"][0]["how"] == "stands"
    title = {"units": "us", "title": "What goes in when"}
    alt = figures.sowing_calendar_alt(stands.plan.beds, **title)  # type: ignore[arg-type]
    assert f"{row['plants']} stay where they stand" in alt


def test_the_bed_is_said_at_once_and_never_above_its_limit(
    next_season: next_page.NextSeason,
) -> None:
    said = dict(next_words.brief(next_season))["Bed"]
    area = float(next_season.plan.compared["area_m2"].iloc[0])
    assert said == f"{area_words(area, next_season.units)} are taken at once at most."
    assert "Bed at once" in next_page.compared(next_season).html


def test_scripts_read_the_words_of_the_terminal(next_season: next_page.NextSeason) -> None:
    ahead, told = next_page.terminal(next_season), next_page.summary(next_season)
    for line in told["text"]:
        assert line in ahead
    assert not any("futures" in line or "What binds" in line for line in told["text"])
    for row in told["reliability"]:
        assert row["comment"] is None or f"; {row['comment']}" in ahead
