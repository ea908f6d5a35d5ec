"""Write what a preview understood into a garden folder."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from harvestcast.errors import InputError
from harvestcast.records.checks.twice import Doubles, standing
from harvestcast.records.household import Household
from harvestcast.records.importing.preview import Preview
from harvestcast.records.logs.folder import household_reader
from harvestcast.records.settings import settings_of
from harvestcast.records.tables.findings import Findings, refuse
from harvestcast.records.tables.headings import PICK_FIELDS, find_fields
from harvestcast.records.tables.rows import RowReader
from harvestcast.records.tables.text import TextShape, parse_text
from harvestcast.records.typed.varieties import UNNAMED
from harvestcast.records.writing.add import Note, fingerprint, finished, read_notes, write_notes
from harvestcast.records.writing.append import must_read_back
from harvestcast.records.writing.one_pick import PICK_HEADINGS, PickLine, cells_of, line_of
from harvestcast.records.writing.safely import folder_lock, replace_file
from harvestcast.words.crops import crops_said_as
from harvestcast.words.numbers import plural


@dataclass(frozen=True, slots=True, kw_only=True)
class Imported:
    """What was taken over.

    Attributes
    ----------
    file : str
        New file in the folder; empty where there was nothing new.
    picks : int
        Picks written.
    twice : int
        Picks left out because they stand in the folder, or on an earlier line, already.
    alike : int
        Picks left out because they agree with one that stands there in all but note or bed.
    not_read : int
        Lines of the files that could not be read and were left out.
    """

    file: str
    picks: int
    twice: int
    alike: int
    not_read: int


def import_into(
    folder: str | Path, preview: Preview, *, leave_out_unread: bool = False
) -> Imported:
    """Write the picks of a preview to a new file of the folder.

    Parameters
    ----------
    folder : str or pathlib.Path
        Garden folder.
    preview : Preview
        As :func:`harvestcast.records.importing.preview.read_foreign` gave it.
    leave_out_unread : bool
        Write what was understood although some lines were not.

    Returns
    -------
    Imported
        File and counts; ``entry.undo_last`` takes it back. Picks that stand in the folder are not
        written again; no file that stands there is touched.

    Raises
    ------
    harvestcast.errors.InputError
        Where the preview has problems and they are not to be left out, or the folder cannot
        be written to; nothing is written then.
    """
    path = Path(folder)
    household = settings_of(path)
    if preview.problems and not leave_out_unread:
        raise InputError(preview.problems)
    picks = preview.picks
    plain = picks.astype(object).where(picks.notna(), None)
    records = [{str(k): v for k, v in record.items()} for record in plain.to_dict("records")]
    unread = int(preview.lines["became"].isin(["not read"]).sum())
    with folder_lock(path):
        doubles = Doubles()
        doubles.learn(standing(path, household, household_reader(household, Findings())))
        # One by one would call the second of two equal picks of one line a double. The preview has
        # settled what is merely like a pick that stands there.
        found = doubles.sort([("", records)])[0]
        fresh = found.fresh + [record for record, _ in found.alike]
        known = preview.twice + len(found.twice)
        counts = {"twice": known, "alike": preview.alike, "not_read": unread}
        if not fresh:
            return Imported(file="", picks=0, **counts)
        target = _free_name(path, preview.files[0])
        lines = [_pick_line(record, household.units) for record in fresh]
        with crops_said_as(preview.crop_words):
            content = _log_of(lines, household, target.name)
        note = Note(
            file=target.name,
            added="",
            before="",
            after=fingerprint(content),
            says=f"{plural(len(fresh), 'pick')} from {', '.join(preview.files)}"[:200],
            whole="yes",
        )
        write_notes(path, [*finished(read_notes(path), path), note])
        replace_file(target, content)
    return Imported(file=target.name, picks=len(fresh), **counts)


def _pick_line(record: Mapping[str, Any], units: str) -> PickLine:
    return PickLine(
        date=record["date"].date(),
        crop=record["crop"],
        variety="" if record["variety"] == UNNAMED else record["variety"],
        bed=record["bed"] or "",
        count=record["count"],
        mass_kg=record["mass_kg"],
        unit="lb" if units == "us" else "kg",
        grade=record["grade"],
        hours=record["hours"],
        note=record["note"] or "",
    )


def _log_of(picks: Sequence[PickLine], household: Household, file: str) -> bytes:
    """Return a new log of picks, tried by reading it: every pick must come back as it was."""
    content = line_of(PICK_HEADINGS[household.units], TextShape()).encode()
    table = parse_text(content, file)
    places = find_fields(table, PICK_FIELDS, Findings(), say=False)
    rows = RowReader(table, places, Findings())
    cells = [cells_of(pick, places, rows, len(table.heading)) or [] for pick in picks]
    content += "".join(line_of(one, TextShape()) for one in cells).encode()
    try:
        must_read_back(content, table, household, picks)
    except LookupError:
        raise refuse("import.changed", "picks") from None
    return content


def _free_name(folder: Path, first: str) -> Path:
    stem = re.sub(r"[^\w-]+", "-", Path(first).stem).strip("-")[:60] or "log"
    names = [f"picks-from-{stem}{'' if n == 0 else f'-{n}'}.csv" for n in range(1000)]
    return next(folder / name for name in names if not (folder / name).exists())
