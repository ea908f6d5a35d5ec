"""Every sentence of this room: a code and facts in, words out.

Reasons, lessons and refusals are told apart by their code; the sentence is only shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

import pandas as pd

from harvestcast.errors import Problem
from harvestcast.units import M2_PER_SQFT
from harvestcast.words import messages
from harvestcast.words.crops import crop_word
from harvestcast.words.days import spoken
from harvestcast.words.messages import Message, say
from harvestcast.words.numbers import plural
from harvestcast.words.units import area_key, area_words, mass_words


class Said(messages.Said):
    """One thing that this room has to say: its code, and the facts the sentence is made of."""

    __slots__ = ()

    @property
    def message(self) -> Message:
        """The message of the code in this room's table."""
        return MESSAGES[self.code]


class Names(list[str]):
    """Names that stand in a sentence with commas between them.

    Examples
    --------
    >>> f"left out: {Names(['kale', 'leek'])}"
    'left out: kale, leek'
    """

    def __format__(self, spec: str) -> str:
        return ", ".join(self)


def said(code: str, **facts: Any) -> Said:
    """Return a thing to say; lists of names become :class:`Names`."""
    return Said(code, {name: _named(fact) for name, fact in facts.items()})


def _named(fact: Any) -> Any:
    names = isinstance(fact, list) and all(isinstance(one, str) for one in fact)
    return Names(fact) if names else fact


def refused(code: str, *, file: str, column: str = "", value: str = "", **facts: Any) -> Problem:
    """Return a problem in the words of its code."""
    message = MESSAGES[code]
    return Problem(
        file=file,
        column=column,
        value=value,
        rule=say(message.text, said(code, **facts).facts),
        cure=say(message.cure, said(code, **facts).facts),
    )


def texts(lines: Iterable[Said]) -> tuple[str, ...]:
    """Return the sentences of some things to say."""
    return tuple(line.text for line in lines)


def sure_words(chance: float) -> str:
    """Return a chance in words: no count of draws makes it certain.

    Examples
    --------
    >>> sure_words(0.943), sure_words(1.0)
    ('94%', 'over 99%')
    """
    return "over 99%" if chance > 0.99 else f"{chance:.0%}"


def _day_month(day: pd.Timestamp) -> str:
    return spoken(day).rsplit(" ", 1)[0]


def _listed(names: Iterable[str]) -> str:
    return ", ".join(names)


def _weeks(number: int) -> str:
    return "1 week" if number == 1 else f"{number} weeks"


# What a season says of its varieties.


def _unfinished(season: str, last: pd.Timestamp, bearing: Sequence[str]) -> str:
    line = (
        f"The season of {season} is unfinished: the log ends on {spoken(last)}, and every figure "
        "is that up to that day, not of a whole season"
    )
    if not bearing:
        return line + "."
    return (
        f"{line}. No verdict is given on crops that may still bear ({_listed(bearing)}); the "
        "chance of being best is that of the picks so far."
    )


def _ages_apart(crops: Sequence[tuple[str, pd.Timestamp, pd.Timestamp]]) -> str:
    spans = [f"{crop} ({_day_month(first)} to {_day_month(last)})" for crop, first, last in crops]
    return f"Planted so far apart that the older ones lead by their age alone: {_listed(spans)}."


def _unnamed(crops: Sequence[tuple[str, float]]) -> str:
    parts = [f"{crop} ({share:.0%} of its harvest)" for crop, share in crops]
    return (
        "Picks without a variety stand in a row of their own ('unnamed'), without yields per "
        f"plant: {_listed(parts)}. The named varieties of these crops look poorer than they are "
        "by that much."
    )


def _pairs(crop: str, pairs: int, apart: Sequence[tuple[str, str, float]], most: int) -> str:
    if pairs == 1:
        better, other, chance = apart[0]
        return f"{crop}: {better} yields more per plant than {other} ({sure_words(chance)} sure)."
    shown = [f"{one} over {other} ({sure_words(chance)})" for one, other, chance in apart[:most]]
    more = len(apart) - len(shown)
    return (
        f"{crop}: {len(apart)} of {pairs} pairs can be told apart by yield per plant: "
        + "; ".join(shown)
        + (f"; and {more} more" if more else "")
        + "."
    )


