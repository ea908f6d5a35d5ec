"""Metric jars are processed as the next larger tested size, and never for less time."""

import pytest

from harvestcast.errors import UnsafeProcessError
from harvestcast.kitchen.handbook.process_times import process
from harvestcast.kitchen.handbook.products import jars_in_words, product
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.jars import jar_notices, own_words, real_jar
from harvestcast.kitchen.week.options import left_out_options, weekly_options
from harvestcast.kitchen.week.shopping import shopping_list
from harvestcast.records.household import Household
from harvestcast.records.typed.jar_sizes import next_tested
from harvestcast.report.week.process_words import process_words
from harvestcast.words.crops import crops_said_as

ML = 1 / 473.176473  # US liquid pint, exact


@pytest.mark.parametrize(
    "ml, size",
    [
        (200, "half_pint"), (236.6, "half_pint"), (250, "pint"), (370, "pint"), (473, "pint"),
        (500, "quart"), (720, "quart"), (900, "quart"), (946, "quart"), (1000, None), (1500, None),
    ],
)  # fmt: skip
def test_a_jar_is_processed_as_the_next_larger_size(ml, size):
    assert next_tested(ml * ML) == size


def test_process_of_a_jar_as_it_is_sold():
    # p. 3-10 and 4-9: pints and quarts differ, and 500 ml is more than a pint.
    for name, gauge in (("tomatoes_whole_halved_in_water", None), ("green_beans", "dial")):
        ask = {"elevation_m": 300.0, "gauge": gauge, "pack": "hot"}
        found = process(name, jar="500 ml", **ask)
        assert found == process(name, jar="quart", **ask)
        assert found.minutes > process(name, jar="pint", **ask).minutes
        assert process(name, jar="370 ml", **ask) == process(name, jar="pint", **ask)


@pytest.mark.parametrize(
    "name, jar, largest",
    [("green_beans", "1 litre", "quart"), ("chile_salsa", "500 ml", "pint"),
     ("golden_pepper_jelly", "250 ml", "half_pint")],
)  # fmt: skip
def test_larger_than_any_tested_is_refused(name, jar, largest):
    with pytest.raises(UnsafeProcessError) as refused:
        process(name, jar=jar, elevation_m=300.0)
    assert refused.value.code == "process.jar_too_large"
    assert refused.value.facts == {"product": name, "jar": jar, "largest": largest}


def test_a_size_that_cannot_be_read_is_no_jar_of_the_table():
    with pytest.raises(UnsafeProcessError) as refused:
        process("green_beans", jar="a small one", elevation_m=300.0)
    assert refused.value.code == "process.no_row"


def test_a_household_of_metric_jars_plans_with_them(garden_of):
    garden = garden_of(jars={"500 ml": 20, "lids": 20}, crops=["tomato", "snap bean"])
    home = garden.household
    assert real_jar(home, "pint") == "500 ml"
    options = weekly_options(garden).set_index("option", drop=False)
    row = options.loc["tomato_sauce/pint/boiling_water"]
    # p. 3-9: a quart of thin sauce takes 40 minutes, a pint 35.
    assert row["process_min"] == 40 and row["lemon_juice_tbsp"] == 2
    assert "jars of 500 ml processed as quart jars" in row["source"]
    # Salsa has a time for pints at most: such a jar is refused.
    left = left_out_options(garden).set_index("product")["code"]
    assert left["salsa"] == "process.jar_too_large"
    stores = dict(capacity_of(home, "2026-08-07", 1).stores)
    assert (stores["pint"], stores["quart"]) == (20.0, 0.0)
    batch = options.loc[[row["option"]]].assign(
        batches=1.0, mass_kg=row["kg_per_batch"], jars=row["jars_per_batch"]
    )
    bought = shopping_list(batch, garden).set_index("item")
    assert bought.loc["jars of 500 ml", ["needed", "in_stock"]].tolist() == [9.0, 20.0]
    # Two tablespoons a jar, as for a quart.
    assert bought.loc["bottled lemon juice", "needed"] == pytest.approx(9 * 2 * 0.2365882365 / 16)


def test_a_metric_household_reads_its_own_jars_and_what_they_are_processed_as(garden_of):
    garden = garden_of(jars={"500 ml": 20, "250 ml": 8}, crops=["tomato", "snap bean"])
    options = weekly_options(garden).set_index("option", drop=False)
    row = options.loc["canned_snap_beans/pint/pressure_dial"]
    with crops_said_as(own_words(garden)):
        assert jars_in_words("pint", 1) == "1 jar of 500 ml"
        assert product("tomato_sauce").counted_in == "jars of 500 ml"
        assert product("strawberry_jam").counted_in == "jars of 250 ml"
        assert product("frozen_snap_beans").counted_in == "bags of 0.47 l"
        said = process_words(row, garden.household)
        # p. 4-7: a quart of raw-packed beans takes 25 minutes, a pint 20. Pressure, headspace and
        # band stay as they are printed, beside the household's own units.
        assert said.how == "dial-gauge pressure canner, 25 min at 11 psi (76 kPa)"
        jars = "jars of 500 ml as quarts, raw pack, headspace 25 mm (1 in)"
        assert said.holds_for.startswith(jars)
        # What a refusal compares with stays the tested size.
        left = left_out_options(garden).set_index("product")["reason"]["salsa"]
        assert "a jar of 500 ml is larger than any with a tested time" in left
        assert "the largest is the pint (473 ml)" in left
    assert product("tomato_sauce").counted_in == "pints"


def test_pints_beside_metric_jars_keep_their_own_time(garden_of):
    garden = garden_of(jars={"500 ml": 20, "pint": 6}, crops=["tomato"])
    row = weekly_options(garden).set_index("option").loc["tomato_sauce/pint/boiling_water"]
    assert row["process_min"] == 35
    assert jar_notices(garden.household)["code"].tolist() == ["jar.beside"]


def test_what_becomes_of_jars_of_another_measure_is_said():
    home = Household(jars={"500 ml": 1, "720 ml": 1, "1 l": 1, "pint": 0, "lids": 3, "odd": 2})
    said = jar_notices(home, {"jars.720 ml": 9}).set_index("value")
    assert said["code"].to_dict() == {
        "500 ml": "jar.beside", "720 ml": "jar.between", "1 l": "jar.too_large",
    }  # fmt: skip
    assert said.loc["720 ml", "line"] == 9 and said.loc["720 ml", "facts"]["tested"] == "quart"
