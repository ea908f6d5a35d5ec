"""Logs kept in another form: understood line by line, or said line by line."""

from collections.abc import Callable
from pathlib import Path

import openpyxl
import pandas as pd
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table as OdfTable
from odf.table import TableCell, TableRow
from odf.text import P

from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.importing.preview import Preview, read_foreign
from harvestcast.records.importing.write import import_into
from tests.records.conftest import GOOD, refused

Maker = Callable[..., Path]
LB = 0.45359237

WANTED = [
    ("2026-07-05", "cucumber", "Fennick", 12.0, None),
    ("2026-07-05", "tomato", "unnamed", None, 3.25),
    ("2026-07-25", "cucumber", "Fennick", 0.0, 0.0),
    ("2026-07-25", "tomato", "unnamed", None, 1.5),
]
"""The same four picks in every hand below."""

LONG = [
    ["Date", "Vegetable", "Cultivar", "Count", "Weight (kg)"],
    ["5 July 2026", "Cucumbers", "Fennick", "1 dozen", ""],
    ["5 July 2026", "Tomatoes", "", "", "3,25"],
    ["25 July 2026", "cuke", "Fennick", "none", ""],
    ["25 July 2026", "TOMATO", "", "", "1,5"],
]
WIDE = [
    ["Day", "Cucumbers - Fennick", "Tomatoes (kg)", "Notes"],
    ["7/5/2026", "12", "3.25", ""],
    ["7/25/2026", "0", "1.5", "wet"],
]
BY_DAY = [
    ["crop", "variety", "unit", "5.7.2026", "25.7.2026"],
    ["Cucumbers", "Fennick", "each", "12", "0"],
    ["Tomatoes", "", "kg", "3.25", "1.5"],
]
UNITS = [
    ["when", "what", "variety", "amount", "uom"],
    ["20260705", "cucumber", "Fennick", "12", "pcs"],
    ["2026/7/5", "tomato", "", "3250", "grams"],
    ["Sat 25 Jul 2026", "cucumber", "Fennick", "0", "each"],
    ["2026-07-25 18:30", "tomato", "", "1.5", "kg"],
]


def picks_of(preview: Preview) -> list[tuple[object, ...]]:
    frame = preview.picks.sort_values(["date", "crop"], kind="stable")
    frame["date"] = frame["date"].dt.strftime("%Y-%m-%d")
    plain = frame.astype(object).where(frame.notna(), None)
    names = ["date", "crop", "variety", "count", "mass_kg"]
    return [
        (*row[:4], None if row[4] is None else round(row[4], 6))
        for row in plain[names].itertuples(index=False, name=None)
    ]


def as_text(rows: list[list[str]], mark: str, encoding: str) -> bytes:
    lines = []
    for row in rows:
        lines.append(mark.join(f'"{cell}"' if mark in cell else cell for cell in row))
    return ("\r\n".join(lines) + "\r\n").encode(encoding)


def as_xlsx(rows: list[list[str]], path: Path) -> Path:
    book = openpyxl.Workbook()
    for row in rows:
        book.worksheets[0].append(row)
    book.save(path)
    return path


def as_ods(rows: list[list[str]], path: Path) -> Path:
    document = OpenDocumentSpreadsheet()
    table = OdfTable(name="log")
    for row in rows:
        line = TableRow()
        for text in row:
            cell = TableCell(valuetype="string") if text else TableCell()
            if text:
                cell.addElement(P(text=text))
            line.addElement(cell)
        table.addElement(line)
    document.spreadsheet.addElement(table)
    document.save(str(path))
    return path


SHAPES: dict[str, tuple[list[list[str]], dict[str, object]]] = {
    "a line a pick": (LONG, {}),
    "a column a crop": (WIDE, {"date_order": "month_first", "unit": "each"}),
    "a column a day": (BY_DAY, {"date_order": "day_first"}),
    "a column of units": (UNITS, {}),
}


