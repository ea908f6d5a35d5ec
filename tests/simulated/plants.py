"""From heat to ready fruit: flowers, fruit set under load and stress, ripening delays.

Nothing here is shared with the library. The shape of the harvest comes out of the steps of the
plant's life and is no formula of its own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.stats import gamma as gamma_distribution

from tests.simulated.climate import Array, ar1

SHOCK_DAYS = 7.0
"""Memory of the shocks in days (their autocorrelation falls to 1/e)."""
SHOCK_SD = {"garden": 0.22, "crop": 0.22, "planting": 0.28}
"""Standard deviation of log fruit set: shared by the garden, shared by a crop, a planting's own."""
PLANT_CV = 0.3
"""Between plants of one planting."""
PLOT_CV = 0.15
"""Between plantings of one variety: soil, light, care."""
DAY_SHAPE = 6.0
"""Gamma shape of the daily multiplier of fruit set: smaller is more over-dispersed."""
WORST_HEAT_C = 32.0
"""Above this maximum (mean of three days) flowers drop."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Stand:
    """The plantings of one season as arrays: one entry a planting."""

    crop: Array
    """Number of the crop."""
    planted: Array
    """Day of the year, from 0."""
    plants: Array
    base_c: Array
    upper_c: Array
    flower_dd: Array
    ripen_dd: Array
    ripen_cv: Array
    burst: Array
    length_dd: Array
    fruits: Array
    load: Array
    kill_c: Array


def heat(stand: Stand, tmin_c: Array, tmax_c: Array) -> Array:
    """Return the heat of each day since planting, (plantings, days), in degree-days."""
    low, high = stand.base_c[:, None], stand.upper_c[:, None]
    mean = (np.clip(tmin_c, low, high) + np.clip(tmax_c, low, high)) / 2
    after = np.arange(tmin_c.size) >= stand.planted[:, None]
    return (mean - low) * after


def killed(stand: Stand, tmin_c: Array) -> Array:
    """Return the day of the killing frost per planting; the number of days where none comes.

    Spring frosts are left out: people cover their plants then.
    """
    summer = 190
    days = tmin_c.size
    frost = (tmin_c <= stand.kill_c[:, None]) & (np.arange(days) >= summer)
    return np.where(frost.any(axis=1), frost.argmax(axis=1), days)


def shocks(rng: np.random.Generator, crop: Array, days: int, copies: int) -> Array:
    """Return multipliers of fruit set of mean one, (copies, plantings, days).

    Copies come in pairs of opposite shocks, which makes their average close to the mean.
    """
    persistence = float(np.exp(-1 / SHOCK_DAYS))
    half = (copies + 1) // 2
    log = SHOCK_SD["garden"] * ar1(rng, (half, 1, days), persistence)
    log = log + SHOCK_SD["crop"] * ar1(rng, (half, crop.max() + 1, days), persistence)[:, crop]
    log = log + SHOCK_SD["planting"] * ar1(rng, (half, crop.size, days), persistence)
    variance = sum(sd**2 for sd in SHOCK_SD.values())
    return np.exp(np.concatenate([log, -log])[:copies] - variance / 2)


def stress(tmax_c: Array, rain_mm: Array) -> Array:
    """Return the share of flowers that heat and soaking rain leave, per day."""
    hot = _trailing(tmax_c, 3) - WORST_HEAT_C
    wet = _trailing(rain_mm, 3) * 3 > 30
    return np.exp(-0.14 * np.maximum(hot, 0)) * np.where(wet, 0.75, 1.0)


def _trailing(values: Array, days: int) -> Array:
    padded = np.concatenate([np.repeat(values[:1], days - 1), values])
    return np.convolve(padded, np.ones(days) / days, mode="valid")


def flowers(stand: Stand, heat_sum: Array, heat_day: Array) -> Array:
    """Return the flowers of each day that could become fruit, (plantings, days)."""
    since = heat_sum - stand.flower_dd[:, None]
    length = stand.length_dd[:, None]
    scale = length / 4  # a gamma of shape 3: nine tenths of the burst within about `length`
    x = np.maximum(since, 0)
    burst = (x / scale) ** 2 * np.exp(-x / scale) / (2 * scale)
    lasting = _lasting(x, length) / _LASTING_AREA / length
    rate = np.where(stand.burst[:, None], burst, lasting) * (since > 0)
    return rate * heat_day * (stand.fruits * stand.plants)[:, None]


def _lasting(since: Array, length: Array | float) -> Array:
    rise = 1 - np.exp(-since / (0.18 * length))
    with np.errstate(over="ignore"):
        return rise / (1 + np.exp((since - length) / (0.15 * length)))


_LASTING_AREA = float(np.sum(_lasting(np.arange(0, 4, 0.001), 1.0)) * 0.001)


def fruit_set(stand: Stand, flow: Array, heat_sum: Array, kill: Array) -> Array:
    """Return fruit set per day, (copies, plantings, days).

    A plant that carries many growing fruits sheds its young ones, so harvests come in flushes.

    Parameters
    ----------
    stand : Stand
        The plantings.
    flow : array, (copies, plantings, days)
        Flowers left after stress and shocks.
    heat_sum : array, (plantings, days)
        Heat since planting.
    kill : array, (plantings,)
        Day of the killing frost.
    """
    copies, plantings, days = flow.shape
    flow = flow * (np.arange(days) < kill[:, None])
    # Day up to which fruit has ripened on each day: growing fruit is younger than that.
    lag = np.stack(
        [np.searchsorted(h, h - r) for h, r in zip(heat_sum, stand.ripen_dd, strict=True)]
    )
    carried = 1 / (stand.load * stand.plants)
    number = np.arange(plantings)
    total = np.zeros((days + 1, plantings, copies))
    flow = np.ascontiguousarray(flow.transpose(2, 1, 0))
    first = int(np.argmax(flow.any(axis=(1, 2)))) if flow.any() else days
    result = np.zeros((days, plantings, copies))
    last = int(kill.max())
    for day in range(first, min(last, days)):
        growing = total[day] - total[lag[:, day], number]
        result[day] = flow[day] / (1 + growing * carried[:, None])
        total[day + 1] = total[day] + result[day]
    return result.transpose(2, 1, 0)


_PERCENT = np.linspace(0, 1, 2001)[1:-1]
_DELAYS: dict[float, Array] = {}


def _delay_share(x: Array, cv: float) -> Array:
    """Return the gamma distribution function of mean 1, from a table (it is called often)."""
    if cv not in _DELAYS:
        _DELAYS[cv] = gamma_distribution.ppf(_PERCENT, 1 / cv**2, scale=cv**2)
    return np.interp(x, _DELAYS[cv], _PERCENT, left=0.0, right=1.0)


def ready_expected(stand: Stand, setting: Array, heat_sum: Array, kill: Array) -> Array:
    """Return the fruit expected to become ready per day, (plantings, days), for given fruit set.

    Parameters
    ----------
    setting : array, (plantings, days)
        Mean fruit set.
    """
    ready = np.zeros_like(setting)
    for p in range(len(setting)):
        active = np.flatnonzero(setting[p])
        if active.size == 0:
            continue
        window = np.arange(active[0], min(kill[p], setting.shape[1]))
        age = (heat_sum[p, window] - heat_sum[p, active][:, None]) / stand.ripen_dd[p]
        share = _delay_share(age, float(stand.ripen_cv[p]))
        become = setting[p, active] @ share
        ready[p, window] = np.diff(become, prepend=0.0)
    return ready
