"""Write down a pick in the words a person would type, and take the last one back.

The last entries are noted, so that one can be taken back. An entry is noted before its line is
written, with the fingerprint of the file before and after; a program killed in between leaves a
note that can be told from a finished one.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from harvestcast.errors import InputError
from harvestcast.records.household import Household
from harvestcast.records.logs.folder import aliases_of, household_reader, planted_varieties
from harvestcast.records.messages import Remark
from harvestcast.records.settings import read_household
from harvestcast.records.tables.findings import Findings, refuse
from harvestcast.records.tables.text import TextShape, parse_text, read_bytes
from harvestcast.records.typed.crops import one_word, same_name, tidy_name
from harvestcast.records.writing.append import (
    compose,
    free_name,
    logs_for,
    newest_year,
    picks_of_crops,
)
from harvestcast.records.writing.one_pick import PICK_HEADINGS, PickLine, line_of
from harvestcast.records.writing.phrase import understand
from harvestcast.records.writing.safely import cannot_write, folder_lock, replace_file
from harvestcast.units import KG
from harvestcast.words.crops import crop_word, crops_said_as
from harvestcast.words.numbers import short_number

ENTRIES = ".harvestcast-entries"
MOST_ENTRIES = 50
"""Entries that can be taken back, one after the other."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """What was written down, or taken back.

    Attributes
    ----------
    file : str
        File it stands in.
    says : str
        The entry in words.
    lines : tuple of str
        Lines as they stand in the file.
    picks : tuple of PickLine
        What was understood; empty for an entry taken back.
    remarks : tuple of Remark
        What was understood otherwise than typed; ``str`` makes a sentence of one.
    crop_words : mapping of str to str
        What the household calls its crops, to say the remarks with.
    """

    file: str
    says: str
    lines: tuple[str, ...]
    picks: tuple[PickLine, ...] = ()
    remarks: tuple[Remark, ...] = ()
    crop_words: Mapping[str, str] = field(default_factory=dict)


def add_pick(
    folder: str | Path,
    crop: str,
    amount: str | float = "",
    *,
    variety: str = "",
    on: str = "today",
    weight: str = "",
    oversize: str = "",
    damaged: str = "",
    grade: str = "good",
    bed: str = "",
    hours: str = "",
    note: str = "",
    new_crop: bool = False,
    today: dt.date | None = None,
) -> Entry:
    """Add a pick to the folder's log.

    Parameters
    ----------
    folder : str or pathlib.Path
        Garden folder.
    crop : str
        Crop, by any name.
    amount : str or float
        Count or weight as typed: ``34``, ``2 dozen``, ``3 lb 4 oz``, ``1/2 kg``, ``none``.
    variety : str
        Variety, or words of one that is planted.
    on : str
        Day: ``today``, ``yesterday``, ``monday``, ``3 days ago``, ``2026-07-05``.
    weight : str
        Weight with its unit, where the amount is a count.
    oversize, damaged : str
        Count or weight of fruit grown too big, or damaged, beside the amount.
    grade : str
        Grade of the amount: good, oversize or damaged.
    bed, note : str
        Bed and note.
    hours : str
        Time spent picking: ``0.5`` (hours) or ``20 min``.
    new_crop : bool
        Take a crop that is neither known nor planted, as typed.
    today : datetime.date, optional
        Today; left out: by the clock.

    Returns
    -------
    Entry
        What was written and where. Nothing else in the file changes. A file without a column
        for what was typed is left alone, and a further log is begun beside it.

    Raises
    ------
    harvestcast.errors.InputError
        With everything that could not be understood; nothing is written then.
    """
    path = Path(folder)
    findings = Findings()
    if not path.is_dir():
        raise refuse("folder.missing", path.name)
    household = read_household(path, findings)
    said = {
        "crop": crop,
        "amount": str(amount),
        "variety": variety,
        "on": on,
        "weight": str(weight),
        "oversize": str(oversize),
        "damaged": str(damaged),
        "grade": grade,
        "bed": bed,
        "hours": str(hours),
        "note": note,
    }
    reader = household_reader(household, Findings())
    planted = planted_varieties(path, household, reader)
    with crops_said_as(reader.words):
        picks, remarks = understand(
            said,
            household,
            aliases_of(household),
            planted,
            findings,
            today=today or dt.date.today(),
            new_crop=new_crop,
        )
    if findings.problems:
        raise InputError(findings.problems)
    with folder_lock(path):
        earlier = picks_of_crops(path, household, {picks[0].crop}, reader)
        words = reader.words
        if picks[0].crop not in reader.typed and not same_name(crop, picks[0].crop):
            words[picks[0].crop] = tidy_name(crop)  # the first pick names the crop
        else:
            # What the household always calls it needs no answer.
            own = one_word("", {crop: 1, words.get(picks[0].crop, ""): 1})
            remarks = tuple(r for r in remarks if not (own and r.code == "crop.read_as"))
        with crops_said_as(words):
            entry = _write(path, household, picks, remarks, earlier)
        return replace(entry, crop_words=reader.words)


def undo_last(folder: str | Path) -> Entry:
    """Take back the last entry that :func:`add_pick` wrote, or the last import.

    Raises
    ------
    harvestcast.errors.InputError
        Where there is none, or its line was changed since; nothing is written then.
    """
    path = Path(folder)
    if not path.is_dir():
        raise refuse("folder.missing", path.name)
    with folder_lock(path):
        notes = finished(read_notes(path), path)
        if not notes:
            raise refuse("entry.none", path.name)
        last = notes[-1]
        file = path / last.file
        if last.whole:
            return _remove(path, last, notes[:-1])
        content = read_bytes(file)
        shape = parse_text(content, last.file).shape or TextShape()
        added = last.added.encode(shape.encoding)
        place = _find_lines(content, added, shape)
        if place is None:
            raise refuse("entry.changed", last.file, None, "", last.says)
        replace_file(file, content[: place[0]] + content[place[1] :])
        write_notes(path, notes[:-1])
        return Entry(file=last.file, says=last.says, lines=tuple(last.added.strip().splitlines()))


def _remove(folder: Path, last: Note, before: Sequence[Note]) -> Entry:
    """Remove a file that was written whole, as long as nobody has changed it since."""
    file = folder / last.file
    content = read_bytes(file)
    if fingerprint(content) != last.after:
        raise refuse("entry.file_changed", last.file, None, "", last.says)
    try:
        file.unlink()
    except OSError as error:
        raise cannot_write(file.name, error) from None
    write_notes(folder, before)
    return Entry(file=last.file, says=last.says, lines=())


def _find_lines(content: bytes, added: bytes, shape: TextShape) -> tuple[int, int] | None:
    """Return start and stop of the last place where whole lines stand in a file."""
    if content.endswith(added):
        return len(content) - len(added), len(content)
    lines = added.lstrip(shape.newline.encode(shape.encoding))
    end = shape.newline.encode(shape.encoding)
    start = content.rfind(lines)
    while start > 0:
        # In UTF-16 a match may straddle two letters.
        whole = (start - len(shape.bom)) % len("a".encode(shape.encoding)) == 0
        if whole and content[:start].endswith(end):
            return start, start + len(lines)
        start = content.rfind(lines, 0, start)
    return None


def _write(
    folder: Path,
    household: Household,
    picks: Sequence[PickLine],
    remarks: Sequence[Remark],
    earlier: Sequence[Mapping[str, Any]],
) -> Entry:
    """Write picks to the log that fits; call with the folder's lock held.

    ``earlier`` are the picks of the crop so far.
    """
    year = picks[0].date.year
    notes = finished(read_notes(folder), folder)
    said = list(remarks)
    logs, newest = logs_for(folder, year), newest_year(folder)
    for path in [*logs, folder / free_name(folder, year, bool(logs))]:
        new = not path.exists()
        heading = line_of(PICK_HEADINGS[household.units], TextShape())
        try:
            content = heading.encode() if new else read_bytes(path)
            lines, added, odd = compose(content, path.name, household, picks, newest, earlier)
        except (InputError, UnicodeEncodeError, LookupError):
            said.append(Remark("log.passed_over", {"file": path.name}))
            continue
        before = None if new else content
        after = content + added[1]
        note = Note(
            file=path.name,
            added=added[0],
            before=fingerprint(before),
            after=fingerprint(after),
            says=says(picks, household.units),
        )
        write_notes(folder, [*notes, note])
        replace_file(path, after)
        said += odd
        if new:
            said.append(Remark("log.begun", {"file": path.name}))
        return Entry(
            file=path.name, says=note.says, lines=lines, picks=tuple(picks), remarks=tuple(said)
        )
    raise refuse("log.no_place", folder.name, None, "", says(picks, household.units))


def says(picks: Sequence[PickLine], units: str) -> str:
    """Return picks in words.

    Examples
    --------
    >>> pick = PickLine(date=dt.date(2026, 7, 5), crop="cucumber", count=34, mass_kg=2.5)
    >>> says([pick], "metric")
    'cucumber, 2026-07-05: 34, 2.5 kg'
    >>> pick = PickLine(date=dt.date(2026, 7, 5), crop="okra", count=3, bed="E2", hours=1 / 3)
    >>> says([pick], "metric")
    'okra, 2026-07-05: 3; bed E2; 20 min'
    """
    unit = "lb" if units == "us" else "kg"
    parts = []
    for pick in picks:
        amounts = []
        if pick.count is not None:
            amounts.append("none" if pick.count == 0 else f"{pick.count:g}")
        if pick.mass_kg:
            amounts.append(f"{short_number(pick.mass_kg / KG[unit])} {unit}")
        grade = "" if pick.grade == "good" else f" {pick.grade}"
        parts.append(", ".join(amounts) + grade)
    if picks[0].bed:
        parts.append(f"bed {picks[0].bed}")
    if picks[0].hours is not None:
        minutes = round(picks[0].hours * 60)
        parts.append(f"{minutes} min" if minutes < 60 else f"{short_number(picks[0].hours)} h")
    name = " ".join(filter(None, (crop_word(picks[0].crop), picks[0].variety)))
    return f"{name}, {picks[0].date.isoformat()}: {'; '.join(parts)}"


@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """One entry as noted: what was added to which file."""

    file: str
    added: str
    before: str
    after: str
    says: str
    whole: str = ""
    """Not empty where the whole file was written in one go, as an import does."""


def fingerprint(content: bytes | None) -> str:
    """Return the fingerprint of a file; empty where there was none."""
    return "" if content is None else hashlib.sha256(content).hexdigest()


def read_notes(folder: Path) -> list[Note]:
    """Return the notes of a folder, the last one last; none where they cannot be read."""
    notes: list[Note] = []
    with suppress(OSError, ValueError, TypeError):
        for item in json.loads((folder / ENTRIES).read_text("utf-8")):
            note = Note(**{key: str(value) for key, value in item.items()})
            # Only files of this very folder: a note from elsewhere must not reach outside it.
            if Path(note.file).name == note.file:
                notes.append(note)
    return notes


def write_notes(folder: Path, notes: Sequence[Note]) -> None:
    """Write the last notes of a folder; call with its lock held."""
    text = json.dumps(
        [asdict(note) for note in notes[-MOST_ENTRIES:]], ensure_ascii=False, indent=0
    )
    replace_file(folder / ENTRIES, text.encode("utf-8", "surrogatepass"))


def finished(notes: Sequence[Note], folder: Path) -> list[Note]:
    """Return the notes without a last one whose line was never written."""
    if notes:
        path = folder / notes[-1].file
        content = path.read_bytes() if path.is_file() else None
        if fingerprint(content) == notes[-1].before:
            return list(notes[:-1])
    return list(notes)
