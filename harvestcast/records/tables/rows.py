"""Cells of one table row by row: what is typed becomes a value or a problem."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from copy import copy
from datetime import date
from typing import Any, Literal

from harvestcast.errors import TypedError
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import Place
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.crops import (
    canonical_crop,
    crop_key,
    likely_crop,
    one_word,
    tidy_name,
    two_crops,
)
from harvestcast.records.typed.dates import DateOrder, YearsOf, orders_shown, parse_date
from harvestcast.records.typed.numbers import Decimal, decimal_style, parse_number, unit_of

MOST_CROPS = 300
"""More crops than any household grows; a column with more names is no column of crops."""
_BLANKS = frozenset({"", "-", "--", "\u2013", "\u2014", "na", "n/a", "nan", "null", "?", "."})


def unit_words(units: Iterable[str]) -> list[str]:
    """Return units as they are typed, "degC" as C."""
    return [unit.removeprefix("deg") for unit in units]


def is_blank(text: str) -> bool:
    """Return whether a cell says nothing."""
    return text.casefold() in _BLANKS


def _unguarded(text: str) -> str:
    """Return a text without the mark that keeps a spreadsheet from running it."""
    return text[1:] if text[:1] == "'" and text[1:2] in ("=", "+", "-", "@") else text


class RowReader:
    """Reads a table row by row through its headings; lives only while a file is read."""

    def __init__(
        self,
        table: Table,
        places: Mapping[str, Sequence[Place]],
        findings: Findings,
        *,
        order: DateOrder = "year_first",
        number_fields: Sequence[str] = (),
        year: int | YearsOf | None = None,
        decimal: Decimal | None = None,
    ) -> None:
        self.table = table
        self.places = places
        self.findings = findings
        self.order = order
        self.year = year or year_of_name(table.file)
        self._cells: tuple[str, ...] = ()
        self.line = 0
        self._decimal: dict[str, Decimal] = {
            field: decimal_style(
                cells[place.index]
                for _, cells in table.rows
                for place in places.get(field, ())
                if place.index < len(cells)
            )
            for field in number_fields
        }
        known = {style for style in self._decimal.values() if style != "unknown"}
        if len(known) == 1:
            # One hand wrote the file: what one column shows holds for the others.
            only = next(iter(known))
            self._decimal = dict.fromkeys(self._decimal, only)
        elif not known and table.shape is not None and table.shape.delimiter == ";":
            self._decimal = dict.fromkeys(self._decimal, "unsure")
        if decimal is not None:
            self._decimal = dict.fromkeys(self._decimal, decimal)
        self._dates: dict[str, date | None] = {}

    def __iter__(self) -> Iterator[RowReader]:
        """Yield the rows that fit under the headings; every other one is a problem."""
        for row in self.every():
            if not row.too_wide():
                yield row

    def every(self) -> Iterator[RowReader]:
        """Yield every row, for callers that ask :meth:`too_wide` of each themselves."""
        for line, cells in self.table.rows:
            self.line, self._cells = line, cells
            yield self

    def too_wide(self) -> bool:
        """Return whether cells stand beyond the last heading, and say so.

        Most often a decimal comma was typed without quotation marks: then every cell behind it
        stands under a wrong heading, so no cell of the row can be trusted.
        """
        width = self.table.width
        beyond = [cell for cell in self._cells[width:] if not is_blank(cell)]
        if not beyond:
            return False
        mark = self.table.shape.delimiter if self.table.shape is not None else ""
        self.findings.problem(
            "cells.beyond",
            self.table.file,
            self.line,
            "",
            " | ".join(self._cells),
            number=len(beyond),
            cells=" | ".join(beyond)[:60],
            width=width,
            mark=mark,
        )
        return True

    @property
    def cells(self) -> tuple[str, ...]:
        """Cells of the row, as typed."""
        return self._cells

    def decimal(self, field: str) -> Decimal:
        """Return the decimal mark of a field."""
        return self._decimal.get(field, "unknown")

    def text(self, field: str) -> str:
        """Return the first cell of a field that says something; empty where none does."""
        for place in self.places.get(field, ()):
            if place.index < len(self._cells) and not is_blank(self._cells[place.index]):
                return _unguarded(self._cells[place.index])
        return ""

    def filled(self, field: str) -> list[tuple[Place, str]]:
        """Return every cell of a field that says something, with its place."""
        return [
            (place, _unguarded(self._cells[place.index]))
            for place in self.places.get(field, ())
            if place.index < len(self._cells) and not is_blank(self._cells[place.index])
        ]

    def unit(self, field: str) -> str | None:
        """Return the unit in the heading of a field's first column."""
        places = self.places.get(field, ())
        return places[0].unit if places else None

    def unit_beside(self, known: Collection[str]) -> tuple[str | None, bool]:
        """Return the unit in the row's unit column, and whether it can be used.

        An empty cell leaves the unit to the heading; an unknown unit, or two, is a problem.
        """
        typed = [text for _, text in self.filled("unit")]
        units = {unit_of(text) for text in typed}
        if not units:
            return None, True
        if not units <= set(known):
            other = next(text for text in typed if unit_of(text) not in known)
            self.problem("unit.unknown", "unit", other, units=unit_words(known))
            return None, False
        if len(units) > 1:
            self.problem("unit.two", "unit", " | ".join(typed))
            return None, False
        return units.pop(), True

    def heading(self, field: str) -> str:
        """Return the heading of a field as typed."""
        places = self.places.get(field, ())
        return places[0].heading if places else field

    def problem(self, code: str, field: str, value: object, /, **facts: Any) -> None:
        """Say a problem of this row."""
        self.findings.problem(code, self.table.file, self.line, self.heading(field), value, **facts)

    def problem_at(self, place: Place, code: str, value: object, /, **facts: Any) -> None:
        """Say a problem of one of several columns."""
        self.findings.problem(code, self.table.file, self.line, place.heading, value, **facts)

    def through(self, places: Mapping[str, Sequence[Place]]) -> RowReader:
        """Return the same row read through other columns."""
        other = copy(self)
        other.places = {**self.places, **places}
        return other

    def notice(self, code: str, field: str, value: object, /, **facts: Any) -> None:
        """Say a notice of this row."""
        self.findings.notice(code, self.table.file, self.line, self.heading(field), value, **facts)

    def date(self, field: str = "date", *, required: bool = True) -> date | None:
        """Return the date of a field; None (and a problem, where one is due) otherwise."""
        typed = self.text(field)
        if not typed:
            if required:
                self.problem("date.missing", field, "")
            return None
        if typed in self._dates:
            return self._dates[typed]
        try:
            found = parse_date(typed, self.order, self.year)
        except TypedError as error:
            more = {"orders": self._orders(field)} if error.code == "date.ambiguous" else {}
            self.problem(error.code, field, typed, **error.facts, **more)
            return None
        self._dates[typed] = found
        return found

    def _orders(self, field: str) -> list[DateOrder]:
        """Return the orders that the other dates of a column are written in."""
        cells = [
            cells[place.index]
            for _, cells in self.table.rows
            for place in self.places.get(field, ())
            if place.index < len(cells)
        ]
        return sorted(orders_shown(cells))

    def number(
        self,
        field: str,
        *,
        low: Literal[0] | None = 0,
        factors: Mapping[str, float] | None = None,
        beside: str | None = None,
    ) -> float | None:
        """Return a plain number of a field; None where it is empty.

        It is converted by the unit typed behind it, that of a unit column (``beside``), or that
        of its heading, the first of these that is there.
        """
        typed = self.text(field)
        if not typed:
            return None
        unit = beside or self.unit(field)
        match = len(typed) < 60 and re.fullmatch(r"(.*\d)\s*([a-zA-Z°\"']+\d?)\.?", typed)
        if match and factors:
            unit, number_text = unit_of(match[2]) or match[2], match[1]
            if beside not in (None, unit):
                self.problem("number.unit_differs", field, typed, beside=beside)
                return None
        else:
            number_text = typed
        try:
            value = parse_number(number_text, self.decimal(field))
        except TypedError as error:
            self.problem(error.code, field, typed, like="number", **error.facts)
            return None
        if factors:
            if unit is None and len(set(factors.values())) > 1:
                self.problem(
                    "number.unit_missing", field, typed, field=field, unit=next(iter(factors))
                )
                return None
            if unit is not None and unit not in factors:
                self.problem("number.wrong_unit", field, typed, unit=unit, units=list(factors))
                return None
            value *= factors[unit] if unit is not None else 1.0
        if low is not None and value < 0:
            self.problem("number.negative", field, typed)
            return None
        if abs(value) > 1e6:
            self.problem("number.too_large", field, typed)
            return None
        return value


