"""Curves of next season's plantings: shape and level of one plant of every variety, as draws.

The shape of the harvest in degree-days comes from the fitted curve of the latest season; its level
and its place along the heat from the season's totals and dates by way of
:mod:`harvestcast.season.yields.learned` (a whole season says more of both than the curve does).
The luck of a season is added, because the planting has not been made yet; that of its plot is each
planting's own. What was never logged comes from the almanac.

A curve is fitted to daily picks with weekly noise about it, and its tail is known poorly: on
simulated gardens it brought half of a crop of beans some days too late. The heat at which a tenth
and nine tenths of the harvest were in is known better, with an honest error, so draws of a curve
are moved and stretched to draws of those (:mod:`harvestcast.season.yields.placing`).

A plan may not promise what no plant does. The rules, all ours and common practice (no source):

- No pick before the heat that whole seasons of the log show; without these, before :data:`FASTEST`
  of the almanac's usual heat from planting to the first pick; nor, whatever the log says, before
  :data:`FASTEST` of the days this heat takes in the reference climate of published days.
- A tender crop brings nothing from its killing frost on; on the eve the household takes what is
  ripe.
- A crop that is dug or cut once (``once_over``) comes in on one day, when nine tenths are ready, or
  on the eve of the killing frost.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags
from harvestcast.growth.crops.almanac import REFERENCE_CLIMATE, CropFacts, crop_facts, daily_heat
from harvestcast.growth.log.habit import Habit, even_habit
from harvestcast.growth.log.series import Series, log_warmth
from harvestcast.growth.model.curve import CURVE, curve_of, season_heat, season_total
from harvestcast.growth.model.fit import Fit, fit_garden
from harvestcast.growth.model.prior import curve_prior
from harvestcast.season.yields.learned import draw_crop, spread_of
from harvestcast.season.yields.observed import noise_of_crop
from harvestcast.season.yields.placing import Grown, grown_in, placed, season_rate
from harvestcast.season.yields.plantings import Unit, seasons_with_picks, units_of
from harvestcast.season.yields.unfinished import still_bearing, unfinished_since

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
TIMES = ("first_pick_dd", "dd_10", "dd_50", "dd_90")
"""Measures that say when a harvest came."""
BROKEN_OFF_DAYS = 235
"""Days into a season (23 August) before which its last pick makes one ask whether its log broke
off. Our judgement."""
LIVED_ON = 0.5
"""Share of the heat up to its last pick for which a planting is known to have brought no more."""
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
    plot_sd : float
        Standard deviation of the log of what one planting brings about the curve: the luck of its
        plot and its plants, each planting's own.
    least_heat : ndarray, shape (draws,)
        Heat from planting before which nothing is picked. [degC d]
    basis : str
        Code of what it rests on (:mod:`harvestcast.season.messages`).
    """

    theta: Array
    noise_sd: float
    plot_sd: float
    least_heat: Array
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
    fitted : tuple of Timestamp, optional
        First and last day of the fitted season.
    """

    fit: Fit | None
    units: Mapping[str, tuple[Unit, ...]]
    ends: Mapping[int, pd.Timestamp]
    unfinished: tuple[int, ...]
    broken_off: tuple[pd.Timestamp, ...] = ()
    fitted: tuple[pd.Timestamp, pd.Timestamp] | None = None

    @property
    def whole(self) -> bool:
        """Whether the fitted season is over."""
        return bool(self.ends)


def learn(garden: Garden, year: int) -> Learned:
    """Gather what the log says for the season ``year``: no sowing of that season is read."""
    picks = garden.picks
    picks = picks[picks["date"] < garden.seasons.span(year).start]
    seasons = [one for one in seasons_with_picks(garden) if one < year]
    if picks.empty or not seasons:
        return Learned(fit=None, units={}, ends={}, unfinished=())
    over = [one for one in seasons if unfinished_since(garden, one) is None]
    ends, broken_off = {}, []
    for one in over:
        start, end = garden.seasons.span(one)
        ends[one] = picks.loc[picks["date"].between(start, end), "date"].max()
        if ends[one] < start + pd.Timedelta(days=BROKEN_OFF_DAYS):
            broken_off.append(ends[one])
    last = ends[over[-1]] if over else picks["date"].max()
    units: dict[str, list[Unit]] = {}
    for one in over:
        for unit in units_of(garden, one):
            if np.isfinite(unit.plants):
                units.setdefault(unit.crop, []).append(unit)
    # By the calendar: where winter crops are picked over its start a forecast's season holds two
    # sowings of a variety, while totals and dates here are those of one.
    fitted = garden.seasons.span(garden.seasons.of(last))
    return Learned(
        fit=fit_garden(garden, last, begun=fitted.start),
        units={crop: _done(mine, garden.last_day) for crop, mine in units.items()},
        ends=ends,
        unfinished=tuple(one for one in seasons if one not in ends),
        broken_off=tuple(broken_off),
        fitted=fitted,
    )


def _done(units: Sequence[Unit], last: pd.Timestamp | None) -> tuple[Unit, ...]:
    """Leave out plantings that may bear on beyond the log, of varieties with others in it."""
    done = [unit for unit in units if last is None or not still_bearing([unit], last)]
    varieties = {unit.variety for unit in done}
    return tuple(u for u in units if u.variety not in varieties or any(u is one for one in done))


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
    seasons = {crop: seasons_told(garden, learned, crop, draws, rng) for crop in _crops(keys)}
    found: dict[Key, Curves] = {}
    years: dict[str, Array] = {}
    for crop, variety, set_out in keys:
        facts = crop_facts(crop, garden.household)
        units = learned.units.get(crop, ())
        noise = noise_of_crop(units, facts)
        known = seasons[crop]
        logged = _logged(learned, crop, known)
        if variety in logged:
            theta = _logged_curve(garden, learned, crop, variety, known, draws, rng)
            basis = "basis.own_log"
        elif logged:
            theta = _of_kin(garden, learned, crop, logged, known, draws, rng)
            basis = "basis.crop_log"
        else:
            theta = _prior(garden, crop, set_out, draws, rng)
            basis = "basis.almanac" if facts.known else "basis.unknown"
        # One season says nothing of how it differed from others: its luck counts twice.
        twice = np.sqrt(2.0) if len({u.year for u in units}) <= 1 else 1.0
        year = years.setdefault(crop, CROP_YEAR_LOG_SD * twice * rng.standard_normal(draws))
        spread = spread_of("kg_per_plant", crop)
        number = max(plants.get((crop, variety), 0.0) or FEW_PLANTS, 1.0)
        own = VARIETY_YEAR_LOG_SD * twice
        theta[:, 0] += year + own * rng.standard_normal(draws)
        theta[:, 0] -= 0.5 * (own**2 + (CROP_YEAR_LOG_SD * twice) ** 2)
        luck = EARLY_LOG_SD * rng.standard_normal(draws)
        theta[:, 1] += luck
        found[crop, variety] = Curves(
            theta=theta,
            noise_sd=noise,
            plot_sd=float(np.hypot(spread.plot[0], spread.plant[0] / np.sqrt(number))),
            least_heat=_least_heat(facts, set_out, known.get(variety)) * np.exp(luck),
            basis=basis,
        )
    return found


def _least_heat(facts: CropFacts, set_out: bool, known: Season | None) -> Array | float:
    """Return the heat before which nothing is picked: what whole seasons show, or the almanac's."""
    if known is None or known.first is None:
        stands = facts.perennial or facts.heat_from_new_year
        return 0.0 if stands else least_heat(facts, set_out=set_out)
    # What is dug once ripens long before: its curve alone says when.
    return 0.0 if facts.habit == "once_over" else known.first


