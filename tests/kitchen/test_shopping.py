"""What to buy: the recipes' printed amounts, in the household's units."""

import math

import pandas as pd
import pytest

from harvestcast.frames import SHOPPING, check_frame
from harvestcast.kitchen.handbook.products import product, products
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.shopping import ingredients, more_to_buy, salt_in_words, shopping_list

LB = 0.45359237
GAL = 3.785411784
CUP = GAL / 16
VINEGAR = "vinegar, 5 % acidity"


def _batches(garden, **count):
    """Return planned batches, whole ones, of the options named (dashes for slashes)."""
    options = weekly_options(garden).set_index("option", drop=False)
    rows = []
    for name, n in count.items():
        row = options.loc[name.replace("__", "/")]
        rows.append(
            row.to_dict()
            | {
                "batches": float(n),
                "mass_kg": n * row["kg_per_batch"],
                "jars": n * row["jars_per_batch"],
            }
        )
    return pd.DataFrame(rows)


def _list(garden, **count):
    found = shopping_list(_batches(garden, **count), garden)
    return check_frame(found, SHOPPING).set_index("item")


def test_three_batches_of_dill_pickles(garden_of):
    # MSU 01600865, check 5: 24 lb take 18 cups of vinegar (4.5 quarts) and 3.75 cups of salt.
    bought = _list(garden_of(units="us"), dill_pickles__pint__boiling_water=3)
    assert bought.loc[VINEGAR, "needed"] == pytest.approx(18 * CUP)
    assert bought.loc[VINEGAR, "shown"] == "1 gal 1 qt"  # 4.5 quarts, sold by the quart
    assert bought.loc["canning salt", "needed"] == pytest.approx(3.75 * 0.292)
    assert bought.loc["canning salt", "shown"] == (
        "3 lb (needed in all: 3.75 cups of canning salt)"
    )
    assert bought.loc["dill heads", "needed"] == 42
    assert bought.loc["new lids", ["needed", "to_buy"]].tolist() == [24, 24]
    assert bought.loc[VINEGAR, "use"] == "24 pints of dill pickles"


def test_five_batches_of_bread_and_butter_pickles(garden_of):
    # MSU 01600131, check 6: 30 lb take 15 lb of onions, 20 cups of vinegar, 22.5 of sugar.
    bought = _list(garden_of(units="us"), bread_and_butter_pickles__pint__boiling_water=5)
    # 8 cups a recipe, thinly sliced, at 2.67 cups a pound.
    assert bought.loc["onion", "needed"] == pytest.approx(15 * LB, rel=0.002)
    assert bought.loc["onion", "shown"] == "15 lb"
    assert bought.loc[VINEGAR, "needed"] == pytest.approx(20 * CUP)
    assert bought.loc["sugar", "needed"] == pytest.approx(22.5 * 0.2)
    assert bought.loc["new lids", "needed"] == 40


@pytest.mark.parametrize(
    "jars, option, lemon_tbsp, citric_tsp",
    [
        (7, "tomato_sauce__quart__boiling_water", 14, 3.5),
        (9, "tomato_sauce__pint__boiling_water", 9, 2.25),
        (9, "tomato_sauce__pint__pressure_dial", 9, 2.25),  # acid under pressure too (NCHFP)
    ],
)
def test_acid_for_tomatoes(garden_of, jars, option, lemon_tbsp, citric_tsp):
    # Univ. of Missouri Extension, check 9: 2 tbsp of lemon juice or 1/2 tsp of citric acid a quart.
    bought = _list(garden_of(), **{option: 1})
    assert bought.loc["new lids", "needed"] == jars
    assert bought.loc["bottled lemon juice", "needed"] == pytest.approx(lemon_tbsp * CUP / 16)
    assert "citric acid" not in bought.index
    with_citric = _list(garden_of(stock={"citric_acid_kg": 0.1}), **{option: 1})
    assert with_citric.loc["citric acid", "needed"] == pytest.approx(citric_tsp * 0.0046)
    assert with_citric.loc["citric acid", "shown"] == "enough in stock"
    assert "bottled lemon juice" not in with_citric.index


def test_salsa_has_the_lemon_juice_of_its_recipe_and_no_more(garden_of):
    # SDSU Extension, Choice Salsa: 1.5 cups of bottled lemon juice for 6 pints.
    bought = _list(garden_of(), salsa__pint__boiling_water=2)
    assert bought.loc["bottled lemon juice", "needed"] == pytest.approx(3 * CUP)


def test_jam_takes_whole_packages_of_pectin(garden_of):
    # Univ. of Illinois Extension: 8 cups of sugar and one package for 9 to 10 half-pints.
    bought = _list(garden_of(), strawberry_jam__half_pint__boiling_water=2)
    assert bought.loc["powdered pectin", ["needed", "shown"]].tolist() == [2, "2 packages"]
    assert bought.loc["sugar", "needed"] == pytest.approx(16 * 0.2)


