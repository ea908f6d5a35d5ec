"""What could be planted next season: every variety on several dates, its area and its limits."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.errors import InputError
from harvestcast.growth.crops.almanac import CropFacts, crop_facts
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.season.messages import Said, refused, said
from harvestcast.season.yields.curves import least_days
from harvestcast.season.yields.plantings import UNNAMED, season_of_each, sizes
from harvestcast.words.crops import crop_word

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


# Days from the last spring frost to planting, where the log gives no date: tender crops sown or
# set out after it, hardy ones before it. Common practice, no source.
AFTER_LAST_FROST = {("tender", "sown"): 7, ("tender", "set_out"): 10,
                    ("hardy", "sown"): -28, ("hardy", "set_out"): -14}  # fmt: skip
AFTER_FIRST_FROST = 10
"""Days from the first autumn frost to setting garlic: one to two weeks (University of Minnesota
Extension, Growing garlic, as reprinted at thatsdays.com)."""
FROSTS = {"north": ("05-01", "10-05"), "south": ("11-01", "04-05")}
"""Last spring frost and first autumn frost where the household gives none. Planning estimate."""
APART_DAYS = {"determinate": 18, "cut_again": 18, "indeterminate": 21}
"""Days between two successive sowings, by habit. Common practice, no source."""
STEP_M2 = 0.15
"""Plants are planned in whole steps of about this bed area: nobody counts single pea seeds."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantingOption:
    """One variety on one date.

    Parameters
    ----------
    crop, variety, how : str
        As in the plantings.
    date : Timestamp
        Day of sowing or setting out; 1 January of what stands already.
    area_m2, row_m : float
        Of one plant. [m2, m]
    step : int
        Plants are whole multiples of it.
    low, high : float
        Fewest and most plants; both the present number where it stands already.
    this_year : float
        Plants of this year's layout on this date.
    since : Timestamp or None
        Of perennials that stand already the day they were planted, NaT where it was not written
        down; None for all else.
    basis : str
        Code of what its yield rests on (:mod:`harvestcast.season.messages`).
    covered : bool
        Whether it stands under cover; only what stood there before may go there.
    """

    crop: str
    variety: str
    how: str
    date: pd.Timestamp
    area_m2: float
    row_m: float
    step: int
    low: float
    high: float
    this_year: float
    since: pd.Timestamp | None
    basis: str
    covered: bool = False

    @property
    def standing(self) -> bool:
        """Whether it stands already (perennials)."""
        return self.since is not None


def planting_options(
    garden: Garden,
    *,
    year: int,
    crops: Iterable[str] = (),
    sowings: int = 3,
    limits: Mapping[str, float] | None = None,
) -> tuple[PlantingOption, ...]:
    """Return everything that could be planted.

    Parameters
    ----------
    garden : Garden
        The garden; its latest season's plantings are this year's layout.
    year : int
        The coming season.
    crops : iterable of str
        Crops wanted beside those planted (for targets of products, say).
    sowings : int
        Dates per variety.
    limits : mapping of str to float, optional
        Most plants of a crop ("tomato") or a variety ("tomato/name").

    Returns
    -------
    tuple of PlantingOption
        Sorted by crop, variety and date.

    Raises
    ------
    InputError
        Where a limit names nothing that could be planted, or is no number of plants.
    """
    household = garden.household
    found: list[PlantingOption] = []
    latest = latest_plantings(garden, year)
    most = _read_limits(limits or {}, latest, sorted(crops))
    logged = set(zip(garden.picks["crop"], garden.picks["variety"], strict=True))
    latest = latest.assign(covered=latest["cover"].notna())
    for (crop, variety, _), rows in latest.groupby(["crop", "variety", "covered"], sort=True):
        facts = crop_facts(str(crop), household)
        high = min(most.get((str(crop), one), np.inf) for one in ("", str(variety)))
        basis = _basis(str(crop), str(variety), logged, facts)
        found.extend(_of_variety(garden, facts, str(variety), rows, year, sowings, high, basis))
    for crop in sorted(set(crops) - set(latest["crop"].astype(str))):
        facts = crop_facts(crop, household)
        basis = _basis(crop, UNNAMED, logged, facts)
        high = most.get((crop, ""), np.inf)
        found.extend(_from_almanac(garden, facts, year, sowings, high, basis))
    return tuple(sorted(found, key=lambda one: (one.crop, one.variety, one.date, one.covered)))


