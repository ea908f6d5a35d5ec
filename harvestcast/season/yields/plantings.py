"""From the garden's frames to arrays: every planting of a season with its daily picks and heat."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags, Index
from harvestcast.growth.crops.almanac import CropFacts, crop_facts, daily_heat
from harvestcast.growth.crops.cover import at_the_plants
from harvestcast.growth.log.series import temperatures
from harvestcast.growth.log.sowings import ABLE, STANDING_DAYS, Sowing, can_bear, usual_heat
from harvestcast.records.seasons import Seasons
from harvestcast.season.yields.heat_path import HeatPath, heat_path

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


VARIETY_FRUIT_LOG_SD = 0.25
"""By how much the fruit of varieties of one crop differs in weight, log. Our judgement."""
OVERSIZE_WEIGHT = 2.0
"""Weight of an oversize fruit in good ones, where the household has not weighed any; counts as ten
fruits. Our judgement."""

UNNAMED = "unnamed"
"""Variety of picks and plantings that were written down without one."""

GRADES: tuple[str, ...] = ("good", "oversize", "damaged")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Unit:
    """One planting that the log tells apart: a variety in a season, in one bed where known.

    Parameters
    ----------
    crop, variety : str
        Names as in the frames.
    bed : str or None
        Bed, where the picks of the variety name beds and it stands in several.
    year : int
        Season of its first pick, by the year it begins in.
    planted : Timestamp
        First planting; NaT where unknown.
    set_out : bool
        Whether it was set out (else sown).
    plantings : int
        Plantings written down that it is made of: several where the picks do not say which of
        them they came from; 0 where none is.
    covered : bool
        Whether all of them stand under cover.
    counted_from : Timestamp
        Day from which heat and days to the first pick count: the planting, or the beginning of the
        season of what stood before it.
    plants, row_m, area_m2 : float
        Size; NaN where unknown.
    first_day : Timestamp
        Day of the first entry of the arrays: planting or first pick, the earlier one.
    heat : ndarray, shape (days,)
        Degree-days from planting to the end of each day. [degC d]
    mass, count : ndarray, shape (days,)
        Picked each day, all grades; unknown amounts completed by the weight of a fruit. [kg]
    graded : ndarray, shape (3, days)
        Mass by grade: good, oversize, damaged. [kg]
    looked : ndarray of bool, shape (days,)
        Days with a row, a count of 0 included.
    hours : float
        Hours of picking written down; NaN where none were.
    hours_kg : float
        Mass of the rows with hours. [kg]
    fruit_kg : float
        Weight of a good fruit used to complete amounts. [kg]
    fruit_error : float
        Standard deviation of its logarithm: large where no fruit of the crop was ever weighed.
    guessed : float
        Share of the mass that was completed from counts.
    weighed : float
        Good fruits in rows with count and weight both.
    weighed_kg : float
        Their weight. [kg]
    rows_both : tuple of ndarray
        Count and weight of each such row. [fruits, kg]
    counted : bool
        Whether at least half of the rows with a pick were counted.
    notes : tuple of str
        What was noted of it in plantings and picks, each once, in the order of the days.
    """

    crop: str
    variety: str
    bed: str | None
    year: int
    planted: pd.Timestamp
    set_out: bool
    plantings: int
    covered: bool
    counted_from: pd.Timestamp
    plants: float
    row_m: float
    area_m2: float
    first_day: pd.Timestamp
    heat: Array
    mass: Array
    count: Array
    graded: Array
    looked: Flags
    hours: float
    hours_kg: float
    fruit_kg: float
    fruit_error: float
    guessed: float
    weighed: float
    weighed_kg: float
    rows_both: tuple[Array, Array]
    counted: bool
    notes: tuple[str, ...]

    @property
    def dates(self) -> pd.DatetimeIndex:
        """The days of the arrays."""
        return pd.date_range(self.first_day, periods=len(self.mass))


def seasons_with_picks(garden: Garden) -> list[int]:
    """Return the seasons that a sowing or a perennial bore in, by the year they begin in."""
    return sorted({part.season for part in _parts(garden)})


def units_of(garden: Garden, season: int) -> tuple[Unit, ...]:
    """Return every planting that bore in a season, sorted by crop, variety and day.

    A sowing belongs whole to the season of its first pick, what is picked of it after that
    season's end included: kale sown in July and picked until March is one planting of one season.
    Perennials bear anew in every season.

    Parameters
    ----------
    garden : Garden
        Frames and settings.
    season : int
        Season, by the year it begins in.

    Returns
    -------
    tuple of Unit
        Empty where nothing was picked.
    """
    start = garden.seasons.span(season).start
    return tuple(_unit(garden, part, start) for part in _parts(garden) if part.season == season)


def picked_within(units: Sequence[Unit], start: pd.Timestamp, end: pd.Timestamp) -> list[Unit]:
    """Return what was picked of some plantings between two days, as units of those days only."""
    found = []
    for unit in units:
        inside = slice(
            max(int((start - unit.first_day).days), 0), max(int((end - unit.first_day).days) + 1, 0)
        )
        if not unit.looked[inside].any():
            continue
        found.append(
            replace(
                unit,
                first_day=unit.first_day + pd.Timedelta(days=inside.start),
                heat=unit.heat[inside],
                mass=unit.mass[inside],
                count=unit.count[inside],
                graded=unit.graded[:, inside],
                looked=unit.looked[inside],
            )
        )
    return found


class _Part(NamedTuple):
    """The picks of one planting and its rows of the plantings."""

    season: int
    crop: str
    variety: str
    picks: pd.DataFrame
    plantings: pd.DataFrame


def made_for(garden: Garden, plantings: pd.DataFrame, path: HeatPath | None = None) -> pd.Series:
    """Return the season that each planting was made for: the one it first bears in.

    By the almanac's usual heat to the first pick and the weather: garlic set in autumn is for the
    next season, a fast crop sown in August for this one.

    Parameters
    ----------
    garden : Garden
        Weather record and settings.
    plantings : pandas.DataFrame
        Rows of the plantings.
    path : HeatPath, optional
        Heat of the garden, where it was gathered already.

    Returns
    -------
    pandas.Series
        Seasons by the year they begin in; missing where no date was written down. Perennials:
        the season they were planted in.
    """
    path = heat_path(garden) if path is None else path
    found = pd.Series(pd.NA, index=plantings.index, dtype="Int64")
    seasons = garden.seasons
    for place, row in zip(plantings.index, plantings.to_dict("records"), strict=True):
        if pd.isna(row["date"]) or path is None:
            continue
        facts = crop_facts(str(row["crop"]), garden.household)
        found[place] = _made_for(
            facts, row["date"], str(row["how"]), path, seasons, covered=not pd.isna(row["cover"])
        )
    return found


def season_of_each(garden: Garden) -> pd.Series:
    """Return the season of every planting: the one it bore in, else the one it was made for.

    Missing where no date was written down.
    """
    found = made_for(garden, garden.plantings)
    for part in _parts(garden):
        dated = part.plantings.index[part.plantings["date"].notna()]
        if not crop_facts(part.crop, garden.household).perennial:
            found[dated] = part.season
    return found


def _made_for(
    facts: CropFacts,
    day: pd.Timestamp,
    how: str,
    path: HeatPath,
    seasons: Seasons,
    *,
    covered: bool,
) -> int:
    season = seasons.of(day)
    if facts.perennial:
        return season
    at = int((day - path.first).days)
    total, usual = path.total(facts, covered=covered), usual_heat(facts, how)
    if facts.heat_from_new_year:
        begin = int((seasons.span(season).start - path.first).days) - 1
        gathered = total[at] - (total[begin] if begin >= 0 else 0.0)
        return season + int(gathered >= ABLE * usual)
    ready = np.flatnonzero(total[at : at + STANDING_DAYS] - total[at] >= usual)
    if not len(ready):
        return season
    if facts.tender and not covered and path.freezes(at, at + int(ready[0]), facts.kill_c):
        return season
    return seasons.of(day + pd.Timedelta(days=int(ready[0])))


@lru_cache(maxsize=1)
def mostly_unnamed(garden: Garden) -> frozenset[tuple[str, int]]:
    """Return the crops and seasons in which half of the picks or more name no variety.

    The few that do say nothing of what their varieties bring, so there all picks are those of all
    plants of the crop. Where a planting without a name stands, picks without one are its own.

    Parameters
    ----------
    garden : Garden
        Frames and settings.
    """
    picks = garden.picks[(garden.picks["count"] > 0) | (garden.picks["mass_kg"] > 0)]
    nameless = garden.plantings.loc[garden.plantings["variety"] == UNNAMED, "crop"]
    picks = picks[~picks["crop"].isin(nameless)]
    if picks.empty:
        return frozenset()
    by = [picks["crop"].astype(str), garden.seasons.of_each(picks["date"]).rename("season")]
    share = (picks["variety"] == UNNAMED).groupby(by).mean()
    return frozenset(
        (str(crop), int(season)) for crop, season in share.index[share.between(0.5, 1.0)]
    )


@lru_cache(maxsize=1)
def _parts(garden: Garden) -> tuple[_Part, ...]:
    """Deal the picks of the whole log out to the sowings that can have borne them.

    A plan asks it of one garden a dozen times.
    """
    path = heat_path(garden)
    if path is None:
        return ()
    planted = garden.plantings.sort_values(["date", "bed", "how", "plants"], kind="stable")
    planted = planted.assign(season=made_for(garden, planted, path))
    of_variety = dict(list(planted.groupby(["crop", "variety"], sort=False)))
    last = garden.last_day
    found = []
    picks = garden.picks.sort_values(["date", "bed", "grade", "mass_kg"], kind="stable")
    seasons = garden.seasons.of_each(picks["date"])
    joined = [pair in mostly_unnamed(garden) for pair in zip(picks["crop"], seasons, strict=True)]
    picks["variety"] = picks["variety"].mask(np.array(joined, dtype=bool), UNNAMED)
    for key, rows in picks.groupby(["crop", "variety"], sort=True):
        facts = crop_facts(str(key[0]), garden.household)
        mine = of_variety.get(key, planted.iloc[:0])
        shares = [(rows, mine)]
        if key[1] == UNNAMED and mine.empty:
            # Where a season's picks name no variety, they are those of all its plants.
            of_crop = picks["crop"] == key[0]
            named = garden.seasons.of_each(
                picks.loc[of_crop & (picks["variety"] != UNNAMED), "date"]
            )
            told = garden.seasons.of_each(rows["date"]).isin(named)
            shares = [(rows[told], mine), (rows[~told], planted[planted["crop"] == key[0]])]
        for share, beds in shares:
            if share.empty:
                continue
            for season, own, sown in _dealt(facts, share, beds, path, garden.seasons, last):
                found.append(_Part(season, str(key[0]), str(key[1]), own, sown))
    return tuple(found)


def _dealt(
    facts: CropFacts,
    picks: pd.DataFrame,
    plantings: pd.DataFrame,
    path: HeatPath,
    seasons: Seasons,
    last: pd.Timestamp | None,
) -> Iterator[tuple[int, pd.DataFrame, pd.DataFrame]]:
    """Yield season, picks and plantings of each planting of one variety that bore."""
    day: Index = (picks["date"] - path.first).dt.days.to_numpy(np.int64).astype(np.int64)
    sown = (plantings["date"] - path.first).dt.days.to_numpy(float)
    sowings = [
        Sowing(
            None if np.isnan(at) else int(at),
            None if pd.isna(row["removed"]) else int((row["removed"] - path.first).days),
            str(row["how"]),
            None if pd.isna(row["bed"]) else str(row["bed"]),
        )
        for at, row in zip(sown, plantings.to_dict("records"), strict=True)
    ]
    start = np.nan_to_num(sown).astype(np.int64)
    covered = plantings["cover"].notna().to_numpy(bool)
    heat = path.since(facts, start[None, :], day[:, None], covered)
    beds = [None if pd.isna(bed) else str(bed) for bed in picks["bed"]]
    can = can_bear(sowings, facts, day, heat, beds)
    bore = ((picks["count"] > 0) | (picks["mass_kg"] > 0)).to_numpy(bool)
    season_of_pick = seasons.of_each(picks["date"]).to_numpy(np.int64)
    yearly = np.isnan(sown) | facts.perennial
    made = plantings["season"].to_numpy(float, na_value=np.nan)
    made = np.where(yearly, -np.inf, made)
    # Of sowings made for different seasons the later one bears: one sows anew since the old one is
    # done.
    latest = np.where(can, made, -np.inf).max(axis=1, initial=-np.inf, keepdims=True)
    can &= made >= latest
    group = _groups(can, bore)
    # What bears year after year, and what nobody planted, is one planting a season.
    each = ~can.any(axis=1) | (can & yearly).any(axis=1)
    key = np.where(each, season_of_pick, -1)
    parts = sorted({*zip(group.tolist(), key.tolist(), strict=True)})
    chosen = [(group == one) & (key == season) for one, season in parts]
    bearing = [can[rows].any(axis=0) for rows in chosen]
    idle = ~(can & bore[:, None]).any(axis=0) & np.isfinite(made)
    for place in np.flatnonzero(idle & _had_its_time(facts, start, path, last, covered)):
        # It brought nothing in its time: a sowing that failed is part of what was planted.
        same = [
            k
            for k, mine in enumerate(bearing)
            if (made[mine] == made[place]).any() and picks["bed"][chosen[k]].isna().any()
        ]
        if same:
            nearest = min(same, key=lambda k: abs(sown[bearing[k]] - sown[place]).min())
            bearing[nearest][place] = True
    for rows, mine in zip(chosen, bearing, strict=True):
        first = np.flatnonzero(rows & bore) if (rows & bore).any() else np.flatnonzero(rows)
        begins = season_of_pick[first[np.argmin(day[first])]]
        yield int(begins), picks[rows], plantings[mine]


def _had_its_time(
    facts: CropFacts, start: Index, path: HeatPath, last: pd.Timestamp | None, covered: Flags
) -> Flags:
    """Return which sowings had heat enough to have borne and to be done by the log's last day."""
    if last is None:
        return np.zeros(len(start), dtype=bool)
    usual = max(facts.dd_to_first_pick, facts.dd_to_first_pick_set_out) + facts.dd_picking
    end = np.full(len(start), int((last - path.first).days))
    return np.asarray(path.since(facts, start, end, covered) >= usual)


