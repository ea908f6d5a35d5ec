"""Appetite, shelves and what is still wanted."""

import pandas as pd
import pytest

from harvestcast.frames import FRESH, WANTED, check_frame
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.household.demand import (
    BUSHEL_L,
    fresh_use,
    litres_per_kg,
    past_best,
    targets,
    wanted_jars,
)
from harvestcast.kitchen.household.pantry import (
    pantry_book,
    pantry_notices,
    shelf,
    size_of,
    unknown_products,
)
from harvestcast.kitchen.household.settings import target_notices
from harvestcast.records.household import Household
from harvestcast.records.typed.crops import crop_names

LB = 0.45359237


def _fresh(garden, *crops):
    return fresh_use(garden, crops).set_index("crop")


def test_every_crop_of_the_list_has_an_appetite_and_a_place(garden_of):
    table = fresh_use(garden_of(), crop_names())
    check_frame(table, FRESH)
    assert len(table) == len(crop_names())
    assert (table["eat_at_most_kg_day"] >= table["eat_kg_day"]).all()
    assert (table["keep_days"] > 0).all() and (table["litres_per_kg"] > 0.5).all()
    assert not table["source"].str.contains("without figures of its own").any()
    # Every keeping time stands in the storage table; none of these falls back on the default.
    assert not table["source"].str.contains("keeping: planning estimate").any()


def test_an_unknown_crop_gets_general_figures_and_says_so(garden_of):
    row = _fresh(garden_of(), "oca").loc["oca"]
    assert row["keep_days"] == 4
    assert "planning estimate for a crop without figures of its own" in row["source"]


def test_appetite_grows_with_the_household(garden_of):
    two = _fresh(garden_of(people=2), "cucumber").loc["cucumber"]
    six = _fresh(garden_of(people=6), "cucumber").loc["cucumber"]
    assert six["eat_kg_day"] == pytest.approx(3 * two["eat_kg_day"])
    assert six["give_kg_day"] == pytest.approx(3 * two["give_kg_day"])


def test_the_household_goes_before_the_defaults(garden_of):
    own = {
        "tomato": {
            "eat_kg_per_person_week": 0.7,
            "eat_at_most_kg_per_person_week": 1.4,
            "give_kg_week": 3.5,
            "animals_kg_week": 0.7,
            "keep": "refrigerator",
            "keep_days": 9,
            "ripen_days": 6,
        }
    }
    row = _fresh(_with(garden_of, own), "tomato")
    row = row.loc["tomato"]
    assert row["eat_kg_day"] == pytest.approx(0.7 * 3 / 7)
    assert row["eat_at_most_kg_day"] == pytest.approx(1.4 * 3 / 7)
    assert (row["give_kg_day"], row["animals_kg_day"]) == (pytest.approx(0.5), pytest.approx(0.1))
    assert (row["keep_days"], row["ripen_days"], row["place"]) == (9, 6, "refrigerator")
    assert "appetite: household" in row["source"] and "keeping: household" in row["source"]


def _with(garden_of, own):
    garden = garden_of(people=3)
    home = garden.household.model_validate({**dict(garden.household), "crops": own})
    return type(garden)(
        **{n: getattr(garden, n) for n in type(garden).__slots__ if n != "household"},
        household=home,
    )


def test_animals_get_nothing_unasked(garden_of):
    assert (fresh_use(garden_of(), crop_names())["animals_kg_day"] == 0).all()


def test_a_ceiling_below_the_usual_appetite_lowers_it(garden_of):
    garden = _with(garden_of, {"cucumber": {"eat_at_most_kg_per_person_week": 0.07}})
    row = _fresh(garden, "cucumber").loc["cucumber"]
    assert row["eat_kg_day"] == row["eat_at_most_kg_day"] == pytest.approx(0.03)


@pytest.mark.parametrize(
    "crop, bushel_lb",
    [("cucumber", 48), ("snap bean", 30), ("tomato", 53), ("sweet corn", 35)],
    # MSU Extension, Preserving Food Safely, files 01600855, 01600883, 01600280; AIB 539.
)
def test_room_from_bushel_weights(crop, bushel_lb):
    litres, source = litres_per_kg(crop)
    assert litres == pytest.approx(BUSHEL_L / (bushel_lb * LB))
    assert source.startswith("bushel weight")


