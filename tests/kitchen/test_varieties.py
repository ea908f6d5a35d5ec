"""A variety that is known as another crop gets no canning time until somebody has said which."""

import pandas as pd
import pytest

from harvestcast import frames
from harvestcast.kitchen.handbook.products import match_product, products_of
from harvestcast.kitchen.household.varieties import doubts, other_crop, variety_notices
from harvestcast.kitchen.week.options import left_out_options, weekly_options
from harvestcast.records.household import Household
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.report.check import odd_things


def _picked(garden_of, crop, variety, **settings):
    garden = garden_of(crops=[crop], **settings)
    planted = garden.plantings.assign(variety=variety, file="plantings.csv", line=4)
    return type(garden)(
        folder=None, household=garden.household, picks=garden.picks,
        plantings=frames.check_frame(planted, frames.PLANTINGS), weather=garden.weather,
        pantry=garden.pantry, notices=garden.notices,
    )  # fmt: skip


@pytest.mark.parametrize(
    "crop, variety, other",
    [
        ("pea", "green beans", "snap bean"),
        ("snap bean", "Fordhook Lima", "lima bean"),
        ("snap bean", "Fordhook 242 lima beans", "lima bean"),
        ("tomato", "Golden Bantam corn", "sweet corn"),
        ("snap bean", "Mississippi Purple Hull", "southern pea"),
        ("peach", "White Lady", "white-fleshed peach"),
        # The crop's own names, and fruits that varieties are named after for shape.
        ("snap bean", "Dragon Tongue Bean", None),
        ("cucumber", "Lemon cucumber", None),
        ("tomato", "Yellow Pear", None),
        ("tomato", "Red Cherry Tomato", None),
        ("tomato", "Marsh Bishop", None),
        ("summer squash", "Black Beauty zucchini", None),
        # A word behind a name; with the crop's own word, or alone, it is asked about.
        ("cucumber", "Signal Rocket", None),
        ("cucumber", "Signal Bell", "sweet pepper"),
        ("tomato", "Red Slicer", None),
        ("tomato", "Signal Bell Pepper", "sweet pepper"),
        ("tomato", "Bell", "sweet pepper"),
        # Never canned: no time could be the wrong one.
        ("lettuce", "green beans", None),
    ],
)
def test_names_that_are_another_crops(crop, variety, other):
    assert other_crop(crop, variety, Household()) == other


def test_no_canning_time_for_it_until_it_is_settled(garden_of):
    garden = _picked(garden_of, "snap bean", "Fordhook Lima")
    assert not weekly_options(garden)["process_min"].notna().any()
    assert "frozen_snap_beans" in set(weekly_options(garden)["product"])
    left = left_out_options(garden).set_index("product")["reason"]
    assert {"canned_snap_beans"} <= set(left.index)
    (said,) = variety_notices(garden).to_dict("records")
    assert (said["file"], said["line"], said["column"]) == ("plantings.csv", 4, "variety")
    assert said["code"] == "variety.other_crop" and said["value"] == "Fordhook Lima"
    assert "variety.other_crop" in set(odd_things(garden)["code"].dropna())


def test_an_alias_settles_it():
    home = Household(crops={"snap bean": {"aliases": ["Fordhook Lima"]}})
    assert other_crop("snap bean", "Fordhook Lima", home) is None


def test_sound_names_raise_no_question(garden_of):
    garden = _picked(garden_of, "snap bean", "Patterwick")
    assert doubts(garden) == () and variety_notices(garden).empty
    assert weekly_options(garden)["process_min"].notna().any()
    assert isinstance(variety_notices(garden), pd.DataFrame)


def test_spaghetti_squash_and_banana_peppers_are_crops_of_their_own(garden_of):
    # AIB 539 (2015), p. 4-18: no spaghetti squash in cubes; p. 6-24: yellow pepper rings.
    assert canonical_crop("Spaghetti Squash") == "spaghetti squash"
    assert canonical_crop("banana peppers") == "banana pepper"
    crops = ["spaghetti squash", "banana pepper"]
    found = weekly_options(garden_of(crops=crops), all_of=crops)
    squash = found[found["crop"] == "spaghetti squash"]
    assert set(squash["method"]) == {"keeping"} and squash["process_min"].isna().all()
    rings = found.set_index("option").loc["pickled_pepper_rings/pint/boiling_water"]
    assert rings["crop"] == "banana pepper" and rings["process_min"] == 10
    # Typed as a variety of what may be canned, it is asked about, and nothing is canned.
    home = Household()
    assert other_crop("winter squash", "Spaghetti", home) == "spaghetti squash"
    assert match_product("canned spaghetti squash") is None
    assert not any(item.canned for item in products_of("spaghetti squash"))
