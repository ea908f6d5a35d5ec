"""From the plantings of a season to joint draws of what its varieties are worth.

Estimand, the same for every measure: the *expected value* of the variety, that is the mean over
many plantings of it in this garden, in the same season, picked on the same days by the same
household, of what the log would show. One planting is one sample of that; how far a sample may lie
from the mean is the business of :mod:`harvestcast.season.spread`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.growth.almanac import CropFacts, crop_facts
from harvestcast.records.household import Household
from harvestcast.season.measures import (
    heaviest_run,
    place_of_share,
    shaken,
    steady_weeks,
    week_noise,
)
from harvestcast.season.seasons import Unit
from harvestcast.season.spread import Spread, draw_expected, plot_spread

Array = NDArray[np.float64]

LOGIT: frozenset[str] = frozenset({"peak_week_share", "oversize_share", "damaged_share"})
"""Measures that are shares and worked on as log odds; all others are worked on as logarithms."""

MODELLED: tuple[str, ...] = (
    "kg_per_plant",
    "count_per_plant",
    "first_pick_days",
    "first_pick_dd",
    "dd_10",
    "dd_50",
    "dd_90",
    "peak_week_share",
    "canner_kg_per_plant",
    "steady_weeks",
    "oversize_share",
    "damaged_share",
    "fruit_kg",
    "pick_hours_per_kg",
)

_SHAKES = 120
_NOISE_RUNS = 4.0  # runs of weeks that the almanac's spread of weekly picks counts for
_LASTING = 0.4
"""Share of the weekly noise that stands in the error of a season's total and of its heat. The rest
is fruit picked some days later than it might have been, which moves between weeks and leaves the
total as it is, or stands in the published spread between plots already. Set on 45 simulated
gardens, checked on others (tests/season/test_honest_intervals.py)."""

_PLANT = (0.32, 0.3)
_TIMES = (
    "heat from planting to harvest varied by 3 % (sown) to 10 % (set out) between crops of one "
    "tomato: Gray, Ward & Steckel, J. Agric. Sci.; by 10 % in melon: Soto-Ortiz & Silvertooth "
    "(both abstracts); split into plantings, varieties and years by our judgement"
)


def spread_of(measure: str, crop: str) -> Spread:
    """Return the priors of the spreads of one measure.

    Parameters
    ----------
    measure : str
        One of :data:`MODELLED`.
    crop : str
        Canonical crop name.

    Returns
    -------
    Spread

    Examples
    --------
    >>> spread_of("kg_per_plant", "tomato").plant
    (0.32, 0.3)
    """
    if measure in ("kg_per_plant", "count_per_plant", "canner_kg_per_plant"):
        return Spread(
            plot=plot_spread(crop),
            plant=_PLANT,
            variety=(0.35, 0.5),
            year=(0.25, 0.5),
            variety_year=(0.12, 0.5),
            source="between plots: data/between_plot_cv.csv; between plants: Baker & Baker (1953) "
            "strawberry, there; between varieties and years: our judgement",
        )
    if measure in ("first_pick_days", "first_pick_dd", "dd_10", "dd_50", "dd_90"):
        return Spread(
            plot=(0.05 if measure.startswith("first") else 0.025, 0.5),
            plant=(0.06 if measure.startswith("first") else 0.025, 0.5),
            variety=(0.09, 0.5),
            year=(0.10 if measure == "first_pick_days" else 0.04, 0.5),
            variety_year=(0.02, 0.5),
            source=_TIMES,
        )
    judged = {
        "fruit_kg": ((0.06, 0.5), (0.08, 0.3), (0.25, 0.5), (0.06, 0.5), (0.04, 0.5)),
        "steady_weeks": ((0.20, 0.5), (0.10, 0.3), (0.25, 0.5), (0.15, 0.5), (0.10, 0.5)),
        "pick_hours_per_kg": ((0.20, 0.5), (0.10, 0.3), (0.30, 0.5), (0.20, 0.5), (0.10, 0.5)),
    }
    shares = ((0.25, 0.5), (0.20, 0.3), (0.40, 0.5), (0.25, 0.5), (0.15, 0.5))
    if measure == "peak_week_share":  # weekly noise, the greater part, stands in the error
        shares = ((0.12, 0.5), (0.10, 0.3), *shares[2:])
    plot, plant, variety, year, both = judged.get(measure, shares)
    common = (0.05, 0.4) if measure == "fruit_kg" else (0.0, 0.0)
    return Spread(
        plot=plot, plant=plant, variety=variety, year=year, variety_year=both,
        common=common, source="our judgement",
    )  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Observed:
    """What one planting showed of one measure.

    ``value`` and ``error`` stand on the working scale, ``seen`` on the natural one.
    """

    seen: float
    value: float
    error: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CropDraws:
    """Joint draws of the varieties of one crop.

    Parameters
    ----------
    crop : str
        Crop.
    varieties : tuple of str
        Sorted names.
    expected, again : mapping of str to ndarray, shape (draws, varieties)
        Expected value and one more planting, natural scale, per measure; NaN columns where the
        variety shows nothing of it.
    effective : mapping of str to float
        Effective number of candidates behind the draws of each measure.
    """

    crop: str
    varieties: tuple[str, ...]
    expected: Mapping[str, Array]
    again: Mapping[str, Array]
    effective: Mapping[str, float]


def noise_of_crop(units: Sequence[Unit], facts: CropFacts) -> float:
    """Return the standard deviation of log weekly picks about the smooth course of a crop.

    The almanac's figure, counted as four runs of three weeks, and the crop's own runs.
    """
    total, weight = _NOISE_RUNS * facts.week_log_sd**2, _NOISE_RUNS
    for unit in units:
        variance, runs = week_noise(unit.mass)
        if runs:
            total, weight = total + runs * variance, weight + runs
    return float(np.sqrt(total / weight))


def observe(
    unit: Unit, facts: CropFacts, noise_sd: float, rng: np.random.Generator, *, graded: bool
) -> dict[str, Observed]:
    """Return what one planting showed, with the error that picking and weekly noise leave.

    Parameters
    ----------
    unit : Unit
        The planting.
    facts : CropFacts
        Its crop.
    noise_sd : float
        Of log weekly picks, see :func:`noise_of_crop`.
    rng : numpy.random.Generator
        Source of randomness.
    graded : bool
        Whether the household wrote grades down this season; if not, shares are unknown.

    Returns
    -------
    dict of str to Observed
        Measures that the planting says something of.
    """
    total = unit.mass.sum()
    if not total > 0:
        return {}
    drawn = shaken(unit.mass, noise_sd=noise_sd, draws=_SHAKES, rng=rng)
    lasting = shaken(unit.mass, noise_sd=_LASTING * noise_sd, draws=_SHAKES, rng=rng)
    found: dict[str, Observed] = {}

    def add(name: str, seen: float, error: float) -> None:
        if np.isfinite(seen) and (seen > 0 or name in LOGIT):
            found[name] = Observed(seen=seen, value=float(to_scale(name, seen)), error=error)

    total_error = float(np.hypot(np.std(np.log(lasting.sum(axis=1))), 0.03))  # scales: 3 % at most
    add("kg_per_plant", total / unit.plants, total_error)
    if unit.counted:
        add("count_per_plant", unit.count.sum() / unit.plants, total_error)
    heavy = heaviest_run(unit.mass, 14)[0]
    heavy_error = float(np.std(np.log(heaviest_run(lasting, 14)[0])))
    add("canner_kg_per_plant", float(heavy) / unit.plants, float(np.hypot(heavy_error, 0.03)))
    peak = float(heaviest_run(unit.mass, 7)[0]) / total
    peaks = heaviest_run(drawn, 7)[0] / drawn.sum(axis=1)
    if len(np.flatnonzero(unit.mass)) > 1:
        add("peak_week_share", peak, float(np.std(to_scale("peak_week_share", peaks))))
        others = np.log(np.maximum(steady_weeks(drawn), 1.0))
        error = max(float(np.std(others)), 0.15)
        add("steady_weeks", float(steady_weeks(unit.mass)), error)
    if not pd.isna(unit.planted) or facts.heat_from_new_year:
        _add_times(add, unit, lasting)
    fruits = unit.count.sum()
    if graded and fruits > 0:
        for row, name in ((1, "oversize_share"), (2, "damaged_share")):
            found[name] = _share(unit.graded[row], unit.mass, float(fruits))
    if unit.weighed >= 3:
        add("fruit_kg", unit.weighed_kg / unit.weighed, _fruit_error(unit, facts))
    if unit.hours_kg > 0:
        add("pick_hours_per_kg", unit.hours / unit.hours_kg, 0.15)
    return found


def _add_times(put: Callable[[str, float, float], None], unit: Unit, drawn: Array) -> None:
    picks = np.flatnonzero(unit.mass > 0)
    first = picks[0]
    # The first fruit was ready somewhere since the look before: a pick interval, evenly spread.
    gap = float(np.median(np.diff(picks[:6]))) if len(picks) > 1 else 3.0
    daily = float(unit.heat[first] / max(first, 1))
    if unit.heat[first] > 0 and first > 0:
        gap_error = gap / np.sqrt(12)
        if not pd.isna(unit.planted):
            put("first_pick_days", float(first), gap_error / float(first))
        put("first_pick_dd", float(unit.heat[first]), gap_error * daily / unit.heat[first])
    for name, share in (("dd_10", 0.1), ("dd_50", 0.5), ("dd_90", 0.9)):
        place = float(place_of_share(unit.mass, share, unit.heat))
        others = place_of_share(drawn, share, unit.heat)
        if place > 0:
            error = np.hypot(np.std(others) / place, gap / np.sqrt(12) * daily / place)
            put(name, place, float(error))


def _share(part: Array, whole: Array, fruits: float) -> Observed:
    """Return a share with its error: at least binomial; fruit is missed by the day, not singly."""
    share = float(part.sum() / whole.sum())
    k = share * fruits
    binomial = 1 / (k + 0.5) + 1 / (fruits - k + 0.5)
    days = whole > 0
    n = int(days.sum())
    # Ratio of sums over days that differ: the usual linearised variance, on the log odds.
    residual = part[days] - share * whole[days]
    by_day = float(np.sum(residual**2)) / whole.sum() ** 2 * n / max(n - 1, 1)
    clustered = by_day / max(share * (1 - share), 1e-9) ** 2 if k > 0 else 0.0
    value = float(np.log((k + 0.5) / (fruits - k + 0.5)))
    return Observed(seen=share, value=value, error=float(np.sqrt(max(binomial, clustered))))


def _fruit_error(unit: Unit, facts: CropFacts) -> float:
    """Return the error of the log weight of a fruit from how rows with both differ."""
    number, kg = unit.rows_both
    mean = kg.sum() / number.sum()
    rows = len(number)
    least = facts.fruit_log_sd**2 / number.sum()
    if rows < 3:
        return float(np.sqrt(least + 0.1**2 / rows))
    residual = kg - mean * number
    spread = float(np.sum(residual**2)) / kg.sum() ** 2 * rows / (rows - 1)
    return float(np.sqrt(max(least, spread)))


def to_scale(measure: str, values: object) -> Array:
    """Return values on the working scale: log odds for shares, else logarithms."""
    x = np.asarray(values, float)
    if measure in LOGIT:
        x = np.clip(x, 1e-4, 1 - 1e-4)
        return np.asarray(np.log(x / (1 - x)))
    return np.asarray(np.log(x))


def from_scale(measure: str, values: Array) -> Array:
    """Return values on the natural scale; the inverse of :func:`to_scale`."""
    return 1 / (1 + np.exp(-values)) if measure in LOGIT else np.exp(values)


def draw_crop(
    units: Sequence[Unit],
    household: Household | None,
    *,
    draws: int,
    rng: np.random.Generator,
    graded: frozenset[int],
    seasons: bool = False,
    measures: Sequence[str] = MODELLED,
) -> tuple[CropDraws, dict[str, dict[str, list[Observed]]]]:
    """Draw the varieties of one crop jointly.

    Parameters
    ----------
    units : sequence of Unit
        All plantings of the crop, of one season or (``seasons``) of several.
    household : Household, optional
        Settings, for the almanac's overrides.
    draws : int
        Number of draws.
    rng : numpy.random.Generator
        Source of randomness.
    graded : frozenset of int
        Seasons in which grades were written down.
    seasons : bool
        Estimate the expected value over seasons instead of that of the one season.
    measures : sequence of str
        Measures wanted.

    Returns
    -------
    CropDraws
    dict
        What was observed: measure to variety to one entry a planting.
    """
    facts = crop_facts(units[0].crop, household)
    noise = noise_of_crop(units, facts)
    varieties = tuple(sorted({unit.variety for unit in units}))
    seen = [observe(unit, facts, noise, rng, graded=unit.year in graded) for unit in units]
    expected: dict[str, Array] = {}
    again: dict[str, Array] = {}
    effective: dict[str, float] = {}
    observed: dict[str, dict[str, list[Observed]]] = {}
    for measure in measures:
        rows = [i for i, found in enumerate(seen) if measure in found]
        expected[measure] = np.full((draws, len(varieties)), np.nan)
        again[measure] = np.full((draws, len(varieties)), np.nan)
        if not rows:
            continue
        present = sorted({units[i].variety for i in rows})
        number = {name: place for place, name in enumerate(present)}
        found = [seen[i][measure] for i in rows]
        drawn = draw_expected(
            np.array([one.value for one in found]),
            np.array([one.error for one in found]),
            np.array([number[units[i].variety] for i in rows]),
            np.array([units[i].plants for i in rows]),
            spread_of(measure, facts.crop),
            draws=draws,
            rng=rng,
            year=np.array([units[i].year for i in rows]) if seasons else None,
            logged=measure not in LOGIT,
        )
        columns = [varieties.index(name) for name in present]
        expected[measure][:, columns] = from_scale(measure, drawn.expected)
        again[measure][:, columns] = from_scale(measure, drawn.again)
        effective[measure] = drawn.effective
        by_variety: dict[str, list[Observed]] = {}
        for i, one in zip(rows, found, strict=True):
            by_variety.setdefault(units[i].variety, []).append(one)
        observed[measure] = by_variety
    return CropDraws(
        crop=facts.crop,
        varieties=varieties,
        expected=expected,
        again=again,
        effective=effective,
    ), observed
