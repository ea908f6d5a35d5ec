"""What a tested recipe must not be made without: the guide's limits, in words.

A limit is a row of the table ``limits``: the largest jar, shares that must not be raised, what is
never doubled, cubes and no mash, hours of soaking. Which of them hold for a product follows from
its handbook key, or from the group of recipes it belongs to.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from harvestcast.kitchen.handbook.amounts import recipe
from harvestcast.kitchen.handbook.process_times import table
from harvestcast.kitchen.handbook.products import Product

STARCHED = frozenset(f"{fruit}_pie_filling" for fruit in ("apple", "blueberry", "cherry", "peach"))
"""Pie fillings that are thickened; that of green tomatoes is not."""

SAUCES = frozenset(
    [
        "spaghetti_sauce_without_meat", "spaghetti_sauce_with_meat", "mexican_tomato_sauce",
        "sweet_corn_cream_style", "soups",
    ]
)  # fmt: skip
"""Low-acid food that is tested as it is, smooth or thick; of all other no puree is canned."""

HOT = frozenset(
    {"banana pepper", "hot pepper", "jalapeno pepper", "long green chile", "serrano pepper"}
)

LIMIT_WORDS: dict[str, str] = {
    "max_jar": "no jar larger than a {value}, for no time is printed for one",
    "only_jar": "{value} jars only, for no time is printed for others",
    "batch_max": "never more than {value} {unit} ({condition})",
    "not_reduced": "never less {value}",
    "not_increased": "never a greater share of {value}",
    "not_changed": "never less {value}",
    "no_thickener": "no thickener before canning",
    "not_drained": "tomatoes with their juice, never drained",
    "acid_source": "{condition}",
    "untested_recipe": "another recipe is frozen or refrigerated, never canned",
    "extra_acid": "{value} {unit} more {condition}",
    "only_starch": "{value} and no other starch",
    "fresh_only": "fresh fruit only",
    "max_other_vegetables": "other vegetables at most {value} cups {condition}",
    "ratio": "{value} lb {condition}",
    "not_in_mix": "never in it: {value}",
    "not_allowed": "not allowed: {value}",
    "not_used": "never with {value}",
    "solids_max": "solids fill at most {value} of the jar",
    "seafood_time": "{value} minutes wherever it holds seafood",
    "rehydrate": "dried beans and peas are fully soaked first",
    "soak": "soaked {value} {unit} ({condition})",
    "make_days": "takes {value} days to make",
    "cure_days": "takes {value} days to make",
    "cook_discard": "the {value} is thrown away ({condition})",
    "cube_not_mash": "{condition}",
    "can_within": "canned within {value} {unit} {condition}",
    "not_scraped": "kernels cut at three quarters of their depth, the cob not scraped",
    "not_pressed": "raw pack: not shaken or pressed down",
    "lime_soak": "soaked in lime {value} hours ({condition})",
    "lime_rinse": "lime rinsed off {value} times ({condition}), never left in",
    "salt_not_reduced": "never less salt than {value} {unit} ({condition})",
    "under_brine": "everything {value} inches under the brine",
    "ferment_temp_min": "may not ferment below {value} F",
    "ferment_temp_max": "kept at {value} F at most while it ferments",
    "discard_if": "thrown away where it is {value}",
    "start_within": "begun within {value} hours {condition}",
    "refrigerate_use_within": "where not processed: refrigerated and used within {value} {unit}",
    "headspace_solids": "headspace {value} in to the {condition} in",
    "hot_pack_for": "hot pack for {value} only",
    "gloves": "wear gloves",
    "press_within": "pressed within {value} hours",
    "jar_alternative": "{value} {unit} jars: {condition}",
}
"""Rule of the table -> words."""

SAID_ELSEWHERE: frozenset[str] = frozenset(
    [
        # The row of the process, the rules of canners and jars, and other cautions say these.
        "headspace", "jar_type", "canner_load", "canner_capacity", "canner_time", "acid_required",
        "vinegar_min_acidity", "tomato_pressure", "lid_use", "lid_age", "lid_stock", "wait",
        "ferment_temp", "ferment_days", "ferment_check", "keep_refrigerated",
        "container", "rim_above", "blossom_end_off", "stem_left", "swap_forbidden",
        # Another way of doing it, which this library does not offer.
        "pasteurise", "pasteurise_allowed", "swap_allowed", "may_change", "may_use", "rule",
        "refrigerate_only", "freeze_headspace", "freeze_instead", "lime_forbidden", "jelly_point",
        # Optional, or of quality only.
        "salt_optional", "sugar_optional", "syrup_sweetener", "raw_pack_poor", "use_within",
        "cucumber_size", "size", "rest_hours", "small_test", "skins", "store_above", "ripen",
        "raw_pack_discolors", "pie_yield", "pectin_age", "harvest_before_best", "fruit_mix",
        "ascorbic_soak",
    ]
)  # fmt: skip
"""Rules of the table that no product's limits repeat."""


