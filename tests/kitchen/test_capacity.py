"""Hours, equipment, jars and room of a household."""

import numpy as np
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from harvestcast.kitchen.household.capacity import (
    DRYER_DAY_STARTS_H,
    DRYER_LAST_LOAD_H,
    capacity_of,
    dryer_day,
)
from harvestcast.kitchen.solve.solve import solve_programme
from harvestcast.kitchen.week.bottlenecks import bottleneck_frame
from harvestcast.records.household import Household
from tests.kitchen.programme_cases import random_kitchen, with_capacity

HOME = Household(
    hours={"friday": 1.5, "saturday": 4},
    equipment=(
        {"kind": "boiling_water_canner"},
        {"kind": "boiling_water_canner", "number": 2},
        {"kind": "dryer", "trays": 5, "number": 2},
        {"kind": "freezer", "free_l": 30},
        {"kind": "freezer", "free_l": 12.5},
        {"kind": "cool_store", "free_l": 100},
    ),
    jars={"pint": 20, "lids": 12},
)


def test_hours_follow_the_weekday() -> None:
    capacity = capacity_of(HOME, pd.Timestamp("2026-08-07"), 9)  # a Friday
    np.testing.assert_array_equal(capacity.hours, [1.5, 4, 0, 0, 0, 0, 0, 1.5, 4])
    assert capacity.dates[0] == pd.Timestamp("2026-08-07")
    assert list(capacity.daily.columns)[:2] == ["day", "hands_on_h"]


def test_pieces_and_stores_add_up() -> None:
    capacity = capacity_of(HOME, pd.Timestamp("2026-08-07"), 1)
    assert capacity.number_of("boiling_water_canner") == 3
    assert capacity.number_of("pressure_canner") == 0
    assert capacity.number_of("none") == np.inf
    assert capacity.store("freezer_l") == 42.5
    assert capacity.trays == 10


def test_what_is_not_said_is_unknown_not_none() -> None:
    capacity = capacity_of(HOME, pd.Timestamp("2026-08-07"), 1)
    assert np.isnan(capacity.store("refrigerator_l"))
    assert capacity.store("quart") == 0  # pints are given, so the household counts its jars
    assert set(capacity.unsaid) == {"refrigerator_l", "freezer_bags"}
    bare = capacity_of(Household(), pd.Timestamp("2026-08-07"), 1)
    assert np.isnan(bare.store("pint"))
    assert bare.store("freezer_l") == 0  # no freezer, no room in it
    with pytest.raises(ValueError, match="at least 1"):
        capacity_of(HOME, pd.Timestamp("2026-08-07"), 0)


@settings(max_examples=60, deadline=None)
@given(load=st.floats(4, 40))
def test_a_dryer_by_the_clock_fits_the_rule(load: float) -> None:
    """Loads of one length put in by the clock for a week: the rule never allows fewer."""
    hours, past = dryer_day(load)
    clock, begun = DRYER_DAY_STARTS_H, [0] * 7
    for day in range(7):
        opens, closes = 24 * day + DRYER_DAY_STARTS_H, 24 * day + DRYER_LAST_LOAD_H
        clock = max(clock, opens)
        while clock <= closes:
            begun[day] += 1
            clock += load
    over = 0.0
    for loads in begun:
        needed = max(0.0, loads * load + over - hours)
        assert needed <= past + 1e-6
        over = needed


@settings(max_examples=60, deadline=None)
@given(load=st.floats(4, 40))
def test_a_dryer_is_never_given_more_than_the_clock_allows_in_a_day(load: float) -> None:
    """On a day that begins with an empty dryer, whole loads of one length."""
    hours, past = dryer_day(load)
    by_rule = int((hours + past) / load + 1e-9)
    by_clock = int((DRYER_LAST_LOAD_H - DRYER_DAY_STARTS_H) / load + 1e-9) + 1
    assert by_rule == by_clock


def test_canners_of_any_kind_share_the_stove() -> None:
    """One place: both canners together are busy no longer than one can stand there in a day."""
    home = Household(
        equipment=[{"kind": "boiling_water_canner"}, {"kind": "pressure_canner", "gauge": "dial"}],
        elevation_m=100,
        stove_places=1,
    )
    start = pd.Timestamp("2026-08-07")
    assert capacity_of(home, start, 3).stove == 1
    assert np.isinf(capacity_of(home.model_copy(update={"stove_places": None}), start, 3).stove)
    inputs = random_kitchen(
        3, crops=4, options=10, days=4, draws=3, kg_day=60.0, hours=np.full(4, 40.0)
    )
    tight = with_capacity(inputs, stove=1 / 12)  # an hour a day
    canners = inputs.options["equipment"].str.endswith("canner").to_numpy()
    hours = inputs.options.loc[canners, "equipment_h"].to_numpy(float)
    free, bound = (solve_programme(one, gap=1e-4) for one in (inputs, tight))
    assert (free.batches[:, canners] @ hours).max() > 1.0, "the place must bind"
    assert (bound.batches[:, canners] @ hours <= 1.0 + 1e-6).all()
    assert bound.cost >= free.cost - 1e-3
    frame = bottleneck_frame(bound, tight).set_index("resource")
    assert frame.loc["stove", "value"] > 0