def test_stock_is_taken_off_and_lids_come_by_the_dozen(garden_of):
    stock = {"vinegar_gal": 1, "salt_cups": 3, "sugar_lb": 5, "onion_lb": 2}
    garden = garden_of(units="us", stock=stock, jars={"pint": 10, "lids": 5})
    bought = _list(
        garden,
        dill_pickles__pint__boiling_water=3,
        bread_and_butter_pickles__pint__boiling_water=1,
    )
    assert bought.loc[VINEGAR, "in_stock"] == pytest.approx(GAL)
    # 22 cups less 16 leave 6 cups; of half a quart more than that the reason is said.
    assert bought.loc[VINEGAR, "shown"] == "2 qt (needed in all: 5.5 qt)"
    assert bought.loc["canning salt", "in_stock"] == pytest.approx(3 * 0.292)
    assert bought.loc["sugar", "shown"] == "enough in stock"
    assert bought.loc["onion", "shown"] == "1 lb"
    assert bought.loc["new lids", ["needed", "in_stock", "to_buy"]].tolist() == [32, 5, 36]
    assert bought.loc["pint jars", ["needed", "in_stock", "to_buy"]].tolist() == [32, 10, 22]


def test_to_buy_never_falls_short_and_never_more_than_a_package_over(garden_of):
    garden = garden_of(stock={"vinegar_l": 0.3})
    bought = _list(
        garden,
        dill_pickles__pint__boiling_water=2,
        cucumber_relish__pint__boiling_water=1,
        pickled_beets__pint__boiling_water=1,
        frozen_snap_beans__pint_bag__freezing=3,
    )
    short = bought["needed"] - bought["in_stock"] - bought["to_buy"]
    assert (short <= 1e-9).all()
    assert bought.loc["freezer bags, pint", "to_buy"] == 24
    assert bought.loc[VINEGAR, "to_buy"] - bought.loc[VINEGAR, "needed"] + 0.3 < 1.0


def test_lids_that_were_never_counted_are_said_so(garden_of):
    bought = _list(garden_of(), dill_pickles__pint__boiling_water=1)
    assert "not stated in garden.toml" in bought.loc["new lids", "shown"]


def test_a_batch_of_unknown_range_is_bought_for_in_full(garden_of):
    garden = garden_of()
    batches = _batches(garden, dill_pickles__pint__boiling_water=2)
    lean = batches.assign(mass_kg=batches["mass_kg"] / 3, jars=batches["jars"] / 3)
    pd.testing.assert_frame_equal(
        shopping_list(lean, garden).drop(columns="use"),
        shopping_list(batches, garden).drop(columns="use"),
    )
    assert shopping_list(lean, garden)["use"].iloc[0] == "up to 16 pints of dill pickles"


def test_ingredients_scale_with_the_produce_and_never_thin_the_vinegar():
    for key in products()["key"]:
        item = product(key)
        one, two = ingredients(item, 1.0), ingredients(item, 2.0)
        assert {k: 2 * v for k, v in one.items()} == pytest.approx(two)
    # MSU 01600047 and the guide, p. 6-15: 4 cups of vinegar for 7 lb.
    beets = ingredients(product("pickled_beets"), 7 * LB)
    assert beets[VINEGAR] == pytest.approx(4 * CUP)


@pytest.mark.parametrize("key", ["canned_snap_beans", "frozen_corn", "dried_tomatoes"])
def test_no_recipe_no_ingredients(key):
    assert ingredients(product(key), 5.0) == {}


def test_salt_by_volume_and_never_flaked():
    # USDA food composition tables, from memory: a cup of table salt weighs 292 g. AIB 539 (2015),
    # p. 6-7: flake salt is not used for pickles, for its density varies.
    assert salt_in_words(0.292) == "1 cup of canning salt"


def test_metric_households_read_salt_in_grams_and_millilitres():
    # 0.06 kg is 0.205 cups of 292 g, 48.6 ml; rounded up.
    assert salt_in_words(0.06, "metric") == "60 g (50 ml) of canning salt"


def test_metric_households_read_no_cups_and_no_spoons(garden_of):
    bought = _list(
        garden_of(units="metric"),
        bread_and_butter_pickles__quart__boiling_water=1,
        cucumber_relish__pint__boiling_water=1,
    )
    for words in bought["shown"]:
        assert not any(one in words.split() for one in ("cup", "cups", "tbsp", "qt", "lb", "oz"))
    assert bought.loc["turmeric", "shown"] == "35 ml"  # 1 tbsp and 4 tsp, 34.5 ml, to the next 5
    assert bought.loc["turmeric", "unit"] == "tbsp"


