"""Cautions: those that apply, only those, with their figures and sources."""

import pandas as pd
import pytest

from harvestcast.kitchen.handbook.products import product, products
from harvestcast.kitchen.week.cautions import cautions
from harvestcast.kitchen.week.options import weekly_options

FT = 0.3048
ALL = [product(key) for key in products()["key"]]


def _for(garden, *options):
    table = weekly_options(garden).set_index("option", drop=False)
    return cautions(table.loc[list(options)], garden.household).set_index("topic")


def test_frozen_beans_need_no_canning_cautions(garden_of):
    found = _for(garden_of(), "frozen_snap_beans/pint_bag/freezing")
    assert found.index.tolist() == ["freezing"]
    # Clemson Univ. Extension: 0 F or below.
    assert "0 F" in found.loc["freezing", "caution"] and found.loc["freezing", "verified"]


def test_low_acid_food_comes_first_and_names_botulism(garden_of):
    found = _for(
        garden_of(),
        "frozen_snap_beans/pint_bag/freezing",
        "dill_pickles/pint/boiling_water",
        "canned_snap_beans/pint/pressure_dial",
    )
    assert found.index[0] == "low-acid food"
    assert "Botulism" in found.iloc[0]["caution"]
    assert found.iloc[0]["applies_to"] == "canned snap beans"
    vent = found.loc["venting and rest"]
    # AIB 539 (2015), p. 1-20 and 1-22: vent 10 minutes, wait 10 minutes.
    assert vent["caution"].count("10 minutes") == 2
    assert vent["verified"] and "p. 1-20" in vent["source"]


@pytest.mark.parametrize(
    "option", ["tomato_sauce/pint/boiling_water", "tomato_sauce/quart/pressure_dial"]
)
def test_tomatoes_are_acidified_in_either_canner(garden_of, option):
    found = _for(garden_of(units="us"), option).loc["acid in each jar"]
    # Univ. of Missouri Extension: 2 tbsp or 1/2 tsp a quart, half a pint.
    assert "2 tablespoons of bottled lemon juice" in found["caution"]
    assert "0.5 teaspoon of citric acid a quart" in found["caution"]
    assert found["verified"]


def test_salsa_is_not_told_to_acidify_twice(garden_of):
    found = _for(garden_of(), "salsa/pint/boiling_water")
    assert "acid in salsa" in found.index and "acid in each jar" not in found.index


def test_pickles(garden_of):
    found = _for(garden_of(), "dill_pickles/pint/boiling_water")
    assert "5 % acidity" in found.loc["vinegar", "caution"]
    assert "within 24 hours" in found.loc["fresh cucumbers", "caution"]
    assert "4 weeks" in found.loc["standing", "caution"]
    assert "12 to 24 hours" in found.loc["cooling", "caution"]  # Univ. of Missouri Extension
    # AIB 539 (2015), p. 1-26.
    assert "refrigerator, and is eaten within several days" in found.loc["cooling", "caution"]
    assert "wait 5 minutes" in found.loc["boiling water", "caution"]  # FCS8250
    assert "12 months" in found.loc["use by", "caution"]
    assert "sterile jars" not in found.index and "low-acid food" not in found.index
    assert "local extension service" in found.loc["tested recipes", "caution"]


def test_short_processes_need_sterile_jars(garden_of):
    # MSU 01600107: 5 minutes up to 1,000 ft, 10 above; sterile jars below 10 minutes only.
    low, high = garden_of(elevation_m=1000 * FT), garden_of(elevation_m=1001 * FT)
    option = "pickled_sweet_peppers/pint/boiling_water"
    found = _for(low, option)
    assert "less than 10 minutes" in found.loc["sterile jars", "caution"]
    assert "sterile jars" not in _for(high, option).index


@pytest.mark.parametrize(
    "feet, band", [(1000, "0 to 1,000 ft"), (1001, "1,001 to 6,000 ft"), (6001, "above 6,000 ft")]
)
def test_the_band_that_was_used_is_said(garden_of, feet, band):
    found = _for(garden_of(elevation_m=feet * FT), "dill_pickles/pint/boiling_water")
    assert f"{feet:,} ft" in found.loc["elevation", "caution"]
    assert band in found.loc["elevation", "caution"]


