"""Sentences of the week: the same ones in the terminal and on the page."""

from __future__ import annotations

import re
from collections.abc import Iterable

import pandas as pd

from harvestcast.kitchen.handbook.products import PINTS
from harvestcast.kitchen.household.settings import GAUGE
from harvestcast.kitchen.week.shopping import JAR_SIZES, whole_jars
from harvestcast.records.typed.varieties import UNNAMED
from harvestcast.report.messages import texts
from harvestcast.report.week import mind as week_mind
from harvestcast.report.week import surplus, views
from harvestcast.report.week.process_words import process_words
from harvestcast.report.week.results import Week
from harvestcast.units import L_PER_PINT
from harvestcast.words import amounts as wording
from harvestcast.words.crops import own_jar
from harvestcast.words.days import WEEKDAYS

DIFFERS = 0.5
"""Jars (or kg laid up) by which futures must differ for a range to be said."""
LIGHT_KG = 0.01
"""Beans and peas weigh less, and are weighed, not counted. Common practice, no source. [kg]"""
PLANNING = "planning estimate"
"""Stands as the source of a figure that rests on no table."""
MOST_LINES = 12
"""Lines of one part of the terminal's summary."""


def coming_line(row: pd.Series, week: Week) -> str:
    """Return one crop's coming week: middle and 80 % range."""
    if row["q90_kg"] < wording.SMALL_KG:
        return "likely none"
    if row["q50_kg"] < wording.SMALL_KG:
        return f"likely none (up to {wording.about_mass(row['q90_kg'], week.units)})"
    return (
        f"{wording.about_mass(row['q50_kg'], week.units)} "
        f"({wording.mass_range(row['q10_kg'], row['q90_kg'], week.units)})"
    )


def standing_words(week: Week) -> list[str]:
    """Return what stands ready of crops that are brought in at once, and how likely some is."""

    def amount(row: pd.Series) -> str:
        if row["q10_kg"] < 0.1 * row["q90_kg"]:  # the lower end of so wide a range says nothing
            middle, high = (wording.about_mass(row[n], week.units) for n in ("q50_kg", "q90_kg"))
            return f"about {middle}, up to {high}"
        return wording.mass_range(row["q10_kg"], row["q90_kg"], week.units)

    return [
        f"{wording.clean(row['crop'])}: {amount(row)} if you bring all of it in"
        f" (any this week: {wording.chance(row['p_taken'])})"
        for _, row in week.standing.iterrows()
    ]


def count_words(row: pd.Series) -> str:
    """Return the number of fruits; nothing where nobody counts them or their weight is none."""
    number = _counted(row) if row["q50_kg"] >= wording.SMALL_KG else 0
    return f"about {_pieces(number)}" if number else ""


def _counted(row: pd.Series) -> int:
    """Return the number of pieces; 0 where none is known, or they are so light that one weighs."""
    number = row["q50_count"]
    if pd.isna(number) or round(number) < 1 or row["q50_kg"] / number < LIGHT_KG:
        return 0
    return round(number)


def _pieces(number: float) -> str:
    return wording.count(number) if number < 100 else wording.significant(number)


def _last_7_days(row: pd.Series, units: wording.Units) -> str:
    """Return what was picked in the last seven days; none where nothing was written down."""
    kg = row["last_7_days_kg"]
    return "none" if kg == 0 else wording.mass(kg, units)


def two_days(week: Week) -> str:
    """Return what the first two days after the last one known are called on the day of reading."""
    first = week.as_of + pd.Timedelta(days=1)
    if week.today == first:
        return "Today and tomorrow"
    return "Tomorrow and the day after" if week.today == week.as_of else "The next two days"


def day_words(row: pd.Series, week: Week) -> list[str]:
    """Return what a crop brings on a day if it is picked; then the range, and how likely that is.

    Nothing but "not due" where it will hardly be picked.
    """
    if pd.isna(row["q50_kg"]) or row["chance"] < views.DUE:
        return ["not due"]
    middle, ends = _amount_in_short(row, week.units)
    return [middle, f"{ends}, {wording.chance(row['chance'])}"]


