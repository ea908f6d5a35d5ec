"""Curves of next season's plantings: shape and level of one plant of every variety, as draws.

The shape of the harvest in degree-days comes from the fitted curve of the latest season; its level
and its place along the heat from the season's totals and dates by way of
:mod:`harvestcast.season.yields.learned` (a whole season says more of both than the curve does).
The luck
of a plot and of a season is added, because the planting has not been made yet. What was never
logged comes from the almanac.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.log.habit import Habit, even_habit
from harvestcast.growth.log.series import Series
from harvestcast.growth.model.curve import CURVE
from harvestcast.growth.model.fit import Fit, fit_garden
from harvestcast.growth.model.prior import curve_prior
from harvestcast.season.yields.learned import draw_crop, spread_of
from harvestcast.season.yields.observed import noise_of_crop
from harvestcast.season.yields.placing import placed, season_rate
from harvestcast.season.yields.plantings import Unit, season_span, seasons_with_picks, units_of
from harvestcast.season.yields.unfinished import unfinished_since

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Key = tuple[str, str]

# Luck of a coming season beyond weather and plot, on the log of the yield: the crop's year, and the
# variety's. Our judgement.
CROP_YEAR_LOG_SD, VARIETY_YEAR_LOG_SD = 0.10, 0.08
EARLY_LOG_SD = 0.03
"""The same for earliness: log of heat to the first pick."""
NEW_VARIETY_LOG_SD = np.array([0.35, 0.09, 0.20, 0.20, 0.20])
"""A variety never grown beside logged ones of its crop, per curve parameter."""
FEW_PLANTS = 4.0
"""Plants of a planting where this year's number is unknown, for the luck between plants."""
BROKEN_OFF_DAYS = 235
"""Days into a season (23 August) before which its last pick makes one ask whether its log broke
off. Our judgement."""
LEAST_SHARE = 0.02
"""Least share of its full harvest that a curve is taken to have brought in the logged season."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Curves:
    """Draws of the curve of one variety, per plant.

    Parameters
    ----------
    theta : ndarray, shape (draws, 5)
        As :data:`harvestcast.growth.model.curve.PARAMETERS`, level per plant.
    noise_sd : float
        Standard deviation of the log of a week's harvest about the curve.
    basis : str
        What it rests on.
    """

    theta: Array
    noise_sd: float
    basis: str


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Learned:
    """What the log says for a coming season.

    Parameters
    ----------
    fit : Fit or None
        The latest whole season (or the present one, where there is no other), fitted.
    units : mapping of str to tuple of Unit
        Plantings of all whole seasons, by crop.
    ends : mapping of int to Timestamp
        Seasons that are over, and the last pick of each; where there is none, yields rest on a
        season that is not over.
    unfinished : tuple of int
        Seasons with picks that are not over: nothing is learned from them where others are.
    broken_off : tuple of Timestamp
        Last picks of seasons that are over, where they are early enough to be said.
    """

    fit: Fit | None
    units: Mapping[str, tuple[Unit, ...]]
    ends: Mapping[int, pd.Timestamp]
    unfinished: tuple[int, ...]
    broken_off: tuple[pd.Timestamp, ...] = ()

    @property
    def whole(self) -> bool:
        """Whether the fitted season is over."""
        return bool(self.ends)


def learn(garden: Garden, year: int) -> Learned:
    """Gather what the log says for the season ``year``: nothing from that year on is read."""
    picks = garden.picks
    picks = picks[picks["date"] < pd.Timestamp(year, 1, 1)]
    seasons = [one for one in seasons_with_picks(garden) if one < year]
    if picks.empty or not seasons:
        return Learned(fit=None, units={}, ends={}, unfinished=())
    over = [one for one in seasons if unfinished_since(garden, one) is None]
    ends, broken_off = {}, []
    for one in over:
        start, end = season_span(garden, one)
        ends[one] = picks.loc[picks["date"].between(start, end), "date"].max()
        if ends[one] < start + pd.Timedelta(days=BROKEN_OFF_DAYS):
            broken_off.append(ends[one])
    last = ends[over[-1]] if over else picks["date"].max()
    units: dict[str, list[Unit]] = {}
    for one in over:
        for unit in units_of(garden, one):
            if np.isfinite(unit.plants):
                units.setdefault(unit.crop, []).append(unit)
    return Learned(
        fit=fit_garden(garden, last),
        units={crop: tuple(mine) for crop, mine in units.items()},
        ends=ends,
        unfinished=tuple(one for one in seasons if one not in ends),
        broken_off=tuple(broken_off),
    )


def usual_habit(learned: Learned) -> Habit:
    """Return the household's habit of picking; most days, where there is no log."""
    if learned.fit is not None:
        return replace(learned.fit.habit, since=0)
    return even_habit(0.8)


