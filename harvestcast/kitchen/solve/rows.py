"""The programme's rows, one function for each kind of limit."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from scipy import sparse

from harvestcast.arrays import Array, Index
from harvestcast.kitchen.household.capacity import (
    CANNER_HOURS_PER_DAY,
    JAR_SIZES,
    WITHOUT_HOURS,
    dryer_day,
    hours_per_piece,
)
from harvestcast.kitchen.solve import prices
from harvestcast.kitchen.solve.columns import PLACES, OptionArrays, limited_lanes
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.matrix import Columns, Matrix, Terms


def span_name(inputs: ProgrammeInputs, span: int) -> str:
    """Return a span of days in household words.

    A day is called by its weekday and date: ``Friday 7 August``.
    """
    first, last = (inputs.capacity.dates[day] for day in inputs.spans[span])
    begins = f"{first:%A} {first.day} {first:%B}"
    return begins if first == last else f"{begins} to {last:%A} {last.day} {last:%B}"


def per_kg(put_up: Index, amount: Array) -> Terms:
    """Return the terms of an amount per kg of each option, over some days.

    Parameters
    ----------
    put_up : numpy.ndarray
        Columns, shape (days, options, 2), -1 where none.
    amount : numpy.ndarray
        Amount per kg, shape (options,).
    """
    where = np.nonzero((put_up >= 0) & (amount != 0)[None, :, None])
    return list(zip(put_up[where].tolist(), amount[where[1]].tolist(), strict=True))


def day_terms(
    batches: Index, put_up: Index, table: OptionArrays, day: int
) -> Callable[[Array], Terms]:
    """Return a function that gives one day's terms of an amount per batch.

    Whole batches where the day is decided; else kg put up over kg of a full batch.
    """

    def terms(amount: Array) -> Terms:
        if day < len(batches):
            return [(int(batches[day, m]), float(v)) for m, v in enumerate(amount) if v != 0]
        return per_kg(put_up[day : day + 1], amount / table.kg)

    return terms


def hours_rows(
    inputs: ProgrammeInputs,
    table: OptionArrays,
    day: int,
    to: Matrix,
    terms: Callable[[Array], Terms],
) -> None:
    """Hands-on hours of a day, and hours of each canner.

    An option whose equipment the household lacks finds no hours at all.
    """
    name = span_name(inputs, day)
    first, last = inputs.spans[day]
    hours = float(inputs.capacity.hours[first : last + 1].sum())
    to.row(hours, f"hands-on hours on {name}", own=terms(table.hours))
    if np.isfinite(inputs.capacity.stove):
        # Canners of any kind share the places on the stove.
        boils = np.array([kind.endswith("canner") for kind in table.equipment], dtype=bool)
        to.row(
            inputs.capacity.stove * CANNER_HOURS_PER_DAY * (last - first + 1),
            f"places on the stove on {name}",
            own=terms(np.where(boils, table.equipment_h, 0.0)),
        )
    for kind in sorted(set(table.equipment) - set(WITHOUT_HOURS) - {"dryer", "crock"}):
        mine = np.array([kind == other for other in table.equipment])
        # Batches that hold a missing piece for no time at all would slip through a row of hours.
        amount = np.where(mine, np.maximum(table.equipment_h, 1e-3), 0.0)
        limit = inputs.capacity.number_of(kind) * hours_per_piece(kind) * (last - first + 1)
        to.row(limit, f"hours of the {kind.replace('_', ' ')} on {name}", own=terms(amount))


def dryer_rows(
    inputs: ProgrammeInputs,
    table: OptionArrays,
    day: int,
    common: Matrix,
    rows: Matrix,
    terms: Callable[[Array], Terms],
    over: dict[int, int],
) -> None:
    """Hours of the dryer on a day; the last load may run over midnight.

    What runs past seven in the morning (column ``over``) is taken from the next day.
    """
    mine = np.array([kind == "dryer" for kind in table.equipment])
    if not mine.any():
        return
    number = inputs.capacity.number_of("dryer")
    hours, past = dryer_day(float(table.equipment_h[mine].max()))
    hours *= inputs.length[day]
    name = f"hours of the dryer on {span_name(inputs, day)}"
    work = terms(np.where(mine, np.maximum(table.equipment_h, 1e-3), 0.0))
    before = [(over[day - 1], 1.0)] if day > 0 else []
    after = [(over[day], -1.0)]
    decided = inputs.decided
    if day < decided:
        common.row(number * hours, name, own=work + before + after)
        common.row(number * past, name, own=[(over[day], 1.0)])
    else:
        linked = before if day == decided else []
        own = work + after + ([] if day == decided else before)
        rows.row(number * hours, name, own=own, link=linked)
        rows.row(number * past, name, own=[(over[day], 1.0)])


def crock_rows(
    inputs: ProgrammeInputs,
    table: OptionArrays,
    day: int,
    common: Matrix,
    rows: Matrix,
    batches: Index,
    put_up: Index,
) -> None:
    """Crocks that stand occupied on a day: a batch begun holds its crock for all its days."""
    mine = np.array([kind == "crock" for kind in table.equipment])
    if not mine.any():
        return
    lasts = np.maximum(1, np.ceil(table.equipment_h / 24.0)).astype(int)
    begins = [first for first, _ in inputs.spans]
    last = inputs.spans[day][1]
    length = last - begins[day] + 1
    decided = inputs.decided
    whole: Terms = []
    own: Terms = []
    for m in np.flatnonzero(mine):
        for t in range(day + 1):
            if t < day and begins[t] + lasts[m] <= last:
                continue  # ready before the span is over, so its crock can be filled again
            # Within a longer span one crock may be filled several times.
            share = 1.0 / np.ceil(length / lasts[m]) if t == day else 1.0
            if t < decided:
                whole.append((int(batches[t, m]), share))
            else:
                own += [(int(c), share / table.kg[m]) for c in put_up[t, m] if c >= 0]
    name = f"crocks free on {span_name(inputs, day)}"
    limit = inputs.capacity.number_of("crock")
    if day < decided:
        common.row(limit, name, own=whole)
    else:
        rows.row(limit, name, own=own, link=whole)


def store_rows(
    inputs: ProgrammeInputs,
    table: OptionArrays,
    rows: Matrix,
    common: Matrix,
    put_up: Index,
    buy: Index,
) -> None:
    """Jars, lids and bags in stock or bought, and litres of the freezer, over the whole plan."""
    bought = dict(zip(prices.BUYABLE, (int(c) for c in buy), strict=True))
    for name in prices.BUYABLE:
        stock = inputs.capacity.store(name)
        if np.isnan(stock):
            continue
        if name == "lids":
            amount = table.lids
            # A jar that is bought comes with its first lid.
            sources = [bought["lids"], *(bought[size] for size in JAR_SIZES)]
        else:
            amount = np.where([store == name for store in table.store], table.jars, 0.0)
            sources = [bought[name]]
        rows.row(
            stock,
            f"{name.replace('_', ' ')} in stock",
            own=per_kg(put_up, amount / table.kg),
            link=[(column, -1.0) for column in sources],
        )
    freezer = inputs.capacity.store("freezer_l")
    if not np.isnan(freezer):
        rows.row(
            freezer, "litres free in the freezer", own=per_kg(put_up, table.freezer_l / table.kg)
        )
    most = inputs.choices.most_purchase
    if most is not None:
        common.row(most, "jars and lids bought at most", own=[(int(c), 1.0) for c in buy])


def ceiling_rows(inputs: ProgrammeInputs, rows: Matrix, eat: Index) -> None:
    """Fresh use beyond what is enjoyed: good and oversize fruit share one ceiling.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What the programme is told.
    rows : Matrix
        Each draw's rows.
    eat : numpy.ndarray
        Columns, shape (days, crops, 3): enjoyed, more of the good, more of the oversize.
    """
    more = (inputs.fresh["eat_at_most_kg_day"] - inputs.fresh["eat_kg_day"]).to_numpy(float)
    for day, crop in zip(*np.nonzero((eat[:, :, 1:] >= 0).all(axis=2)), strict=True):
        limit = float(more[crop]) * inputs.length[day]
        rows.row(limit, own=[(int(c), 1.0) for c in eat[day, crop, 1:]])


def holding_rows(inputs: ProgrammeInputs, rows: Matrix, own: Columns) -> None:
    """Fruit of each lane: no use takes fruit older than it accepts, or fruit there is not.

    The uses of a lane fall into classes by the oldest fruit they accept, finest first. For each
    class a chain of columns holds the fruit that the class can still use the next morning:

    - what is held tonight is at most what was held last night, plus what became ready, less
      what this class and the finer ones used;
    - what is held tonight, with what finer classes have used of the same days' fruit, is at most
      what became ready on those days.

    Every interval row follows from one row of the second kind and a run of the first, and each
    of these rows holds for any true history, so they are as exact as the interval rows; but
    their number grows with the days, not with the square of the days.
    """
    slots, spans = inputs.back + inputs.days, len(inputs.spans)
    table = np.array(own.uses, dtype=np.int64).reshape(-1, 5)
    begins = np.array([first for first, _ in inputs.spans] + [inputs.days])
    for lane in range(inputs.lanes):
        column, _, span, age, _ = table[table[:, 1] == lane].T
        for held in np.unique(age):
            finer, mine = age < held, age <= held
            last = spans if (mine & (span == spans)).any() else spans - 1
            before: Terms = []
            for t in range(last + 1):
                used = [(int(c), 1.0) for c in column[mine & (span == t)]]
                # The night after the span: from `end` on, fruit ready from `start` on is held.
                end = begins[t + 1] if t < spans else inputs.days
                start = max(0, inputs.back + end - int(held))
                arrives = range(inputs.back + begins[t], inputs.back + end)
                if t == 0:
                    arrives = range(max(0, inputs.back - int(held)), inputs.back + end)
                fruit = [(lane * slots + f, 1.0) for f in arrives]
                if t == last:
                    rows.row(0.0, own=used + before, fruit=fruit)
                    break
                keeps = own.add(0.0)
                rows.row(0.0, own=[*used, *before, (keeps, 1.0)], fruit=fruit)
                if start > 0:  # else nothing is too old yet, and the first row says it all
                    first = inputs.back + begins[span] - age
                    took = finer & (span <= t) & (first >= inputs.back + end - held)
                    rows.row(
                        0.0,
                        own=[(keeps, 1.0), *((int(c), 1.0) for c in column[took])],
                        fruit=[(lane * slots + f, 1.0) for f in range(start, inputs.back + end)],
                    )
                before = [(keeps, -1.0)]


def fruit_within_reach(inputs: ProgrammeInputs, own: Columns, put_up: Index) -> Any:
    """Return which fruit each decided batch could use, as a matrix over a draw's fruit.

    Parameters
    ----------
    put_up : numpy.ndarray
        Columns of the decided spans, shape (decided, options, 2).

    Returns
    -------
    scipy.sparse.csr_array
        Ones, shape (decided x options, features).
    """
    slots = inputs.back + inputs.days
    features = inputs.lanes * slots
    of = {column: (lane, span, first) for column, lane, span, _, first in own.uses}
    reach = sparse.lil_array((put_up.shape[0] * put_up.shape[1], features))
    for number, mine in enumerate(put_up.reshape(-1, 2)):
        for column in mine[mine >= 0]:
            lane, span, first = of[int(column)]
            end = inputs.back + inputs.spans[span][1] + 1
            reach[number, lane * slots + first : lane * slots + end] = 1.0
    return sparse.csr_array(reach)


def lying_rows(
    inputs: ProgrammeInputs, rows: Matrix, uses: Index, discard: Index, lying: Index
) -> None:
    """Room overnight: what lies there is what lay there, plus what became ready, less the uses.

    Fruit that still ripens does so elsewhere (on the counter) and takes no room here.
    """
    slots, spans = inputs.back + inputs.days, len(inputs.spans)
    places = inputs.fresh["place"].astype(str).to_numpy()
    litres = inputs.fresh["litres_per_kg"].to_numpy(float)
    limited = limited_lanes(inputs)
    for lane in limited:
        for t, (first, last) in enumerate(inputs.spans):
            used = uses[(uses[:, 1] == lane) & (uses[:, 2] == t), 0]
            own: Terms = [(int(lying[t, lane]), 1.0), *((int(c), 1.0) for c in used)]
            own.append((int(discard[t, lane]), 1.0))
            if t > 0:
                own.append((int(lying[t - 1, lane]), -1.0))
            arrives = range(0 if t == 0 else inputs.back + first, inputs.back + last + 1)
            fruit = [(lane * slots + slot, 1.0) for slot in arrives]
            rows.row(0.0, own=own, fruit=fruit, equal=True)
        carried = uses[(uses[:, 1] == lane) & (uses[:, 2] == spans), 0]
        rows.row(0.0, own=[(int(c), 1.0) for c in carried] + [(int(lying[-1, lane]), -1.0)])
    for place in PLACES:
        here = [lane for lane in limited if places[inputs.lane_crop[lane]] == place]
        for t in range(spans) if here else ():
            rows.row(
                inputs.capacity.store(f"{place}_l"),
                f"litres free in the {place.replace('_', ' ')}",
                own=[(int(lying[t, lane]), litres[inputs.lane_crop[lane]]) for lane in here],
            )


def must_rows(inputs: ProgrammeInputs, common: Matrix, batches: Index) -> None:
    """Batches that must be done."""
    names = list(inputs.options["option"].astype(str))
    for one in inputs.must:
        column = int(batches[one.day, names.index(one.option)])
        name = f"{one.batches} batch(es) of {one.option} on {inputs.capacity.dates[one.day]:%A}"
        common.row(-float(one.batches), name, own=[(column, -1.0)])
