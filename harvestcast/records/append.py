"""Add lines to a pick log in its own hand, and only where they read back as they were meant."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from harvestcast.records.findings import Findings
from harvestcast.records.folder import aliases_of, files_named
from harvestcast.records.hand import PickLine, cells_of, line_of
from harvestcast.records.headings import PICK_FIELDS, find_fields
from harvestcast.records.household import Household
from harvestcast.records.picks import UNNAMED, pick_records
from harvestcast.records.rows import Rows, crop_reader, year_of_name
from harvestcast.records.tables import Table, TextShape, parse_text


def logs_for(folder: Path, year: int) -> list[Path]:
    """Return the text logs a pick of that year may go to, the best first."""
    found = files_named(folder, "picks", (".csv", ".tsv"))
    own = [path for path in found if year_of_name(path.name) == year]
    common = [path for path in found if year_of_name(path.name) is None]
    own.sort(key=lambda p: (len(p.name), p.name))
    return own + (common if len(common) == 1 or not own else [])


def free_name(folder: Path, year: int, more: bool) -> str:
    """Return the name of a new log: picks-2026.csv, or one beside those that do not fit."""
    names = [f"picks-{year}.csv"] if not more else []
    names += [f"picks-{year}-added{n or ''}.csv" for n in range(100)]
    return next((name for name in names if not (folder / name).exists()), names[-1])


def compose(
    content: bytes, file: str, household: Household, picks: Sequence[PickLine]
) -> tuple[tuple[str, ...], tuple[str, bytes]]:
    """Return the lines for the picks and what is to be added to the file, tried by reading it.

    Raises
    ------
    LookupError
        Where the file has no column for part of a pick, or would not read back the same.
    """
    table = parse_text(content, file)
    shape = table.shape or TextShape()
    places = find_fields(table, PICK_FIELDS, Findings(), say=False)
    if not {"date", "crop"} <= set(places):
        raise LookupError(file)
    lines = []
    kept = []
    for pick in picks:
        if pick.inferred and "variety" not in places:
            pick = replace(pick, variety="")  # the reader of the log infers it likewise
        pick = _apart(pick, table, household)
        rows = Rows(
            table,
            places,
            Findings(),
            order=household.date_order,
            number_fields=("count", "mass", "amount"),
        )
        cells = cells_of(pick, places, rows, len(table.heading))
        if cells is None:
            raise LookupError(file)
        lines.append(line_of(cells, shape))
        kept.append(pick)
    text = ("" if shape.closed else shape.newline) + "".join(lines)
    added = text.encode(shape.encoding)
    _try_reading(content + added, table, household, kept)
    return tuple(line.rstrip("\r\n") for line in lines), (text, added)


def _apart(pick: PickLine, table: Table, household: Household) -> PickLine:
    """Return the pick with a note that tells it from an equal one of the same day."""
    same = _read(table, household, day=pick.date)
    notes = set()
    for old in same:
        if (
            old["crop"] == pick.crop
            and old["variety"] in (pick.variety or UNNAMED, UNNAMED)
            and (old["grade"], old["bed"] or "") == (pick.grade, pick.bed)
            and _close(old["count"], pick.count)
            and _close(old["mass_kg"], pick.mass_kg)
        ):
            notes.add(old["note"] or "")
    note, basket = pick.note, 2
    while note in notes:
        note = f"{pick.note}; basket {basket}".removeprefix("; ")
        basket += 1
    return replace(pick, note=note)


def _read(
    table: Table, household: Household, day: dt.date | None = None, last: int | None = None
) -> list[dict[str, object]]:
    """Return the picks of one day, or of the last lines, of a log; unreadable ones left out."""
    places = find_fields(table, PICK_FIELDS, Findings(), say=False)
    rows = table.rows[-last:] if last else table.rows
    if day is not None:
        dated = Rows(table, places, Findings(), order=household.date_order)
        rows = tuple((r.line, r.cells) for r in dated if r.date() == day)
    few = replace(table, rows=rows)
    findings = Findings()
    reader = crop_reader(findings, aliases_of(household), list(household.crops))
    return pick_records([few], findings, reader, order=household.date_order)


def _close(one: object, other: float | None) -> bool:
    if one is None or other is None:
        return one is None and other is None
    return abs(float(str(one)) - other) <= 1e-4 + 1e-4 * abs(other)


def _try_reading(
    content: bytes, old: Table, household: Household, picks: Sequence[PickLine]
) -> None:
    """Read the file as it would be; refuse it unless the new lines say what was meant."""
    table = parse_text(content, old.file)
    added = len(table.rows) - len(old.rows)
    if added != len(picks) or table.heading != old.heading or table.rows[:-added] != old.rows:
        raise LookupError(old.file)
    found = _read(table, household, last=added)
    if len(found) != len(picks):
        raise LookupError(old.file)
    for old_pick, pick in zip(found, picks, strict=True):
        same = (
            str(old_pick["date"])[:10] == pick.date.isoformat()
            and old_pick["crop"] == pick.crop
            and old_pick["variety"] == (pick.variety or UNNAMED)
            and old_pick["grade"] == pick.grade
            and _close(old_pick["count"], pick.count)
            and _close(old_pick["mass_kg"], pick.mass_kg)
        )
        if not same:
            raise LookupError(old.file)
