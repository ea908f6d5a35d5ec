"""Invented daily weather: a yearly wave, persistent noise, year effects, heat waves and rain."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.signal import lfilter

Array = np.ndarray


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """Climate of an invented place; the defaults make a continental summer, frost in October."""

    mean_c: float = 9.5
    amplitude_c: float = 13.0
    warmest_day: int = 202
    """Day of the year on which the wave peaks."""
    range_c: float = 11.0
    """Mean difference of daily maximum and minimum."""
    persistence: float = 0.72
    noise_c: float = 3.2
    """Standard deviation of the daily departures."""
    year_c: float = 0.8
    """Standard deviation of whole years."""
    heat_waves: float = 1.3
    """Heat waves a summer, on average; each 4 to 8 days and 4 to 7 degrees."""
    wet_after_dry: float = 0.24
    wet_after_wet: float = 0.48
    rain_mm: float = 7.5
    """Mean rain of a wet day."""


def ar1(rng: np.random.Generator, shape: tuple[int, ...], persistence: float) -> Array:
    """Return stationary first-order autoregressive noise of unit variance, along the last axis."""
    noise = rng.standard_normal(shape)
    noise[..., 1:] *= np.sqrt(1 - persistence**2)
    return lfilter([1.0], [1.0, -persistence], noise, axis=-1)


def simulate_weather(
    seed: int | np.random.Generator, *, years: range | tuple[int, ...], site: Site | None = None
) -> pd.DataFrame:
    """Return observed days of whole calendar years, with the columns of the weather table."""
    site = Site() if site is None else site
    rng = np.random.default_rng(seed)
    parts = [_year(rng, year, site) for year in years]
    dates, tmin, tmax, rain = (np.concatenate(column) for column in zip(*parts, strict=True))
    return pd.DataFrame(
        {
            "date": dates.astype("datetime64[ns]"),
            "tmin_c": tmin,
            "tmax_c": tmax,
            "rain_mm": rain,
            "kind": "observed",
            "issued": np.datetime64("NaT", "ns"),
        }
    )


def _year(rng: np.random.Generator, year: int, site: Site) -> tuple[Array, Array, Array, Array]:
    dates = np.arange(f"{year}-01-01", f"{year + 1}-01-01", dtype="datetime64[D]")
    days = dates.size
    doy = np.arange(1, days + 1)
    wave = site.amplitude_c * np.cos(2 * np.pi * (doy - site.warmest_day) / 365.25)
    # Winter weather varies more than summer weather.
    spread = site.noise_c * (1 - 0.3 * wave / max(site.amplitude_c, 1e-9))
    mean = site.mean_c + site.year_c * rng.standard_normal() + wave
    mean = mean + spread * ar1(rng, (days,), site.persistence)
    for _ in range(rng.poisson(site.heat_waves)):
        first = int(rng.integers(150, 250))
        length = int(rng.integers(4, 9))
        mean[first : first + length] += rng.uniform(4, 7)
    wet = _wet_days(rng.random(days), site.wet_after_dry, site.wet_after_wet)
    rain = np.where(wet, rng.gamma(0.7, site.rain_mm / 0.7, days), 0.0).round(1)
    half = 0.5 * site.range_c * np.where(wet, 0.7, 1.05) * rng.gamma(20, 1 / 20, days)
    mean = mean - np.where(wet, 0.8, 0.0)
    return dates, (mean - half).round(1), (mean + half).round(1), rain


def _wet_days(luck: Array, after_dry: float, after_wet: float) -> Array:
    """Return a two-state chain: lucky days wet, unlucky ones dry, others like the day before."""
    decided = (luck < after_dry) | (luck >= after_wet)
    decided[0] = True
    last = np.maximum.accumulate(np.where(decided, np.arange(luck.size), 0))
    return luck[last] < after_dry