def _plants_sure(plants: float, plantings: int, parts: int, few: bool) -> str:
    where = "one planting" if plantings == 1 else f"{plantings} plantings"
    if plantings > parts:
        where += "; which picks came from which was not written down"
    return f"{plants:.0f} plants in {where}{'; few plants: the interval is wide' if few else ''}"


def _target(
    label: str, have: float, target: float, made: float, day: pd.Timestamp, met: bool
) -> str:
    return (
        f"{label}: {have:.0f} of {target:.0f} on the shelf on {spoken(day)} ({made:.0f} put up), "
        f"{'met' if met else f'{target - have:.0f} short'}"
    )


def _over_capacity(weeks: int, kg: float, worst: Any, worst_kg: float, units: str) -> str:
    if not weeks:
        return "no week brought more than the kitchen could use"
    return (
        f"{_weeks(weeks)} brought more than the kitchen could use, {mass_words(kg, units)} in all; "
        f"the worst began on {_day_month(worst)} ({mass_words(worst_kg, units)})"
    )


# What a plan for the next season says.


def _shelf(day: pd.Timestamp, counts: Sequence[tuple[str, float, float]], unknown: Any) -> str:
    parts = [f"{label} {left:.0f} of {stock:.0f} jars" for label, left, stock in counts]
    line = (
        "What stands on the shelf counts as far as it is left and still good on "
        f"{spoken(day)}: {_listed(parts)}."
    )
    if unknown:
        line += (
            " Where the pantry book does not show how fast it is eaten "
            f"({_listed(unknown)}), a year's target is taken to last a year."
        )
    return line


def _as_taken(area: float, units: str, season: str) -> str:
    whose = f"the plantings of {season}" if season else "this year's plantings"
    return (
        f"Bed area: {area_words(area, units)}. garden.toml gives none ({area_key(units)}), so the "
        f"plan may take as much as {whose} took at once; where their area was not written down it "
        "follows from plants and usual spacing."
    )


def _short_beds(
    units: str, there: float, wanted: float, gave: Sequence[tuple[str, float, float]]
) -> str:
    line = (
        f"The beds are too small for every target: there are {area_words(there, units)}, and the "
        f"plan would take about {area_words(wanted, units)}. Plants are given up where they are "
        "missed least"
    )
    parts = [
        f"{crop} has {area_words(now, units) if now > 0 else 'no bed at all'} and would take "
        f"{area_words(more, units)}"
        for crop, now, more in gave
    ]
    return f"{line}: {'; '.join(parts)}." if parts else f"{line}."


def _mend_beds(units: str, probability: float, lower: Sequence[tuple[str, float]]) -> str:
    line = (
        f"What would mend it: more bed ({area_key(units)} in garden.toml, if there is more), or to "
        "wish for less (targets; for the table, what a person eats in a week)."
    )
    if lower:
        parts = [f"{share:.0%} of {label}" for label, share in lower]
        line += (
            f" Of what is wished now these beds bring at least, in {probability:.0%} of the "
            f"possible seasons, {_listed(parts)}."
        )
    return line


def _almanac_ranges(units: str, ranges: Sequence[tuple[str, float, float]]) -> str:
    parts = []
    for crop, *ends in ranges:
        low, high = (
            mass_words(kg, units) if kg >= 0.05 else "almost nothing" for kg in map(float, ends)
        )
        parts.append(f"{low} to {high} of {crop}")
    return (
        f"Nothing is logged yet of {_listed(crop for crop, _, _ in ranges)}: their yields come "
        "from the crop almanac, where gardens differ several-fold, so that no plan can be sure. In "
        f"8 of 10 possible seasons a plant brings {_listed(parts)}. One season's log will narrow "
        "this down."
    )


def _rests_on(seasons: Sequence[tuple[str, pd.Timestamp]], left_out: Sequence[str]) -> str:
    rests = [f"{season} (last pick {spoken(last)})" for season, last in seasons]
    return (
        f"Yields rest on the season{'s' if len(rests) > 1 else ''} of {' and '.join(rests)}; "
        f"{' and '.join(left_out)} is not over yet and is left out."
    )


