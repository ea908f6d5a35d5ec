"""Ways of putting up: only tested ones, in loads that fit the equipment."""

import math
import pickle

import pandas as pd
import pytest

from harvestcast.errors import ElevationError
from harvestcast.frames import OPTIONS, check_frame
from harvestcast.kitchen.handbook.process_times import process, unverified_rows
from harvestcast.kitchen.handbook.products import product, products
from harvestcast.kitchen.household.demand import fresh_use, wanted_jars
from harvestcast.kitchen.household.settings import vessel_notices
from harvestcast.kitchen.week.options import (
    TRAY_KG_M2,
    canner_load,
    cycle_minutes,
    dried_meat,
    dryer_load_kg,
    left_out_options,
    weekly_options,
)
from harvestcast.records.garden import open_garden
from harvestcast.records.household import Equipment, Household
from tests.real_log import garden_folder_from_real_log

LB = 0.45359237
FT = 0.3048
AS_OF = "2026-08-01"


@pytest.fixture(scope="module")
def full(garden_of):
    return weekly_options(garden_of(), AS_OF).set_index("option", drop=False)


def test_options_keep_their_specification(full):
    check_frame(full, OPTIONS)
    assert len(full) > 90
    assert (full["kg_per_batch"] > 0).all() and (full["jars_per_batch"] > 0).all()
    assert full["source"].str.len().min() > 10


@pytest.mark.parametrize("feet", [0, 1000, 1001, 2000, 2001, 3001, 6000, 6001, 8001])
def test_every_canned_option_is_the_handbook_row(garden_of, feet):
    options = weekly_options(garden_of(elevation_m=feet * FT), AS_OF)
    canned = options[options["method"].isin(["boiling_water", "pressure"])]
    assert len(canned) > 10
    assert canned["process_min"].notna().all() and canned["headspace_in"].notna().all()
    for row in canned.itertuples():
        item = product(row.product)
        gauge = "dial" if row.method == "pressure" else None
        found = process(
            item.handbook,
            jar=row.jar,
            elevation_m=feet * FT,
            method=row.method,
            gauge=gauge,
            pack=item.pack,
        )
        assert row.process_min == found.minutes
        assert row.headspace_in == found.headspace_in
        assert found.source in row.source
        if row.method == "pressure":
            assert row.pressure_psi == found.pressure_psi
    if feet > 8000:  # the dial-gauge tables end at 8,000 ft
        assert not (canned["method"] == "pressure").any()


def test_unverified_products_are_left_out_with_the_reason(garden_of):
    garden = garden_of(elevation_m=400.0)
    offered = set(weekly_options(garden, AS_OF)["product"])
    left = left_out_options(garden, AS_OF)
    frame = products().set_index("key")
    never = set(unverified_rows()["product"])
    assert never == {"choice_salsa"}
    for key in frame.index[frame["handbook"].isin(never)]:
        assert set(left.loc[left["product"] == key, "code"]) == {"process.untested"}
    # Salsa has a verified row up to 1,000 ft only.
    assert "salsa" not in offered
    assert "salsa" in set(weekly_options(garden_of(elevation_m=1000 * FT), AS_OF)["product"])


def test_without_a_pressure_canner_nobody_is_told_to_can_beans(garden_of):
    garden = garden_of(equipment=[{"kind": "boiling_water_canner"}], crops=["snap bean", "okra"])
    assert weekly_options(garden, AS_OF).empty
    reasons = left_out_options(garden, AS_OF).set_index("product")["reason"]
    assert (reasons["canned_snap_beans"] == "there is no pressure canner in garden.toml").all()


def test_a_crop_without_tested_canning_gets_freezing_and_drying(garden_of):
    garden = garden_of(crops=["eggplant", "broccoli"])
    options = weekly_options(garden, AS_OF)
    for crop in ("eggplant", "broccoli"):
        assert set(options.loc[options["crop"] == crop, "method"]) == {"freezing", "drying"}


def test_low_acid_food_is_offered_under_pressure_only(full):
    low = {key for key in products()["key"] if product(key).low_acid}
    mine = full[full["product"].isin(low)]
    assert set(mine["method"]) == {"pressure"} and mine["pressure_psi"].notna().all()


def test_a_canner_without_elevation_is_refused(garden_of):
    with pytest.raises(ElevationError) as refused:
        weekly_options(garden_of(elevation_m=None), AS_OF)
    assert refused.value.code == "elevation.canner"


def test_without_a_canner_no_elevation_is_needed(garden_of):
    garden = garden_of(elevation_m=None, equipment=[{"kind": "freezer", "free_l": 50}])
    methods = set(weekly_options(garden, AS_OF)["method"])
    assert methods == {"freezing", "refrigerating"}


