"""What README.md shows must run, and what it prints must be what comes out."""

from __future__ import annotations

import datetime as dt
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import click
import pytest

from harvestcast.report.command.main import main

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")


def _blocks(kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```$", README, flags=re.M | re.S)


def _shape(text: str) -> list[str]:
    """Lines with every number masked: forecasts may move by a digit, their form may not."""
    masked = re.sub(r"\d[\d,.]*", "#", text)
    return [" ".join(line.split()) for line in masked.strip().splitlines()]


def _console() -> dict[str, str]:
    blocks = [block.split("\n", 1) for block in _blocks("console")]
    return {command.removeprefix("$ "): printed for command, printed in blocks}


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder that holds a copy of the sample, as the README's reader has it."""
    shutil.copytree(
        ROOT / "sample_logs", tmp_path / "sample_logs", ignore=shutil.ignore_patterns("reports")
    )
    return tmp_path


def _run(line: str, folder: Path) -> subprocess.CompletedProcess[str]:
    program, *arguments = shlex.split(line)
    assert program == "harvestcast"
    call = "import sys; from harvestcast.report.command.main import main; sys.exit(main())"
    return subprocess.run(
        [sys.executable, "-c", call, *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=900,
        check=False,
    )


def test_python_blocks_run_one_after_the_other(desk: Path) -> None:
    """The blocks of "From Python" share one session, as a reader would type them."""
    blocks = _blocks("python")
    assert len(blocks) >= 2
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", "\n".join(blocks)],
        cwd=desk,
        capture_output=True,
        text=True,
        timeout=1800,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert "cucumber" in done.stdout


def test_check_prints_what_the_readme_shows(desk: Path) -> None:
    line = "harvestcast check sample_logs"
    done = _run(line, desk)
    assert done.returncode == 0
    assert done.stdout.split() == _console()[line].split()


def test_the_first_day_prints_what_the_readme_shows(desk: Path) -> None:
    """Start, two picks and a check, one after the other, in a folder of the reader's own."""
    lines = [line for line in _console() if "my_garden" in line]
    assert [line.split()[1] for line in lines] == ["start", "add", "add", "check"]
    for line in lines:
        done = _run(line, desk)
        assert done.returncode == 0, done.stderr
        # Only the year of the first log is the clock's.
        year = f"picks-{dt.date.today().year}.csv"
        shown = _console()[line].replace("picks-2026.csv", year) if "start" in line else None
        assert done.stdout.split() == (shown or _console()[line]).split()


def test_the_kitchen_book_prints_what_the_readme_shows(desk: Path) -> None:
    (line,) = [line for line in _console() if line.split()[1] == "put-up"]
    done = _run(line, desk)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == _console()[line].split()


def test_season_prints_what_the_readme_shows(desk: Path) -> None:
    line = "harvestcast season sample_logs --year 2025"
    done = _run(line, desk)
    assert done.returncode == 0, done.stderr[-2000:]
    # Crops and varieties; amounts and sentences belong to the review and may move with it.
    tables = re.compile(r"^(?:.+ \(lb a plant|  .+: [\d.]+ \().*$", flags=re.M)
    starts = {" ".join(row.split()[:2]) for row in _shape(done.stdout) if row}
    shown = _shape("\n".join(tables.findall(_console()[line])))
    assert len(shown) >= 10
    assert [row for row in shown if " ".join(row.split()[:2]) not in starts] == []


def test_week_prints_what_the_readme_shows(desk: Path) -> None:
    """Headings and kinds of line; the amounts belong to the fit and may move."""
    line = "harvestcast week sample_logs --as-of 2026-07-25"
    done = _run(line, desk)
    assert done.returncode == 0, done.stderr[-2000:]
    shown, printed = _console()[line], done.stdout
    heads = [row for row in shown.splitlines() if row and not row.startswith((" ", "Report"))]
    assert len(heads) >= 4
    for head in heads:
        # What follows the first words belongs to the plan and may move with the fit.
        start = " ".join(_shape(head)[0].split()[:2])
        assert any(row.startswith(start) for row in _shape(printed)), start
    crops = {"cucumber", "tomato", "green beans", "zucchini", "corn"}
    for crop in crops:
        said = rf"^ +{crop} +(?:[\d.,]+ (?:lb|oz) \(|likely none).*; last 7 days [\d.,]+ (?:lb|oz)$"
        assert re.search(said, shown, flags=re.M), crop
        assert re.search(said, printed, flags=re.M), crop
    assert list((desk / "sample_logs" / "reports").glob("*.html"))


def test_every_command_the_readme_names_is_there() -> None:
    named = set(re.findall(r"^\| `harvestcast ([\w-]+)", README, flags=re.M))
    assert {"start", "check", "add", "week", "season", "next", "backtest"} <= named
    assert isinstance(main, click.Group)
    assert named <= set(main.commands)


def test_the_setup_commands_stand_each_in_a_block_of_its_own() -> None:
    """Both are one line, so that they can be copied whole; .ci/run takes the second."""
    shell = _blocks("sh")
    assert len(shell) == 2
    assert all(block.count("\n") == 1 for block in shell)
    report, tests = shell
    assert "python3 -m venv .venv" in report
    assert "harvestcast week sample_logs" in report
    assert "pytest" in tests
    fenced = re.search(r"<!-- test command -->\n```sh\n(.*?)```\n<!-- end -->", README, flags=re.S)
    assert fenced is not None
    assert fenced[1] == tests


def test_links_in_the_guides_lead_somewhere() -> None:
    for guide in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / guide).read_text("utf-8")
        for target in re.findall(r"\]\(([^)#:]+)\)", text):
            assert (ROOT / target).exists(), f"{guide} links to {target}"
        for name in re.findall(r"`((?:harvestcast|tests|notebooks|sample_logs)/[\w./]*)`", text):
            assert (ROOT / name).exists(), f"{guide} names {name}"
