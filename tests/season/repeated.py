"""Simulated seasons grown over and over: what a variety is worth when luck is averaged out.

The truth behind a review's figures is the mean, over many plantings of the same varieties in the
same weather and picked on the same days, of what a log without gaps in its weights would show.
Plants, plots, shocks and fruits are drawn anew each time, by the simulator of ``tests.simulated``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvestcast.growth.crops.almanac import crop_facts, daily_heat
from harvestcast.records.garden import Garden
from harvestcast.season.yields.measures import heaviest_run, place_of_share, steady_weeks
from tests.simulated import (
    CROPS,
    Habits,
    Site,
    as_garden,
    random_habits,
    random_plantings,
    random_varieties,
    simulate_weather,
)
from tests.simulated import plants as physiology
from tests.simulated.garden import SimulatedGarden, _book, _ripen, frost_days, month_day
from tests.simulated.picking import Fruits, in_garden, pick_fruits

Array = np.ndarray

YEAR = 2026
DAMAGED = (0.01, 0.12)
"""Range of the share of damaged fruit: a household's, times a variety's own."""
SIZE_LUCK = (0.0, 0.5)
"""Range, drawn per crop and garden, of what plots and plants of one variety differ by in the size
of their fruit, as a share of what they differ by in number. In number plots of cucumber and sweet
corn differed as much as in yield (the library's table of trials), so size has luck of its own and
less of it. The range is our judgement, no source, and was set before any interval was counted."""


@dataclass(frozen=True)
class Repeated:
    """A garden with one logged season, and its varieties' worth."""

    garden: Garden
    truth: pd.DataFrame
    """Columns crop, variety, measure, plants, truth: the mean over the copies."""
    kinds: pd.DataFrame
    habits: Habits


def repeated_season(
    seed: int,
    *,
    crops: Sequence[str],
    varieties: int = 3,
    copies: int = 30,
    plants: tuple[int, int] | None = None,
    **settings: object,
) -> Repeated:
    """Log one season and grow it ``copies`` times more.

    Parameters
    ----------
    seed : int
        Seed of everything.
    crops : sequence of str
        Names in the simulator's table of crops.
    varieties : int
        Varieties per crop.
    copies : int
        Times the season is grown again for the truth.
    plants : tuple of int, optional
        Fewest and most plants of a variety; left out: as usual for the crop.
    **settings
        Of the household.
    """
    rng = np.random.default_rng([seed, 77])
    site = Site()
    kinds = random_varieties(rng, crops, varieties)
    # A generator of its own leaves every other draw of the garden as it was.
    share = np.random.default_rng([seed, 81]).uniform(*SIZE_LUCK, size=len(crops))
    kinds["size_luck"] = kinds["crop"].map(dict(zip(crops, share, strict=True)))
    habits = random_habits(rng, crops)
    layout = random_plantings(rng, kinds, site, YEAR)
    if plants is not None:
        number = rng.integers(plants[0], plants[1] + 1, len(kinds))
        layout["plants"] = np.repeat(number, [CROPS[crop].sowings for crop in kinds["crop"]])
    weather = simulate_weather(
        np.random.default_rng([seed, 78]), years=range(YEAR - 5, YEAR + 1), site=site
    )
    season = _Season(kinds, layout, weather, habits, rng, YEAR)
    picks = _book(rng, YEAR, kinds, season.row, season.grow(rng, 1)[0], season.looked, habits)
    picks["line"] = np.arange(2.0, len(picks) + 2)
    last, first = frost_days(site)
    frame = layout.assign(
        row_m=np.nan, area_m2=np.nan, removed=pd.NaT, cover=None, note=None, file="plantings.csv",
        line=np.arange(2.0, len(layout) + 2), plants=layout["plants"].astype(float),
    )  # fmt: skip
    frame["date"] = pd.to_datetime(frame["date"]).astype("datetime64[ns]")
    sim = SimulatedGarden(
        seed=seed, site=site, habits=habits, varieties=kinds, plantings=frame, weather=weather,
        picks=picks, truth=None, last_frost=month_day(last), first_frost=month_day(first),
    )  # fmt: skip
    return Repeated(
        garden=as_garden(sim, **settings), truth=season.truth(rng, copies), kinds=kinds,
        habits=habits,
    )  # fmt: skip


def coming_season(case: Repeated, layout: pd.DataFrame, *, year: int, seed: int) -> Array:
    """Grow a layout in a coming year of its own weather: kg by variety and day of the year.

    Parameters
    ----------
    case : Repeated
        Gives the varieties and the household's habits.
    layout : pandas.DataFrame
        Columns crop, variety, date, plants, all of one year.
    year : int
        That year.
    seed : int
        Seed of weather, luck and picks; the same one gives all layouts the same weather and days.
    """
    rng = np.random.default_rng([seed, 79])
    weather = simulate_weather(np.random.default_rng([seed, 80]), years=(year,), site=Site())
    season = _Season(case.kinds, layout, weather, case.habits, rng, year)
    fruits = season.grow(rng, 1)[0]
    there = fruits.picked >= 0
    daily = np.zeros((len(case.kinds), season.tmin.size))
    place = (season.row[fruits.planting[there]], fruits.picked[there])
    np.add.at(daily, place, fruits.picked_kg[there])
    return daily


class _Season:
    """One season's fixed part: varieties, plantings, weather and the days somebody looked."""

    def __init__(
        self,
        kinds: pd.DataFrame,
        layout: pd.DataFrame,
        weather: pd.DataFrame,
        habits: Habits,
        rng: np.random.Generator,
        year: int,
    ) -> None:
        self.kinds, self.habits = kinds, habits
        days = weather[weather["date"].dt.year == year]
        self.tmin, self.tmax = days["tmin_c"].to_numpy(), days["tmax_c"].to_numpy()
        rain = days["rain_mm"].to_numpy()
        place = {key: i for i, key in enumerate(zip(kinds["crop"], kinds["variety"], strict=True))}
        keys = zip(layout["crop"], layout["variety"], strict=True)
        self.row = np.array([place[key] for key in keys])
        mine = kinds.iloc[self.row]
        natures = [CROPS[name] for name in mine["crop"]]
        names = sorted(set(mine["crop"]))
        crop = np.array([names.index(name) for name in mine["crop"]])

        def of_crop(key: str) -> Array:
            return np.array([getattr(nature, key) for nature in natures])

        own = ("flower_dd", "ripen_dd", "length_dd", "fruits")
        shared = ("base_c", "upper_c", "ripen_cv", "burst", "load", "kill_c")
        self.stand = stand = physiology.Stand(
            crop=crop,
            planted=(pd.to_datetime(layout["date"]).dt.day_of_year - 1).to_numpy(),
            plants=layout["plants"].to_numpy(float),
            **{key: mine[key].to_numpy(float) for key in own},
            **{key: of_crop(key) for key in shared},
        )
        heat_day = physiology.heat(stand, self.tmin, self.tmax)
        self.heat_sum = np.cumsum(heat_day, axis=1)
        self.kill = physiology.killed(stand, self.tmin)
        stress = physiology.stress(self.tmax, rain)
        self.flow = physiology.flowers(stand, self.heat_sum, heat_day) * stress
        self.fruit = {
            key: of_crop(key) for key in ("fruit_cv", "growth", "oversize_days", "keeps_days")
        } | {"fruit_kg": mine["fruit_kg"].to_numpy(float)}
        self.damaged = rng.uniform(*DAMAGED) * np.exp(0.4 * rng.standard_normal(len(kinds)))
        self.size_luck = mine["size_luck"].to_numpy(float)

        weekday = days["date"].dt.day_of_week.to_numpy()
        there, away = in_garden(rng, habits, weekday, rain)
        chance = np.array([CROPS[name].look for name in names])
        looked = there & (rng.random((len(names), there.size)) < chance[:, None])
        looked = looked[crop] & (np.arange(there.size) < self.kill[:, None])
        eve = self.kill - 1
        frosted = (self.kill < there.size) & ~away[np.minimum(eve, there.size - 1)]
        warned = np.flatnonzero(frosted & (rng.random(frosted.size) < 0.7))
        looked[warned, eve[warned]] = True
        self.looked = looked

    def grow(self, rng: np.random.Generator, copies: int) -> list[Fruits]:
        """Grow the season some times: plants, plots, shocks and fruits drawn anew."""
        stand = self.stand
        size = (copies, len(self.row))
        between = 1 / physiology.PLANT_CV**2
        plot = physiology.PLOT_CV

        def of_plots_and_plants(rng: np.random.Generator) -> Array:
            drawn = rng.gamma(between * stand.plants, 1 / (between * stand.plants), size=size)
            return drawn * np.exp(plot * rng.standard_normal(size) - plot**2 / 2)

        # A generator of its own for sizes leaves every other draw as it was.
        sizes = of_plots_and_plants(rng.spawn(1)[0]) ** self.size_luck
        luck = of_plots_and_plants(rng)
        # Copies of shocks come in opposite pairs, which makes their mean close to the truth.
        shock = physiology.shocks(rng, stand.crop, self.tmin.size, copies)
        setting = physiology.fruit_set(
            stand, self.flow * shock * luck[:, :, None], self.heat_sum, self.kill
        )
        shape = physiology.DAY_SHAPE
        found = []
        for one, bigger in zip(setting, sizes, strict=True):
            drawn = rng.poisson(one * rng.gamma(shape, 1 / shape, size=one.shape))
            planting, ready = _ripen(rng, stand, drawn, self.heat_sum, self.kill)
            nature = self.fruit | {"fruit_kg": self.fruit["fruit_kg"] * bigger}
            fruits = pick_fruits(
                rng, self.habits, planting=planting, ready=ready, looked=self.looked, **nature
            )
            spoilt = rng.random(len(planting)) < self.damaged[self.row[planting]]
            grade = np.where(fruits.grade == 1, 1, np.where(spoilt, 2, 0))
            found.append(
                Fruits(
                    planting=fruits.planting,
                    ready=fruits.ready,
                    picked=fruits.picked,
                    ready_kg=fruits.ready_kg,
                    picked_kg=fruits.picked_kg,
                    grade=grade,
                )
            )
        return found

    def truth(self, rng: np.random.Generator, copies: int) -> pd.DataFrame:
        """Return the mean of every measure over the copies, per variety."""
        rows = []
        planted = [self.stand.planted[self.row == v].min() for v in range(len(self.kinds))]
        plants = np.bincount(self.row, weights=self.stand.plants)
        heat = [self._heat(crop, day) for crop, day in zip(self.kinds["crop"], planted,
                                                           strict=True)]  # fmt: skip
        for fruits in self.grow(rng, copies):
            there = fruits.picked >= 0
            kind = self.row[fruits.planting[there]]
            day, kg, grade = fruits.picked[there], fruits.picked_kg[there], fruits.grade[there]
            if not self.habits.grades:
                # The truth is the mean of what the log shows: without grades, of all fruit.
                grade = np.zeros_like(grade)
            daily = np.zeros((len(self.kinds), self.tmin.size))
            np.add.at(daily, (kind, day), kg)
            by_grade = np.zeros((len(self.kinds), 3, 2))
            np.add.at(by_grade, (kind, grade), np.column_stack([np.ones_like(kg), kg]))
            for v in np.flatnonzero(daily.any(axis=1)):
                rows += [
                    (v, name, value)
                    for name, value in _measures(
                        daily[v], by_grade[v], planted[v], heat[v], plants[v]
                    ).items()
                ]
        table = pd.DataFrame(rows, columns=["kind", "measure", "truth"])
        table["kind"] = table["kind"].astype(int)
        mean = table.groupby(["kind", "measure"], as_index=False)["truth"].mean()
        for name in ("crop", "variety"):
            mean[name] = self.kinds[name].to_numpy()[mean["kind"]]
        mean["plants"] = plants[mean["kind"]]
        return mean.drop(columns="kind")

    def _heat(self, crop: str, planted: int) -> Array:
        """Return degree-days since planting as the library counts them, at the end of each day."""
        daily = daily_heat(crop_facts(crop), self.tmin, self.tmax)
        total = np.cumsum(np.asarray(daily))
        return total - (total[planted - 1] if planted > 0 else 0.0)


def _measures(
    daily: Array, by_grade: Array, planted: int, heat: Array, plants: float
) -> dict[str, float]:
    total, first = float(daily.sum()), int(np.flatnonzero(daily)[0])
    good, heavy = by_grade[0], float(heaviest_run(daily, 14)[0])
    found = {
        "kg_per_plant": total / plants,
        "count_per_plant": by_grade[:, 0].sum() / plants,
        "first_pick_days": float(first - planted),
        "first_pick_dd": float(heat[first]),
        "peak_week_share": float(heaviest_run(daily, 7)[0]) / total,
        "canner_kg_per_plant": heavy / plants,
        "steady_weeks": float(steady_weeks(daily)),
        "oversize_share": by_grade[1, 1] / total,
        "damaged_share": by_grade[2, 1] / total,
    }
    for name, share in (("dd_10", 0.1), ("dd_50", 0.5), ("dd_90", 0.9)):
        found[name] = float(place_of_share(daily, share, heat))
    if good[0] > 0:
        found["fruit_kg"] = good[1] / good[0]
    return {name: float(value) for name, value in found.items()}
