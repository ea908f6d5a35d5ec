"""One garden after another: its forecast and its varieties, or why there is none."""

from __future__ import annotations

import hashlib
import time
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any, Literal

import pandas as pd

from harvestcast.errors import FrameError, InputError
from harvestcast.frames import FrameSpec, check_frame
from harvestcast.frames.gardens_tables import (
    ERRORS,
    FORECASTS,
    GARDEN_BEST,
    GARDEN_LEFT_OUT,
    GARDEN_VARIETIES,
)
from harvestcast.gardens.sources import Opener, Share
from harvestcast.growth.forecast import forecast
from harvestcast.growth.log.series import day_of
from harvestcast.records.garden import Garden
from harvestcast.season.messages import refused
from harvestcast.season.review.tables import best_table
from harvestcast.season.review.varieties import review_crops
from harvestcast.season.yields.plantings import seasons_with_picks, units_of

RESULTS: dict[str, FrameSpec] = {
    "forecasts": FORECASTS,
    "varieties": GARDEN_VARIETIES,
    "best": GARDEN_BEST,
    "left_out": GARDEN_LEFT_OUT,
    "errors": ERRORS,
}
"""The tables that come out."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """What is asked of every garden.

    Parameters
    ----------
    as_of : str, optional
        Last day known (2026-07-19); left out: each garden's own last day.
    weeks, draws, seed : int
        As of :func:`harvestcast.growth.forecast.forecast`; the seed is mixed with the garden's
        name and day.
    by : {"crop", "variety"}
        Rows of the forecasts.
    forecasts, varieties : bool
        What is wanted.
    years : tuple of int, optional
        Seasons whose varieties are compared; left out: the season of the last day known.
    today : str
        Day that counts as today when dates in the future are looked for in folders.
    """

    as_of: str | None = None
    weeks: int = 3
    draws: int = 400
    seed: int = 1
    by: Literal["crop", "variety"] = "crop"
    forecasts: bool = True
    varieties: bool = True
    years: tuple[int, ...] | None = None
    today: str = ""

    def words(self) -> dict[str, Any]:
        """Return all settings that results depend on, as plain values."""
        plain = asdict(self)
        del plain["today"]  # of folders alone: stands in their fingerprint
        return plain


def seed_of(garden: str, day: str, seed: int) -> int:
    """Return the seed of one garden and day.

    Parameters
    ----------
    garden : str
        Name of the garden.
    day : str
        Day or season worked on.
    seed : int
        Seed of the whole run.

    Examples
    --------
    >>> seed_of("east school", "2026-07-19", 1)
    5258880203568687289
    """
    digest = hashlib.sha256(f"{seed}\0{day}\0{garden}".encode()).digest()
    return int.from_bytes(digest[:8], "big") >> 1  # fits a signed number of 64 bits


def study_share(share: Share, task: Task) -> tuple[dict[str, pd.DataFrame], dict[str, float]]:
    """Work on every garden of a share.

    Parameters
    ----------
    share : Share
    task : Task

    Returns
    -------
    dict of str to DataFrame
        Every table of :data:`RESULTS`, checked.
    dict of str to float
        CPU seconds per stage.
    """
    parts: dict[str, list[pd.DataFrame]] = {name: [] for name in RESULTS}
    failed: list[dict[str, str]] = []
    spent = {"read": 0.0, "forecast": 0.0, "compare": 0.0}
    began = time.process_time()
    try:
        gardens = share.load(task.today)
    except Exception as error:
        gardens = []
        failed.extend(_row(name, "read", error) for name in _names(share))
    spent["read"] += time.process_time() - began
    for name, opener in gardens:
        _study(name, opener, task, parts, failed, spent)
    tables = {
        name: _stacked(parts[name], spec, failed)
        for name, spec in RESULTS.items()
        if name != "errors"
    }
    tables["errors"] = check_frame(pd.DataFrame(failed, columns=ERRORS.names), ERRORS)
    return tables, spent


def _names(share: Share) -> list[str]:
    try:
        return share.names()
    except Exception:  # not even who is in it can be read
        return [share.label]


def worker_errors(share: Share, message: str) -> dict[str, pd.DataFrame]:
    """Return the tables of a garden on which its worker died again and again."""
    rows = [
        dict(zip(ERRORS.names, (name, "worker", "worker died", message), strict=True))
        for name in _names(share)
    ]
    tables = {name: spec.empty() for name, spec in RESULTS.items()}
    return tables | {"errors": check_frame(pd.DataFrame(rows, columns=ERRORS.names), ERRORS)}


def _study(
    name: str,
    opener: Opener,
    task: Task,
    parts: dict[str, list[pd.DataFrame]],
    failed: list[dict[str, str]],
    spent: dict[str, float],
) -> None:
    """Work on one garden; whatever goes wrong with it becomes its row of error."""
    stage = "read"
    began = time.process_time()

    def reached(next_stage: str) -> None:
        nonlocal stage, began
        now = time.process_time()
        spent[stage] += now - began
        stage, began = next_stage, now

    try:
        garden = opener()
        last = day_of(garden, task.as_of)
    except Exception as error:
        failed.append(_row(name, stage, error))
        reached(stage)
        return
    if task.forecasts:
        reached("forecast")
        try:
            for table, rows in _forecast(name, garden, last, task).items():
                parts[table].append(rows)
        except Exception as error:
            failed.append(_row(name, stage, error))
    if task.varieties:
        reached("compare")
        try:
            for table, rows in _compare(name, garden, last, task).items():
                parts[table].append(rows)
        except Exception as error:
            failed.append(_row(name, stage, error))
    reached(stage)


def _forecast(name: str, garden: Garden, last: pd.Timestamp, task: Task) -> dict[str, pd.DataFrame]:
    day = last.date().isoformat()
    outlook = forecast(
        garden, last, task.weeks, draws=task.draws, seed=seed_of(name, day, task.seed)
    )
    weekly = outlook.weekly(task.by)
    if task.by == "crop":
        weekly["variety"] = pd.Series(pd.NA, weekly.index, dtype="string")
    weekly["garden"], weekly["as_of"] = name, last
    left = outlook.left_out
    left["garden"] = name
    return {"forecasts": weekly, "left_out": left}


def _compare(name: str, garden: Garden, last: pd.Timestamp, task: Task) -> dict[str, pd.DataFrame]:
    wanted = (garden.seasons.of(last),) if task.years is None else task.years
    known = seasons_with_picks(garden)
    years = sorted(set(wanted) & set(known))
    if not years:
        label = garden.seasons.label
        value = ", ".join(map(label, wanted))
        there = [label(one) for one in known]
        raise InputError(
            [refused("season.no_picks", file=name, column="date", value=value, known=there)]
        )
    long, best = [], []
    for year in years:
        seed = seed_of(name, str(year), task.seed)
        measures, chances = measured(garden, year, draws=task.draws, seed=seed)
        long.append(measures.assign(year=year))
        best.append(chances.assign(year=year))
    return {
        "varieties": _joined(long, name),
        "best": _joined(best, name),
    }


def measured(
    garden: Garden, year: int, *, draws: int, seed: int
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return all crops' measures and probabilities of being best.

    The same figures as ``measures`` and ``best`` of
    :func:`harvestcast.season.review.varieties.compare_varieties` with the same seed, to the last
    digit, without its other tables, which take two thirds of its time.

    Parameters
    ----------
    garden : Garden
    year : int
    draws, seed : int
    """
    crops, measures = review_crops(garden, units_of(garden, year), draws=draws, seed=seed)
    best = [table for table in map(best_table, crops) if len(table)]
    return measures, pd.concat(best, ignore_index=True) if best else pd.DataFrame()


def _joined(frames: Sequence[pd.DataFrame], garden: str) -> pd.DataFrame:
    filled = [frame for frame in frames if len(frame)]
    if not filled:
        return pd.DataFrame()
    return pd.concat(filled, ignore_index=True).assign(garden=garden)


def _stacked(
    frames: Sequence[pd.DataFrame], spec: FrameSpec, failed: list[dict[str, str]]
) -> pd.DataFrame:
    """Return the rows of all gardens, checked; a garden whose rows break the rules fails alone."""
    filled = [frame for frame in frames if len(frame)]
    if not filled:
        return spec.empty()
    try:
        return check_frame(pd.concat(filled, ignore_index=True), spec)
    except FrameError:
        good = []
        for frame in filled:
            try:
                good.append(check_frame(frame, spec))
            except FrameError as error:
                stage = "forecast" if spec in (FORECASTS, GARDEN_LEFT_OUT) else "compare"
                failed.append(_row(str(frame["garden"].iloc[0]), stage, error))
        return pd.concat(good, ignore_index=True) if good else spec.empty()


def _row(garden: str, stage: str, error: Exception) -> dict[str, str]:
    message = str(error) or type(error).__name__
    return {"garden": garden, "stage": stage, "kind": type(error).__name__, "message": message}
