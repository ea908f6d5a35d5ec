"""Size and worth of the week's programme.

    python -m tests.benchmarks.programme size [FUTURES SEED]
    python -m tests.benchmarks.programme worth sample_logs [AS_OF SEED DRAWS [DISLIKE]]
    python -m tests.benchmarks.programme worth simulated - SEED [DRAWS [DISLIKE]]

``size`` solves invented kitchens of 8 crops, 25 ways of putting up and 14 days for 10, 30 and 100
futures. ``worth`` chooses the first days' batches in several ways and follows each choice through
1,000 draws of the garden's outlook with another seed than the plans saw: (a) this library's plan
(the programme on 30 draws at once, more where it is easy), the same on 12, 30 and 60 draws and with
later days less taken together, (b) the programme on the mean draw, (c) always a batch of whatever
there is most of. Later days
are chosen with hindsight in all, so that all look better than they would be. DISLIKE is the
household's ``dislike_of_bad_weeks``.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from harvestcast import forecast, open_garden
from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import ProgrammeInputs, option_arrays, with_spans
from harvestcast.kitchen.solve.model import week_model
from harvestcast.kitchen.solve.solve import solve_programme
from harvestcast.kitchen.week.draws import spread_draws
from harvestcast.kitchen.week.plan import PLAN_SPANS, choose_batches, gather_inputs, part_of
from harvestcast.solver import Solver
from tests.kitchen.programme_cases import random_kitchen
from tests.simulated import as_garden, simulate_garden


def size(counts: Sequence[int], seeds: Sequence[int]) -> None:
    """Print seconds of the processor and gap, with the relaxed solve as the measure."""
    print(
        f"{'futures':>8} {'seed':>4} {'rows':>8} {'columns':>8} {'relaxed s':>10} "
        f"{'to 0.3 % s':>11} ratio    gap nodes"
    )
    for draws in counts:
        for seed in seeds:
            daily = random_kitchen(
                seed, crops=8, options=25, days=14, draws=draws, decided=3, kg_day=6.0
            )
            inputs = with_spans(daily, PLAN_SPANS)
            model = week_model(inputs).model
            began = time.process_time()
            Solver(model).solve(relaxed=True)
            relaxed = time.process_time() - began
            began = time.process_time()
            solution = solve_programme(inputs)
            took = time.process_time() - began
            print(
                f"{draws:8} {seed:4} {model.height:8} {model.width:8} {relaxed:10.2f} {took:11.2f} "
                f"{took / relaxed:5.1f} {solution.gap:.4f} {solution.nodes:5} {solution.status}",
                flush=True,
            )


def most_abundant_first(inputs: ProgrammeInputs) -> np.ndarray:
    """Return the shared columns of the rule: a batch of whatever there is most of, again."""
    table = option_arrays(inputs)
    plan = week_model(replace(inputs, picked=inputs.picked[:0], weights=inputs.weights[:0]))
    rows, (_, limit) = plan.model.matrix().tocsr(), plan.model.row_limits()
    shared = np.zeros(plan.model.width)
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
                column = plan.batches[day, option]
                shared[column] += 1
                fits = (rows @ shared <= limit + 1e-9).all()
                if fits and table.kg[option] <= lying[crop]:
                    lying[crop] -= float(table.kg[option])
                    break
                shared[column] -= 1
            else:
                tired.add(crop)
    return np.asarray(shared[plan.shared])


def worth(garden: Any, as_of: str | None, seed: int, draws: int, dislike: float) -> None:
    """Print spoilage, targets and hours of several ways to choose, on fresh draws."""
    outlook = forecast(garden, as_of=as_of, draws=400, seed=seed)
    full = _disliking(gather_inputs(outlook, garden, notes=[]), dislike)
    days = min(10, full.days)

    def seen(number: int, spans: tuple[int, ...]) -> ProgrammeInputs:
        chosen = spread_draws(full.picked[:, :days], number, seed)
        return with_spans(part_of(full, days, chosen), spans)

    other = gather_inputs(
        forecast(garden, as_of=as_of, draws=draws, seed=seed + 20_260_726), garden, notes=[]
    )
    fresh = part_of(_like(full, other), days, np.arange(other.draws))
    every = part_of(full, days, np.arange(full.draws))
    mean = replace(every, picked=every.picked.mean(axis=0, keepdims=True), weights=np.array([1.0]))
    ways: dict[str, Any] = {
        "a this plan": lambda: choose_batches(full, days, 30, seed),
        "  12 draws": lambda: solve_programme(seen(12, PLAN_SPANS)),
        "  30 draws": lambda: solve_programme(seen(30, PLAN_SPANS)),
        "  60 draws": lambda: solve_programme(seen(60, PLAN_SPANS)),
        "  30, days less together": lambda: solve_programme(seen(30, (1, 1, 1, 2))),
        "b programme, mean draw": lambda: solve_programme(with_spans(mean, PLAN_SPANS)),
        "c most abundant first": lambda: None,
    }
    print(f"{outlook.as_of:%Y-%m-%d}, seed {seed}, dislike of bad weeks {dislike:g}")
    print(f"{'plan':26} {'CPU s':>6} {'gap':>6} {'value':>8} {'spoiled kg':>10} {'targets':>8} "
          f"{'hours':>7} {'jars':>6}")  # fmt: skip
    table, values = option_arrays(fresh), {}
    for name, way in ways.items():
        began = time.process_time()
        found = way()
        took = time.process_time() - began
        shared = most_abundant_first(every) if found is None else found.shared
        done = follow(fresh, shared)
        plan = done.plan
        kg = done.amount(plan.put_up[0]).sum(axis=3)
        spoiled = done.amount(plan.fruit[0]).sum(axis=(1, 2))
        spoiled -= done.amount(plan.uses.column[0]).sum(axis=1)
        planned = float((done.amount(plan.batches)[0] * table.hours).sum())
        later = (kg[:, fresh.decided :] * (table.hours / table.kg)).sum(axis=(1, 2))
        tiers = done.amount(plan.tiers[0, :, :-1]).sum(axis=(1, 2))
        wanted = np.asarray(plan.worth.room)[:, :-1].sum()
        jars = (kg * (table.jars / table.kg)).sum(axis=(1, 2))
        values[name] = -done.cost
        gap = np.nan if found is None else found.gap
        print(
            f"{name:26} {took:6.2f} {gap:6.4f} {-done.cost.mean():8.1f} {spoiled.mean():10.1f} "
            f"{tiers.mean() / wanted:8.1%} {planned + later.mean():7.1f} {jars.mean():6.1f}",
            flush=True,
        )
    first, *rest = values
    for name in rest:
        gain = values[first] - values[name]
        error = gain.std() / np.sqrt(len(gain))
        print(f"a better than {name}: {gain.mean():.2f} points (standard error {error:.2f})")


def _disliking(inputs: ProgrammeInputs, dislike: float) -> ProgrammeInputs:
    choices = inputs.choices.model_copy(update={"dislike_of_bad_weeks": dislike})
    return replace(inputs, choices=choices)


def _like(full: ProgrammeInputs, other: ProgrammeInputs) -> ProgrammeInputs:
    """Return the first programme with the draws of another; a lane it lacks brings nothing."""
    lanes = {
        (other.crops[crop], bool(big)): other.picked[:, :, lane]
        for lane, (crop, big) in enumerate(zip(other.lane_crop, other.lane_oversize, strict=True))
    }
    nothing = np.zeros(other.picked.shape[:2])
    picked = [
        lanes.get((full.crops[crop], bool(big)), nothing)
        for crop, big in zip(full.lane_crop, full.lane_oversize, strict=True)
    ]
    return replace(full, picked=np.stack(picked, axis=2), weights=other.weights)


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
    options = dict(zip(("what", "as_of", "seed", "draws", "dislike"), rest, strict=False))
    number, fresh_draws = int(options.get("seed", 1)), int(options.get("draws", 1000))
    disliked = float(options.get("dislike", 0.0))
    if wanted == "size":
        counts = [int(options["what"])] if "what" in options else [10, 30, 100]
        size(counts, [int(options["as_of"])] if "as_of" in options else [1, 2])
    elif wanted == "worth" and options.get("what") == "simulated":
        made, day = simulated(number)
        worth(made, day, number, fresh_draws, disliked)
    elif wanted == "worth" and "what" in options:
        at = options.get("as_of", "-")
        worth(
            open_garden(options["what"]), None if at == "-" else at, number, fresh_draws, disliked
        )
    else:
        sys.exit(__doc__)
