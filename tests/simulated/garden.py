"""Whole simulated gardens: varieties, plantings, weather, picks and the truth behind them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from tests.simulated import plants as physiology
from tests.simulated.climate import Array, Site, simulate_weather
from tests.simulated.crops import CROPS
from tests.simulated.picking import GRADES, Fruits, Habits, in_garden, pick_fruits
from tests.simulated.truth import SeasonDays, Truth

USUAL_CROPS = ("cucumber", "zucchini", "snap bean", "tomato", "sweet pepper", "pea")
TRUTH_COPIES = 64
"""Draws of the shocks over which the expected harvest is averaged."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SimulatedGarden:
    """A simulated garden: frames as the library specifies them, and the truth."""

    seed: int
    site: Site
    habits: Habits
    varieties: pd.DataFrame
    plantings: pd.DataFrame
    weather: pd.DataFrame
    picks: pd.DataFrame
    truth: Truth | None
    first_frost: str
    last_frost: str

    def until(self, as_of: str | pd.Timestamp) -> SimulatedGarden:
        """Return the garden as it was known on a day; the truth stays whole."""
        day = pd.Timestamp(as_of)
        cut = {
            name: getattr(self, name)[getattr(self, name)["date"] <= day].reset_index(drop=True)
            for name in ("picks", "plantings", "weather")
        }
        return replace(self, **cut)


def simulate_garden(
    seed: int,
    *,
    crops: Sequence[str] = USUAL_CROPS,
    varieties: int = 2,
    sowings: int | None = None,
    years: Sequence[int] = (2026,),
    weather_years: int = 10,
    shift_days: int = 0,
    site: Site | None = None,
    habits: Habits | None = None,
    as_of: str | pd.Timestamp | None = None,
    truth: bool = True,
) -> SimulatedGarden:
    """Simulate a garden of random varieties; the same seed gives the same garden.

    Parameters
    ----------
    seed : int
        Seed of everything.
    crops : sequence of str
        Names in :data:`CROPS`.
    varieties : int
        Varieties per crop.
    sowings : int, optional
        Plantings of every variety in a year; left out: as usual for the crop.
    years : sequence of int
        Seasons with plantings and picks; varieties keep their nature over the years.
    weather_years : int
        Years of weather, the last season included.
    shift_days : int
        Days by which every planting is later than usual.
    site, habits : Site, Habits, optional
        Climate and household; left out: the default site and random habits.
    as_of : date, optional
        Cut the frames after this day (the truth stays whole).
    truth : bool
        Whether to work out the truth (takes about as long as the rest).
    """
    site = Site() if site is None else site
    rng = np.random.default_rng([seed, 0])
    kinds = random_varieties(rng, crops, varieties)
    households = random_habits(rng, crops) if habits is None else habits
    layouts = [
        random_plantings(rng, kinds, site, year, sowings=sowings, shift_days=shift_days)
        for year in years
    ]
    first = min(min(years), max(years) - weather_years + 1)
    weather = simulate_weather(
        np.random.default_rng([seed, 1]), years=range(first, max(years) + 1), site=site
    )
    garden = grow_garden(
        seed,
        varieties=kinds,
        plantings=pd.concat(layouts, ignore_index=True),
        weather=weather,
        habits=households,
        site=site,
        truth=truth,
    )
    return garden if as_of is None else garden.until(as_of)


def next_year(
    garden: SimulatedGarden,
    plantings: pd.DataFrame,
    *,
    seed: int,
    habits: Habits | None = None,
    truth: bool = True,
) -> SimulatedGarden:
    """Grow another season of the same varieties, laid out as ``plantings`` say.

    Parameters
    ----------
    garden : SimulatedGarden
        Gives varieties, site, habits and the weather so far.
    plantings : pandas.DataFrame
        Columns crop, variety, date and plants (how and bed optional), all of one new year.
    seed : int
        Seed of the new year's weather, shocks and picks.

    Returns
    -------
    SimulatedGarden
        Picks, plantings and truth of the new year alone; its weather follows the old.
    """
    years = sorted(set(pd.to_datetime(plantings["date"]).dt.year))
    if len(years) != 1:
        raise ValueError(f"plantings of one year, please; got {years}")
    past = garden.weather[garden.weather["date"] < pd.Timestamp(year=years[0], month=1, day=1)]
    coming = simulate_weather(np.random.default_rng([seed, 1]), years=(years[0],), site=garden.site)
    return grow_garden(
        seed,
        varieties=garden.varieties,
        plantings=plantings,
        weather=pd.concat([past, coming], ignore_index=True),
        habits=garden.habits if habits is None else habits,
        site=garden.site,
        truth=truth,
    )


