"""The week's programme written down: columns and rows over all draws at once.

Batches of the decided days, and what is bought, are chosen once for all draws; everything else is
chosen in each draw. No variable says who used which day's fruit: as every use accepts an unbroken
run of pick days, it is enough that the uses which can only take fruit of some span of days never
take more than the fruit of that span (Hall 1935, doi:10.1112/jlms/s1-10.37.26, for intervals;
citation from memory, the claim is checked in the tests against a maximum flow). Chains of columns
that hold fruit overnight say the same with fewer coefficients (:func:`_holding`).

A draw's fruit and one unit more of each resource are columns too, held at what they are: another
draw, or a dozen more jars, is the same programme with a bound moved.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Index
from harvestcast.kitchen.handbook.products import FOR_THE_WEEK_DAYS, PINTS
from harvestcast.kitchen.household.capacity import (
    CANNER_HOURS_PER_DAY,
    JAR_SIZES,
    PLACES,
    WITHOUT_HOURS,
    dryer_day,
    hours_per_piece,
)
from harvestcast.kitchen.solve import prices
from harvestcast.kitchen.solve.inputs import OptionArrays, ProgrammeInputs, option_arrays
from harvestcast.solver import Model


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Uses:
    """Columns that use fruit.

    Parameters
    ----------
    column : ndarray of int, shape (draws, uses)
        Columns.
    lane, span, age, first : ndarray of int, shape (uses,)
        Lane; span of the use (carrying on: one past the last); oldest age accepted (days); first
        ready day (slot) accepted.
    """

    column: Index
    lane: Index
    span: Index
    age: Index
    first: Index


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class WeekModel:
    """The week's programme and where to find what in it; -1 where there is no column.

    Parameters
    ----------
    model : Model
        Columns, rows and coefficients.
    shared : ndarray of int
        What a plan is: the columns chosen once for all draws from which the others follow. The
        same list for the same options and decided days.
    batches : ndarray of int, shape (decided, options)
        Whole batches.
    buy : ndarray of int
        What is bought, in the order of ``prices.BUYABLE``.
    more : mapping of str to int
        Units more of each resource, held at 0: ``hours 0`` (of the first day) and so on, kinds of
        equipment, ``stove``, and stores as in ``Capacity.stores``.
    fruit : ndarray of int, shape (draws, lanes, slots)
        Fruit by the day on which it can first be used, held at what is picked. [kg]
    put_up : ndarray of int, shape (draws, spans, options, 2)
        Put up of good and of oversize fruit. [kg]
    eat, give, animals : ndarray of int, shapes (draws, spans, crops, 3), (..., crops), (..., 2)
        Eaten (enjoyed, more of the good, more of the oversize), given away, fed. [kg]
    discard : ndarray of int, shape (draws, spans, lanes)
        Thrown out for want of room. [kg]
    carry : ndarray of int, shape (draws, lanes)
        Carried past the plan. [kg]
    tiers : ndarray of int, shape (draws, products, tiers)
        Pints that count in each tier of worth.
    uses : Uses
        Every column that uses fruit.
    worth : prices.Worth
        Products and what their jars are worth.
    """

    model: Model
    shared: Index
    batches: Index
    buy: Index
    more: Mapping[str, int]
    fruit: Index
    put_up: Index
    eat: Index
    give: Index
    animals: Index
    discard: Index
    carry: Index
    tiers: Index
    uses: Uses
    worth: prices.Worth


class _Building:
    """What the functions below write into; lives only inside :func:`week_model`."""

    def __init__(self, inputs: ProgrammeInputs) -> None:
        self.inputs = inputs
        self.table = option_arrays(inputs)
        self.model = Model()
        self.weights = inputs.weights[:, None]
        self.saves = prices.saved_kg(inputs.choices)
        self.begins = np.array([first for first, _ in inputs.spans] + [inputs.days])
        self.used: list[tuple[Index, int, int, int]] = []
        self.more: dict[str, int] = {}

    @property
    def draws(self) -> int:
        return self.inputs.draws

    def use(self, lane: int, age: int, cost: Array, high: Array, *, carry: bool = False) -> Index:
        """Begin columns that use fruit, shape (draws, spans), or (draws, 1) for carrying on."""
        spans = len(self.inputs.spans)
        column = self.model.columns(
            (self.draws, 1 if carry else spans), self.weights * (cost - self.saves), high=high
        )
        for number in range(column.shape[1]):
            self.used.append((column[:, number], lane, spans if carry else number, age))
        return column

    def each(self, cost: Array | float = 0.0, high: Array | float = np.inf) -> Index:
        """Begin one column a draw."""
        return self.model.columns(self.draws, self.weights[:, 0] * cost, high=high)

    def limit(self, span: int, high: float, name: str) -> Index:
        """Begin a row: one where the span is decided, else one a draw."""
        return self.model.rows(1 if span < self.inputs.decided else self.draws, high, name=name)

    def one_more(self, resource: str) -> int:
        """Return the column of units more of a resource."""
        if resource not in self.more:
            self.more[resource] = int(self.model.columns(high=0.0))
        return self.more[resource]


def week_model(inputs: ProgrammeInputs) -> WeekModel:
    """Write the week's programme down.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What the programme is told.

    Returns
    -------
    WeekModel
    """
    made = _Building(inputs)
    model, table, choices = made.model, made.table, inputs.choices
    decided, spans, count = inputs.decided, len(inputs.spans), len(made.table.kg)
    batches = model.columns((decided, count), choices.hour * table.hours, whole=True)
    buy = model.columns(len(prices.BUYABLE), prices.bought_prices(inputs))
    ready, _ = inputs.ready()
    # All fruit is charged as spoiled, and every use saves that again.
    fruit = model.columns(
        ready.shape, made.saves * inputs.weights[:, None, None], low=ready, high=ready
    )
    put_up = _put_up(made)
    eat, give, animals = _fresh(made)
    carried = prices.carry_price(inputs)
    carry = [
        made.use(lane, int(inputs.keep[c]), np.array(carried[c]), np.array(np.inf), carry=True)
        for lane, c in enumerate(inputs.lane_crop)
    ]
    worth = prices.jars_worth(inputs)
    tiers = model.columns(
        (made.draws, *worth.points.shape),
        -worth.points * inputs.weights[:, None, None],
        high=worth.room,
    )
    uses = Uses(
        column=np.array([one[0] for one in made.used], dtype=np.int64)
        .reshape(len(made.used), made.draws)
        .T,
        **{
            name: np.array([one[at] for one in made.used], dtype=np.int64)
            for at, name in enumerate(("lane", "span", "age"), start=1)
        },
        first=np.array(
            [max(0, inputs.back + made.begins[span] - age) for _, _, span, age in made.used],
            dtype=np.int64,
        ),
    )
    over = [
        model.columns(1 if t < decided else made.draws) if "dryer" in table.equipment else None
        for t in range(spans)
    ]
    for t in range(spans):
        _hours(made, t, batches, put_up)
        _dryer(made, t, batches, put_up, over)
        _crocks(made, t, batches, put_up)
    _fill(made, batches, put_up)
    _as_before(made, batches)
    _for_the_week(made, put_up)
    _stores(made, put_up, buy)
    _kept_free(made, tiers, buy, worth)
    for number, product in enumerate(worth.products):
        mine = (inputs.options["product"] == product).to_numpy(bool)
        filled = model.rows(made.draws, low=0.0)
        model.add(filled[:, None], tiers[:, number], 1.0)
        _add_per_kg(made, filled, put_up, np.where(mine, -table.pints, 0.0))
    more = inputs.fresh["eat_at_most_kg_day"] - inputs.fresh["eat_kg_day"]
    both = np.asarray(
        (eat[:, :, :, 1:] >= 0).all(axis=3)
    )  # good and oversize fruit share one ceiling
    most = np.maximum(0.0, more.to_numpy(float)) * inputs.length[:, None]
    ceiling = model.rows(both.shape, np.where(both, most, np.inf))
    model.add(ceiling[..., None], eat[:, :, :, 1:], both[..., None])
    _holding(made, fruit, uses)
    discard = _lying(made, fruit, uses, put_up)
    shared = [batches.ravel(), buy]
    if choices.dislike_of_bad_weeks > 0:
        shared.append(_worst(made, fruit, uses))
    return WeekModel(
        model=model,
        shared=np.concatenate(shared),
        batches=batches,
        buy=buy,
        more=made.more,
        fruit=fruit,
        put_up=put_up,
        eat=eat,
        give=give,
        animals=animals,
        discard=discard,
        carry=np.array(carry, dtype=np.int64).reshape(len(carry), made.draws).T,
        tiers=tiers,
        uses=uses,
        worth=worth,
    )


def span_name(inputs: ProgrammeInputs, span: int) -> str:
    """Return a span of days in household words: ``Friday 7 August``."""
    first, last = (inputs.capacity.dates[day] for day in inputs.spans[span])
    begins = f"{first:%A} {first.day} {first:%B}"
    return begins if first == last else f"{begins} to {last:%A} {last.day} {last:%B}"


def _put_up(made: _Building) -> Index:
    """Add the kg put up in each span with each option from each grade.

    Whole batches carry the price of their hours; batches of later days, and what is laid up loose
    on any day, are charged by the kg.
    """
    inputs, table = made.inputs, made.table
    later = np.arange(len(inputs.spans)) >= inputs.decided
    put_up = np.full((made.draws, len(inputs.spans), len(table.kg), 2), -1, dtype=np.int64)
    for m in range(len(table.kg)):
        cost = (later | table.loose[m]) * inputs.choices.hour * table.hours[m] / table.kg[m]
        for grade in (0, 1) if table.oversize[m] else (0,):
            lane = inputs.lane_of(int(table.crop[m]), bool(grade))
            if lane is not None:
                put_up[:, :, m, grade] = made.use(lane, int(table.age[m]), cost, np.array(np.inf))
    return put_up


def _fresh(made: _Building) -> tuple[Index, Index, Index]:
    """Add the kg eaten fresh, given away and fed to animals.

    Oversize fruit is eaten only beyond what is enjoyed, and is not given away.
    """
    inputs, choices = made.inputs, made.inputs.choices
    shape = (made.draws, len(inputs.spans), len(inputs.crops))
    eat, animals = np.full((*shape, 3), -1, dtype=np.int64), np.full((*shape, 2), -1, np.int64)
    give = np.full(shape, -1, dtype=np.int64)
    enjoyed, ceiling, given, fed = (
        inputs.fresh[name].to_numpy(float)
        for name in ("eat_kg_day", "eat_at_most_kg_day", "give_kg_day", "animals_kg_day")
    )

    def use(cost: float, most: float, lane: int | None) -> Index:
        if lane is None or most <= 0:
            return np.full(shape[:2], -1, dtype=np.int64)
        age = int(inputs.keep[inputs.lane_crop[lane]])
        return made.use(lane, age, np.array(cost), most * inputs.length)

    worth, fed_price = choices.fresh_kg, prices.ANIMALS_SHARE * choices.spoiled_kg
    for c in range(len(inputs.crops)):
        good, big = inputs.lane_of(c, False), inputs.lane_of(c, True)
        more = max(0.0, ceiling[c] - enjoyed[c])
        eat[:, :, c, 0] = use(-worth, enjoyed[c], good)
        eat[:, :, c, 1] = use(-prices.CEILING_SHARE * worth, more, good)
        eat[:, :, c, 2] = use(-prices.CEILING_SHARE * worth, more, big)
        give[:, :, c] = use(-prices.GIVEN_SHARE * worth, given[c], good)
        animals[:, :, c, 0] = use(fed_price, fed[c], good)
        animals[:, :, c, 1] = use(fed_price, fed[c], big)
    return eat, give, animals


def _add_per_kg(made: _Building, rows: Index, put_up: Index, amount: Array) -> None:
    """Add an amount per batch, by the kg put up; rows of shape (draws,)."""
    per_kg = (amount / made.table.kg)[:, None]
    made.model.add(rows.reshape(-1, *[1] * (put_up.ndim - 1)), put_up, per_kg)


def _work(made: _Building, rows: Index, t: int, parts: tuple[Index, Index], amount: Array) -> None:
    """Add an amount per batch of one span: whole batches where it is decided."""
    batches, put_up = parts
    if t < made.inputs.decided:
        made.model.add(rows[:, None], batches[t], amount)
    else:
        _add_per_kg(made, rows, put_up[:, t], amount)


def _hours(made: _Building, t: int, batches: Index, put_up: Index) -> None:
    """Hands-on hours of a span, places on the stove, and hours of each canner."""
    inputs, table, capacity, model = made.inputs, made.table, made.inputs.capacity, made.model
    (first, last), parts, name = inputs.spans[t], (batches, put_up), span_name(made.inputs, t)
    length = last - first + 1
    hours = made.limit(
        t, float(capacity.hours[first : last + 1].sum()), f"hands-on hours on {name}"
    )
    # Carrying produce to the store is no work in the kitchen.
    _work(made, hours, t, parts, np.where(table.loose, 0.0, table.hours))
    for day in range(first, last + 1):
        model.add(hours, made.one_more(f"hours {day}"), -1.0)
    if np.isfinite(capacity.stove):
        # Canners of any kind share the places on the stove.
        boils = np.array([kind.endswith("canner") for kind in table.equipment], dtype=bool)
        room = CANNER_HOURS_PER_DAY * length
        stove = made.limit(t, capacity.stove * room, f"places on the stove on {name}")
        _work(made, stove, t, parts, np.where(boils, table.equipment_h, 0.0))
        model.add(stove, made.one_more("stove"), -room)
    for kind in sorted(set(table.equipment) - set(WITHOUT_HOURS) - {"dryer", "crock"}):
        room = hours_per_piece(kind) * length
        name_of = f"hours of the {kind.replace('_', ' ')} on {name}"
        rows = made.limit(t, capacity.number_of(kind) * room, name_of)
        _work(made, rows, t, parts, _busy(table, kind))
        model.add(rows, made.one_more(kind), -room)


def _busy(table: OptionArrays, kind: str) -> Array:
    """Return the hours a batch holds a kind of equipment.

    Batches that hold a missing piece for no time at all would slip through a row of hours.
    """
    mine = np.array([kind == other for other in table.equipment])
    return np.where(mine, np.maximum(table.equipment_h, 1e-3), 0.0)


def _dryer(
    made: _Building, t: int, batches: Index, put_up: Index, over: list[Index | None]
) -> None:
    """Hours of the dryer on a span; the last load may run over midnight.

    What runs past seven in the morning (column ``over``) is taken from the next day.
    """
    past = over[t]
    if past is None:
        return
    table, model = made.table, made.model
    number = made.inputs.capacity.number_of("dryer")
    mine = np.array([kind == "dryer" for kind in table.equipment])
    hours, night = dryer_day(float(table.equipment_h[mine].max()))
    hours *= made.inputs.length[t]
    name = f"hours of the dryer on {span_name(made.inputs, t)}"
    rows = made.limit(t, number * hours, name)
    _work(made, rows, t, (batches, put_up), _busy(table, "dryer"))
    model.add(rows, past, -1.0)
    before = over[t - 1] if t > 0 else None
    if before is not None:
        model.add(rows, before, 1.0)
    model.add(rows, made.one_more("dryer"), -hours)
    rows = made.limit(t, number * night, name)
    model.add(rows, past, 1.0)
    model.add(rows, made.one_more("dryer"), -night)


def _crocks(made: _Building, t: int, batches: Index, put_up: Index) -> None:
    """Crocks that stand occupied in a span: a batch begun holds its crock for all its days."""
    inputs, table, model = made.inputs, made.table, made.model
    mine = np.array([kind == "crock" for kind in table.equipment])
    if not mine.any():
        return
    lasts = np.maximum(1, np.ceil(table.equipment_h / 24.0))
    first, last = inputs.spans[t]
    rows = made.limit(
        t, inputs.capacity.number_of("crock"), f"crocks free on {span_name(inputs, t)}"
    )
    model.add(rows, made.one_more("crock"), -1.0)
    for begun in range(t + 1):
        # Ready before the span is over, its crock can be filled again; within a longer span one
        # crock may be filled several times.
        here = mine & ((begun == t) | (made.begins[begun] + lasts > last))
        share = 1.0 / np.ceil((last - first + 1) / lasts) if begun == t else np.ones(len(lasts))
        _work(made, rows, begun, (batches, put_up), np.where(here, share, 0.0))


def _as_before(made: _Building, batches: Index) -> None:
    """Charge every batch more, or less, than was decided before."""
    inputs, model = made.inputs, made.model
    if inputs.before is None:
        return
    before = inputs.before[: len(batches)]
    here = ~np.isnan(before)
    for sign in (1.0, -1.0):
        moved = model.columns(int(here.sum()), inputs.choices.change)
        rows = model.rows(int(here.sum()), sign * before[here])
        model.add(rows, batches[here], sign)
        model.add(rows, moved, -1.0)


def _for_the_week(made: _Building, put_up: Index) -> None:
    """Hold dishes that do not keep to what is eaten beyond the usual, while the plan lasts."""
    inputs, model = made.inputs, made.model
    short = (inputs.options["best_by_days"] <= FOR_THE_WEEK_DAYS).to_numpy(bool)
    more = inputs.fresh["eat_at_most_kg_day"] - inputs.fresh["eat_kg_day"]
    for crop in np.unique(made.table.crop[short]):
        mine = short & (made.table.crop == crop)
        rows = model.rows(made.draws, max(0.0, float(more.iloc[crop])) * inputs.days)
        model.add(rows[:, None, None, None], put_up[:, :, mine], 1.0)


def _fill(made: _Building, batches: Index, put_up: Index) -> None:
    """Hold a decided batch's kg to the batches begun; it may be filled less in a lean future.

    What is laid up loose needs no batch: it is carried to the store as it comes.
    """
    rows = made.model.rows((made.draws, *batches.shape), np.where(made.table.loose, np.inf, 0.0))
    made.model.add(rows[..., None], put_up[:, : len(batches)], 1.0)
    made.model.add(rows, batches, -made.table.kg)


def _stores(made: _Building, put_up: Index, buy: Index) -> None:
    """Jars, lids and bags in stock or bought, and litres of the freezer, over the whole plan."""
    inputs, table, model = made.inputs, made.table, made.model
    bought = dict(zip(prices.BUYABLE, buy, strict=True))
    for name, stock in inputs.capacity.stores:
        if np.isnan(stock) or name.removesuffix("_l") in PLACES:
            continue
        rows = model.rows(made.draws, stock, name=f"{name.replace('_', ' ')} in stock")
        amount = np.where([store == name for store in table.store], table.jars, 0.0)
        if name == "lids":
            amount = table.lids
            # A jar that is bought comes with its first lid.
            model.add(rows[:, None], np.array([bought[size] for size in JAR_SIZES]), -1.0)
        elif name == "freezer_l":
            amount = table.freezer_l
        _add_per_kg(made, rows, put_up, amount)
        model.add(rows, bought.get(name, -1), -1.0)
        model.add(rows, made.one_more(name), -1.0)
    if inputs.choices.most_purchase is not None:
        rows = model.rows(1, inputs.choices.most_purchase, name="jars and lids bought at most")
        model.add(rows, buy, 1.0)


def _kept_free(made: _Building, tiers: Index, buy: Index, worth: prices.Worth) -> None:
    """Leave what is wanted and may still come in its jars, lids, bags and litres.

    Jars are counted together, by the pints they hold: most products go into several sizes.
    """
    inputs, table, model = made.inputs, made.table, made.model
    bought = dict(zip(prices.BUYABLE, buy, strict=True))
    holds = {size: PINTS[size] for size in JAR_SIZES}
    jars = [(bought[size], pints) for size, pints in holds.items()]
    stock = dict(inputs.capacity.stores)
    stock["jars"] = sum(stock.get(size, np.nan) * pints for size, pints in holds.items())
    in_jars = np.array([store in JAR_SIZES for store in table.store], dtype=bool)
    bags = np.array([store == "freezer_bags" for store in table.store], dtype=bool)
    for name, amount, more in (
        ("jars", np.where(in_jars, table.pints, 0.0), jars),
        ("lids", table.lids, [(bought["lids"], 1.0), *((column, 1.0) for column, _ in jars)]),
        ("freezer_bags", np.where(bags, table.jars, 0.0), [(bought["freezer_bags"], 1.0)]),
        ("freezer_l", table.freezer_l, []),
    ):
        if np.isnan(stock.get(name, np.nan)):
            continue
        least, kept = prices.kept_free(inputs, worth, amount)
        rows = model.rows(made.draws, max(0.0, stock[name] - kept))
        model.add(rows[:, None, None], tiers[:, :, len(prices.TIERS) :], least[:, None])
        for column, each in more:
            model.add(rows, column, -each)
        for resource, each in holds.items() if name == "jars" else ((name, 1.0),):
            model.add(rows, made.one_more(resource), -each)


def _holding(made: _Building, fruit: Index, uses: Uses) -> None:
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
    inputs, model, begins, back = made.inputs, made.model, made.begins, made.inputs.back
    spans = len(inputs.spans)
    for lane in range(inputs.lanes):
        here = uses.lane == lane
        for held in np.unique(uses.age[here]):
            mine, finer = here & (uses.age <= held), here & (uses.age < held)
            last = spans if (mine & (uses.span == spans)).any() else spans - 1
            keeps = np.full(made.draws, -1, dtype=np.int64)
            for t in range(last + 1):
                # The night after the span: from `end` on, fruit ready from `start` on is held.
                end = back + (begins[t + 1] if t < spans else inputs.days)
                begin = max(0, back - int(held)) if t == 0 else back + begins[t]
                rows = model.rows(made.draws)
                model.add(rows[:, None], uses.column[:, mine & (uses.span == t)], 1.0)
                model.add(rows[:, None], fruit[:, lane, begin:end], -1.0)
                model.add(rows, keeps, -1.0)
                if t == last:
                    break
                keeps = made.each()
                model.add(rows, keeps, 1.0)
                start = end - int(held)
                if start > 0:  # else nothing is too old yet, and the first row says it all
                    took = finer & (uses.span <= t) & (back + begins[uses.span] - uses.age >= start)
                    rows = model.rows(made.draws)
                    model.add(rows, keeps, 1.0)
                    model.add(rows[:, None], uses.column[:, took], 1.0)
                    model.add(rows[:, None], fruit[:, lane, start:end], -1.0)


def _lying(made: _Building, fruit: Index, uses: Uses, put_up: Index) -> Index:
    """Room overnight: what lies there is what lay there, plus what became ready, less the uses.

    Fruit that still ripens does so elsewhere (on the counter) and takes no room here. Returns what
    is thrown out for want of room.
    """
    inputs, model, capacity = made.inputs, made.model, made.inputs.capacity
    spans = len(inputs.spans)
    places = inputs.fresh["place"].astype(str).to_numpy()[inputs.lane_crop]
    litres = inputs.fresh["litres_per_kg"].to_numpy(float)[inputs.lane_crop]
    discard = np.full((made.draws, spans, inputs.lanes), -1, dtype=np.int64)
    for place in PLACES:
        name = f"{place}_l"
        here = np.flatnonzero((places == place) & (litres > 0))
        stored = np.flatnonzero(made.table.loose & (place == "cool_store"))
        if np.isnan(capacity.store(name)) or not (len(here) or len(stored)):
            continue
        room = model.rows(
            (made.draws, spans),
            capacity.store(name),
            name=f"litres free in the {place.replace('_', ' ')}",
        )
        model.add(room, made.one_more(name), -1.0)
        for m in stored:
            # What was laid up stays there beyond the plan.
            each = float(inputs.fresh["litres_per_kg"].iloc[int(made.table.crop[m])])
            for t in range(spans):
                laid = put_up[:, : t + 1, m].reshape(made.draws, 2 * (t + 1))
                model.add(room[:, t, None], laid, each)
        for lane in here:
            lying = model.columns((made.draws, spans))
            discard[:, :, lane] = model.columns((made.draws, spans))
            rows = model.rows((made.draws, spans), low=0.0)
            model.add(rows, lying, 1.0)
            model.add(rows[:, 1:], lying[:, :-1], -1.0)
            model.add(rows, discard[:, :, lane], 1.0)
            for t in range(spans):
                mine = (uses.lane == lane) & (uses.span == t)
                begin = inputs.back + made.begins[t] if t > 0 else 0
                arrives = slice(begin, inputs.back + made.begins[t + 1])
                model.add(rows[:, t, None], uses.column[:, mine], 1.0)
                model.add(rows[:, t, None], fruit[:, lane, arrives], -1.0)
            model.add(room, lying, litres[lane])
            rows = model.rows(made.draws)
            carried = (uses.lane == lane) & (uses.span == spans)
            model.add(rows[:, None], uses.column[:, carried], 1.0)
            model.add(rows, lying[:, -1], -1.0)
    return discard


def _worst(made: _Building, fruit: Index, uses: Uses) -> Index:
    """Charge the worst tenth of futures for what spoils there; return the threshold's column."""
    model = made.model
    price = prices.worst_kg(made.inputs.choices)
    threshold = model.columns(1, price)
    worst = made.each(price / prices.WORST_SHARE)
    rows = model.rows(made.draws)
    model.add(rows[:, None, None], fruit, 1.0)
    model.add(rows[:, None], uses.column, -1.0)
    model.add(rows, worst, -1.0)
    model.add(rows, threshold, -1.0)
    return threshold
