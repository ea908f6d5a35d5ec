"""The kitchen book: reading and writing ``kitchen.csv``, and taking back what was written."""

import datetime as dt

import pandas as pd
import pytest

from harvestcast.errors import InputError, TypedError
from harvestcast.kitchen.household.entries import write_down
from harvestcast.records.garden import check_garden, garden_from_frames, open_garden
from harvestcast.records.typed.quantities import parse_quantity
from harvestcast.records.writing.add import add_pick, undo_last
from harvestcast.records.writing.start import start_garden

TODAY = dt.date(2026, 7, 20)
HEAD = "date,what,item,jar,amount,produce_lb,hours,note\n"


@pytest.fixture
def folder(tmp_path):
    start_garden(tmp_path / "plot", units="us", elevation_m=300.0, crops=["cucumber"], today=TODAY)
    return tmp_path / "plot"


@pytest.mark.parametrize(
    ("typed", "count", "kg", "litres"),
    [
        ("24", 24, None, None),
        ("2 dozen", 24, None, None),
        ("3 lb 4 oz", None, 3.25 * 0.45359237, None),  # avoirdupois pound, exact
        ("1.5 gal", None, None, 1.5 * 3.785411784),  # US gallon of 231 cubic inches, exact
        ("1 gal 2 qt", None, None, 1.5 * 3.785411784),
        ("3 cups", None, None, 3 * 0.2365882365),
        ("500 ml", None, None, 0.5),
        ("2 ft3", None, None, 2 * 28.316846592),
        ("12 fl oz", None, None, 12 * 0.0295735295625),
        ("1 1/2 cups", None, None, 1.5 * 0.2365882365),
        ("none", 0, None, None),
    ],
)
def test_amounts_of_a_kitchen(typed, count, kg, litres):
    found = parse_quantity(typed)
    for got, want in ((found.count, count), (found.volume_l, litres)):
        assert got == (None if want is None else pytest.approx(want))
    if kg is not None:
        assert found.mass_kg == pytest.approx(kg)


@pytest.mark.parametrize("typed", ["-3", "some", "3 gal 2 wats", "3 lb of 2 gal", "1 gal 2", ""])
def test_an_amount_that_cannot_be_read_is_refused(typed):
    with pytest.raises(TypedError):
        parse_quantity(typed)


def test_lines_become_the_kitchen_and_the_pantry(folder):
    (folder / "kitchen.csv").write_text(
        HEAD + "2026-07-11,counted,pint jars,,24,,,\n"
        "2026-07-12,put up,dill pickles,pint,7,8,2.5,\n"
        "2026-07-13,gave,cucumbers,,5 lb,,,\n"
        "2026-07-14,ate,dill pickles,pint,1,,,\n"
        "2026-07-14,gave,dill pickles,pint,2,,,\n",
        "utf-8",
    )
    garden = open_garden(folder, today=TODAY)
    assert garden.kitchen["what"].tolist() == ["counted", "given"]
    assert garden.pantry["change"].tolist() == [7.0, -1.0, -2.0]
    assert garden.pantry["what"].tolist() == ["put_up", "used", "given"]
    assert garden.pantry["produce_kg"].iloc[0] == pytest.approx(8 * 0.45359237)
    assert garden.last_day == pd.Timestamp("2026-07-14")


def test_a_folder_without_a_kitchen_book_reads_as_before(folder):
    (folder / "kitchen.csv").unlink(missing_ok=True)
    (folder / "pantry.csv").write_text("date,product,jar,change\n2026-07-12,dills,pint,7\n")
    garden = open_garden(folder, today=TODAY)
    assert garden.kitchen.empty
    assert garden.pantry["change"].tolist() == [7.0]


def test_every_bad_line_is_said_with_its_code(folder):
    (folder / "kitchen.csv").write_text(
        HEAD + "2026-07-11,wondered,pint jars,,24,,,\n"
        "2026-07-11,counted,,,24,,,\n"
        "2026-07-11,counted,lids,,,,,\n"
        "2026-07-11,counted,dill pickles,pint,24,,,\n"
        "2026-07-11,put up,dill pickles,pint,3 lb,,,\n"
        "2026-07-11,used,vinegar,,some,,,\n",
        "utf-8",
    )
    problems, _ = check_garden(folder, today=TODAY)
    assert [(one.line, one.code) for one in problems if one.file == "kitchen.csv"] == [
        (2, "kitchen.what"),
        (3, "kitchen.item_missing"),
        (4, "kitchen.amount_missing"),
        (5, "kitchen.shelf_counted"),
        (6, "kitchen.jars_counted"),
        (7, "amount.unknown_unit"),
    ]


def test_a_table_of_that_kind_is_read_without_a_file():
    book = pd.DataFrame(
        {"date": ["2026-07-11"], "what": ["counted"], "item": ["lids"], "amount": ["2 dozen"]}
    )
    assert garden_from_frames(kitchen=book).kitchen["count"].tolist() == [24.0]


