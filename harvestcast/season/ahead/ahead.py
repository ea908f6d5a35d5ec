"""The whole season ahead, once the beds are in: what comes when, and what the kitchen makes of it.

Nothing new is modelled here. What grows is forecast as for the coming week, over many weeks; rows
of the plantings that are to be sown later are drawn as those of a plan for next season are; and
the household works through every future week by week by the rule of
:mod:`harvestcast.season.kitchen_year`, which does not know the weeks to come.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.errors import ElevationError
from harvestcast.growth.log.series import day_of
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.household.book import household_on
from harvestcast.kitchen.household.demand import fresh_use, wanted_jars
from harvestcast.kitchen.household.on_hand import on_hand
from harvestcast.records.garden import Garden
from harvestcast.results import Result, must_be
from harvestcast.season.ahead.growing import WEEKS, growing
from harvestcast.season.ahead.tables import (
    LITTLE_KG,
    Found,
    crops_table,
    hours_table,
    limits_table,
    room_table,
    shelves_table,
    stores_of,
    weeks_table,
)
from harvestcast.season.kitchen_year import best_ways, kitchen_year, run_year
from harvestcast.season.messages import Said, said, texts

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from harvestcast.words.amounts import Units

SHOWN_CHANCE = 0.25
"""Chance that anything comes in a week, from which it is shown."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class SeasonAhead(Result):
    """What a season brings, and what the household can make of it.

    Attributes
    ----------
    as_of : Timestamp
        Last day known; week 1 is the seven days after it.
    season : str
        The season as people say it: "2026", or "2026/27" where it crosses New Year.
    draws, seed : int
        Possible futures, and the seed of all of them.
    weeks : pandas.DataFrame
        Every crop week by week, and where it goes (AHEAD_WEEKS).
    crops : pandas.DataFrame
        Every crop over the whole time, its dates and where it goes (AHEAD_CROPS).
    shelves : pandas.DataFrame
        The targets, how much of each is likely put up, and by when (AHEAD_SHELVES).
    room : pandas.DataFrame
        Freezer, cool store, jars, lids and bags as they are taken week by week (AHEAD_ROOM).
    limits : pandas.DataFrame
        The same over the whole time, and the week when each is full or used up (AHEAD_LIMITS).
    hours : pandas.DataFrame
        Hours that putting up takes, against those there are (AHEAD_HOURS).
    left_out : pandas.DataFrame
        Plantings without a forecast and why, as in a forecast.
    lines : tuple of Said
        What the figures rest on; ``text`` has the same in sentences.
    """

    as_of: pd.Timestamp
    season: str
    draws: int
    seed: int
    weeks: pd.DataFrame
    crops: pd.DataFrame
    shelves: pd.DataFrame
    room: pd.DataFrame
    limits: pd.DataFrame
    hours: pd.DataFrame
    left_out: pd.DataFrame
    lines: tuple[Said, ...]

    made_by = "harvestcast.season_ahead(garden)"

    def _brief(self) -> str:
        return (
            f"season of {self.season}, known up to {self.as_of.date()}, {len(self.hours)} weeks, "
            f"{len(self.crops)} crops, {self.draws} draws"
        )

    def _table(self) -> pd.DataFrame:
        names = ["crop", "q10_kg", "q50_kg", "q90_kg", "first_q50", "peak", "last_q50", "over_kg"]
        return self.crops[names]

    def plot(
        self, crop: str | None = None, *, units: Units = "metric", ax: Axes | None = None
    ) -> Axes:
        """Draw what comes when, a row a crop and a mark a week; or one crop's weeks as bands.

        Parameters
        ----------
        crop : str, optional
            Crop; left out: all of them.
        units : {"us", "metric"}
            Units of the axis and order of the dates.
        ax : matplotlib.axes.Axes, optional
            Where to draw; left out: axes of their own.

        Returns
        -------
        matplotlib.axes.Axes

        Raises
        ------
        ValueError
            Where nothing is to come (of the crop).
        """
        from harvestcast import figures

        if crop is None:
            drawn = figures.pick_calendar(
                self.calendar, units=units, title="What comes when", ax=ax
            )
            return figures.in_session(drawn, ax)
        own = self.weeks[self.weeks["crop"] == crop]
        if not len(own):
            known = ", ".join(self.crops["crop"]) or "none"
            raise ValueError(f"nothing is to come of {crop!r}; crops that have weeks: {known}")
        past = pd.DataFrame({"start": pd.to_datetime([]), "mass_kg": pd.Series(dtype=float)})
        drawn = figures.weekly_bands(own, past, units=units, title=crop.capitalize(), ax=ax)
        return figures.in_session(drawn, ax)

    @property
    def calendar(self) -> pd.DataFrame:
        """Mean weeks of every crop: ``variety`` (its name), ``start``, ``mass_kg``."""
        weeks = self.weeks[self.weeks["mean_kg"] >= LITTLE_KG]
        named = weeks.rename(columns={"crop": "variety", "mean_kg": "mass_kg"})
        return named[["variety", "start", "mass_kg"]].reset_index(drop=True)

    @property
    def text(self) -> tuple[str, ...]:
        """The lines in sentences."""
        return texts(self.lines)


