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
DAYS_SOONER = 5
"""Days by which one that would go must be picked before the best to stay for it. Our judgement."""


class Verdict(NamedTuple):
    """What becomes of a variety."""

    verdict: str
    """keep, try_again or drop."""
    against: int | None
    """Which other one it is held against; None where there is none."""
    chance: float
    """Chance that it brings more; NaN where there is none."""
    days_sooner: int = 0
    """Days by which one that would go is picked before the other; below 0 where it is later."""


def judge(
    yields: Array,
    own: int,
    rivals: Sequence[int],
    *,
    planted: bool | None = None,
    first: Array | None = None,
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
    first : ndarray, shape (draws, varieties), optional
        Days to the first pick, NaN where not known: one that would go stays for being sooner.

    Examples
    --------
    >>> yields = np.array([[2.0, 1.0, 1.8]] * 4 + [[2.0, 1.0, 2.1]])
    >>> [judge(yields, own, [o for o in range(3) if o != own]).verdict for own in range(3)]
    ['keep', 'drop', 'try_again']
    >>> judge(yields, 1, [0, 2], first=np.array([[70.0, 60.0, 70.0]] * 5))[::3]
    ('keep', 10)
    """
    mean = yields.mean(axis=0)
    best = max(rivals, key=lambda i: (mean[i], -i)) if len(rivals) else None
    chance = np.nan if best is None else float((yields[:, own] > yields[:, best]).mean())
    stays = planted if planted is not None else best is None or chance >= AS_GOOD
    if stays:
        return Verdict("keep", best, chance)
    if best is None or chance >= NEVER_WINS:
        return Verdict("try_again", best, chance)
    days = 0 if first is None else _sooner(first, own, best)
    return Verdict("keep" if days >= DAYS_SOONER else "drop", best, chance, days)


def _sooner(first: Array, own: int, other: int) -> int:
    """Return the days by which a variety is picked before another; 0 where it is not known."""
    apart = (
        float(np.nanmedian(first[:, other]) - np.nanmedian(first[:, own])) if len(first) else 0.0
    )
    return 0 if np.isnan(apart) else round(apart)
