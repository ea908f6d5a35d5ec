"""No module decides by the words of a message: codes and facts decide, sentences are only said."""

import ast
import re
from collections.abc import Collection, Iterator
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "harvestcast"
ASKING = {"startswith", "endswith", "contains", "match", "fullmatch", "search", "find", "index",
          "count", "partition", "rpartition", "split", "isin", "eq", "ne"}  # fmt: skip
"""Methods, and functions of ``re``, by which a program may ask what a text says."""


def _is_prose(value: object) -> bool:
    """Two words of letters side by side: no name of a column, key, unit or file."""
    if not isinstance(value, str):
        return False
    value = re.sub(r"\\N\{[A-Z -]+\}", "", value)  # a sign by its name
    plain = re.sub(r"\\[a-zA-Z]|[\\^$.*+?(){}\[\]|]", "#", value)  # what a pattern is made of
    return re.search(r"[A-Za-z]{2,},? [A-Za-z]{2,}", plain) is not None


@cache
def _named_prose() -> frozenset[str]:
    """Names of constants of the package that hold a sentence or a piece of one."""
    found = set()
    for path in PACKAGE.rglob("*.py"):
        for node in ast.parse(path.read_text("utf-8")).body:
            targets = node.targets if isinstance(node, ast.Assign) else []
            if isinstance(node, ast.AnnAssign):
                targets = [node.target]
            value = getattr(node, "value", None)
            if isinstance(value, ast.Constant) and _is_prose(value.value):
                found |= {t.id for t in targets if isinstance(t, ast.Name)}
    return frozenset(found)


def _asked(tree: ast.AST) -> Iterator[tuple[int, ast.expr]]:
    """Yield the operands of every comparison and the arguments of every question to a text."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Compare):
            for one in (node.left, *node.comparators):
                yield node.lineno, one
        elif isinstance(node, ast.Call) and getattr(node.func, "attr", "") in ASKING:
            for one in node.args:
                yield node.lineno, one


def decisions(text: str, named: Collection[str]) -> list[tuple[int, str]]:
    """Return where a source text compares with a sentence: line, and the sentence or its name."""
    found = []
    for line, operand in _asked(ast.parse(text)):
        parts = operand.elts if isinstance(operand, ast.Tuple | ast.List | ast.Set) else [operand]
        for part in parts:
            name = part.id if isinstance(part, ast.Name) else getattr(part, "attr", None)
            if isinstance(part, ast.Constant) and _is_prose(part.value):
                found.append((line, str(part.value)))
            elif name in named:
                found.append((line, str(name)))
    return found


@pytest.mark.parametrize(
    ("line", "caught"),
    [
        ('if "no date" in rule: pass', True),
        ('found = x == "nothing is planned"', True),
        ('t["why"].str.contains("so no time is given")', True),
        ('rule.startswith(("the date", "x"))', True),
        ('re.search(r"has no year", rule)', True),
        ("odd == SAID", True),
        ("rows.SAID in odd", True),
        ('if "tmax_c" in columns: pass', False),
        ('re.fullmatch(r"(\\d+) (\\d+)/(\\d+)", typed)', False),
        ('show("no date")', False),
    ],
)
def test_the_check_sees_a_question_to_a_sentence(line: str, caught: bool) -> None:
    assert bool(decisions(line, {"SAID"})) is caught


VOCABULARY = {
    # Values that the tables themselves are made of, and names of crops and goods.
    "first pick", "last pick", "sow indoors",  # frames: what a row of a calendar is about
    "not used", "not read",  # importing: what became of a column, or of a line
    "summer squash", "canning salt", "new lids", "garden.toml", "modified canning starch",
    "planning estimate", "PLANNING",  # the handbook: the source of a figure without a source
    "grams of a plant", "left out", "ALL_VARIETIES",
}  # fmt: skip
"""What may be compared with: no message, but a value that programs write and read."""

OF_ITS_OWN = {"records/settings.py": {r"\(at line (\d+), column \d+\)"}}
"""The standard library's reader of TOML says in a sentence, and nowhere else, where it stopped."""


@pytest.mark.parametrize(
    "path", sorted(PACKAGE.rglob("*.py")), ids=lambda p: str(p.relative_to(PACKAGE))
)
def test_no_module_decides_by_a_sentence(path: Path) -> None:
    name = str(path.relative_to(PACKAGE))
    known = VOCABULARY | OF_ITS_OWN.get(name, set())
    found = decisions(path.read_text("utf-8"), _named_prose())
    wrong = [(line, said) for line, said in found if said not in known]
    assert wrong == []
