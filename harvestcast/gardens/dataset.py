"""Many gardens in a Parquet dataset.

    <root>/gardens/part=00017/rows.parquet      garden, settings (JSON), station
    <root>/picks/part=00017/rows.parquet        garden and the columns of PICKS
    <root>/plantings/part=00017/rows.parquet    garden and the columns of PLANTINGS
    <root>/pantry/part=00017/rows.parquet       garden and the columns of PANTRY (optional)
    <root>/weather/part=00017/rows.parquet      garden and the columns of WEATHER, or
    <root>/weather/station=NAME/rows.parquet    weather that gardens share (GARDENS.station)

Folders named ``garden=NAME`` in place of ``part=...``, as other tools write them, are read too.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import numpy as np
import pandas as pd

from harvestcast.errors import FrameError, InputError
from harvestcast.frames import NOTICES, PANTRY, PICKS, PLANTINGS, WEATHER, FrameSpec, check_frame
from harvestcast.frames.gardens_tables import GARDENS
from harvestcast.gardens.needs import needed
from harvestcast.gardens.parquet import parquet_bytes, read_parquet
from harvestcast.gardens.sources import PER_SHARE, Opener, Share, bucket, buckets_for
from harvestcast.records.garden import Garden, garden_in_own_terms
from harvestcast.records.household import Household
from harvestcast.records.writing.safely import replace_file

TABLES: dict[str, FrameSpec] = {
    "picks": PICKS,
    "plantings": PLANTINGS,
    "weather": WEATHER,
    "pantry": PANTRY,
}
_NO_NOTICES = NOTICES.empty()
_STATIONS_KEPT = 512
"""Stations whose weather a process keeps: ten years take about 0.2 MB each."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class GardenTables:
    """Tables of many gardens.

    Parameters
    ----------
    gardens : DataFrame
        GARDENS; columns that may be empty can be left out.
    picks, plantings : DataFrame
        As PICKS and PLANTINGS, with a column ``garden``; canonical crop names.
    weather : DataFrame
        As WEATHER, with a column ``garden``, a column ``station``, or both (one empty).
    pantry : DataFrame, optional
        As PANTRY, with a column ``garden``.
    """

    gardens: pd.DataFrame
    picks: pd.DataFrame
    plantings: pd.DataFrame
    weather: pd.DataFrame
    pantry: pd.DataFrame | None = None


def write_dataset(
    root: str | Path, tables: GardenTables, *, per_share: int = PER_SHARE
) -> list[Share]:
    """Write the tables of many gardens as a Parquet dataset.

    Parameters
    ----------
    root : path
        Folder to write; new or empty.
    tables : GardenTables
        What to write. Rows are not checked here: a garden with a bad row is named when it is
        worked on, and stops no other.
    per_share : int
        Gardens in a share at most, on average.

    Returns
    -------
    list of Share
        The shares, as :func:`dataset_shares` finds them.

    Raises
    ------
    InputError
        Where the folder holds anything, or a table names a garden that ``gardens`` does not.
    FrameError
        Where ``gardens`` breaks its specification.
    """
    folder = Path(root)
    if folder.exists() and any(folder.iterdir()):
        raise InputError.one(folder, "holds something already", "Name a new or empty folder.")
    gardens = check_frame(_with_empty(tables.gardens, GARDENS), GARDENS)
    given = {name: getattr(tables, name) for name in TABLES if getattr(tables, name) is not None}
    weather = given["weather"]
    if "station" in weather:
        shared = weather[weather["station"].notna()]
        for station, rows in shared.groupby("station", sort=True):
            _write(folder / "weather" / f"station={quote(str(station), safe='')}", rows)
        given["weather"] = weather[weather["station"].isna()].drop(columns="station")
    number = buckets_for(len(gardens), per_share)
    part_of = {name: bucket(name, number) for name in gardens["garden"]}
    for name, table in {"gardens": gardens, **given}.items():
        if table.empty and "garden" not in table:
            continue
        at = table["garden"].map(part_of)
        if at.isna().any():
            strange = sorted(set(table.loc[at.isna(), "garden"].astype(str)))[:5]
            raise InputError.one(
                folder,
                f"{name} has rows of gardens that the table of gardens does not name: {strange}",
                "Add them to the table of gardens.",
            )
        ordered = table.iloc[np.lexsort((table["garden"].astype(str), at))]
        for part, rows in ordered.groupby(at.reindex(ordered.index).to_numpy(), sort=True):
            _write(folder / name / f"part={int(str(part)):05d}", rows)
    return dataset_shares(folder, per_share)


