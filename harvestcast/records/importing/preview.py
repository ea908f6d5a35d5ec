"""Read a pick log that was kept in another form, with a preview of every line.

Nothing is guessed and nothing is dropped unsaid: what cannot be read in one way only is a
problem with its cure, and every line of the file stands in the preview with what became of it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import pandas as pd

from harvestcast.errors import InputError, Problem
from harvestcast.records.checks.twice import Doubles, Sorted, standing
from harvestcast.records.household import Household
from harvestcast.records.importing.blocks import NOTHING, blocks_of, year_said
from harvestcast.records.importing.table import Asked, TableRead, read_lines
from harvestcast.records.importing.wide import name_of
from harvestcast.records.logs.folder import aliases_of, household_reader, planted_varieties
from harvestcast.records.logs.picks import picks_frame
from harvestcast.records.settings import settings_of
from harvestcast.records.tables.findings import TYPED, Findings
from harvestcast.records.tables.headings import PICK_FIELDS, field_of
from harvestcast.records.tables.rows import CropReader
from harvestcast.records.tables.spreadsheets import read_tables
from harvestcast.records.tables.text import Table, read_bytes
from harvestcast.records.typed.dates import DateOrder, YearsOf, years_in
from harvestcast.records.typed.varieties import UNNAMED, variety_key
from harvestcast.results import Result
from harvestcast.words.crops import crops_said_as

Unit = Literal["each", "dozen", "kg", "g", "lb", "oz"]
_NO_TABLES = (".xls", ".numbers", ".pdf", ".doc", ".docx", ".odt", ".jpg", ".jpeg", ".png", ".json")
COLUMNS_SAID = (
    *("date", "crop", "variety", "bed", "count", "weight_kg", "weight_lb"),
    *("unit", "grade", "hours", "note", "a crop and its variety", NOTHING),
)
"""What a column may be said to hold, as messages list it."""
_LINES = ["file", "sheet", "line", "became", "typed", "meaning"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Preview(Result):
    """What was understood of a foreign log, and what was not.

    Attributes
    ----------
    files : tuple of str
        Files read.
    picks : pandas.DataFrame
        PICKS frame of what was understood, doubles left out.
    lines : pandas.DataFrame
        One row a line: file, sheet, line, became (``read``, ``in part``, ``twice``, ``alike``,
        ``left out``, ``not read``), typed, meaning (in words).
    columns : pandas.DataFrame
        One row a column: file, sheet, heading, taken_for.
    problems : tuple of Problem
        What must be settled before the lines concerned can be taken over.
    notices : pandas.DataFrame
        NOTICES frame.
    date_order : {"month_first", "day_first"} or None
        What the dates that can be read in one way only suggest for those that cannot.
    twice : int
        Picks left out of ``picks`` because they stand in the log, or on an earlier line, already.
    alike : int
        Picks left out of ``picks`` because they agree with one of the log, or of another file, in
        all but note or bed, and are most likely the same basket.
    crop_words : mapping of str to str
        What the garden calls a crop, or else the file where it has one word for it; the picks are
        written down so.
    """

    files: tuple[str, ...]
    picks: pd.DataFrame
    lines: pd.DataFrame
    columns: pd.DataFrame
    problems: tuple[Problem, ...]
    notices: pd.DataFrame
    date_order: DateOrder | None
    twice: int = 0
    alike: int = 0
    crop_words: Mapping[str, str] = field(default_factory=dict)

    def _brief(self) -> str:
        return f"{len(self.picks)} picks, {len(self.problems)} problems"

    def _table(self) -> pd.DataFrame:
        return self.lines


def read_foreign(
    path: str | Path | Sequence[str | Path],
    *,
    folder: str | Path | None = None,
    date_order: DateOrder | None = None,
    year: int | str | None = None,
    unit: Unit | None = None,
    decimal: Literal["point", "comma"] | None = None,
    crop: str | None = None,
    columns: Mapping[str, str] | None = None,
    take_alike: bool = False,
) -> Preview:
    """Read one or several foreign pick logs.

    Text with any common delimiter and encoding, .xlsx and .ods; a line a pick, a column a
    crop or variety, or a column a day; headings in several rows, and tables side by side.

    Parameters
    ----------
    path : path or sequence of paths
        Files.
    folder : path, optional
        Garden folder: its settings, own crop names and planted varieties are known, and
        picks that stand in it already are said and not doubled.
    date_order : {"year_first", "month_first", "day_first"}, optional
        How dates such as 7/5/2026 are read; left out: as ``garden.toml`` says.
    year : int or str, optional
        Year of dates without one, or the season over New Year that they lie in: ``"2024/25"``.
    unit : {"each", "dozen", "kg", "g", "lb", "oz"}, optional
        What bare numbers mean where the file does not say.
    decimal : {"point", "comma"}, optional
        Decimal mark, where the file does not show it.
    crop : str, optional
        Crop of a table that names none.
    columns : mapping of str to str, optional
        Headings of the file that are not known here, and what their columns hold, as a known
        heading: ``{"Which kind": "variety"}``. A heading over several columns, or the name of a
        sheet, may be said to be a crop with its variety, or ``"nothing"`` that is to be read.
    take_alike : bool
        Take picks that agree with one of the log in all but note or bed for baskets of their own.

    Returns
    -------
    Preview
        Everything understood and not; nothing is written.

    Raises
    ------
    harvestcast.errors.InputError
        Only where ``folder`` cannot be used; what is wrong with a file is in the preview.
    """
    paths = [Path(p) for p in ([path] if isinstance(path, str | Path) else path)]
    findings = Findings()
    home = None if folder is None else Path(folder)
    household = Household() if home is None else settings_of(home)
    planted: dict[str, list[str]] = {crop: [] for crop in household.crops}
    at_home = household_reader(household, Findings())
    doubles = Doubles()
    if home is not None:
        planted |= planted_varieties(home, household, at_home)
        doubles.learn(standing(home, household, at_home))
    asked = Asked(
        units=household.units,
        aliases=aliases_of(household),
        planted=planted,
        order=date_order or household.date_order,
        year=_year(year),
        unit=unit,
        decimal=decimal,
        crop=crop,
        columns=_named(columns or {}, aliases_of(household), planted),
        reader=CropReader(findings, aliases_of(household), [*household.crops, *planted]),
    )
    lines: list[dict[str, Any]] = []
    headings: list[dict[str, Any]] = []
    records: list[dict[str, Any]] = []
    hints: set[DateOrder] = set()
    contents: dict[str, str] = {}
    names: set[str] = set()
    twice = alike = 0
    for number, file in enumerate(paths, 1):
        read: list[tuple[dict[str, Any], list[dict[str, Any]]]] = []
        tables = _tables(file, findings, contents)
        with crops_said_as(at_home.words):
            for found in _read(tables, asked, findings):
                hints |= found.hints
                headings.extend(found.columns)
                read.extend(found.lines)
                names |= found.names
        _say_two_varieties(read, planted)
        placed = [(_place(line, len(tables) > 1), picks) for line, picks in read]
        for (line, _), there in zip(read, doubles.sort(placed, number), strict=True):
            taken = [record for record, _ in there.alike] if take_alike else []
            records.extend([*there.fresh, *taken])
            twice += len(there.twice)
            alike += 0 if take_alike else len(there.alike)
            lines.append(_settled(line, there, take_alike))
    _say_unmet(asked, names, headings, paths, findings)
    words = asked.reader.words
    words = {c: word for c, word in words.items() if c not in at_home.typed} | at_home.words
    with crops_said_as(words):
        notices = findings.notices
    return Preview(
        files=tuple(file.name for file in paths),
        picks=picks_frame(records),
        lines=pd.DataFrame(lines, columns=_LINES),
        columns=pd.DataFrame(headings, columns=["file", "sheet", "heading", "taken_for"]),
        problems=findings.problems,
        notices=notices,
        date_order=next(iter(hints)) if len(hints) == 1 else None,
        twice=twice,
        alike=alike,
        crop_words=words,
    )


def _year(said: int | str | None) -> int | YearsOf | None:
    return said if said is None else years_in(str(said)) or int(said)


_AND = re.compile(r"\s*(?:[&+/,;]|\b(?:and|und|et|y|en)\b)\s*", re.IGNORECASE)
_Lines = Sequence[tuple[dict[str, Any], list[dict[str, Any]]]]


def _read(tables: Sequence[Table], asked: Asked, findings: Findings) -> Iterator[TableRead]:
    """Yield the plain tables of a file; beside a log, a sheet of another kind is left out."""
    found = []
    said = {year for table in tables if (year := year_said(table)) is not None}
    lent = next(iter(said)) if len(said) == 1 else None
    for table in tables:
        for block in blocks_of(table, asked.columns):
            own = Findings()
            found.append((table, read_lines(block, asked, own, lent), own))
    for table, read, own in found:
        findings.sheet = table.sheet if len(tables) > 1 else ""
        if read.is_log or not any(other.is_log for _, other, _ in found):
            findings.extend(own)
        else:
            findings.notice("sheet.no_log", table.file, None, "", table.sheet)
            for line, _ in read.lines:
                line.update(became="left out", meaning="the sheet is no pick log")
        yield read
    findings.sheet = ""


def _say_two_varieties(read: _Lines, planted: Mapping[str, Sequence[str]]) -> None:
    """Read a pick of two varieties in one cell as one of the crop, with both in its note.

    Two names are meant where each is planted, or stands alone on another line of the file; with a
    plus or a stroke between them, where one of them is.
    """
    known = {variety_key(name) for names in planted.values() for name in names}
    for _, records in read:
        known |= {variety_key(r["variety"]) for r in records if not _AND.search(r["variety"])}
    for line, records in read:
        for record in records:
            parts = [variety_key(part) for part in _AND.split(record["variety"]) if part]
            # "Salt & Straw" may be one name; a plus or a stroke beside a known one divides two.
            stroke = re.search(r"[+/]", record["variety"]) and known.intersection(parts)
            if len(parts) > 1 and (stroke or known.issuperset(parts)):
                record["note"] = "; ".join(filter(None, (record["variety"], record["note"])))
                record["variety"] = UNNAMED
                line["meaning"] += "; several varieties together, kept as the crop's without one"


def _named(
    columns: Mapping[str, str],
    aliases: Mapping[str, str],
    planted: Mapping[str, Sequence[str]],
) -> dict[str, str]:
    """Return what each heading, in small letters, was said to mean.

    Raises
    ------
    harvestcast.errors.InputError
        Where what it is said to hold is not known.
    """
    findings = Findings()
    for heading, means in columns.items():
        crop = name_of(means.casefold(), means, aliases, planted)
        if means != NOTHING and field_of(means, PICK_FIELDS) is None and crop is None:
            place = (TYPED, None, "column", f"{heading}={means}")
            findings.problem("column.no_meaning", *place, means=means, known=[*COLUMNS_SAID])
    if findings.problems:
        raise InputError(findings.problems)
    return {" ".join(heading.casefold().split()): means for heading, means in columns.items()}


def _say_unmet(
    asked: Asked,
    names: Collection[str],
    headings: Sequence[Mapping[str, Any]],
    paths: Sequence[Path],
    findings: Findings,
) -> None:
    """Say the columns that were named by the caller and stand in no file."""
    for heading in asked.columns:
        if heading not in names and headings:
            known = dict.fromkeys(str(row["heading"]) for row in headings if row["heading"])
            have = ", ".join(known)[:200]
            findings.problem("column.absent", paths[0].name, None, "", heading, headings=have)


def _place(line: Mapping[str, Any], sheets: bool) -> str:
    sheet = f", sheet {line['sheet']}" if sheets and line["sheet"] else ""
    return f"line {line['line']} of {line['file']}{sheet}"


def _settled(line: dict[str, Any], found: Sorted, take_alike: bool) -> dict[str, Any]:
    """Return a line of the preview with what is known already taken off."""
    if not found.twice and not found.alike:
        return line
    said = [line["meaning"]]
    if found.twice:
        said.append(f"already in {', '.join(dict.fromkeys(found.twice))}")
    places = ", ".join(dict.fromkeys(place for _, place in found.alike))
    if places:
        said.append(
            f"{'taken in beside' if take_alike else 'most likely the basket of'} {places}"
            f"{'' if take_alike else '; left out'}"
        )
    left_out = bool(found.twice) or (bool(found.alike) and not take_alike)
    became = line["became"]
    if left_out:
        kept = found.fresh or (found.alike and take_alike)
        became = "in part" if kept else "alike" if found.alike and not take_alike else "twice"
    return {**line, "became": became, "meaning": "; ".join(filter(None, said))}


def _tables(file: Path, findings: Findings, contents: dict[str, str]) -> Sequence[Any]:
    if file.suffix.casefold() in _NO_TABLES:
        findings.problem("file.no_table", file.name, None, "", "", ending=file.suffix)
        return ()
    try:
        mark = hashlib.sha256(read_bytes(file)).hexdigest()
        if mark in contents:
            findings.notice("file.twice", file.name, None, "", "", first=contents[mark])
        contents.setdefault(mark, file.name)
        tables = read_tables(file, hidden=True)
    except InputError as error:
        findings.take(error.problems)
        return ()
    if not tables:
        findings.problem("file.without_table", file.name, None, "", "")
    return tables
