"""Gardens drawn from curves whose parameters are known, and an oracle that knows them.

Unlike :mod:`tests.simulated.garden`, whose plants know nothing of curves, these gardens bear as
the library supposes: a rise, a plateau and a fall in heat, times a wandering deviation. What is
drawn differs from what the library supposes, though: other spreads of the parameters, flushes in a
third of the series, its own noise for each, a household that takes whatever it sees. The oracle is
a bootstrap particle filter (Gordon, Salmond and Smith 1993, doi:10.1049/ip-f-2.1993.0015, cited
from memory): it knows curve, flushes, noise and habits, but like any forecaster neither the
deviation, which it follows by the picks, nor the weather and the visits to come.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.growth.crops.almanac import CropFacts, crop_facts, daily_heat
from tests.simulated.climate import Array, Site, simulate_weather
from tests.simulated.crops import CROPS as NATURES
from tests.simulated.folder import as_garden
from tests.simulated.garden import SimulatedGarden, frost_days, month_day, tidy_plantings
from tests.simulated.picking import Habits

YEAR = 2026
NEW_YEAR = pd.Timestamp(year=YEAR, month=1, day=1)
VARIETY = "kind 1"
CROPS = ("tomato", "sweet pepper", "eggplant", "cucumber", "zucchini", "snap bean", "okra")
WARM_DAYS = 5
"""Days over whose heat ripening is spread."""
COMMON = 0.3
"""Share of a deviation's variance that all series of a garden share."""
PARTICLES = 1500


@dataclass(frozen=True, slots=True, kw_only=True)
class KnownSeries:
    """One variety and all that is to be known of it but its luck."""

    crop: str
    facts: CropFacts
    planted: int
    """Day of the year, from 0."""
    plants: int
    level: float
    """At full bearing, all plants. [kg per degC d]"""
    h1: float
    h2: float
    s1: float
    s2: float
    slow_sd: float
    slow_days: float
    fast_sd: float
    fast_days: float
    flush: float
    """Amplitude of a wave on the log rate; 0: bears evenly."""
    flush_days: float
    flush_phase: float
    size: float
    left: float
    keep: float
    look: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KnownGarden:
    """A garden drawn from known curves; arrays are (series, days of the year)."""

    seed: int
    site: Site
    series: tuple[KnownSeries, ...]
    weekdays: Array
    """Chance of going to the garden, Monday to Sunday."""
    weather: pd.DataFrame
    heat: Array
    """Heat since planting at the end of each day. [degC d]"""
    calm: Array
    """Rate of becoming ready without any deviation. [kg/d]"""
    number: Array
    """Pieces picked."""

    def until(self, day: int) -> Any:
        """Return the library's Garden as it is known at the end of a day of the year."""
        last, first = frost_days(self.site)
        whole = SimulatedGarden(
            seed=self.seed,
            site=self.site,
            habits=Habits(),
            varieties=pd.DataFrame({"crop": [s.crop for s in self.series], "variety": VARIETY}),
            plantings=self._plantings(),
            weather=self.weather,
            picks=self._picks(),
            truth=None,
            first_frost=month_day(first),
            last_frost=month_day(last),
        )
        return as_garden(whole.until(NEW_YEAR + pd.Timedelta(days=day)))

    def _picks(self) -> pd.DataFrame:
        when, which = np.nonzero(self.number.T > 0)
        number = self.number[which, when]
        unit = np.array([s.facts.fruit_kg for s in self.series])
        return pd.DataFrame(
            {
                "date": (NEW_YEAR + pd.to_timedelta(when, unit="D")).astype("datetime64[ns]"),
                "crop": np.array([s.crop for s in self.series], object)[which],
                "variety": VARIETY,
                "bed": None,
                "count": number,
                "mass_kg": number * unit[which],
                "grade": "good",
                "hours": np.nan,
                "note": None,
                "file": "picks.csv",
                "line": np.arange(2.0, len(which) + 2),
            }
        )

    def _plantings(self) -> pd.DataFrame:
        return tidy_plantings(
            pd.DataFrame(
                {
                    "crop": [s.crop for s in self.series],
                    "variety": VARIETY,
                    "date": [NEW_YEAR + pd.Timedelta(days=s.planted) for s in self.series],
                    "plants": [s.plants for s in self.series],
                }
            )
        )


