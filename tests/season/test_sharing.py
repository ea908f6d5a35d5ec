"""Beds too small for every target: against brute force, and no crop left out for being dear."""

from dataclasses import replace
from functools import cache
from itertools import product

import numpy as np

from harvestcast.season.next.search import (
    PARTS,
    area_taken,
    outcome,
    share_beds,
    want,
    without_crumbs,
)
from harvestcast.season.next.steps import Layout, lay_out
from harvestcast.season.next.why import bed_by_crop, comments, shortage_lines
from tests.season.synthetic import Invented, invented

FREE = np.full(7, 1e9)
"""Usual needs so large that plants cost nothing beside them: four products, three crops."""


@cache
def _free() -> tuple[Invented, np.ndarray, np.ndarray, Layout]:
    """A case whose third crop takes four times the bed, and its layout without a limit."""
    case = invented(5, crops=3, varieties=5, dates=2, products=4, hours=40.0)
    dear = case.choices.crop == 2
    area = np.where(dear, 4.0, 1.0) * case.choices.area_m2
    case = replace(case, choices=replace(case.choices, area_m2=area))
    plan, trial = case.draw(30, 61), case.draw(120, 62)
    free = lay_out(plan, trial, case.kitchen, case.choices, case.goals)
    return case, plan, trial, free


def _dear(share: float) -> tuple[Invented, np.ndarray, np.ndarray, Layout]:
    """The case with a share of the bed that is needed."""
    case, plan, trial, free = _free()
    room = share * float(area_taken(free.plants, case.choices).max())
    return replace(case, choices=replace(case.choices, bed_m2=room)), plan, trial, free


def test_the_parts_kept_are_the_best_of_all() -> None:
    """Every combination of coarse parts, valued crop by crop, is no better than what is chosen."""
    case, _, trial, free = _dear(0.6)
    shared = share_beds(free.plants, trial, case.kitchen, case.choices, case.goals, 0.9, FREE)
    of_crop = case.kitchen.target_crops
    taken = area_taken(shared, case.choices).max()
    assert 0.85 * case.choices.bed_m2 < taken <= case.choices.bed_m2 + 1e-9

    def value(plants: np.ndarray) -> float:
        return float(
            want(outcome(trial, plants, case.kitchen, case.choices, case.goals), 0.9).sum()
        )

    coarse = PARTS[::5]
    crops = len(case.kitchen.crops)
    assert set(of_crop) == set(range(crops))
    found = [
        value(plants)
        for parts in product(coarse, repeat=crops)
        for plants in [np.floor(np.array(parts)[case.choices.crop] * free.plants + 1e-9)]
        if area_taken(plants, case.choices).max() <= case.choices.bed_m2
    ]
    # Hours that one crop leaves to another are the only thing the choice does not see.
    assert value(shared) <= min(found) + 0.02


def test_a_dear_crop_is_cut_short_rather_than_left_out() -> None:
    """A search that counts targets met gave this third crop no bed at all."""
    case, plan, trial, _ = _dear(0.3)
    done = lay_out(plan, trial, case.kitchen, case.choices, case.goals)
    assert not done.reached and done.unlimited is not None
    assert area_taken(done.plants, case.choices).max() <= case.choices.bed_m2 + 1e-9
    assert (bed_by_crop(done.plants, case.choices, 3) > 0).all()
    mine = outcome(trial, done.plants, case.kitchen, case.choices, case.goals)
    fresh = mine.short[:, len(case.kitchen.products) :]
    assert (fresh.mean(axis=0) < 0.75).all()
    lines = shortage_lines(
        done.plants, done.unlimited, case.kitchen, case.choices, mine, 0.9, "metric"
    )
    assert [line.code for line in lines] == ["beds.short", "beds.mend"]
    assert "crop 2" in [crop for crop, _, _ in lines[0].facts["gave"]]
    assert lines[0].facts["there"] == case.choices.bed_m2 and lines[1].facts["lower"]
    place = int(np.nanargmin(mine.reliability))
    said = comments(
        {place: ("limit.bed",)}, done.plants, done.unlimited, case.kitchen, case.choices, "us"
    )
    assert said[place].code == "target.falls_short" and said[place].facts["more_m2"] > 0


def test_a_planting_of_two_in_a_hundred_is_not_worth_its_trouble() -> None:
    choices = replace(_free()[0].choices, crop=np.array([0, 0, 0, 1]), low=np.array([0.0, 0, 1, 0]))
    plants = without_crumbs(np.array([98.0, 2, 1, 5]), choices)
    assert plants.tolist() == [98.0, 0.0, 1.0, 5.0]


def test_beds_that_hold_everything_are_not_shared() -> None:
    case, _, trial, free = _dear(1.0)
    assert free.reached and free.unlimited is None
    shared = share_beds(free.plants, trial, case.kitchen, case.choices, case.goals, 0.9, FREE)
    assert (shared == free.plants).all()


def test_wants_are_none_where_met_and_grow_with_what_is_missing() -> None:
    case, _, trial, free = _dear(1.3)
    wants = [
        want(outcome(trial, part * free.plants, case.kitchen, case.choices, case.goals), 0.9)
        for part in (1.0, 0.5, 0.0)
    ]
    assert (wants[0] < 0.05).all()
    assert (wants[1] <= wants[2] + 1e-9).all()
    goal = np.concatenate([case.kitchen.need, case.goals.fresh_kg])
    assert np.allclose(wants[2][goal > 0], 0.9 + 3.0)
