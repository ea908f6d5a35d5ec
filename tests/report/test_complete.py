"""What is missing still, and yields that no plant can bear, are said by the check."""

import json
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from click.testing import CliRunner, Result

from harvestcast.errors import Problem
from harvestcast.records.garden import Garden, garden_from_frames, open_garden
from harvestcast.records.household import Household
from harvestcast.records.writing.start import start_garden
from harvestcast.report.check import (
    BEYOND,
    odd_things,
    still_missing,
    unlikely_fruit,
    unlikely_yields,
)
from harvestcast.report.command.main import main
from harvestcast.report.command.terminal import problem_lines
from harvestcast.report.week.words import misspelt

ROOT = Path(__file__).parents[2]


def call(*arguments: object) -> Result:
    return CliRunner().invoke(main, [str(a) for a in arguments])


@pytest.mark.parametrize("units", ["us", "metric"])
def test_an_empty_garden_is_told_what_comes_next(units: str, tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units=units)  # type: ignore[arg-type]
    told = call("check", tmp_path / "g")
    assert told.exit_code == 0
    for word in ("plantings.csv", "no pick", "weather.csv", "elevation", "equipment", "hours"):
        assert word in told.output
    assert ("tmin_f" in told.output) == (units == "us")
    assert "7 things missing." in told.output
    assert len(json.loads(call("check", tmp_path / "g", "--json").stdout)["missing"]) == 7


def test_a_whole_garden_lacks_nothing() -> None:
    assert still_missing(open_garden(ROOT / "sample_logs")) == []


def test_a_pick_beyond_what_its_plants_can_bear() -> None:
    """Six tomato plants bear tens of kilograms; 2.4 t is 5,200 lb typed for grams."""
    plantings = pd.DataFrame(
        {
            "crop": "tomato",
            "variety": "Brick Row",
            "date": pd.to_datetime(["2026-05-20"]),
            "how": "set_out",
            "plants": [6.0],
        }
    )
    picks = pd.DataFrame(
        {
            "date": pd.to_datetime(["2026-08-01", "2026-08-03"]),
            "crop": "tomato",
            "variety": "Brick Row",
            "mass_kg": [2.0, 2359.0],
            "file": "picks.csv",
            "line": [2, 3],
        }
    )
    found = unlikely_yields(garden_from_frames(picks=picks, plantings=plantings))
    assert found["line"].to_list() == [3]
    assert found["code"].to_list() == ["amount.unlikely_yield"]
    facts = found["facts"].iloc[0]
    assert (facts["crop"], facts["alone"], facts["kg"]) == ("tomato", True, 2359.0)
    usual = picks.assign(mass_kg=[2.0, 4.5])
    assert unlikely_yields(garden_from_frames(picks=usual, plantings=plantings)).empty
    assert unlikely_yields(garden_from_frames(picks=picks)).empty  # nothing is known of the plants


def test_a_season_over_new_year_is_judged_as_one() -> None:
    """South of the equator two halves of seasons in one calendar year are no season of theirs."""
    planted = pd.to_datetime(["2024-10-20", "2025-10-20"])
    plantings = pd.DataFrame(
        {"crop": "tomato", "variety": "Brick Row", "date": planted, "how": "set_out", "plants": 4}
    )
    days = ["2024-12-20", "2025-02-20", "2025-12-20", "2026-02-20"]
    picks = pd.DataFrame({"date": pd.to_datetime(days), "crop": "tomato", "mass_kg": 0.0})
    most = _most_kg(picks, plantings)

    def said(*kg: float) -> list[str]:
        garden = garden_from_frames(
            picks=picks.assign(mass_kg=kg), plantings=plantings, latitude=-41.0
        )
        return [facts["season"] for facts in unlikely_yields(garden)["facts"]]

    assert said(0.1, BEYOND * most - 0.2, 0.4, 0.1) == []
    assert said(0.4, BEYOND * most - 0.2, 0.1, 0.1) == ["2024/25"]


def _most_kg(picks: pd.DataFrame, plantings: pd.DataFrame) -> float:
    """Return what the plants of one season bear at most, as the notice says it."""
    garden = garden_from_frames(
        picks=picks.assign(mass_kg=[1.0, 2000.0, 1.0, 1.0]), plantings=plantings, latitude=-41.0
    )
    return float(unlikely_yields(garden)["facts"].iloc[0]["most_kg"])


def test_the_sample_has_no_unlikely_yield() -> None:
    garden = open_garden(ROOT / "sample_logs")
    assert unlikely_yields(garden).empty
    assert unlikely_fruit(garden).empty


