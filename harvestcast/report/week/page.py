"""Parts of the week's page; its notebook calls the same ones."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pandas as pd

from harvestcast import figures
from harvestcast.growth.log.picked import pick_rates, picked_weeks
from harvestcast.report.html import page
from harvestcast.report.html.page import Cell, Piece
from harvestcast.report.week import basis, surplus, today, views, words
from harvestcast.report.week import mind as week_mind
from harvestcast.report.week.process_words import process_words
from harvestcast.report.week.results import Week, planned_week, tried
from harvestcast.words import amounts as wording

HOW_FULL = (
    "How full a decided batch becomes depends on what comes: eight times in ten it fills what "
    "stands in brackets. The hours kept free for it are those of a full one, so the most it takes. "
    "What is likely in the days after is an average over futures with more, with less and with "
    "nothing to put up, so it may be less than one batch and has fewer hours."
)
"""How to read the two tables of batches beside each other."""


def coming_table(week: Week) -> Piece:
    """Return the forecast of every crop and week, a row a crop."""
    wide = []
    for crop, rows in week.coming.groupby("crop", sort=False):
        if not (rows["q95_kg"] > 0.02).any():
            continue
        row = {"crop": crop, "last": rows["last_7_days_kg"].iloc[0]}
        row["count"] = words.count_words(rows.iloc[0])
        for _, one in rows.iterrows():
            row[f"w{one['week']}"] = words.coming_line(one, week)
        wide.append(row)
    cells = [
        Cell(heading="Crop", words=page.column("crop")),
        Cell(
            heading="Last 7 days",
            words=lambda row: wording.mass(row["last"], week.units),
            number=True,
        ),
        *_week_cells(week.coming, week),
        Cell(heading="Pieces, first week", words=page.column("count"), number=True),
    ]
    return page.table(
        pd.DataFrame(wide),
        cells,
        caption="The middle first; eight times in ten within the range in brackets",
        empty="Nothing is coming that the log lets us foresee.",
        stacked=True,
    )


def coming_figures(week: Week) -> Piece:
    """Return the weekly bands of every crop worth a figure."""
    made = []
    for crop in views.worth_showing(week.coming):
        own = week.coming.loc[week.coming["crop"] == crop]
        past = picked_weeks(week.picked, crop, week.as_of)
        name = wording.clean(crop).capitalize()
        ax = figures.weekly_bands(own, past, units=week.units, title=name)
        alt = figures.weekly_bands_alt(own, past, units=week.units, title=name)
        made.append(page.figure(ax, alt))
    return page.grid(made, "No crop is coming in amounts worth a figure.")


def curve_figures(week: Week, most: int = 8) -> Piece:
    """Return, for the varieties of the crops that matter, the picks against the fitted curve."""
    fitted = week.fitted
    keys = [
        (crop, str(variety))
        for crop in views.worth_showing(week.coming)
        for variety in dict.fromkeys(fitted.loc[fitted["crop"] == crop, "variety"])
    ]
    made = []
    for crop, variety in keys[:most]:
        own = fitted.loc[(fitted["crop"] == crop) & (fitted["variety"] == variety)]
        picks = pick_rates(week.picked, crop, variety)
        name = f"{wording.clean(variety)} ({wording.clean(crop)})"
        ax = figures.season_curve(own, picks, units=week.units, as_of=week.as_of, title=name)
        alt = figures.season_curve_alt(own, picks, units=week.units, as_of=week.as_of, title=name)
        made.append(page.figure(ax, alt))
    return page.grid(made, "No variety has a curve yet.")


def kitchen_sheet(week: Week) -> Piece:
    """Return the days' work and the shopping on one sheet to hang up."""
    units = week.units
    decided = week.batches.loc[week.batches["decided"]].reset_index(drop=True)
    likely = views.later(week.batches)
    if_enough = views.if_enough(week.batches)
    shown = [one for table in (decided, if_enough, likely) for one in table["source"].dropna()]
    sources = {
        said: number
        for number, said in enumerate(dict.fromkeys(words.source_words(s) for s in shown), 1)
    }
    source = Cell(heading="Source", words=lambda row: _note_mark(row["source"], sources))
    above = (
        "no elevation is set, so nothing is canned"
        if week.elevation_m is None
        else f"times and pressures hold for {wording.elevation(week.elevation_m, units)} above the "
        "sea"
    )
    litres = words.jar_litres(week.batches["jar"], units)
    size = f"; {litres}" if litres else ""
    now = page.table(
        decided,
        [
            Cell(heading="Day", words=lambda row: wording.day(row["day"], units), whole=True),
            *_job(week, "Fills about", "By hand, at most"),
            source,
        ],
        caption=f"Decided now; {above}{size}",
        empty="Nothing to put up in the next days.",
        stacked=True,
    )
    perhaps = [
        wording.sentence(f"{words.if_enough_line(row, week)} {_note_mark(row['source'], sources)}")
        for _, row in if_enough.iterrows()
    ]
    moved = [wording.sentence(words.changed_line(row, week)) for _, row in week.changed.iterrows()]
    only_if = [page.paragraph("Only if enough comes in", "lead"), page.bullets(perhaps, "")]
    otherwise = [page.paragraph("Changed since it was decided", "lead"), page.bullets(moved, "")]
    after = page.table(
        likely,
        [
            Cell(heading="Days", words=lambda row: _days(row, week), whole=True),
            *_job(week, "Fills on average", "By hand, on average"),
            source,
        ],
        caption="Likely in the days after, on average; plan again when they come",
        empty="Nothing is likely to be put up in the days after.",
        stacked=True,
    )
    first, last = week.hours["day"].min(), week.hours["day"].max()
    sheet = page.sheet(
        f"Kitchen sheet, {wording.day(first, units)} to {wording.day(last, units)}",
        [
            now,
            *(only_if if perhaps else []),
            *(otherwise if moved else []),
            page.folded("What is likely after that", after),
            page.notes(sources, "Sources"),
            page.print_only(_shopping_lines(week)),
        ],
    )
    read = page.paragraph(HOW_FULL) if len(decided) or len(likely) else Piece()
    return page.join([sheet, _why(week, pd.concat([decided, likely])), read])


