"""Dates as people type them; one that may be two days is refused."""

import calendar
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from harvestcast.records.typed.dates import YearsOf, parse_date, parse_day
from harvestcast.words.days import spoken
from tests.records.conftest import refused

DAY = date(2026, 7, 5)  # a Sunday


@pytest.mark.parametrize(
    "typed",
    [
        "2026-07-05",
        "2026/7/5",
        "20260705",
        "5 July 2026",
        "July 5, 2026",
        "Jul 5 2026",
        "5-Jul-26",
        "5th of July 2026",
        "Sun 5 July 2026",
        "Sunday, July 5, 2026",
        "2026-07-05 08:30",
        "2026-07-05T08:30:00",
        "7/5/2026 6:15 pm",
    ],
)
def test_forms(typed: str) -> None:
    order = "month_first" if "/" in typed and typed[0] == "7" else "year_first"
    assert parse_date(typed, order) == DAY  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("typed", "order", "day"),
    [
        ("7/5/2026", "month_first", date(2026, 7, 5)),
        ("7/5/2026", "day_first", date(2026, 5, 7)),
        ("5.7.2026", "day_first", date(2026, 7, 5)),
        ("5.7.26", "day_first", date(2026, 7, 5)),
        ("25.7.2026", "year_first", date(2026, 7, 25)),
        ("7/25/2026", "year_first", date(2026, 7, 25)),
        ("7/7/2026", "year_first", date(2026, 7, 7)),
    ],
)
def test_all_number_dates_follow_the_order(typed: str, order: str, day: date) -> None:
    assert parse_date(typed, order) == day  # type: ignore[arg-type]


@pytest.mark.parametrize("typed", ["5/7", "5.7.", "05/07", "5 July"])
def test_days_without_a_year_take_the_year_that_is_said(typed: str) -> None:
    assert parse_date(typed, "day_first", 2026) == DAY
    assert parse_date(typed, "day_first", YearsOf(2026)) == DAY
    assert parse_date(typed, "day_first", YearsOf(2025)) == date(2025, 7, 5)
    assert parse_date("3/1", "day_first", YearsOf(2025)) == date(2026, 1, 3)


@pytest.mark.parametrize(
    ("typed", "code"),
    [
        ("5/7", "date.ambiguous"),
        ("5.7", "date.unreadable"),  # a spreadsheet writes 5.70 so
        ("31/2", "date.no_day"),
        ("1/2/", "date.unreadable"),
    ],
)
def test_days_without_a_year_are_never_guessed(typed: str, code: str) -> None:
    with refused(code):
        parse_date(typed, year=2026)


@pytest.mark.parametrize(
    ("typed", "code", "facts"),
    [
        ("7/5/2026", "date.ambiguous", {"first": date(2026, 5, 7), "second": DAY}),
        ("5.7.2026", "date.ambiguous", {"first": date(2026, 5, 7), "second": DAY}),
        ("26-07-05", "date.short_year", {}),
        ("5 July", "date.no_year", {}),
        ("2026-02-30", "date.no_day", {}),
        ("Mon 5 July 2026", "date.weekday", {"day": DAY, "weekday": "Sunday"}),
        ("2206-07-05", "date.far_year", {"year": 2206}),
        ("45843", "date.unreadable", {}),
        ("soon", "date.unreadable", {}),
        ("1/2/3/4", "date.unreadable", {}),
        ("x" * 10_000, "date.unreadable", {}),
    ],
)
def test_refused(typed: str, code: str, facts: dict[str, object]) -> None:
    with refused(code) as caught:
        parse_date(typed)
    assert caught.value.facts == facts  # type: ignore[union-attr]


def test_an_order_that_is_set_is_kept_to() -> None:
    for typed, order, turned in (
        ("25/7/2026", "month_first", "7/25/2026"),
        ("7.25.2026", "day_first", "25.7.2026"),
    ):
        with refused("date.no_month") as caught:
            parse_date(typed, order)  # type: ignore[arg-type]
        meant = {"meant": date(2026, 7, 25), "turned": turned}
        assert caught.value.facts == {"month": 25, "order": order, **meant}  # type: ignore[union-attr]
    with refused("date.no_day"):
        parse_date("31/6/2026", "day_first")


@pytest.mark.parametrize(
    ("typed", "day"),
    [
        ("15. Mai 2026", date(2026, 5, 15)),
        ("15 M\u00e4rz 2026", date(2026, 3, 15)),
        ("3. Okt. 2026", date(2026, 10, 3)),
        ("3 d\u00e9c 2026", date(2026, 12, 3)),
        ("3 septiembre 2026", date(2026, 9, 3)),
        ("3 luglio 2026", date(2026, 7, 3)),
        ("3 mei 2026", date(2026, 5, 3)),
    ],
)
def test_months_of_other_languages(typed: str, day: date) -> None:
    assert parse_date(typed) == day
    with refused("date.unreadable"):
        parse_date("3 jui 2026")  # June or July, in French


@given(st.dates(date(1900, 1, 1), date(2100, 12, 31)))
def test_every_day_reads_back_in_every_plain_form(day: date) -> None:
    month = calendar.month_name[day.month]
    for typed in (day.isoformat(), spoken(day), f"{month[:3]} {day.day}, {day.year}"):
        assert parse_date(typed) == day
    assert parse_date(f"{day.month}/{day.day}/{day.year}", "month_first") == day
    assert parse_date(f"{day.day}.{day.month}.{day.year}", "day_first") == day


@given(st.dates(date(1900, 1, 1), date(2100, 12, 31)))
def test_without_an_order_a_date_is_right_or_refused(day: date) -> None:
    for typed in (f"{day.month}/{day.day}/{day.year}", f"{day.day}/{day.month}/{day.year}"):
        try:
            found = parse_date(typed)
        except ValueError as error:
            assert "may be" in str(error) and day.day <= 12
        else:
            assert found == day


@pytest.mark.parametrize(
    ("typed", "day"),
    [
        ("today", date(2026, 7, 19)),
        ("", date(2026, 7, 19)),
        ("yesterday", date(2026, 7, 18)),
        ("3 days ago", date(2026, 7, 16)),
        ("a day ago", date(2026, 7, 18)),
        ("saturday", date(2026, 7, 18)),
        ("Sun", date(2026, 7, 12)),
        ("last monday", date(2026, 7, 13)),
        ("5 July", date(2026, 7, 5)),
        ("24 December", date(2025, 12, 24)),
        ("2026-07-01", date(2026, 7, 1)),
    ],
)
def test_days_seen_from_today(typed: str, day: date) -> None:
    assert parse_day(typed, date(2026, 7, 19)) == day  # a Sunday
