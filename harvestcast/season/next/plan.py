"""Next season's beds: how many plants of which variety on which day."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.records.garden import Garden
from harvestcast.results import Result, must_be
from harvestcast.season.messages import NOT_LOGGED, Said, said, texts
from harvestcast.season.next import tables
from harvestcast.season.next.case import Case, case_of, goals_of
from harvestcast.season.next.goals import FRESH_SHARE, is_stored, rule_of_thumb
from harvestcast.season.next.ground import ground_of, places_table
from harvestcast.season.next.search import ROUGH, outcome, search
from harvestcast.season.next.seeds import seed_table
from harvestcast.season.next.steps import Layout, crop_reliability, lay_out, scale_to
from harvestcast.season.next.why import (
    binding_limits,
    binding_line,
    comments,
    remedies,
    row_reasons,
    shortage_lines,
    staying_table,
)
from harvestcast.season.yields.curves import FASTEST

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from harvestcast.words.amounts import Units


TRIALS, FRESH_FUTURES = 200, 600
"""Futures on which whole plants are searched for, and on which the result is counted."""
RAISED_PROBABILITY = 0.95
SHORT = 0.02
"""Probability missing from which a target counts as missed: about the error of its count."""


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
        What to plant, and why; where nothing is planted no row (BEDS).
    staying : pandas.DataFrame
        Which varieties stay, go or get another try, and on what evidence (STAYING).
    places : pandas.DataFrame
        Which bed takes which row, as far as the plantings name beds (PLACES).
    seeds : pandas.DataFrame
        What to order, and when to sow indoors (SEEDS).
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
        ``status`` of the programme; in points, with hindsight on its own futures, its ``bound``
        (no layout brings more) and the ``worth`` of the plan, and their ``gap`` as a share;
        ``seconds``, ``rows``, ``columns``, ``tried`` (layouts), ``reached`` (every target).
    lines : tuple of Said
        What the figures rest on and what falls short; ``text`` has the same in sentences,
        ``shortage`` and ``shelf`` those of the lines about beds too small and about the shelf.
    """

    year: int
    probability: float
    futures: int
    seed: int
    beds: pd.DataFrame
    staying: pd.DataFrame
    places: pd.DataFrame
    seeds: pd.DataFrame
    reliability: pd.DataFrame
    glut: pd.DataFrame
    compared: pd.DataFrame
    trade_off: pd.DataFrame
    calendar: pd.DataFrame
    solve: Mapping[str, Any]
    lines: tuple[Said, ...]
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
        drawn = figures.sowing_calendar(self.beds, units=units, title=title, ax=ax)
        return figures.in_session(drawn, ax)

    @property
    def text(self) -> tuple[str, ...]:
        """The lines in sentences."""
        return texts(self.lines)

    @property
    def crosses_new_year(self) -> bool:
        """Whether the calendar's dates need their years."""
        calendar = object.__getattribute__(self, "calendar")
        days = pd.concat([calendar[name] for name in ("date", "early", "late")])
        return len(set(days.dt.year)) > 1

    @property
    def shortage(self) -> tuple[str, ...]:
        """Where the beds are too small for every target: what is missing, what would mend it."""
        return texts(line for line in self.lines if line.code in ("beds.short", "beds.mend"))

    @property
    def shelf(self) -> str | None:
        """How much of today's shelf counts towards the targets."""
        return next((line.text for line in self.lines if line.code == "shelf.counts"), None)

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
    futures: int = 30,
    seed: int = 1,
    sowings: int = 3,
    limits: Mapping[str, float] | None = None,
    bed_area_m2: float | None = None,
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
    )
    fresh = case.fresh.per_plant
    mine = outcome(fresh, done.plants, case.kitchen, case.choices, case.goals)
    this_year = np.array([option.this_year for option in case.options])
    rule = rule_of_thumb(case.options, case.kitchen, case.goals)
    rivals = {"this_year": this_year, "rule_of_thumb": rule}
    known = {name: plants for name, plants in rivals.items() if plants.sum() > 0}
    results = {
        name: outcome(fresh, plants, case.kitchen, case.choices, case.goals)
        for name, plants in known.items()
    }
    reached = bool((np.nan_to_num(mine.reliability, nan=1.0) >= probability - SHORT).all())
    as_sure = crop_reliability(mine, case.kitchen)
    scaled = {
        name: scale_to(plants, as_sure, fresh, case.kitchen, case.choices, case.goals)
        for name, plants in known.items()
    }
    binds = {}
    if not reached:
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
    again = np.array([o.how == "sown" and not is_stored(o.crop) for o in case.options])
    help_of = remedies(
        list(binds), fresh, done.plants, case.kitchen, case.choices, case.goals, mine, probability,
        again & np.array([not o.standing for o in case.options]),
    )  # fmt: skip
    falls = comments(binds, done.plants, done.unlimited, case.kitchen, case.choices, units, help_of)
    beds = tables.beds_table(
        case.options,
        done.plants,
        case.fresh,
        row_reasons(case.options, done.plants, case.fresh, units),
    )
    ground = ground_of(garden, case.options, case.choices, year)
    seconds = time.perf_counter() - began
    return PlantingPlan(
        year=year,
        season=garden.seasons.label(year),
        probability=probability,
        futures=futures,
        seed=seed,
        beds=beds,
        places=places_table(
            ground, case.options, done.plants, case.choices, (year, garden.seasons.label), beds
        ),
        staying=staying_table(
            case.options,
            done.plants,
            case.fresh,
            case.learned.units,
            units,
            full=done.unlimited is not None,
        ),
        seeds=seed_table(case.options, done.plants),
        reliability=tables.reliability_table(
            case.kitchen, case.goals, mine, results, falls, probability
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
                "status": "optimal",
                "gap": done.gap,
                "bound": done.bound,
                "worth": done.worth,
                "seconds": seconds,
                "programme_seconds": done.seconds,
                "rows": done.rows,
                "columns": done.columns,
                "tried": done.tried,
                "reached": reached,
            }
        ),
        lines=plan_lines(case, probability=probability, reached=reached, binds=binds,
                         short=short),
    )  # fmt: skip


