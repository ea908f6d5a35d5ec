"""Families of gardens unlike the household that the forecast was made on.

Each family is one way in which a garden may differ: its climate, who picks and how often, how much
it bears, what was written down. All but those of :data:`CHANGES` are simulated gardens
(:mod:`tests.simulated.garden`) whose frames are changed afterwards; a year is moved by whole weeks
where a season is to cross New Year, so that weekdays stay what they were. Seeds that are even were
looked at while the forecast was made; odd ones are only scored.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd

from tests.simulated.climate import Site
from tests.simulated.folder import as_garden
from tests.simulated.garden import SimulatedGarden, grow_garden, simulate_garden
from tests.simulated.picking import Habits

HALF_YEAR = pd.Timedelta(weeks=26)
GLASS = Site(
    mean_c=21.0, amplitude_c=4.0, range_c=9.0, persistence=0.5, noise_c=1.2, year_c=0.5,
    heat_waves=0.0,
)  # fmt: skip
"""A heated house, shaded and aired in summer."""
TROPICS = Site(
    mean_c=26.0, amplitude_c=1.5, range_c=9.0, persistence=0.7, noise_c=1.1, year_c=0.3,
    heat_waves=0.0,
)  # fmt: skip
MILD = Site(mean_c=16.0, amplitude_c=6.0, range_c=10.0, noise_c=2.2)
"""A winter without hard frosts: what is sown in autumn bears until spring."""

FRUIT = ("cucumber", "tomato", "zucchini", "sweet pepper")
LEAVES = ("chard", "lettuce")
WEEKDAYS: Mapping[str, tuple[float, ...]] = {
    "daily": (0.95,) * 7,
    "weekly": (0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0),
    "twice a week": (0.0, 1.0, 0.0, 0.0, 1.0, 0.0, 0.0),
    "weekends": (0.03, 0.03, 0.03, 0.03, 0.1, 0.95, 0.95),
    "weekdays": (0.9, 0.9, 0.9, 0.9, 0.9, 0.0, 0.0),
}


def _habits(rhythm: str, *, away: float = 0.7, zeros: float = 0.0) -> Habits:
    return Habits(weekdays=WEEKDAYS[rhythm], rain=0.9, away=away, zeros=zeros, grades=False)


def _simulated(seed: int, **how: Any) -> SimulatedGarden:
    return simulate_garden(seed, **({"varieties": 1, "truth": False} | how))


def household(seed: int) -> Any:
    """Return a household's open garden, with habits of its own and ten years of weather."""
    return as_garden(_simulated(seed, varieties=2))


def first_season(seed: int) -> Any:
    """Return the same with its own thermometer only, from 1 April on."""
    garden = _simulated(seed)
    return as_garden(_weather_from(garden, pd.Timestamp("2026-04-01")))


def every_other_day(seed: int) -> Any:
    """Return a garden picked strictly every second day, whatever the weekday."""
    garden = _simulated(seed, habits=_habits("daily", away=0.0), crops=FRUIT)
    return as_garden(_only_on(garden, lambda day: (day + seed) % 2 == 0))


def weekly(seed: int) -> Any:
    """Return a garden picked on Saturdays."""
    return as_garden(_simulated(seed, habits=_habits("weekly"), crops=FRUIT))


def weekends(seed: int) -> Any:
    """Return a garden picked at weekends."""
    return as_garden(_simulated(seed, habits=_habits("weekends"), crops=FRUIT))


def fortnight_away(seed: int) -> Any:
    """Return a garden of daily pickers who leave for a fortnight in the middle of the season."""
    garden = _simulated(seed, habits=_habits("daily", away=0.0), crops=FRUIT)
    first = 205 + seed % 20
    return as_garden(_only_on(garden, lambda day: not first <= day < first + 14))


