"""A household's own tested recipe: taken with its publication, refused where it is laxer.

Rows it is held to: USDA, Complete Guide to Home Canning (AIB 539, rev. 2015): quick fresh-pack dill
pickles, raw pack, pints, 10 min up to 1,000 ft, 15 min up to 6,000 ft, headspace 1/2 in (guide 6);
snap and Italian beans, pints, dial gauge, 20 min at 11 psi up to 2,000 ft, headspace 1 in (guide
4).
"""

import pytest

from harvestcast.kitchen.handbook import process_times as guide
from harvestcast.kitchen.handbook.own_recipes import own_process
from harvestcast.kitchen.handbook.products import product, products
from harvestcast.kitchen.household.settings import recipe_notices
from harvestcast.kitchen.messages import Said
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.records.household import Household, Recipe
from tests.kitchen.conftest import make_garden

SOURCE = "An invented extension bulletin, no. 7 (1999), p. 3"
FT = 0.3048


def dills(**changed):
    settings = {
        "product": "dill pickles", "jar": "pint", "method": "boiling_water", "minutes": 20,
        "headspace_in": 0.5, "pack": "raw", "acid": "vinegar_in_recipe", "source": SOURCE,
    } | changed  # fmt: skip
    settings = {key: value for key, value in settings.items() if value is not None}
    return Recipe.model_validate(settings)


def beans(**changed):
    return dills(
        **{"product": "canned green beans", "method": "pressure", "gauge": "dial",
           "pressure_psi": 11, "minutes": 20, "headspace_in": 1.0, "acid": "none_added"} | changed
    )  # fmt: skip


def code(recipe, feet=1180):
    found = own_process(recipe, feet * FT)
    return found.code if isinstance(found, Said) else "taken"


@pytest.mark.parametrize(
    ("recipe", "said"),
    [
        (dills(), "taken"),
        (dills(minutes=15), "taken"),
        (dills(minutes=14), "recipe.shorter"),
        (dills(source=""), "recipe.no_source"),
        (dills(source="  x "), "recipe.no_source"),
        (dills(headspace_in=0.25), "recipe.less_headspace"),
        (dills(jar="half_pint", minutes=14), "recipe.shorter"),
        (dills(acid="none_added"), "recipe.other_acid"),
        (dills(acid="a drop"), "recipe.no_acid"),
        (dills(product="plum wine"), "recipe.unknown_product"),
        (dills(product="frozen peas"), "recipe.not_canned"),
        (dills(elevation_to_ft=1000), "recipe.band"),
        (dills(product="canned green beans"), "recipe.low_acid"),
        (beans(), "taken"),
        (beans(pressure_psi=10), "recipe.lower_pressure"),
        (beans(minutes=19), "recipe.shorter"),
        (beans(headspace_in=0.5), "recipe.less_headspace"),
        (dills(product="easy hot sauce", pack="hot"), "recipe.larger_jar"),
        (dills(product="crushed tomatoes", pack="hot", minutes=60, acid="each_jar",
               lemon_juice_tbsp=0.5), "recipe.less_acid"),
        (dills(product="crushed tomatoes", pack="hot", minutes=60, acid="each_jar",
               lemon_juice_tbsp=1), "taken"),
    ],
)  # fmt: skip
def test_a_recipe_is_taken_or_refused_by_name(recipe, said):
    assert code(recipe) == said


def test_a_recipe_that_does_below_a_band_does_not_do_in_the_next():
    assert code(dills(minutes=10), feet=900) == "taken"
    assert code(dills(minutes=10), feet=1180) == "recipe.shorter"


@pytest.mark.parametrize("feet", [0, 1500, 4500, 8000])
def test_no_recipe_shorter_than_a_tested_row_is_ever_taken(feet):
    """Every verified row of the guide, one minute shorter, lower or fuller, is refused."""
    tried = 0
    for key in products()["key"]:
        item = product(key)
        for way in (("boiling_water", None), ("pressure", "dial"), ("pressure", "weighted")):
            for row in guide.tested_rows(item.handbook, *way) if item.canned else ():
                if not row["low_ft"] <= feet <= row["high_ft"]:
                    continue
                same = {
                    "product": key, "jar": row["jar"], "method": way[0], "gauge": way[1],
                    "minutes": row["process_min"], "headspace_in": row["headspace_in"],
                    "pack": row["pack"], "source": SOURCE, "acid": "none_added",
                }  # fmt: skip
                if way[1]:
                    same["pressure_psi"] = row["pressure_psi"]
                rows = [
                    r for r in guide.tested_rows(item.handbook, *way)
                    if (r["jar"], r["pack"]) == (row["jar"], row["pack"])
                    and r["low_ft"] <= feet <= r["high_ft"]
                ]  # fmt: skip
                if len(rows) == 1:
                    tried += 1
                    shorter = same | {"minutes": row["process_min"] - 1}
                    fuller = same | {"headspace_in": row["headspace_in"] / 2}
                    assert isinstance(own_process(Recipe(**shorter), feet * FT), Said), shorter
                    assert isinstance(own_process(Recipe(**fuller), feet * FT), Said), fuller
    assert tried > 100


def test_the_week_shows_it_as_the_households_own_with_its_publication():
    recipe = dills().model_dump(exclude_none=True)
    garden = make_garden(crops=["cucumber"], elevation_m=1180 * FT, recipes=[recipe])
    row = weekly_options(garden).set_index("option").loc["dill_pickles/pint/boiling_water"]
    assert row["process_min"] == 20
    assert f"process: the household's own recipe: {SOURCE}" in row["source"]
    assert row["headspace_in"] == pytest.approx(0.5)


def test_a_refused_recipe_leaves_the_guides_process_and_is_said():
    recipe = dills(minutes=5).model_dump(exclude_none=True)
    garden = make_garden(crops=["cucumber"], elevation_m=1180 * FT, recipes=[recipe])
    row = weekly_options(garden).set_index("option").loc["dill_pickles/pint/boiling_water"]
    assert row["process_min"] == 15
    found = recipe_notices(garden.household)
    assert found["code"].tolist() == ["recipe.shorter"]
    assert found["facts"].iloc[0] == {"label": "dill pickles", "minutes": 5.0, "least": 15.0}


def test_it_brings_a_jar_that_the_catalogue_lacks():
    recipe = dills(jar="half_pint").model_dump(exclude_none=True)
    garden = make_garden(crops=["cucumber"], elevation_m=300, recipes=[recipe])
    options = weekly_options(garden).set_index("option")
    assert "dill_pickles/half_pint/boiling_water" in options.index
    assert "half_pint" not in product("dill_pickles").jars


def test_without_an_elevation_nothing_is_said_of_recipes():
    assert recipe_notices(Household(recipes=[dills()])).empty


def test_metric_figures_do():
    metric = dills(headspace_in=None, headspace_cm=1.27)
    assert code(metric) == "taken"
    assert own_process(metric, 300.0).headspace_in == pytest.approx(0.5)
