"""Parts of the page of next season; the notebook calls them in turn."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.report import figures
from harvestcast.report.html import page
from harvestcast.report.html.handover import read_aside
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.next.words import (
    brief,
    comment,
    found,
    how,
    kind,
    layout,
    plainly,
    planted,
    standing,
)
from harvestcast.report.season import measures
from harvestcast.report.week.results import plain, rows
from harvestcast.report.week.words import kept_out_words
from harvestcast.words import amounts as wording
from harvestcast.words.amounts import Units

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


def next_of(garden: Garden, plan: PlantingPlan) -> NextSeason:
    """Put a plan beside the settings of its garden."""
    from harvestcast.kitchen.household.demand import wanted_jars
    from harvestcast.kitchen.week.refused import kept_out

    place = garden.household.place or garden.name
    kept = pd.DataFrame()
    if garden.last_day is not None:
        kept = kept_out(garden, wanted_jars(garden, garden.last_day))
    return NextSeason(place=place, units=garden.household.units, plan=plan, kept_out=kept)


def read(path: str | Path) -> NextSeason:
    """Return results that the command line put aside for the notebook it runs."""
    return read_aside(path, NextSeason)


def summary(season: NextSeason, report: str | None = None) -> dict[str, Any]:
    """Return the plan as plain values with stable keys, for scripts.

    Returns
    -------
    dict
        ``kind`` ("next"), ``place``, ``units``, ``year``, ``probability``, ``futures``, ``seed``,
        ``report``, ``text``, ``solve``; the tables ``kept_out``, ``beds``, ``reliability``,
        ``glut``, ``compared``, ``trade_off``, ``calendar`` with the columns of
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
        "text": [plainly(line) for line in plan.text],
        "lines": [{"code": line.code, "facts": plain(line.facts)} for line in plan.lines],
        "kept_out": rows(season.kept_out),
        "beds": rows(plan.beds),
        "reliability": [
            {**row, "comment": row["comment"] and plainly(row["comment"])}
            for row in rows(plan.reliability)
        ],
        "glut": rows(plan.glut),
        "compared": rows(plan.compared),
        "trade_off": rows(plan.trade_off),
        "calendar": rows(plan.calendar),
        "solve": plain(plan.solve),
    }


def terminal(season: NextSeason, *, strong: bool = False) -> str:
    """Return the short summary for the terminal."""
    plan, units = season.plan, season.units
    head = f"{wording.clean(season.place)}: beds for {plan.season}"
    out = [f"\x1b[1m{head}\x1b[0m" if strong else head, "", "To plant"]
    for _, row in planted(plan).iterrows():
        when = wording.day(row["date"], units, year=plan.crosses_new_year)
        out.append(f"  {when}: {how(row)} {row['plants']} {kind(row)}")
    stands = [f"  {row['plants']} {kind(row)}" for _, row in standing(plan).iterrows()]
    if stands:
        out += ["", "Stays where it stands", *stands]
    out += ["", f"Targets met (wished: {wording.chance(plan.probability)} of years)"]
    for _, row in plan.reliability.iterrows():
        out.append(
            f"  {wording.clean(row['label'])}: {wording.chance(row['probability_met'])}"
            + comment(row)
        )
    out += [f"  {name}: {why}" for name, why in kept_out_words(season.kept_out)]
    return "\n".join([*out, "", *(plainly(line) for line in plan.text)])


def head(season: NextSeason) -> Piece:
    """Return the title and what to read first."""
    plan = season.plan
    short = plan.reliability["probability_met"] < plan.probability - 0.02
    wished = "Planned as near as can be to" if short.any() else "Planned for"
    return page.join(
        [
            page.title(
                f"Next season: {season.place}, {plan.season}",
                [
                    f"{wished} each target met in {wording.chance(plan.probability)} of years, "
                    "with little bed space and little left over."
                ],
            ),
            page.terms(brief(season)),
        ]
    )


