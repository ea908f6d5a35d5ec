"""Targets that no plan can serve are named, each with its reason."""

from harvestcast.kitchen.household.demand import wanted_jars
from harvestcast.kitchen.messages import NO_TESTED_TIME
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.refused import kept_out
from harvestcast.report.week.words import kept_out_words

TARGETS = {"salsa": 24, "dill pickles": 12}
HIGH = 400.0
"""Metres: the extension service that printed choice salsa gives a time up to 1,000 ft only."""


def _of(garden):
    return kept_out(garden, wanted_jars(garden, "2026-07-19"))


def test_a_row_that_was_not_read_in_a_publication_is_said_so(garden_of):
    found = _of(garden_of(targets=TARGETS, elevation_m=HIGH)).set_index("product")
    assert found.index.tolist() == ["salsa"]
    assert found.loc["salsa", "code"] == "target.untested"
    facts = found.loc["salsa", "facts"]
    # Which jars, which canners, how high, and what of the same crop can be made instead.
    assert (facts["jars"], facts["methods"]) == (["pints"], ["boiling_water"])
    assert (facts["metres"], facts["feet"]) == (400.0, 1313)
    assert {"tomato sauce", "frozen tomatoes", "slicing tomato salsa"} <= set(facts["instead"])
    assert found.loc["salsa", "why"].startswith(f"{NO_TESTED_TIME}, for pints in a boiling-water")
    assert found.loc["salsa", "target_jars"] == 24


def test_a_target_is_named_as_it_was_typed(garden_of):
    garden = garden_of(targets={"Canned Salsa": 14, "Salsa": 2, "paste salsa": 3}, elevation_m=HIGH)
    found = _of(garden)
    assert found.set_index("product")["typed"].to_dict() == {"salsa": "Canned Salsa"}
    ((said, _),) = kept_out_words(found)
    assert said == ("nothing is planned for salsa ('Canned Salsa' in garden.toml, target 16 pints)")


def test_a_crop_that_is_not_grown_is_said_so(garden_of):
    garden = garden_of(targets={"frozen raspberries": 4}, crops=["tomato"])
    assert _of(garden)["why"].tolist() == ["no raspberry is planted or picked"]


def test_a_target_without_its_equipment_is_said_so(garden_of):
    garden = garden_of(targets=TARGETS, equipment=())
    found = _of(garden).set_index("product")
    assert set(found.index) == {"salsa", "dill_pickles"}
    assert "there is no boiling water canner" in found.loc["dill_pickles", "why"]


def test_nothing_that_can_be_put_up_is_kept_out(garden_of):
    garden = garden_of(targets=TARGETS)
    offered = set(weekly_options(garden)["product"])
    assert not offered & set(_of(garden)["product"])
