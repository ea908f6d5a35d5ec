"""Tables as people lay them out, as plain ones: one row of headings and one column of days each.

Headings may stand in several rows (a crop over its varieties over counted and weighed), written
once over the columns they hold for; tables may stand side by side, each with its own days.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from harvestcast.errors import TypedError
from harvestcast.records.tables.headings import PICK_FIELDS, field_of
from harvestcast.records.tables.rows import is_blank, year_of_name
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.records.typed.dates import YearsOf, parse_date, years_in
from harvestcast.records.typed.numbers import AMOUNT_UNITS, unit_of

AMOUNTS = frozenset({"count", "mass", "amount", "oversize", "damaged"})
NOTHING = "nothing"
"""What a column is said to hold that is not to be read."""
MOST_LEVELS = 4
"""Rows of headings: a crop over its varieties over grades over units."""
_BARE_DAY = re.compile(r"\d{1,2}\.?", re.ASCII)
_FEWEST_DAYS = 3
"""Columns headed by bare days from which they are the days of a month."""
_TITLE_WORDS = 4
"""Words of a single cell above a table; a longer one is a title, and no name of a variety."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Block:
    """A plain table, what stands over all of it, and its headings as typed, in small letters."""

    table: Table
    about: str
    names: frozenset[str]


def blocks_of(table: Table, said: Mapping[str, str]) -> list[Block]:
    """Return the plain tables that a table is made of, with the line numbers of the file.

    Parameters
    ----------
    table : Table
        Table as read.
    said : mapping of str to str
        What the caller says that headings mean, by the heading in small letters: the heading of a
        field, a crop with its variety, or "nothing".
    """
    levels, rows = _heading_rows(table)
    grid = _filled(levels)
    typed = _columns(grid)
    whole = [_small(_heading(texts)) for texts in typed]
    names = frozenset(_small(text) for row in [*levels, [table.sheet]] for text in row if text)
    names |= set(whole)
    if len(levels) > 1:
        grid = [[_meant(text, said) for text in row] for row in grid]
    columns = _columns(grid)
    for n, one in enumerate(whole):
        if len(typed[n]) > 1 and one in said:
            columns[n] = [said[one], *filter(_is_measure, typed[n][-1:])]
    dropped = {
        n for n, texts in enumerate(columns) if any(_meant(text, said) == NOTHING for text in texts)
    }
    starts = _starts(columns, said)
    if len(levels) == 1 and len(starts) == 1 and not dropped:
        return [Block(table=table, about=" - ".join(_title(table, said)), names=names)]
    blocks = []
    for start, stop in zip([0, *starts[1:]], [*starts[1:], len(columns)], strict=True):
        kept = [n for n in range(start, stop) if n not in dropped]
        over = next((columns[n][:-1] for n in kept if _field(columns[n], said) == "date"), [])
        if not over and len(starts) == 1:
            over = _title(table, said)
        headings = [_heading([t for t in columns[n] if t not in over]) for n in kept]
        # Beyond the last heading stand loose cells, which are said; those of a block end with it.
        last = max((len(cells) for _, cells in rows), default=0) if stop == len(columns) else stop
        kept += range(len(columns), last)
        lines = [
            (line, tuple(cells[n] if n < len(cells) else "" for n in kept)) for line, cells in rows
        ]
        part = replace(
            table,
            heading=tuple(headings),
            rows=tuple((line, _trimmed(cells)) for line, cells in lines if any(cells)),
            above=table.above if start == 0 else (),
        )
        blocks.append(Block(table=part, about=" - ".join(over), names=names))
    return blocks


def year_said(table: Table) -> int | YearsOf | None:
    """Return the year or season in the name of a file or sheet, or in the lines above a table."""
    texts = (table.file, table.sheet, *(text for _, text in table.skipped))
    said = (years_in(text) or year_of_name(text) for text in texts)
    return next((year for year in said if year is not None), None)


