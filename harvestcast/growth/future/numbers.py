"""The random numbers of a forecast: evenly spread, and as many whatever comes of them.

Two things would make a forecast jump. Numbers drawn at random leave gaps, so that another seed
moves a median; here every one of them is a coordinate of a scrambled Sobol sequence (Sobol 1967,
doi:10.1016/0041-5553(67)90144-9; scrambling by a random linear matrix and a digital shift:
Matousek 1998, doi:10.1006/jcom.1998.0489; both cited from memory), or at least a number of its own
kind for every draw. And numbers taken from a stream as they are needed would all be others after
one more or one less was taken, by a rounding error in the seventh digit: here a draw's numbers
depend on the seed and its place alone, and what is made of them, on them monotonously.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from scipy.special import ndtri
from scipy.stats import qmc

from harvestcast.arrays import Array, Index, Single
from harvestcast.growth.model.curve import CURVE
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
EVEN_KNOTS = 3
"""Leading directions of the coming deviations whose numbers are evenly spread; those beyond are
plain random numbers, for they would need a sequence of too many dimensions."""
_HALF = 2.0**-31


class Tried(NamedTuple):
    """Numbers from which states of a series are tried; the same for all series."""

    level: Single
    """Uniform, which noise level (tried,)."""
    spread: Single
    """Uniform, how wide the curve is drawn (tried,)."""
    end: Single
    """Uniform, on which day plants would have ended (tried,)."""
    curve: Single
    """Standard normals of the curve, the direction that matters most first (tried, 5)."""
    past: Single
    """The same of the past deviation (tried, knots)."""


class Own(NamedTuple):
    """Numbers of one series, by draw of the garden."""

    coming: Single
    """Standard normals of the coming deviation (draws, knots to come); shared in part."""
    doubt: Single
    """Standard normal: how high today's state stands among its draws; shared in part (draws,)."""
    later: Single
    """Uniform: how high it stands later, among those that stand alike today (draws,)."""
    over: Single
    """Uniform: whether its plants have ended (draws,)."""
    stock: Single
    """Uniform: how much stood of what is taken whole (draws,)."""


class Numbers(NamedTuple):
    """All numbers of a garden's draws, up to picking."""

    tried: Tried
    own: tuple[Own, ...]


class Picking(NamedTuple):
    """Uniform numbers of who picks what, of draws that stand alike but for them."""

    came: Single
    """Garden days, the day before the first one last (draws, days + 1)."""
    passed: Single
    """Weeks in which a crop is passed over (weeks, crops, draws)."""
    look: Single
    """Looks (days, series, draws)."""
    amount: Single
    """How much is picked on a look (days, series, draws)."""
    warned: Single
    """Whether a frost is seen coming, and how early (draws,)."""


def even_numbers(count: int, width: int, seed: object) -> Array:
    """Return uniform numbers (count, width), evenly spread, above 0 and below 1.

    Every column alone has one number in each of ``count`` equal parts where that is a power of 2,
    and columns together fill their cube evenly; the head of a longer sequence is spread alike.

    Examples
    --------
    >>> np.bincount((8 * even_numbers(8, 3, 1)).astype(int)[:, 2]).tolist()
    [1, 1, 1, 1, 1, 1, 1, 1]
    """
    if width == 0:
        return np.zeros((count, 0))
    power = max(count - 1, 0).bit_length()
    sequence = qmc.Sobol(width, rng=np.random.default_rng(seed))  # type: ignore[arg-type]
    return np.asarray(sequence.random_base2(power)[:count] + _HALF)


def tried_numbers(fit: Fit, tried: int, seed: int) -> Tried:
    """Return numbers to try states of the series of a fit from."""
    knots = max(int(fit.posteriors[0].knots.max(initial=0)), 2)
    even = even_numbers(tried, 3 + CURVE + knots, [seed, 1])
    normal = ndtri(even).astype(np.float32)
    # In order of what matters: lower dimensions of the sequence fill more evenly.
    curve = [1, 3, *range(7, 7 + CURVE - 2)]
    past = [2, 4, *range(5 + CURVE, 3 + CURVE + knots)]
    single = even.astype(np.float32)
    return Tried(single[:, 0], single[:, 5], single[:, 6], normal[:, curve], normal[:, past])