@pytest.mark.parametrize("shape", sorted(SHAPES))
@pytest.mark.parametrize("mark", list(",;\t|"))
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_one_log_in_every_hand(shape: str, mark: str, encoding: str, tmp_path: Path) -> None:
    rows, asked = SHAPES[shape]
    path = tmp_path / "log.csv"
    path.write_bytes(as_text(rows, mark, encoding))
    preview = read_foreign(path, **asked)  # type: ignore[arg-type]
    assert preview.problems == ()
    assert picks_of(preview) == WANTED
    assert set(preview.lines["became"]) == {"read"}


@pytest.mark.parametrize("shape", sorted(SHAPES))
@pytest.mark.parametrize("kind", ["xlsx", "ods"])
def test_one_log_in_every_workbook(shape: str, kind: str, tmp_path: Path) -> None:
    rows, asked = SHAPES[shape]
    path = {"xlsx": as_xlsx, "ods": as_ods}[kind](rows, tmp_path / f"log.{kind}")
    assert picks_of(read_foreign(path, **asked)) == WANTED  # type: ignore[arg-type]


def write(folder: Path, text: str, name: str = "log.csv") -> Path:
    path = folder / name
    path.write_text(text, "utf-8")
    return path


def test_the_preview_says_what_became_of_every_line(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        "Our harvest\n"
        "Date,Crop,Count,Weight lb,Mood\n"
        "2026-07-05,cucumber,12,,good\n"
        "2026-07-05,cucumber,12,,good\n"
        ",zucchini,3,,\n"
        "7/5/2026,okra,4,,\n"
        "2026-07-06,okra,some,,\n"
        "2026-07-06,,4,,\n"
        "2026-07-07,tomato,,,\n"
        "Date,Crop,Count,Weight lb,Mood\n"
        "2026-07-08,tomato,,3 lb 4 oz,\n"
        "Total,,35,,\n",
    )
    preview = read_foreign(path)
    assert preview.lines[["line", "became"]].to_numpy().tolist() == [
        [1, "left out"],
        [3, "read"],
        [4, "twice"],
        [5, "read"],
        [6, "not read"],
        [7, "not read"],
        [8, "not read"],
        [9, "left out"],
        [10, "left out"],
        [11, "read"],
        [12, "left out"],
    ]
    means = dict(zip(preview.lines["line"], preview.lines["meaning"], strict=True))
    assert means[3] == "2026-07-05 cucumber: 12"
    assert means[4] == "2026-07-05 cucumber: 12; already in line 3 of log.csv"
    assert means[5] == "2026-07-05 zucchini: 3; date taken from the line above"
    assert means[6] == "the date may be 7 May 2026 or 5 July 2026"
    assert means[10] == "the heading again"
    assert means[11] == "2026-07-08 tomato: 1.47 kg"
    assert means[12] == "a sum, not a pick"
    assert [p.line for p in preview.problems] == [6, 7, 8]
    assert preview.columns["taken_for"].to_list() == [
        "date",
        "crop",
        "count",
        "weight in lb",
        "not used",
    ]
    assert "its column was not used; rename it, or say what it holds" in (
        preview.notices["done"].to_list()
    )
    assert len(preview.picks) == 3


def test_ambiguous_dates_are_asked_for_and_the_file_may_give_a_hint(tmp_path: Path) -> None:
    path = write(tmp_path, "date,crop,count\n7/5/2026,okra,1\n7/25/2026,okra,2\n")
    preview = read_foreign(path)
    assert len(preview.problems) == 1 and preview.date_order == "month_first"
    settled = read_foreign(path, date_order=preview.date_order)
    assert settled.picks["date"].to_list() == list(pd.to_datetime(["2026-07-05", "2026-07-25"]))
    both = write(tmp_path, "date,crop,count\n25/7/2026,okra,1\n7/25/2026,okra,2\n", "both.csv")
    assert read_foreign(both).date_order is None