def _logged(learned: Learned, crop: str, known: Mapping[str, Season]) -> list[str]:
    """Return the varieties of a crop that the log gives a curve of, sorted."""
    return sorted({*known, *_rows(learned, crop)})


def _rows(learned: Learned, crop: str) -> dict[str, int]:
    """Return the fitted series of a crop that hold the whole life of a variety, by variety.

    A series runs from the season's start to its end. What was sown before the one or bore beyond
    the other is told by its own plantings instead.
    """
    if learned.fit is None or learned.fitted is None:
        return {}
    start, end = learned.fitted
    cut = {
        u.variety
        for u in learned.units.get(crop, ())
        if not _from_new_year(learned, crop)
        and (u.first_day < start <= u.dates[-1] or u.first_day <= end < u.dates[-1])
    }
    return {
        s.variety: row
        for row, s in enumerate(learned.fit.series)
        if s.crop == crop and np.isfinite(s.plants) and s.variety not in cut
    }


def _from_new_year(learned: Learned, crop: str) -> bool:
    assert learned.fit is not None
    facts = [s.facts for s in learned.fit.series if s.crop == crop]
    return bool(facts) and (facts[0].perennial or facts[0].heat_from_new_year)


def _logged_curve(
    garden: Garden,
    learned: Learned,
    crop: str,
    variety: str,
    known: Mapping[str, Season],
    draws: int,
    rng: np.random.Generator,
) -> Array:
    """Draw the curve of a logged variety: of its fitted series, or else of its last planting."""
    row = _rows(learned, crop).get(variety)
    if row is not None and learned.fit is not None:
        return posterior_curve(learned.fit, row, draws, known.get(variety), rng)
    unit = [u for u in learned.units[crop] if u.variety == variety][-1]
    theta = _prior(garden, crop, unit.set_out, draws, rng)
    facts = crop_facts(crop, garden.household)
    daily = np.diff(unit.heat, prepend=0.0)
    if not facts.tender:
        # It lived on after its last pick and brought no more; a tender one was killed, maybe.
        a_day = max(float(daily.mean()), 0.5)
        daily = np.append(daily, np.full(int(LIVED_ON * unit.heat[-1] / a_day), a_day))
    grown = Grown(np.cumsum(daily)[None], np.ones((1, len(daily))), log_warmth(daily))
    return told_by_seasons(grown, theta, known[variety], facts)


