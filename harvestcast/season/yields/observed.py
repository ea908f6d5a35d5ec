"""What one planting showed of every measure, and how far luck alone may have moved it.

Three kinds of luck stand in the error: weeks that are better or worse for the plants, the number of
fruits (Poisson: few fruits leave much to chance), and weights taken from counts where no fruit was
weighed. What plants and plots differ by is the business of :mod:`harvestcast.season.yields.spread`.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import CropFacts
from harvestcast.season.yields.measures import (
    heaviest_run,
    place_of_share,
    shaken,
    steady_weeks,
    week_noise,
)
from harvestcast.season.yields.plantings import Unit

LOGIT: frozenset[str] = frozenset({"peak_week_share", "oversize_share", "damaged_share"})
"""Measures that are shares and worked on as log odds; all others are worked on as logarithms."""

_SHAKES = 120
_NOISE_RUNS = 4.0  # runs of weeks that the almanac's spread of weekly picks counts for
_LASTING, _TIMING, _WEEKLY = 0.25, 0.4, 0.3
"""Share of the weekly noise that stands in the error of a season's total, of the heat at which
shares of it are in, and of the heaviest week and the steady weeks. The rest is fruit picked some
days later than it might have been, which moves between weeks and leaves the total as it is, or
stands in the published spread between plots already. Set on simulated gardens of even seeds and
checked on odd ones (tests/benchmarks/season.py)."""

_FRUIT_LOG_SD = 0.3
"""Between fruits of one variety, log. Our judgement."""
_USUAL_ROWS = 4.0
"""Rows with count and weight that the usual spread between fruits counts for. Our judgement."""
NEVER_TOO_BIG = 0.9
"""Chance that a crop without an oversize share in the almanac has none here either. Our judgement.
"""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observed:
    """What one planting showed of one measure.

    ``value`` and ``error`` stand on the working scale, ``seen`` on the natural one.
    """

    seen: float
    value: float
    error: float


def noise_of_crop(units: Sequence[Unit], facts: CropFacts, *, numbers: bool = True) -> float:
    """Return the standard deviation of log weekly picks about the smooth course of a crop.

    The almanac's figure, counted as four runs of three weeks, and the crop's own runs.

    Parameters
    ----------
    units : sequence of Unit
        The crop's plantings.
    facts : CropFacts
        The crop.
    numbers : bool
        Whether to leave in what the mere number of fruits makes weeks differ by.
    """
    total, weight = _NOISE_RUNS * facts.week_log_sd**2, _NOISE_RUNS
    for unit in units:
        variance, runs = week_noise(unit.mass, fruits=None if numbers else _fruits(unit, facts))
        if runs:
            total, weight = total + runs * variance, weight + runs
    return float(np.sqrt(total / weight))


def _fruits(unit: Unit, facts: CropFacts) -> Array | None:
    """Return the fruits of each day; None for leaves, of which a pick takes many from a plant."""
    return None if facts.habit == "cut_again" else unit.count


def observe(
    unit: Unit,
    facts: CropFacts,
    noise_sd: float,
    rng: np.random.Generator,
    *,
    graded: tuple[float, float] | None,
) -> dict[str, Observed]:
    """Return what one planting showed, with the error that picking and weekly noise leave.

    Parameters
    ----------
    unit : Unit
        The planting.
    facts : CropFacts
        Its crop.
    noise_sd : float
        Of log weekly picks, without the luck of numbers, see :func:`noise_of_crop`.
    rng : numpy.random.Generator
        Source of randomness.
    graded : tuple of float, optional
        Shares of the whole crop that were oversize and damaged; None where the household wrote no
        grades down, and shares are unknown.

    Returns
    -------
    dict of str to Observed
        Measures that the planting says something of.
    """
    total = unit.mass.sum()
    if not total > 0:
        return {}

    def drawn(part: float) -> Array:
        return shaken(
            unit.mass,
            noise_sd=part * noise_sd,
            draws=_SHAKES,
            rng=rng,
            fruits=_fruits(unit, facts),
        )

    found: dict[str, Observed] = {}

    def add(name: str, seen: float, error: float) -> None:
        if np.isfinite(seen) and (seen > 0 or name in LOGIT):
            found[name] = Observed(seen=seen, value=float(to_scale(name, seen)), error=error)

    lasting = drawn(_LASTING)
    least = 0.5 * unit.fruit_kg  # a draw in which no fruit is left says less than one fruit
    number_error = float(np.std(np.log(np.maximum(lasting.sum(axis=1), least))))
    heavy = heaviest_run(unit.mass, 14)[0]
    heavies = np.maximum(heaviest_run(lasting, 14)[0], least)
    # Scales err by 3 %; counts taken for weights err by what is not known of a fruit's weight.
    weight_error = float(np.hypot(0.03, unit.guessed * unit.fruit_error))
    add("kg_per_plant", total / unit.plants, float(np.hypot(number_error, weight_error)))
    if unit.counted:
        add("count_per_plant", unit.count.sum() / unit.plants, float(np.hypot(number_error, 0.03)))
    add(
        "canner_kg_per_plant",
        float(heavy) / unit.plants,
        float(np.hypot(np.std(np.log(heavies)), weight_error)),
    )
    if len(np.flatnonzero(unit.mass)) > 1:
        weekly = drawn(_WEEKLY)
        weekly = weekly[weekly.any(axis=1)]
        peak = float(heaviest_run(unit.mass, 7)[0]) / total
        peaks = heaviest_run(weekly, 7)[0] / weekly.sum(axis=1)
        add("peak_week_share", peak, _half_width(to_scale("peak_week_share", peaks)))
        others = np.log(np.maximum(steady_weeks(weekly), 1.0))
        error = max(float(np.std(others)), 0.1)
        add("steady_weeks", float(steady_weeks(unit.mass)), error)
    if not pd.isna(unit.planted) or facts.heat_from_new_year:
        _add_times(add, unit, drawn(_TIMING))
    fruits = unit.count.sum()
    if graded is not None and fruits > 0:
        for row, name in ((1, "oversize_share"), (2, "damaged_share")):
            found[name] = _share(unit.graded[row], unit.mass, float(fruits), graded[row - 1])
    if unit.weighed >= 3:
        add("fruit_kg", unit.weighed_kg / unit.weighed, _fruit_error(unit))
    if unit.hours_kg > 0:
        add("pick_hours_per_kg", unit.hours / unit.hours_kg, 0.15)
    return found


def _half_width(values: Array) -> float:
    """Return half of the middle 68 %: a standard deviation that a few wild draws do not rule."""
    low, high = np.quantile(values, (0.16, 0.84))
    return float(high - low) / 2


def _add_times(put: Callable[[str, float, float], None], unit: Unit, drawn: Array) -> None:
    picks = np.flatnonzero(unit.mass > 0)
    first = picks[0]
    drawn = drawn[drawn.any(axis=1)]
    # The first fruit was ready somewhere since the look before: a pick interval, evenly spread.
    gap = float(np.median(np.diff(picks[:6]))) if len(picks) > 1 else 3.0
    daily = float(unit.heat[first] / max(first, 1))
    # Where the first picks are of a fruit or two, another planting may well begin with the next.
    late = float(np.std(np.argmax(drawn > 0, axis=1)))
    if unit.heat[first] > 0 and first > 0:
        error = float(np.hypot(gap / np.sqrt(12), late))
        if not pd.isna(unit.planted):
            put("first_pick_days", float(first), error / float(first))
        put("first_pick_dd", float(unit.heat[first]), error * daily / unit.heat[first])
    for name, share in (("dd_10", 0.1), ("dd_50", 0.5), ("dd_90", 0.9)):
        place = float(place_of_share(unit.mass, share, unit.heat))
        others = place_of_share(drawn, share, unit.heat)
        if place > 0:
            error = np.hypot(np.std(others) / place, gap / np.sqrt(12) * daily / place)
            put(name, place, float(error))


def share_of_crop(units: Sequence[Unit]) -> tuple[float, float]:
    """Return the oversize and the damaged share of some plantings together, by mass."""
    by_grade = np.sum([unit.graded.sum(axis=1) for unit in units], axis=0)
    whole = max(float(by_grade.sum()), 1e-9)
    return float(by_grade[1] / whole), float(by_grade[2] / whole)


def _share(part: Array, whole: Array, fruits: float, usual: float) -> Observed:
    """Return a share with its error: at least binomial; fruit is missed by the day, not singly.

    One fruit of the crop's usual share is added, so that few fruits do not pass for a half.
    """
    share = float(part.sum() / whole.sum())
    k = share * fruits
    binomial = 1 / (k + 0.5) + 1 / (fruits - k + 0.5)
    days = whole > 0
    n = int(days.sum())
    # Ratio of sums over days that differ: the usual linearised variance, on the log odds.
    residual = part[days] - share * whole[days]
    by_day = float(np.sum(residual**2)) / whole.sum() ** 2 * n / max(n - 1, 1)
    clustered = by_day / max(share * (1 - share), 1e-9) ** 2 if k > 0 else 0.0
    usual = min(max(usual, 0.02), 0.98)
    value = float(np.log((k + usual) / (fruits - k + 1 - usual)))
    return Observed(seen=share, value=value, error=float(np.sqrt(max(binomial, clustered))))


def chance_of_none(facts: CropFacts, picks: int) -> float:
    """Return the chance that a crop does not grow too big at all, where no such fruit was logged.

    Parameters
    ----------
    facts : CropFacts
        The crop; its usual oversize share stands for what is known without a log.
    picks : int
        Picks without any oversize fruit; fruit grows too big by the day, so that each counts once.

    Examples
    --------
    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> chance_of_none(crop_facts("tomato"), 30) > 0.9 > chance_of_none(crop_facts("zucchini"), 5)
    True
    """
    usual = facts.oversize_share
    before = NEVER_TOO_BIG if usual == 0 else 1 - NEVER_TOO_BIG
    x, weight = np.polynomial.hermite_e.hermegauss(30)
    share = 1 / (1 + np.exp(-(np.log(max(usual, 0.02)) + 1.2 * x)))
    unseen = float(np.sum(weight / weight.sum() * (1 - share) ** picks))
    return before / (before + (1 - before) * unseen)


def _fruit_error(unit: Unit) -> float:
    """Return the error of the log weight of a fruit from how rows with both differ."""
    number, kg = unit.rows_both
    mean = kg.sum() / number.sum()
    rows = len(number)
    least = _FRUIT_LOG_SD**2 / number.sum()
    if rows < 3:
        return float(np.sqrt(least + 0.1**2 / rows))
    residual = kg - mean * number
    spread = float(np.sum(residual**2)) / kg.sum() ** 2 * rows / (rows - 1)
    # What rows show counts by their number, against some rows' worth of what is usual. The larger
    # of the two would be too wide: where both say the same, either is above it half the time.
    weight = (rows - 1) / (rows - 1 + _USUAL_ROWS)
    return float(np.sqrt(weight * spread + (1 - weight) * least))


def to_scale(measure: str, values: object) -> Array:
    """Return values on the working scale: log odds for shares, else logarithms."""
    x = np.asarray(values, float)
    if measure in LOGIT:
        # A peak week that holds everything is no further from 0.99 than 0.99 is from 0.98.
        edge = 5e-3 if measure == "peak_week_share" else 1e-4
        x = np.clip(x, edge, 1 - edge)
        return np.asarray(np.log(x / (1 - x)))
    return np.asarray(np.log(x))


def from_scale(measure: str, values: Array) -> Array:
    """Return values on the natural scale; the inverse of :func:`to_scale`."""
    return 1 / (1 + np.exp(-values)) if measure in LOGIT else np.exp(values)