def curves_of(
    garden: Garden,
    learned: Learned,
    keys: Sequence[tuple[str, str, bool]],
    plants: Mapping[Key, float],
    *,
    draws: int,
    rng: np.random.Generator,
) -> dict[Key, Curves]:
    """Draw the curves of some varieties for a season to come.

    Parameters
    ----------
    garden : Garden
        Settings of the household.
    learned : Learned
        What the log says.
    keys : sequence of (crop, variety, set out)
        Varieties, and whether they are set out.
    plants : mapping of (crop, variety) to float
        Plants of this year's layout.
    draws : int
        Number of draws.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    dict of (crop, variety) to Curves
        Draws of one crop share the luck of its season.
    """
    rows: dict[Key, int] = {}
    if learned.fit is not None:
        fitted = learned.fit.series
        rows = {(s.crop, s.variety): i for i, s in enumerate(fitted) if np.isfinite(s.plants)}
    seasons = {crop: _seasons(garden, learned, crop, draws, rng) for crop in _crops(keys)}
    found: dict[Key, Curves] = {}
    years: dict[str, Array] = {}
    for crop, variety, set_out in keys:
        facts = crop_facts(crop, garden.household)
        units = learned.units.get(crop, ())
        noise = noise_of_crop(units, facts)
        known = seasons[crop]
        kin = sorted({name for name, other in ((v, c) for c, v in rows) if other == crop})
        if learned.fit is not None and (crop, variety) in rows:
            theta = posterior_curve(
                learned.fit, rows[crop, variety], draws, known.get(variety), rng
            )
            basis = "the household's own log of this variety"
        elif learned.fit is not None and kin:
            theta = _of_kin(learned.fit, [rows[crop, k] for k in kin], kin, draws, known, rng)
            basis = "the household's log of other varieties of the crop"
        else:
            theta = _prior(garden, crop, set_out, draws, rng)
            source = "the crop almanac" if facts.known else "a generic prior: an unknown crop"
            basis = f"{source}; nothing logged yet, so the range is wide"
        # One season says nothing of how it differed from others: its luck counts twice.
        twice = np.sqrt(2.0) if len({u.year for u in units}) <= 1 else 1.0
        year = years.setdefault(crop, CROP_YEAR_LOG_SD * twice * rng.standard_normal(draws))
        spread = spread_of("kg_per_plant", crop)
        number = max(plants.get((crop, variety), 0.0) or FEW_PLANTS, 1.0)
        own = np.sqrt(
            (VARIETY_YEAR_LOG_SD * twice) ** 2 + spread.plot[0] ** 2 + spread.plant[0] ** 2 / number
        )
        theta[:, 0] += year + own * rng.standard_normal(draws)
        theta[:, 0] -= 0.5 * (own**2 + (CROP_YEAR_LOG_SD * twice) ** 2)
        theta[:, 1] += EARLY_LOG_SD * rng.standard_normal(draws)
        found[crop, variety] = Curves(theta=theta, noise_sd=noise, basis=basis)
    return found


def _crops(keys: Sequence[tuple[str, str, bool]]) -> list[str]:
    return sorted({crop for crop, _, _ in keys})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Season:
    """What whole seasons say of a variety, as joint draws, each of shape (draws,).

    ``level`` is the expected yield of a plant [kg], ``early`` and ``late`` the heat since planting
    at which a tenth and nine tenths of the harvest were in [degC d]; None where not known.
    """

    level: Array
    early: Array | None
    late: Array | None


