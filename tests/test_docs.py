"""What README.md shows must run, and what it prints must be what comes out."""

from __future__ import annotations

import datetime as dt
import re
import subprocess
import sys
from pathlib import Path

import click
import pytest

from harvestcast.report.command.main import main
from tests import make_readme

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text("utf-8")
BLOCKS = [match.groupdict() for match in make_readme.BLOCK.finditer(README)]


def _blocks(kind: str) -> list[str]:
    return re.findall(rf"^```{kind}\n(.*?)^```$", README, flags=re.M | re.S)


def _summary(command: str, desk: Path) -> tuple[list[str], list[str]]:
    """Return the lines that the README shows of a long summary, and those that come out."""
    (block,) = [one for one in BLOCKS if one["line"].split()[1] == command]
    done = make_readme.run(block["line"], desk)
    assert done.returncode == 0, done.stderr[-2000:]
    shown, printed = block["shown"].splitlines(), done.stdout.splitlines()
    # What follows the first words belongs to the plan and may move with the fit.
    for head in [line for line in shown if line and not line.startswith(" ")]:
        start = tuple(head.split()[:2])
        assert any(tuple(line.split()[:2]) == start for line in printed), head
    return shown, printed


def _like(pattern: str, lines: list[str]) -> list[str]:
    return [line for line in lines if re.match(pattern, line)]


@pytest.fixture
def desk(tmp_path: Path) -> Path:
    """A folder that holds a copy of the sample, as the README's reader has it."""
    return make_readme.desk(tmp_path)


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


def test_short_answers_are_what_the_readme_shows(desk: Path) -> None:
    """Word for word, one after the other, in one folder."""
    short = [block for block in BLOCKS if block["show"] is None]
    assert len(short) >= 7
    for block in short:
        answer = make_readme.said(make_readme.run(block["line"], desk))
        # Only the year of the first log is the clock's.
        year = f"picks-{dt.date.today().year}.csv"
        start = block["line"].split()[1] == "start"
        shown = block["shown"].replace("picks-2026.csv", year) if start else block["shown"]
        assert answer.split() == shown.split(), block["line"]


def test_season_prints_what_the_readme_shows(desk: Path) -> None:
    """Crops and varieties; amounts and sentences belong to the review and may move with it."""
    shown, printed = _summary("season", desk)
    variety = r"  [A-Z][\w' ]+: [\d.]+ \([\d.]+ to [\d.]+\)"
    names = [line.split(":")[0] for line in _like(variety, shown)]
    assert len(names) >= 4
    assert set(names) <= {line.split(":")[0] for line in _like(variety, printed)}


def test_week_prints_what_the_readme_shows(desk: Path) -> None:
    shown, printed = _summary("week", desk)
    before = r"; last 7 days (?:none|[\d.,]+ (?:lb|oz))$"
    coming = r"  [a-z ]+ +(?:[\d.,]+ (?:lb|oz) \(|likely none).*" + before
    crops = {line.split("  ")[1] for line in _like(coming, shown)}
    assert {"cucumber", "green beans"} <= crops
    assert crops <= {line.split("  ")[1] for line in _like(coming, printed)}
    work = r"  \w{3} \w{3} \d+: .*\d"
    assert _like(work, shown) and _like(work, printed)
    assert list((desk / "sample_logs" / "reports").glob("*.html"))


def test_next_prints_what_the_readme_shows(desk: Path) -> None:
    shown, printed = _summary("next", desk)
    row = r"  \w{3} \w{3} \d+(, \d{4})?: (sow|set out) [\d,]+ .+: [\d.,]+ (lb|oz) from .+ sq ft; "
    assert _like(row, shown) and len(_like(row, printed)) >= 8


def test_a_summary_is_cut_by_sections() -> None:
    text = "Head\n\nA one\n  1\n  2\n  3\n  4\n\nB\n  5\n\nC\n  6\n"
    cut = make_readme.shortened(text, "A, C")
    assert cut == "Head\n\nA one\n  1\n  2\n  ...\n\nC\n  6\n"


def test_the_readme_is_short_and_names_commands_that_there_are() -> None:
    assert README.count("\n") < 250
    named = {block["line"].split()[1] for block in BLOCKS}
    named |= set(re.findall(r"`harvestcast ([a-z][\w-]+)", README))
    assert {"start", "check", "add", "week", "season", "next", "put-up", "explain"} <= named
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
