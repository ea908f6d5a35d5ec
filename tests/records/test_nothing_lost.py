"""What is typed comes out as typed, or a problem or notice names it: over all readers."""

from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest

from harvestcast.errors import InputError
from harvestcast.records.findings import Findings
from harvestcast.records.foreign import read_foreign
from harvestcast.records.garden import check_garden
from harvestcast.records.stations import read_station
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
    assert '"1,5"' in problems[0].cure and "heading" in problems[0].cure


@pytest.mark.parametrize("stem", ["weather", "picks", "plantings", "pantry"])
def test_empty_cells_at_the_end_are_none(stem: str, make: Maker) -> None:
    padded = "".join(f"{line},,\n" for line in GOOD[f"{stem}.csv"].splitlines())
    problems, notices = check_garden(make(**{stem: padded}), today="2026-07-25")
    assert problems == ()
    assert not notices["odd"].str.contains("heading").any()


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