def garden_numbers(fit: Fit, draws: int, *, tried: int, seed: int) -> Numbers:
    """Return the numbers of a garden's draws, up to picking.

    Parameters
    ----------
    fit : Fit
    draws : int
    tried : int
        States of each series that are tried.
    seed : int
    """
    n, crop_of, knots = len(fit.series), fit.season.crop, coming_knots(fit)
    crops, lead = int(crop_of.max(initial=-1)) + 1, min(coming_knots(fit), EVEN_KNOTS)
    even = even_numbers(draws, (1 + crops + n) * lead + crops + 4 * n, [seed, 2])
    rng = np.random.default_rng([seed, 3])
    at = 0

    def columns(count: int) -> Array:
        nonlocal at
        at += count
        return even[:, at - count : at]

    def normals(of: int) -> Single:
        out = np.empty((draws, of, knots), dtype=np.float32)
        out[..., :lead] = ndtri(columns(of * lead)).reshape(draws, of, lead)
        out[..., lead:] = rng.standard_normal((draws, of, knots - lead), dtype=np.float32)
        return out

    shared = np.float32(np.sqrt(OF_GARDEN)) * normals(1)
    # What is doubtful before a first pick is mostly when it begins, and that is a variety's own.
    of_crop = DOUBT_OF_CROP * (fit.evidence.picked > 0).any(axis=1)
    doubt = np.sqrt(of_crop) * ndtri(columns(crops))[:, crop_of]
    doubt += np.sqrt(1.0 - of_crop) * ndtri(columns(n))
    shared = shared + np.float32(np.sqrt(OF_CROP)) * normals(crops)
    coming = shared[:, crop_of] + np.float32(np.sqrt(1.0 - OF_GARDEN - OF_CROP)) * normals(n)
    coming = (coming.astype(float) @ _leading(fit, knots).T).astype(np.float32)
    coming = np.ascontiguousarray(coming.swapaxes(0, 1))
    others = [part.astype(np.float32).T for part in (doubt, *(columns(n) for _ in range(3)))]
    own = (Own(coming[row], *(part[row] for part in others)) for row in range(n))
    return Numbers(tried_numbers(fit, tried, seed), tuple(own))


def picking_numbers(fit: Fit, draws: int, days: int, *, seed: int) -> Picking:
    """Return the numbers of who picks what."""
    n, crops = len(fit.series), int(fit.season.crop.max(initial=-1)) + 1
    rng = np.random.default_rng([seed, 4])

    def uniform(*shape: int) -> Single:
        return rng.random(shape, dtype=np.float32)

    return Picking(
        uniform(draws, days + 1),
        uniform(-(-days // 7), crops, draws),
        uniform(days, n, draws),
        uniform(days, n, draws),
        uniform(draws),
    )


def moved_on(uniform: Single, part: float) -> Single:
    """Return uniform numbers moved on by a part of their range, round and round.

    Of numbers moved on by 0, 1/4, 2/4 and 3/4 each quarter of the range holds one: a sample of
    four that is spread evenly, whatever the number (systematic sampling).
    """
    moved = uniform + np.float32(part)
    return moved - (moved >= 1.0)


def coming_knots(fit: Fit) -> int:
    """Return how many knots of the deviations lie after the last day known."""
    return fit.bases[0].shape[1] - (fit.posteriors[0].mode.shape[1] - CURVE)


def dealt(doubt: Single, later: Single) -> Index:
    """Return which place in the order of a series' states each draw of the garden gets (draws,).

    Places run from states in which little ripens soon to those in which much does; within each of
    about ``sqrt(draws)`` equal parts of them, from little later on to much.
    """
    draws = len(doubt)
    rank = np.empty(draws, dtype=np.int64)
    rank[np.argsort(doubt, kind="stable")] = np.arange(draws)
    order = np.lexsort((later, rank * parts_of(draws) // draws))
    place = np.empty(draws, dtype=np.int64)
    place[order] = np.arange(draws)
    return place


def parts_of(draws: int) -> int:
    """Return in how many parts states are put in order by how much ripens soon."""
    return max(int(np.sqrt(draws)), 1)


def _leading(fit: Fit, knots: int) -> Array:
    """Return a rotation of coming normals (knots, knots) to the directions that matter most.

    The first column moves all days to come alike, the next ones early days against late ones.
    """
    basis = fit.bases[0][len(fit.dates) :, fit.bases[0].shape[1] - knots :]
    day = np.linspace(-1.0, 1.0, len(basis)) if len(basis) > 1 else np.ones(len(basis))
    ways = np.stack([day**power for power in range(min(knots, EVEN_KNOTS))], axis=1)
    q, r = np.linalg.qr(basis.T @ ways, mode="complete")
    sign = np.ones(knots)
    sign[: r.shape[1]] = np.where(np.diagonal(r) < 0.0, -1.0, 1.0)
    return np.asarray(q * sign)