def glass(seed: int) -> Any:
    """Return a heated house, picked twice a week, with one season of its own temperatures."""
    crops = ("cucumber", "tomato", "sweet pepper")
    garden = _simulated(
        seed, habits=_habits("twice a week", away=0.0), crops=crops, site=GLASS,
        shift_days=60 - 5 * (seed % 5), varieties=2,
    )  # fmt: skip
    started = garden.plantings["date"].min() - pd.Timedelta(days=7)
    return as_garden(_weather_from(garden, started), last_frost=None, first_frost=None)


def glass_beside_open(seed: int) -> Any:
    """Return a household with a tunnel: of each crop one variety stands there, one in the open.

    The weather on record is that of the open. How warm the tunnel gets differs from garden to
    garden; nothing in it freezes, it is planted a month earlier, and picking ends in November.
    """
    crops = ("cucumber", "tomato", "sweet pepper")
    outside = _simulated(seed, crops=crops, varieties=2)
    rng = np.random.default_rng([seed, 8])
    sun, night = rng.uniform(0.4, 0.9), rng.uniform(0.5, 4.0)
    weather = outside.weather
    low, high = weather["tmin_c"].to_numpy(), weather["tmax_c"].to_numpy()
    warm = high + sun * (high - low)
    aired = np.where(warm > 27.0, 27.0 + 0.4 * (warm - 27.0), warm)
    tunnel = weather.assign(tmin_c=np.maximum(low + night, 3.0), tmax_c=np.maximum(aired, high))
    layout = outside.plantings
    covered = layout["variety"] == "kind 2"
    early = layout["date"] - pd.Timedelta(days=30)
    layout = layout.assign(
        date=layout["date"].where(~covered, early), cover=np.where(covered, "glass", None)
    )
    grown = [
        grow_garden(
            seed + place, varieties=outside.varieties, plantings=layout[covered == roof],
            weather=inside, habits=outside.habits, truth=False,
        )
        for place, (roof, inside) in enumerate(((False, weather), (True, tunnel)))
    ]  # fmt: skip
    picks = pd.concat([one.picks for one in grown])
    picks = picks[picks["date"] <= pd.Timestamp("2026-11-20")].sort_values("date", kind="stable")
    picks = picks.reset_index(drop=True).assign(line=np.arange(2.0, len(picks) + 2))
    layout = layout.sort_values("date", kind="stable").reset_index(drop=True)
    return as_garden(replace(outside, picks=picks, plantings=layout))


def winter_house(seed: int) -> Any:
    """Return a heated house planted in autumn and picked over New Year, without frost dates."""
    garden = _simulated(
        seed, habits=_habits("weekdays", away=0.0), crops=("cucumber", "tomato"), site=GLASS,
        shift_days=60 - 5 * (seed % 5), varieties=2,
    )  # fmt: skip
    garden = _moved(garden, HALF_YEAR)
    started = garden.plantings["date"].min() - pd.Timedelta(days=7)
    return as_garden(_weather_from(garden, started), last_frost=None, first_frost=None)


def winter_leaves(seed: int) -> Any:
    """Return leaves sown in autumn where winters are mild, cut until spring."""
    garden = _simulated(
        seed, habits=_habits("weekdays"), crops=LEAVES, site=MILD, shift_days=75, varieties=2
    )
    garden = _moved(garden, HALF_YEAR)
    return as_garden(garden, last_frost="02-10", first_frost="12-20")


def cut_again(seed: int) -> Any:
    """Return a garden of leaves."""
    return as_garden(_simulated(seed, crops=LEAVES, varieties=3))


def south(seed: int) -> Any:
    """Return a garden of the southern hemisphere that says so by its frosts."""
    garden = _moved(_simulated(seed), HALF_YEAR)
    return as_garden(garden, last_frost="11-01", first_frost="04-10")