def _counted(variety: str, counts: list[float], note: str | None) -> Garden:
    """A garden of slicers that are weighed and a tomato that is counted only."""
    plantings = pd.DataFrame(
        {
            "crop": "tomato",
            "variety": ["Brick Row", variety],
            "date": pd.to_datetime(["2026-05-20", "2026-05-20"]),
            "how": "set_out",
            "plants": [6.0, 3.0],
            "note": [None, note],
        }
    )
    days = pd.date_range("2026-07-20", periods=len(counts))
    own = pd.DataFrame({"date": days, "variety": variety, "count": counts})
    other = pd.DataFrame(
        {"date": days[:1], "variety": "Brick Row", "count": 20.0, "mass_kg": [5.0]}
    )
    picks = pd.concat([own, other]).assign(crop="tomato", file="picks.csv", line=2)
    return garden_from_frames(picks=picks, plantings=plantings, household=Household(units="us"))


def test_small_fruit_taken_for_large_is_said_with_its_numbers_and_cures() -> None:
    """280 cherry tomatoes a plant would be 150 lb a plant at the weight of the slicers."""
    found = unlikely_fruit(_counted("Wee Lantern", [300.0, 533.0], "cherry"))
    assert found["column"].to_list() == ["count"] and found["line"].to_list() == [2]
    assert found["code"].to_list() == ["amount.unlikely_fruit"]
    facts = found["facts"].iloc[0]
    assert (facts["crop"], facts["variety"], facts["season"]) == ("tomato", "Wee Lantern", "2026")
    assert (facts["number"], facts["plants"], facts["other"]) == (833, 3, "cherry tomato")
    assert facts["said"] == "note (cherry) says"
    assert 400 < facts["whole_kg"] / 0.45359237 < 500
    assert facts["whole_kg"] == pytest.approx(833 * facts["kg"])
    assert facts["most_kg"] / 0.45359237 == pytest.approx(60, rel=0.02)


@pytest.mark.parametrize(
    ("variety", "counts", "note", "crop"),
    [
        ("Wee Lantern", [400.0, 433.0], None, "if it is one, write cherry tomato"),
        ("Wee Lantern", [400.0, 433.0], "two cherry ones from a neighbour", "note (two cherry"),
        ("Cherry Lantern", [12.0], None, "name (Cherry Lantern) says, write cherry tomato"),
        ("Wee Lantern", [12.0], "Cherry tomatoes", "note (Cherry tomatoes) says"),
        ("Wee Lantern", [12.0], "beside the cherry", None),
        ("Wee Lantern", [60.0], None, None),
    ],
)
def test_fruit_of_another_crop_is_told_by_name_note_or_number(
    variety: str, counts: list[float], note: str | None, crop: str | None
) -> None:
    found = unlikely_fruit(_counted(variety, counts, note))
    assert len(found) == (crop is not None)
    assert crop is None or crop in found["done"].iloc[0]


def test_a_basket_weighed_settles_what_a_fruit_weighs() -> None:
    garden = _counted("Wee Lantern", [400.0, 433.0], "cherry")
    basket = garden.picks.iloc[:1].assign(count=60.0, mass_kg=1.0)
    settled = replace(garden, picks=pd.concat([garden.picks, basket], ignore_index=True))
    assert unlikely_fruit(settled).empty


def test_python_has_the_list_of_the_check_with_whole_lines(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="metric")
    text = "date,product,jar,change\n2026-07-22,quince cheese,pint,9\n"
    (tmp_path / "g" / "pantry.csv").write_text(text, "utf-8")
    found = odd_things(open_garden(tmp_path / "g"))
    listed = json.loads(call("check", tmp_path / "g", "--json").stdout)["notices"]
    kept = found[~found["code"].eq("elevation.none").fillna(False)]  # said as what is missing
    assert [row["odd"] for row in listed] == kept["odd"].to_list()
    assert "no such product is known here" in kept["odd"].to_list()
    assert found["line"].dtype == "Int64"
    lines = [row["line"] for row in listed if row["line"] is not None]
    assert lines and all(isinstance(line, int) for line in lines)


def test_problems_alike_are_gathered_and_none_is_lost() -> None:
    problems = [
        Problem(
            file="p.csv",
            line=n,
            column="date",
            value=str(n),
            code="date.ambiguous",
            rule=f"may be {n} May",
            cure="x",
        )
        for n in (2, 3, 4, 7, 9)
    ] + [Problem(file="p.csv", line=5, column="crop", rule="there is no crop", cure="y")]
    shown = problem_lines(problems)
    assert shown == [
        str(problems[0]),
        "5 lines of p.csv are alike, this one first: 2 to 4, 7, 9",
        str(problems[-1]),
    ]
    assert problem_lines(problems[:4]) == [str(p) for p in problems[:4]]


