"""Whole plants: the programme's layout rounded, then mended and trimmed on other seasons.

Reliability is counted by the week-by-week rule of :mod:`harvestcast.season.kitchen_year` on
seasons that the programme has not seen. Plants are added where a target is met too seldom, taken
away or moved to another variety or date where that saves bed or glut and costs no target its
probability. Every step is deterministic; the number of steps is limited, not the time, so that the
same input gives the same beds.

Where not every target can be met, :func:`share_beds` decides how many plants of each crop to give
up. A search that adds plants crop by crop gives the room to whoever asks first, and a count of
targets
met leaves the dearest crop with no bed at all. A household would rather have fewer winter squash
than none. So the layout that ignores the bed area is found first; then every crop keeps a part of
its plants, chosen together so that the beds hold them and the *want* is least: per target, the
probability missing plus a multiple of the mean square of the share missing. The first term keeps
as many targets as can be kept; the square makes the last half of a crop dearer to give up than
the first. The choice is a small programme in whole numbers and is solved exactly.

Where beds are plenty but a target cannot be reached however much is planted (its season is too
short in too many years, or nothing is known yet of its yield), a search that counts targets plants
a field for a hundredth of probability. There a crop gives up the plants that add little, weighed
against bed and glut.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.season.kitchen_year import KitchenYear, Room, YearResult, one_crop, run_year
from harvestcast.season.next.programme import Choices, Goals
from harvestcast.solver import Infeasible, Model, NotFound, Solver

Ints = Index

SHORT_WEIGHT = 3.0
"""Want of an empty shelf beyond that of its target missed, in targets missed. Our judgement: half
of a crop every year is then as bad as one and a half targets just missed, none as bad as four."""
LITTLE = 0.1
"""Want that the plants of one usual need must take off a target that is missed all the same, to be
planted. A usual need is what the crop's targets take in a season of the mean yield. Our judgement.
"""
FAR = 0.1
"""Probability that a target must miss before plants of its crop are given up for adding little."""
CRUMB = 0.03
"""Share of a crop's plants below which a variety and date is not worth its trouble."""
PARTS = np.linspace(0.0, 1.0, 21)
"""Parts of its plants that a crop may keep."""
_DROPPED = 4  # varieties and dates of a crop that are dropped in turn, see _OneCrop.improve


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
    met: Flags
    short: Array
    reliability: Array
    area_m2: float
    cost: float


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
    area = area_taken(plants, choices)
    cost = goals.bed_price * (area.max(initial=0.0) + 0.01 * area.mean())
    cost += goals.planting_price * np.count_nonzero(plants > 0)
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
    """Layouts looked at."""
    reached: bool
    """Whether every target reached the wanted probability on the futures of the search."""


def search(
    start: Array,
    per_plant: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    *,
    sweeps: int = 5,
    margin: float = 0.0,
) -> Searched:
    """Round, mend and trim a layout, one crop after the other.

    Each target belongs to one crop; crops meet in bed space and in hours. While one crop is worked
    on, the others keep the hours and equipment they used last; after every sweep over the crops the
    whole kitchen is worked through again.

    Parameters
    ----------
    start : ndarray, shape (options,)
        Plants, need not be whole.
    per_plant : ndarray, shape (futures, weeks, options)
        Futures of the search.
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    sweeps : int
        Sweeps over the crops at most.
    margin : float
        Added to the wanted probability, against the optimism of a search on few futures.

    Returns
    -------
    Searched
    """
    plants = whole_steps(start, choices)
    wanted = min(goals.probability + margin, 1.0)
    now = outcome(per_plant, plants, kitchen, choices, goals)
    tried = 1
    deep = False
    for sweep in range(sweeps):
        before = plants.copy()
        for crop in range(len(kitchen.crops)):
            mine = np.flatnonzero(choices.crop == crop)
            if not len(mine):
                continue
            work = _OneCrop(crop, mine, per_plant, kitchen, choices, goals, now.year, wanted)
            plants, looked = work.improve(plants, deep=deep)
            tried += looked
        now = outcome(per_plant, plants, kitchen, choices, goals)
        still = bool((plants == before).all())
        if still and deep:
            break
        # The dear steps come once, when the plain ones have had their say.
        deep = not deep and (still or sweep >= sweeps - 3)
    missing = np.nan_to_num(now.reliability, nan=1.0) < wanted - 1e-9
    return Searched(plants=plants, tried=tried, reached=not missing.any())


