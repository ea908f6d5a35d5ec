"""Read the files of a garden folder into frames, collecting every problem on the way."""

from __future__ import annotations

import gzip
import zlib
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.errors import InputError
from harvestcast.frames import KITCHEN, PANTRY, PICKS, PLANTINGS, WEATHER
from harvestcast.records.checks.agreement import settle_log
from harvestcast.records.checks.season import say_season
from harvestcast.records.household import Household
from harvestcast.records.logs.folder import (
    TABLE_KINDS,
    files_named,
    household_reader,
    one_table,
    say_empty,
    say_other_sheets,
    tables_of,
)
from harvestcast.records.logs.kitchen import NAME, read_kitchen
from harvestcast.records.logs.pantry import read_pantry
from harvestcast.records.logs.picks import read_picks
from harvestcast.records.logs.plantings import read_plantings
from harvestcast.records.logs.stations import read_station, station_form
from harvestcast.records.logs.weather import join_weather, read_weather_table
from harvestcast.records.settings import read_household
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import PICK_FIELDS, find_fields
from harvestcast.records.tables.rows import CropReader
from harvestcast.records.tables.spreadsheets import SHEET_KINDS, main_table, read_tables
from harvestcast.records.tables.text import Table, parse_text, read_bytes
from harvestcast.words.crops import crops_said_as

_WEATHER_KINDS = (*TABLE_KINDS, ".dly", ".gz")
_STATION_KINDS = (".dly", ".csv", ".gz")
_CLOSE_KINDS = (".xls", ".numbers", ".txt", ".doc", ".docx", ".pdf", ".json")


def read_folder(
    folder: Path, today: pd.Timestamp, household: Household | None = None
) -> tuple[dict[str, Any], Findings]:
    """Return household, picks, plantings, weather and pantry of a folder, and the findings.

    A ``household`` given stands in for ``garden.toml``.
    """
    findings = Findings()
    if not folder.is_dir():
        code = "folder.is_file" if folder.exists() else "folder.missing"
        findings.problem(code, folder.name, None, "", "")
        return _parts(Household()), findings
    household = household or read_household(folder, findings)
    order = household.date_order
    read_crop = household_reader(household, findings)
    unread: set[str] = set()
    plantings = _plantings(folder, findings, read_crop, order, unread)
    picks = _picks(folder, findings, read_crop, order)
    pantry = _pantry(folder, findings, order)
    kitchen, preserves = _kitchen(folder, findings, order)
    if len(preserves):
        both = [frame for frame in (pantry, preserves) if len(frame)]
        pantry = pd.concat(both).sort_values("date", kind="stable").reset_index(drop=True)
    # A year that cannot be meant is said once, and nothing else is said of its line.
    picks, pantry, kitchen = (
        _without_far_ones(frame, findings, today) for frame in (picks, pantry, kitchen)
    )
    with crops_said_as(read_crop.words):
        picks, plantings = settle_log(picks, plantings, household, findings, unread)
    logs = [frame["date"].max() for frame in (picks, pantry, kitchen) if len(frame)]
    last_day = max(logs) if logs else None
    weather = join_weather(
        weather_of(_weather_files(folder), findings, order),
        findings,
        last_day=last_day,
        today=today,
    )
    say_season(household, weather, findings)
    _say_absent(folder, weather, findings)
    found = {"picks": picks, "plantings": plantings, "weather": weather, "pantry": pantry}
    return _parts(household, crop_words=read_crop.words, **found, kitchen=kitchen), findings


def _parts(household: Household, **read: Any) -> dict[str, Any]:
    specs = {"picks": PICKS, "plantings": PLANTINGS, "weather": WEATHER, "pantry": PANTRY}
    specs["kitchen"] = KITCHEN
    return {"household": household, **{k: spec.empty() for k, spec in specs.items()}, **read}


def _plantings(
    folder: Path,
    findings: Findings,
    read_crop: CropReader,
    order: Any,
    unread: set[str],
) -> pd.DataFrame:
    table = one_table(folder, "plantings", findings)
    if table is None:
        return PLANTINGS.empty()
    _say_skipped(table, findings)
    return read_plantings(table, findings, read_crop, order=order, unread=unread)


def _pantry(folder: Path, findings: Findings, order: Any) -> pd.DataFrame:
    table = one_table(folder, "pantry", findings)
    if table is None:
        return PANTRY.empty()
    _say_skipped(table, findings)
    return read_pantry(table, findings, order=order)


def _kitchen(folder: Path, findings: Findings, order: Any) -> tuple[pd.DataFrame, pd.DataFrame]:
    table = one_table(folder, NAME, findings)
    if table is None:
        return KITCHEN.empty(), PANTRY.empty()
    _say_skipped(table, findings)
    return read_kitchen(table, findings, order=order)


