"""The back-test's verdict: in which crops the forecast was nearer than its simplest rival."""

from pathlib import Path

import pandas as pd
import pytest

from harvestcast.errors import InputError
from harvestcast.records.garden import garden_from_frames
from harvestcast.report.backtest import results, words
from harvestcast.report.backtest.results import PastWeeks
from harvestcast.report.html.render import write_report
from tests.report.conftest import past_weeks


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


def _past(scores: pd.DataFrame, table: pd.DataFrame, unscored: tuple[str, ...] = ()) -> PastWeeks:
    return PastWeeks(place="Nowhere", units="metric", seasons=("2025",), scores=scores,
                     by_crop=table, unscored=unscored)  # fmt: skip


def test_the_verdict_counts_the_crops_and_names_those_that_were_not_nearer() -> None:
    """Nearer for cucumber and kale, as near for okra, farther for leek; "all" is no crop."""
    said = words.verdict(_table())
    assert "in 2 of 4 crops" in said
    assert "as near in 1: okra" in said
    assert "not in 1: leek" in said
    best = words.verdict(_table().iloc[:2])
    assert best.endswith("in 2 of 2 crops.")
    assert words.verdict(_table().iloc[:0]) == ""


def test_the_terminal_says_what_all_is_the_mean_of() -> None:
    scores = pd.DataFrame(
        {"origin": pd.to_datetime(["2025-06-01"]), "crop": "kale", "q50": 1.0, "observed": 2.0}
    )
    lines = words.terminal(_past(scores, _table())).splitlines()
    assert lines[-1] == words.verdict(_table())
    assert "mean over the 24 forecasts of the 4 crops" in lines[-2]


def test_all_is_the_mean_over_forecasts_and_not_over_crops() -> None:
    """Three forecasts of kale off by 1 kg and one of leek off by 5: 2 kg, not 3."""
    days = pd.to_datetime(["2025-06-01", "2025-06-08", "2025-06-15", "2025-06-15"])
    scores = pd.DataFrame(
        {"origin": days, "crop": ["kale", "kale", "kale", "leek"], "observed": [2.0, 2, 2, 6]}
    ).assign(q50=1.0, q10=0.0, q90=9.0)
    picks = pd.DataFrame({"date": days[:3], "crop": "kale", "variety": "x", "mass_kg": 1.0})
    table = results.against_last_week(garden_from_frames(picks=picks), scores)
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
    past = results.past_weeks_of(garden, scores)
    assert past.unscored == ("garlic",)
    assert past.seasons == ("2025",)
    said = words.terminal(past).splitlines()[-1]
    assert said.startswith("No week scored tells of garlic:")
    assert words.summary(past)["unscored"] == ["garlic"]


def test_the_page_shows_a_figure_a_crop_and_escapes_what_is_typed(backtest_html: Path) -> None:
    html = backtest_html.read_text("utf-8")
    assert html.count("<img") == 2
    assert "Fernhollow &lt;script&gt;" in html and "<script>alert" not in html
    assert "2025 and 2026" in html
    # 1.0 lies under q10 in every second week, 6.0 over q90 in three of the five others.
    assert "2 of 10" in html and "1 of 2" in html


def test_metric_pages_are_in_metric_units(tmp_path: Path) -> None:
    past = past_weeks("metric")
    page = write_report("backtest", tmp_path, tmp_path / "b.html", results=past).read_text("utf-8")
    assert " kg" in page and " lb" not in page
    with pytest.raises(TypeError, match="PastWeeks"):
        write_report("backtest", tmp_path, tmp_path / "b.html", results=3)


def test_all_seasons_are_gone_through_where_none_is_named(tmp_path: Path) -> None:
    """Two short summers of okra, picked every other day; the second ends within a week."""
    days = [*pd.date_range("2024-07-01", periods=12, freq="2D"), pd.Timestamp("2025-07-01")]
    (tmp_path / "garden.toml").write_text("elevation_m = 100\n")
    (tmp_path / "picks.csv").write_text(
        "date,crop,weight_kg\n" + "".join(f"{day.date()},okra,0.3\n" for day in days)
    )
    past = results.forecast_again(tmp_path)
    assert past.seasons == ("2024",)
    assert len(past.scores) == 6  # as long as the last pick lies up to 21 days back
    assert len(results.forecast_again(tmp_path, year=2024).scores) == 6
    with pytest.raises(InputError):
        results.forecast_again(tmp_path, year=2025)