def limit_words(codes: Iterable[str]) -> str:
    """Return the limits that keep a target from being met in words."""
    return " and ".join(say(MESSAGES[code].text, {}) for code in codes)


def _binds(limits: Sequence[tuple[Sequence[str], Sequence[str]]]) -> str:
    parts = [f"{limit_words(codes)} ({_listed(labels)})" for codes, labels in limits]
    return "What holds targets back: " + "; ".join(parts) + "."


def _falls_short(
    limits: Sequence[str],
    more_m2: float,
    units: str,
    plants: float,
    area: float,
    helps: Sequence[str],
) -> str:
    more = f" (it would take {area_words(more_m2, units)} more)" if more_m2 > 0 else ""
    line = f"falls short, held back by {limit_words(limits)}{more}"
    if "limit.bed" not in limits and "limit.season" not in limits:
        if plants == plants:
            more = f"{plural(round(plants), 'plant')} ({area_words(area, units)})"
            line += f"; {more} more would meet it as wished"
        else:
            line += "; no number of plants meets it as wished"
    if helps:
        line += f"; it would help {' or '.join(say(MESSAGES[code].text, {}) for code in helps)}"
    return line


def _sown_later(sown: Sequence[tuple[str, str, pd.Timestamp]]) -> str:
    rows = [
        f"{crop_word(crop)}{'' if variety == 'unnamed' else f' {variety}'} ({spoken(day)})"
        for crop, variety, day in sown
    ]
    return f"Counted as if sown or set out on the day written down: {', '.join(rows)}."


def _due(
    name: str,
    task: str,
    middle: pd.Timestamp,
    early: pd.Timestamp,
    late: pd.Timestamp,
    years: bool,
) -> str:
    what = {
        "first pick": "first pick about",
        "last pick": "nine tenths of the harvest in about",
        "brought in": "brought in, all at once, about",
    }[task]
    days = [spoken(day) if years else _day_month(day) for day in (middle, early, late)]
    return f"{name}: {what} {days[0]} ({days[1]} to {days[2]})"


def _other_row(other: str | pd.Timestamp) -> str:
    return other if isinstance(other, str) else f"the sowing of {_day_month(other)}"


def _of_a_bed(kg_m2: float, units: str) -> str:
    """Return a yield as what a handy piece of bed brings: 1 m2, or 10 square feet."""
    return mass_words(kg_m2 * (10 * M2_PER_SQFT if units == "us" else 1.0), units)


def _piece(units: str) -> str:
    return "10 sq ft" if units == "us" else "1 m2"


def _logged(plants: float, seasons: int) -> str:
    if not seasons:
        return "nothing of it is logged"
    number = f"{plants:.0f} plants" if plants > 0 else "an unknown number of plants"
    return f"logged: {number} in {seasons} season{'s' if seasons > 1 else ''}"


def _staying(
    units: str,
    kg_m2: float,
    other: str,
    other_kg_m2: float,
    chance: float,
    seasons: int,
    plants: float,
    end: str,
) -> str:
    line = f"{_of_a_bed(kg_m2, units)} of {_piece(units)}"
    if other:
        line += (
            f" against {_of_a_bed(other_kg_m2, units)} of {other}; more than that in "
            f"{_in_100(chance)} possible seasons"
        )
    return f"{line} ({_logged(plants, seasons)}){end}"


def _verdict(
    units: str,
    kg_m2: float,
    low: float,
    high: float,
    other: str,
    other_kg_m2: float,
    chance: float,
    seasons: int,
    plants: float,
    days: int,
    end: str,
) -> str:
    ends = " to ".join(_of_a_bed(one, units) for one in (low, high))
    line = f"{_of_a_bed(kg_m2, units)} ({ends}) of {_piece(units)}"
    if other:
        line += (
            f" against {_of_a_bed(other_kg_m2, units)} of {other}; better with chance "
            f"{sure_words(chance)}"
        )
    return f"{line} ({_logged(plants, seasons)}){end.format(days=days)}"


