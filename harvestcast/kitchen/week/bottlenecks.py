"""What one more unit of each resource would save, by solving again."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array
from harvestcast.kitchen.household.capacity import JAR_SIZES, PLACES, jar_store
from harvestcast.kitchen.messages import Said
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.solve.model import WeekModel, week_model
from harvestcast.kitchen.solve.solve import GAP, Solution
from harvestcast.solver import Answer, Solver

LITRES = 10.0
DOZEN = 12.0


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
    plan = week_model(inputs)
    opened = Solver(plan.model)
    base = opened.solve(relaxed=True)
    offered = [one for one in _one_more(inputs) if set(one[2]) <= set(plan.more)]
    found = [_with_more(opened, plan, base, more) for _, _, more in offered]
    # Differences below what the plan itself is known to mean nothing.
    clear = max(GAP, solution.gap) * max(solution.worth, 0.0)
    opened.hold(plan.batches, solution.batches)
    held: Answer | None = None
    rows = []
    for (resource, words, more), free in zip(offered, found, strict=True):
        value, sure = base.cost - free.cost, 0.0
        if value > clear:
            held = held or opened.solve(relaxed=True)
            sure = held.cost - _with_more(opened, plan, held, more).cost
        said = _comment(value, sure, clear)
        spoiled, jars = (
            after - before
            for after, before in zip(
                _spoiled_and_jars(inputs, plan, free.x),
                _spoiled_and_jars(inputs, plan, base.x),
                strict=True,
            )
        )
        rows.append(
            {
                "resource": resource,
                "one_more": words,
                "saved_kg": -spoiled,
                "more_jars": jars,
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


def _with_more(opened: Solver, plan: WeekModel, base: Answer, more: Mapping[str, float]) -> Answer:
    """Solve again with more of some resources.

    Where the cost does not move with any of them, more changes nothing: the programme is convex.
    """
    columns = np.array([plan.more[name] for name in more])
    if (base.slope[columns] > -1e-9).all():
        return base
    opened.hold(columns, 0.0, list(more.values()))
    answer = opened.solve(relaxed=True)
    opened.hold(columns, 0.0)
    return answer


def _spoiled_and_jars(inputs: ProgrammeInputs, plan: WeekModel, x: Array) -> tuple[float, float]:
    """Return kg spoiled and jars put up in the mean."""
    spoiled = x[plan.fruit].sum(axis=(1, 2)) - x[plan.uses.column].sum(axis=1)
    per_kg = (inputs.options["jars_per_batch"] / inputs.options["kg_per_batch"]).to_numpy(float)
    put_up = np.where(plan.put_up >= 0, x[plan.put_up], 0.0).sum(axis=(1, 3))
    return float(inputs.weights @ spoiled), float(inputs.weights @ (put_up @ per_kg))


def _comment(value: float, sure: float, clear: float) -> Said:
    if value <= max(clear, 1e-6):
        return Said("saving.unclear")
    share = sure / value
    if share > 0.9:
        return Said("saving.sure")
    if share > 0.1:
        return Said("saving.part", {"percent": 100 * share})
    return Said("saving.anew")


def _one_more(inputs: ProgrammeInputs) -> Iterator[tuple[str, str, dict[str, float]]]:
    """Yield each resource, its unit in words, and units more as ``WeekModel.more`` names them."""
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
        yield name, more, {kind: one}
    if any(kind.endswith("canner") for kind in used):
        yield "stove", "a place for one more canner", {"stove": 1.0}
    for day in range(min(7, capacity.days)):
        yield f"hours on {capacity.dates[day]:%A}", "one hour", {f"hours {day}": 1.0}
    taken = {jar_store(jar) for jar in inputs.options["jar"]}
    for size in JAR_SIZES:
        if size in taken:
            lids = {} if np.isnan(capacity.store("lids")) else {"lids": DOZEN}
            yield f"{size.replace('_', '-')} jars", "a dozen with lids", {size: DOZEN} | lids
    yield "lids", "a box of 12", {"lids": DOZEN}
    for place in ("freezer", *PLACES):
        yield place.replace("_", " "), "10 litres", {f"{place}_l": LITRES}
