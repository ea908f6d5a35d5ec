"""A kitchen's year as arrays, and how a household works through the picks week by week.

The week-by-week rule decides each week without knowing the next ones: it eats first, puts up for
targets that are still short (crops whose season is ending first), eats and gives away more of what
would otherwise spoil, and carries the rest as long as it keeps. Reliability and glut are counted by
this rule, so that they do not profit from hindsight as a programme over the whole season would.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from harvestcast.arrays import Array, Flags, Index

Ints = Index


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KitchenYear:
    """What the household can use, per week; amounts in kg, hours, jars of the usual size.

    Parameters
    ----------
    crops : tuple of str
        Crops, in the order of all arrays.
    eat, most, give : ndarray, shape (crops,)
        Eaten a week, eaten at most a week, given away or fed to animals at most a week. [kg]
    keep_weeks : ndarray of int, shape (crops,)
        Weeks after the week of the pick in which it can still be used.
    products, labels : tuple of str
        Products with a target.
    need : ndarray, shape (products,)
        Jars wanted. [jars]
    method_product, method_crop : ndarray of int, shape (methods,)
        What each way of putting up makes, and of what.
    jars_per_kg, hours_per_kg, equipment_h_per_kg, freezer_l_per_kg : ndarray, shape (methods,)
        Per kilogram as picked.
    equipment : ndarray of int, shape (methods,)
        Kind of equipment; -1 where none is counted.
    fresh_only : ndarray of bool, shape (methods,)
        Whether only fruit of the same week will do.
    usable : ndarray, shape (methods,)
        Share of a week's picks that is put up in time where only fresh fruit will do: less than 1
        where no kitchen hours fall within the days it may wait.
    hours : ndarray, shape (weeks,)
        Hands-on hours.
    kinds : tuple of str
        Kinds of equipment.
    equipment_h : ndarray, shape (kinds, weeks)
        Hours each kind can be in use.
    freezer_l : float
        Freezer space for the season. [l]
    """

    crops: tuple[str, ...]
    eat: Array
    most: Array
    give: Array
    keep_weeks: Ints
    products: tuple[str, ...]
    labels: tuple[str, ...]
    need: Array
    method_product: Ints
    method_crop: Ints
    jars_per_kg: Array
    hours_per_kg: Array
    equipment_h_per_kg: Array
    freezer_l_per_kg: Array
    equipment: Ints
    fresh_only: Flags
    usable: Array
    hours: Array
    kinds: tuple[str, ...]
    equipment_h: Array
    freezer_l: float

    @property
    def weeks(self) -> int:
        """Number of weeks."""
        return len(self.hours)

    @property
    def target_labels(self) -> tuple[str, ...]:
        """What every target is called: products first, then crops for the table."""
        return (*self.labels, *(f"{crop} for the table" for crop in self.crops))

    @property
    def target_crops(self) -> Ints:
        """The crop of every target, in the same order."""
        crops = np.zeros(len(self.products), dtype=np.int64)
        crops[self.method_product] = self.method_crop
        return np.concatenate([crops, np.arange(len(self.crops))])


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class YearResult:
    """What a household made of many possible seasons.

    Parameters
    ----------
    eaten : ndarray, shape (futures, weeks, crops)
        Eaten fresh, up to the appetite. [kg]
    jars : ndarray, shape (futures, products)
        Put up. [jars]
    glut : ndarray, shape (futures, weeks)
        Neither eaten, given away nor put up, and spoiled. [kg]
    hours_used : ndarray, shape (weeks, crops, futures)
        Hands-on hours by week and crop. [h]
    equipment_used : ndarray, shape (kinds, weeks, crops, futures)
        Hours of each kind of equipment. [h]
    freezer_used : ndarray, shape (crops, futures)
        Freezer space. [l]
    put_up, given : ndarray, shape (futures, crops)
        Put up; eaten beyond the appetite or given away. [kg]
    left : ndarray, shape (futures, crops)
        Still good after the last week. [kg]
    """

    eaten: Array
    jars: Array
    glut: Array
    hours_used: Array
    equipment_used: Array
    freezer_used: Array
    put_up: Array
    given: Array
    left: Array

    @property
    def hours(self) -> Array:
        """Hands-on hours of the season, shape (futures,). [h]."""
        return np.asarray(self.hours_used.sum(axis=(0, 1)))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Room:
    """Hours, equipment and freezer that are free in each future: what other crops leave.

    ``hours`` has shape (weeks, futures), ``equipment_h`` (kinds, weeks, futures), ``freezer_l``
    (futures,). Where a layout is looked at in many forms, the futures come round again for each.
    """

    hours: Array
    equipment_h: Array
    freezer_l: Array


def one_crop(kitchen: KitchenYear, crop: int) -> KitchenYear:
    """Return the kitchen of one crop alone."""
    ways = np.flatnonzero(kitchen.method_crop == crop)
    made = np.unique(kitchen.method_product[ways])
    here = np.array([crop])
    return replace(
        kitchen,
        crops=(kitchen.crops[crop],),
        eat=kitchen.eat[here],
        most=kitchen.most[here],
        give=kitchen.give[here],
        keep_weeks=kitchen.keep_weeks[here],
        products=tuple(kitchen.products[p] for p in made),
        labels=tuple(kitchen.labels[p] for p in made),
        need=kitchen.need[made],
        method_product=np.searchsorted(made, kitchen.method_product[ways]),
        method_crop=np.zeros(len(ways), dtype=np.int64),
        jars_per_kg=kitchen.jars_per_kg[ways],
        hours_per_kg=kitchen.hours_per_kg[ways],
        equipment_h_per_kg=kitchen.equipment_h_per_kg[ways],
        freezer_l_per_kg=kitchen.freezer_l_per_kg[ways],
        equipment=kitchen.equipment[ways],
        fresh_only=kitchen.fresh_only[ways],
        usable=kitchen.usable[ways],
    )


def ending_order(picked: Array, kitchen: KitchenYear) -> Ints:
    """Return, per week, the methods in the order in which they are served.

    A crop that brings a large share of what it will still bring goes first: it cannot wait.

    Parameters
    ----------
    picked : ndarray, shape (weeks, crops)
        Usual picks: the mean over futures. [kg]
    kitchen : KitchenYear
        The kitchen.

    Returns
    -------
    ndarray of int, shape (weeks, methods)
    """
    to_come = np.cumsum(picked[::-1], axis=0)[::-1]
    share = np.divide(picked, to_come, out=np.zeros_like(picked), where=to_come > 0)
    return np.argsort(-share[:, kitchen.method_crop], axis=1, kind="stable")


def run_year(
    picked: Array, kitchen: KitchenYear, order: Ints | None = None, room: Room | None = None
) -> YearResult:
    """Work through many seasons, week by week, without knowing the weeks to come.

    Parameters
    ----------
    picked : ndarray, shape (futures, weeks, crops)
        Picked each week. [kg]
    kitchen : KitchenYear
        The kitchen.
    order : ndarray of int, shape (weeks, methods), optional
        Order of serving; default: :func:`ending_order` of the mean over futures.
    room : Room, optional
        Hours, equipment and freezer per future, where they differ from the kitchen's own.

    Returns
    -------
    YearResult
        Per future and crop, what was picked equals what was eaten, given, put up, spoiled and
        left.
    """
    futures, weeks, crops = picked.shape
    order = ending_order(picked.mean(axis=0), kitchen) if order is None else order
    # The oldest fruit goes first, so two sums say what lies there and how old it is: what has come
    # so far (less what wanted fruit of its own week), and what of that is gone, used or spoiled.
    come, gone = np.zeros((weeks + 1, crops, futures)), np.zeros((crops, futures))
    keep = np.minimum(kitchen.keep_weeks, weeks)
    picks = np.ascontiguousarray(picked.transpose(1, 2, 0))  # (weeks, crops, futures)
    left = np.repeat(kitchen.need[:, None], futures, axis=1)
    if room is None:
        room = Room(
            hours=kitchen.hours[:, None],
            equipment_h=kitchen.equipment_h[:, :, None],
            freezer_l=np.array([kitchen.freezer_l]),
        )
    rounds = futures // len(room.freezer_l)
    counted = np.unique(kitchen.equipment[kitchen.equipment >= 0])
    freezer = np.tile(room.freezer_l, rounds)
    eaten = np.zeros((weeks, crops, futures))
    glut = np.zeros((weeks, futures))
    kinds = len(kitchen.kinds)
    hours_used = np.zeros((weeks, crops, futures))
    equipment_used = np.zeros((kinds, weeks, crops, futures))
    freezer_used = np.zeros((crops, futures))
    put_up, given = np.zeros((crops, futures)), np.zeros((crops, futures))
    place = np.arange(crops)
    extra = (np.maximum(kitchen.most - kitchen.eat, 0) + kitchen.give)[:, None]
    for week in range(weeks):
        come[week + 1] = come[week] + picks[week]
        there = np.maximum(come[week + 1] - gone, 0.0)
        newest = picks[week].copy()
        eaten[week] = np.minimum(there, kitchen.eat[:, None])
        there -= eaten[week]
        gone += eaten[week]
        if order.shape[1]:
            hours = np.tile(room.hours[week], rounds)
            in_use = {kind: np.tile(room.equipment_h[kind, week], rounds) for kind in counted}
        for method in order[week]:
            crop, product = kitchen.method_crop[method], kitchen.method_product[method]
            rate = kitchen.jars_per_kg[method]
            if kitchen.fresh_only[method]:
                here = np.minimum(newest[crop], kitchen.usable[method] * picks[week, crop])
                here = np.minimum(here, there[crop])
            else:
                here = there[crop]
            mass = np.minimum(here, left[product] / rate)
            if not mass.any():
                continue
            # Products of one crop share it by what each still wants.
            rivals = np.flatnonzero(kitchen.method_crop == crop)
            if len(rivals) > 1:
                wants = left[kitchen.method_product[rivals]] / kitchen.jars_per_kg[rivals][:, None]
                mine = left[product] / rate
                fair = here * mine / np.maximum(wants.sum(axis=0), 1e-12)
                mass = np.minimum(mass, np.maximum(fair, here - (wants.sum(axis=0) - mine)))
            mass = _within(mass, hours, kitchen.hours_per_kg[method])
            kind = kitchen.equipment[method]
            if kind >= 0:
                mass = _within(mass, in_use[kind], kitchen.equipment_h_per_kg[method])
            mass = _within(mass, freezer, kitchen.freezer_l_per_kg[method])
            hours -= mass * kitchen.hours_per_kg[method]
            hours_used[week, crop] += mass * kitchen.hours_per_kg[method]
            if kind >= 0:
                in_use[kind] -= mass * kitchen.equipment_h_per_kg[method]
                equipment_used[kind, week, crop] += mass * kitchen.equipment_h_per_kg[method]
            if kitchen.freezer_l_per_kg[method] > 0:
                freezer -= mass * kitchen.freezer_l_per_kg[method]
                freezer_used[crop] += mass * kitchen.freezer_l_per_kg[method]
            left[product] = np.maximum(left[product] - mass * rate, 0.0)
            put_up[crop] += mass
            there[crop] -= mass
            if kitchen.fresh_only[method]:
                newest[crop] -= mass
                come[week + 1, crop] -= mass
            else:
                gone[crop] += mass
        # What will not keep another week: eat more of it, give it away, or lose it.
        due = come[np.maximum(week + 1 - keep, 0), place]
        ending = np.maximum(due - gone, 0.0)
        more = np.minimum(ending, extra)
        given += more
        glut[week] = (ending - more).sum(axis=0)
        gone = np.maximum(gone, due)
    return YearResult(
        eaten=eaten.transpose(2, 0, 1),
        jars=(kitchen.need[:, None] - left).T,
        glut=glut.T,
        hours_used=hours_used,
        equipment_used=equipment_used,
        freezer_used=freezer_used,
        put_up=put_up.T,
        given=given.T,
        left=np.maximum(come[weeks] - gone, 0.0).T,
    )


def _within(mass: Array, room: Array, per_kg: float) -> Array:
    return np.minimum(mass, np.maximum(room, 0.0) / per_kg) if per_kg > 0 else mass