def test_only_crops_of_the_garden(garden_of):
    assert set(weekly_options(garden_of(crops=["okra"]), AS_OF)["crop"]) == {"okra"}


def test_cycle_of_a_canner():
    # 30 heat up + process + 5 rest (Univ. of Florida FCS8250) + 10 unload; under pressure 10 min of
    # venting and 10 of rest (AIB 539, from memory), 10 to come up and 40 to lose pressure.
    assert cycle_minutes("boiling_water", 10) == 55
    assert cycle_minutes("pressure", 25) == 135


def test_usual_and_stated_loads():
    # USDA AIB 539: 7 quarts or 9 pints (the published load tables use the same).
    water = Equipment(kind="boiling_water_canner")
    assert [canner_load([water], jar) for jar in ("half_pint", "pint", "quart")] == [12, 9, 7]
    small = Equipment(kind="boiling_water_canner", pints=4, quarts=0)
    assert canner_load([water, small], "pint") == 4
    assert canner_load([water, small], "quart") == 7
    assert canner_load([small], "quart") == 0


def test_loads_and_recipes(full):
    beans = full.loc["canned_snap_beans/quart/pressure_dial"]
    assert beans["jars_per_batch"] == 7 and beans["lids_per_batch"] == 7
    assert beans["kg_per_batch"] == pytest.approx(14 * LB)  # MSU 01600883
    assert beans["equipment_h"] == pytest.approx(135 / 60)
    dills = full.loc["dill_pickles/pint/boiling_water"]
    assert dills["jars_per_batch"] == 8 and dills["kg_per_batch"] == pytest.approx(8 * LB)
    rings = full.loc["pickled_pepper_rings/pint/boiling_water"]
    assert rings["jars_per_batch"] == 8  # two recipes of 4 pints (Univ. of Missouri) in one load


def test_a_small_canner_divides_pickle_recipes_but_not_jam(garden_of):
    small = [{"kind": "boiling_water_canner", "half_pints": 6, "pints": 4, "quarts": 3}]
    options = weekly_options(garden_of(equipment=small), AS_OF).set_index("option")
    dills = options.loc["dill_pickles/pint/boiling_water"]
    assert dills["jars_per_batch"] == 4 and dills["kg_per_batch"] == pytest.approx(4 * LB)
    jam = options.loc["strawberry_jam/half_pint/boiling_water"]
    assert jam["jars_per_batch"] == 9.5
    assert jam["equipment_h"] == pytest.approx(2 * cycle_minutes("boiling_water", 5) / 60)


def test_dryer_crock_and_freezer_loads(full):
    assert dryer_load_kg(Equipment(kind="dryer", trays=6, tray_area_m2=0.12)) == pytest.approx(
        0.72 * TRAY_KG_M2
    )
    squash = full.loc["dried_zucchini/pint_dry/drying"]
    assert squash["kg_per_batch"] == pytest.approx(0.72 * TRAY_KG_M2)
    assert (squash["equipment"], squash["equipment_h"]) == ("dryer", 12)
    crock = full.loc["fermented_dill_pickles/quart/fermenting"]
    assert crock["kg_per_batch"] == pytest.approx(4 * LB)  # AIB 539: 4 lb a gallon
    assert crock["equipment_h"] == 21 * 24  # 3 weeks at 70 to 75 F
    bags = full.loc["frozen_snap_beans/pint_bag/freezing"]
    assert bags["freezer_l_per_batch"] == pytest.approx(8 * 0.6) and bags["lids_per_batch"] == 0


def test_oversize_and_age(full):
    oversize = full.groupby("product")["takes_oversize"].first()
    assert not oversize["dill_pickles"] and oversize["cucumber_relish"]
    assert not oversize["frozen_zucchini"] and oversize["frozen_grated_zucchini"]
    # Rule pickling_delay: later than 24 h after the pick gives poor pickles.
    assert full.loc["dill_pickles/pint/boiling_water", "max_age_days"] == 1


def test_the_households_own_factors_are_applied_once(garden_of):
    promised = 8 * LB  # 8 pints of dill pickles
    rows = [
        (f"2026-07-{day:02d}", "dill pickles", "pint", 6, promised, 4.5) for day in range(1, 25)
    ]
    options = weekly_options(garden_of(pantry=rows), AS_OF).set_index("option")
    dills = options.loc["dill_pickles/pint/boiling_water"]
    # 24 batches all filled 6 of 8 jars: the factor comes close to 0.75.
    assert dills["jars_per_batch"] == pytest.approx(6, abs=0.4)
    assert dills["kg_per_batch"] == pytest.approx(promised)
    handbook_hours = 1.2 + 0.15 * promised
    assert dills["hands_on_h"] == pytest.approx(4.5, rel=0.15)
    assert dills["hands_on_h"] > 2 * handbook_hours
    # A full canner load takes more produce where jars come out short.
    beans = options.loc["canned_snap_beans/quart/pressure_dial"]
    assert beans["jars_per_batch"] == 7 and beans["kg_per_batch"] > 14 * LB