def test_days_of_keeping_by_place(garden_of):
    # State extension produce storage charts (from memory): cucumbers 5 to 7 days in the
    # refrigerator, 1 to 3 on the counter.
    assert _fresh(garden_of(), "cucumber").loc["cucumber", "keep_days"] == 6
    counter = _with(garden_of, {"cucumber": {"keep": "counter"}})
    assert _fresh(counter, "cucumber").loc["cucumber", "keep_days"] == 2


def test_targets_by_any_name_and_the_nearest_names_for_a_typing_error(garden_of):
    home = garden_of(targets={"Dill Pickles": 20, "dills": 4, "tomato sauce": 10}).household
    assert targets(home) == {"dill_pickles": 24, "tomato_sauce": 10}
    wrong = garden_of(targets={"dil pikles": 20, "marmalade of quinces": 3})
    assert targets(wrong.household) == {} and wanted_jars(wrong, "2026-08-01").empty
    first, second = target_notices(wrong.household).to_dict("records")
    assert (first["file"], first["column"], first["value"]) == (
        "garden.toml",
        "targets",
        "dil pikles",
    )
    assert "left out" in first["done"] and "dill pickles" in first["done"]
    assert second["value"] == "marmalade of quinces"


BOOK = (
    ("2025-08-01", "dill pickles", "pint", 14, 7.0, 4.0),
    ("2025-08-10", "Dill Pickles", "quart", 3, None, None),
    ("2025-12-01", "dills", "pint", -5, None, None),
    ("2026-03-01", "dills", "quart", -1, None, None),
    ("2026-07-20", "dill pickles", "pint", 8, 3.6, 2.0),
    ("2026-08-05", "dill pickles", "pint", 9, 3.6, 2.0),
    ("2026-03-01", "elderflower cordial", "bottle", 6, None, None),
)


def test_the_shelf_counts_quarts_as_two_pints_and_eats_the_oldest(garden_of):
    garden = garden_of(pantry=BOOK)
    standing = shelf(garden, "2026-08-01")
    assert standing["put_up"].dt.strftime("%F").tolist() == [
        "2025-08-01",
        "2025-08-10",
        "2026-07-20",
    ]
    # 14 put up, 5 pints and a quart eaten: 7 left of the first day.
    assert standing["jars"].tolist() == [7, 6, 8]
    assert standing["best_by"].tolist() == [
        day + pd.Timedelta(days=365) for day in standing["put_up"]
    ]
    assert standing["past"].tolist() == [False, False, False]
    assert shelf(garden, "2026-08-02")["past"].tolist() == [True, False, False]
    assert unknown_products(garden) == ("elderflower cordial",)
    book = pantry_book(garden, "2026-08-01")
    assert book["counted"].sum() == standing["jars"].sum()


def test_eating_more_than_was_put_up_leaves_an_empty_shelf(garden_of):
    rows = [
        ("2026-01-01", "salsa", "pint", 2, None, None),
        ("2026-02-01", "salsa", "pint", -5, None, None),
    ]
    assert shelf(garden_of(pantry=rows), "2026-03-01").empty
    later = [*rows, ("2026-08-01", "salsa", "pint", 4, None, None)]
    assert shelf(garden_of(pantry=later), "2026-09-01")["jars"].tolist() == [4]


def test_lines_of_the_pantry_book_that_are_not_counted_as_typed_are_named(garden_of):
    rows = [
        ("2026-07-22", "essiggurken", "quart", 2, None, None),
        ("2026-07-23", "essiggurken", "quart", -1, None, None),
        ("2026-07-24", "dill pickles", "pot", -9, None, None),
        ("2026-07-25", "frozen zucchini", "pint bag", -3, None, None),
        ("2026-07-26", "salsa", "pint", -2, None, None),
        ("2026-07-26", "salsa", "pints", 2, None, None),
        ("2026-07-27", "salsa", "jars", 2, None, None),
        ("2026-07-28", "salsa", None, -2, None, None),
    ]
    said = pantry_notices(garden_of(pantry=rows))
    assert list(zip(said["column"], said["value"], strict=True)) == [
        ("product", "essiggurken"),
        ("jar", "pot"),
        ("change", "-9"),
        ("change", "-3"),
    ]
    assert "(2 lines)" in said.loc[0, "odd"]
    assert said["done"].str.len().gt(0).all()


def test_jars_canned_at_home_by_no_process_known_here_are_warned_of(garden_of):
    rows = [
        ("2026-07-22", "canned zucchini", "pint", 5, None, None),
        ("2026-07-23", "aunt's relish", "pint", 2, None, None),
    ]
    said = pantry_notices(garden_of(pantry=rows))
    assert "before such a jar is opened or tasted" in said.loc[0, "done"]
    assert "tested process" not in said.loc[1, "done"]


