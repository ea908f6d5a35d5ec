"""Keep, try again or drop: the one rule for varieties, at the season's end and in a plan."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from harvestcast.arrays import Array

NEVER_WINS = 0.1
"""Chance of bringing more than the best of its crop below which a variety goes. Our judgement."""
AS_GOOD = 0.3
"""The chance from which it stays where no plan says what is planted: the log cannot tell the two
apart. Our judgement."""


class Verdict(NamedTuple):
    """What becomes of a variety."""

    verdict: str
    """keep, try_again or drop."""
    against: int | None
    """Which other one it is held against; None where there is none."""
    chance: float
    """Chance that it brings more; NaN where there is none."""


def judge(
    yields: Array, own: int, rivals: Sequence[int], *, planted: bool | None = None
) -> Verdict:
    """Return what becomes of a variety, held against the best other one, bed for bed.

    Parameters
    ----------
    yields : ndarray, shape (draws, varieties)
        Harvest of a square metre, draw by draw of all together. [kg/m2]
    own : int
        Which variety.
    rivals : sequence of int
        The others.
    planted : bool, optional
        Whether a plan has plants of it, which settles what stays; left out: it stays where it is
        the only one, or may well be as good as the best.

    Examples
    --------
    >>> yields = np.array([[2.0, 1.0, 1.8]] * 4 + [[2.0, 1.0, 2.1]])
    >>> [judge(yields, own, [o for o in range(3) if o != own]).verdict for own in range(3)]
    ['keep', 'drop', 'try_again']
    """
    mean = yields.mean(axis=0)
    best = max(rivals, key=lambda i: (mean[i], -i)) if len(rivals) else None
    chance = np.nan if best is None else float((yields[:, own] > yields[:, best]).mean())
    stays = planted if planted is not None else best is None or chance >= AS_GOOD
    if stays:
        return Verdict("keep", best, chance)
    return Verdict("drop" if chance < NEVER_WINS else "try_again", best, chance)
