"""Read the files of a garden folder into frames, collecting every problem on the way."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.errors import InputError
from harvestcast.frames import PANTRY, PICKS, PLANTINGS, WEATHER
from harvestcast.records.agreement import settle_log
from harvestcast.records.crops import canonical_crop, tidy_name
from harvestcast.records.findings import Findings
from harvestcast.records.headings import PICK_FIELDS, find_fields
from harvestcast.records.household import Household
from harvestcast.records.pantry import read_pantry
from harvestcast.records.picks import UNNAMED, read_picks
from harvestcast.records.plantings import read_plantings
from harvestcast.records.rows import Rows, crop_reader
from harvestcast.records.settings import read_household
from harvestcast.records.stations import read_station, station_form
from harvestcast.records.tables import Table, parse_text, read_bytes
from harvestcast.records.weather import join_weather, read_weather_table
from harvestcast.records.workbooks import SHEET_KINDS, main_table, read_tables

_KINDS = (".csv", ".tsv", ".xlsx", ".ods")
_WEATHER_KINDS = (*_KINDS, ".dly", ".gz")
_CLOSE_KINDS = (".xls", ".numbers", ".txt", ".doc", ".docx", ".pdf", ".json")


def read_folder(folder: Path, today: pd.Timestamp) -> tuple[dict[str, Any], Findings]:
    """Return household, picks, plantings, weather and pantry of a folder, and the findings."""
    findings = Findings()
    if not folder.is_dir():
        rule = "is a file, not a folder" if folder.exists() else "there is no such folder"
        findings.problem(
            folder.name, None, "", "", rule, "Name the folder that holds garden.toml and the log."
        )
        return _parts(Household()), findings
    household = read_household(folder, findings)
    order = household.date_order
    read_crop = crop_reader(findings, aliases_of(household), list(household.crops))
    plantings = _plantings(folder, findings, read_crop, order)
    picks = _picks(folder, findings, read_crop, order)
    pantry = _pantry(folder, findings, order)
    picks, plantings = settle_log(picks, plantings, household, findings)
    logs = [frame["date"].max() for frame in (picks, pantry) if len(frame)]
    last_day = max(logs) if logs else None
    _future(picks, findings, today)
    _future(pantry, findings, today)
    weather = join_weather(
        _weather(folder, findings, order), findings, last_day=last_day, today=today
    )
    _say_absent(folder, weather, findings)
    return (
        _parts(household, picks=picks, plantings=plantings, weather=weather, pantry=pantry),
        findings,
    )


def _parts(household: Household, **frames: pd.DataFrame) -> dict[str, Any]:
    empty = {"picks": PICKS, "plantings": PLANTINGS, "weather": WEATHER, "pantry": PANTRY}
    return {
        "household": household,
        **{k: frames[k] if k in frames else spec.empty() for k, spec in empty.items()},
    }


def aliases_of(household: Household) -> dict[str, str]:
    """Return the household's own crop names: alias to canonical crop."""
    return {
        alias: canonical_crop(crop) or tidy_name(crop)
        for crop, settings in household.crops.items()
        for alias in settings.aliases
    }


def planted_varieties(folder: Path, household: Household) -> dict[str, list[str]]:
    """Return the varieties of every planted crop, the latest planted first.

    What is wrong in ``plantings.csv`` is left for the check of the folder.
    """
    findings = Findings()
    reader = crop_reader(findings, aliases_of(household), list(household.crops))
    frame = _plantings(folder, findings, reader, household.date_order)
    frame = frame.sort_values("date", ascending=False, kind="stable")
    planted: dict[str, list[str]] = {}
    for crop, variety in zip(frame["crop"], frame["variety"], strict=True):
        names = planted.setdefault(str(crop), [])
        if variety != UNNAMED and variety not in names:
            names.append(str(variety))
    return planted


def files_named(folder: Path, stem: str, kinds: Sequence[str]) -> list[Path]:
    """Return the files of a folder whose name starts with a word, in the order of their names."""
    return sorted(
        path
        for path in folder.iterdir()
        if path.name.casefold().startswith(stem)
        and path.suffix.casefold() in kinds
        and not path.name.startswith(("~", "."))
    )


def _tables(path: Path, findings: Findings) -> tuple[Table, ...]:
    try:
        return read_tables(path)
    except InputError as error:
        for p in error.problems:
            findings.problem(p.file, p.line, p.column, p.value, p.rule, p.cure)
        return ()


def _one(folder: Path, stem: str, findings: Findings) -> Table | None:
    """Return the table of a file that stands once in a folder."""
    found = files_named(folder, stem, _KINDS)
    for extra in found[1:]:
        findings.problem(
            extra.name,
            None,
            "",
            "",
            f"there are two files of {stem}: {found[0].name} too",
            "Put them together in one file.",
        )
    if not found:
        return None
    tables = _tables(found[0], findings)
    _say_other_sheets(tables, findings)
    table = main_table(tables, found[0].name)
    if tables and table.heading:
        return table
    if found[0].name not in {p.file for p in findings.problems}:
        _say_empty(found[0].name, findings)
    return None


def _say_empty(file: str, findings: Findings) -> None:
    findings.notice(file, None, "", "", "the file is empty", "nothing was read from it")


