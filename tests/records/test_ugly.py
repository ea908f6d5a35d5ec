"""Six workbooks as households keep them: one preview, one command, every pick as it was."""

import datetime as dt
import json
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from click.testing import CliRunner

from harvestcast.records.garden import open_garden
from harvestcast.records.importing.preview import read_foreign
from harvestcast.report.command.main import main
from harvestcast.season.review.varieties import compare_varieties
from tests.records import uglier, ugly
from tests.records.conftest import refused

BOOKS: dict[str, tuple[Callable[[Path], list[ugly.Pick]], list[str], dict[str, str]]] = {
    "a sheet a month": (
        ugly.a_sheet_a_month, [],
        {"chard": "silverbeet"},
    ),
    "a sheet a crop": (
        ugly.a_sheet_a_crop, ["--column", "Toms=tomato"],
        {"snap bean": "french beans", "zucchini": "courgettes"},
    ),
    "a running list": (
        ugly.a_running_list, ["--column", "What we picked=crop"],
        {"fava bean": "broad beans"},
    ),
    "a wall calendar": (
        uglier.a_wall_calendar, [],
        {"cucumber": "gurken", "tomato": "tomaten", "chard": "mangold"},
    ),
    "a sheet a crop with months": (
        uglier.a_sheet_a_crop_with_months, [],
        {"snap bean": "runner beans", "zucchini": "courgettes"},
    ),
    "blocks with baskets": (
        uglier.blocks_with_baskets, ["--date-order", "month_first"],
        {},
    ),
}  # fmt: skip
BASKETS = {"blocks with baskets": 2}
"""Lines of which nobody knows the amount: said, and left out on request."""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    garden = tmp_path / "garden"
    garden.mkdir()
    (garden / "garden.toml").write_text("elevation_m = 120\n", "utf-8")
    return garden


def _order(pick: ugly.Pick) -> tuple[object, ...]:
    return (*pick[:3], pick[3] or -1, pick[4] or -1)


@pytest.mark.parametrize("name", BOOKS)
def test_one_preview_and_one_command_take_it_over_whole(name: str, folder: Path) -> None:
    make, more, words = BOOKS[name]
    book = folder.parent / "old log.xlsx"
    picks = make(book)
    asked = ["import", str(folder), str(book), *more, "--json"]
    preview = CliRunner().invoke(main, asked)
    baskets = BASKETS.get(name, 0)
    assert preview.exit_code == (1 if baskets else 0), preview.output
    told = json.loads(preview.stdout)
    assert [row["code"] for row in told["errors"]] == ["amount.volume"] * baskets
    assert not list(folder.glob("picks*"))
    # Nothing is lost unsaid: what was not taken is a sum, a title or an empty day.
    became = [row["became"] for row in told["lines"]]
    assert set(became) - {"not read"} == {"read", "left out"} and baskets == became.count(
        "not read"
    )
    unread = ["--leave-out-unread"] if baskets else []
    written = CliRunner().invoke(main, [*asked, "--write", *unread])
    assert written.exit_code == 0, written.output
    garden = open_garden(folder, today="2025-12-01")
    found = sorted(
        ((row["date"].date(), row["crop"], "" if row["variety"] == "unnamed" else row["variety"],
          *(None if row[n] != row[n] else row[n] for n in ("count", "mass_kg")))
         for row in garden.picks.astype({"count": float}).to_dict("records")),
        key=_order,
    )  # fmt: skip
    picks.sort(key=_order)
    assert [one[:4] for one in found] == [pick[:4] for pick in picks]
    for one, pick in zip(found, picks, strict=True):
        assert one[4] == pytest.approx(pick[4], abs=1e-3), (one, pick)
    # The household's own words are written down, not ours.
    assert {c: w for c, w in garden.crop_words.items() if c in words} == words


def test_two_varieties_in_one_cell_stand_in_the_note(folder: Path) -> None:
    book = folder.parent / "list.xlsx"
    ugly.a_running_list(book)
    picks = read_foreign(book, folder=folder, columns={"What we picked": "crop"}).picks
    both = picks[picks["note"].notna()]
    assert set(both["note"]) == {"Copperkin & Kettle Red", "Copperkin/Kettle Red"}
    assert set(both["variety"]) == {"unnamed"}


def test_a_name_with_an_and_in_it_stays_one_variety(folder: Path) -> None:
    file = folder.parent / "log.csv"
    file.write_text("date,crop,variety,count\n2025-07-01,squash,Salt & Straw,3\n", "utf-8")
    assert read_foreign(file, folder=folder).picks["variety"].to_list() == ["Salt & Straw"]