def _of_variety(
    garden: Garden,
    facts: CropFacts,
    variety: str,
    rows: pd.DataFrame,
    year: int,
    sowings: int,
    high: float,
    basis: str,
) -> list[PlantingOption]:
    size = sizes(rows, facts)
    plants = size["plants"]
    per_area = size["area_m2"] / plants if plants > 0 else facts.spacing_m2
    per_row = size["row_m"] / plants if plants > 0 else 1 / facts.plants_per_m_row
    how = "set_out" if (rows["how"] == "set_out").mean() >= 0.5 else "sown"
    covered = bool(rows["covered"].all())
    if facts.perennial:
        number = plants if np.isfinite(plants) else 1.0
        return [
            _option(facts, variety, how, garden.seasons.span(year).start, per_area, per_row,
                    (number, number), number, basis, since=rows["date"].min(), covered=covered)
        ]  # fmt: skip
    planted: dict[pd.Timestamp, float] = {}
    if rows["date"].isna().all():
        return _from_almanac(
            garden, facts, year, sowings, high, basis, variety=variety, covered=covered
        )
    for place, date in enumerate(rows["date"]):
        number = sizes(rows.iloc[[place]], facts)["plants"]
        if not isinstance(date, pd.Timestamp) or not number > 0:
            continue
        day = _same_day(date, year, int(rows["season"].iloc[place]))
        planted[day] = planted.get(day, 0.0) + number
    if not planted:
        return _from_almanac(
            garden, facts, year, sowings, high, basis, variety=variety, covered=covered
        )
    # What bears until frost and is raised indoors is set out once, or as often as in the log.
    further = 1 if how == "set_out" and facts.habit == "indeterminate" else sowings
    latest = _latest(garden, facts, year, how, covered=covered)
    dates = _dates(sorted(planted), facts, further, latest)
    return [
        _option(facts, variety, how, day, per_area, per_row, (0.0, high),
                planted.get(day, 0.0) if rows["now"].all() else 0.0, basis, covered=covered)
        for day in dates
    ]  # fmt: skip


def option_of(garden: Garden, planting: pd.Series, season: int) -> PlantingOption:
    """Return a dated row of the plantings as it stands there.

    Parameters
    ----------
    garden : Garden
        The garden.
    planting : pandas.Series
        A row of its plantings.
    season : int
        The season it bears in.

    Returns
    -------
    PlantingOption
        ``this_year`` has its plants; 0 where their number is not known.
    """
    facts = crop_facts(str(planting["crop"]), garden.household)
    size = sizes(planting.to_frame().T, facts)
    plants = float(np.nan_to_num(size["plants"]))
    area = size["area_m2"] / plants if plants > 0 else facts.spacing_m2
    how = "set_out" if planting["how"] == "set_out" else "sown"
    logged = set(zip(garden.picks["crop"], garden.picks["variety"], strict=True))
    variety, since = str(planting["variety"]), None
    day = planting["date"]
    if facts.perennial:
        since, day = day, garden.seasons.span(season).start
    return _option(
        facts, variety, how, day, area, 1 / facts.plants_per_m_row, (plants, plants), plants,
        _basis(facts.crop, variety, logged, facts), since=since,
        covered=not pd.isna(planting["cover"]),
    )  # fmt: skip


