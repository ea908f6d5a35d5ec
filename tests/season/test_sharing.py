"""Beds too small for every target: no crop is left out for being dear."""

from dataclasses import replace
from functools import cache

import numpy as np

from harvestcast.season.next.search import area_taken, outcome
from harvestcast.season.next.steps import Layout, lay_out
from harvestcast.season.next.why import bed_by_crop, comments, remedies, shortage_lines
from tests.season.synthetic import Invented, invented


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


def test_a_dear_crop_is_cut_short_rather_than_left_out() -> None:
    """A search that counts targets met gave this third crop no bed at all."""
    case, plan, trial, _ = _dear(0.3)
    done = lay_out(plan, trial, case.kitchen, case.choices, case.goals)
    assert done.unlimited is not None
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
    given = (trial, done.plants, case.kitchen, case.choices, case.goals, mine)
    help_of = remedies([place], *given, 0.9)
    said = comments(
        {place: ("limit.bed",)}, done.plants, done.unlimited, case.kitchen, case.choices, "us",
        help_of,
    )  # fmt: skip
    assert said[place].code == "target.falls_short" and said[place].facts["more_m2"] > 0


def test_beds_that_hold_everything_are_not_short() -> None:
    case, plan, trial, free = _dear(1.1)
    assert free.unlimited is None and free.a_square_metre == 0.0
    done = lay_out(plan, trial, case.kitchen, case.choices, case.goals)
    mine = outcome(trial, done.plants, case.kitchen, case.choices, case.goals)
    assert (
        mine.worth
        >= 0.999 * outcome(trial, free.plants, case.kitchen, case.choices, case.goals).worth
    )
    assert (
        shortage_lines(done.plants, done.unlimited, case.kitchen, case.choices, mine, 0.9, "metric")
        == []
    )


def test_less_room_brings_less_and_every_metre_of_it_more() -> None:
    worths, marginal = [], []
    for share in (0.3, 0.6, 0.9):
        case, plan, trial, _ = _dear(share)
        done = lay_out(plan, trial, case.kitchen, case.choices, case.goals)
        assert area_taken(done.plants, case.choices).max() > 0.9 * case.choices.bed_m2
        given = (case.kitchen, case.choices, case.goals)
        worths.append(outcome(trial, done.plants, *given).worth)
        marginal.append(done.a_square_metre)
    assert worths == sorted(worths)
    assert marginal == sorted(marginal, reverse=True) and marginal[0] > marginal[2]


def test_what_would_help_is_tried_and_said() -> None:
    case, _, trial, free = _dear(1.1)
    few = np.ceil(0.8 * free.plants)
    given = (case.kitchen, case.choices, case.goals)
    mine = outcome(trial, few, *given)
    products = len(case.kitchen.products)
    short = np.flatnonzero(mine.reliability[:products] < 0.88).tolist()
    assert short
    for target, remedy in remedies(short, trial, few, *given, mine, 0.9).items():
        assert remedy.plants > 0 and remedy.area_m2 > 0
        # So many more do meet it.
        crop = case.choices.crop == case.kitchen.target_crops[target]
        factor = 1.0 + remedy.plants / few[crop].sum()
        more = outcome(trial, np.where(crop, factor * few, few), *given)
        assert more.reliability[target] >= 0.9 - 0.03
    # In half of the futures nothing comes at all: no number of plants helps.
    fails = trial.copy()
    fails[::2] = 0.0
    never = remedies(short, fails, few, *given, outcome(fails, few, *given), 0.9)
    assert all(np.isnan(one.plants) for one in never.values())
    # A crop that comes when all weeks of the kitchen are over would be helped by coming sooner.
    late = np.zeros_like(trial)
    late[:, -1] = trial.sum(axis=1)
    kitchen = replace(case.kitchen, hours=np.where(np.arange(16) == 15, 0.0, 40.0))
    given = (late, few, kitchen, case.choices, case.goals)
    helped = remedies(short, *given, outcome(*given), 0.9)
    assert all("help.sooner" in one.helps for one in helped.values())