def _write(folder: Path, rows: pd.DataFrame) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    replace_file(folder / "rows.parquet", parquet_bytes(rows))


def dataset_shares(root: str | Path, per_share: int = PER_SHARE) -> list[Share]:
    """Return the shares of a dataset.

    Parameters
    ----------
    root : path
        Folder of the dataset.
    per_share : int
        Gardens in a share at most, on average, where the dataset has a folder for every garden;
        otherwise its own parts are the shares.

    Raises
    ------
    InputError
        Where the folder holds no dataset.
    """
    folder = Path(root).resolve()
    found = sorted(p.name for p in folder.glob("gardens/*=*") if p.is_dir())
    parts = [name for name in found if name.startswith("part=")]
    single = [name for name in found if name.startswith("garden=")]
    if not found or (parts and single):
        raise InputError.one(
            folder,
            "holds no dataset of gardens",
            "It needs a folder gardens/ with folders part=... or garden=... inside.",
        )
    groups: dict[str, list[str]] = {name.removeprefix("part="): [name] for name in parts}
    number = buckets_for(len(single), per_share)
    for name in single:
        place = bucket(unquote(name.removeprefix("garden=")), number)
        groups.setdefault(f"{place:05d}", []).append(name)
    return [
        ParquetShare(label=f"part-{key}", root=folder, folders=tuple(sorted(names)))
        for key, names in sorted(groups.items())
    ]


@dataclass(frozen=True, slots=True, kw_only=True)
class ParquetShare:
    """Gardens of a dataset.

    Parameters
    ----------
    label : str
    root : Path
        Folder of the dataset.
    folders : tuple of str
        Names of the folders (``part=...``, ``garden=...``) that hold its rows.
    only : tuple of str, optional
        Gardens wanted; left out: all of them.
    """

    label: str
    root: Path
    folders: tuple[str, ...]
    only: tuple[str, ...] | None = None

    @property
    def size(self) -> int:
        """How many gardens it holds."""
        if self.only is not None:
            return len(self.only)
        read = needed("pyarrow.parquet").read_metadata
        try:
            return sum(int(read(path).num_rows) for path in self._files("gardens"))
        except (OSError, ValueError):  # a broken file; what is broken is said when it is loaded
            return 1

    def names(self) -> list[str]:
        """Return the names of its gardens."""
        return [str(name) for name in self._gardens()["garden"]]

    def fingerprint(self, today: str) -> str:
        """Return a hash of every file it reads."""
        total = hashlib.sha256(repr(self.only).encode())
        for name in ("gardens", *TABLES):
            for path in self._files(name):
                total.update(f"{name}/{path.parent.name}/{path.name}\0".encode())
                total.update(hashlib.sha256(path.read_bytes()).digest())
        try:
            stations = sorted(set(self._gardens()["station"].dropna()))
        except (OSError, ValueError, FrameError):  # broken: its bytes are in the hash already
            stations = []
        for station in stations:
            for path in _station_files(self.root, str(station)):
                total.update(_hash_of(path, path.stat().st_mtime_ns, path.stat().st_size))
        return total.hexdigest()

    def load(self, today: str) -> list[tuple[str, Opener]]:
        """Return every garden's name and what opens it."""
        gardens = self._gardens()
        names = gardens["garden"].tolist()
        tables = {name: self._table(name, names) for name in TABLES}
        try:
            checked = {name: _checked(table, name) for name, table in tables.items()}
            whole = True
        except (FrameError, TypeError, ValueError, KeyError):
            checked, whole = tables, False  # a bad row somewhere: each garden is checked by itself
        rows = {name: _rows_of(table) for name, table in checked.items()}
        return [
            (
                str(garden.garden),
                _Rows(
                    name=str(garden.garden),
                    settings=garden.settings,
                    station=str(garden.station) if isinstance(garden.station, str) else None,
                    root=self.root,
                    tables={name: rows[name](str(garden.garden)) for name in TABLES},
                    checked=whole,
                ),
            )
            for garden in gardens.itertuples()
        ]

    def split(self) -> list[Share]:
        """Return shares of one garden each."""
        return [
            replace(self, label=f"{self.label}.{place:04d}", only=(name,))
            for place, name in enumerate(self.names())
        ]

    def _files(self, table: str) -> list[Path]:
        return [
            path
            for folder in self.folders
            for path in sorted((self.root / table / folder).glob("*.parquet"))
        ]

    def _gardens(self) -> pd.DataFrame:
        found = check_frame(_with_empty(self._table("gardens", None), GARDENS), GARDENS)
        if self.only is not None:
            found = found[found["garden"].isin(self.only)]
        return found.sort_values("garden").reset_index(drop=True)

    def _table(self, table: str, names: list[str] | None) -> pd.DataFrame:
        parts = []
        for path in self._files(table):
            rows = read_parquet(path)
            if "garden" not in rows and path.parent.name.startswith("garden="):
                rows["garden"] = unquote(path.parent.name.removeprefix("garden="))
            parts.append(rows)
        if not parts:
            spec = GARDENS if table == "gardens" else TABLES[table]
            return spec.empty().assign(garden=pd.Series(dtype="string"))
        whole = parts[0] if len(parts) == 1 else pd.concat(parts, ignore_index=True)
        if names is not None and self.only is not None:
            whole = whole[whole["garden"].isin(names)]
        return whole.reset_index(drop=True)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Rows:
    """What one garden of a dataset is made of."""

    name: str
    settings: Any
    station: str | None
    root: Path
    tables: dict[str, pd.DataFrame]
    checked: bool

    def __call__(self) -> Garden:
        household = _household(self.name, self.settings)
        tables: dict[str, Any] = dict(self.tables)
        if self.station is not None:
            tables["weather"] = _station(self.root, self.station)
        if not self.checked:
            plain = {key: frame.drop(columns="garden", errors="ignore") for key, frame in
                     tables.items()}  # fmt: skip
            return garden_in_own_terms(household, **plain, name=self.name)
        return Garden(
            folder=None,
            household=household,
            notices=_NO_NOTICES,
            name=self.name,
            **tables,
        )


