"""All sentences of this room: a code and facts in, words out.

The text of a problem is its rule, that of a notice what is odd; the cure is what to do, or what
was done. Light on purpose: whoever writes a pick down waits for no table.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from datetime import date
from inspect import signature
from string import Formatter
from typing import Any

from harvestcast.errors import TypedError
from harvestcast.words import messages
from harvestcast.words.days import spoken
from harvestcast.words.messages import Message, Words, mass, say
from harvestcast.words.numbers import plural


class Remark(messages.Said):
    """Something to be said of what was written down: its code, and the facts it is made of."""

    __slots__ = ()

    @property
    def message(self) -> Message:
        """The message of the code in this room's table."""
        return MESSAGES[self.code]

    def __str__(self) -> str:
        return "; ".join(filter(None, (self.text, self.cure)))


def unreadable(code: str, **facts: Any) -> TypedError:
    """Return the error for something typed that cannot be read."""
    return TypedError(say(MESSAGES[code].text, facts), code, facts)


def _m(text: Words, cure: Words = "", **example: Any) -> Message:
    names = {name for words in (text, cure) for name in _names(words)}
    return Message(text=text, cure=cure, example={n: _FACTS[n] for n in names} | example)


def _names(words: Words) -> list[str]:
    """Return the facts that a sentence names."""
    if callable(words):
        needed = signature(words).parameters.values()
        return [p.name for p in needed if p.kind is not p.VAR_KEYWORD and p.name in _FACTS]
    return [re.split(r"[.\[]", name)[0] for _, name, _, _ in Formatter().parse(words) if name]


_FACTS: dict[str, Any] = {
    "mark": ",",
    "alone": False,
    "amount": "1.5 kg",
    "apart_c": 1.5,
    "at": "",
    "around": [date(2026, 7, 1), date(2026, 7, 3)],
    "beds": False,
    "before": 12.5,
    "beside": "kg",
    "bound": "at least",
    "cells": "0.5",
    "celsius": 84.0,
    "column": "variety",
    "count": 24.0,
    "crop": "tomato",
    "crops": ["summer squash", "winter squash"],
    "day": date(2026, 7, 5),
    "days": 2,
    "elsewhere": "",
    "ending": ".xls",
    "expected": "'us' or 'metric'",
    "item": "vinegar",
    "far": "more",
    "field": "tmin",
    "file": "picks.csv",
    "filled": "usual",
    "first": "the date has no year",
    "after": date(2024, 1, 3),
    "season": "2025/26",
    "forecast": False,
    "free": "picks-2.xlsx",
    "given": False,
    "grams": False,
    "heading": "tmax_c",
    "headings": "crop, count",
    "high": "12",
    "hot": 40,
    "importing": True,
    "key": "kind",
    "kg": 3.4,
    "kind": "page",
    "known": ["date", "crop"],
    "last": date(2026, 7, 19),
    "like": "amount",
    "limit": 0.0,
    "line": 3,
    "lines": 2,
    "mb": 32,
    "meaning": "date",
    "means": "mood",
    "meant": "cucumber",
    "missing": ["date", "crop"],
    "month": 25,
    "more": "weight",
    "most": 200_000,
    "most_kg": 12.0,
    "newest": 2026,
    "next_most": True,
    "note": "basket 2",
    "number": 2,
    "of": "date.ambiguous",
    "order": "month_first",
    "orders": ["day_first"],
    "other": "tmin_c",
    "picks": 3,
    "planted": "Fennick",
    "reach": 16,
    "read": "log",
    "reason": "Permission denied",
    "second": date(2026, 7, 5),
    "size": "pint",
    "stations": ["XX000000001", "XX000000002"],
    "stem": "pantry",
    "turned": "7/25/2026",
    "typed": "courgettes",
    "unit": "kg",
    "units": "metric",
    "unlike": 1,
    "used": "Fennick",
    "usual": 12.0,
    "usual_kg": 1.5,
    "files": ["picks.csv"],
    "spellings": ["brick-row", "Brick R\u00f3w"],
    "values": 3,
    "varieties": ["Brick Row", "Brick Lane"],
    "variety": "Brick Row",
    "warmest": 34.0,
    "weekday": "Sunday",
    "what": "weight",
    "wide": False,
    "width": 4,
    "word": "lb",
    "words": False,
    "year": 2026,
}
"""Facts that most messages are shown with; those that want others say so themselves."""


# What to do about a date or an amount depends on where it was typed.

_DAY = "Type it like 2026-07-05."
_DAYS = {"add": "Type it like yesterday, monday or 2026-07-05."}
_AMOUNTS = {
    "number": "Type a plain number, like 12 or 1.5.",
    "weather": "Type a plain number; leave it empty or type M where it is missing.",
    "count": "Type it like 12 or 2 dozen.",
    "amount": "Type it like 1.5 or 3 lb 4 oz.",
    "cell": "Type it like 12, 2 dozen, 3 lb 4 oz or 1.5 kg; leave it empty for no pick.",
    "add": "Type it like 34, 2 dozen, 3 lb 4 oz or 1/2 kg.",
    "produce": "Type a weight, like 3.5 kg, or name the unit in the heading (produce_kg).",
}


def _day_cure(at: str = "", **_: Any) -> str:
    return _DAYS.get(at, _DAY)


def _order_cure(at: str = "", orders: Sequence[str] = (), **_: Any) -> str:
    if len(orders) == 1:
        said = f'date_order = "{orders[0]}", as the other dates of this column are written'
    else:
        said = 'date_order = "day_first" or "month_first"'
    return f"{_day_cure(at)} Or set the order in garden.toml: {said}."