def _in_100(chance: float) -> str:
    return "fewer than 1 of 100" if chance < 0.005 else f"{100 * chance:.0f} of 100"


_FAMILIES = {
    "Amaranthaceae": "beet", "Amaryllidaceae": "onion", "Apiaceae": "carrot",
    "Asparagaceae": "asparagus", "Asteraceae": "lettuce", "Brassicaceae": "cabbage",
    "Convolvulaceae": "bindweed", "Cucurbitaceae": "squash", "Ericaceae": "heath",
    "Fabaceae": "pea", "Lamiaceae": "mint", "Malvaceae": "mallow", "Poaceae": "grass",
    "Polygonaceae": "dock", "Rosaceae": "rose", "Solanaceae": "nightshade", "Vitaceae": "vine",
}  # fmt: skip


def _family(name: str) -> str:
    return f"the {_FAMILIES[name]} family" if name in _FAMILIES else "its family"


_PLACE = {"family": "Solanaceae", "last": "2025", "years": 2.0, "since": "2024"}
_VERDICT = {
    "units": "metric", "kg_m2": 6.8, "low": 5.9, "high": 7.5, "other": "Copperkin",
    "other_kg_m2": 4.1, "chance": 0.94, "seasons": 2, "plants": 24.0, "days": 0,
}  # fmt: skip
_STAYING = {
    "units": "metric", "kg_m2": 2.0, "other": "Kettle Red", "other_kg_m2": 6.8, "chance": 0.03,
    "seasons": 1, "plants": 3.0,
}  # fmt: skip
_JULY, _AUGUST = pd.Timestamp("2026-07-20"), pd.Timestamp("2026-08-25")
_PAIR = {"first": "Kettle Red", "other": "Copperkin"}
_SQUARES = {"units": "metric", "area": 40.0}