def grow_garden(
    seed: int,
    *,
    varieties: pd.DataFrame,
    plantings: pd.DataFrame,
    weather: pd.DataFrame,
    habits: Habits,
    site: Site | None = None,
    truth: bool = True,
) -> SimulatedGarden:
    """Grow the given plantings in the given weather and let the household pick.

    Parameters
    ----------
    seed : int
        Seed of shocks, fruits and picks.
    varieties : pandas.DataFrame
        As made by :func:`random_varieties`.
    plantings : pandas.DataFrame
        Columns crop, variety, date, plants; bed and how optional.
    weather : pandas.DataFrame
        Whole calendar years that hold every season.
    """
    site = Site() if site is None else site
    layout = tidy_plantings(plantings)
    place = varieties.reset_index(names="row").set_index(["crop", "variety"])["row"]
    wanted = pd.MultiIndex.from_frame(layout[["crop", "variety"]])
    row = place.reindex(wanted).to_numpy()
    if np.isnan(row.astype(float)).any():
        raise ValueError("a planting names a variety that is not in the varieties table")
    row = row.astype(int)
    years = layout["date"].dt.year.to_numpy()
    picks, days = [], []
    for year in sorted(set(years)):
        rng = np.random.default_rng([seed, 2, int(year)])
        mine = years == year
        season = _season(rng, int(year), varieties, row[mine], layout[mine], weather, habits, truth)
        picks.append(season[0])
        if season[1] is not None:
            days.append(season[1])
    book = pd.concat(picks, ignore_index=True)
    book["line"] = np.arange(2.0, len(book) + 2)
    last, first = frost_days(site)
    return SimulatedGarden(
        seed=seed,
        site=site,
        habits=habits,
        varieties=varieties,
        plantings=layout,
        weather=weather,
        picks=book,
        truth=Truth(varieties=varieties, days=tuple(days)) if truth else None,
        last_frost=month_day(last),
        first_frost=month_day(first),
    )


def random_varieties(rng: np.random.Generator, crops: Sequence[str], per_crop: int) -> pd.DataFrame:
    """Return varieties that differ in yield, earliness, length of season and fruit size."""
    rows = []
    for crop in crops:
        nature = CROPS[crop]
        for number in range(per_crop):
            z = rng.standard_normal(5)
            rows.append(
                {
                    "crop": crop,
                    "variety": f"kind {number + 1}",
                    "fruits": nature.fruits * np.exp(0.25 * z[0]),
                    "flower_dd": nature.flower_dd * np.exp(0.10 * z[1]),
                    "ripen_dd": nature.ripen_dd * np.exp(0.08 * z[2]),
                    "length_dd": nature.length_dd * np.exp(0.20 * z[3]),
                    "fruit_kg": nature.fruit_kg * np.exp(0.20 * z[4]),
                }
            )
    return pd.DataFrame(rows)


def random_habits(rng: np.random.Generator, crops: Sequence[str]) -> Habits:
    """Return the habits of one household: which days, how careful, what is written down."""
    rhythms = (
        (0.95, 0.95, 0.95, 0.95, 0.95, 0.85, 0.75),  # almost daily
        (0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 0.02),  # never on Sundays
        (0.85, 0.15, 0.85, 0.15, 0.85, 0.6, 0.3),  # every other day
        (0.4, 0.5, 0.4, 0.5, 0.4, 0.95, 0.9),  # mostly at the weekend
    )
    return Habits(
        weekdays=rhythms[rng.integers(len(rhythms))],
        rain=rng.uniform(0.3, 0.8),
        away=rng.uniform(0, 2),
        find=rng.uniform(0.8, 0.97),
        zeros=float(rng.choice([0.0, 0.3, 0.8])),
        grades=bool(rng.random() < 0.6),
        record={crop: str(rng.choice(CROPS[crop].record)) for crop in crops},
    )


