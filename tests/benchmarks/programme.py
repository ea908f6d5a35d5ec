"""Size and worth of the week's programme.

    python -m tests.benchmarks.programme size [FUTURES SEED]
    python -m tests.benchmarks.programme worth sample_logs [AS_OF SEED DRAWS]
    python -m tests.benchmarks.programme worth simulated - SEED [DRAWS]

``size`` solves invented kitchens of 8 crops, 25 ways of putting up and 14 days for 10, 30 and 100
futures. ``worth`` chooses the first days' batches in three ways and follows each choice through
1,000 draws of the garden's outlook with another seed than the plans saw: (a) this library's plan
(the programme on 30 draws, and the best of the plans near it on more draws of the same outlook),
(b) the programme on the mean draw, (c) always a batch of whatever there is most of. Later days
are chosen with hindsight in all three, so that all look better than they would be.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from harvestcast import forecast, open_garden
from harvestcast.kitchen.solve.block import build_block, fruit_of
from harvestcast.kitchen.solve.columns import option_arrays
from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import ProgrammeInputs, with_spans
from harvestcast.kitchen.solve.layout import lay_out, minimise
from harvestcast.kitchen.solve.solve import solve_programme
from harvestcast.kitchen.week.draws import spread_draws
from harvestcast.kitchen.week.plan import PLAN_SPANS, choose_batches, gather_inputs, part_of
from tests.kitchen.programme_cases import random_kitchen
from tests.simulated import as_garden, simulate_garden


def size(counts: Sequence[int], seeds: Sequence[int]) -> None:
    """Print seconds of the processor and gap, with the relaxed solve as the measure."""
    print(
        f"{'futures':>8} {'seed':>4} {'rows':>8} {'columns':>8} {'relaxed s':>10} "
        f"{'to 0.3 % s':>11} ratio    gap"
    )
    for draws in counts:
        for seed in seeds:
            daily = random_kitchen(
                seed, crops=8, options=25, days=14, draws=draws, decided=3, kg_day=6.0
            )
            inputs = with_spans(daily, PLAN_SPANS)
            layout = lay_out(build_block(inputs), fruit_of(inputs), inputs.weights, 1.0)
            began = time.process_time()
            minimise(layout)
            relaxed = time.process_time() - began
            began = time.process_time()
            solution = solve_programme(inputs, time_limit_s=60.0)
            took = time.process_time() - began
            rows, columns = layout.rows.shape
            print(
                f"{draws:8} {seed:4} {rows:8} {columns:8} {relaxed:10.2f} {took:11.2f} "
                f"{took / relaxed:5.1f} {solution.gap:.4f} {solution.status}",
                flush=True,
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


def worth(garden: Any, as_of: str | None, seed: int, draws: int) -> None:
    """Print spoilage, targets and hours of three ways to choose, on fresh draws."""
    outlook = forecast(garden, as_of=as_of, draws=400, seed=seed)
    full = gather_inputs(outlook, garden, notes=[])
    days = min(10, full.days)
    began = time.process_time()
    choice = choose_batches(full, days, spread_draws(full.picked[:, :days], 30, seed))
    took = time.process_time() - began
    every = part_of(full, days, np.arange(full.draws))
    mean = replace(every, picked=every.picked.mean(axis=0, keepdims=True), weights=np.array([1.0]))
    other = gather_inputs(
        forecast(garden, as_of=as_of, draws=draws, seed=seed + 20_260_726), garden, notes=[]
    )
    fresh = part_of(other, days, np.arange(other.draws))
    plans = {
        "a this plan, 30 draws": choice.solution.shared,
        "b programme, mean draw": solve_programme(with_spans(mean, PLAN_SPANS)).shared,
        "c most abundant first": most_abundant_first(every),
    }
    if choice.gain > 0:
        seen = part_of(full, days, spread_draws(full.picked[:, :days], 30, seed))
        plans["  30 draws, not chosen"] = solve_programme(with_spans(seen, PLAN_SPANS)).shared
    status = choice.solution.status
    print(
        f"{outlook.as_of:%Y-%m-%d}, seed {seed}: {status}, gap {choice.solution.gap:.4f}, "
        f"{choice.plans} plans compared on {choice.draws} draws, {took:.0f} s of one core"
    )
    table, block = option_arrays(fresh), build_block(fresh)
    print(f"{'plan':24} {'value':>8} {'spoiled kg':>10} {'targets':>8} {'hours':>7} {'jars':>6}")
    values: dict[str, np.ndarray] = {}
    asked: dict[tuple[int, ...], Any] = {}
    for name, shared in plans.items():
        # Bought jars of another number of draws are the plan's own; the columns are the same.
        key = tuple(np.rint(shared * 1000).astype(int))
        done = asked.setdefault(key, None) or follow(fresh, shared)
        asked[key] = done
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
            f"{tiers.mean() / wanted:8.1%} {planned + later.mean():7.1f} {jars.mean():6.1f}",
            flush=True,
        )
    first, *rest = values
    for name in rest:
        gain = values[first] - values[name]
        error = gain.std() / np.sqrt(len(gain))
        print(f"a better than {name}: {gain.mean():.2f} points (standard error {error:.2f})")


def simulated(seed: int) -> tuple[Any, str]:
    """Return an invented garden of the simulator with a kitchen, and a day in its glut."""
    sim = simulate_garden(
        seed, crops=("cucumber", "tomato", "snap bean", "zucchini", "sweet pepper"), years=(2025,)
    )
    pieces = (
        {"kind": "boiling_water_canner"},
        {"kind": "pressure_canner", "gauge": "dial"},
        {"kind": "dryer", "trays": 6, "tray_area_m2": 0.12},
        {"kind": "freezer", "free_l": 60},
        {"kind": "refrigerator", "free_l": 60},
    )
    week = dict.fromkeys(("monday", "tuesday", "wednesday", "thursday", "friday"), 1.5)
    garden = as_garden(
        sim,
        equipment=pieces,
        hours=week | {"saturday": 5, "sunday": 3},
        jars={"pint": 60, "quart": 30, "half_pint": 24, "lids": 90},
        targets={"dill pickles": 30, "cucumber relish": 12, "canned snap beans": 40,
                 "frozen sweet peppers": 12, "tomato sauce": 30, "frozen zucchini": 10},
    )  # fmt: skip
    daily = sim.picks.groupby("date")["mass_kg"].sum().rolling(10, min_periods=1).sum()
    return garden, str(daily.idxmax().date())


if __name__ == "__main__":
    wanted, *rest = sys.argv[1:] or [""]
    options = dict(zip(("what", "as_of", "seed", "draws"), rest, strict=False))
    number, fresh_draws = int(options.get("seed", 1)), int(options.get("draws", 1000))
    if wanted == "size":
        counts = [int(options["what"])] if "what" in options else [10, 30, 100]
        size(counts, [int(options["as_of"])] if "as_of" in options else [1, 2])
    elif wanted == "worth" and options.get("what") == "simulated":
        made, day = simulated(number)
        worth(made, day, number, fresh_draws)
    elif wanted == "worth" and "what" in options:
        at = options.get("as_of", "-")
        worth(open_garden(options["what"]), None if at == "-" else at, number, fresh_draws)
    else:
        sys.exit(__doc__)
