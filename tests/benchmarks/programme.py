"""Size and worth of the week's programme.

    python -m tests.benchmarks.programme size
    python -m tests.benchmarks.programme worth sample_logs

``size`` solves invented kitchens of 8 crops, 25 ways of putting up and 14 days for 10, 30 and 100
futures. ``worth`` chooses the first days' batches in three ways and follows each choice through
1,000 fresh draws of the garden's outlook: (a) the programme on 30 draws, (b) the programme on the
mean draw, (c) always a batch of whatever there is most of. Later days are chosen with hindsight in
all three, so that all look better than they would be.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace

import numpy as np

from harvestcast import forecast, open_garden
from harvestcast.kitchen.block import build_block, fruit_of
from harvestcast.kitchen.columns import option_arrays
from harvestcast.kitchen.draws import spread_draws
from harvestcast.kitchen.inputs import ProgrammeInputs, with_spans
from harvestcast.kitchen.programme import PLAN_SPANS, gather_inputs, part_of
from harvestcast.kitchen.recourse import follow
from harvestcast.kitchen.layout import lay_out, minimise
from harvestcast.kitchen.solver import solve_programme
from tests.kitchen.programme_cases import random_kitchen


def size() -> None:
    """Print time and gap for 10, 30 and 100 futures, with the relaxed solve as the measure."""
    print(
        f"{'futures':>8} {'rows':>8} {'columns':>8} {'relaxed s':>10} {'to 0.3 % s':>11} ratio gap"
    )
    for draws in (10, 30, 100):
        for seed in (1, 2):
            daily = random_kitchen(
                seed, crops=8, options=25, days=14, draws=draws, decided=3, kg_day=6.0
            )
            inputs = with_spans(daily, PLAN_SPANS)
            layout = lay_out(build_block(inputs), fruit_of(inputs), inputs.weights, 1.0)
            began = time.perf_counter()
            minimise(layout)
            relaxed = time.perf_counter() - began
            solution = solve_programme(inputs, time_limit_s=60.0)
            rows, columns = layout.rows.shape
            print(
                f"{draws:8} {rows:8} {columns:8} {relaxed:10.2f} {solution.seconds:11.2f} "
                f"{solution.seconds / relaxed:5.1f} {solution.gap:.4f} {solution.status}"
            )


def most_abundant_first(inputs: ProgrammeInputs) -> np.ndarray:
    """Return the shared columns of the rule: a batch of whatever there is most of, again."""
    block = build_block(inputs)
    table = option_arrays(inputs)
    shared = np.zeros(len(block.shared_cost))
    mean = inputs.picked.mean(axis=0)
    lying = {c: float(inputs.stock[inputs.lane_crop == c].sum()) for c in range(len(inputs.crops))}
    for day in range(inputs.decided):
        for crop in lying:
            lying[crop] += float(mean[day, inputs.lane_crop == crop].sum())
        tired: set[int] = set()
        while len(tired) < len(lying):
            crop = max((c for c in lying if c not in tired), key=lambda c: lying[c])
            mine = sorted(np.flatnonzero(table.crop == crop), key=lambda m: -table.kg[m])
            for option in mine:
                column = block.batches[day, option]
                shared[column] += 1
                fits = (block.shared_rows @ shared <= block.shared_limit + 1e-9).all()
                if fits and table.kg[option] <= lying[crop]:
                    lying[crop] -= float(table.kg[option])
                    break
                shared[column] -= 1
            else:
                tired.add(crop)
    return shared


def worth(folder: str) -> None:
    """Print spoilage, targets and hours of three ways to choose, on 1,000 fresh draws."""
    garden = open_garden(folder)
    full = gather_inputs(forecast(garden, draws=400, seed=1), garden, notes=[])
    days = min(10, full.days)
    tuned = part_of(full, days, spread_draws(full.picked[:, :days], 30, 1))
    every = part_of(full, days, np.arange(full.draws))
    mean = replace(every, picked=every.picked.mean(axis=0, keepdims=True), weights=np.array([1.0]))
    other = gather_inputs(forecast(garden, draws=1000, seed=20260726), garden, notes=[])
    fresh = part_of(other, days, np.arange(other.draws))
    plans = {
        "a programme, 30 draws": solve_programme(with_spans(tuned, PLAN_SPANS)).shared,
        "b programme, mean draw": solve_programme(with_spans(mean, PLAN_SPANS)).shared,
        "c most abundant first": most_abundant_first(every),
    }
    table, block = option_arrays(fresh), build_block(fresh)
    print(f"{'plan':24} {'value':>8} {'spoiled kg':>10} {'targets':>8} {'hours':>7} {'jars':>6}")
    values = {}
    for name, shared in plans.items():
        # Bought jars of another number of draws are the plan's own; the columns are the same.
        done = follow(fresh, shared)
        put = np.where(block.put_up >= 0, 1.0, 0.0)
        kg = (done.columns[:, np.maximum(block.put_up, 0)] * put).sum(axis=3)
        used = done.columns[:, block.column].sum(axis=1)
        spoiled = fruit_of(fresh).sum(axis=1) - used
        planned = float((np.rint(shared[block.batches]) * table.hours).sum())
        later = (kg[:, fresh.decided :] * (table.hours / table.kg)).sum(axis=(1, 2))
        tiers = done.columns[:, block.tiers[:, :-1]].sum(axis=(1, 2))
        wanted = np.asarray(block.worth.room)[:, :-1].sum()
        jars = (kg * (table.jars / table.kg)).sum(axis=(1, 2))
        values[name] = -done.cost
        print(
            f"{name:24} {-done.cost.mean():8.1f} {spoiled.mean():10.1f} "
            f"{tiers.mean() / wanted:8.1%} {planned + later.mean():7.1f} {jars.mean():6.1f}"
        )
    first, *rest = values
    for name in rest:
        gain = values[first] - values[name]
        error = gain.std() / np.sqrt(len(gain))
        print(f"a better than {name}: {gain.mean():.2f} points (standard error {error:.2f})")


if __name__ == "__main__":
    if sys.argv[1:2] == ["size"]:
        size()
    elif sys.argv[1:2] == ["worth"] and len(sys.argv) == 3:
        worth(sys.argv[2])
    else:
        sys.exit(__doc__)
