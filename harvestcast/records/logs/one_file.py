"""One file of picks or weather, wherever it lies, read as a garden folder would read it."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from harvestcast.errors import InputError
from harvestcast.records.logs.folder import tables_of
from harvestcast.records.logs.picks import read_picks as read_pick_tables
from harvestcast.records.logs.reading import weather_of
from harvestcast.records.logs.weather import join_weather
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.rows import CropReader
from harvestcast.records.typed.dates import DateOrder


def read_picks(
    path: str | Path,
    *,
    order: DateOrder = "year_first",
    crop_names: Mapping[str, str] | None = None,
) -> pd.DataFrame:
    r"""Read one pick log.

    Parameters
    ----------
    path : str or pathlib.Path
        A CSV file or a workbook, as in a garden folder.
    order : {"year_first", "month_first", "day_first"}
        How all-number dates are read.
    crop_names : mapping of str to str, optional
        Own names of crops and what they mean.

    Returns
    -------
    pandas.DataFrame
        PICKS frame (:data:`harvestcast.frames.PICKS`) in the order of date, masses in kg.

    Raises
    ------
    harvestcast.errors.InputError
        With every line that cannot be used.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     file = Path(folder) / "picks.csv"
    ...     _ = file.write_text("date,crop,weight_lb\n2026-07-19,Courgettes,2.5\n", "utf-8")
    ...     read_picks(file)[["crop", "mass_kg"]].round(2).values.tolist()
    [['zucchini', 1.13]]
    """
    findings = Findings()
    tables = tables_of(Path(path), findings)
    read_crop = CropReader(findings, dict(crop_names or {}), [])
    picks = read_pick_tables(tables, findings, read_crop, order=order)
    if findings.problems:
        raise InputError(findings.problems)
    return picks


def read_weather(path: str | Path, *, order: DateOrder = "year_first") -> pd.DataFrame:
    """Read one weather file: a table of daily lows and highs, or a station file as it comes.

    Parameters
    ----------
    path : str or pathlib.Path
        File as in a garden folder; "forecast" in its name makes it a forecast.
    order : {"year_first", "month_first", "day_first"}
        How all-number dates are read.

    Returns
    -------
    pandas.DataFrame
        WEATHER frame (:data:`harvestcast.frames.WEATHER`), degrees C and mm, a row a day; short
        gaps are filled as in a garden folder.

    Raises
    ------
    harvestcast.errors.InputError
        With every line that cannot be used.
    """
    findings = Findings()
    parts = weather_of([Path(path)], findings, order)
    # Nothing here asks what day it is: a record ends where the file ends.
    last = max((part["date"].max() for part in parts if len(part)), default=pd.Timestamp.min)
    weather = join_weather(parts, findings, last_day=None, today=last)
    if findings.problems:
        raise InputError(findings.problems)
    return weather