def _groups(can: Flags, bore: Flags) -> Index:
    """Return a number for each pick, the same for picks that one sowing can have borne."""
    number = can.shape[1]
    root = np.arange(number)
    for row in np.unique(can[bore], axis=0) if bore.any() else ():
        own = np.flatnonzero(row)
        if len(own) > 1:
            joined = np.isin(root, root[own])
            root[joined] = root[own].min()
    first = np.argmax(can, axis=1) if number else np.zeros(len(can), dtype=np.int64)
    return np.where(can.any(axis=1), root[first] if number else 0, -1).astype(np.int64)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Fruit:
    """Weight of a good fruit, the error of its logarithm, and how much heavier a big one is."""

    kg: float
    error: float
    oversize: float


def _fruit_of(picks: pd.DataFrame, crop: str, variety: str, facts: CropFacts) -> _Fruit:
    """Weight of a fruit: rows with both, shrunk to the crop's (10 fruits) and the almanac's (5)."""
    both = picks[(picks["crop"] == crop) & (picks["count"] > 0) & (picks["mass_kg"] > 0)]
    big = (both["grade"] == "oversize").to_numpy()
    number, kg = both["count"].to_numpy(float), both["mass_kg"].to_numpy(float)
    own = (both["variety"] == variety).to_numpy() & ~big
    crop_fruits, own_fruits = float(number[~big].sum()), float(number[own].sum())
    of_crop = (kg[~big].sum() + 5 * facts.fruit_kg) / (crop_fruits + 5)
    mean = float((kg[own].sum() + 10 * of_crop) / (own_fruits + 10))
    # What is left of not knowing the crop's fruit and the variety's: the almanac's range is that of
    # all its varieties.
    apart = max(facts.fruit_log_sd**2 - VARIETY_FRUIT_LOG_SD**2, 0.01)
    crop_sd = float(np.sqrt(apart)) * 5 / (crop_fruits + 5)
    error = float(np.hypot(VARIETY_FRUIT_LOG_SD, crop_sd)) * 10 / (own_fruits + 10)
    heavier = (kg[big].sum() / of_crop + 10 * OVERSIZE_WEIGHT) / (number[big].sum() + 10)
    return _Fruit(kg=mean, error=error, oversize=float(max(heavier, 1.0)))