def week_words(row: pd.Series, week: Week) -> list[str]:
    """Return what a crop brings in the coming week; then the range."""
    if row["q90_kg"] < wording.SMALL_KG:
        return ["likely none"]
    if row["q50_kg"] < wording.SMALL_KG:
        return ["likely none", f"up to {wording.about_mass(row['q90_kg'], week.units)}"]
    return [*_amount_in_short(row, week.units)]


def _amount_in_short(row: pd.Series, units: wording.Units) -> tuple[str, str]:
    """Return an amount with its pieces, and its range; the unit is said once.

    Examples
    --------
    >>> row = {"q10_kg": 0.26, "q50_kg": 5.4, "q90_kg": 26.8, "q50_count": 41.0}
    >>> _amount_in_short(pd.Series(row), "us")
    ('12 lb, 41 pieces', '0.6 to 59')
    """
    unit, small, size = ("lb", "oz", 16) if units == "us" else ("kg", "g", 1000)
    quantiles = (row["q50_kg"], row["q10_kg"], row["q90_kg"])
    values = [float(wording.in_mass_unit(kg, units)) for kg in quantiles]
    if values[-1] < 1:
        unit, values = small, [size * value for value in values]
    shown = [wording.plain_number(v, 1 if v < 9.95 and unit != "g" else 0) for v in values]
    whole = _counted(row)
    pieces = f", {_pieces(whole)} piece{'' if whole == 1 else 's'}" if whole else ""
    return f"{shown[0]} {unit}{pieces}", f"{shown[1]} to {shown[2]}"


def little_due(week: Week) -> str:
    """Return the crops of which only a little is due on the first two days; or nothing."""
    return _a_little(views.due(week.days, views.LITTLE_KG, below=True)["crop"])


def little_coming(week: Week) -> str:
    """Return the crops of which only a little comes in the first two days and the week; or nothing.

    They are those that :func:`harvestcast.report.week.views.first_rows` leaves out.
    """
    shown = set(views.first_rows(week.coming, week.days))
    soon = views.due(week.days).get("crop", ())
    return _a_little(crop for crop in [*soon, *first_week(week)["crop"]] if crop not in shown)


def _a_little(crops: Iterable[str]) -> str:
    named = wording.listing(wording.clean(crop) for crop in dict.fromkeys(crops))
    return f"A little of {named} too." if named else ""