def random_plantings(
    rng: np.random.Generator,
    varieties: pd.DataFrame,
    site: Site,
    year: int,
    *,
    sowings: int | None = None,
    shift_days: int = 0,
) -> pd.DataFrame:
    """Return a year's plantings: the crop's usual day give or take, and a random number."""
    last_frost, _ = frost_days(site)
    new_year = pd.Timestamp(year=year, month=1, day=1)
    rows = []
    for crop, variety in zip(varieties["crop"], varieties["variety"], strict=True):
        nature = CROPS[crop]
        plants = int(rng.integers(nature.plants[0], nature.plants[1] + 1))
        day = last_frost + nature.after_last_frost + shift_days + int(rng.integers(-5, 6))
        for sowing in range(nature.sowings if sowings is None else sowings):
            date = new_year + pd.Timedelta(days=day + 18 * sowing)
            rows.append((crop, variety, f"bed {len(rows) + 1}", date, nature.how, plants))
    return pd.DataFrame(rows, columns=["crop", "variety", "bed", "date", "how", "plants"])


def frost_days(site: Site) -> tuple[int, int]:
    """Return the mean last and first frost of a site, days of the year from 0."""
    cosine = (0.5 * site.range_c + 1.8 * site.noise_c - site.mean_c) / site.amplitude_c
    half = np.degrees(np.arccos(np.clip(cosine, -1, 1))) / 360 * 365.25
    return round(site.warmest_day - half), round(site.warmest_day + half)


def month_day(day: int) -> str:
    """Return a day of the year as month and day."""
    return (pd.Timestamp("2025-01-01") + pd.Timedelta(days=day)).strftime("%m-%d")


def tidy_plantings(plantings: pd.DataFrame) -> pd.DataFrame:
    """Return plantings with every column the library specifies."""
    layout = plantings.reset_index(drop=True).copy()
    layout["date"] = pd.to_datetime(layout["date"]).astype("datetime64[ns]")
    layout["plants"] = layout["plants"].astype(float)
    if "how" not in layout:
        layout["how"] = [CROPS[crop].how for crop in layout["crop"]]
    usual = {
        "bed": None, "row_m": np.nan, "area_m2": np.nan, "removed": pd.NaT, "cover": None,
        "note": None, "file": "plantings.csv", "line": np.arange(2.0, len(layout) + 2),
    }  # fmt: skip
    for name, value in usual.items():
        if name not in layout:
            layout[name] = value
    names = ["crop", "variety", "bed", "date", "how", "plants", "row_m", "area_m2", "removed",
             "cover", "note", "file", "line"]  # fmt: skip
    return layout[names]


