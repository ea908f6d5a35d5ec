"""How frozen, dried and stored food is made ready and kept: words for people, with their rules."""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache

from harvestcast.kitchen.handbook.amounts import blanching, drying
from harvestcast.kitchen.handbook.both_units import heat
from harvestcast.kitchen.handbook.process_times import table
from harvestcast.kitchen.handbook.products import Product
from harvestcast.kitchen.handbook.rules import Rule, as_rule, rule, value
from harvestcast.records.household import Household
from harvestcast.units import M_PER_FT

UNBLANCHED = frozenset(
    [
        "apple", "banana pepper", "blackberry", "blueberry", "cherry tomato", "hot pepper",
        "nectarine", "onion", "peach", "raspberry", "strawberry", "sweet pepper", "tomato",
    ]
)  # fmt: skip
"""Crops that are frozen without blanching: fruit, peppers in pieces (Penn State Extension, Let's
Preserve: Peppers), chopped onions (So Easy to Preserve, from memory)."""

CURED: dict[str, str] = {
    "onion": "spread out, dry and airy, until necks and skins rustle",
    "garlic": "spread out or hung up, dry, airy and shaded",
    "potato": "dark, moist and airy, 10 to 15 C (50 to 60 F)",
    "sweet potato": "warm and moist, near 29 C (85 F)",
    "winter squash": "warm and dry, near 27 C (80 F)",
    "pumpkin": "warm and dry, near 27 C (80 F)",
}
"""How crops are cured before they are stored; from memory, as are the days in the catalogue."""

WATCHED: tuple[tuple[frozenset[str], str], ...] = (
    (
        frozenset(["potato"]),
        "Potatoes lie in the dark; what is green or bitter is poisonous, and so are the sprouts: "
        "throw it away.",
    ),
    (
        frozenset(["apple", "cabbage", "carrot", "parsnip", "potato"]),
        "Apples lie apart from all else: their gas makes potatoes sprout and carrots bitter.",
    ),
    (
        frozenset(["winter squash"]),
        "Acorn and delicata squash are not cured and keep 5 to 8 weeks only.",
    ),
    (
        frozenset(["spaghetti squash"]),
        "Spaghetti squash is not canned: it does not stay in cubes.",
    ),
    (frozenset(["onion"]), "Onions lie apart from potatoes, which are kept moist."),
    (frozenset(["garlic"]), "Garlic is never kept in oil: botulism grows in it."),
    (
        frozenset(["shell bean"]),
        "Raw dry beans are poisonous: soak them, throw that water away, and boil them hard for 30 "
        "minutes before they go into a slow cooker.",
    ),
)
"""What harms people or the store, by the crops that it is said with; from memory (poisons of green
potatoes and raw beans, garlic in oil: U.S. Food and Drug Administration), common practice, or
read (acorn squash: Iowa State University Extension, Harvest and storage of winter squash)."""


def freezing_words(household: Household, items: Iterable[Product]) -> tuple[str, list[Rule]]:
    """Return how produce is frozen, with the minutes that it is blanched.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> freezing_words(Household(), [product("frozen_beets")])[0].split("; ")[1]
    'blanch, in boiling water unless steam is named: frozen beets 25 to 30 min'
    """
    cold, more = rule("freezer_temp"), rule("blanch_altitude_add")
    rules, text = [cold], f"Freezer at {value(cold)} F (-18 C) or below; "
    said = []
    for item in dict.fromkeys(items):
        known = blanching(item)
        if known is not None:
            said.append(f"{item.label} {known.words}")
            rules.append(as_rule(known.source) | {"verified": known.verified})
    if not said:
        return f"{text}freeze it at once.", rules
    text += f"blanch, in boiling water unless steam is named: {'; '.join(said)}; "
    if (household.elevation_m or 0.0) >= 5000 * M_PER_FT:
        rules.append(more)
        text += f"blanch {value(more)} minute longer at this elevation; "
    return text + "cool blanched produce fast and freeze it at once.", rules


def drying_words(household: Household, items: Iterable[Product]) -> tuple[str, list[Rule]]:
    """Return how produce is dried: heat, and what is blanched or cooked before.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> drying_words(Household(units="us"), [product("dried_snap_beans")])[0].split(". ")[0]
    'Drying: at 140 F dried snap beans'
    """
    groups: dict[str, dict[str, None]] = {}
    before: dict[str, None] = {}
    kept = rule("dried_storage")
    rules = [kept]
    for item in items:
        found = drying(item)
        if found is None:
            continue
        groups.setdefault(heat(household, found.temperature_f), {})[item.label] = None
        if found.before:
            before[f"{item.label} {found.before}"] = None
            rules.append(as_rule(found.source) | {"verified": found.verified})
    parts = [f"at {degrees} {', '.join(labels)}" for degrees, labels in groups.items()]
    first = f" First, in boiling water: {'; '.join(before)}." if before else ""
    return (
        f"Drying: {'; '.join(parts)}.{first} Test until leathery or brittle, condition for a week "
        f"in a closed jar, keep cool, dark and dry. Most dried vegetables keep {value(kept)} "
        "months.",
        rules,
    )


def storing_words(household: Household, items: Iterable[Product]) -> tuple[str, list[Rule]]:
    """Return where fresh produce is stored, how cold and how moist, and what would spoil it.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> storing_words(Household(units="us"), [product("stored_beets")])[0].split(". ")[0]
    'In store: beet at 32 F, 95 % humidity'
    """
    crops = dict.fromkeys(item.crop for item in items)
    rules, parts = [], []
    for crop in crops:
        row = _stored()[crop]
        warm = dict.fromkeys((float(row["temp_low_f"]), float(row["temp_high_f"])))
        moist = dict.fromkeys((f"{row['rh_low_pct']:g}", f"{row['rh_high_pct']:g}"))
        parts.append(f"{crop} at {heat(household, *warm)}, {' to '.join(moist)} % humidity")
        rules.append(row)
    said = [words for about, words in WATCHED if not about.isdisjoint(crops)]
    rules += [as_rule("U.S. Food and Drug Administration, from memory", "memory")] * bool(said)
    text = " ".join(
        [f"In store: {'; '.join(parts)}.", *said, "Look through it every week and take out what "
         "rots."]
    )  # fmt: skip
    return text, rules


def curing_words(items: Iterable[Product]) -> str:
    """Return how produce is cured before it is carried into the store.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.products import product
    >>> curing_words([product("stored_garlic")])
    'garlic about 21 days, spread out or hung up, dry, airy and shaded'
    """
    said = {f"{one.crop} about {one.wait_days:g} days, {CURED[one.crop]}" for one in items}
    return "; ".join(sorted(said))


@cache
def _stored() -> dict[str, Rule]:
    rows = table("keeping").to_dict("records")
    return {str(row["crop"]): {str(k): v for k, v in row.items()} for row in rows}