def test_the_gardens_settings_order_dates_and_name_crops(make: Maker, tmp_path: Path) -> None:
    folder = make(
        garden='elevation_m = 1\ndate_order = "day_first"\n[crops."winter squash"]\n'
        'aliases = ["squash"]\n[crops.oca]\n'
    )
    path = write(tmp_path, "date,Fennick,Squash,Oca,Brick Row\n5/7/2026,3,1,9,2\n")
    preview = read_foreign(path, folder=folder, unit="each")
    assert preview.problems == ()
    assert [row[:4] for row in picks_of(preview)] == [
        ("2026-07-05", "cucumber", "Fennick", 3.0),
        ("2026-07-05", "oca", "unnamed", 9.0),
        ("2026-07-05", "tomato", "Brick Row", 2.0),
        ("2026-07-05", "winter squash", "unnamed", 1.0),
    ]


def test_bare_numbers_in_a_wide_table_are_asked_about_once(tmp_path: Path) -> None:
    path = write(tmp_path, "date,Cucumbers,Okra (lb)\n" + "2026-07-05,3,1\n" * 50)
    preview = read_foreign(path)
    assert [p.value for p in preview.problems] == ["Cucumbers"]
    assert preview.problems[0].code == "number.no_units"


@pytest.mark.parametrize(
    ("heading", "taken_for"),
    [
        ("Cucumber count", "cucumber, count"),
        ("Cucumbers (lbs)", "cucumber, lb"),
        ("Weight of tomatoes in grams", "tomato, g"),
        ("Brandy Barn tomato", "tomato Brandy Barn, count"),
        ("Tomato: Brandy Barn", "tomato Brandy Barn, count"),
        ("Tomatoes (Brandy Barn)", "tomato Brandy Barn, count"),
        ("Zucchini oversize", "zucchini, oversize, count"),
        ("Temperature", "not used"),
    ],
)
def test_headings_of_wide_tables(heading: str, taken_for: str, tmp_path: Path) -> None:
    path = write(tmp_path, f"date\t{heading}\tokra\n2026-07-05\t1\t1\n")
    preview = read_foreign(path, unit="each")
    assert preview.columns["taken_for"].to_list() == ["date", taken_for, "okra, count"]