def test_a_sheet_without_a_year_has_that_of_its_workbook_and_says_so(folder: Path) -> None:
    book = folder.parent / "calendar.xlsx"
    uglier.a_wall_calendar(book)
    preview = read_foreign(book, folder=folder)
    odd = preview.notices
    said = odd.loc[odd["code"] == "date.year_above"]
    assert said["facts"].map(lambda facts: facts["used"]).eq("2025").all()
    assert len(said) == 3  # once a sheet
    # Two years in one workbook lend none.
    other = openpyxl.load_workbook(book)
    other["September"]["A1"] = "September 2024"
    other.save(book)
    assert "date.no_year" in {p.code for p in read_foreign(book, folder=folder).problems} or len(
        read_foreign(book, folder=folder).picks
    ) < len(preview.picks)


def test_a_sum_by_formula_needs_no_stored_result_and_is_never_a_number(folder: Path) -> None:
    book = openpyxl.Workbook()
    page = book.active
    for row in (["date", "tomato kg"], ["2025-07-01", 2], ["2025-07-02", "=SUM(B2:B2)"]):
        page.append(row)
    book.save(folder.parent / "log.xlsx")
    preview = read_foreign(folder.parent / "log.xlsx", folder=folder)
    # A day with a sum for its amount may be a pick: it is asked about, not taken for one.
    assert len(preview.picks) == 1 and len(preview.problems) == 1
    page["B3"] = "=B2*0.45"
    book.save(folder.parent / "log.xlsx")
    preview = read_foreign(folder.parent / "log.xlsx", folder=folder)
    assert {p.code for p in preview.problems} == {"sheet.formula"}


def _blocks(path: Path, *, over: tuple[str, str]) -> Path:
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = "2025"
    for left, name in zip((1, 4), over, strict=True):
        sheet.cell(1, left, name)
        for n, heading in enumerate(("Date", "kg")):
            sheet.cell(2, left + n, heading)
        sheet.cell(3, left, f"{left} July")
        sheet.cell(3, left + 1, 0.5 * left)
    book.save(path)
    return path


def test_whole_blocks_are_named_by_one_option_each(folder: Path) -> None:
    book = _blocks(folder.parent / "blocks.xlsx", over=("Wimbles", "hens"))
    assert {p.code for p in read_foreign(book, folder=folder).problems} == {"column.no_crop"}
    said = {"wimbles": "tomato Old Wimble", "Hens": "nothing"}
    preview = read_foreign(book, folder=folder, columns=said)
    assert preview.problems == ()
    row = preview.picks[["crop", "variety", "mass_kg"]].to_numpy().tolist()
    assert row == [["tomato", "Old Wimble", 0.5]]


def test_crops_over_blocks_need_no_option(folder: Path) -> None:
    book = _blocks(folder.parent / "blocks.xlsx", over=("Tomatoes", "Runner beans - Tall Osric"))
    picks = read_foreign(book, folder=folder).picks
    assert picks[["crop", "variety", "mass_kg"]].to_numpy().tolist() == [
        ["tomato", "unnamed", 0.5], ["snap bean", "Tall Osric", 2.0],
    ]  # fmt: skip


def test_what_a_block_is_said_to_be_must_be_known(folder: Path) -> None:
    book = _blocks(folder.parent / "blocks.xlsx", over=("Wimbles", "hens"))
    with refused("column.no_meaning"):
        read_foreign(book, folder=folder, columns={"Wimbles": "Old Wimble"})
    absent = read_foreign(book, folder=folder, columns={"Geese": "nothing", "Wimbles": "kale"})
    assert "column.absent" in {p.code for p in absent.problems}


@pytest.mark.parametrize(
    ("title", "sheet", "days"),
    [("What came in, July 2025", "Sheet1", ("1", "2")), ("2025", "July", ("1.", "2."))],
)
def test_bare_days_take_month_and_year_from_sheet_or_title(
    folder: Path, title: str, sheet: str, days: tuple[str, str]
) -> None:
    book = openpyxl.Workbook()
    page = book.active
    page.title = sheet
    page["A1"] = title
    for line, row in enumerate([("day", "tomato kg"), (days[0], 1.5), (days[1], 2)], 3):
        for column, value in enumerate(row, 1):
            page.cell(line, column, value)
    book.save(folder.parent / "month.xlsx")
    preview = read_foreign(folder.parent / "month.xlsx", folder=folder)
    assert preview.problems == ()
    assert [str(d.date()) for d in preview.picks["date"]] == ["2025-07-01", "2025-07-02"]
    assert "date.year_above" in set(preview.notices["code"])


def test_a_pick_that_only_looks_like_a_heading_is_read(folder: Path) -> None:
    file = folder.parent / "log.csv"
    file.write_text("date,crop,amount\n,tomato,none\n2025-07-02,tomato,2 kg\n", "utf-8")
    preview = read_foreign(file, folder=folder)
    assert {p.code for p in preview.problems} == {"date.missing"} and len(preview.picks) == 1


