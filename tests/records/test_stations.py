"""GHCN-Daily files as they come.

Layout: NOAA NCEI, GHCN-Daily readme.txt, section III "Format of data files": ID 1-11,
YEAR 12-15, MONTH 16-17, ELEMENT 18-21, then 31 times VALUE (5), MFLAG, QFLAG, SFLAG; values in
tenths of deg C or mm; -9999 missing; a QFLAG that is not blank failed a quality check. The
layout is written from memory; the values are invented.
"""

import gzip
import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvestcast.records.garden import check_garden, open_garden

Maker = Callable[..., Path]
STATION = "XX000000001"
DAYS = pd.date_range("2026-06-01", "2026-07-20")
TMIN = dict(zip(DAYS, (80 + 3 * np.arange(len(DAYS))).tolist(), strict=True))
TMAX = {day: low + 110 for day, low in TMIN.items()}
PRCP = {day: 25 * (n % 3) for n, day in enumerate(DAYS)}
FAILED = pd.Timestamp("2026-07-04")  # its TMAX failed a check
MISSING = pd.Timestamp("2026-07-10")  # its TMIN is missing


def _value(element: str, day: pd.Timestamp) -> tuple[int, str, str]:
    value = {"TMIN": TMIN, "TMAX": TMAX, "PRCP": PRCP, "SNOW": PRCP}[element].get(day, -9999)
    if element == "TMIN" and day == MISSING:
        value = -9999
    measured = "T" if element == "PRCP" and value == 0 else " "
    quality = "X" if element == "TMAX" and day == FAILED else " "
    return value, measured, quality


def dly() -> bytes:
    text = ""
    for month in (6, 7):
        for element in ("TMAX", "TMIN", "PRCP", "SNOW"):
            text += f"{STATION}2026{month:02d}{element}"
            for number in range(1, 32):
                try:
                    day = pd.Timestamp(2026, month, number)
                except ValueError:
                    value, measured, quality = -9999, " ", " "
                else:
                    value, measured, quality = _value(element, day)
                text += f"{value:5d}{measured}{quality}X"
            text += "\n"
    return text.encode()


def by_station() -> bytes:
    rows = []
    for day in DAYS:
        for element in ("TMAX", "TMIN", "PRCP", "SNOW"):
            value, measured, quality = _value(element, day)
            if value != -9999:
                flags = f"{measured.strip()},{quality.strip()},X,0700"
                rows.append(f"{STATION},{day:%Y%m%d},{element},{value},{flags}")
    return ("\n".join(rows) + "\n").encode()


def access() -> bytes:
    rows = ['"STATION","DATE","LATITUDE","PRCP","PRCP_ATTRIBUTES","TMAX","TMAX_ATTRIBUTES",']
    rows[0] += '"TMIN","TMIN_ATTRIBUTES"'
    for day in DAYS:
        cells = [STATION, f"{day.date()}", "50.0"]
        for element in ("PRCP", "TMAX", "TMIN"):
            value, measured, quality = _value(element, day)
            known = value != -9999
            cells.append(f"{value:5d}" if known else "")
            cells.append(f"{measured.strip()},{quality.strip()},X" if known else "")
        rows.append(",".join(f'"{cell}"' for cell in cells))
    return ("\n".join(rows) + "\n").encode()


FORMS = {"weather.dly": dly, "weather.csv": by_station, "weather-access.csv": access}


@pytest.mark.parametrize("file", sorted(FORMS))
def test_every_form_gives_the_same_days(make: Maker, file: str) -> None:
    folder = make(weather=None, **{file: FORMS[file]()})
    garden = open_garden(folder, today="2026-07-25")
    found = garden.weather.set_index("date")
    assert list(found.index) == list(DAYS)
    good = [day for day in DAYS if day not in (FAILED, MISSING)]
    assert found.loc[good, "tmin_c"].to_numpy() == pytest.approx([TMIN[d] / 10 for d in good])
    assert found.loc[good, "tmax_c"].to_numpy() == pytest.approx([TMAX[d] / 10 for d in good])
    assert found["rain_mm"].to_numpy() == pytest.approx([PRCP[d] / 10 for d in DAYS])
    assert found.loc[[FAILED, MISSING], "kind"].to_list() == ["filled", "filled"]
    # What failed the check was replaced, not used: it lies between its neighbours' values.
    assert found.loc[FAILED, "tmax_c"] == pytest.approx(TMAX[FAILED] / 10)
    assert found.loc[MISSING, "tmin_c"] == pytest.approx(TMIN[MISSING] / 10)
    said = garden.notices.loc[garden.notices["code"] == "station.flagged", "facts"]
    assert said.to_list() == [{"values": 1}]


def test_the_fixed_width_file_agrees_with_a_general_reader(make: Maker) -> None:
    """The same columns, cut by the fixed-width reader of pandas."""
    spans = [(0, 11), (11, 15), (15, 17), (17, 21)]
    spans += [(21 + 8 * n, 26 + 8 * n) for n in range(31)]
    table = pd.read_fwf(io.BytesIO(dly()), colspecs=spans, header=None)
    lows = table[table[3] == "TMIN"].drop(columns=3).melt(id_vars=[0, 1, 2]).dropna()
    lows = lows[lows["value"] != -9999]
    garden = open_garden(make(weather=None, **{"weather.dly": dly()}), today="2026-07-25")
    record = garden.weather[garden.weather["date"] != MISSING]
    assert sorted(lows["value"] / 10) == pytest.approx(sorted(record["tmin_c"]))