def south_unsaid(seed: int) -> Any:
    """Return one that says nothing of its place, with this season's temperatures only."""
    garden = _moved(_simulated(seed), HALF_YEAR)
    started = garden.plantings["date"].min() - pd.Timedelta(days=14)
    return as_garden(_weather_from(garden, started), last_frost=None, first_frost=None)


def tropics(seed: int) -> Any:
    """Return a garden without a winter, planted on any day of the year."""
    garden = _simulated(
        seed, site=TROPICS, crops=("okra", "eggplant", "hot pepper", "cucumber"), shift_days=60
    )
    garden = _moved(garden, pd.Timedelta(weeks=int(np.random.default_rng(seed).integers(52))))
    return as_garden(_weather_years(garden, 1), last_frost=None, first_frost=None)


def market(seed: int) -> Any:
    """Return a market plot: 200 plants of a kind or so, picked on three days a week."""
    garden = _simulated(seed, habits=_habits("weekdays", away=0.0), crops=FRUIT)
    layout = garden.plantings.assign(plants=200.0)
    # Ten times as many plants of the same luck: their picks grow with them.
    return as_garden(_scaled(replace(garden, plantings=layout), 20.0))


def balcony(seed: int) -> Any:
    """Return one plant of each of three crops."""
    from tests.simulated.climate import simulate_weather

    garden = _simulated(seed, crops=("tomato", "hot pepper", "cucumber"))
    grown = grow_garden(
        seed,
        varieties=garden.varieties,
        plantings=garden.plantings.assign(plants=1.0),
        weather=simulate_weather(np.random.default_rng([seed, 1]), years=range(2017, 2027)),
        habits=garden.habits,
        truth=False,
    )
    return as_garden(grown)


def ten_times(seed: int) -> Any:
    """Return a garden that bears ten times as much as its plants should."""
    return as_garden(_scaled(_simulated(seed), 10.0))


def a_tenth(seed: int) -> Any:
    """Return a garden that bears a tenth of what its plants should."""
    return as_garden(_scaled(_simulated(seed), 0.1))


def from_august(seed: int) -> Any:
    """Return the log of a household that began to write in the middle of August."""
    garden = _simulated(seed)
    kept = garden.picks["date"] >= pd.Timestamp("2026-08-15") + pd.Timedelta(days=seed % 7)
    return as_garden(replace(garden, picks=garden.picks[kept].reset_index(drop=True)))


FAMILIES: Mapping[str, Callable[[int], Any]] = {
    f.__name__.replace("_", " "): f
    for f in (
        household, first_season, every_other_day, weekly, weekends, fortnight_away, glass,
        glass_beside_open, winter_house, winter_leaves, cut_again, south, south_unsaid, tropics,
        market, balcony, ten_times, a_tenth, from_august,
    )
}  # fmt: skip
"""Name to a function of the seed that returns the library's Garden."""


def no_plantings(garden: Any) -> Any:
    """Return a garden whose plantings nobody wrote down."""
    return replace(garden, plantings=garden.plantings.iloc[:0])


def counts_only(garden: Any) -> Any:
    """Return a garden whose picks were counted, never weighed, where there are counts."""
    picks = garden.picks
    known = picks["count"].notna()
    return replace(garden, picks=picks.assign(mass_kg=picks["mass_kg"].mask(known)))


def half_pounds(garden: Any) -> Any:
    """Return a garden weighed to half a pound; what is less counts as half of one."""
    step = 0.45359237 / 2
    picks = garden.picks
    kg = picks["mass_kg"]
    coarse = np.where(kg > 0, np.maximum(np.rint(kg / step), 1.0) * step, kg)
    return replace(garden, picks=picks.assign(mass_kg=coarse))


def next_day(garden: Any) -> Any:
    """Return a garden whose picks of every second day were written down the day after."""
    picks = garden.picks
    late = picks["date"].dt.day_of_year % 2 == 0
    moved = picks["date"].where(~late, picks["date"] + pd.Timedelta(days=1))
    picks = picks.assign(date=moved).sort_values("date", kind="stable").reset_index(drop=True)
    return replace(garden, picks=picks)


