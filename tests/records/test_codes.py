"""Every code that the room says stands in its table, and none stands there unsaid."""

import ast
from pathlib import Path

from harvestcast.records.messages import MESSAGES
from harvestcast.report import messages as report

ROOT = Path(__file__).parents[2] / "harvestcast"
SAYERS = {"problem", "notice", "refuse", "unreadable", "Remark"}


def _sources() -> list[ast.Module]:
    paths = [p for p in (ROOT / "records").rglob("*.py") if p.name != "messages.py"]
    # What is typed of the kitchen is judged there, where the catalogue is.
    paths += [ROOT / "report" / "check.py", ROOT / "kitchen" / "household" / "entries.py"]
    return [ast.parse(p.read_text("utf-8")) for p in paths]


def _whole_package() -> list[ast.Module]:
    paths = [p for p in ROOT.rglob("*.py") if p.name != "messages.py"]
    return [ast.parse(p.read_text("utf-8")) for p in paths]


def _said(tree: ast.Module) -> set[str]:
    """Return the codes that are handed to a sayer as they stand."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and node.args and isinstance(node.args[0], ast.Constant):
            name = getattr(node.func, "attr", getattr(node.func, "id", ""))
            if name in SAYERS:
                found.add(node.args[0].value)
    return found


def test_what_is_said_stands_in_the_table() -> None:
    said = set().union(*map(_said, _sources()))
    assert len(said) > 100
    # The check of the report room says by its own table what is missing.
    assert said <= set(MESSAGES) | set(report.MESSAGES)


def test_what_stands_in_the_table_is_said() -> None:
    words = {
        node.value
        for tree in _whole_package()
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str)
    }
    assert set(MESSAGES) <= words