def with_months(table: Table, index: int) -> Table:
    """Return a table of bare days ("1" to "31") with the month of its sheet or title behind them.

    Examples
    --------
    >>> days = Table(file="log.xlsx", sheet="Aug", heading=("day", "kale"), heading_line=1,
    ...              rows=((2, ("1", "3")), (3, ("2", "4"))))
    >>> with_months(days, 0).rows
    ((2, ('1 Aug', '3')), (3, ('2 Aug', '4')))
    """
    typed = [cells[index] for _, cells in table.rows if index < len(cells)]
    days = [text for text in typed if _BARE_DAY.fullmatch(text)]
    month = _month(" ".join([table.sheet, *(text for _, text in table.skipped)]))
    if not month or not days or len(days) < sum(any(map(str.isdigit, text)) for text in typed):
        return table
    rows = [
        (line, (*cells[:index], f"{cells[index].rstrip('.')} {month}", *cells[index + 1 :]))
        if index < len(cells) and cells[index] in days
        else (line, cells)
        for line, cells in table.rows
    ]
    return replace(table, rows=tuple(rows))


_MONTH_HEADINGS = frozenset({"month", "monat", "mois", "mes", "mese", "maand"})


def month_column(table: Table) -> int | None:
    """Return the one column that is headed as the month's; None where there is none."""
    found = [n for n, text in enumerate(table.heading) if _small(text) in _MONTH_HEADINGS]
    return found[0] if len(found) == 1 else None


def with_month_column(table: Table, index: int) -> Table:
    """Return a table of bare days with the month of a column of its own behind each.

    A month stands once for the lines below it, as in a merged cell.

    Examples
    --------
    >>> rows = ((2, ("July", "1", "3")), (3, ("", "2", "4")), (4, ("Sum", "", "7")))
    >>> table = Table(file="f", heading=("Month", "Day", "kg"), heading_line=1, rows=rows)
    >>> [cells[1] for _, cells in with_month_column(table, 1).rows]
    ['1 July', '2 July', '']
    """
    column = month_column(table)
    if column is None:
        return table
    month, rows = "", []
    for line, cells in table.rows:
        month = _month(cells[column] if column < len(cells) else "") or month
        day = cells[index] if index < len(cells) else ""
        if month and _BARE_DAY.fullmatch(day):
            cells = (*cells[:index], f"{day.rstrip('.')} {month}", *cells[index + 1 :])
        rows.append((line, cells))
    return replace(table, rows=tuple(rows))


def with_month_headings(table: Table) -> Table:
    """Return a table with a column a day ("1" to "31") with the month of its sheet behind each.

    Examples
    --------
    >>> heading = ("Crop", "1", "2", "3")
    >>> table = Table(file="f", heading=heading, heading_line=1, rows=(), sheet="May")
    >>> with_month_headings(table).heading
    ('Crop', '1 May', '2 May', '3 May')
    """
    days = [text for text in table.heading if _BARE_DAY.fullmatch(text)]
    month = _month(" ".join([table.sheet, *(text for _, text in table.skipped)]))
    if len(days) < _FEWEST_DAYS or len(set(days)) < len(days) or not month:
        return table
    named = (f"{t.rstrip('.')} {month}" if t in days else t for t in table.heading)
    return replace(table, heading=tuple(named))


def _month(text: str) -> str:
    for word in re.findall(r"[^\W\d_]{3,}", text):
        try:
            parse_date(f"1 {word}", year=2000)
        except TypedError:
            continue
        return str(word)
    return ""


def _small(text: str) -> str:
    return " ".join(text.casefold().split())


def _columns(grid: Sequence[Sequence[str]]) -> list[list[str]]:
    """Return the headings over each column, the uppermost first, each once."""
    return [
        list(dict.fromkeys(text for text in texts if text)) for texts in zip(*grid, strict=True)
    ]


def _trimmed(cells: tuple[str, ...]) -> tuple[str, ...]:
    while cells and not cells[-1]:
        cells = cells[:-1]
    return cells


def _meant(text: str, said: Mapping[str, str]) -> str:
    return said.get(_small(text), text)


def _field(texts: Sequence[str], said: Mapping[str, str]) -> str:
    """Return the field that the lowest heading of a column names; empty where it names none."""
    found = field_of(_meant(texts[-1], said), PICK_FIELDS) if texts else None
    return found[0] if found else ""


