"""Weather of days to come where past years are few or none: persistence fading into a climate.

The mean temperature of a day is a level, a wave of a year and one of half a year, a slow departure
(weeks) and a fast one (days). All are Gaussian, so what a record says of coming days is one
regression (a Gaussian process: Rasmussen and Williams, Gaussian Processes for Machine Learning,
2006, chapter 2, cited from memory): the last days count for tomorrow, the last weeks for next
month, and what is left is the climate, as far as the record, the latitude and the usual frosts say
what it is. The log of the day's range (maximum less minimum) is treated in the same way.

Everything is in units of how much days differ in this place, learned from the record itself: a
place whose days vary little has little of a winter. So a record from under glass, or of the
tropics, is forecast as calm as it is, whatever stands outside. Constants were fitted to ten
stations of all climates and two tunnels; the eleven places beside them were only scored
(``tests/benchmarks/weather.py``).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array

YEAR_DAYS = 365.25
WARMEST = 203.0
"""Day of the year on which the wave of the north peaks, some three weeks after the solstice."""
DAILY, WEEKLY, LONGEST = 45, 150, 8 * 366
"""Days back to which the record counts day by day, then in means of five days, then of fifteen,
and to which it counts at all."""


class Pattern(NamedTuple):
    """Spreads and memories of a daily figure; spreads are multiples of :attr:`unit`."""

    unit: float
    """Spread of the fast departure before any record. [degC, or log degC]"""
    trust: float
    """Days' worth of trust in :attr:`unit` against what the record shows."""
    level: float
    """Level before any record, and its spread (not a multiple). [degC, or log degC]"""
    level_sd: float
    wave: float
    """Height of the year's wave, and the spread of each of its two parts."""
    wave_sd: float
    half_sd: float
    """Spread of each part of the half-year's wave."""
    slow: float
    slow_days: float
    fast_days: float
    own: float
    """Spread of what a day has for itself."""


MEAN = Pattern(
    unit=3.5, trust=4.0, level=12.0, level_sd=8.0, wave=3.0, wave_sd=0.8, half_sd=0.35,
    slow=0.6, slow_days=35.0, fast_days=1.8, own=0.15,
)  # fmt: skip
"""Of the mean temperature, in degC."""
RANGE = Pattern(
    unit=0.3, trust=10.0, level=2.4, level_sd=0.5, wave=0.2, wave_sd=0.4, half_sd=0.1,
    slow=0.35, slow_days=40.0, fast_days=2.0, own=0.2,
)  # fmt: skip
"""Of the log of the day's range plus one degree."""
LATITUDE_WAVE, LATITUDE_WAVE_SD, LATITUDE_LEVEL_SD = 2.4, 0.85, 2.5
"""Height of the wave at 40 degrees, its spread, and spread of the level, where latitude is known.
[multiples of the unit; degC]"""
EQUATOR_C, BY_LATITUDE2, BY_KM = 27.0, 0.0078, 6.0
"""Annual mean at sea level: at the equator, and how much less by the square of the latitude, and by
a kilometre of height (round figures of zonal means, from memory)."""
FROST_EXCURSIONS, FROST_SD = 2.3, 2.5
"""The usual first and last frost are where the mean minimum comes within so many spreads of a day
of zero; how sure that is. [degC]"""
SIDES = {1.0: 0.7, -1.0: 0.15, 0.0: 0.15}
"""The year's wave where nothing is said of a place: as in the north, as in the south, or hardly any
(the tropics, a house), and how likely each is (our judgement)."""
LEAST_UNIT = 0.05
"""Part of a pattern's unit below which no record brings it."""


class Place(NamedTuple):
    """What is said of a place beside its record; None where nothing is."""

    latitude: float | None = None
    """Degrees, south negative."""
    elevation_m: float | None = None
    first_frost: str | None = None
    last_frost: str | None = None
    southern: bool | None = None
    """Whether it lies south of the equator, as far as anything but a latitude says."""

    @property
    def south(self) -> bool | None:
        """Whether summer is in January; None where nothing says."""
        if self.latitude is not None:
            return self.latitude < 0
        if self.southern is not None:
            return self.southern
        if self.first_frost is None and self.last_frost is None:
            return None
        return (self.first_frost is not None and int(self.first_frost[:2]) < 7) or (
            self.last_frost is not None and int(self.last_frost[:2]) >= 7
        )


UNSAID = Place()
"""A place of which nothing is said but its record."""