def _no_month(month: int, order: str, meant: date, turned: str, **_: Any) -> str:
    which = "first" if order == "month_first" else "second"
    return (
        f"there is no month {month}; the {which} number is the month here "
        f'(date_order = "{order}"), so {spoken(meant)} is typed {turned}'
    )


def _no_month_cure(order: str, **_: Any) -> str:
    other = "day_first" if order == "month_first" else "month_first"
    return (
        "Type it so, or like 2026-07-05. Where all dates are written the other way, set "
        f'date_order = "{other}" in garden.toml.'
    )


def _products_near(near: Sequence[str], **_: Any) -> str:
    if not near:
        return "'harvestcast check FOLDER --products' lists the products."
    return f"Did you mean {' or '.join(near)}? 'harvestcast check FOLDER --products' lists all."


def _amount_cure(like: str = "number", **_: Any) -> str:
    return _AMOUNTS[like]


def _unit_cure(like: str = "number", field: str = "", typed: str = "", **_: Any) -> str:
    if like == "add":
        return f"Type the unit with it: {typed}lb or {typed}kg."
    if like == "cell":
        return "Say whether it is a count or a weight."
    if field in ("oversize", "damaged"):
        return f"Type it like 3 each or 2 lb, or name the unit in the heading ({field}_lb)."
    if like == "amount":
        return (
            "Name the unit in the heading (weight_kg, weight_g, weight_lb, weight_oz; count where "
            "it was counted), in a unit column, or behind the number."
        )
    return _amount_cure(like)


def _two_numbers_cure(like: str = "number", field: str = "", typed: str = "", **_: Any) -> str:
    # Of a pick people say how many, and then how heavy; read so in silence, "12 3 kg" may be 12.3.
    both = re.fullmatch(r"(\d+) ([\d.,]+ ?[^\W\d_]+)", typed)
    if like == "add" and both:
        weight = json.dumps(both[2]) if " " in both[2] else both[2]
        return f"Type a count and its weight like {both[1]} --weight {weight}."
    return _named_unit_cure(like, field)


def _unknown_unit_cure(like: str = "number", field: str = "", **_: Any) -> str:
    more = " A variety is typed behind --variety." if like == "add" else ""
    return _named_unit_cure(like, field) + more


def _named_unit_cure(like: str = "number", field: str = "", **_: Any) -> str:
    return _unit_cure(like, field) if like == "amount" else _amount_cure(like)


def _decimal_cure(like: str = "number", **_: Any) -> str:
    if like == "add":
        return "Type it without a thousands mark, or in another unit: 1200 g, 1.2 kg."
    return "Type it without a thousands mark, and with the same decimal mark throughout."


def _beyond(number: int, cells: str, width: int, **_: Any) -> str:
    stand = "cell stands" if number == 1 else "cells stand"
    return f"{number} {stand} beyond the last of {width} headings ({cells})"


def _beyond_cure(mark: str, **_: Any) -> str:
    cures = {
        "": "Give every column a heading",
        "\t": "Take tabs out of texts; give every column a heading",
        ",": 'Write a text or number that holds a comma in quotation marks ("1,5"), or with a '
        "point (1.5); give every column a heading",
    }
    marked = f"Write a text that holds a {mark} in quotation marks; give every column a heading"
    return f"{cures.get(mark, marked)}; or empty the cells that do not belong there."


def _not_used(importing: bool = False, wide: bool = False, **_: Any) -> str:
    if not importing:
        return "its column was not used"
    more = "; a crop that is not known needs a heading in garden.toml" if wide else ""
    return f"its column was not used; rename it, or say what it holds{more}"


def _unknown_crop(meant: str = "", **_: Any) -> str:
    if meant:
        return f"did you mean {meant}? kept apart as a crop of its own, with general figures"
    return "kept as typed, with general figures"


def _not_known_cure(
    crops: Sequence[str] = (), meant: str = "", belongs: Sequence[str] = (), **_: Any
) -> str:
    if belongs:
        crop, name = belongs
        return f'{name} is a planted {crop}: type the crop, and --variety "{name}" behind it.'
    asked = (
        f"Say {crops[0]} or {crops[1]}. " if crops else f"Did you mean {meant}? " if meant else ""
    )
    return (
        f"{asked}A new crop is known once it stands in plantings.csv; --new-crop takes it as it is."
    )


def _columns(missing: Sequence[str], headings: str, **_: Any) -> str:
    return (
        f"no column was found for the {' and the '.join(missing) or 'picks'} (headings: {headings})"
    )


_COLUMNS_CURE = (
    "Rename the headings: date, crop, variety, count, weight_kg (or weight_lb); or give each crop "
    "a column beside the date; or say which crop it is."
)


def _days_named(around: Sequence[date], **_: Any) -> str:
    which = "around it" if len(around) > 1 else "before it"
    return f"the date lies far from the lines {which} ({' and '.join(map(spoken, around))})"


def _weather_twice(days: int, unlike: int, apart_c: float, forecast: bool, **_: Any) -> str:
    where = "the weather forecast" if forecast else "the weather"
    said = f"{plural(days, 'day')} of {where} {'is' if days == 1 else 'are'} written more than once"
    if unlike:
        said += f", {unlike} of them differently"
        said += f" (up to {apart_c:.1f} degrees C apart)" if apart_c > 0 else " (in rain)"
    return said


_GAPS = {
    "open": "left open, as the gap is so long",
    "usual": "filled from the same days of other years, shifted to fit the days around the gap",
    "line": "filled on a straight line, as the record has no other year there",
}


def _stations(stations: Sequence[str], number: int, **_: Any) -> str:
    more = f" and {number - len(stations)} more" if number > len(stations) else ""
    return f"the file holds {number} stations ({', '.join(stations)}{more})"


