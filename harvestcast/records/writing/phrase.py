"""Understand a pick said in a few words: crop, variety, day and amounts."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping, Sequence
from difflib import get_close_matches

from harvestcast.errors import TypedError
from harvestcast.records.household import Household
from harvestcast.records.logs.folder import kept_apart
from harvestcast.records.logs.picks import GRADES
from harvestcast.records.messages import Remark
from harvestcast.records.tables.findings import TYPED, Findings
from harvestcast.records.typed.crops import (
    canonical_crop,
    likely_crop,
    same_name,
    tidy_name,
    two_crops,
)
from harvestcast.records.typed.dates import parse_day
from harvestcast.records.typed.numbers import parse_amount, parse_number, unit_of
from harvestcast.records.typed.varieties import variety_key, variety_words
from harvestcast.records.writing.one_pick import PickLine
from harvestcast.units import KG
from harvestcast.words.numbers import short_number

_HOUR = {"h": 1.0, "min": 1 / 60}


def understand(
    said: Mapping[str, str],
    household: Household,
    aliases: Mapping[str, str],
    planted: Mapping[str, Sequence[str]],
    findings: Findings,
    *,
    today: dt.date,
    new_crop: bool = False,
) -> tuple[tuple[PickLine, ...], tuple[Remark, ...]]:
    """Return the picks that a few words mean, and remarks on what was read otherwise than typed.

    Parameters
    ----------
    said : mapping of str to str
        crop, amount, variety, on, weight, oversize, damaged, grade, bed, hours and note.
    household : Household
        Settings: order of dates, units, known crops.
    aliases : mapping of str to str
        The household's own crop names.
    planted : mapping of str to sequence of str
        Varieties of every planted crop.
    findings : Findings
        Takes everything that could not be understood.
    today : datetime.date
        Today.
    new_crop : bool
        Take a crop that is neither known nor planted.
    """
    remarks: list[Remark] = []
    crop = _crop(said["crop"], household, aliases, planted, findings, new_crop, remarks)
    apart = kept_apart(household, crop)
    variety = _variety(said["variety"], crop, planted, apart, findings, remarks)
    day = day_of(said["on"], household, findings, today)
    count, mass = _amount("amount", said["amount"], "each", findings)
    if said["weight"].strip():
        more_count, more_mass = _amount("weight", said["weight"], None, findings)
        if mass is not None or (more_count and count is not None):
            findings.problem("amount.given_twice", TYPED, None, "weight", said["weight"])
        mass = more_mass if mass is None else mass
    grade = GRADES.get(said["grade"].casefold().strip() or "good")
    if grade is None:
        findings.problem("grade.unknown", TYPED, None, "grade", said["grade"])
    amounts = [(grade or "good", count, mass)] if count is not None or mass is not None else []
    for other in ("oversize", "damaged"):
        if said[other].strip():
            amounts.append((other, *_amount(other, said[other], "each", findings)))
    if not amounts and not said["amount"].strip() and not findings.problems:
        findings.problem("amount.none_typed", TYPED, None, "amount", "")
    remarks += _taken(said, amounts, household)
    hours = hours_of(said["hours"], findings)
    unit = _typed_unit(f"{said['weight']} {said['amount']}", household)
    if findings.problems or day is None:
        return (), ()
    return (
        tuple(
            PickLine(
                date=day,
                crop=crop,
                variety=variety,
                inferred=not said["variety"].strip(),
                bed=" ".join(said["bed"].split()),
                count=c,
                mass_kg=m,
                unit=unit,
                grade=g,
                hours=hours if n == 0 else None,
                note=" ".join(said["note"].split()) if n == 0 else "",
            )
            for n, (g, c, m) in enumerate(amounts)
        ),
        tuple(remarks),
    )


def _crop(
    typed: str,
    household: Household,
    aliases: Mapping[str, str],
    planted: Mapping[str, Sequence[str]],
    findings: Findings,
    new_crop: bool,
    remarks: list[Remark],
) -> str:
    name = tidy_name(typed)
    crop = canonical_crop(typed, aliases)
    if crop is None and (name in planted or name in household.crops or new_crop):
        crop = name
    if not name:
        findings.problem("crop.missing", TYPED, None, "crop", "")
    elif crop is None:
        two = list(two_crops(typed) or ())
        meant = "" if two else likely_crop(typed, list(planted)) or ""
        kind = {variety_key(one): (of, one) for of, own in planted.items() for one in own}
        kept = list(kind.get(variety_key(typed), ()))
        findings.problem(
            "crop.not_known", TYPED, None, "crop", typed, crops=two, meant=meant, belongs=kept
        )
    else:
        if not same_name(typed, crop):
            remarks.append(Remark("crop.read_as", {"typed": name, "crop": crop}))
        if planted and crop not in planted:
            remarks.append(Remark("crop.not_planted", {"crop": crop}))
    return crop or name


def _variety(
    typed: str,
    crop: str,
    planted: Mapping[str, Sequence[str]],
    apart: Sequence[str],
    findings: Findings,
    remarks: list[Remark],
) -> str:
    name = " ".join(typed.split())
    if name in apart:
        return name
    known = list(planted.get(crop, ()))
    if not name:
        if len(known) == 1:
            return known[0]
        if known:
            remarks.append(Remark("variety.not_given", {"varieties": known}))
        return ""
    key = variety_key(name)
    same = [k for k in known if k == name] or [k for k in known if variety_key(k) == key]
    begun = same or [k for k in known if variety_key(k).startswith(key)]
    words = not begun
    if words:
        begun = [k for k in known if _has_words(k, name)]
    if len(begun) > 1 and not same:
        facts = {"crop": crop, "varieties": begun, "words": words}
        findings.problem("variety.several", TYPED, None, "variety", typed, **facts)
    elif begun:
        if begun[0].casefold() != name.casefold():
            remarks.append(Remark("variety.read_as", {"typed": name, "variety": begun[0]}))
        return begun[0]
    elif known:
        near = get_close_matches(name.casefold(), [k.casefold() for k in known], n=1, cutoff=0.8)
        meant = next((k for k in known if near and k.casefold() == near[0]), "")
        facts = {"typed": name, "crop": crop, "varieties": known, "meant": meant}
        remarks.append(Remark("variety.not_among", facts))
    return name


def _has_words(variety: str, typed: str) -> bool:
    """Return whether every word typed begins a word of a variety's name.

    Examples
    --------
    >>> _has_words("Tall Red Tim", "tim"), _has_words("Tall Red Tim", "im")
    (True, False)
    """
    words = variety_words(variety)
    return all(any(w.startswith(t) for w in words) for t in variety_words(typed))


def day_of(typed: str, household: Household, findings: Findings, today: dt.date) -> dt.date | None:
    """Return the day that is meant; what is none, or ahead of today, goes to ``findings``."""
    try:
        day = parse_day(typed, today, household.date_order)
    except TypedError as error:
        findings.problem(error.code, TYPED, None, "on", typed, at="add", **error.facts)
        return None
    if day > today:
        findings.problem("date.future", TYPED, None, "on", typed)
        return None
    return day


def _amount(
    column: str, typed: str, unit: str | None, findings: Findings
) -> tuple[float | None, float | None]:
    if not typed.strip():
        return None, None
    try:
        count, mass = parse_amount(typed, unit)
    except TypedError as error:
        facts = {"like": "add", "typed": typed.strip(), **error.facts}
        findings.problem(error.code, TYPED, None, column, typed, **facts)
        return None, None
    if count == 0 and mass is None:
        mass = 0.0
    return count, mass


def _taken(
    said: Mapping[str, str],
    amounts: Sequence[tuple[str, float | None, float | None]],
    household: Household,
) -> list[Remark]:
    """Say amounts that were typed in words, in other units or as fractions, as understood."""
    grades = {grade: (count, mass) for grade, count, mass in reversed(amounts)}
    own = GRADES.get(said["grade"].casefold().strip() or "good", "good")
    remarks = []
    for column in ("amount", "weight", "oversize", "damaged"):
        typed = " ".join(said[column].split())
        if not typed or re.fullmatch(r"\d+(\.\d+)?", typed, re.ASCII):
            continue
        count, mass = grades.get(own if column in ("amount", "weight") else column, (None, None))
        if count and mass and column == "amount" and not said["weight"].strip():
            continue  # both stand in the answer
        unit = "lb" if household.units == "us" else "kg"
        plain = re.fullmatch(r"[\d.]+ *([^\W\d_]+)", typed)
        if plain and unit_of(plain[1]) == unit:
            continue
        if mass and (column == "weight" or count is None):
            amount = f"{short_number(mass / KG[unit])} {unit}"
            remarks.append(Remark("typed.mass", {"typed": typed, "amount": amount, "kg": mass}))
        elif count and column != "weight":
            remarks.append(Remark("typed.count", {"typed": typed, "count": count}))
        elif count == 0 and column != "weight" and typed.casefold() != "none":
            remarks.append(Remark("typed.none", {"typed": typed}))
    return remarks


def hours_of(typed: str, findings: Findings) -> float | None:
    """Return a time in hours: ``0.5``, ``20 min``, ``1h30``, ``1 h 10 min``; None where unsaid."""
    if not typed.strip():
        return None
    total, before = 0.0, ""
    pieces = re.findall(r"([\d.,/]+)\s*([a-z]*)", typed.casefold())
    # A number alone is hours; behind hours it is minutes, and behind minutes nobody knows.
    bare = {"": "h", "h": "min"}
    try:
        for number, word in pieces:
            unit = (unit_of(word) or "") if word else bare[before]
            total += parse_number(number) * _HOUR[unit]
            before = unit if word else "?"
        if not pieces or re.sub(r"([\d.,/]+)\s*([a-z]*)|\s", "", typed.casefold()):
            raise ValueError
    except (ValueError, KeyError):
        findings.problem("hours.unreadable", TYPED, None, "hours", typed)
        return None
    return total


def _typed_unit(text: str, household: Household) -> str:
    units = [unit_of(word) for word in re.findall(r"[^\W\d_]+", text)]
    masses = [unit for unit in units if unit in KG]
    return str(masses[0]) if masses else "lb" if household.units == "us" else "kg"