def whole_steps(start: Array, choices: Choices) -> Array:
    """Round a layout to whole steps within all limits."""
    step, low = choices.step, choices.low
    plants = np.clip(np.round(start / step) * step, low, choices.high)
    groups = np.bincount(choices.group, weights=plants, minlength=len(choices.group_high))
    over = (groups > choices.group_high + 1e-9)[choices.group]
    plants = np.where(over, np.maximum(np.floor(start / step) * step, low), plants)
    taken = area_taken(plants, choices).max(initial=0.0)
    if taken > choices.bed_m2:
        # Rounding up took too much room: less of everything, in proportion.
        part = np.floor(plants * choices.bed_m2 / taken / step) * step
        plants = np.maximum(part, low)
    return plants


class _OneCrop:
    """The work on one crop while the others stand still. Lives only while :func:`search` runs."""

    def __init__(
        self,
        crop: int,
        mine: Ints,
        per_plant: Array,
        kitchen: KitchenYear,
        choices: Choices,
        goals: Goals,
        year: YearResult,
        wanted: float,
    ) -> None:
        self.mine, self.choices, self.goals, self.wanted = mine, choices, goals, wanted
        self.kitchen = one_crop(kitchen, crop)
        bearing = per_plant[:, :, mine]
        self.mean = bearing.sum(axis=1).mean(axis=0)
        # Only the weeks in which the crop is picked or still lies there.
        weeks = np.flatnonzero(bearing.any(axis=(0, 2)))
        first = int(weeks[0]) if len(weeks) else 0
        last = int(weeks[-1]) + 2 + int(kitchen.keep_weeks[crop]) if len(weeks) else 1
        span = slice(first, min(last, per_plant.shape[1]))
        # Shape (weeks, options, futures): the looks below run over the last axis.
        self.per_plant = np.ascontiguousarray(bearing[:, span].transpose(1, 2, 0))
        self.fresh_weeks = goals.fresh_weeks[span, crop]
        self.goal = np.append(self.kitchen.need, goals.fresh_kg[crop])
        others = np.arange(len(kitchen.crops)) != crop
        futures = len(per_plant)
        hours = np.repeat(kitchen.hours[:, None], futures, axis=1)
        equipment = np.repeat(kitchen.equipment_h[:, :, None], futures, axis=2)
        self.room = Room(
            hours=(hours - year.hours_used[:, others].sum(axis=1))[span],
            equipment_h=(equipment - year.equipment_used[:, :, others].sum(axis=2))[:, span],
            freezer_l=kitchen.freezer_l - year.freezer_used[others].sum(axis=0),
        )

    def improve(self, plants: Array, *, deep: bool) -> tuple[Array, int]:
        """Return a better layout (only this crop's plants differ) and how many were looked at.

        ``deep``: when no single step helps, the least used varieties and dates are dropped in turn
        and the rest mended and trimmed again: that leads out of hollows which single steps cannot
        leave.
        """
        best, rank, looked = self._descend(plants)
        if not deep:
            return best, looked
        used = self.mine[best[self.mine] > self.choices.low[self.mine]]
        worth = best[used] * self.choices.area_m2[used]
        for option in used[np.argsort(worth, kind="stable")][:_DROPPED]:
            without = self._changed(best, option, -np.inf)
            other, other_rank, tried = self._descend(without)
            looked += tried
            if other_rank < rank:
                best, rank = other, other_rank
        return best, looked

    def _descend(self, plants: Array) -> tuple[Array, tuple[float, float], int]:
        """Take the best single step until none helps; return lack and cost of where that ends."""
        lack, cost = (float(one[0]) for one in self._look(plants[None]))
        looked = 1
        for _ in range(40):
            moves = self._moves(plants, lack > 1e-9)
            if not len(moves):
                break
            lacks, costs = self._look(moves)
            looked += len(moves)
            if lack > 1e-9:
                gain = np.where(lacks < lack - 1e-9, lack - lacks, -np.inf)
                best = int(np.argmax(gain / np.maximum(costs - cost, 0.02)))
                good = bool(gain[best] > 0)
            else:
                best = int(np.argmin(np.where(lacks <= 1e-9, costs, np.inf)))
                good = bool(lacks[best] <= 1e-9 and costs[best] < cost - 1e-9)
            if not good:
                break
            plants, lack, cost = moves[best], float(lacks[best]), float(costs[best])
        return plants, (round(lack, 9), round(cost, 9)), looked

    def _moves(self, plants: Array, lacking: bool) -> Array:
        """More of one option; where nothing is lacking also less, and plants moved between two."""
        choices, found = self.choices, []
        total = plants[self.mine].sum()
        bearing = self.mine[self.mean > 0]
        for option in bearing:
            step = choices.step[option]
            for share in (0.0, 0.05, 0.15):
                found.append(
                    self._changed(plants, option, step * max(1, round(share * total / step)))
                )
        if not lacking:
            for option in self.mine[plants[self.mine] > choices.low[self.mine]]:
                step = choices.step[option]
                for share in (0.0, 0.25, 1.0):
                    fewer = step * max(1, round(share * plants[option] / step))
                    less = self._changed(plants, option, -fewer)
                    found.append(less)
                    for rival in bearing[bearing != option]:
                        worth = self.mean[self.mine == option][0] / self.mean[self.mine == rival][0]
                        other = choices.step[rival]
                        for part in (0.8, 1.1):
                            more = other * max(1, round(part * fewer * worth / other))
                            found.append(self._changed(less, rival, more))
        layouts = np.array(found).reshape(-1, len(plants))
        apart = {one[self.mine].tobytes(): number for number, one in enumerate(layouts[::-1])}
        apart.pop(plants[self.mine].tobytes(), None)
        layouts = layouts[sorted(len(layouts) - 1 - number for number in apart.values())]
        return layouts[self._allowed(layouts, plants)]

    def _changed(self, plants: Array, option: int, change: float) -> Array:
        new = plants.copy()
        low, high = self.choices.low[option], self.choices.high[option]
        new[option] = min(max(new[option] + change, low), high)
        return new

    def _allowed(self, layouts: Array, now: Array) -> Flags:
        """Return which layouts keep the limits of varieties and beds, shape (layouts,)."""
        choices = self.choices
        member = (choices.group[:, None] == np.arange(len(choices.group_high))).astype(float)
        groups = layouts @ member <= choices.group_high + 1e-9
        room = max(choices.bed_m2, area_taken(now, choices).max(initial=0.0))
        beds = (layouts * choices.area_m2) @ choices.stands <= room + 1e-9
        return np.asarray(groups.all(axis=1) & beds.all(axis=1))

    def _look(self, layouts: Array) -> tuple[Array, Array]:
        """Return what each layout lacks of its targets, and its cost, shape (layouts,)."""
        weeks, _, futures = self.per_plant.shape
        number = len(layouts)
        picked = layouts[:, self.mine] @ self.per_plant
        order = np.tile(np.arange(len(self.kitchen.method_crop)), (weeks, 1))
        by_future = picked.reshape(weeks, 1, -1).transpose(2, 0, 1)
        year = run_year(by_future, self.kitchen, order, self.room)
        fresh = year.eaten[:, :, 0] @ self.fresh_weeks.astype(float)
        got = np.concatenate([year.jars, fresh[:, None]], axis=1).reshape(number, futures, -1)
        wanted = self.goal > 0
        share = np.divide(got, self.goal, out=np.ones_like(got), where=wanted)
        missing = np.maximum(self.wanted - (share >= 1 - 1e-6).mean(axis=1), 0.0)
        # How short the short seasons are guides the mending where counts alone stand still.
        tail = max(1 - self.wanted, 1 / futures)
        worst = np.maximum(1 - share, 0.0).mean(axis=1) / tail
        lack = np.where(missing > 1e-9, missing + 0.3 * worst, 0.0).sum(axis=1)
        areas = (layouts * self.choices.area_m2) @ self.choices.stands
        bed = areas.max(axis=1) + 0.01 * areas.mean(axis=1)
        glut = year.glut.sum(axis=1).reshape(number, futures).mean(axis=1)
        trouble = self.goals.planting_price * (layouts > 0).sum(axis=1)
        return lack, self.goals.bed_price * bed + self.goals.glut_price * glut + trouble


