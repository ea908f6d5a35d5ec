"""A mixed model of one crop over many gardens, linear in the number of gardens.

``y = variety + season + variety x season + garden + garden x season + garden x variety + e``,
where varieties are fixed and all else is random with variances to be estimated, and ``e`` has the
known variance of each value. Gardens are independent of each other given the seasons: their
blocks are small, and of equal size in groups; varieties and seasons are few and stand in one
system of Henderson's mixed model equations.

References
----------
C. R. Henderson (1975), Best linear unbiased estimation and prediction under a selection model,
Biometrics 31, 423-447, doi:10.2307/2529430. H. D. Patterson and R. Thompson (1971), Recovery of
inter-block information when block sizes are unequal, Biometrika 58, 545-554,
doi:10.1093/biomet/58.3.545 (REML).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.optimize import minimize

from harvestcast.arrays import Array, Index

Whole = Index

WITHIN: tuple[str, ...] = ("garden", "garden x season", "garden x variety")
"""Random parts that lie inside gardens."""
ACROSS: tuple[str, ...] = ("season", "variety x season")
"""Random parts that gardens share."""
PRIOR_SD = 0.5
"""Scale of the half-normal prior of every standard deviation on a logarithmic scale, used for
intervals only, not for the REML estimates: two gardens of one village seldom differ by more than
a factor of e (our judgement)."""
_LEAST = np.log(1e-4)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Trial:
    """Values of one crop and measure.

    Parameters
    ----------
    y : ndarray (n,)
        Values on the working scale.
    sd : ndarray (n,)
        Known standard deviation of each.
    garden, season, variety : ndarray of int (n,)
        Numbers from 0.
    """

    y: Array
    sd: Array
    garden: Whole
    season: Whole
    variety: Whole


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Block:
    """Gardens with the same number of values: rows (gardens, values)."""

    rows: Whole
    same: dict[str, Array]
    """Per random part inside gardens: 1 where two values of a garden share it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Layout:
    """A trial arranged for the mixed model equations.

    Parameters
    ----------
    trial : Trial
    varieties : int
    parts : tuple of str
        Random parts that the trial can tell anything of.
    across : dict
        Per random part that gardens share: number of the level of each value.
    """

    trial: Trial
    varieties: int
    parts: tuple[str, ...]
    across: dict[str, Whole]
    design: Array
    blocks: tuple[_Block, ...]

    def levels(self, part: str) -> int:
        """Return how many levels a random part has."""
        if part in self.across:
            return int(self.across[part].max()) + 1
        return int(_numbered(self.trial, part).max()) + 1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Solved:
    """The model at given standard deviations.

    Parameters
    ----------
    log_likelihood : float
        Restricted log likelihood, without its constant.
    mean : ndarray (varieties,)
        Best linear unbiased estimate of every variety.
    covariance : ndarray (varieties, varieties)
        Its covariance, the standard deviations taken as known.
    """

    log_likelihood: float
    mean: Array
    covariance: Array


def _numbered(trial: Trial, part: str) -> Whole:
    """Return the number of the level of a random part that each value has."""
    columns = [getattr(trial, name) for name in part.split(" x ")]
    found: Whole = np.unique(np.column_stack(columns), axis=0, return_inverse=True)[1]
    return found.reshape(-1)


def lay_out(trial: Trial) -> Layout:
    """Arrange a trial, and find which random parts it can tell anything of.

    Parameters
    ----------
    trial : Trial

    Returns
    -------
    Layout

    Examples
    --------
    One season tells gardens apart, and nothing of seasons:

    >>> trial = Trial(y=np.zeros(6), sd=np.full(6, 0.1), garden=np.array([0, 0, 1, 1, 2, 2]),
    ...               season=np.zeros(6, int), variety=np.array([0, 1, 0, 1, 0, 1]))
    >>> lay_out(trial).parts
    ('garden', 'garden x variety')
    """
    varieties = int(trial.variety.max()) + 1
    gardens, seasons = len(np.unique(trial.garden)), len(np.unique(trial.season))
    many = [varieties > 1, seasons > 1]
    wanted = {
        "garden": gardens > 1 and any(many),
        "garden x season": gardens > 1 and seasons > 1,
        "garden x variety": gardens > 1,
        "season": seasons > 1,
        "variety x season": all(many),
    }
    parts: list[str] = []
    seen: list[Whole] = []
    for part in (*WITHIN, *ACROSS):
        number = _numbered(trial, part)
        # Two parts that group the values alike cannot be told apart: the simpler one stands.
        if wanted[part] and not any(np.array_equal(number, other) for other in seen):
            parts.append(part)
            seen.append(number)
    across = {part: _numbered(trial, part) for part in parts if part in ACROSS}
    design = [trial.variety[:, None] == np.arange(varieties)]
    design += [number[:, None] == np.arange(number.max() + 1) for number in across.values()]
    return Layout(
        trial=trial,
        varieties=varieties,
        parts=tuple(parts),
        across=across,
        design=np.concatenate(design, axis=1).astype(float),
        blocks=_blocks(trial, [part for part in parts if part in WITHIN]),
    )


