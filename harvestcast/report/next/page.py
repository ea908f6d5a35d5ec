"""Parts of the page of next season; its notebook calls the same ones."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvestcast import figures
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.next.planting import (
    bed_cell,
    places,
    seeds,
    span,
    to_plant,
)
from harvestcast.report.next.results import NextSeason, planned_next, tried
from harvestcast.report.next.words import (
    bed_at_once,
    brief,
    found,
    kind,
    layout,
)
from harvestcast.report.season import measures
from harvestcast.report.season.words import VERDICTS
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units


@page.in_own_words
def head(season: NextSeason) -> Piece:
    """Return the title and what to read first."""
    plan = season.plan
    short = plan.reliability["probability_met"] < plan.probability - 0.02
    wished = "Planned as near as can be to" if short.any() else "Planned for"
    return page.title(
        f"Next season: {season.place}, {plan.season}",
        [
            f"{wished} each target met in {wording.chance(plan.probability)} of years, as far "
            "as a plant brings more than it takes."
        ],
        page.terms(brief(season)),
    )


def calendar(season: NextSeason) -> Piece:
    """Return the year's tasks and first picks in a sentence each, month by month."""
    tasks = season.plan.calendar
    tasks = tasks.loc[tasks["task"] != "last pick"]
    parts = []
    for month, own in tasks.groupby(tasks["date"].dt.to_period("M"), sort=True):
        day = wording.long_day(month.start_time, season.units, weekday=False)
        name = day.replace(" 1,", "").removeprefix("1 ")
        lines = [
            f"{wording.day(row['date'], season.units)}: {_task(row, season.units)}"
            for _, row in own.iterrows()
        ]
        parts.append(page.under(name, page.bullets(lines, "")))
    return page.join(parts) if parts else page.paragraph("Nothing is planted.", "none")


def _task(row: pd.Series, units: Units) -> str:
    what = kind(row)
    if row["task"] == "sow indoors":
        days = span(row["early"], row["late"], units)
        return f"sow indoors for {wording.count(row['plants'])} {what} ({days})"
    if row["task"] != "first pick":
        return f"{row['task']} {wording.count(row['plants'])} {what}"
    known = pd.notna(row["early"]) and pd.notna(row["late"])
    sure = f" (8 years in 10: {span(row['early'], row['late'], units)})" if known else ""
    return f"first pick of {what}{sure}"


def targets(season: NextSeason) -> Piece:
    """Return how often every target is met, beside this year's beds."""
    plan, units = season.plan, season.units
    table = page.table(
        plan.reliability,
        [
            Cell(heading="Target", words=page.column("label")),
            Cell(
                heading="Wanted",
                words=lambda row: _amount(row["target"], row["unit"], units),
                number=True,
            ),
            Cell(
                heading="Met in",
                words=lambda row: wording.chance(row["probability_met"]),
                number=True,
            ),
            Cell(
                heading="9 years in 10 at least",
                words=lambda row: _amount(row["q10"], row["unit"], units),
                number=True,
            ),
            Cell(
                heading="This year's beds",
                words=lambda row: _known_chance(row["this_year_probability"]),
                number=True,
            ),
            Cell(
                heading="Rule of thumb",
                words=lambda row: _known_chance(row["rule_probability"]),
                number=True,
            ),
            Cell(
                heading="Remark",
                words=lambda row: "" if pd.isna(row["comment"]) else wording.clean(row["comment"]),
            ),
        ],
        caption="Targets, counted on possible seasons that the plan had not seen",
        empty="No target and no appetite is set.",
        stacked=True,
    )
    if not len(plan.reliability):
        return table
    before = [" ".join(map(wording.clean, plan.shortage)), wording.clean(plan.shelf or "")]
    table = page.join([*(page.paragraph(said) for said in before if said), table])
    title = "How often each target is met"
    ax = figures.reliability(plan.reliability, units=units, wish=plan.probability, title=title)
    alt = figures.reliability_alt(plan.reliability, units=units, wish=plan.probability, title=title)
    return page.join([table, page.grid([page.figure(ax, alt)], "")])


def _known_chance(share: float) -> str:
    return "" if pd.isna(share) else wording.chance(share)


