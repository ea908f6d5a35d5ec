"""What the beds bring, week by week, as possible futures.

Far ahead, whole seasons of the log say more of a sowing than what this season has shown so far. So
each is drawn as in a plan for next season (:mod:`harvestcast.season.next.futures`), in this
season's weather so far, and futures are taken by how well their picks so far agree with the log's.
Rows that are still to be sown are drawn with them. Where no future agrees, or where no row says
what stands, the week's forecast goes on over the season.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.growth.forecast import Outlook, forecast
from harvestcast.growth.log.picked import picked_days
from harvestcast.growth.log.series import gather
from harvestcast.season.messages import Said, said
from harvestcast.season.next.futures import SeasonFutures, season_futures
from harvestcast.season.next.options import PlantingOption, option_of
from harvestcast.season.yields.curves import learn
from harvestcast.season.yields.plantings import season_of_each

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Key = tuple[str, str]

WEEKS = 52
"""Weeks looked ahead."""
AGREE, AGREE_SHARE = 0.6, 0.03
"""How far apart picks so far of a future and of the log may lie: a standard deviation of their log,
and the share of a usual harvest that is added to both before, as little may be luck."""
LEAST_LEFT = 0.05
"""Share of the futures that must agree with the log for them to be believed; else the season is
unlike all that the log shows, and the forecast stands."""
LOG_DAYS = 400
"""Days of the log in which the picks of a sowing that may still bear are looked for."""
WINTERED_DAYS = 60
"""Days since its last pick up to which a sowing of the season before may still bear."""


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
        The garden, its books as known on the day. Of what is dated later only the plantings of the
        season are read, and by the forecast what was forecast of the weather by then.
    day : Timestamp
        Last day known.
    draws, seed : int
        Possible futures, and their seed.
    """
    outlook = forecast(garden, day, WEEKS, draws=draws, seed=seed)
    parts = {key: _forecast_of(outlook, place, draws) for place, key in enumerate(outlook.keys)}
    known = replace(garden, weather=garden.weather[garden.weather["date"] <= day])
    picked = picked_days(gather(known, day, begun=day - pd.Timedelta(days=LOG_DAYS)))
    sown: list[PlantingOption] = []
    anew: dict[Key, list[tuple[Array, Array] | None]] = {}
    for season, options in _sowings(known, day):
        learned = learn(known, season)
        drawn = season_futures(
            known, learned, options, year=season, draws=draws, seed=seed, known=day
        )
        for key in dict.fromkeys((one.crop, one.variety) for one in options):
            mine = [at for at, one in enumerate(options) if (one.crop, one.variety) == key]
            own = [options[at] for at in mine]
            sown += [one for one in own if one.date > day]
            log = picked[(picked["crop"] == key[0]) & (picked["variety"] == key[1])]
            log = log[log["date"] >= min(one.date for one in own)]
            part = _drawn(drawn, mine, own, day, float(log["mass_kg"].sum()))
            anew.setdefault(key, []).append(part)
    for key in _over(known, day) - set(anew):
        parts.pop(key, None)
    for key, sowings in anew.items():
        believed = [part for part in sowings if part is not None]
        if key in parts and len(believed) < len(sowings):
            continue
        kg = sum((part[0] for part in believed), np.zeros((draws, WEEKS)))
        parts[key] = kg, np.fmin.reduce([np.full(draws, np.nan), *(part[1] for part in believed)])
    lines = []
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


def _drawn(
    drawn: SeasonFutures,
    mine: list[int],
    options: list[PlantingOption],
    day: pd.Timestamp,
    so_far: float,
) -> tuple[Array, Array] | None:
    """Return picks of the sowings of a variety (draws, weeks), and days to the first (draws,).

    None where the futures do not agree with what was picked of it so far.
    """
    plants = np.array([one.this_year for one in options])
    kg, mondays = drawn.per_plant[:, :, mine] @ plants, (drawn.weeks - day).days.to_numpy() - 1
    by_now = kg @ np.clip(-mondays / 7, 0.0, 1.0)
    little = max(AGREE_SHARE * float(kg.sum(axis=1).mean()), 1e-9)
    apart = np.log(by_now + little) - np.log(so_far + little)
    weight = np.exp(-0.5 * (apart / AGREE) ** 2)
    if weight.sum() ** 2 < LEAST_LEFT * len(weight) * (weight**2).sum() or not weight.any():
        return None
    # Even steps of weight: where all agree each future keeps its place, and crops their weather.
    steps = (np.arange(len(weight)) + 0.5) / len(weight)
    use = np.minimum(np.searchsorted(np.cumsum(weight) / weight.sum(), steps), len(weight) - 1)
    first = drawn.first_pick[:, mine] - (day - drawn.first).days
    first = np.fmin.reduce(np.where(first > 0, first, np.nan), axis=1)
    return _in_weeks(kg, mondays)[use], first[use]


def _forecast_of(outlook: Outlook, place: int, draws: int) -> tuple[Array, Array]:
    """Return weekly picks (draws, weeks) and days to the first (draws,) by the forecast."""
    daily = np.nan_to_num(outlook.mass_kg[:, :, place]).astype(float)
    some = daily > 0
    first = np.where(some.any(axis=1), some.argmax(axis=1) + 1.0, np.nan)
    return daily.reshape(draws, WEEKS, 7).sum(axis=2), first


def _over(garden: Garden, day: pd.Timestamp) -> set[Key]:
    """Return the varieties whose sowings are all of seasons that are over."""
    rows, season = garden.plantings, season_of_each(garden)
    old = ((season < garden.seasons.of(day)) | (rows["removed"] <= day)).fillna(False)
    whole = old.groupby([rows["crop"].astype(str), rows["variety"].astype(str)]).all()
    return {(str(crop), str(variety)) for crop, variety in whole.index[whole.to_numpy(bool)]}


def _sowings(garden: Garden, day: pd.Timestamp) -> Iterator[tuple[int, list[PlantingOption]]]:
    """Yield, season by season, the plantings that may bear after a day."""
    now, rows = garden.seasons.of(day), garden.plantings
    start = garden.seasons.span(now).start
    lately = garden.picks[garden.picks["date"] > day - pd.Timedelta(days=WINTERED_DAYS)]
    bearing = set(zip(lately["crop"], lately["variety"], strict=True))
    found: dict[int, list[PlantingOption]] = {}
    for (_, row), made in zip(rows.iterrows(), season_of_each(garden), strict=True):
        sown = row["date"]
        if pd.isna(sown) or row["removed"] <= day:
            continue
        if crop_facts(str(row["crop"]), garden.household).perennial:
            # What is planted now bears in later years, and the forecast knows that.
            made = now if sown < start else pd.NA
        if pd.isna(made) or garden.seasons.of(sown) > now:
            continue
        over_winter = made == now - 1 and (row["crop"], row["variety"]) in bearing
        if now <= made <= now + 1 or over_winter:
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
