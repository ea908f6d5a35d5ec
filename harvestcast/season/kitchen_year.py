"""A kitchen's year as arrays, and how a household works through the picks week by week.

The week-by-week rule decides each week without knowing the next ones: it eats first, puts up for
targets that are still short (crops whose season is ending first), eats and gives away more of what
would otherwise spoil, and carries the rest as long as it keeps. Reliability and glut are counted by
this rule, so that they do not profit from hindsight as a programme over the whole season would.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index
from harvestcast.kitchen.handbook.products import FOR_THE_WEEK_DAYS, PINTS, product
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import SEASON_END, fresh_use, wanted_jars
from harvestcast.kitchen.household.pantry import shelf
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.records.household import WEEKDAYS, Household
from harvestcast.season.messages import Said, said
from harvestcast.words.crops import crop_word

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


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
        return (*self.labels, *(f"{crop_word(crop)} for the table" for crop in self.crops))

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
    kitchen : KitchenYear
        The household.
    eaten : ndarray, shape (futures, weeks, crops)
        Eaten fresh, up to the appetite. [kg]
    jars : ndarray, shape (futures, products)
        Put up. [jars]
    made : ndarray, shape (weeks, methods, futures)
        Put up in each way. [kg]
    more, spoiled : ndarray, shape (weeks, crops, futures)
        Eaten beyond the appetite or given away; neither eaten, given nor put up, and spoiled. [kg]
    left : ndarray, shape (futures, crops)
        Still good after the last week. [kg]
    """

    kitchen: KitchenYear
    eaten: Array
    jars: Array
    made: Array
    more: Array
    spoiled: Array
    left: Array

    @property
    def glut(self) -> Array:
        """Spoiled, all crops together, shape (futures, weeks). [kg]."""
        return np.asarray(self.spoiled.sum(axis=1).T)

    @property
    def given(self) -> Array:
        """Eaten beyond the appetite or given away, shape (futures, crops). [kg]."""
        return np.asarray(self.more.sum(axis=0).T)

    @property
    def hours(self) -> Array:
        """Hands-on hours of the season, shape (futures,). [h]."""
        return np.asarray(self.kitchen.hours_per_kg @ self.made.sum(axis=0))

    @property
    def hours_used(self) -> Array:
        """Hands-on hours by week and crop, shape (weeks, crops, futures). [h]."""
        return self._by_crop(self.kitchen.hours_per_kg)

    @property
    def equipment_used(self) -> Array:
        """Hours of each kind of equipment, shape (kinds, weeks, crops, futures). [h]."""
        kinds = np.arange(len(self.kitchen.kinds))
        each = [
            self._by_crop(self.kitchen.equipment_h_per_kg * (self.kitchen.equipment == kind))
            for kind in kinds
        ]
        return np.array(each).reshape(len(kinds), *self.more.shape)

    @property
    def freezer_used(self) -> Array:
        """Freezer space, shape (crops, futures). [l]."""
        return np.asarray(self._by_crop(self.kitchen.freezer_l_per_kg).sum(axis=0))

    @property
    def put_up(self) -> Array:
        """Put up, shape (futures, crops). [kg]."""
        return np.asarray(self.put_up_by_week.sum(axis=0).T)

    @property
    def put_up_by_week(self) -> Array:
        """Put up, shape (weeks, crops, futures). [kg]."""
        return self._by_crop(np.ones(self.made.shape[1]))

    def _by_crop(self, per_kg: Array) -> Array:
        found = np.zeros_like(self.more)
        for method, crop in enumerate(self.kitchen.method_crop):
            if per_kg[method] > 0:
                found[:, crop] += per_kg[method] * self.made[:, method]
        return found


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
    eaten, given, spoiled = (np.zeros((weeks, crops, futures)) for _ in range(3))
    made = np.zeros((weeks, len(kitchen.method_crop), futures))
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
            if kind >= 0:
                in_use[kind] -= mass * kitchen.equipment_h_per_kg[method]
            if kitchen.freezer_l_per_kg[method] > 0:
                freezer -= mass * kitchen.freezer_l_per_kg[method]
            left[product] = np.maximum(left[product] - mass * rate, 0.0)
            made[week, method] = mass
            there[crop] -= mass
            if kitchen.fresh_only[method]:
                newest[crop] -= mass
                come[week + 1, crop] -= mass
            else:
                gone[crop] += mass
        # What will not keep another week: eat more of it, give it away, or lose it.
        due = come[np.maximum(week + 1 - keep, 0), place]
        ending = np.maximum(due - gone, 0.0)
        given[week] = np.minimum(ending, extra)
        spoiled[week] = ending - given[week]
        gone = np.maximum(gone, due)
    return YearResult(
        kitchen=kitchen,
        eaten=eaten.transpose(2, 0, 1),
        jars=(kitchen.need[:, None] - left).T,
        made=made,
        more=given,
        spoiled=spoiled,
        left=np.maximum(come[weeks] - gone, 0.0).T,
    )


