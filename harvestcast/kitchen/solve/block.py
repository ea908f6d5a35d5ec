"""The programme's rows and columns, for one draw and for what all draws share.

The recourse is the same in every draw (only the fruit differs), so one block of rows is built
and laid out once a draw. All rows read "at most", a few "exactly". No variable says who used
which day's fruit: as every use accepts an unbroken run of pick days, it is enough that the uses
which can only take fruit of some span of days never take more than the fruit of that span (Hall
1935, doi:10.1112/jlms/s1-10.37.26, for intervals; citation from memory, the claim is checked in
the tests against a maximum flow). Chains of columns that hold fruit overnight say the same with
fewer coefficients (:func:`harvestcast.kitchen.solve.rows.holding_rows`).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy import sparse

from harvestcast.arrays import Array, Flags, Index
from harvestcast.kitchen.solve import columns, prices, rows
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.matrix import Columns, Matrix


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Block:
    """The programme in parts: shared columns and rows, and one draw's.

    Parameters
    ----------
    shared_cost, shared_upper : numpy.ndarray
        Cost and upper bound of the shared columns.
    shared_rows, shared_limit : csr_array, numpy.ndarray
        Rows over shared columns only.
    shared_names : tuple of str
        Each shared row in household words.
    cost, upper : numpy.ndarray
        Cost and upper bound of one draw's columns.
    rows, link : csr_array
        One draw's rows: over its own columns, and over the shared columns.
    limit, fruit : numpy.ndarray, csr_array
        Their limits: a constant, and what depends on the draw's fruit (see :func:`fruit_of`).
    batches : numpy.ndarray
        Shared columns of whole batches, shape (decided, options).
    buy : numpy.ndarray
        Shared columns of what is bought, in the order of ``prices.BUYABLE``.
    put_up : numpy.ndarray
        Own columns of kg put up, shape (spans, options, 2): good, oversize; -1 where none.
    eat, give, animals : numpy.ndarray
        Own columns of kg, shapes (spans, crops, 3), (spans, crops), (spans, crops, 2).
    discard, carry : numpy.ndarray
        Own columns of kg, shapes (spans, lanes) with -1 where none, and (lanes,).
    tiers : numpy.ndarray
        Own columns of pints, shape (products, tiers).
    column, lane, span, age, first : numpy.ndarray
        Of each use of fruit: column, lane, span (carrying on: one past the last), oldest age
        accepted (days), first ready day (slot) accepted.
    equal : numpy.ndarray
        Rows that hold exactly, shape (rows,).
    fill_rows, fill_kg, fill_fruit : numpy.ndarray, numpy.ndarray, csr_array
        Rows that hold a decided batch's kg to the batches begun (in the order of ``batches``),
        kg of a full batch, and the fruit within its reach. The rows' coefficient is the smaller
        of the two, which cuts off part batches that no draw could fill.
    worth : prices.Worth
        Products and what their jars are worth.
    """

    shared_cost: Array
    shared_upper: Array
    shared_rows: sparse.csr_array
    shared_limit: Array
    shared_names: tuple[str, ...]
    cost: Array
    upper: Array
    rows: sparse.csr_array
    link: sparse.csr_array
    limit: Array
    fruit: sparse.csr_array
    batches: Index
    buy: Index
    put_up: Index
    eat: Index
    give: Index
    animals: Index
    discard: Index
    carry: Index
    tiers: Index
    column: Index
    lane: Index
    span: Index
    age: Index
    first: Index
    equal: Flags
    fill_rows: Index
    fill_kg: Array
    fill_fruit: sparse.csr_array
    worth: prices.Worth


def fruit_of(inputs: ProgrammeInputs) -> Array:
    """Return what the rows know of each draw's fruit, shape (draws, features).

    Fruit by lane and ready day (slot).
    """
    ready, _ = inputs.ready()
    return ready.reshape(inputs.draws, -1)


def build_block(inputs: ProgrammeInputs) -> Block:
    """Build the programme's rows and columns.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What the programme is told; the draws themselves are not used.

    Returns
    -------
    Block
        Parts to be laid out by :func:`harvestcast.kitchen.solve.layout.lay_out`.
    """
    days, decided, lanes = inputs.days, inputs.decided, inputs.lanes
    choices = inputs.choices
    spoil, risk = choices.spoiled_kg, choices.dislike_of_bad_weeks
    # With a dislike of bad weeks, part of the price of spoilage is charged on the worst tenth.
    saves = spoil * (1.0 - risk)
    table = columns.option_arrays(inputs)
    count = len(table.kg)

    shared = Columns()
    batches = np.array(
        [[shared.add(choices.hour * h) for h in table.hours] for _ in range(decided)],
        dtype=np.int64,
    ).reshape(decided, count)
    buy = np.array([shared.add(price) for price in prices.bought_prices(inputs)], dtype=np.int64)
    threshold = shared.add(risk * spoil) if risk > 0 else -1
    over = {t: shared.add(0.0) for t in range(decided)}

    own = Columns()
    worth = prices.jars_worth(inputs)
    put_up = columns.put_up_columns(inputs, own, table, saves)
    eat, give, animals = columns.fresh_columns(inputs, own, saves)
    carried = prices.carry_price(inputs)
    carry = np.array(
        [
            own.use(
                carried[c] - saves,
                np.inf,
                lane,
                len(inputs.spans),
                int(inputs.keep[c]),
                columns.first_slot(inputs, days, int(inputs.keep[c])),
            )
            for lane, c in enumerate(inputs.lane_crop)
        ],
        dtype=np.int64,
    )
    tiers = np.array(
        [
            [own.add(-points, room) for points, room in zip(*pair, strict=True)]
            for pair in zip(worth.points, worth.room, strict=True)
        ],
        dtype=np.int64,
    ).reshape(worth.points.shape)
    over |= {t: own.add(0.0) for t in range(decided, len(inputs.spans))}
    worst = own.add(risk * spoil / prices.WORST_SHARE) if risk > 0 else -1
    discard, lying = columns.lying_columns(inputs, own)

    common, each = Matrix(), Matrix()
    for t in range(len(inputs.spans)):
        terms = rows.day_terms(batches, put_up, table, t)
        rows.hours_rows(inputs, table, t, common if t < decided else each, terms)
        rows.dryer_rows(inputs, table, t, common, each, terms, over)
        rows.crock_rows(inputs, table, t, common, each, batches, put_up)
    # A batch may be filled less than full, so that it stays possible in a lean future.
    fill_rows = [
        each.row(0.0, own=[(int(c), 1.0) for c in put_up[t, m] if c >= 0])
        for t in range(decided)
        for m in range(count)
    ]
    fill_fruit = rows.fruit_within_reach(inputs, own, put_up[:decided])
    rows.store_rows(inputs, table, each, common, put_up, buy)
    for number, product in enumerate(worth.products):
        made = (inputs.options["product"] == product).to_numpy(bool)
        filled = rows.per_kg(put_up, np.where(made, -table.pints / table.kg, 0.0))
        each.row(0.0, own=[(int(c), 1.0) for c in tiers[number]] + filled)
    uses = np.array(own.uses, dtype=np.int64).reshape(-1, 5)
    rows.ceiling_rows(inputs, each, eat)
    rows.holding_rows(inputs, each, own)
    rows.lying_rows(inputs, each, uses, discard, lying)
    if risk > 0:
        each.row(
            0.0,
            own=[(int(c), -1.0) for c in uses[:, 0]] + [(worst, -1.0)],
            link=[(threshold, -1.0)],
            fruit=[(f, -1.0) for f in range(lanes * (inputs.back + days))],
        )
    rows.must_rows(inputs, common, batches)
    features = lanes * (inputs.back + days)
    return Block(
        shared_cost=np.array(shared.cost),
        shared_upper=np.array(shared.upper),
        shared_rows=common.matrix("own", len(shared.cost)),
        shared_limit=np.array(common.limit),
        shared_names=tuple(common.names),
        cost=np.array(own.cost),
        upper=np.array(own.upper),
        rows=each.matrix("own", len(own.cost)),
        link=each.matrix("link", len(shared.cost)),
        limit=np.array(each.limit),
        fruit=each.matrix("fruit", features),
        batches=batches,
        buy=buy,
        put_up=put_up,
        eat=eat,
        give=give,
        animals=animals,
        discard=discard,
        carry=carry,
        tiers=tiers,
        column=uses[:, 0],
        lane=uses[:, 1],
        span=uses[:, 2],
        age=uses[:, 3],
        first=uses[:, 4],
        equal=np.array(each.equal),
        fill_rows=np.array(fill_rows, dtype=np.int64),
        fill_kg=np.tile(table.kg, decided),
        fill_fruit=fill_fruit,
        worth=worth,
    )
