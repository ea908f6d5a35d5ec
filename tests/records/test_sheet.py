"""The blank picking sheet and the spreadsheet to type into."""

from collections.abc import Callable
from pathlib import Path

import openpyxl
from click.testing import CliRunner

from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.writing.sheet import sheet_lines, write_template
from harvestcast.report.command.main import main
from tests.records.conftest import refused

Maker = Callable[..., Path]


def test_the_sheet_holds_the_gardens_own_crops(make: Maker) -> None:
    plantings = (
        "crop,variety,bed,date,how,removed\n"
        "cucumber,Old Vine,A,2025-05-20,sown,\n"
        "garlic,Knob,D,2025-10-10,set_out,\n"
        "strawberry,Redcap,E,2021-04-01,set_out,\n"
        "rhubarb,,F,2010-04-01,set_out,2025-11-01\n"
        "cucumber,Fennick,B,2026-05-20,sown,\n"
        "cucumber,Fennick,A,2026-06-20,sown,\n"
        "tomato,Brick Row,B,2026-05-25,set_out,\n"
    )
    garden = open_garden(
        make(plantings=plantings, garden='units = "us"\nelevation_m = 1\n[crops.okra]\n'),
        today="2026-07-25",
    )
    lines = [(line.crop, line.variety, line.bed) for line in sheet_lines(garden)]
    assert lines == [
        ("cucumber", "Fennick", "A, B"),
        ("garlic", "Knob", "D"),
        ("okra", "", ""),
        ("strawberry", "Redcap", "E"),
        ("tomato", "Brick Row", "B"),
    ]
    assert {line.unit for line in sheet_lines(garden)} == {"lb"}
    assert ("cucumber", "Old Vine") in {(s.crop, s.variety) for s in sheet_lines(garden, 2025)}


def test_the_template_has_lists_and_can_be_filled_and_read(make: Maker) -> None:
    folder = make(picks=None)
    garden = open_garden(folder, today="2026-07-25")
    path = write_template(garden, folder / "picks-sheet.xlsx")
    book = openpyxl.load_workbook(path)
    sheet, lists = book["picks"], book["lists"]
    assert lists.sheet_state == "hidden"
    assert [c.value for c in lists["A"] if c.value] == ["cucumber", "tomato"]
    pairs = [(c.value, d.value) for c, d in zip(lists["C"], lists["D"], strict=True)]
    assert pairs == [("cucumber", "Fennick"), ("tomato", "Brick Row"), ("tomato", "Old Lantern")]
    rules = {str(rule.sqref): rule for rule in sheet.data_validations.dataValidation}
    assert rules["B2:B1001"].type == "list" and rules["B2:B1001"].formula1 == "lists!$A$1:$A$2"
    assert "MATCH($B2,lists!$C:$C,0)" in rules["C2:C1001"].formula1
    assert rules["F2:F1001"].formula1 == '"good,oversize,damaged"'
    assert check_garden(folder, today="2026-07-25")[0] == ()
    sheet["A2"], sheet["B2"], sheet["C2"], sheet["D2"] = "2026-07-21", "tomato", "Brick Row", 7
    book.save(path)
    picks = open_garden(folder, today="2026-07-25").picks
    assert picks[["crop", "variety", "count"]].to_numpy().tolist() == [["tomato", "Brick Row", 7]]


def test_the_template_never_overwrites(make: Maker) -> None:
    garden = open_garden(make(), today="2026-07-25")
    path = garden.folder / "picks.csv"  # type: ignore[operator]
    before = path.read_bytes()
    with refused("sheet.exists"):
        write_template(garden, path)
    assert path.read_bytes() == before


def test_a_blank_sheet_is_written_anew_and_a_used_one_never(make: Maker) -> None:
    folder = make()
    path = folder / "sheet.xlsx"
    write_template(open_garden(folder, today="2026-07-25"), path)
    (folder / "plantings.csv").write_text("crop,variety,date,how\nokra,Tall Tim,2026-05-01,sown\n")
    garden = open_garden(folder, today="2026-07-25")
    write_template(garden, path)
    book = openpyxl.load_workbook(path)
    assert book["lists"]["D1"].value == "Tall Tim"
    book["picks"]["B2"] = "okra"
    book.save(path)
    before = path.read_bytes()
    with refused("sheet.exists") as caught:
        write_template(garden, path)
    assert caught.value.problems[0].facts == {"free": "sheet-2.xlsx"}  # type: ignore[union-attr]
    assert path.read_bytes() == before


def test_a_second_sheet_goes_beside_one_that_is_in_use(make: Maker) -> None:
    folder = make()
    for _ in range(2):
        told = CliRunner().invoke(main, ["sheet", str(folder)])
        assert told.exit_code == 0 and "picks-2" not in told.output
    path = folder / "sheets" / "picks.xlsx"
    book = openpyxl.load_workbook(path)
    book["picks"]["B2"] = "okra"
    book.save(path)
    before = path.read_bytes()
    told = CliRunner().invoke(main, ["sheet", str(folder)])
    assert told.exit_code == 0, told.output
    assert "picks-2.xlsx" in told.output and "picks.xlsx was left as it is" in told.output
    assert path.read_bytes() == before and (folder / "sheets" / "picks-2.xlsx").exists()


def test_a_variety_that_looks_like_a_formula_stays_text(make: Maker) -> None:
    plantings = "crop,variety,date,how\nokra,=HYPERLINK(1),2026-05-01,sown\n"
    folder = make(plantings=plantings)
    garden = open_garden(folder, today="2026-07-25")
    book = openpyxl.load_workbook(write_template(garden, folder / "sheet.xlsx"))
    assert book["lists"]["D1"].data_type == "s"
    assert book["lists"]["D1"].value == "'=HYPERLINK(1)"


def test_a_garden_without_crops_still_gives_a_sheet(make: Maker, tmp_path: Path) -> None:
    garden = open_garden(make(plantings="crop,date,how\n"), today="2026-07-25")
    assert sheet_lines(garden) == ()
    assert write_template(garden, tmp_path / "sheet.xlsx").exists()