def _crops(keys: Sequence[tuple[str, str, bool]]) -> list[str]:
    return sorted({crop for crop, _, _ in keys})


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Season:
    """What whole seasons say of a variety, as joint draws, each of shape (draws,).

    ``level`` is the expected yield of a plant [kg], ``first``, ``early``, ``half`` and ``late`` the
    heat since planting at the first pick and at which a tenth, half and nine tenths of the harvest
    were in [degC d]; None where not known.
    """

    level: Array
    first: Array | None
    early: Array | None
    half: Array | None
    late: Array | None


def seasons_told(
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
        measures=("kg_per_plant", *TIMES),
    )
    found = {}
    for place, name in enumerate(drawn.varieties):
        level = drawn.expected["kg_per_plant"][:, place]
        when = [drawn.expected[measure][:, place] for measure in TIMES]
        known = all(np.isfinite(one).all() for one in when)
        first, early, half, late = when if known else (None, None, None, None)
        if first is not None and early is not None:
            # Measures are drawn one by one, but a planting that begins early has its tenth early.
            first = np.sort(first)[np.argsort(np.argsort(early))]
        if np.isfinite(level).all():
            found[name] = Season(level=level, first=first, early=early, half=half, late=late)
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
    return told_by_seasons(grown_in(fit, row), theta, known, fit.series[row].facts)


def told_by_seasons(grown: Grown, theta: Array, known: Season, facts: CropFacts) -> Array:
    """Return curves, per plant, with the place and the level that whole seasons tell.

    Parameters
    ----------
    grown : Grown
        Heat and share of plants on the days that the curve bore on.
    theta : ndarray, shape (draws, 5)
        Curves.
    known : Season
        What whole seasons say of the variety.
    facts : CropFacts
        Its crop.
    """
    if known.early is not None and known.half is not None and known.late is not None:
        if facts.habit == "once_over":
            return _ready_when_dug(theta, known.half, known.level)
        theta = placed(grown, theta, known.early, known.late)
    # What the curve would bring given all the heat it takes; a curve that hardly begins before the
    # log ends says nothing of the level, and dividing by it would make giants of some draws.
    full = np.exp(theta[:, 0] + theta[:, 2])
    if facts.habit == "once_over":
        total = full
    else:
        total = np.maximum(season_rate(grown, theta).sum(axis=1), LEAST_SHARE * full)
    theta[:, 0] += np.log(known.level) - np.log(np.maximum(total, 1e-9))
    return theta


def _ready_when_dug(theta: Array, dug: Array, level: Array) -> Array:
    """Return curves of a crop brought in at once that are ready when the household dug it."""
    found = theta.copy()
    stretch = np.log(dug / season_heat(theta, (READY,))[:, 0])
    found[:, 1:3] += stretch[:, None]
    found[:, 0] += np.log(level) - np.log(READY * season_total(found))
    return found


def _of_kin(
    garden: Garden,
    learned: Learned,
    crop: str,
    names: Sequence[str],
    known: Mapping[str, Season],
    draws: int,
    rng: np.random.Generator,
) -> Array:
    """Draw the curve of a new variety: one of its crop's logged ones, moved at random."""
    which = rng.integers(len(names), size=draws)
    theta = np.empty((draws, CURVE))
    for number, name in enumerate(names):
        mine = which == number
        theta[mine] = _logged_curve(garden, learned, crop, name, known, draws, rng)[mine]
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
        covered=np.zeros(1, dtype=bool),
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


