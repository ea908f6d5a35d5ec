"""Next season's beds: how many plants of which variety on which day."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.errors import InputError, Problem
from harvestcast.growth.almanac import crop_facts
from harvestcast.season import plan_tables as tables
from harvestcast.season.beds_programme import Choices, Goals
from harvestcast.season.curves import Learned, learn
from harvestcast.season.futures import SeasonFutures, season_futures
from harvestcast.season.household_year import jars_to_put_up, kitchen_year
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.planning import Layout, crop_reliability, lay_out, scale_to
from harvestcast.season.planting_options import PlantingOption, planting_options
from harvestcast.season.search import outcome, search

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Array = NDArray[np.float64]

TRIALS, FRESH_FUTURES = 300, 600
"""Futures on which whole plants are searched for, and on which the result is counted."""
FRESH_SHARE = 0.75
"""Share of the appetite, over the weeks in which a crop can be had, that counts as met."""
BED_PRICE, PLANTING_PRICE = 1.0, 0.5
"""Points for a square metre of bed, and for each further variety or date that is planted."""
RAISED_PROBABILITY = 0.95
MARGIN = 0.008
"""Added to the probability in the search: half the standard error of a count on 300 futures."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class PlantingPlan:
    """Beds for a coming season.

    Attributes
    ----------
    year, probability, futures, seed : int, float, int, int
        What was asked for.
    beds : pandas.DataFrame
        What to plant, where nothing is planted no row (BEDS).
    reliability : pandas.DataFrame
        Probability that each target is met, counted on fresh futures (RELIABILITY).
    glut : pandas.DataFrame
        What comes in beyond what the household can use, per week (GLUT).
    compared : pandas.DataFrame
        The plan, this year's beds and the rule of thumb on the same futures (COMPARED).
    trade_off : pandas.DataFrame
        What a higher probability costs (TRADE_OFF).
    calendar : pandas.DataFrame
        What to sow and set out when, and when to expect picks (SOWING_CALENDAR).
    solve : mapping
        ``status`` of the programme and its ``gap`` (whole plants against its relaxed value);
        ``cost`` and ``bound``: points of the beds, and a lower bound, a loose one, on those of any
        beds that meet the targets on the same futures; ``seconds``, ``rows``, ``columns``,
        ``rounds``, ``tried`` (layouts), ``reached`` (every target, in the search).
    text : tuple of str
        What the figures rest on and what falls short.
    """

    year: int
    probability: float
    futures: int
    seed: int
    beds: pd.DataFrame
    reliability: pd.DataFrame
    glut: pd.DataFrame
    compared: pd.DataFrame
    trade_off: pd.DataFrame
    calendar: pd.DataFrame
    solve: Mapping[str, Any]
    text: tuple[str, ...]

    def __getattribute__(self, name: str) -> Any:
        # Frames leave as copies, so that nobody can change a plan behind another's back.
        value = object.__getattribute__(self, name)
        return value.copy() if isinstance(value, pd.DataFrame) else value

    def __repr__(self) -> str:
        beds = object.__getattribute__(self, "beds")
        return f"PlantingPlan({self.year}, {len(beds)} plantings, {self.probability:.0%})"

    def __reduce__(self) -> tuple[Any, ...]:
        fields = {name: getattr(self, name) for name in self.__slots__}
        return (_rebuild, ({**fields, "solve": dict(self.solve)},))


def _rebuild(fields: dict[str, Any]) -> PlantingPlan:
    return PlantingPlan(**{**fields, "solve": MappingProxyType(fields["solve"])})


