"""A forecaster who knows how known gardens are drawn, but not the parameters of any.

It stands between our forecast and the oracle of :mod:`tests.simulated.known`: what it loses to the
oracle is what nobody can know who has to learn a garden's parameters from its picks. A particle
filter carries parameters and deviation together; where particles are drawn anew, parameters are
moved a little and shrunk to their mean, so that they keep their spread (J. Liu and M. West,
Combined parameter and state estimation in simulation-based filtering, 2001,
doi:10.1007/978-1-4757-3437-9_10, cited from memory).
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import pandas as pd
from scipy.special import gammaln

from tests.simulated.climate import Array
from tests.simulated.crops import CROPS as NATURES
from tests.simulated.known import (
    NEW_YEAR,
    YEAR,
    KnownGarden,
    KnownSeries,
    _alive,
    _heat,
    weather_of_past_years,
)

PARTICLES = 20_000
SHRINK = 0.995
"""Part of a parameter's distance from the mean that stays when particles are drawn anew."""
MOVED = ("level", "h1", "span", "s1", "s2", "slow_sd", "fast_sd", "size", "look")
Parameters = dict[str, Array]


def draw_parameters(rng: np.random.Generator, s: KnownSeries, number: int) -> Parameters:
    """Draw parameters a series of that crop and number of plants could have (number,) each.

    The law of ``known._draw_series``, for many at once; a test holds the two against each other.
    """
    facts, sown = s.facts, NATURES[s.crop].how == "sown"
    first = facts.dd_to_first_pick if sown else facts.dd_to_first_pick_set_out
    normal, uniform = rng.standard_normal, rng.uniform
    span = facts.dd_picking * np.exp(0.5 * normal(number))
    low, high = facts.yield_kg_per_plant
    spread = np.hypot(facts.yield_log_sd, 0.4)
    per_plant = np.sqrt(low * high) * np.exp(spread * normal(number))
    rise = span * 0.12 * np.exp(0.5 * normal(number))
    flushes = rng.random(number) < 1 / 3
    return {
        "level": per_plant * s.plants / span * (0.7 if sown else 1.0),
        "h1": first * np.exp(facts.first_pick_log_sd * normal(number)) + 1.5 * rise,
        "span": span,
        "s1": rise,
        "s2": span * 0.2 * np.exp(0.5 * normal(number)),
        "slow_sd": uniform(0.2, 0.9, number),
        "slow_days": uniform(30, 100, number),
        "fast_sd": uniform(0.1, 0.6, number),
        "fast_days": uniform(4, 12, number),
        "flush": np.where(flushes, uniform(0.3, 0.8, number), 0.0),
        "flush_days": uniform(14, 24, number),
        "flush_phase": uniform(0, 2 * np.pi, number),
        "size": uniform(1.5, 8, number),
        "left": uniform(0.05, 0.25, number),
        "keep": uniform(0.85, 0.97, number),
        "look": uniform(0.5, 0.95, number),
    }


def learner(
    known: KnownGarden, row: int, origins: Sequence[int], ahead: int, *, draws: int, seed: int
) -> Array:
    """Forecast one series knowing the law its parameters are drawn by (origins, draws, days).

    Takes what :func:`tests.simulated.known.oracle` takes; in pieces. Origins before the planting
    have no harvest.
    """
    s = known.series[row]
    rng = np.random.default_rng([seed, known.seed, row, 1])
    p = draw_parameters(rng, s, PARTICLES)
    season = known.weather[known.weather["date"].dt.year == YEAR]
    tmin, tmax = season["tmin_c"].to_numpy(), season["tmax_c"].to_numpy()
    heat, warmth = _heat(s, tmin, tmax)
    alive = _alive(s, tmin)
    some = (known.number > 0).any(axis=0)
    slow, fast = (p[sd] * rng.standard_normal(PARTICLES) for sd in ("slow_sd", "fast_sd"))
    hanging, log = np.zeros(PARTICLES), np.zeros(PARTICLES)
    out = np.zeros((len(origins), draws, ahead))
    for day in range(s.planted + 1, max(origins) + 1):
        slow, fast = _wander(p, slow, fast, rng)
        rate = alive[day] * _rate(p, heat[day], warmth[day], day)
        hanging = p["keep"] * hanging + rate * np.exp(slow + fast)
        got, size = known.number[row, day], p["size"]
        mean = (1 - p["left"]) * hanging / s.facts.fruit_kg + 1e-12
        if got > 0:
            log += got * np.log(mean / (mean + size)) - size * np.log1p(mean / size)
            log += gammaln(got + size) - gammaln(size) + np.log(p["look"])
            hanging = hanging * p["left"]
        elif some[day]:
            log += np.log(1 - p["look"] * (1 - (size / (mean + size)) ** size))
        weight = np.exp(log - log.max())
        weight /= weight.sum()
        if some[day] and 1 / (weight**2).sum() < PARTICLES / 3:
            chosen = _chosen(weight, PARTICLES, rng)
            p = _moved({name: values[chosen] for name, values in p.items()}, rng)
            slow, fast, hanging, log = slow[chosen], fast[chosen], hanging[chosen], 0.0 * log
            weight = np.full(PARTICLES, 1 / PARTICLES)
        if day in origins:
            chosen = rng.permutation(_chosen(weight, draws, rng))
            now = {name: values[chosen] for name, values in p.items()}
            state = slow[chosen], fast[chosen], hanging[chosen]
            out[list(origins).index(day)] = _forward(known, row, day, ahead, now, state, rng)
    return out