def cover_unsaid(garden: Any) -> Any:
    """Return a garden that does not say what stands under cover."""
    return replace(garden, plantings=garden.plantings.assign(cover=pd.NA))


def plants_unknown(garden: Any) -> Any:
    """Return a garden whose plants nobody counted."""
    return replace(
        garden, plantings=garden.plantings.assign(plants=np.nan, row_m=np.nan, area_m2=np.nan)
    )


def three_weeks_off(garden: Any) -> Any:
    """Return a garden whose planting days are wrong by three weeks, one way or the other."""
    plantings = garden.plantings
    way = np.where(np.arange(len(plantings)) % 2 == 0, 21, -21)
    return replace(
        garden, plantings=plantings.assign(date=plantings["date"] + pd.to_timedelta(way, unit="D"))
    )


def warmer(garden: Any) -> Any:
    """Return a garden whose thermometer reads four degrees more."""
    weather = garden.weather
    return replace(
        garden,
        weather=weather.assign(tmin_c=weather["tmin_c"] + 4.0, tmax_c=weather["tmax_c"] + 4.0),
    )


def five_times(garden: Any) -> Any:
    """Return a garden that bears five times as much."""
    picks = garden.picks
    return replace(
        garden, picks=picks.assign(mass_kg=picks["mass_kg"] * 5, count=picks["count"] * 5)
    )


CHANGES: Mapping[str, Callable[[Any], Any]] = {
    f.__name__.replace("_", " "): f
    for f in (
        no_plantings, counts_only, half_pounds, next_day, plants_unknown, three_weeks_off, warmer,
        five_times,
    )
}  # fmt: skip
"""Name to what real people do to a log."""


def _moved(garden: SimulatedGarden, by: pd.Timedelta) -> SimulatedGarden:
    tables = {
        name: getattr(garden, name).assign(date=getattr(garden, name)["date"] + by)
        for name in ("picks", "plantings", "weather")
    }
    return replace(garden, **tables)


def _weather_from(garden: SimulatedGarden, first: pd.Timestamp) -> SimulatedGarden:
    weather = garden.weather[garden.weather["date"] >= first].reset_index(drop=True)
    return replace(garden, weather=weather)


def _weather_years(garden: SimulatedGarden, years: int) -> SimulatedGarden:
    return _weather_from(garden, garden.weather["date"].max() - pd.Timedelta(days=365 * years))


def _only_on(garden: SimulatedGarden, there: Callable[[Any], Any]) -> SimulatedGarden:
    """Keep garden days; what was picked on any other is found on the next one that is kept."""
    picks = garden.picks
    day = picks["date"].dt.day_of_year.to_numpy()
    kept = np.array([bool(there(int(d))) for d in range(1, 400)])
    following = np.array([1 + d + int(np.argmax(kept[d:])) for d in range(len(kept) - 30)])
    picks = picks.assign(date=picks["date"] + pd.to_timedelta(following[day - 1] - day, unit="D"))
    by = ["date", "crop", "variety"]
    whole = picks.groupby(by, as_index=False, sort=True).agg(
        {"count": lambda x: x.sum(min_count=1), "mass_kg": lambda x: x.sum(min_count=1)}
    )
    for name in picks.columns.difference(whole.columns):
        whole[name] = picks[name].iloc[0]
    whole["line"] = np.arange(2.0, len(whole) + 2)
    return replace(garden, picks=whole[picks.columns])


def _scaled(garden: SimulatedGarden, times: float) -> SimulatedGarden:
    picks = garden.picks
    count = (picks["count"] * times).round()
    kept = (count > 0) | count.isna() | (picks["count"] == 0)
    scaled = picks.assign(count=count, mass_kg=picks["mass_kg"] * times)
    return replace(garden, picks=scaled[kept].reset_index(drop=True))
