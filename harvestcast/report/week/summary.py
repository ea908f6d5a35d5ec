"""The week as plain values with stable keys, for scripts."""

from __future__ import annotations

from typing import Any

from harvestcast.report.plain import plain, rows
from harvestcast.report.week.mind import first_of_all
from harvestcast.report.week.results import Week


def summary(week: Week, report: str | None = None) -> dict[str, Any]:
    """Return the week as plain values with stable keys, for scripts.

    Parameters
    ----------
    week : Week
        Results.
    report : str, optional
        Where the page was written.

    Returns
    -------
    dict
        ``kind`` ("week"), ``place``, ``units``, ``as_of``, ``weeks``, ``seed``, ``draws``,
        ``report``; ``read_first`` (``code``, ``text`` and ``facts`` of what says what the numbers
        are worth); the tables
        ``days``, ``overdue``, ``coming``, ``work``, ``changed``, ``reasons``, ``shopping`` (for
        the decided batches), ``shopping_later``, ``shopping_if``, ``surplus``, ``uses``,
        ``pantry``,
        ``kept_out``, ``bottlenecks``, ``cautions``, ``checks_failed``, ``left_out``, ``notices``,
        ``stock``, ``data`` as lists of rows with the columns of :mod:`harvestcast.frames`; and
        ``solve``. Masses are kg
        whatever the household's units; dates are ISO; unknown is null.
    """
    return {
        "kind": "week",
        "place": week.place,
        "units": week.units,
        "as_of": plain(week.as_of),
        "weeks": week.weeks,
        "seed": week.seed,
        "draws": week.draws,
        "report": report,
        "read_first": [
            {"code": one.code, "text": one.text, "facts": plain(one.facts)}
            for one in first_of_all(week)
        ],
        "days": rows(week.days),
        "overdue": rows(week.overdue),
        "coming": rows(week.coming),
        "work": rows(week.batches),
        "changed": rows(week.changed),
        "reasons": rows(week.reasons),
        "shopping": rows(week.shopping),
        "shopping_later": rows(week.shopping_later),
        "shopping_if": rows(week.shopping_if),
        "surplus": rows(week.surplus),
        "uses": rows(week.uses),
        "pantry": rows(week.wanted),
        "kept_out": rows(week.kept_out),
        "bottlenecks": rows(week.bottlenecks),
        "cautions": rows(week.cautions),
        "checks_failed": rows(week.checks.loc[~week.checks["passed"]]),
        "left_out": rows(week.left_out),
        "notices": rows(week.notices),
        "stock": rows(week.stock),
        "data": rows(week.spans),
        "solve": plain(week.solve),
    }