@pytest.mark.parametrize(
    "typed, key, size",
    [
        ("Pint", "dill_pickles", "pint"),
        ("quarts", "dill_pickles", "quart"),
        ("half-pint", "strawberry_jam", "half_pint"),
        ("8 oz", "strawberry_jam", "half_pint"),
        ("quart bag", "frozen_corn", "quart"),
        ("bag", "frozen_corn", "pint"),
        ("pint, wide mouth", "strawberry_jam", "pint"),
        (None, "tomato_sauce", "pint"),
        ("crate", "stored_onions", "kg"),
    ],
)
def test_jar_sizes_as_people_type_them(typed, key, size):
    assert size_of(typed, product(key))[0] == size


@pytest.mark.parametrize(
    ("typed", "pints"),
    [
        ("1/2 pint", 0.5), ("\N{VULGAR FRACTION ONE HALF} pint", 0.5), ("half a pint", 0.5),
        ("1.5 pint", 1.5), ("1 1/2 pints", 1.5), ("1\N{VULGAR FRACTION ONE HALF} pt", 1.5),
        ("1/2 quart", 1.0), ("half quart", 1.0), ("1,250 ml", 1250 / 473.176473), ("litre", 2.0),
        ("1 litre", 2.0), ("0,5 l", 1.0), ("0,500 l", 1.0), ("500ml jar", 1.0), ("50 cl", 1.0),
        ("1/2 gallon", 4.0), ("12 oz", 0.75), ("2 cups", 1.0), ("16 fl. oz", 1.0),
        ("250 ml", 0.5), ("HALF_PINT", 0.5),
    ],
)  # fmt: skip
def test_fractions_and_metric_jars_are_read_right_everywhere(garden_of, typed, pints):
    """Eight such jars on the shelf, and a target of eight: pints are what dill pickles count in."""
    book = pantry_book(garden_of(pantry=[("2026-07-01", "dills", typed, 8, None, None)]), "2027")
    assert book["counted"].tolist() == pytest.approx([8 * pints])
    found = targets(Household(targets={f"dill pickles ({typed})": 8}))
    assert found == {"dill_pickles": pytest.approx(8 * pints)}


@pytest.mark.parametrize("typed", [
    "pint and a half", "1/3", "1/0 pint", "pint or quart", "third of a quart", "1,5,5 pint", "2",
    "1000 pint", "double pint", "12 x 500 ml", "-1/2 pint 3",
])  # fmt: skip
def test_a_size_that_cannot_be_read_is_refused_by_name(garden_of, typed):
    garden = garden_of(
        pantry=[("2026-07-01", "dills", typed, 8, None, None)],
        targets={f"dill pickles ({typed})": 8, "salsa": 3},
    )
    assert pantry_book(garden, "2027").empty
    (said,) = pantry_notices(garden).to_dict("records")
    assert said["value"] == typed and said["done"].startswith("not counted")
    assert targets(garden.household) == {"salsa": 3.0}
    (said,) = target_notices(garden.household).to_dict("records")
    assert said["value"] == f"dill pickles ({typed})" and said["done"].startswith("left out")


def test_targets_say_their_size_in_any_order():
    wanted = {"dill pickles (quarts)": 20, "pints of salsa": 3, "quart bags frozen corn": 2}
    assert targets(Household(targets=wanted)) == {
        "dill_pickles": 40.0, "salsa": 3.0, "frozen_corn": 4.0,
    }  # fmt: skip
    # What is weighed is in no jars.
    (said,) = target_notices(Household(targets={"stored onions (quarts)": 2})).to_dict("records")
    assert "counted in kg" in said["odd"]


def test_jars_in_stock_are_read_by_the_same_words():
    home = Household(
        jars={"1/2 pint": 8, "pint jars": 40, "half gallon": 3, "500 ml": 6, "lids": 9}
    )
    # A metric jar is not the jar a time was tested for, and is not canned into as one.
    assert dict(home.jars) == {"half_pint": 8, "pint": 40, "half gallon": 3, "500 ml": 6, "lids": 9}
    with pytest.raises(ValueError, match="given twice"):
        Household(jars={"half_pint": 8, "1/2 pint": 4})


