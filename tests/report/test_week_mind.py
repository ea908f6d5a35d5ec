"""What the week's report says of crops picked no more, and of what happened since the last."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

from harvestcast.kitchen.messages import Said
from harvestcast.report.week.mind import first_of_all, gone_quiet
from harvestcast.report.week.results import Week, planned_week
from harvestcast.report.week.today import head
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


def test_what_stands_for_years_or_is_known_to_be_over_is_not_asked_about() -> None:
    """Who writes that strawberries were removed has none next year."""
    week = _none_overdue()
    daily = _picked("cucumber", "2026-07-19", 1)
    for crop in ("strawberry", "zucchini"):
        picked = pd.concat([daily, _picked(crop, "2026-07-10", 2)])
        coming = week.coming.assign(crop=week.coming["crop"].replace("zucchini", crop))
        assert bool(gone_quiet(replace(week, picked=picked, coming=coming))) == (crop == "zucchini")
        over = coming.assign(q90_kg=coming["q90_kg"].where(coming["crop"] != crop, 0.0))
        assert not gone_quiet(replace(week, picked=picked, coming=over))


def test_what_is_said_to_be_overdue_is_not_asked_about_as_well() -> None:
    week = a_week()
    picked = pd.concat([_picked("cucumber", "2026-07-19", 1), _picked("zucchini", "2026-07-10", 2)])
    assert set(week.overdue["crop"]) == {"zucchini"}
    assert not gone_quiet(replace(week, picked=picked))
    assert gone_quiet(replace(_none_overdue(), picked=picked))


def test_the_page_says_what_has_happened_since_the_last_one() -> None:
    """Nothing on a first page; then what was not to be expected, or that all went as expected."""
    week = a_week()
    assert "week.since" not in [one.code for one in first_of_all(week)]
    before = replace(week, since=pd.Timestamp("2026-07-18"))
    calm = first_of_all(before)[-1]
    assert calm.code == "week.since" and calm.facts["news"] == []
    assert "July 18" in calm.text
    more = Said("change.more_came", {"crop": "cucumber", "kg": 4.1, "units": "us"})
    told = first_of_all(replace(before, news=(more,)))[-1]
    assert told.facts["news"][0]["code"] == "change.more_came"
    assert more.text in told.text
    assert more.text in head(replace(before, news=(more,))).html


def test_a_second_evening_is_held_against_the_first(tmp_path: Path) -> None:
    """Far more was picked on the second day than any future held; run twice, it is said twice."""
    days = pd.date_range("2025-01-01", "2026-07-11")
    warm = "".join(f"{day.date()},15,27\n" for day in days)
    (tmp_path / "weather.csv").write_text("date,tmin_c,tmax_c\n" + warm)
    (tmp_path / "garden.toml").write_text("elevation_m = 100\n")
    log = tmp_path / "picks.csv"
    log.write_text(
        "date,crop,weight_kg\n" + "".join(f"2026-07-{d:02d},cucumber,1.0\n" for d in range(1, 11))
    )
    first = planned_week(tmp_path, as_of="2026-07-10", weeks=1, note=print)
    assert first.since is None
    log.write_text(f"{log.read_text()}2026-07-11,cucumber,9\n")
    for _ in range(2):
        second = planned_week(tmp_path, as_of="2026-07-11", weeks=1, note=print)
        assert second.since == pd.Timestamp("2026-07-10")
        assert [one.code for one in second.news] == ["change.more_came"]
    assert planned_week(tmp_path, as_of="2026-07-11", weeks=1).since is None