def _within(mass: Array, room: Array, per_kg: float) -> Array:
    return np.minimum(mass, np.maximum(room, 0.0) / per_kg) if per_kg > 0 else mass


FRESH_DAYS = 5.0
"""A product that wants fruit no older than this is put up from fruit of the same week."""


def jars_to_put_up(garden: Garden, year: int) -> pd.DataFrame:
    """Return the jars to put up in a coming season, product by product.

    A year's target, less what will still stand on the shelf and be good when that season ends:
    today's stock eaten at the present pace, or at a year's target a year where no pace is known.
    What this season is still to add is taken to be eaten by then.

    Parameters
    ----------
    garden : Garden
        The garden.
    year : int
        The coming season.

    Returns
    -------
    pandas.DataFrame
        Columns product, label, crop, need, stock (today), left (then), all in jars of the usual
        size, end (the day then) and paced (whether the pantry book shows how fast they are
        eaten); products without a target are left out.
    """
    today = garden.last_day or garden.seasons.span(year).start
    wanted = wanted_jars(garden, today)
    wanted = wanted[wanted["target_jars"] > 0]
    end = shelf_day(garden, year)
    weeks = max((end - today).days / 7, 0.0)
    target = wanted["target_jars"].to_numpy(float)
    pace = wanted["eaten_jars_week"].to_numpy(float)
    paced = pace > 0
    pace = np.where(paced, pace, target / 52)
    stock = wanted["stock_jars"].to_numpy(float)
    shelves = shelf(garden, today)
    good = shelves[shelves["best_by"] >= end].groupby("product")["jars"].sum()
    # As for this season: the oldest are eaten first, and what is past its day does not count.
    left = np.minimum(
        np.array([float(good.get(str(key), 0.0)) for key in wanted["product"]]),
        np.maximum(stock - pace * weeks, 0.0),
    )
    need = np.maximum(target - left, 0.0)
    return pd.DataFrame(
        {
            "product": wanted["product"].astype(str).to_numpy(),
            "label": wanted["label"].astype(str).to_numpy(),
            "crop": [product(str(key)).crop for key in wanted["product"]],
            "need": need,
            "stock": stock,
            "left": left,
            "end": end,
            "paced": paced,
        }
    )


def shelf_day(garden: Garden, season: int) -> pd.Timestamp:
    """Return the day on which putting up ends in a season: the usual first frost of autumn."""
    usual = SEASON_END[garden.seasons.hemisphere]
    return garden.seasons.day(garden.household.first_frost or usual, season)


def shelf_line(jars: pd.DataFrame) -> Said | None:
    """Say how much of today's shelf counts towards next season's targets; None where none stands.

    Parameters
    ----------
    jars : pandas.DataFrame
        Table of :func:`jars_to_put_up`.
    """
    mine = jars[jars["stock"] >= 0.5]
    if mine.empty:
        return None
    counts = list(zip(mine["label"], mine["left"], mine["stock"], strict=True))
    unknown = mine.loc[~mine["paced"].astype(bool), "label"].astype(str).tolist()
    return said("shelf.counts", day=mine["end"].iloc[0], counts=counts, unknown=unknown)


