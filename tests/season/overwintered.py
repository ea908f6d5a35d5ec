"""Two invented gardens whose truth is known: one at 41 degrees south, one with kale over winter.

Everything here is made up for the tests: weather, plants, picks, names. A planting bears between
two heats of its own, counted by a plain mean of the day above a base that is not the almanac's,
or, what stands from year to year, counted from midwinter. The truth of a coming season is what the
same plants would do in each year of the weather record.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvestcast.records.garden import Garden, garden_from_frames
from harvestcast.records.household import Household


@dataclass(frozen=True, kw_only=True)
class Plant:
    """One variety of one invented garden."""

    crop: str
    variety: str
    how: str
    day: str
    """Day of planting, MM-DD; of what stands the day it was planted, a date."""
    plants: int
    kg: float
    """Of one plant, in a whole season."""
    base_c: float
    first_dd: float
    last_dd: float
    stands: bool = False
    once: bool = False
    """Brought in on one day, when the last heat is reached."""


SOUTH = (
    Plant(crop="garlic", variety="Old Farrier", how="set_out", day="05-05", plants=80, kg=0.06,
          base_c=0.0, first_dd=1950, last_dd=2000, once=True, stands=True),
    Plant(crop="onion", variety="Saltbush Brown", how="set_out", day="07-25", plants=150, kg=0.15,
          base_c=3.0, first_dd=1780, last_dd=1800, once=True),
    Plant(crop="fava bean", variety="Hawser", how="sown", day="05-12", plants=60, kg=0.25,
          base_c=2.0, first_dd=1500, last_dd=1950),
    Plant(crop="kale", variety="Lee Shore", how="sown", day="02-10", plants=12, kg=1.4,
          base_c=3.0, first_dd=850, last_dd=2600),
    Plant(crop="chard", variety="Reddle", how="sown", day="02-15", plants=10, kg=1.2,
          base_c=3.0, first_dd=800, last_dd=2100),
    Plant(crop="strawberry", variety="Tidewrack", how="set_out", day="2020-08-10", plants=30,
          kg=0.5, base_c=3.0, first_dd=900, last_dd=1500, stands=True),
    Plant(crop="plum", variety="Harbour Blue", how="set_out", day="2015-07-20", plants=1, kg=25.0,
          base_c=5.0, first_dd=1400, last_dd=1650, stands=True),
    Plant(crop="apple", variety="Gannet", how="set_out", day="2014-07-20", plants=1, kg=40.0,
          base_c=5.0, first_dd=1900, last_dd=2250, stands=True),
    Plant(crop="zucchini", variety="Dinghy", how="set_out", day="11-04", plants=4, kg=5.0,
          base_c=6.0, first_dd=380, last_dd=1300),
    Plant(crop="tomato", variety="Lantern Hill", how="set_out", day="11-10", plants=12, kg=3.5,
          base_c=6.0, first_dd=760, last_dd=1330),
    Plant(crop="pumpkin", variety="Ballast", how="sown", day="11-10", plants=6, kg=6.0,
          base_c=7.0, first_dd=1180, last_dd=1200, once=True),
)  # fmt: skip

NORTH = (
    Plant(crop="kale", variety="Winter Ferry", how="sown", day="07-12", plants=20, kg=1.3,
          base_c=3.0, first_dd=900, last_dd=2150),
    Plant(crop="garlic", variety="Chapel Yard", how="set_out", day="10-10", plants=60, kg=0.06,
          base_c=0.0, first_dd=1850, last_dd=1900, once=True, stands=True),
    Plant(crop="snap bean", variety="Thatcher", how="sown", day="05-20", plants=80, kg=0.25,
          base_c=8.0, first_dd=480, last_dd=900),
    Plant(crop="tomato", variety="Orchard Lane", how="set_out", day="05-25", plants=12, kg=3.5,
          base_c=8.0, first_dd=650, last_dd=1000),
    Plant(crop="spinach", variety="Early Bell", how="sown", day="03-25", plants=60, kg=0.1,
          base_c=2.0, first_dd=420, last_dd=750),
)  # fmt: skip


def weather(first: str, last: str, *, south: bool, mean: float, swing: float) -> pd.DataFrame:
    """Return invented days: a yearly wave, warm and cool years, weeks of weather."""
    days = pd.date_range(first, last)
    rng = np.random.default_rng(41 if south else 52)
    wave = -np.cos(2 * np.pi * (days.day_of_year.to_numpy() - 20) / 365.25)
    year = rng.normal(0, 0.25, 60)[days.year.to_numpy() % 60]
    noise = np.convolve(rng.normal(0, 1, len(days) + 9), np.ones(10) / 10**0.5 / 1.5, "valid")
    middle = mean + (-swing if south else swing) * wave + year + 1.5 * noise
    return pd.DataFrame({"date": days, "tmin_c": middle - 4.5, "tmax_c": middle + 4.5})


class Truth:
    """What the plants of a garden do in its weather."""

    def __init__(self, days: pd.DataFrame, winter: str) -> None:
        self.first = days["date"].iloc[0]
        self.middle = ((days["tmin_c"] + days["tmax_c"]) / 2).to_numpy(float)
        self.winter = winter

    def bears(self, plant: Plant, planted: pd.Timestamp) -> tuple[pd.DatetimeIndex, np.ndarray]:
        """Return the days on which a planting bears, and the share of its harvest on each."""
        start = planted
        if plant.stands:
            start = pd.Timestamp(f"{planted.year}-{self.winter}")
            start = start if start >= planted else start + pd.DateOffset(years=1)
        at = int((start - self.first).days)
        heat = np.cumsum(np.maximum(self.middle[at:] - plant.base_c, 0.0))
        on = np.flatnonzero((heat >= plant.first_dd) & (heat < plant.last_dd))
        if plant.once or not len(on):
            on = np.flatnonzero(heat >= plant.last_dd)[:1]
            return start + pd.to_timedelta(on, unit="D"), np.ones(len(on))
        along = (heat[on] - plant.first_dd) / (plant.last_dd - plant.first_dd)
        rate = np.maximum(np.diff(heat, prepend=0.0)[on], 0.3) * np.sin(np.pi * along + 0.15)
        rate = np.maximum(rate, 0.02)
        return start + pd.to_timedelta(on, unit="D"), rate / rate.sum()

    def dates(self, plant: Plant, planted: pd.Timestamp) -> tuple[pd.Timestamp, pd.Timestamp]:
        """Return the median day of the first pick and of nine tenths, over the weather years.

        Of a planting to come on the day ``planted``, in the past years that the record holds.
        """
        firsts, lasts = [], []
        for back in range(1, 14):
            then = planted - pd.DateOffset(years=back)
            if then < self.first:
                break
            days, share = self.bears(plant, then)
            firsts.append((days[0] - then).days)
            lasts.append((days[np.argmax(np.cumsum(share) >= 0.9)] - then).days)
        middle = [pd.Timedelta(days=float(np.median(one))) for one in (firsts, lasts)]
        return planted + middle[0], planted + middle[1]


def log(
    plants: tuple[Plant, ...], truth: Truth, begun: str, last: str, every: int = 3
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return plantings and picks of some years: picked every few days, a little unevenly."""
    rng = np.random.default_rng(7)
    start, end = pd.Timestamp(begun), pd.Timestamp(last)
    planted, picked = [], []
    for plant in plants:
        perennial = len(plant.day) > 5
        days = [pd.Timestamp(plant.day)] if perennial else [
            pd.Timestamp(f"{year}-{plant.day}") for year in range(start.year, end.year + 1)
        ]  # fmt: skip
        for day in days:
            if perennial or start <= day <= end:
                planted.append((plant.crop, plant.variety, day, plant.how, float(plant.plants)))
        stands = [
            pd.Timestamp(f"{year}-{truth.winter}") for year in range(start.year, end.year + 1)
        ]
        for day in stands if perennial else days:
            if day < start or day > end:
                continue
            on, share = truth.bears(plant, day)
            level = plant.plants * plant.kg * np.exp(rng.normal(0, 0.12))
            waiting = 0.0
            for number, (one, part) in enumerate(zip(on, share, strict=True)):
                waiting += level * part * np.exp(rng.normal(0, 0.15))
                if (plant.once or number % every == 0) and start <= one <= end:
                    picked.append((one, plant.crop, plant.variety, round(waiting, 3)))
                    waiting = 0.0
    return (
        pd.DataFrame(planted, columns=["crop", "variety", "date", "how", "plants"]),
        pd.DataFrame(picked, columns=["date", "crop", "variety", "mass_kg"]),
    )


