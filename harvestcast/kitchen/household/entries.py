"""Write down what is done in the kitchen, in the words a person would type."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path
from typing import Literal

from harvestcast.errors import InputError, TypedError
from harvestcast.kitchen.handbook.products import (
    PINTS,
    Product,
    jars_in_words,
    match_product,
    nearest_products,
    product,
)
from harvestcast.kitchen.household.book import MEASURES, Item, amount_in, item_of, vessel_of
from harvestcast.kitchen.household.stock import jar_item
from harvestcast.records.household import Household
from harvestcast.records.logs.folder import household_reader, planted_varieties
from harvestcast.records.messages import Remark
from harvestcast.records.settings import read_household
from harvestcast.records.tables.findings import TYPED, Findings, refuse
from harvestcast.records.typed.crops import same_name
from harvestcast.records.typed.jar_sizes import jar_size
from harvestcast.records.typed.numbers import parse_amount
from harvestcast.records.typed.quantities import parse_quantity
from harvestcast.records.writing.add import Entry
from harvestcast.records.writing.decided import read_runs
from harvestcast.records.writing.kitchen import BookLine, write_lines
from harvestcast.records.writing.one_pick import number_text
from harvestcast.records.writing.phrase import day_of, hours_of
from harvestcast.units import KG, KG_PER_LB, L_PER_QUART
from harvestcast.words.crops import crop_word, crops_said_as
from harvestcast.words.numbers import short_number

VESSELS = frozenset({"", "jar", "bag", "dish", "container", "batch", "freezer bag"})
"""Words behind a number of jars that leave their size to the product."""

What = Literal["counted", "bought", "put_up", "used", "given", "fed", "thrown_out"]


def write_down(
    folder: str | Path,
    what: What,
    item: str,
    amount: str = "",
    *,
    jar: str = "",
    produce: str = "",
    hours: str = "",
    note: str = "",
    on: str = "today",
    today: dt.date | None = None,
) -> Entry:
    """Write one line into the kitchen book of a garden folder.

    Parameters
    ----------
    folder : path
        Garden folder.
    what : {"counted", "bought", "put_up", "used", "given", "fed", "thrown_out"}
        What was done.
    item : str
        With what: ``pint jars``, ``lids``, ``vinegar``, ``freezer``, ``cucumbers``, or preserves
        such as ``dill pickles``.
    amount : str
        How much: ``24``, ``1.5 gal``, ``6 lb``; of preserves jars or bags: ``7 pints``.
    jar : str
        Size of jar, where the amount does not say it.
    produce : str
        Weight of the produce that went into what was put up.
    hours : str
        Time it took.
    note : str
        Note.
    on : str
        Day: ``today``, ``yesterday``, ``2026-07-12``.
    today : datetime.date, optional
        Today; left out: by the clock.

    Returns
    -------
    Entry
        What was written and where; ``harvestcast.records.writing.add.undo_last`` takes it back.

    Raises
    ------
    harvestcast.errors.InputError
        With everything that could not be understood; nothing is written then.
    """
    path, findings = Path(folder), Findings()
    if not path.is_dir():
        raise refuse("folder.missing", path.name)
    home = read_household(path, findings)
    day = day_of(on, home, findings, today or dt.date.today())
    reader = household_reader(home, Findings())
    if what == "put_up":
        key = match_product(item)
        found = None if key is None else Item("product", key, "jars")
    else:
        found = item_of(item, home, planted_varieties(path, home, reader))
        if found is not None and found.kind == "crop" and what not in ("counted", "bought"):
            # "used tomatoes, 2 quarts" are jars of them, "used tomatoes, 3 lb" are not.
            key = None if _weighs(amount) else match_product(item)
            found = found if key is None else Item("product", key, "jars")
    if what == "put_up" and found is None:
        facts = {"near": list(nearest_products(item))}
        findings.problem("kitchen.product_unknown", TYPED, None, "product", item, **facts)
    elif found is None:
        findings.problem("kitchen.item_unknown", TYPED, None, "item", item)
    elif found.kind == "product" and what in ("counted", "bought"):
        findings.problem("kitchen.shelf", TYPED, None, "item", item)
    elif found.kind == "room" and what != "counted":
        findings.problem("kitchen.room_only", TYPED, None, "item", item)
    if not amount.strip():
        findings.problem("kitchen.no_amount", TYPED, None, "amount", "")
    produce_kg = _weight(produce, findings)
    took = hours_of(hours, findings)
    if findings.problems or found is None or day is None:
        raise InputError(findings.problems)
    if found.kind == "product":
        written, size = _jars(product(found.name), amount, jar, findings)
    else:
        written, size = _amount(found, amount, findings), ""
    if findings.problems:
        raise InputError(findings.problems)
    with crops_said_as(reader.words):
        name = _name(found)
    said = _jar_words(written, size) if size else written
    done = what.replace("_", " ")
    words = f"{name}, {day.isoformat()}: {done} {said}"
    if produce_kg is not None:
        unit = "lb" if home.units == "us" else "kg"
        words += f" from {short_number(produce_kg / KG[unit])} {unit}"
    line = BookLine(
        date=day, what=done, item=name, amount=written, jar=size, produce_kg=produce_kg,
        hours=took, note=note,
    )  # fmt: skip
    plain = " ".join(item.casefold().split())
    odd = []
    # "lids" and "jars" in other words are the same thing said again: nothing to be told.
    if not same_name(plain, name) and not same_name(f"new {plain}", name):
        odd.append(Remark("kitchen.read_as", {"typed": plain, "item": name}))
    return write_lines(path, home, [line], words, odd)


_METRIC = r"(?:ml|cl|l|litres?|liters?)\b"
_OF = rf"(?:(?:x|\u00d7|jars?(?: of)?)\s+(?=[\d.,/ ]*\d\s*{_METRIC}))?"


def _weighs(amount: str) -> bool:
    """Return whether an amount is a weight."""
    try:
        return parse_quantity(amount).mass_kg is not None
    except TypedError:
        return False


def buy_list(folder: str | Path, *, on: str = "today", today: dt.date | None = None) -> Entry:
    """Write down that all of the last shopping list was bought.

    Parameters
    ----------
    folder : path
        Garden folder.
    on : str
        Day.
    today : datetime.date, optional
        Today; left out: by the clock.

    Returns
    -------
    Entry

    Raises
    ------
    harvestcast.errors.InputError
        Where there is no list, or nothing on it.
    """
    path, findings = Path(folder), Findings()
    if not path.is_dir():
        raise refuse("folder.missing", path.name)
    home = read_household(path, findings)
    day = day_of(on, home, findings, today or dt.date.today())
    if findings.problems or day is None:
        raise InputError(findings.problems)
    runs = [run for run in read_runs(path) if run["as_of"] <= day.isoformat()]
    if not runs:
        raise refuse("kitchen.no_list", path.name)
    rows = [row for row in runs[-1].get("shopping", ()) if float(row["to_buy"]) > 0]
    if not rows:
        raise refuse("kitchen.list_empty", path.name)
    lines = [
        BookLine(
            date=day,
            what="bought",
            item=str(row["item"]),
            amount=_said(float(row["to_buy"]), str(row["unit"]), home),
        )
        for row in rows
    ]
    words = ", ".join(f"{line.item} {line.amount}" for line in lines)
    made = Remark("kitchen.list_of", {"day": dt.date.fromisoformat(runs[-1]["as_of"])})
    return write_lines(path, home, lines, f"{day.isoformat()}: bought {words}", [made])


def _said(amount: float, unit: str, home: Household) -> str:
    """Return an amount of a shopping list as it is written into the book."""
    if home.units == "us" and unit in ("l", "kg"):
        amount, unit = (amount / L_PER_QUART, "qt") if unit == "l" else (amount / KG_PER_LB, "lb")
    return f"{number_text(amount)} {'' if unit in ('pieces', 'packages') else unit}".strip()


def _jar_words(number: str, size: str) -> str:
    if size == "kg":
        return number
    if size.replace(" ", "_") in PINTS:
        return jars_in_words(size, float(number))
    return f"{number} jars of {size}"


def _name(item: Item) -> str:
    """Return the name under which an item stands in the book."""
    if item.kind == "jars":
        return jar_item(item.name)
    if item.kind == "product":
        return product(item.name).label
    return crop_word(item.name) if item.kind == "crop" else item.name.replace("_", " ")


def _weight(typed: str, findings: Findings) -> float | None:
    if not typed.strip():
        return None
    try:
        _, kg = parse_amount(typed)
    except TypedError as error:
        findings.problem(error.code, TYPED, None, "from", typed, like="add", typed=typed.strip(),
                         **error.facts)  # fmt: skip
        return None
    if kg is None:
        findings.problem("kitchen.produce_weight", TYPED, None, "from", typed)
    return kg


def _amount(item: Item, typed: str, findings: Findings, *, weight: bool = False) -> str:
    """Return an amount as it is to be written, checked to be one of that item."""
    try:
        found = parse_quantity(typed)
    except TypedError as error:
        findings.problem(error.code, TYPED, None, "amount", typed, like="add",
                         typed=typed.strip(), **error.facts)  # fmt: skip
        return ""
    weighed = found.count is None or found.count == 0
    if amount_in(item, found.count, found.mass_kg, found.volume_l) is None or (
        item.unit == "kg" and item.kind == "crop" and weight and not weighed
    ):
        facts = {"item": _name(item), "units": list(MEASURES[item.unit])}
        findings.problem("kitchen.unit", TYPED, None, "amount", typed, **facts)
    return " ".join(typed.split())


def _jars(item: Product, typed: str, jar: str, findings: Findings) -> tuple[str, str]:
    """Return the number of jars and their size as they are to be written."""
    if item.usual_jar == "kg":  # laid up loose: weighed, not put in jars
        written = _amount(Item("crop", item.crop, "kg"), typed, findings, weight=True)
        return written, item.usual_jar
    # "4 x 500 ml", "4 jars of 500 ml" and "4 500ml jars" are what people say of metric jars.
    match = re.fullmatch(rf"\s*(\d+)\s+(\d+\s*{_METRIC})(?: jars?)?\s*", typed)
    match = match or re.fullmatch(rf"\s*([\d.,/ ]*\d|[^\W\d_]+)\s*{_OF}(.*?)\s*", typed)
    try:
        count, kg = parse_amount(match[1] if match else typed, "each")
        words = jar or (match[2] if match else "")
        said = jar_size(words) if words.strip() else None
    except TypedError as error:
        findings.problem(error.code, TYPED, None, "amount", typed, like="add",
                         typed=typed.strip(), **error.facts)  # fmt: skip
        return "", ""
    sized = said is not None or words.casefold().rstrip("s") in VESSELS
    if count is None or kg is not None or not sized:
        findings.problem("kitchen.jars_counted", TYPED, None, "amount", typed)
        return "", ""
    if said is None:
        size = item.usual_jar
    elif said.exact and said.size:
        size = vessel_of(item, said.size)
        size = size if size.startswith(said.size) else said.size
    else:
        size = " ".join(words.split())
    return number_text(count), size.replace("_", " ")