def test_rows_after_as_of_change_nothing(garden_of):
    rows = [("2026-08-15", "dill pickles", "pint", 3, 8 * LB, 9.0)]
    before = weekly_options(garden_of(), AS_OF)
    pd.testing.assert_frame_equal(weekly_options(garden_of(pantry=rows), AS_OF), before)


BOTH_GAUGES = [
    {"kind": "pressure_canner", "gauge": "dial", "pints": 8},
    {"kind": "pressure_canner", "gauge": "weighted", "pints": 16},
]


def test_each_pressure_canner_has_its_own_options(garden_of):
    options = weekly_options(garden_of(equipment=BOTH_GAUGES), AS_OF).set_index("option")
    for gauge, psi, jars in (("dial", 11, 8), ("weighted", 10, 16)):
        beans = options.loc[f"canned_snap_beans/pint/pressure_{gauge}"]
        assert (beans["process_min"], beans["pressure_psi"]) == (20, psi)
        assert beans["equipment"] == f"{gauge}_gauge_pressure_canner"
        assert beans["jars_per_batch"] == jars


def test_no_pressure_option_is_without_a_pressure_at_any_elevation(garden_of):
    for feet in (0, 1000, 1001, 2001, 4001, 6001, 8000, 8001, 10000):
        options = weekly_options(garden_of(equipment=BOTH_GAUGES, elevation_m=feet * FT), AS_OF)
        pressed = options[options["method"] == "pressure"]
        assert len(pressed) and pressed["pressure_psi"].notna().all()
        # The dial tables end at 8,000 ft (USDA AIB 539); the weighted ones do not.
        dial = pressed["equipment"] == "dial_gauge_pressure_canner"
        assert dial.any() == (feet <= 8000) and not dial.all()


def test_a_canner_without_a_row_at_its_elevation_is_said(garden_of):
    high = garden_of(equipment=BOTH_GAUGES, elevation_m=9000 * FT, crops=["snap bean"])
    reasons = left_out_options(high, AS_OF).set_index("product")["reason"]
    assert reasons["canned_snap_beans"].str.startswith("dial gauge: ").all()
    said = vessel_notices(high.household)
    assert list(said["value"]) == ["dial"] and "9,000 ft" in said["odd"][0]
    assert not len(vessel_notices(garden_of(equipment=BOTH_GAUGES).household))


def test_dried_meat_gives_weight_room_and_the_safety_step(garden_of):
    found = dried_meat(garden_of().household)
    # USDA FSIS 4 to 1, Colorado State 9.311 5 lb to 2 lb (both from memory): kept as a range.
    assert (found.fresh_per_dried_low, found.fresh_per_dried_high) == (2.5, 4.0)
    assert found.load_kg == pytest.approx(0.72 * TRAY_KG_M2)
    assert found.hours == 14  # Univ. of Wyoming Extension: 10 to 14 h at 145 F
    assert "160 F" in found.safety and "165 F" in found.safety
    assert math.isnan(dried_meat(Household()).load_kg)
    assert "dried_meat" not in set(weekly_options(garden_of(), AS_OF)["product"])


def test_options_are_the_same_every_time_and_picklable(garden_of, full):
    again = weekly_options(garden_of(), AS_OF)
    pd.testing.assert_frame_equal(again, full.reset_index(drop=True))
    pd.testing.assert_frame_equal(pickle.loads(pickle.dumps(again)), again)


def test_every_crop_of_the_real_log_is_put_up_or_eaten(tmp_path):
    garden = open_garden(garden_folder_from_real_log(tmp_path / "garden"))
    grown = sorted(set(garden.picks["crop"]))
    options = weekly_options(garden)
    fresh = fresh_use(garden, grown)
    assert len(fresh) == len(grown) > 15
    assert {"tomato", "snap bean", "zucchini", "beet", "carrot"} <= set(options["crop"])
    assert wanted_jars(garden, garden.last_day)["wanted_jars"].sum() > 0
    assert {"freezing", "boiling_water"} <= set(options.loc[options["crop"] == "tomato", "method"])


def test_the_sample_garden_has_ways_for_its_targets(sample_folder):
    garden = open_garden(sample_folder)
    options = weekly_options(garden, garden.last_day)
    wanted = wanted_jars(garden, garden.last_day)
    short = wanted.loc[wanted["wanted_jars"] > 0, "product"]
    without = set(short) - set(options["product"])
    assert without == set(short) & set(left_out_options(garden)["product"])
