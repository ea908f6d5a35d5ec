"""Everything that next season's plan is made from: options, futures, kitchen, targets, beds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags
from harvestcast.errors import InputError
from harvestcast.records.household import Choices as Prices
from harvestcast.records.household import Household
from harvestcast.records.seasons import Seasons
from harvestcast.season.kitchen_year import (
    KitchenYear,
    jars_to_put_up,
    keep_weeks_of,
    kitchen_year,
    shelf_line,
)
from harvestcast.season.messages import Said, refused, said
from harvestcast.season.next.futures import SeasonFutures, laid_over, season_futures
from harvestcast.season.next.goals import (
    BED_PRICE,
    ROW_PRICE,
    Goals,
    appetite_of_log,
    eaten_points,
    fresh_targets,
    is_stored,
    jar_points,
    weeks_borne,
)
from harvestcast.season.next.options import (
    PlantingOption,
    grown_lines,
    last_season,
    planted_in,
    planting_options,
)
from harvestcast.season.next.programme import Choices
from harvestcast.season.next.search import area_taken, most_at_once
from harvestcast.season.yields.curves import Learned, learn
from harvestcast.season.yields.plantings import Unit

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden


LESS_SAID = 0.1
"""Share by which an appetite must be less than the planning figure to be said."""
BED_WEEKS = 53
"""Weeks of a season of beds."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """Everything a plan is made from."""

    options: tuple[PlantingOption, ...]
    kitchen: KitchenYear
    choices: Choices
    goals: Goals
    plan: SeasonFutures
    trial: SeasonFutures
    fresh: SeasonFutures
    learned: Learned
    units: str
    prices: Prices
    seasons: Seasons
    begun: Said | None
    shelf: Said | None
    beds: Said
    left_out: tuple[Said, ...]


def case_of(
    garden: Garden,
    *,
    year: int,
    probability: float,
    draws: Sequence[int],
    seed: int,
    sowings: int,
    limits: Mapping[str, float] | None,
    bed_area_m2: float | None,
) -> Case:
    """Gather what a plan is made from.

    Parameters
    ----------
    garden : Garden
        The garden.
    year, probability, seed, sowings, limits, bed_area_m2
        As in :func:`harvestcast.season.next.plan.plan_next_season`.
    draws : sequence of int
        Possible seasons of the programme, of the search, and of the count.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        Where there is nothing to plan for, or the year is past.
    """
    begun = _begun(garden, year)
    jars = jars_to_put_up(garden, year)
    wanted = {str(crop) for crop in jars["crop"]} - {"meat"}
    if garden.plantings.empty and garden.picks.empty:
        # A first season is planned for the crops that garden.toml names.
        wanted |= set(garden.household.crops)
    options = planting_options(garden, year=year, crops=wanted, sowings=sowings, limits=limits)
    if not options:
        raise InputError([refused("plan.nothing", file="garden.toml", column="targets")])
    learned = learn(garden, year)
    drawn = [
        season_futures(garden, learned, options, year=year, draws=n, seed=seed * 1000 + k)
        for k, n in enumerate(draws)
    ]
    weeks = drawn[0].weeks.union(drawn[1].weeks).union(drawn[2].weeks)
    crops = tuple(sorted({option.crop for option in options}))
    # What is dug once is eaten from store: the weeks go on until the last of it is used up.
    longest = max(keep_weeks_of(garden, [c for c in crops if is_stored(c)]), default=0)
    weeks = pd.date_range(weeks[0], weeks[-1] + pd.Timedelta(weeks=longest), freq="7D")
    plan, trial, fresh = (laid_over(one, weeks) for one in drawn)
    kitchen, appetite = _with_appetite(
        garden, kitchen_year(garden, crops, weeks, jars), learned.units
    )
    member = np.array([crops.index(option.crop) for option in options], dtype=np.int64)
    kinds = sorted({(option.crop, option.variety) for option in options})
    area = np.array([option.area_m2 for option in options])
    own = garden.household.choices
    hours = picking_hours(learned.units, crops)[member]
    choices = Choices(
        crop=member,
        area_m2=area,
        price=BED_PRICE * area + own.hour * hours * trial.per_plant.sum(axis=1).mean(axis=0),
        stands=_stands(options, trial, garden.seasons.span(year).start),
        low=np.array([option.low for option in options]),
        high=np.array([option.high for option in options]),
        step=np.array([float(option.step) for option in options]),
        bed_m2=float("inf"),
        glass_m2=float("inf") if any(o.covered for o in options) else None,
        group=np.array([kinds.index((o.crop, o.variety)) for o in options], dtype=np.int64),
        group_high=np.array(
            [max(o.high for o in options if (o.crop, o.variety) == kind) for kind in kinds]
        ),
    )
    stood = {"": np.array([o.this_year for o in options])}
    last = last_season(garden, year)
    if last is not None:
        stood[garden.seasons.label(last - 1)] = planted_in(garden, options, last - 1)
    taken = {season: most_at_once(plants, choices) for season, plants in stood.items()}
    limit, beds = bed_limit(garden.household, bed_area_m2, taken)
    if choices.glass_m2 is not None:
        weeks_open = choices.stands.shape[1] // 2
        glass = max(float(area_taken(p, choices)[weeks_open:].max()) for p in stood.values())
        choices = replace(choices, glass_m2=glass)
        limit = max(limit - glass, 0.0)
    seen, borne = weeks_borne(trial.per_plant, member, len(crops), probability)
    fresh_kg, counted = fresh_targets(seen, borne, crops, kitchen.eat, kitchen.keep_weeks)
    goals = goals_of(own, kitchen, (fresh_kg, counted), probability)
    return Case(
        options=options,
        kitchen=kitchen,
        choices=replace(choices, bed_m2=limit),
        goals=goals,
        plan=plan,
        trial=trial,
        fresh=fresh,
        learned=learned,
        units=garden.household.units,
        prices=own,
        seasons=garden.seasons,
        begun=begun,
        shelf=shelf_line(jars),
        beds=beds,
        left_out=(
            *appetite,
            *grown_lines(garden, year, crops),
            *_without_a_way(jars[~jars["product"].isin(kitchen.products)], crops),
        ),
    )


def _with_appetite(
    garden: Garden, kitchen: KitchenYear, units: Mapping[str, Sequence[Unit]]
) -> tuple[KitchenYear, list[Said]]:
    """Return the kitchen with appetites that nobody set taken from the log, and what to say."""
    eat = appetite_of_log(garden.household, units, kitchen.crops, kitchen.eat, kitchen.keep_weeks)
    less = np.divide(eat, kitchen.eat, out=np.ones_like(eat), where=kitchen.eat > 0)
    taken = {
        crop: float(kg)
        for crop, kg, share in zip(kitchen.crops, eat, less, strict=True)
        if share < 1 - LESS_SAID
    }
    lines = []
    if taken:
        lines.append(said("plan.appetite", crops=list(taken), kg=list(taken.values())))
    return replace(kitchen, eat=eat, most=less * kitchen.most), lines


def goals_of(
    own: Prices, kitchen: KitchenYear, fresh: tuple[Array, Flags], probability: float
) -> Goals:
    """Return what a harvest is worth to a household that wishes for so much certainty.

    Parameters
    ----------
    own : harvestcast.records.household.Choices
        How the household weighs things.
    kitchen : KitchenYear
        Its kitchen.
    fresh : tuple of ndarray
        Fresh targets and the weeks that count towards them, see
        :func:`harvestcast.season.next.goals.fresh_targets`.
    probability : float
        Share of years in which a target is to be met.
    """
    return Goals(
        probability=probability,
        fresh_kg=fresh[0],
        fresh_weeks=fresh[1],
        jar=jar_points(probability, own.spoiled_kg, own.hour, kitchen),
        eaten=eaten_points(own.fresh_kg, kitchen.eat, probability, own.spoiled_kg),
        glut_price=own.spoiled_kg,
        hour_price=own.hour,
        row_price=ROW_PRICE,
    )


def picking_hours(units: Mapping[str, Sequence[Unit]], crops: Sequence[str]) -> Array:
    """Return the hours of picking a kilogram of each crop, shape (crops,). [h/kg].

    As written down in the picks: of a crop without hours the household's mean over the others, 0
    where it never wrote any down.

    Parameters
    ----------
    units : mapping of str to sequence of Unit
        Plantings of whole seasons, by crop.
    crops : sequence of str
        Names.
    """
    timed = {crop: [u for u in mine if u.hours_kg > 0] for crop, mine in units.items()}
    sums = {
        crop: (sum(u.hours for u in mine), sum(u.hours_kg for u in mine))
        for crop, mine in timed.items()
    }
    hours, kg = (sum(one[part] for one in sums.values()) for part in (0, 1))
    usual = hours / kg if kg > 0 else 0.0
    own = {crop: hours / kg for crop, (hours, kg) in sums.items() if kg > 0}
    return np.array([own.get(crop, usual) for crop in crops])


def _begun(garden: Garden, year: int) -> Said | None:
    """Say where a part of the season is past; refuse to plan one that is past altogether."""
    last = garden.last_day
    start, end = garden.seasons.span(year)
    if last is None or last < start:
        return None
    if last <= end:
        return said("plan.begun", last=last)
    season, now = (garden.seasons.label(one) for one in (year, garden.seasons.of(last)))
    raise InputError(
        [
            refused(
                "season.past", file="command line", column="year", value=season, last=last, now=now
            )
        ]
    )


def bed_limit(
    household: Household, asked: float | None, taken: Mapping[str, float]
) -> tuple[float, Said]:
    """Return the bed area there is, m2, and where the figure comes from.

    Parameters
    ----------
    household : Household
        Settings.
    asked : float or None
        Area asked for. [m2]
    taken : mapping of str to float
        Most that the plantings of a season took at once, by the season as people say it, "" for
        this year's; 0 where there are none. [m2]
    """
    units = household.units
    if asked:
        return asked, said("beds.asked", area=asked, units=units)
    own = household.bed_area_m2
    if own is not None:
        return own, said("beds.own", area=own, units=units)
    whose = max(taken, key=lambda season: taken[season], default="")
    if taken and taken[whose] > 0:
        area = taken[whose]
        return area, said("beds.as_taken", area=area, units=units, season=whose)
    return float("inf"), said("beds.no_limit", units=units)


def _stands(options: Sequence[PlantingOption], drawn: SeasonFutures, start: pd.Timestamp) -> Array:
    """Weeks of the season in which an option takes its bed: to the usual end of its harvest.

    What stands before the season begins or after it ends takes the same weeks of its beds year
    after year, so these count too.
    """
    stands = np.zeros((len(options), BED_WEEKS))
    begin = int((start - drawn.first).days)
    for place, option in enumerate(options):
        first = (option.date - start).days
        ends = drawn.last_pick[:, place]
        ends = ends[np.isfinite(ends)]
        last = float(np.quantile(ends, 0.75)) + 7 - begin if len(ends) else first + 120.0
        weeks = np.arange(first // 7, int(max(last, first)) // 7 + 1)
        stands[place, weeks % BED_WEEKS] = 1.0
        if option.standing:
            stands[place] = 1.0
    covered = np.array([option.covered for option in options])
    if not covered.any():
        return stands
    return np.concatenate(
        [np.where(covered[:, None], 0.0, stands), np.where(covered[:, None], stands, 0.0)], axis=1
    )


def _without_a_way(jars: pd.DataFrame, crops: Sequence[str]) -> list[Said]:
    """Say which products with a target the plan leaves out, and why."""
    jars = jars[jars["crop"] != "meat"]
    here = jars["crop"].isin(list(crops))
    return [
        said(code, labels=mine["label"].astype(str).tolist())
        for mine, code in ((jars[here], "product.no_way"), (jars[~here], "product.none_stands"))
        if len(mine)
    ]
