"""The garden folder: everything that was written down, checked and frozen."""

from __future__ import annotations

import datetime as dt
import os
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.errors import InputError, Problem
from harvestcast.frames import (
    KITCHEN,
    NOTICES,
    PANTRY,
    PICKS,
    PLANTINGS,
    WEATHER,
    FrameSpec,
    check_frame,
)
from harvestcast.records.household import Household
from harvestcast.records.logs.reading import read_folder
from harvestcast.records.seasons import Seasons, seasons_of
from harvestcast.records.settings import household_of
from harvestcast.records.tables.findings import Findings
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.results import Result
from harvestcast.words.crops import crops_said_as

if TYPE_CHECKING:
    from matplotlib.axes import Axes


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Garden(Result):
    """One garden: its frames, its settings, and what was odd in its files.

    Attributes
    ----------
    folder : pathlib.Path or None
        Folder it was read from; None where it was built from frames.
    household : Household
        Settings.
    picks, plantings, weather, pantry, kitchen : pandas.DataFrame
        Frames of :mod:`harvestcast.frames`; every access gives a copy. ``kitchen`` is the kitchen
        book without its preserves, which stand in ``pantry``.
    notices : pandas.DataFrame
        NOTICES frame: what was odd in the files and what was done about it. What only the almanac
        and the kitchen can judge comes with it in :func:`harvestcast.report.check.odd_things`
        (``harvestcast.odd_things``), the list of the check.
    name : str
        Name of the garden, for reports.
    crop_words : mapping of str to str
        What the household calls a crop, where its files have one other word for it than ours:
        ``{"chard": "silverbeet"}``. Frames hold the canonical names, sentences these words.
    """

    folder: Path | None
    household: Household
    picks: pd.DataFrame
    plantings: pd.DataFrame
    weather: pd.DataFrame
    pantry: pd.DataFrame
    notices: pd.DataFrame
    name: str = ""
    crop_words: Mapping[str, str] = field(default_factory=dict)
    kitchen: pd.DataFrame = field(default_factory=KITCHEN.empty)

    made_by = "harvestcast.open_garden(folder)"

    def _brief(self) -> str:
        last = self.last_day
        return (
            f"{self.name!r}, {len(self.picks)} picks, {len(self.plantings)} plantings, "
            f"last day {'unknown' if last is None else last.date()}"
        )

    def _table(self) -> pd.DataFrame:
        by_crop = self.picks.groupby("crop", observed=True)
        return by_crop.agg(
            first=("date", "min"), last=("date", "max"), days=("date", "nunique"),
            mass_kg=("mass_kg", "sum"), count=("count", "sum"),
        ).reset_index()  # fmt: skip

    def plot(self, crop: str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw the picks of the last twelve months, a row a crop or variety and a mark a week.

        Parameters
        ----------
        crop : str, optional
            Show the varieties of this crop; left out: all crops.
        ax : matplotlib.axes.Axes, optional
            Where to draw; left out: axes of their own.

        Returns
        -------
        matplotlib.axes.Axes

        Raises
        ------
        ValueError
            Where nothing (of the crop) was picked.
        """
        from harvestcast import figures

        picks = self.picks
        picks = picks[picks["date"] > picks["date"].max() - pd.Timedelta(days=365)]
        rows = "crop"
        if crop is not None:
            own = {word: name for name, word in self.crop_words.items()}
            named = own.get(crop) or canonical_crop(crop) or crop
            picks, rows = picks[picks["crop"] == named], "variety"
        if not len(picks):
            raise ValueError(
                f"no pick of {crop or 'any crop'} in the last twelve months of the log"
            )
        start = picks["date"] - pd.to_timedelta(picks["date"].dt.day_of_week, unit="D")
        # Marks are sized within their row, so that a row may be counted where it is not weighed.
        rows_of = picks.assign(start=start, variety=picks[rows].replace(dict(self.crop_words)))
        weeks = (
            rows_of.groupby(["variety", "start"])[["mass_kg", "count"]]
            .sum(min_count=1)
            .reset_index()
        )
        weighed = rows_of.groupby("variety")["mass_kg"].agg(lambda kg: kg.notna().mean())
        mostly = weeks["variety"].map(weighed) >= 0.5
        weeks["mass_kg"] = weeks["mass_kg"].where(mostly, weeks["count"])
        title = f"Picks of {crop}" if crop else "Picks"
        drawn = figures.pick_calendar(weeks, units=self.household.units, title=title, ax=ax)
        return figures.in_session(drawn, ax)

    @property
    def last_day(self) -> pd.Timestamp | None:
        """Last day in pick log, pantry or kitchen book; without these, of the weather record."""
        weather = object.__getattribute__(self, "weather")
        record = weather.loc[weather["kind"] != "forecast", "date"]
        logs = [object.__getattribute__(self, n)["date"] for n in ("picks", "pantry", "kitchen")]
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
        Folder with ``garden.toml``, ``plantings.csv``, ``picks*.csv``, ``weather*.csv``,
        ``pantry.csv`` and ``kitchen.csv``.
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
    garden = Garden(
        folder=path,
        name=Path(os.path.realpath(path)).name,
        notices=_notices(findings, parts),
        **parts,
    )
    return garden, findings.problems


def _notices(findings: Findings, parts: Mapping[str, Any]) -> pd.DataFrame:
    with crops_said_as(parts.get("crop_words", {})):
        return findings.notices


def garden_from_frames(
    picks: pd.DataFrame | None = None,
    plantings: pd.DataFrame | None = None,
    weather: pd.DataFrame | None = None,
    pantry: pd.DataFrame | None = None,
    *,
    kitchen: pd.DataFrame | None = None,
    household: Household | None = None,
    name: str = "",
    **settings: Any,
) -> Garden:
    """Return a garden built from frames, without files.

    A frame in the library's own terms (columns of :mod:`harvestcast.frames`, dates as dates,
    canonical crop names) is taken as it is; any other is read as a table of that name in a garden
    folder would be: headings, units, dates and crop names as people write them.

    Parameters
    ----------
    picks, plantings, weather, pantry, kitchen : pandas.DataFrame, optional
        Tables. Columns that may be empty can be left out; so can variety ('unnamed'), grade
        ('good') and the kind of weather ('observed').
    household : Household, optional
        Settings, checked already.
    name : str
        Name of the garden.
    **settings
        Keys of ``garden.toml``, such as ``people=4``, ``units="us"``, ``elevation_ft=1180``.

    Raises
    ------
    harvestcast.errors.InputError
        With every problem of every table and setting.
    harvestcast.errors.FrameError
        Where a frame in the library's own terms breaks its specification.
    TypeError
        Where something else than a frame is given, or settings beside a ``household``.

    Examples
    --------
    >>> days = pd.date_range("2026-07-01", periods=3)
    >>> picks = pd.DataFrame({"date": days, "crop": "cucumber", "count": [4, 0, 7]})
    >>> garden_from_frames(picks, name="trial").last_day
    Timestamp('2026-07-03 00:00:00')
    >>> typed = pd.DataFrame({"Day": ["19 July 2026"], "What": ["Courgettes"], "lb": [2.5]})
    >>> garden_from_frames(typed, units="us").picks[["crop", "mass_kg"]].round(2).values.tolist()
    [['zucchini', 1.13]]
    """
    given = {"picks": picks, "plantings": plantings, "weather": weather, "pantry": pantry,
             "kitchen": kitchen}  # fmt: skip
    for key, frame in given.items():
        if frame is not None and not isinstance(frame, pd.DataFrame):
            raise TypeError(f"{key} is a table (pandas.DataFrame), not {type(frame).__name__}")
    if household is None:
        household = _household(settings)
    elif settings:
        raise TypeError("give settings or a household, not both")
    if all(_in_own_terms(given[key], spec, household) for key, spec in _SPECS.items()):
        return garden_in_own_terms(household, name=name, **given)
    return _read_as_typed(given, household, name)


def garden_in_own_terms(
    household: Household | None = None, *, name: str = "", **frames: pd.DataFrame | None
) -> Garden:
    """Return a garden of frames that are in the library's own terms; nothing is interpreted.

    Raises
    ------
    harvestcast.errors.FrameError
        Where a frame breaks its specification.
    """
    whole: dict[str, Any] = {k: _completed(frames.get(k), spec) for k, spec in _SPECS.items()}
    return Garden(
        folder=None,
        household=household if household is not None else Household(),
        notices=NOTICES.empty(),
        name=name,
        **whole,
    )


_SPECS = {"picks": PICKS, "plantings": PLANTINGS, "weather": WEATHER, "pantry": PANTRY,
          "kitchen": KITCHEN}  # fmt: skip


def _household(settings: Mapping[str, Any]) -> Household:
    findings = Findings()
    household = household_of(settings, {}, findings)
    if findings.problems:
        raise InputError(findings.problems)
    return household


def _in_own_terms(frame: pd.DataFrame | None, spec: FrameSpec, household: Household) -> bool:
    if frame is None or not len(frame):
        return True
    if not set(frame.columns) <= set(spec.names):
        return False
    if "date" not in frame or not pd.api.types.is_datetime64_any_dtype(frame["date"]):
        return False
    crops = frame["crop"].dropna().unique() if "crop" in frame else ()
    return all(canonical_crop(str(crop)) == crop or crop in household.crops for crop in crops)


def _read_as_typed(
    given: Mapping[str, pd.DataFrame | None], household: Household, name: str
) -> Garden:
    """Read frames as the files they might be, so that there is one reader and one set of rules."""
    lasts = []
    with TemporaryDirectory() as scratch:
        folder = Path(scratch)
        for key, frame in given.items():
            if frame is None:
                continue
            kept = frame.drop(columns=["file", "line"], errors="ignore")
            kept.to_csv(folder / f"{key}.csv", index=False, date_format="%Y-%m-%d")
            dates = kept.get("date", pd.Series(dtype=object))
            if pd.api.types.is_datetime64_any_dtype(dates):
                lasts.append(dates.max())
        parts, findings = read_folder(
            folder, max(lasts, default=pd.Timestamp.max.normalize()), household
        )
    if findings.problems:
        raise InputError(findings.problems)
    return Garden(folder=None, name=name, notices=_notices(findings, parts), **parts)


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