def beds(season: NextSeason) -> Piece:
    """Return what to plant, how many and when, in the order of the days."""
    plan, units = season.plan, season.units
    shown = pd.concat([standing(plan), planted(plan)])
    grounds = {str(basis): i for i, basis in enumerate(dict.fromkeys(shown["basis"]), 1)}
    table = page.table(
        shown,
        [
            Cell(
                heading="Plant",
                words=lambda row: (
                    f"{_when(row, units)}: {wording.count(row['plants'])} {kind(row)}"
                ),
            ),
            Cell(
                heading="Picked",
                words=lambda row: _span(row["first_pick"], row["last_pick"], units),
            ),
            Cell(
                heading="Harvest",
                words=lambda row: (
                    wording.mass(row["mean_kg"], units)
                    + (f" [{grounds[str(row['basis'])]}]" if len(grounds) > 1 else "")
                ),
                number=True,
            ),
            _bed_cell(units),
        ],
        caption="What to plant; the harvest is the mean of the possible seasons",
        empty="Nothing needs to be planted for the targets that are set.",
        stacked=True,
    )
    if not len(shown):
        return table
    title = "What goes in when"
    ax = figures.sowing_calendar(shown, units=units, title=title)
    alt = figures.sowing_calendar_alt(shown, units=units, title=title)
    return page.join([table, _grounds(grounds), page.grid([page.figure(ax, alt)], "")])


def _when(row: pd.Series, units: Units) -> str:
    if row["how"] == "stands":
        return how(row)
    # The year stands where the harvest falls into another one.
    year = any(pd.notna(day) and day.year != row["date"].year for day in
               (row["first_pick"], row["last_pick"]))  # fmt: skip
    return f"{how(row)} {wording.day(row['date'], units, weekday=False, year=year)}"


def _grounds(grounds: dict[str, int]) -> Piece:
    if len(grounds) == 1:
        return page.paragraph(f"All of it rests on {next(iter(grounds))}.", "notes")
    return page.notes(grounds, "Rests on")


def _bed_cell(units: Units, *, at_once: bool = False) -> Cell:
    # What the beds take at once is shown as fine as their limit, or a rounded figure beats it.
    return Cell(
        heading=f"Bed{' at once' if at_once else ''}, {measures.measure_unit('m2', units)}",
        words=lambda row: wording.significant(
            measures.in_measure_unit(row["area_m2"], "m2", units), 4 if at_once else 2
        ),
        number=True,
    )


def _span(first: Any, last: Any, units: Units) -> str:
    if pd.isna(first) or pd.isna(last):
        return wording.UNKNOWN
    year = first.year != last.year
    days = [wording.day(day, units, weekday=False, year=year) for day in (first, last)]
    return " to ".join(days) if days[0] != days[1] else f"about {days[0]}, all at once"


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
        parts.append(Piece(f"<h3>{page.text(name)}</h3>"))
        parts.append(page.bullets(lines, ""))
    return page.join(parts) if parts else page.paragraph("Nothing is planted.", "none")


def _task(row: pd.Series, units: Units) -> str:
    what = kind(row)
    if row["task"] != "first pick":
        return f"{row['task']} {wording.count(row['plants'])} {what}"
    known = pd.notna(row["early"]) and pd.notna(row["late"])
    span = f" (8 years in 10: {_span(row['early'], row['late'], units)})" if known else ""
    return f"first pick of {what}{span}"


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
                words=lambda row: "" if pd.isna(row["comment"]) else plainly(row["comment"]),
            ),
        ],
        caption="Targets, counted on possible seasons that the plan had not seen",
        empty="No target and no appetite is set.",
        stacked=True,
    )
    if not len(plan.reliability):
        return table
    before = [" ".join(map(plainly, plan.shortage)), plainly(plan.shelf or "")]
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
            Cell(heading="Beds", words=layout),
            Cell(heading="Plants", words=lambda row: wording.count(row["plants"]), number=True),
            _bed_cell(units, at_once=True),
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
    known = season.plan.compared["layout"].str.startswith("rule of thumb").any()
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
            _bed_cell(units, at_once=True),
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
    lines = [wording.sentence(plainly(line)) for line in plan.text if line not in above]
    return page.join([page.paragraph(found(season.plan)), page.bullets(lines, "")])
