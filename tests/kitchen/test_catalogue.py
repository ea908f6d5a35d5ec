"""The catalogue: consistent with the handbook, the crops and itself."""

import pandas as pd
import pytest

from harvestcast.kitchen.handbook import products as catalogue
from harvestcast.kitchen.handbook.amounts import amounts, best_by_days, drying, storage_days
from harvestcast.kitchen.handbook.process_times import handbook_products, table
from harvestcast.kitchen.handbook.products import (
    PINTS,
    match_product,
    product,
    products,
    products_of,
)
from harvestcast.records.typed.crops import canonical_crop

ALL = [product(key) for key in products()["key"]]
LB = 0.45359237
BEYOND_THE_LIST = {"meat"}
"""Nothing that is grown."""
WITHOUT_AMOUNTS = {"apple_juice", "raspberry_jam", "peach_puree", "soups", "canned_beans_in_sauce"}
"""The guide prints a process and no amount of produce: never planned, and said so."""


@pytest.mark.parametrize("item", ALL, ids=lambda item: item.key)
def test_every_product_is_complete(item):
    assert canonical_crop(item.crop) == item.crop or item.crop in BEYOND_THE_LIST
    assert item.max_age_days > 0 and item.fixed_h >= 0 and item.h_per_kg >= 0
    assert best_by_days(item) > 0
    sizes = [PINTS[jar] for jar in item.jars]
    # Targets count jars of the first size, and the plan values them as at most a pint.
    assert sizes == sorted(sizes)
    # The guide prints a time for quarts alone.
    assert sizes[0] <= 1.0 or item.key == "green_tomato_pie_filling"
    assert bool(item.handbook) == bool(set(item.methods) & {"boiling_water", "pressure"}) or (
        item.methods == ("fermenting",)
    )
    if item.key in WITHOUT_AMOUNTS:
        assert amounts(item, item.usual_jar) is None
    elif item.key != "dried_meat":
        for jar in item.jars:
            found = amounts(item, jar)
            assert found is not None and found.kg_per_jar > 0 and found.source
    if item.methods == ("drying",):
        assert drying(item).hours > 0


@pytest.mark.parametrize("item", [i for i in ALL if i.handbook], ids=lambda item: item.key)
def test_canned_products_agree_with_the_process_table(item):
    rows = table("canning_process")
    rows = rows[rows["product"] == item.handbook]
    assert set(item.jars) <= set(rows["jar"])
    in_canner = set(item.methods) & {"boiling_water", "pressure"}
    assert in_canner <= set(rows["method"])
    assert item.pack in set(rows["pack"])
    # Low-acid food has no boiling-water row and is never offered in one.
    assert item.low_acid == ("boiling_water" not in set(rows["method"]))
    assert not (item.low_acid and "boiling_water" in item.methods)


def test_every_handbook_product_can_be_made():
    assert {item.handbook for item in ALL if item.handbook} == set(handbook_products())


def test_every_name_means_one_product():
    names = {}
    for item in ALL:
        for name in (item.key, item.label, *item.aliases):
            plain = catalogue._plain(name)
            assert names.setdefault(plain, item.key) == item.key, name
            assert match_product(name) == item.key
            assert match_product(name.upper().replace("_", " ")) == item.key


@pytest.mark.parametrize(
    "typed, key",
    [
        ("Dill Pickles", "dill_pickles"),
        ("dill pickle", "dill_pickles"),
        ("bread & butter pickles", "bread_and_butter_pickles"),
        ("Bread-and-Butter Pickles (pints)", "bread_and_butter_pickles"),
        ("Frozen green beans", "frozen_snap_beans"),
        ("Canned Tomatoes", "whole_tomatoes"),
        ("quick_fresh_pack_dill_pickles", "dill_pickles"),
        ("strawberry jam, half-pint jars", "strawberry_jam"),
        ("jerky", "dried_meat"),
        ("peppers", None),  # the handbook's peppers are sweet or hot: two products
        ("marmalade", None),
        ("", None),
    ],
)
def test_names_as_people_type_them(typed, key):
    assert match_product(typed) == key


def test_misspelt_names_get_the_nearest_labels():
    assert "dill pickles" in catalogue.nearest_products("dil pikles")
    assert catalogue.nearest_products("zzzzzz") == ()