def _season(
    rng: np.random.Generator,
    year: int,
    varieties: pd.DataFrame,
    row: Array,
    layout: pd.DataFrame,
    weather: pd.DataFrame,
    habits: Habits,
    truth: bool,
) -> tuple[pd.DataFrame, SeasonDays | None]:
    days = weather[weather["date"].dt.year == year]
    tmin, tmax = days["tmin_c"].to_numpy(), days["tmax_c"].to_numpy()
    rain = days["rain_mm"].to_numpy()
    weekday = days["date"].dt.day_of_week.to_numpy()
    kinds = varieties.iloc[row]
    natures = [CROPS[crop] for crop in kinds["crop"]]
    names = sorted(set(kinds["crop"]))
    crop = np.array([names.index(name) for name in kinds["crop"]])

    def of_crop(key: str) -> Array:
        return np.array([getattr(nature, key) for nature in natures])

    def of_kind(key: str) -> Array:
        return kinds[key].to_numpy(float)

    number = layout["plants"].to_numpy(float)
    stand = physiology.Stand(
        crop=crop,
        planted=(layout["date"].dt.day_of_year - 1).to_numpy(),
        plants=number,
        flower_dd=of_kind("flower_dd"),
        ripen_dd=of_kind("ripen_dd"),
        length_dd=of_kind("length_dd"),
        fruits=of_kind("fruits"),
        **{key: of_crop(key) for key in ("base_c", "upper_c", "ripen_cv", "burst", "load",
                                         "kill_c")},
    )  # fmt: skip
    heat_day = physiology.heat(stand, tmin, tmax)
    heat_sum = np.cumsum(heat_day, axis=1)
    kill = physiology.killed(stand, tmin)
    flow = physiology.flowers(stand, heat_sum, heat_day) * physiology.stress(tmax, rain)

    # What these plants, on these plots, in this season's luck, really do.
    between = 1 / physiology.PLANT_CV**2
    luck = rng.gamma(between * number, 1 / (between * number))
    luck = luck * np.exp(
        physiology.PLOT_CV * rng.standard_normal(len(row)) - physiology.PLOT_CV**2 / 2
    )
    shock = physiology.shocks(rng, crop, tmin.size, 1)
    setting = physiology.fruit_set(stand, flow * shock * luck[:, None], heat_sum, kill)[0]
    setting = setting * rng.gamma(
        physiology.DAY_SHAPE, 1 / physiology.DAY_SHAPE, size=setting.shape
    )
    planting, ready = _ripen(rng, stand, rng.poisson(setting), heat_sum, kill)

    there, away = in_garden(rng, habits, weekday, rain)
    chance = np.array([CROPS[name].look for name in names])
    looked = there & (rng.random((len(names), there.size)) < chance[:, None])
    looked = looked[crop] & (np.arange(there.size) < kill[:, None])
    eve = kill - 1
    frosted = np.flatnonzero((kill < there.size) & ~away[np.minimum(eve, there.size - 1)])
    # Frost warnings bring people out.
    warned = frosted[rng.random(frosted.size) < 0.7]
    looked[warned, eve[warned]] = True
    fruits = pick_fruits(
        rng,
        habits,
        planting=planting,
        ready=ready,
        looked=looked,
        fruit_kg=of_kind("fruit_kg"),
        **{key: of_crop(key) for key in ("fruit_cv", "growth", "oversize_days", "keeps_days")},
    )
    used, variety = np.unique(row, return_inverse=True)
    book = _book(rng, year, varieties.iloc[used], variety, fruits, looked, habits)
    if not truth:
        return book, None
    copies = physiology.shocks(rng, crop, tmin.size, TRUTH_COPIES)
    mean_set = physiology.fruit_set(stand, flow * copies, heat_sum, kill).mean(axis=0)
    expected = physiology.ready_expected(stand, mean_set, heat_sum, kill)
    return book, _truth(year, used, variety, stand, heat_sum, expected, of_kind("fruit_kg"), fruits)


def _ripen(
    rng: np.random.Generator, stand: physiology.Stand, setting: Array, heat_sum: Array, kill: Array
) -> tuple[Array, Array]:
    """Return planting and day of every fruit that gets ready before the killing frost."""
    plantings, day = np.nonzero(setting)
    number = setting[plantings, day]
    planting, day = np.repeat(plantings, number), np.repeat(day, number)
    shape = 1 / stand.ripen_cv[planting] ** 2
    need = rng.gamma(shape) / shape * stand.ripen_dd[planting]
    due = heat_sum[planting, day] + need
    ready = np.empty(planting.size, int)
    for p in range(len(setting)):
        mine = planting == p
        ready[mine] = np.searchsorted(heat_sum[p], due[mine])
    alive = ready < np.minimum(kill, heat_sum.shape[1])[planting]
    return planting[alive], ready[alive]


