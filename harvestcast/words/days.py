"""Days in sentences."""

from __future__ import annotations

from datetime import date

# Spelled out here because strftime answers in the language of the machine.
MONTHS = (
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
)
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


def spoken(day: date) -> str:
    """Return a date in words, the same in every language setting of the machine.

    Examples
    --------
    >>> spoken(date(2026, 7, 5))
    '5 July 2026'
    """
    return f"{day.day} {MONTHS[day.month - 1]} {day.year}"