MESSAGES: dict[str, Message] = {
    # -- refusals
    "season.no_picks": Message(
        text="nothing was picked of what was planted for that season",
        cure=lambda known: (
            f"Choose a season with picks: {known}." if known else "Write down what was picked."
        ),
        example={"known": Names(["2024/25", "2025/26"])},
    ),
    "season.past": Message(
        text=lambda last, now: f"that season is past: the log runs to {spoken(last)}",
        cure=lambda last, now: f"Plan {now} or a later season.",
        example={"last": _JULY, "now": "2026"},
    ),
    "plan.nothing": Message(
        text="there is nothing to plan for: no plantings, no targets and no crops",
        cure='Name products under [targets] or crops (a line such as [crops."cucumber"]), or enter '
        "plantings of this year.",
    ),
    "limit.unknown": Message(
        text="nothing of this name could be planted",
        cure="Known here: {known}.",
        example={"known": Names(["tomato/Copperkin", "tomato/Kettle Red"])},
    ),
    "limit.no_number": Message(text="must be a number of plants", cure="Give 0 or more."),
    # -- the season ahead
    "ahead.rests_on": Message(
        text="Everything here is counted on {draws:,} possible futures of the garden. In each of "
        "them the household eats first, puts up what its targets still ask for within its hours, "
        "equipment and freezer, gives away what would not keep, and does not know the weeks to "
        "come. A range holds eight times in ten. Room that frozen food leaves when it is eaten is "
        "not counted.",
        example={"draws": 1000},
    ),
    "ahead.sown_later": Message(
        text=_sown_later, example={"sown": [("snap bean", "Patterwick", _JULY)]}
    ),
    "ahead.on_hand": Message(
        text="What lies in the kitchen already, by the log, is used first: {crops}.",
        example={"crops": Names(["cucumber", "zucchini"])},
    ),
    "ahead.no_elevation": Message(
        text="No canning is counted: garden.toml gives no elevation, and without it no time is "
        "known. Set elevation_m or elevation_ft."
    ),
    "ahead.no_targets": Message(
        text="Nothing is put up in this count: garden.toml sets no targets. Name some under "
        "[targets], and the page says when each is likely met."
    ),
    # -- the review of a season
    "review.what": Message(
        text="Each figure is the expected value of the variety: the mean over many plantings of it "
        "in this garden, in this season, picked on the same days, as the log would show them. The "
        "90 % interval holds what is not known of it: plants and plots of one variety differ, "
        "weeks are noisy, few fruits leave much to luck. 'One more planting' (again_q05 to "
        "again_q95) is wider still: what the same number of plants would bring."
    ),
    "review.unfinished": Message(
        text=_unfinished, example={"season": "2026", "last": _JULY, "bearing": ["tomato"]}
    ),
    "review.ages_apart": Message(
        text=_ages_apart, example={"crops": [("cucumber", _JULY, _AUGUST)]}
    ),
    "review.mostly_unnamed": Message(
        text="Most picks of these crops name no variety, so all of them are shared by all plants: "
        "{crops}. Name the variety of every pick, and the varieties can be compared.",
        example={"crops": Names(["zucchini"])},
    ),
    "review.unnamed": Message(text=_unnamed, example={"crops": [("tomato", 0.33)]}),
    "review.never_picked": Message(
        text="No fruit was logged of {names}: a first pick shown for these would be the model's, "
        "not the log's.",
        example={"names": Names(["tomato Copperkin"])},
    ),
    "review.goes_on": Message(
        text="These may bear on after the last day of the log, and their figures are those up to "
        "it: {names}.",
        example={"names": Names(["kale Lee Shore"])},
    ),
    "review.single": Message(
        text="With one plant each, nobody can know what the variety is worth; their intervals are "
        "wide for that reason: {names}.",
        example={"names": Names(["tomato Copperkin"])},
    ),
    "review.unweighed": Message(
        text="Counted and hardly ever weighed, so that yields by weight rest on the usual weight "
        "of a fruit and their ranges are wide: {crops}. Weighing a few picks that are counted as "
        "well would narrow them.",
        example={"crops": Names(["cucumber", "okra"])},
    ),
    "review.pairs": Message(
        text=_pairs,
        example={
            "crop": "tomato",
            "pairs": 3,
            "most": 6,
            "apart": [("Kettle Red", "Copperkin", 0.98)],
        },
    ),
    "review.alike": Message(
        text="No two varieties can be told apart by yield per plant: {crops}.",
        example={"crops": Names(["cucumber", "zucchini"])},
    ),
    "review.pooled": Message(
        text=lambda seasons: (
            f"All seasons together: {' and '.join(seasons)}; the unfinished one is left out."
        ),
        example={"seasons": ["2024", "2025"]},
    ),
    "average.of": Message(
        text="Average year: the mean over the weather of {first} to {last}.",
        example={"first": "2015", "last": "2025"},
    ),
    "average.not_covered": Message(
        text="No average weather year: the weather record does not cover the growing season of "
        "{season}. The figures under 'average year' are those of the season.",
        example={"season": "2025/26"},
    ),
    "average.few_years": Message(
        text="No average weather year: the weather record holds {have} whole growing seasons, and "
        "{needed} are needed. The figures under 'average year' are those of the season.",
        example={"have": 2, "needed": 4},
    ),
    "told.apart": Message(
        text=lambda meaning, first, other, chance: (
            f"{meaning}: {first} is the better one ({sure_words(chance)} sure)"
        ),
        example={**_PAIR, "meaning": "yield a plant", "chance": 0.98},
    ),
    "told.alike": Message(
        text=lambda meaning, first, other, chance: (
            f"{meaning}: this log cannot tell {first} and "
            f"{other} apart ({chance:.0%} for the first)"
        ),
        example={**_PAIR, "meaning": "yield a plant", "chance": 0.7},
    ),
    "told.no_verdict": Message(
        text=lambda first, other, last: (
            f"no verdict on {first} and {other}: the season is "
            f"unfinished, the log ends on {spoken(last)}"
        ),
        example={**_PAIR, "last": _JULY},
    ),
    "sure.unnamed": Message(
        text="picks without a variety: whose they are was not written down, so nothing per plant"
    ),
    "sure.no_number": Message(
        text="number of plants not written down: nothing can be said per plant"
    ),
    "sure.one_plant": Message(
        text="one plant: its interval spans what another plant of the variety may do; one plant "
        "does not show what the variety is worth"
    ),
    "sure.plants": Message(
        text=_plants_sure, example={"plants": 120.0, "plantings": 3, "parts": 1, "few": False}
    ),
    # -- what a season taught the kitchen
    "lesson.jars": Message(
        text="{label}: {got:.0f} jars filled where the handbook promised {expected:.0f}",
        example={"label": "dill pickles", "got": 8.0, "expected": 10.0},
    ),
    "lesson.hours": Message(
        text="{label}: {got:.1f} hours where {expected:.1f} were planned",
        example={"label": "dill pickles", "got": 3.5, "expected": 2.5},
    ),
    "lesson.target": Message(
        text=_target,
        example={
            "label": "dill pickles",
            "have": 14.0,
            "target": 20.0,
            "made": 10.0,
            "day": _AUGUST,
            "met": False,
        },
    ),
    "lesson.spoiled": Message(
        text=lambda crop, lost, picked, units: (
            f"{crop}: {mass_words(lost, units)} of {mass_words(picked, units)} had no use on "
            "record: more than the household eats at most, gives away and put up"
        ),
        example={"crop": "cucumber", "lost": 6.0, "picked": 50.0, "units": "metric"},
    ),
    "lesson.over_capacity": Message(
        text=_over_capacity,
        example={"weeks": 2, "kg": 20.0, "worst": _AUGUST, "worst_kg": 14.0, "units": "metric"},
    ),
    # -- what a plan rests on
    "plan.begun": Message(
        text=lambda last: (
            f"The log runs to {spoken(last)} already: what this plan plants before "
            "that day would come too late."
        ),
        example={"last": _JULY},
    ),
    "plan.not_reached": Message(
        text="Not every target reaches {probability:.0%}; the list of targets says which and why.",
        example={"probability": 0.9},
    ),
    "plan.binds": Message(
        text=_binds,
        example={
            "limits": [
                (("limit.bed",), ["dill pickles"]),
                (("limit.hours", "limit.freezer"), ["frozen tomatoes"]),
            ]
        },
    ),
    "plan.counted": Message(
        text="Reliability and glut are counted on {futures} possible seasons that the plan had not "
        "seen, by a rule that decides each week without knowing the next. A fresh target is met "
        "where {share:.0%} of the appetite is eaten over the weeks in which the crop can be had, "
        "or as much as so many years can bear. Batches are counted by the kilogram, jars and lids "
        "as bought.",
        example={"futures": 600, "share": 0.75},
    ),
    "plan.no_pick_before": Message(
        text="No pick is planned before the heat that the household's own whole seasons show, or "
        "else before {share:.0%} of the almanac's usual heat; never before {share:.0%} of the "
        "days that takes, and none of a tender crop after the killing frost.",
        example={"share": 0.6},
    ),
    "plan.stored": Message(
        text="Brought in once and eaten from store as long as it keeps: {crops}. These are not "
        "sown in successions.",
        example={"crops": Names(["garlic", "potato"])},
    ),
    "plan.appetite": Message(
        text="What is eaten of these in a week nobody has set, so that it is taken from the picks "
        "of the log: {crops}. [crops] in garden.toml says otherwise.",
        example={"crops": Names(["okra"]), "kg": [0.6]},
    ),
    "plan.nothing_logged": Message(
        text=_almanac_ranges, example={"units": "metric", "ranges": [("okra", 0.02, 0.9)]}
    ),
    "log.no_whole_season": Message(
        text="No season is logged to its end yet: yields rest on an unfinished season."
    ),
    "log.rests_on": Message(
        text=_rests_on,
        example={"seasons": [("2025", pd.Timestamp("2025-10-02"))], "left_out": ["2026"]},
    ),
    "log.broken_off": Message(
        text=lambda days: (
            f"No pick of the season is written down after {' and '.join(map(spoken, days))}; the "
            "plan takes it that nothing more was picked. Where that is not so, yields come out too "
            "low: enter the picks that are missing."
        ),
        example={"days": [_JULY]},
    ),
    "weather.told": Message(text="{text}", example={"text": "Only 2 past years of weather."}),
    "shelf.counts": Message(
        text=_shelf,
        example={"day": _AUGUST, "counts": [("dill pickles", 4.0, 10.0)], "unknown": []},
    ),
    "beds.asked": Message(
        text=lambda area, units: f"Bed area: {area_words(area, units)}, as asked for.",
        example=_SQUARES,
    ),
    "beds.own": Message(
        text=lambda area, units: (
            f"Bed area: {area_words(area, units)}, as in garden.toml ({area_key(units)})."
        ),
        example=_SQUARES,
    ),
    "beds.as_taken": Message(text=_as_taken, example={**_SQUARES, "season": ""}),
    "beds.no_limit": Message(
        text=lambda units: (
            f"Bed area: no limit, because garden.toml gives none "
            f"({area_key(units)}) and no plantings of this year say how much there is."
        ),
        example={"units": "metric"},
    ),
    "beds.short": Message(
        text=_short_beds,
        example={"units": "metric", "there": 40.0, "wanted": 55.0, "gave": [("tomato", 8.0, 14.0)]},
    ),
    "beds.mend": Message(
        text=_mend_beds,
        example={"units": "metric", "probability": 0.9, "lower": [("tomato sauce", 0.7)]},
    ),
    "grown.older": Message(
        text=lambda before, last, crops, key: (
            f"Planted in {before}, without a row of {last} in the plantings, and planned again: "
            f"{_listed(crops)}; this year's beds are counted without them. Of a crop that is "
            f'wanted no more write {key} = 0 under [crops."{crops[0]}"] in garden.toml.'
        ),
        example={
            "before": "2024",
            "last": "2025",
            "crops": ["lettuce", "potato"],
            "key": "eat_kg_per_person_week",
        },
    ),
    "grown.no_planting": Message(
        text="Left out, because they were picked but no planting of them is written down, so that "
        "nobody knows what a plant brings: {names}. A row with the number of plants in the "
        "plantings brings them in.",
        example={"names": Names(["lettuce"])},
    ),
    "product.no_way": Message(
        text="Left out, because this household has no tested way of putting it up: {labels}.",
        example={"labels": Names(["canned tomatoes"])},
    ),
    "product.none_stands": Message(
        text="Left out, because none stands, and what is set out now bears in later years only: "
        "{labels}.",
        example={"labels": Names(["strawberry jam"])},
    ),
    # -- what keeps a target from being met
    "limit.hours": Message(text="kitchen hours"),
    "limit.equipment": Message(text="equipment"),
    "limit.freezer": Message(text="freezer room"),
    "limit.kitchen": Message(text="kitchen hours and equipment together"),
    "limit.standing": Message(text="the plants that stand, as new ones bear in later years only"),
    "limit.most": Message(text="the most plants allowed"),
    "limit.bed": Message(text="the bed area"),
    "limit.not_worth": Message(text="what more plants would cost in bed and work"),
    "limit.season": Message(text="the season: no number of plants helps"),
    "help.sooner": Message(text="to pick it two weeks sooner (an earlier variety, a cover)"),
    "help.later": Message(text="to sow half of it three weeks later"),
    "help.keeps": Message(text="to keep it two weeks longer (a cooler place)"),
    "target.falls_short": Message(
        text=_falls_short,
        example={
            "limits": ["limit.not_worth"],
            "more_m2": 0.0,
            "units": "metric",
            "plants": 14.0,
            "area": 3.0,
            "helps": ["help.sooner", "help.keeps"],
        },
    ),
    "target.within_error": Message(
        text="falls short on possible seasons it had not seen; within the error of the count"
    ),
    # -- what the yield of a planting rests on
    "basis.own_log": Message(text="the household's own log of this variety"),
    "basis.crop_log": Message(text="the household's log of other varieties of the crop"),
    "basis.almanac": Message(text="the crop almanac; nothing logged yet, so the range is wide"),
    "basis.unknown": Message(
        text="no figures for this crop: a generic prior; nothing logged yet, so the range is wide"
    ),
    # -- why a row is there
    "row.alone": Message(text="the only planting of its crop"),
    "row.stands": Message(text="it stands already"),
    "row.first": Message(
        text=lambda days, other: f"first picked {days} days before {_other_row(other)}",
        example={"days": 9, "other": "Plumb Bob"},
    ),
    "row.longest": Message(
        text=lambda days, other: f"picked {days} days longer than {_other_row(other)}",
        example={"days": 12, "other": _JULY},
    ),
    "row.yields": Message(
        text=lambda units, other, kg_m2, other_kg_m2: (
            f"brings most for its bed: {_of_a_bed(kg_m2, units)} of {_piece(units)} against "
            f"{_of_a_bed(other_kg_m2, units)} of {_other_row(other)}"
        ),
        example={"units": "metric", "other": "Plumb Bob", "kg_m2": 4.5, "other_kg_m2": 3.9},
    ),
    "row.stands_in": Message(
        text=lambda other, share: (
            f"stands in where {_other_row(other)} does poorly: in {share:.0%} of those seasons it "
            "brings its usual or more"
        ),
        example={"other": "Kettle Red", "share": 0.4},
    ),
    # -- which varieties stay
    "staying.keep": Message(
        text=lambda **facts: _staying(**facts, end=""), example={**_STAYING, "other": ""}
    ),
    "staying.drop": Message(
        text=lambda **facts: _staying(**facts, end=": its bed does more under the other"),
        example=_STAYING,
    ),
    "staying.try_again": Message(
        text=lambda **facts: _staying(
            **facts, end=": too near to part with; a few plants more would tell"
        ),
        example={**_STAYING, "chance": 0.3},
    ),
    "staying.no_bed": Message(
        text=lambda **facts: _staying(
            **facts, end=": the beds are full, and other crops bring more on them"
        ),
        example={**_STAYING, "other": ""},
    ),
    "staying.no_use": Message(
        text=lambda **facts: _staying(
            **facts, end=": what it brings is less than its bed and work, or is not wanted"
        ),
        example={**_STAYING, "other": ""},
    ),
    "verdict.keep": Message(text=lambda **facts: _verdict(**facts, end=""), example=_VERDICT),
    "verdict.drop": Message(
        text=lambda **facts: _verdict(**facts, end=": its bed does more under the other"),
        example={**_VERDICT, "chance": 0.03},
    ),
    "verdict.sooner": Message(
        text=lambda **facts: _verdict(**facts, end=": brings less, but {days} days sooner"),
        example={**_VERDICT, "chance": 0.03, "days": 8},
    ),
    "verdict.try_again": Message(
        text=lambda **facts: _verdict(
            **facts, end=": too near to part with; more plants, or another season, would tell"
        ),
        example={**_VERDICT, "chance": 0.3},
    ),
    "verdict.alone": Message(
        text=lambda **facts: _verdict(**facts, end=": the only one of its crop"),
        example={**_VERDICT, "other": ""},
    ),
    # -- which bed takes a row
    "place.new": Message(
        text=lambda family, last, years, since: (
            f"nothing of {_family(family)} there since {since}, where the log begins"
        ),
        example=_PLACE,
    ),
    "place.rested": Message(
        text=lambda family, last, years, since: (
            f"{_family(family)} stood there in {last}; {years:.0f} years apart are asked for"
        ),
        example=_PLACE,
    ),
    "place.too_soon": Message(
        text=lambda family, last, years, since: (
            f"{_family(family)} stood there in {last}: too soon, {years:.0f} years apart are asked "
            "for, and no other bed has the room"
        ),
        example=_PLACE,
    ),
    "place.stands": Message(
        text=lambda family, last, years, since: "stays where it stands", example=_PLACE
    ),
    "place.no_room": Message(
        text=lambda family, last, years, since: (
            "no bed of the plantings has room for it at that time"
        ),
        example=_PLACE,
    ),
    # -- the calendar
    "task.plant": Message(
        text="{task} {plants} {name}", example={"task": "sow", "plants": 40, "name": "pea"}
    ),
    "task.due": Message(
        text=_due,
        example={
            "name": "kale Winter Ferry",
            "task": "first pick",
            "middle": _AUGUST,
            "early": _JULY,
            "late": _AUGUST,
            "years": True,
        },
    ),
}

NOT_LOGGED = frozenset({"basis.almanac", "basis.unknown"})
"""Codes of what a yield rests on where nothing of the crop is logged."""
