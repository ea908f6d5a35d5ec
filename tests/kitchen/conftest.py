"""A small invented kitchen for the tests of this room."""

import pandas as pd
import pytest

from harvestcast import frames
from harvestcast.records.garden import Garden
from harvestcast.records.household import Household

FULL_KITCHEN = (
    {"kind": "boiling_water_canner"},
    {"kind": "pressure_canner", "gauge": "dial"},
    {"kind": "dryer", "trays": 6, "tray_area_m2": 0.12},
    {"kind": "freezer", "free_l": 80},
    {"kind": "crock", "free_l": 3.785411784},
    {"kind": "refrigerator", "free_l": 100},
    {"kind": "cool_store", "free_l": 500},
)
"""Invented: one of everything; the crock holds a gallon."""


def make_garden(*, pantry=(), crops=(), equipment=FULL_KITCHEN, elevation_m=300.0, **settings):
    """Return a garden of frames; ``pantry`` rows are date, product, jar, change, kg, hours."""
    home = Household(elevation_m=elevation_m, equipment=equipment, **settings)
    book = frames.PANTRY.empty()
    if pantry:
        names = ["date", "product", "jar", "change", "produce_kg", "hours"]
        book = pd.DataFrame(list(pantry), columns=names)
        book["date"] = pd.to_datetime(book["date"])
        book = frames.check_frame(
            book.assign(what=None, note=None, file=None, line=None), frames.PANTRY
        )
    plantings = frames.PLANTINGS.empty()
    if crops:
        plantings = frames.check_frame(
            pd.DataFrame({"crop": list(crops)}).assign(
                variety="unnamed", bed=None, date=pd.NaT, how="sown", plants=10.0, row_m=None,
                area_m2=None, removed=pd.NaT, cover=None, note=None, file=None, line=None,
            ),
            frames.PLANTINGS,
        )  # fmt: skip
    return Garden(
        folder=None,
        household=home,
        picks=frames.PICKS.empty(),
        plantings=plantings,
        weather=frames.WEATHER.empty(),
        pantry=book,
        notices=frames.NOTICES.empty(),
    )


@pytest.fixture(scope="session")
def garden_of():
    """Return the maker of invented gardens."""
    return make_garden
