"""What was grown lately: the plantings that next season's options are made from."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.season.yields.plantings import UNNAMED, season_span

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

AUTUMN_DAYS = 92
"""Days before the year's end from which on a planting belongs to the season after: garlic and the
like are planted in autumn for the next summer."""


def planted_for(dates: pd.Series) -> pd.Series:
    """Return the season that each planting was made for: of one in autumn the next year's."""
    return (dates + pd.Timedelta(days=AUTUMN_DAYS)).dt.year


def latest_plantings(garden: Garden, year: int) -> pd.DataFrame:
    """Return the plantings that the season ``year`` is planned from.

    Parameters
    ----------
    garden : Garden
        The garden.
    year : int
        Season to plan; nothing planted in it is read.

    Returns
    -------
    pandas.DataFrame
        Rows of the plantings with ``season``, the season they were made for (missing for old
        perennials and where no date was written down), and ``now``, whether they are part of the
        latest layout. Of every crop that was planted in the last two seasons those of the later
        one, of varieties that were picked in the last season but have no row in it those of the
        one before, and the perennials that stand.
    """
    rows = garden.plantings
    rows = rows[rows["date"].isna() | (rows["date"] < pd.Timestamp(year, 1, 1))]
    season = planted_for(rows["date"]).astype("Int64")
    perennial = np.array(
        [crop_facts(str(crop), garden.household).perennial for crop in rows["crop"]], dtype=bool
    )
    rows = rows.assign(season=season.mask(perennial), now=True)
    standing = rows[perennial & rows["removed"].isna()]
    annual = rows[~perennial]
    last = last_season(garden, year)
    if last is None:
        return pd.concat([annual, standing]).sort_index()
    dated = annual[annual["season"].notna() & (annual["season"] >= last - 1)]
    latest = dated.groupby("crop")["season"].transform("max")
    kept = (dated["season"] == latest) | (
        # What was planted in autumn for the season to come does not push out what was planted in
        # spring; what was planted the autumn before does the same work as this autumn's.
        (latest == year) & (dated["season"] == last) & (dated["date"].dt.year == last)
    )
    has_row = set(_pairs(dated[dated["season"] >= last]))
    picked = _picked_since(garden, last, year)
    loose = np.array([p not in has_row and p in picked for p in _pairs(dated)], dtype=bool)
    dated = dated[kept.to_numpy(bool) | loose]
    dated = dated.assign(now=(dated["season"] >= last).to_numpy(bool))
    # Without a date nobody knows the season: such rows count where the crop has no other.
    undated = annual[annual["date"].isna() & annual["removed"].isna()]
    undated = undated[~undated["crop"].isin(set(dated["crop"]))]
    return pd.concat([dated, undated, standing]).sort_index()


def last_season(garden: Garden, year: int) -> int | None:
    """Return the last season before ``year`` with a dated planting of a crop that is replanted."""
    rows = garden.plantings
    rows = rows[rows["date"] < pd.Timestamp(year, 1, 1)]
    seasons = [
        int(season)
        for crop, season in zip(rows["crop"], planted_for(rows["date"]), strict=True)
        if not crop_facts(str(crop), garden.household).perennial
    ]
    before = [season for season in seasons if season < year]
    return max(before or seasons, default=None)


def _pairs(rows: pd.DataFrame) -> list[tuple[str, str]]:
    return [(str(c), str(v)) for c, v in zip(rows["crop"], rows["variety"], strict=True)]


def _picked_since(garden: Garden, season: int, year: int) -> set[tuple[str, str]]:
    """Return crops and varieties picked from the beginning of a season on, before ``year``."""
    picks = garden.picks
    days = picks["date"]
    mine = picks[(days >= season_span(garden, season)[0]) & (days < pd.Timestamp(year, 1, 1))]
    return set(_pairs(mine))


def grown_lines(garden: Garden, year: int, planned: Sequence[str]) -> list[str]:
    """Say which crops are planned from an older planting, and which lack one and are left out.

    Parameters
    ----------
    garden : Garden
        The garden.
    year : int
        Season to plan.
    planned : sequence of str
        Crops that the plan may plant, or that stand.
    """
    lines: list[str] = []
    last = last_season(garden, year)
    rows = latest_plantings(garden, year)
    given_up = {
        name for name, own in garden.household.crops.items() if own.eat_kg_per_person_week == 0
    }
    older = sorted((set(rows.loc[~rows["now"], "crop"].astype(str)) & set(planned)) - given_up)
    us = garden.household.units == "us"
    key = "eat_lb_per_person_week" if us else "eat_kg_per_person_week"
    if older and last is not None:
        lines.append(
            f"Planted in {last - 1}, without a row of {last} in the plantings, and planned again: "
            f"{', '.join(older)}; this year's beds are counted without them. Of a crop that is "
            f'wanted no more write {key} = 0 under [crops."{older[0]}"] in garden.toml.'
        )
    since = _picked_since(garden, last - 1 if last is not None else year - 2, year)
    known = set(garden.plantings["crop"].astype(str)) | set(planned)
    rows_of = set(_pairs(garden.plantings))
    missing = sorted({crop for crop, _ in since} - known)
    # A variety that stands under another crop in the plantings, say: nothing is learned from it.
    missing += sorted(
        f"{crop} {variety}"
        for crop, variety in since - rows_of
        if crop in known and variety != UNNAMED
    )
    if missing:
        lines.append(
            "Left out, because they were picked but no planting of them is written down, so that "
            f"nobody knows what a plant brings: {', '.join(missing)}. A row with the number of "
            "plants in the plantings brings them in."
        )
    return lines
