"""Plantings under cover in a season's review: no frost parts them from what they bore."""

import pandas as pd

from harvestcast.season.yields.plantings import made_for, units_of
from tests.season import gardens

PLANTED = gardens.plantings(
    [
        ("tomato", "Bell", "a", "2025-10-01", "set_out", 5),
        ("tomato", "Bell", "b", "2026-05-15", "set_out", 5),
    ]
)
PICKED = gardens.picks(
    [(day, "tomato", "Bell", kg) for day, kg in gardens.bell("2026-07-20", 60, 9.0)]
)


def _covered(*cover: str | None) -> pd.DataFrame:
    return PLANTED.assign(cover=pd.Series(cover, dtype="string"))


def test_what_is_set_out_late_under_cover_is_made_for_the_next_season() -> None:
    """In the open the winter kills it; under cover it bears in the next summer."""
    out = gardens.garden(PLANTED, PICKED)
    assert made_for(out, PLANTED).tolist() == [2025, 2026]
    planted = _covered("glass", None)
    assert made_for(gardens.garden(planted, PICKED), planted).tolist() == [2026, 2026]


def test_a_covered_planting_has_the_heat_of_its_house() -> None:
    heat = []
    for cover in (None, "glass"):
        planted = _covered(cover, cover).iloc[1:].reset_index(drop=True)
        (unit,) = units_of(gardens.garden(planted, PICKED), 2026)
        assert unit.covered == (cover is not None)
        heat.append(unit.heat[-1])
    assert heat[1] > 1.1 * heat[0]
