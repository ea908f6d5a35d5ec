"""Where most picks name no variety, all of them are shared by all plants of the crop."""

from dataclasses import replace

import numpy as np
import pytest

from harvestcast.records.garden import Garden
from harvestcast.season.next.plan import plan_next_season
from harvestcast.season.review.varieties import compare_varieties
from harvestcast.season.yields.plantings import UNNAMED, mostly_unnamed, units_of
from tests.season.gardens import bell, garden, picks, plantings


def _zucchini(share: float) -> Garden:
    """Four plants of two varieties bear 40 kg; one pick in so many names its variety."""
    planted = plantings(
        [
            ("zucchini", "Ford", "east", "2026-05-15", "set_out", 2),
            ("zucchini", "Brook", "east", "2026-05-15", "set_out", 2),
        ]
    )
    found = bell("2026-07-01", 60, 40.0)
    named = np.arange(len(found)) < share * len(found)
    rows = [
        (day, "zucchini", "Ford" if own else UNNAMED, kg, np.nan, "good", "east")
        for (day, kg), own in zip(found, named, strict=True)
    ]
    return garden(planted, picks(rows))


def test_few_names_are_counted_with_the_crop() -> None:
    few = _zucchini(0.1)
    assert mostly_unnamed(few) == {("zucchini", 2026)}
    (unit,) = units_of(few, 2026)
    assert (unit.variety, unit.plants) == (UNNAMED, 4.0)
    assert unit.mass.sum() == pytest.approx(40.0)
    review = compare_varieties(few, year=2026, draws=100)
    assert "review.mostly_unnamed" in [line.code for line in review.lines]


def test_many_names_are_the_varieties_own() -> None:
    many = _zucchini(0.8)
    assert not mostly_unnamed(many)
    assert {unit.variety for unit in units_of(many, 2026)} >= {"Ford"}
    review = compare_varieties(many, year=2026, draws=100)
    assert "review.mostly_unnamed" not in [line.code for line in review.lines]


def test_an_unnamed_planting_keeps_its_picks() -> None:
    few = _zucchini(0.1)
    beds = few.plantings
    beds.loc[1, "variety"] = UNNAMED
    assert not mostly_unnamed(replace(few, plantings=beds))


def test_the_next_plan_plants_such_a_crop() -> None:
    """The crop's own yield stands in for what is not known of its varieties."""
    plan = plan_next_season(_zucchini(0.1), year=2027, futures=10)
    assert 1 <= plan.beds.loc[plan.beds["crop"] == "zucchini", "plants"].sum() <= 12