def planted_in(garden: Garden, options: Sequence[PlantingOption], season: int) -> Array:
    """Return the plants that a past season had of each option, shape (options,).

    Every planting counts on the date of its variety that is nearest in the year; what stands
    counts as it stands.
    """
    plants = np.array([one.this_year if one.standing else 0.0 for one in options])
    rows = garden.plantings
    mine = rows[(season_of_each(garden) == season).fillna(False).to_numpy(bool)]
    for place, (crop, variety, date, cover) in enumerate(
        zip(mine["crop"], mine["variety"], mine["date"], mine["cover"], strict=True)
    ):
        kind = crop, variety, not pd.isna(cover)
        here = [i for i, o in enumerate(options) if (o.crop, o.variety, o.covered) == kind]
        number = sizes(mine.iloc[[place]], crop_facts(str(crop), garden.household))["plants"]
        if not here or options[here[0]].standing or not number > 0:
            continue
        apart = [abs((options[i].date - date).days % 365 - 182) for i in here]
        plants[here[int(np.argmax(apart))]] += number
    return plants


def _same_day(day: pd.Timestamp, year: int, season: int) -> pd.Timestamp:
    """Move a planting to the coming season; one made before its season stays before it."""
    return day + pd.DateOffset(years=year - season)


def _latest(
    garden: Garden, facts: CropFacts, year: int, how: str, *, covered: bool
) -> pd.Timestamp:
    """Return the day before which a crop must be planted to bear in a season at all."""
    frost = garden.household.first_frost
    if facts.tender and frost is not None and not covered:
        first_pick = least_days(facts, set_out=how == "set_out")
        return garden.seasons.day(frost, year) - pd.Timedelta(days=first_pick)
    return garden.seasons.span(year).end


