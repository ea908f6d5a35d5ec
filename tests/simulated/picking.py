"""How people pick and what they write down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from tests.simulated.climate import Array

GRADES = ("good", "oversize", "damaged")


@dataclass(frozen=True, slots=True, kw_only=True)
class Habits:
    """How one household picks and writes."""

    weekdays: tuple[float, ...] = (0.9, 0.9, 0.9, 0.9, 0.9, 0.8, 0.5)
    """Chance of going to the garden, Monday to Sunday."""
    rain: float = 0.45
    """Factor on that chance on a day with more than 8 mm of rain."""
    away: float = 1.2
    """Spells away in a season, on average; each 4 to 10 days."""
    find: float = 0.9
    """Chance that a ready fruit is found."""
    zeros: float = 0.3
    """Chance that "looked, found none" is written down."""
    damaged: float = 0.02
    grades: bool = True
    """Whether grades are written down; if not, everything is 'good'."""
    scale_kg: float = 0.005
    """Step of the kitchen scale."""
    record: Mapping[str, str] = field(default_factory=dict)
    """Per crop: 'count', 'weight' or 'both'."""


def in_garden(
    rng: np.random.Generator, habits: Habits, weekday: Array, rain_mm: Array
) -> tuple[Array, Array]:
    """Return on which days someone goes to the garden and on which the household is away."""
    chance = np.asarray(habits.weekdays)[weekday] * np.where(rain_mm > 8, habits.rain, 1.0)
    away = np.zeros(weekday.size, bool)
    for _ in range(rng.poisson(habits.away)):
        first = int(rng.integers(150, 270))
        away[first : first + int(rng.integers(4, 11))] = True
    return (rng.random(weekday.size) < chance) & ~away, away


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fruits:
    """Every fruit of a season that became ready: arrays with one entry a fruit."""

    planting: Array
    ready: Array
    """Day it became ready."""
    picked: Array
    """Day it was picked; -1: never."""
    ready_kg: Array
    picked_kg: Array
    grade: Array
    """Number in GRADES."""


def pick_fruits(
    rng: np.random.Generator,
    habits: Habits,
    *,
    planting: Array,
    ready: Array,
    looked: Array,
    fruit_kg: Array,
    fruit_cv: Array,
    growth: Array,
    oversize_days: Array,
    keeps_days: Array,
) -> Fruits:
    """Find, weigh and grade the fruit of all plantings.

    Parameters
    ----------
    planting, ready : arrays, (fruits,)
        Planting and day of each ready fruit.
    looked : array of bool, (plantings, days)
        Days on which somebody looked at the planting.
    fruit_kg, fruit_cv, growth, oversize_days, keeps_days : arrays, (plantings,)
        Nature of the fruit.
    """
    number = ready.size
    picked = np.full(number, -1)
    # A fruit overlooked once is bigger and easier to find the next time.
    missed = np.where(rng.random(number) < habits.find, 0, rng.geometric(0.93, number))
    for p in range(len(looked)):
        mine = np.flatnonzero(planting == p)
        days = np.flatnonzero(looked[p])
        chance = np.searchsorted(days, ready[mine]) + missed[mine]
        there = chance < days.size
        picked[mine[there]] = days[chance[there]]
    age = np.where(picked >= 0, picked - ready, 0)
    dropped = age > keeps_days[planting]
    picked[dropped] = -1
    sigma = np.sqrt(np.log1p(fruit_cv[planting] ** 2))
    ready_kg = fruit_kg[planting] * np.exp(sigma * rng.standard_normal(number) - sigma**2 / 2)
    # No fruit grows for ever.
    picked_kg = ready_kg * np.minimum(growth[planting] ** age, 6.0)
    grade = np.where(rng.random(number) < habits.damaged, 2, 0)
    grade = np.where(age > oversize_days[planting], 1, grade)
    return Fruits(
        planting=planting,
        ready=ready,
        picked=picked,
        ready_kg=ready_kg,
        picked_kg=picked_kg,
        grade=grade,
    )