def _two_values(stations: Sequence[str], number: int, values: int, before: float) -> str:
    holds = _stations(stations, number) if number > 1 else f"station {stations[0]} is given twice"
    more = f"{plural(values, 'value')} for a day that has one already"
    return f"{holds}, and {more} (here {before:g})"


def _not_planted_cure(
    planted: Sequence[str], meant: str, elsewhere: str, crop: str, variety: str, **_: Any
) -> str:
    if elsewhere:
        return (
            f"kept; the {elsewhere} {variety} is planted: write {elsewhere} for its crop here too, "
            f"or {crop} there"
        )
    return f"kept; did you mean {meant}?" if meant else f"kept; planted are: {', '.join(planted)}"


def _spelling_cure(crop: str, variety: str, spellings: Sequence[str], **_: Any) -> str:
    name = crop if crop.isalnum() and crop.isascii() else json.dumps(crop, ensure_ascii=False)
    line = f"varieties_apart = {json.dumps(list(spellings), ensure_ascii=False)}"
    return (
        f"read as {variety}; where they are varieties of their own, write {line} below "
        f"[crops.{name}] in garden.toml"
    )


def _twice(line: int, file: str = "", **_: Any) -> str:
    return f"the same pick stands in line {line}{f' of {file}' if file else ''}"


def _twice_cure(beds: bool, **_: Any) -> str:
    if beds:
        # Of two beds two baskets may well be alike, and the log does not tell from which.
        return (
            "counted once; if it came from another bed, write the beds down, or say in its note "
            "that it was a second basket"
        )
    return "counted once; if it was a second basket, say so in its note"


def _far_weight(crop: str, far: str, usual_kg: float, alone: bool, units: str, **_: Any) -> str:
    usual = mass(usual_kg, units)
    other = (
        f"the smallest single one weighs {usual}" if alone else f"the others weigh about {usual}"
    )
    return f"far {far} {crop} than usual; {other}"


def _far_count(crop: str, usual: float, next_most: bool, **_: Any) -> str:
    what = "the next most is" if next_most else "a large pick is"
    return f"far more {crop} than on any other day; {what} {usual:.3g} fruits"


def _setting_cure(meant: str = "", known: Sequence[str] = (), **_: Any) -> str:
    return f"Did you mean {meant}?" if meant else f"Known here: {', '.join(known)}."


def _unlikely_yield(
    kg: float, most_kg: float, crop: str, alone: bool, season: str, units: str
) -> str:
    what = "this pick" if alone else f"the picks of {season}"
    return (
        f"{what} would be {mass(kg, units)} of {crop}; its plants bear about "
        f"{mass(most_kg, units)} in a good season"
    )


def _unlikely_fruit(
    crop: str,
    variety: str,
    season: str,
    number: float,
    kg: float,
    whole_kg: float,
    plants: float,
    most_kg: float | None,
    units: str,
    **_: Any,
) -> str:
    said = (
        f"{number:,.0f} fruit{'' if number == 1 else 's'} of the {crop} {variety} counted in "
        f"{season}, {mass(kg, units)} each as they were not weighed, would be "
        f"{mass(whole_kg, units)}"
    )
    if most_kg is None:
        return said
    its = f"its {plants:g} plants bear" if plants > 1 else "its plants bear"
    return f"{said}; {its} about {mass(most_kg, units)} in a good season"


def _unlikely_fruit_cure(said: str, other: str, **_: Any) -> str:
    why = f"as its {said}" if said else "if it is one"
    more = f"; or, {why}, write {other} for its crop in plantings and picks" if other else ""
    return (
        "kept, and used so everywhere; weigh one basket of it and write its count and weight "
        f"down{more}"
    )


_GIVEN = {True: "the crop given", False: "as the sheet is named"}
_PART = {True: "has these words", False: "begins so"}
_STEM = {
    "plantings": "no crop can be forecast from its planting",
    "picks": "the forecast rests on the usual course of each crop alone",
    "pantry": "the shelves are read as empty",
    "weather": "no forecast can be made",
    "garden": "the ordinary settings are used: metric units, 2 people, no elevation, no equipment",
}
_SLIP = {
    "less": "kg or lb under a heading of grams or ounces",
    "more": "grams or ounces under a heading of kg or lb",
}
_KEEP = "Keep the right one."
_RIGHT = "Check that it is the right file."
_MEND = "Correct the line."
_SAVE = "Open it in a spreadsheet program and save it again, or save the sheet as CSV."
_TABLE = "Keep only the sheet with the log, or save that sheet as CSV."
_FETCH = "Fetch it again."
_ONE_STATION = "Keep the lines of one station, the nearest in place and elevation."
_TYPED = "kept as typed; check for a slipped digit or a wrong unit"
_GRAMS = "kept as typed; grams under a heading of kg or lb?"
_IN_FILE = "Correct it in garden.toml."
_NEW_FILE = "Start from a new file."
_AMOUNT: dict[str, Any] = {"like": "amount", "field": "mass"}
_PICK: dict[str, Any] = {"crop": "tomato", "variety": "Brick Row", "picks": 3}

# fmt: off
_BASIS = {
    "latitude": "its latitude",
    "hemisphere": "its hemisphere",
    "weather": "its weather",
    "frosts": "its days of frost",
    "assumed": "default",
}


_ELSEWHERE = {"told": "north", "hemisphere": "south", "basis": "latitude", "start": "1 July"}


def _frost_elsewhere(*, told: str, hemisphere: str, basis: str, **_: object) -> str:
    return f"this is a day of frost of the {told}, and {_lies(hemisphere, basis)}"


def _weather_elsewhere(*, told: str, hemisphere: str, basis: str, **_: object) -> str:
    return f"the weather is that of the {told}, and {_lies(hemisphere, basis)}"


