"""Every command on the small southern garden: metric, its own words, a season over New Year."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from harvestcast.report.command.main import main

DAY = "2026-01-25"


@pytest.fixture(scope="module")
def folder(sample_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("south") / "plot"
    ignored = shutil.ignore_patterns("reports", ".harvestcast*")
    shutil.copytree(sample_folder / "south", place, ignore=ignored)
    return place


@pytest.fixture
def run(folder: Path) -> Callable[..., str]:
    def call(command: str, *arguments: str) -> str:
        told: Result = CliRunner().invoke(main, [command, str(folder), *arguments, "--quiet"])
        assert told.exit_code == 0, told.output
        return told.stdout

    return call


def _is_metric(text: str) -> bool:
    return re.search(r"\b(?:kg|m2)\b", text) is not None and not re.search(
        r"\d (?:lb|oz|sq ft|ft|gal)\b", text
    )


def test_the_week(run: Callable[..., str]) -> None:
    said = run("week")
    assert _is_metric(said)
    assert "courgettes" in said and "silverbeet" in said
    assert "zucchini" not in said and "chard" not in said


def test_the_seasons(run: Callable[..., str]) -> None:
    said = run("season", "--year", "2024/25")
    assert "the season of 2024/25" in said
    assert _is_metric(said)
    for variety in ("Rope Walk", "Longshore", "Lee Post", "Ferry Lamp", "Dinghy", "Harbourmaster"):
        assert variety in said


def test_the_beds_of_the_next_season(run: Callable[..., str]) -> None:
    said = run("next")
    assert "beds for 2026/27" in said
    assert _is_metric(said)
    assert "1 apple, Harbourmaster" in said


def test_the_season_ahead(run: Callable[..., str]) -> None:
    assert _is_metric(run("ahead"))


def test_past_forecasts(run: Callable[..., str]) -> None:
    said = run("backtest", "--year", "2025/26")
    assert re.search(r"from \w+ \d+ July 2025 to \w+ \d+ January 2026", said, flags=re.I)


def test_what_is_written_down(run: Callable[..., str], folder: Path) -> None:
    kept = {path.name: path.read_bytes() for path in folder.glob("*.csv")}
    assert "1.2 kg" in run("add", "courgettes", "6", "--weight", "1.2kg", "--on", DAY)
    assert "4 jars of 500 ml" in run(
        "put-up", "bread and butter zucchini", "4 x 500 ml", "--on", DAY
    )
    assert "900 g" in run("on-hand", "silverbeet", "900 g", "--on", DAY)
    assert "cool store, room free" in run("on-hand")
    for _ in range(2):
        run("on-hand", "--undo")
    run("add", "--undo")
    assert {path.name: path.read_bytes() for path in folder.glob("*.csv")} == kept


def test_the_files_and_the_sheets(run: Callable[..., str], folder: Path) -> None:
    assert "No errors" in run("check")
    run("sheet")
    assert list((folder / "sheets").iterdir())
