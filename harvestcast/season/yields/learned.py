"""From the plantings of a season to joint draws of what its varieties are worth.

Estimand, the same for every measure: the *expected value* of the variety, that is the mean over
many plantings of it in this garden, in the same season, picked on the same days by the same
household, of what the log would show. One planting is one sample of that; how far a sample may lie
from the mean is the business of :mod:`harvestcast.season.yields.spread`.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.records.household import Household
from harvestcast.season.yields.observed import (
    LOGIT,
    Observed,
    chance_of_none,
    from_scale,
    noise_of_crop,
    observe,
    share_of_crop,
)
from harvestcast.season.yields.plantings import Unit
from harvestcast.season.yields.spread import PLANT_LOG_SD, Spread, draw_expected, plot_spread

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

_PLANT = (PLANT_LOG_SD, 0.3)
_TIMES = (
    "heat from planting to harvest varied by 3 % (sown) to 10 % (set out) between crops of one "
    "tomato: Gray, Ward & Steckel, J. Agric. Sci.; by 10 % in melon: Soto-Ortiz & Silvertooth "
    "(both abstracts); split into plantings, varieties and years by our judgement"
)

_TIME_SPREADS = {
    "first_pick_days": 0.025, "first_pick_dd": 0.035,
    "dd_10": 0.020, "dd_50": 0.020, "dd_90": 0.015,
}  # fmt: skip
"""Between plantings, and between plants of one, beside the luck of single fruits and weeks."""


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

    Notes
    -----
    Fruit weight has no luck that all varieties of a season share: the estimand holds weather and
    days of picking fixed, and a household that picks late picks all of them late. What is left is
    the luck of single fruits, which the log shows (:mod:`harvestcast.season.yields.observed`), and
    what
    plots and plants differ by, which one planting a variety cannot show: several beds of a variety
    teach it, else the judgement of 4 and 5 % stands. In simulated gardens whose plots and plants
    differ in fruit size by a quarter of what they differ by in number, on average, the intervals
    hold 92 truths in 100 (522 varieties); where they do not differ at all, 98. Narrower ones would
    trust the simulation, not gardens.

    Examples
    --------
    >>> spread_of("kg_per_plant", "tomato").plant
    (0.28, 0.3)
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
    if measure in _TIME_SPREADS:
        between = _TIME_SPREADS[measure]
        return Spread(
            plot=(between, 0.5),
            plant=(between, 0.5),
            variety=(0.09, 0.5),
            year=(0.10 if measure == "first_pick_days" else 0.04, 0.5),
            variety_year=(0.02, 0.5),
            source=_TIMES,
        )
    judged = {
        "fruit_kg": ((0.04, 0.5), (0.05, 0.3), (0.25, 0.5), (0.06, 0.5), (0.04, 0.5)),
        "steady_weeks": ((0.08, 0.5), (0.06, 0.3), (0.15, 0.4), (0.15, 0.5), (0.10, 0.5)),
        "pick_hours_per_kg": ((0.20, 0.5), (0.10, 0.3), (0.30, 0.5), (0.20, 0.5), (0.10, 0.5)),
    }
    shares = ((0.25, 0.5), (0.20, 0.3), (0.40, 0.5), (0.25, 0.5), (0.15, 0.5))
    if measure == "peak_week_share":  # weekly noise, the greater part, stands in the error
        shares = ((0.12, 0.5), (0.10, 0.3), *shares[2:])
    plot, plant, variety, year, both = judged.get(measure, shares)
    return Spread(
        plot=plot,
        plant=plant,
        variety=variety,
        year=year,
        variety_year=both,
        source="our judgement",
    )


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
    noise = noise_of_crop(units, facts, numbers=False)
    varieties = tuple(sorted({unit.variety for unit in units}))
    shares = share_of_crop([unit for unit in units if unit.year in graded]) if graded else None
    seen = [
        observe(unit, facts, noise, rng, graded=shares if unit.year in graded else None)
        for unit in units
    ]
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
        if measure == "oversize_share" and not any(one.seen > 0 for one in found):
            picks = sum(int((units[i].mass > 0).sum()) for i in rows)
            never = rng.random(draws) < chance_of_none(facts, picks)
            for table in (expected, again):
                table[measure][never] = np.where(np.isnan(table[measure][never]), np.nan, 0.0)
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