def _say_other_sheets(tables: Sequence[Table], findings: Findings) -> None:
    if len(tables) > 1:
        kept = main_table(tuple(tables), "")
        for table in tables:
            if table is not kept:
                findings.notice(
                    table.file,
                    None,
                    "",
                    table.sheet,
                    "the workbook has a further sheet",
                    f"only the sheet {kept.sheet} was read",
                )


def _plantings(
    folder: Path, findings: Findings, read_crop: Callable[[Rows], str | None], order: Any
) -> pd.DataFrame:
    table = _one(folder, "plantings", findings)
    if table is None:
        return PLANTINGS.empty()
    _say_skipped(table, findings)
    return read_plantings(table, findings, read_crop, order=order)


def _pantry(folder: Path, findings: Findings, order: Any) -> pd.DataFrame:
    table = _one(folder, "pantry", findings)
    if table is None:
        return PANTRY.empty()
    _say_skipped(table, findings)
    return read_pantry(table, findings, order=order)


def _picks(
    folder: Path, findings: Findings, read_crop: Callable[[Rows], str | None], order: Any
) -> pd.DataFrame:
    tables: list[Table] = []
    for path in files_named(folder, "picks", _KINDS):
        found = _tables(path, findings)
        if not any(table.heading for table in found):
            if path.name not in {p.file for p in findings.problems}:
                _say_empty(path.name, findings)
            continue
        # A workbook may hold a sheet a year; other sheets (a list, a chart) are said.
        logs = [t for t in found if _is_log(t)] or list(found[:1])
        for table in found:
            if table not in logs:
                findings.notice(
                    table.file,
                    None,
                    "",
                    table.sheet,
                    "the sheet is no pick log",
                    "it was not read",
                )
        for table in logs:
            _say_skipped(table, findings)
        tables.extend(logs)
    return read_picks(tables, findings, read_crop, order=order)


def _is_log(table: Table) -> bool:
    fields = find_fields(table, PICK_FIELDS, Findings(), say=False)
    return "date" in fields and "crop" in fields


def _weather(folder: Path, findings: Findings, order: Any) -> list[pd.DataFrame]:
    parts = []
    found = files_named(folder, "weather", _WEATHER_KINDS)
    # Forecast files go first: where a day stands in both, the forecast file is the newer word.
    for path in sorted(found, key=lambda p: "forecast" not in p.name.casefold()):
        ahead = "forecast" in path.name.casefold()
        try:
            if path.suffix.casefold() in SHEET_KINDS:
                tables = read_tables(path)
                _say_other_sheets(tables, findings)
                table = main_table(tables, path.name)
            else:
                content = read_bytes(path)
                form = station_form(content)
                if form is not None:
                    parts.append(read_station(content, path.name, form, findings))
                    continue
                table = parse_text(content, path.name)
        except InputError as error:
            for p in error.problems:
                findings.problem(p.file, p.line, p.column, p.value, p.rule, p.cure)
            continue
        _say_skipped(table, findings)
        if not table.heading:
            _say_empty(path.name, findings)
        else:
            parts.append(read_weather_table(table, findings, order=order, is_forecast=ahead))
    return parts


def _say_skipped(table: Table, findings: Findings) -> None:
    for line, text in table.skipped:
        findings.notice(
            table.file,
            line,
            "",
            text,
            "the line stands above the heading",
            "it was not read",
            kind="lines above the heading",
        )


def _future(frame: pd.DataFrame, findings: Findings, today: pd.Timestamp) -> None:
    """Say dates that lie ahead of the clock; far ones, apart from all others, are refused."""
    dates = np.sort(frame["date"].unique())
    late = frame[frame["date"] > today]
    # What counts is the last other date before it, or today where that is later.
    places = np.searchsorted(dates, late["date"].to_numpy()) - 1
    befores = [max(pd.Timestamp(dates[n]), today) if n >= 0 else today for n in places]
    for day, latest, file, line in zip(
        late["date"], befores, late["file"], late["line"], strict=True
    ):
        typed = str(day.date())
        if (day - latest).days > 366:
            findings.problem(
                str(file),
                int(line),
                "date",
                typed,
                "the date lies more than a year after today and every other date",
                "Mend the year.",
            )
        else:
            findings.notice(
                str(file),
                int(line),
                "date",
                typed,
                "the date lies after today, by this computer's clock",
                "kept as typed",
            )


def _say_absent(folder: Path, weather: pd.DataFrame, findings: Findings) -> None:
    for stem, means in (
        ("plantings", "no crop can be forecast from its planting"),
        ("picks", "the forecast rests on the usual course of each crop alone"),
        ("pantry", "the shelves are taken as empty"),
    ):
        if not files_named(folder, stem, _KINDS):
            findings.notice(f"{stem}.csv", None, "", "", "there is no such file", means)
    if not files_named(folder, "weather", _WEATHER_KINDS):
        findings.notice(
            "weather.csv", None, "", "", "there is no such file", "no forecast can be made"
        )
    for path in sorted(folder.iterdir()):
        close = path.name.casefold().startswith(("picks", "weather", "plantings", "pantry"))
        if close and path.suffix.casefold() in _CLOSE_KINDS:
            findings.notice(
                path.name,
                None,
                "",
                "",
                f"a file ending in {path.suffix} is not read here",
                "left out; save it as .csv or .xlsx",
            )
