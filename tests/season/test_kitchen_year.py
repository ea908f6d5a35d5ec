"""The week-by-week rule: nothing is lost from the books, nothing beyond its room."""

from dataclasses import replace

import numpy as np
import pytest

from harvestcast.season.kitchen_year import Room, ending_order, one_crop, run_year
from harvestcast.season.next.search import picked_by_crop
from tests.season.synthetic import invented

SEEDS = range(12)


def _run(seed: int, **changes: object):  # type: ignore[no-untyped-def]
    case = invented(seed, **changes)
    plants = np.random.default_rng(seed).integers(0, 12, len(case.choices.crop)).astype(float)
    picked = picked_by_crop(case.draw(30, seed), plants, case.choices.crop, 3)
    return case.kitchen, picked, run_year(picked, case.kitchen)


@pytest.mark.parametrize("seed", SEEDS)
def test_the_books_balance(seed: int) -> None:
    _, picked, year = _run(seed)
    used = year.eaten.sum(axis=1) + year.put_up + year.given + year.left
    spoiled = picked.sum(axis=(1, 2)) - used.sum(axis=1)
    assert spoiled == pytest.approx(year.glut.sum(axis=1), abs=1e-9)
    assert (year.glut >= -1e-9).all() and (year.left >= -1e-9).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_no_limit_is_exceeded(seed: int) -> None:
    kitchen, _, year = _run(seed, hours=3.0)
    assert (year.hours_used.sum(axis=1) <= kitchen.hours[:, None] + 1e-9).all()
    room = kitchen.equipment_h[:, :, None] + 1e-9
    assert (year.equipment_used.sum(axis=2) <= room).all()
    assert (year.freezer_used.sum(axis=0) <= kitchen.freezer_l + 1e-9).all()
    assert (year.jars <= kitchen.need + 1e-9).all()
    assert (year.eaten <= kitchen.eat + 1e-9).all()


@pytest.mark.parametrize("seed", SEEDS)
def test_jars_match_what_was_put_up(seed: int) -> None:
    kitchen, _, year = _run(seed)
    kg = year.jars / kitchen.jars_per_kg  # one way a product here
    by_crop = np.zeros_like(year.put_up)
    for way, crop in enumerate(kitchen.method_crop):
        by_crop[:, crop] += kg[:, kitchen.method_product[way]]
    assert by_crop == pytest.approx(year.put_up, abs=1e-9)
    hours = (kg * kitchen.hours_per_kg).sum(axis=1)
    assert hours == pytest.approx(year.hours, abs=1e-9)


def test_the_rule_does_not_know_the_future() -> None:
    """Later picks changed: earlier weeks of eating and spoiling stay as they were."""
    case = invented(3)
    plants = np.full(len(case.choices.crop), 6.0)
    picked = picked_by_crop(case.draw(20, 3), plants, case.choices.crop, 3)
    order = ending_order(picked.mean(axis=0), case.kitchen)
    other = picked.copy()
    other[:, 8:] *= np.random.default_rng(1).uniform(0, 3, other[:, 8:].shape)
    one, two = run_year(picked, case.kitchen, order), run_year(other, case.kitchen, order)
    assert (one.eaten[:, :8] == two.eaten[:, :8]).all()
    assert (one.glut[:, :8] == two.glut[:, :8]).all()


def test_a_hand_worked_season() -> None:
    """One crop, keeps a week; eat 2, at most 3, give 1; 4 jars wanted at 1 jar/kg, 1 h/kg, 2 h.

    Week 1: 10 picked: 2 eaten, 2 put up (2 h), 6 carried. Week 2: none picked: 2 eaten from the
    carried 6, 2 put up; 2 left are a week old and go: 1 eaten beyond the appetite and 1 given.
    Week 3: 9 picked: 2 eaten, target met, 7 carried. Week 4: 2 eaten, 5 left at the end of their
    week: 2 more eaten or given, 3 spoil.
    """
    case = invented(1, crops=1, varieties=1, dates=1, products=1, weeks=4)
    kitchen = replace(
        case.kitchen, eat=np.array([2.0]), most=np.array([3.0]), give=np.array([1.0]),
        keep_weeks=np.array([1]), need=np.array([4.0]), jars_per_kg=np.array([1.0]),
        hours_per_kg=np.array([1.0]), equipment_h_per_kg=np.zeros(1), equipment=np.array([-1]),
        freezer_l_per_kg=np.zeros(1), fresh_only=np.array([False]), usable=np.ones(1),
        hours=np.full(4, 2.0),
    )  # fmt: skip
    year = run_year(np.array([[[10.0], [0.0], [9.0], [0.0]]]), kitchen)
    assert year.eaten[0, :, 0].tolist() == [2.0, 2.0, 2.0, 2.0]
    assert year.jars[0].tolist() == [4.0]
    assert year.given[0].tolist() == [4.0]
    assert year.glut[0].tolist() == [0.0, 0.0, 0.0, 3.0]


def test_fresh_only_fruit_is_put_up_in_its_week_or_not_at_all() -> None:
    case = invented(1, crops=1, varieties=1, dates=1, products=1, weeks=3)
    kitchen = replace(
        case.kitchen, eat=np.zeros(1), most=np.zeros(1), give=np.zeros(1),
        keep_weeks=np.array([2]), need=np.array([100.0]), jars_per_kg=np.array([1.0]),
        hours_per_kg=np.array([1.0]), equipment_h_per_kg=np.zeros(1), equipment=np.array([-1]),
        freezer_l_per_kg=np.zeros(1), fresh_only=np.array([True]), usable=np.array([0.5]),
        hours=np.array([3.0, 9.0, 9.0]),
    )  # fmt: skip
    year = run_year(np.array([[[10.0], [4.0], [0.0]]]), kitchen)
    # Week 1: half of 10 is in time, hours for 3. Week 2: half of 4; the old 7 may not be used.
    assert year.jars[0].tolist() == [5.0]


def test_one_crop_alone_is_its_part_of_a_kitchen_with_room_for_all() -> None:
    case = invented(4, hours=1e6)
    kitchen = replace(case.kitchen, equipment_h=np.full((1, 16), 1e6), freezer_l=1e6)
    plants = np.full(len(case.choices.crop), 5.0)
    picked = picked_by_crop(case.draw(15, 4), plants, case.choices.crop, 3)
    together = run_year(picked, kitchen)
    glut = np.zeros_like(together.glut)
    for crop in range(3):
        own = one_crop(kitchen, crop)
        room = Room(
            hours=np.full((16, 15), 1e6),
            equipment_h=np.full((1, 16, 15), 1e6),
            freezer_l=np.full(15, 1e6),
        )
        alone = run_year(picked[:, :, [crop]], own, room=room)
        assert alone.eaten[:, :, 0] == pytest.approx(together.eaten[:, :, crop])
        made = np.unique(kitchen.method_product[kitchen.method_crop == crop])
        assert alone.jars == pytest.approx(together.jars[:, made])
        glut += alone.glut
    assert glut == pytest.approx(together.glut)