def _dates(
    own: list[pd.Timestamp],
    facts: CropFacts,
    sowings: int,
    latest: pd.Timestamp,
) -> list[pd.Timestamp]:
    """Own dates, and further ones between and after them up to the number wanted.

    A crop that is dug or cut once and stored gets no successions; nor is one planted so late that
    frost or the season's end comes before its first possible pick.
    """
    if facts.habit == "once_over":
        return [day.normalize() for day in own]
    apart = pd.Timedelta(days=APART_DAYS.get(facts.habit, 18))
    dates = list(own)
    while len(dates) < sowings:
        gaps = [(later - day) for day, later in pairwise(dates)]
        wide = [i for i, gap in enumerate(gaps) if gap >= 2 * apart]
        if wide:
            dates.insert(wide[0] + 1, dates[wide[0]] + gaps[wide[0]] // 2)
            continue
        further = dates[-1] + apart
        if further >= latest:
            break
        dates.append(further)
    return [day.normalize() for day in dates]


def _from_almanac(
    garden: Garden,
    facts: CropFacts,
    year: int,
    sowings: int,
    high: float,
    basis: str,
    variety: str = UNNAMED,
    *,
    covered: bool = False,
) -> list[PlantingOption]:
    how = "set_out" if facts.usually_set_out else "sown"
    sowings = 1 if how == "set_out" else sowings
    first = _first_date(garden, facts, year, how)
    if facts.perennial:
        # New perennials bear in later years: nothing to plan on next season.
        return []
    return [
        _option(facts, variety, how, day, facts.spacing_m2, 1 / facts.plants_per_m_row,
                (0.0, high), 0.0, basis, covered=covered)
        for day in _dates(
            [first], facts, sowings, _latest(garden, facts, year, how, covered=covered)
        )
    ]  # fmt: skip


def _first_date(garden: Garden, facts: CropFacts, year: int, how: str) -> pd.Timestamp:
    """Return when a crop is planted where the log gives no date."""
    spring, autumn = FROSTS[garden.seasons.hemisphere]
    if facts.heat_from_new_year and not facts.perennial:
        frost = garden.seasons.day(garden.household.first_frost or autumn, year - 1)
        return frost + pd.Timedelta(days=AFTER_FIRST_FROST)
    frost = garden.seasons.day(garden.household.last_frost or spring, year)
    kind = "tender" if facts.tender else "hardy"
    return frost + pd.Timedelta(days=AFTER_LAST_FROST[kind, how])


def _option(
    facts: CropFacts,
    variety: str,
    how: str,
    date: pd.Timestamp,
    area: float,
    row: float,
    limits: tuple[float, float],
    this_year: float,
    basis: str,
    since: pd.Timestamp | None = None,
    *,
    covered: bool = False,
) -> PlantingOption:
    area = area if area > 0 else facts.spacing_m2
    return PlantingOption(
        crop=facts.crop,
        variety=variety,
        how=how,
        date=date,
        area_m2=area,
        row_m=row,
        step=1 if since is not None else max(1, round(STEP_M2 / area)),
        low=limits[0],
        high=limits[1],
        this_year=this_year,
        since=since,
        basis=basis,
        covered=covered,
    )


def _basis(crop: str, variety: str, logged: set[tuple[str, str]], facts: CropFacts) -> str:
    if (crop, variety) in logged:
        return "basis.own_log"
    if any(other == crop for other, _ in logged):
        return "basis.crop_log"
    return "basis.almanac" if facts.known else "basis.unknown"


def _read_limits(
    limits: Mapping[str, float], latest: pd.DataFrame, crops: Sequence[str]
) -> dict[tuple[str, str], float]:
    """Return the most plants per crop (variety "") and variety; refuse what names neither."""
    names = {str(crop): "" for crop in (*crops, *latest["crop"])}
    varieties = {(crop, name.casefold()): name for crop, name in _pairs(latest)}
    found: dict[tuple[str, str], float] = {}
    problems = []
    for key, most in limits.items():
        typed, _, variety = (part.strip() for part in key.replace(":", "/").partition("/"))
        crop = typed if typed in names else canonical_crop(typed) or typed
        name = varieties.get((crop, variety.casefold()), "") if variety else ""
        if crop not in names or (variety and not name):
            known = (
                sorted(names)
                if crop not in names
                else sorted(f"{c}/{v}" for c, v in set(_pairs(latest)) if c == crop)
            )
            code = "limit.unknown"
        elif not most >= 0:
            code, known = "limit.no_number", []
        else:
            found[crop, name] = min(float(most), found.get((crop, name), np.inf))
            continue
        facts = {"known": known} if known else {}
        problems.append(refused(code, file="limits", column=key, value=str(most), **facts))
    if problems:
        raise InputError(problems)
    return found


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
    rows = rows[rows["date"].isna() | (rows["date"] < garden.seasons.span(year).start)]
    season = season_of_each(garden)[rows.index]
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
        (latest == year)
        & (dated["season"] == last)
        & (garden.seasons.of_each(dated["date"]) == last)
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
    rows = rows[rows["date"] < garden.seasons.span(year).start]
    seasons = [
        int(season)
        for crop, season in zip(rows["crop"], season_of_each(garden)[rows.index], strict=True)
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
    first, end = (garden.seasons.span(one).start for one in (season, year))
    mine = picks[(days >= first) & (days < end)]
    return set(_pairs(mine))


def grown_lines(garden: Garden, year: int, planned: Sequence[str]) -> list[Said]:
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
    lines: list[Said] = []
    last = last_season(garden, year)
    rows = latest_plantings(garden, year)
    given_up = {
        name for name, own in garden.household.crops.items() if own.eat_kg_per_person_week == 0
    }
    older = sorted((set(rows.loc[~rows["now"], "crop"].astype(str)) & set(planned)) - given_up)
    us = garden.household.units == "us"
    key = "eat_lb_per_person_week" if us else "eat_kg_per_person_week"
    label = garden.seasons.label
    if older and last is not None:
        lines.append(
            said("grown.older", before=label(last - 1), last=label(last), crops=older, key=key)
        )
    since = _picked_since(garden, last - 1 if last is not None else year - 2, year)
    known = set(garden.plantings["crop"].astype(str)) | set(planned)
    rows_of = set(_pairs(garden.plantings))
    missing = sorted({crop for crop, _ in since} - known)
    # A variety that stands under another crop in the plantings, say: nothing is learned from it.
    missing += sorted(
        f"{crop_word(crop)} {variety}"
        for crop, variety in since - rows_of
        if crop in known and variety != UNNAMED
    )
    return [*lines, said("grown.no_planting", names=missing)] if missing else lines