def test_plants_in_total_serve_where_no_pick_names_a_variety(folder: Path) -> None:
    """46 kg from ten plants of two varieties: 4.6 kg a plant of the crop, and no verdict."""
    (folder / "plantings.csv").write_text(
        "crop,variety,bed,date,how,plants\n"
        "tomato,Hob,A,2026-05-01,set_out,6\ntomato,Wimble,A,2026-05-01,set_out,4\n",
        "utf-8",
    )
    days = [dt.date(2026, 7, 1) + dt.timedelta(n) for n in range(40)]
    lines = [f"{day},tomato,,{5 + n % 3},{1 + n % 4 / 10}\n" for n, day in enumerate(days)]
    log = folder / "picks.csv"
    log.write_text("date,crop,variety,count,weight_kg\n" + "".join(lines), "utf-8")
    table = compare_varieties(open_garden(folder, today="2026-12-01"), year=2026).table
    (row,) = table.to_dict("records")
    assert row["variety"] == "unnamed"
    assert row["kg_per_plant_q05"] < 4.6 < row["kg_per_plant_q95"]
    # Where most picks name their variety, whose plants the others stand for is not known.
    own = [f"{day},tomato,Hob,5,1.0\n" for day in [*days, dt.date(2026, 8, 12)]]
    log.write_text(log.read_text("utf-8") + "".join(own), "utf-8")
    told = compare_varieties(open_garden(folder, today="2026-12-01"), year=2026).table
    per_plant = told.set_index("variety")["kg_per_plant"]
    assert per_plant.isna()["unnamed"] and per_plant.notna()["Hob"]


def test_marks_that_nobody_sees_stop_no_import(folder: Path) -> None:
    file = folder.parent / "log.csv"
    text = "date,crop,variety,count\n2025-07-01,oca\u200b,Hob\u200b Red\u00a0 F1,3\n"
    file.write_text(text, "utf-8")
    done = CliRunner().invoke(main, ["import", str(folder), str(file), "--write"])
    assert done.exit_code == 0, done.output
    (row,) = open_garden(folder, today="2025-12-01").picks.to_dict("records")
    assert (row["crop"], row["variety"], row["count"]) == ("oca", "Hob Red F1", 3)


def _csv(folder: Path, text: str) -> Path:
    file = folder.parent / "log 2025.csv"
    file.write_text(text, "utf-8")
    return file


def test_crops_over_varieties_without_units_ask_for_one(folder: Path) -> None:
    text = "Date,Tomatoes,,Cucumbers\n,Hob,Wimble,Long Friar\n1 July,3,,2\n2 July,,4,\n"
    file = _csv(folder, text)
    assert {p.code for p in read_foreign(file, folder=folder).problems} == {"number.no_units"}
    picks = read_foreign(file, folder=folder, unit="each").picks
    assert picks[["crop", "variety", "count"]].to_numpy().tolist() == [
        ["tomato", "Hob", 3], ["cucumber", "Long Friar", 2], ["tomato", "Wimble", 4],
    ]  # fmt: skip


def test_the_row_of_days_may_be_the_lowest_heading(folder: Path) -> None:
    text = "Summer,,,\n,Tomatoes,,Kale\nDate,each,kg,kg\n1 July,3,0.4,\n2 July,,,0.5\n"
    picks = read_foreign(_csv(folder, text), folder=folder).picks
    assert picks[["crop", "count", "mass_kg"]].astype(object).to_numpy().tolist() == [
        ["tomato", 3, 0.4], ["kale", pytest.approx(float("nan"), nan_ok=True), 0.5],
    ]  # fmt: skip


def test_a_table_of_nothing_but_headings_takes_no_longer_than_its_length(folder: Path) -> None:
    file = _csv(folder, "Date,Tomatoes,Kale\n" + ",kg,each\n" * 20_000)
    preview = read_foreign(file, folder=folder)
    assert len(preview.picks) == 0 and {p.code for p in preview.problems} <= {
        "date.missing", "more.problems", "amount.bare_unit",
    }  # fmt: skip


def test_sums_without_a_word_are_no_picks(folder: Path) -> None:
    text = (
        "Date,Tomatoes (kg),Kale (kg)\n1 July,1.5,0.2\n2 July,2.5,\n3 July,,0.4\n,4,0.6\n"
        "4 July,1,\n5 July,2,0.5\n6 July,,0.3\n,3,0.8\n,7,1.4\n"
    )
    preview = read_foreign(_csv(folder, text), folder=folder)
    assert preview.problems == () and len(preview.picks) == 8
    left = preview.lines[preview.lines["became"] == "left out"]
    assert left["line"].to_list() == [5, 9, 10] and set(left["meaning"]) == {"a sum, not a pick"}
    assert left["typed"].iloc[0] == " | 4 | 0.6"


