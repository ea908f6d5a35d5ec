"""One draw's columns: what is put up, eaten, given away, fed, carried on or thrown out."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Flags, Index
from harvestcast.kitchen.solve import prices
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.matrix import Columns

PLACES = ("refrigerator", "cool_store")
"""Places whose room can run out; a counter has no limit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OptionArrays:
    """The options as arrays, one entry an option.

    ``kg``, ``jars``, ``pints``, ``lids``, ``freezer_l``, ``hours`` and ``equipment_h`` are per
    full batch; ``age`` is the oldest fruit it may use in whole days; ``crop`` a crop's number;
    ``oversize`` whether oversize fruit may be used; ``equipment`` and ``store`` are names.
    """

    kg: Array
    jars: Array
    pints: Array
    lids: Array
    freezer_l: Array
    hours: Array
    equipment_h: Array
    age: Index
    crop: Index
    oversize: Flags
    equipment: tuple[str, ...]
    store: tuple[str | None, ...]


def option_arrays(inputs: ProgrammeInputs) -> OptionArrays:
    """Return the options of a programme as arrays."""
    table = inputs.options
    crop = np.array([inputs.crops.index(c) for c in table["crop"].astype(str)], dtype=np.int64)
    age = np.floor(table["max_age_days"].to_numpy(float) + 1e-9).astype(np.int64)
    jars = table["jars_per_batch"].to_numpy(float)
    return OptionArrays(
        kg=table["kg_per_batch"].to_numpy(float),
        jars=jars,
        pints=jars * table["pint_jars_per_jar"].to_numpy(float),
        lids=table["lids_per_batch"].to_numpy(float),
        freezer_l=table["freezer_l_per_batch"].to_numpy(float),
        hours=table["hands_on_h"].to_numpy(float),
        equipment_h=table["equipment_h"].to_numpy(float),
        age=np.minimum(age, inputs.keep[crop]),
        crop=crop,
        oversize=table["takes_oversize"].to_numpy(bool),
        equipment=tuple(table["equipment"].astype(str)),
        store=tuple(prices.jar_store(jar) for jar in table["jar"]),
    )


def first_slot(inputs: ProgrammeInputs, day: int, age: int) -> int:
    """Return the first ready day (slot) that a use accepts which begins on some day."""
    return max(0, inputs.back + day - int(age))


def put_up_columns(
    inputs: ProgrammeInputs, own: Columns, table: OptionArrays, saves: float
) -> Index:
    """Add the kg put up in each span with each option from each grade; -1 where there is none.

    Whole batches carry the price of their hours; batches of later days are charged by the kg.
    """
    count = len(table.kg)
    put_up = np.full((len(inputs.spans), count, 2), -1, dtype=np.int64)
    for t, (begins, _) in enumerate(inputs.spans):
        for m in range(count):
            work = inputs.choices.hour * table.hours[m] / table.kg[m]
            cost = (0.0 if t < inputs.decided else work) - saves
            for grade in (0, 1) if table.oversize[m] else (0,):
                lane = inputs.lane_of(int(table.crop[m]), bool(grade))
                if lane is not None:
                    age = int(table.age[m])
                    first = first_slot(inputs, begins, age)
                    put_up[t, m, grade] = own.use(cost, np.inf, lane, t, age, first)
    return put_up


def fresh_columns(
    inputs: ProgrammeInputs, own: Columns, saves: float
) -> tuple[Index, Index, Index]:
    """Add the kg eaten fresh, given away and fed to animals; -1 where there is none.

    Oversize fruit is eaten only beyond what is enjoyed, and is not given away; one ceiling holds
    for both (:func:`harvestcast.kitchen.solve.rows.ceiling_rows`).
    """
    days, crops, choices = len(inputs.spans), len(inputs.crops), inputs.choices
    length = inputs.length
    eat = np.full((days, crops, 3), -1, dtype=np.int64)
    give = np.full((days, crops), -1, dtype=np.int64)
    animals = np.full((days, crops, 2), -1, dtype=np.int64)
    worth = choices.fresh_kg
    enjoyed, ceiling, given, fed = (
        inputs.fresh[name].to_numpy(float)
        for name in ("eat_kg_day", "eat_at_most_kg_day", "give_kg_day", "animals_kg_day")
    )
    more = np.maximum(0.0, ceiling - enjoyed)

    def use(cost: float, upper: float, lane: int | None, day: int) -> int:
        if lane is None or upper <= 0:
            return -1
        age = int(inputs.keep[inputs.lane_crop[lane]])
        first = first_slot(inputs, inputs.spans[day][0], age)
        return own.use(cost - saves, upper * length[day], lane, day, age, first)

    fed_price = prices.ANIMALS_SHARE * choices.spoiled_kg
    for c in range(crops):
        good, big = inputs.lane_of(c, False), inputs.lane_of(c, True)
        for t in range(days):
            eat[t, c, 0] = use(-worth, enjoyed[c], good, t)
            eat[t, c, 1] = use(-prices.CEILING_SHARE * worth, more[c], good, t)
            eat[t, c, 2] = use(-prices.CEILING_SHARE * worth, more[c], big, t)
            give[t, c] = use(-prices.GIVEN_SHARE * worth, given[c], good, t)
            animals[t, c] = [use(fed_price, fed[c], lane, t) for lane in (good, big)]
    return eat, give, animals


def lying_columns(inputs: ProgrammeInputs, own: Columns) -> tuple[Index, Index]:
    """Add what is thrown out for want of room and what lies there overnight, kg.

    Only lanes kept in a place whose room is limited have these columns; -1 elsewhere.
    """
    shape = (len(inputs.spans), inputs.lanes)
    discard, lying = np.full(shape, -1, dtype=np.int64), np.full(shape, -1, dtype=np.int64)
    for lane in limited_lanes(inputs):
        for t in range(len(inputs.spans)):
            discard[t, lane] = own.add(0.0)
            lying[t, lane] = own.add(0.0)
    return discard, lying


def limited_lanes(inputs: ProgrammeInputs) -> list[int]:
    """Return the lanes kept in a place whose room is limited."""
    places = inputs.fresh["place"].astype(str).to_numpy()
    litres = inputs.fresh["litres_per_kg"].to_numpy(float)
    return [
        lane
        for lane, c in enumerate(inputs.lane_crop)
        if places[c] in PLACES
        and litres[c] > 0
        and not np.isnan(inputs.capacity.store(f"{places[c]}_l"))
    ]
