"""Write what a preview understood into a garden folder."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from harvestcast.errors import InputError
from harvestcast.records.checks.twice import Doubles, standing
from harvestcast.records.importing.preview import Preview
from harvestcast.records.logs.folder import household_reader
from harvestcast.records.logs.picks import read_picks
from harvestcast.records.settings import read_household
from harvestcast.records.tables.findings import Findings, refuse
from harvestcast.records.tables.rows import CropReader
from harvestcast.records.tables.text import TextShape, parse_text
from harvestcast.records.typed.varieties import UNNAMED
from harvestcast.records.writing.add import Note, fingerprint, finished, read_notes, write_notes
from harvestcast.records.writing.one_pick import PICK_HEADINGS, line_of, number_text, safe_text
from harvestcast.records.writing.safely import folder_lock, replace_file
from harvestcast.units import KG
from harvestcast.words.crops import crop_word, crops_said_as
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
    if not path.is_dir():
        raise refuse("folder.missing", path.name)
    if preview.problems and not leave_out_unread:
        raise InputError(preview.problems)
    findings = Findings()
    household = read_household(path, findings)
    if findings.problems:
        raise InputError(findings.problems)
    picks = preview.picks
    plain = picks.astype(object).where(picks.notna(), None)
    records = [{str(k): v for k, v in record.items()} for record in plain.to_dict("records")]
    unread = int(preview.lines["became"].isin(["not read"]).sum())
    with folder_lock(path):
        doubles = Doubles()
        doubles.learn(standing(path, household, household_reader(household, findings)))
        # One by one would call the second of two equal picks of one line a double. The preview has
        # settled what is merely like a pick that stands there.
        found = doubles.sort([("", records)])[0]
        fresh = found.fresh + [record for record, _ in found.alike]
        known = preview.twice + len(found.twice)
        counts = {"twice": known, "alike": preview.alike, "not_read": unread}
        if not fresh:
            return Imported(file="", picks=0, **counts)
        heading = PICK_HEADINGS[household.units]
        text = line_of(heading, TextShape())
        with crops_said_as(preview.crop_words):
            for record in fresh:
                text += line_of(_cells(record, heading), TextShape())
        content = text.encode("utf-8")
        _try_reading(content, fresh)
        target = _free_name(path, preview.files[0])
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


def _cells(record: dict[str, object], heading: tuple[str, ...]) -> list[str]:
    unit = "lb" if "weight_lb" in heading else "kg"
    said = {
        "date": str(record["date"])[:10],
        "crop": safe_text(crop_word(record["crop"])),
        "variety": "" if record["variety"] == UNNAMED else safe_text(str(record["variety"])),
        "count": _number(record["count"]),
        f"weight_{unit}": _number(record["mass_kg"], KG[unit]),
        "grade": "" if record["grade"] == "good" else str(record["grade"]),
        "bed": safe_text(str(record["bed"] or "")),
        "hours": _number(record["hours"]),
        "note": safe_text(str(record["note"] or "")),
    }
    if record["count"] == 0:
        said[f"weight_{unit}"] = ""
    return [said[name] for name in heading]


def _number(value: object, unit: float = 1.0) -> str:
    return "" if value is None else number_text(float(str(value)) / unit)


def _free_name(folder: Path, first: str) -> Path:
    stem = re.sub(r"[^\w-]+", "-", Path(first).stem).strip("-")[:60] or "log"
    names = [f"picks-from-{stem}{'' if n == 0 else f'-{n}'}.csv" for n in range(1000)]
    return next(folder / name for name in names if not (folder / name).exists())


def _try_reading(content: bytes, records: list[dict[str, object]]) -> None:
    """Read the new file before it is put in place: every pick must come back as it was."""
    table = parse_text(content, "picks.csv")
    findings = Findings()
    frame = read_picks([table], findings, CropReader(findings, {}))
    weighed = [float(str(r["mass_kg"])) for r in records if r["mass_kg"] is not None]
    counted = [float(str(r["count"])) for r in records if r["count"] is not None]
    same = (
        len(frame) == len(records)
        and not findings.problems
        and abs(frame["mass_kg"].sum() - sum(weighed)) <= 1e-4 * max(len(weighed), 1)
        and abs(frame["count"].sum() - sum(counted)) <= 1e-4 * max(len(counted), 1)
        and pd.Series([str(r["date"])[:10] for r in records]).sort_values().to_list()
        == frame["date"].dt.strftime("%Y-%m-%d").sort_values().to_list()
    )
    if not same:
        raise InputError([*findings.problems, *refuse("import.changed", "picks").problems])
