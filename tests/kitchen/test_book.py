"""The kitchen as it stands: last counted, less what was used since. Every sum is worked by hand."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvestcast.kitchen.household.book import (
    household_on,
    item_of,
    kitchen_notices,
    produce_events,
    stock_book,
)
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use
from harvestcast.kitchen.household.on_hand import on_hand
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.shopping import shopping_list
from harvestcast.records.garden import garden_from_frames
from harvestcast.records.household import Household

LB = 0.45359237
QUART_L = 0.946352946
FREEZER = {"kind": "freezer", "free_l": 30}
CANNER = {"kind": "boiling_water_canner"}


def kitchen(*lines, picks=None, **given_):
    """Return a garden whose kitchen book holds lines of: day of July, what, item, jar, amount."""
    book = pd.DataFrame(
        [(f"2026-07-{day:02d}", what, item, jar, str(amount), produce)
         for day, what, item, jar, amount, *rest in lines for produce in [(rest or [""])[0]]],
        columns=["date", "what", "item", "jar", "amount", "produce_lb"],
    )  # fmt: skip
    home = {"elevation_m": 300.0, "units": "us", "counted_on": "2026-07-11"} | given_
    return garden_from_frames(picks=picks, kitchen=book if len(book) else None, **home)


def left(garden, day="2026-07-15"):
    return stock_book(garden, day).set_index("name")["amount"].to_dict()


def test_seven_quarts_and_seven_lids_filled_are_gone():
    # USDA Complete Guide (AIB 539, rev. 2015), guide 6, quick fresh-pack dill pickles: 8 lb of
    # cucumbers take 1 1/2 qt of vinegar, 1/4 cup canning salt in 2 qt water (here the whole).
    garden = kitchen(
        (12, "put up", "dill pickles", "quart", 7, 16),
        jars={"quart": 7, "lids": 7},
        stock={"vinegar_gal": 2},
        equipment=[CANNER],
    )
    before = left(garden, "2026-07-11")
    after = left(garden, "2026-07-12")
    assert (before["quart"], before["lids"]) == (7, 7)
    assert (after["quart"], after["lids"]) == (0, 0)
    used = before["vinegar, 5 % acidity"] - after["vinegar, 5 % acidity"]
    assert used / QUART_L == pytest.approx(3.0)
    # More quarts have to be bought for.
    home = household_on(garden, "2026-07-14")
    batch = weekly_options(garden).query("option == 'dill_pickles/quart/boiling_water'")
    batch = batch.assign(batches=1.0, mass_kg=batch["kg_per_batch"], jars=4.0, jars_high=4.0)
    shop = shopping_list(batch, _with(garden, home)).set_index("item")
    assert shop.loc["quart jars", "to_buy"] == 4
    assert shop.loc["new lids", "to_buy"] == 12  # a box


def _with(garden, home):
    from dataclasses import replace

    return replace(garden, household=home)


def test_a_count_is_what_is_there_and_nothing_is_taken_off_twice():
    garden = kitchen(
        (12, "put up", "dill pickles", "pint", 7, 8),
        (13, "counted", "pint jars", "", 24),
        (13, "put up", "dill pickles", "pint", 6, 8),
        (14, "bought", "pint jars", "", 12),
        jars={"pint": 99, "lids": 99},
    )
    assert left(garden)["pint"] == 24 - 6 + 12
    book = stock_book(garden, "2026-07-15").set_index("name")
    assert book.loc["pint", "counted_on"] == pd.Timestamp("2026-07-13")
    assert book.loc["lids", "counted_on"] == pd.Timestamp("2026-07-11")
    once = household_on(garden, "2026-07-15")
    assert household_on(_with(garden, once), "2026-07-15") == once
    assert once.jars["pint"] == 30


def test_lines_of_a_day_hold_in_their_order():
    first = kitchen((12, "put up", "dill pickles", "pint", 7), (12, "counted", "pint jars", "", 5),
                    jars={"pint": 20})  # fmt: skip
    assert left(first)["pint"] == 5
    lines = ((12, "counted", "pint jars", "", 12), (12, "put up", "dill pickles", "pint", 7))
    second = kitchen(*lines, jars={"pint": 20})
    assert left(second)["pint"] == 5


def test_nothing_after_the_evening_is_read():
    garden = kitchen((14, "used", "lids", "", 3), jars={"lids": 10})
    assert left(garden, "2026-07-13")["lids"] == 10
    assert left(garden, "2026-07-14")["lids"] == 7


def test_an_eaten_jar_is_empty_again_and_a_given_one_is_gone():
    garden = kitchen(
        (12, "put up", "dill pickles", "pint", 7),
        (13, "used", "dill pickles", "pint", 2),
        (13, "gave", "dill pickles", "pint", 1),
        jars={"pint": 10, "lids": 10},
    )
    assert left(garden)["pint"] == 10 - 7 + 2
    assert left(garden)["lids"] == 3


def test_bags_and_freezer_room_fill_up_and_come_free():
    garden = kitchen(
        (12, "put up", "frozen peas", "pint bag", 10),
        (13, "used", "frozen peas", "pint bag", 4),
        jars={"freezer_bags": 20},
        equipment=[FREEZER],
    )
    # Ten pint bags at 0.6 l each (planning estimate of the house), four eaten again.
    assert left(garden)["freezer"] == pytest.approx(30 - 6 * 0.6)
    assert left(garden)["freezer_bags"] == 10
    home = household_on(garden, "2026-07-15")
    assert capacity_of(home, "2026-07-16", 3).store("freezer_l") == pytest.approx(26.4)


def test_room_of_two_freezers_is_counted_together():
    garden = kitchen((12, "counted", "freezer", "", "20 l"),
                     equipment=[FREEZER, {"kind": "freezer", "free_l": 90}])  # fmt: skip
    home = household_on(garden, "2026-07-15")
    assert sum(one.free_l for one in home.equipment) == pytest.approx(20)


def test_a_crock_that_ferments_is_not_free():
    garden = kitchen(
        (10, "put up", "fermented dill pickles", "quart", 4, 4),  # 4 lb fill a gallon
        equipment=[{"kind": "crock", "free_l": 3.785411784, "number": 2}],
        counted_on="2026-07-01",
    )
    crocks = [one for one in household_on(garden, "2026-07-15").equipment if one.kind == "crock"]
    assert [one.number for one in crocks] == [1]
    later = household_on(garden, "2026-09-15")
    assert [one.number for one in later.equipment if one.kind == "crock"] == [2]


def test_a_size_of_jar_that_only_the_book_knows_is_counted():
    """The book writes it as "jars of 700 ml", and reads that again."""
    assert {item_of(name, Household()).name for name in ("700 ml jars", "jars of 700 ml")} == {
        "700 ml"
    }
    garden = kitchen((12, "counted", "jars of 700 ml", "", "12"))
    assert kitchen_notices(garden).empty
    assert left(garden)["700 ml"] == 12


def test_metric_jars_are_taken_by_their_own_name():
    garden = kitchen((12, "put up", "dill pickles", "500 ml", 7), units="metric",
                     jars={"500 ml": 12, "lids": 12})  # fmt: skip
    assert left(garden)["500 ml"] == 5


def test_settings_without_a_day_are_taken_as_of_before_the_first_batch():
    garden = kitchen((12, "put up", "dill pickles", "pint", 7), jars={"pint": 10},
                     counted_on=None)  # fmt: skip
    book = stock_book(garden, "2026-07-15").set_index("name")
    assert book.loc["pint", "amount"] == 3
    assert book["counted_on"].isna().all()


def test_what_nobody_speaks_of_stays_unlimited():
    garden = kitchen((12, "put up", "dill pickles", "pint", 7))
    assert "pint" not in left(garden)
    assert np.isnan(capacity_of(household_on(garden, "2026-07-15"), "2026-07-16", 1).store("pint"))


@given(
    st.lists(
        st.tuples(
            st.integers(12, 20),
            st.sampled_from(["put up", "used", "bought", "counted", "thrown out"]),
            st.integers(0, 9),
        ),
        max_size=8,
    )
)
@settings(max_examples=40, deadline=None)
def test_what_is_left_is_the_sum_worked_by_hand(lines):
    """Brute force: the same lines through a plain sum, never below nothing."""
    rows = [(d, w, "dill pickles", "pint", n) if w == "put up" else (d, w, "pint jars", "", n)
            for d, w, n in lines]  # fmt: skip
    garden = kitchen(*rows, jars={"pint": 10})
    jars = 10
    for _, what, number in sorted(lines, key=lambda line: line[0]):
        if what == "counted":
            jars = number
        else:
            jars = max(0, jars + (number if what == "bought" else -number))
    assert left(garden, "2026-07-25")["pint"] == jars


PICKS = pd.DataFrame(
    {"date": pd.to_datetime(["2026-07-12", "2026-07-13", "2026-07-14"]), "crop": "cucumber",
     "mass_kg": [4.0, 6.0, 5.0]}
)  # fmt: skip
NO_APPETITE = {"crops": {"cucumber": {"eat_kg_per_person_week": 0.0}}}


def lying(garden, day="2026-07-14"):
    table = on_hand(garden, pd.Timestamp(day), fresh_use(garden, ["cucumber"]))
    return {f"{row['date']:%d}": round(row["mass_kg"], 3) for row in table.to_dict("records")}


def test_without_a_count_all_picks_lie_there():
    assert lying(kitchen(picks=PICKS, **NO_APPETITE)) == {"12": 4.0, "13": 6.0, "14": 5.0}


def test_a_count_takes_the_place_of_the_estimate_and_the_latest_picks_are_what_is_left():
    garden = kitchen((13, "counted", "cucumbers", "", "7 kg"), picks=PICKS, **NO_APPETITE)
    assert lying(garden) == {"12": 1.0, "13": 6.0, "14": 5.0}
    none = kitchen((13, "counted", "cucumbers", "", "none"), picks=PICKS, **NO_APPETITE)
    assert lying(none) == {"14": 5.0}


def test_what_was_given_fed_or_thrown_out_is_gone():
    garden = kitchen(
        (13, "counted", "cucumbers", "", "7 kg"),
        (13, "gave", "cucumbers", "", "2 kg"),
        (14, "fed", "cucumbers", "", "1 kg"),
        (14, "threw out", "cucumbers", "", "1.5 kg"),
        (14, "put up", "dill pickles", "pint", 3, f"{2 / LB:.6f}"),
        picks=PICKS,
        **NO_APPETITE,
    )
    assert sum(lying(garden).values()) == pytest.approx(7 + 5 - 2 - 1 - 1.5 - 2, abs=0.01)


def test_a_batch_before_the_count_of_its_day_is_in_the_count():
    before = kitchen(
        (13, "put up", "dill pickles", "pint", 3, f"{2 / LB:.6f}"),
        (13, "counted", "cucumbers", "", "7 kg"),
        picks=PICKS,
        **NO_APPETITE,
    )
    assert sum(lying(before, "2026-07-13").values()) == pytest.approx(7)


def test_more_counted_than_picked_is_no_fruit_of_the_day():
    garden = kitchen((14, "counted", "cucumbers", "", "25 kg"), picks=PICKS, **NO_APPETITE)
    found = lying(garden)
    assert sum(found.values()) == pytest.approx(25)
    assert found["14"] == 5.0, "the rest is older"


@pytest.mark.parametrize(
    ("typed", "kind", "name"),
    [
        ("Pint jars", "jars", "pint"),
        ("half-pint jars", "jars", "half_pint"),
        ("lids", "jars", "lids"),
        ("freezer bags", "jars", "freezer_bags"),
        ("vinegar", "stock", "vinegar, 5 % acidity"),
        ("Salt", "stock", "canning salt"),
        ("dill heads", "stock", "dill heads"),
        ("freezer", "room", "freezer"),
        ("cellar", "room", "cool_store"),
        ("courgettes", "crop", "zucchini"),
        ("dills", "product", "dill_pickles"),
    ],
)
def test_names_of_the_kitchen(typed, kind, name):
    found = item_of(typed, Household())
    assert (found.kind, found.name) == (kind, name)


def test_a_crop_that_is_grown_goes_before_the_ingredient():
    assert item_of("onions", Household()).kind == "stock"
    assert item_of("onions", Household(), ["onion"]).kind == "crop"


def test_a_crop_goes_before_preserves_of_its_name():
    """ "Green beans" are canned ones too; a line without a jar is about what lies there."""
    picks = pd.DataFrame({"date": ["2026-07-11"], "crop": ["snap bean"], "lb": [5.0]})
    garden = kitchen((12, "counted", "green beans", "", "9 lb"), picks=picks)
    assert kitchen_notices(garden).empty
    (event,) = produce_events(garden, "2026-07-12").to_dict("records")
    assert (event["crop"], event["mass_kg"]) == ("snap bean", pytest.approx(9 * LB))


def test_every_item_of_a_shopping_list_is_known_by_its_name():
    from harvestcast.kitchen.handbook.process_times import table

    for name in table("ingredients")["item"].unique():
        assert item_of(name, Household()).name == name


def test_what_cannot_be_counted_is_said():
    garden = kitchen((12, "used", "wobble", "", 3), (12, "used", "vinegar", "", 3),
                     (12, "used", "dill pickles", "", 3))  # fmt: skip
    assert kitchen_notices(garden)["code"].tolist() == ["book.unknown", "book.unit", "book.no_jar"]