def kitchen_year(
    garden: Garden, crops: Sequence[str], weeks: pd.DatetimeIndex, jars: pd.DataFrame
) -> KitchenYear:
    """Return the kitchen of a coming season.

    Parameters
    ----------
    garden : Garden
        The garden.
    crops : sequence of str
        Crops of the plan, in order.
    weeks : DatetimeIndex
        Mondays of the weeks of the plan.
    jars : pandas.DataFrame
        Table of :func:`jars_to_put_up`.

    Returns
    -------
    KitchenYear
        Products that this household has no safe way of putting up are left out.
    """
    household = garden.household
    fresh = fresh_use(garden, crops).set_index("crop").loc[list(crops)]
    ways = best_ways(garden, jars[jars["crop"].isin(list(crops))])
    names = [name for name in jars["product"] if name in set(ways["product"])]
    kept = jars.set_index("product").loc[names]
    capacity = capacity_of(household, weeks[0], 7 * len(weeks))
    daily = capacity.daily
    week = np.arange(len(daily)) // 7
    kinds = tuple(kind for kind in capacity.kinds if f"{kind}_h" in daily)
    age = ways["max_age_days"].to_numpy(float)
    freezer = capacity.store("freezer_l")
    return KitchenYear(
        crops=tuple(crops),
        eat=7 * fresh["eat_kg_day"].to_numpy(float),
        most=7 * fresh["eat_at_most_kg_day"].to_numpy(float),
        give=7 * (fresh["give_kg_day"] + fresh["animals_kg_day"]).to_numpy(float),
        keep_weeks=_keep_weeks(fresh["keep_days"].to_numpy(float)),
        products=tuple(names),
        labels=tuple(str(label) for label in kept["label"]),
        need=kept["need"].to_numpy(float),
        method_product=np.array([names.index(p) for p in ways["product"]], dtype=np.int64),
        method_crop=np.array([list(crops).index(c) for c in ways["crop"]], dtype=np.int64),
        jars_per_kg=ways["jars_per_kg"].to_numpy(float),
        hours_per_kg=ways["hours_per_kg"].to_numpy(float),
        equipment_h_per_kg=ways["equipment_h_per_kg"].to_numpy(float),
        freezer_l_per_kg=ways["freezer_l_per_kg"].to_numpy(float),
        equipment=np.array(
            [kinds.index(k) if k in kinds else -1 for k in ways["equipment"]], dtype=np.int64
        ),
        fresh_only=age < FRESH_DAYS,
        usable=np.array([usable_share(household, float(a)) for a in age]),
        hours=_weekly(daily["hands_on_h"], week),
        kinds=kinds,
        equipment_h=np.array([_weekly(daily[f"{kind}_h"], week) for kind in kinds]).reshape(
            len(kinds), len(weeks)
        ),
        freezer_l=float("inf") if np.isnan(freezer) else freezer,
    )


def keep_weeks_of(garden: Garden, crops: Sequence[str]) -> list[int]:
    """Return the whole weeks that each crop keeps after the week of its pick."""
    if not crops:
        return []
    fresh = fresh_use(garden, crops).set_index("crop").loc[list(crops)]
    return [int(one) for one in _keep_weeks(fresh["keep_days"].to_numpy(float))]


def _weekly(daily: pd.Series, week: Index) -> Array:
    return np.asarray(np.bincount(week, weights=daily.to_numpy(float)), dtype=np.float64)


def _keep_weeks(days: Array) -> Index:
    """Whole weeks after that of the pick: fruit of mid-week that keeps half a week more counts."""
    return np.floor(days / 7 + 0.5).astype(np.int64)


def usable_share(household: Household, age_days: float) -> float:
    """Return the share of a week's picks with kitchen hours within the days the fruit may wait.

    Examples
    --------
    >>> usable_share(Household(hours={"saturday": 4, "sunday": 2}), 1.0)
    0.42857142857142855
    """
    given: dict[str, float] = {str(k): float(v) for k, v in household.hours.items()}
    hours = np.array([given.get(day, 0.0) > 0 for day in WEEKDAYS])
    wait = int(min(age_days, 6))
    near = [hours[(first + np.arange(wait + 1)) % 7].any() for first in range(7)]
    return float(np.mean(near))


def best_ways(garden: Garden, jars: pd.DataFrame) -> pd.DataFrame:
    """Return, per wanted product, the way that takes the fewest hands-on hours a jar.

    Parameters
    ----------
    garden : Garden
        The garden.
    jars : pandas.DataFrame
        Table of :func:`jars_to_put_up`.

    Returns
    -------
    pandas.DataFrame
        Rows of :func:`harvestcast.kitchen.week.options.weekly_options` with ``jars_per_kg`` (of the
        product's usual size), ``hours_per_kg``, ``equipment_h_per_kg`` and ``freezer_l_per_kg``; a
        product that can be put up in no way has none.
    """
    options = weekly_options(garden)
    options = options[options["product"].isin(jars["product"])]
    options = options[options["best_by_days"] > FOR_THE_WEEK_DAYS]
    usual = np.array([PINTS[product(str(p)).usual_jar] for p in options["product"]], float)
    kg = options["kg_per_batch"].to_numpy(float)
    table = options.assign(
        jars_per_kg=options["jars_per_batch"] * options["pint_jars_per_jar"] / (kg * usual),
        hours_per_kg=options["hands_on_h"] / kg,
        equipment_h_per_kg=options["equipment_h"] / kg,
        freezer_l_per_kg=options["freezer_l_per_batch"] / kg,
    )
    table["hours_per_jar"] = table["hours_per_kg"] / table["jars_per_kg"]
    table = table.sort_values(["product", "hours_per_jar", "option"], kind="stable")
    return table.groupby("product", sort=True).head(1).reset_index(drop=True)
