"""Forecast a kitchen garden's harvest and plan what to put up, week by week.

>>> outlook = harvestcast.forecast(harvestcast.open_garden("sample_logs"))  # doctest: +SKIP
"""

from importlib import import_module
from importlib.metadata import version
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from harvestcast import errors as errors
    from harvestcast.growth.backtest import backtest as backtest
    from harvestcast.growth.forecast import forecast as forecast
    from harvestcast.kitchen.week.plan import plan_week as plan_week
    from harvestcast.records.garden import garden_from_frames as garden_from_frames
    from harvestcast.records.garden import open_garden as open_garden
    from harvestcast.records.logs.one_file import read_picks as read_picks
    from harvestcast.records.logs.one_file import read_weather as read_weather
    from harvestcast.report.check import odd_things as odd_things
    from harvestcast.report.html.render import write_report as write_report
    from harvestcast.season.ahead.ahead import season_ahead as season_ahead
    from harvestcast.season.next.plan import plan_next_season as plan_next_season
    from harvestcast.season.review.varieties import compare_varieties as compare_varieties
    from harvestcast.words.guide import explain as explain

_VERBS = {
    "open_garden": "records.garden",
    "garden_from_frames": "records.garden",
    "read_picks": "records.logs.one_file",
    "read_weather": "records.logs.one_file",
    "odd_things": "report.check",
    "forecast": "growth.forecast",
    "backtest": "growth.backtest",
    "plan_week": "kitchen.week.plan",
    "season_ahead": "season.ahead.ahead",
    "compare_varieties": "season.review.varieties",
    "plan_next_season": "season.next.plan",
    "write_report": "report.html.render",
    "explain": "words.guide",
}

__all__ = [*_VERBS, "errors"]


def __getattr__(name: str) -> Any:
    # A verb loads its room when it is first asked for, so that --help answers at once.
    if name == "__version__":
        return version("harvestcast")
    if name == "errors":
        return import_module("harvestcast.errors")
    if name not in _VERBS:
        raise AttributeError(f"module 'harvestcast' has no attribute {name!r}")
    return getattr(import_module(f"harvestcast.{_VERBS[name]}"), name)


def __dir__() -> list[str]:
    return sorted([*globals(), *_VERBS, "__version__", "errors"])
