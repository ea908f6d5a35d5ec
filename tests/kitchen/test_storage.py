"""Roots, bulbs and squash are laid up as they come, by weight, as far as there is room."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.kitchen.household.book import household_on
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use, litres_per_kg, targets, wanted_jars
from harvestcast.kitchen.household.settings import target_notices
from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import ON_HAND, programme_inputs
from harvestcast.kitchen.solve.solve import solve_programme
from harvestcast.kitchen.week.balance import account_for
from harvestcast.kitchen.week.cautions import cautions
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.work import batch_frame
from harvestcast.records.household import Household
from tests.kitchen.conftest import make_garden

AS_OF = pd.Timestamp("2026-08-30")


def laid_up(kg_a_day, litres, crop="potato", target="potatoes in the cool store", want=200.0):
    garden = make_garden(
        crops=[crop],
        equipment=[{"kind": "cool_store", "free_l": litres}],
        targets={target: want},
    )
    picked = np.full((2, 8), float(kg_a_day))
    picked[1] *= 0.5
    inputs = programme_inputs(
        options=weekly_options(garden, AS_OF),
        fresh=fresh_use(garden, [crop]),
        wanted=wanted_jars(garden, AS_OF),
        capacity=capacity_of(garden.household, AS_OF + pd.Timedelta(days=1), 8),
        choices=garden.household.choices,
        on_hand=ON_HAND.empty(),
        picked={(crop, "good"): picked},
    )
    plan = solve_programme(inputs)
    followed = follow(inputs, plan.shared)
    batches = batch_frame(followed, account_for(followed), plan.batches)
    return garden, batches


def test_as_it_comes_and_not_by_the_batch():
    """3 kg a day is less than the 5 kg once carried at a time; there are no hours at all."""
    _, batches = laid_up(3.0, 500.0)
    own = batches[batches["method"] == "keeping"]
    assert own["decided"].any()
    assert own["mass_kg"].sum() > 0.5 * 0.75 * 3.0 * 8
    assert (own.loc[own["decided"], "mass_kg"] < 5.0).all()


def test_no_more_than_there_is_room_for():
    litres = 20.0
    _, batches = laid_up(10.0, litres)
    room = litres / litres_per_kg("potato")[0]
    assert batches["mass_kg"].sum() <= room + 1e-6
    assert batches["mass_kg"].sum() == pytest.approx(room, rel=0.05)


def test_what_was_laid_up_takes_its_room_and_gives_it_back():
    rows = [("2026-08-28", "potatoes in the cool store", "kg", 40.0, np.nan, np.nan),
            ("2026-08-29", "potatoes in the cool store", "kg", -10.0, np.nan, np.nan)]  # fmt: skip
    garden = make_garden(pantry=rows, crops=["potato"], counted_on="2026-08-01",
                         equipment=[{"kind": "cool_store", "free_l": 100}])  # fmt: skip
    (store,) = household_on(garden, AS_OF).equipment
    assert store.free_l == pytest.approx(100 - 30 * litres_per_kg("potato")[0])


def test_targets_in_weight():
    home = Household(
        targets={"onions in the cool store (lb)": 100, "carrots in the cool store": 20}
    )
    assert targets(home)["stored_onions"] == pytest.approx(45.359237)
    assert targets(home)["stored_carrots"] == 20
    wrong = Household(targets={"dill pickles (lb)": 20})
    assert targets(wrong) == {}
    assert target_notices(wrong)["code"].tolist() == ["target.not_weighed"]


def test_what_is_cured_is_said_with_its_days():
    garden, batches = laid_up(3.0, 500.0, crop="onion", target="onions in the cool store")
    said = cautions(batches, garden.household).set_index("topic")
    assert said.loc["curing", "caution"].startswith("Cure first: onion about 14 days")
    assert not said.loc["curing", "verified"], "from memory, and said to be no published figure"
    none = cautions(batches.iloc[:0], replace(garden).household)
    assert "curing" not in set(none["topic"])


def test_roots_without_curing_say_nothing_of_it():
    garden, batches = laid_up(3.0, 500.0, crop="carrot", target="carrots in the cool store")
    assert (batches["method"] == "keeping").any()
    assert "curing" not in set(cautions(batches, garden.household)["topic"])
