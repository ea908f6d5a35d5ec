"""Scores over families of gardens, ours beside simple forecasters as known on the day.

    python -m tests.benchmarks.families --half scored --cache DIR [--only glass weekly] [--seeds 4]

Families are those of :mod:`tests.simulated.families` and the logs nobody here wrote, where they
stand beside us, as they are and as people change them. ``--half tuned``: even seeds only, and the
folders; ``scored``: odd seeds, and the folders. Rivals are those of :mod:`tests.benchmarks.rivals`
but for boosted trees, with the errors a gardener would have known and with hindsight; their scores
are kept in the cache, for they do not change with our forecast. Weeks of all series of a garden end
on the same weekday, that of the garden's first week, so that one forecast an origin serves all.
"""

from __future__ import annotations

import argparse
import hashlib
import pickle
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.growth.scores import crps_ensemble
from tests.benchmarks import rivals
from tests.benchmarks.cases import Cases, weekly_cases
from tests.simulated.families import CHANGES, FAMILIES

FOLDERS = {
    "home": "home_garden_2020",
    "tomatoes": "glasshouse_tomato_2003",
    "strawberries": "house_strawberry_2021",
}
FIRST_SEED = 700
SLOW = ("ARIMA",)
"""Rivals left out of invented gardens: as good as the others and a hundred times as slow."""


def gardens(half: str, seeds: int, only: list[str]) -> Iterator[tuple[str, str, Callable[[], Any]]]:
    """Yield family, name and a function that makes the garden."""
    odd = half == "scored"
    for family, make in FAMILIES.items():
        for number in range(seeds):
            seed = FIRST_SEED + 2 * number + odd
            if not only or family in only:
                yield family, f"{family} {seed}", lambda make=make, seed=seed: make(seed)
    for folder in FOLDERS:
        if not only or folder in only:
            yield folder, folder, lambda folder=folder: real_garden(folder)
        for change, apply in CHANGES.items():
            name = f"{folder}, {change}"
            if not only or name in only or "changed" in only:
                yield (
                    name,
                    name,
                    lambda apply=apply, folder=folder: apply(real_garden(folder)),
                )


def real_garden(folder: str) -> Any:
    """Return one of the logs that nobody here wrote."""
    from harvestcast.records.garden import open_garden
    from tests.conftest import shared_file
    from tests.real_log import garden_folder_from_real_log

    if folder == "home":
        with tempfile.TemporaryDirectory() as scratch:
            return open_garden(garden_folder_from_real_log(scratch))
    return open_garden(shared_file(f"data/{FOLDERS[folder]}/picks.csv").parent)


def rival_scores(cases: Cases, *, slow: bool) -> pd.DataFrame:
    """Return per case and rival the CRPS and absolute error over the mean week, both ways."""
    out = []
    for way, forms in (
        ("known", rivals.calibrated_as_known),
        ("hindsight", rivals.calibrated),
    ):
        for name, candidates in rivals.rivals().items():
            if name in SLOW and not slow:
                continue
            points = [np.maximum([f(h) for h in cases.history], 0.0) for f in candidates]
            draws, both = rivals._best(cases, points, forms)
            crps = crps_ensemble(cases.observed, draws, estimator="nrg") / cases.mean_week
            error = min((np.abs(cases.observed - p) / cases.mean_week for p in both), key=np.mean)
            low, high = np.quantile(draws, [0.1, 0.9], axis=1)
            held = (low <= cases.observed) & (cases.observed <= high)
            out.append(
                pd.DataFrame(
                    {"way": way, "rival": name, "crps": crps, "error": error, "held": held}
                )
            )
    return pd.concat(out, ignore_index=True)


def our_draws(cases: list[Cases], garden: Any, *, draws: int, seed: int = 1) -> list[np.ndarray]:
    """Return our draws of the coming week of each case (cases, draws), in kg."""
    origins = np.unique(np.concatenate([c.origin for c in cases]))
    from harvestcast.growth.forecast import forecast

    rows = [np.zeros((len(c), draws)) for c in cases]
    for origin in origins:
        outlook = forecast(garden, as_of=pd.Timestamp(origin), weeks=1, draws=draws, seed=seed)
        week = outlook.mass_kg.sum(axis=1)
        for c, mine in zip(cases, rows, strict=True):
            for i in np.flatnonzero(c.origin == origin):
                member = [
                    crop == c.crop[i] and (c.level == "crop" or variety == c.variety[i])
                    for crop, variety in outlook.keys
                ]
                mine[i] = week[:, member].sum(axis=1)
    return rows


def our_scores(cases: list[Cases], garden: Any, *, draws: int, seed: int = 1) -> list[pd.DataFrame]:
    """Return per case our CRPS and absolute error over the mean week, and what ranges held."""
    out = []
    for c, mine in zip(cases, our_draws(cases, garden, draws=draws, seed=seed), strict=True):
        low, middle, high = np.quantile(mine, [0.1, 0.5, 0.9], axis=1)
        out.append(
            pd.DataFrame(
                {
                    "crop": c.crop,
                    "variety": c.variety,
                    "origin": c.origin,
                    "observed": c.observed,
                    "median": middle,
                    "mean": mine.mean(axis=1),
                    "low": low,
                    "high": high,
                    "last": [h[-1] for h in c.history],
                    "mean_week": c.mean_week,
                    "crps": crps_ensemble(c.observed, mine, estimator="nrg") / c.mean_week,
                    "error": np.abs(c.observed - middle) / c.mean_week,
                    "held": (low <= c.observed) & (c.observed <= high),
                    "shared": shared(c.observed, mine),
                    "below": c.observed < low,
                    "above": c.observed > high,
                }
            )
        )
    return out


