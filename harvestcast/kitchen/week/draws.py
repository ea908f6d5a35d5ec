"""Which of the outlook's draws the programme is solved for."""

from __future__ import annotations

import numpy as np

from harvestcast.arrays import Array, Index


def spread_draws(mass: Array, number: int, seed: int) -> Index:
    """Choose draws that are spread evenly over lean and rich futures.

    The draws are put in order of their total harvest and cut into as many equal parts as are
    wanted; one draw is taken at random from each part. Every draw is as likely to be chosen as
    any other, so that the chosen draws count alike.

    Parameters
    ----------
    mass : numpy.ndarray
        Picks, kg, shape (draws, ...).
    number : int
        Draws wanted, at least 1; all are taken where there are no more.
    seed : int
        The same seed chooses the same draws.

    Returns
    -------
    numpy.ndarray
        Numbers of the chosen draws, from lean to rich.

    References
    ----------
    Stratified sampling with one unit a stratum: Cochran, *Sampling Techniques*, 3rd ed., Wiley
    1977, chapter 5 (from memory).

    Examples
    --------
    >>> spread_draws(np.arange(8.0)[:, None], 4, seed=1).tolist()
    [1, 3, 4, 7]
    """
    if number < 1:
        raise ValueError("number of draws: at least 1")
    draws = mass.shape[0]
    order = np.argsort(mass.reshape(draws, -1).sum(axis=1), kind="stable")
    if number >= draws:
        return order
    edges = np.linspace(0, draws, number + 1)
    # With unequal parts a uniform point in each part keeps the chances equal.
    points = edges[:-1] + np.random.default_rng(seed).random(number) * np.diff(edges)
    return order[np.minimum(points.astype(np.int64), draws - 1)]
