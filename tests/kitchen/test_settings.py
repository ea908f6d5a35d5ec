"""What the kitchen says of settings before a plan is asked for."""

from harvestcast.kitchen.settings import settings_problems
from harvestcast.records.household import Equipment, Household


def test_a_canner_without_elevation_and_a_strange_target_are_both_said() -> None:
    home = Household(
        equipment=(Equipment(kind="boiling_water_canner"),), targets={"pickled unicorn": 4}
    )
    assert {problem.column for problem in settings_problems(home)} == {"targets", "elevation_m"}


def test_sound_settings_pass() -> None:
    home = Household(
        elevation_m=300.0,
        equipment=(Equipment(kind="boiling_water_canner"),),
        targets={"dill pickles": 4},
    )
    assert settings_problems(home) == ()
