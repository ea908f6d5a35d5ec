"""The mode of many series' posteriors at once, and the curvature there.

Rows are series under one noise level each; they take their Newton steps together. The first steps
use the Gauss-Newton curvature, which is always positive definite; once a row is near, the true
one takes over, whose steps home in on the mode much faster.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.linalg.lapack import dpotrf, dtrtri

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.model.curve import CURVE
from harvestcast.growth.model.density import (
    Evidence,
    Noise,
    Place,
    Rows,
    look_around,
    rows_of,
    side_by_side,
)
from harvestcast.growth.model.noise import knots_of

LONGEST_STEP, SHORTEST_STEP = 2.0, 1e-4
"""Longest Newton step, and the one below which a row is given up, in prior spreads."""
NEAR = 0.5
"""Gain a step promises below which the true curvature is trusted."""
CLOSE = 1e-3
"""Gain a step promises below which a row is done (0.045 posterior spreads from the mode); that step
is still taken, but nobody looks around there."""
FEW_STEPS, FEW = 4, 12
"""Steps after which the rows of a chunk that are left, if they are few, wait for those of the other
chunks, to be taken on together and with more care each."""
LEAST_BEND = 0.05
"""Curvature below which a mode is none, and the safe curvature stands in (the prior's is 1)."""
HOPELESS = 9.0
"""Log posterior below that of another noise level from which on a row is not followed further."""
MOST = 150_000
"""Rows times days times unknowns that are handled together, to stay within the fast memory."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Posterior:
    """Gaussian approximation of ``u`` of each series.

    Parameters
    ----------
    mode : ndarray (n, 5 + knots)
    precision : ndarray (n, 5 + knots, 5 + knots)
    log_evidence : ndarray (n,)
        Log marginal likelihood by Laplace's approximation.
    distance : ndarray (n,)
        How far the last Newton step led, in posterior spreads; the mode is nearer than that.
    knots : ndarray (n,)
        Knots that a series' own days reach; the others keep their prior.
    steps : int
        Newton steps taken.
    """

    mode: Array
    precision: Array
    log_evidence: Array
    distance: Array
    knots: Index
    steps: int

    def draw_one(self, row: int, normals: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return draws of ``u`` of one series from standard normals (draws, 5 + knots)."""
        width = CURVE + int(self.knots[row])
        out = np.array(normals)
        out[:, :width] = self.draw_own(row, normals[:, :width])
        return out

    def draw_own(self, row: int, normals: NDArray[np.floating]) -> NDArray[np.floating]:
        """Return draws of the unknowns that a series' own days reach (draws, 5 + own knots)."""
        return normals @ self.way(row) + self.mode[row, : normals.shape[1]]

    def way(self, row: int) -> Array:
        """Return what turns standard normals into draws about the mode of one series.

        The inverse of the precision's triangular root (5 + own knots, 5 + own knots).
        """
        width = CURVE + int(self.knots[row])
        # Straight to LAPACK: numpy's checks take longer than matrices as small as these.
        root = dpotrf(self.precision[row, :width, :width], lower=1, clean=1)[0]
        return np.asarray(dtrtri(root, lower=1)[0])


def posteriors(
    evidence: Evidence,
    noises: Sequence[Noise],
    bases: Sequence[Array],
    since: Index,
    *,
    start: Array | None = None,
    most_steps: int = 60,
    close: float = CLOSE,
) -> tuple[Posterior, ...]:
    """Find the mode of every series under every noise level, and the curvature there.

    Parameters
    ----------
    evidence : Evidence
        Of ``n`` series; its own knots are not looked at.
    noises : sequence of Noise
        One per noise level.
    bases : sequence of ndarray (days, knots)
        Deviation per day and knot under each noise level, the last day's knots first
        (:func:`harvestcast.growth.model.noise.deviation_basis`).
    since : ndarray (n,)
        First day on which the log can say anything of a series; earlier ones are left out.
    start : ndarray (n, 5 + knots), optional
        Where to begin under every noise level; the prior mean if left out.
    most_steps : int
        Newton steps at most.
    close : float
        A row is done once its next step promises less.

    Returns
    -------
    tuple of Posterior
        One per noise level.
    """
    n, days = evidence.picked.shape
    width = CURVE + bases[0].shape[1]
    number = np.array([knots_of(days - int(day)) for day in since], dtype=np.int64)
    number = np.minimum(number, bases[0].shape[1])
    levels = len(noises)
    found = _Found(
        mode=np.tile(np.zeros((n, width)) if start is None else start, (levels, 1, 1)),
        precision=np.tile(np.eye(width), (levels, n, 1, 1)),
        log_evidence=np.zeros((levels, n)),
        distance=np.zeros((levels, n)),
    )
    slow: list[_Walk] = []
    best, steps = np.full(n, -np.inf), 0
    for series in _chunks(days - since, levels):
        span = int(days - since[series].min())
        inner = CURVE + int(number[series].max())
        number[series] = inner - CURVE
        rows = rows_of(evidence, noises, bases, series, span, inner - CURVE)
        walk = _at_the_foot(rows, found.mode[:, series, :inner], series)
        found.mode[:, series, inner:] = 0.0
        left, taken = _climb(walk, best, close, most_steps, leave=FEW)
        done = np.setdiff1d(np.arange(len(walk.u)), left)
        np.maximum.at(best, walk.series[done], walk.place.value[done])
        _note(found, walk.at(done), close)
        slow.append(walk.at(left))
        steps = max(steps, taken)
    if sum(len(walk.u) for walk in slow):
        walk = _together(slow)
        steps += _climb(walk, best, close, most_steps - steps, leave=0)[1]
        _note(found, walk, close)
    return tuple(
        Posterior(
            mode=found.mode[k],
            precision=found.precision[k],
            log_evidence=found.log_evidence[k],
            distance=found.distance[k],
            knots=number,
            steps=steps,
        )
        for k in range(levels)
    )


class _Found(NamedTuple):
    """What has been found so far, levels first; filled in place."""

    mode: Array
    precision: Array
    log_evidence: Array
    distance: Array


@dataclass(slots=True, kw_only=True, eq=False)
class _Walk:
    """Rows on their way to their modes; all but the first three change in place."""

    rows: Rows
    series: Index
    level: Index
    u: Array
    place: Place
    promise: Array
    """Gain promised by the next step; inf before the first."""
    reach: Array
    """Longest step a row may take now."""
    near: Flags
    true: Flags
    """Whether the curvature of the place is the true one."""

    def at(self, which: Index) -> _Walk:
        """Return some of the rows."""
        return _Walk(
            rows=self.rows.at(which),
            series=self.series[which],
            level=self.level[which],
            u=self.u[which],
            place=Place(*(part[which] for part in self.place)),
            promise=self.promise[which],
            reach=self.reach[which],
            near=self.near[which],
            true=self.true[which],
        )


def _at_the_foot(rows: Rows, start: Array, series: Index) -> _Walk:
    """Begin a walk of some series at ``start`` (noise levels, series, unknowns)."""
    levels, n, inner = start.shape
    u, near = start.reshape(-1, inner).copy(), np.zeros(levels * n, dtype=bool)
    return _Walk(
        rows=rows,
        series=np.tile(series, levels),
        level=np.repeat(np.arange(levels), n),
        u=u,
        place=look_around(rows, u, near),
        promise=np.full(len(u), np.inf),
        reach=np.full(len(u), LONGEST_STEP),
        near=near,
        true=near.copy(),
    )


def _together(walks: Sequence[_Walk]) -> _Walk:
    """Return one walk of the rows of several; unknowns beyond a row's own are 0."""
    width = max(walk.u.shape[1] for walk in walks)
    rows = [len(walk.u) for walk in walks]
    u, slope = np.zeros((2, sum(rows), width))
    curvature = np.tile(np.eye(width), (sum(rows), 1, 1))
    for walk, end in zip(walks, np.cumsum(rows), strict=True):
        row, own = slice(end - len(walk.u), end), slice(walk.u.shape[1])
        u[row, own], slope[row, own] = walk.u, walk.place.slope
        curvature[row, own, own] = walk.place.curvature

    return _Walk(
        rows=side_by_side([walk.rows for walk in walks]),
        series=np.concatenate([walk.series for walk in walks]),
        level=np.concatenate([walk.level for walk in walks]),
        u=u,
        place=Place(np.concatenate([walk.place.value for walk in walks]), slope, curvature),
        promise=np.concatenate([walk.promise for walk in walks]),
        reach=np.concatenate([walk.reach for walk in walks]),
        near=np.concatenate([walk.near for walk in walks]),
        true=np.concatenate([walk.true for walk in walks]),
    )


def _note(found: _Found, walk: _Walk, close: float) -> None:
    """Write down what some rows have come to, the last short step of those that are done taken."""
    if not len(walk.u):
        return
    curved = _bent(walk)
    pivots = np.linalg.cholesky(curved).diagonal(axis1=1, axis2=2)
    move = np.linalg.solve(curved, walk.place.slope[..., None])[..., 0]
    move[~(walk.promise <= close)] = 0.0
    top = walk.place.value + 0.5 * (move * walk.place.slope).sum(axis=1)
    at, inner = (walk.level, walk.series), walk.u.shape[1]
    found.mode[*at, :inner] = walk.u + move
    found.precision[*at, :inner, :inner] = curved
    found.log_evidence[at] = top - np.log(pivots).sum(axis=1)
    found.distance[at] = np.sqrt(2.0 * np.maximum(walk.promise, 0.0))


def _chunks(spans: Index, levels: int) -> Iterator[Index]:
    """Split series into chunks of like length that fit into the fast memory."""
    order = np.argsort(-spans, kind="stable")
    at = 0
    while at < len(order):
        longest = int(spans[order[at]])
        each = levels * longest * (CURVE + knots_of(longest))
        most = max(MOST // each, 1)
        part = order[at : at + most]
        # Shorter series wait for a chunk of their own, unless they are too few to pay for it.
        short = int((spans[part] < 0.6 * longest).sum())
        if len(part) - short >= 6 and short >= 6:
            part = part[: len(part) - short]
        yield part
        at += len(part)


def _climb(
    walk: _Walk, best: Array, close: float, most_steps: int, *, leave: int
) -> tuple[Index, int]:
    """Take a walk towards its modes, in place; return which rows were left, and the steps taken.

    Parameters
    ----------
    walk : _Walk
    best : ndarray (n,)
        Best log posterior of each series among the rows of other walks.
    close, most_steps
        As for :func:`posteriors`.
    leave : int
        So few rows are left on the way: it is cheaper to take those of all walks on together.
    """
    place, u, reach = walk.place, walk.u, walk.reach
    active, part = np.arange(len(u)), walk.rows
    step = 0
    while step < most_steps:
        late = leave == 0 or step >= FEW_STEPS
        if late and len(active) <= leave:
            return active, step
        move, gain = _step(place, active, careful=leave == 0)
        # Where the true curvature bends the wrong way its promise is void.
        lost = gain <= 0.0
        walk.promise[active] = np.where(lost, np.inf, gain)
        going = (gain > close) & (reach[active] > SHORTEST_STEP)
        if late:
            going &= ~_hopeless(walk, best)[active]
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
        taken = np.minimum(longest, reach[active])
        move *= (taken / np.maximum(longest, 1e-9))[:, None]
        trial = u[active] + move
        walk.near[active] = (gain < NEAR) & ~lost
        there = look_around(part, trial, walk.near[active])
        # A row whose promise was void takes the safe curvature where it stands.
        better = np.asarray((there.value >= place.value[active]) & going)
        for mine, theirs in zip(place, there, strict=True):
            mine[active[better]] = theirs[better]
        u[active[better]] = trial[better]
        walk.true[active[better]] = walk.near[active[better]]
        worse = active[going & ~lost & ~better]
        reach[active] = np.minimum(3.0 * reach[active], LONGEST_STEP)
        reach[worse] = 0.25 * taken[going & ~lost & ~better]
        step += 1
    return active[:0], step


def _step(place: Place, active: Index, careful: bool) -> tuple[Array, Array]:
    """Return the step of each active row and the gain it promises."""
    curvature, slope = place.curvature[active], place.slope[active]
    if careful:
        # The few rows that are left take a step that climbs whatever way the log posterior bends.
        level, way = np.linalg.eigh(curvature)
        along = (way.swapaxes(1, 2) @ slope[..., None])[..., 0] / np.maximum(np.abs(level), 0.3)
        move = (way @ along[..., None])[..., 0]
    else:
        move = np.linalg.solve(curvature, slope[..., None])[..., 0]
    return move, 0.5 * (move * slope).sum(axis=1)


def _hopeless(walk: _Walk, best: Array) -> Flags:
    """Whether another noise level explains a row's series so much better that it cannot matter.

    A row may hope for what its next step promises, and for anything where that is void; it stands
    in the way of others with no more than what can be believed.
    """
    value, promise = walk.place.value, walk.promise
    best = best.copy()
    np.maximum.at(best, walk.series, value + np.where(promise < HOPELESS, promise, 0.0))
    return np.asarray(value + np.minimum(promise, HOPELESS) < best[walk.series] - HOPELESS)


def _bent(walk: _Walk) -> Array:
    """Return curvatures that are positive definite, the true ones where they can be."""
    curvature = walk.place.curvature.copy()
    again = np.flatnonzero(~walk.true)
    if len(again):
        near = np.ones(len(again), dtype=bool)
        curvature[again] = look_around(walk.rows.at(again), walk.u[again], near).curvature
    try:
        np.linalg.cholesky(curvature - LEAST_BEND * np.eye(walk.u.shape[1]))
    except np.linalg.LinAlgError:
        bad = np.flatnonzero(np.linalg.eigvalsh(curvature)[:, 0] <= 1.01 * LEAST_BEND)
        near = np.zeros(len(bad), dtype=bool)
        curvature[bad] = look_around(walk.rows.at(bad), walk.u[bad], near).curvature
    return curvature