def _household(name: str, settings: Any) -> Household:
    if settings is None or pd.isna(settings):
        return Household()
    try:
        return Household.model_validate(json.loads(settings))
    except ValueError as error:  # pydantic's and json's are both
        raise InputError.one(
            name,
            f"the settings cannot be used: {error}",
            "Write them as in garden.toml, as one JSON object.",
            column="settings",
        ) from None


def _checked(table: pd.DataFrame, name: str) -> pd.DataFrame:
    """Return the rows of many gardens checked as one table, with their gardens."""
    if name != "plantings" and not table["date"].is_monotonic_increasing:
        table = table.sort_values("date", kind="stable").reset_index(drop=True)
    tables: dict[str, Any] = {name: table.drop(columns="garden")}
    frame: pd.DataFrame = getattr(garden_in_own_terms(**tables), name)
    return frame.assign(garden=table["garden"].to_numpy())


def _rows_of(table: pd.DataFrame) -> Callable[[str], pd.DataFrame]:
    """Return what finds the rows of a garden, in their order."""
    places = table.groupby("garden", sort=False).indices
    bare = table.drop(columns="garden")
    none = bare.iloc[:0]

    def rows(garden: str) -> pd.DataFrame:
        if garden not in places:
            return none
        return bare.iloc[places[garden]].reset_index(drop=True)

    return rows


def _with_empty(frame: pd.DataFrame, spec: FrameSpec) -> pd.DataFrame:
    absent = {c.name: None for c in spec.columns if not c.required and c.name not in frame}
    return frame.assign(**absent) if absent else frame


def _station_files(root: Path, station: str) -> list[Path]:
    return sorted((root / "weather" / f"station={quote(station, safe='')}").glob("*.parquet"))


@lru_cache(maxsize=_STATIONS_KEPT)
def _hash_of(path: Path, changed: int, size: int) -> bytes:
    return hashlib.sha256(path.read_bytes()).digest()


def _station(root: Path, station: str) -> pd.DataFrame:
    files = _station_files(root, station)
    if not files:
        raise InputError.one(
            root / "weather",
            f"there is no weather station {station!r}",
            "Add its weather, or name another station in the table of gardens.",
        )
    return _station_rows(tuple((path, path.stat().st_mtime_ns) for path in files))


@lru_cache(maxsize=_STATIONS_KEPT)
def _station_rows(files: tuple[tuple[Path, int], ...]) -> pd.DataFrame:
    whole = pd.concat([read_parquet(path) for path, _ in files], ignore_index=True)
    whole = whole.drop(columns=["station", "garden"], errors="ignore")
    return garden_in_own_terms(weather=whole).weather
