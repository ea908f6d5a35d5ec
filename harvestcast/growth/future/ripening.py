"""Possible futures of a fitted garden: what ripens, who comes to pick, what is picked.

One draw is one possible future of the whole garden: the same weather, the same garden days and
partly the same deviations for all crops. Draws run along the last axis and are held in single
precision until they leave: a future is uncertain in its first digit, not in its seventh.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index, Single
from harvestcast.growth.crops.almanac import daily_heat
from harvestcast.growth.crops.cover import under_cover
from harvestcast.growth.future.amounts import pieces
from harvestcast.growth.future.draws import LEAST_TRIED, TRIED_A_STATE, Drawn, draw_series
from harvestcast.growth.future.numbers import (
    Numbers,
    Picking,
    garden_numbers,
    moved_on,
    picking_numbers,
)
from harvestcast.growth.future.whole import still_there, taken_whole
from harvestcast.growth.log.habit import visits_of
from harvestcast.growth.log.series import Series, log_warmth
from harvestcast.growth.model.curve import stand_bearing
from harvestcast.growth.model.density import MOST_EVEN, Evidence, evenness, waits
from harvestcast.growth.model.fit import Fit

CEILING, CEILING_ONCE = 3.0, 1.5
"""Times the almanac's high yield per plant that no season's total exceeds (our judgement: the
almanac's range holds 80 % of gardens); the lower one for plants that bear a set number of fruits
once (determinate, once over), such as ears and heads."""
AS_PICKED = 3.0
"""Times what was picked so far that may always come, whatever the almanac thinks possible."""
FROSTED_KEEP = 0.5
"""Share of the fruit left on plants killed by frost that is fit for use a day later (our judgement:
what is not brought in within a day or two is lost)."""
WARNED, WARNING_DAYS = 0.7, 6
"""Chance that a killing frost is seen coming and all that is ripe is brought in before it, and on
how many days before it that may be (our judgement)."""
NEVER = 10_000
"""Day of a frost that does not come."""
BEND = 4.0
"""How sharply totals bend towards the ceiling: at half of it they are lowered by 1.5 %."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Futures:
    """Draws of the coming days.

    Parameters
    ----------
    number : ndarray (alike * states, days, series)
        Picked, in pieces of the evidence's ``unit``; 0, or from half a piece up. All states come
        once, then once more.
    ready : ndarray (days, series, states)
        Becoming ready, whether picked or not. [kg]
    effective : ndarray (series,)
        Share of the draws that counted when they were weighed by the exact posterior.
    """

    number: Single
    ready: Single
    effective: Array


class _Start(NamedTuple):
    """Where each draw of each series stands (series, draws), and rates (days, series, draws)."""

    hanging: Single
    size: Single
    keep: Single
    rate: Single
    effective: Array
    frost: Index
    """Day of the frost that kills it; :data:`NEVER` where none comes (series, draws)."""


class _Ahead(NamedTuple):
    """Coming heat since the last day known, and its warmth, under one crop's thresholds."""

    heat: Single  # (days, draws)
    log_warmth: Single


def futures(
    fit: Fit,
    tmin: Array,
    tmax: Array,
    *,
    seed: int,
    alike: int = 1,
    beyond: int = 0,
    only: Index | None = None,
) -> Futures:
    """Draw possible futures.

    Parameters
    ----------
    fit : Fit
    tmin, tmax : ndarray (states, days)
        Weather of each state of the garden, shared by all crops. [degC]
    seed : int
    beyond : int
        Days at the end of the weather that are not forecast: a frost on them is seen coming.
    alike : int
        Draws made of each state: they stand and ripen alike, and differ in who picks what.
    only : ndarray of int, optional
        Series that are wanted; of the others nothing comes. Left out: all. Each has the draws that
        it has among all of them.

    Returns
    -------
    Futures
    """
    states, days = len(tmin), tmin.shape[1] - beyond
    tried = max(TRIED_A_STATE * states, LEAST_TRIED)
    wanted = range(len(fit.series)) if only is None else only.tolist()
    numbers = garden_numbers(fit, states, tried=tried, seed=seed)
    start = _start(fit, tmin, tmax, days, numbers, wanted)
    number = np.empty((alike, states, days, len(fit.series)), dtype=np.float32)
    picking = picking_numbers(fit, states, days, seed=seed)
    for one in range(alike):
        _pick(fit, start, picking, one / alike, number[one])
    return Futures(
        number=number.reshape(alike * states, days, len(fit.series)),
        ready=start.rate,
        effective=start.effective,
    )


def _pick(fit: Fit, start: _Start, picking: Picking, part: float, number: Single) -> None:
    """Let the household pick what ripens; write pieces picked into ``number``."""
    came = visits_of(fit.habit, fit.as_of + pd.Timedelta(days=1), moved_on(picking.came, part))
    over = (moved_on(picking.passed, part) < fit.habit.passed_over)[:, fit.season.crop]
    noise, evidence = fit.noises[0], fit.evidence
    unit, usual = _column(evidence.unit), _column(evidence.usual)
    look, left = _column(noise.look), _column(noise.left)
    ease, zeal = _column(noise.ease), _column(noise.zeal)
    number[:] = 0.0
    hanging = start.hanging
    # Sizes of the noise levels, each by the days a pick gathers.
    sizes, level = np.unique(start.size, return_inverse=True)
    level = level.reshape(start.size.shape)  # flat before numpy 2
    most = int(MOST_EVEN)
    sizes = np.outer(sizes, evenness(np.arange(1, most + 1, dtype=np.float32))).ravel()
    wait = np.repeat(_wait_on_first(evidence)[:, None], hanging.shape[1], axis=1)
    cleared = _day_cleared(start.frost, moved_on(picking.warned, part))
    first_frost = int(start.frost.min(initial=NEVER))
    keep = start.keep
    for day, rate in enumerate(start.rate):
        if day >= first_frost:
            keep = np.where(day < start.frost, start.keep, np.float32(FROSTED_KEEP))
        hanging = keep * hanging + rate
        against = np.exp(-ease - zeal * np.log(hanging / usual + np.float32(1e-9)))
        chance = moved_on(picking.look[day], part) * (1.0 + against)
        row, draw = np.nonzero(
            ((chance < look) & came[:, day] & ~over[day // 7]) | (cleared == day)
        )
        mean = (1.0 - left[row, 0]) * hanging[row, draw] / unit[row, 0]
        amount = moved_on(picking.amount[day, row, draw], part)
        gathered = np.minimum(wait[row, draw], most).astype(np.int64)
        taken = pieces(mean, sizes, most * level[row, draw] + gathered - 1, amount)
        number[draw, day, row] = taken
        some = taken > 0
        row, draw = row[some], draw[some]
        hanging[row, draw] *= left[row, 0]
        wait += 1.0
        wait[row, draw] = 1.0


def _day_cleared(frost: Index, warned: Single) -> Index:
    """Return the day on which all is brought in before a frost (series, draws); -1 for none."""
    before = 1 + (warned * np.float32(WARNING_DAYS / WARNED)).astype(np.int64)
    return np.where((warned < WARNED) & (frost < NEVER), frost - before, -1)


def _wait_on_first(evidence: Evidence) -> Single:
    """Return how many days ago each series was picked last, on the first day to come (series,)."""
    if not evidence.picked.shape[1]:
        return np.zeros(len(evidence.picked), dtype=np.float32)
    return (waits(np.pad(evidence.picked, ((0, 0), (0, 1))))[:, -1]).astype(np.float32)


def _column(values: Array) -> Single:
    return values.astype(np.float32)[:, None]


def _start(
    fit: Fit, tmin: Array, tmax: Array, days: int, numbers: Numbers, wanted: Iterable[int]
) -> _Start:
    draws = len(tmin)
    n = len(fit.series)
    tmin, tmax, which = _scenarios(tmin, tmax)
    nights, tmin, tmax = tmin, tmin[:, :days], tmax[:, :days]
    places = {False: (tmin, tmax)}
    if any(s.covered.any() for s in fit.series):
        places[True] = (tmin, tmax) if fit.season.inside else under_cover(tmin, tmax)
    ahead: dict[tuple[float, float | None, str, bool], _Ahead] = {}
    hanging, keep = (np.zeros((n, draws), dtype=np.float32) for _ in range(2))
    size = np.ones((n, draws), dtype=np.float32)
    effective = np.ones(n)
    frost = np.full((n, draws), NEVER)
    rate = np.zeros((days, n, draws), dtype=np.float32)
    for row in wanted:
        s = fit.series[row]
        drawn = draw_series(fit, row, numbers.tried, numbers.own[row])
        size[row], keep[row], hanging[row] = drawn.size, drawn.keep, drawn.hanging
        effective[row] = drawn.effective
        if s.frosted_days:
            hanging[row] *= FROSTED_KEEP**s.frosted_days
            keep[row] = FROSTED_KEEP
        elif s.share[:, -1].any():
            parts: list[Single] = []
            for covered in np.unique(s.covered[s.share[:, -1] > 0]).tolist():
                limits = (s.facts.base_c, s.facts.upper_c, s.facts.heat_method, covered)
                if limits not in ahead:
                    ahead[limits] = _ahead(s, *places[covered], which)
                own = _rates_ahead(s, drawn, ahead[limits], s.covered == covered)
                if s.facts.tender and not covered:
                    cold = nights <= s.facts.kill_c
                    day = np.where(cold.any(axis=1), cold.argmax(axis=1), NEVER)[which]
                    if not s.covered.any():
                        frost[row] = day
                    own[np.arange(days)[:, None] >= day] = 0.0
                parts.append(own)
            rates = sum(parts[1:], parts[0])
            rate[:, row] = rates * _below_ceiling(s, rates)
            rate[:, row, drawn.over] = 0.0
            if taken_whole(s):
                more = rate[:, row].sum(axis=0) + hanging[row]
                _, left = still_there(fit, row, numbers.own[row].stock)
                part = _bent_below(more, left.astype(np.float32))
                rate[:, row] *= part
                hanging[row] *= part
        elif s.dated:
            hanging[row] = 0.0  # what was taken out is gone with its fruit
    return _Start(hanging, size, keep, rate, effective, frost)


def _scenarios(tmin: Array, tmax: Array) -> tuple[Array, Array, Index]:
    """Return the weathers that differ, and which of them each draw has: draws share few years."""
    rows = np.concatenate((tmin, tmax), axis=1)
    seen: dict[bytes, int] = {}
    which = np.array([seen.setdefault(row.tobytes(), len(seen)) for row in rows], dtype=np.int64)
    first = np.unique(which, return_index=True)[1]
    return tmin[first], tmax[first], which


def _ahead(s: Series, tmin: Array, tmax: Array, which: Index) -> _Ahead:
    daily = daily_heat(s.facts, tmin, tmax)
    past = np.repeat(s.daily[None, -10:], len(daily), axis=0)
    warmth = log_warmth(np.concatenate((past, daily), axis=1))[:, -daily.shape[1] :]
    heat = np.cumsum(daily, axis=1).T.astype(np.float32)
    return _Ahead(heat[:, which], warmth.T.astype(np.float32)[:, which])


def _rates_ahead(s: Series, drawn: Drawn, ahead: _Ahead, some: Flags) -> Single:
    """Rates of becoming ready (days, draws) of some plantings of one series."""
    alive = (s.share[:, -1] > 0) & some
    now = s.heat[alive, -1].astype(np.float32)
    rate = stand_bearing(
        drawn.theta, ahead.heat + now[:, None, None], s.share[alive, -1].astype(np.float32)
    )
    return rate * np.exp(drawn.theta[:, 0] + ahead.log_warmth + drawn.coming)


def _below_ceiling(s: Series, rate: Single) -> Single:
    """Return the factor (draws,) that keeps what ripens below what the plants can bear.

    A season's ceiling, spread evenly over the almanac's shortest time of picking. What was picked
    already overrules the almanac (:data:`AS_PICKED`). Without a number of plants there is no
    ceiling.
    """
    if not np.isfinite(s.plants):
        return np.ones(rate.shape[1], dtype=np.float32)
    once = s.facts.habit in ("determinate", "once_over")
    season = (CEILING_ONCE if once else CEILING) * s.facts.yield_kg_per_plant[1] * s.plants
    part = min(1.0, len(rate) / (7.0 * s.facts.picking_weeks[0]))
    picked = float(np.nansum(s.mass))
    room = max(min(season * part, season - picked), AS_PICKED * picked, 1e-9)
    return _bent_below(rate.sum(axis=0), np.float32(room))


def _bent_below(total: Single, most: Single | np.float32) -> Single:
    """Return the factor (draws,) that keeps totals below the most they can be."""
    full: Single = np.minimum(total / np.maximum(most, np.float32(1e-9)), np.float32(1e9))
    return (1.0 + full**BEND) ** (-1.0 / BEND)
