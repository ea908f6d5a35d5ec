"""The mode of many series' posteriors at once, and the curvature there.

Rows are series under one temper each; they take their Newton steps together. The first steps use
the Gauss-Newton curvature, which is always positive definite; once a row is near, the true one
takes over, whose steps home in on the mode much faster.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from harvestcast.growth.inference import CURVE, Evidence, Noise, Posterior
from harvestcast.growth.tempers import knots_of
from harvestcast.growth.terrain import Place, Rows, look_around, rows_of

Array = NDArray[np.float64]
Index = NDArray[np.int64]

LONGEST_STEP, SHORTEST_STEP = 2.0, 1e-4
"""Longest Newton step, and the one below which a row is given up, in prior spreads."""
NEAR = 0.5
"""Gain a step promises below which the true curvature is trusted."""
CLOSE = 1e-4
"""Gain a step promises below which a row is done (0.014 posterior spreads from the mode)."""
FEW_STEPS, FEW = 4, 12
"""Steps after which the rows left, if they are few, are given more care each."""
LEAST_BEND = 0.05
"""Curvature below which a mode is none, and the safe curvature stands in (the prior's is 1)."""
HOPELESS = 9.0
"""Log posterior below that of another temper from which on a row is not followed further."""
MOST = 100_000
"""Rows times days times unknowns that are handled together, to stay within the fast memory."""


def posteriors(
    evidence: Evidence,
    noises: Sequence[Noise],
    bases: Sequence[Array],
    since: Index,
    *,
    start: Sequence[Array] | None = None,
    most_steps: int = 60,
    close: float = CLOSE,
) -> tuple[Posterior, ...]:
    """Find the mode of every series under every temper, and the curvature there.

    Parameters
    ----------
    evidence : Evidence
        Of ``n`` series; its own knots are not looked at.
    noises : sequence of Noise
        One per temper.
    bases : sequence of ndarray (days, knots)
        Deviation per day and knot under each temper, the last day's knots first
        (:func:`harvestcast.growth.tempers.deviation_basis`).
    since : ndarray (n,)
        First day on which the log can say anything of a series; earlier ones are left out.
    start : sequence of ndarray (n, 5 + knots), optional
        Where to begin under each temper; the prior mean if left out.
    most_steps : int
        Newton steps at most.
    close : float
        A row is done once its next step promises less.

    Returns
    -------
    tuple of Posterior
        One per temper.
    """
    n, days = evidence.picked.shape
    width = CURVE + bases[0].shape[1]
    number = np.array([knots_of(days - int(day)) for day in since], dtype=np.int64)
    number = np.minimum(number, bases[0].shape[1])
    tempers = range(len(noises))
    mode = [np.zeros((n, width)) if start is None else start[k].copy() for k in tempers]
    precision = [np.tile(np.eye(width), (n, 1, 1)) for _ in tempers]
    log_evidence = [np.zeros(n) for _ in tempers]
    distance = [np.zeros(n) for _ in tempers]
    steps = 0
    for series in _chunks(days - since, len(noises)):
        span = int(days - since[series].min())
        inner = CURVE + int(number[series].max())
        rows = rows_of(evidence, noises, bases, series, span, inner - CURVE)
        u = np.concatenate([m[series, :inner] for m in mode])
        whose = np.tile(np.arange(len(series)), len(noises))
        place, gain, taken = _climb(rows, u, whose, most_steps, close)
        curved = place.curvature
        pivots = np.linalg.cholesky(curved).diagonal(axis1=1, axis2=2)
        level = place.value - np.log(pivots).sum(axis=1)
        steps = max(steps, taken)
        for k in tempers:
            part = slice(k * len(series), (k + 1) * len(series))
            mode[k][series] = 0.0
            mode[k][series, :inner] = u[part]
            precision[k][series[:, None, None], np.arange(inner)[:, None], np.arange(inner)] = (
                curved[part]
            )
            log_evidence[k][series] = level[part]
            distance[k][series] = np.sqrt(2.0 * np.maximum(gain[part], 0.0))
        number[series] = inner - CURVE
    return tuple(
        Posterior(
            mode=mode[k],
            precision=precision[k],
            log_evidence=log_evidence[k],
            distance=distance[k],
            knots=number,
            steps=steps,
        )
        for k in tempers
    )


def _chunks(spans: Index, tempers: int) -> Iterator[Index]:
    """Split series into chunks of like length that fit into the fast memory."""
    order = np.argsort(-spans, kind="stable")
    at = 0
    while at < len(order):
        longest = int(spans[order[at]])
        each = tempers * longest * (CURVE + knots_of(longest))
        most = max(MOST // each, 1)
        part = order[at : at + most]
        # Shorter series wait for a chunk of their own, unless they are too few to pay for it.
        short = int((spans[part] < 0.6 * longest).sum())
        if len(part) - short >= 6 and short >= 6:
            part = part[: len(part) - short]
        yield part
        at += len(part)


def _climb(
    rows: Rows, u: Array, series: Index, most_steps: int, close: float
) -> tuple[Place, Array, int]:
    """Take ``u`` to the mode, in place; return where it stands and the gain still promised."""
    number = len(u)
    near = np.zeros(number, dtype=bool)
    true = near.copy()
    place = look_around(rows, u, near)
    promise = np.full(number, np.inf)
    reach = np.full(number, LONGEST_STEP)
    active, part = np.arange(number), rows
    step = 0
    while step < most_steps:
        move, gain = _step(place, active, few=step >= FEW_STEPS and len(active) <= FEW)
        # Where the true curvature bends the wrong way its promise is void.
        lost = gain <= 0.0
        promise[active] = np.where(lost, np.inf, gain)
        going = (gain > close) & (reach[active] > SHORTEST_STEP)
        if step >= FEW_STEPS:
            going &= ~_hopeless(place.value + np.minimum(promise, HOPELESS), series)[active]
        going |= lost
        if not going.any():
            break
        if going.sum() < 0.8 * len(active):
            part = part.at(np.flatnonzero(going))
            active, move, lost, gain = active[going], move[going], lost[going], gain[going]
            going = going[going]
        move[lost | ~going] = 0.0
        # A long step leaves the region where the curve is anything like linear.
        longest = np.abs(move).max(axis=1)
        move *= np.minimum(1.0, reach[active] / np.maximum(longest, 1e-9))[:, None]
        trial = u[active] + move
        near[active] = (gain < NEAR) & ~lost
        there = look_around(part, trial, near[active])
        # A row whose promise was void takes the safe curvature where it stands.
        better = np.asarray((there.value >= place.value[active]) & going)
        for mine, theirs in zip(place, there, strict=True):
            mine[active[better]] = theirs[better]
        u[active[better]] = trial[better]
        true[active[better]] = near[active[better]]
        worse = active[going & ~lost & ~better]
        reach[active] = np.minimum(3.0 * reach[active], LONGEST_STEP)
        reach[worse] = 0.25 * np.minimum(longest, LONGEST_STEP)[going & ~lost & ~better]
        step += 1
    return _bent(rows, u, place, true), promise, step


def _step(place: Place, active: Index, few: bool) -> tuple[Array, Array]:
    """Return the step of each active row and the gain it promises."""
    curvature, slope = place.curvature[active], place.slope[active]
    if few:
        # The few rows that are left take a step that climbs whatever way the log posterior bends.
        level, way = np.linalg.eigh(curvature)
        along = (way.swapaxes(1, 2) @ slope[..., None])[..., 0] / np.maximum(np.abs(level), 0.3)
        move = (way @ along[..., None])[..., 0]
    else:
        move = np.linalg.solve(curvature, slope[..., None])[..., 0]
    return move, 0.5 * (move * slope).sum(axis=1)


def _hopeless(value: Array, series: Index) -> NDArray[np.bool_]:
    """Whether another temper explains a row's series so much better that it cannot matter."""
    best = np.full(int(series.max()) + 1, -np.inf)
    np.maximum.at(best, series, value)
    return value < best[series] - HOPELESS


def _bent(rows: Rows, u: Array, place: Place, true: NDArray[np.bool_]) -> Place:
    """Return the places with a curvature that is positive definite, the true one if it can be."""
    curvature = place.curvature.copy()
    again = np.flatnonzero(~true)
    if len(again):
        near = np.ones(len(again), dtype=bool)
        curvature[again] = look_around(rows.at(again), u[again], near).curvature
    try:
        np.linalg.cholesky(curvature - LEAST_BEND * np.eye(u.shape[1]))
    except np.linalg.LinAlgError:
        bad = np.flatnonzero(np.linalg.eigvalsh(curvature)[:, 0] <= 1.01 * LEAST_BEND)
        near = np.zeros(len(bad), dtype=bool)
        curvature[bad] = look_around(rows.at(bad), u[bad], near).curvature
    return place._replace(curvature=curvature)