def _book(
    rng: np.random.Generator,
    year: int,
    kinds: pd.DataFrame,
    variety: Array,
    fruits: Fruits,
    looked: Array,
    habits: Habits,
) -> pd.DataFrame:
    """Return what the household writes down, with the columns of the picks table."""
    days = looked.shape[1]
    found = fruits.picked >= 0
    kind = variety[fruits.planting[found]]
    day = fruits.picked[found]
    grade = fruits.grade[found] if habits.grades else np.zeros(day.size, int)
    key, group = np.unique((day * len(kinds) + kind) * len(GRADES) + grade, return_inverse=True)
    count = np.bincount(group, minlength=key.size).astype(float)
    mass = np.bincount(group, weights=fruits.picked_kg[found], minlength=key.size)

    # "Looked, found none": only in a variety's season, when someone remembers to write it.
    seen = np.zeros((len(kinds), days), bool)
    np.logical_or.at(seen, variety, looked)
    season = np.zeros_like(seen)
    got = np.zeros_like(seen)
    got[kind, day] = True
    for k in range(len(kinds)):
        picked = np.flatnonzero(got[k])
        if picked.size:
            season[k, max(picked[0] - 3, 0) : picked[-1] + 8] = True
    empty = seen & season & ~got & (rng.random(seen.shape) < habits.zeros)
    zero_kind, zero_day = np.nonzero(empty)
    zero_key = (zero_day * len(kinds) + zero_kind) * len(GRADES)
    key = np.concatenate([key, zero_key])
    count = np.concatenate([count, np.zeros(zero_key.size)])
    mass = np.concatenate([mass, np.zeros(zero_key.size)])

    order = np.argsort(key, kind="stable")
    key, count, mass = key[order], count[order], mass[order]
    kind = key // len(GRADES) % len(kinds)
    names = kinds["crop"].to_numpy(object)
    way = np.array([habits.record.get(name, "both") for name in names], object)[kind]
    mass = np.where(mass > 0, np.maximum(mass / habits.scale_kg, 1).round(), 0) * habits.scale_kg
    dates = np.datetime64(f"{year}-01-01", "ns") + (
        key // len(GRADES) // len(kinds)
    ) * np.timedelta64(1, "D")
    return pd.DataFrame(
        {
            "date": dates.astype("datetime64[ns]"),
            "crop": names[kind],
            "variety": kinds["variety"].to_numpy(object)[kind],
            "bed": None,
            # Nothing found is nothing in count and in weight, as the library reads a zero.
            "count": np.where((way == "weight") & (count > 0), np.nan, count),
            "mass_kg": np.where((way == "count") & (count > 0), np.nan, mass.round(6)),
            "grade": np.array(GRADES, object)[key % len(GRADES)],
            "hours": np.nan,
            "note": None,
            "file": "picks.csv",
            "line": np.nan,
        }
    )


def _truth(
    year: int,
    used: Array,
    variety: Array,
    stand: physiology.Stand,
    heat_sum: Array,
    expected: Array,
    fruit_kg: Array,
    fruits: Fruits,
) -> SeasonDays:
    kinds, days = used.size, heat_sum.shape[1]
    mine = variety[fruits.planting]

    def sum_up(day: Array, which: Array, weights: Array | None = None) -> Array:
        flat = np.bincount(
            mine[which] * days + day[which],
            weights=None if weights is None else weights[which],
            minlength=kinds * days,
        )
        return flat.reshape(kinds, days).astype(float)

    everything = np.ones(mine.size, bool)
    found = fruits.picked >= 0
    total = np.zeros((kinds, days))
    np.add.at(total, variety, expected)
    plants = np.bincount(variety, weights=stand.plants, minlength=kinds)
    order = np.argsort(-stand.planted, kind="stable")  # the first planting is written last
    first = np.zeros(kinds, int)
    first[variety[order]] = order
    return SeasonDays(
        year=year,
        variety=used,
        plants=plants,
        first_planted=stand.planted[first],
        heat_sum=heat_sum[first],
        expected_count=total,
        fruit_kg=fruit_kg[first],
        ready_count=sum_up(fruits.ready, everything),
        ready_kg=sum_up(fruits.ready, everything, fruits.ready_kg),
        picked_count=sum_up(fruits.picked, found),
        picked_kg=sum_up(fruits.picked, found, fruits.picked_kg),
        oversize_kg=sum_up(fruits.picked, found & (fruits.grade == 1), fruits.picked_kg),
    )