def test_a_second_basket_that_happens_to_be_a_sum_is_a_pick(folder: Path) -> None:
    text = "Date,Tomatoes (kg)\n1 July,1\n2 July,2\n,3\n"
    preview = read_foreign(_csv(folder, text), folder=folder)
    assert [float(kg) for kg in preview.picks["mass_kg"]] == [1, 2, 3]
    assert "date.carried" in set(preview.notices["code"])


@pytest.mark.parametrize(
    ("sheet", "title", "variety"),
    [
        ("Tomatoes 2025", "", "unnamed"),
        ("Tomatoes 2025", "Hob Red", "Hob Red"),
        ("Tomatoes 2025", "Our tomatoes", "unnamed"),
        ("Our tomato harvest", "", "unnamed"),
        ("Tomatoes - Hob Red", "", "Hob Red"),
        ("2025 tomato Hob Red", "from the tunnel by the old wall", "Hob Red"),
    ],
)
def test_a_sheet_is_named_after_its_crop(
    folder: Path, sheet: str, title: str, variety: str
) -> None:
    book = openpyxl.Workbook()
    page = book.active
    page.title = sheet
    page["A1"] = title or None
    for line, row in enumerate([("Date", "kg"), ("1 July 2025", 1.5)], 2):
        for column, value in enumerate(row, 1):
            page.cell(line, column, value)
    book.save(folder.parent / "crop.xlsx")
    preview = read_foreign(folder.parent / "crop.xlsx", folder=folder)
    assert preview.problems == ()
    assert preview.picks[["crop", "variety"]].to_numpy().tolist() == [["tomato", variety]]


def _southern(path: Path, title: str) -> Path:
    """A season over New Year with days of two numbers, units below the headings, a remark in one.

    Invented.
    """
    book = openpyxl.Workbook()
    page = book.active
    for row in (
        [title],
        [],
        ["Day", "Cucumbers", "", "Strawbs", "Broad beans"],
        ["", "no.", "kg", "g", "kg (in pod)"],
        ["28/12", 4, 1.2, 350, 2.5],
        ["31.12.", 2, 0.6, None, 1.5],
        ["Total", 6, 1.8, 350, 4.0],
        ["3/1", 5, 1.5, 200, None],
    ):
        page.append(row)
    book.save(path)
    return path


def test_a_season_over_new_year_gives_each_day_its_own_year(folder: Path) -> None:
    book = _southern(folder.parent / "south.xlsx", "Garden log, season 2024/25")
    asked = {"folder": folder, "date_order": "day_first"}
    preview = read_foreign(book, columns={"Strawbs (g)": "strawberry"}, **asked)  # type: ignore[arg-type]
    assert preview.problems == ()
    rows = preview.picks.assign(day=preview.picks["date"].astype(str)).round({"mass_kg": 6})
    assert rows[["day", "crop", "count", "mass_kg"]].fillna(-1).to_numpy().tolist() == [
        ["2024-12-28", "cucumber", 4.0, 1.2],
        ["2024-12-28", "strawberry", -1, 0.35],
        ["2024-12-28", "fava bean", -1, 2.5],
        ["2024-12-31", "cucumber", 2.0, 0.6],
        ["2024-12-31", "fava bean", -1, 1.5],
        ["2025-01-03", "cucumber", 5.0, 1.5],
        ["2025-01-03", "strawberry", -1, 0.2],
    ]
    (said,) = preview.notices.loc[preview.notices["code"] == "date.year_above", "done"]
    assert said.startswith("read as days of 2024/25")


def test_the_caller_may_say_a_season_over_new_year(folder: Path) -> None:
    book = _southern(folder.parent / "south.xlsx", "Garden log")
    asked = {"folder": folder, "date_order": "day_first", "columns": {"Strawbs": "nothing"}}
    assert "date.no_year" in {p.code for p in read_foreign(book, **asked).problems}  # type: ignore[arg-type]
    for year, last in (("2024/25", "2025-01-03"), (2024, "2024-01-03")):
        picks = read_foreign(book, year=year, **asked).picks  # type: ignore[arg-type]
        found = picks.loc[picks["count"] == 5, "date"].item()
        assert str(found.date()) == last


def test_days_that_fall_back_over_new_year_are_asked_about(folder: Path) -> None:
    book = _southern(folder.parent / "south.xlsx", "Garden log 2024")
    asked = {"folder": folder, "date_order": "day_first", "columns": {"Strawbs": "nothing"}}
    notices = read_foreign(book, **asked).notices  # type: ignore[arg-type]
    (row,) = notices[notices["code"] == "date.new_year"].to_dict("records")
    assert row["line"] == 8 and "--year 2024/25" in row["done"]
    said = read_foreign(book, year="2024/25", **asked).notices  # type: ignore[arg-type]
    assert "date.new_year" not in set(said["code"])
