"""What the kitchen says of settings before a plan is asked for."""

from harvestcast.kitchen.household.demand import targets
from harvestcast.kitchen.household.settings import settings_problems, stock_notices, target_notices
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


def test_unknown_things_in_stock_are_said_with_the_nearest_key() -> None:
    home = Household(stock={"vinegar_gal": 2, "vinager_gal": 1, "honey_kg": 3})
    lines = {"stock": 5, "stock.vinegar_gal": 6, "stock.vinager_gal": 7, "stock.honey_kg": 8}
    said = stock_notices(home, lines)
    assert said[["line", "value", "code"]].to_numpy().tolist() == [
        [7, "vinager_gal", "stock.unknown"],
        [8, "honey_kg", "stock.unknown"],
    ]
    assert "vinegar_l" in said["done"][0]
    assert stock_notices(Household(stock={"salt_lb": 4, "onion_lb": 6})).empty