def year_of_name(file: str) -> int | None:
    """Return the year in a file's name, where there is just one.

    Examples
    --------
    >>> year_of_name("picks-2026.csv"), year_of_name("picks.csv")
    (2026, None)
    """
    years = set(re.findall(r"(?<!\d)(?:19|20)\d\d(?!\d)", file))
    return int(years.pop()) if len(years) == 1 else None


class CropReader:
    """Reads the crop of a row, says unknown ones once, and learns what crops are called here.

    Parameters
    ----------
    findings : Findings
        Takes a notice for every unknown crop.
    aliases : mapping of str to str
        The household's own names.
    known : sequence of str
        Crops that have settings of their own; they are known even where the list lacks them.
    """

    def __init__(
        self, findings: Findings, aliases: Mapping[str, str], known: Sequence[str] = ()
    ) -> None:
        self._findings = findings
        self._aliases = aliases
        self._known = known
        self._crops: dict[str, str] = {}
        self._keys: dict[str, str] = {}
        self.typed: dict[str, Counter[str]] = {}
        """Names typed for each crop, and how often."""
        self._unknown = 0

    def __call__(self, row: RowReader) -> str | None:
        """Return the crop of a row; None, and a problem, where there is none."""
        typed = row.text("crop")
        if not typed:
            row.problem("crop.missing", "crop", "")
            return None
        if typed not in self._keys:
            self._keys[typed] = crop_key(typed)
        key = self._keys[typed]
        if key not in self._crops:
            self._crops[key] = self._crop(typed, row)
        self.met(self._crops[key], typed)
        return self._crops[key]

    def met(self, crop: str, typed: str) -> None:
        """Take up that a crop was called by a name; an empty one tells nothing."""
        if typed:
            self.typed.setdefault(crop, Counter())[typed] += 1

    def _crop(self, typed: str, row: RowReader) -> str:
        crop = canonical_crop(typed, self._aliases)
        named = crop or tidy_name(typed)[:80]
        if crop is None and named not in self._known:
            self._unknown += 1
            two = two_crops(typed)
            if two and self._unknown <= MOST_CROPS:
                row.notice("crop.one_of_two", "crop", typed, crop=typed, crops=list(two))
            elif self._unknown <= MOST_CROPS:
                hint = likely_crop(typed, set(self._crops.values())) or ""
                row.notice("crop.unknown", "crop", typed, crop=typed, meant=hint)
        return named

    def _own(self, typed: Counter[str]) -> Counter[str]:
        """Return the names without those that only an alias explains, if any are left.

        An alias mostly settles a slip of the pen, and a slip is no second word for the crop.
        """
        known = Counter({name: n for name, n in typed.items() if canonical_crop(name)})
        return known or typed

    @property
    def words(self) -> dict[str, str]:
        """The household's word for each crop that it always calls by one other than the canon's."""
        words = {crop: one_word(crop, self._own(typed)) for crop, typed in self.typed.items()}
        return {crop: word for crop, word in words.items() if word not in (None, crop)}