def known_garden(seed: int, crops: Sequence[str] = CROPS) -> KnownGarden:
    """Draw a garden of one variety a crop; the same seed gives the same garden."""
    rng = np.random.default_rng([seed, 17])
    site = Site()
    weather = simulate_weather(
        np.random.default_rng([seed, 18]), years=range(YEAR - 9, YEAR + 1), site=site
    )
    season = weather[weather["date"].dt.year == YEAR]
    tmin, tmax = season["tmin_c"].to_numpy(), season["tmax_c"].to_numpy()
    weekday = season["date"].dt.day_of_week.to_numpy()
    series = tuple(_draw_series(rng, crop, site) for crop in crops)
    weekdays = np.clip(rng.uniform(0.4, 0.95) + rng.normal(0, 0.2, 7), 0.02, 0.98)
    heat = np.array([_heat(s, tmin, tmax)[0] for s in series])
    calm = np.array([_calm(s, *_heat(s, tmin, tmax)) for s in series])
    calm *= np.array([_alive(s, tmin) for s in series])
    days = len(season)
    shared = rng.standard_normal((2, days + 1))
    number = np.zeros((len(series), days))
    came = rng.random(days) < weekdays[weekday]
    for row, s in enumerate(series):
        fresh = np.sqrt(1 - COMMON) * rng.standard_normal((2, days + 1)) + np.sqrt(COMMON) * shared
        slow, fast, hanging = s.slow_sd * fresh[0, 0], s.fast_sd * fresh[1, 0], 0.0
        for day in range(days):
            slow, fast = _wander(s, slow, fast, fresh[0, day + 1], fresh[1, day + 1])
            hanging = s.keep * hanging + calm[row, day] * np.exp(slow + fast)
            if came[day] and rng.random() < s.look:
                mean = (1 - s.left) * hanging / s.facts.fruit_kg * rng.gamma(s.size) / s.size
                number[row, day] = rng.poisson(mean)
                if number[row, day] > 0:
                    hanging *= s.left
    return KnownGarden(
        seed=seed,
        site=site,
        series=series,
        weekdays=weekdays,
        weather=weather,
        heat=heat,
        calm=calm,
        number=number,
    )


def _draw_series(rng: np.random.Generator, crop: str, site: Site) -> KnownSeries:
    facts, nature = crop_facts(crop), NATURES[crop]
    plants = int(rng.integers(nature.plants[0], nature.plants[1] + 1))
    sown = nature.how == "sown"
    first = facts.dd_to_first_pick if sown else facts.dd_to_first_pick_set_out
    span = facts.dd_picking * np.exp(0.5 * rng.standard_normal())
    low, high = facts.yield_kg_per_plant
    per_plant = np.sqrt(low * high) * np.exp(np.hypot(facts.yield_log_sd, 0.4) * rng.normal())
    flush = rng.uniform(0.3, 0.8) if rng.random() < 1 / 3 else 0.0
    rise = span * 0.12 * np.exp(0.5 * rng.standard_normal())
    # The first pick comes where a few fruits in a hundred of full bearing ripen.
    h1 = first * np.exp(facts.first_pick_log_sd * rng.standard_normal()) + 1.5 * rise
    return KnownSeries(
        crop=crop,
        facts=facts,
        planted=frost_days(site)[0] + nature.after_last_frost + int(rng.integers(-5, 6)),
        plants=plants,
        level=float(per_plant * plants / span * (0.7 if sown else 1.0)),
        h1=float(h1),
        h2=float(h1 + span),
        s1=float(rise),
        s2=float(span * 0.2 * np.exp(0.5 * rng.standard_normal())),
        slow_sd=rng.uniform(0.2, 0.9),
        slow_days=rng.uniform(30, 100),
        fast_sd=rng.uniform(0.1, 0.6),
        fast_days=rng.uniform(4, 12),
        flush=flush,
        flush_days=rng.uniform(14, 24),
        flush_phase=rng.uniform(0, 2 * np.pi),
        size=rng.uniform(1.5, 8),
        left=rng.uniform(0.05, 0.25),
        keep=rng.uniform(0.85, 0.97),
        look=rng.uniform(0.5, 0.95),
    )


def _heat(s: KnownSeries, tmin: Array, tmax: Array) -> tuple[Array, Array]:
    """Return heat since planting and each day's heat over the last days (..., days)."""
    daily = daily_heat(s.facts, tmin, tmax)
    since = np.where(np.arange(daily.shape[-1]) > s.planted, daily, 0.0).cumsum(axis=-1)
    padded = np.concatenate((np.repeat(daily[..., :1], WARM_DAYS - 1, axis=-1), daily), axis=-1)
    return since, np.lib.stride_tricks.sliding_window_view(padded, WARM_DAYS, axis=-1).mean(axis=-1)


def _calm(s: KnownSeries, heat: Array, warmth: Array) -> Array:
    """Return the rate without deviation, from the first day of the year on."""
    day = np.arange(heat.shape[-1])
    up = 1 / (1 + np.exp(np.clip((s.h1 - heat) / s.s1, -50, 50)))
    down = 1 / (1 + np.exp(np.clip((heat - s.h2) / s.s2, -50, 50)))
    # The wave's mean is 1 up to its second order, so that flushes do not raise the yield.
    wave = s.flush * np.sin(2 * np.pi * day / s.flush_days + s.flush_phase) - s.flush**2 / 4
    return s.level * warmth * up * down * np.exp(wave) * (day > s.planted)


