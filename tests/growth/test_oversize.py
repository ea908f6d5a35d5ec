"""What was not picked in time has grown too big."""

from dataclasses import replace
from itertools import pairwise
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.forecast import forecast
from harvestcast.growth.future.oversize import Wait, learn_wait, oversize_kg, waits
from tests.simulated import as_garden, simulate_garden
from tests.simulated.crops import CROPS
from tests.simulated.picking import Habits

ZUCCHINI = crop_facts("zucchini")


def test_without_a_log_the_almanac_speaks() -> None:
    none = np.zeros(0)
    wait = learn_wait(none, none, none, ZUCCHINI)
    assert wait.share(wait.usual_days) == pytest.approx(ZUCCHINI.oversize_share)
    assert (np.diff(wait.share(np.arange(1, 15))) > 0).all()
    assert wait.share(60) == wait.share(14)


def test_the_log_of_known_shares_is_learned() -> None:
    """Logistic shares of 400 picks with a known level and steepness, binomial pieces."""
    rng = np.random.default_rng(4)
    true = Wait(-1.5, 2.4, ZUCCHINI.pick_every_days)
    days = rng.integers(1, 8, 400).astype(float)
    big = rng.binomial(6, true.share(days)) * ZUCCHINI.fruit_kg
    found = learn_wait(days, 6 * ZUCCHINI.fruit_kg - big, big, ZUCCHINI)
    assert found.level == pytest.approx(true.level, abs=0.25)
    assert found.steepness == pytest.approx(true.steepness, abs=0.3)


def test_it_is_the_mode_a_general_optimiser_finds() -> None:
    from scipy.optimize import minimize

    from harvestcast.growth.future.oversize import LEVEL_SD, PIECES, STEEP, STEEP_SD

    rng = np.random.default_rng(5)
    days = rng.integers(1, 6, 30).astype(float)
    good, big = rng.gamma(2, 0.3, 30), rng.gamma(0.5, 0.3, 30)
    found = learn_wait(days, good, big, ZUCCHINI)
    weight = np.clip((good + big) / ZUCCHINI.fruit_kg, 1, PIECES)
    usual = np.log(ZUCCHINI.oversize_share / (1 - ZUCCHINI.oversize_share))

    def lost(at: np.ndarray) -> float:
        p = Wait(at[0], at[1], ZUCCHINI.pick_every_days).share(days)
        seen = big / (good + big)
        fit = (weight * (seen * np.log(p) + (1 - seen) * np.log(1 - p))).sum()
        return (
            float(((at[0] - usual) / LEVEL_SD) ** 2 / 2 + ((at[1] - STEEP) / STEEP_SD) ** 2 / 2)
            - fit
        )

    best = minimize(lost, [usual, STEEP]).x
    np.testing.assert_allclose([found.level, found.steepness], best, atol=1e-3)


def test_what_never_grows_too_big_stays_so_until_the_log_says_otherwise() -> None:
    tomato = crop_facts("tomato")
    assert tomato.oversize_share == 0
    days, kg = np.full(5, 3.0), np.ones(5)
    assert (learn_wait(days, kg, 0 * kg, tomato).share([1, 9]) == 0).all()
    assert (learn_wait(days, kg, 0.2 * kg, tomato).share([1, 9]) > 0).all()


def _garden(seed: int):
    habits = Habits(
        weekdays=(0.8, 0.2, 0.6, 0.2, 0.8, 0.3, 0.5), record=dict.fromkeys(CROPS, "both")
    )
    crops = ("zucchini", "okra", "cucumber", "tomato")
    return as_garden(simulate_garden(seed, crops=crops, varieties=1, habits=habits, truth=False))


def test_missed_days_shift_a_pick_to_oversize() -> None:
    garden = _garden(3)
    day = pd.Timestamp("2026-08-10")
    made = forecast(garden, day, weeks=2, draws=200)
    large = oversize_kg(made, garden)
    assert large.shape == made.mass_kg.shape
    assert (large >= 0).all()
    assert (large <= made.mass_kg).all()
    column = made.keys.index(("zucchini", "kind 1"))
    mass, big = made.mass_kg[:, :, column], large[:, :, column]
    # Days waited in each draw, from the second pick on.
    short, long = [], []
    for m, b in zip(mass, big, strict=True):
        picks = np.flatnonzero(m)
        for before, now in pairwise(picks):
            (short if now - before <= 1 else long if now - before >= 4 else []).append(
                b[now] / m[now]
            )
    assert min(long) > max(short)
    tomato = made.keys.index(("tomato", "kind 1"))
    assert (large[:, :, tomato] == 0).all()


def test_nothing_after_the_day_is_read() -> None:
    garden = _garden(3)
    day = pd.Timestamp("2026-08-01")
    picks = garden.picks
    cut = replace(garden, picks=picks[picks["date"] <= day])
    assert waits(garden, day, ("zucchini", "okra")) == waits(cut, day, ("zucchini", "okra"))


def test_weeks_with_few_visits_are_told_from_weeks_with_many() -> None:
    """Picks of the second half of simulated seasons: better than one share for every pick.

    The simulated fruit grows too big by its age, not by a logistic curve.
    """
    off, flat = [], []
    for seed in range(20, 30):
        garden = _garden(seed)
        day = pd.Timestamp("2026-08-10")
        picks = garden.picks
        for crop in ("zucchini", "okra", "cucumber"):
            wait = waits(garden, day, (crop,))[crop]
            own = picks[picks["crop"] == crop]
            big = own["mass_kg"].where(own["grade"] == "oversize", 0.0).groupby(own["date"]).sum()
            whole = own.groupby("date")["mass_kg"].sum()
            whole = whole[whole > 0]
            share = big[whole.index] / whole
            gap = pd.Series(whole.index, index=whole.index).diff().dt.days
            known = whole.index <= day
            later = ~known & gap.le(30).to_numpy()
            usual = float(big[whole.index[known]].sum() / whole[known].sum())
            off += list((wait.share(gap[later]) - share[later]) ** 2)
            flat += list((usual - share[later]) ** 2)
    assert len(off) > 200
    assert np.mean(off) < 0.9 * np.mean(flat)


def test_an_outlook_of_any_make_will_do() -> None:
    made = SimpleNamespace(
        as_of=pd.Timestamp("2026-08-10"), keys=(("zucchini", "other"),), mass_kg=np.ones((3, 4, 1))
    )
    large = oversize_kg(made, _garden(3))
    assert large.shape == (3, 4, 1)
    assert (large > 0).all()
