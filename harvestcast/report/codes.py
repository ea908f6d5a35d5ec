"""Codes of what other rooms say, where they do not give one themselves yet.

Reports decide by codes alone. A problem, notice or row that carries a ``code`` is taken at its
word; of the others the code is told here, in the one place of this room that looks at sentences.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from harvestcast.words.days import MONTHS

if TYPE_CHECKING:
    import pandas as pd

    from harvestcast.errors import Problem

_OF_PROBLEMS: tuple[tuple[str, str], ...] = (
    ("the date may be", "date.ambiguous"),
    ("the date has no month", "date.no_month"),
    ("has no year", "date.no_year"),
    ("counts or weights", "number.no_unit"),
    ("has no unit", "number.no_unit"),
    ("decimal", "number.decimal"),
    ("may be a thousand", "number.decimal"),
    ("thousands", "number.decimal"),
    ("no column was found for the crop", "column.no_crop"),
    ("no column was found", "column.none"),
)
_OF_NOTICES: tuple[tuple[str, str], ...] = (
    ("the crop is not in the list", "crop.unknown"),
    ("the heading is not known here", "heading.unknown"),
    ("no elevation is given", "elevation.none"),
)
_OF_LAYOUTS: tuple[tuple[str, str], ...] = (
    ("this year's beds, each crop brought to the plan's reliability as far", "this_year.nearly"),
    ("this year's beds, each crop brought", "this_year.as_sure"),
    ("this year's beds", "this_year"),
    ("rule of thumb, each crop brought to the plan's reliability as far", "rule_of_thumb.nearly"),
    ("rule of thumb, each crop brought", "rule_of_thumb.as_sure"),
    ("rule of thumb", "rule_of_thumb"),
    ("plan", "plan"),
)


def _code(words: object, known: tuple[tuple[str, str], ...]) -> str:
    return next((code for piece, code in known if piece in str(words)), "")


def of_problem(problem: Problem) -> str:
    """Return the code of a problem; empty where none is known.

    Examples
    --------
    >>> from harvestcast.errors import Problem
    >>> of_problem(Problem(file="p.csv", rule="the date has no year", cure=""))
    'date.no_year'
    """
    return getattr(problem, "code", "") or _code(problem.rule, _OF_PROBLEMS)


def kind_of_problem(problem: Problem) -> str:
    """Return what problems of one kind have in common: the code, or the rule without its facts."""
    # Numbers, days and what was typed differ within one kind.
    facts = r"\d+|'[^']*'|\b(" + "|".join(MONTHS) + r")\b"
    return getattr(problem, "code", "") or re.sub(facts, "#", problem.rule)


def of_notices(notices: pd.DataFrame) -> pd.Series:
    """Return the code of every notice; empty where none is known."""
    return _of_column(notices, "odd", _OF_NOTICES)


def of_layouts(compared: pd.DataFrame) -> pd.Series:
    """Return which beds each row of a comparison is about."""
    return _of_column(compared, "layout", _OF_LAYOUTS)


def _of_column(table: pd.DataFrame, column: str, known: tuple[tuple[str, str], ...]) -> pd.Series:
    said = table[column].map(lambda words: _code(words, known)).astype(str)
    if "code" not in table.columns:
        return said
    return table["code"].astype(object).where(table["code"].notna(), said).astype(str)


def meant_crop(notice: Mapping[Any, Any]) -> str:
    """Return the known crop that a notice of an unknown one takes for meant; empty without one."""
    if notice.get("facts"):
        return str(notice["facts"].get("meant") or "")
    return str(notice["done"]).partition("did you mean ")[2].partition("?")[0]
