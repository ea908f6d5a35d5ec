"""Targets that no plan can serve are named, each with its reason."""

from harvestcast.kitchen.household.demand import wanted_jars
from harvestcast.kitchen.messages import NO_TESTED_TIME
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.refused import kept_out
from harvestcast.report.week.words import kept_out_words

TARGETS = {"whole tomatoes": 24, "dill pickles": 12}


def _of(garden):
    return kept_out(garden, wanted_jars(garden, "2026-07-19"))


def test_a_row_that_was_not_read_in_a_publication_is_said_so(garden_of):
    found = _of(garden_of(targets=TARGETS)).set_index("product")
    assert found.index.tolist() == ["whole_tomatoes"]
    why = found.loc["whole_tomatoes", "why"]
    # Which jars, which canners, how high, and what of the same crop can be made instead.
    assert why.startswith(
        f"{NO_TESTED_TIME}, for pints and quarts in a boiling-water canner or pressure canner at "
        "300 m (985 ft); use your extension service's current table; what this kitchen can make "
        "of tomato: tomato sauce, "
    )
    assert "frozen tomatoes" in why
    assert found.loc["whole_tomatoes", "target_jars"] == 24


def test_a_target_is_named_as_it_was_typed(garden_of):
    garden = garden_of(
        targets={"Canned Tomatoes": 14, "Whole tomatoes": 2, "salsa": 3}, elevation_m=700
    )
    found = _of(garden)
    assert found.set_index("product")["typed"].to_dict() == {
        "whole_tomatoes": "Canned Tomatoes",
        "salsa": "",
    }
    (one, _), (other, _) = kept_out_words(found)
    said = {one, other}
    assert "nothing is planned for salsa (target 3 pints)" in said
    assert (
        "nothing is planned for whole tomatoes ('Canned Tomatoes' in garden.toml, target 16 pints)"
    ) in said


def test_a_crop_that_is_not_grown_is_said_so(garden_of):
    garden = garden_of(targets={"frozen raspberries": 4}, crops=["tomato"])
    assert _of(garden)["why"].tolist() == ["no raspberry is planted or picked"]


def test_a_target_without_its_equipment_is_said_so(garden_of):
    garden = garden_of(targets=TARGETS, equipment=())
    found = _of(garden).set_index("product")
    assert set(found.index) == {"whole_tomatoes", "dill_pickles"}
    assert "there is no boiling water canner" in found.loc["dill_pickles", "why"]


def test_nothing_that_can_be_put_up_is_kept_out(garden_of):
    garden = garden_of(targets=TARGETS)
    offered = set(weekly_options(garden)["product"])
    assert not offered & set(_of(garden)["product"])
