"""Which sowing can have borne a pick."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.crops.almanac import crop_facts, crops
from harvestcast.growth.log.sowings import STANDING_DAYS, Sowing, can_bear


def bears(crop: str, sowings: list[Sowing], day: int, heat: list[float], bed: str | None = None):
    """Return the places of the sowings that can have borne a pick on a day."""
    can = can_bear(sowings, crop_facts(crop), np.array([day]), np.array([heat]), [bed])
    return np.flatnonzero(can[0]).tolist()


def sown(day: int | None, bed: str | None = None, removed: int | None = None) -> Sowing:
    return Sowing(day, removed, "sown", bed)


def test_never_a_sowing_after_the_pick() -> None:
    assert bears("kale", [sown(100), sown(465)], 320, [1900.0, 0.0]) == [0]
    assert bears("kale", [sown(465)], 320, [0.0]) == []


def test_the_bed_decides_where_it_is_written() -> None:
    two = [sown(100, "north"), sown(120, "south")]
    assert bears("snap bean", two, 190, [600.0, 560.0]) == [0, 1]
    assert bears("snap bean", two, 190, [600.0, 560.0], "south") == [1]
    assert bears("snap bean", two, 190, [600.0, 560.0], "elsewhere") == [0, 1]
    # The bed was sown later: it tells nothing.
    assert bears("snap bean", two, 110, [100.0, 0.0], "south") == [0]


def test_too_young_and_too_old_sowings_bear_nothing_while_another_can() -> None:
    beans = [sown(100), sown(180)]
    assert bears("snap bean", beans, 190, [700.0, 60.0]) == [0]
    usual, picking = crop_facts("snap bean").dd_to_first_pick, crop_facts("snap bean").dd_picking
    assert bears("snap bean", beans, 300, [2.1 * (usual + picking), usual]) == [1]
    assert bears("kale", [sown(0), sown(300)], STANDING_DAYS + 50, [3000.0, 900.0]) == [1]


def test_what_was_pulled_out_bears_no_more() -> None:
    assert bears("kale", [sown(100, removed=250), sown(120)], 300, [1500.0, 1400.0]) == [1]
    # Of a log that says otherwise, the pick is kept with the only planting there is.
    assert bears("kale", [sown(100, removed=250)], 300, [1500.0]) == [0]


def test_an_undated_planting_bears_where_no_dated_one_can() -> None:
    assert bears("tomato", [sown(None), sown(100)], 200, [0.0, 900.0]) == [1]
    assert bears("tomato", [sown(None), sown(300)], 200, [0.0, 0.0]) == [0]


def test_garlic_is_not_of_the_cloves_set_after_its_harvest() -> None:
    assert bears("garlic", [sown(100), sown(395)], 400, [4000.0, 60.0]) == [0]


@pytest.mark.parametrize("crop", crops())
def test_a_perennial_bears_year_after_year_and_others_a_year_at_most(crop: str) -> None:
    old = [Sowing(0, None, "set_out", None)]
    later = 900
    assert bears(crop, old, later, [9000.0]) == ([0] if crop_facts(crop).perennial else [])
    day = int(pd.Timestamp("1970-07-01").day_of_year)
    assert bears(crop, old, day, [crop_facts(crop).dd_to_first_pick]) == [0]
