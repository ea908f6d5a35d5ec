"""Sentences of the season ahead: the same ones in the terminal and on the page."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

import numpy as np
import pandas as pd

from harvestcast.report.week.words import kept_out_words
from harvestcast.units import L_PER_CUFT
from harvestcast.words import amounts as wording

if TYPE_CHECKING:
    from harvestcast.report.season.ahead.results import Ahead

LIKELY = 0.5
"""Chance from which a week is said to bring too much, or a crop to be on the table."""
FEW_CROPS = 1
"""So many crops on the table, or fewer, make a lean week. Our judgement."""
NEVER = 0.1
"""Chance below which it is not said when a store would be full."""
MIDDLE_MET = 0.9
"""Chance from which a target is said to be met."""


def span(first: pd.Timestamp, last: pd.Timestamp, season: Ahead) -> str:
    """Return a span of days; the end that is not known is said to be open."""
    if pd.isna(first):
        return ""
    low = _day(first, season)
    if pd.isna(last):
        return f"{low} or later, or not at all"
    high = _day(last, season)
    return low if low == high else f"{low} to {high}"


def _day(day: pd.Timestamp, season: Ahead) -> str:
    """Return a day, with its year where it is not that of the last day known."""
    other = day.year != season.ahead.as_of.year
    return wording.day(day, season.units, weekday=False, year=other)


def about(row: pd.Series, name: str, season: Ahead) -> str:
    """Return about when something is, with its range; empty where it hardly ever is."""
    low, middle, high = (row[f"{name}_{q}"] for q in ("q10", "q50", "q90"))
    if pd.isna(low):
        return ""
    if pd.isna(middle):
        return f"not before {_day(low, season)}, and perhaps not at all"
    range_ = span(low, high, season)
    return f"{_day(middle, season)}{'' if range_ == _day(middle, season) else f' ({range_})'}"


def total(row: pd.Series, season: Ahead) -> str:
    """Return how much of a crop is to come."""
    middle = wording.about_mass(row["q50_kg"], season.units)
    return f"{middle} ({wording.mass_range(row['q10_kg'], row['q90_kg'], season.units)})"


def peak(row: pd.Series, season: Ahead) -> str:
    """Return the week that brings most of a crop."""
    return "" if pd.isna(row["peak"]) else f"week from {_day(row['peak'], season)}"


def crop_line(row: pd.Series, season: Ahead) -> str:
    """Return one crop in a line."""
    words = [total(row, season)]
    if row["so_far_kg"] > 0:
        so_far = wording.mass(row["so_far_kg"], season.units)
        crumbs = so_far == wording.mass(0.0, season.units)
        words[0] += (
            ", beside hardly any picked so far" if crumbs else f", beside {so_far} picked so far"
        )
    elif first := about(row, "first", season):
        words.append(f"first pick {first}")
    if row["q50_kg"] > 0:
        words.append(f"most in the {peak(row, season)}")
    if pd.notna(row["last_q50"]):
        words.append(f"nine tenths in by {_day(row['last_q50'], season)}")
    return f"{wording.clean(row['crop'])}: {'; '.join(words)}"


def where_it_goes(row: pd.Series, season: Ahead) -> str:
    """Return what becomes of a crop, on average."""
    parts = [
        f"{wording.about_mass(row[name], season.units)} {what}"
        for name, what in (
            ("eaten_kg", "eaten"),
            ("put_up_kg", "put up"),
            ("given_kg", "given or eaten beyond the usual"),
            ("stored_kg", "in store"),
            ("over_kg", "left over"),
        )
        if row[name] >= wording.SMALL_KG
    ]
    return ", ".join(parts)


def jars(row: pd.Series) -> str:
    """Return how many jars of a target are likely put up."""
    if pd.isna(row["q50_jars"]):
        return "none, see below"
    low, middle, high = (round(row[f"{q}_jars"]) for q in ("q10", "q50", "q90"))
    return f"{middle}" if low == high else f"{middle} ({low} to {high})"


def shelf_line(row: pd.Series, season: Ahead) -> str:
    """Return one target in a line."""
    label = f"{wording.clean(row['label'])}, {row['wanted_jars']:.0f} {row['unit']} still wanted"
    if row["wanted_jars"] < 0.5:
        return f"{wording.clean(row['label'])}: there is enough on the shelf"
    if pd.isna(row["q50_jars"]):
        return f"{label}: this kitchen puts up none, see below"
    met = about(row, "met", season)
    when = f", by {met}" if met and row["p_met"] >= LIKELY else ""
    return f"{label}: {jars(row)} likely; all of them with chance {_chance(row['p_met'])}{when}"


def _chance(share: float) -> str:
    return wording.chance(share)


STORES = {
    "freezer": "freezer",
    "cool_store": "cool store",
    "jars": "empty jars",
    "lids": "new lids",
    "freezer_bags": "freezer bags",
}
FILLS = ("freezer", "cool_store")
"""Stores that fill up; the others are used up."""


def amount(value: float, unit: str, season: Ahead) -> str:
    """Return an amount of a store; room in cubic feet for households that use those."""
    if unit != "l":
        return f"{value:,.0f} {unit}"
    if season.units == "us":
        return f"{wording.plain_number(value / L_PER_CUFT, 1)} cu ft"
    return f"{value:,.0f} l"


def taken(row: pd.Series, season: Ahead) -> str:
    """Return how much of a store is taken in its fullest week, or used in all."""
    low, middle, high = (amount(row[q], row["unit"], season) for q in ("q10", "q50", "q90"))
    return middle if low == high else f"{middle} ({low.split(' ')[0]} to {high})"


def full(row: pd.Series, season: Ahead) -> str:
    """Return whether a store is full or used up, and when."""
    if pd.isna(row["there"]):
        return "garden.toml does not say how much there is"
    word = "full" if row["store"] in FILLS else "used up"
    if row["p_full"] < 0.01:
        return "enough"
    if row["p_full"] < NEVER:
        return f"likely enough; {word} with chance {_chance(row['p_full'])}"
    when = about(row, "full", season)
    return f"{word} with chance {_chance(row['p_full'])}, in the week from {when}"


def store_line(row: pd.Series, season: Ahead) -> str:
    """Return one store in a line."""
    there = "" if pd.isna(row["there"]) else f"{amount(row['there'], row['unit'], season)} free, "
    return (
        f"{STORES[row['store']]}: {there}{taken(row, season)} "
        f"{'taken at most' if row['store'] in FILLS else 'needed'}; {full(row, season)}"
    )


def runs(weeks: Sequence[int]) -> list[tuple[int, int]]:
    """Return numbers as runs, first and last of each.

    Examples
    --------
    >>> runs([3, 4, 5, 9])
    [(3, 5), (9, 9)]
    """
    found: list[tuple[int, int]] = []
    for week in weeks:
        if found and week == found[-1][1] + 1:
            found[-1] = (found[-1][0], week)
        else:
            found.append((week, week))
    return found


def _days_of(run: tuple[int, int], season: Ahead) -> str:
    starts = season.ahead.as_of + pd.to_timedelta(7 * np.array(run) - [6, 0], unit="D")
    return span(starts[0], starts[1], season)


def glut_lines(season: Ahead) -> list[str]:
    """Return the weeks in which more comes than there is a use for, crop by crop."""
    weeks, lines = season.ahead.weeks, []
    for crop, own in weeks.groupby("crop", sort=True):
        much = own[own["p_over"] >= LIKELY]
        for run in runs(much["week"].tolist()):
            here = much[much["week"].between(*run)]
            mean = wording.about_mass(here["over_kg"].sum(), season.units)
            lines.append(f"{wording.clean(crop)}, {_days_of(run, season)}: {mean} on average")
    return lines


def lean_lines(season: Ahead) -> list[str]:
    """Return the weeks between the first crop and the last in which hardly any is on the table."""
    weeks = season.ahead.weeks
    served = weeks[weeks["p_table"] >= LIKELY]
    if not len(served):
        return ["In no week is any crop likely enough for the table."]
    number = served.groupby("week")["crop"].agg(list)
    first, last = int(number.index.min()), int(number.index.max())
    lines = []
    if first > 1:
        day = season.ahead.as_of + pd.Timedelta(days=7 * (first - 1))
        lines.append(f"up to {_day(day, season)}: nothing yet")
    lean = [w for w in range(first, last + 1) if len(number.get(w, [])) <= FEW_CROPS]
    for run in runs(lean):
        crops = sorted({crop for w in range(run[0], run[1] + 1) for crop in number.get(w, [])})
        what = wording.listing(wording.clean(crop) for crop in crops)
        what = f"only {what}" if len(crops) == 1 else f"at a time only one of {what}"
        lines.append(f"{_days_of(run, season)}: {what if crops else 'nothing'}")
    for crop, own in served.groupby("crop", sort=True):
        inside = range(int(own["week"].min()), int(own["week"].max()) + 1)
        missing = sorted(set(inside) - set(own["week"]))
        lines += [
            f"{_days_of(run, season)}: a gap in the {wording.clean(crop)}" for run in runs(missing)
        ]
    return lines


def hours_line(season: Ahead) -> str:
    """Return the busiest week in the kitchen."""
    hours = season.ahead.hours
    most = hours.iloc[int(hours["q50"].to_numpy().argmax())]
    if most["q50"] <= 0:
        return ""
    return (
        f"most work in the week from {_day(most['start'], season)}: "
        f"{wording.hours(most['q50'])} of the {wording.hours(most['there'])} there are "
        f"(1 time in 10 more than {wording.hours(most['q90'])})"
    )


def brief(season: Ahead) -> Iterator[tuple[str, list[str]]]:
    """Return the lines that matter most: first picks, shelf, room, too much and too little."""
    ahead = season.ahead
    coming = ahead.crops[(ahead.crops["q50_kg"] > 0) & (ahead.crops["so_far_kg"] <= 0)]
    soon = coming.dropna(subset="first_q50").sort_values("first_q50").head(3)
    said = [
        f"{wording.clean(row['crop'])} {about(row, 'first', season)}" for _, row in soon.iterrows()
    ]
    if said:
        yield "First picks", [wording.sentence("; ".join(said))]
    wanted = ahead.shelves[ahead.shelves["wanted_jars"] >= 0.5]
    if len(wanted):
        sure = wanted[wanted["p_met"] >= MIDDLE_MET]
        rest = wanted[~wanted["product"].isin(set(sure["product"]))]
        words = [f"{len(sure)} of {len(wanted)} targets are likely met"]
        words += [
            f"{wording.clean(row['label'])} "
            + ("in no way" if pd.isna(row["p_met"]) else f"with chance {_chance(row['p_met'])}")
            for _, row in rest.iterrows()
        ]
        yield "The shelf", [wording.sentence("; ".join(words))]
    ends = ahead.limits[ahead.limits["p_full"] >= NEVER]
    stores = [f"{STORES[row['store']]} {full(row, season)}" for _, row in ends.iterrows()]
    freezer = ahead.limits[ahead.limits["store"] == "freezer"]
    if len(freezer) and not (ends["store"] == "freezer").any():
        stores.append("the freezer has room enough for the targets")
    if stores:
        yield "Room", [wording.sentence("; ".join(stores))]
    glut = glut_lines(season)
    yield "Too much", [wording.sentence(one) for one in glut] or ["In no week likely."]
    lean = lean_lines(season)
    if lean:
        yield "Little", [wording.sentence(one) for one in lean]


def terminal(season: Ahead, *, strong: bool = False) -> str:
    """Return the short summary for the terminal."""
    ahead = season.ahead
    head = (
        f"{wording.clean(season.place)}: the season of {ahead.season} ahead, known up to "
        f"{wording.long_day(ahead.as_of, season.units)}"
    )
    out = [f"\x1b[1m{head}\x1b[0m" if strong else head]

    def block(title: str, lines: Sequence[str]) -> None:
        if lines:
            out.extend(["", title, *(f"  {line}" for line in lines)])

    some = ahead.crops[ahead.crops["p_any"] > 0]
    block(
        "To come (8 times in 10 within the range)",
        [crop_line(row, season) for _, row in some.iterrows()] or ["nothing that is forecast"],
    )
    block("The shelf", [shelf_line(row, season) for _, row in ahead.shelves.iterrows()])
    work = hours_line(season)
    block(
        "Room, jars and hours, if no more is put up than the targets ask for",
        [store_line(row, season) for _, row in ahead.limits.iterrows()] + ([work] if work else []),
    )
    block("Likely too much", glut_lines(season) or ["in no week"])
    block("Little on the table", lean_lines(season))
    block("Not counted", left_out_lines(season))
    return "\n".join([*out, "", *ahead.text])


def left_out_lines(season: Ahead) -> list[str]:
    """Return targets and plantings that are not counted, and why."""
    lines = [f"{name}: {why}" for name, why in kept_out_words(season.kept_out)]
    for _, row in season.ahead.left_out.iterrows():
        lines.append(
            f"{wording.clean(row['crop'])} {wording.clean(row['variety'])}: "
            f"{wording.clean(row['reason'])}"
        )
    return lines
