"""Beds under glass in a plan: their own room, their own frost-free season, only what grew there."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.records.garden import Garden
from harvestcast.season.next import plan as plan_module
from harvestcast.season.next.futures import season_futures
from harvestcast.season.next.options import planting_options
from harvestcast.season.next.plan import PlantingPlan, plan_next_season
from harvestcast.season.yields.curves import learn
from tests.season.gardens import bell, garden, picks, plantings

GLASS_M2 = 6 * crop_facts("tomato").spacing_m2
"""What the six plants of the log took there. [m2]"""


@pytest.fixture(scope="module")
def house() -> Garden:
    """One variety under glass from March, the same and beans in the open from May."""
    rows = plantings(
        [
            ("tomato", "Early Lamp", "glass", "2025-03-25", "set_out", 6),
            ("tomato", "Early Lamp", "south", "2025-05-20", "set_out", 12),
            ("snap bean", "Runnel", "long", "2025-05-15", "sown", 60),
        ]
    )
    rows.loc[rows["bed"] == "glass", "cover"] = "glass"
    rows["cover"] = rows["cover"].astype(object)
    made: list[tuple[object, ...]] = []
    for crop, variety, bed, start, days, total in (
        ("tomato", "Early Lamp", "glass", "2025-06-05", 120, 30.0),
        ("tomato", "Early Lamp", "south", "2025-07-25", 70, 40.0),
        ("snap bean", "Runnel", "long", "2025-07-08", 40, 14.0),
    ):
        made += [(day, crop, variety, kg, np.nan, "good", bed)
                 for day, kg in bell(start, days, total)]  # fmt: skip
    return garden(
        rows, picks(made),
        crops={"tomato": {"eat_kg_per_person_week": 0.9}}, hours={"saturday": 5},
        equipment=[{"kind": "freezer", "free_l": 60.0}],
    )  # fmt: skip


@pytest.fixture(scope="module")
def plan(house: Garden) -> PlantingPlan:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(plan_module, "TRIALS", 40)
        patch.setattr(plan_module, "FRESH_FUTURES", 60)
        return plan_next_season(house, year=2026, futures=10, sowings=1)


def test_what_may_go_under_glass_is_what_grew_there(house: Garden) -> None:
    options = planting_options(house, year=2026, sowings=1)
    assert {(o.crop, o.date.month, o.covered) for o in options} == {
        ("tomato", 3, True), ("tomato", 5, False), ("snap bean", 5, False)
    }  # fmt: skip


def test_the_season_under_glass_is_its_own(house: Garden) -> None:
    """Set out in March it bears weeks before the open ground does, and no frost ends it."""
    options = [o for o in planting_options(house, year=2026, sowings=1) if o.crop == "tomato"]
    drawn = season_futures(house, learn(house, 2026), options, year=2026, draws=60, seed=1)
    covered = np.array([o.covered for o in options])
    first = [np.nanmedian(drawn.first_pick[:, covered == one]) for one in (True, False)]
    assert first[0] < first[1] - 20
    assert np.isfinite(drawn.first_pick[:, covered]).all()


def test_the_glass_holds_no_more_than_it_did(plan: PlantingPlan) -> None:
    under = plan.beds[plan.beds["cover"].notna()]
    assert (under["crop"] == "tomato").all()
    assert under["area_m2"].sum() <= 1.001 * GLASS_M2
    places = plan.places.dropna(subset="bed")
    inside = places[places["bed"] == "glass"]
    assert (inside["date"].dt.month == 3).all()
    assert not ((places["date"].dt.month == 3) & (places["bed"] != "glass")).any()
    assert isinstance(plan.beds, pd.DataFrame)
