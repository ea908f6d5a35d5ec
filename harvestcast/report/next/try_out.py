"""Next season planned with other settings: what a change would do to the beds and targets."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.next.page import NextSeason, next_of
from harvestcast.report.next.words import bed_at_once
from harvestcast.words import amounts as wording


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


def what_if(season: NextSeason, changed: NextSeason | None) -> Piece:
    """Return the plan beside the one with other settings; nothing where none was tried."""
    if changed is None:
        return Piece("")
    units = season.units
    rows = []
    for name, one in (("as it is", season), ("with the change", changed)):
        beds, targets = one.plan.beds, one.plan.reliability
        met = targets["probability_met"] >= one.plan.probability - 0.005
        rows.append(
            {
                "plan": name,
                "plants": wording.count(beds["plants"].sum()),
                "area": bed_at_once(one.plan, units),
                "met": f"{int(met.sum())} of {len(targets)}",
                "glut": wording.about_mass(one.plan.glut["plan_kg"].sum(), units),
            }
        )
    table = page.table(
        pd.DataFrame(rows),
        [
            Cell(heading="Plan", words=page.column("plan")),
            Cell(heading="Plants", words=page.column("plants"), number=True),
            Cell(
                heading="Bed at once",
                words=page.column("area"),
                number=True,
            ),
            Cell(heading="Targets met as wished", words=page.column("met"), number=True),
            Cell(heading="Beyond use", words=page.column("glut"), number=True),
        ],
        caption="Means over the possible seasons",
        empty="",
        stacked=True,
    )
    return page.join([Piece("<h3>What if</h3>"), table])