def test_a_sheet_a_crop(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheets = [book.worksheets[0], book.create_sheet(), book.create_sheet()]
    for sheet, title in zip(sheets, ("Cucumbers", "Tomatoes", "Recipes"), strict=True):
        sheet.title = title
    for sheet in sheets[:2]:
        sheet.append(["date", "weight kg"])
        sheet.append(["2026-07-05", 2.5])
    sheets[2].append(["Grandmother's pickles"])
    book.save(tmp_path / "log.xlsx")
    preview = read_foreign(tmp_path / "log.xlsx")
    assert preview.picks["crop"].to_list() == ["cucumber", "tomato"]
    # A sheet of another kind stops nothing beside a log; it is said, and so are its lines.
    assert preview.problems == ()
    odd = preview.notices[preview.notices["code"] == "sheet.no_log"]
    assert odd["value"].to_list() == ["Recipes"]


def test_the_same_file_twice_is_said_and_not_doubled(tmp_path: Path) -> None:
    text = "date,crop,kg\n2026-07-05,okra,1.5\n2026-07-06,okra,2\n"
    paths = [write(tmp_path, text, "a.csv"), write(tmp_path, text, "b.csv")]
    preview = read_foreign(paths)
    assert len(preview.picks) == 2
    assert preview.lines["became"].to_list() == ["read", "read", "twice", "twice"]
    assert preview.notices["code"].to_list() == ["file.twice"]
    assert preview.notices["facts"].to_list() == [{"first": "a.csv"}]


def test_a_remark_or_a_bed_alone_makes_no_second_basket_of_a_pick_in_the_log(
    make: Maker, tmp_path: Path
) -> None:
    """Neither doubled nor dropped unsaid: it is listed, and taken in where that is asked for."""
    folder = make(
        picks="date,crop,variety,count,bed,note\n"
        "2026-07-10,cucumber,Fennick,4,,\n"
        "2026-07-11,okra,,5,North,\n"
        "2026-07-12,okra,,6,North,\n"
        "2026-07-13,okra,,7,,dry\n"
    )
    path = write(
        tmp_path,
        "date,crop,variety,count,bed,note\n"
        "2026-07-10,cucumber,Fennick,4,,from the old book\n"
        "2026-07-11,okra,,5,,\n"
        "2026-07-12,okra,,6,South,\n"
        "2026-07-13,okra,,7,,wet\n"
        "2026-07-13,okra,,7,,dry\n",
    )
    preview = read_foreign(path, folder=folder)
    assert preview.lines["became"].to_list() == ["alike", "alike", "read", "read", "twice"]
    means = preview.lines["meaning"].to_list()
    assert means[0] == (
        "2026-07-10 cucumber Fennick: 4; most likely the basket of line 2 of the garden's "
        "picks.csv, which has no note; left out"
    )
    assert means[1].endswith("line 3 of the garden's picks.csv, which has a bed; left out")
    done = import_into(folder, preview)
    assert (done.picks, done.twice, done.alike) == (2, 1, 2)
    settled = read_foreign(path, folder=folder, take_alike=True)
    assert settled.lines["became"].to_list() == ["read", "read", "twice", "twice", "twice"]
    assert import_into(folder, settled).picks == 2
    assert len(open_garden(folder, today="2026-07-25").picks) == 8
    again = read_foreign(path, folder=folder)
    assert set(again.lines["became"]) == {"twice"}


def test_rows_of_one_file_that_differ_in_bed_or_note_are_two_baskets(tmp_path: Path) -> None:
    path = write(
        tmp_path,
        "date,crop,count,bed,note\n"
        "2026-07-10,lettuce,2,A1,\n2026-07-10,lettuce,2,A2,\n2026-07-10,lettuce,2,,\n"
        "2026-07-10,lettuce,2,A1,second\n2026-07-10,lettuce,2,A1,\n",
    )
    preview = read_foreign(path)
    assert preview.lines["became"].to_list() == ["read", "read", "read", "read", "twice"]
    assert len(preview.picks) == 4 and preview.alike == 0


def test_each_basket_of_the_log_answers_to_one_row(make: Maker, tmp_path: Path) -> None:
    folder = make(picks="date,crop,count,note\n2026-07-10,okra,4,\n")
    path = write(
        tmp_path, "date,crop,count,note\n2026-07-10,okra,4,early\n2026-07-10,okra,4,late\n"
    )
    preview = read_foreign(path, folder=folder)
    assert preview.lines["became"].to_list() == ["alike", "read"]
    exact = write(tmp_path, "date,crop,count,note\n2026-07-10,okra,4,early\n2026-07-10,okra,4,\n")
    preview = read_foreign(exact, folder=folder)
    assert preview.lines["became"].to_list() == ["read", "twice"]


@pytest.mark.parametrize(
    ("heading", "columns"),
    [
        ("Which kind", {}),
        ("kind", {}),
        ("Type", {}),
        ("Cultivar", {}),
        ("What we call it", {"what we call  it": "Variety"}),
    ],
)
def test_the_variety_stands_under_a_heading_of_ones_own(
    heading: str, columns: dict[str, str], tmp_path: Path
) -> None:
    path = write(tmp_path, f"When,What,{heading},How many\n2026-07-05,okra,Tall Tim,4\n")
    preview = read_foreign(path, columns=columns)
    assert preview.columns["taken_for"].to_list() == ["date", "crop", "variety", "count"]
    assert preview.picks["variety"].to_list() == ["Tall Tim"]


def test_a_column_may_be_said_to_hold_a_weight(tmp_path: Path) -> None:
    path = write(tmp_path, "date,crop,Heft,beet\n2026-07-05,okra,4,North\n")
    preview = read_foreign(path, columns={"Heft": "weight_lb"})
    assert preview.picks["mass_kg"].to_list() == pytest.approx([1.81437], abs=1e-5)
    assert preview.picks["bed"].to_list() == ["North"]


def test_a_column_that_is_not_there_or_means_nothing_is_refused(tmp_path: Path) -> None:
    path = write(tmp_path, "date,crop,count\n2026-07-05,okra,4\n")
    problems = read_foreign(path, columns={"Whcih kind": "variety"}).problems
    (problem,) = problems
    assert (problem.file, problem.value, problem.code) == ("log.csv", "whcih kind", "column.absent")
    assert problem.facts == {"headings": "date, crop, count"}
    with refused("column.no_meaning"):
        read_foreign(path, columns={"count": "mood"})


def test_messages_name_the_sheet_of_a_workbook_with_several(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    for sheet, number in ((book.worksheets[0], "lots"), (book.create_sheet("wet"), "4")):
        sheet.append(["date", "crop", "count", "Mood"])
        sheet.append(["2026-07-05", "okra", number, "glad"])
    book.worksheets[0].title = "dry"
    book.save(tmp_path / "log.xlsx")
    preview = read_foreign(tmp_path / "log.xlsx")
    assert [p.file for p in preview.problems] == ["log.xlsx, sheet dry"]
    assert preview.notices["file"].to_list() == ["log.xlsx, sheet dry", "log.xlsx, sheet wet"]
    again = read_foreign([tmp_path / "log.xlsx"] * 2)
    assert "already in line 2 of log.xlsx, sheet wet" in again.lines["meaning"].to_list()[-1]


def test_the_same_pick_in_two_units_is_one(tmp_path: Path) -> None:
    kilograms = write(tmp_path, "date,crop,kg\n2026-07-05,okra,0.907\n", "a.csv")
    pounds = write(tmp_path, "date,crop,lb\n2026-07-05,okra,2\n2026-07-05,okra,2.01\n", "b.csv")
    preview = read_foreign([kilograms, pounds])
    assert preview.lines["became"].to_list() == ["read", "twice", "read"]


@pytest.mark.parametrize("units", ["us", "metric"])
def test_import_writes_a_new_file_and_touches_no_other(
    make: Maker, tmp_path: Path, units: str
) -> None:
    folder = make(garden=f'elevation_m = 1\nunits = "{units}"\n')
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    path = write(
        tmp_path,
        "date,crop,variety,count,kg,grade,note\n"
        "2026-07-10,cucumber,Fennick,4,0.5,,\n"
        "2026-07-11,cucumber,Fennick,8,1.0105,oversize,=cmd|' /C calc'!A0\n"
        "2026-07-12,cucumber,Fennick,none,,,\n",
        "My old log (1).csv",
    )
    preview = read_foreign(path, folder=folder)
    assert preview.lines["became"].to_list() == ["twice", "read", "read"]
    assert "already in line 2 of the garden's picks.csv" in preview.lines["meaning"][0]
    done = import_into(folder, preview)
    assert (done.file, done.picks, done.twice) == ("picks-from-My-old-log-1.csv", 2, 1)
    after = {p.name: p.read_bytes() for p in folder.iterdir() if not p.name.startswith(".")}
    assert {name: after[name] for name in before} == before
    assert b"'=cmd" in after[done.file]
    garden = open_garden(folder, today="2026-07-25")
    assert len(garden.picks) == 5 and garden.notices.empty
    new = garden.picks[garden.picks["file"] == done.file]
    assert new["mass_kg"].to_list() == pytest.approx([1.0105, 0], abs=1e-4)
    assert new["grade"].to_list() == ["oversize", "good"]
    assert new["note"].to_list()[0] == "=cmd|' /C calc'!A0"
    again = import_into(folder, read_foreign(path, folder=folder))
    assert (again.file, again.picks) == ("", 0)
    stale = import_into(folder, preview)
    assert (stale.file, stale.picks, stale.twice) == ("", 0, 3)


def test_problems_stop_an_import_unless_they_are_to_be_left_out(
    make: Maker, tmp_path: Path
) -> None:
    folder = make()
    path = write(tmp_path, "date,crop,count\nnever,okra,1\n2026-07-05,okra,2\n")
    preview = read_foreign(path, folder=folder)
    with refused("date.unreadable"):
        import_into(folder, preview)
    assert sorted(p.name for p in folder.iterdir()) == sorted(GOOD)
    done = import_into(folder, preview, leave_out_unread=True)
    assert (done.picks, done.not_read) == (1, 1)
    assert check_garden(folder, today="2026-07-25")[0] == ()


@pytest.mark.parametrize(
    ("name", "content", "code", "facts"),
    [
        ("log.xls", b"\xd0\xcf\x11\xe0", "file.no_table", {"ending": ".xls"}),
        ("log.csv", b"", "file.without_table", {}),
        (
            "log.csv",
            b"a,b\n1,2\n",
            "column.none",
            {"missing": ["date", "crop", "count or weight"], "headings": "a, b"},
        ),
        (
            "log.csv",
            b"date,crop\n2026-07-05,okra\n",
            "column.none",
            {"missing": ["count or weight"], "headings": "date, crop"},
        ),
        (
            "log.csv",
            b"date,count\n2026-07-05,4\n",
            "column.no_crop",
            {"missing": ["crop"], "headings": "date, count"},
        ),
        ("log.xlsx", b"PK", "sheet.none", {}),
        ("log.csv", b"x" * 12_000, "table.cell", {"most": 10_000}),
    ],
)
def test_files_that_are_no_log(
    name: str, content: bytes, code: str, facts: dict[str, object], tmp_path: Path
) -> None:
    path = tmp_path / name
    path.write_bytes(content)
    preview = read_foreign(path)
    (problem,) = preview.problems
    assert (problem.code, problem.facts) == (code, facts)
    assert len(preview.picks) == 0


def test_names_that_cannot_be_crops_are_refused(make: Maker) -> None:
    lines = "".join(f"2026-07-05,thing {n},{n}\n" for n in range(400))
    problems, _ = check_garden(make(picks=f"date,crop,count\n{lines}"), today="2026-07-25")
    (problem,) = problems
    assert (problem.file, problem.column, problem.code) == ("picks.csv", "crop", "crop.too_many")
    assert problem.facts == {"number": 400, "column": "crop"}


def test_a_path_that_is_not_there(tmp_path: Path) -> None:
    assert [p.code for p in read_foreign(tmp_path / "none.csv").problems] == ["file.absent"]
    with refused("folder.missing"):
        read_foreign(tmp_path / "none.csv", folder=tmp_path / "nowhere")


def test_a_real_log_is_taken_over_whole(
    shared: Callable[[str], Path], make: Maker, tmp_path: Path
) -> None:
    """Counts and total weight agree with an independent reading of the file."""
    source = shared("data/home_garden_2020/picks.csv")
    folder = make(picks=None, plantings="crop,date,how\n", garden='units = "us"\n')
    preview = read_foreign(source, folder=folder)
    plain = pd.read_csv(source)
    assert preview.problems == () and len(preview.picks) == len(plain)
    done = import_into(folder, preview)
    assert done.picks == len(plain)
    total = open_garden(folder).picks["mass_kg"].sum()
    assert total == pytest.approx(plain["weight"].sum() / 1000, abs=1e-3)
    assert set(read_foreign(source, folder=folder).lines["became"]) == {"twice"}
