"""Gaps in a weather record: filled where that is fair, and always said."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast.records.tables.findings import Findings
from harvestcast.words.days import spoken

LONGEST_GAP_DAYS = 400
"""A longer gap stays open: what filled it would be no more than the usual year."""


def fill_gaps(record: pd.DataFrame, findings: Findings) -> pd.DataFrame:
    """Fill missing days and values inside a weather record, and say so.

    Up to three days in a row lie on a straight line between their neighbours; a longer gap
    takes the mean of the same days in the record's other years (within a week), moved so
    that it meets the days before and after. A gap of more than 400 days stays open.

    Parameters
    ----------
    record : pandas.DataFrame
        Columns date (unique, ascending), tmin_c, tmax_c, rain_mm, kind, issued, file.
    findings : Findings
        Takes one notice for the short gaps and one for each longer one.
    """
    known = record.dropna(subset=["tmin_c", "tmax_c"])
    if known.empty:
        return record.iloc[:0]
    full = record.set_index("date")
    first, last = known["date"].iloc[0], known["date"].iloc[-1]
    whole = full.reindex(pd.date_range(first, last, name="date"))
    low, high = (whole[name].to_numpy(float, copy=True) for name in ("tmin_c", "tmax_c"))
    gaps = _runs(np.isnan(low) | np.isnan(high))
    if not gaps:
        return whole.reset_index()
    open_days = np.zeros(len(whole), dtype=bool)
    file = str(known["file"].iloc[-1])
    doy = np.minimum(pd.DatetimeIndex(whole.index).day_of_year.to_numpy(), 365)
    usual = [_usual(values, doy) for values in (low, high)]
    short: list[tuple[int, int]] = []
    for start, stop in gaps:
        length = stop - start
        if length > LONGEST_GAP_DAYS:
            open_days[start:stop] = True
            _say_gap(findings, file, whole.index, start, stop, "open")
            continue
        as_usual = [
            _bridge(values, climate if length > 3 else None, start, stop)
            for values, climate in zip((low, high), usual, strict=True)
        ]
        if length > 3:
            filled_from = "usual" if all(as_usual) else "line"
            _say_gap(findings, file, whole.index, start, stop, filled_from)
        else:
            short.append((start, stop))
    if short:
        count = sum(stop - start for start, stop in short)
        first_day = spoken(whole.index[short[0][0]].date())
        findings.notice("weather.short_gaps", file, None, "date", first_day, days=count)
    filled = np.zeros(len(whole), dtype=bool)
    for start, stop in gaps:
        filled[start:stop] = True
    high = np.maximum(low, high)
    kind = np.where(filled, "filled", whole["kind"].to_numpy(object))
    whole = whole.assign(tmin_c=low, tmax_c=high, kind=kind)
    return whole[~open_days].reset_index()


def _runs(flags: np.ndarray) -> list[tuple[int, int]]:
    """Return start and stop of every run of true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(int), [0]))))
    return list(zip(edges[::2].tolist(), edges[1::2].tolist(), strict=True))


def _usual(values: np.ndarray, doy: np.ndarray) -> np.ndarray:
    """Return the mean of each day's values over the years, within seven days of the date."""
    known = ~np.isnan(values)
    total = np.bincount(doy[known] - 1, values[known], minlength=365)
    number = np.bincount(doy[known] - 1, minlength=365)
    sums, numbers = (
        np.convolve(np.concatenate((days[-7:], days, days[:7])), np.ones(15), "valid")
        for days in (total, number)
    )
    mean = np.full(365, np.nan)
    np.divide(sums, numbers, out=mean, where=numbers > 0.5)
    return mean[doy - 1]


def _bridge(values: np.ndarray, climate: np.ndarray | None, start: int, stop: int) -> bool:
    """Fill ``values[start:stop]`` where missing, in place; return whether from the usual year."""
    around = slice(start - 1, stop + 1)
    as_usual = climate is not None and not np.isnan(climate[around]).any()
    base = climate[around] if climate is not None and as_usual else np.zeros(stop - start + 2)
    steps = np.arange(len(base))
    ends = [0, len(base) - 1]
    bridge = np.interp(steps, ends, values[around][ends] - base[ends]) + base
    values[start:stop] = np.where(np.isnan(values[start:stop]), bridge[1:-1], values[start:stop])
    return bool(as_usual)


def _say_gap(
    findings: Findings, file: str, index: pd.Index, start: int, stop: int, filled: str
) -> None:
    findings.notice(
        "weather.gap",
        file,
        None,
        "date",
        spoken(index[start].date()),
        days=stop - start,
        last=index[stop - 1].date(),
        filled=filled,
    )