def want(done: Outcome, wanted: float) -> Array:
    """Return how badly each target is missed; 0 where it is met or there is none.

    Parameters
    ----------
    done : Outcome
        A layout on some futures.
    wanted : float
        Probability wanted.

    Returns
    -------
    ndarray, shape (targets,)
        The probability missing plus :data:`SHORT_WEIGHT` times the mean square of the share
        missing.
    """
    missing = np.maximum(wanted - np.nan_to_num(done.reliability, nan=1.0), 0.0)
    short = SHORT_WEIGHT * np.mean(done.short**2, axis=0)
    return np.asarray(np.where(missing > 1e-9, missing + short, 0.0))


def share_beds(
    plants: Array,
    per_plant: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    wanted: float,
    usual: Array,
) -> Array:
    """Return a layout within the bed area that gives up plants where they are missed least.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        A layout; it may take more bed than there is.
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    wanted : float
        Probability wanted of every target.
    usual : ndarray, shape (targets,)
        Bed and glut of meeting each target in a usual season, points.

    Returns
    -------
    ndarray, shape (options,)
        Whole steps of plants. Where even the plants that stand already take more than there is,
        these.
    """
    crops, parts = len(kitchen.crops), len(PARTS)
    of_crop = kitchen.target_crops
    kept = np.stack([_kept(part * plants, choices) for part in PARTS])
    # All crops keep the same part here: a crop's own want depends on the others by hours alone,
    # and fewer plants of the others only leave it more of these.
    done = [outcome(per_plant, one, kitchen, choices, goals) for one in kept]
    by_crop = np.zeros((crops, parts))
    np.add.at(by_crop, of_crop, np.stack([want(one, wanted) for one in done], axis=1))
    member = choices.crop == np.arange(crops)[:, None]  # (crops, options)
    area = np.stack([area_by_crop(one, choices, crops) for one in kept], axis=1)
    glut = np.stack(
        [_glut(per_plant, one, now, member) for one, now in zip(kept, done, strict=True)], axis=1
    )
    points = goals.bed_price * area.max(axis=2) + goals.glut_price * glut
    needs = np.bincount(of_crop, weights=usual, minlength=crops)
    # A crop whose targets are met, or nearly, keeps its plants; a hair breaks ties.
    far = np.zeros(crops, dtype=bool)
    np.logical_or.at(far, of_crop, np.nan_to_num(done[-1].reliability, nan=1.0) < wanted - FAR)
    price = np.where(far, LITTLE, 1e-6) / np.maximum(needs, 1e-9)
    cost = by_crop + price[:, None] * points
    model = Model()
    pick = model.columns((crops, parts), cost, high=1.0, whole=True)
    model.add(model.rows((crops, 1), 1.0, low=1.0), pick)
    beds = model.rows(area.shape[2], choices.bed_m2)
    model.add(beds[:, None, None], pick, area.transpose(2, 0, 1))
    try:
        found = Solver(model).solve(gap=1e-4)
    except (Infeasible, NotFound):
        return kept[0]
    part = np.argmax(found.x[pick], axis=1)
    return np.asarray(kept[part[choices.crop], np.arange(len(plants))])


def without_crumbs(plants: Array, choices: Choices) -> Array:
    """Leave out varieties and dates of a few plants, which only fill the last corner of a bed.

    Parameters
    ----------
    plants : ndarray, shape (options,)
        A layout.
    choices : Choices
        What can be planted; beds that stand already stay.
    """
    whole = np.bincount(choices.crop, weights=plants)[choices.crop]
    return np.where((plants < CRUMB * whole) & (choices.low == 0), 0.0, plants)


def _glut(per_plant: Array, plants: Array, done: Outcome, member: Flags) -> Array:
    """Return the mean glut of each crop: what was picked less all that became of it."""
    year = done.year
    picked = member @ (per_plant.sum(axis=1).mean(axis=0) * plants)
    used = year.eaten.sum(axis=1) + year.put_up + year.given + year.left
    return np.asarray(np.maximum(picked - used.mean(axis=0), 0.0))


def _kept(plants: Array, choices: Choices) -> Array:
    step = choices.step
    return np.clip(np.floor(plants / step + 1e-9) * step, choices.low, choices.high)
