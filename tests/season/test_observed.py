"""What one planting shows: few fruits and unweighed ones leave much to luck."""

import numpy as np
import pandas as pd
import pytest

from harvestcast.frames.season_tables import MEASURES
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.season.review.tables import best_table, told_apart_table
from harvestcast.season.review.varieties import compare_varieties
from harvestcast.season.yields.learned import CropDraws
from harvestcast.season.yields.measures import shaken, week_noise
from harvestcast.season.yields.observed import chance_of_none, share_of_crop
from harvestcast.season.yields.plantings import units_of
from tests.season.gardens import bell, garden, picks, plantings
from tests.season.repeated import repeated_season


@pytest.mark.parametrize("fruits", [2.0, 8.0, 50.0])
def test_the_number_of_fruits_is_drawn_as_a_poisson_number(fruits: float) -> None:
    """A Poisson number of mean n has variance n: relative variance 1/n (any textbook)."""
    drawn = shaken(np.ones(40), noise_sd=0.0, draws=4000, rng=np.random.default_rng(1),
                   fruits=np.full(40, fruits))  # fmt: skip
    assert drawn.mean() == pytest.approx(1.0, abs=0.01)
    assert drawn.var() == pytest.approx(1 / fruits, rel=0.05)


def test_the_luck_of_numbers_is_no_noise_of_the_weeks() -> None:
    """Weeks that differ by the Poisson luck of some twenty fruits alone: nothing else is left."""
    rng = np.random.default_rng(2)
    number = rng.poisson(3.0, size=(60, 7 * 25)).astype(float)
    with_luck = np.mean([week_noise(one)[0] for one in number])
    without = np.mean([week_noise(one, fruits=one)[0] for one in number])
    assert with_luck > 0.05
    assert without < 0.35 * with_luck


def _tomatoes(weighed: bool) -> pd.Series:
    planted = plantings([("tomato", name, "n", "2026-05-15", "set_out", 6) for name in "AB"])
    rows = [
        (day, "tomato", name, kg if weighed else np.nan, np.ceil(kg / 0.17))
        for name in "AB"
        for day, kg in bell("2026-07-20", 70, 25.0)
    ]
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=600)
    table = review.measures.query("measure == 'kg_per_plant'").set_index("variety")
    return np.log(table["q95"] / table["q05"])


def test_kilograms_of_fruit_that_was_never_weighed_are_known_poorly() -> None:
    """The almanac's tomatoes weigh 68 to 454 g: counts alone do not tell the kilograms."""
    assert _tomatoes(weighed=False)["A"] > 1.4 * _tomatoes(weighed=True)["A"]


def test_an_oversize_fruit_counts_for_more_than_a_good_one() -> None:
    planted = plantings([("zucchini", "A", "n", "2026-05-15", "sown", 3)])
    rows = [(day, "zucchini", "A", np.nan, 4.0, grade) for grade in ("good", "oversize")
            for day in pd.date_range("2026-07-05", periods=10, freq="3D")]  # fmt: skip
    unit = units_of(garden(planted, picks(rows)), 2026)[0]
    assert unit.graded[1].sum() == pytest.approx(2 * unit.graded[0].sum())
    assert share_of_crop([unit])[0] == pytest.approx(2 / 3)
    # Weighed ones take the place of the rule: here three times a good one.
    weighed = [(day, "zucchini", "A", 0.2 * 50 * part, 50.0, grade)
               for grade, part in (("good", 1.0), ("oversize", 3.0))
               for day in pd.date_range("2026-08-05", periods=10, freq="3D")]  # fmt: skip
    more = units_of(garden(planted, picks([*rows, *weighed])), 2026)[0]
    days = more.dates < pd.Timestamp("2026-08-01")
    assert more.graded[1][days].sum() == pytest.approx(3 * more.graded[0][days].sum(), rel=0.05)


def test_a_zero_that_was_written_down_is_no_count_of_a_weighed_crop() -> None:
    planted = plantings([("snap bean", "A", "n", "2026-05-15", "sown", 60)])
    rows = [(day, "snap bean", "A", kg) for day, kg in bell("2026-07-10", 30, 9.0)]
    rows += [(day, "snap bean", "A", 0.0, 0.0) for day in pd.date_range("2026-08-10", periods=20)]
    unit = units_of(garden(planted, picks(rows)), 2026)[0]
    assert not unit.counted
    assert unit.mass.sum() == pytest.approx(9.0)


def test_a_crop_that_does_not_grow_too_big_may_have_a_share_of_none() -> None:
    tomato, zucchini = crop_facts("tomato"), crop_facts("zucchini")
    assert tomato.oversize_share == 0 < zucchini.oversize_share
    assert chance_of_none(tomato, 1) >= 0.9 > chance_of_none(zucchini, 1)
    assert chance_of_none(zucchini, 60) > chance_of_none(zucchini, 5)
    planted = plantings([("tomato", name, "n", "2026-05-15", "set_out", 6) for name in "AB"])
    rows = [(day, "tomato", name, kg, np.ceil(6 * kg)) for name in "AB"
            for day, kg in bell("2026-07-20", 70, 25.0)]  # fmt: skip
    rows += [("2026-08-20", "tomato", "A", 0.5, 3.0, "damaged")]
    review = compare_varieties(garden(planted, picks(rows)), year=2026, draws=600)
    share = review.measures.query("measure == 'oversize_share'")
    assert (share["estimate"] == 0).all() and (share["q05"] == 0).all()
    # None of either: neither is the better one.
    best = review.best.query("measure == 'oversize_share'")["probability_best"]
    assert best.tolist() == pytest.approx([0.5, 0.5], abs=0.06)


def test_equals_share_the_first_place() -> None:
    draws = {"oversize_share": np.array([[0.0, 0.0, 0.1], [0.2, 0.3, 0.1]])}
    missing = np.full((2, 3), np.nan)
    crop = CropDraws(
        crop="tomato", varieties=("A", "B", "C"), effective={}, again={},
        expected={name: draws.get(name, missing) for name in MEASURES},
    )  # fmt: skip
    best = best_table(crop).query("measure == 'oversize_share'").set_index("variety")
    assert best["probability_best"].to_dict() == {"A": 0.25, "B": 0.25, "C": 0.5}
    pair = told_apart_table(crop).query("variety == 'A' and other == 'B'").iloc[0]
    assert pair["probability_better"] == 0.75  # equal in one draw, better in the other


def test_a_season_grown_over_and_over_has_the_truth_of_its_varieties() -> None:
    """No more fruit than flowers, and not next to none; the same seed gives the same log."""
    one = repeated_season(3, crops=("tomato", "snap bean"), varieties=3, copies=12)
    same = repeated_season(3, crops=("tomato", "snap bean"), varieties=3, copies=12)
    pd.testing.assert_frame_equal(one.truth, same.truth)
    pd.testing.assert_frame_equal(one.garden.picks, same.garden.picks)
    count = one.truth.query("measure == 'count_per_plant'").set_index(["crop", "variety"])["truth"]
    flowers = one.kinds.set_index(["crop", "variety"])["fruits"]
    for crop in ("tomato", "snap bean"):
        both = pd.concat([count[crop], flowers[crop]], axis=1)
        assert (both["truth"] < both["fruits"]).all()
        assert (both["truth"] > 0.1 * both["fruits"]).all()
