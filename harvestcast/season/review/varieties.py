"""Varieties compared at the end of the season, with honest intervals."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.errors import InputError
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import BEST, TOLD_APART, VARIETY_MEASURES
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.records.garden import Garden
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.results import Result, must_be
from harvestcast.season.messages import Said, refused, said, texts
from harvestcast.season.review import tables
from harvestcast.season.review.average_year import in_average_year
from harvestcast.season.review.lessons import kitchen_lessons, over_capacity
from harvestcast.season.review.over_seasons import (
    Season,
    in_average_weather,
    seasons_table,
    verdicts_table,
)
from harvestcast.season.yields.learned import CropDraws, draw_crop
from harvestcast.season.yields.observed import noise_of_crop
from harvestcast.season.yields.plantings import (
    UNNAMED,
    Unit,
    mostly_unnamed,
    picked_within,
    seasons_with_picks,
    units_of,
)
from harvestcast.season.yields.unfinished import (
    still_bearing,
    unfinished_lines,
    unfinished_since,
    without_verdicts,
)
from harvestcast.words.crops import crop_word

if TYPE_CHECKING:
    from matplotlib.axes import Axes

UNWEIGHED = 0.15
"""Error of the log weight of a fruit beyond which a review says that few were weighed."""
_NAMED_PAIRS = 6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class VarietyReview(Result):
    """What a season says of its varieties and of the kitchen.

    Attributes
    ----------
    year, draws, seed : int
        Season, by the year it begins in; number of joint draws, seed.
    season : str
        The season as people say it: "2025", or "2025/26" where it crosses New Year.
    table : pandas.DataFrame
        One row a variety (VARIETY_TABLE): estimates of its expected values with 90 % intervals,
        dates, and how sure the number of plants allows to be.
    measures : pandas.DataFrame
        The same, one row a variety and measure (VARIETY_MEASURES), with what was logged and what
        one more planting would bring.
    best, best_average_year : pandas.DataFrame
        Probability of being the best of its crop, per measure (BEST): in this season, and in an
        average weather year.
    told_apart : pandas.DataFrame
        Every pair of varieties of a crop: whether the log tells them apart (TOLD_APART).
    normalised, pooled : pandas.DataFrame
        As ``measures``: in an average weather year, and over all seasons of the log that are over.
    by_bed, calendar, cumulative : pandas.DataFrame
        Plantings (BY_BED), picks by week (CALENDAR), running harvest with bands (CUMULATIVE).
    over_seasons : pandas.DataFrame
        Every variety in each season that is over, in average weather (OVER_SEASONS).
    verdicts : pandas.DataFrame
        Which varieties stay, get another try or go, by all those seasons (VERDICTS).
    kitchen_lessons, over_capacity : pandas.DataFrame
        What the season taught the kitchen (LESSONS), weeks beyond capacity (OVER_CAPACITY).
    lines : tuple of Said
        What to read first: what the figures are, and what the log cannot tell; ``text`` has the
        same in sentences.
    no_verdict : tuple of str
        Crops that may still bear after the last day of an unfinished season: their chances of being
        best are those of the picks so far.
    """

    year: int
    draws: int
    seed: int
    table: pd.DataFrame
    measures: pd.DataFrame
    best: pd.DataFrame
    best_average_year: pd.DataFrame
    told_apart: pd.DataFrame
    normalised: pd.DataFrame
    pooled: pd.DataFrame
    by_bed: pd.DataFrame
    calendar: pd.DataFrame
    cumulative: pd.DataFrame
    over_seasons: pd.DataFrame
    verdicts: pd.DataFrame
    kitchen_lessons: pd.DataFrame
    over_capacity: pd.DataFrame
    lines: tuple[Said, ...]
    no_verdict: tuple[str, ...] = ()
    season: str = ""

    def _brief(self) -> str:
        return f"{self.year}, {len(self.table)} varieties, {self.draws} draws"

    def _table(self) -> pd.DataFrame:
        return self.table

    def plot(self, crop: str | None = None, *, ax: Axes | None = None) -> Axes:
        """Draw the yield per plant of a crop's varieties with its 90 % intervals.

        Parameters
        ----------
        crop : str, optional
            Crop; left out: the one with most varieties.
        ax : matplotlib.axes.Axes, optional
            Where to draw; left out: axes of their own.

        Returns
        -------
        matplotlib.axes.Axes

        Raises
        ------
        ValueError
            Where no variety of the crop has a yield per plant.
        """
        from harvestcast import figures

        known = self.measures
        known = known[(known["measure"] == "kg_per_plant") & known["estimate"].notna()]
        if crop is None and len(known):
            crop = str(known["crop"].value_counts(sort=True).index[0])
        crop = canonical_crop(crop or "") or crop
        own = known[known["crop"] == crop].sort_values("estimate", ascending=False)
        if not len(own):
            raise ValueError(f"no variety of {crop or 'any crop'} has a yield per plant")
        best = self.best
        best = best[(best["crop"] == crop) & (best["measure"] == "kg_per_plant")]
        chances = best.set_index("variety")["probability_best"]
        shown = pd.DataFrame(
            {
                "variety": own["variety"].astype(str),
                "low": own["q05"],
                "middle": own["estimate"],
                "high": own["q95"],
                "p_best": own["variety"].map(chances).astype(float),
            }
        )
        drawn = figures.ranking(
            shown, units="metric", label="yield, kg a plant", title=str(crop).capitalize(), ax=ax
        )
        return figures.in_session(drawn, ax)

    @property
    def crosses_new_year(self) -> bool:
        """Whether dates of the review need their years."""
        found = object.__getattribute__(self, "table")
        return "/" in self.season or bool(
            (found["date_90"].dt.year > found["counted_from"].dt.year).any()
        )

    @property
    def text(self) -> tuple[str, ...]:
        """The lines in sentences."""
        return texts(self.lines)


def compare_varieties(
    garden: Garden, *, year: int, draws: int = 400, seed: int = 1
) -> VarietyReview:
    """Compare the varieties of a season.

    Parameters
    ----------
    garden : Garden
        The garden.
    year : int
        Season to compare, by the year it begins in.
    draws : int
        Joint draws, at least 100.
    seed : int
        Seed of the draws.

    Returns
    -------
    VarietyReview

    Raises
    ------
    InputError
        Where nothing was picked in that season.
    ValueError
        Where ``draws`` is less than 100.
    """
    must_be(garden, Garden, "compare_varieties")
    if draws < 100:
        raise ValueError("draws: at least 100, or the ends of the intervals are noise")
    known = seasons_with_picks(garden)
    if year not in known:
        names = [garden.seasons.label(one) for one in known]
        season = garden.seasons.label(year)
        raise InputError(
            [refused("season.no_picks", file="picks.csv", column="date", value=season, known=names)]
        )
    of_season = {one: units_of(garden, one) for one in known}
    units = of_season[year]
    crops, long = review_crops(garden, units, draws=draws, seed=seed)
    by_crop = _by_crop(units)
    rng = np.random.default_rng([seed, 2])
    cumulative = [
        tables.cumulative_table(
            crop,
            by_crop[crop.crop],
            noise_of_crop(by_crop[crop.crop], crop_facts(crop.crop, garden.household)),
            rng,
        )
        for crop in crops
    ]
    told = _stack([tables.told_apart_table(crop) for crop in crops], TOLD_APART.names)
    open_since = unfinished_since(garden, year)
    if open_since is not None:
        told = without_verdicts(told, by_crop, open_since)
    # Half a season would pull the mean over seasons down for no reason of the varieties.
    whole = [one for one in known if unfinished_since(garden, one) is None]
    pooled, pooled_line = long, None
    if whole and whole != [year]:
        every = [unit for one in whole for unit in of_season[one]]
        pooled = review_crops(garden, every, draws=draws, seed=seed + 1, seasons=True)[1]
    if whole and whole != known:
        seasons = [garden.seasons.label(one) for one in whole]
        pooled_line = said("review.pooled", seasons=seasons)
    # The kitchen works with what comes in, whichever season it was sown for.
    came_in = picked_within(
        [unit for mine in of_season.values() for unit in mine], *garden.seasons.span(year)
    )
    weeks = over_capacity(garden, came_in)
    moved, average = in_average_year(garden, crops, by_crop, year, seed=seed)
    normalised = _stack(
        [tables.measures_table(crop, {}, by_crop[crop.crop]) for crop in moved],
        VARIETY_MEASURES.names,
    )
    normalised["seen"] = np.nan
    planted = garden.plantings.groupby("crop", observed=True)["variety"].nunique()
    shared = sorted(
        crop
        for crop in by_crop
        if planted.get(crop, 0) > 1 and (crop, year) in mostly_unnamed(garden)
    )
    ended: dict[int, Season] = {
        one: (crops, moved, units)
        if one == year
        else _season(garden, of_season[one], one, draws=draws, seed=seed)
        for one in whole
    }
    every = in_average_weather(ended)
    ever = review_crops(garden, every, draws=draws, seed=seed + 2, seasons=True)[0]
    nameless = {crop for crop, _ in mostly_unnamed(garden)}
    return VarietyReview(
        year=year,
        season=garden.seasons.label(year),
        draws=draws,
        seed=seed,
        table=tables.wide_table(crops, by_crop, long),
        measures=check_frame(long, VARIETY_MEASURES),
        best=check_frame(_stack([tables.best_table(c) for c in crops], BEST.names), BEST),
        best_average_year=check_frame(
            _stack([tables.best_table(c) for c in moved], BEST.names), BEST
        ),
        told_apart=check_frame(told, TOLD_APART),
        normalised=check_frame(normalised, VARIETY_MEASURES),
        pooled=check_frame(pooled, VARIETY_MEASURES),
        by_bed=tables.by_bed_table(units),
        calendar=tables.calendar_table(units),
        cumulative=pd.concat(cumulative, ignore_index=True),
        over_seasons=seasons_table(garden, ended),
        verdicts=verdicts_table(ever, every, garden.household.units, sorted(nameless)),
        kitchen_lessons=kitchen_lessons(garden, year, came_in, weeks),
        over_capacity=weeks,
        lines=(
            *_lines(garden.seasons.label(year), by_crop, told, open_since, garden.last_day, shared),
            average,
            *([pooled_line] if pooled_line else []),
        ),
        no_verdict=tuple(
            crop
            for crop, mine in by_crop.items()
            if open_since is not None and still_bearing(mine, open_since)
        ),
    )


def _season(garden: Garden, units: Sequence[Unit], year: int, *, draws: int, seed: int) -> Season:
    """Return the draws of one season, the same in average weather, and its plantings."""
    crops = review_crops(garden, units, draws=draws, seed=seed)[0]
    moved, _ = in_average_year(garden, crops, _by_crop(units), year, seed=seed)
    return crops, moved, units


def _by_crop(units: Sequence[Unit]) -> Mapping[str, Sequence[Unit]]:
    ordered = sorted(units, key=lambda unit: (unit.crop, unit.variety, unit.year))
    return {crop: tuple(group) for crop, group in groupby(ordered, key=lambda unit: unit.crop)}


def review_crops(
    garden: Garden, units: Sequence[Unit], *, draws: int, seed: int, seasons: bool = False
) -> tuple[list[CropDraws], pd.DataFrame]:
    """Draw every crop and table its measures.

    Parameters
    ----------
    garden : Garden
    units : sequence of Unit
        Plantings, of one season or several.
    draws, seed : int
    seasons : bool
        Estimate the expected value over seasons instead of that of the one season.

    Returns
    -------
    crops : list of CropDraws
        In alphabetical order.
    measures : DataFrame
        Rows of VARIETY_MEASURES of all crops.
    """
    # Grades are known only in seasons in which any grade but good was written down.
    graded = {unit.year for unit in units if unit.graded[1:].sum() > 0}
    crops, parts = [], []
    for number, mine in enumerate(_by_crop(units).values()):
        drawn, seen = draw_crop(
            mine,
            garden.household,
            draws=draws,
            rng=np.random.default_rng([seed, 1, number]),
            graded=frozenset(graded),
            seasons=seasons,
        )
        full = tables.with_derived(drawn, mine)
        crops.append(full)
        parts.append(tables.measures_table(full, seen, mine))
    return crops, _stack(parts, VARIETY_MEASURES.names)


def _stack(parts: Sequence[pd.DataFrame], names: list[str]) -> pd.DataFrame:
    filled = [part for part in parts if len(part)]
    return pd.concat(filled, ignore_index=True) if filled else pd.DataFrame(columns=names)


def _lines(
    season: str,
    by_crop: Mapping[str, Sequence[Unit]],
    told: pd.DataFrame,
    open_since: pd.Timestamp | None,
    last: pd.Timestamp | None,
    shared: list[str],
) -> list[Said]:
    units = [unit for mine in by_crop.values() for unit in mine]
    lines = [said("review.what")]
    if open_since is not None:
        lines += unfinished_lines(by_crop, season, open_since)
    elif last is not None:
        goes_on = sorted(
            f"{crop_word(crop)} {name}"
            for crop, mine in by_crop.items()
            for name in {u.variety for u in mine if _bears_on(u, last)}
            if not crop_facts(crop).tender
        )
        if goes_on:
            lines.append(said("review.goes_on", names=goes_on))
    if shared:
        lines.append(said("review.mostly_unnamed", crops=shared))
    loose = _unnamed(by_crop)
    if loose:
        lines.append(said("review.unnamed", crops=loose))
    never = sorted(
        f"{crop_word(crop)} {name}"
        for crop, mine in by_crop.items()
        for name in {u.variety for u in mine}
        if tables.first_logged([u for u in mine if u.variety == name]) is None
    )
    if never:
        lines.append(said("review.never_picked", names=never))
    single = sorted({f"{u.crop} {u.variety}" for u in units if u.plants <= 1})
    if single:
        lines.append(said("review.single", names=single))
    unweighed = [
        crop
        for crop, mine in by_crop.items()
        if any(unit.guessed > 0.5 and unit.fruit_error > UNWEIGHED for unit in mine)
    ]
    if unweighed:
        lines.append(said("review.unweighed", crops=unweighed))
    return lines + _yield_lines(by_crop, told, open_since)


def _bears_on(unit: Unit, last: pd.Timestamp) -> bool:
    """Whether a planting was picked to the end of the log, long after its season began to end."""
    picked = np.flatnonzero(unit.mass > 0)
    return len(picked) > 1 and still_bearing([unit], last)


def _yield_lines(
    by_crop: Mapping[str, Sequence[Unit]], told: pd.DataFrame, open_since: pd.Timestamp | None
) -> list[Said]:
    """Say which varieties the log tells apart by their yield."""
    lines, alike = [], []
    yields = told[told["measure"] == "kg_per_plant"]
    for name, pairs in yields.groupby("crop"):
        crop = str(name)
        if open_since is not None and still_bearing(by_crop[crop], open_since):
            continue
        apart = pairs[pairs["told_apart"].astype(bool)]
        if apart.empty:
            alike.append(crop)
            continue
        surest = apart.sort_values("probability_better", ascending=False, kind="stable")
        named = [
            (str(row["variety"]), str(row["other"]), float(row["probability_better"]))
            for row in surest.to_dict("records")
        ]
        lines.append(
            said("review.pairs", crop=crop, pairs=len(pairs), apart=named, most=_NAMED_PAIRS)
        )
    return [said("review.alike", crops=alike), *lines] if alike else lines


def _unnamed(by_crop: Mapping[str, Sequence[Unit]]) -> list[tuple[str, float]]:
    """Return crops with picks without a variety beside named ones, and their share."""
    found = []
    for crop, units in by_crop.items():
        loose = [u for u in units if u.variety == UNNAMED and not np.isfinite(u.plants)]
        if loose and len(loose) < len(units):
            kg = sum(float(u.mass.sum()) for u in loose)
            if kg > 0:
                found.append((crop, kg / sum(float(u.mass.sum()) for u in units)))
    return found