def _job(week: Week, fills: str, by_hand: str) -> list[Cell]:
    """Return the cells of a batch; what it fills and takes stands under the headings given."""
    units = week.units
    return [
        Cell(heading="Put up", words=words.batch_words),
        Cell(
            heading="Produce",
            words=lambda row: f"{wording.mass(row['mass_kg'], units)} {wording.clean(row['crop'])}",
        ),
        # "About" stands in the heading, where it takes no line of a printed sheet.
        Cell(
            heading=fills,
            words=lambda row: words.output_words(row, week).removeprefix("about "),
        ),
        Cell(heading="How", words=lambda row: process_words(row, week).how),
        Cell(heading="Time holds for", words=lambda row: process_words(row, week).holds_for),
        Cell(heading=by_hand, words=lambda row: wording.hours(row["hands_on_h"]), whole=True),
    ]


def _why(week: Week, batches: pd.DataFrame) -> Piece:
    """Return why each of the batches is done, and where the fruit goes that no shelf needs."""
    said = batches.loc[batches["reason"].notna()].drop_duplicates(["product", "reason"])
    lines = [f"{row['label']}: {row['reason']}" for _, row in said.iterrows()]
    lines += [
        f"{wording.clean(row['crop'])}: {row['reason']}" for _, row in week.reasons.iterrows()
    ]
    if not lines:
        return page.join([])
    shown = [wording.sentence(wording.clean(line)) for line in lines]
    why = [page.paragraph("Why these", "lead"), page.bullets(shown, "")]
    return page.folded("Why these", *why)


def _days(row: pd.Series, week: Week) -> str:
    first = wording.day(row["day"], week.units)
    if row["last_day"] == row["day"]:
        return first
    # Without weekdays a span stays on one line.
    ends = (wording.day(row[d], week.units, weekday=False) for d in ("day", "last_day"))
    return " to ".join(ends)


def _note_mark(source: Any, sources: dict[str, int]) -> str:
    said = "" if pd.isna(source) else words.source_words(source)
    return f"[{sources[said]}]" if said in sources else ""


def _shopping_lines(week: Week) -> Piece:
    lines = [words.bought_line(row) for _, row in words.bought(week).iterrows()]
    empty = words.nothing_to_buy(week)
    return page.join([page.paragraph(words.to_buy_for(week), "lead"), page.bullets(lines, empty)])