def _picks(folder: Path, findings: Findings, read_crop: CropReader, order: Any) -> pd.DataFrame:
    tables: list[Table] = []
    for path in files_named(folder, "picks", TABLE_KINDS):
        found = tables_of(path, findings)
        if not any(table.heading for table in found):
            if path.name not in {p.file for p in findings.problems}:
                say_empty(path.name, findings)
            continue
        # A workbook may hold a sheet a year; other sheets (a list, a chart) are said.
        logs = [t for t in found if _is_log(t)] or list(found[:1])
        for table in found:
            if table not in logs:
                findings.notice("sheet.no_log", table.file, None, "", table.sheet)
        for table in logs:
            _say_skipped(table, findings)
        tables.extend(logs)
    return read_picks(tables, findings, read_crop, order=order)


def _is_log(table: Table) -> bool:
    fields = find_fields(table, PICK_FIELDS, Findings(), say=False)
    return "date" in fields and "crop" in fields


def _weather_files(folder: Path) -> list[Path]:
    """Return the files named weather, and those of a station under whatever name they came."""
    named = files_named(folder, "weather", _WEATHER_KINDS)
    others = [path for path in files_named(folder, "", _STATION_KINDS) if path not in named]
    return sorted([*named, *(path for path in others if _of_a_station(path))])


def _of_a_station(path: Path) -> bool:
    try:
        with gzip.open(path) if path.suffix == ".gz" else path.open("rb") as file:
            return station_form(file.read(2000)) is not None
    except (OSError, EOFError, zlib.error):
        return False  # whoever reads it for what its name says has to say so


def weather_of(found: list[Path], findings: Findings, order: Any) -> list[pd.DataFrame]:
    """Return the weather of files, one frame each; what is wrong in them goes to ``findings``."""
    parts = []
    # Forecast files go first: where a day stands in both, the forecast file is the newer word.
    for path in sorted(found, key=lambda p: "forecast" not in p.name.casefold()):
        ahead = "forecast" in path.name.casefold()
        try:
            if path.suffix.casefold() in SHEET_KINDS:
                tables = read_tables(path)
                say_other_sheets(tables, findings)
                table = main_table(tables, path.name)
            else:
                content = read_bytes(path)
                form = station_form(content)
                if form is not None:
                    parts.append(read_station(content, path.name, form, findings))
                    continue
                table = parse_text(content, path.name)
        except InputError as error:
            findings.take(error.problems)
            continue
        _say_skipped(table, findings)
        if not table.heading:
            say_empty(path.name, findings)
        else:
            parts.append(read_weather_table(table, findings, order=order, is_forecast=ahead))
    return parts


def _say_skipped(table: Table, findings: Findings) -> None:
    for line, text in table.skipped:
        findings.notice("line.above", table.file, line, "", text)


def _without_far_ones(frame: pd.DataFrame, findings: Findings, today: pd.Timestamp) -> pd.DataFrame:
    """Say dates ahead of the clock; return the lines without far ones, which are refused."""
    dates = np.sort(frame["date"].unique())
    late = frame[frame["date"] > today]
    # What counts is the last other date before it, or today where that is later.
    places = np.searchsorted(dates, late["date"].to_numpy()) - 1
    befores = [max(pd.Timestamp(dates[n]), today) if n >= 0 else today for n in places]
    far = [(day - before).days > 366 for day, before in zip(late["date"], befores, strict=True)]
    for day, refused, file, line in zip(late["date"], far, late["file"], late["line"], strict=True):
        place = (str(file), int(line), "date", str(day.date()))
        if refused:
            findings.problem("date.far_ahead", *place)
        else:
            findings.notice("date.after_today", *place)
    return frame.drop(late.index[far]).reset_index(drop=True) if any(far) else frame


def _say_absent(folder: Path, weather: pd.DataFrame, findings: Findings) -> None:
    for stem in ("plantings", "picks", "pantry", "weather"):
        if stem == "pantry" and files_named(folder, NAME, TABLE_KINDS):
            continue
        if not (
            _weather_files(folder) if stem == "weather" else files_named(folder, stem, TABLE_KINDS)
        ):
            findings.notice("file.missing", f"{stem}.csv", None, "", "", stem=stem)
    for path in sorted(folder.iterdir()):
        close = path.name.casefold().startswith(("picks", "weather", "plantings", "pantry"))
        if close and path.suffix.casefold() in _CLOSE_KINDS:
            findings.notice("file.not_read", path.name, None, "", "", ending=path.suffix)