def _blocks(trial: Trial, parts: list[str]) -> tuple[_Block, ...]:
    order = np.argsort(trial.garden, kind="stable")
    _, first, size = np.unique(trial.garden[order], return_index=True, return_counts=True)
    numbers = {part: _numbered(trial, part) for part in parts}
    blocks = []
    for length in np.unique(size):
        rows = order[first[size == length][:, None] + np.arange(length)]
        same = {
            part: (number[rows][:, :, None] == number[rows][:, None, :]).astype(float)
            for part, number in numbers.items()
        }
        blocks.append(_Block(rows=rows, same=same))
    return tuple(blocks)


def solve(layout: Layout, sd: dict[str, float]) -> Solved:
    """Solve the mixed model equations at given standard deviations.

    Parameters
    ----------
    layout : Layout
    sd : dict of str to float
        Standard deviation of every random part, above zero.

    Returns
    -------
    Solved
    """
    trial, columns = layout.trial, layout.design.shape[1]
    normal, right = np.zeros((columns, columns)), np.zeros(columns)
    log_det, square = 0.0, 0.0
    for block in layout.blocks:
        rows = block.rows
        covariance = np.zeros((*rows.shape, rows.shape[1]))
        index = np.arange(rows.shape[1])
        covariance[:, index, index] = trial.sd[rows] ** 2 + 1e-10
        for part, same in block.same.items():
            covariance += sd[part] ** 2 * same
        root = np.linalg.cholesky(covariance)
        log_det += 2.0 * float(np.log(root[:, index, index]).sum())
        both = np.concatenate((layout.design[rows], trial.y[rows][..., None]), axis=2)
        white = np.asarray(np.linalg.solve(root, both), dtype=np.float64).reshape(-1, columns + 1)
        gram = white.T @ white
        normal += gram[:columns, :columns]
        right += gram[:columns, columns]
        square += float(gram[columns, columns])
    place = layout.varieties
    for part, number in layout.across.items():
        levels = int(number.max()) + 1
        index = place + np.arange(levels)
        normal[index, index] += sd[part] ** -2
        log_det += 2.0 * levels * float(np.log(sd[part]))
        place += levels
    lower = np.linalg.cholesky(normal)
    half = np.linalg.solve(lower, right)
    log_det += 2.0 * float(np.log(np.diag(lower)).sum())
    inverse = np.asarray(np.linalg.inv(normal), dtype=np.float64)
    v = layout.varieties
    return Solved(
        log_likelihood=-0.5 * (log_det + square - float(half @ half)),
        mean=(inverse @ right)[:v],
        covariance=inverse[:v, :v],
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fitted:
    """A fitted trial.

    Parameters
    ----------
    sd : dict of str to float
        REML estimate of the standard deviation of every random part.
    solved : Solved
        The model at these.
    draws_sd : dict of str to ndarray (draws,)
        Draws of the standard deviations given the data.
    draws : ndarray (draws, varieties)
        Draws of the varieties' means.
    effective : float
        Effective number of the candidates that the draws were taken from.
    """

    sd: dict[str, float]
    solved: Solved
    draws_sd: dict[str, Array]
    draws: Array
    effective: float


def fit(layout: Layout, *, draws: int, rng: np.random.Generator, candidates: int = 400) -> Fitted:
    """Fit a trial: REML, then draws that know how little the spreads are known.

    Parameters
    ----------
    layout : Layout
    draws : int
        Draws of the varieties' means.
    rng : numpy.random.Generator
    candidates : int
        Sets of standard deviations drawn about the mode and weighed by their likelihood.

    Returns
    -------
    Fitted
    """
    parts = layout.parts
    if not parts:
        solved = solve(layout, {})
        made = _normal(solved, rng.standard_normal((draws, layout.varieties)))
        return Fitted(sd={}, solved=solved, draws_sd={}, draws=made, effective=float(candidates))

    def at(log_sd: Array) -> dict[str, float]:
        return dict(zip(parts, np.exp(np.clip(log_sd, _LEAST, 3.0)).tolist(), strict=True))

    def minus(log_sd: Array) -> float:
        return -solve(layout, at(log_sd)).log_likelihood

    def minus_posterior(log_sd: Array) -> float:
        # Half-normal in the standard deviation; log_sd is its logarithm (Jacobian).
        prior = float((-0.5 * (np.exp(log_sd) / PRIOR_SD) ** 2 + log_sd).sum())
        return minus(log_sd) - prior

    start = np.full(len(parts), np.log(0.2))
    bounds = [(_LEAST, 3.0)] * len(parts)
    # Several starts: a spread that begins at next to nothing has no slope to leave it by.
    best = min(
        (minimize(minus, start + shift, method="L-BFGS-B", bounds=bounds) for shift in (0.0, -1.0)),
        key=lambda found: float(found.fun),
    )
    mode = minimize(minus_posterior, np.maximum(best.x, np.log(0.02)), method="L-BFGS-B",
                    bounds=bounds)  # fmt: skip
    spread = _proposal(minus_posterior, mode.x)
    # Multivariate t of 5 degrees of freedom: tails no thinner than the posterior's.
    z = rng.standard_normal((candidates, len(parts)))
    stretch = np.sqrt(5.0 / rng.chisquare(5.0, candidates))[:, None]
    tried = mode.x + (z * stretch) @ spread.T
    log_q = -0.5 * (5.0 + len(parts)) * np.log1p(((z * stretch) ** 2).sum(axis=1) / 5.0)
    inside = [bool(((one > -12.0) & (one < 3.0)).all()) for one in tried]
    log_p = np.array(
        [-minus_posterior(tried[n]) if inside[n] else -np.inf for n in range(candidates)]
    )
    weight = np.exp(log_p - log_q - (log_p - log_q).max())
    weight /= weight.sum()
    marks = (np.arange(draws) + rng.random()) / draws
    chosen = np.minimum(np.searchsorted(np.cumsum(weight), marks), candidates - 1)
    chosen = rng.permutation(chosen)
    normals = rng.standard_normal((draws, layout.varieties))
    made = np.empty((draws, layout.varieties))
    for which in np.unique(chosen):
        mine = chosen == which
        made[mine] = _normal(solve(layout, at(tried[which])), normals[mine])
    return Fitted(
        sd=at(best.x),
        solved=solve(layout, at(best.x)),
        draws_sd={part: np.exp(tried[chosen, n]) for n, part in enumerate(parts)},
        draws=made,
        effective=float(1.0 / (weight**2).sum()),
    )


def marginal_sd(layout: Layout, sd: dict[str, float]) -> Array:
    """Return how far each value is expected to lie from its variety's mean (n,)."""
    return np.sqrt(layout.trial.sd**2 + sum(one**2 for one in sd.values()))


def _proposal(f: object, x: Array) -> Array:
    """Return a root of the inverse curvature at a mode, kept within reason."""
    assert callable(f)
    n, h = len(x), 0.05
    steps = np.eye(n) * h
    middle = f(x)
    curvature = np.empty((n, n))
    for i in range(n):
        for j in range(i + 1):
            if i == j:
                value = (f(x + steps[i]) - 2 * middle + f(x - steps[i])) / h**2
            else:
                value = (
                    f(x + steps[i] + steps[j])
                    - f(x + steps[i] - steps[j])
                    - f(x - steps[i] + steps[j])
                    + f(x - steps[i] - steps[j])
                ) / (4 * h**2)
            curvature[i, j] = curvature[j, i] = value
    values, vectors = np.linalg.eigh(curvature)
    # A flat direction is a spread near zero: look at a factor of about e either way.
    return np.asarray(vectors / np.sqrt(np.clip(values, 0.7, None)))


def _normal(solved: Solved, normals: Array) -> Array:
    values, vectors = np.linalg.eigh(solved.covariance)
    return np.asarray(solved.mean + (normals * np.sqrt(np.maximum(values, 0.0))) @ vectors.T)
