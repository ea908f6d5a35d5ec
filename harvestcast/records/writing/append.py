"""Add lines to a pick log in its own hand, and only where they read back as they were meant."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from harvestcast.errors import InputError
from harvestcast.records.checks.amounts import (
    MOST_KG,
    far_count,
    far_weight,
    fruit_range,
    quantile,
)
from harvestcast.records.household import Household
from harvestcast.records.logs.folder import aliases_of, files_named, household_reader
from harvestcast.records.logs.picks import pick_records
from harvestcast.records.messages import Remark
from harvestcast.records.seasons import Seasons, seasons_of
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import PICK_FIELDS, find_fields
from harvestcast.records.tables.rows import CropReader, RowReader, year_of_name
from harvestcast.records.tables.text import Table, TextShape, parse_text, read_bytes
from harvestcast.records.typed.crops import canonical_crop, crop_key, tidy_name
from harvestcast.records.typed.varieties import UNNAMED, variety_key
from harvestcast.records.writing.one_pick import PickLine, cells_of, line_of

_OFTEN = 5
"""Picks of a crop that were all weighed and never counted, from which on a count is asked about."""


def logs_for(folder: Path, year: int) -> list[Path]:
    """Return the text logs a pick of that year may go to, the best first."""
    found = files_named(folder, "picks", (".csv", ".tsv"))
    own = [path for path in found if year_of_name(path.name) == year]
    common = [path for path in found if year_of_name(path.name) is None]
    own.sort(key=lambda p: (len(p.name), p.name))
    return own + (common if len(common) == 1 or not own else [])


def newest_year(folder: Path) -> int:
    """Return the latest year that a log of the folder is named after; 0 where there is none."""
    found = files_named(folder, "picks", (".csv", ".tsv"))
    return max((year_of_name(path.name) or 0 for path in found), default=0)


def earlier_season(day: dt.date, newest: dt.date | None, seasons: Seasons) -> list[Remark]:
    """Say that a pick of a season goes behind a log that goes on in a later one.

    Examples
    --------
    >>> str(earlier_season(dt.date(2025, 7, 2), dt.date(2026, 6, 30), Seasons())[0])
    '2025 is an earlier season, the log goes on in 2026; check the year, --undo takes it back'
    >>> earlier_season(dt.date(2025, 12, 2), dt.date(2026, 1, 5), Seasons(hemisphere="south"))
    []
    """
    if newest is None or seasons.of(day) >= seasons.of(newest):
        return []
    labels = [seasons.label(seasons.of(one)) for one in (day, newest)]
    return [Remark("log.earlier_season", {"year": labels[0], "newest": labels[1]})]


def free_name(folder: Path, year: int, more: bool) -> str:
    """Return the name of a new log: picks-2026.csv, or one beside those that do not fit."""
    names = [f"picks-{year}.csv"] if not more else []
    names += [f"picks-{year}-added{n or ''}.csv" for n in range(100)]
    return next((name for name in names if not (folder / name).exists()), names[-1])


RECENT = 60
"""Lines before the new one that say in which season the log goes on."""


def picks_of_crops(
    folder: Path, household: Household, crops: Collection[str], reader: CropReader
) -> list[dict[str, Any]]:
    """Return the picks of some crops in all text logs of a folder, as records.

    Lines that cannot be read are left out; the check of the folder says them. ``reader`` learns
    what the crops are called there.
    """
    aliases = aliases_of(household)
    means: dict[str, bool] = {}

    def wanted(typed: str) -> bool:
        if typed not in means:
            means[typed] = (canonical_crop(typed, aliases) or tidy_name(typed)) in crops
        return means[typed]

    found: list[dict[str, Any]] = []
    for path in files_named(folder, "picks", (".csv", ".tsv")):
        try:
            table = parse_text(read_bytes(path), path.name)
        except InputError:
            continue
        column = find_fields(table, PICK_FIELDS, Findings(), say=False).get("crop")
        if column:
            n = column[0].index
            rows = tuple(row for row in table.rows if n < len(row[1]) and wanted(row[1][n]))
            found += _read(replace(table, rows=rows), household, reader=reader)
    return found


def compose(
    content: bytes,
    file: str,
    household: Household,
    picks: Sequence[PickLine],
    newest: int,
    earlier: Sequence[Mapping[str, Any]] = (),
) -> tuple[tuple[str, ...], tuple[str, bytes], list[Remark]]:
    """Return the lines for the picks, what is to be added to the file, and remarks.

    The addition is tried by reading the file as it would be. ``newest`` is the year that the
    folder's logs go on in, as far as their names tell; ``earlier`` are the picks of the crop so
    far.

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
    recent = _read(table, household, last=RECENT)
    days = [dt.date.fromisoformat(str(row["date"])[:10]) for row in recent]
    days += [dt.date(newest, 1, 1)] if newest else []
    remarks = unusual(picks, earlier, household.units)
    seasons = seasons_of(household)
    remarks += earlier_season(picks[0].date, max(days, default=None), seasons)
    for pick in picks:
        if pick.inferred and "variety" not in places:
            pick = replace(pick, variety="")  # the reader of the log infers it likewise
        apart = _apart(pick, table, household)
        if apart.note != pick.note:
            remarks.append(Remark("log.second_basket", {"note": apart.note}))
        pick = apart
        rows = RowReader(
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
    must_read_back(content + added, table, household, kept)
    return tuple(line.rstrip("\r\n") for line in lines), (text, added), remarks


def unusual(
    picks: Sequence[PickLine], earlier: Sequence[Mapping[str, Any]], units: str
) -> list[Remark]:
    """Say amounts that can hardly be meant, beside earlier picks and what one fruit weighs.

    Examples
    --------
    >>> pick = PickLine(date=dt.date(2026, 7, 5), crop="cucumber", mass_kg=5200.0)
    >>> str(unusual([pick], [], "metric")[0])
    '5,200 kg of cucumber is more than any household picks in a day; check the unit'
    """
    remarks: list[Remark] = []
    for pick in picks:
        before = [r for r in earlier if r["crop"] == pick.crop]
        low, high = fruit_range().get(pick.crop, (0.0, 100.0))
        if pick.count and pick.mass_kg and not low <= pick.mass_kg / pick.count <= high:
            each = {"crop": pick.crop, "kg": pick.mass_kg / pick.count, "units": units}
            remarks.append(Remark("typed.fruit", each))
            continue
        if pick.mass_kg and pick.mass_kg > MOST_KG:
            whole = {"crop": pick.crop, "kg": pick.mass_kg, "units": units}
            remarks.append(Remark("typed.too_much", whole))
            continue
        counts = sorted(float(r["count"]) for r in before if r["count"])
        kg = sorted(float(r["mass_kg"]) for r in before if r["mass_kg"])
        if pick.count and far_count(pick.count, counts):
            remarks.append(Remark("typed.far_count", {"crop": pick.crop, "most": counts[-1]}))
        elif pick.count and not pick.mass_kg and not counts and len(kg) >= _OFTEN:
            remarks.append(Remark("typed.first_count", {"crop": pick.crop, "count": pick.count}))
        elif pick.mass_kg and not pick.count:
            far = far_weight(pick.mass_kg, kg, low)
            if far:
                usual = quantile(kg, 0.5) if kg else low
                facts = {"crop": pick.crop, "far": far, "usual_kg": usual, "alone": not kg}
                remarks.append(Remark("typed.far_weight", {**facts, "units": units}))
    return remarks


def _apart(pick: PickLine, table: Table, household: Household) -> PickLine:
    """Return the pick with a note that tells it from an equal one of the same day."""
    same = _read(table, household, day=pick.date)
    notes = set()
    variety = variety_key(pick.variety)
    for old in same:
        if (
            old["crop"] == pick.crop
            and (old["variety"] == UNNAMED or variety_key(str(old["variety"])) == variety)
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
    table: Table,
    household: Household,
    day: dt.date | None = None,
    last: int | None = None,
    reader: CropReader | None = None,
) -> list[dict[str, object]]:
    """Return the picks of one day, or of the last lines, of a log; unreadable ones left out."""
    places = find_fields(table, PICK_FIELDS, Findings(), say=False)
    rows = table.rows[-last:] if last else table.rows
    if day is not None:
        dated = RowReader(table, places, Findings(), order=household.date_order)
        rows = tuple((r.line, r.cells) for r in dated if r.date() == day)
    few = replace(table, rows=rows)
    findings = Findings()
    reader = reader or household_reader(household, findings)
    return pick_records([few], findings, reader, order=household.date_order)


def _close(one: object, other: float | None) -> bool:
    if one is None or other is None:
        return one is None and other is None
    return abs(float(str(one)) - other) <= 1e-4 + 1e-4 * abs(other)


def must_read_back(
    content: bytes, old: Table, household: Household, picks: Sequence[PickLine]
) -> None:
    """Read the file as it would be; refuse it unless the new lines say what was meant.

    Raises
    ------
    LookupError
        Where they do not.
    """
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
            and crop_key(str(old_pick["crop"])) == crop_key(pick.crop)
            # By key: marks that no spreadsheet may run, or nobody sees, are not written down.
            and variety_key(str(old_pick["variety"])) == variety_key(pick.variety or UNNAMED)
            and old_pick["grade"] == pick.grade
            and _close(old_pick["count"], pick.count)
            and _close(old_pick["mass_kg"], pick.mass_kg)
        )
        if not same:
            raise LookupError(old.file)
