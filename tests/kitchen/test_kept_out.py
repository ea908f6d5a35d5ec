"""Targets that no plan can serve are named, each with its reason."""

from harvestcast.kitchen.demand import wanted_jars
from harvestcast.kitchen.kept_out import NO_TESTED_TIME, kept_out
from harvestcast.kitchen.options import weekly_options

TARGETS = {"whole tomatoes": 24, "dill pickles": 12}


def _of(garden):
    return kept_out(garden, wanted_jars(garden, "2026-07-19"))


def test_a_row_that_was_not_read_in_a_publication_is_said_so(garden_of):
    found = _of(garden_of(targets=TARGETS)).set_index("product")
    assert found.index.tolist() == ["whole_tomatoes"]
    assert found.loc["whole_tomatoes", "why"] == NO_TESTED_TIME
    assert found.loc["whole_tomatoes", "target_jars"] == 24


def test_a_target_without_its_equipment_is_said_so(garden_of):
    garden = garden_of(targets=TARGETS, equipment=())
    found = _of(garden).set_index("product")
    assert set(found.index) == {"whole_tomatoes", "dill_pickles"}
    assert "there is no boiling water canner" in found.loc["dill_pickles", "why"]


def test_nothing_that_can_be_put_up_is_kept_out(garden_of):
    garden = garden_of(targets=TARGETS)
    offered = set(weekly_options(garden)["product"])
    assert not offered & set(_of(garden)["product"])
