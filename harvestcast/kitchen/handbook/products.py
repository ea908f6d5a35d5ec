"""The catalogue: everything a household can put up, in its own words.

One row of ``kitchen/data/products.csv`` a product. A product may be done by more than one
method. Where a product names a handbook product, its time stands in the handbook or it is not
canned at all: standing here makes nothing safe.

Hands-on hours, ages and oversize are planning estimates ("common practice, no source") that
the household's own pantry log corrects (:mod:`harvestcast.kitchen.household.learned`).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache

import pandas as pd

from harvestcast.kitchen.handbook.process_times import handbook_products, table
from harvestcast.records.typed.jar_sizes import jar_size, without_jar_size
from harvestcast.units import KG_PER_LB
from harvestcast.words.amounts import plural
from harvestcast.words.crops import own_jar

PINTS: dict[str, float] = {
    "half_pint": 0.5,
    "pint": 1.0,
    "quart": 2.0,
    "pint_bag": 1.0,
    "pint_dry": 1.0,
    "half_pint_dry": 0.5,
    "pint_dish": 1.0,
    "kg": 1.0,
}
"""Pints of food in one jar, bag or container. A kilogram loose in the cool store counts as one
jar towards its target."""

_COUNTED_IN = {
    "half_pint": "half pints",
    "pint": "pints",
    "quart": "quarts",
    "pint_bag": "pint bags",
    "pint_dry": "pint jars",
    "half_pint_dry": "half-pint jars",
    "pint_dish": "pint dishes",
    "kg": "kg",
}


def jars_in_words(jar: str, number: float) -> str:
    """Return a whole number of jars, bags or kilograms.

    Examples
    --------
    >>> jars_in_words("quart", 1), jars_in_words("pint_bag", 8), jars_in_words("pint_dish", 1)
    ('1 quart', '8 pint bags', '1 pint dish')
    """
    many = _counted_in(jar)
    one = own_jar(jar) or many.removesuffix("es" if many.endswith("shes") else "s")
    return f"{number:g} {one if number == 1 else many}"


def _counted_in(jar: str) -> str:
    own = own_jar(jar)
    return plural(own) if own else _COUNTED_IN[jar.replace(" ", "_")]


FOR_THE_WEEK_DAYS = 14.0
"""A product that keeps no longer is food for the week, not for the pantry."""

_WEIGHTS = r"\b(?P<unit>lbs?|pounds?|kgs?|kilos?)\b"
_VESSELS = r"\b(?:jars?|bags?|containers?)\b"


@dataclass(frozen=True, slots=True, kw_only=True)
class Product:
    """One product of the catalogue.

    Attributes
    ----------
    key, label : str
        Name inside the library and in household words.
    crop : str
        Main crop, canonical name.
    methods : tuple of str
        boiling_water, pressure, freezing, drying, fermenting, refrigerating or keeping.
    handbook : str
        Product of the process table; empty where none is needed.
    pack : str
        ``"raw"`` or ``"hot"``; empty where nothing is canned.
    jars : tuple of str
        Jar sizes, the usual one first.
    amounts : str
        Where produce per jar stands: product of ``canning_yield`` (or ``product/variant`` where it
        has several recipes), ``product/form`` of
        ``freezing``, ``hours row/yield row`` of ``drying``, or produce of ``storage``.
    measure : str
        ``produce/form`` of ``weights`` for recipes that are printed in cups.
    low_acid : bool
        Low-acid food: canned under pressure only.
    takes_oversize : bool
        Whether overgrown fruit will do.
    whole_recipe : bool
        Whether the recipe must not be divided (jams set badly otherwise).
    max_age_days : float
        Oldest pick that makes a good product, days.
    wait_days : float
        Days to stand before it is at its best.
    best_by_days : float
        Days of best quality; NaN where it depends on the drying or storage row.
    fixed_h, h_per_kg : float
        Hands-on hours a batch and a kilogram (planning estimates).
    offer : bool
        Whether it is offered where no target asks for it; the rest of the catalogue is planned
        only towards targets.
    aliases : tuple of str
        Further names.
    """

    key: str
    label: str
    crop: str
    methods: tuple[str, ...]
    handbook: str
    pack: str
    jars: tuple[str, ...]
    amounts: str
    measure: str
    low_acid: bool
    takes_oversize: bool
    whole_recipe: bool
    max_age_days: float
    wait_days: float
    best_by_days: float
    fixed_h: float
    h_per_kg: float
    offer: bool
    aliases: tuple[str, ...]

    @property
    def usual_jar(self) -> str:
        """The jar that targets and stock are counted in."""
        return self.jars[0]

    @property
    def counted_in(self) -> str:
        """The same in words, many of them: pints, pint bags, kg."""
        return _counted_in(self.usual_jar)

    def counted(self, jar: str, number: float) -> float:
        """Return a number of jars of some size as jars of the usual size.

        Examples
        --------
        >>> product("dill_pickles").counted("quart", 4)
        8.0
        """
        return float(number) * PINTS[jar.replace(" ", "_")] / PINTS[self.usual_jar]

    @property
    def canned(self) -> bool:
        """Whether it goes into a canner in one way at least."""
        return not {"boiling_water", "pressure"}.isdisjoint(self.methods)

    @property
    def for_the_week(self) -> bool:
        """Whether it has no shelf life and is food for the week."""
        return self.best_by_days <= FOR_THE_WEEK_DAYS


def _split(text: object) -> tuple[str, ...]:
    return tuple(part.strip() for part in str(text).split(";") if part.strip())


@cache
def _all() -> dict[str, Product]:
    frame = table("products")
    words = ["handbook", "pack", "measure", "aliases"]
    frame[words] = frame[words].fillna("")
    listed: dict[str, Product] = {}
    for row in frame.to_dict("records"):
        row["methods"], row["jars"] = _split(row["methods"]), _split(row["jars"])
        row["aliases"] = _split(row["aliases"])
        listed[row["key"]] = Product(**{str(k): v for k, v in row.items()})
    return listed


def products() -> pd.DataFrame:
    """Return the whole catalogue, one row a product.

    Returns
    -------
    pandas.DataFrame
        Columns as the attributes of :class:`Product`, with ``methods``, ``jars`` and ``aliases``
        joined by semicolons, and ``usual_jar`` and ``for_the_week``.

    Examples
    --------
    >>> frame = products().set_index("key")
    >>> str(frame.loc["dill_pickles", "label"]), bool(frame.loc["canned_corn", "low_acid"])
    ('dill pickles', True)
    """
    rows = []
    for item in _all().values():
        row = {name: getattr(item, name) for name in Product.__slots__}
        for name in ("methods", "jars", "aliases"):
            row[name] = ";".join(row[name])
        rows.append(row | {"usual_jar": item.usual_jar, "for_the_week": item.for_the_week})
    return pd.DataFrame(rows)


def product(key: str) -> Product:
    """Return one product by its key.

    Raises
    ------
    KeyError
        Where the catalogue has no such key; use :func:`match_product` for what people type.

    Examples
    --------
    >>> product("tomato_sauce").methods
    ('boiling_water', 'pressure')
    """
    return _all()[key]


def products_of(crop: str) -> tuple[Product, ...]:
    """Return the products that are made of a crop.

    Examples
    --------
    >>> [item.key for item in products_of("okra")]
    ['canned_okra', 'frozen_okra', 'dried_okra', 'dilled_okra']
    """
    return tuple(item for item in _all().values() if item.crop == crop)


def _plain(text: str) -> str:
    """Bring a name to one form: lower case, no punctuation, no jar sizes, no plurals."""
    words = re.sub(_WEIGHTS, " ", re.sub(_VESSELS, " ", without_jar_size(text)))
    words = re.sub(r"[^a-z0-9]+", " ", words)
    words = words.replace(" and ", " ").strip().removeprefix("of ")  # pints of salsa
    return " ".join(_singular(word) for word in words.split())


def _singular(word: str) -> str:
    for ending, singular in (("ies", "y"), ("toes", "to"), ("ches", "ch"), ("ss", "ss"), ("s", "")):
        if word.endswith(ending) and len(word) > len(ending) + 1:
            return word[: -len(ending)] + singular
    return word


@cache
def _names() -> dict[str, str]:
    names: dict[str, str] = {}
    by_handbook: dict[str, list[str]] = {}
    for item in _all().values():
        by_handbook.setdefault(item.handbook, []).append(item.key)
        for name in (item.key, item.label, *item.aliases):
            names.setdefault(_plain(name), item.key)
    for name in handbook_products():
        # A handbook product that serves two crops (peppers) names no single product.
        if len(by_handbook.get(name, [])) == 1:
            names.setdefault(_plain(name), by_handbook[name][0])
    return names


def match_product(text: str) -> str | None:
    """Return the catalogue key of a product as people type it.

    Parameters
    ----------
    text : str
        Name in any case, singular or plural, with or without a jar size.

    Returns
    -------
    str or None
        Key, or None where the catalogue has no such product; nothing is guessed.

    Examples
    --------
    >>> match_product("Dill Pickles"), match_product("dills (quart)"), match_product("plum wine")
    ('dill_pickles', 'dill_pickles', None)
    """
    return _names().get(_plain(text))


def usual_jars(name: str) -> tuple[Product, float] | None:
    """Return the product that a target names, and the jars of its usual size that one of it is.

    Parameters
    ----------
    name : str
        Name of a target, perhaps with a size of jar.

    Returns
    -------
    tuple of (Product, float) or None
        None where the catalogue has no such product.

    Raises
    ------
    ValueError
        Where the size cannot be read for certain, or the product is weighed and not put in jars,
        or put in jars and not weighed.

    Examples
    --------
    >>> usual_jars("dill pickles (quarts)")[1], usual_jars("dill pickles")[1]
    (2.0, 1.0)
    >>> round(usual_jars("onions in the cool store (lb)")[1], 3)
    0.454
    """
    key = match_product(name)
    if key is None:
        return None
    item = product(key)
    weight = re.search(_WEIGHTS, name.casefold())
    if weight is not None:
        if item.usual_jar != "kg":
            raise ValueError(f"{item.label} is counted in {item.counted_in}, not weighed")
        return item, 1.0 if weight["unit"].startswith("k") else KG_PER_LB
    said = jar_size(name)
    if said is None:
        return item, 1.0
    if item.usual_jar == "kg":
        raise ValueError(f"{item.label} is counted in kg, not in jars")
    return item, said.pints / PINTS[item.usual_jar]


def is_weight(name: str) -> bool:
    """Return whether a name says a unit of weight.

    Examples
    --------
    >>> is_weight("stored onions (lb)"), is_weight("dill pickles (quarts)")
    (True, False)
    """
    return re.search(_WEIGHTS, name.casefold()) is not None


_NEAR = 0.65
"""Likeness from which on a name is offered: with less, sauerkraut was told to be tomato sauce."""


def nearest_products(text: str, n: int = 3) -> tuple[str, ...]:
    """Return labels of the products whose names come nearest to what was typed; none where far.

    Examples
    --------
    >>> nearest_products("dil pickels", 1), nearest_products("xylophone")
    (('dill pickles',), ())
    """
    names = _names()
    close = get_close_matches(_plain(text), list(names), n=4 * n, cutoff=_NEAR)
    labels = dict.fromkeys(_all()[names[name]].label for name in close)
    return tuple(labels)[:n]
