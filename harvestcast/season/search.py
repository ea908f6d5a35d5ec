"""Whole plants: the programme's layout rounded, then mended and trimmed on other seasons.

Reliability is counted by the week-by-week rule of :mod:`harvestcast.season.kitchen_year` on
seasons that the programme has not seen. Mending adds plants where a target is met too seldom,
trimming takes plants away or moves them to another variety or date where that saves bed or glut
and costs no target its probability. Every step is deterministic; the number of layouts tried is
limited, not the time, so that the same input gives the same beds.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from harvestcast.season.beds_programme import Choices, Goals
from harvestcast.season.kitchen_year import KitchenYear, YearResult, run_year

Array = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outcome:
    """How a layout does on some futures.

    Parameters
    ----------
    year : YearResult
        What the household made of it.
    met : ndarray of bool, shape (futures, targets)
        Whether each target was met: products first, then fresh; True where there is no target.
    short : ndarray, shape (futures, targets)
        Share of each target that was missing.
    reliability : ndarray, shape (targets,)
        Share of futures in which it was met; NaN where there is no target.
    area_m2 : float
        Most bed area taken in any week. [m2]
    cost : float
        Points: bed and glut.
    """

    year: YearResult
    met: NDArray[np.bool_]
    short: Array
    reliability: Array
    area_m2: float
    cost: float


def picked_by_crop(per_plant: Array, plants: Array, crop: Ints, crops: int) -> Array:
    """Return the picks of a layout per crop, shape (futures, weeks, crops). [kg]

    Examples
    --------
    >>> picked_by_crop(np.ones((1, 2, 3)), np.array([1.0, 2, 3]), np.array([0, 0, 1]), 2)[0, 0]
    array([3., 3.])
    """
    member = (crop[:, None] == np.arange(crops)).astype(float)
    return np.asarray(per_plant @ (plants[:, None] * member))


def area_taken(plants: Array, choices: Choices) -> Array:
    """Return the bed area taken in each week, shape (weeks,). [m2]"""
    return np.asarray((plants * choices.area_m2) @ choices.stands)


def outcome(
    per_plant: Array, plants: Array, kitchen: KitchenYear, choices: Choices, goals: Goals
) -> Outcome:
    """Return how a layout does on some futures.

    Parameters
    ----------
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    plants : ndarray, shape (options,)
        The layout.
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.

    Returns
    -------
    Outcome
    """
    picked = picked_by_crop(per_plant, plants, choices.crop, len(kitchen.crops))
    year = run_year(picked, kitchen)
    fresh = (year.eaten * goals.fresh_weeks).sum(axis=1)
    got = np.concatenate([year.jars, fresh], axis=1)
    goal = np.concatenate([kitchen.need, goals.fresh_kg])
    wanted = goal > 0
    share = np.divide(got, goal, out=np.ones_like(got), where=wanted)
    met = share >= 1 - 1e-6
    area = area_taken(plants, choices)
    cost = goals.bed_price * (area.max(initial=0.0) + 0.01 * area.mean())
    return Outcome(
        year=year,
        met=met,
        short=np.maximum(1 - share, 0.0),
        reliability=np.where(wanted, met.mean(axis=0), np.nan),
        area_m2=float(area.max(initial=0.0)),
        cost=float(cost + goals.glut_price * year.glut.sum(axis=1).mean()),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Searched:
    """A layout of whole plants and how it was found."""

    plants: Array
    tried: int
    reached: bool
    """Whether every target reached the wanted probability on the futures of the search."""


def search(
    start: Array,
    per_plant: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    *,
    most_tries: int = 600,
    margin: float = 0.0,
) -> Searched:
    """Round, mend and trim a layout.

    Parameters
    ----------
    start : ndarray, shape (options,)
        Plants, need not be whole.
    per_plant : ndarray, shape (futures, weeks, options)
        Futures of the search.
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    most_tries : int
        Layouts tried at most.
    margin : float
        Added to the wanted probability, against the optimism of a search on few futures.

    Returns
    -------
    Searched
    """
    state = _State(per_plant, kitchen, choices, goals, margin, most_tries)
    step = choices.step
    state.take(np.clip(np.round(start / step) * step, choices.low, choices.high))
    for _ in range(4):
        before = (state.lack, state.cost)
        _mend(state)
        _trim(state)
        if (state.lack, state.cost) == before or state.spent:
            break
    return Searched(plants=state.plants, tried=state.tried, reached=state.lack <= 1e-9)


class _State:
    """The layout the search stands at. Lives only while :func:`search` runs."""

    def __init__(
        self,
        per_plant: Array,
        kitchen: KitchenYear,
        choices: Choices,
        goals: Goals,
        margin: float,
        most: int,
    ) -> None:
        self.per_plant, self.kitchen, self.choices, self.goals = per_plant, kitchen, choices, goals
        self.wanted = min(goals.probability + margin, 1.0)
        self.most, self.tried = most, 0
        self.target_crop = self._target_crop()
        self.mean = per_plant.mean(axis=0).sum(axis=0)

    def _target_crop(self) -> list[set[int]]:
        of_products = [
            set(self.kitchen.method_crop[self.kitchen.method_product == p].tolist())
            for p in range(len(self.kitchen.products))
        ]
        return of_products + [{c} for c in range(len(self.kitchen.crops))]

    @property
    def spent(self) -> bool:
        return self.tried >= self.most

    def look(self, plants: Array) -> tuple[float, float, Outcome]:
        self.tried += 1
        found = outcome(self.per_plant, plants, self.kitchen, self.choices, self.goals)
        return self._lack(found), found.cost, found

    def _lack(self, found: Outcome) -> float:
        missing = np.maximum(self.wanted - np.nan_to_num(found.reliability, nan=1.0), 0.0)
        # How short the short seasons are guides the mending where counts alone stand still.
        tail = np.maximum(1 - self.wanted, 1 / len(found.short))
        worst = found.short.mean(axis=0) / tail
        return float(np.sum(missing + np.where(missing > 0, 0.3 * np.minimum(worst, 1.0), 0.0)))

    def take(self, plants: Array) -> None:
        self.plants = plants
        self.lack, self.cost, self.found = self.look(plants)

    def allowed(self, plants: Array) -> bool:
        choices = self.choices
        if (plants < choices.low - 1e-9).any() or (plants > choices.high + 1e-9).any():
            return False
        groups = np.bincount(choices.group, weights=plants, minlength=len(choices.group_high))
        if (groups > choices.group_high + 1e-9).any():
            return False
        now, then = area_taken(self.plants, choices).max(), area_taken(plants, choices).max()
        return bool(then <= max(choices.bed_m2, now) + 1e-9)


def _mend(state: _State) -> None:
    """Add plants until every target is met often enough, the cheapest help first."""
    choices = state.choices
    while state.lack > 1e-9 and not state.spent:
        missing = np.nan_to_num(state.found.reliability, nan=1.0) < state.wanted - 1e-9
        crops = set().union(*(state.target_crop[t] for t in np.flatnonzero(missing)))
        best: tuple[float, Array, tuple[float, float, Outcome]] | None = None
        for option in np.flatnonzero(np.isin(choices.crop, sorted(crops))):
            if state.mean[option] <= 0:
                continue
            of_crop = state.plants[choices.crop == choices.crop[option]].sum()
            for share in (0.03, 0.12):
                plants = state.plants.copy()
                plants[option] += choices.step[option] * max(
                    1, round(share * of_crop / choices.step[option])
                )
                if state.spent or not state.allowed(plants):
                    continue
                found = state.look(plants)
                gain = (state.lack - found[0]) / max(found[1] - state.cost, 0.02)
                if found[0] < state.lack - 1e-9 and (best is None or gain > best[0]):
                    best = (gain, plants, found)
        if best is None:
            break
        state.plants = best[1]
        state.lack, state.cost, state.found = best[2]


def _trim(state: _State) -> None:
    """Take plants away, or move them to another variety or date, where nothing is lost by it."""
    choices = state.choices
    order = np.argsort(-state.plants * choices.area_m2, kind="stable")
    for option in order:
        for share in (0.5, 0.2, 0.0):
            while not state.spent and state.plants[option] > choices.low[option]:
                step = choices.step[option]
                number = step * max(1, round(share * state.plants[option] / step))
                if not _try(state, option, -number, None):
                    break
        rivals = np.flatnonzero((choices.crop == choices.crop[option]) & (state.mean > 0))
        for rival in rivals:
            if rival == option or state.spent or state.plants[option] <= choices.low[option]:
                continue
            step = choices.step[option]
            number = step * max(1, round(0.25 * state.plants[option] / step))
            _try(state, option, -number, rival)


def _try(state: _State, option: int, change: float, rival: int | None) -> bool:
    """Try one step and keep it where it saves something and costs no target anything."""
    choices = state.choices
    plants = state.plants.copy()
    plants[option] = max(plants[option] + change, choices.low[option])
    if rival is not None:
        moved = (state.plants[option] - plants[option]) * state.mean[option] / state.mean[rival]
        step = choices.step[rival]
        plants[rival] += step * max(1, round(moved / step))
    if not state.allowed(plants):
        return False
    lack, cost, found = state.look(plants)
    if lack > state.lack + 1e-9 or cost >= state.cost - 1e-9:
        return False
    state.plants, state.lack, state.cost, state.found = plants, lack, cost, found
    return True
