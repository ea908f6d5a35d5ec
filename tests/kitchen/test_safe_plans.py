"""No plan cans what this kitchen cannot can safely, and freshness limits are kept.

Kitchens and harvests are invented.
"""

from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvestcast import plan_week
from harvestcast.errors import UnsafeProcessError
from harvestcast.kitchen.handbook import process_times as handbook
from harvestcast.kitchen.handbook.products import product, products
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use, wanted_jars
from harvestcast.kitchen.solve.inputs import ON_HAND, programme_inputs
from harvestcast.kitchen.solve.solve import solve_programme
from harvestcast.kitchen.week.options import weekly_options
from tests.kitchen.conftest import make_garden

CROPS = ("snap bean", "sweet corn", "beet", "pea", "okra", "cucumber", "tomato", "sweet pepper")
CANNED = ("boiling_water", "pressure")
FRIDAY = pd.Timestamp("2026-08-07")

canners = st.lists(
    st.one_of(
        st.fixed_dictionaries(
            {"kind": st.just("boiling_water_canner")},
            optional={"pints": st.integers(0, 12), "quarts": st.integers(0, 9)},
        ),
        st.fixed_dictionaries(
            {"kind": st.just("pressure_canner"), "gauge": st.sampled_from(["dial", "weighted"])},
            optional={"pints": st.integers(0, 16), "quarts": st.integers(0, 9)},
        ),
        st.just({"kind": "dryer", "trays": 5}),
        st.just({"kind": "freezer", "free_l": 40}),
    ),
    max_size=4,
)


def _must_be_safe(rows: pd.DataFrame, equipment: list[dict], elevation_m: float) -> None:
    kinds = {piece["kind"] for piece in equipment}
    gauges = {piece.get("gauge") for piece in equipment if piece["kind"] == "pressure_canner"}
    for row in rows[rows["method"].isin(CANNED)].to_dict("records"):
        item = product(row["product"])
        needs = "pressure_canner" if row["method"] == "pressure" else "boiling_water_canner"
        assert needs in kinds
        assert not item.low_acid or row["method"] == "pressure"
        # The table must answer, with the very figures of the plan: it raises where it refuses.
        gauge = next(iter(gauges)) if row["method"] == "pressure" and len(gauges) == 1 else None
        found = handbook.process(
            item.handbook, jar=row["jar"], elevation_m=elevation_m, method=row["method"],
            gauge=gauge, pack=item.pack,
        )  # fmt: skip
        assert found.minutes == row["process_min"]
        if gauge is not None:
            assert found.pressure_psi == row["pressure_psi"]


@settings(max_examples=25, deadline=None)
@given(equipment=canners, elevation_m=st.floats(0, 3200))
def test_every_way_offered_has_its_canner_and_its_row(
    equipment: list[dict], elevation_m: float
) -> None:
    """Plans choose among the ways offered, so what holds for these holds for every plan."""
    garden = make_garden(crops=CROPS, equipment=equipment, elevation_m=elevation_m)
    _must_be_safe(weekly_options(garden), equipment, elevation_m)


def _glut(kg: dict[str, float], days: int = 7, draws: int = 5) -> SimpleNamespace:
    """Return an outlook with so many kg of each crop a day, a fifth more or less by draw."""
    keys = tuple((crop, "unnamed") for crop in kg)
    daily = np.array([list(kg.values())]) * np.linspace(0.8, 1.2, draws)[:, None]
    outlook = SimpleNamespace(
        as_of=FRIDAY,
        weeks=1,
        keys=keys,
        mass_kg=np.repeat(daily[:, None, :], days, axis=1),
    )
    outlook.first = lambda draws: outlook
    return outlook


HOURS = dict.fromkeys(
    ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday"), 5.0
)
WATER = {"kind": "boiling_water_canner"}
PRESSURE = {"kind": "pressure_canner", "gauge": "dial"}