def test_wanted_by_hand(garden_of):
    garden = garden_of(pantry=BOOK, targets={"dill pickles": 30}, first_frost="10-10")
    table = wanted_jars(garden, "2026-08-01")
    check_frame(table, WANTED)
    row = table.set_index("product").loc["dill_pickles"]
    # On the shelf 21 pints. Eaten in the last 365 days: 7 pints, 7/365*7 a week. By 10 October
    # (10 weeks on) 13 pints are past their best-by day, so 8 of this summer's count, and of the
    # 21 about 1.34 will be eaten: 8 remain.
    assert row["stock_jars"] == 21
    assert row["eaten_jars_week"] == pytest.approx(7 / 365 * 7)
    assert row["wanted_jars"] == pytest.approx(30 - 8)
    assert row["run_out"] == pd.Timestamp("2026-08-01") + pd.Timedelta(days=round(21 * 365 / 7))


def test_what_will_be_past_its_best_by_hand(garden_of):
    garden = garden_of(pantry=BOOK, targets={"dill pickles": 30}, first_frost="10-10")
    row = past_best(garden, "2026-08-01").set_index("product").loc["dill_pickles"]
    # Of 21 pints 13 are of last summer (see above); of them next to nothing is eaten in time at
    # 7 pints a year, and of all 21 some 7 within the year in which the last ones are good.
    standing = shelf(garden, "2026-08-01")
    lots = standing[standing["product"] == "dill_pickles"].sort_values("best_by")
    days = (lots["best_by"] - pd.Timestamp("2026-08-01")).dt.days.clip(lower=0)
    short = lots["jars"].cumsum() - 7 / 365 * days
    assert row["past_jars"] == 13
    assert row["unfinished_jars"] == pytest.approx(short.max())
    assert 13 < row["unfinished_jars"] < 21


def test_what_is_eaten_in_time_is_not_past_its_best(garden_of):
    rows = [("2026-05-09", "salsa", "pint", 80, None, None)] + [
        (day.strftime("%F"), "salsa", "pint", -3, None, None)
        for day in pd.date_range("2026-05-15", "2026-07-31", freq="7D")
    ]
    row = past_best(garden_of(pantry=rows), "2026-08-01").iloc[0]
    assert (row["past_jars"], row["unfinished_jars"]) == (0, 0)
    young = past_best(garden_of(pantry=rows[:1]), "2026-05-12").iloc[0]
    assert pd.isna(young["unfinished_jars"])
    assert past_best(garden_of(), "2026-08-01").empty


def test_eating_until_the_season_ends_is_taken_from_the_shelf(garden_of):
    rows = [("2026-05-09", "salsa", "pint", 80, None, None)] + [
        (day.strftime("%F"), "salsa", "pint", -3, None, None)
        for day in pd.date_range("2026-05-15", "2026-07-31", freq="7D")
    ]
    garden = garden_of(pantry=rows, targets={"salsa": 40}, first_frost="10-10")
    row = wanted_jars(garden, "2026-08-01").set_index("product").loc["salsa"]
    pace = 12 * 3 / 84 * 7  # 12 weeks of 3 jars
    assert row["eaten_jars_week"] == pytest.approx(pace)
    assert row["wanted_jars"] == pytest.approx(40 - (80 - 36 - 10 * pace))


def test_full_shelves_want_nothing(garden_of):
    rows = [("2026-07-01", "dill pickles", "quart", 40, None, None)]
    garden = garden_of(pantry=rows, targets={"dill pickles": 30, "cucumber relish": 12})
    table = wanted_jars(garden, "2026-08-01").set_index("product")["wanted_jars"]
    assert table["dill_pickles"] == 0 and table["cucumber_relish"] == 12


def test_a_young_book_gives_no_pace(garden_of):
    rows = [
        ("2026-07-20", "salsa", "pint", 6, None, None),
        ("2026-07-25", "salsa", "pint", -1, None, None),
    ]
    row = wanted_jars(garden_of(pantry=rows), "2026-08-01").iloc[0]
    assert pd.isna(row["eaten_jars_week"]) and pd.isna(row["run_out"])
    assert row["stock_jars"] == 5 and row["target_jars"] == 0


def test_nothing_dated_after_as_of_is_read(garden_of):
    early = wanted_jars(garden_of(pantry=BOOK, targets={"dills": 30}), "2026-08-01")
    late = wanted_jars(garden_of(pantry=BOOK[:5], targets={"dills": 30}), "2026-08-01")
    pd.testing.assert_frame_equal(early, late)


def test_an_empty_garden_wants_nothing(garden_of):
    assert wanted_jars(garden_of(), "2026-08-01").empty
    assert fresh_use(garden_of(), []).empty
