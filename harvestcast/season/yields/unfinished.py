"""A season whose log is not at its end: what may still be said of it, and what may not."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.season.messages import Said, said
from harvestcast.season.yields.plantings import Unit

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

WHOLE_AFTER_DAYS = 279
"""Days into the season (6 October) after which a log counts as whole; the household's first frost
where that is earlier. Common practice, no source."""
DONE_AFTER_DAYS = 21
"""Days without a pick, on a log that goes on, after which a variety counts as done bearing."""
AGE_APART_DAYS = 14
"""Days between the plantings of a crop beyond which they count as of very different age."""
SHARES: frozenset[str] = frozenset({"oversize_share", "damaged_share"})
"""Measures that plantings of one age may be compared on at any time."""
EARLY_KNOWN: frozenset[str] = frozenset({"first_pick_days", "first_pick_dd", "pick_hours_per_kg"})
"""Measures that the rest of the season does not change."""


def unfinished_since(garden: Garden, year: int) -> pd.Timestamp | None:
    """Return the last day of the log where the season is not over by then; else None.

    A season is over once the log reaches :data:`WHOLE_AFTER_DAYS` or the first frost or goes on in
    a later season, once all that was planted in it is removed, or once the weather record shows
    that the garden's autumn went by without a pick (:data:`DONE_AFTER_DAYS`). The one rule for what
    is said of a season and for what next season's plan learns from.
    """
    last = garden.last_day
    start, end = garden.seasons.span(year)
    if last is None or last >= end:
        return None
    over = start + pd.Timedelta(days=WHOLE_AFTER_DAYS)
    planted = garden.plantings[garden.plantings["date"].between(start, end)]
    if garden.household.first_frost and not planted["cover"].notna().any():
        over = min(over, garden.seasons.day(garden.household.first_frost, year))
    if last >= over or _all_removed(garden, start, end):
        return None
    weather = garden.weather
    seen = weather.loc[(weather["kind"] == "observed") & (weather["date"] < end), "date"].max()
    quiet = last + pd.Timedelta(days=DONE_AFTER_DAYS)
    return last if pd.isna(seen) or seen < max(over, quiet) else None


def _all_removed(garden: Garden, start: pd.Timestamp, end: pd.Timestamp) -> bool:
    """Whether everything planted in a season is written down as removed in it."""
    plantings = garden.plantings
    mine = plantings[(plantings["date"] >= start) & (plantings["date"] < end)]
    return not mine.empty and bool((mine["removed"] < end).all())


def still_bearing(units: Sequence[Unit], last: pd.Timestamp) -> bool:
    """Return whether any of some plantings may still bring fruit after the last day of the log."""
    for unit in units:
        found = np.flatnonzero(unit.mass > 0)
        if not len(found) or (last - unit.dates[int(found[-1])]).days <= DONE_AFTER_DAYS:
            return True
    return False


def without_verdicts(
    told: pd.DataFrame, units: Mapping[str, Sequence[Unit]], last: pd.Timestamp
) -> pd.DataFrame:
    """Take the verdicts back that the rest of the season may turn round.

    Parameters
    ----------
    told : pandas.DataFrame
        Table TOLD_APART.
    units : mapping of str to sequence of Unit
        Plantings of the season, by crop.
    last : Timestamp
        Last day of the log.

    Returns
    -------
    pandas.DataFrame
        Pairs with a variety that may still bear are told apart only by measures that are settled
        already, and by shares where both are of about one age; the probabilities stay as they are.
    """
    told = told.reset_index(drop=True)
    apart, codes, says = (told[name].to_list() for name in ("told_apart", "code", "says"))
    for place, row in enumerate(told.to_dict("records")):
        first, second, measure = str(row["variety"]), str(row["other"]), str(row["measure"])
        mine = [unit for unit in units[str(row["crop"])] if unit.variety in (first, second)]
        settled = measure in EARLY_KNOWN or not still_bearing(mine, last)
        if settled or not row["told_apart"]:
            continue
        if measure in SHARES and not ages_apart(mine):
            continue
        line = said("told.no_verdict", first=first, other=second, last=last)
        apart[place], codes[place], says[place] = False, line.code, line.text
    return told.assign(
        told_apart=np.array(apart, dtype=bool),
        code=pd.Series(codes, index=told.index, dtype=told["code"].dtype),
        says=pd.Series(says, index=told.index, dtype=told["says"].dtype),
    )


def ages_apart(units: Sequence[Unit]) -> bool:
    """Return whether plantings of a crop are of very different age."""
    days = [unit.planted for unit in units if not pd.isna(unit.planted)]
    return bool(days) and (max(days) - min(days)).days > AGE_APART_DAYS


def unfinished_lines(
    units: Mapping[str, Sequence[Unit]], season: str, last: pd.Timestamp
) -> list[Said]:
    """Return what has to be read before any figure of an unfinished season."""
    bearing = sorted(crop for crop, mine in units.items() if still_bearing(mine, last))
    apart = []
    for crop in bearing:
        if len({unit.variety for unit in units[crop]}) > 1 and ages_apart(units[crop]):
            days = [unit.planted for unit in units[crop] if not pd.isna(unit.planted)]
            apart.append((crop, min(days), max(days)))
    lines = [said("review.unfinished", season=season, last=last, bearing=bearing)]
    return [*lines, said("review.ages_apart", crops=apart)] if apart else lines