def southern_garden(last: str = "2025-06-28") -> tuple[Garden, Truth, tuple[Plant, ...]]:
    """Return the garden at 41 degrees south, as known on a day, and its truth."""
    whole = weather("2012-01-01", "2027-12-31", south=True, mean=12.0, swing=4.5)
    truth = Truth(whole, "07-01")
    planted, picked = log(SOUTH, truth, "2022-02-01", last)
    home = Household(people=3, elevation_m=30, latitude=-41.0, last_frost="10-05",
                     first_frost="05-10", hours={"saturday": 4})  # fmt: skip
    known = whole[whole["date"] <= last]
    return (
        garden_from_frames(picked, planted, known, name="Saltmarsh", household=home),
        truth,
        SOUTH,
    )


def northern_garden(last: str = "2025-12-30") -> tuple[Garden, Truth, tuple[Plant, ...]]:
    """Return the northern garden with kale over winter, as known on a day, and its truth."""
    whole = weather("2012-01-01", "2027-12-31", south=False, mean=10.0, swing=8.0)
    truth = Truth(whole, "01-01")
    planted, picked = log(NORTH, truth, "2022-07-01", last)
    home = Household(people=3, elevation_m=60, last_frost="04-25", first_frost="10-20",
                     hours={"saturday": 4})  # fmt: skip
    known = whole[whole["date"] <= last]
    return (
        garden_from_frames(picked, planted, known, name="Ferrybank", household=home),
        truth,
        NORTH,
    )