@pytest.mark.parametrize(
    "crop, methods",
    [
        ("cucumber", {"boiling_water", "fermenting", "refrigerating"}),
        ("zucchini", {"boiling_water", "freezing", "drying"}),
        ("tomato", {"boiling_water", "pressure", "freezing", "drying"}),
        ("sweet pepper", {"boiling_water", "pressure", "freezing", "drying"}),
        ("hot pepper", {"boiling_water", "pressure", "freezing", "drying"}),
        ("snap bean", {"boiling_water", "pressure", "freezing", "drying"}),
        ("sweet corn", {"boiling_water", "pressure", "freezing", "drying"}),
        ("beet", {"boiling_water", "pressure", "freezing", "drying", "keeping"}),
        ("pea", {"pressure", "freezing", "drying"}),
        ("onion", {"boiling_water", "freezing", "drying", "keeping"}),
        ("strawberry", {"boiling_water", "freezing"}),
        ("basil", {"drying"}),
        ("winter squash", {"pressure", "keeping"}),
    ],
)
def test_ways_of_each_crop(crop, methods):
    assert {m for item in products_of(crop) for m in item.methods} == methods


def test_cucumbers_are_never_frozen_or_dried():
    # Handbook: cucumbers freeze poorly (So Easy to Preserve, 6th ed., from memory); no drying row.
    assert not {"freezing", "drying"} & {m for i in products_of("cucumber") for m in i.methods}


@pytest.mark.parametrize(
    "key, jar, kg, recipe_jars",
    [
        # MSU 01600865: 8 lb fill 7 to 9 pints.
        ("dill_pickles", "pint", LB, 8),
        # MSU 01600131: 6 lb fill about 8 pints.
        ("bread_and_butter_pickles", "quart", 2 * 6 * LB / 8, 4),
        # MSU 01600883: 14 lb a load of 7 quarts, 9 lb a load of 9 pints.
        ("canned_snap_beans", "quart", 2 * LB, None),
        ("canned_snap_beans", "pint", LB, None),
        # MSU 01600280: 31.5 lb in the husk a load of 7 quarts.
        ("canned_corn", "quart", 4.5 * LB, None),
        # NCHFP, Standard Tomato Sauce: 35 lb a load of 7 quarts (thin), 46 (thick).
        ("tomato_sauce", "quart", 5 * LB, None),
        ("thick_tomato_sauce", "quart", 46 / 7 * LB, None),
        # MSU 01701369: 2.5 to 3 lb of beets for 2 pints frozen.
        ("frozen_beets", "pint_bag", 1.375 * LB, 8),
        # Half of 2.75 lb a quart (MSU 01600830).
        ("frozen_tomatoes", "pint_bag", 1.375 * LB, 8),
    ],
)
def test_produce_per_jar_as_printed(key, jar, kg, recipe_jars):
    found = amounts(product(key), jar)
    assert found.kg_per_jar == pytest.approx(kg)
    if recipe_jars is None:
        assert pd.isna(found.recipe_jars)
    else:
        assert found.recipe_jars == recipe_jars


def test_jam_recipe_from_boxes_of_berries():
    # Univ. of Illinois Extension: 5.5 cups crushed, about 3 quart boxes, fill 9 to 10 half-pints;
    # a quart box weighs 1.25 to 1.5 lb (common practice, no source).
    found = amounts(product("strawberry_jam"), "half_pint")
    assert found.recipe_jars == 9.5
    assert found.kg_per_jar * 9.5 == pytest.approx(3 * 1.375 * LB, rel=0.01)


def test_drying_hours_and_shelf_life_as_printed():
    # North Dakota State Univ. Extension, Drying Vegetables: snap beans 8 to 14 h.
    assert drying(product("dried_snap_beans")).hours == 14
    # Drying chart (publication not named): sweet peppers 6 to 8 months, beans 3 to 4, at 70 F.
    assert drying(product("dried_sweet_peppers")).best_by_days == round(30.4 * 8)
    assert drying(product("dried_snap_beans")).best_by_days == round(30.4 * 4)
    # Univ. of Georgia drying guide: half the life of fruit, 6 months, where no row stands.
    assert drying(product("dried_hot_peppers")).best_by_days == round(30.4 * 6)


def test_storage_days_take_the_middle_of_what_publications_say():
    # Cucumbers in a cool store: 14-28 (Handbook 66, 1954), 10-14, 10-14 days.
    assert storage_days("cucumber", "cool_store")[0] == 12
    # Ripe tomatoes on the counter 3-5 days; the rows of green fruit do not count.
    assert storage_days("tomato", "counter")[0] == 4
    assert storage_days("cucumber", "cool_store")[1].count("Handbook 66") == 2
    assert storage_days("oca", "counter") is None


def test_food_for_the_week_is_flagged():
    frame = products().set_index("key")
    assert frame.loc["cucumber_vinegar_slices", "for_the_week"]
    assert not frame.loc["dill_pickles", "for_the_week"]
    assert set(frame.index[frame["for_the_week"]]) == {"cucumber_vinegar_slices", "dried_meat"}
