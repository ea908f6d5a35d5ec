"""What stands of crops whose plants are taken whole: roots, bulbs, heads, ears and squash.

A household takes some of them as it wants them, and one day the rest at once. On which day nobody
knows, so a week's range of picks says little of it. What stands there can be said: what was planted
bears as the almanac and earlier seasons lead one to expect, has come so far by its heat, and what
was taken is gone. What ripened does not spoil where it stands.
"""

from __future__ import annotations

import numpy as np
import pandas as pd
from scipy.special import ndtr, ndtri

from harvestcast.arrays import Array, Single
from harvestcast.growth.log.series import Series
from harvestcast.growth.model.curve import ripened, season_total
from harvestcast.growth.model.fit import Fit
from harvestcast.growth.model.sharing import CROP, GARDEN, KIND

FEW_PIECES = 3.0
"""Pieces a plant bears at most, by the almanac, where it is done with once it has been picked."""
AS_FAR = 0.9
"""Share of the heat at the first pick from which on a later sowing may have been picked too."""
MOST = 0.5
"""Share of what stands that is ready from the day on from which it may be brought in."""
DRAWS = 2000
"""Draws of what stands."""


def taken_whole(s: Series) -> bool:
    """Return whether a plant is done with once it has been picked: roots, bulbs, heads, ears."""
    facts = s.facts
    few = facts.yield_kg_per_plant[1] < FEW_PIECES * facts.fruit_kg
    return facts.habit == "once_over" or (facts.habit == "determinate" and few)


def still_there(fit: Fit, row: int, uniform: Array | Single) -> tuple[Array, Array]:
    """Draw what the plants of a series bear in all and what of it still stands (draws,), in kg.

    What the sowings picked so far bear in all is as the almanac and earlier seasons lead one to
    expect, but more than what had been picked before the last pick. So a pull of about all that was
    expected leaves little, and small ones after each other leave what they leave, however long they
    go on.
    """
    s = fit.series[row]
    picked = np.nan_to_num(s.mass)
    some = np.flatnonzero(picked > 0)
    before = float(picked[: some[-1]].sum()) if len(some) else 0.0
    # Later sowings that are not as far yet as the first was at its first pick are all there still.
    part = s.share.max(axis=1)
    if len(some):
        far = s.heat[:, -1] >= AS_FAR * s.heat[:, some[0]].max()
        begun = float(part[far].sum() / max(part.sum(), 1e-9))
    else:
        begun = 1.0
    middle = float(np.log(season_total(fit.expected[row]) * max(begun, 1e-9)))
    spread = float(fit.expected_sd[row, 0])
    least = ndtr((np.log(before) - middle) / spread) if before > 0 else 0.0
    # Counted from above, where what has been picked is far beyond what was expected.
    above = (1.0 - least) * uniform.astype(float)
    stood = np.exp(middle - spread * ndtri(np.maximum(above, 1e-300)))
    later = stood * (1.0 - begun) / max(begun, 1e-9)
    left = np.maximum(np.maximum(stood, before) - picked.sum(), 0.0)
    return left + later + picked.sum(), left + later


def standing_frame(fit: Fit, days: int, *, seed: int) -> pd.DataFrame:
    """Return what stands of each crop that keeps where it stands and is brought in at once.

    Parameters
    ----------
    fit : Fit
    days : int
        Days ahead that are looked at, at last week's heat.
    seed : int

    Returns
    -------
    DataFrame
        ``crop``; ``q10_kg, q50_kg, q90_kg``: ready at the end of the coming week if none is taken
        before; ``ready_from``: first day to come by which half of what stands is ready, in the
        middle of the draws, NaT where that is later. Ears and other things that spoil on the plant
        are no part of it.
    """
    rng = np.random.default_rng([seed, 14])
    even = ndtri((np.arange(DRAWS) + 0.5) / DRAWS)
    shared = float(GARDEN[0] + KIND[0] + CROP[0])
    rows: dict[str, list[int]] = {}
    for row, s in enumerate(fit.series):
        if s.facts.habit == "once_over" and not s.over:
            rows.setdefault(s.crop, []).append(row)
    table = []
    for crop, mine in rows.items():
        of_crop, early = rng.permutation(even), rng.permutation(even)
        ready, stands = np.zeros((days, DRAWS)), np.zeros(DRAWS)
        for row in mine:
            luck = np.sqrt(shared) * of_crop + np.sqrt(1.0 - shared) * rng.permutation(even)
            total, left = still_there(fit, row, ndtr(-luck))
            part = _ready_part(fit, row, days, early)
            ready += np.clip(total * part - (total - left), 0.0, left)
            stands += left
        most = np.flatnonzero((ready >= MOST * stands).mean(axis=1) > 0.5)
        first = fit.as_of + pd.Timedelta(days=1 + int(most[0])) if len(most) else pd.NaT
        at = min(6, days - 1)
        table.append((crop, *np.quantile(ready[at], (0.1, 0.5, 0.9)), first))
    return pd.DataFrame(table, columns=["crop", "q10_kg", "q50_kg", "q90_kg", "ready_from"])


def _ready_part(fit: Fit, row: int, days: int, early: Array) -> Array:
    """Return the part of a series' plants' yield that is ready by each day to come (days, draws).

    ``early`` (draws,) are standard normals: how early it is.
    """
    s = fit.series[row]
    alive = s.share[:, -1] > 0
    share = s.share[alive, -1] / s.share[alive, -1].sum()
    heat = s.heat[alive]
    a_day = (heat[:, -1] - heat[:, -min(8, heat.shape[1])]) / 7.0
    sooner = np.exp(fit.expected_sd[row, 1] * early)
    part = np.zeros((days, len(early)))
    for one, now, more in zip(share, heat[:, -1], a_day, strict=True):
        coming = now + more * np.arange(1.0, days + 1.0)
        part += one * ripened(fit.expected[row], coming[:, None] * sooner)
    return part