def plan_next_season(
    garden: Garden,
    *,
    year: int,
    probability: float = 0.9,
    futures: int = 50,
    seed: int = 1,
    sowings: int = 3,
    limits: Mapping[str, float] | None = None,
    bed_area_m2: float | None = None,
    time_limit_s: float = 60.0,
) -> PlantingPlan:
    """Plan the beds of a coming season.

    Plants per variety and date are chosen so that appetite and pantry targets are met with the
    wanted probability at least bed space and least expected glut. Futures are drawn from what the
    log says of each variety and from past weather years, frost included.

    Parameters
    ----------
    garden : Garden
        The garden; without any log the crop almanac stands in.
    year : int
        Season to plan.
    probability : float
        Wanted for every target, 0.5 to 0.99.
    futures : int
        Possible seasons in the programme, at least 10. Reliability is counted on others.
    seed : int
        Seed of all futures.
    sowings : int
        Dates per variety that may be used, at least 1.
    limits : mapping of str to float, optional
        Most plants of a crop (``"tomato"``) or variety (``"tomato: name"``).
    bed_area_m2 : float, optional
        Bed area; left out: as in garden.toml, else as much as this year's beds take. [m2]
    time_limit_s : float
        Roughly; steps that run are finished. [s]

    Returns
    -------
    PlantingPlan

    Raises
    ------
    InputError
        Where there is nothing to plan for: no plantings, no targets.
    ValueError
        Where an argument is out of range.
    PlanError
        Where no layout was found.
    """
    if not 0.5 <= probability <= 0.99:
        raise ValueError("probability: 0.5 to 0.99")
    if futures < 10 or sowings < 1:
        raise ValueError("futures: at least 10; sowings: at least 1")
    began = time.perf_counter()
    case = _case(garden, year, probability, futures, seed, sowings, limits, bed_area_m2)
    done = lay_out(
        case.plan.per_plant,
        case.trial.per_plant,
        case.kitchen,
        case.choices,
        case.goals,
        margin=MARGIN,
        time_limit_s=time_limit_s,
    )
    fresh = case.fresh.per_plant
    mine = outcome(fresh, done.plants, case.kitchen, case.choices, case.goals)
    this_year = np.array([option.this_year for option in case.options])
    rule = rule_of_thumb(case.options, case.kitchen, case.goals)
    rivals = {"this year's beds": this_year, "rule of thumb": rule}
    known = {name: plants for name, plants in rivals.items() if plants.sum() > 0}
    results = {
        name: outcome(fresh, plants, case.kitchen, case.choices, case.goals)
        for name, plants in known.items()
    }
    reached = crop_reliability(mine, case.kitchen)
    scaled = {
        name: scale_to(plants, reached, fresh, case.kitchen, case.choices, case.goals)
        for name, plants in known.items()
    }
    higher = _raised(case, done, probability)
    seconds = time.perf_counter() - began
    return PlantingPlan(
        year=year,
        probability=probability,
        futures=futures,
        seed=seed,
        beds=tables.beds_table(case.options, done.plants, case.fresh),
        reliability=tables.reliability_table(
            case.kitchen, case.goals, mine, results, done.reached, probability
        ),
        glut=tables.glut_table(case.fresh.weeks, mine, results),
        compared=tables.compared_table(done.plants, mine, known, results, scaled, case.choices),
        trade_off=tables.trade_off_table(
            case.kitchen,
            [(probability, done.plants, mine), *higher],
        ),
        calendar=tables.sowing_calendar(case.options, done.plants, case.fresh),
        solve=MappingProxyType(
            {
                "status": done.relaxed.status,
                "gap": done.gap,
                "cost": done.cost,
                "bound": done.bound,
                "seconds": seconds,
                "programme_seconds": done.seconds,
                "rows": done.relaxed.rows,
                "columns": done.relaxed.columns,
                "rounds": done.rounds,
                "tried": done.tried,
                "reached": done.reached,
            }
        ),
        text=_text(case, done, mine.reliability),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Case:
    """Everything a plan is made from."""

    options: tuple[PlantingOption, ...]
    kitchen: KitchenYear
    choices: Choices
    goals: Goals
    plan: SeasonFutures
    trial: SeasonFutures
    fresh: SeasonFutures
    learned: Learned
    no_way: tuple[str, ...]


def _case(
    garden: Garden,
    year: int,
    probability: float,
    futures: int,
    seed: int,
    sowings: int,
    limits: Mapping[str, float] | None,
    bed_area_m2: float | None,
) -> _Case:
    jars = jars_to_put_up(garden, year)
    wanted = {str(crop) for crop in jars["crop"]} - {"meat"}
    options = planting_options(garden, year=year, crops=wanted, sowings=sowings, limits=limits)
    if not options:
        raise InputError(
            [
                Problem(
                    file="garden.toml",
                    column="targets",
                    rule="there is nothing to plan for: no plantings and no targets",
                    cure="Name products under [targets], or enter plantings of this year.",
                )
            ]
        )
    learned = learn(garden, year)
    draw = [futures, TRIALS, FRESH_FUTURES]
    drawn = [
        season_futures(garden, learned, options, year=year, draws=n, seed=seed * 1000 + k)
        for k, n in enumerate(draw)
    ]
    weeks = drawn[0].weeks.union(drawn[1].weeks).union(drawn[2].weeks)
    plan, trial, fresh = (_over(one, weeks) for one in drawn)
    crops = tuple(sorted({option.crop for option in options}))
    kitchen = kitchen_year(garden, crops, weeks, jars)
    member = np.array([crops.index(option.crop) for option in options], dtype=np.int64)
    kinds = sorted({(option.crop, option.variety) for option in options})
    area = np.array([option.area_m2 for option in options])
    choices = Choices(
        crop=member,
        area_m2=area,
        stands=_stands(options, trial, year),
        low=np.array([option.low for option in options]),
        high=np.array([option.high for option in options]),
        step=np.array([float(option.step) for option in options]),
        bed_m2=float("inf"),
        group=np.array([kinds.index((o.crop, o.variety)) for o in options], dtype=np.int64),
        group_high=np.array(
            [max(o.high for o in options if (o.crop, o.variety) == kind) for kind in kinds]
        ),
    )
    now = (np.array([o.this_year for o in options]) * area) @ choices.stands
    said = bed_area_m2 or garden.household.bed_area_m2
    limit = said if said is not None else (float(now.max()) if now.max() > 0 else float("inf"))
    seen = fresh_weeks(trial.per_plant, member, len(crops))
    goals = Goals(
        probability=probability,
        fresh_kg=FRESH_SHARE * kitchen.eat * seen.sum(axis=0),
        fresh_weeks=seen,
        bed_price=BED_PRICE,
        glut_price=garden.household.choices.spoiled_kg,
        planting_price=PLANTING_PRICE,
    )
    return _Case(
        options=options,
        kitchen=kitchen,
        choices=replace(choices, bed_m2=limit),
        goals=goals,
        plan=plan,
        trial=trial,
        fresh=fresh,
        learned=learned,
        no_way=tuple(
            str(row.label)
            for row in jars.itertuples()
            if row.product not in kitchen.products and row.crop != "meat"
        ),
    )


def _over(drawn: SeasonFutures, weeks: pd.DatetimeIndex) -> SeasonFutures:
    """Lay futures over common weeks."""
    full = np.zeros((len(drawn.per_plant), len(weeks), drawn.per_plant.shape[2]))
    full[:, weeks.get_indexer(drawn.weeks)] = drawn.per_plant
    return replace(drawn, per_plant=full, weeks=weeks)


def _stands(options: Sequence[PlantingOption], drawn: SeasonFutures, year: int) -> Array:
    """Weeks of the year in which an option takes its bed: to the usual end of its harvest."""
    stands = np.zeros((len(options), 53))
    for place, option in enumerate(options):
        first = (option.date - pd.Timestamp(year, 1, 1)).days
        ends = drawn.last_pick[:, place]
        ends = ends[np.isfinite(ends)]
        last = float(np.quantile(ends, 0.75)) + 7 if len(ends) else first + 120.0
        if option.standing:
            first, last = 0, 364
        stands[place, max(first, 0) // 7 : int(min(max(last, 0), 364)) // 7 + 1] = 1.0
    return stands


def fresh_weeks(per_plant: Array, crop: NDArray[np.int64], crops: int) -> NDArray[np.bool_]:
    """Return the weeks in which a crop can be had: in half of the futures some date brings it.

    Parameters
    ----------
    per_plant : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    crop : ndarray of int, shape (options,)
        Crop of each option.
    crops : int
        Number of crops.

    Returns
    -------
    ndarray of bool, shape (weeks, crops)
        A week counts for an option where it brings at least 2 % of the option's usual season.
    """
    usual = per_plant.sum(axis=1).mean(axis=0)
    bears = per_plant >= 0.02 * np.where(usual > 0, usual, np.inf)
    weeks = np.zeros((per_plant.shape[1], crops), dtype=bool)
    for number in range(crops):
        mine = bears[:, :, crop == number]
        weeks[:, number] = mine.any(axis=2).mean(axis=0) >= 0.5
    return weeks


def rule_of_thumb(options: Sequence[PlantingOption], kitchen: KitchenYear, goals: Goals) -> Array:
    """Return the plants a table of yields would have one set, shape (options,).

    What the targets and the table take, divided by the middle of the published yield per plant;
    all on the first date, split evenly over the varieties of the crop.
    """
    needed = goals.fresh_kg / FRESH_SHARE
    for product in range(len(kitchen.products)):
        ways = np.flatnonzero(kitchen.method_product == product)
        crop = kitchen.method_crop[ways[0]]
        needed[crop] += kitchen.need[product] / kitchen.jars_per_kg[ways].max()
    plants = np.zeros(len(options))
    for number, crop in enumerate(kitchen.crops):
        mine = [i for i, option in enumerate(options) if option.crop == crop]
        if any(options[i].standing for i in mine):
            plants[mine] = [options[i].low for i in mine]
            continue
        firsts: dict[str, int] = {}
        for i in mine:
            firsts.setdefault(options[i].variety, i)
        per_plant = float(np.mean(crop_facts(crop).yield_kg_per_plant))
        for i in firsts.values():
            plants[i] = np.ceil(needed[number] / per_plant / len(firsts))
    return plants


def _raised(case: _Case, done: Layout, probability: float) -> list[tuple[float, Array, Any]]:
    """Plan again for a higher probability, from the plan on."""
    if probability >= RAISED_PROBABILITY:
        return []
    goals = replace(case.goals, probability=RAISED_PROBABILITY)
    found = search(done.plants, case.trial.per_plant, case.kitchen, case.choices, goals)
    result = outcome(case.fresh.per_plant, found.plants, case.kitchen, case.choices, goals)
    return [(RAISED_PROBABILITY, found.plants, result)]


def _text(case: _Case, done: Layout, reliability: Array) -> tuple[str, ...]:
    lines = [
        f"Reliability and glut are counted on {len(case.fresh.per_plant)} futures that the plan "
        "has not seen, by a rule that decides each week without knowing the next. A fresh target "
        f"is met where at least {FRESH_SHARE:.0%} of the appetite is eaten over the weeks in which "
        "the crop can be had. Batches are counted by the kilogram, jars and lids as bought."
    ]
    guessed = sorted({o.crop for o in case.options if "nothing logged" in o.basis})
    if guessed:
        lines.append(
            "Nothing is logged yet of " + ", ".join(guessed) + ": their yields come from the crop "
            "almanac, where gardens differ several-fold, so that safety takes many plants. One "
            "season's log will narrow this down."
        )
    if case.learned.fit is not None and not case.learned.whole:
        lines.append("No season is logged to its end yet: yields rest on an unfinished season.")
    if not done.reached:
        lines.append(
            f"Not every target reaches {case.goals.probability:.0%}: the beds, the kitchen's "
            "hours or the season do not allow it. The table of reliability says which."
        )
    if case.no_way:
        lines.append(
            "Left out, because this household has no tested way of putting it up: "
            + ", ".join(case.no_way)
            + "."
        )
    lines.extend(case.fresh.notices)
    return tuple(lines)
