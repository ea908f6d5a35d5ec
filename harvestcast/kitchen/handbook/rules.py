"""Rules of safety and practice: single figures with their publication."""

from __future__ import annotations

from functools import cache
from typing import Any

from harvestcast.kitchen.handbook.process_times import table

Rule = dict[str, Any]


def rule(name: str, subject: str = "", condition: str = "") -> Rule:
    """Return the best-read rule of a name.

    Parameters
    ----------
    name, subject, condition : str
        Name, and the beginnings of what it is about and of its condition.

    Returns
    -------
    dict
        The row of the table ``rules``.

    Raises
    ------
    KeyError
        Where there is no such rule.

    Examples
    --------
    >>> number(rule("pressure_vent"))
    10.0
    """
    mine = [
        row
        for row in _rules()
        if row["rule"] == name
        and row["subject"].startswith(subject)
        and str(row["condition"]).startswith(condition)
    ]
    if not mine:
        raise KeyError((name, subject, condition))
    return max(mine, key=lambda row: row["verified"])


def number(row: Rule) -> float:
    """Return the figure of a rule."""
    return float(row["value"])


def value(row: Rule) -> str:
    """Return the figure of a rule as it is read."""
    return f"{number(row):g}"


def as_rule(source: str, standing: str = "published") -> Rule:
    """Return a rule without a figure of its own, for what is said in words."""
    return {"source": source, "standing": standing, "verified": standing == "published"}


@cache
def _rules() -> tuple[Rule, ...]:
    frame = table("rules")
    return tuple({str(k): v for k, v in row.items()} for row in frame.to_dict("records"))