def _alive(s: KnownSeries, tmin: Array) -> Array:
    """Whether no frost has killed the plants yet (..., days)."""
    late = np.arange(tmin.shape[-1]) > s.planted
    return np.cumsum((tmin <= s.facts.kill_c) & late & s.facts.tender, axis=-1) == 0


def _wander(s: KnownSeries, slow: Any, fast: Any, one: Any, two: Any) -> tuple[Any, Any]:
    """Return both parts of the deviation a day later."""
    by_slow, by_fast = np.exp(-1 / s.slow_days), np.exp(-1 / s.fast_days)
    return (
        by_slow * slow + s.slow_sd * np.sqrt(1 - by_slow**2) * one,
        by_fast * fast + s.fast_sd * np.sqrt(1 - by_fast**2) * two,
    )


def oracle(
    known: KnownGarden, row: int, origins: Sequence[int], ahead: int, *, draws: int, seed: int
) -> Array:
    """Forecast one series knowing its parameters (origins, draws, days ahead), in pieces.

    Parameters
    ----------
    known : KnownGarden
    row : int
        Which series.
    origins : sequence of int
        Last days known, days of the year, ascending.
    ahead : int
        Days to forecast.
    draws, seed : int
        The weather ahead is that of a past year, one a draw.
    """
    s = known.series[row]
    rng = np.random.default_rng([seed, known.seed, row])
    some = (known.number > 0).any(axis=0)
    slow = s.slow_sd * rng.standard_normal(PARTICLES)
    fast = s.fast_sd * rng.standard_normal(PARTICLES)
    hanging = np.zeros(PARTICLES)
    out = np.empty((len(origins), draws, ahead))
    for day in range(max(origins) + 1):
        slow, fast = _wander(s, slow, fast, *rng.standard_normal((2, PARTICLES)))
        hanging = s.keep * hanging + known.calm[row, day] * np.exp(slow + fast)
        got = known.number[row, day]
        mean = (1 - s.left) * hanging / s.facts.fruit_kg + 1e-12
        weight = None
        if got > 0:
            log = got * np.log(mean / (mean + s.size)) - s.size * np.log1p(mean / s.size)
            weight = np.exp(log - log.max())
            hanging = hanging * s.left
        elif some[day]:  # somebody was there, but nothing was written down of this one
            weight = 1 - s.look * (1 - (s.size / (mean + s.size)) ** s.size)
        if weight is not None:
            place = (np.arange(PARTICLES) + rng.random()) / PARTICLES
            pick = np.searchsorted(np.cumsum(weight) / weight.sum(), place)
            pick = np.minimum(pick, PARTICLES - 1)
            slow, fast, hanging = slow[pick], fast[pick], hanging[pick]
        if day in origins:
            which = rng.permutation(PARTICLES)[np.arange(draws) % PARTICLES]
            out[list(origins).index(day)] = _forward(
                known, row, day, ahead, slow[which], fast[which], hanging[which], rng
            )
    return out


def _forward(
    known: KnownGarden,
    row: int,
    day: int,
    ahead: int,
    slow: Array,
    fast: Array,
    hanging: Array,
    rng: np.random.Generator,
) -> Array:
    s = known.series[row]
    draws = len(slow)
    rate = _rates_of_past_years(known, row, day, ahead)[rng.integers(9, size=draws)]
    first = NEW_YEAR + pd.Timedelta(days=day + 1)
    weekday = pd.date_range(first, periods=ahead).day_of_week.to_numpy()
    out = np.zeros((draws, ahead))
    for step in range(ahead):
        slow, fast = _wander(s, slow, fast, *rng.standard_normal((2, draws)))
        hanging = s.keep * hanging + rate[:, step] * np.exp(slow + fast)
        looked = rng.random(draws) < known.weekdays[weekday[step]] * s.look
        mean = (1 - s.left) * hanging / s.facts.fruit_kg * rng.gamma(s.size, size=draws) / s.size
        taken = np.where(looked, rng.poisson(mean), 0)
        hanging = np.where(taken > 0, s.left * hanging, hanging)
        out[:, step] = taken
    return out


def _rates_of_past_years(known: KnownGarden, row: int, day: int, ahead: int) -> Array:
    """Rates without deviation in the coming days under the weather of each past year."""
    s = known.series[row]
    rates = [
        (_calm(s, *_heat(s, tmin, tmax)) * _alive(s, tmin))[day + 1 :]
        for tmin, tmax in weather_of_past_years(known, day, ahead)
    ]
    return np.array(rates)


def weather_of_past_years(known: KnownGarden, day: int, ahead: int) -> list[tuple[Array, Array]]:
    """Return this year's temperatures to a day, and on from there those of each past year."""
    year = known.weather["date"].dt.year
    now = known.weather[year == YEAR].iloc[: day + 1]
    found = []
    for past in range(YEAR - 9, YEAR):
        both = pd.concat([now, known.weather[year == past].iloc[day + 1 : day + 1 + ahead]])
        found.append((both["tmin_c"].to_numpy(), both["tmax_c"].to_numpy()))
    return found