def _lies(hemisphere: str, basis: str) -> str:
    return f"the garden lies in the {hemisphere} (by {_BASIS[basis]})"


MESSAGES: dict[str, Message] = {
    "more.problems": _m("{number} more lines have the same error ({first})",
        "Correct them likewise.", number=12),
    "more.notices": _m("{number} more lines: {first}", "the same", number=12,
        of="date.after_today", first="the date lies after today"),
    # Dates
    "season.hemisphere": Message(
        text="it contradicts the latitude: {latitude:g} lies in the {hemisphere}",
        cure="Take one of the two out; latitude south of the equator is negative.",
        example={"latitude": -41.2, "hemisphere": "south"},
    ),
    "season.frost": Message(
        text=_frost_elsewhere,
        cure="the season begins on {start}; check latitude and {frost}",
        example=_ELSEWHERE | {"frost": "last_frost"},
    ),
    "season.frosts": Message(
        text="the first frost of autumn comes before the last one of spring ({last_frost})",
        cure="kept; check both, month first",
        example={"last_frost": "05-10"},
    ),
    "season.weather": Message(
        text=_weather_elsewhere,
        cure="the season begins on {start}; check latitude, and which station the weather is of",
        example=_ELSEWHERE,
    ),
    "season.last_frost": Message(
        text="by the weather the last frost of spring is usually about {usual}",
        cure="kept; check it, and which station the weather is of",
        example={"usual": "28 April"},
    ),
    "date.missing": _m("the date is missing", _DAY),
    "date.unreadable": _m("the date cannot be read", _day_cure),
    "date.ambiguous": _m("the date may be {first:day} or {second:day}", _order_cure,
        first=date(2026, 5, 7)),
    "date.no_year": _m("the date has no year",
        "Add the year, or put it in the file's name (picks-2026.csv)."),
    "date.no_month": _m(_no_month, _no_month_cure, meant=date(2026, 7, 25)),
    "date.short_year": _m("the year has two digits and may stand first or last in the date",
        _day_cure),
    "date.far_year": _m("the year {year} lies outside 1900 to 2100", _day_cure, year=2926),
    "date.no_day": _m("the calendar has no such day", _day_cure),
    "date.weekday": _m("{day:day} is a {weekday}, not the weekday that is typed", _day_cure),
    "date.future": _m("the day lies in the future", "Correct the day."),
    "date.after_today": _m("the date lies after today, by this computer's clock", "kept as typed"),
    "date.far_ahead": _m("the date lies more than a year after today and every other date",
        "Correct the year."),
    "date.stray": _m(_days_named, "kept as typed; check the month and the year"),
    "date.carried": _m("the date is missing on the line", "taken from the line above"),
    "date.year_above": _m("the dates have no year",
        "read as days of {used}, as a title, the sheet's name or the other sheets say; --year says "
        "another", used=2025),
    "date.new_year": _m("the days fall back from {before:day} to {after:day}",
        "read as days of one year; where they pass New Year, --year {season} says so",
        before=date(2024, 12, 28), season="2024/25"),
    "date.no_season_day": _m("it is no day of the year", 'Write it like "10 May" or 05-10.'),
    # Numbers and amounts
    "number.unreadable": _m("this is no number", _amount_cure, like="number"),
    "number.divides_by_zero": _m("the fraction divides by zero", _amount_cure),
    "number.decimal": _m("the number may be {first} or {second}", _decimal_cure, first="1.250",
        second="1250"),
    "number.negative": _m("the number is negative",
        "Type the number without the minus sign, or correct the line."),
    "number.too_large": _m("the number is far too large", _MEND),
    "number.wrong_unit": _m("the unit {unit} does not fit here", "Use one of: {units:list}.",
        units=["m", "ft"]),
    "number.unit_missing": _m("the unit is missing",
        "Name it in the heading, like {field}_{unit}.", field="row", unit="m"),
    "number.no_unit": _m("the number has no unit", _unit_cure),
    "number.no_units": _m(
        "these headings do not say whether the numbers under them are counts or weights",
        "Say which unit they have (each, dozen, kg, g, lb or oz), or put it in the headings: "
        "Cucumbers (lb)."),
    "number.unit_differs": _m("the number names another unit than the cell beside it ({beside})",
        _KEEP),
    "amount.unreadable": _m("the amount cannot be read", _amount_cure, like="cell"),
    "amount.negative": _m("the amount is negative",
        "Type the number without the minus sign; a pick cannot be less than nothing."),
    "amount.too_large": _m("the amount is larger than any pick", _amount_cure),
    "amount.two_numbers": _m("two numbers stand there without a unit between them",
        _two_numbers_cure),
    "amount.last_number": _m("the last number has no unit", _named_unit_cure),
    "amount.volume": _m("the unit {word} says neither count nor weight",
        "Type how many or how heavy: 34, 5.2 lb.", word="basket"),
    "amount.pound": _m("the unit {word} is 500 g to some and 454 g to others",
        "Type it in kg, g or lb.", word="livre"),
    "amount.unknown_unit": _m("the unit {word} is not known", _unknown_unit_cure, word="kgs2"),
    "amount.bare_unit": _m("no number stands before {word}", _amount_cure),
    "amount.unit_twice": _m("the unit {word} stands there twice", _amount_cure),
    "amount.given_twice": _m("the weight is given twice", "Give it once."),
    "amount.two": _m("the {what} is given twice, and differently", _KEEP),
    "amount.heading_unit": _m("the heading names another unit than the unit column ({unit})",
        _KEEP),
    "amount.weight_of_none": _m("the count is 0 but there is a weight",
        "Correct one; leave it empty where it was not counted."),
    "amount.weightless": _m("fruit was counted but weighs 0", "read as not weighed"),
    "amount.missing": _m("count and weight are missing",
        "the line was left out; type 0 where you looked and found none"),
    "amount.none_typed": _m("count and weight are missing",
        "Say how much: 34, 2 dozen, 5.2lb; none where you looked and found none."),
    "unit.unknown": _m("the unit is not known here",
        "Use {units:list}; or leave it empty where the heading names the unit.",
        units=["kg", "g", "lb", "oz"]),
    "unit.two": _m("two columns name two units", _KEEP),
    "hours.too_many": _m("a day has 24 hours", _MEND),
    "hours.unclear": _m("it is not clear how many hours on which weekday",
        "Type a weekday and its hours, such as saturday 4 or wed 1.5."),
    "hours.unreadable": _m("the time cannot be read", "Type it like 0.5 or 20 min."),
    "grade.unknown": _m("the grade is not good, oversize or damaged",
        "Use one of these three; leave it empty for good."),
    "jar.unreadable": _m("the size of jar cannot be read for certain",
        "Type half pint, pint or quart."),
    # Crops and varieties
    "crop.missing": _m("the crop is missing", "Type the crop's name."),
    "crop.unknown": _m("the crop is not in the list", _unknown_crop, crop="cucmber"),
    "crop.one_of_two": _m("{crop} may be {crops[0]} or {crops[1]}",
        'kept under its own name with general figures; write "{crops[0]}" or "{crops[1]}"',
        crop="squash"),
    "crop.two_meanings": _m("the crop may be {crops[0]} or {crops[1]}", "Say which of the two."),
    "crop.misspelt": _m("the crop is not known", "Did you mean {meant}?"),
    "crop.not_known": _m("the crop is neither known nor planted", _not_known_cure, meant=""),
    "crop.too_many": _m("there are {number:,} different names, more than any garden grows",
        "Check that the column headed {column} is the right one.", number=4000),
    "crop.one_for_all": _m("no column names the crop",
        lambda crop, given, **_: f"read as {crop}, {_GIVEN[given]}"),
    "crop.read_as": _m("{typed} was read as {crop}", crop="zucchini"),
    "crop.not_planted": _m("plantings.csv has no {crop}", crop="kale"),
    "variety.several": _m(
        lambda crop, varieties, words: f"more than one planted {crop} {_PART[words]}: "
        f"{', '.join(varieties)}", "Type more of the name."),
    "variety.not_given": _m("no variety was given; planted are {varieties:list}",
        varieties=["Brick Row", "Old Lantern"]),
    "variety.read_as": _m("{typed} was read as {variety}", typed="lantern", variety="Old Lantern"),
    "variety.not_among": _m("{typed} is no planted {crop}; planted are: {varieties:list}",
        lambda meant, **_: f"did you mean {meant}? --undo takes it back" if meant else "",
        typed="Fenick", crop="cucumber", varieties=["Fennick"], meant="Fennick"),
    "variety.spelling": _m(
        "the {crop} {variety} is also written {spellings:list} ({lines:+line} of {files:list})",
        _spelling_cure, lines=2),
    "variety.apart_absent": _m("no planting or pick of {crop} has this name, written just so",
        "the line does nothing for it; names met: {known:list}", known=["Brick Row"]),
    "variety.only_one": _m("{picks:+pick} of {crop} without a variety",
        "read as {planted}, the only one planted", crop="cucumber"),
    "variety.missing": _m("{picks:+pick} of {crop} without a variety",
        "kept without one; planted are: {planted:list}", planted=["Brick Row", "Old Lantern"]),
    "variety.not_planted": _m("{picks:+pick} of the {crop} {variety}, which stands in no planting",
        _not_planted_cure, planted=["Old Lantern"], meant=""),
    # Headings, lines and tables
    "heading.unknown": _m("the heading is not known here", _not_used),
    "column.missing": _m("there is no column for the {meaning} (headings found: {headings})",
        'Add a column headed "{field}", or rename the one that holds it.', field="date"),
    "column.none": _m(_columns, _COLUMNS_CURE, headings="mood, weather"),
    "column.no_crop": _m(_columns, _COLUMNS_CURE, missing=["crop"], headings="date, count"),
    "column.no_meaning": _m(
        lambda means, **_: f"a column cannot hold {means or 'nothing said'}",
        "Say one of: {known:list}."),
    "column.absent": _m("there is no column with this heading",
        "Write it as it stands in the file: {headings}.", headings="Day, What"),
    "column.two": _m("two columns give the {field} differently", "the first was used ({used})",
        field="variety"),
    "cells.beyond": _m(_beyond, _beyond_cure, number=1),
    "line.above": _m("the line stands above the heading", "it was not read"),
    "planting.twice": _m("the same planting stands in line {line}",
        "both were kept, as two plantings"),
    "planting.removed_before": _m("the plants were pulled out before they were planted",
        "Correct one of the two dates."),
    "planting.bare_unit": _m("the unit is that of a {meaning}, and there is none on the line",
        "Put the number in a column for the {meaning}, or correct the unit.", meaning="row length"),
    "planting.how": _m("it is not clear how it was planted: sown or set_out",
        "Type sown where seed went into the bed, set_out where young plants did."),
    "planting.cover": _m("it is not clear what stands over it",
        "Type glass for a house or a tunnel; leave the cell empty for open ground."),
    "product.missing": _m("the product is missing", "Type what was put up or eaten."),
    "kitchen.what": _m("the line does not say what was done",
        "Write counted, bought, put up, used, given, fed or thrown out."),
    "kitchen.item_missing": _m("the item is missing",
        "Write what it was done with: pint jars, lids, vinegar, cucumbers, dill pickles."),
    "kitchen.amount_missing": _m("the amount is missing", "Write it with its unit: 24, 1.5 gal."),
    "kitchen.shelf_counted": _m("what stands on the shelf is not counted or bought here",
        "Write what was put up and what was used; leave the jar empty for empty jars."),
    "kitchen.jars_counted": _m("preserves are counted in jars or bags",
        "Write the number of jars, and their size beside it."),
    "kitchen.no_column": _m("{file} has no column for {column}",
        "Add a column of that name to it.", file="kitchen.csv", column="jar"),
    "kitchen.spreadsheet": _m("the kitchen book is a spreadsheet",
        "Write the line there yourself, or save the book as kitchen.csv."),
    "kitchen.read_as": _m("{typed} was read as {item}", "", typed="vinegar"),
    "kitchen.item_unknown": _m("the kitchen knows nothing of that name",
        "Write jars with their size, lids, freezer bags, an ingredient of a recipe, a crop, or "
        "freezer, refrigerator or cool store for the room free in it."),
    "kitchen.unit": _m("{item} is measured in {units:list}", "Type the amount with such a unit.",
        units=["l", "gal"]),
    "kitchen.product_unknown": _m("no product of that name is known", _products_near,
        near=["dill pickles"]),
    "kitchen.no_list": _m("no shopping list was written down yet",
        "Let week write one first, or say what was bought and how much of it."),
    "kitchen.list_empty": _m("nothing stands on the last shopping list",
        "Say what was bought and how much of it, if anything was."),
    "kitchen.list_of": _m("this is the shopping list of {day:day}"),
    "kitchen.shelf": _m("preserves on the shelf are not counted here",
        "Write put-up for what was filled, with --on its day, and used for what was eaten."),
    "kitchen.room_only": _m("free room is counted, not used or bought", "Write it with on-hand."),
    "kitchen.no_amount": _m("no amount was typed", "Type how much: 24, 3 lb, 1.5 gal."),
    "kitchen.produce_weight": _m("the produce that went in is weighed", "Type it like 8 lb."),
    "change.missing": _m("the change is missing",
        "Type 7 for seven jars put up, -1 for one eaten."),
    "produce.bare_unit": _m("the unit is that of the produce used, and there is none on the line",
        "Type the weight of the produce, or head a column of jar sizes jar."),
    "produce.counted": _m("the produce used is a count", "left out; a weight is needed here"),
    # Weather
    "weather.stations": _m("the table holds {number} stations", _ONE_STATION),
    "weather.fahrenheit": _m(
        "{hot} of {days} days lie above 45 degrees C, this line first; the file seems to be in "
        "degrees Fahrenheit", "Write _f instead of _c in the headings {heading} and {other}.",
        days=60),
    "weather.celsius": _m("the warmest of {days} days has {warmest:g} degrees F",
        "read as typed; if these are degrees C, write _c instead of _f in the headings", days=365),
    "weather.two_columns": _m("{field} stands in two columns", "{used} was used", used="tmin_c"),
    "weather.kind": _m("the kind is not observed or forecast",
        "Use one of these, or leave the column out."),
    "weather.exchanged": _m("the lowest temperature lies above the highest ({high})",
        "Correct the line; perhaps the two were exchanged."),
    "weather.no_degrees": _m("the temperature may be in degrees C or F",
        "Name the unit in the heading: {field}_c or {field}_f."),
    "weather.temperature": _m("no such temperature is measured ({celsius:.0f} degrees C)",
        "Correct the line, or check the unit in the heading."),
    "weather.no_rain_unit": _m("the rain has no unit",
        "Name the unit in the heading: rain_mm or rain_in."),
    "weather.rain": _m("no such rain falls in a day", _MEND),
    "weather.short": _m("the weather ends {days} days before the last pick or pantry line",
        "the days between are not known; add them for a better forecast", days=12),
    "weather.long": _m("the weather goes on for {days} days after the last pick ({last:day})",
        "read as a weather record, not as a forecast, which reaches no further than {reach} days",
        days=40),
    "weather.twice": _m(_weather_twice,
        "the first of each was used; what it lacked was taken from the others"),
    "weather.gap": _m("{days} days without weather, to {last:day}",
        lambda filled, **_: _GAPS[filled], days=30, last=date(2025, 6, 30)),
    "weather.short_gaps": _m("{days:+day} missing, one to three in a row",
        "filled from the days on either side"),
    "station.flagged": _m("{values:+station value} failed the station's quality checks",
        "left out, as if missing"),
    "station.no_day": _m("{days:+day} that is in no calendar", "left out; fetch the file again",
        days=1),
    "station.impossible": _m(
        "{days:+day} with impossible temperatures (lowest above highest, or beyond any record)",
        "left out, as if missing", days=1),
    "station.several": _m(_stations, "read as one record, since no day stands in two of them"),
    "station.two_values": _m(_two_values, _ONE_STATION, values=12),
    "station.damaged": _m("the station file is damaged", _FETCH),
    "station.beyond": _m("cells stand beyond the last of {width} headings",
        "Fetch it again, or put attributes that hold commas in quotation marks.", width=8),
    "station.date": _m("the date is not written like 2026-07-05", _MEND),
    "station.units": _m("the station's temperatures may be in one unit or another",
        "Rename the headings TMIN and TMAX to tmin_c and tmax_c (or tmin_f and tmax_f), PRCP to "
        "rain_mm (or rain_in), and remove the columns ending in ATTRIBUTES."),
    # Files and folders
    "folder.missing": _m("there is no such folder",
        "Name the garden folder, or begin one with start."),
    "folder.is_file": _m("it is a file, not a folder",
        "Name the folder that holds garden.toml and the log."),
    "folder.locked": _m("another program is writing to this folder",
        "Wait until it is done and try again."),
    "folder.is_garden": _m("it is a garden folder already; it was left as it is",
        "Name another folder, or edit garden.toml there."),
    "file.missing": _m("there is no such file", lambda stem, **_: _STEM[stem]),
    "file.not_read": _m("a file ending in {ending} is not read here",
        "left out; save it as .csv or .xlsx"),
    "file.no_table": _m("a file ending in {ending} cannot be read here",
        "Save the table as .csv, .xlsx or .ods in the program that wrote it.", ending=".pdf"),
    "file.without_table": _m("there is no table in it", _RIGHT),
    "file.twice": _m("it is the same file as {first}", "its picks were counted once",
        first="a.csv"),
    "file.empty": _m("the file is empty", "nothing was read from it"),
    "file.two": _m("there are two {stem} files, this one and {first}", "Put them together in one "
    "file.",
        first="pantry.csv"),
    "file.is_folder": _m("it is a folder, not a file", "Put a file of that name in its place."),
    "file.absent": _m("there is no such file", "Put a file of that name in its place."),
    "file.refused": _m("the file cannot be read ({reason})", "Check the file and who may read it."),
    "file.not_written": _m("it cannot be written ({reason})",
        "Close it in other programs; check that there is room and who may write.",
        reason="No space left on device"),
    "file.too_large": _m("the file is larger than {mb} MB, far more than a garden needs",
        "Check that it is the right file; a log can be split by year."),
    "file.damaged_text": _m("the text is damaged", "Save it again as CSV in the encoding UTF-8."),
    "file.no_text": _m("the file is no text that can be read",
        "Save it again as CSV in the encoding UTF-8."),
    "file.zero_bytes": _m("the file holds zero bytes: it is no text, or was damaged",
        "Open it in a spreadsheet or editor and save it again as CSV."),
    "table.lines": _m("the table has more than {most:,} lines", "Split it by year."),
    "table.columns": _m("the table has more than {most} columns", _RIGHT, most=500),
    "table.cell": _m("a cell has more than {most:,} characters",
        "Look for a quotation mark that is opened and never closed, or shorten the text.",
        most=10_000),
    "table.broken": _m("the table cannot be split into columns from here on",
        "Look for a quotation mark that is opened and not closed, or stands inside a text."),
    "sheet.damaged": _m("the spreadsheet is damaged", _SAVE),
    "sheet.locked": _m("the spreadsheet is locked by a password", _SAVE),
    "sheet.none": _m("it is no spreadsheet, or is locked by a password", _SAVE),
    "sheet.not_plain": _m("it is no plain spreadsheet", _SAVE),
    "sheet.unpacked": _m("the spreadsheet unpacks to more than {mb} MB", _TABLE, mb=64),
    "sheet.cells": _m("the spreadsheet holds far more cells than any garden log", _TABLE),
    "sheet.too_many": _m("the spreadsheet claims more {what} than a sheet can have", _SAVE,
        what="rows"),
    "sheet.formula": _m("the cell holds a formula whose result was never stored",
        "Open it in a spreadsheet program and save it, or type the value."),
    "sheet.further": _m("the workbook has a further sheet", "only the sheet {read} was read"),
    "sheet.no_log": _m("the sheet is no pick log", "it was not read"),
    "sheet.exists": _m(
        "there is such a file already, and it is no blank sheet; it was left as it is",
        "Name another file, such as {free}; 'harvestcast import' takes over what is typed in the "
        "old one."),
    "report.ending": _m("a {kind} is not written to a file of this ending",
        "Name a file that ends in {ending}.", ending=".html"),
    "report.log": _m("a file of this name belongs to the garden's log",
        "Name another file, such as {free}.", free="report.csv"),
    "report.other": _m(
        "another file stands there, which is no report of this kind; it was left as it is",
        "Name another file; or move that one away first."),
    # Writing into a log
    "entry.none": _m("there is no entry to take back",
        "Open the pick log in an editor and remove the line there."),
    "entry.changed": _m("the last entry was changed since it was written",
        "Remove its line in an editor."),
    "entry.file_changed": _m("the file was changed since it was written",
        "Remove it by hand if it is no longer needed."),
    "log.no_place": _m("no pick log of the folder can take the line",
        "Check the folder for errors in its pick logs."),
    "log.passed_over": _m("{file} could not take the line as it is"),
    "log.begun": _m("{file} was begun", file="picks-2026.csv"),
    "log.earlier_season": _m("{year} is an earlier season, the log goes on in {newest}",
        "check the year, --undo takes it back", year=2025),
    "log.second_basket": _m("the same pick stands there already",
        "this one was noted as {note}, a second harvest of the day; --undo takes it back"),
    "import.changed": _m("the picks would not read back as they were understood",
        "Nothing was written; send the file to those who keep this program."),
    "typed.mass": _m("{typed} was read as {amount}", typed="1 1/2 kg"),
    "typed.count": _m("{typed} was read as {count:g}", typed="2 dozen"),
    "typed.none": _m("{typed} was read as none found", typed="nothing"),
    "typed.fruit": _m("one {crop} would weigh {kg:mass}", "check count and unit", crop="cucumber",
        units="kg"),
    "typed.too_much": _m("{kg:mass} of {crop} is more than any household picks in a day",
        "check the unit", crop="cucumber", kg=5200.0),
    "typed.far_count": _m("far more {crop} than before, where the most was {most:.3g}",
        "check for a slipped digit or a wrong unit", crop="okra", most=12.0),
    "typed.first_count": _m(
        "{crop} was always weighed so far; {count:g} without a unit was read as {count:g} pieces",
        "a weight is typed with its unit; --undo takes this one back", crop="strawberry",
        count=700.0),
    "typed.far_weight": _m(_far_weight, "check for a slipped digit or a wrong unit", crop="okra",
        units="kg"),
    "equipment.gauge": _m(
        "the gauge of the pressure canner is missing, and the tables differ by gauge",
        "Say dial pressure canner, or weighted pressure canner."),
    "equipment.unknown": _m("the equipment is not known",
        "Known are boiling-water canner, dial or weighted pressure canner, dryer, freezer, "
        "refrigerator; others may be added in garden.toml."),
    # What can hardly be meant
    "pick.twice": _m(_twice, _twice_cure),
    "pick.twice_poorer": _m("the same pick stands in line {line} of {file}, with a {more} too",
        "counted once, with what stands there; if it was a second basket, say so in its note"),
    "pick.alike": _m("the same pick, but for note or bed, stands in line {line} of {file}",
        "kept as a second basket; if it is the same one, take one of the lines out"),
    "pick.crop_not_planted": _m("{crop} is picked but stands in no planting",
        "kept; without a planting date it has no forecast of its own", crop="kale"),
    "pick.before_planting": _m("{picks:+pick} of {crop} before its planting of {planted:day}",
        "kept; check the dates of both", picks=1, planted=date(2026, 5, 25)),
    "pick.no_planting": _m("{picks:+pick} of {crop} without a planting in the year before",
        "kept; check the dates of both", picks=1),
    "pick.after_removal": _m("{picks:+pick} of the {crop} {variety} after it was pulled out",
        "kept; check the date of the pick and the day of removal"),
    "amount.fruit_weight": _m("one {crop} would weigh {kg:mass} ({lines:+line})",
        lambda grams, **_: _GRAMS if grams else "kept as typed; check count and unit"),
    "amount.heavy": _m("the usual pick of {crop} would weigh {kg:mass}", _GRAMS, kg=900.0),
    "amount.too_much": _m("{kg:mass} of {crop} is more than any household picks in a day", _TYPED,
        kg=5200.0),
    "amount.far_weight": _m(_far_weight,
        lambda far, **_: f"kept as typed; typed in {_SLIP[far]}? or a slipped digit"),
    "amount.far_count": _m(_far_count, "kept as typed; check for a slipped digit", crop="okra"),
    "amount.unlikely_yield": _m(_unlikely_yield,
        "kept as typed; check the unit of the weight and the number of plants",
        kg=90.0, alone=True),
    "amount.unlikely_fruit": _m(_unlikely_fruit, _unlikely_fruit_cure,
        number=900.0, kg=0.15, whole_kg=135.0, plants=2.0, most_kg=12.0,
        said="note (cherry) says", other="cherry tomato"),
    # Settings
    "jars.unknown": _m("the plan knows no such size of jar", "not used; known are {known:list}",
        known=["half_pint", "pint"]),
    "elevation.none": _m("the elevation is missing",
        "no canning times are shown; add elevation_m or elevation_ft"),
    "setting.no_file": _m("the file cannot be read as settings", _NEW_FILE),
    "setting.broken": _m("the file cannot be read from here on ({reason})",
        'Text needs quotation marks (place = "Hill farm"), numbers need none, and each setting '
        "needs its own line.", reason="expected '=' after a key"),
    "setting.nested": _m("the settings are nested too deeply", _NEW_FILE),
    "setting.more": _m("{number} more settings cannot be used", _NEW_FILE, number=40),
    "setting.crop_twice": _m("{crop} has two sets of settings",
        "Put them together under one heading."),
    "setting.unknown": _m("this setting is not known", _setting_cure, meant="elevation_m",
        known=[]),
    "setting.missing": _m("this setting is missing", "Add {key} = ... there."),
    "setting.month_day": _m("must be a month and a day", 'Write it like "05-20" for 20 May.'),
    "setting.one_of": _m("must be {expected}", "Use one of these."),
    "setting.bound": _m("must be {bound} {limit:.5g}", "Type another number."),
    "setting.number": _m("must be a number", "Type it without quotation marks and without a unit."),
    "setting.whole": _m("must be a whole number",
        "Type it without a fraction and without quotation marks."),
    "setting.yes_no": _m("must be yes or no", "Write true or false, without quotation marks."),
    "setting.text": _m("must be text", 'Put it in quotation marks, "like this".'),
    "setting.list": _m("must be a list", 'Write it like ["one", "two"].'),
    "setting.group": _m("must be a group of settings", "Give it a heading line: [{key}].",
        key="hours"),
    "setting.unusable": _m("this setting cannot be used ({reason})", _IN_FILE, reason="too long"),
    "setting.two_units": _m("{key} is given twice, in two units", "Keep one of the two lines.",
        key="elevation_m"),
    "setting.no_gauge": _m("the pressure canner has no gauge",
        'Add gauge = "dial" or gauge = "weighted".'),
    "setting.no_volume": _m("the {kind} has no volume", "Add free_l (or free_ft3, free_gal).",
        kind="freezer"),
    "setting.recipe_pressure": _m("a recipe for the pressure canner names gauge and pressure",
        'Add gauge = "dial" or "weighted", and pressure_psi (or pressure_kpa).'),
    "setting.recipe_water": _m("a recipe in boiling water has no gauge and no pressure",
        'Take them away, or write method = "pressure".'),
    "setting.day": _m("must be a day", 'Write it like "2026-07-12", in quotation marks.'),
    "setting.jars_twice": _m("the jars of one size are given twice ({size})",
        "Keep one of the two lines."),
}
# fmt: on
"""Code: what it says, with facts to show it by."""
