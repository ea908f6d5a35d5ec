"""Simulated variety trials over gardens whose truth is known."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
import pandas as pd


def trial(
    rng: np.random.Generator,
    *,
    gardens: int,
    means: list[float],
    seasons: int = 1,
    spreads: Mapping[str, float],
    sd: float | tuple[float, float] = 0.15,
    grown: float = 1.0,
) -> pd.DataFrame:
    """Return TRIAL_VALUES; every garden grows each variety with chance ``grown``."""
    v, s = len(means), seasons
    shape = (gardens, s, v)
    parts = {
        "garden": (gardens, 1, 1),
        "season": (1, s, 1),
        "garden x season": (gardens, s, 1),
        "garden x variety": (gardens, 1, v),
        "variety x season": (1, s, v),
    }
    y = np.broadcast_to(np.asarray(means, float), shape).copy()
    for name, size in parts.items():
        y += rng.normal(0, 1, size) * spreads.get(name, 0.0)
    known = np.full(shape, sd) if isinstance(sd, float) else rng.uniform(*sd, shape)
    y += rng.normal(0, 1, shape) * known
    there = rng.random((gardens, 1, v)) < grown
    there = np.broadcast_to(there, shape)
    g, season, variety = np.nonzero(there)
    return pd.DataFrame(
        {
            "garden": [f"garden {one:05d}" for one in g],
            "year": 2024 + season,
            "crop": "tomato",
            "variety": [f"{'ABCDEFGH'[one]} sort" for one in variety],
            "measure": "kg_per_plant",
            "value": y[there],
            "sd": known[there],
        }
    )