def jobs_of_two_days(week: Week) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return the batches decided for the first two days, and those decided for the days after."""
    decided = next_jobs(week)
    soon = decided["day"] <= week.as_of + pd.Timedelta(days=2)
    return decided.loc[soon], decided.loc[~soon]


def batch_words(row: pd.Series) -> str:
    """Return one batch as a job: what, and how many batches of it.

    What is decided comes in whole batches; what is likely is a mean over possible futures.

    Examples
    --------
    >>> for number in (1, 2, 2.2, 0.4):
    ...     print(batch_words(pd.Series({"label": "dill pickles", "batches": number})))
    dill pickles
    dill pickles (2 batches)
    dill pickles (2 to 3 batches)
    dill pickles (perhaps one batch)
    """
    if row.get("jar") == "kg":
        return wording.clean(row["label"])
    number = float(row["batches"])
    whole = round(number)
    if number < 0.75:
        times = "perhaps one batch"
    elif whole == 1:
        times = ""
    elif abs(number - whole) < 0.15:
        times = f"{whole} batches"
    else:
        times = f"{int(number)} to {int(number) + 1} batches"
    return f"{wording.clean(row['label'])}{f' ({times})' if times else ''}"


def output_words(row: pd.Series, week: Week) -> str:
    """Return what a batch fills, and the range of it where futures differ.

    What is only laid up is weighed, not filled into jars.
    """
    low, high = row["jars_low"], row["jars_high"]
    if row["jar"] == "kg":
        middle, ends = wording.mass(row["jars"], week.units), (low, high)
        said = wording.mass_range(*ends, week.units) if _differs(row) else ""
    else:
        middle = wording.jar_words(row["jar"], row["jars"])
        said = f"{round(low)} to {whole_jars(high)}" if _differs(row) else ""
    return f"about {middle}{f' ({said})' if said else ''}"


def _differs(row: pd.Series) -> bool:
    """Whether what a batch fills depends on what comes; unknown for what is only likely."""
    return bool(row["jars_high"] - row["jars_low"] >= DIFFERS)


def source_words(source: object) -> str:
    """Return a source without what is said twice or rests on no table.

    Examples
    --------
    >>> source_words("process: A, table 1; amounts: A, table 1; hours: planning estimate")
    'A, table 1'
    >>> source_words("amounts: planning estimate; hours: planning estimate")
    'planning estimate'
    """
    parts = [part.partition(": ") for part in wording.clean(source).split("; ")]
    said = [(name, words) if mark else ("", name) for name, mark, words in parts]
    named: dict[str, list[str]] = {}
    for name, words in said:
        if words != PLANNING:
            named.setdefault(words, []).append(name)
    if len(named) < 2:
        return next(iter(named), PLANNING)
    return "; ".join(
        f"{wording.listing(n for n in names if n)}: {words}" if any(names) else words
        for words, names in named.items()
    )


def job_line(row: pd.Series, week: Week) -> str:
    """Return one batch in a line."""
    of = f"{wording.mass(row['mass_kg'], week.units)} {wording.clean(row['crop'])}"
    hands = wording.hours(row["hands_on_h"])
    # The hours kept free are those of a full batch.
    hands = f"at most {hands}" if _differs(row) else hands
    how = process_words(row, week).line
    if row["jar"] == "kg":
        until = wording.day(row["best_by"], week.units, weekday=False, year=True)
        return (
            f"{wording.clean(row['label'])}: lay up what comes, {output_words(row, week)}; keeps "
            f"until about {until}"
        )
    since = row.get("since")
    old = not pd.isna(since) and since < week.as_of
    stands = "" if not old else f"; stands since {wording.day(since, week.units)}"
    return (
        f"{batch_words(row)}: {output_words(row, week)} from {of}; {how}; {hands} by hand{stands}"
    )


def job_in_short(row: pd.Series, week: Week) -> str:
    """Return one batch without its process: no time stands where its conditions do not."""
    if row["jar"] == "kg":
        return job_line(row, week).rpartition("; ")[0]
    most = "up to " if _differs(row) else ""
    return (
        f"{batch_words(row)}: {output_words(row, week)} from "
        f"{wording.mass(row['mass_kg'], week.units)} {wording.clean(row['crop'])}; "
        f"{wording.method_words(row['method'])}, {most}{wording.hours(row['hands_on_h'])} by hand"
    )


def if_enough_in_short(row: pd.Series, week: Week) -> str:
    """Return a batch that is begun only if enough comes in, without its process."""
    return (
        f"only if {wording.mass(row['if_kg'], week.units)} {wording.clean(row['crop'])} have come "
        f"in, perhaps by {wording.day(row['day'], week.units)}: {batch_words(row)}: up to "
        f"{wording.jar_words(row['jar'], whole_jars(row['jars_high']))}"
    )


def if_enough_line(row: pd.Series, week: Week) -> str:
    """Return a batch that is begun only if enough comes in."""
    crop, how = wording.clean(row["crop"]), process_words(row, week).line
    return (
        f"as soon as {wording.mass(row['if_kg'], week.units)} {crop} have come in, perhaps by "
        f"{wording.day(row['day'], week.units)}: {batch_words(row)}: up to "
        f"{wording.jar_words(row['jar'], whole_jars(row['jars_high']))}; {how}; at most "
        f"{wording.hours(row['hands_on_h'])} by hand"
    )


def changed_line(row: pd.Series, week: Week) -> str:
    """Return what no longer stands as it was decided, and why."""
    was, now = float(row["was"]), float(row["now"])
    what = f"{now:g} of {was:g} batches" if now else "not done"
    return (
        f"{wording.day(row['day'], week.units)}: {wording.clean(row['label'])}: {what}, since "
        f"{wording.clean(row['reason'])}"
    )


def bought(week: Week) -> pd.DataFrame:
    """Return the rows of the shopping list with something to buy."""
    return week.shopping.loc[week.shopping["to_buy"] > 0].reset_index(drop=True)


def decided_days(week: Week) -> str:
    """Return which batches are decided, and so bought for; or nothing."""
    own = week.batches.loc[week.batches["decided"] & (week.batches["jar"] != "kg").fillna(True)]
    if not len(own):
        return ""
    number = round(own["batches"].sum())
    said = "the batch" if number == 1 else f"the {number} batches"
    return f"{said} decided for {span(own['day'].min(), own['day'].max(), week)}"


def to_buy_for(week: Week) -> str:
    """Return the heading of what to buy: for which batches it is."""
    days = decided_days(week)
    return f"To buy for {days}" if days else "To buy"


def nothing_to_buy(week: Week) -> str:
    """Return the sentence where nothing is to be bought."""
    days = decided_days(week)
    return f"Nothing needs to be bought for {days}." if days else "Nothing needs to be bought."


def likely_days(week: Week) -> str:
    """Return the days for which batches are likely but not decided."""
    own = views.later(week.batches)
    return span(own["day"].min(), own["last_day"].max(), week) if len(own) else ""


def span(first: pd.Timestamp, last: pd.Timestamp, week: Week) -> str:
    """Return a day, or the first and last of some days."""
    days = [wording.day(first, week.units), wording.day(last, week.units)]
    return days[0] if days[0] == days[1] else " to ".join(days)


def bought_line(row: pd.Series, *, short: bool = False) -> str:
    """Return one thing to buy, and unless it is to be short the jars it is for."""
    said = f"{wording.clean(row['item'])}: {wording.clean(row['shown'])}"
    return said if short or pd.isna(row["use"]) else f"{said}, for {wording.clean(row['use'])}"


def if_bought(week: Week) -> str:
    """Return what to buy for the batches that are begun only if enough comes in; or nothing."""
    rows = week.shopping_if
    return "; ".join(bought_line(row, short=True) for _, row in rows.iterrows())


def jar_litres(jars: pd.Series, units: wording.Units) -> str:
    """Return what jars hold, for a household that does not measure in pints; or nothing.

    Examples
    --------
    >>> jar_litres(pd.Series(["pint_bag", "quart"]), "metric")
    'a pint is 0.47 l, a quart 0.95 l'
    """
    if units == "us":
        return ""
    kinds = {
        re.sub("_(bag|dry|dish)$", "", str(jar)) for jar in jars.dropna() if own_jar(jar) is None
    }
    said = [
        f"a {name.replace('_', ' ')}{'' if number else ' is'} {PINTS[name] * L_PER_PINT:.2g} l"
        for number, name in enumerate(name for name in JAR_SIZES if name in kinds)
    ]
    return ", ".join(said)


def next_jobs(week: Week) -> pd.DataFrame:
    """Return the batches decided now; all of them, since they are bought for as well."""
    return week.batches.loc[week.batches["decided"]]


def first_week(week: Week) -> pd.DataFrame:
    """Return the forecast rows of the coming week of which anything may come."""
    own = week.coming.loc[(week.coming["week"] == 1) & (week.coming["q90_kg"] > 0.02)]
    return own.reset_index(drop=True)


def warnings(week: Week) -> list[str]:
    """Return what the reader should know before trusting the numbers, shortest form."""
    said = []
    failed = week.checks.loc[~week.checks["passed"]]
    if len(failed):
        crops = [crop for crop in dict.fromkeys(failed["crop"]) if crop != "all"]
        what = wording.listing(dict.fromkeys(failed["check"].astype(str)))
        of = f" of {wording.some(crops)}" if crops else ""
        said.append(f"a model check{of} failed: {what}; the end of the report says what it means")
    if len(week.left_out):
        names = [
            wording.clean(
                " ".join([row["crop"], *([v] if (v := row["variety"]) != UNNAMED else [])])
            )
            for _, row in week.left_out.iterrows()
        ]
        said.append(f"no forecast for {wording.some(names)}")
    said += texts(week_mind.gone_quiet(week))
    said += texts(week_mind.no_hours(week))
    said += texts(week_mind.to_count(week))
    said += misspelt(week.notices)
    said += unused_vessels(week.notices)
    if len(week.notices):
        odd = "1 warning" if len(week.notices) == 1 else f"{len(week.notices)} warnings"
        said.append(f"{odd} about the files; 'harvestcast check' lists them")
    said += [f"{name}: {why}" for name, why in kept_out_words(week.kept_out)]
    if week.elevation_m is None:
        said.append("no elevation in garden.toml, so no canning is planned")
    return said


def one_more(resource: object, more: object) -> str:
    """Return one more of something, as it is said.

    Examples
    --------
    >>> one_more("hours on Wednesday", "one hour"), one_more("refrigerator", "10 litres")
    ('one hour more on Wednesday', 'refrigerator: 10 litres')
    """
    name, amount = wording.clean(resource), wording.clean(more)
    day = name.rpartition(" ")[2]
    return f"{amount} more on {day}" if day in WEEKDAYS else f"{name}: {amount}"


def misspelt(notices: pd.DataFrame) -> list[str]:
    """Return the crops that stand apart only because of how they were typed."""
    said = []
    for _, row in notices.iterrows():
        meant = row["facts"].get("meant") if str(row["code"]) == "crop.unknown" else ""
        if meant:
            where = f"{row['file']}, line {row['line']:.0f}"
            said.append(
                f"{wording.clean(row['value'])} ({wording.clean(where)}) is forecast as a crop of "
                f"its own; did you mean {meant}?"
            )
    return said


def unused_vessels(notices: pd.DataFrame) -> list[str]:
    """Return the canners in which nothing is planned, and why."""
    own = notices.loc[(notices["column"] == GAUGE).fillna(False)]
    return [wording.clean(f"{row['odd']}: {row['done']}") for _, row in own.iterrows()]


def kept_out_words(kept: pd.DataFrame) -> list[tuple[str, str]]:
    """Return the targets that cannot be planned, and why, those of one reason together."""
    said: dict[str, list[str]] = {}
    for _, row in kept.iterrows():
        number = wording.plain_number(row["target_jars"], 1)
        unit, typed = wording.clean(row.get("unit", "")), wording.clean(row.get("typed", ""))
        also = f"'{typed}' in garden.toml, " if typed else ""
        name = f"{wording.clean(row['label'])} ({also}target {number}{f' {unit}' if unit else ''})"
        said.setdefault(wording.clean(row["why"]), []).append(name)
    return [
        (f"nothing is planned for {wording.listing(names)}", why) for why, names in said.items()
    ]


def terminal(week: Week, *, strong: bool = False) -> str:
    """Return the short summary for the terminal; plain ASCII apart from typed names.

    Parameters
    ----------
    week : Week
        Results.
    strong : bool
        Set headings in bold.

    Returns
    -------
    str
    """
    units = week.units
    start = week.as_of + pd.Timedelta(days=1)
    out = [f"{wording.clean(week.place)}: {week_mind.known_words(week)}"]
    out += [f"{said}." for said in texts(week_mind.first_of_all(week))]
    if not len(first_week(week)) and not len(week.batches) and len(week.left_out):
        return "\n".join([*out, *_part("Mind", warnings(week), "", strong)])
    out += _part(
        f"{two_days(week)}, if picked (8 times in 10 within the range; how likely a pick is)",
        _day_lines(week),
        "nothing that is picked by the basket is due",
        strong,
    )
    late = texts(week_mind.overdue(week))
    if late:
        out += _part("Overdue", late, "", strong)
    stands = standing_words(week)
    if stands:
        out += _part("Stands ready (8 times in 10 within the range)", stands, "", strong)
    named = [(wording.clean(row["crop"]), row) for _, row in first_week(week).iterrows()]
    width = max([len(name) for name, _ in named], default=0)
    end = week.as_of + pd.Timedelta(days=7)
    out += _part(
        f"Coming {wording.day(start, units)} to {wording.day(end, units)}"
        " (8 times in 10 within the range)",
        [
            f"{name:<{width}}  {coming_line(row, week)}"
            + (f", {count_words(row)}" if count_words(row) else "")
            + f"; last 7 days {_last_7_days(row, units)}"
            for name, row in named
        ],
        "nothing",
        strong,
    )
    size = jar_litres(next_jobs(week)["jar"], units)
    out += _part(
        f"To do, decided now{f' ({size})' if size else ''}",
        [
            f"{wording.day(row['day'], units)}: {job_line(row, week)}"
            for _, row in next_jobs(week).iterrows()
        ],
        "nothing to put up",
        strong,
    )
    perhaps = [if_enough_line(row, week) for _, row in views.if_enough(week.batches).iterrows()]
    if perhaps:
        out += _part("Only if enough comes in", perhaps, "", strong)
    if len(week.changed):
        lines = [changed_line(row, week) for _, row in week.changed.iterrows()]
        out += _part("Changed since it was decided", lines, "", strong)
    out += _part(
        to_buy_for(week)
        + ("; what is in stock is taken off" if (bought(week)["in_stock"] > 0).any() else ""),
        [
            *(bought_line(row) for _, row in bought(week).iterrows()),
            *([f"only if enough comes in: {if_bought(week)}"] if if_bought(week) else []),
        ],
        "nothing",
        strong,
    )
    over = surplus.surplus_lines(week)
    out += _part(f"Likely surplus ({surplus.too_much_rule(week)})", over, "nothing likely", strong)
    may = views.may_be_left(week.surplus, 1)
    if len(may):
        out += [f"  a little surplus is possible: {surplus.may_be_words(may)}"]
    lying = week_mind.lying_words(week)
    if lying and (len(over) or len(may)):
        out += [f"  {lying}"]
    said = warnings(week)
    if said:
        out += _part("Mind", said, "", strong)
    return "\n".join(out)


def _day_lines(week: Week) -> list[str]:
    """Return a line a crop: what each of the first two days brings if it is picked."""
    said: dict[str, list[str]] = {}
    for _, row in views.due(week.days, views.LITTLE_KG).iterrows():
        middle, *more = day_words(row, week)
        day = f"{wording.day(row['date'], week.units)} {middle}"
        day += f" ({more[0]})" if more else ""
        said.setdefault(wording.clean(row["crop"]), []).append(day)
    width = max(map(len, said), default=0)
    lines = [f"{crop:<{width}}  {'; '.join(days)}" for crop, days in said.items()]
    return [*lines, *([little_due(week)] if little_due(week) else [])]


def _part(heading: str, lines: list[str], none: str, strong: bool) -> list[str]:
    head = f"\x1b[1m{heading}\x1b[0m" if strong else heading
    shown = lines[:MOST_LINES] or [none]
    more = len(lines) - MOST_LINES
    shown += [f"and {more} more"] if more > 0 else []
    return ["", head, *(f"  {line}" for line in shown)]
