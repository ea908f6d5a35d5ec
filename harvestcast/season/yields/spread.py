"""How far apart two plantings of one variety lie, and what one season can say of a variety.

Model, on the working scale of a measure (the logarithm for yields)::

    y = m + variety + year + variety in year + planting
    var(planting) = plot^2 + plant^2 / plants + error^2

``m`` is nearly free; the four spreads have log-normal priors, so one plant cannot pretend to know
its variety: what other plots of one variety did in published trials widens the interval. The
spreads are integrated out by importance resampling, the rest is Gaussian and exact. That a mean
of ``n`` plants varies with ``1/n`` of the variance between plants is common practice, no source.

References
----------
.. [1] Gelman A. (2006) Prior distributions for variance parameters in hierarchical models.
   Bayesian Analysis 1:515-534, doi:10.1214/06-BA117A (why the spreads need priors where there
   are few groups).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib import resources

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Index

CANDIDATES = 2000
"""Settings of the spreads tried per crop and measure before resampling; fewer for many plantings,
whose covariances would not fit into memory."""

SHARED_ERROR = 0.5
"""Share of the variance of errors that the plantings of a crop have in common in a season: rain,
heat and missed days hit all. Our judgement; the weather of the forecast is split alike."""

PLANT_LOG_SD = 0.28
"""Between plants of one planting: sd of log yield. Strawberry plants differed by 0.26 to 0.39
(Baker & Baker 1953, in the table of trials), of which some 0.15 is the number of their berries."""
PLOT_PLANTS = 10.0
"""Plants of a plot in the trials. Our judgement; few say."""

_FREE_MEAN_SD = 5.0  # of m on the working scale: a factor of 150 either way on the log scale


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """Priors of the spreads of one measure: median and log-sd of each standard deviation.

    Parameters
    ----------
    plot, plant, variety, year, variety_year : tuple of float
        Standard deviation on the working scale between plantings of one variety, between plants
        of one planting, between varieties of a crop, between years, and of a variety from year to
        year beyond that: (median, sd of its logarithm).
    source : str
        Where they come from.
    common : tuple of float
        Luck of one season that all varieties of the crop share and that is no part of what is
        estimated (the household was away, say): it widens every interval and decides no ranking.
    """

    plot: tuple[float, float]
    plant: tuple[float, float]
    variety: tuple[float, float]
    year: tuple[float, float]
    variety_year: tuple[float, float]
    source: str
    common: tuple[float, float] = (0.0, 0.0)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExpectedDraws:
    """Joint draws of the expected values of several varieties.

    Parameters
    ----------
    expected : ndarray, shape (draws, varieties)
        Expected value on the working scale.
    again : ndarray, shape (draws, varieties)
        One more planting of ``plants`` plants, on the working scale.
    effective : float
        Effective number of resampled candidates; below 50 the draws are rough.
    """

    expected: Array
    again: Array
    effective: float


@cache
def between_plots() -> pd.DataFrame:
    """Return the published coefficients of variation between plots of one variety.

    Returns
    -------
    pandas.DataFrame
        ``crop, what, plots, cv, source, mark``, a row a trial.

    Examples
    --------
    >>> float(between_plots().query("crop == 'tomato'").cv.median())
    0.252
    """
    path = resources.files("harvestcast.season.yields").joinpath("data/between_plot_cv.csv")
    with resources.as_file(path) as file:
        return pd.read_csv(file)


def plot_spread(crop: str) -> tuple[float, float]:
    """Return the prior of the spread between plots of one variety.

    Parameters
    ----------
    crop : str
        Canonical crop name.

    Returns
    -------
    tuple of float
        Median and log-sd of the standard deviation of log yield between plots.

    Notes
    -----
    Geometric mean over the trials of the crop and that of all crops, which counts as two trials,
    since the trials of a crop are few and often of one place. What the plants of a plot differ by
    is taken off first. The log-sd is that between all trials, so that a garden may be more or less
    even than an experiment station; it is not narrowed by the number of trials, because a plot of
    a trial is more even than the beds of a household.

    Examples
    --------
    >>> tomato, bean = plot_spread("tomato")[0], plot_spread("snap bean")[0]
    >>> bool(tomato > bean)
    True
    """
    trials = between_plots()
    trials = trials[
        ~trials["mark"].str.contains("left out") & ~trials["what"].eq("grams of a plant")
    ]
    # sd of log yield that belongs to a coefficient of variation: sqrt(log(1 + cv^2))
    variance = np.log1p(trials["cv"].to_numpy(float) ** 2)
    # What the plants of a plot differ by stands in its yield as well, but is counted apart here.
    logs = 0.5 * np.log(np.maximum(variance - PLANT_LOG_SD**2 / PLOT_PLANTS, 0.25 * variance))
    own = logs[trials["crop"].to_numpy() == crop]
    centre = (own.sum() + 2 * logs.mean()) / (len(own) + 2)
    return float(np.exp(centre)), float(np.std(0.5 * np.log(variance), ddof=1))


def draw_expected(
    values: Array,
    error: Array,
    variety: Index,
    plants: Array,
    spread: Spread,
    *,
    draws: int,
    rng: np.random.Generator,
    year: Index | None = None,
    again_plants: Array | None = None,
    logged: bool = True,
) -> ExpectedDraws:
    """Draw the expected values of the varieties of one crop from what their plantings showed.

    Parameters
    ----------
    values : ndarray, shape (plantings,)
        Measure on the working scale, one value a planting.
    error : ndarray, shape (plantings,)
        Standard deviation of a value from picking and weighing alone, on the working scale.
    variety : ndarray of int, shape (plantings,)
        Number of the variety, 0 to the number of varieties less 1; each must occur.
    plants : ndarray, shape (plantings,)
        Plants that stood; NaN counts as one.
    spread : Spread
        Priors of the spreads.
    draws : int
        Number of joint draws.
    rng : numpy.random.Generator
        Source of randomness.
    year : ndarray of int, shape (plantings,), optional
        Season of each value. Given: the expected value is that over seasons. Left out: all values
        are of one season, and the expected value is that of this season.
    again_plants : ndarray, shape (varieties,), optional
        Plants of "one more planting"; default: the mean number of the variety's plantings.
    logged : bool
        The working scale is a logarithm: the expected value is then the log of the mean over
        plantings, which lies half a variance above the mean of the logs.

    Returns
    -------
    ExpectedDraws

    Examples
    --------
    Two varieties, the first in four beds, the second a single plant:

    >>> import numpy as np
    >>> spread = Spread(plot=(0.2, 0.4), plant=(0.3, 0.3), variety=(0.35, 0.5),
    ...                 year=(0.3, 0.5), variety_year=(0.15, 0.5), source="example")
    >>> found = draw_expected(np.log([3.0, 2.8, 3.3, 3.1, 4.0]), np.full(5, 0.05),
    ...                       np.array([0, 0, 0, 0, 1]), np.array([4.0, 4, 4, 4, 1]), spread,
    ...                       draws=2000, rng=np.random.default_rng(1))
    >>> width = np.diff(np.quantile(found.expected, [0.05, 0.95], axis=0), axis=0)[0]
    >>> bool(width[1] > 2 * width[0])
    True
    """
    varieties = int(variety.max()) + 1
    plants = np.where(np.isfinite(plants), np.maximum(plants, 1.0), 1.0)
    if again_plants is None:
        again_plants = np.array([plants[variety == v].mean() for v in range(varieties)])
    centre = float(np.mean(values))
    member = (variety[:, None] == np.arange(varieties)[None, :]).astype(float)  # (n, V)
    number = int(np.clip(2e7 / len(values) ** 2, 200, CANDIDATES))
    sd = _candidates(spread, number, seasons=year is not None, rng=rng)

    same_variety = member @ member.T
    season = np.zeros(len(values), int) if year is None else year
    shared = (season[:, None] == season[None, :]).astype(float)
    noise = sd["error"][:, None] * error  # (candidates, n)
    own = sd["plot"][:, None] ** 2 + sd["plant"][:, None] ** 2 / plants + 1e-8
    covariance = (
        _FREE_MEAN_SD**2
        + sd["variety"][:, None, None] ** 2 * same_variety
        + (sd["year"] ** 2 + sd["common"] ** 2)[:, None, None] * shared
        + sd["variety_year"][:, None, None] ** 2 * (shared * same_variety)
        + SHARED_ERROR * noise[:, :, None] * noise[:, None, :] * shared
    )
    index = np.arange(len(values))
    covariance[:, index, index] += own + (1 - SHARED_ERROR) * noise**2
    own = own + noise**2 + sd["common"][:, None] ** 2
    half = 0.5 if logged else 0.0
    y = values - centre + half * own  # (candidates, n)
    solved = np.linalg.solve(covariance, y[..., None])[..., 0]
    log_weight = -0.5 * (np.linalg.slogdet(covariance)[1] + np.sum(solved * y, axis=1))
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    chosen = _resample(weight, draws, rng)

    # Given the spreads everything is Gaussian: mean C V^-1 y, covariance P - C V^-1 C'.
    to_data = _FREE_MEAN_SD**2 + sd["variety"][chosen, None, None] ** 2 * member.T
    prior = _FREE_MEAN_SD**2 + sd["variety"][chosen, None, None] ** 2 * np.eye(varieties)
    gain = np.linalg.solve(covariance[chosen], np.swapaxes(to_data, 1, 2))  # (D, n, V)
    mean = np.einsum("dnv,dn->dv", gain, y[chosen])
    left = prior - to_data @ gain
    root = _root(left)
    expected = mean + np.einsum("dij,dj->di", root, rng.standard_normal((draws, varieties)))
    expected += centre
    typical = np.array([np.mean(error[variety == v]) for v in range(varieties)])
    again_sd = np.sqrt(
        sd["plot"][chosen, None] ** 2
        + sd["plant"][chosen, None] ** 2 / again_plants
        + (sd["error"][chosen, None] * typical) ** 2
        + sd["common"][chosen, None] ** 2
        + sd["year"][chosen, None] ** 2
        + sd["variety_year"][chosen, None] ** 2
    )
    again = expected - half * again_sd**2 + again_sd * rng.standard_normal((draws, varieties))
    return ExpectedDraws(expected=expected, again=again, effective=float(1 / np.sum(weight**2)))


def _candidates(
    spread: Spread, number: int, *, seasons: bool, rng: np.random.Generator
) -> dict[str, Array]:
    def draw(prior: tuple[float, float]) -> Array:
        return prior[0] * np.exp(prior[1] * rng.standard_normal(number))

    sd = {"plot": draw(spread.plot), "plant": draw(spread.plant), "common": draw(spread.common)}
    sd["error"] = np.exp(0.3 * rng.standard_normal(number))  # the error itself is estimated
    variety, variety_year = draw(spread.variety), draw(spread.variety_year)
    if seasons:
        sd |= {"variety": variety, "year": draw(spread.year), "variety_year": variety_year}
    else:
        # Within one season the year is a constant and a variety's luck of the year is part of it.
        zero = np.zeros(number)
        sd |= {"variety": np.hypot(variety, variety_year), "year": zero, "variety_year": zero}
    return sd


def _resample(weight: Array, draws: int, rng: np.random.Generator) -> Index:
    """Systematic resampling: the least noise for independent candidates; then shuffled."""
    steps = (rng.random() + np.arange(draws)) / draws
    chosen = np.minimum(np.searchsorted(np.cumsum(weight), steps), len(weight) - 1)
    return np.asarray(rng.permutation(chosen), dtype=np.int64)


def _root(matrix: Array) -> Array:
    """Symmetric root of stacked covariance matrices; rounding below zero is cut off."""
    values, vectors = np.linalg.eigh((matrix + np.swapaxes(matrix, 1, 2)) / 2)
    return np.asarray(vectors * np.sqrt(np.maximum(values, 0.0))[:, None, :])
