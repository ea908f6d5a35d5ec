"""A use for every surplus, in order of worth, and why it is left over: worked by hand."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use, wanted_jars
from harvestcast.kitchen.household.what_if import changed_household
from harvestcast.kitchen.solve.inputs import ON_HAND, programme_inputs
from harvestcast.kitchen.solve.solve import solve_programme
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.surplus import followed_ahead, of_own_produce, uses_of_surplus
from tests.kitchen.conftest import make_garden

AS_OF = pd.Timestamp("2026-07-19")
NONE_EATEN = {"eat_kg_per_person_week": 0.0, "eat_at_most_kg_per_person_week": 0.0}


def used(crop, *, kg=0.0, grade="good", lying=(), equipment=(), **settings):
    """Return what becomes of kg picked on the first day, and of (days ago, kg) lying there."""
    crops = {crop: {**NONE_EATEN, "give_kg_week": 2.0, "animals_kg_week": 1.0}}
    garden = make_garden(crops=[crop], equipment=equipment, people=2)
    home = changed_household(garden.household, {"crops": crops} | settings)
    garden = replace(garden, household=home)
    picked = np.zeros((1, 10))
    picked[0, 0] = kg
    on_hand = pd.DataFrame(
        [(AS_OF - pd.Timedelta(days=ago - 1), crop, grade, mass) for ago, mass in lying],
        columns=["date", "crop", "grade", "mass_kg"],
    )
    inputs = programme_inputs(
        options=weekly_options(garden, AS_OF),
        fresh=fresh_use(garden, [crop]),
        wanted=wanted_jars(garden, AS_OF),
        capacity=capacity_of(garden.household, AS_OF + pd.Timedelta(days=1), 10),
        choices=garden.household.choices,
        on_hand=on_hand if len(on_hand) else ON_HAND.empty(),
        picked={(crop, grade): picked},
    )
    plan = solve_programme(inputs)
    account, hours = followed_ahead(inputs, plan.shared)
    every = weekly_options(garden, AS_OF, all_of=[crop])
    return uses_of_surplus(inputs, account, hours, every, "metric")


def of(table, order):
    own = table[table["order"] > 0] if order else table[table["order"] == 0]
    return dict(zip(own["code"], own["mass_kg"].round(6), strict=True))


def test_what_cannot_be_put_up_is_given_fed_and_composted():
    """20 kg, no equipment: 2 kg a week given and 1 kg fed by the plan already; as much again."""
    found = used("zucchini", kg=20.0)
    left = sum(of(found, 0).values())
    assert set(of(found, 0)) <= {"left.no_way", "left.not_worth", "left.no_hours"}
    uses = of(found, 1)
    assert list(uses) == ["use.give", "use.feed", "use.compost"]
    assert uses["use.give"] == pytest.approx(2.0)
    assert uses["use.feed"] == pytest.approx(1.0)
    assert sum(uses.values()) == pytest.approx(left)


def test_leaves_are_left_where_they_grow():
    uses = of(used("chard", kg=20.0), 1)
    assert "use.leave" in uses
    assert "use.compost" not in uses


def test_old_fruit_says_that_it_is_too_old():
    """Dill pickles take fruit of a day, nothing offered takes cucumbers of six days."""
    found = used("cucumber", lying=[(6, 12.0)], equipment=[{"kind": "boiling_water_canner"}],
                 hours=dict.fromkeys(["monday", "tuesday", "wednesday"], 6))  # fmt: skip
    assert list(of(found, 0)) == ["left.too_old"]


def test_oversize_fruit_asks_for_smaller_picks():
    found = used("cucumber", kg=12.0, grade="oversize")
    assert "use.pick_smaller" in of(found, 1)
    assert sum(of(found, 1).values()) == pytest.approx(sum(of(found, 0).values()))


def test_a_product_without_a_target_takes_what_no_offered_one_does():
    """Asparagus is offered frozen or dried only; a pressure canner and hours stand there."""
    canner = {"kind": "pressure_canner", "gauge": "dial"}
    days = ["monday", "tuesday", "wednesday", "thursday", "friday"]
    found = used("asparagus", kg=60.0, equipment=[canner], hours=dict.fromkeys(days, 8))
    assert list(of(found, 0)) == ["left.no_way"]
    (row,) = found[found["code"] == "use.product"].to_dict("records")
    assert row["facts"]["label"] == "canned asparagus"
    assert 0 < row["mass_kg"] <= sum(of(found, 0).values())
    idle = used("asparagus", kg=60.0, equipment=[canner])
    assert "use.product" not in of(idle, 1), "without hours nothing is put up"


def test_nothing_left_over_asks_for_nothing():
    assert used("zucchini", kg=0.1).empty


def test_no_use_needs_a_fruit_that_nobody_grows():
    # AIB 539 (2015), p. 7-7 and 6-12: grape-plum jelly takes 3 lb of grapes; mixed pickles take
    # onions, celery, carrots, peppers and cauliflower.
    def offered(*crops, **settings):
        garden = make_garden(crops=crops, **settings)
        table = of_own_produce(weekly_options(garden, AS_OF, all_of=crops), garden)
        return set(table["product"])

    assert "grape_plum_jelly" not in offered("plum") and "canned_plums" in offered("plum")
    assert "grape_plum_jelly" in offered("plum", "grape")
    assert "pickled_mixed_vegetables" not in offered("cucumber", "onion")
    # Onions in stock are onions; of okra or zucchini one will do.
    assert "bread_and_butter_pickles" in offered("cucumber", stock={"onion_kg": 2})
    assert "bread_and_butter_pickles" not in offered("cucumber")
    assert "tomatoes_with_okra_or_zucchini" in offered("tomato", "okra")
    assert "tomatoes_with_okra_or_zucchini" not in offered("tomato")
