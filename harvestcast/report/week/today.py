"""The first screen of the week's page: what to pick, do and buy today and tomorrow."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import pandas as pd

from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.messages import texts
from harvestcast.report.week import mind as week_mind
from harvestcast.report.week import surplus, views, words
from harvestcast.report.week.results import Week
from harvestcast.words import amounts as wording

MOST_LEFT = 4
"""Crops of which the first screen says that too much is likely."""


@page.in_own_words
def head(week: Week) -> Piece:
    """Return the title, and what must be known before anything else."""
    units = week.units
    first = week.as_of + pd.Timedelta(days=1)
    return page.title(
        f"This week: {week.place}",
        [
            f"For {wording.long_day(first, units)} and the {7 * week.weeks - 1} days after it; "
            f"{week_mind.known_words(week)}.",
            *(f"{said}." for said in texts(week_mind.first_of_all(week))),
        ],
    )


@page.in_own_words
def today(week: Week) -> Piece:
    """Return the first section: what to pick, do and buy, and what is too much."""
    named = page.section(words.two_days(week), "", [])
    parts = [
        *(page.terms([pair]) for pair in _before(week)),
        days_table(week),
        page.terms(_brief(week), "columns"),
        *(page.terms([pair]) for pair in _after(week)),
    ]
    return Piece(page.first_page(named, *parts).html, named.name)


def days_table(week: Week) -> Piece:
    """Return what each crop brings today, tomorrow and in the week, a row a crop."""
    soon = views.due(week.days, views.LITTLE_KG)
    wide: dict[str, dict[str, list[str]]]
    wide = {crop: {} for crop in views.first_rows(week.coming, week.days)}
    for _, row in words.first_week(week).iterrows():
        if row["crop"] in wide:
            wide[str(row["crop"])]["week"] = words.week_words(row, week)
    for _, row in soon.iterrows():
        wide[str(row["crop"])][str(row["date"])] = words.day_words(row, week)
    days = dict.fromkeys(str(day) for day in soon.get("date", ()))
    end = week.as_of + pd.Timedelta(days=7)
    table = page.table(
        pd.DataFrame([{"crop": crop, **said} for crop, said in wide.items()]),
        [
            Cell(heading="Crop", words=page.column("crop")),
            *(
                Cell(heading=wording.day(day, week.units), words=_lines_of(day), number=True)
                for day in days
            ),
            Cell(
                heading=f"7 days to {wording.day(end, week.units)}",
                words=_lines_of("week"),
                number=True,
            ),
        ],
        caption="A day: if you pick on it. Small: the range that holds 8 times in 10; in percent, "
        "how likely you are to pick on that day",
        empty="Nothing that is picked by the basket is due.",
        few=True,
    )
    little = words.little_coming(week)
    return page.join([table, page.paragraph(little)]) if little else table


def _lines_of(name: str) -> Callable[[pd.Series], list[str]]:
    return lambda row: row[name] if isinstance(row[name], list) else []


Terms = Iterator[tuple[str, list[str] | str]]


def _before(week: Week) -> Terms:
    late = texts(week_mind.overdue(week))
    if late:
        yield "Overdue", [wording.sentence(one) for one in late]
    stands = words.standing_words(week)
    if stands:
        yield "Stands ready", f"{'; '.join(stands[:3])}."


def _brief(week: Week) -> Terms:
    now, later = words.jobs_of_two_days(week)
    perhaps = views.if_enough(week.batches)
    jobs = [
        f"{wording.day(row['day'], week.units)}: {words.job_in_short(row, week)}."
        for _, row in now.iterrows()
    ]
    if len(later):
        then = (
            f"{wording.day(row['day'], week.units)} {words.batch_words(row)}"
            for _, row in later.iterrows()
        )
        jobs.append(f"After that: {'; '.join(then)}.")
    jobs += [wording.sentence(words.if_enough_in_short(row, week)) for _, row in perhaps.iterrows()]
    if jobs:
        jobs.append("How, and for how long: see the kitchen sheet below.")
    yield "To do", jobs or "Nothing is to be put up on these days."
    buy = [words.bought_line(row, short=True) for _, row in words.bought(week).iterrows()]
    more = words.if_bought(week)
    buy += [f"for {words.decided_days(week)}"] if buy else []
    buy += [f"only if enough comes in: {more}"] if more else []
    yield "To buy", [wording.sentence(one) for one in buy] or "Nothing."
    left = [wording.sentence(line) for line in surplus.surplus_lines(week)]
    if len(left) > MOST_LEFT:
        left[MOST_LEFT:] = [f"{len(left) - MOST_LEFT} crops more: see what will be left over."]
    yield "Surplus", left or "None is likely."


def _after(week: Week) -> Terms:
    if len(week.changed):
        moved = (words.changed_line(row, week) for _, row in week.changed.iterrows())
        yield "Changed", [wording.sentence(one) for one in moved]
    said = words.warnings(week)
    if said:
        yield "Mind", [wording.sentence(one) for one in said]