FASTEST = 0.6
"""Share of the almanac's usual heat, and days, before which nothing is picked. Our judgement."""
READY = 0.9
"""Share of a once-over crop that is ready when it is brought in. Common practice, no source."""
SUMMER = 190
"""Day of the season from which frost kills: in spring people cover their plants."""
SEASON_DAYS = 349
"""Days of a season in which beds bear: its last fortnight is winter. Our judgement."""


def least_heat(facts: CropFacts, *, set_out: bool) -> float:
    """Return the heat before which nothing is picked, from planting. [degC d].

    Examples
    --------
    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> round(least_heat(crop_facts("snap bean"), set_out=False))
    321
    """
    usual = facts.dd_to_first_pick_set_out if set_out else facts.dd_to_first_pick
    return FASTEST * usual


def least_days(facts: CropFacts, *, set_out: bool) -> int:
    """Return the days before which nothing is picked, from planting.

    Examples
    --------
    >>> from harvestcast.growth.crops.almanac import crop_facts
    >>> least_days(crop_facts("snap bean"), set_out=False)
    27
    >>> least_days(crop_facts("cucumber"), set_out=True)
    30
    """
    low, high = REFERENCE_CLIMATE["warm"]
    a_day = float(daily_heat(facts, [low], [high])[0])
    return int(np.ceil(least_heat(facts, set_out=set_out) / max(a_day, 1e-6)))


def held_back(theta: Array, least: Array) -> tuple[Array, ...]:
    """Return ``h1, h2, s1, s2`` with no curve at half its height before the least heat.

    Parameters
    ----------
    theta : ndarray, shape (draws, 5)
        Curves.
    least : ndarray, shape (draws,)
        Heat from planting before which nothing is picked. [degC d]

    Returns
    -------
    tuple of ndarray, shape (draws,)
        A curve that begins too early is moved as a whole: it bears as much, later.
    """
    h1, h2, s1, s2 = curve_of(theta)
    late = np.maximum(least - h1, 0.0)
    return h1 + late, h2 + late, s1, s2


def alive(tmin_c: Array, facts: CropFacts, start: int = 0) -> Flags:
    """Return the days on which a crop still lives, shape of ``tmin_c`` (draws, days).

    The season begins on day ``start`` of them.
    """
    if not facts.tender:
        return np.ones(tmin_c.shape, dtype=bool)
    cold = (tmin_c <= facts.kill_c) & (np.arange(tmin_c.shape[1]) >= start + SUMMER)
    return np.asarray(np.cumsum(cold, axis=1) == 0)


def eve(lives: Flags) -> Flags:
    """Return the last day of each draw on which the crop lives; none where it lives to the end.

    Examples
    --------
    >>> eve(np.array([[True, True, False], [True, True, True]])).tolist()
    [[False, True, False], [False, False, False]]
    """
    last = np.zeros_like(lives)
    last[:, :-1] = lives[:, :-1] & ~lives[:, 1:]
    return last


def brought_in_once(rate: Array, looked: Flags, lives: Flags) -> Array:
    """Return what is brought in each day of a crop dug or cut once, shape (draws, days).

    Parameters
    ----------
    rate : ndarray, shape (draws, days)
        Becoming ready each day, 0 where the crop is dead. [kg]
    looked, lives : ndarray of bool, shape (draws, days)
        Days on which the household is in the garden; days on which the crop lives.

    Examples
    --------
    >>> ripe = np.array([[0.0, 1.0, 1.0, 0.0, 0.0]])
    >>> brought_in_once(ripe, np.array([[True] * 5]), np.array([[True] * 5])).tolist()
    [[0.0, 0.0, 2.0, 0.0, 0.0]]
    """
    ripe = np.cumsum(rate, axis=1)
    total = ripe[:, -1:]
    enough = (ripe >= READY * total) & (total > 0) & lives
    day = (enough & looked) | (eve(lives) & (total > 0))
    day[:, -1] |= enough[:, -1]
    where = np.argmax(day, axis=1)
    rows = np.flatnonzero(day.any(axis=1))
    picked = np.zeros_like(rate)
    picked[rows, where[rows]] = ripe[rows, where[rows]]
    return picked
