"""Whether a planting plan keeps its promise, and how long one takes, on simulated gardens.

    python -m tests.benchmarks.next_season promise 1 17 odd
    python -m tests.benchmarks.next_season promise 1 17 odd 60
    python -m tests.benchmarks.next_season size

``promise`` plans the season after a simulated one, grows the planned beds in thirty coming seasons
that the plan never saw (the simulator's own weather, plots and plants), works the picks through the
kitchen's rule and counts how often each target was met; the same for this year's beds and for
rule-of-thumb plants, each as it is and with the plants of every crop multiplied until its targets
are met as often as the plan's in those very seasons. Seeds: a range and which of them; while a
model is mended only even ones are looked at; last, if not 400 m2, the bed area: with little, some
targets must fall short, and it is counted whether the lesser chances given come true and how many
crops have no bed. ``size`` solves an invented case of 12 crops, 25
varieties on 3 dates and 26 weeks with 50 futures.
"""

from __future__ import annotations

import sys
import time

import numpy as np
import pandas as pd

from harvestcast.season.kitchen_year import run_year
from harvestcast.season.next import plan as module
from harvestcast.season.next.case import Case, case_of
from harvestcast.season.next.goals import rule_of_thumb
from harvestcast.season.next.search import outcome
from harvestcast.season.next.steps import lay_out
from tests.benchmarks.season import seeds
from tests.season.repeated import YEAR, Repeated, coming_season, repeated_season
from tests.season.synthetic import invented
from tests.simulated.garden import USUAL_CROPS

SEASONS = 30
PROMISED = 0.9
KITCHEN = {
    "targets": {
        "dill pickles": 14, "frozen zucchini": 8, "frozen snap beans": 10, "tomato sauce": 8,
        "frozen tomatoes": 8, "frozen sweet peppers": 8, "frozen peas": 6,
    },
    "equipment": [
        {"kind": "boiling_water_canner"}, {"kind": "freezer", "free_l": 150.0},
        {"kind": "pressure_canner", "gauge": "dial"},
    ],
    "hours": {
        "monday": 2, "tuesday": 1, "wednesday": 2, "thursday": 1, "friday": 1, "saturday": 4,
        "sunday": 3,
    },
    "bed_area_m2": 400.0,
}  # fmt: skip
FACTORS = np.array([0.15, 0.25, 0.4, 0.6, 0.8, 1.0, 1.25, 1.6, 2.0, 3.0, 4.0, 6.0])
"""Multiples of a rival's plants that are looked at, crop by crop."""