def shared(observed: np.ndarray, draws: np.ndarray, level: float = 0.8) -> np.ndarray:
    """Return how much of each observation the middle ``level`` of the draws holds (cases,).

    Where many draws are alike, as on weeks without a pick, a range holds more than it promises
    whatever is done: of 30 % empty draws the lower end is 0, and 90 % lie within. So a value that
    draws share counts by the part of it that lies within the middle ones (the probability integral
    transform of counts: Czado, Gneiting and Held 2009, doi:10.1111/j.1541-0420.2009.01191.x, cited
    from memory). Of a forecast that is right the mean is ``level``.
    """
    below = (draws < observed[:, None]).mean(axis=1)
    upto = (draws <= observed[:, None]).mean(axis=1)
    edge = 0.5 * (1.0 - level)
    inside = np.clip(np.minimum(upto, 1.0 - edge) - np.maximum(below, edge), 0.0, None)
    alone = (below >= edge) & (below <= 1.0 - edge)
    return np.where(upto > below, inside / np.maximum(upto - below, 1e-9), alone)


def cases_of(garden: Any, *, every: int = 1) -> list[Cases]:
    """Return the cases of a garden by variety and by crop, on every so-manieth origin."""
    both = [weekly_cases(garden, None, level, together=True) for level in ("variety", "crop")]
    if every == 1:
        return both
    origins = np.unique(np.concatenate([c.origin for c in both]))[::every]
    return [c.where(np.isin(c.origin, origins)) for c in both]


def run(
    half: str, seeds: int, only: list[str], cache: Path, *, draws: int, ours: bool = True
) -> dict[str, Any]:
    """Return per garden the scores of rivals and of ours."""
    cache.mkdir(parents=True, exist_ok=True)
    found = {}
    for family, name, make in gardens(half, seeds, only):
        garden = make()
        cases = cases_of(garden)
        stored = cache / f"{_name(cases)}.pickle"
        if stored.exists():
            theirs = pickle.loads(stored.read_bytes())
        else:
            theirs = [rival_scores(c, slow=family.split(",")[0] in FOLDERS) for c in cases]
            stored.write_bytes(pickle.dumps(theirs))
        mine = our_scores(cases, garden, draws=draws) if ours else None
        found[name] = (family, theirs, mine)
        if mine is not None:
            print(table({name: found[name]}).to_string(index=False, header=len(found) == 1))
    return found


def _name(cases: list[Cases]) -> str:
    """Return a name for what rivals see: weeks of each series, in units of its mean."""
    text = b"".join(
        np.round(np.concatenate([h / m for h, m in zip(c.history, c.mean_week, strict=True)]), 6)
        .astype("float32")
        .tobytes()
        + np.round(c.observed / c.mean_week, 6).astype("float32").tobytes()
        for c in cases
        if len(c)
    )
    return hashlib.sha256(text).hexdigest()[:20]


def table(found: dict[str, Any]) -> pd.DataFrame:
    """Return one row a family and level: ours over the best rival, and what ranges held."""
    rows = []
    families = dict.fromkeys(family for family, _, _ in found.values())
    for family in families:
        for place, level in enumerate(("variety", "crop")):
            parts = [
                (theirs[place], mine[place])
                for of, theirs, mine in found.values()
                if of == family and len(mine[place])
            ]
            if not parts:
                continue
            ours = pd.concat([m for _, m in parts])
            theirs = pd.concat([t for t, _ in parts])
            row: dict[str, Any] = {"family": family, "level": level, "n": len(ours)}
            for way in ("known", "hindsight"):
                one = theirs[theirs["way"] == way].groupby("rival")[["crps", "error"]].mean()
                row[f"crps/{way}"] = ours["crps"].mean() / one["crps"].min()
                row[f"mae/{way}"] = ours["error"].mean() / one["error"].min()
            row |= {
                "crps": ours["crps"].mean(),
                "mae": ours["error"].mean(),
                "held": ours["held"].mean(),
                "shared": ours["shared"].mean(),
                "below": ours["below"].mean(),
                "above": ours["above"].mean(),
                "bias": ours["mean"].sum() / ours["observed"].sum(),
            }
            rows.append(row)
    return pd.DataFrame(rows).round(3)


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--half", choices=("tuned", "scored"), default="scored")
    parser.add_argument("--seeds", type=int, default=3, help="gardens a family")
    parser.add_argument("--only", nargs="*", default=[], help="families; 'changed': changed logs")
    parser.add_argument("--cache", type=Path, required=True, help="where rivals' scores are kept")
    parser.add_argument("--draws", type=int, default=400)
    parser.add_argument("--rivals", action="store_true", help="fill the cache only")
    parser.add_argument("--out", type=Path, help="write all scores here (pickle)")
    options = parser.parse_args()
    found = run(
        options.half, options.seeds, options.only, options.cache,
        draws=options.draws, ours=not options.rivals,
    )  # fmt: skip
    if options.rivals:
        return
    if options.out:
        options.out.write_bytes(pickle.dumps(found))
    print("\n" + table(found).to_string(index=False))


if __name__ == "__main__":
    main()
