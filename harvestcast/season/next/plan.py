"""Next season's beds: how many plants of which variety on which day."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.records.garden import Garden
from harvestcast.results import Result, must_be
from harvestcast.season.next import tables
from harvestcast.season.next.case import Case, case_of
from harvestcast.season.next.goals import rule_of_thumb
from harvestcast.season.next.search import outcome, search
from harvestcast.season.next.steps import Layout, crop_reliability, lay_out, scale_to
from harvestcast.season.next.why import binding_limits, comments, shortage_lines
from harvestcast.season.next.words import plan_text

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from harvestcast.words.amounts import Units


TRIALS, FRESH_FUTURES = 300, 600
"""Futures on which whole plants are searched for, and on which the result is counted."""
RAISED_PROBABILITY = 0.95
MARGIN = 0.015
"""Added to the probability in the search, because a search ends where its own futures only just
meet the targets: about the standard error of a count on 300 futures."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class PlantingPlan(Result):
    """Beds for a coming season.

    Attributes
    ----------
    year, probability, futures, seed : int, float, int, int
        What was asked for; the season by the year it begins in.
    season : str
        The season as people say it: "2027", or "2027/28" where it crosses New Year.
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
    shortage : tuple of str
        Where the beds are too small for every target: what is missing and what would mend it
        (these lines stand in ``text`` too).
    shelf : str or None
        How much of today's shelf counts towards the targets (it stands in ``text`` too).
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
    shortage: tuple[str, ...] = ()
    shelf: str | None = None
    season: str = ""

    def _brief(self) -> str:
        return f"{self.year}, {len(self.beds)} plantings, {self.probability:.0%}"

    def _table(self) -> pd.DataFrame:
        return self.beds[["crop", "variety", "how", "date", "plants", "first_pick", "last_pick"]]

    def plot(self, *, units: Units = "metric", ax: Axes | None = None) -> Axes:
        """Draw when every planting goes in and when it is picked.

        Parameters
        ----------
        units : {"us", "metric"}
            Order of the dates.
        ax : matplotlib.axes.Axes, optional
            Where to draw; left out: axes of their own.

        Returns
        -------
        matplotlib.axes.Axes
        """
        from harvestcast import figures

        title = f"What goes in when, {self.year}"
        return figures.sowing_calendar(self.beds, units=units, title=title, ax=ax)

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
        Season to plan, by the year it begins in.
    probability : float
        Wanted for every target, 0.5 to 0.99.
    futures : int
        Possible seasons in the programme, at least 10. Reliability is counted on others.
    seed : int
        Seed of all futures.
    sowings : int
        Dates per variety that may be used, at least 1.
    limits : mapping of str to float, optional
        Most plants of a crop (``"tomato"``) or variety (``"tomato/name"``).
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
        Where there is nothing to plan for (no plantings, no targets), or the year is past.
    ValueError
        Where an argument is out of range.
    PlanError
        Where no layout was found.
    """
    must_be(garden, Garden, "plan_next_season")
    if not 0.5 <= probability <= 0.99:
        raise ValueError("probability: 0.5 to 0.99")
    if futures < 10 or sowings < 1:
        raise ValueError("futures: at least 10; sowings: at least 1")
    began = time.perf_counter()
    case = case_of(
        garden,
        year=year,
        probability=probability,
        draws=(futures, TRIALS, FRESH_FUTURES),
        seed=seed,
        sowings=sowings,
        limits=limits,
        bed_area_m2=bed_area_m2,
    )
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
    binds = {}
    if not done.reached:
        binds = binding_limits(
            fresh, done.plants, case.kitchen, case.choices, case.goals, mine, probability
        )
    higher = _raised(case, done, probability)
    units = garden.household.units
    short = shortage_lines(
        done.plants,
        done.unlimited,
        case.kitchen,
        case.choices,
        mine,
        probability,
        units,
    )
    said = comments(binds, done.plants, done.unlimited, case.kitchen, case.choices, units)
    seconds = time.perf_counter() - began
    return PlantingPlan(
        year=year,
        season=garden.seasons.label(year),
        probability=probability,
        futures=futures,
        seed=seed,
        beds=tables.beds_table(case.options, done.plants, case.fresh),
        reliability=tables.reliability_table(
            case.kitchen, case.goals, mine, results, said, probability
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
        text=plan_text(
            case.options,
            case.kitchen,
            case.fresh,
            case.learned,
            probability=probability,
            reached=done.reached,
            binds=binds,
            short=short,
            begun=case.begun,
            shelf=case.shelf,
            beds=case.beds,
            left_out=case.left_out,
            units=units,
        ),
        shortage=tuple(short),
        shelf=case.shelf,
    )


def _raised(case: Case, done: Layout, probability: float) -> list[tuple[float, Array, Any]]:
    """Plan again for a higher probability, where the plan reaches the one that was asked for."""
    if probability >= RAISED_PROBABILITY or not done.reached:
        return []
    goals = replace(case.goals, probability=RAISED_PROBABILITY)
    found = search(done.plants, case.trial.per_plant, case.kitchen, case.choices, goals)
    result = outcome(case.fresh.per_plant, found.plants, case.kitchen, case.choices, goals)
    return [(RAISED_PROBABILITY, found.plants, result)]