def hours_figure(week: Week) -> Piece:
    """Return the hands-on hours of every day against those the household has."""
    title = "Hours in the kitchen"
    ax = figures.kitchen_days(week.batches, week.hours, units=week.units, title=title)
    alt = figures.kitchen_days_alt(week.batches, week.hours, units=week.units, title=title)
    return page.grid([page.figure(ax, alt)], "")


def shopping(week: Week) -> Piece:
    """Return what to buy for the planned batches."""
    now = page.table(
        words.bought(week),
        [
            Cell(heading="To buy", words=page.column("item")),
            Cell(heading="Amount", words=page.column("shown"), number=True),
            Cell(heading="For", words=page.column("use")),
        ],
        caption=f"For {words.decided_days(week)}; what is in stock is taken off",
        empty=words.nothing_to_buy(week),
        few=True,
    )
    if week_if := words.if_bought(week):
        now = page.join([now, page.paragraph(f"Only if enough comes in: {week_if}.")])
    later = words.likely_days(week)
    more = [words.bought_line(row) for _, row in week.shopping_later.iterrows()]
    if not later or not more:
        return now
    said = f"Likely to be needed as well for {later}, not decided yet: {'; '.join(more)}."
    return page.join([now, page.paragraph(said)])


def left_over(week: Week) -> Piece:
    """Return what will be left over in each week, with its probability, a row a crop."""
    wide = []
    for crop, rows in week.surplus.groupby("crop", sort=False):
        if views.too_much(rows).any():
            said = {
                f"w{row['week']}": surplus.surplus_words(row, week) for _, row in rows.iterrows()
            }
            wide.append({"crop": crop, "chance": rows["p_beats_capacity"].max(), **said})
    table = page.table(
        pd.DataFrame(wide).sort_values("chance", ascending=False) if wide else pd.DataFrame(),
        [Cell(heading="Crop", words=page.column("crop")), *_week_cells(week.surplus, week)],
        caption="More than can be eaten, given away or put up; eight times in ten within the "
        f"range in brackets; {surplus.too_much_rule(week)}",
        empty="Nothing is likely to be left over.",
        stacked=True,
    )
    may = views.may_be_left(week.surplus)
    others = f"A little surplus is possible in some week: {surplus.may_be_words(may)}."
    also = page.paragraph(others) if len(may) else Piece()
    assumed = [week_mind.lying_words(week), week_mind.eating_words(week)]
    counted = [page.paragraph(wording.sentence(one)) for one in assumed if one]
    figures_ = page.folded("Figures of what is left over", _left_over_figures(week))
    uses = [wording.sentence(line) for line in surplus.uses_lines(week)]
    use = [page.paragraph("A use for it", "lead"), page.bullets(uses, "")] if uses else []
    return page.join([table, *use, also, *counted, figures_])


def _week_cells(weekly: pd.DataFrame, week: Week) -> list[Cell]:
    """One column a week; the words stand in the columns w1, w2 ..."""
    starts = weekly.drop_duplicates("week").sort_values("week")
    return [
        Cell(
            heading=f"From {wording.day(row['start'], week.units)}",
            words=page.column(f"w{row['week']}"),
            number=True,
        )
        for _, row in starts.iterrows()
    ]


def _left_over_figures(week: Week) -> Piece:
    made = []
    over = views.left_over(week.surplus)
    if len(over):
        title = "Left over in the coming week"
        ax = figures.surplus_intervals(over, units=week.units, title=title)
        alt = figures.surplus_intervals_alt(over, units=week.units, title=title)
        made.append(page.figure(ax, alt))
    where = views.shares(week.balance)
    if len(where):
        days = week.balance["day"]
        first, last = (wording.day(d, week.units, weekday=False) for d in (days.min(), days.max()))
        title = f"Where the harvest goes, {first} to {last}"
        ax = figures.where_it_goes(where, units=week.units, title=title)
        alt = figures.where_it_goes_alt(where, units=week.units, title=title)
        made.append(page.figure(ax, alt))
    return page.grid(made, "")


