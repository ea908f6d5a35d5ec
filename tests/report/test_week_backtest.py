"""The back-test's verdict: in which crops the forecast was nearer than its simplest rival."""

import pandas as pd
import pytest

from harvestcast.records.garden import garden_from_frames
from harvestcast.records.household import Household
from harvestcast.report import backtest as backtest_words


def _table() -> pd.DataFrame:
    return pd.DataFrame(
        {
            "crop": ["cucumber", "kale", "leek", "okra", "all"],
            "forecasts": [10, 6, 4, 4, 24],
            "picked_kg": 2.0,
            "error_kg": [1.0, 0.5, 0.8, 0.3, 0.725],
            "last_week_error_kg": [2.0, 0.9, 0.4, 0.3, 1.175],
            "within_80": 0.75,
        }
    )


def test_the_verdict_counts_the_crops_and_names_those_that_were_not_nearer() -> None:
    """Nearer for cucumber and kale, as near for okra, farther for leek; "all" is no crop."""
    said = backtest_words.verdict(_table())
    assert "in 2 of 4 crops" in said
    assert "as near in 1: okra" in said
    assert "not in 1: leek" in said
    best = backtest_words.verdict(_table().iloc[:2])
    assert best.endswith("in 2 of 2 crops.")
    assert backtest_words.verdict(_table().iloc[:0]) == ""


def test_the_terminal_says_what_all_is_the_mean_of() -> None:
    scores = pd.DataFrame(
        {"origin": pd.to_datetime(["2025-06-01"]), "crop": "kale", "q50": 1.0, "observed": 2.0}
    )
    lines = backtest_words.terminal(
        garden_from_frames(household=Household(units="metric")), scores, _table()
    ).splitlines()
    assert lines[-1] == backtest_words.verdict(_table())
    assert "mean over the 24 forecasts of the 4 crops" in lines[-2]


def test_all_is_the_mean_over_forecasts_and_not_over_crops() -> None:
    """Three forecasts of kale off by 1 kg and one of leek off by 5: 2 kg, not 3."""
    days = pd.to_datetime(["2025-06-01", "2025-06-08", "2025-06-15", "2025-06-15"])
    scores = pd.DataFrame(
        {"origin": days, "crop": ["kale", "kale", "kale", "leek"], "observed": [2.0, 2, 2, 6]}
    ).assign(q50=1.0, q10=0.0, q90=9.0)
    picks = pd.DataFrame({"date": days[:3], "crop": "kale", "variety": "x", "mass_kg": 1.0})
    table = backtest_words.against_last_week(garden_from_frames(picks=picks), scores)
    assert table["crop"].iloc[-1] == "all"
    assert table["error_kg"].iloc[-1] == pytest.approx(2.0)


def test_crops_that_no_scored_week_is_about_are_named() -> None:
    """Garlic was lifted on one day, leek only in the season before: garlic alone is named."""
    days = pd.to_datetime(["2025-06-01", "2025-06-08", "2025-06-07", "2024-11-01"])
    picks = pd.DataFrame(
        {"date": days, "crop": ["kale", "kale", "garlic", "leek"], "variety": "x", "mass_kg": 1.0}
    )
    garden = garden_from_frames(picks=picks)
    scores = pd.DataFrame(
        {"origin": days[:1], "crop": "kale", "observed": 1.0, "q50": 1.0, "q10": 0.0, "q90": 2.0}
    )
    assert backtest_words.unscored(garden, scores) == ["garlic"]
    table = backtest_words.against_last_week(garden, scores)
    said = backtest_words.terminal(garden, scores, table).splitlines()[-1]
    assert said.startswith("No week scored tells of garlic:")
    assert backtest_words.summary(garden, scores, table)["unscored"] == ["garlic"]