def _seasons(
    garden: Garden, learned: Learned, crop: str, draws: int, rng: np.random.Generator
) -> dict[str, Season]:
    """Return what whole seasons say of each variety of a crop."""
    units = learned.units.get(crop, ())
    if not units:
        return {}
    drawn, _ = draw_crop(
        units,
        garden.household,
        draws=draws,
        rng=rng,
        graded=frozenset(),
        seasons=len({u.year for u in units}) > 1,
        measures=("kg_per_plant", "dd_10", "dd_90"),
    )
    found = {}
    once = crop_facts(crop, garden.household).habit == "once_over"
    for place, name in enumerate(drawn.varieties):
        level, early, late = (
            drawn.expected[measure][:, place] for measure in ("kg_per_plant", "dd_10", "dd_90")
        )
        # What is dug at once says when it was dug, not when it was ready.
        when = bool(np.isfinite(early).all() and np.isfinite(late).all()) and not once
        if np.isfinite(level).all():
            found[name] = Season(
                level=level, early=early if when else None, late=late if when else None
            )
    return found


def posterior_curve(
    fit: Fit, row: int, draws: int, known: Season | None, rng: np.random.Generator
) -> Array:
    """Draw the curve of one series, per plant.

    Parameters
    ----------
    fit : Fit
        A season, fitted.
    row : int
        Series.
    draws : int
        Number of draws.
    known : Season, optional
        What whole seasons say of the variety: the yield of a plant that the level is to give, and
        when it came.
    rng : numpy.random.Generator
        Source of randomness.

    Returns
    -------
    ndarray, shape (draws, 5)
        As :data:`harvestcast.growth.model.curve.PARAMETERS`.
    """
    weight = fit.weight[row] / fit.weight[row].sum()
    noise_level = rng.choice(len(weight), size=draws, p=weight)
    theta = np.empty((draws, CURVE))
    evidence = fit.evidence
    for which in np.unique(noise_level):
        here = np.flatnonzero(noise_level == which)
        width = fit.posteriors[which].mode.shape[1]
        u = fit.posteriors[which].draw_one(row, rng.standard_normal((len(here), width)))
        theta[here] = evidence.prior_mean[row] + evidence.prior_sd[row] * u[:, :CURVE]
    if known is None:
        theta[:, 0] -= np.log(fit.series[row].plants)
        return theta
    facts = fit.series[row].facts
    if known.early is not None and known.late is not None and not facts.heat_from_new_year:
        theta = placed(fit, row, theta, known.early, known.late)
    # What the curve would bring given all the heat it takes; a curve that hardly begins before the
    # log ends says nothing of the level, and dividing by it would make giants of some draws.
    full = np.exp(theta[:, 0] + theta[:, 2])
    if facts.habit == "once_over":
        total = full
    else:
        total = np.maximum(season_rate(fit, row, theta).sum(axis=1), LEAST_SHARE * full)
    theta[:, 0] += np.log(known.level) - np.log(np.maximum(total, 1e-9))
    return theta


def _of_kin(
    fit: Fit,
    rows: list[int],
    names: list[str],
    draws: int,
    known: dict[str, Season],
    rng: np.random.Generator,
) -> Array:
    """Draw the curve of a new variety: one of its crop's logged ones, moved at random."""
    which = rng.integers(len(rows), size=draws)
    theta = np.empty((draws, CURVE))
    for number, row in enumerate(rows):
        mine = which == number
        theta[mine] = posterior_curve(fit, row, draws, known.get(names[number]), rng)[mine]
    return np.asarray(theta + NEW_VARIETY_LOG_SD * rng.standard_normal((draws, CURVE)))


def _prior(garden: Garden, crop: str, set_out: bool, draws: int, rng: np.random.Generator) -> Array:
    """Draw from the almanac alone, for a crop that the household has not logged."""
    facts = crop_facts(crop, garden.household)
    nothing = np.full(1, np.nan)
    one = Series(
        crop=crop,
        variety="",
        facts=facts,
        heat=np.zeros((1, 1)),
        share=np.ones((1, 1)),
        daily=np.zeros(1),
        mass=nothing,
        count=nothing,
        fruit_kg=facts.fruit_kg,
        plants=1.0,
        set_out=set_out,
        dated=True,
        frosted_days=0,
        counted=False,
    )
    mean, sd = curve_prior(one)
    return np.asarray(mean + sd * rng.standard_normal((draws, CURVE)))