def _unit(garden: Garden, part: _Part, start: pd.Timestamp) -> Unit:
    rows, plantings = part.picks, part.plantings
    facts = crop_facts(part.crop, garden.household)
    fruit = _fruit_of(garden.picks, part.crop, part.variety, facts)
    planted: Any = plantings["date"].min() if len(plantings) else pd.NaT
    first_pick, last_pick = rows["date"].min(), rows["date"].max()
    # Beside plants without a date one that is younger than the first pick dates nothing.
    known = not pd.isna(planted) and planted <= first_pick
    yearly = facts.perennial or facts.heat_from_new_year
    zero = start if yearly or not known else pd.Timestamp(planted)
    beds = plantings["bed"].dropna().unique()
    first_day = min(zero, first_pick)
    days = int((last_pick - first_day).days) + 1
    covered = bool(len(plantings)) and bool(plantings["cover"].notna().all())
    tmin, tmax, _ = temperatures(garden.weather, first_day, last_pick)
    heat = np.cumsum(daily_heat(facts, *at_the_plants(garden, tmin, tmax, covered=covered)))
    before = int((zero - first_day).days)
    heat = heat - (heat[before - 1] if before > 0 else 0.0)

    at = (rows["date"] - first_day).dt.days.to_numpy()
    count, kg = rows["count"].to_numpy(float), rows["mass_kg"].to_numpy(float)
    each = np.where(rows["grade"] == "oversize", fruit.oversize, 1.0) * fruit.kg
    full_kg = np.where(np.isnan(kg), count * each, kg)
    full_count = np.where(np.isnan(count), kg / each, count)
    total = float(np.nansum(full_kg))
    mass, number = np.zeros(days), np.zeros(days)
    np.add.at(mass, at, np.nan_to_num(full_kg))
    np.add.at(number, at, np.nan_to_num(full_count))
    graded = np.zeros((len(GRADES), days))
    for place, grade in enumerate(GRADES):
        mine = (rows["grade"] == grade).to_numpy()
        np.add.at(graded[place], at[mine], np.nan_to_num(full_kg[mine]))
    looked = np.zeros(days, bool)
    looked[at] = True
    hours = rows["hours"].to_numpy(float)
    timed = np.isfinite(hours) & np.isfinite(full_kg)
    both = ((count > 0) & (kg > 0)) & (rows["grade"] == "good").to_numpy()
    filled = sizes(plantings, facts)
    return Unit(
        crop=facts.crop,
        variety=str(rows["variety"].iloc[0]),
        bed=str(beds[0]) if len(beds) == 1 else None,
        year=part.season,
        planted=pd.Timestamp(planted) if known else pd.NaT,  # type: ignore[arg-type]
        set_out=bool(len(plantings) and (plantings["how"] == "set_out").mean() >= 0.5),
        plantings=len(plantings),
        covered=covered,
        counted_from=zero,
        plants=filled["plants"],
        row_m=filled["row_m"],
        area_m2=filled["area_m2"],
        first_day=first_day,
        heat=heat,
        mass=mass,
        count=number,
        graded=graded,
        looked=looked,
        hours=float(hours[timed].sum()) if timed.any() else float("nan"),
        hours_kg=float(full_kg[timed].sum()),
        fruit_kg=fruit.kg,
        fruit_error=fruit.error,
        guessed=float(np.nansum(full_kg[np.isnan(kg)])) / total if total > 0 else 0.0,
        weighed=float(count[both].sum()),
        weighed_kg=float(kg[both].sum()),
        rows_both=(count[both], kg[both]),
        counted=_counted(count, full_kg),
        notes=_notes(plantings, rows),
    )