def _wander(
    p: Parameters, slow: Array, fast: Array, rng: np.random.Generator
) -> tuple[Array, Array]:
    by_slow, by_fast = np.exp(-1 / p["slow_days"]), np.exp(-1 / p["fast_days"])
    one, two = rng.standard_normal((2, len(slow)))
    return (
        by_slow * slow + p["slow_sd"] * np.sqrt(1 - by_slow**2) * one,
        by_fast * fast + p["fast_sd"] * np.sqrt(1 - by_fast**2) * two,
    )


def _rate(p: Parameters, heat: Array | float, warmth: Array | float, day: int) -> Array:
    h2 = p["h1"] + p["span"]
    up = 1 / (1 + np.exp(np.clip((p["h1"] - heat) / p["s1"], -50, 50)))
    down = 1 / (1 + np.exp(np.clip((heat - h2) / p["s2"], -50, 50)))
    phase = 2 * np.pi * day / p["flush_days"] + p["flush_phase"]
    wave = p["flush"] * np.sin(phase) - p["flush"] ** 2 / 4
    return np.asarray(p["level"] * warmth * up * down * np.exp(wave))


def _chosen(weight: Array, number: int, rng: np.random.Generator) -> np.ndarray:
    marks = (np.arange(number) + rng.random()) / number
    return np.minimum(np.searchsorted(np.cumsum(weight), marks), len(weight) - 1)


def _moved(p: Parameters, rng: np.random.Generator) -> Parameters:
    grown = np.sqrt(1 - SHRINK**2)
    for name in MOVED:
        log = np.log(p[name])
        fresh = grown * log.std() * rng.standard_normal(len(log))
        p[name] = np.exp(SHRINK * log + (1 - SHRINK) * log.mean() + fresh)
    p["look"] = np.minimum(p["look"], 0.98)
    return p


def _forward(
    known: KnownGarden,
    row: int,
    day: int,
    ahead: int,
    p: Parameters,
    state: tuple[Array, Array, Array],
    rng: np.random.Generator,
) -> Array:
    s, (slow, fast, hanging) = known.series[row], state
    draws = len(slow)
    past = [
        [x[day + 1 :] for x in (*_heat(s, tmin, tmax), _alive(s, tmin))]
        for tmin, tmax in weather_of_past_years(known, day, ahead)
    ]
    heat, warmth, alive = (np.array(x) for x in zip(*past, strict=True))
    year = rng.integers(len(heat), size=draws)
    first = NEW_YEAR + pd.Timedelta(days=day + 1)
    weekday = pd.date_range(first, periods=ahead).day_of_week.to_numpy()
    out = np.zeros((draws, ahead))
    for step in range(ahead):
        slow, fast = _wander(p, slow, fast, rng)
        rate = _rate(p, heat[year, step], warmth[year, step], day + 1 + step)
        hanging = p["keep"] * hanging + alive[year, step] * rate * np.exp(slow + fast)
        looked = rng.random(draws) < known.weekdays[weekday[step]] * p["look"]
        mean = (1 - p["left"]) * hanging / s.facts.fruit_kg * rng.gamma(p["size"]) / p["size"]
        taken = np.where(looked, rng.poisson(np.minimum(mean, 1e6)), 0)
        hanging = np.where(taken > 0, p["left"] * hanging, hanging)
        out[:, step] = taken
    return out