def _amount(value: float, unit: Any, units: Units) -> str:
    if str(unit) == "kg":
        return wording.mass(value, units)
    name = measures.measure_unit(str(unit), units)
    # Whole jars, rounded down: "at least" must not promise one that is not there.
    shown = measures.in_measure_unit(value, str(unit), units)
    whole = "" if pd.isna(shown) else wording.plain_number(math.floor(shown + 0.05))
    return f"{whole or wording.significant(shown, 3)} {name}"


def glut(season: NextSeason) -> Piece:
    """Return what is beyond use week by week, beside this year's beds."""
    weeks = _from_first_to_last(season.plan.glut)
    if not len(weeks):
        return page.paragraph("No week is looked at.", "none")
    title = "Beyond use, week by week"
    ax = figures.glut_weeks(weeks, units=season.units, title=title)
    alt = figures.glut_weeks_alt(weeks, units=season.units, title=title)
    return page.grid([page.figure(ax, alt)], "")


def _from_first_to_last(weeks: pd.DataFrame) -> pd.DataFrame:
    """Leave out the empty weeks before the first and after the last with anything beyond use."""
    high = np.fmax(weeks["plan_q90_kg"].to_numpy(float), weeks["this_year_kg"].to_numpy(float))
    some = np.flatnonzero(np.nan_to_num(high) > 0.01 * np.nanmax(high, initial=0.0) + 0.05)
    if not len(some):
        return weeks
    return weeks.iloc[max(0, some[0] - 1) : some[-1] + 2]


def compared(season: NextSeason) -> Piece:
    """Return the plan beside this year's beds and the rule of thumb, on the same futures."""
    units = season.units
    rule = (
        "The rule of thumb sets what the targets take, divided by the middle of the published "
        "yields of a plant, all on the first date."
    )
    table = page.table(
        season.plan.compared,
        [
            Cell(heading="Beds", words=lambda row: layout(row["layout"], row["scale"])),
            Cell(heading="Plants", words=lambda row: wording.count(row["plants"]), number=True),
            bed_cell(units, at_once=True),
            Cell(
                heading="Targets met, mean",
                words=lambda row: wording.chance(row["mean_reliability"]),
                number=True,
            ),
            Cell(
                heading="Beyond use",
                words=lambda row: wording.mass(row["glut_kg"], units),
                number=True,
            ),
            Cell(heading="Jars", words=lambda row: wording.count(row["jars"]), number=True),
            Cell(heading="Hours", words=lambda row: wording.count(row["hours"]), number=True),
        ],
        caption="The same possible seasons for all; means of a season",
        empty="There are no other beds to compare with.",
        stacked=True,
    )
    known = season.plan.compared["layout"].isin(["rule_of_thumb", "rule_of_thumb.as_sure"]).any()
    return page.join([page.paragraph(rule), table]) if known else table


def trade_off(season: NextSeason) -> Piece:
    """Return what a higher probability costs in bed and glut."""
    units = season.units
    if len(season.plan.trade_off) < 2:
        return page.paragraph(
            "Not every target is met as often as wished, so nothing surer was planned."
            if not season.plan.solve["reached"]
            else "No higher probability was tried."
        )
    return page.table(
        season.plan.trade_off,
        [
            Cell(heading="Wished", words=lambda row: wording.chance(row["probability"])),
            Cell(
                heading="Least sure target",
                words=lambda row: wording.chance(row["least_reliability"]),
                number=True,
            ),
            Cell(heading="Plants", words=lambda row: wording.count(row["plants"]), number=True),
            bed_cell(units, at_once=True),
            Cell(
                heading="Beyond use",
                words=lambda row: wording.mass(row["glut_kg"], units),
                number=True,
            ),
            Cell(heading="Falls short", words=page.column("short")),
        ],
        caption="What more certainty costs",
        empty="",
        stacked=True,
    )


def basis(season: NextSeason) -> Piece:
    """Return how the plan was found."""
    plan = season.plan
    above = (*plan.shortage, plan.shelf)
    lines = [wording.sentence(wording.clean(line)) for line in plan.text if line not in above]
    return page.join([page.paragraph(found(season.plan)), page.bullets(lines, "")])