def bottlenecks(week: Week) -> Piece:
    """Return what one more of each scarce thing would save."""
    units = week.units
    table = week.bottlenecks
    # Where the two solutions differ by less than the solver's own gap there is nothing to say.
    sure = table["code"].fillna("") != "saving.unclear"
    some = table.loc[sure & ((table["saved_kg"] >= 0.05) | (table["more_jars"] >= 0.5))]
    some = some.assign(shown=some["saved_kg"].round(2)).sort_values(
        ["shown", "more_jars"], ascending=False, kind="stable"
    )
    return page.table(
        some,
        [
            Cell(
                heading="One more",
                words=lambda row: words.one_more(row["resource"], row["one_more"]),
            ),
            Cell(
                heading="Produce left over",
                words=lambda row: _less(row["saved_kg"], units),
                number=True,
            ),
            Cell(
                heading="Jars and bags filled",
                words=lambda row: _more(row["more_jars"]),
                number=True,
            ),
            Cell(heading="How sure", words=page.column("comment")),
        ],
        caption="What one more of each changes, what saves most produce first. Fewer jars can be "
        "the better plan: produce then goes into larger jars, or into what is wanted more",
        empty="No single thing more would clearly help.",
        stacked=True,
    )


def _less(kg: float, units: wording.Units) -> str:
    if abs(kg) < 0.05:
        return "the same"
    return f"{wording.mass(abs(kg), units)} {'less' if kg > 0 else 'more'}"


def _more(jars: float) -> str:
    if abs(jars) < 0.5:
        return "the same"
    return f"{wording.plain_number(abs(jars), 0)} {'more' if jars > 0 else 'fewer'}"


def pantry(week: Week) -> Piece:
    """Return the shelf against its targets."""
    units = week.units
    kept = set(week.kept_out["product"]) if len(week.kept_out) else set()
    paced = (
        "; each runs out on the day named at the present pace of eating"
        if week.wanted["run_out"].notna().any()
        else ""
    )
    table = page.table(
        week.wanted,
        [
            Cell(heading="Product", words=page.column("label")),
            Cell(heading="Counted in", words=page.column("unit")),
            Cell(heading="On the shelf", words=lambda row: _jars(row["stock_jars"]), number=True),
            Cell(heading="Still needed", words=lambda row: _jars(row["wanted_jars"]), number=True),
            Cell(
                heading="This plan adds",
                words=lambda row: (
                    "none, see below" if row["product"] in kept else _jars(row["planned_jars"])
                ),
                number=True,
            ),
            Cell(heading="Target", words=lambda row: _jars(row["target_jars"]), number=True),
            Cell(heading="Empty by", words=lambda row: _empty(row, week)),
        ],
        caption="Shelf, plan and target in the size named: a quart is two pints; still needed is "
        "what the shelf lacks of its target at the season's end, when some of today's is eaten or "
        f"past its best{paced}",
        empty="No targets are set in garden.toml and nothing stands in pantry.csv.",
        stacked=True,
    )
    if not len(week.wanted):
        return table
    title = "The pantry against its targets"
    named = week.wanted["label"] + ", " + week.wanted["unit"]
    shown = week.wanted.assign(label=named)
    ax = figures.pantry_shelf(shown, units=units, title=title)
    alt = figures.pantry_shelf_alt(shown, units=units, title=title)
    out = [wording.sentence(f"{n}: {why}") for n, why in words.kept_out_words(week.kept_out)]
    said = page.bullets(out, "") if out else Piece()
    return page.join([table, said, page.grid([page.figure(ax, alt)], "")])


def _empty(row: pd.Series, week: Week) -> str:
    """Return when a shelf is eaten, or how much of it keeps less long than that."""
    if pd.isna(row["run_out"]):
        return ""
    late = row.get("unfinished_jars", float("nan"))
    if late >= 0.5:
        return f"{late:.0f} of {_jars(row['stock_jars'])} past their best before they are eaten"
    return f"{wording.day(row['run_out'], week.units, weekday=False)}, {row['run_out'].year}"


def _jars(value: float) -> str:
    return wording.plain_number(float(value), 1) if pd.notna(value) else wording.UNKNOWN


