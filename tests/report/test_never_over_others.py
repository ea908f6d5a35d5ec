"""A report never replaces a file that is not a report."""

import json
import os
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest
from click.testing import CliRunner

from harvestcast.errors import InputError
from harvestcast.gardens import store
from harvestcast.gardens.study import Task
from harvestcast.records.writing.report_file import (
    GENERATOR,
    check_target,
    csv_text,
    write_page,
    write_pdf,
    write_table,
)
from harvestcast.report.command.main import main
from harvestcast.report.html.render import print_pdf, write_report
from tests.records.conftest import GOOD

PAGE = f"<!DOCTYPE html><html><head>{GENERATOR}</head></html>"
FOREIGN = b"<!DOCTYPE html><html><head><title>Mine</title></head></html>"


@pytest.fixture
def garden(tmp_path: Path) -> Path:
    folder = tmp_path / "g"
    folder.mkdir()
    for name, text in GOOD.items():
        (folder / name).write_text(text)
    (folder / "scores.csv").write_text("date,who\n2026-07-01,me\n")
    (folder / "mine.html").write_bytes(FOREIGN)
    (folder / "mine.pdf").write_bytes(b"%PDF-1.4\nmine\n%%EOF\n")
    (folder / "new.htm").symlink_to("picks.csv")
    (folder / "notes.html").mkdir()
    return folder


@pytest.mark.parametrize(
    ("command", "out"),
    [
        *[(c, "picks.csv") for c in ("week", "ahead", "season", "next", "backtest")],
        *[(c, "mine.html") for c in ("week", "ahead", "season", "next", "backtest", "sheet")],
        *[(c, "new.htm") for c in ("week", "ahead", "season", "next", "backtest")],
        ("season", "garden.toml"),
        ("backtest --csv", "picks.csv"),
        ("backtest --csv", "picks-2027.csv"),  # not there, but the garden would read it as its log
    ],
)
def test_no_command_writes_over_another_file(command: str, out: str, garden: Path) -> None:
    before = {p.name: p.read_bytes() for p in garden.iterdir() if p.is_file()}
    name, option = command.split() if " " in command else (command, "--out")
    told = CliRunner().invoke(
        main, [name, str(garden), option, str(garden / out), "--json", "--quiet"]
    )
    after = {p.name: p.read_bytes() for p in garden.iterdir() if p.is_file()}
    assert after == before
    assert told.exit_code == 1
    error = json.loads(told.stdout)["errors"][0]
    assert error["file"].endswith(out) and error["rule"] and "Name" in error["cure"]


def test_nor_does_the_pdf_beside_a_page(garden: Path) -> None:
    (garden / "mine.html").unlink()
    before = (garden / "mine.pdf").read_bytes()
    for command in ("week", "ahead", "season", "next", "backtest", "sheet"):
        told = CliRunner().invoke(
            main, [command, str(garden), "--out", str(garden / "mine.html"), "--pdf", "--quiet"]
        )
        assert told.exit_code == 1 and "mine.pdf" in told.stderr
    assert (garden / "mine.pdf").read_bytes() == before
    assert not (garden / "mine.html").exists()


def test_nor_does_python(garden: Path) -> None:
    with pytest.raises(InputError, match=r"mine\.html"):
        write_report("week", garden, garden / "mine.html")
    with pytest.raises(InputError, match=r"mine\.pdf"):
        print_pdf(garden / "mine.html", garden / "mine.pdf")
    assert (garden / "mine.html").read_bytes() == FOREIGN


WRITERS: list[tuple[str, Callable[[Path], object]]] = [
    ("r.html", lambda path: write_page(path, PAGE)),
    ("r.pdf", lambda path: write_pdf(path, b"%PDF-1.4\nours\n%%EOF\n")),
    ("r.csv", lambda path: write_table(path, pd.DataFrame({"crop": ["beet"], "kg": [1.0]}))),
]


@pytest.mark.parametrize(("name", "write"), WRITERS)
def test_a_report_of_ours_is_written_anew_and_nothing_else(
    name: str, write: Callable[[Path], object], tmp_path: Path
) -> None:
    path = tmp_path / "new folder" / name
    write(path)
    whole = path.read_bytes()
    write(path)
    assert path.read_bytes() == whole
    for other in (b"", b"x", FOREIGN, b"%PDF-1.4\n%%EOF\n", b"crop,kg,note\nbeet,1,kept\n"):
        path.write_bytes(other)
        with pytest.raises(InputError, match="left as it is"):
            write(path)
        assert path.read_bytes() == other
    path.unlink()
    path.symlink_to(path.name)
    with pytest.raises(InputError, match="cannot be written"):
        write(path)
    path.unlink()
    os.mkfifo(path)  # as /dev/null is: no file to be replaced by one
    with pytest.raises(InputError, match="left as it is"):
        write(path)
    path.unlink()
    path.mkdir()
    with pytest.raises(InputError, match="left as it is"):
        write(path)


def test_every_kind_has_its_ending(tmp_path: Path) -> None:
    for kind, name in (("page", "r.csv"), ("pdf", "r.html"), ("table", "r.xlsx")):
        with pytest.raises(InputError, match="ending"):
            check_target(tmp_path / name, kind)  # type: ignore[arg-type]


def test_results_of_many_gardens_go_over_nothing_of_another_hand(tmp_path: Path) -> None:
    task = Task(today="2026-07-25")
    (tmp_path / "free").mkdir()
    store.begin(tmp_path / "free", task)
    store.begin(tmp_path / "free", task)
    (tmp_path / "run.json").write_text('{"mine": 1}')
    with pytest.raises(InputError, match=r"run\.json"):
        store.begin(tmp_path, task)
    assert (tmp_path / "run.json").read_text() == '{"mine": 1}'


def test_no_text_of_a_table_can_be_run_as_a_formula() -> None:
    evil = ["=cmd|'/C calc'!A0", "+1+1", "-1+1", "@SUM(A1)", "\t=1", "\r=1", " =1"]
    frame = pd.DataFrame({"=heading": evil, "kind": pd.Categorical(evil), "kg": -1.5})
    for line in csv_text(frame).splitlines()[1:]:
        for cell in line.split(",")[:2]:
            assert cell.startswith("'")
    assert csv_text(frame).startswith("'=heading,")
    assert csv_text(frame).splitlines()[1].endswith(",-1.5")
