"""What the kitchen says of settings before a plan is asked for."""

from harvestcast.kitchen.household.demand import targets
from harvestcast.kitchen.household.settings import settings_problems, target_notices
from harvestcast.records.household import Equipment, Household


def test_a_canner_without_elevation_and_a_strange_target_are_both_said() -> None:
    home = Household(
        equipment=(Equipment(kind="boiling_water_canner"),),
        targets={"pickled unicorn": 4, "salsa": 2},
    )
    assert {problem.column for problem in settings_problems(home)} == {"elevation_m"}
    odd = target_notices(home, {"targets.pickled unicorn": 7})
    assert odd[["line", "value"]].to_numpy().tolist() == [[7, "pickled unicorn"]]
    assert odd["done"][0].startswith("left out: nothing is planned or counted towards it")
    assert targets(home) == {"salsa": 2.0}  # what is known goes on


def test_sound_settings_pass() -> None:
    home = Household(
        elevation_m=300.0,
        equipment=(Equipment(kind="boiling_water_canner"),),
        targets={"dill pickles": 4},
    )
    assert settings_problems(home) == ()
