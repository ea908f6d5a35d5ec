"""What the season taught the kitchen: figures that can be worked out by hand, in both units."""

from dataclasses import replace
from typing import Any

import pandas as pd
import pytest

from harvestcast.frames import PANTRY, check_frame
from harvestcast.kitchen.handbook.amounts import amounts
from harvestcast.kitchen.handbook.products import product
from harvestcast.records.garden import Garden
from harvestcast.season.review.lessons import kitchen_lessons, over_capacity
from harvestcast.season.yields.plantings import units_of
from harvestcast.words.units import area_words, mass_words
from tests.season.gardens import garden, picks, plantings

KITCHEN = {
    "targets": {"frozen tomatoes": 10},
    "equipment": [{"kind": "freezer", "free_l": 300}],
    "hours": {"saturday": 3},
    "crops": {"tomato": {"eat_kg_per_person_week": 0.5, "give_kg_week": 1.0}},
    "people": 2,
}


def _book(rows: list[tuple[Any, ...]]) -> pd.DataFrame:
    """Return a pantry book from date, product, jar, change, produce_kg, hours."""
    book = pd.DataFrame(rows, columns=["date", "product", "jar", "change", "produce_kg", "hours"])
    book["date"] = pd.to_datetime(book["date"])
    for name in ("change", "produce_kg", "hours"):
        book[name] = book[name].astype(float)
    book["note"], book["file"], book["line"] = None, "pantry.csv", float("nan")
    book["what"] = None
    return check_frame(book, PANTRY)


def _home(weekly_kg: float, rows: list[tuple[Any, ...]], units: str = "metric") -> Garden:
    planted = plantings([("tomato", "A", "n", "2026-05-15", "set_out", 8)])
    found = [(day, "tomato", "A", weekly_kg) for day in
             pd.date_range("2026-08-03", periods=6, freq="7D")]  # fmt: skip
    return replace(garden(planted, picks(found), units=units, **KITCHEN), pantry=_book(rows))


def _lessons(home: Garden) -> pd.DataFrame:
    units = units_of(home, 2026)
    table = kitchen_lessons(home, 2026, units, over_capacity(home, units))
    return table.set_index("lesson")


def test_jars_filled_stand_beside_those_promised() -> None:
    item = product("frozen_tomatoes")
    known = amounts(item, item.usual_jar)
    assert known is not None
    each = known.kg_per_jar
    # Two batches: produce for five jars each by the handbook, four filled each time.
    rows = [(f"2026-08-{day}", "frozen tomatoes", None, 4, 5 * each, float("nan"))
            for day in ("10", "17")]  # fmt: skip
    lesson = _lessons(_home(8.0, rows)).loc["jars"]
    assert lesson["happened"] == 8
    assert lesson["expected"] == pytest.approx(10.0)
    assert "8 jars filled where the handbook promised 10" in lesson["says"]


def test_batches_of_unequal_size_are_promised_batch_by_batch() -> None:
    item = product("frozen_tomatoes")
    known = amounts(item, item.usual_jar)
    assert known is not None
    each = known.kg_per_jar
    # Two filled of two promised, four filled of eight promised: ten in all were promised.
    rows = [("2026-08-10", "frozen tomatoes", None, 2, 2 * each, float("nan")),
            ("2026-08-17", "frozen tomatoes", None, 4, 8 * each, float("nan"))]  # fmt: skip
    lesson = _lessons(_home(8.0, rows)).loc["jars"]
    assert lesson["happened"] == 6 and lesson["expected"] == pytest.approx(10.0)


def test_hours_and_targets_are_those_of_the_book() -> None:
    rows = [("2026-08-10", "frozen tomatoes", None, 4, 6.0, 1.5),
            ("2026-09-12", "frozen tomatoes", None, 3, 5.0, 1.0),
            ("2026-09-20", "frozen tomatoes", None, -1, float("nan"), float("nan"))]  # fmt: skip
    table = _lessons(_home(8.0, rows))
    assert table.loc["hours", "happened"] == pytest.approx(2.5)
    assert table.loc["hours", "expected"] > 0
    # The log ends on 7 September (last pick) or with the book: six jars stand there then.
    assert table.loc["target", "expected"] == 10
    assert table.loc["target", "happened"] == 6
    said = "6 of 10 on the shelf on 20 September 2026 (7 put up), 4 short"
    assert said in table.loc["target", "says"]
    # What is eaten between the first frost and the year's end is no part of it: the day is said.
    later = [*rows, ("2026-12-24", "frozen tomatoes", None, -2, float("nan"), float("nan"))]
    target = _lessons(_home(8.0, later)).loc["target"]
    assert target["happened"] == 6 and target["day"] == pd.Timestamp("2026-10-10")
    assert "on the shelf on 10 October 2026" in target["says"]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_what_had_no_use_is_said_in_the_households_units(units: str) -> None:
    """30 kg a week for six weeks; two people eat, give away and store a small part of that."""
    lesson = _lessons(_home(30.0, [], units)).loc["spoiled"]
    assert 0 < lesson["happened"] < 180
    whole = mass_words(180.0, units)
    assert f"of {whole} had no use" in lesson["says"]
    other = {"metric": " lb", "us": " kg"}[units]
    assert other not in lesson["says"]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_weeks_beyond_capacity_are_counted_and_worded(units: str) -> None:
    home = _home(60.0, [], units)
    found = units_of(home, 2026)
    weeks = over_capacity(home, found)
    assert weeks["picked_kg"].sum() == pytest.approx(360.0)
    over = weeks[weeks["over_kg"] > 0.5]
    lesson = kitchen_lessons(home, 2026, found, weeks).set_index("lesson").loc["over_capacity"]
    assert lesson["happened"] == len(over) > 0
    assert mass_words(float(over["over_kg"].sum()), units) in lesson["says"]


def test_words_of_amounts() -> None:
    """A pound is 0.45359237 kg, a foot 0.3048 m (international agreement of 1959)."""
    assert mass_words(0.45359237 * 30, "us") == "30 lb"
    assert mass_words(1.2, "metric") == "1.2 kg"
    assert area_words(100 * 0.3048**2, "us") == "100 sq ft"
