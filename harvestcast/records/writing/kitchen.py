"""Write lines of the kitchen book, in the hand of the file, and only where they read back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from harvestcast.errors import InputError
from harvestcast.records.household import Household
from harvestcast.records.logs.folder import TABLE_KINDS, files_named
from harvestcast.records.logs.kitchen import NAME, read_kitchen
from harvestcast.records.messages import Remark
from harvestcast.records.tables.findings import Findings, refuse
from harvestcast.records.tables.headings import KITCHEN_FIELDS, find_fields
from harvestcast.records.tables.text import TextShape, parse_text, read_bytes
from harvestcast.records.writing.add import (
    Entry,
    Note,
    fingerprint,
    finished,
    read_notes,
    write_notes,
)
from harvestcast.records.writing.one_pick import line_of, number_text, safe_text
from harvestcast.records.writing.safely import folder_lock, replace_file
from harvestcast.units import KG

HEADINGS: dict[str, tuple[str, ...]] = {
    unit: ("date", "what", "item", "jar", "amount", f"produce_{mass}", "hours", "note")
    for unit, mass in (("metric", "kg"), ("us", "lb"))
}
"""Headings of a new kitchen book, in the household's units."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BookLine:
    """One line to be written: what was done with how much of what.

    ``amount`` carries its unit (``1.5 gal``); ``what`` is as people write it (``put up``).
    """

    date: dt.date
    what: str
    item: str
    amount: str
    jar: str = ""
    produce_kg: float | None = None
    hours: float | None = None
    note: str = ""


def write_lines(
    folder: str | Path,
    household: Household,
    lines: Sequence[BookLine],
    says: str,
    remarks: Sequence[Remark] = (),
) -> Entry:
    """Add lines to the kitchen book of a folder; the book is begun where there is none.

    Parameters
    ----------
    folder : path
        Garden folder.
    household : Household
        Settings: units of a new book, order of dates.
    lines : sequence of BookLine
        At least one.
    says : str
        The lines in words.
    remarks : sequence of Remark
        What was read otherwise than typed.

    Returns
    -------
    Entry
        ``harvestcast.records.writing.add.undo_last`` takes it back.

    Raises
    ------
    harvestcast.errors.InputError
        Where the book is a spreadsheet, lacks a column, or would not read back.
    """
    path = Path(folder)
    if not path.is_dir():
        raise refuse("folder.missing", path.name)
    with folder_lock(path):
        notes = finished(read_notes(path), path)
        found = files_named(path, NAME, TABLE_KINDS)
        file = found[0] if found else path / f"{NAME}csv"
        if file.suffix.casefold() not in (".csv", ".tsv"):
            raise refuse("kitchen.spreadsheet", file.name)
        heading = line_of(HEADINGS[household.units], TextShape()).encode()
        content = read_bytes(file) if file.exists() else heading
        text, added = _compose(content, file.name, household, lines)
        note = Note(
            file=file.name,
            added=text,
            before=fingerprint(content if file.exists() else None),
            after=fingerprint(content + added),
            says=says,
        )
        said = [*remarks, *([] if found else [Remark("log.begun", {"file": file.name})])]
        write_notes(path, [*notes, note])
        replace_file(file, content + added)
    return Entry(
        file=file.name, says=says, lines=tuple(text.strip().splitlines()), remarks=tuple(said)
    )


def _compose(
    content: bytes, file: str, household: Household, lines: Sequence[BookLine]
) -> tuple[str, bytes]:
    table = parse_text(content, file)
    shape = table.shape or TextShape()
    places = find_fields(table, KITCHEN_FIELDS, Findings(), say=False)
    comma = shape.delimiter == ";"
    rows = []
    for line in lines:
        produce = places.get("produce", ())
        unit = (produce[0].unit if produce else None) or "kg"
        said = {
            "date": line.date.isoformat(),
            "what": line.what,
            "item": safe_text(line.item),
            "amount": line.amount,
            "jar": safe_text(line.jar),
            "note": safe_text(line.note),
        }
        if line.produce_kg is not None:
            said["produce"] = number_text(line.produce_kg / KG[unit], comma)
        if line.hours is not None:
            minutes = bool(places.get("hours")) and places["hours"][0].unit == "min"
            said["hours"] = number_text(line.hours * (60 if minutes else 1), comma)
        cells = [""] * len(table.heading)
        for field, words in said.items():
            if words and field not in places:
                raise refuse("kitchen.no_column", file, None, "", "", file=file, column=field)
            if words:
                cells[places[field][0].index] = words
        rows.append(line_of(cells, shape))
    text = ("" if shape.closed else shape.newline) + "".join(rows)
    added = text.encode(shape.encoding)
    before, after = Findings(), Findings()
    read_kitchen(table, before, order=household.date_order)
    read_kitchen(parse_text(content + added, file), after, order=household.date_order)
    if len(after.problems) > len(before.problems):
        raise InputError(after.problems[len(before.problems) :])
    return text, added
