"""Next season planned: what its page, summary and JSON are made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.report.plain import plain, rows
from harvestcast.report.season.results import next_season
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units
from harvestcast.words.crops import crops_said_as

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden
    from harvestcast.season.next.plan import PlantingPlan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class NextSeason:
    """What next season's page shows: the plan and the settings it is worded by."""

    place: str
    units: Units
    plan: PlantingPlan
    kept_out: pd.DataFrame = field(default_factory=pd.DataFrame)
    crop_words: Mapping[str, str] = field(default_factory=dict)


def next_of(garden: Garden, plan: PlantingPlan) -> NextSeason:
    """Put a plan beside the settings of its garden."""
    from harvestcast.kitchen.household.demand import wanted_jars
    from harvestcast.kitchen.week.refused import kept_out

    place = garden.household.place or garden.name
    kept = pd.DataFrame()
    if garden.last_day is not None:
        kept = kept_out(garden, wanted_jars(garden, garden.last_day))
    return NextSeason(
        place=place, units=garden.household.units, plan=plan, kept_out=kept,
        crop_words=garden.crop_words,
    )  # fmt: skip


def planned_next(
    folder: str | Path,
    *,
    year: int | None = None,
    probability: float = 0.9,
    seed: int = 1,
    say: Callable[[str], None] | None = None,
) -> NextSeason:
    """Open a garden and plan its next beds.

    Parameters
    ----------
    folder : path
        The garden folder.
    year : int, optional
        The season; left out: the one after the last of the log.
    probability : float
        Share of years in which each target is to be met.
    seed : int
        Seed of the draws.
    say : callable, optional
        Told what is being done.
    """
    from harvestcast.records.garden import open_garden

    tell = say or (lambda words: None)
    tell("reading the garden")
    garden = open_garden(folder)
    from harvestcast.season.next.plan import plan_next_season

    tell("planning the beds")
    wanted = next_season(garden) if year is None else year
    with crops_said_as(garden.crop_words):
        return next_of(
            garden, plan_next_season(garden, year=wanted, probability=probability, seed=seed)
        )


def summary(season: NextSeason, report: str | None = None) -> dict[str, Any]:
    """Return the plan as plain values with stable keys, for scripts.

    Returns
    -------
    dict
        ``kind`` ("next"), ``place``, ``units``, ``year``, ``probability``, ``futures``, ``seed``,
        ``report``, ``text``, ``solve``; the tables ``kept_out``, ``beds``, ``places``,
        ``staying``, ``seeds``, ``reliability``, ``glut``, ``compared``, ``trade_off``,
        ``calendar`` with the columns of
        :mod:`harvestcast.frames.season_tables`; metric, unknown is null.
    """
    plan = season.plan
    return {
        "kind": "next",
        "place": season.place,
        "units": season.units,
        "year": plan.year,
        "season": plan.season,
        "probability": plan.probability,
        "futures": plan.futures,
        "seed": plan.seed,
        "report": report,
        "text": [wording.clean(line) for line in plan.text],
        "lines": [{"code": line.code, "facts": plain(line.facts)} for line in plan.lines],
        "kept_out": rows(season.kept_out),
        "beds": rows(plan.beds),
        "staying": rows(plan.staying),
        "places": rows(plan.places),
        "seeds": rows(plan.seeds),
        "reliability": [
            {**row, "comment": row["comment"] and wording.clean(row["comment"])}
            for row in rows(plan.reliability)
        ],
        "glut": rows(plan.glut),
        "compared": rows(plan.compared),
        "trade_off": rows(plan.trade_off),
        "calendar": rows(plan.calendar),
        "solve": plain(plan.solve),
    }


def tried(folder: str | Path, season: NextSeason, change: Mapping[str, Any]) -> NextSeason | None:
    """Plan the same year with other settings; nothing is written.

    Parameters
    ----------
    folder : path
        The garden folder.
    season : NextSeason
        The plan as it is; its year, probability and seed are used again.
    change : mapping
        Settings to try, as in :func:`harvestcast.kitchen.household.what_if.changed_household`:
        ``{"people": 5}``, ``{"bed_area_m2": 120}``, ``{"targets": {"dill pickles": 60}}``.
        Empty: nothing is tried.

    Returns
    -------
    NextSeason or None
    """
    if not change:
        return None
    from harvestcast.kitchen.household.what_if import changed_household
    from harvestcast.records.garden import open_garden
    from harvestcast.season.next.plan import plan_next_season

    garden = open_garden(folder)
    changed = replace(garden, household=changed_household(garden.household, change))
    plan = season.plan
    with crops_said_as(garden.crop_words):
        return next_of(
            changed,
            plan_next_season(
                changed,
                year=plan.year,
                probability=plan.probability,
                futures=plan.futures,
                seed=plan.seed,
            ),
        )
