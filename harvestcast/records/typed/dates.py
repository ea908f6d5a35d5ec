"""Dates as people type them; one that may be two days is refused, never guessed."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from datetime import date, timedelta
from typing import Literal, NamedTuple

from harvestcast.errors import TypedError
from harvestcast.records.messages import unreadable
from harvestcast.words.days import MONTHS, WEEKDAYS

DateOrder = Literal["year_first", "month_first", "day_first"]

_OTHER_MONTHS: dict[str, int] = {
    name: number
    for line in (
        "januar februar marz april mai juni juli august september oktober november dezember",
        "janner feber maerz april mai juni juli august september oktober november dezember",
        "janvier fevrier mars avril mai juin juillet aout septembre octobre novembre decembre",
        "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
        "januari februari maart april mei juni juli augustus september oktober november december",
        "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre "
        "dicembre",
    )
    for number, name in enumerate(line.split(), 1)
}
"""Months in the languages that headings are read in, without accents: German (and Austrian),
French, Spanish, Dutch, Italian."""
_CLOCK = re.compile(
    r"[t ,]+\d{1,2}:\d\d(:\d\d(\.\d+)?)?( ?[ap]\.?m\.?)?(z|[+-]\d\d:?\d\d)?$", re.ASCII
)
_DAY_MONTH = re.compile(
    r"(?P<d>\d{1,2})(?:st|nd|rd|th)?\.?[ -]*(?:of )?(?P<m>[a-z]{3,10})\.?"
    r"(?:[ ,-]+(?P<y>\d{4}|\d\d))?",
    re.ASCII,
)
_MONTH_DAY = re.compile(
    r"(?P<m>[a-z]{3,10})\.?[ -]*(?P<d>\d{1,2})(?:st|nd|rd|th)?(?:[ ,-]+(?P<y>\d{4}|\d\d))?",
    re.ASCII,
)

_SHORT = re.compile(r"(\d{1,2})(/|\.(?=\d+\.))(\d{1,2})\.?", re.ASCII)
"""A day and a month; with points the last one is needed, since 5.1 may be a number, or 5.10."""


class YearsOf(NamedTuple):
    """The two years of a season that crosses New Year, for dates without a year.

    Examples
    --------
    >>> season = YearsOf(2024)
    >>> str(season), season.of(12), season.of(1)
    ('2024/25', 2024, 2025)
    """

    first: int

    def of(self, month: int) -> int:
        """Return the year of a month; July is the first of the season, June the last."""
        return self.first + (month < 7)

    def __str__(self) -> str:
        return f"{self.first}/{(self.first + 1) % 100:02d}"


def years_in(text: str) -> YearsOf | None:
    """Return the season that a text names by two years in a row; None where it names none.

    Examples
    --------
    >>> years_in("garden log 2024/25"), years_in("2024-2025"), years_in("2024-12")
    (YearsOf(first=2024), YearsOf(first=2024), None)
    """
    pairs = re.findall(r"(?<![\d/-])((?:19|20)\d\d) ?[/\u2013-] ?((?:\d\d)?\d\d)(?![\d/-])", text)
    found = {
        int(first)
        for first, second in pairs
        if int(second) in (int(first) + 1, (int(first) + 1) % 100)
    }
    return YearsOf(found.pop()) if len(pairs) == len(found) == 1 else None


def parse_date(
    text: str, order: DateOrder = "year_first", year: int | YearsOf | None = None
) -> date:
    """Return the day a text means.

    Parameters
    ----------
    text : str
        ``2026-07-05``, ``7/5/2026``, ``5.7.2026``, ``5 July``, ``Jul 5, 2026``, ``5. Juli
        2026``; without a year ``5 July``, ``5/7`` and ``5.7.``; a weekday before it and a time of
        day behind it are allowed.
    order : {"year_first", "month_first", "day_first"}
        How all-number dates are read; ``year_first`` refuses those that may be two days.
    year : int or YearsOf, optional
        Year of a date without one, or the season that it lies in.

    Raises
    ------
    harvestcast.errors.TypedError
        Where it is no day, or may be two; a ``ValueError`` with code and facts.

    Examples
    --------
    >>> parse_date("2026-07-05"), parse_date("5.7.2026", "day_first")
    (datetime.date(2026, 7, 5), datetime.date(2026, 7, 5))
    >>> parse_date("5 July", year=2026)
    datetime.date(2026, 7, 5)
    >>> parse_date("5/1", "day_first", YearsOf(2024))
    datetime.date(2025, 1, 5)
    >>> parse_date("7/5/2026")
    Traceback (most recent call last):
    ...
    harvestcast.errors.TypedError: the date may be 7 May 2026 or 5 July 2026
    """
    if re.fullmatch(r"\d{4}-\d\d-\d\d", text, flags=re.ASCII):
        return _day(int(text[:4]), int(text[5:7]), int(text[8:]))
    if len(text) > 60:
        raise unreadable("date.unreadable")
    typed = _CLOCK.sub("", " ".join(text.casefold().split()))
    typed = "".join(c for c in unicodedata.normalize("NFKD", typed) if not unicodedata.combining(c))
    weekday = re.match(r"(mon|tue|wed|thu|fri|sat|sun)[a-z]*[.,]? +", typed)
    if weekday:
        typed = typed[weekday.end() :]
    found = _named_month(typed, year) or _numbers(typed, order, year)
    if weekday and not WEEKDAYS[found.weekday()].casefold().startswith(weekday[1]):
        raise unreadable("date.weekday", day=found, weekday=WEEKDAYS[found.weekday()])
    return found


def orders_shown(texts: Iterable[str]) -> set[DateOrder]:
    """Return the orders of day and month that the unmistakable dates among texts show.

    Examples
    --------
    >>> orders_shown(["5.7.2026", "25.7.2026", "tomato"])
    {'day_first'}
    """
    shown: set[DateOrder] = set()
    for text in texts:
        match = re.match(r"(\d{1,2})([-/.])(\d{1,2})[-/.]\d{2,4}\b", text, re.ASCII)
        match = match or _SHORT.fullmatch(text)
        if match and int(match[1]) > 12 >= int(match[3]):
            shown.add("day_first")
        elif match and int(match[3]) > 12 >= int(match[1]):
            shown.add("month_first")
    return shown


def parse_day(text: str, today: date, order: DateOrder = "year_first") -> date:
    """Return the day a short form means, seen from today.

    Parameters
    ----------
    text : str
        ``today``, ``yesterday``, ``3 days ago``, ``monday`` (the last one), or a date; a date
        without a year is the latest such day that is not in the future.
    today : datetime.date
        Today.
    order : {"year_first", "month_first", "day_first"}
        How all-number dates are read.

    Raises
    ------
    harvestcast.errors.TypedError
        Where it is no day, or may be two.

    Examples
    --------
    >>> today = date(2026, 7, 19)
    >>> parse_day("yesterday", today), parse_day("monday", today), parse_day("5 July", today)
    (datetime.date(2026, 7, 18), datetime.date(2026, 7, 13), datetime.date(2026, 7, 5))
    """
    typed = " ".join(text.casefold().split())
    words = {"": 0, "today": 0, "now": 0, "yesterday": 1, "day before yesterday": 2}
    ago = re.fullmatch(r"(\d{1,3}|a|one) days? ago", typed, re.ASCII)
    if ago:
        words[typed] = int(ago[1]) if ago[1].isdigit() else 1
    if typed in words:
        return today - timedelta(days=words[typed])
    name = typed.removeprefix("last ").removeprefix("on ")
    for number, weekday in enumerate(WEEKDAYS):
        if len(name) > 2 and weekday.casefold().startswith(name):
            return today - timedelta(days=(today.weekday() - number) % 7 or 7)
    try:
        return parse_date(typed, order)
    except TypedError as error:
        if error.code != "date.no_year":
            raise
    found = parse_date(typed, order, today.year)
    return found if found <= today else parse_date(typed, order, today.year - 1)


def _day(year: int, month: int, day: int) -> date:
    if not 1900 <= year <= 2100:
        raise unreadable("date.far_year", year=year)
    try:
        return date(year, month, day)
    except ValueError:
        raise unreadable("date.no_day") from None


def _full_year(digits: str) -> int:
    return int(digits) + (2000 if len(digits) == 2 else 0)


def _in_year(year: int | YearsOf | None, month: int) -> int:
    if year is None:
        raise unreadable("date.no_year")
    return year.of(month) if isinstance(year, YearsOf) else year


def _named_month(typed: str, year: int | YearsOf | None) -> date | None:
    match = _DAY_MONTH.fullmatch(typed) or _MONTH_DAY.fullmatch(typed)
    if match is None:
        return None
    month = _month(match["m"])
    if month is None:
        return None
    of = _full_year(match["y"]) if match["y"] else _in_year(year, month)
    return _day(of, month, int(match["d"]))


def _month(typed: str) -> int | None:
    """Return the month that a word, or the beginning of one, means in one way only."""
    name = {"sept": "sep", "mrz": "marz"}.get(typed, typed)
    english = next((i for i, m in enumerate(MONTHS, 1) if m.casefold().startswith(name)), None)
    others = {number for month, number in _OTHER_MONTHS.items() if month.startswith(name)}
    return english if english is not None else others.pop() if len(others) == 1 else None


def _numbers(typed: str, order: DateOrder, said: int | YearsOf | None) -> date:
    if re.fullmatch(r"(19|20)\d{6}", typed, flags=re.ASCII):
        return _day(int(typed[:4]), int(typed[4:6]), int(typed[6:]))
    short = _SHORT.fullmatch(typed)
    if short is not None:
        return _day_of_numbers(short, order, said)
    match = re.fullmatch(r"(\d{1,4})([-/. ])(\d{1,2})\2(\d{1,4})", typed, flags=re.ASCII)
    if match is None:
        raise unreadable("date.unreadable")
    if len(match[1]) == 4:
        return _day(int(match[1]), int(match[3]), int(match[4]))
    if len(match[1]) > 2 or len(match[4]) not in (2, 4):
        raise unreadable("date.unreadable")
    if len(match[4]) == 2 and match[2] == "-" and order == "year_first":
        raise unreadable("date.short_year")
    return _day_of_numbers(match, order, _full_year(match[4]))


def _day_of_numbers(match: re.Match[str], order: DateOrder, said: int | YearsOf | None) -> date:
    """Return the day of two numbers, as the order, or that there are twelve months, says."""
    first, mark, second = int(match[1]), match[2], int(match[3])

    def of(month: int, day: int) -> date:
        return _day(_in_year(said, month), month, day)

    month = {"month_first": first, "day_first": second}.get(order, 0)
    if month > 12 >= (second if month == first else first):
        # The other order would make a day of it: the file and the setting disagree.
        turned = mark.join((match[3], match[1], *match.groups()[3:]))
        meant = of(second if order == "month_first" else first, month)
        raise unreadable("date.no_month", month=month, order=order, meant=meant, turned=turned)
    if order == "month_first":
        return of(first, second)
    if order == "day_first" or first > 12 or first == second:
        return of(second, first)
    if second > 12:
        return of(first, second)
    options = sorted((of(first, second), of(second, first)))
    raise unreadable("date.ambiguous", first=options[0], second=options[1])
