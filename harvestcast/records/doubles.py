"""Tell a pick that was written down before, in whatever file and unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import pandas as pd

from harvestcast.errors import InputError
from harvestcast.records.findings import Findings
from harvestcast.records.folder import aliases_of, files_named
from harvestcast.records.headings import PICK_FIELDS, find_fields
from harvestcast.records.household import Household
from harvestcast.records.picks import pick_row
from harvestcast.records.rows import Rows, crop_reader
from harvestcast.records.workbooks import read_tables

NEAR_KG = 5e-4
"""Two weights closer than this are one weight, written in two units."""
_SAME = ("date", "crop", "variety", "count", "grade", "note")
NUMBERS = ("count", "mass", "amount", "oversize", "damaged", "hours")


def _known(value: Any) -> bool:
    return value is not None and not (isinstance(value, float) and pd.isna(value))


def _key(record: Mapping[str, Any]) -> tuple[Any, ...]:
    key: list[Any] = []
    for name in _SAME:
        value = record.get(name)
        if not _known(value):
            key.append(None)
        elif name == "date":
            key.append(str(value)[:10])
        elif isinstance(value, int | float):
            key.append(round(float(value), 3))
        else:
            key.append(" ".join(str(value).casefold().split()))
    return tuple(key)


class Doubles:
    """The picks met so far; lives only while files are compared."""

    def __init__(self) -> None:
        self._met: dict[tuple[Any, ...], list[tuple[float | None, str]]] = {}

    def learn(self, records: Iterable[Mapping[str, Any]], place: str) -> None:
        """Take up picks that stand in a place."""
        for record in records:
            mass = record.get("mass_kg")
            self._met.setdefault(_key(record), []).append((mass if _known(mass) else None, place))

    def sort(self, records: Sequence[dict[str, Any]]) -> tuple[list[dict[str, Any]], list[str]]:
        """Return the picks that are new, and the places where the others stand; learn the new.

        Two equal picks on one line were both meant; they are compared with earlier lines only.
        """
        fresh, twice = [], []
        for record in records:
            place = self._place(record)
            if place is None:
                fresh.append(record)
            else:
                twice.append(place)
        for record in fresh:
            self.learn([record], f"line {record['line']} of {record['file']}")
        return fresh, twice

    def _place(self, record: Mapping[str, Any]) -> str | None:
        mass = record.get("mass_kg")
        for other, place in self._met.get(_key(record), ()):
            if (other is None) != (not _known(mass)):
                continue
            if other is None or abs(other - float(mass or 0.0)) < NEAR_KG:
                return place
        return None


def standing(folder: Path, household: Household) -> list[dict[str, Any]]:
    """Return the picks that stand in a folder; lines that cannot be read are left out."""
    findings = Findings()
    reader = crop_reader(findings, aliases_of(household), list(household.crops))
    found: list[dict[str, Any]] = []
    for path in files_named(folder, "picks", (".csv", ".tsv", ".xlsx", ".ods")):
        try:
            tables = read_tables(path)
        except InputError:
            continue  # said when the folder is checked
        for table in tables:
            places = find_fields(table, PICK_FIELDS, findings, say=False)
            if "date" in places and "crop" in places:
                rows = Rows(
                    table, places, findings, order=household.date_order, number_fields=NUMBERS
                )
                for row in rows:
                    found.extend(pick_row(row, reader))
    return found
