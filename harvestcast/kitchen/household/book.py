"""The kitchen as it stands on an evening: what was last counted, less what was used since.

``garden.toml`` says what was there once; the kitchen book and the pantry say what became of it. A
batch put up takes its jars, lids or bags, what its recipe needs beside the produce, and its room in
the freezer; a jar eaten is empty again. Nothing falls below zero.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

import pandas as pd

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.kitchen.handbook.amounts import GALLON_L, amounts, kg_per_gallon, unit_of
from harvestcast.kitchen.handbook.process_times import METHODS, table
from harvestcast.kitchen.handbook.products import PINTS, Product, match_product, product
from harvestcast.kitchen.household.capacity import JAR_SIZES, jar_store
from harvestcast.kitchen.household.demand import litres_per_kg
from harvestcast.kitchen.household.jars import jars_by_size
from harvestcast.kitchen.household.pantry import pantry_book
from harvestcast.kitchen.household.stock import (
    counted_jars,
    ingredients_in_stock,
    items,
    jar_item,
)
from harvestcast.kitchen.messages import Said, notice, notices
from harvestcast.kitchen.week.options import FREEZER_L_PER_PINT
from harvestcast.kitchen.week.shop_units import SUGAR_KG_PER_CUP, salt_kg_per_cup
from harvestcast.kitchen.week.shopping import acid_in_jars, ingredients
from harvestcast.records.household import Equipment, Household
from harvestcast.records.logs.folder import aliases_of
from harvestcast.records.logs.kitchen import NAME
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.records.typed.jar_sizes import jar_size
from harvestcast.units import L_PER_CUP, L_PER_TBSP

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

ROOMS: dict[str, str] = {
    "freezer": "freezer",
    "refrigerator": "refrigerator",
    "fridge": "refrigerator",
    "cool store": "cool_store",
    "cellar": "cool_store",
}
"""Places whose free room is counted, by the words people use."""

Kind = Literal["jars", "stock", "room", "crop", "product"]


@dataclass(frozen=True, slots=True)
class Item:
    """What a line of the kitchen book is about.

    Attributes
    ----------
    kind : {"jars", "stock", "room", "crop", "product"}
        Jars, lids and bags; ingredients; free room of a place; produce; preserves.
    name : str
        Key of ``[jars]``, item of the shopping list, place, canonical crop, or key of the
        catalogue.
    unit : str
        Unit it is reckoned in: pieces, packages, kg, l or tbsp; of preserves jars.
    """

    kind: Kind
    name: str
    unit: str


@cache
def _ingredient_names() -> dict[str, str]:
    """Return the items of the shopping list by the names people may type."""
    names: dict[str, str] = {}
    rows = table("ingredients").to_dict("records")
    for column in ("item", "ingredient"):
        for row in rows:
            names.setdefault(str(row[column]).casefold(), str(row["item"]))
    for row in rows:  # "vinegar" of "vinegar, 5 % acidity", "pectin" of "pectin, liquid"
        names.setdefault(str(row["item"]).casefold().partition(",")[0], str(row["item"]))
    return names | {"pectin": "powdered pectin"}


def grown_in(garden: Garden) -> frozenset[str]:
    """Return the crops that are planted or picked."""
    names = (garden.plantings["crop"], garden.picks["crop"])
    return frozenset(str(crop) for column in names for crop in column.unique())


def item_of(typed: str, household: Household, grown: Collection[str] = ()) -> Item | None:
    """Return what a name in the kitchen book means.

    Parameters
    ----------
    typed : str
        ``pint jars``, ``500 ml jars``, ``lids``, ``freezer bags``, ``vinegar``, ``freezer``,
        ``cucumbers``, ``dill pickles``.
    household : Household
        Settings: its jars, and what it calls its crops.
    grown : collection of str
        Crops that it grows.

    Returns
    -------
    Item or None
        None where nothing of that name is known. A crop goes before preserves of its own that bear
        its name, one that is grown before all else.

    Examples
    --------
    >>> home = Household()
    >>> [item_of(name, home).name for name in ("Pint jars", "lids", "vinegar", "cukes")]
    ['pint', 'lids', 'vinegar, 5 % acidity', 'cucumber']
    """
    listed = {jar_item(own): own for own in (*JAR_SIZES, "lids", "freezer_bags", *household.jars)}
    if typed in listed:
        return Item("jars", listed[typed], "pieces")
    name = " ".join(typed.casefold().replace("-", " ").split())
    single = name.removesuffix("s")
    last = single.rpartition(" ")[2]
    if last in ("lid", "bag"):
        return Item("jars", "lids" if last == "lid" else "freezer_bags", "pieces")
    if name.removesuffix(" room") in ROOMS:
        return Item("room", ROOMS[name.removesuffix(" room")], "l")
    crop = canonical_crop(typed, aliases_of(household))
    if crop is not None and crop in grown:
        return Item("crop", crop, "kg")
    # Juice that a recipe takes is put up by some households too; as an ingredient it has no jar.
    if typed.casefold() not in items():
        if jars := _jars(name, household):
            return Item("jars", jars, "pieces")
        key = match_product(typed)
        if key is not None and product(key).crop != crop:
            return Item("product", key, "jars")
    known = _ingredient_names()
    found = next((known[n] for n in (typed.casefold(), name, single) if n in known), None)
    if found is not None:
        return Item("stock", found, unit_of(found))
    return None if crop is None else Item("crop", crop, "kg")


def _jars(name: str, household: Household) -> str | None:
    """Return the size of jar, in the words of ``[jars]``, that a name means."""
    words = name.split()
    if words[:2] == ["jars", "of"]:  # as the book names a size that is not its own
        words = [*words[2:], "jars"]
        name = " ".join(words)
    if words[-1:] not in (["jars"], ["jar"], ["glasses"]):
        return None
    try:
        said = jar_size(name)
    except ValueError:
        return None
    if said is None:
        return None
    if said.exact and said.size in household.jars:
        return said.size
    for typed in household.jars:
        try:
            own = jar_size(typed)
        except ValueError:
            continue
        if own is not None and math.isclose(own.held or own.pints, said.held or said.pints):
            return typed
    return said.size if said.exact else " ".join(words[:-1])


def amount_in(item: Item, count: object, mass_kg: object, volume_l: object) -> float | None:
    """Return an amount in the unit of an item; None where it is given in another measure.

    Parameters
    ----------
    item : Item
        What it is an amount of.
    count, mass_kg, volume_l : float or missing
        As typed.

    Examples
    --------
    >>> amount_in(Item("stock", "vinegar, 5 % acidity", "l"), None, None, 2.0)
    2.0
    >>> amount_in(Item("crop", "cucumber", "kg"), None, 3.0, None)
    3.0
    """
    pieces, kg, litres = (
        math.nan if pd.isna(one) else float(one)  # type: ignore[call-overload, arg-type]
        for one in (count, mass_kg, volume_l)
    )
    if pieces == 0 or kg == 0 or litres == 0:
        return 0.0
    found = math.nan
    if item.unit in ("pieces", "packages", "jars"):
        found = pieces
    elif item.unit == "kg":
        found = kg
        if math.isnan(kg):
            per_cup = {"canning salt": salt_kg_per_cup(), "sugar": SUGAR_KG_PER_CUP}.get(item.name)
            found = litres / L_PER_CUP * per_cup if per_cup else found
            if item.kind == "crop":
                found = pieces * crop_facts(item.name).fruit_kg
    elif item.unit == "l":
        found = litres
    elif item.unit == "tbsp":
        found = litres / L_PER_TBSP if math.isnan(pieces) else pieces
    return None if math.isnan(found) else found


MEASURES: dict[str, tuple[str, ...]] = {
    "pieces": ("pieces",),
    "packages": ("packages",),
    "jars": ("jars",),
    "kg": ("lb", "oz", "kg", "g"),
    "l": ("gal", "qt", "cups", "l", "ml"),
    "tbsp": ("tbsp", "tsp", "ml"),
}
"""Units that amounts of an item may be typed in, by the unit it is reckoned in."""


def kitchen_notices(garden: Garden) -> pd.DataFrame:
    """Say the lines of the kitchen book that are not counted, and a count that bears no date.

    Parameters
    ----------
    garden : Garden
        The garden folder.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame.
    """
    rows = []
    for row, item, amount in _lines(garden, garden.kitchen):
        where = {"file": row["file"], "line": row["line"], "value": row["item"]}
        if item is None or item.kind == "product":
            code = "book.unknown" if item is None else "book.no_jar"
            rows.append(notice(Said(code), column="item", **where))
        elif amount is None:
            said = Said("book.unit", {"item": item.name, "units": list(MEASURES[item.unit])})
            rows.append(notice(said, column="amount", **where))
    return notices(rows)


def _lines(
    garden: Garden, book: pd.DataFrame
) -> Iterator[tuple[dict[Any, Any], Item | None, float | None]]:
    """Yield rows of the kitchen book, what each is about, and how much, where it can be counted."""
    grown = grown_in(garden)
    for row in book.to_dict("records"):
        item = item_of(str(row["item"]), garden.household, grown)
        amount = None
        if item is not None and item.kind != "product":
            amount = amount_in(item, row["count"], row["mass_kg"], row["volume_l"])
        yield row, item, amount


@dataclass(frozen=True, slots=True)
class _Event:
    day: pd.Timestamp
    order: float
    kind: Kind
    name: str
    what: str
    amount: float


def _events(garden: Garden, as_of: pd.Timestamp) -> list[_Event]:
    """Return what the books say became of things up to a day, in order."""
    found: list[_Event] = []
    kitchen = garden.kitchen
    for row, item, amount in _lines(garden, kitchen[kitchen["date"] <= as_of]):
        if item is not None and amount is not None:
            line = line_order(row)
            found.append(_Event(row["date"], line, item.kind, item.name, str(row["what"]), amount))
    for row in pantry_book(garden, as_of).to_dict("records"):
        for (kind, name), amount in _taken(row, garden.household).items():
            found.append(_Event(row["date"], line_order(row), kind, name, "used", amount))
    return sorted(found, key=lambda one: (one.day, one.order))


def line_order(row: Mapping[Any, Any]) -> float:
    """Return the place of a line within its day; lines of other books stand before all of it."""
    here = not pd.isna(row["file"]) and str(row["file"]).casefold().startswith(NAME)
    return float(row["line"]) if here else -1.0


def _taken(row: Mapping[Any, Any], home: Household) -> dict[tuple[Kind, str], float]:
    """Return what a line of the pantry takes from the kitchen; below zero what it gives back."""
    item, jars = product(str(row["product"])), float(row["jars"])
    vessel = vessel_of(item, str(row["size"]))
    store = jar_store(vessel)
    taken: dict[tuple[Kind, str], float] = {}
    if store in JAR_SIZES:
        own = jars_by_size(home).get(str(store))
        # What was given away is gone with its jar.
        if jars > 0 or str(row["what"]) != "given":
            taken["jars", str(store) if own is None else own.name] = jars
    if item.methods[0] == "freezing":
        litres = float(row["counted"]) * PINTS[item.usual_jar] * FREEZER_L_PER_PINT
        taken["room", "freezer"] = litres
    if item.methods[0] == "keeping":
        taken["room", "cool_store"] = float(row["counted"]) * litres_per_kg(item.crop)[0]
    if jars <= 0:
        return taken
    if store == "freezer_bags":
        taken["jars", store] = jars
    parts = ingredients(item, used_kg(row))
    if item.methods[0] in METHODS:
        taken["jars", "lids"] = jars
        for name, amount in acid_in_jars(item, item.methods[0], vessel, jars, home).items():
            parts[name] = parts.get(name, 0.0) + amount
    return taken | {("stock", name): amount for name, amount in parts.items()}


def vessel_of(item: Product, size: str) -> str:
    """Return the jar, bag or dish of a product that has a size; its usual one where none has.

    Examples
    --------
    >>> vessel_of(product("frozen_peas"), "pint"), vessel_of(product("dill_pickles"), "quart")
    ('pint_bag', 'quart')
    """
    return next((jar for jar in item.jars if jar.split("_bag")[0] == size), item.usual_jar)


def used_kg(row: Mapping[Any, Any]) -> float:
    """Return the produce that a line of the pantry used, kg: as said, else as the handbook says."""
    kg = float(row["produce_kg"])
    if not math.isnan(kg):
        return kg
    item = product(str(row["product"]))
    known = amounts(item, item.usual_jar)
    return 0.0 if known is None else float(row["counted"]) * known.kg_per_jar


def counted_from(garden: Garden, as_of: object) -> pd.Timestamp:
    """Return the evening on which the amounts of ``garden.toml`` were there.

    Where it bears no date, they are taken as counted before the first batch of the season: rather
    a jar too few than one that is not there.
    """
    day = pd.Timestamp(as_of)  # type: ignore[arg-type]
    if garden.household.counted_on is not None:
        return pd.Timestamp(garden.household.counted_on)
    begun = garden.seasons.start(day)
    pantry = garden.pantry
    days = pantry.loc[(pantry["change"] > 0) & (pantry["date"] >= begun), "date"]
    return pd.Timestamp(days.min() if len(days) else day) - pd.Timedelta(days=1)


def stock_book(garden: Garden, as_of: object) -> pd.DataFrame:
    """Return what is in the kitchen beside produce and preserves, and since when that is known.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like
        The evening.

    Returns
    -------
    pandas.DataFrame
        Columns ``kind`` (jars, stock or room) and ``name`` as in :class:`Item`, ``item`` (as a
        shopping list calls it, or a place), ``amount`` and ``unit``, ``counted_on`` (last count;
        NaT where only ``garden.toml`` speaks of it and bears no date), ``used`` (gone since, what
        was bought taken off).
    """
    day = pd.Timestamp(as_of)  # type: ignore[arg-type]
    home = garden.household
    start = counted_from(garden, day)
    dated = pd.NaT if home.counted_on is None else start
    amount: dict[tuple[str, str], float] = {}
    for kind, own in (("jars", counted_jars(home)), ("stock", ingredients_in_stock(home))):
        amount |= {(kind, name): number for name, number in own.items()}
    for piece in home.equipment:
        if piece.kind in ROOMS.values():
            litres = piece.number * float(piece.free_l or 0.0)
            amount["room", piece.kind] = amount.get(("room", piece.kind), 0.0) + litres
    counted: dict[tuple[str, str], Any] = dict.fromkeys(amount, dated)
    used = dict.fromkeys(amount, 0.0)
    for event in _events(garden, day):
        key = (event.kind, event.name)
        if event.kind == "crop" or event.day <= start:
            continue
        if event.what == "counted":
            amount[key], counted[key], used[key] = event.amount, event.day, 0.0
        elif event.what == "bought" or key in amount:
            sign = 1.0 if event.what == "bought" else -1.0
            amount[key] = max(0.0, amount.get(key, 0.0) + sign * event.amount)
            used[key] = used.get(key, 0.0) - sign * event.amount
            counted.setdefault(key, pd.NaT)
    units = {"jars": lambda name: "pieces", "room": lambda name: "l", "stock": unit_of}
    rows = [
        (kind, name, jar_item(name) if kind == "jars" else name, left, units[kind](name),
         counted[kind, name], used[kind, name])
        for (kind, name), left in sorted(amount.items())
    ]  # fmt: skip
    columns = ["kind", "name", "item", "amount", "unit", "counted_on", "used"]
    book = pd.DataFrame(rows, columns=columns)
    book["counted_on"] = pd.to_datetime(book["counted_on"])
    return book


def household_on(garden: Garden, as_of: object) -> Household:
    """Return the household with its jars, stock and free room as they stand on an evening.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like
        The evening.

    Returns
    -------
    Household
        ``counted_on`` is that evening, so that nothing is taken off a second time.
    """
    day = pd.Timestamp(as_of)  # type: ignore[arg-type]
    home = garden.household
    if home.counted_on is not None and pd.Timestamp(home.counted_on) >= day:
        return home
    left: dict[str, dict[str, float]] = {"jars": dict(home.jars), "stock": {}, "room": {}}
    for row in stock_book(garden, day).to_dict("records"):
        left[str(row["kind"])][str(row["name"])] = float(row["amount"])
    return home.model_copy(
        update={
            "counted_on": day.date().isoformat(),
            "jars": MappingProxyType(left["jars"]),
            "stock": MappingProxyType(left["stock"]),
            "equipment": tuple(_pieces(garden, left["room"], day)),
        }
    )


def _pieces(garden: Garden, amount: Mapping[str, float], day: pd.Timestamp) -> Iterator[Equipment]:
    """Yield the equipment: room as it is free, and the crocks that stand empty."""
    home, busy = garden.household, _crocks_busy(garden, day)
    for piece in home.equipment:
        if piece.kind in ROOMS.values():
            alike = [one for one in home.equipment if one.kind == piece.kind]
            whole = sum(one.number * float(one.free_l or 0.0) for one in alike)
            # Nobody writes down in which of two freezers something lies.
            share = float(piece.free_l or 0.0) / whole if whole else 1.0 / len(alike)
            yield piece.model_copy(update={"free_l": amount[piece.kind] * share})
        elif piece.kind == "crock":
            free = max(0, piece.number - busy)
            busy = max(0, busy - piece.number)
            if free:
                yield piece.model_copy(update={"number": free})
        else:
            yield piece


def _crocks_busy(garden: Garden, day: pd.Timestamp) -> int:
    """Return the crocks that stand full: batches of fermented food begun within their days."""
    crocks = [piece for piece in garden.household.equipment if piece.kind == "crock"]
    if not crocks:
        return 0
    smallest = min(float(piece.free_l or 0.0) for piece in crocks)
    busy = 0
    for row in pantry_book(garden, day).to_dict("records"):
        item = product(str(row["product"]))
        done = row["date"] + pd.Timedelta(days=item.wait_days)
        if row["jars"] > 0 and item.methods[0] == "fermenting" and done > day:
            holds = smallest / GALLON_L * kg_per_gallon(item)
            busy += max(1, math.ceil(used_kg(row) / holds - 0.1)) if holds else 1
    return busy


def produce_events(garden: Garden, as_of: object) -> pd.DataFrame:
    """Return what the kitchen book says of produce up to a day, kg.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like
        Last day that counts.

    Returns
    -------
    pandas.DataFrame
        Columns date, order (place within the day), crop, what (counted, bought or gone), mass_kg.
    """
    rows = [
        (event.day, event.order, event.name,
         event.what if event.what in ("counted", "bought") else "gone", event.amount)
        for event in _events(garden, pd.Timestamp(as_of))  # type: ignore[arg-type]
        if event.kind == "crop"
    ]  # fmt: skip
    found = pd.DataFrame(rows, columns=["date", "order", "crop", "what", "mass_kg"])
    found["date"] = pd.to_datetime(found["date"])
    return found