def picked(case: Repeated, options: tuple, plants: np.ndarray, weeks: pd.DatetimeIndex,
           crops: tuple[str, ...], seed: int) -> np.ndarray:  # fmt: skip
    """Return the weekly picks of a layout in a season to come, kg, shape (weeks, crops)."""
    layout = pd.DataFrame(
        [(o.crop, o.variety, o.date, n) for o, n in zip(options, plants, strict=True) if n > 0],
        columns=["crop", "variety", "date", "plants"],
    )
    daily = coming_season(case, layout, year=YEAR + 1, seed=seed)
    dates = pd.date_range(f"{YEAR + 1}-01-01", periods=daily.shape[1])
    week = ((dates - weeks[0]).days // 7).to_numpy()
    here = (week >= 0) & (week < len(weeks))
    found = np.zeros((len(weeks), len(crops)))
    for row, crop in zip(daily, case.kinds["crop"], strict=True):
        np.add.at(found[:, crops.index(crop)], week[here], row[here])
    return found


def promise(which: list[int], bed_m2: float = KITCHEN["bed_area_m2"]) -> None:  # type: ignore[assignment]
    """Print how often promised targets were met, and the glut of plan and rivals."""
    rows, layouts = [], []
    for seed in which:
        began = time.perf_counter()
        case = repeated_season(seed, crops=USUAL_CROPS, varieties=2, copies=1,
                               **{**KITCHEN, "bed_area_m2": bed_m2})  # fmt: skip
        made = case_of(
            case.garden,
            year=YEAR + 1,
            probability=PROMISED,
            draws=(50, module.TRIALS, module.FRESH_FUTURES),
            seed=1,
            sowings=3,
            limits=None,
            bed_area_m2=None,
        )
        kitchen, goals = made.kitchen, made.goals
        done = lay_out(made.plan.per_plant, made.trial.per_plant, kitchen, made.choices, goals)
        said = outcome(made.fresh.per_plant, done.plants, kitchen, made.choices, goals)
        planning = time.perf_counter() - began
        goal = np.concatenate([kitchen.need, goals.fresh_kg])
        names = [*kitchen.products, *(f"fresh {crop}" for crop in kitchen.crops)]
        of_crop = np.zeros((len(goal), len(kitchen.crops)), bool)
        of_crop[kitchen.method_product, kitchen.method_crop] = True
        of_crop[len(kitchen.products) + np.arange(len(kitchen.crops)),
                np.arange(len(kitchen.crops))] = True  # fmt: skip
        of_crop &= (goal > 0)[:, None]

        def met(picks: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
            year = run_year(picks, kitchen)  # noqa: B023
            fresh = (year.eaten * goals.fresh_weeks).sum(axis=1)  # noqa: B023
            got = np.concatenate([year.jars, fresh], axis=1)
            return got >= goal * (1 - 1e-6), year.glut.sum(axis=1)  # noqa: B023

        def grown(plants: np.ndarray) -> np.ndarray:
            return np.stack([
                picked(case, made.options, plants, made.fresh.weeks, kitchen.crops,  # noqa: B023
                       1000 * seed + k)  # noqa: B023
                for k in range(SEASONS)
            ])  # fmt: skip

        share, glut = met(grown(done.plants))
        reached = share.mean(axis=0)
        for place in np.flatnonzero(goal > 0):
            rows.append((seed, names[place], said.reliability[place], reached[place]))
        layouts.append((seed, "plan", reached[goal > 0].mean(), glut.mean(), True))
        wanted = (reached @ of_crop) / np.maximum(of_crop.sum(axis=0), 1)
        rivals = {
            "this year's beds": np.array([o.this_year for o in made.options]),
            "rule of thumb": rule_of_thumb(made.options, kitchen, goals),
        }
        for name, plants in rivals.items():
            share, glut = met(grown(plants))
            layouts.append((seed, name, share.mean(axis=0)[goal > 0].mean(), glut.mean(), True))
            # The least multiple of each crop that meets its targets as often as the plan does.
            # Picks grow with the plants: one growth, multiplied, to the rival's advantage.
            picks = grown(plants)
            chosen = np.full(len(kitchen.crops), FACTORS[-1])
            found = np.zeros(len(kitchen.crops), bool)
            for factor in FACTORS:
                each = met(factor * picks)[0].mean(axis=0) @ of_crop
                enough = each / np.maximum(of_crop.sum(axis=0), 1) >= wanted - 1e-9
                chosen = np.where(enough & ~found, factor, chosen)
                found |= enough
            share, glut = met(chosen * picks)
            layouts.append((seed, f"{name}, brought to the plan's reliability",
                            share.mean(axis=0)[goal > 0].mean(), glut.mean(),
                            bool(found.all())))  # fmt: skip
        print(f"seed {seed}: planned in {planning:.0f} s, gap {done.gap:.3f}; met "
              f"{layouts[-5][2]:.3f}; beds {said.area_m2:.0f} m2; crops without a bed "
              f"{_without(done.plants, made)}",
              flush=True)  # fmt: skip
    table = pd.DataFrame(rows, columns=["seed", "target", "promised", "met"])
    print(f"\n{len(which)} gardens, {SEASONS} coming seasons each")
    print(table.groupby("target")[["promised", "met"]].mean().round(3).to_string())
    tight = table[table["promised"] < PROMISED + 0.03]
    for name, part in (("all targets", table), ("targets that bind (promised below 0.93)", tight)):
        by_garden = part.groupby("seed")["met"].mean()
        error = by_garden.std() / np.sqrt(len(by_garden))
        print(f"{name}: {len(part)}, promised {part['promised'].mean():.3f}, met "
              f"{part['met'].mean():.3f} (standard error over gardens {error:.3f})")  # fmt: skip
    both = pd.DataFrame(layouts, columns=["seed", "layout", "met", "glut_kg", "reached"])
    mean = both.groupby("layout", sort=False)[["met", "glut_kg", "reached"]].mean()
    print(mean.round(3).to_string())
    wide = both.pivot_table(index="seed", columns="layout", values="glut_kg")
    for name in wide.columns.drop("plan"):
        better = int((wide["plan"] < wide[name]).sum())
        print(f"less glut than {name}: in {better} of {len(wide)} gardens")


def _without(plants: np.ndarray, made: Case) -> int:
    """Return how many crops with a target have no bed."""
    planted = np.bincount(made.choices.crop, weights=plants, minlength=len(made.kitchen.crops)) > 0
    return int((~planted & (made.goals.fresh_kg > 0)).sum())


def size() -> None:
    """Print time, gap and size of the large case."""
    for seed in (1, 2):
        case = invented(
            seed, crops=12, varieties=25, dates=3, products=12, weeks=26, hours=60.0, need=10.0
        )
        cpu = time.process_time()
        done = lay_out(
            case.draw(50, 10 * seed), case.draw(300, 10 * seed + 1), case.kitchen, case.choices,
            case.goals,
        )  # fmt: skip
        cpu = time.process_time() - cpu
        fresh = outcome(case.draw(600, 10 * seed + 2), done.plants, case.kitchen, case.choices,
                        case.goals)  # fmt: skip
        print(f"seed {seed}: {len(case.choices.crop)} options, {done.rows} rows, "
              f"{done.columns} columns; {done.seconds:.1f} s by the clock, {cpu:.1f} s of one "
              f"processor; {done.tried} layouts tried; gap {done.gap:.3f}; "
              f"worth {fresh.worth:.1f}; on fresh futures: mean "
              f"{np.nanmean(fresh.reliability):.3f}, least "
              f"{np.nanmin(fresh.reliability):.3f}", flush=True)  # fmt: skip


if __name__ == "__main__":
    if sys.argv[1:2] == ["promise"] and len(sys.argv) in (5, 6):
        promise(seeds(*sys.argv[2:5]), *(float(one) for one in sys.argv[5:]))
    elif sys.argv[1:] == ["size"]:
        size()
    else:
        sys.exit(__doc__)
