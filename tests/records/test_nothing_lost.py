"""What is typed comes out as typed, or a problem or notice names it: over all readers."""

import datetime as dt
from collections.abc import Callable
from pathlib import Path

import numpy as np
import openpyxl
import pytest

from harvestcast.errors import InputError
from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.importing.preview import read_foreign
from harvestcast.records.logs.stations import read_station
from harvestcast.records.tables.findings import Findings
from harvestcast.records.writing.add import add_pick
from tests.records.conftest import GOOD

Maker = Callable[..., Path]
SHIFTED = {
    "weather": "2026-07-21,12,25,24,5,0\n",
    "picks": "2026-07-21,cucumber,Fennick,1,5,,,note\n",
    "plantings": "tomato,Old Lantern,B,2026-05-26,set_out,1,5\n",
    "pantry": "2026-07-16,dill pickles,pint,7,4,5\n",
    "weather-forecast": "2026-07-21,12,25,24,5,0\n",
}


@pytest.mark.parametrize("stem", SHIFTED)
def test_a_decimal_comma_without_quotation_marks_is_a_problem(stem: str, make: Maker) -> None:
    """Under two headings "12,25,24,5" would be read as 12 and 25 instead of 12.25 and 24.5."""
    whole = GOOD["weather.csv" if "weather" in stem else f"{stem}.csv"]
    problems, _ = check_garden(make(**{f"{stem}.csv": whole + SHIFTED[stem]}), today="2026-07-25")
    assert [(p.file, p.line) for p in problems] == [(f"{stem}.csv", whole.count("\n") + 1)]
    assert problems[0].value == SHIFTED[stem].strip().replace(",", " | ")
    assert problems[0].code == "cells.beyond" and problems[0].facts["mark"] == ","


@pytest.mark.parametrize("stem", ["weather", "picks", "plantings", "pantry"])
def test_empty_cells_at_the_end_are_none(stem: str, make: Maker) -> None:
    padded = "".join(f"{line},,\n" for line in GOOD[f"{stem}.csv"].splitlines())
    problems, notices = check_garden(make(**{stem: padded}), today="2026-07-25")
    assert problems == ()
    assert not notices["code"].eq("heading.unknown").any()


def test_cells_under_an_empty_heading_at_the_end_are_beyond_it_too(make: Maker) -> None:
    text = GOOD["weather.csv"].replace("rain_mm\n", "rain_mm,,\n") + "2026-07-21,12,25,24,5,0\n"
    problems, _ = check_garden(make(weather=text), today="2026-07-25")
    assert [p.line for p in problems] == [5]


def test_a_workbook_is_held_to_the_same_rule(tmp_path: Path, make: Maker) -> None:
    book = openpyxl.Workbook()
    for cells in (["date", "crop", "count"], ["2026-07-10", "cucumber", 1, 5]):
        book.worksheets[0].append(cells)
    folder = make(picks=None)
    book.save(folder / "picks.xlsx")
    problems, _ = check_garden(folder, today="2026-07-25")
    assert [(p.file, p.line, p.value) for p in problems] == [
        ("picks.xlsx", 2, "2026-07-10 | cucumber | 1 | 5")
    ]


@pytest.mark.parametrize(
    ("heading", "line", "after"),
    [
        ("date,crop,weight_kg", "7 July 2026,cucumber,1,5", ",tomato,2"),
        ("date,Cucumbers (kg),Tomatoes (kg)", "7 July 2026,1,5,2", ",,2"),
        ("crop,2026-07-05,2026-07-06", "cucumber,1,5,2", "tomato,,2"),
    ],
)
def test_an_import_says_them_in_every_shape(
    heading: str, line: str, after: str, tmp_path: Path
) -> None:
    log = tmp_path / "log.csv"
    log.write_text(f"{heading}\n{line}\n{after}\n")
    preview = read_foreign(log, unit="kg")
    assert [(p.line, p.value) for p in preview.problems] == [(2, line.replace(",", " | "))]
    assert preview.lines["became"].tolist() == ["not read", "read"]
    # The day of a line that cannot be read holds for the line below it all the same.
    assert preview.picks["line"].tolist() == [3]
    assert preview.picks["date"].dt.month.tolist() == [7]


