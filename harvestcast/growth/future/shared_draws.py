"""What draws of different series have in common: varieties of one crop go wrong together.

The fit looks at each series alone. Yet a wet month hits all crops, and what the almanac does not
know of a garden's beans (their soil, their beetles, who picks them) holds for all its varieties of
beans. Draws dealt at random between series would draw the totals of a crop too narrow. So each draw
of the garden holds normals that series share, and they enter twice:

- coming deviations are part the garden's, part the crop's and part the variety's own;
- what is doubtful today is dealt by rank: a draw of the garden that is high in a crop gets, from
  each of its varieties that has been picked, a draw in which much ripens in the next days. The
  draws of each variety stay the same ones, so what is said of a variety alone is as it was
  (reordering draws by rank to give them a wanted correlation: Iman and Conover 1982,
  doi:10.1080/03610918208812265, cited from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from harvestcast.arrays import Index, Single
from harvestcast.growth.model.curve import CURVE, stand_bearing
from harvestcast.growth.model.fit import Fit

OF_GARDEN, OF_CROP = 0.3, 0.3
"""Shares of the variance of coming deviations that all series, and those of one crop, have in
common."""
DOUBT_OF_CROP = 0.4
"""Share that varieties of one crop have in common of the variance by which the draws of today's
state are ranked. With :data:`OF_CROP` it gives weekly totals of varieties of one crop a rank
correlation of about .3. What forecasts of seven days missed by had .34 to .40 in one household's
log and .5 in invented gardens of plants grown day by day; but ranges of a crop's total, which hold
a little more than they promise, would hold two points more with as much."""
SOON = 0.5
"""Weeks ahead, at last week's heat, at which draws are ranked by how much ripens."""


class Common(NamedTuple):
    """Standard normals one series shares with others, by draw of the garden."""

    coming: Single
    """With all series and with its crop: coming deviations (draws, knots to come), of variance
    :data:`OF_GARDEN` plus :data:`OF_CROP`."""
    doubt: Single
    """With its crop: how high today's state stands among its draws (draws,), of variance 1."""


def common_to_series(fit: Fit, draws: int, rng: np.random.Generator) -> list[Common]:
    """Draw what the series of a garden share, one :class:`Common` for each of them.

    Parameters
    ----------
    fit : Fit
    draws : int
    rng : Generator
    """
    of = fit.season.crop
    crops, to_come = int(of.max(initial=-1)) + 1, coming_knots(fit)
    garden = rng.standard_normal((draws, to_come), dtype=np.float32)
    crop = rng.standard_normal((crops, draws, to_come), dtype=np.float32)
    coming = np.float32(np.sqrt(OF_GARDEN)) * garden + np.float32(np.sqrt(OF_CROP)) * crop
    doubt = rng.standard_normal((crops, draws), dtype=np.float32)
    return [Common(coming[one], doubt[one]) for one in of]


def coming_knots(fit: Fit) -> int:
    """Return how many knots of the deviations lie after the last day known."""
    return fit.bases[0].shape[1] - (fit.posteriors[0].mode.shape[1] - CURVE)


def own_normals(common: Common, rng: np.random.Generator) -> Single:
    """Return a series' own part of its coming normals (draws, knots to come).

    Added to what it shares, :attr:`Common.coming`, they are standard normal.
    """
    own = rng.standard_normal(common.coming.shape, dtype=np.float32)
    return own * np.float32(np.sqrt(1.0 - OF_GARDEN - OF_CROP))


def dealt_by_rank(
    fit: Fit, row: int, theta: Single, deviation: Single, doubt: Single, rng: np.random.Generator
) -> Index:
    """Return which draw of a series goes to each draw of the garden, each once.

    By rank of what ripens soon; at random where it has not been picked yet.

    Parameters
    ----------
    fit : Fit
    row : int
        Which series.
    theta : ndarray (draws, 5)
        Its draws of the curve.
    deviation : ndarray (draws,)
        Its draws of the deviation on the last day.
    doubt : ndarray (draws,)
        As :attr:`Common.doubt`.
    rng : Generator

    Returns
    -------
    ndarray (draws,)
        Numbers of the series' draws.
    """
    if not (fit.evidence.picked[row] > 0).any():
        # What is doubtful then is mostly when it begins, and that is each variety's own.
        return rng.permutation(len(doubt))
    share = fit.evidence.share[row][:, -1]
    alive = share > 0
    heat = fit.evidence.heat[row][alive]
    week = heat[:, -1] - heat[:, -min(8, heat.shape[1])]
    at = (heat[:, -1] + SOON * week)[:, None, None].astype(np.float32)
    ripening = stand_bearing(theta, at, share[alive, None, None].astype(np.float32))[0]
    high = theta[:, 0] + deviation + np.log(ripening + np.float32(1e-30))
    own = rng.standard_normal(len(doubt), dtype=np.float32)
    rank = np.sqrt(DOUBT_OF_CROP) * doubt + np.sqrt(1.0 - DOUBT_OF_CROP) * own
    place = np.empty(len(doubt), dtype=np.int64)
    place[np.argsort(rank)] = np.argsort(high, kind="stable")
    return place
