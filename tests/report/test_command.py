"""The command line: exit status, messages, JSON, and no traceback for bad input."""

import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import click
import pytest
from click.testing import CliRunner, Result

from harvestcast.errors import InfeasiblePlanError, InputError, Problem, UnsafeProcessError
from harvestcast.kitchen.handbook.products import match_product, product, products
from harvestcast.report.command.main import main
from harvestcast.report.plain import plain
from harvestcast.report.week import results as week_module
from harvestcast.report.week.results import Week

COMMANDS = list(main.commands)


@pytest.fixture
def run() -> Callable[..., Result]:
    runner = CliRunner()

    def call(*arguments: object, **more: Any) -> Result:
        return runner.invoke(main, [str(a) for a in arguments], **more)

    return call


@pytest.fixture
def started(tmp_path: Path, run: Callable[..., Result]) -> Path:
    folder = tmp_path / "plot"
    made = run("start", folder, "--elevation", "1,300 ft", "--units", "us", "--crops", "cucumbers")
    assert made.exit_code == 0, made.output
    return folder


BOOK = ("put-up", "on-hand", "bought", "used", "gave", "fed", "threw-out")


def test_every_command_is_there() -> None:
    promised = {"start", "add", "import", "check", "sheet", "week", "ahead", "season", "next",
                "backtest", "gardens", "explain", *BOOK}  # fmt: skip
    assert set(COMMANDS) == promised


@pytest.mark.parametrize("name", ["start", "add", "import", "check", "sheet", "week", "ahead",
                                  "season", "next", "backtest", "gardens", *BOOK])  # fmt: skip
def test_every_command_has_help_with_an_example_and_json(
    name: str, run: Callable[..., Result]
) -> None:
    told = run(name, "--help")
    assert told.exit_code == 0
    assert f"Example: harvestcast {name} " in told.output
    assert "--json" in told.output
    assert "--debug" in told.output
    command = main.commands[name]
    for option in command.params:
        if isinstance(option, click.Option) and option.name not in ("weeks",):
            assert option.help, f"{name} {option.name} is not explained"


def test_wrong_use_is_status_2(run: Callable[..., Result]) -> None:
    assert run("nonsense").exit_code == 2
    assert run("week").exit_code == 2
    assert run("week", "x", "--as-of", "5.7.2026").exit_code == 2
    assert run("week", "x", "--weeks", "0").exit_code == 2
    assert run("add", "x").exit_code == 2
    assert run("start", "x", "--elevation", "high").exit_code == 2
    assert "write it as 2026-07-19" in run("week", "x", "--as-of", "5.7.2026").output


@pytest.mark.parametrize(
    "name", ["check", "week", "ahead", "season", "next", "backtest", "sheet", "on-hand"]
)
def test_a_folder_that_is_not_there_is_said(
    name: str, tmp_path: Path, run: Callable[..., Result]
) -> None:
    told = run(name, tmp_path / "nowhere")
    assert told.exit_code == 1
    assert "there is no such folder" in told.output
    assert "Traceback" not in told.output
    as_json = run(name, tmp_path / "nowhere", "--json", "--quiet")
    assert as_json.exit_code == 1
    said = json.loads(as_json.stdout)
    assert said["ok"] is False
    names = {"code", "file", "line", "column", "value", "rule", "cure", "facts"}
    assert set(said["errors"][0]) == names
    assert said["errors"][0]["code"] == "folder.missing"