def climate_draws(
    record: pd.DataFrame,
    dates: pd.DatetimeIndex,
    *,
    draws: int,
    rng: np.random.Generator,
    place: Place = UNSAID,
) -> Array:
    """Draw daily minimum and maximum of coming days.

    Parameters
    ----------
    record : pandas.DataFrame
        Index of consecutive days before ``dates``, columns ``tmin_c``, ``tmax_c``, NaN where
        missing; may be empty.
    dates : pandas.DatetimeIndex
        Consecutive days to draw.
    draws : int
    rng : numpy.random.Generator
    place : Place

    Returns
    -------
    ndarray (draws, days, 2)
        [degC]

    Examples
    --------
    A fortnight of 18 to 29 degC, and nothing else known:

    >>> days = pd.date_range("2026-06-01", periods=14)
    >>> record = pd.DataFrame({"tmin_c": 18.0, "tmax_c": 29.0}, index=days)
    >>> ahead = climate_draws(record, pd.date_range("2026-06-15", periods=7), draws=500,
    ...                       rng=np.random.default_rng(1))
    >>> np.round(ahead.mean(axis=(0, 1)), -1)
    array([20., 30.])
    """
    middle, wide = climate_given(record, dates, place)
    half = 0.5 * np.expm1(np.clip(wide.draw(draws, rng), 0.0, 3.6))
    mean = middle.draw(draws, rng)
    return np.stack((mean - half, mean + half), axis=-1)


def climate_given(
    record: pd.DataFrame, dates: pd.DatetimeIndex, place: Place = UNSAID
) -> tuple[Coming, Coming]:
    """Return what a record says of coming days: of their means, and of the log of their ranges.

    As :func:`climate_draws`, before anything is drawn.
    """
    low, high = record["tmin_c"].to_numpy(float), record["tmax_c"].to_numpy(float)
    known = np.flatnonzero(np.isfinite(low) & np.isfinite(high))[-LONGEST:]
    first = dates[0]
    begin = (record.index[0] - first).days if len(record) else 0
    day = begin + known.astype(float)
    low, high = low[known], high[known]
    ahead = np.arange(len(dates), dtype=float)

    def coming(value: Array, pattern: Pattern, where: Place | None) -> Coming:
        unit, seen, phase = _unit(value, day, pattern), _Observed.of(value, day), _phase(first)
        south = None if where is None else where.south
        # Where nothing says on which side of the equator the place lies, the record does.
        sides = SIDES if south is None else {-1.0 if south else 1.0: 1.0}
        forms = tuple(_given(seen, ahead, phase, pattern, unit, where, side) for side in sides)
        log = np.array([one.log_evidence for one in forms])
        weight = np.array(list(sides.values())) * np.exp(log - log.max())
        return Coming(forms, weight / weight.sum())

    return (
        coming(0.5 * (low + high), MEAN, place),
        coming(np.log1p(np.maximum(high - low, 0.0)), RANGE, None),
    )