def plan_lines(
    case: Case,
    *,
    probability: float,
    reached: bool,
    binds: Mapping[int, tuple[str, ...]],
    short: Sequence[Said],
) -> tuple[Said, ...]:
    """Return what to read beside the tables of a plan."""
    lines = [case.begun] if case.begun else []
    if not reached:
        lines.append(said("plan.not_reached", probability=probability))
    if binds:
        lines.append(binding_line(binds, case.kitchen.target_labels))
    lines += short
    if case.shelf:
        lines.append(case.shelf)
    futures = len(case.fresh.per_plant)
    lines += [
        said("plan.counted", futures=futures, share=FRESH_SHARE),
        case.beds,
        said("plan.no_pick_before", share=FASTEST),
    ]
    stored = sorted({option.crop for option in case.options if is_stored(option.crop)})
    if stored:
        lines.append(said("plan.stored", crops=stored))
    ranges = _almanac_ranges(case)
    if ranges:
        lines.append(said("plan.nothing_logged", units=case.units, ranges=ranges))
    lines += _learned_lines(case)
    lines += case.left_out
    return (*lines, *(said("weather.told", text=text) for text in case.fresh.notices))


def _learned_lines(case: Case) -> list[Said]:
    """Say which seasons yields rest on, where not all of the log is of whole seasons."""
    learned = case.learned
    if learned.fit is None:
        return []
    if not learned.whole:
        return [said("log.no_whole_season")]
    lines = []
    if learned.unfinished:
        rests = [(case.seasons.label(one), last) for one, last in learned.ends.items()]
        left = [case.seasons.label(one) for one in learned.unfinished]
        lines.append(said("log.rests_on", seasons=rests, left_out=left))
    if learned.broken_off:
        lines.append(said("log.broken_off", days=list(learned.broken_off)))
    return lines


def _almanac_ranges(case: Case) -> list[tuple[str, float, float]]:
    """Return what a plant brings in 8 of 10 seasons, of crops of which nothing is logged. [kg]."""
    found: dict[str, tuple[float, float]] = {}
    for place, option in enumerate(case.options):
        if option.basis in NOT_LOGGED and option.crop not in found:
            season = case.fresh.per_plant[:, :, place].sum(axis=1)
            low, high = np.quantile(season, (0.1, 0.9))
            found[option.crop] = float(low), float(high)
    return [(crop, low, high) for crop, (low, high) in sorted(found.items())]


def _raised(case: Case, done: Layout, probability: float) -> list[tuple[float, Array, Any]]:
    """Plan again for a higher probability: what is missing counts more."""
    if probability >= RAISED_PROBABILITY:
        return []
    fresh = case.goals.fresh_kg, case.goals.fresh_weeks
    goals = goals_of(case.prices, case.kitchen, fresh, RAISED_PROBABILITY)
    trial = case.trial.per_plant[:ROUGH]
    found = search(done.plants, trial, case.kitchen, case.choices, goals)
    result = outcome(case.fresh.per_plant, found.plants, case.kitchen, case.choices, goals)
    return [(RAISED_PROBABILITY, found.plants, result)]
