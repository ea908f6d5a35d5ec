"""Tell a pick that was written down before, in whatever file and unit."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pandas as pd

from harvestcast.records.household import Household
from harvestcast.records.logs.folder import TABLE_KINDS, files_named, tables_of
from harvestcast.records.logs.picks import pick_records
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.rows import CropReader
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.varieties import variety_key

NEAR_KG = 5e-4
"""Two weights closer than this are one weight, written in two units."""
_SAME = ("crop", "count", "grade")


def _known(value: Any) -> bool:
    return value is not None and not (isinstance(value, float) and pd.isna(value))


def _plain(value: Any) -> Any:
    if not _known(value):
        return None
    if isinstance(value, int | float):
        return round(float(value), 3)
    return " ".join(str(value).casefold().split())


def _key(record: Mapping[str, Any]) -> tuple[Any, ...]:
    variety = variety_key(str(record["variety"]))
    return (str(record["date"])[:10], variety, *(_plain(record.get(name)) for name in _SAME))


@dataclass(slots=True)
class _Met:
    """A pick met before: where it stands, and whether a pick of another source answers to it."""

    mass: float | None
    bed: str | None
    note: str | None
    place: str
    source: int
    answered: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Sorted:
    """The picks of one line: those that are new, where equal ones stand, which are most likely so.

    ``alike`` holds each pick that agrees with one of another source in all but note or bed, and
    the place of that one in words.
    """

    fresh: list[dict[str, Any]] = field(default_factory=list)
    twice: list[str] = field(default_factory=list)
    alike: list[tuple[dict[str, Any], str]] = field(default_factory=list)


class Doubles:
    """The picks met so far; lives only while files are compared.

    A pick is written down twice where date, crop, variety, amounts, grade, bed and note agree. Of
    two sources (the log, a file) a remark or the bed often stands in one only: where all else
    agrees it is most likely one basket, and neither is decided unasked. Within one source rows
    that differ in bed or note are two baskets, as the log itself is read.
    """

    def __init__(self) -> None:
        self._met: dict[tuple[Any, ...], list[_Met]] = {}

    def learn(self, records: Iterable[Mapping[str, Any]], place: str = "", source: int = 0) -> None:
        """Take up picks that stand in a place; without one, in a line and file of the garden."""
        for record in records:
            where = place or f"line {record['line']} of the garden's {record['file']}"
            self._met.setdefault(_key(record), []).append(_of(record, where, source))

    def sort(
        self, lines: Sequence[tuple[str, Sequence[dict[str, Any]]]], source: int = 1
    ) -> list[Sorted]:
        """Return which picks of each line of a source are new; learn the new ones.

        Each line comes with its place in words. Two equal picks on one line were both meant; they
        are compared with earlier lines only.
        """
        found = []
        for place, records in lines:
            here = Sorted()
            for record in records:
                same = next((met for met in self._near(record) if _equal(met, record)), None)
                if same is None:
                    here.fresh.append(record)
                else:
                    here.twice.append(same.place)
                    same.answered |= same.source < source
            self.learn(here.fresh, place, source)
            found.append(here)
        # Only now: what a row answers to exactly is not to be taken by another that is merely like.
        return [self._without_alike(here, source) for here in found]

    def _without_alike(self, here: Sorted, source: int) -> Sorted:
        fresh, alike = [], []
        for record in here.fresh:
            for met in self._near(record, partly=True):
                if met.source < source and not met.answered and _one_bed(met, record):
                    met.answered = True
                    alike.append((record, f"{met.place}, {_differs(met, record)}"))
                    break
            else:
                fresh.append(record)
        return Sorted(fresh=fresh, twice=here.twice, alike=alike)

    def _near(self, record: Mapping[str, Any], *, partly: bool = False) -> list[_Met]:
        """Return the picks met that agree in all but bed and note.

        ``partly`` takes those too of which one was only counted and the other weighed as well.
        """
        mass = record.get("mass_kg")
        known = _known(mass)
        counted = partly and _known(record.get("count"))
        near = []
        for met in self._met.get(_key(record), ()):
            both = met.mass is not None and known
            close = both and abs((met.mass or 0.0) - float(mass or 0.0)) < NEAR_KG
            if close or (not both and (counted or (met.mass is None and not known))):
                near.append(met)
        return near


def _of(record: Mapping[str, Any], place: str, source: int) -> _Met:
    mass = record.get("mass_kg")
    return _Met(
        mass=float(mass) if mass is not None and _known(mass) else None,
        bed=_plain(record.get("bed")),
        note=_plain(record.get("note")),
        place=place,
        source=source,
    )


def _equal(met: _Met, record: Mapping[str, Any]) -> bool:
    return (met.bed, met.note) == (_plain(record.get("bed")), _plain(record.get("note")))


def _one_bed(met: _Met, record: Mapping[str, Any]) -> bool:
    bed = _plain(record.get("bed"))
    return bed is None or met.bed is None or bed == met.bed


def _differs(met: _Met, record: Mapping[str, Any]) -> str:
    """Say in what a pick differs from one it is like."""
    said = []
    for name, there in (("note", met.note), ("bed", met.bed)):
        here = _plain(record.get(name))
        if here != there:
            said.append(f"{'another' if here and there else 'a' if there else 'no'} {name}")
    if _known(record.get("mass_kg")) != (met.mass is not None):
        said.append("a weight" if met.mass is not None else "no weight")
    return f"which has {' and '.join(said)}"


def standing(folder: Path, household: Household, reader: CropReader) -> list[dict[str, Any]]:
    """Return the picks that stand in a folder; lines that cannot be read are left out.

    ``reader`` learns what the crops are called there.
    """
    tables: list[Table] = []
    for path in files_named(folder, "picks", TABLE_KINDS):
        tables += tables_of(path, Findings())  # what cannot be read is said by the check
    return pick_records(tables, Findings(), reader, order=household.date_order)