def test_what_is_written_reads_back_and_can_be_taken_back(folder):
    kept = (folder / "kitchen.csv").read_bytes()
    one = write_down(folder, "put_up", "dills", "7 pints", produce="8 lb", hours="2.5", today=TODAY)
    assert one.lines == ("2026-07-20,put up,dill pickles,pint,7,8,2.5,",)
    assert [remark.code for remark in one.remarks] == ["kitchen.read_as"]
    write_down(folder, "counted", "lids", "2 dozen", on="yesterday", today=TODAY)
    garden = open_garden(folder, today=TODAY)
    (row,) = garden.pantry.to_dict("records")
    assert (row["product"], row["jar"], row["change"]) == ("dill pickles", "pint", 7.0)
    assert undo_last(folder).says == "new lids, 2026-07-19: counted 2 dozen"
    assert undo_last(folder).says == "dill pickles, 2026-07-20: put up 7 pints from 8 lb"
    assert (folder / "kitchen.csv").read_bytes() == kept


def test_what_needs_no_second_reading_is_not_said(folder):
    assert not write_down(folder, "counted", "lids", "24", on="2026-07-26").remarks


def test_what_is_laid_up_loose_is_weighed(folder):
    one = write_down(folder, "put_up", "onions in the cool store", "20 lb", today=TODAY)
    assert one.lines == ("2026-07-20,put up,onions in the cool store,kg,20 lb,,,",)
    assert one.says == "onions in the cool store, 2026-07-20: put up 20 lb"
    (kg,) = open_garden(folder, today=TODAY).pantry["change"]
    assert kg == pytest.approx(20 * 0.45359237)
    with pytest.raises(InputError):
        write_down(folder, "put_up", "onions in the cool store", "20", today=TODAY)


@pytest.mark.parametrize(
    "amount", ["4 x 500 ml", "4 jars of 500 ml", "4 jars 500 ml", "4 500 ml", "4 500ml jars"]
)
def test_metric_jars_are_said_in_one_breath(folder, amount):
    (line,) = write_down(folder, "put_up", "dills", amount, today=TODAY).lines
    assert line.replace("500ml", "500 ml") == "2026-07-20,put up,dill pickles,500 ml,4,,,"


def test_produce_is_weighed_and_preserves_of_its_name_are_in_jars(folder):
    add_pick(folder, "green beans", "12 lb", today=TODAY)
    for what, amount, line in (
        ("counted", "9 lb", "counted,snap bean,,9 lb"),
        ("used", "2 lb", "used,snap bean,,2 lb"),
        ("used", "2 pints", "used,canned snap beans,pint,2"),
    ):
        (written,) = write_down(folder, what, "green beans", amount, today=TODAY).lines
        assert written.startswith(f"2026-07-20,{line},")
        undo_last(folder)


def test_picks_and_kitchen_share_one_row_of_entries(folder):
    write_down(folder, "counted", "lids", "12", today=TODAY)
    add_pick(folder, "cucumber", "12", today=TODAY)
    assert undo_last(folder).file == "picks-2026.csv"
    assert undo_last(folder).file == "kitchen.csv"


def test_a_book_in_another_hand_keeps_it(folder):
    (folder / "kitchen.csv").write_bytes(
        "Datum;what;item;jar;amount;produce_kg\r\n".encode("utf-16")
    )
    write_down(folder, "put_up", "dills", "7", produce="3.5 kg", today=TODAY)
    text = (folder / "kitchen.csv").read_bytes().decode("utf-16")
    assert text.endswith("2026-07-20;put up;dill pickles;pint;7;3,5\r\n")
    assert open_garden(folder, today=TODAY).pantry["produce_kg"].tolist() == [3.5]


def test_a_book_without_a_column_is_left_alone(folder):
    book = "date,what,item,amount\n"
    (folder / "kitchen.csv").write_text(book, "utf-8")
    with pytest.raises(InputError) as caught:
        write_down(folder, "put_up", "dill pickles", "7", today=TODAY)
    assert [one.code for one in caught.value.problems] == ["kitchen.no_column"]
    assert (folder / "kitchen.csv").read_text("utf-8") == book


@pytest.mark.parametrize(
    ("what", "item", "amount", "code"),
    [
        ("counted", "wobble", "3", "kitchen.item_unknown"),
        ("put_up", "unicorn soup", "3", "kitchen.product_unknown"),
        ("put_up", "cucumbers", "3", "kitchen.product_unknown"),
        ("counted", "dill pickles", "3", "kitchen.shelf"),
        ("used", "freezer", "3 l", "kitchen.room_only"),
        ("used", "vinegar", "3", "kitchen.unit"),
        ("used", "lids", "3 lb", "kitchen.unit"),
        ("used", "lids", "", "kitchen.no_amount"),
        ("put_up", "dill pickles", "3 lb", "kitchen.jars_counted"),
    ],
)
def test_what_cannot_be_meant_is_refused_and_nothing_written(folder, what, item, amount, code):
    kept = (folder / "kitchen.csv").read_bytes()
    with pytest.raises(InputError) as caught:
        write_down(folder, what, item, amount, today=TODAY)
    assert code in [one.code for one in caught.value.problems]
    assert (folder / "kitchen.csv").read_bytes() == kept
