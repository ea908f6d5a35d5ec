"""What one more unit of each resource would save, by solving again."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array
from harvestcast.kitchen.household.capacity import JAR_SIZES, Capacity
from harvestcast.kitchen.messages import Said
from harvestcast.kitchen.solve import prices
from harvestcast.kitchen.solve.block import Block, build_block, fruit_of
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.layout import Layout, lay_out, minimise
from harvestcast.kitchen.solve.solve import GAP, Solution

LITRES = 10.0
DOZEN = 12.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Relaxed:
    inputs: ProgrammeInputs
    cost: float
    spoiled_kg: float
    jars: float
    layout: Layout
    x: Array


def bottleneck_frame(solution: Solution, inputs: ProgrammeInputs) -> pd.DataFrame:
    """Return what one usable unit more of each resource would save.

    Parameters
    ----------
    solution : Solution
        The plan, for the batches held and its worth.
    inputs : ProgrammeInputs
        The draws to solve again for; a part of the plan's is enough.

    Returns
    -------
    pandas.DataFrame
        Table BOTTLENECKS, the most valuable first.

    Notes
    -----
    The programme is solved again with whole batches allowed to be part batches, so that no gap
    of the solver blurs the difference. ``comment`` says how much of the value is sure with the
    plan's batches left as they are; a value below the plan's own gap is no clear saving.
    """
    block = build_block(inputs)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    layout = lay_out(block, fruit_of(inputs), inputs.weights, saves)
    fixed = _held(block, solution)
    base = _solve(inputs, block, layout)
    held: _Relaxed | None = None
    # Differences below what the plan itself is known to mean nothing.
    clear = max(GAP, solution.gap) * max(solution.worth, 0.0)
    rows = []
    for resource, one_more, capacity in _one_more(inputs):
        more = _with(base, capacity)
        # Where the limit does not bind, moving it changes nothing: the programme is convex.
        free = _solve(inputs, block, more) if _binds(base, more) else base
        value, sure = base.cost - free.cost, 0.0
        if value > clear:
            held = held or _solve(inputs, block, layout, fixed)
            sure = held.cost - _solve(inputs, block, more, fixed).cost
        said = _comment(value, sure, clear)
        rows.append(
            {
                "resource": resource,
                "one_more": one_more,
                "saved_kg": base.spoiled_kg - free.spoiled_kg,
                "more_jars": free.jars - base.jars,
                "value": value,
                "comment": said.text,
                "code": said.code,
                "facts": said.facts,
            }
        )
    if not rows:
        return frames.BOTTLENECKS.empty()
    table = pd.DataFrame(rows).sort_values("value", ascending=False, kind="stable")
    return frames.check_frame(table, frames.BOTTLENECKS)


def _with(base: _Relaxed, capacity: Capacity) -> Layout:
    """Return the base's programme under another capacity: only limits differ."""
    more = replace(base.inputs, capacity=capacity)
    block = build_block(more)
    limits = block.limit[None, :] + fruit_of(more) @ block.fruit.T
    return replace(
        base.layout, limit=np.concatenate([block.shared_limit, np.asarray(limits).ravel()])
    )


def _binds(base: _Relaxed, more: Layout) -> bool:
    moved = more.limit != base.layout.limit
    slack = base.layout.limit - base.layout.rows @ base.x
    return bool((slack[moved] < 1e-6).any())


def _comment(value: float, sure: float, clear: float) -> Said:
    if value <= max(clear, 1e-6):
        return Said("saving.unclear")
    share = sure / value
    if share > 0.9:
        return Said("saving.sure")
    if share > 0.1:
        return Said("saving.part", {"percent": 100 * share})
    return Said("saving.anew")


def _one_more(inputs: ProgrammeInputs) -> Iterator[tuple[str, str, Capacity]]:
    capacity = inputs.capacity
    used = set(inputs.options["equipment"].astype(str))
    for kind in capacity.kinds:
        if kind not in used:
            continue
        name = kind.replace("_", " ")
        one, more = (1.0, f"a second {name}")
        if kind == "dryer" and capacity.trays:
            one, more = capacity.number_of(kind) / capacity.trays, "one tray"
        elif capacity.number_of(kind) >= 2:
            more = f"one more {name}"
        pieces = capacity.pieces.copy()
        pieces[capacity.kinds.index(kind)] += one
        yield name, more, replace(capacity, pieces=pieces)
    if np.isfinite(capacity.stove) and any(kind.endswith("canner") for kind in used):
        yield "stove", "a place for one more canner", replace(capacity, stove=capacity.stove + 1)
    for day in range(min(7, capacity.days)):
        hours = capacity.hours.copy()
        hours[day] += 1.0
        date = capacity.dates[day]
        yield f"hours on {date:%A}", "one hour", replace(capacity, hours=hours)
    stores = dict(capacity.stores)
    taken = {prices.jar_store(jar) for jar in inputs.options["jar"]}
    for size in JAR_SIZES:
        if size in taken and not np.isnan(stores[size]):
            added = {size: stores[size] + DOZEN, "lids": stores["lids"] + DOZEN}
            yield (
                f"{size.replace('_', '-')} jars",
                "a dozen with lids",
                replace(capacity, stores=tuple((stores | added).items())),
            )
    for name, unit, words in (
        ("lids", DOZEN, "a box of 12"),
        ("freezer_l", LITRES, "10 litres"),
        ("refrigerator_l", LITRES, "10 litres"),
        ("cool_store_l", LITRES, "10 litres"),
    ):
        if name in stores and not np.isnan(stores[name]):
            added = {name: stores[name] + unit}
            resource = name.removesuffix("_l").replace("_", " ")
            yield resource, words, replace(capacity, stores=tuple((stores | added).items()))


def _held(block: Block, solution: Solution) -> dict[int, float]:
    """Return the plan's batches as columns held at a value."""
    batches = solution.batches.ravel().astype(float)
    return dict(zip(block.batches.ravel().tolist(), batches, strict=True))


def _solve(
    inputs: ProgrammeInputs, block: Block, layout: Layout, fixed: dict[int, float] | None = None
) -> _Relaxed:
    x = minimise(layout, fixed=fixed).x
    columns = x[len(block.shared_cost) :].reshape(inputs.draws, -1)
    ready, _ = inputs.ready()
    spoiled = ready.sum(axis=(1, 2)) - columns[:, block.column].sum(axis=1)
    per_kg = (inputs.options["jars_per_batch"] / inputs.options["kg_per_batch"]).to_numpy(float)
    jars = np.zeros(inputs.draws)
    for number, rate in enumerate(per_kg):
        mine = block.put_up[:, number]
        jars += rate * columns[:, mine[mine >= 0]].sum(axis=1)
    return _Relaxed(
        cost=float(layout.cost @ x) + layout.constant,
        spoiled_kg=float(inputs.weights @ spoiled),
        jars=float(inputs.weights @ jars),
        inputs=inputs,
        layout=layout,
        x=x,
    )
