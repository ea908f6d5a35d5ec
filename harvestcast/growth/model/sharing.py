"""Series learn from each other: varieties of a crop, crops of a garden, seasons of a variety.

Every curve parameter of every series is the almanac's value plus what the garden, the crop in this
garden, the variety and the season have in common, plus its own part. Given what each series' own
log says, the best guess for one series from all others is a Gaussian regression over the series;
leaving each one out in turn costs one matrix inverse.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array, Index

# Shares of the prior variance that series have in common, for the curve's five parameters:
# level, earliness, length, rise, fall (our judgement; the level of a garden's soil and gardener
# carries over to all crops, the length of picking hardly). From one season to the next a variety
# keeps almost all of its level: what a season has for itself is in the slow deviation already.
GARDEN = np.array([0.15, 0.15, 0.10, 0.05, 0.05])
KIND = np.array([0.15, 0.05, 0.05, 0.05, 0.05])
CROP = np.array([0.25, 0.30, 0.35, 0.35, 0.35])
VARIETY = np.array([0.38, 0.35, 0.30, 0.40, 0.40])
SEASON = np.array([0.05, 0.05, 0.05, 0.0, 0.0])
KNOWS_NOTHING = 1e8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Kin:
    """Who is kin to whom among ``n`` series: integer labels of shape (n,).

    ``kind`` is the way of growing: sown or set out, picked as it ripens or taken from a stand.
    """

    kind: Index
    crop: Index
    variety: Index
    season: Index


def pooled_prior(
    kin: Kin, mean: Array, sd: Array, own_mean: Array, own_variance: Array
) -> tuple[Array, Array]:
    """Return each series' prior given what all other series have shown.

    Parameters
    ----------
    kin : Kin
    mean, sd : ndarray (n, parameters)
        Prior from the almanac.
    own_mean, own_variance : ndarray (n, parameters)
        What the own log alone says of each parameter; the variance is infinite where nothing.

    Returns
    -------
    mean, sd : ndarray (n, parameters)
        Prior for each series that leaves its own log out.

    Examples
    --------
    Two varieties of one crop; the first one's log says that it yields far more than expected,
    so more is expected of the second too:

    >>> kin = Kin(kind=np.zeros(2, int), crop=np.zeros(2, int), variety=np.array([0, 1]),
    ...           season=np.zeros(2, int))
    >>> m, s = pooled_prior(kin, np.zeros((2, 5)), np.ones((2, 5)),
    ...                     np.array([[1.0] * 5, [0.0] * 5]), np.array([[0.01] * 5, [np.inf] * 5]))
    >>> bool(m[0, 0] == 0), bool(m[1, 0] > 0.4)
    (True, True)
    """
    n, width = mean.shape
    out_mean, out_sd = mean.copy(), sd.copy()
    if n < 2:
        return out_mean, out_sd
    same_crop = kin.crop[:, None] == kin.crop
    same_kind = kin.kind[:, None] == kin.kind
    same_variety = kin.variety[:, None] == kin.variety
    same_season = kin.season[:, None] == kin.season
    for p in range(width):
        shared = (
            GARDEN[p]
            + KIND[p] * same_kind
            + CROP[p] * same_crop
            + VARIETY[p] * same_variety
            + SEASON[p] * same_season
        )
        np.fill_diagonal(shared, 1.0)
        noise = np.minimum(own_variance[:, p] / sd[:, p] ** 2, KNOWS_NOTHING)
        away = np.where(noise < KNOWS_NOTHING, (own_mean[:, p] - mean[:, p]) / sd[:, p], 0.0)
        inverse = np.linalg.inv(shared + np.diag(noise))
        spare = 1.0 / np.diag(inverse)
        without = away - (inverse @ away) * spare
        # Where the own log says nothing the formula above subtracts two huge numbers.
        blank = noise > 1e4
        if blank.any():
            rest = shared - np.eye(n)
            known = ~blank
            if known.any():
                gain = np.linalg.solve(
                    shared[np.ix_(known, known)] + np.diag(noise[known]), rest[np.ix_(known, blank)]
                )
                without[blank] = gain.T @ away[known]
                spare[blank] = 1.0 - (gain * rest[np.ix_(known, blank)]).sum(axis=0) + noise[blank]
            else:
                without[blank], spare[blank] = 0.0, 1.0 + noise[blank]
        variance = np.clip(spare - noise, 0.05, 1.0)
        out_mean[:, p] = mean[:, p] + sd[:, p] * without
        out_sd[:, p] = sd[:, p] * np.sqrt(variance)
    return out_mean, out_sd


def own_message(
    prior_mean: Array, prior_sd: Array, mode: Array, variance: Array
) -> tuple[Array, Array]:
    """Return what the log alone says of each parameter, its prior divided out.

    Parameters
    ----------
    prior_mean, prior_sd : ndarray (n, parameters)
        Prior the fit was made with.
    mode, variance : ndarray (n, parameters)
        Posterior mode and marginal variance, in prior spreads from the prior mean.

    Returns
    -------
    mean, variance : ndarray (n, parameters)
    """
    variance = np.clip(variance, 1e-6, 1.0)
    precision = 1.0 / variance - 1.0
    nothing = precision < 1e-3
    safe = np.where(nothing, 1.0, precision)
    mean = prior_mean + prior_sd * np.clip(mode / variance / safe, -8.0, 8.0)
    return (
        np.where(nothing, prior_mean, mean),
        np.where(nothing, np.inf, prior_sd**2 / safe),
    )