def test_the_seed_list_is_written_and_never_over_a_log(
    sample_folder: Path, tmp_path: Path, run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("harvestcast.season.next.plan.TRIALS", 20)
    monkeypatch.setattr("harvestcast.season.next.plan.FRESH_FUTURES", 20)
    folder = tmp_path / "garden"
    shutil.copytree(sample_folder, folder)
    log = folder / "picks-2025.csv"
    before = log.read_bytes()
    assert run("next", folder, "--no-report", "--quiet", "--seeds", log).exit_code == 1
    assert log.read_bytes() == before
    seeds = tmp_path / "seeds.csv"
    told = run("next", folder, "--no-report", "--quiet", "--seeds", seeds)
    assert told.exit_code == 0, told.output
    lines = seeds.read_text("utf-8").splitlines()
    assert lines[0].startswith("crop,variety,sowings,plants,row_m,seeds,grams")
    assert any(line.startswith("tomato,") for line in lines)


def test_a_new_garden_checks_clean_and_is_never_overwritten(
    started: Path, run: Callable[..., Result]
) -> None:
    clean = run("check", started, "--json")
    assert clean.exit_code == 0
    said = json.loads(clean.stdout)
    assert said["ok"] is True
    assert said["errors"] == []
    before = {path.name: path.read_bytes() for path in started.iterdir() if path.is_file()}
    again = run("start", started)
    assert again.exit_code == 1
    assert "garden folder already" in again.output
    after = {path.name: path.read_bytes() for path in started.iterdir() if path.is_file()}
    assert before == after


def test_check_lists_the_products_that_can_be_targets(
    started: Path, run: Callable[..., Result]
) -> None:
    """Every product of the catalogue but food for the week, each found by its own name."""
    for line in ["", "[[equipment]]", 'kind = "boiling_water_canner"', "pints = 9", "quarts = 7"]:
        with (started / "garden.toml").open("a", encoding="utf-8") as file:
            file.write(f"{line}\n")
    assert run("add", started, "cucumber", "12").exit_code == 0
    listed = json.loads(run("check", started, "--products", "--json").stdout)["products"]
    by_name = {row["label"]: row for row in listed}
    for label, row in by_name.items():
        assert match_product(label) == row["product"]
        assert row["counted_in"] == product(row["product"]).counted_in
    kept = {p.key for p in map(product, products()["key"]) if not p.for_the_week}
    assert {row["product"] for row in listed} == kept - {"dried_meat"}
    assert not by_name["dill pickles"]["why_not"]
    assert by_name["frozen kale"]["why_not"] == "there is no freezer in garden.toml"
    untested = [row for row in listed if row["why_not"].startswith("no tested time on record here")]
    assert untested and by_name["dill pickles"] not in untested
    said = run("check", started, "--products").output
    assert "  dill pickles: pints; boiling-water canner\n" in said
    # What is grown stands first; the list is named where targets are typed.
    assert said.index("\ncucumber\n") < said.index("\napple (not in this garden)\n")
    assert "check FOLDER --products" in (started / "garden.toml").read_text("utf-8")


def test_products_are_listed_where_no_elevation_is_said(
    tmp_path: Path, run: Callable[..., Result]
) -> None:
    (tmp_path / "garden.toml").write_text('[[equipment]]\nkind = "boiling_water_canner"\n')
    listed = json.loads(run("check", tmp_path, "--products", "--json").stdout)["products"]
    assert {row["why_not"] for row in listed} == {
        "no elevation in garden.toml, and there is a canner"
    }


def test_start_asks_for_what_is_not_given(tmp_path: Path, run: Callable[..., Result]) -> None:
    folder = tmp_path / "asked"
    answers = (
        "Marsh End\nus\nhigh\n1300 ft\nfar south\n41 S\n4\nmay\n10 May\n\ncucmber\ncucumber, kale\n"
        "pressure canner\ndial pressure canner, freezer\nsometimes\nsaturday 4, wed 1.5\n"
    )
    told = run("start", folder, "--ask", input=answers)
    assert told.exit_code == 0, told.output
    settings = (folder / "garden.toml").read_text("utf-8")
    assert "Marsh End" in settings
    assert "1300" in settings
    assert "latitude = -41\n" in settings
    assert "kale" in settings
    assert 'last_frost = "05-10"' in settings and "# first_frost" in settings
    assert "\n[hours]\nsaturday = 4\nwednesday = 1.5\n" in settings
    assert "not clear how many hours" in told.output
    assert '\ngauge = "dial"' in settings and '\n# kind = "dryer"' in settings
    assert "Did you mean cucumber?" in told.output and "the gauge" in told.output


def test_a_latitude_may_name_its_hemisphere(tmp_path: Path, run: Callable[..., Result]) -> None:
    assert run("start", tmp_path / "a", "--no-ask", "--latitude", "41 S").exit_code == 0
    assert "latitude = -41\n" in (tmp_path / "a" / "garden.toml").read_text("utf-8")
    assert run("start", tmp_path / "b", "--no-ask", "--latitude", "north").exit_code == 2


def test_names_of_two_words_need_no_quotation_marks(
    started: Path, run: Callable[..., Result]
) -> None:
    told = run("add", started, "green", "beans", "3", "lb", "--on", "yesterday")
    assert told.exit_code == 0, told.output
    assert "green beans" in told.output and ": 3 lb" in told.output
    assert run("add", started, "green", "beans", "none").exit_code == 0


def test_add_and_undo(started: Path, run: Callable[..., Result]) -> None:
    told = run("add", started, "cucumber", "2", "dozen", "--on", "yesterday", "--note", "<b>x</b>")
    assert told.exit_code == 0, told.output
    assert "24" in told.output
    entry = json.loads(run("add", started, "cucumber", "3 lb 4 oz", "--json").stdout)
    assert entry["ok"] is True
    assert "3.25" in entry["says"]
    assert run("add", started, "--undo").exit_code == 0
    picks = "".join(p.read_text("utf-8") for p in started.glob("picks*.csv"))
    assert "3.25" not in picks
    assert "24" in picks
    bad = run("add", started, "cucmber", "3", "xx")
    assert bad.exit_code == 1
    assert "Did you mean cucumber?" in bad.output
    assert "2 problems" in bad.output
    assert run("add", started, "cucumber", "--undo").exit_code == 2


@pytest.mark.parametrize("word", ["-12", "--12", "-1/2 kg"])
def test_an_amount_with_a_minus_is_answered_as_an_amount(
    started: Path, run: Callable[..., Result], word: str
) -> None:
    result = run("add", started, "cucumber", *word.split())
    assert result.exit_code == 1
    assert "the amount" in result.stderr
    result = run("add", started, "cucumber", "12", "--wieght", "3lb")
    assert result.exit_code == 2
    assert "No such option '--wieght'" in result.stderr


def test_check_lists_everything_at_once(started: Path, run: Callable[..., Result]) -> None:
    log = next(started.glob("picks*.csv"))
    heading = log.read_text("utf-8").splitlines()[0].split(",")
    rows = [{"date": "2026-13-45", "crop": "cucumber", "count": "3"},
            {"date": "2026-07-04", "crop": "cucumber", "count": "-3"}]  # fmt: skip
    with log.open("a", encoding="utf-8") as file:
        for row in rows:
            file.write(",".join(row.get(name, "") for name in heading) + "\n")
    (started / "weather.csv").write_text("date,tmin_f,tmax_f\n2026-07-01,80,60\n", "utf-8")
    told = run("check", started)
    assert told.exit_code == 1
    assert told.output.count("error  ") >= 3
    assert f"{log.name}, line 2" in told.output
    assert f"{log.name}, line 3" in told.output
    assert "weather.csv, line 2" in told.output
    week = run("week", started)
    assert week.exit_code == 1
    assert f"{log.name}, line 3" in week.stderr
    assert "Traceback" not in week.output


def test_import_shows_before_it_writes(
    started: Path, tmp_path: Path, run: Callable[..., Result]
) -> None:
    old = tmp_path / "old.csv"
    old.write_text("Date,Crop,Count\n2026-07-04,Cucumbers,12\n2026-07-05,Cucumbers,x\n", "utf-8")
    seen = run("import", started, old)
    assert seen.exit_code == 1
    assert "1 read" in seen.output
    assert "line 3" in seen.output
    assert not list(started.glob("picks-from*"))
    done = run("import", started, old, "--write", "--leave-out-unread", "--json")
    assert done.exit_code == 0
    assert json.loads(done.stdout)["written"]["picks"] == 1
    again = run("import", started, old, "--write", "--leave-out-unread")
    assert "stands in the garden already" in again.output


def test_sheets_of_the_sample(
    sample_folder: Path, tmp_path: Path, run: Callable[..., Result]
) -> None:
    for name in ("s.html", "s.xlsx"):
        told = run("sheet", sample_folder, "--out", tmp_path / name, "--json")
        assert told.exit_code == 0, told.output
        assert json.loads(told.stdout)["files"] == [str(tmp_path / name)]
        assert (tmp_path / name).stat().st_size > 2000
    assert run("sheet", sample_folder, "--out", tmp_path / "s.doc").exit_code == 2


@pytest.fixture
def computed(made_up: SimpleNamespace, monkeypatch: pytest.MonkeyPatch) -> Week:
    """Let the week's results be the made-up ones."""
    week: Week = made_up.week()
    monkeypatch.setattr(week_module, "planned_week", lambda *args, **kwargs: week)
    return week


def test_week_says_it_shortly(
    computed: Week, made_up: SimpleNamespace, tmp_path: Path, run: Callable[..., Result]
) -> None:
    told = run("week", tmp_path, "--no-report")
    assert told.exit_code == 0, told.output
    said = told.stdout
    assert "known up to Sunday, July 19, 2026" in said
    assert re.search(r"cucumber +17 lb \(7\.9 to 32 lb\)", said)
    job = "Mon Jul 20: Dill pickles (2 batches): about 18 pints (9 to 27) from 13 lb cucumber"
    assert job in said
    assert "dial-gauge pressure canner, 20 min at 11 psi: pints, raw pack, headspace 1 in" in said
    assert "vinegar, 5% acidity: 3.2 qt" in said
    assert "82% likely" in said
    assert "no forecast for kale" in said
    assert "Relish" not in said.replace("Cucumber relish", "Relish"), "not decided yet"
    assert len(said.splitlines()) < 40
    assert "\x1b" not in said


def test_week_as_json_is_only_json(
    computed: Week, tmp_path: Path, run: Callable[..., Result]
) -> None:
    told = run("week", tmp_path, "--no-report", "--json")
    assert told.exit_code == 0
    said = json.loads(told.stdout)
    promised = {
        "kind", "place", "units", "as_of", "weeks", "seed", "draws", "report", "days",
        "overdue", "coming", "work", "changed", "reasons", "shopping", "shopping_later",
        "shopping_if", "stock", "uses",
        "surplus", "pantry", "kept_out", "bottlenecks",
        "cautions", "checks_failed", "left_out", "notices", "data", "solve", "read_first",
    }  # fmt: skip
    assert set(said) == promised
    assert "NaN" not in told.stdout
    assert said["as_of"] == "2026-07-19"
    beans = [row for row in said["coming"] if row["crop"] == "snap bean"]
    assert beans[0]["q50_count"] is None, "unknown is null"
    squash = [row for row in said["coming"] if row["crop"] == "zucchini"]
    assert squash[0]["last_7_days_kg"] is None
    assert said["work"][0]["day"] == "2026-07-20"
    assert said["work"][0]["pressure_psi"] is None
    assert said["work"][2]["pressure_psi"] == 11.0


def test_bad_input_in_any_stage_is_said_line_by_line(
    tmp_path: Path, run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(error: Exception) -> None:
        def fail(*args: object, **kwargs: object) -> None:
            raise error

        monkeypatch.setattr(week_module, "planned_week", fail)

    problem = Problem(file="picks.csv", line=3, column="count", value="-2", rule="r", cure="C.")
    broken(InputError([problem, problem]))
    told = run("week", tmp_path)
    assert told.exit_code == 1
    assert told.stderr.count("picks.csv, line 3, count ('-2'): r. C.") == 2
    broken(InfeasiblePlanError("the limits contradict each other", ["Saturday: 2 h needed"]))
    assert "  - Saturday: 2 h needed" in run("week", tmp_path).stderr
    broken(UnsafeProcessError("no tested process"))
    assert run("week", tmp_path).exit_code == 1
    broken(PermissionError(13, "Permission denied", "garden.toml"))
    assert "garden.toml: Permission denied" in run("week", tmp_path).stderr
    broken(ZeroDivisionError("sum of nothing"))
    strange = run("week", tmp_path)
    assert strange.exit_code == 1
    assert "fault of the program" in strange.stderr
    assert "--debug" in strange.stderr
    assert "Traceback" not in strange.stderr
    assert "Traceback" in run("week", tmp_path, "--debug").stderr


def test_plain_knows_every_unknown() -> None:
    import numpy as np
    import pandas as pd

    assert plain([np.nan, pd.NA, pd.NaT, None, float("inf")]) == [None] * 5
    assert plain({"a": np.int64(3), "b": np.bool_(True)}) == {"a": 3, "b": True}


def _program(*arguments: object, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-c", "from harvestcast.report.command.main import main; main()",
         *[str(a) for a in arguments]],
        capture_output=True,
        check=False,
        env={**os.environ, **environment},
    )  # fmt: skip


def test_as_a_process_of_its_own(sample_folder: Path) -> None:
    told = _program("check", sample_folder)
    assert told.returncode == 0, told.stderr
    assert b"No errors" in told.stdout
    assert _program("check", sample_folder / "none").returncode == 1
    assert _program("check").returncode == 2


def test_a_terminal_without_letters_shows_stand_ins(tmp_path: Path, sample_folder: Path) -> None:
    folder = tmp_path / "g"
    shutil.copytree(sample_folder, folder)
    log = folder / "picks-2026.csv"
    with log.open("a", encoding="utf-8") as file:
        file.write("2026-07-24,jalape\N{LATIN SMALL LETTER N WITH TILDE}o x\u4e2d,,-1,,,,\n")
    told = _program("check", folder, PYTHONIOENCODING="ascii", PYTHONUTF8="0")
    assert told.returncode == 1
    assert b"Traceback" not in told.stderr
    assert told.stdout.isascii()
    assert b"line" in told.stdout


def test_help_does_not_load_the_heavy_libraries() -> None:
    code = (
        "import sys; sys.argv = ['harvestcast', '--help']\n"
        "from harvestcast.report.command.main import main\n"
        "try: main()\n"
        "except SystemExit: pass\n"
        "heavy = {'numpy', 'pandas', 'scipy', 'matplotlib', 'papermill', 'pydantic'}\n"
        "print('LOADED', sorted(heavy & set(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "LOADED []" in told.stdout


def test_colour_only_in_a_terminal_and_not_where_it_is_unwanted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    from harvestcast.report.command.terminal import strong

    monkeypatch.setattr(sys.stdout, "isatty", lambda: True)
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert strong()
    monkeypatch.setenv("NO_COLOR", "1")
    assert not strong()


def test_a_reader_that_has_seen_enough_is_no_error(sample_folder: Path) -> None:
    # A pipe whose other end is closed at once, as that of 'head -0' is.
    reading, writing = os.pipe()
    os.close(reading)
    told = subprocess.run(
        [sys.executable, "-m", "harvestcast", "check", str(sample_folder), "--products",
         "--quiet"],
        stdout=writing, stderr=subprocess.PIPE, text=True, check=False,
    )  # fmt: skip
    os.close(writing)
    assert told.stderr == ""