@pytest.mark.parametrize("feet, said", [(4999, False), (5000, True)])
def test_blanching_takes_longer_from_5000_feet(garden_of, feet, said):
    found = _for(garden_of(elevation_m=feet * FT), "frozen_snap_beans/pint_bag/freezing")
    assert ("blanch 1 minute longer" in found.loc["freezing", "caution"]) == said


def test_fermenting_drying_and_food_for_the_week(garden_of):
    found = _for(
        garden_of(units="us"),
        "fermented_dill_pickles/quart/fermenting",
        "dried_tomatoes/pint_dry/drying",
        "dried_basil/half_pint_dry/drying",
        "cucumber_vinegar_slices/pint_dish/refrigerating",
        "dried_zucchini/pint_dry/drying",
    )
    assert "21 to 28 days at 70 to 75 F" in found.loc["fermenting", "caution"]
    assert "at 140 F dried tomatoes" in found.loc["drying", "caution"]
    # North Dakota State Univ. Extension and, from memory, So Easy to Preserve.
    assert "First, in boiling water: " in found.loc["drying", "caution"]
    assert "dried zucchini 1.5 min" in found.loc["drying", "caution"]
    assert "at 95 F dried basil" in found.loc["drying", "caution"]
    assert "within 5 days" in found.loc["food for the week", "caution"]
    # North Carolina Cooperative Extension: summer squash is not canned plain.
    assert found.loc["squash", "verified"]
    assert "boiling water" not in found.index


def test_metric_households_read_both_units_and_no_limit_is_laxer(garden_of):
    # Exact: degree C = (F - 32) / 1.8, 1 in = 25.4 mm, 1 US tbsp = 14.787 ml, 1 lb = 0.45359237 kg
    # (NIST SP 811, 2008, appendix B.8); least figures up, greatest figures down.
    found = _for(
        garden_of(units="metric"),
        "tomato_sauce/pint/boiling_water",
        "fermented_dill_pickles/quart/fermenting",
        "dried_tomatoes/pint_dry/drying",
    )["caution"]
    assert "30 ml (2 tablespoons) of bottled lemon juice" in found["acid in each jar"]
    assert "60 C (140 F) for raw packs" in found["boiling water"]
    assert "2.6 cm (1 inch)" in found["boiling water"]  # 2.54 cm or more
    assert "21 to 24 C (70 to 75 F)" in found["fermenting"]
    assert "2.2 kg (5 lb) at most" in found["fermenting"]  # 2.268 kg or less
    assert "at 60 C (140 F) dried tomatoes" in found["drying"]
    jerky = _for(garden_of(targets={"jerky": 6}), "dried_tomatoes/pint_dry/drying")
    # 1/4 inch is 6.35 mm, at most; 130 F is 54.4 degrees C, at least.
    assert "6 mm (0.25 inch) at most" in jerky.loc["dried meat", "caution"]
    assert "55 C (130 F) or more" in jerky.loc["dried meat", "caution"]


def test_what_spoils_a_store_or_poisons_from_it_is_said(garden_of):
    found = _for(
        garden_of(units="us"),
        "stored_potatoes/kg/keeping",
        "stored_sweet_potatoes/kg/keeping",
        "stored_shell_beans/kg/keeping",
        "stored_garlic/kg/keeping",
    ).loc["in store"]
    # Iowa State University Extension: potatoes 40 F, 90 to 95 %; sweet potatoes 55 to 60 F.
    assert "potato at 40 F, 90 to 95 % humidity" in found["caution"]
    assert "sweet potato at 55 to 60 F" in found["caution"]
    # U.S. Food and Drug Administration, from memory: raw beans; garlic in oil; green potatoes.
    for words in ("green or bitter is poisonous", "boil them hard for 30 minutes", "never kept in "
                  "oil", "Apples lie apart"):  # fmt: skip
        assert words in found["caution"]
    assert not found["verified"]
    beets = _for(garden_of(units="us"), "stored_beets/kg/keeping").loc["in store"]
    assert beets["verified"] and "poisonous" not in beets["caution"]