def _is_measure(text: str) -> bool:
    """Return whether a text says only how an amount is given: "kg", "counted (each)"."""
    found = field_of(text, PICK_FIELDS)
    return (found is not None and found[0] in AMOUNTS) or unit_of(text) in AMOUNT_UNITS


def _heading_rows(
    table: Table,
) -> tuple[list[list[str]], tuple[tuple[int, tuple[str, ...]], ...]]:
    """Return the rows of headings, the uppermost first, and the rows below them."""
    levels = [list(table.heading)]
    rows = table.rows
    while rows and len(levels) < MOST_LEVELS and _goes_on(levels, rows[0][1]):
        levels.append(list(rows[0][1]))
        rows = rows[1:]
    line = table.heading_line
    for above, cells in reversed(table.above):
        words = [cell for cell in cells if cell]
        if above != line - 1 or len(words) < 2 or any(map(_has_digit, words)):
            break
        levels.insert(0, list(cells))
        line = above
    width = max(map(len, levels))
    return [[*row, *[""] * (width - len(row))] for row in levels], rows


def _goes_on(levels: Sequence[Sequence[str]], cells: Sequence[str]) -> bool:
    """Return whether the row below some headings holds more of them, and no picks yet."""
    lowest: dict[int, str] = {}
    for row in levels:
        lowest |= {n: text for n, text in enumerate(row) if text}
    there = {n: text for n, text in enumerate(cells) if text}
    if any(map(_has_digit, there.values())) or not there:
        return False
    fields = {n: (field_of(text, PICK_FIELDS) or ("",))[0] for n, text in lowest.items()}
    if any(fields.get(n) == "date" for n in there):
        return False
    fit = [
        _is_measure(text) or n not in lowest or canonical_crop(lowest[n]) is not None
        for n, text in there.items()
    ]
    return 2 * sum(fit) > len(fit)


def _has_digit(text: str) -> bool:
    return any(map(str.isdigit, text))


def _filled(levels: Sequence[Sequence[str]]) -> list[list[str]]:
    """Return headings with those written once over several columns repeated in each of them."""
    grid: list[list[str]] = []
    for depth, row in enumerate(levels):
        filled: list[str] = []
        for n, text in enumerate(row):
            below = any(other[n] for other in levels[depth + 1 :])
            same = n > 0 and all(upper[n] == upper[n - 1] for upper in grid)
            filled.append(text or (filled[n - 1] if below and same else ""))
        grid.append(filled)
    return grid


def _starts(columns: Sequence[Sequence[str]], said: Mapping[str, str]) -> list[int]:
    """Return where each of the tables side by side begins: at its column of days."""
    dates = [n for n, texts in enumerate(columns) if _field(texts, said) == "date"]
    if len(dates) < 2:
        return [0]
    ends = [*dates[1:], len(columns)]
    whole = all(
        any(_field(columns[n], said) in AMOUNTS for n in range(start + 1, stop))
        for start, stop in zip(dates, ends, strict=True)
    )
    alike = len({_small(columns[n][-1]) for n in dates}) == 1
    return dates if whole and alike else [0]


def _title(table: Table, said: Mapping[str, str]) -> list[str]:
    """Return the one cell right above a table, where it may name what the table is about."""
    line, cells = table.above[-1] if table.above else (0, ())
    words = [cell for cell in cells if cell]
    if line != table.heading_line - 1 or len(words) != 1:
        return []
    title = _meant(words[0], said)
    short = len(title.split()) <= _TITLE_WORDS and not _has_digit(title)
    return [title] if short and not is_blank(title) and title != NOTHING else []


def _heading(texts: Sequence[str]) -> str:
    """Return the headings over one column as one: "Tomatoes - Wimble - counted (each)".

    Examples
    --------
    >>> _heading(["Tomatoes", "kg"]), _heading(["Weight", "kg"]), _heading(["Tomatoes", "Notes"])
    ('Tomatoes (kg)', 'Weight (kg)', 'Notes')
    """
    if not texts:
        return ""
    *upper, lowest = texts
    field = (field_of(lowest, PICK_FIELDS) or ("",))[0]
    if not upper or (field and field not in AMOUNTS):
        return lowest
    if unit_of(lowest) in AMOUNT_UNITS:
        return f"{' - '.join(upper)} ({lowest})"
    return " - ".join(texts)
