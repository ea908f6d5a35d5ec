"""The garden folder: everything that was written down, checked and frozen."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pandas as pd

from harvestcast.errors import InputError, Problem
from harvestcast.frames import NOTICES, PANTRY, PICKS, PLANTINGS, WEATHER, FrameSpec, check_frame
from harvestcast.records.household import Household
from harvestcast.records.logs.reading import read_folder
from harvestcast.records.seasons import Seasons, seasons_of


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Garden:
    """One garden: its frames, its settings, and what was odd in its files.

    Attributes
    ----------
    folder : pathlib.Path or None
        Folder it was read from; None where it was built from frames.
    household : Household
        Settings.
    picks, plantings, weather, pantry : pandas.DataFrame
        Frames of :mod:`harvestcast.frames`; every access gives a copy.
    notices : pandas.DataFrame
        NOTICES frame: what was odd in the files and what was done about it. What only the almanac
        and the kitchen can judge comes with it in :func:`harvestcast.report.check.odd_things`
        (``harvestcast.odd_things``), the list of the check.
    name : str
        Name of the garden, for reports.
    """

    folder: Path | None
    household: Household
    picks: pd.DataFrame
    plantings: pd.DataFrame
    weather: pd.DataFrame
    pantry: pd.DataFrame
    notices: pd.DataFrame
    name: str = ""

    def __getattribute__(self, name: str) -> Any:
        # Frames leave as copies, so that nobody can change a garden behind another's back.
        value = object.__getattribute__(self, name)
        return value.copy() if isinstance(value, pd.DataFrame) else value

    def __repr__(self) -> str:
        last = self.last_day
        return (
            f"Garden({self.name!r}, {len(self.picks)} picks, {len(self.plantings)} plantings, "
            f"last day {'unknown' if last is None else last.date()})"
        )

    @property
    def last_day(self) -> pd.Timestamp | None:
        """Last day in the pick log or pantry book; without either, of the weather record."""
        weather = object.__getattribute__(self, "weather")
        record = weather.loc[weather["kind"] != "forecast", "date"]
        logs = [object.__getattribute__(self, n)["date"] for n in ("picks", "pantry")]
        lasts = [days.max() for days in logs if len(days)]
        if not lasts and len(record):
            lasts = [record.max()]
        return max(lasts) if lasts else None

    @property
    def seasons(self) -> Seasons:
        """How the garden's seasons lie in the calendar: by latitude, hemisphere or weather."""
        return seasons_of(self.household, object.__getattribute__(self, "weather"))


def open_garden(folder: str | Path, *, today: str | dt.date | None = None) -> Garden:
    """Read and check a garden folder.

    Parameters
    ----------
    folder : str or pathlib.Path
        Folder with ``garden.toml``, ``plantings.csv``, ``picks*.csv``, ``weather*.csv`` and
        ``pantry.csv``.
    today : str or datetime.date, optional
        Day that counts as today when dates in the future are looked for; left out: by the
        clock.

    Returns
    -------
    Garden
        Frozen; ``notices`` says what was odd.

    Raises
    ------
    harvestcast.errors.InputError
        With every problem of every file.
    """
    garden, problems = _open(folder, today)
    if problems:
        raise InputError(problems)
    return garden


def check_garden(
    folder: str | Path, *, today: str | dt.date | None = None
) -> tuple[tuple[Problem, ...], pd.DataFrame]:
    """Return every problem of a garden folder, and its notices; raises nothing for bad input."""
    garden, problems = _open(folder, today)
    return problems, garden.notices


def _open(folder: str | Path, today: str | dt.date | None) -> tuple[Garden, tuple[Problem, ...]]:
    path = Path(folder)
    day = pd.Timestamp(today if today is not None else dt.date.today()).normalize()
    parts, findings = read_folder(path, day)
    garden = Garden(folder=path, name=path.resolve().name, notices=findings.notices, **parts)
    return garden, findings.problems


def garden_from_frames(
    household: Household | None = None,
    picks: pd.DataFrame | None = None,
    plantings: pd.DataFrame | None = None,
    weather: pd.DataFrame | None = None,
    pantry: pd.DataFrame | None = None,
    *,
    name: str = "",
) -> Garden:
    """Return a garden built from frames, without files.

    Parameters
    ----------
    household : Household, optional
        Settings; left out: the ordinary ones.
    picks, plantings, weather, pantry : pandas.DataFrame, optional
        Frames with canonical crop names. Columns that may be empty can be left out; so can
        variety ('unnamed'), grade ('good') and the kind of weather ('observed').
    name : str
        Name of the garden.

    Raises
    ------
    harvestcast.errors.FrameError
        Where a frame breaks its specification.

    Examples
    --------
    >>> days = pd.date_range("2026-07-01", periods=3)
    >>> picks = pd.DataFrame({"date": days, "crop": "cucumber", "count": [4, 0, 7]})
    >>> garden_from_frames(picks=picks, name="trial").last_day
    Timestamp('2026-07-03 00:00:00')
    """
    given = {"picks": picks, "plantings": plantings, "weather": weather, "pantry": pantry}
    specs = {"picks": PICKS, "plantings": PLANTINGS, "weather": WEATHER, "pantry": PANTRY}
    frames = {key: _completed(given[key], spec) for key, spec in specs.items()}
    return Garden(
        folder=None,
        household=household if household is not None else Household(),
        notices=NOTICES.empty(),
        name=name,
        **frames,
    )


_USUAL = {"variety": "unnamed", "grade": "good", "kind": "observed"}


@cache
def _dtypes(spec: FrameSpec) -> dict[str, Any]:
    return dict(spec.empty().dtypes)


def _completed(frame: pd.DataFrame | None, spec: FrameSpec) -> pd.DataFrame:
    if frame is None:
        return spec.empty()
    extra = {}
    for column in spec.columns:
        if column.name in frame.columns or (column.required and column.name not in _USUAL):
            continue
        if column.name in _USUAL:
            extra[column.name] = pd.Series(_USUAL[column.name], frame.index, dtype="string")
        else:
            extra[column.name] = pd.Series(index=frame.index, dtype=_dtypes(spec)[column.name])
    whole = check_frame(frame.assign(**extra) if extra else frame, spec)
    if spec.name == "plantings" or whole["date"].is_monotonic_increasing:
        return whole
    return whole.sort_values("date", kind="stable").reset_index(drop=True)