@pytest.mark.parametrize(
    ("pieces", "elevation_m", "cans_beans"),
    [
        ([], 300.0, False),
        ([WATER], 300.0, False),
        ([WATER, {"kind": "freezer", "free_l": 90}], 1500.0, False),
        ([PRESSURE], 300.0, True),
        ([WATER, PRESSURE], 2000.0, True),
        # 8,001 ft and more: the dial table ends at 8,000 ft.
        ([WATER, PRESSURE], 2440.0, False),
    ],
)
def test_beans_are_canned_only_under_pressure(
    pieces: list[dict], elevation_m: float, cans_beans: bool
) -> None:
    """A glut of beans and a high target must not tempt the plan; with the canner it takes it."""
    garden = make_garden(
        crops=("snap bean",), equipment=pieces, elevation_m=elevation_m, hours=HOURS,
        jars={"pint": 90, "quart": 40, "lids": 150}, targets={"canned snap beans": 60},
    )  # fmt: skip
    plan = plan_week(_glut({"snap bean": 6.0}), garden, scenarios=5)
    _must_be_safe(plan.batches, pieces, elevation_m)
    assert ("canned_snap_beans" in set(plan.batches["product"])) == cans_beans


def test_no_product_whose_process_is_refused_is_planned() -> None:
    """High targets of exactly the products that nobody has read a process for."""
    refused = []
    for key in products()["key"]:
        item = product(key)
        if item.crop not in CROPS or not set(item.methods) <= set(CANNED):
            continue
        try:
            for method in item.methods:
                handbook.process(
                    item.handbook, jar=item.jars[0], elevation_m=300.0, method=method,
                    pack=item.pack,
                )  # fmt: skip
        except UnsafeProcessError:
            refused.append(key)
    assert {"whole_tomatoes", "crushed_tomatoes", "quick_sweet_pickles"} <= set(refused)
    pieces = [WATER, PRESSURE, {"kind": "freezer", "free_l": 60}]
    garden = make_garden(
        crops=CROPS, equipment=pieces, elevation_m=300.0, hours=HOURS,
        jars={"pint": 90, "quart": 40, "half_pint": 40, "lids": 170},
        targets=dict.fromkeys(refused, 50),
    )  # fmt: skip
    plan = plan_week(_glut({"tomato": 8.0, "cucumber": 6.0}), garden, scenarios=5)
    assert len(plan.batches)
    assert not set(plan.batches["product"]) & set(refused)
    _must_be_safe(plan.batches, pieces, 300.0)


@pytest.mark.parametrize(("saturday", "pickled"), [(0.0, False), (6.0, True)])
def test_cucumbers_of_friday_are_no_pickles_on_sunday(saturday: float, pickled: bool) -> None:
    """Pickling wants cucumbers of the last 24 hours: of the same day or the day before.

    Ten kilograms picked on Friday and none later. With hours on Saturday they are pickled then;
    with hours from Sunday on only, relish (two days) and slices for the week (three) are left.
    """
    garden = make_garden(
        crops=("cucumber",), equipment=(WATER,), hours=HOURS | {"saturday": saturday},
        jars={"pint": 90, "quart": 40, "half_pint": 40, "lids": 170},
        targets={"dill pickles": 60, "bread and butter pickles": 40, "cucumber relish": 12},
    )  # fmt: skip
    lying = pd.DataFrame({"date": [FRIDAY], "crop": "cucumber", "grade": "good", "mass_kg": [10.0]})
    start = FRIDAY + pd.Timedelta(days=1)
    inputs = programme_inputs(
        options=weekly_options(garden),
        fresh=fresh_use(garden, ("cucumber",)),
        wanted=wanted_jars(garden, FRIDAY),
        capacity=capacity_of(garden.household, start, 5),
        choices=garden.household.choices,
        on_hand=lying[list(ON_HAND.names)],
        picked={("cucumber", "good"): np.zeros((1, 5))},
    )
    done = solve_programme(inputs).batches
    by_product = {
        str(key): int(done[:, number].sum()) for number, key in enumerate(inputs.options["product"])
    }
    pickles = by_product["dill_pickles"] + by_product["bread_and_butter_pickles"]
    per_day = done[:, inputs.options["max_age_days"].to_numpy(float) <= 1].sum(axis=1)
    assert (pickles > 0) == pickled
    assert per_day[1:].sum() == 0, "nothing that wants fresh cucumbers after Saturday"
    assert pickled or by_product["cucumber_relish"] + by_product["cucumber_vinegar_slices"] > 0