def test_acorn_squash_is_not_cured_with_the_others(garden_of):
    found = _for(garden_of(), "stored_winter_squash/kg/keeping")
    # Iowa State University Extension, Harvest and storage of winter squash: 5 to 8 weeks, uncured.
    assert "Acorn and delicata squash are not cured" in found.loc["in store", "caution"]


@pytest.mark.parametrize("crop", sorted({i.crop for i in ALL if i.methods == ("keeping",)}))
def test_every_crop_in_store_has_its_cold_and_its_moisture(garden_of, crop):
    garden = garden_of(crops=[crop])
    options = weekly_options(garden).query("method == 'keeping'")
    said = cautions(options, garden.household).set_index("topic").loc["in store", "caution"]
    assert f"{crop} at " in said and "% humidity" in said


def test_a_dial_gauge_is_checked_and_a_weight_is_not(garden_of):
    # AIB 539 (2015), p. 1-20.
    dial = _for(garden_of(), "canned_snap_beans/pint/pressure_dial")
    assert "dial gauge is checked every year" in dial.loc["venting and rest", "caution"]
    weighted = garden_of(equipment=[{"kind": "pressure_canner", "gauge": "weighted"}])
    found = _for(weighted, "canned_snap_beans/pint/pressure_weighted")
    assert "dial gauge" not in found.loc["venting and rest", "caution"]


def test_what_takes_no_canners_place_is_said_of_all_that_is_canned(garden_of):
    found = _for(garden_of(), "dill_pickles/pint/boiling_water").loc["tested recipes"]
    # AIB 539 (2015), p. 1-10 and 1-30.
    for name in ("oven", "microwave", "dishwasher", "steam canner", "canning powder", "wax"):
        assert name in found["caution"]
    assert found["verified"]


def test_vinegar_of_food_for_the_week_has_its_acidity_too(garden_of):
    found = _for(garden_of(), "cucumber_vinegar_slices/pint_dish/refrigerating")
    assert "5 % acidity or more" in found.loc["food for the week", "caution"]


def test_what_is_not_blanched_is_not_told_to_be_blanched_longer(garden_of):
    high = garden_of(elevation_m=6000 * FT)
    found = _for(high, "frozen_strawberries/pint_bag/freezing").loc["freezing", "caution"]
    assert "blanch" not in found and "freeze it at once" in found


def test_each_band_names_its_products(garden_of):
    garden = garden_of(elevation_m=1500 * FT, units="metric")
    found = _for(
        garden,
        "dill_pickles/pint/boiling_water",
        "canned_snap_beans/pint/pressure_dial",
        "pickled_sweet_peppers/pint/boiling_water",
    ).loc["elevation", "caution"]
    assert "457 m (1,500 ft)" in found
    # MSU 01600865: dill pickles 1,001 to 6,000 ft.
    assert "305 to 1,828 m (1,001 to 6,000 ft) for dill pickles" in found
    assert found.index("canned snap beans") > found.index("from these bands")


def test_dried_meat_only_where_the_household_wants_it(garden_of):
    batches = weekly_options(garden_of()).query("option == 'dried_tomatoes/pint_dry/drying'")
    plain = cautions(batches, garden_of().household)
    assert "dried meat" not in set(plain["topic"])
    found = cautions(batches, garden_of(targets={"jerky": 6}).household).set_index("topic")
    # USDA hotline, quoted: 160 F, poultry 165 F, before drying; K-State: 130 F, 1/4 inch.
    for figure in ("160 F", "165 F", "130 F", "0.25 inch"):
        assert figure in found.loc["dried meat", "caution"]


def test_every_caution_has_a_source_and_unverified_ones_say_so(garden_of):
    garden = garden_of()
    found = cautions(weekly_options(garden), garden.household)
    assert len(found) >= 18 and found["source"].str.len().min() > 5
    hedge = "from memory|unverified|retyped copy|common practice"
    assert found.loc[~found["verified"], "source"].str.contains(hedge).all()
    assert not found.loc[found["verified"], "source"].str.contains(hedge).any()
    assert not found["caution"].str.contains(r"\bnan\b").any()  # a banana is none


def test_nothing_planned_no_cautions(garden_of):
    empty = pd.DataFrame(columns=["product", "method", "jar"])
    assert cautions(empty, garden_of().household).empty