def test_a_packed_station_file(make: Maker) -> None:
    packed = gzip.compress(by_station())
    garden = open_garden(make(weather=None, **{"weather.csv.gz": packed}), today="2026-07-25")
    assert len(garden.weather) == len(DAYS)


def test_days_with_impossible_temperatures_count_as_missing(make: Maker) -> None:
    text = "".join(
        f"{STATION},202607{d:02d},TMAX,{200 if d != 8 else 50},,,X\n"
        f"{STATION},202607{d:02d},TMIN,{100 if d != 9 else -990},,,X\n"
        for d in range(1, 21)
    )
    garden = open_garden(make(weather=text), today="2026-07-25")
    kinds = garden.weather.set_index("date")["kind"]
    assert kinds[kinds == "filled"].index.day.to_list() == [8, 9]
    assert "station.impossible" in set(garden.notices["code"])


def test_an_extract_in_units_of_the_buyers_choice_is_asked_about(make: Maker) -> None:
    """Ordered extracts carry the same headings in deg F, deg C or tenths: never guessed."""
    head = "STATION,DATE,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n"
    for values in ("82,,61", "27.8,,16.1", "120,,90"):
        high, _, low = values.split(",")
        text = head + f'{STATION},2026-07-19,{high},",,X",{low},",,X"\n'
        problems, _ = check_garden(make(values.replace(",", "-"), weather=text))
        assert [p.code for p in problems] == ["station.units"]


@pytest.mark.parametrize(
    "content",
    [
        b"XX000000001202607TMAX  280  X  28x  X\n",
        b"XX000000001,20260701,TMAX,lots,,,X\n",
        b'STATION,DATE,TMAX,TMAX_ATTRIBUTES\nXX000000001,yesterday,300,",,X"\n',
    ],
)
def test_a_damaged_station_file_is_said(make: Maker, content: bytes) -> None:
    problems, _ = check_garden(make(weather=content), today="2026-07-25")
    assert len(problems) == 1 and problems[0].file == "weather.csv"


@pytest.mark.parametrize("file", sorted(FORMS))
def test_two_stations_in_one_file_are_a_problem_where_they_differ(make: Maker, file: str) -> None:
    mine = FORMS[file]()
    other = mine.replace(STATION.encode(), b"XX000000002")
    heading = mine.split(b"\n")[0] + b"\n" if b"STATION" in mine else b""
    body = other.removeprefix(heading)
    assert body.count(b"140") > 0
    changed = body.replace(b"140", b"170", 1)
    line = mine.count(b"\n") + changed[: changed.index(b"170")].count(b"\n") + 1
    folder = make(weather=None, **{file: mine + changed})
    problems, _ = check_garden(folder, today="2026-07-25")
    assert [(p.file, p.line, p.value) for p in problems] == [(file, line, "17")]
    assert problems[0].code == "station.two_values"
    assert problems[0].facts["stations"] == [STATION, "XX000000002"]
    # Nothing is lost where they agree, or complete each other: then it is only said.
    problems, notices = check_garden(make("b", weather=None, **{file: mine + body}))
    assert problems == ()
    said = notices.loc[notices["code"] == "station.several", "facts"]
    assert [facts["number"] for facts in said] == [2]


def test_a_plain_table_of_two_stations_is_a_problem(make: Maker) -> None:
    text = "station,date,tmin_c,tmax_c\nA,2026-07-18,14,26\nA,2026-07-19,14,26\n"
    assert check_garden(make(weather=text), today="2026-07-25")[0] == ()
    problems, _ = check_garden(make("b", weather=text + "B,2026-07-20,4,6\n"), today="2026-07-25")
    assert [(p.line, p.column) for p in problems] == [(4, "station")]


def test_a_day_of_no_calendar_and_a_line_cut_short_are_said(make: Maker) -> None:
    text = f"{STATION},20260630,TMAX,200,,,X\n{STATION},20260631,TMAX,200,,,X\n"
    _, notices = check_garden(make(weather=text), today="2026-07-25")
    assert "station.no_day" in set(notices["code"])
    problems, _ = check_garden(make("b", weather=text + f"{STATION},20260701,TMAX\n"))
    assert [p.line for p in problems] == [3]


@pytest.mark.parametrize(
    ("name", "content"),
    [
        (f"{STATION}.dly", dly()),
        (f"{STATION}.csv", access()),
        (f"{STATION}.csv.gz", gzip.compress(by_station())),
    ],
)
def test_a_station_file_is_known_under_the_name_it_came_by(
    make: Maker, name: str, content: bytes
) -> None:
    folder = make(weather=None)
    (folder / "old list.csv").write_text("date,what\n2026-07-01,nothing\n", "utf-8")
    assert len(open_garden(folder).weather) == 0
    (folder / name).write_bytes(content)
    garden = open_garden(folder)
    assert len(garden.weather) == len(DAYS)
    assert "weather.csv" not in set(garden.notices["file"])  # nothing is missed