@page.in_own_words
def what_if(week: Week, changed: Week | None) -> Piece:
    """Return the plan beside the one with other settings."""
    if changed is None:
        return page.section("What if", "No setting is changed, so nothing was tried.", [])
    rows = [
        {
            "plan": name,
            "jars": wording.count(one.batches["jars"].sum()),
            "hours": wording.hours(one.batches["hands_on_h"].sum()),
            "put_up": wording.about_mass(one.balance["put_up"].sum(), one.units),
            "spoiled": wording.about_mass(one.balance["spoiled"].sum(), one.units),
        }
        for name, one in (("as it is", week), ("with the change", changed))
    ]
    table = page.table(
        pd.DataFrame(rows),
        [
            Cell(heading="Plan", words=page.column("plan")),
            Cell(heading="Jars and bags", words=page.column("jars"), number=True),
            Cell(heading="By hand", words=page.column("hours"), number=True),
            Cell(heading="Put up", words=page.column("put_up"), number=True),
            Cell(heading="Left over", words=page.column("spoiled"), number=True),
        ],
        caption="The planned days, means over the ways the weeks may go",
        empty="",
        stacked=True,
    )
    return page.section("What if", "", [table])


@page.in_own_words
def coming(week: Week) -> Piece:
    """Return the section on the coming weeks."""
    return page.section(
        "What is coming",
        "The log of picks, the heat so far and past years' weather say how the coming weeks may "
        "go. The middle is named first; eight times in ten the harvest falls within the range. "
        "Later weeks are less certain than the next one.",
        [
            page.folded("Week by week, crop by crop", coming_table(week)),
            page.folded("Figures of the coming weeks", coming_figures(week)),
            page.under(
                "Variety by variety",
                page.paragraph(
                    "Each ring is a pick, drawn at the height of what it brought for each day "
                    "since the last one. The broken line is the season's smooth curve; the full "
                    "line follows how this season runs above or below it. For leaves and roots "
                    "the weekly forecast above also leans on what the crop has brought lately, "
                    "all varieties together; that is not drawn here."
                ),
                page.folded("Figures of every variety", curve_figures(week)),
            ),
        ],
    )


@page.in_own_words
def to_do(week: Week) -> Piece:
    """Return the section with the days' work."""
    return page.section(
        "What to do on which day",
        "Only tested processes are planned, for your elevation. What is likely on the days after "
        "is a guess: plan again when they come.",
        [kitchen_sheet(week), page.folded("Figure of the hours", hours_figure(week))],
    )


@page.in_own_words
def to_buy(week: Week) -> Piece:
    """Return the section with the shopping list."""
    return page.section("What to buy", "", [shopping(week)])


@page.in_own_words
def too_much(week: Week) -> Piece:
    """Return the section on what will be left over."""
    return page.section(
        "What will be left over",
        "This is produce beyond what can be eaten, given away and put up with the hours, jars and "
        "equipment there are. The chance is that of anything at all being left over.",
        [
            left_over(week),
            page.under(
                "What would help most", page.folded("What to have more of", bottlenecks(week))
            ),
        ],
    )


@page.in_own_words
def on_the_shelf(week: Week) -> Piece:
    """Return the section that holds the shelf against its targets."""
    return page.section("The pantry", "", [page.folded("Shelf and targets", pantry(week))])


PARTS = (
    today.head,
    today.today,
    to_do,
    to_buy,
    basis.safety,
    too_much,
    coming,
    on_the_shelf,
    basis.rests_on,
)
"""The parts of the page in the order of the day; the notebook shows the same."""
PARAMETERS = ("as_of", "weeks", "seed", "change")


def parts(
    folder: str | Path,
    *,
    results: Week | None = None,
    say: Callable[[str], None] | None = None,
    as_of: str | None = None,
    weeks: int = 3,
    seed: int = 1,
    change: Mapping[str, Any] | None = None,
) -> list[Piece]:
    """Return the parts of the page of a garden's week.

    Parameters
    ----------
    folder : path
        The garden folder.
    results : Week, optional
        Results computed already; ``as_of``, ``weeks`` and ``seed`` are theirs then.
    say : callable, optional
        Told what is being done.
    as_of, weeks, seed
        As :func:`harvestcast.report.week.results.planned_week` takes them.
    change : mapping, optional
        Settings to try, as :func:`harvestcast.report.week.results.tried` takes them.

    Raises
    ------
    TypeError
        Where the results are those of another report.
    """
    found = results
    if found is None:
        found = planned_week(folder, as_of=as_of, weeks=weeks, seed=seed, say=say)
    if not isinstance(found, Week):
        raise TypeError(f"a week's page is made of a Week, not of a {type(found).__name__}")
    made = [part(found) for part in PARTS]
    return [*made, what_if(found, tried(folder, found, change))] if change else made
