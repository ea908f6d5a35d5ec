"""A pick that cannot be meant does not take the variety out of the forecast."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.forecast import forecast
from harvestcast.growth.log.doubt import doubted_days
from harvestcast.growth.log.series import gather
from tests.simulated import as_garden, simulate_garden

BEAN = crop_facts("snap bean")


@pytest.mark.parametrize("factor", [1000.0, 1e6])
def test_a_slipped_unit_is_left_out_and_said(factor):
    garden = as_garden(simulate_garden(3, crops=("tomato",), years=(2026,), truth=False))
    day = pd.Timestamp("2026-08-20")
    picks = garden.picks
    weighed = picks[(picks["mass_kg"] > 0.5) & (picks["date"] < day - pd.Timedelta(days=3))]
    slip = weighed.index[len(weighed) // 2]
    key = weighed.loc[slip, ["crop", "variety"]]
    wrong = picks.copy()
    wrong.loc[slip, "mass_kg"] = wrong.loc[slip, "mass_kg"] * factor
    wrong.loc[slip, "count"] = np.nan
    made = forecast(replace(garden, picks=wrong), as_of=day, weeks=1, draws=200)
    usual = forecast(garden, as_of=day, weeks=1, draws=200)
    mine = list(made.keys).index((key["crop"], key["variety"]))
    before = usual.mass_kg[:, :, mine].sum(axis=1).mean()
    assert 0.5 * before < made.mass_kg[:, :, mine].sum(axis=1).mean() < 2.0 * before
    said = made.checks.query("code == 'picks.doubted'")
    assert list(said["variety"]) == [key["variety"]] and not said["passed"].any()
    assert usual.checks.query("code == 'picks.doubted'").empty


def test_a_day_weighed_in_part_and_counted_in_part_is_a_pick():
    garden = as_garden(simulate_garden(3, crops=("tomato",), years=(2026,), truth=False))
    day = pd.Timestamp("2026-08-20")
    row = garden.picks.iloc[[0]].assign(date=day)
    weighed, counted = row.assign(mass_kg=1.4, count=np.nan), row.assign(mass_kg=np.nan, count=5.0)
    unknown = row.assign(mass_kg=np.nan, count=np.nan)

    def picked(*rows):
        others = garden.picks[garden.picks["date"] < day]
        own = gather(replace(garden, picks=pd.concat([others, *rows])), day).series
        (one,) = [s for s in own if s.variety == row["variety"].iloc[0]]
        return one.mass[-1], one.fruit_kg

    mass, fruit = picked(weighed, counted)
    assert mass == pytest.approx(1.4 + 5 * fruit)
    assert np.isnan(picked(weighed, counted, unknown)[0])


def test_a_glut_after_handfuls_is_believed():
    handfuls_then_glut = np.array([0.05, 0.1, np.nan, 0.2, 9.0, 11.0])
    assert not doubted_days(handfuls_then_glut, BEAN, 40.0).any()


def test_one_harvest_of_all_is_believed():
    mass = np.full(200, np.nan)
    mass[150] = 3.0 * crop_facts("potato").yield_kg_per_plant[1] * 20
    assert not doubted_days(mass, crop_facts("potato"), 20.0).any()


def test_without_plants_only_what_no_household_picks_is_doubted():
    mass = np.array([1.0, 2.0, 45.0, 1.5, np.nan])
    assert not doubted_days(mass, BEAN, np.nan).any()
    mass[4] = 900.0
    assert doubted_days(mass, BEAN, np.nan).tolist() == [False] * 4 + [True]