@page.in_own_words
def what_if(season: NextSeason, changed: NextSeason | None) -> Piece:
    """Return the plan beside the one with other settings."""
    if changed is None:
        return page.section("What if", "No setting is changed, so nothing was tried.", [])
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
    return page.section("What if", "", [table])


@page.in_own_words
def varieties(season: NextSeason) -> Piece:
    """Return which varieties stay, go or get another try, and why."""
    staying = season.plan.staying
    table = page.table(
        staying.sort_values(
            ["crop", "verdict", "kg_per_m2"], ascending=[True, True, False], kind="stable"
        ),
        [
            Cell(heading="Variety", words=kind),
            Cell(heading="Verdict", words=lambda row: VERDICTS[row["verdict"]]),
            Cell(
                heading="Plants this year",
                words=lambda row: wording.count(row["this_year"]),
                number=True,
            ),
            Cell(
                heading="Next year",
                words=lambda row: wording.count(row["plants"]),
                number=True,
            ),
            Cell(heading="Evidence", words=lambda row: wording.clean(row["says"])),
        ],
        caption="Yields are means of the possible seasons",
        empty="No variety could be planted.",
        stacked=True,
    )
    return page.section(
        "Which varieties stay",
        "Bed for bed, each is held against the best other one of its crop in the plan, on the same "
        "possible seasons. One goes only where it hardly ever brings more.",
        [page.folded("Variety by variety", table)],
    )


@page.in_own_words
def how_sure(season: NextSeason) -> Piece:
    """Return the section on how often each target is met."""
    return page.section(
        "How sure it is",
        "The targets are those of garden.toml, and the appetite at the table. Each was counted on "
        "many possible seasons that the plan had not seen: warm and cool years, early and late "
        "frost, good and poor plants.",
        [page.folded("Target by target", targets(season))],
    )


@page.in_own_words
def too_much(season: NextSeason) -> Piece:
    """Return the section on what no use is left for, week by week."""
    return page.section(
        "What will be too much",
        "Produce beyond what can be eaten, given away and put up in that week, on average; a "
        "season of its own may differ much.",
        [page.folded("Figure of the weeks", glut(season))],
    )


@page.in_own_words
def other_beds(season: NextSeason) -> Piece:
    """Return the section that holds the plan against other beds."""
    return page.section(
        "Against other beds",
        "",
        [compared(season), page.under("More certainty", trade_off(season))],
    )


@page.in_own_words
def year_round(season: NextSeason) -> Piece:
    """Return the section with the year's calendar."""
    return page.section("The year's calendar", "", [page.folded("Day by day", calendar(season))])


@page.in_own_words
def how_found(season: NextSeason) -> Piece:
    """Return the section on how the plan was found."""
    return page.section("How the plan was found", "", [basis(season)])


PARTS = (
    head,
    to_plant,
    places,
    seeds,
    varieties,
    how_sure,
    too_much,
    other_beds,
    year_round,
    how_found,
)
"""The parts of the page in their order; the notebook shows the same."""
PARAMETERS = ("year", "probability", "seed", "change")


def parts(
    folder: str | Path,
    *,
    results: NextSeason | None = None,
    say: Callable[[str], None] | None = None,
    year: int | None = None,
    probability: float = 0.9,
    seed: int = 1,
    change: Mapping[str, Any] | None = None,
) -> list[Piece]:
    """Return the parts of the page of a garden's next season.

    Parameters
    ----------
    folder : path
        The garden folder.
    results : NextSeason, optional
        Results computed already; ``year``, ``probability`` and ``seed`` are theirs then.
    say : callable, optional
        Told what is being done.
    year, probability, seed
        As :func:`harvestcast.report.next.results.planned_next` takes them.
    change : mapping, optional
        Settings to try, as :func:`harvestcast.report.next.results.tried` takes them.

    Raises
    ------
    TypeError
        Where the results are those of another report.
    """
    found = results
    if found is None:
        found = planned_next(folder, year=year, probability=probability, seed=seed, say=say)
    if not isinstance(found, NextSeason):
        raise TypeError(f"next season's page is made of a NextSeason, not {type(found).__name__}")
    made = [part(found) for part in PARTS]
    return [*made, what_if(found, tried(folder, found, change))] if change else made
