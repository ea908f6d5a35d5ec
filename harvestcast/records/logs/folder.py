"""What stands in a garden folder: its files, its own crop names, what is planted.

Light on purpose: writing a pick down needs this much and no tables.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from harvestcast.errors import InputError
from harvestcast.records.household import Household
from harvestcast.records.logs.plantings import planting_records
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.rows import CropReader
from harvestcast.records.tables.spreadsheets import main_table, read_tables
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.crops import canonical_crop, tidy_name
from harvestcast.records.typed.varieties import UNNAMED, one_name_each

TABLE_KINDS = (".csv", ".tsv", ".xlsx", ".ods")
"""Endings of the files that hold tables."""


def files_named(folder: Path, stem: str, kinds: Sequence[str]) -> list[Path]:
    """Return the files of a folder whose name starts with a word, in the order of their names."""
    return sorted(
        path
        for path in folder.iterdir()
        if path.name.casefold().startswith(stem)
        and path.suffix.casefold() in kinds
        and not path.name.startswith(("~", "."))
    )


def aliases_of(household: Household) -> dict[str, str]:
    """Return the household's own crop names: alias to canonical crop."""
    return {
        alias: canonical_crop(crop) or tidy_name(crop)
        for crop, settings in household.crops.items()
        for alias in settings.aliases
    }


def kept_apart(household: Household, crop: str) -> tuple[str, ...]:
    """Return the names of a crop's varieties that are not to be read as another's."""
    return household.crops[crop].varieties_apart if crop in household.crops else ()


def household_reader(household: Household, findings: Findings) -> CropReader:
    """Return a reader of crops that knows the household's own names."""
    return CropReader(findings, aliases_of(household), list(household.crops))


def planted_varieties(
    folder: Path, household: Household, reader: CropReader
) -> dict[str, list[str]]:
    """Return the varieties of every planted crop, the latest planted first.

    What is wrong in ``plantings.csv`` is left for the check of the folder; ``reader`` learns what
    the crops are called there.
    """
    findings = Findings()
    table = one_table(folder, "plantings", findings)
    if table is None:
        return {}
    records = planting_records(table, findings, reader, order=household.date_order)
    records.sort(key=lambda record: record["date"] or dt.date.min, reverse=True)
    planted: dict[str, list[str]] = {}
    for record in records:
        planted.setdefault(record["crop"], []).append(record["variety"])
    return {
        crop: list(
            dict.fromkeys(
                n
                for n in one_name_each(names, [], apart=kept_apart(household, crop)).values()
                if n != UNNAMED
            )
        )
        for crop, names in planted.items()
    }


def tables_of(path: Path, findings: Findings) -> tuple[Table, ...]:
    """Return the tables of a file; what is wrong with it goes to ``findings``."""
    try:
        return read_tables(path)
    except InputError as error:
        findings.take(error.problems)
        return ()


def one_table(folder: Path, stem: str, findings: Findings) -> Table | None:
    """Return the table of a file that stands once in a folder."""
    found = files_named(folder, stem, TABLE_KINDS)
    for extra in found[1:]:
        findings.problem("file.two", extra.name, None, "", "", stem=stem, first=found[0].name)
    if not found:
        return None
    tables = tables_of(found[0], findings)
    say_other_sheets(tables, findings)
    table = main_table(tables, found[0].name)
    if tables and table.heading:
        return table
    if found[0].name not in {p.file for p in findings.problems}:
        say_empty(found[0].name, findings)
    return None


def say_empty(file: str, findings: Findings) -> None:
    """Say a file in which nothing is written."""
    findings.notice("file.empty", file, None, "", "")


def say_other_sheets(tables: Sequence[Table], findings: Findings) -> None:
    """Say the sheets of a workbook that are not read."""
    if len(tables) > 1:
        kept = main_table(tuple(tables), "")
        for table in tables:
            if table is not kept:
                findings.notice("sheet.further", table.file, None, "", table.sheet, read=kept.sheet)
