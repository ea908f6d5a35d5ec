"""The commands of the kitchen book, and the week that holds to what it decided."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from harvestcast.report.command.main import main

DAY = "2026-07-25"


@pytest.fixture(scope="module")
def folder(sample_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("kitchen") / "plot"
    ignored = shutil.ignore_patterns("reports", ".harvestcast*")
    shutil.copytree(sample_folder, place, ignore=ignored)
    return place


@pytest.fixture
def run() -> Callable[..., Result]:
    def call(*arguments: object) -> Result:
        return CliRunner().invoke(main, [str(one) for one in arguments])

    return call


def week(run: Callable[..., Result], folder: Path) -> dict[str, list[dict[str, object]]]:
    told = run("week", folder, "--as-of", DAY, "--no-report", "--json", "--quiet")
    assert told.exit_code == 0, told.output
    return json.loads(told.stdout)


def decided(said: dict[str, list[dict[str, object]]]) -> list[tuple[object, ...]]:
    return sorted((r["day"], r["product"], r["batches"]) for r in said["work"] if r["decided"])


def test_shopping_is_taken_with_one_word_and_the_week_stands(
    folder: Path, run: Callable[..., Result]
) -> None:
    assert run("bought", folder, "--on", DAY).exit_code == 1, "there is no list yet"
    kept = {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    first = week(run, folder)
    to_buy = {r["item"]: r["to_buy"] for r in first["shopping"] if r["to_buy"]}
    assert to_buy
    # A report writes into its own folder and touches nothing of the household's.
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == kept
    assert (folder / "reports" / "decided.json").is_file()
    told = run("bought", folder, "--on", DAY, "--json")
    assert told.exit_code == 0, told.output
    assert len(json.loads(told.stdout)["lines"]) == len(to_buy)
    second = week(run, folder)
    assert decided(second) == decided(first)
    assert second["changed"] == []
    assert not [r for r in second["shopping"] if r["to_buy"]]
    # Taken back as one entry, and everything is to be bought again.
    assert run("bought", folder, "--undo").exit_code == 0
    third = week(run, folder)
    assert {r["item"]: r["to_buy"] for r in third["shopping"] if r["to_buy"]} == to_buy


def test_an_option_without_its_value_swallows_no_other(
    run: Callable[..., Result], folder: Path
) -> None:
    told = run("add", folder, "zucchini", 4, "--oversize", "--on", DAY)
    assert told.exit_code == 2 and "'--oversize' requires an argument" in told.output


def test_what_is_on_hand_is_listed_with_the_day_of_its_count(
    folder: Path, run: Callable[..., Result]
) -> None:
    assert run("on-hand", folder, "pint", "jars", "--on", DAY).exit_code == 1
    assert run("on-hand", folder, "pint", "jars", "24", "--on", DAY).exit_code == 0
    assert run("on-hand", folder, "cucumbers", "9 lb", "--on", DAY).exit_code == 0
    said = json.loads(run("on-hand", folder, "--json", "--quiet").stdout)
    stock = {row["item"]: row for row in said["stock"]}
    assert (stock["pint jars"]["amount"], stock["pint jars"]["counted_on"]) == (24, DAY)
    assert stock["half-pint jars"]["counted_on"] == "2026-07-01", "counted_on of garden.toml"
    produce = {row["crop"]: row for row in said["produce"]}
    assert produce["cucumber"]["mass_kg"] == pytest.approx(9 * 0.45359237, abs=1e-5)
    assert produce["chard"]["counted_on"] is None
    words = run("on-hand", folder, "--quiet").output
    assert "counted Sat Jul 25" in words
    assert "never counted" in words
    for _ in range(2):
        assert run("on-hand", folder, "--undo").exit_code == 0


@pytest.mark.parametrize("name", ["put-up", "used", "gave", "fed", "threw-out"])
def test_wrong_use_is_status_2(name: str, folder: Path, run: Callable[..., Result]) -> None:
    assert run(name, folder).exit_code == 2
    assert run(name, folder, "lids", "3", "--undo").exit_code == 2


@pytest.mark.parametrize(
    ("name", "what"), [("used", "used"), ("gave", "given"), ("fed", "fed"),
                       ("threw-out", "thrown out")]
)  # fmt: skip
def test_each_way_of_going_is_a_line(
    name: str, what: str, folder: Path, run: Callable[..., Result]
) -> None:
    told = run(name, folder, "zucchini", "2 lb", "--on", DAY, "--json")
    assert told.exit_code == 0, told.output
    assert json.loads(told.stdout)["lines"] == [f"{DAY},{what},zucchini,,2 lb,,,"]
    assert run(name, folder, "--undo").exit_code == 0