def test_a_sum_at_the_foot_of_a_foreign_log_is_left_out_whatever_its_width(tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text("date,crop,weight_kg\n2026-07-07,cucumber,1\nTotal,,,1\n")
    preview = read_foreign(log)
    assert preview.problems == ()
    assert preview.lines["became"].tolist() == ["read", "left out"]


def test_attributes_without_quotation_marks_do_not_shift_a_stations_columns() -> None:
    text = (
        "STATION,DATE,PRCP,PRCP_ATTRIBUTES,TMAX,TMAX_ATTRIBUTES,TMIN,TMIN_ATTRIBUTES\n"
        'XX000000001,2026-07-01,0,",,S",250,",,S",120,",,S"\n'
        "XX000000001,2026-07-02,0,,,S,250,,,S,120,,,S\n"
    )
    with pytest.raises(InputError) as caught:
        read_station(text.encode(), "weather.csv", "access", Findings())
    assert [p.line for p in caught.value.problems] == [3]


LB = 0.45359237  # kg, international pound (1959), exact by definition
IN_ITS_UNIT = [
    # heading, cells, count, mass in kg
    ("quantity,unit", "3,lb", None, 3 * LB),
    ("quantity,unit", "2,dozen", 24.0, None),
    ("quantity,unit", "3,pieces", 3.0, None),
    ("quantity,unit", "3,", 3.0, None),
    ("quantity,unit", "12,oz", None, 12 / 16 * LB),
    ("weight_lb,unit", "12,oz", None, 12 / 16 * LB),
    ("weight_lb,unit", "12,", None, 12 * LB),
    ("weight_lb,unit", "0.5,kg", None, 0.5),
    ("weight_kg,unit", "12,each", 12.0, None),
    ("amount,unit", "2,dozen", 24.0, None),
    ("count,weight,unit", "4,2,lb", 4.0, 2 * LB),
    ("count,weight,unit", "4,,lb", 4.0, None),
    ("count,weight_kg,unit", "2,3,dozen", 24.0, 3.0),
    ("quantity,unit", "3 lb 4 oz,lb", None, 3.25 * LB),
]
CONTRADICTED = [
    ("quantity,unit", "3 lb,kg"),
    ("quantity,unit", "2 dozen,lb"),
    ("quantity,unit", "3,stone"),
    ("count,weight,unit", "4,2,each"),
    ("quantity,unit,unit", "3,lb,kg"),
    ("quantity,unit,oversize", "3,lb,1"),
]


@pytest.mark.parametrize(("heading", "cells", "count", "mass"), IN_ITS_UNIT)
def test_the_unit_of_a_row_decides_for_it(
    heading: str, cells: str, count: float | None, mass: float | None, make: Maker
) -> None:
    text = f"date,crop,{heading}\n2026-07-10,cucumber,{cells}\n"
    picks = open_garden(make(picks=text), today="2026-07-25").picks
    (make("other") / "log.csv").write_text(text)
    imported = read_foreign(make("third", **{"log.csv": text}) / "log.csv")
    assert imported.problems == ()
    for found in (picks, imported.picks):
        assert found["count"].tolist() == pytest.approx(
            [np.nan if count is None else count], nan_ok=True
        )
        assert found["mass_kg"].tolist() == pytest.approx(
            [np.nan if mass is None else mass], nan_ok=True
        )


@pytest.mark.parametrize(("heading", "cells"), CONTRADICTED)
def test_a_unit_that_cannot_be_meant_is_a_problem(heading: str, cells: str, make: Maker) -> None:
    text = f"date,crop,{heading}\n2026-07-10,cucumber,{cells}\n"
    folder = make(picks=text, **{"log.csv": text})
    assert {p.line for p in check_garden(folder, today="2026-07-25")[0]} == {2}
    preview = read_foreign(folder / "log.csv")
    assert {p.line for p in preview.problems} == {2}
    assert preview.lines["became"].tolist() == ["not read"]


@pytest.mark.parametrize(
    ("heading", "first", "second", "count", "mass"),
    [
        ("date,unit,Cucumbers,Tomatoes", "2026-07-05,lb,1,2", "2026-07-06,dozen,1,", [12], [1, 2]),
        ("crop,unit,2026-07-05,2026-07-06", "cucumber,lb,1,2", "tomato,dozen,1,", [12], [1, 2]),
        ("date,unit,Cucumbers (kg)", "2026-07-05,lb,1", "2026-07-06,oz,32", [], [1, 2]),
    ],
)
def test_the_unit_of_a_row_decides_in_wide_tables(
    heading: str, first: str, second: str, count: list[float], mass: list[float], tmp_path: Path
) -> None:
    log = tmp_path / "log.csv"
    log.write_text(f"{heading}\n{first}\n{second}\n")
    for unit in (None, "each"):  # what is said of bare numbers is no word against the file
        preview = read_foreign(log, unit=unit)
        assert preview.problems == ()
        assert preview.picks["count"].dropna().tolist() == pytest.approx(count)
        assert sorted(preview.picks["mass_kg"].dropna() / LB) == pytest.approx(mass)


@pytest.mark.parametrize(
    ("heading", "line"),
    [
        ("date,unit,Cucumbers,Tomatoes", "2026-07-05,stone,1,2"),
        ("crop,unit,2026-07-05,2026-07-06", "cucumber,stone,1,2"),
        ("date,unit,Cucumbers (count)", "2026-07-05,kg,1"),
        ("date,unit,Beans,Green beans", "2026-07-05,kg,1,2"),
    ],
)
def test_a_wide_table_contradicts_itself_aloud(heading: str, line: str, tmp_path: Path) -> None:
    log = tmp_path / "log.csv"
    log.write_text(f"{heading}\n{line}\n")
    assert [p.line for p in read_foreign(log).problems] == [2]


def test_the_unit_of_a_row_of_weather(make: Maker) -> None:
    text = "date,tmin_c,tmax_c,rain_mm,unit\n2026-07-18,50,68,1,F\n2026-07-19,10,20,1,\n"
    weather = open_garden(make(weather=text), today="2026-07-25").weather
    assert weather["tmin_c"].tolist() == pytest.approx([10, 10])
    problems, _ = check_garden(make("b", weather=text.replace(",F", ",K")), today="2026-07-25")
    assert [(p.line, p.value) for p in problems] == [(2, "K")]


def test_the_unit_of_a_row_of_plantings(make: Maker) -> None:
    text = "crop,date,how,plants,row,unit\ntomato,2026-05-25,set_out,2,,dozen\n"
    text += "cucumber,2026-05-25,sown,,10,ft\n"
    plantings = open_garden(make(plantings=text), today="2026-07-25").plantings
    assert plantings["plants"].tolist()[0] == 24
    assert plantings["row_m"].tolist()[1] == pytest.approx(3.048)
    for wrong in ("30,,ft", "3,,stone"):
        text = f"crop,date,how,quantity,row,unit\ncucumber,2026-05-25,sown,{wrong}\n"
        problems, _ = check_garden(make(wrong[:3], plantings=text), today="2026-07-25")
        assert [(p.line, p.column) for p in problems] == [(2, "unit")]


def test_the_unit_of_a_row_of_the_pantry(make: Maker) -> None:
    text = "date,product,jar,change,produce,unit\n2026-07-15,dill pickles,pint,7,10,lb\n"
    pantry = open_garden(make(pantry=text), today="2026-07-25").pantry
    assert pantry["produce_kg"].tolist() == pytest.approx([10 * LB])
    for wrong in ("10,pint", ",lb"):
        text = f"date,product,change,produce,unit\n2026-07-15,dill pickles,7,{wrong}\n"
        problems, _ = check_garden(make(wrong[-3:], pantry=text), today="2026-07-25")
        assert [(p.line, p.column) for p in problems] == [(2, "unit")]


def test_a_pick_is_added_in_the_unit_column(make: Maker) -> None:
    folder = make(picks="date,crop,quantity,unit\n2026-07-10,cucumber,3,lb\n")
    add_pick(folder, "cucumber", "2 lb", on="2026-07-11", today=dt.date(2026, 7, 25))
    add_pick(folder, "cucumber", "5", on="2026-07-12", today=dt.date(2026, 7, 25))
    assert (folder / "picks.csv").read_text().splitlines()[2:] == [
        "2026-07-11,cucumber,2,lb",
        "2026-07-12,cucumber,5,",
    ]


def test_a_pick_of_two_files_counts_once_where_one_lacks_its_weight(make: Maker) -> None:
    heading = "date,crop,variety,count,weight_kg\n"
    counted = heading + "2026-07-10,cucumber,Fennick,12,\n2026-07-11,cucumber,Fennick,5,\n"
    weighed = heading + "2026-07-10,cucumber,Fennick,12,1.5\n2026-07-11,cucumber,Fennick,,0.7\n"
    folder = make(picks=counted, **{"picks2.csv": weighed})
    garden = open_garden(folder, today="2026-07-25")
    # The 5 and the 0.7 kg share nothing that says they are one basket.
    assert garden.picks["count"].fillna(0).tolist() == [12, 5, 0]
    assert garden.picks["mass_kg"].dropna().tolist() == [1.5, 0.7]
    said = garden.notices[garden.notices["code"] == "pick.twice_poorer"]
    assert said[["file", "line"]].to_numpy().tolist() == [["picks.csv", 2]]
    # Of one file they are two baskets, as the log itself is read.
    both = open_garden(make("b", picks=counted + weighed.removeprefix(heading)), today="2026-07-25")
    assert both.picks["count"].sum() == 12 + 5 + 12


def test_an_import_takes_such_a_pick_for_most_likely_there_already(make: Maker) -> None:
    heading = "date,crop,variety,count,weight_kg\n"
    log = heading + "2026-07-10,cucumber,Fennick,12,\n"
    folder = make(picks=log, **{"log.csv": heading + "2026-07-10,cucumber,Fennick,12,1.5\n"})
    preview = read_foreign(folder / "log.csv", folder=folder)
    assert preview.lines["became"].tolist() == ["alike"]
    assert "which has no weight" in preview.lines["meaning"][0]
    assert len(read_foreign(folder / "log.csv", folder=folder, take_alike=True).picks) == 1
