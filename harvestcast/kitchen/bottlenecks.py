"""What one more of each resource would save, by solving the relaxed programme again."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.kitchen.block import build_block, fruit_of
from harvestcast.kitchen.inputs import ProgrammeInputs
from harvestcast.kitchen.solver import Solution, lay_out, minimise


@dataclass(frozen=True, slots=True, kw_only=True)
class _More:
    resource: str
    one_more: str
    store: str = ""
    kind: str = ""
    hours: float = 0.0
    amount: float = 0.0


_MORE = (
    _More(resource="hands-on hours", one_more="one hour a day", hours=1.0),
    _More(resource="boiling-water canner", one_more="one canner", kind="boiling_water_canner"),
    _More(resource="pressure canner", one_more="one canner", kind="pressure_canner"),
    _More(resource="dryer", one_more="one dryer", kind="dryer"),
    _More(resource="pint jars", one_more="a dozen", store="pint", amount=12),
    _More(resource="quart jars", one_more="a dozen", store="quart", amount=12),
    _More(resource="lids", one_more="a dozen", store="lids", amount=12),
    _More(resource="freezer space", one_more="10 litres", store="freezer_l", amount=10),
    _More(resource="refrigerator space", one_more="10 litres", store="refrigerator_l", amount=10),
)


def bottlenecks_of(solution: Solution, *, draws: int = 10) -> pd.DataFrame:
    """Return what one usable unit more of each resource would save.

    Whole batches are relaxed, so that the differences carry no solver gap; only resources the
    household has some of are asked about.

    Parameters
    ----------
    solution : Solution
        A solved programme.
    draws : int
        Futures to solve for again.

    Returns
    -------
    pandas.DataFrame
        Table BOTTLENECKS, the most valuable first.
    """
    inputs = solution.inputs
    take = np.unique(np.linspace(0, inputs.draws - 1, min(draws, inputs.draws)).astype(int))
    few = replace(
        inputs,
        picked=inputs.picked[take],
        weights=np.full(len(take), 1.0 / len(take)),
        must=(),
    )
    base = _relaxed(few)
    rows = []
    for more in _MORE:
        changed = _with(few, more)
        if changed is None:
            continue
        found = _relaxed(changed)
        value = max(0.0, base[0] - found[0])
        least = max(0.05, solution.gap * 0.1)
        rows.append(
            {
                "resource": more.resource,
                "one_more": more.one_more,
                "saved_kg": max(0.0, base[1] - found[1]) if value > least else 0.0,
                "more_jars": found[2] - base[2] if value > least else 0.0,
                "value": value,
                "comment": "" if value > least else "no clear saving",
            }
        )
    table = pd.DataFrame(rows, columns=frames.BOTTLENECKS.names)
    table = table.sort_values(["value", "resource"], ascending=[False, True])
    return frames.check_frame(table, frames.BOTTLENECKS)


def _with(inputs: ProgrammeInputs, more: _More) -> ProgrammeInputs | None:
    capacity = inputs.capacity
    if more.hours:
        return replace(inputs, capacity=replace(capacity, hours=capacity.hours + more.hours))
    if more.kind:
        if more.kind not in capacity.kinds or capacity.number_of(more.kind) <= 0:
            return None
        pieces = capacity.pieces.copy()
        pieces[capacity.kinds.index(more.kind)] += 1
        return replace(inputs, capacity=replace(capacity, pieces=pieces))
    amount = capacity.store(more.store)
    if np.isnan(amount):
        return None
    stores = tuple((n, a + more.amount if n == more.store else a) for n, a in capacity.stores)
    return replace(inputs, capacity=replace(capacity, stores=stores))


def _relaxed(inputs: ProgrammeInputs) -> tuple[float, float, float]:
    """Return cost (points), spoiled kg and jars filled of the relaxed programme, means."""
    block = build_block(inputs)
    saves = inputs.choices.spoiled_kg * (1.0 - inputs.choices.dislike_of_bad_weeks)
    layout = lay_out(block, fruit_of(inputs), inputs.weights, saves)
    result = minimise(layout)
    own = result.x[len(block.shared_cost) :].reshape(inputs.draws, -1)
    used = own[:, block.column].sum(axis=1)
    ready = inputs.ready()[0].sum(axis=(1, 2))
    per_kg = (inputs.options["jars_per_batch"] / inputs.options["kg_per_batch"]).to_numpy(float)
    jars = np.zeros(inputs.draws)
    for option in range(len(per_kg)):
        place = block.put_up[:, option, :].ravel()
        jars += per_kg[option] * own[:, place[place >= 0]].sum(axis=1)
    return (
        float(result.fun) + layout.constant,
        float(inputs.weights @ (ready - used)),
        float(inputs.weights @ jars),
    )