def test_a_batch_is_bought_for_as_full_as_it_may_become(garden_of):
    """The recipe of 8 lb fills 4 quarts; a batch of which a quarter may come takes a quarter."""
    garden = garden_of(units="metric", jars={"quart": 10})
    whole = _batches(garden, dill_pickles__quart__boiling_water=1)
    part = whole.assign(mass_kg=0.4, jars=0.44, jars_high=1.0, decided=True)
    full = shopping_list(whole, garden).set_index("item")
    some = shopping_list(part, garden).set_index("item")
    assert full.loc["dill heads", ["to_buy", "use"]].tolist() == [14, "4 quarts of dill pickles"]
    # A quarter of 14 heads is 3.5.
    assert some.loc["dill heads", ["to_buy", "use"]].tolist() == [
        4,
        "1 quart of dill pickles",
    ]
    assert some.loc[VINEGAR, "needed"] == pytest.approx(full.loc[VINEGAR, "needed"] / 4)
    assert some.loc[VINEGAR, "shown"] == "1 l (needed in all: 360 ml)"
    assert some.loc["quart jars", "needed"] == 1
    assert some.loc["new lids", "shown"].startswith("12 (needed in all: 1; lids in stock")
    more = shopping_list(part.assign(jars_high=3.0), garden).set_index("item")
    assert more.loc["dill heads", ["to_buy", "use"]].tolist() == [
        11,
        "up to 3 quarts of dill pickles",
    ]


def test_jars_of_one_product_are_said_together(garden_of):
    garden = garden_of()
    bought = _list(
        garden, dill_pickles__quart__boiling_water=1, dill_pickles__pint__boiling_water=2,
        frozen_kale__pint_bag__freezing=1,
    )  # fmt: skip
    assert bought.loc["dill heads", "use"] == "4 quarts and 16 pints of dill pickles"
    assert bought.loc["freezer bags, pint", "use"] == "8 pint bags of frozen kale"


def test_a_recipe_that_must_not_be_divided_is_bought_for_whole(garden_of):
    garden = garden_of()
    jam = _batches(garden, strawberry_jam__half_pint__boiling_water=1)
    part = jam.assign(mass_kg=0.4, jars=1.0, jars_high=2.0, decided=True)
    pd.testing.assert_frame_equal(
        shopping_list(part, garden).drop(columns="use"),
        shopping_list(jam, garden).drop(columns="use"),
    )
    assert shopping_list(part, garden)["use"].iloc[0].startswith("up to ")


def test_a_hundredth_of_a_jar_more_takes_no_jar_and_no_lid(garden_of):
    garden = garden_of(jars={"quart": 10})
    whole = _batches(garden, dill_pickles__quart__boiling_water=1)
    bought = shopping_list(whole.assign(jars=4.012, jars_high=4.012), garden).set_index("item")
    assert bought.loc[["quart jars", "new lids"], "needed"].tolist() == [4, 4]


def test_a_full_batch_takes_its_recipe_whatever_the_solver_leaves(garden_of):
    """Plans are solved to some millionths; 14 heads of dill are not 15 for that."""
    garden = garden_of(units="us")
    whole = _batches(garden, dill_pickles__quart__boiling_water=1)
    bought = shopping_list(whole, garden).set_index("item")
    for high in (4 + 3e-7, 4 - 3e-7):
        some = shopping_list(whole.assign(jars=3.0, jars_high=high), garden).set_index("item")
        assert some["to_buy"].to_dict() == bought["to_buy"].to_dict()
        assert some["shown"].to_dict() == bought["shown"].to_dict()
    assert bought.loc["dill heads", "to_buy"] == 14


def test_what_is_only_likely_is_bought_for_on_average(garden_of):
    garden = garden_of(units="us")
    first = _batches(garden, dill_pickles__pint__boiling_water=1)
    more = _batches(garden, bread_and_butter_pickles__pint__boiling_water=1)
    more = more.assign(batches=0.5, mass_kg=more["mass_kg"] / 2, jars=4.0, decided=False)
    got = more_to_buy(first, more, garden).set_index("item")
    assert got.loc["turmeric", ["to_buy", "use"]].tolist() == [
        1,
        "about 4 pints of bread and butter pickles",
    ]
    assert got.loc["onion", "shown"] == "1.5 lb"


def test_what_likely_batches_take_comes_on_top_of_the_decided_ones(garden_of):
    garden = garden_of(units="us", stock={"vinegar_qt": 1})
    first = _batches(garden, dill_pickles__pint__boiling_water=3)
    more = _batches(garden, dill_pickles__pint__boiling_water=1)
    got = more_to_buy(first, more, garden).set_index("item")
    # 18 cups less 4 in stock are 14, bought as 4 quarts; 24 cups in all leave 20, 5 quarts.
    assert shopping_list(first, garden).set_index("item").loc[VINEGAR, "shown"] == "1 gal"
    assert got.loc[VINEGAR, "shown"] == "1 qt"
    assert more_to_buy(first, first.head(0), garden).empty


def test_nothing_planned_nothing_bought(garden_of):
    empty = pd.DataFrame(columns=["product", "jar", "method", "batches", "mass_kg", "jars"])
    assert shopping_list(empty, garden_of()).empty


def test_metric_amounts_are_whole_packages(garden_of):
    bought = _list(garden_of(units="metric"), dill_pickles__pint__boiling_water=3)
    assert bought.loc[VINEGAR, "shown"] == "5 l"
    assert math.isclose(bought.loc["canning salt", "to_buy"] % 0.5, 0, abs_tol=1e-9)
