"""What the beds bring, week by week, as possible futures.

A variety that was picked this season is forecast as for the coming week, over more weeks. Of one
that was not, the log of this season says only that; its earlier seasons say much more, so it is
drawn as in a plan for next season (:mod:`harvestcast.season.next.futures`), in this season's
weather so far, and futures in which it would have been picked by now are left out. So are rows
that are still to be sown.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.forecast import Outlook, forecast
from harvestcast.season.messages import Said, said
from harvestcast.season.next.futures import season_futures
from harvestcast.season.next.options import PlantingOption, option_of
from harvestcast.season.yields.curves import learn
from harvestcast.season.yields.plantings import season_of_each

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Key = tuple[str, str]

WEEKS = 52
"""Weeks looked ahead."""
LEAST_LEFT = 0.1
"""Share of the futures that must agree with there being no pick so far, for them to be believed;
else the plants are far behind all that earlier seasons show, and the forecast stands."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Growing:
    """What the beds bring.

    Parameters
    ----------
    crops : tuple of str
        Crops, in the order of the arrays.
    kg : ndarray, shape (draws, weeks, crops)
        Picked; week 1 is the seven days after the last day known. [kg]
    first : ndarray, shape (draws, crops)
        Days from the last day known to the first pick to come; NaN where there is none.
    left_out : pandas.DataFrame
        Plantings without a forecast and why.
    lines : tuple of Said
        What to read beside it.
    """

    crops: tuple[str, ...]
    kg: Array
    first: Array
    left_out: pd.DataFrame
    lines: tuple[Said, ...]


def growing(garden: Garden, day: pd.Timestamp, *, draws: int, seed: int) -> Growing:
    """Draw what the beds bring after a day.

    Parameters
    ----------
    garden : Garden
        The garden. Of what is dated after the day only the plantings of the season are read.
    day : Timestamp
        Last day known.
    draws, seed : int
        Possible futures, and their seed.
    """
    outlook = forecast(garden, day, WEEKS, draws=draws, seed=seed)
    parts = {key: _forecast_of(outlook, place, draws) for place, key in enumerate(outlook.keys)}
    lines = []
    known = replace(
        garden,
        picks=garden.picks[garden.picks["date"] <= day],
        weather=garden.weather[garden.weather["date"] <= day],
    )
    sown: list[PlantingOption] = []
    for season, options in _drawn_anew(known, day):
        learned = learn(known, season)
        drawn = season_futures(
            known, learned, options, year=season, draws=draws, seed=seed, known=day
        )
        for key in dict.fromkeys((one.crop, one.variety) for one in options):
            mine = [at for at, one in enumerate(options) if (one.crop, one.variety) == key]
            plants = np.array([options[at].this_year for at in mine])
            first = drawn.first_pick[:, mine] - (day - drawn.first).days
            first = np.fmin.reduce(first, axis=1)
            later = [options[at] for at in mine if options[at].date > day]
            chosen = np.flatnonzero(~(first <= 0))
            if len(chosen) < LEAST_LEFT * draws:
                continue
            # Futures that agree keep their place, so that crops go on sharing their weather.
            use = np.arange(draws)
            use[first <= 0] = np.resize(chosen, int((first <= 0).sum()))
            mondays = (drawn.weeks - day).days.to_numpy() - 1
            kg = _in_weeks(drawn.per_plant[:, :, mine] @ plants, mondays)
            before = parts.get(key)
            if before is not None and len(later) == len(mine):
                kg, first = kg + before[0], np.fmin(first, before[1])
            parts[key] = kg[use], first[use]
            sown += later
    if sown:
        rows = [(one.crop, one.variety, one.date) for one in sown]
        lines.append(said("ahead.sown_later", sown=rows))
    crops = tuple(sorted({crop for crop, _ in parts}))
    total = np.zeros((draws, WEEKS, len(crops)))
    firsts = np.full((draws, len(crops)), np.nan)
    for (crop, _), (kg, first) in parts.items():
        place = crops.index(crop)
        total[:, :, place] += kg
        firsts[:, place] = np.fmin(firsts[:, place], first)
    return Growing(
        crops=crops, kg=total, first=firsts, left_out=outlook.left_out, lines=tuple(lines)
    )


def _forecast_of(outlook: Outlook, place: int, draws: int) -> tuple[Array, Array]:
    """Return weekly picks (draws, weeks) and days to the first (draws,) by the forecast."""
    daily = np.nan_to_num(outlook.mass_kg[:, :, place]).astype(float)
    some = daily > 0
    first = np.where(some.any(axis=1), some.argmax(axis=1) + 1.0, np.nan)
    return daily.reshape(draws, WEEKS, 7).sum(axis=2), first


def _drawn_anew(
    garden: Garden, day: pd.Timestamp
) -> Iterator[tuple[int, Sequence[PlantingOption]]]:
    """Yield, season by season, the plantings that are drawn as in a plan."""
    now, rows = garden.seasons.of(day), garden.plantings
    season = season_of_each(garden)
    start = garden.seasons.span(now).start
    picked = garden.picks[garden.picks["date"] >= start]
    seen = set(zip(picked["crop"], picked["variety"], strict=True))
    found: dict[int, list[PlantingOption]] = {}
    for (_, row), made in zip(rows.iterrows(), season, strict=True):
        key = str(row["crop"]), str(row["variety"])
        sown, gone = row["date"], row["removed"]
        if pd.isna(sown) or gone <= day or (key in seen and sown <= day):
            continue
        if crop_facts(key[0], garden.household).perennial:
            # What is planted now bears in later years, and the forecast knows that.
            made = now if sown < start else pd.NA
        if pd.isna(made) or not now <= made <= now + 1 or garden.seasons.of(sown) > now:
            continue
        option = option_of(garden, row, int(made))
        if option.this_year > 0:
            found.setdefault(int(made), []).append(option)
    yield from sorted(found.items())


def _in_weeks(kg: Array, mondays: Array) -> Array:
    """Lay picks of calendar weeks over the weeks ahead, shape (draws, weeks).

    A week that begins on a Monday lies in two of ours, by its days.

    Examples
    --------
    >>> _in_weeks(np.array([[7.0, 14.0]]), np.array([-2, 5]))[0, :2]
    array([ 9., 10.])
    """
    out = np.zeros((len(kg), WEEKS))
    for monday, column in zip(mondays, kg.T, strict=True):
        week, into = divmod(int(monday), 7)
        for at, share in ((week, 1 - into / 7), (week + 1, into / 7)):
            if 0 <= at < WEEKS:
                out[:, at] += share * column
    return out
