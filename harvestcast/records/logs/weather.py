"""Daily weather tables: units settled, doubles and gaps said, forecasts told from records."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.errors import TypedError
from harvestcast.frames import WEATHER, check_frame
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.headings import WEATHER_FIELDS, Place, find_fields, require
from harvestcast.records.tables.rows import RowReader, is_blank
from harvestcast.records.tables.text import Table
from harvestcast.records.typed.dates import DateOrder
from harvestcast.records.typed.numbers import parse_number
from harvestcast.words.days import spoken

FORECAST_DAYS = 16
"""Longest reach of a weather forecast; later days after the last pick are a record."""
_RAIN = {"mm": 1.0, "cm": 10.0, "in": 25.4}
_DEGREES = ("degC", "degF")
_MISSING = frozenset({"m", "missing", "-9999", "-999", "9999", "999.9", "-99"})
_DIFFER = {"tmin_c": 0.3, "tmax_c": 0.3, "rain_mm": 1.0}
"""Values of one day further apart than this are not one value rounded in two units."""
_WHOLE_YEAR = 200  # days that hold a summer almost anywhere
_PART = ["date", "tmin_c", "tmax_c", "rain_mm", "kind", "issued", "file", "line"]
LONGEST_GAP_DAYS = 400
"""A longer gap stays open: what filled it would be no more than the usual year."""


def read_weather_table(
    table: Table,
    findings: Findings,
    *,
    order: DateOrder = "year_first",
    is_forecast: bool = False,
) -> pd.DataFrame:
    """Return the days of one weather table, unknown values as NaN.

    Parameters
    ----------
    table : Table
        Columns date, tmin, tmax and perhaps rain, kind and issued; the temperature unit in
        the heading or a unit column.
    findings : Findings
        Takes problems and notices.
    order : {"year_first", "month_first", "day_first"}
        How all-number dates are read.
    is_forecast : bool
        Whether the file holds a weather forecast.

    Returns
    -------
    pandas.DataFrame
        Columns date, tmin_c, tmax_c, rain_mm, kind, issued, file, line; one row a typed day.
    """
    places = find_fields(table, WEATHER_FIELDS, findings)
    wanted = {"date": "date", "tmin": "lowest temperature", "tmax": "highest temperature"}
    if not require(table, places, wanted, findings):
        return pd.DataFrame(columns=_PART)
    places = _one_column_each(table, places, findings)
    _say_stations(table, places, findings)
    if _other_scale(table, places, findings):
        return pd.DataFrame(columns=_PART)
    rows = RowReader(table, places, findings, order=order, number_fields=("tmin", "tmax", "rain"))
    records = [_row(row, is_forecast) for row in rows]
    frame = pd.DataFrame([r for r in records if r is not None], columns=_PART)
    frame["date"] = pd.to_datetime(frame["date"])
    frame["issued"] = pd.to_datetime(frame["issued"])
    return frame.astype({"tmin_c": float, "tmax_c": float, "rain_mm": float})


def _say_stations(table: Table, places: Mapping[str, Sequence[Place]], findings: Findings) -> None:
    """Say a table of several stations: a garden has the weather of one."""
    names: dict[str, int] = {}
    for place in places.get("station", ()):
        for line, cells in table.rows:
            if place.index < len(cells) and not is_blank(cells[place.index]):
                names.setdefault(cells[place.index], line)
    if len(names) > 1:
        findings.problem(
            "weather.stations",
            table.file,
            list(names.values())[1],
            places["station"][0].heading,
            ", ".join(list(names)[:5]),
            number=len(names),
        )


def _other_scale(table: Table, places: Mapping[str, Sequence[Place]], findings: Findings) -> bool:
    """Say once a whole record of degrees F under a heading of degrees C; return whether it is.

    The opposite cannot be told from a cold place for sure and is only a notice. Where a unit column
    decides line by line, no heading speaks for the whole.
    """
    if "unit" in places:
        return False
    for field in ("tmax", "tmin"):
        place = places[field][0]
        cells = [(line, row[place.index]) for line, row in table.rows if place.index < len(row)]
        read = [(line, typed, _try_number(typed)) for line, typed in cells]
        known = [(line, typed, value) for line, typed, value in read if value is not None]
        hot = [(line, typed) for line, typed, value in known if 45 < value < 135]
        if place.unit == "degC" and len(hot) > max(2, 0.05 * len(known)):
            other = places["tmin" if field == "tmax" else "tmax"][0].heading
            findings.problem(
                "weather.fahrenheit",
                table.file,
                hot[0][0],
                place.heading,
                hot[0][1],
                hot=len(hot),
                days=len(known),
                heading=place.heading,
                other=other,
            )
            return True
        if place.unit == "degF" and field == "tmax" and len(known) >= _WHOLE_YEAR:
            warmest = max(known, key=lambda day: day[2])
            if warmest[2] < 50:
                findings.notice(
                    "weather.celsius",
                    table.file,
                    warmest[0],
                    place.heading,
                    warmest[1],
                    days=len(known),
                    warmest=warmest[2],
                )
    return False


def _try_number(typed: str) -> float | None:
    try:
        return parse_number(typed, "unknown")
    except ValueError:
        return None


def _one_column_each(
    table: Table, places: Mapping[str, Sequence[Place]], findings: Findings
) -> dict[str, list[Place]]:
    """Keep one column a quantity: the metric one where the same stands in two units."""
    kept: dict[str, list[Place]] = {}
    for field, found in places.items():
        kept[field] = sorted(found, key=lambda p: p.unit not in ("degC", "mm"))[:1]
        for place in found:
            if place not in kept[field]:
                findings.notice(
                    "weather.two_columns",
                    table.file,
                    table.heading_line,
                    place.heading,
                    "",
                    field=field,
                    used=kept[field][0].heading,
                )
    return kept


def _row(row: RowReader, is_forecast: bool) -> dict[str, Any] | None:
    day = row.date()
    unit, known = row.unit_beside((*_DEGREES, *_RAIN))
    if not known:
        return None
    low = _temperature(row, "tmin", unit)
    high = _temperature(row, "tmax", unit)
    rain = _rain(row, unit)
    issued = row.date("issued", required=False)
    kind = row.text("kind").casefold()
    if kind not in ("", "observed", "filled", "forecast"):
        row.problem("weather.kind", "kind", kind)
    if low is not None and high is not None and low > high:
        row.problem("weather.exchanged", "tmin", row.text("tmin"), high=row.text("tmax"))
    if day is None:
        return None
    return {
        "date": day,
        "tmin_c": np.nan if low is None else low,
        "tmax_c": np.nan if high is None else high,
        "rain_mm": np.nan if rain is None else rain,
        "kind": kind or ("forecast" if is_forecast else ""),
        "issued": issued,
        "file": row.table.file,
        "line": row.line,
    }


def _temperature(row: RowReader, field: str, beside: str | None) -> float | None:
    found = _number(row, field, beside, _DEGREES, "weather.no_degrees")
    if found is None:
        return None
    value, unit = found
    celsius = (value - 32) / 1.8 if unit == "degF" else value
    low, high = (-60.0, 50.0) if field == "tmin" else (-60.0, 60.0)
    if not low <= celsius <= high:
        row.problem("weather.temperature", field, row.text(field), celsius=celsius)
        return None
    return round(celsius, 4)


def _rain(row: RowReader, beside: str | None) -> float | None:
    if row.text("rain").casefold() in ("t", "trace"):
        return 0.0  # a trace counts as nothing in sums: WMO-No. 8, measurement of precipitation
    found = _number(row, "rain", beside, _RAIN, "weather.no_rain_unit")
    if found is None:
        return None
    value = found[0] * _RAIN[found[1]]
    if not 0 <= value <= 2000:
        row.problem("weather.rain", "rain", row.text("rain"))
        return None
    return round(value, 4)


def _number(
    row: RowReader, field: str, beside: str | None, units: Collection[str], no_unit: str
) -> tuple[float, str] | None:
    """Return a number of a row and its unit: that of the unit column, or of the heading."""
    typed = row.text(field)
    if not typed or typed.casefold() in _MISSING:
        return None
    try:
        value = parse_number(typed, row.decimal(field))
    except TypedError as error:
        row.problem(error.code, field, typed, like="weather", **error.facts)
        return None
    unit = beside if beside in units else row.unit(field)
    if unit not in units or unit is None:
        row.problem(no_unit, field, "", field=field)
        return None
    return value, unit


def join_weather(
    parts: Sequence[pd.DataFrame],
    findings: Findings,
    *,
    last_day: pd.Timestamp | None,
    today: pd.Timestamp,
) -> pd.DataFrame:
    """Return one WEATHER frame of all files: one record a day, gaps filled, forecasts apart.

    Parameters
    ----------
    parts : sequence of pandas.DataFrame
        Days of each file, the files that go first first.
    findings : Findings
        Takes notices on days said twice, gaps, and where record and forecast part.
    last_day : pandas.Timestamp or None
        Last day in the pick log or pantry book.
    today : pandas.Timestamp
        Today by the clock; only used where there is no pick yet.
    """
    days = [part for part in parts if len(part)]
    if not days:
        return WEATHER.empty()
    frame = pd.concat(days, ignore_index=True)
    frame = _tell_forecast(frame, findings, last_day, today)
    ahead = frame[frame["kind"] == "forecast"].dropna(subset=["tmin_c", "tmax_c"])
    ahead = _one_row_each(ahead, ["date", "issued"], findings)
    record = frame[frame["kind"] != "forecast"]
    record = _one_row_each(record, ["date"], findings)
    record = fill_gaps(record, findings)
    _say_short(record, findings, last_day)
    whole = pd.concat([p for p in (record, ahead) if len(p)] or [WEATHER.empty()])
    whole = whole.sort_values(["date", "issued"], kind="stable", na_position="first")
    return check_frame(whole, WEATHER)


def _say_short(record: pd.DataFrame, findings: Findings, last_day: pd.Timestamp | None) -> None:
    """Say a record that ends before the last pick: the days between are unknown."""
    if last_day is None or record.empty:
        return
    last = record["date"].max()
    missing = (last_day - last).days
    if missing > 1:
        findings.notice(
            "weather.short",
            str(record["file"].dropna().iloc[-1]),
            None,
            "date",
            spoken(last.date()),
            days=missing,
        )


def _tell_forecast(
    frame: pd.DataFrame,
    findings: Findings,
    last_day: pd.Timestamp | None,
    today: pd.Timestamp,
) -> pd.DataFrame:
    """Mark the days of a plain file that lie ahead of the last pick as a weather forecast."""
    edge = today if last_day is None else last_day
    plain = frame["kind"] == ""
    after = plain & (frame["date"] > edge)
    reach = (frame.loc[after, "date"].max() - edge).days if after.any() else 0
    if last_day is not None and reach > FORECAST_DAYS:
        findings.notice(
            "weather.long",
            str(frame.loc[after, "file"].iloc[0]),
            None,
            "date",
            "",
            days=reach,
            last=edge.date(),
            reach=FORECAST_DAYS,
        )
        after &= False
    kind = frame["kind"].mask(plain, "observed").mask(after, "forecast")
    return frame.assign(kind=kind)


def _one_row_each(frame: pd.DataFrame, keys: list[str], findings: Findings) -> pd.DataFrame:
    """Return one row a day, and say the days written twice and how far apart the values lie."""
    again = frame.duplicated(keys)
    if again.any():
        known = frame.groupby(keys, dropna=False, sort=False)
        apart = {name: (frame[name] - known[name].transform("first")).abs() for name in _DIFFER}
        differs = pd.concat([apart[name] > most for name, most in _DIFFER.items()], axis=1)
        degrees = pd.concat([apart["tmin_c"], apart["tmax_c"]], axis=1).max(axis=1)
        for file, group in frame[again].groupby("file", sort=True):
            unlike = group[differs.loc[group.index].any(axis=1)]
            shown = (unlike if len(unlike) else group).iloc[0]
            most = float(degrees[unlike.index].max())
            findings.notice(
                "weather.twice",
                str(file),
                None if pd.isna(shown["line"]) else int(shown["line"]),
                "date",
                spoken(shown["date"].date()),
                days=len(group),
                unlike=len(unlike),
                apart_c=0.0 if np.isnan(most) else most,
                forecast="issued" in keys,
            )
        frame = known.first().reset_index()
    return frame.sort_values(keys, kind="stable").reset_index(drop=True)


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
    usual = [_usual_year(values, doy) for values in (low, high)]
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


def _usual_year(values: np.ndarray, doy: np.ndarray) -> np.ndarray:
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
