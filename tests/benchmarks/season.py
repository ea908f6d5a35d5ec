"""How honest the season's figures are, measured on simulated gardens whose truth is known.

    python -m tests.benchmarks.season intervals 1 121 even
    python -m tests.benchmarks.season best 1 121 odd best.png
    python -m tests.benchmarks.season both 1 121 odd best.png

``intervals`` counts how often 90 % intervals of ``compare_varieties`` hold the truth, per measure,
crop and number of plants. ``best`` sets the probability of being the best of a crop against how
often that came true, and draws it; ``both`` does the two on one pass. All take a range of seeds
and which of them to use: while a model is mended only even seeds are looked at; figures to report
come from odd ones.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np
import pandas as pd

from harvestcast.frames.season_tables import MEASURES
from harvestcast.season.review import tables
from harvestcast.season.review.varieties import review_crops
from harvestcast.season.yields.learned import CropDraws
from harvestcast.season.yields.plantings import units_of
from tests.season.repeated import YEAR, repeated_season
from tests.simulated import CROPS

DRAWS = 1000
SHARES = np.array([0.0, 0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1.0 + 1e-9])


def seeds(first: str, last: str, which: str) -> list[int]:
    """Return the even or the odd seeds of a range, or all."""
    wanted = {"even": (0,), "odd": (1,), "all": (0, 1)}[which]
    return [seed for seed in range(int(first), int(last)) if seed % 2 in wanted]


@cache
def reviewed(seed: int) -> tuple[list[CropDraws], pd.DataFrame]:
    """Review a simulated garden: its draws, and estimates beside the truth."""
    rng = np.random.default_rng([seed, 5])
    crops = sorted(rng.choice(sorted(CROPS), size=6, replace=False))
    few = (1, 3) if seed // 2 % 3 == 0 else None
    case = repeated_season(seed, crops=crops, varieties=2 + seed // 2 % 3, plants=few)
    drawn, long = review_crops(case.garden, units_of(case.garden, YEAR), draws=DRAWS, seed=seed)
    both = long.drop(columns="plants").merge(case.truth, on=["crop", "variety", "measure"])
    both["seed"] = seed
    both["few"] = few is not None
    return drawn, both


def gathered(which: list[int]) -> pd.DataFrame:
    """Return estimates beside the truth over many gardens."""
    table = pd.concat([reviewed(seed)[1] for seed in which], ignore_index=True)
    table["inside"] = (table["truth"] >= table["q05"]) & (table["truth"] <= table["q95"])
    table["below"], table["above"] = table["truth"] < table["q05"], table["truth"] > table["q95"]
    floor = 1e-4
    table["bias"] = np.log(table["estimate"].clip(floor) / table["truth"].clip(floor))
    table["width"] = np.log(table["q95"].clip(floor) / table["q05"].clip(floor))
    return table


def summary(table: pd.DataFrame, by: list[str]) -> pd.DataFrame:
    """Return counts and coverage per group."""
    return table.groupby(by).agg(
        n=("inside", "size"), inside=("inside", "mean"), truth_below=("below", "mean"),
        truth_above=("above", "mean"), bias=("bias", "median"), width=("width", "median"),
    ).round(3)  # fmt: skip


def intervals(which: list[int]) -> None:
    """Print how often the 90 % intervals hold the truth."""
    began = time.perf_counter()
    table = gathered(which)
    kinds = len(table.drop_duplicates(["seed", "crop", "variety"]))
    print(f"{len(which)} gardens, {kinds} varieties, {time.perf_counter() - began:.0f} s")
    print(summary(table, ["measure"]).to_string())
    big = table[table["measure"] == "oversize_share"]
    print("oversize share where fruit does grow too big:")
    print(summary(big[big["truth"] > 0], ["measure"]).to_string())
    for by in ("crop", "few"):
        print(f"inside, by {by}:")
        wide = table.pivot_table(index="measure", columns=by, values="inside").round(2)
        print(wide.to_string())


def chances(which: list[int]) -> pd.DataFrame:
    """Return, per variety and measure with a better side, the chance given and what was true."""
    rows = []
    for seed in which:
        drawn, both = reviewed(seed)
        truth = both.set_index(["crop", "variety", "measure"])["truth"]
        for crop in drawn:
            table = tables.best_table(crop).dropna()
            for measure, part in table.groupby("measure"):
                keys = [(crop.crop, name, measure) for name in part["variety"]]
                true = truth.reindex(keys).to_numpy(float)
                if len(true) < 2 or np.isnan(true).any():
                    continue
                best = true.max() if MEASURES[str(measure)][1] == "more" else true.min()
                share = (true == best) / np.sum(true == best)
                rows += [
                    (seed, crop.crop, measure, chance, right)
                    for chance, right in zip(part["probability_best"], share, strict=True)
                ]
    return pd.DataFrame(rows, columns=["seed", "crop", "measure", "chance", "best"])


def reliability(table: pd.DataFrame) -> pd.DataFrame:
    """Return bins of the chance given: how many, the mean chance, how often it came true."""
    place = np.digitize(table["chance"], SHARES[1:-1])
    bins = table.groupby(place).agg(
        n=("chance", "size"), chance=("chance", "mean"), came_true=("best", "mean")
    )
    bins.insert(0, "from", SHARES[:-1][bins.index])
    bins["error"] = np.sqrt(bins["came_true"] * (1 - bins["came_true"]) / bins["n"])
    return bins.round(3)


def best(which: list[int], picture: Path) -> None:
    """Print and draw the reliability of the probability of being best."""
    from matplotlib.figure import Figure

    table = chances(which)
    groups = {
        "yield of a plant, kg": table[table["measure"] == "kg_per_plant"],
        "first pick, days": table[table["measure"] == "first_pick_days"],
        "all measures with a better side": table,
    }
    figure = Figure(figsize=(12, 4.2), layout="constrained")
    for axes, (name, part) in zip(figure.subplots(1, 3, sharey=True), groups.items(), strict=True):
        bins = reliability(part)
        brier = float(np.mean((part["chance"] - part["best"]) ** 2))
        base = part.groupby(["seed", "crop", "measure"])["chance"].transform("size")
        plain = float(np.mean((1 / base - part["best"]) ** 2))
        print(f"\n{name}: {len(part)} chances, Brier score {brier:.4f} "
              f"({plain:.4f} with equal chances)")  # fmt: skip
        print(bins.to_string(index=False))
        axes.plot([0, 1], [0, 1], color="0.6", linewidth=1, label="as promised")
        axes.errorbar(bins["chance"], bins["came_true"], yerr=1.645 * bins["error"], fmt="o",
                      color="black", capsize=3, label="counted, with 90 % error")  # fmt: skip
        for row in bins.itertuples():
            axes.annotate(str(row.n), (row.chance, row.came_true), xytext=(6, -11),
                          textcoords="offset points", fontsize=8)  # fmt: skip
        axes.set(xlabel="chance given [share]", title=f"{name}\nBrier {brier:.3f}",
                 xlim=(-0.02, 1.02), ylim=(-0.02, 1.02))  # fmt: skip
    figure.axes[0].set_ylabel("was the best [share]")
    figure.axes[0].legend(loc="upper left", fontsize=8)
    figure.savefig(picture, dpi=110)


def both(which: list[int], picture: Path) -> None:
    """Do the two on the same gardens."""
    intervals(which)
    best(which, picture)


def _arguments(rest: list[str]) -> Iterator[object]:
    yield seeds(*rest[:3])
    yield from (Path(one) for one in rest[3:])


if __name__ == "__main__":
    verbs = {"intervals": (intervals, 3), "best": (best, 4), "both": (both, 4)}
    verb = verbs.get(sys.argv[1] if len(sys.argv) > 1 else "")
    if verb is None or len(sys.argv) - 2 != verb[1]:
        sys.exit(__doc__)
    verb[0](*_arguments(sys.argv[2:]))
