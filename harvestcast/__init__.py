"""Forecast a kitchen garden's harvest and plan what to put up, week by week.

>>> import harvestcast as hc                                    # doctest: +SKIP
>>> garden = hc.open_garden("sample_logs")                      # doctest: +SKIP
>>> outlook = hc.forecast(garden, weeks=3)                      # doctest: +SKIP
>>> plan = hc.plan_week(outlook, garden)                        # doctest: +SKIP
"""

from importlib import import_module
from typing import Any

_VERBS = {
    "open_garden": "harvestcast.records.garden",
    "odd_things": "harvestcast.report.check",
    "forecast": "harvestcast.growth.forecast",
    "backtest": "harvestcast.growth.backtest",
    "plan_week": "harvestcast.kitchen.week.plan",
    "compare_varieties": "harvestcast.season.review.varieties",
    "plan_next_season": "harvestcast.season.next.plan",
    "write_report": "harvestcast.report.html.render",
}

__all__ = [*_VERBS]


def __getattr__(name: str) -> Any:
    # A verb loads its room when it is first asked for, so that --help answers at once.
    if name not in _VERBS:
        raise AttributeError(f"module 'harvestcast' has no attribute {name!r}")
    return getattr(import_module(_VERBS[name]), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *_VERBS])
