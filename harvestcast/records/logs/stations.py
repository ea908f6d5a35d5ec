"""Public weather station files, read as they come: GHCN-Daily.

Three forms of the Global Historical Climatology Network daily data are known: the
fixed-width ``.dly`` file, the by-station CSV (one element a line, no heading) and the access
CSV (one day a line, with attribute columns). Temperatures are tenths of a degree C, rain
tenths of a millimetre, -9999 is missing, and a value whose quality flag is set failed a
quality check and is not used.

References
----------
Menne, M. J., Durre, I., Vose, R. S., Gleason, B. E., Houston, T. G. (2012). An overview of
the Global Historical Climatology Network-Daily database. J. Atmos. Oceanic Technol. 29,
897-910, doi:10.1175/JTECH-D-11-00103.1; format: NOAA NCEI, GHCN-Daily readme.txt, section
III "Format of data files" and the by-station readme (written from memory).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Iterator
from datetime import date
from typing import NamedTuple

import numpy as np
import pandas as pd

from harvestcast.records.tables.findings import Findings, refuse
from harvestcast.records.tables.text import decode

ELEMENTS = {"TMIN": "tmin_c", "TMAX": "tmax_c", "PRCP": "rain_mm"}
_COLUMNS = ["date", "tmin_c", "tmax_c", "rain_mm", "kind", "issued", "file", "line"]
_DLY = re.compile(rb"[A-Z0-9_\-]{11}\d{6}[A-Z0-9]{4}[ \d-]{5}")
_BY_STATION = re.compile(rb'"?[A-Z0-9_\-]{11}"?,"?\d{8}"?,"?[A-Z0-9]{4}"?,')


class Reading(NamedTuple):
    """One value as it stands in the file."""

    line: int
    station: str
    day: int
    """As yyyymmdd."""
    element: str
    tenths: int
    flag: str
    """Of the quality checks; blank where the value passed."""


def station_form(content: bytes) -> str | None:
    """Return which station form a file has: dly, by_station, access; None for a plain table."""
    head = content[:2000].lstrip(b"\xef\xbb\xbf")
    if _DLY.match(head):
        return "dly"
    if _BY_STATION.match(head) or head.upper().startswith(b"ID,DATE,ELEMENT,"):
        return "by_station"
    top = head.split(b"\n", 1)[0].upper()
    if b"STATION" in top and b"DATE" in top and b"_ATTRIBUTES" in top:
        return "access"
    return None


def read_station(content: bytes, file: str, form: str, findings: Findings) -> pd.DataFrame:
    """Return the days of a station file; values that failed a quality check are NaN.

    Parameters
    ----------
    content : bytes
        The file.
    file : str
        Its name, for messages.
    form : {"dly", "by_station", "access"}
        As :func:`station_form` tells.
    findings : Findings
        Takes notices on values left out, and a problem where a day has two values of one kind.

    Raises
    ------
    harvestcast.errors.InputError
        Where the file is broken, or the units of an access file cannot be told.
    """
    text, _ = decode(content, file)
    days: dict[int, dict[str, float]] = {}
    flagged = 0
    first: dict[str, Reading] = {}
    against: list[tuple[Reading, float]] = []
    reader = {"dly": _dly, "by_station": _by_station, "access": _access}[form]
    for reading in reader(text, file):
        first.setdefault(reading.station, reading)
        known = days.setdefault(reading.day, {})
        if reading.flag.strip():
            flagged += 1
        elif reading.tenths != -9999:
            value = known.setdefault(ELEMENTS[reading.element], reading.tenths / 10)
            if value != reading.tenths / 10:
                against.append((reading, value))
    _say_stations(file, list(first.values()), against, findings)
    frame = pd.DataFrame.from_dict(days, orient="index", columns=[*ELEMENTS.values()], dtype=float)
    frame["date"] = pd.to_datetime(frame.index.astype(str), format="%Y%m%d", errors="coerce")
    strange = int((frame["date"].isna() & frame[[*ELEMENTS.values()]].notna().any(axis=1)).sum())
    frame = frame[frame["date"].notna()].sort_values("date")
    low, high = frame["tmin_c"].to_numpy(), frame["tmax_c"].to_numpy()
    with np.errstate(invalid="ignore"):
        impossible = (low > high) | (np.abs(low) > 60) | (low > 50) | (np.abs(high) > 60)
    frame.loc[impossible, ["tmin_c", "tmax_c"]] = np.nan
    frame["kind"] = ""
    frame["issued"] = pd.Series(pd.NaT, index=frame.index)
    frame["file"] = file
    frame["line"] = np.nan
    if flagged:
        findings.notice("station.flagged", file, None, "", "", values=flagged)
    if strange:
        findings.notice("station.no_day", file, None, "", "", days=strange)
    if impossible.any():
        findings.notice("station.impossible", file, None, "", "", days=int(impossible.sum()))
    return frame.loc[:, _COLUMNS].reset_index(drop=True)


def _say_stations(
    file: str,
    stations: list[Reading],
    against: list[tuple[Reading, float]],
    findings: Findings,
) -> None:
    """Say a file of several stations, which no garden has; two values of one day are a problem."""
    holds = {"stations": [reading.station for reading in stations[:5]], "number": len(stations)}
    if against:
        reading, before = against[0]
        findings.problem(
            "station.two_values",
            file,
            reading.line,
            reading.element,
            f"{reading.tenths / 10:g}",
            **holds,
            values=len(against),
            before=before,
        )
    elif len(stations) > 1:
        second = stations[1]
        findings.notice("station.several", file, second.line, "", second.station, **holds)


def _whole(text: str, file: str, line: int) -> int:
    try:
        return int(text)
    except ValueError:
        raise refuse("station.damaged", file, line, "", text[:40]) from None


def _dly(text: str, file: str) -> Iterator[Reading]:
    for number, line in enumerate(text.splitlines(), 1):
        element = line[17:21]
        if element not in ELEMENTS:
            continue
        month = _whole(line[11:17], file, number)
        for day in range(1, 32):
            start = 21 + 8 * (day - 1)
            piece = line[start : start + 8]
            if len(piece.rstrip()) < 5:
                break
            value = _whole(piece[:5], file, number)
            if value != -9999:
                day_number = month * 100 + day
                yield Reading(number, line[:11], day_number, element, value, piece[6:7])


def _by_station(text: str, file: str) -> Iterator[Reading]:
    lines: Iterable[list[str]] = csv.reader(io.StringIO(text, newline=""))
    try:
        for number, cells in enumerate(lines, 1):
            if not any(cells) or (len(cells) > 2 and cells[2] not in ELEMENTS):
                continue
            if len(cells) < 4:
                _whole("", file, number)
            day = _whole(cells[1], file, number)
            value = _whole(cells[3], file, number)
            flag = cells[5] if len(cells) > 5 else ""
            yield Reading(number, cells[0], day, cells[2], value, flag)
    except csv.Error:
        raise refuse("station.damaged", file) from None


def _access(text: str, file: str) -> Iterator[Reading]:
    try:
        rows = list(csv.reader(io.StringIO(text, newline="")))
    except csv.Error:
        raise refuse("station.damaged", file) from None
    heading = [cell.strip().upper() for cell in rows[0]]
    where = {name: heading.index(name) for name in ("DATE", *ELEMENTS) if name in heading}
    flags = {
        name: heading.index(f"{name}_ATTRIBUTES")
        for name in ELEMENTS
        if f"{name}_ATTRIBUTES" in heading
    }
    name = heading.index("STATION")
    _tenths(rows, where, file)
    for number, cells in enumerate(rows[1:], 2):
        if len(cells) <= where["DATE"]:
            continue
        if any(cell.strip() for cell in cells[len(heading) :]):
            raise refuse(
                "station.beyond", file, number, "", ",".join(cells)[:120], width=len(heading)
            )
        try:
            day = date.fromisoformat(cells[where["DATE"]].strip()[:10])
        except ValueError:
            raise refuse("station.date", file, number, "", cells[where["DATE"]][:40]) from None
        for element in ELEMENTS:
            if element not in where or len(cells) <= where[element]:
                continue
            typed = cells[where[element]].strip()
            if not typed:
                continue
            # Attributes are measurement flag, quality flag, source flag, divided by commas.
            mark = flags.get(element)
            parts = cells[mark].split(",") if mark is not None and len(cells) > mark else []
            flag = parts[1] if len(parts) > 1 else ""
            value = _whole(typed, file, number)
            yield Reading(number, cells[name], int(day.strftime("%Y%m%d")), element, value, flag)


def _tenths(rows: list[list[str]], where: dict[str, int], file: str) -> None:
    """Refuse a file whose temperatures may be anything but tenths of a degree C.

    Extracts made on order have the same heading but whole units of the buyer's choice.
    """
    typed = [
        cells[where[e]].strip()
        for cells in rows[1:]
        for e in ("TMIN", "TMAX")
        if e in where and len(cells) > where[e]
    ]
    numbers = [abs(float(t)) for t in typed if re.fullmatch(r"-?\d{1,4}(\.\d+)?", t)]
    warm = max((n for n in numbers if n < 9999), default=0.0)
    # No shade temperature has passed 134 deg F, so a larger number can only be tenths.
    if any("." in t for t in typed) or warm <= 140:
        raise refuse("station.units", file)