def _notes(plantings: pd.DataFrame, picks: pd.DataFrame) -> tuple[str, ...]:
    noted = [*plantings["note"], *picks.sort_values("date", kind="stable")["note"]]
    return tuple(dict.fromkeys(str(one).strip() for one in noted if not pd.isna(one)))


def _counted(count: Array, kg: Array) -> bool:
    # "Looked and found none" is a count of nothing, whatever else is written down.
    found = (count > 0) | (kg > 0)
    return bool(found.any() and np.mean(np.isfinite(count[found])) >= 0.5)


def sizes(plantings: pd.DataFrame, facts: CropFacts) -> Mapping[str, float]:
    """Return plants, row and area of some plantings together.

    A size not written down follows from the others by the crop's spacing; NaN where none is.
    """
    plants = plantings["plants"].to_numpy(float)
    row, area = plantings["row_m"].to_numpy(float), plantings["area_m2"].to_numpy(float)
    plants = np.where(np.isnan(plants), row * facts.plants_per_m_row, plants)
    plants = np.where(np.isnan(plants), area / facts.spacing_m2, plants)
    row = np.where(np.isnan(row), plants / facts.plants_per_m_row, row)
    area = np.where(np.isnan(area), row * facts.plants_per_m_row * facts.spacing_m2, area)

    def total(values: Array) -> float:
        # One planting of unknown size makes the whole unknown.
        return float(values.sum()) if len(values) and values.sum() > 0 else float("nan")

    return {"plants": total(plants), "row_m": total(row), "area_m2": total(area)}