class _Observed(NamedTuple):
    """Means over days of the record; arrays (observations,)."""

    at: Array
    """Middle of the days, counted from the first day to come."""
    days: Array
    """How many."""
    value: Array

    @classmethod
    def of(cls, value: Array, day: Array) -> _Observed:
        age = -1 - day
        group = np.where(
            age < DAILY,
            age,
            np.where(age < WEEKLY, 1000 + (age - DAILY) // 5, 2000 + (age - WEEKLY) // 15),
        )
        _, place = np.unique(group, return_inverse=True)
        number = np.bincount(place).astype(float)
        return cls(np.bincount(place, day) / number, number, np.bincount(place, value) / number)


def _phase(first: pd.Timestamp) -> float:
    """Day of the year of the first day to come, counted from the warmest day of the north."""
    return float(first.day_of_year) - WARMEST


def _unit(value: Array, day: Array, pattern: Pattern) -> float:
    """Return the spread of the fast departure in this place, by how much days differ."""
    follows = np.flatnonzero(np.diff(day) == 1)
    # By the pattern, days differ by so much for a unit of one.
    usual = 2 * (1 - np.exp(-1 / pattern.fast_days)) + 2 * pattern.own**2
    square = np.diff(value)[follows] ** 2 / usual
    # Recent days count more: winters and summers differ in how much days do.
    weight = 0.5 ** ((day[-1] - day[follows]) / 90.0) if len(follows) else np.zeros(0)
    number = weight.sum()
    seen = (weight * square).sum() / max(number, 1e-9)
    # Spreads are shrunk as ratios, or the calmest places would be drawn many times too wide.
    shown = np.log(max(seen, (LEAST_UNIT * pattern.unit) ** 2)) / 2 - np.log(pattern.unit)
    return pattern.unit * float(np.exp(shown * number / (number + pattern.trust)))


def _waves(at: Array, phase: float) -> Array:
    """Return level and waves (parts, days): constant, year's cosine and sine, half-year's."""
    turn = 2 * np.pi * (at + phase) / YEAR_DAYS
    return np.stack(
        (np.ones_like(turn), np.cos(turn), np.sin(turn), np.cos(2 * turn), np.sin(2 * turn))
    )


def _prior(pattern: Pattern, unit: float, place: Place | None, side: float) -> tuple[Array, Array]:
    """Return mean and spread of the weights of :func:`_waves`; ``side`` as in :data:`SIDES`."""
    level, level_sd = pattern.level, pattern.level_sd
    wave, wave_sd = pattern.wave, pattern.wave_sd
    if place is not None and place.latitude is not None:
        level = EQUATOR_C - BY_LATITUDE2 * place.latitude**2
        level -= BY_KM * (place.elevation_m or 0.0) / 1000.0
        level_sd = LATITUDE_LEVEL_SD
        wave = LATITUDE_WAVE * min(abs(place.latitude) / 40.0, 1.2)
        wave_sd = LATITUDE_WAVE_SD
    mean = np.array([level, side * wave * unit, 0.0, 0.0, 0.0])
    sd = np.array([level_sd, *[wave_sd * unit] * 2, *[pattern.half_sd * unit] * 2])
    return mean, sd


def _fast_of_mean(days: Array, memory: float) -> Array:
    """Return the variance of the mean of so many days of a fast departure of variance one."""
    part = memory / days
    exact = 2 * part * (1 - part * (1 - np.exp(-1 / part)))
    return np.where(days <= 1, 1.0, exact)


class _Gaussian(NamedTuple):
    """What a record says of coming days, and how likely it was to be so."""

    middle: Array
    root: Array
    log_evidence: float

    def draw(self, draws: int, rng: np.random.Generator) -> Array:
        return self.middle + rng.standard_normal((draws, len(self.middle))) @ self.root.T


class Coming(NamedTuple):
    """A figure of coming days: one Gaussian, or one for each side of the equator."""

    forms: tuple[_Gaussian, ...]
    weight: Array
    """How likely each form is (forms,)."""

    @property
    def middle(self) -> Array:
        """Mean of each day (days,)."""
        return np.asarray(self.weight @ np.array([form.middle for form in self.forms]))

    def draw(self, draws: int, rng: np.random.Generator) -> Array:
        """Return draws (draws, days)."""
        form = np.searchsorted(np.cumsum(self.weight)[:-1], rng.random(draws))
        every = np.array([one.draw(draws, rng) for one in self.forms])
        return np.asarray(every[form, np.arange(draws)])


def _given(
    observed: _Observed,
    ahead: Array,
    phase: float,
    pattern: Pattern,
    unit: float,
    place: Place | None,
    side: float,
) -> _Gaussian:
    mean, sd = _prior(pattern, unit, place, side)
    at, days, value = observed
    seen = _waves(at, phase)
    # Noise of an observation beyond what it shares with others: longer means hold the fast
    # departure as noise, for they are apart by more than its memory.
    daily = days <= 1
    noise = (unit * pattern.own) ** 2 / days
    noise += np.where(daily, 0.0, unit**2 * _fast_of_mean(days, pattern.fast_days))
    fast, slow = daily.astype(float), np.ones_like(days)
    for frost in () if place is None else (place.first_frost, place.last_frost):
        if frost is None or frost == "02-29":
            continue
        of_year = float(pd.Timestamp(f"2025-{frost}").day_of_year) - WARMEST - phase
        half = 0.5 * float(np.expm1(RANGE.level))
        at, value = np.append(at, of_year), np.append(value, FROST_EXCURSIONS * unit + half)
        seen = np.concatenate((seen, _waves(np.array([of_year]), phase)), axis=1)
        noise = np.append(noise, FROST_SD**2)
        fast, slow = np.append(fast, 0.0), np.append(slow, 0.0)
    # Observations and coming days together.
    when = np.concatenate((at, ahead))
    wave = np.concatenate((seen, _waves(ahead, phase)), axis=1)
    fast, slow = (np.concatenate((of, np.ones_like(ahead))) for of in (fast, slow))
    apart = np.abs(when[:, None] - when)
    joint = (wave.T * sd**2) @ wave
    joint += (unit * pattern.slow) ** 2 * np.exp(-apart / pattern.slow_days) * np.outer(slow, slow)
    joint += unit**2 * np.exp(-apart / pattern.fast_days) * np.outer(fast, fast)
    of_day = np.full(len(ahead), (unit * pattern.own) ** 2)
    joint[np.diag_indices_from(joint)] += np.concatenate((noise, of_day))
    middle = mean @ wave
    k = len(value)
    root = np.linalg.cholesky(joint + 1e-9 * joint.max() * np.eye(len(joint)))
    # The lower right block of the root is that of coming days given the record.
    white = np.linalg.solve(root[:k, :k], value - middle[:k])
    log_evidence = -0.5 * float(white @ white) - float(np.log(np.diag(root)[:k]).sum())
    return _Gaussian(middle[k:] + root[k:, :k] @ white, root[k:, k:], log_evidence)
