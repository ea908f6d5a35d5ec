"""What the household's earlier seasons say of the curves of this one.

Every series of an earlier season is fitted to its end by itself, under the first noise level, and
what its own log says of its curve goes into the pool with this season's series: the same variety of
an earlier year is the nearest kin a series has (:mod:`harvestcast.growth.model.sharing`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Index
from harvestcast.growth.log.series import Season, Series, gather
from harvestcast.growth.model.curve import CURVE
from harvestcast.growth.model.density import Evidence
from harvestcast.growth.model.newton import Posterior
from harvestcast.growth.model.sharing import own_message

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


MOST_SEASONS = 3
"""Earlier seasons that are looked at; older ones say little that these do not."""


class Messages(NamedTuple):
    """What the own logs of series say of their curves, arrays (series, 5)."""

    series: tuple[Series, ...]
    season: Index
    """How many seasons ago; 0 for this one."""
    prior_mean: Array
    prior_sd: Array
    own_mean: Array
    own_variance: Array


def earlier_seasons(garden: Garden, start: pd.Timestamp, crops: set[str]) -> list[Season]:
    """Return the seasons before one that starts on a day that have picks of the given crops."""
    picks = garden.picks
    picks = picks[
        picks["crop"].isin(sorted(crops)) & (picks["count"].gt(0) | picks["mass_kg"].gt(0))
    ]
    out: list[Season] = []
    for _ in range(MOST_SEASONS):
        end = start - pd.Timedelta(days=1)
        start = garden.seasons.start(end)
        inside = (picks["date"] >= start) & (picks["date"] <= end)
        if not inside.any():
            break
        season = gather(garden, end)
        start = season.dates[0]
        out.append(_picked_only(season, crops))
    return out


def _picked_only(season: Season, crops: set[str]) -> Season:
    """Return the season with the series of given crops that were picked."""
    kept = tuple(
        s for s in season.series if s.crop in crops and np.nan_to_num(s.mass).max(initial=0.0) > 0
    )
    return replace(season, series=kept)


def messages(season: Season, ago: int, evidence: Evidence, found: Posterior) -> Messages:
    """Return what each series' own log says, from a fit and the prior it was made with."""
    n, width = found.mode.shape
    head = np.zeros((n, width, CURVE))
    head[:, np.arange(CURVE), np.arange(CURVE)] = 1.0
    variance = np.einsum("nii->ni", np.linalg.solve(found.precision, head)[:, :CURVE])
    own_mean, own_variance = own_message(
        evidence.prior_mean, evidence.prior_sd, found.mode[:, :CURVE], variance
    )
    return Messages(
        series=season.series,
        season=np.full(n, ago),
        prior_mean=evidence.prior_mean,
        prior_sd=evidence.prior_sd,
        own_mean=own_mean,
        own_variance=own_variance,
    )


def joined(parts: list[Messages]) -> Messages:
    """Return all messages in one."""
    return Messages(
        series=tuple(s for part in parts for s in part.series),
        season=np.concatenate([part.season for part in parts]),
        prior_mean=np.concatenate([part.prior_mean for part in parts]),
        prior_sd=np.concatenate([part.prior_sd for part in parts]),
        own_mean=np.concatenate([part.own_mean for part in parts]),
        own_variance=np.concatenate([part.own_variance for part in parts]),
    )
