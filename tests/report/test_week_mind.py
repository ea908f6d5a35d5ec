"""What the week's report says of crops that are picked no more while others are."""

from dataclasses import replace

import numpy as np
import pandas as pd

from harvestcast.report.week.mind import gone_quiet
from harvestcast.report.week.results import Week
from harvestcast.report.week.words import warnings
from tests.report.conftest import a_week


def _none_overdue() -> Week:
    week = a_week()
    return replace(week, overdue=week.overdue.iloc[:0])


def _picked(crop: str, until: str, every: int) -> pd.DataFrame:
    days = pd.date_range("2026-06-20", until, freq=f"{every}D")
    return pd.DataFrame(
        {"crop": crop, "variety": "Reed", "date": days, "mass_kg": 0.8, "count": np.nan}
    )


def test_a_crop_picked_no_more_while_others_are_is_asked_about() -> None:
    week = _none_overdue()
    daily = _picked("cucumber", "2026-07-19", 1)
    said = {}
    for until in ("2026-07-18", "2026-07-14", "2026-07-10"):
        picked = pd.concat([daily, _picked("zucchini", until, 2)])
        said[until] = gone_quiet(replace(week, picked=picked))
    assert not said["2026-07-18"]
    assert not said["2026-07-14"]  # five days: that happens
    assert len(said["2026-07-10"]) == 1
    one = said["2026-07-10"][0]
    assert one.code == "crops.gone_quiet"
    assert one.facts["crops"] == {"zucchini": pd.Timestamp("2026-07-10")}
    assert "zucchini since" in one.text and "removed in plantings.csv" in one.text
    quiet = replace(week, picked=pd.concat([daily, _picked("zucchini", "2026-07-10", 2)]))
    assert any("zucchini since" in one for one in warnings(quiet))


def test_rarely_picked_crops_and_days_when_nothing_was_picked_are_no_news() -> None:
    week = _none_overdue()
    daily = _picked("cucumber", "2026-07-19", 1)
    rare = _picked("zucchini", "2026-07-11", 7)
    assert not gone_quiet(replace(week, picked=pd.concat([daily, rare])))
    away = daily[daily["date"] <= "2026-07-10"]
    both = pd.concat([away, _picked("zucchini", "2026-07-10", 2)])
    assert not gone_quiet(replace(week, picked=both))


def test_what_is_not_forecast_is_not_asked_about() -> None:
    week = _none_overdue()
    daily = _picked("cucumber", "2026-07-19", 1)
    picked = pd.concat([daily, _picked("okra", "2026-07-08", 2)])
    assert not gone_quiet(replace(week, picked=picked))


def test_what_is_said_to_be_overdue_is_not_asked_about_as_well() -> None:
    week = a_week()
    picked = pd.concat([_picked("cucumber", "2026-07-19", 1), _picked("zucchini", "2026-07-10", 2)])
    assert set(week.overdue["crop"]) == {"zucchini"}
    assert not gone_quiet(replace(week, picked=picked))
    assert gone_quiet(replace(_none_overdue(), picked=picked))