def test_the_import_names_the_options_that_settle_it(
    tmp_path: Path,
) -> None:
    start_garden(tmp_path / "g", elevation_m=1)
    log = tmp_path / "log.csv"
    log.write_text("Date,Cucumbers,Remark\n5.7.2026,4,hot\n25.7.2026,6,\n7 July,2,\n", "utf-8")
    told = call("import", tmp_path / "g", log)
    assert told.exit_code == 1
    assert "'Remark' taken for note" in told.output
    assert "--date-order day_first (the others in the file are written so)" in told.output
    assert "--unit each" in told.output and "--year" in told.output
    settled = call("import", tmp_path / "g", log, "--date-order", "day_first", "--unit", "each",
                   "--year", "2026", "--write")  # fmt: skip
    assert settled.exit_code == 0, settled.output
    assert "To settle" not in settled.output and "look like" not in settled.output
    assert "add " in settled.output and "--undo" in settled.output
    back = call("add", tmp_path / "g", "--undo")
    assert "3 picks from log.csv" in back.output
    assert not list((tmp_path / "g").glob("picks-from*"))


def test_a_day_is_read_in_the_order_of_the_garden(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", elevation_m=1, date_order="day_first")
    told = call("week", tmp_path / "g", "--as-of", "5.7.2026", "--no-report")
    assert told.exit_code != 2
    start_garden(tmp_path / "other", elevation_m=1)
    told = call("week", tmp_path / "other", "--as-of", "5.7.2026", "--no-report")
    assert told.exit_code == 2 and "may be 7 May 2026 or 5 July 2026" in told.output


def test_writing_a_pick_down_loads_no_tables(tmp_path: Path) -> None:
    """What is typed most often answers soonest: neither numpy nor pandas is needed for it."""
    start_garden(tmp_path / "g", elevation_m=1)
    script = (
        "import sys\n"
        "from harvestcast.report.command.main import main\n"
        "main(sys.argv[1:], standalone_mode=False)\n"
        "print(sorted({'numpy', 'pandas', 'matplotlib'} & set(sys.modules)))\n"
    )
    folder = str(tmp_path / "g")
    for words in (["add", folder, "okra", "12"], ["add", folder, "--undo"]):
        done = subprocess.run(
            [sys.executable, "-c", script, *words], capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr
        assert done.stdout.splitlines()[-1] == "[]"


def test_a_crop_apart_by_its_spelling_is_named_on_the_week(tmp_path: Path) -> None:
    notices = pd.DataFrame(
        {
            "file": ["picks.csv", "picks.csv"],
            "line": [5.0, 6.0],
            "value": ["cucmber", "oca"],
            "odd": ["the crop is not in the list"] * 2,
            "done": ["did you mean cucumber? kept apart", "kept as typed, with general figures"],
            "code": ["crop.unknown"] * 2,
            "facts": [{"meant": "cucumber"}, {"meant": ""}],
        }
    )
    assert misspelt(notices) == [
        "cucmber (picks.csv, line 5) is forecast as a crop of its own; did you mean cucumber?"
    ]


@pytest.mark.parametrize("command", ["season", "backtest"])
def test_a_season_without_picks_is_said_in_household_words(command: str, tmp_path: Path) -> None:
    start_garden(tmp_path / "g", elevation_m=1)
    told = call(command, tmp_path / "g")
    assert told.exit_code == 1
    assert "no pick is written down yet" in told.output and "none" not in told.output


def test_an_import_names_line_and_value_of_crops_that_are_not_known(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="metric")
    rows = "2026-07-01;Gurken;4\n2026-07-02;Zaubernuss;3\n2026-07-03;Kürbis;2\n"
    (tmp_path / "old.csv").write_text("date;crop;count\n" + rows, "utf-8")
    told = call("import", tmp_path / "g", tmp_path / "old.csv").output
    assert "Gurken" not in told
    assert "old.csv, line 3, crop ('Zaubernuss'): the crop is not in the list" in told
    assert 'aliases = ["Zaubernuss"]' in told
    assert "Kürbis may be winter squash or pumpkin" in told


def test_an_import_says_how_to_name_columns_and_take_in_what_is_alike(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="metric")
    call("add", tmp_path / "g", "okra", "4", "--on", "2025-07-01")
    book = openpyxl.Workbook()
    book.worksheets[0].title = "dry"
    for sheet in (book.worksheets[0], book.create_sheet("wet")):
        sheet.append(["date", "crop", "count", "Mood", "Remarks"])
    book.worksheets[0].append(["2025-07-01", "okra", 4, "glad", "copied"])
    book.worksheets[1].append(["2025-07-02", "okra", 5, "glad", ""])
    book.save(tmp_path / "old.xlsx")
    told = call("import", tmp_path / "g", tmp_path / "old.xlsx", "--write").output
    assert "old.xlsx, sheet dry, line 2 alike: " in told
    assert '--column "Mood=WHAT IT HOLDS", which may be: date, crop' in told
    assert "garden.toml" not in told and "--take-alike takes them in" in told
    assert "Wrote 1 pick to picks-from-old.csv; 0 stood there already, 1 most likely too" in told
    again = call("import", tmp_path / "g", tmp_path / "old.xlsx", "--write", "--take-alike",
                 "--column", "mood=variety").output  # fmt: skip
    assert "okra glad: 4; taken in beside line" not in again  # another variety is another pick
    assert "Wrote 2 picks" in again and "'Mood' taken for variety" in again
    (tmp_path / "own.csv").write_text("Wann,Was,Zahl\n2026-07-05,okra,4\n", "utf-8")
    lost = call("import", tmp_path / "g", tmp_path / "own.csv").output
    assert '--column "HEADING=date"' in lost
    named = [f"--column={pair}" for pair in ("Wann=date", "Was=crop", "Zahl=count")]
    assert "Lines: 1 read" in call("import", tmp_path / "g", tmp_path / "own.csv", *named).output
    wrong = call("import", tmp_path / "g", tmp_path / "old.xlsx", "--column", "Mood")
    assert wrong.exit_code == 2 and "'Which kind=variety'" in wrong.output


def test_check_names_lines_of_the_pantry_book_that_do_not_count_as_typed(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="metric")
    rows = ("Essiggurken,quart,2", "dill pickles,pot,9", "frozen zucchini,pint bag,-3")
    text = "date,product,jar,change\n" + "".join(f"2026-07-22,{row}\n" for row in rows)
    (tmp_path / "g" / "pantry.csv").write_text(text, "utf-8")
    told = call("check", tmp_path / "g").output
    for place in ("2, product ('essiggurken')", "3, jar ('pot')", "4, change ('-3')"):
        assert f"warning  pantry.csv, line {place}: " in told


def test_all_that_is_wrong_with_the_settings_is_said_at_once(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="metric")
    (tmp_path / "g" / "garden.toml").write_text(
        "colour = 1\nelevation_ft = -9000\n[hours]\nblursday = 2\nsaturday = 30\n"
        "[jars]\npint = -3\n"
        '[[equipment]]\nkind = "boiling_water_canner"\nload = 7\n'
        '[targets]\n"dill pikles" = 4\nsalsa = 2\n'
    )
    told = call("check", tmp_path / "g")
    lines = [line for line in told.output.splitlines() if line.startswith("error")]
    for word in ("colour", "blursday", "saturday ('30'): must be at most 24", "jars.pint",
                 "equipment.0.load", "elevation_ft"):  # fmt: skip
        assert sum(word in line for line in lines) == 1, (word, lines)
    assert len(lines) == 6 and told.exit_code == 1
    assert "warning  garden.toml, line 12, targets ('dill pikles'): no such product" in told.output


def test_a_target_nobody_has_tested_is_left_out_and_the_garden_goes_on(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="metric", elevation_m=1)
    (tmp_path / "g" / "garden.toml").write_text("elevation_m = 1\n[targets]\neggnog = 4\n")
    told = call("check", tmp_path / "g")
    assert told.exit_code == 0
    said = (
        "garden.toml, line 3, targets ('eggnog'): no such product is known here, so no tested "
        "way to put it up either; left out: nothing is planned or counted towards it; "
        "'harvestcast check FOLDER --products' lists what there is"
    )
    assert f"warning  {said}\n" in told.output
    call("add", tmp_path / "g", "okra", "4", "--on", "2025-07-01")
    planned = CliRunner().invoke(main, ["next", str(tmp_path / "g"), "--no-report", "--json"])
    assert said in planned.stderr


def test_a_missing_elevation_is_said_once(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="metric")
    settings = tmp_path / "g" / "garden.toml"
    for text in ("people = 2\n", 'people = 2\n[[equipment]]\nkind = "boiling_water_canner"\n'):
        settings.write_text(text)
        told = call("check", tmp_path / "g").output
        assert (
            sum(
                line.startswith(("error", "warning", "missing")) and "elevation_m" in line
                for line in told.splitlines()
            )
            == 1
        ), told


def test_two_years_of_weather_are_called_few_and_not_none() -> None:
    days = pd.date_range("2024-01-01", "2025-12-31")
    weather = pd.DataFrame({"date": days, "tmin_c": 5.0, "tmax_c": 15.0})
    lacking = still_missing(garden_from_frames(weather=weather))
    (said,) = [one for one in lacking if one.code == "missing.weather"]
    assert said.facts["years"] == 2
    assert "weather of 2 years" in said.text and "nothing is forecast" not in said.text