def is_salsa(item: Product) -> bool:
    """Return whether a product is tomatoes, peppers and onions that their acid keeps safe.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> is_salsa(product("salsa")), is_salsa(product("tomato_juice"))
    (True, False)
    """
    return "salsa" in item.handbook or item.handbook == "tomato_taco_sauce"


def limits_of(item: Product, method: str) -> list[tuple[str, dict[str, Any]]]:
    """Return what the recipe and the process of a product must not be made without.

    Parameters
    ----------
    item : Product
        Product of the catalogue.
    method : str
        How it is put up.

    Returns
    -------
    list of (str, dict)
        Words, and the row of the table of limits that they are made of.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> [words for words, _ in limits_of(product("canned_pumpkin"), "pressure")]
    ['cubes; no mash or puree', 'not allowed: pureed vegetables or meats']
    """
    takes = {one.item for one in recipe(item)}
    groups = {
        "salsas": is_salsa(item),
        "pie fillings": item.handbook in STARCHED,
        "jams and jellies": item.whole_recipe,
        "tomatoes": item.crop == "tomato",
        "wild mushrooms": item.crop == "mushroom",
        "wilted or diseased greens": item.handbook == "spinach_and_other_greens",
        "fermented vegetables": method == "fermenting",
        "sauerkraut and fermented pickles": method == "fermenting",
        "hot peppers": not HOT.isdisjoint({item.crop, *takes}),
        "homemade vinegar": "vinegar, 5 % acidity" in takes,
        "pickles": "vinegar, 5 % acidity" in takes or method == "fermenting",
        "pureed vegetables or meats": item.low_acid and item.handbook not in SAUCES,
    }
    subjects = [item.handbook, *(name for name, mine in groups.items() if mine)]
    found = []
    for subject in filter(None, subjects):
        for row in _rows().get(subject, ()):
            words = LIMIT_WORDS.get(row["rule"])
            if words is None or row["value"] in _SAID_ALREADY:
                continue
            shown = {k: _plain(row[k]) for k in ("value", "unit", "condition")}
            if row["value"] == "forbidden":  # the subject itself is what is forbidden
                shown["value"] = subject
            found.append((words.format(**shown), row))
    return found


def limit_rows(rule: str, *subjects: str) -> list[dict[str, Any]]:
    """Return the rows of the table of limits of one rule and some subjects.

    Examples
    --------
    >>> [row["value"] for row in limit_rows("ferment_days", "sauerkraut")]
    ['21-28', '35-42']
    """
    return [row for one in subjects for row in _rows().get(one, ()) if row["rule"] == rule]


@cache
def _rows() -> dict[str, list[dict[str, Any]]]:
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in table("limits").fillna("").to_dict("records"):
        known = {str(k): v for k, v in row.items()} | {"standing": "published", "verified": True}
        rows.setdefault(known["subject"], []).append(known)
    return rows


_PLAIN = {
    "dead or frost-killed vines": "tomatoes of dead or frost-killed vines",
    "soft, slimy or bad odor": "soft, slimy or of bad odor",
    "or boil 2 min and 1 h": "or boiled 2 minutes, then left 1 h in that water",
    "leafy greens, dried beans, cream corn, squash, sweet potatoes": (
        "leafy greens, dried beans, cream corn, squash but for the zucchini, sweet potatoes"
    ),
}
"""Entries of the table that are too short to be read alone."""


def _plain(entry: object) -> str:
    return _PLAIN.get(str(entry), str(entry).replace("_", "-"))


_SAID_ALREADY = ("required", "half_gallon", "vinegar, food and water proportions")
"""Values said with an amount or with another caution; half gallons have no time on record here."""
