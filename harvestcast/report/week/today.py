"""The first screen of the week's page: what to pick, do and buy today and tomorrow."""

from __future__ import annotations

from collections.abc import Iterator
from operator import itemgetter

import pandas as pd

from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.messages import texts
from harvestcast.report.week import mind as week_mind
from harvestcast.report.week import views, words
from harvestcast.report.week.results import Week
from harvestcast.words import amounts as wording


def head(week: Week) -> Piece:
    """Return the title, and what must be known before anything else."""
    units = week.units
    first = week.as_of + pd.Timedelta(days=1)
    return page.title(
        f"This week in the garden: {week.place}",
        [
            f"For {wording.long_day(first, units)} and the {7 * week.weeks - 1} days after it; "
            f"{week_mind.known_words(week)}.",
            *(f"{said}." for said in texts(week_mind.first_of_all(week))),
        ],
    )


def today(week: Week) -> Piece:
    """Return the first section: what to pick, do and buy today and tomorrow."""
    named = page.section(words.two_days(week), "", [])
    parts = page.beside(days_table(week), page.terms(_brief(week)))
    return Piece(page.first_page(named, parts).html, named.name)


def days_table(week: Week) -> Piece:
    """Return what each crop brings today and tomorrow, if it is picked, a row a crop."""
    wide: dict[str, dict[str, list[str]]] = {}
    due = views.due(week.days, views.LITTLE_KG)
    for _, row in due.iterrows():
        wide.setdefault(str(row["crop"]), {})[str(row["date"])] = words.day_words(row, week)
    days = dict.fromkeys(str(day) for day in due.get("date", ()))
    table = page.table(
        pd.DataFrame([{"crop": crop, **said} for crop, said in wide.items()]),
        [
            Cell(heading="Crop", words=page.column("crop")),
            *(
                Cell(heading=wording.day(day, week.units), words=itemgetter(day), number=True)
                for day in days
            ),
        ],
        caption="What a crop brings if you pick it on that day: the middle, in brackets the range "
        "that holds eight times in ten, pieces; in percent, how likely you are to pick it",
        empty="Nothing that is picked by the basket is due.",
        few=True,
    )
    little = words.little_due(week)
    return page.join([table, page.paragraph(little)]) if little else table


def _brief(week: Week) -> Iterator[tuple[str, list[str] | str]]:
    late = texts(week_mind.overdue(week))
    if late:
        yield "Overdue", [wording.sentence(one) for one in late]
    stands = words.standing_words(week)
    if stands:
        yield "Stands ready", f"{'; '.join(stands[:3])}."
    now, later = words.jobs_of_two_days(week)
    jobs = [
        f"{wording.day(row['day'], week.units)}: {words.job_line(row, week)}."
        for _, row in now.iterrows()
    ]
    if len(later):
        then = (
            f"{wording.day(row['day'], week.units)} {words.batch_words(row)}"
            for _, row in later.iterrows()
        )
        jobs.append(f"After that: {'; '.join(then)}.")
    perhaps = views.if_enough(week.batches)
    jobs += [wording.sentence(words.if_enough_line(row, week)) for _, row in perhaps.iterrows()]
    yield "To do", jobs or "Nothing is to be put up on these days."
    if len(week.changed):
        moved = (words.changed_line(row, week) for _, row in week.changed.iterrows())
        yield "Changed", [wording.sentence(one) for one in moved]
    buy = [words.bought_line(row, short=True) for _, row in words.bought(week).iterrows()]
    more = words.if_bought(week)
    yield (
        "To shop for",
        (f"{'; '.join(buy)} (for {words.decided_days(week)})." if buy else "Nothing.")
        + (f" Only if enough comes in: {more}." if more else ""),
    )
    over = views.left_over(week.surplus)
    left = [words.surplus_line(row, week) for _, row in over.head(3).iterrows()]
    uses = [wording.sentence(line) for line in words.uses_lines(week, short=True)[:3]]
    yield "Surplus", [f"{'; '.join(left)}.", *uses] if left else "None is likely."
    said = words.warnings(week)
    if said:
        yield "Mind", [wording.sentence(one) for one in said]