def season_ahead(
    garden: Garden, as_of: object = None, *, draws: int = 1000, seed: int = 1
) -> SeasonAhead:
    """Say what the season brings that is in the beds, and what the household makes of it.

    Parameters
    ----------
    garden : Garden
        The garden. Rows of the plantings that are dated later in the same season count as to be
        sown then.
    as_of : date-like, optional
        Last day known; left out: the last day of the log or of the weather record, whichever is
        later, as before the first pick the log says nothing of this season.
    draws : int
        Possible futures, at least 100.
    seed : int
        Seed of all of them.

    Returns
    -------
    SeasonAhead

    Raises
    ------
    InputError
        Where the folder holds no day to begin from.
    ValueError
        Where there are too few draws.

    Examples
    --------
    >>> import harvestcast as hc                                    # doctest: +SKIP
    >>> ahead = hc.season_ahead(hc.open_garden("sample_logs"))      # doctest: +SKIP
    >>> ahead.limits[["store", "there", "q50", "full_q50"]]         # doctest: +SKIP
    """
    must_be(garden, Garden, "season_ahead")
    if draws < 100:
        raise ValueError("draws: at least 100")
    day = _last_day(garden, as_of)
    garden = _known(garden, day)
    beds = growing(garden, day, draws=draws, seed=seed)
    starts = pd.date_range(day + pd.Timedelta(days=1), periods=WEEKS, freq="7D")
    home = replace(garden, household=household_on(garden, day))
    lines = list(beds.lines)
    wanted = wanted_jars(garden, day)
    needed = _needed(wanted)
    try:
        best_ways(home, needed)
    except ElevationError:
        home = _without_canners(home)
        lines.append(said("ahead.no_elevation"))
    if needed.empty:
        lines.append(said("ahead.no_targets"))
    fresh = fresh_use(garden, beds.crops)
    good = on_hand(garden, day, fresh).query("grade == 'good'")
    lying = good.groupby("crop")["mass_kg"].sum()
    come = beds.kg.copy()
    come[:, 0] += lying.reindex(list(beds.crops)).fillna(0.0).to_numpy(float)
    if len(lying):
        lines.append(said("ahead.on_hand", crops=[str(crop) for crop in lying.index]))
    kitchen = kitchen_year(home, beds.crops, starts, needed)
    found = Found(
        beds.crops, starts, day, _shown(beds.kg), beds.kg, come, kitchen, run_year(come, kitchen)
    )
    lines.append(said("ahead.rests_on", draws=draws))
    stores = list(stores_of(home, found, needed, fresh))
    return SeasonAhead(
        as_of=day,
        season=garden.seasons.label(garden.seasons.of(day)),
        draws=draws,
        seed=seed,
        weeks=weeks_table(found),
        crops=crops_table(found, garden, beds.first),
        shelves=shelves_table(found, wanted),
        room=room_table(found, stores),
        limits=limits_table(found, stores),
        hours=hours_table(found),
        left_out=beds.left_out,
        lines=tuple(lines),
    )


def _last_day(garden: Garden, as_of: object) -> pd.Timestamp:
    if as_of is not None:
        return day_of(garden, as_of)
    observed = garden.weather.loc[garden.weather["kind"] != "forecast", "date"]
    return max([day_of(garden), *([observed.max().normalize()] if len(observed) else [])])


def _known(garden: Garden, day: pd.Timestamp) -> Garden:
    """Return the garden without what was written down later; plantings to come are plans."""
    books = {
        name: table[table["date"] <= day]
        for name in ("picks", "pantry", "kitchen")
        for table in (getattr(garden, name),)
    }
    return replace(garden, **books)


def _shown(kg: Array) -> int:
    """Return how many weeks are shown: up to the last one that may bring anything."""
    some = (kg.sum(axis=2) >= LITTLE_KG).mean(axis=0) >= SHOWN_CHANCE
    return int(np.flatnonzero(some)[-1]) + 1 if some.any() else 1


def _needed(wanted: pd.DataFrame) -> pd.DataFrame:
    """Return the jars still wanted, as a kitchen's year takes them."""
    mine = wanted[wanted["target_jars"] > 0]
    keys = mine["product"].astype(str)
    return pd.DataFrame(
        {
            "product": keys.to_numpy(),
            "label": mine["label"].astype(str).to_numpy(),
            "crop": [product(key).crop for key in keys],
            "need": mine["wanted_jars"].to_numpy(float),
        }
    )


def _without_canners(garden: Garden) -> Garden:
    home = garden.household
    kept = tuple(one for one in home.equipment if not one.kind.endswith("canner"))
    return replace(garden, household=home.model_copy(update={"equipment": kept}))
