"""Whole plants: the programme's layout rounded, then bettered step by step on other seasons.

A layout is worth what the week-by-week rule of :mod:`harvestcast.season.kitchen_year` makes of its
picks, less what its beds take (:mod:`harvestcast.season.next.goals`), on seasons that the programme
has not seen. A step is taken where it brings more than it costs: plants added, taken away, moved to
another variety or date of the crop, a row dropped, two rows exchanged. Where the beds are full, a
step of one crop that lacks the room is paired with a step of another that gives it. At the end no
single step and no such pair is worth taking, and no row is left whose worth is lost in the luck of
the seasons.

Every step is deterministic; their number is limited, not the time, so that the same input gives the
same beds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.season.kitchen_year import KitchenYear, Room, YearResult, one_crop, run_year
from harvestcast.season.next.goals import Goals, used_worth
from harvestcast.season.next.programme import Choices

Ints = Index

ROUGH = 100
"""Futures on which the first steps are taken; the last ones are taken on all."""
STEPS, PAIRS = 60, 40
"""Steps of a crop in a row, and pairs of steps between crops, at most."""
PARTS = (0.0, 0.1, 0.3)
"""Sizes of a step, in shares of a crop's plants; 0 is the least there is."""
WORTH_TAKING = 1e-3
"""Points from which a step is taken."""
_BEST = 30
"""Steps that lack the room which are paired with others at a time."""


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
    points : ndarray, shape (futures,)
        What the harvest brings less what the beds take.
    """

    year: YearResult
    met: Flags
    short: Array
    reliability: Array
    area_m2: float
    points: Array

    @property
    def worth(self) -> float:
        """Mean points over futures."""
        return float(self.points.mean())


def picked_by_crop(per_plant: Array, plants: Array, crop: Ints, crops: int) -> Array:
    """Return the picks of a layout per crop, shape (futures, weeks, crops) in kg.

    Examples
    --------
    >>> picked_by_crop(np.ones((1, 2, 3)), np.array([1.0, 2, 3]), np.array([0, 0, 1]), 2)[0, 0]
    array([3., 3.])
    """
    member = (crop[:, None] == np.arange(crops)).astype(float)
    return np.asarray(per_plant @ (plants[:, None] * member))


def area_taken(plants: Array, choices: Choices) -> Array:
    """Return the bed area taken in each week, shape (weeks,) in m2."""
    return np.asarray((plants * choices.area_m2) @ choices.stands)


def most_at_once(plants: Array, choices: Choices) -> float:
    """Return the most bed area taken in any week, in the open and under cover together. [m2]."""
    parts = 1 if choices.glass_m2 is None else 2
    return float(area_taken(plants, choices).reshape(parts, -1).sum(axis=0).max(initial=0.0))


def area_by_crop(plants: Array, choices: Choices, crops: int) -> Array:
    """Return the bed area each crop takes in each week, shape (crops, weeks) in m2."""
    member = choices.crop == np.arange(crops)[:, None]
    return np.asarray((plants * choices.area_m2 * member) @ choices.stands)


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
    return Outcome(
        year=year,
        met=met,
        short=np.maximum(1 - share, 0.0),
        reliability=np.where(wanted, met.mean(axis=0), np.nan),
        area_m2=most_at_once(plants, choices),
        points=used_worth(year, kitchen, goals) - _beds(plants[None], choices, goals)[0],
    )


def _beds(layouts: Array, choices: Choices, goals: Goals) -> Array:
    """Return what the beds of some layouts take, points, shape (layouts,)."""
    return np.asarray(layouts @ choices.price + goals.row_price * (layouts > 0).sum(axis=1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Searched:
    """A layout of whole plants, and how many were looked at on the way."""

    plants: Array
    tried: int


def search(
    start: Array,
    per_plant: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    *,
    sweeps: int = 4,
) -> Searched:
    """Round a layout and better it until no step is worth taking.

    Crops meet in bed space and in hours. While one crop is worked on, the others keep the hours and
    equipment they used last; after every sweep over the crops the whole kitchen is worked through
    again.

    Parameters
    ----------
    start : ndarray, shape (options,)
        Plants, need not be whole.
    per_plant : ndarray, shape (futures, weeks, options)
        Futures of the search.
    kitchen, choices, goals
        The kitchen, what can be planted, what a harvest is worth.
    sweeps : int
        Sweeps over the crops at most, on a part of the futures and on all of them.

    Returns
    -------
    Searched
    """
    plants, tried = whole_steps(start, choices), 0
    rough = [per_plant[:ROUGH]] if len(per_plant) > ROUGH else []
    for futures in (*rough, per_plant):
        plants, looked = _swept(plants, futures, kitchen, choices, goals, sweeps)
        tried += looked
    plants, closed, looked = _pruned(plants, per_plant, kitchen, choices, goals)
    left = replace(choices, high=np.where(closed, choices.low, choices.high))
    plants, more = _swept(plants, per_plant, kitchen, left, goals, sweeps)
    return Searched(plants=plants, tried=tried + looked + more)


def _swept(
    plants: Array,
    per_plant: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    sweeps: int,
) -> tuple[Array, int]:
    """Better the crops in turn until nothing changes; return how many layouts were looked at."""
    tried = 0
    for _ in range(sweeps):
        before = plants
        plants, looked = _sweep(plants, per_plant, kitchen, choices, goals)
        tried += looked
        if (plants == before).all():
            break
    return plants, tried


def _crops(
    plants: Array, per_plant: Array, kitchen: KitchenYear, choices: Choices, goals: Goals
) -> list[_OneCrop]:
    picked = picked_by_crop(per_plant, plants, choices.crop, len(kitchen.crops))
    year = run_year(picked, kitchen)
    return [
        _OneCrop(crop, per_plant, kitchen, choices, goals, year)
        for crop in range(len(kitchen.crops))
        if (choices.crop == crop).any()
    ]


def _pruned(
    plants: Array, per_plant: Array, kitchen: KitchenYear, choices: Choices, goals: Goals
) -> tuple[Array, Flags, int]:
    """Drop rows whose worth is lost in the luck of the futures; return which were dropped too."""
    closed, tried = np.zeros(len(plants), dtype=bool), 0
    for one in _crops(plants, per_plant, kitchen, choices, goals):
        plants, dropped, looked = one.prune(plants)
        closed[dropped] = True
        tried += looked
    return plants, closed, tried


def _sweep(
    plants: Array, per_plant: Array, kitchen: KitchenYear, choices: Choices, goals: Goals
) -> tuple[Array, int]:
    """Better one crop after the other, then pairs of crops; return how many were looked at."""
    crops = _crops(plants, per_plant, kitchen, choices, goals)
    tried = 0
    for one in crops:
        plants, looked = one.improve(plants)
        tried += looked
    steps = [one.steps(plants) for one in crops] if np.isfinite(choices.room_m2).any() else []
    for _ in range(PAIRS if steps else 0):
        pair = _best_pair(steps, plants, choices)
        if pair is None:
            break
        for place, step in pair:
            plants = plants + (steps[place].layouts[step] - plants) * crops[place].own
        for place, _ in pair:
            plants, looked = crops[place].improve(plants)
            steps[place] = crops[place].steps(plants)
            tried += looked + len(steps[place].gains)
    return plants, tried


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Steps:
    """Steps of one crop, whatever room there is: layouts, gain in points and change of area."""

    layouts: Array
    gains: Array
    area: Array


def _best_pair(
    steps: list[_Steps], plants: Array, choices: Choices
) -> tuple[tuple[int, int], tuple[int, int]] | None:
    """Return a step that lacks the room and one of another crop that gives it, or None.

    Steps of two crops add up: where neither is worth taking the two together are not either.
    """
    room = choices.room_m2 + 1e-9 - area_taken(plants, choices)
    best, found = WORTH_TAKING, None
    for place, mine in enumerate(steps):
        wanting = np.argsort(-mine.gains, kind="stable")[:_BEST]
        wanting = wanting[mine.gains[wanting] > WORTH_TAKING]
        for other, giving in enumerate(steps):
            if other == place or not len(wanting) or not len(giving.gains):
                continue
            gain = mine.gains[wanting][:, None] + giving.gains
            area = mine.area[wanting][:, None] + giving.area
            gain = np.where((area <= room).all(axis=2), gain, -np.inf)
            at = np.unravel_index(int(np.argmax(gain)), gain.shape)
            if gain[at] > best:
                best = float(gain[at])
                found = ((place, int(wanting[at[0]])), (other, int(at[1])))
    return found


def whole_steps(start: Array, choices: Choices) -> Array:
    """Round a layout to whole steps within all limits: down, then up where most is missing."""
    step, low = choices.step, choices.low
    plants = np.clip(np.floor(start / step + 1e-9) * step, low, choices.high)
    missing = (start - plants) / step
    for option in np.argsort(-missing, kind="stable"):
        if missing[option] < 0.5:
            break
        more = plants.copy()
        more[option] = min(plants[option] + step[option], choices.high[option])
        if _allowed(more[None], plants, choices)[0]:
            plants = more
    return plants


class _OneCrop:
    """The work on one crop while the others stand still. Lives only while :func:`search` runs."""

    def __init__(
        self,
        crop: int,
        per_plant: Array,
        kitchen: KitchenYear,
        choices: Choices,
        goals: Goals,
        year: YearResult,
    ) -> None:
        self.own = choices.crop == crop
        self.mine = mine = np.flatnonzero(self.own)
        self.choices, self.kitchen = choices, one_crop(kitchen, crop)
        made = [kitchen.products.index(name) for name in self.kitchen.products]
        self.goals = replace(goals, eaten=goals.eaten[[crop]], jar=goals.jar[made])
        bearing = per_plant[:, :, mine]
        self.mean = bearing.sum(axis=1).mean(axis=0)
        # Only the weeks in which the crop is picked or still lies there.
        weeks = np.flatnonzero(bearing.any(axis=(0, 2)))
        first = int(weeks[0]) if len(weeks) else 0
        last = int(weeks[-1]) + 2 + int(kitchen.keep_weeks[crop]) if len(weeks) else 1
        span = slice(first, min(last, per_plant.shape[1]))
        # Shape (weeks, options, futures): the looks below run over the last axis.
        self.per_plant = np.ascontiguousarray(bearing[:, span].transpose(1, 2, 0))
        others = np.arange(len(kitchen.crops)) != crop
        futures = len(per_plant)
        hours = np.repeat(kitchen.hours[:, None], futures, axis=1)
        equipment = np.repeat(kitchen.equipment_h[:, :, None], futures, axis=2)
        self.room = Room(
            hours=(hours - year.hours_used[:, others].sum(axis=1))[span],
            equipment_h=(equipment - year.equipment_used[:, :, others].sum(axis=2))[:, span],
            freezer_l=kitchen.freezer_l - year.freezer_used[others].sum(axis=0),
        )

    def improve(self, plants: Array) -> tuple[Array, int]:
        """Return a better layout (only this crop's plants differ) and how many were looked at."""
        best, _, looked = self._climb(plants)
        return best, looked

    def prune(self, plants: Array) -> tuple[Array, list[int], int]:
        """Drop rows that are missed by less than the error of the count, the poorest first.

        The rest is bettered without them, which also leads out of hollows that single steps cannot
        leave. Return the layout, the options dropped and how many layouts were looked at.
        """
        best, each, tried = plants, self._each(plants[None])[0], 0
        dropped: list[int] = []
        yields = np.zeros(len(plants))
        yields[self.mine] = self.mean / self.choices.area_m2[self.mine]
        used = self.mine[best[self.mine] > self.choices.low[self.mine]]
        for option in used[np.argsort(yields[used], kind="stable")].tolist():
            all_of_them = self.choices
            high = all_of_them.high.copy()
            high[option] = all_of_them.low[option]
            self.choices = replace(all_of_them, high=high)
            other, _, looked = self._climb(np.minimum(best, high))
            tried += looked
            now = self._each(other[None])[0]
            loss = each - now
            if loss.mean() < loss.std() / np.sqrt(len(loss)):
                best, each = other, now
                dropped.append(option)
            else:
                self.choices = all_of_them
        return best, dropped, tried

    def steps(self, plants: Array) -> _Steps:
        """Return all steps from a layout, those included that lack the room."""
        layouts = self._moves(plants, self.choices.endless)
        gains = self._look(layouts) - self._look(plants[None])[0]
        area = ((layouts - plants) * self.choices.area_m2) @ self.choices.stands
        return _Steps(layouts=layouts, gains=gains, area=area)

    def _climb(self, plants: Array) -> tuple[Array, float, int]:
        """Take the best single step until none is worth it; return the worth of where it ends."""
        worth = float(self._look(plants[None])[0])
        looked = 1
        for _ in range(STEPS):
            moves = self._moves(plants, self.choices)
            if not len(moves):
                break
            found = self._look(moves)
            looked += len(moves)
            best = int(np.argmax(found))
            if found[best] <= worth + WORTH_TAKING:
                break
            plants, worth = moves[best], float(found[best])
        return plants, worth, looked

    def _moves(self, plants: Array, choices: Choices) -> Array:
        """Return more or less of one option, plants moved between two, rows exchanged."""
        mine, step = self.mine, choices.step
        now = plants[mine]
        found: list[Array] = []

        def add(*changes: tuple[int, float]) -> None:
            new = now.copy()
            for place, change in changes:
                option = mine[place]
                whole = np.sign(change) * max(1, round(abs(change) / step[option])) * step[option]
                new[place] = min(max(new[place] + whole, choices.low[option]), choices.high[option])
            found.append(new)

        total = now.sum()
        bearing: list[int] = np.flatnonzero(self.mean > 0).tolist()
        used: list[int] = np.flatnonzero(now > choices.low[mine]).tolist()
        area = choices.area_m2[mine]
        for place in bearing:
            for share in PARTS:
                add((place, share * total + 1e-9))
        for place in used:
            for share in (*PARTS, 0.6, 1.0):
                fewer = share * now[place] + 1e-9
                add((place, -fewer))
                for rival in (one for one in bearing if one != place):
                    # As much harvest, as much bed, as many plants.
                    as_much = self.mean[place] / self.mean[rival], area[place] / area[rival], 1.0
                    for times in as_much if share == 1.0 else as_much[:1]:
                        add((place, -fewer), (rival, times * fewer))
            for rival in (one for one in used if one > place):
                # What stood on the bed of the one now stands on that of the other.
                change = (now[rival] * area[rival] - now[place] * area[place]) / area[place]
                other = -change * area[place] / area[rival]
                if abs(change) >= step[mine[place]]:
                    add((place, change), (rival, other))
        small = np.unique(np.array(found).reshape(-1, len(mine)), axis=0)
        small = small[(small != now).any(axis=1)]
        layouts = np.repeat(plants[None], len(small), axis=0)
        layouts[:, mine] = small
        return layouts[_allowed(layouts, plants, choices)]

    def _look(self, layouts: Array) -> Array:
        """Return what this crop's plants bring in each layout, mean points, shape (layouts,)."""
        return np.asarray(self._each(layouts).mean(axis=1))

    def _each(self, layouts: Array) -> Array:
        """Return the same future by future, shape (layouts, futures)."""
        (weeks, _, futures), number = self.per_plant.shape, len(layouts)
        if not number:
            return np.zeros((0, futures))
        picked = layouts[:, self.mine] @ self.per_plant
        order = np.tile(np.arange(len(self.kitchen.method_crop)), (weeks, 1))
        by_future = picked.reshape(weeks, 1, -1).transpose(2, 0, 1)
        year = run_year(by_future, self.kitchen, order, self.room)
        worth = used_worth(year, self.kitchen, self.goals).reshape(number, futures)
        return np.asarray(worth - _beds(layouts * self.own, self.choices, self.goals)[:, None])


def _allowed(layouts: Array, now: Array, choices: Choices) -> Flags:
    """Return which layouts keep the limits of varieties and beds, shape (layouts,)."""
    member = (choices.group[:, None] == np.arange(len(choices.group_high))).astype(float)
    groups = layouts @ member <= choices.group_high + 1e-9
    parts = 1 if choices.glass_m2 is None else 2
    taken = area_taken(now, choices).reshape(parts, -1)
    # What stands too close already may stay as it is, and fill every week so far.
    most = np.repeat(taken.max(axis=1, initial=0.0), taken.shape[1])
    room = np.maximum(choices.room_m2, most)
    beds = (layouts * choices.area_m2) @ choices.stands <= room + 1e-9
    return np.asarray(groups.all(axis=1) & beds.all(axis=1))
