"""Safety and practice that go with the planned batches, and only with those.

Figures come from the handbook's rules; the words are ours. A caution whose figure was not read in a
publication of a government or extension service says so.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

import pandas as pd

from harvestcast.errors import UnsafeProcessError
from harvestcast.kitchen.handbook import process_times as handbook
from harvestcast.kitchen.handbook.amounts import cited, recipe, yield_row
from harvestcast.kitchen.handbook.both_units import (
    at_least_inch,
    at_most_lb,
    band,
    elevation,
    feet_at_most,
    heat,
    in_units,
    spoons,
)
from harvestcast.kitchen.handbook.keeping import (
    curing_words,
    drying_words,
    freezing_words,
    storing_words,
)
from harvestcast.kitchen.handbook.limits import is_salsa, limit_rows, limits_of
from harvestcast.kitchen.handbook.products import Product, match_product, product
from harvestcast.kitchen.handbook.rules import Rule, as_rule, number, rule, value
from harvestcast.kitchen.household.jars import real_jar
from harvestcast.kitchen.week.options import dried_meat
from harvestcast.records.household import Household

GUIDE = "USDA, Complete Guide to Home Canning, Agriculture Information Bulletin 539"

NO_CANNER = (
    "oven, microwave or dishwasher processing", "open-kettle canning", "steam canner",
    "canning powder", "wire-bail jars and zinc caps", "paraffin or wax seal",
)  # fmt: skip
"""What the guide does not allow in place of a canner, a time or a lid."""

VINEGAR = "vinegar, 5 % acidity"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedBatch:
    """One kind of batch, and its process where it is canned."""

    item: Product
    method: str
    jar: str
    process: handbook.Process | None

    @property
    def canned(self) -> bool:
        """Whether it goes into a canner."""
        return self.method in handbook.METHODS

    @property
    def acid(self) -> str:
        """How it gets its acid; empty for what has no tested process."""
        return (
            str(handbook.acid_of(self.item.handbook, "pint")["acid"]) if self.item.handbook else ""
        )

    @property
    def takes(self) -> set[str]:
        """Items that its recipe takes."""
        return {one.item for one in recipe(self.item)}

    @property
    def pickle(self) -> bool:
        """Whether its recipe takes vinegar."""
        return VINEGAR in self.takes


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution: when it applies, and its words with the rules they rest on."""

    topic: str
    applies: Callable[[PlannedBatch], bool]
    words: Callable[[Household, list[PlannedBatch]], tuple[str, Iterable[Rule]]]
    urgent: bool = False


def _tested(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Follow the tested recipe to the letter and check it with your local extension service; "
        "this plan gives times and amounts, not recipes. They hold for a canner: never for an "
        "oven, a microwave, a dishwasher, a steam canner or a pot without process, and no canning "
        "powder, wax or wire-bail jar takes their place.",
        [as_rule(GUIDE), *limit_rows("not_allowed", *NO_CANNER)],
    )


def _altitude(household: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    here = elevation(household)
    bands: dict[str, dict[str, None]] = {}
    for batch in mine:
        if batch.process:
            others = {one.process.band for one in mine if one.process and one.item == batch.item}
            how = f" ({batch.method}, {batch.jar})".replace("_", " ") if len(others) > 1 else ""
            named = bands.setdefault(band(*batch.process.band, household), {})
            named[f"{batch.item.label}{how}"] = None
    said = "; ".join(f"{one} for {', '.join(names)}" for one, names in bands.items())
    return (
        f"Times and pressures are those for {here}, from these bands of the tables: "
        f"{said}. Cooking anywhere higher needs another row.",
        [as_rule("the table named beside each batch")],
    )


def _botulism(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Low-acid food: only under pressure, for the whole time at the whole pressure. Botulism "
        "cannot be seen, smelt or tasted; if pressure fell, begin the time again, and throw "
        "away any jar that leaks, bulges, spurts or smells wrong without tasting it.",
        [{"source": GUIDE, "standing": "memory", "verified": False}],
    )


def _vent(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    vent, rest = rule("pressure_vent"), rule("rest_before_removal", "pressure")
    dial = any(batch.process and batch.process.gauge == "dial" for batch in mine)
    gauge = " A dial gauge is checked every year, and replaced where it is over 2 psi off."
    return (
        f"Let the pressure canner vent steam for {value(vent)} minutes before it is closed; start "
        "the clock when the pressure is reached. Let it lose pressure by itself, then wait "
        f"{value(rest)} minutes before the lid comes off. Read your canner's manual.{gauge * dial}",
        [vent, rest],
    )


def _sterile(household: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    under, boil = rule("sterile_jars_when_under"), rule("sterilize_boil")
    more, step = rule("sterilize_boil_add"), feet_at_most(1000, household)
    return (
        f"Jars processed for less than {value(under)} minutes must be sterile, and those of "
        f"{', '.join(dict.fromkeys(batch.item.label for batch in mine))}: boil them "
        f"{value(boil)} minutes below {step}, and {value(more)} minute more for every further "
        f"{step}.",
        [under, boil, more],
    )


def _each_jar(household: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    groups: dict[tuple[Any, ...], dict[str, str]] = {}
    for batch in mine:
        amounts = tuple(
            handbook.acid_of(batch.item.handbook, jar)[name]
            for jar in ("quart", "pint")
            for name in ("lemon_juice_tbsp", "citric_acid_tsp")
        )
        groups.setdefault(amounts, {})[batch.item.label] = batch.item.handbook
    said = []
    for (lemon, citric, pint, citric_pint), names in groups.items():
        quarts, pints = (
            f"{spoons(juice, 3, household)} of bottled lemon juice"
            + (f" or {spoons(powder, 1, household)} of citric acid" if powder else "")
            for juice, powder in ((lemon, citric), (pint, citric_pint))
        )
        said.append(
            f"{', '.join(names)}: {quarts} "
            f"{in_units('a quart', 'each jar of 0.95 l', household)}, {pints} "
            f"{in_units('a pint', 'each jar of 0.47 l', household)}"
        )
    acids = handbook.table("acid").set_index("product")["source"]
    keys = dict.fromkeys(key for names in groups.values() for key in names.values())
    return (
        f"Acid goes into every jar before it is filled, under pressure too. {'; '.join(said)}. A "
        "jar between two sizes takes the larger amount.",
        [as_rule(source) for source in dict.fromkeys(str(acids[key]) for key in keys)],
    )


def _salsa(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    lemon = [b.item.label for b in mine if b.acid == "lemon_juice_in_recipe"]
    vinegar = [b.item.label for b in mine if b.acid == "vinegar_in_recipe"]
    said = ["Salsa: the share of onions and peppers must not be raised, nor the acid cut"]
    if lemon:
        said.append(
            f"{', '.join(dict.fromkeys(lemon))}: bottled lemon or lime juice only, never fresh "
            "juice or vinegar in its place"
        )
    if vinegar:
        said.append(
            f"{', '.join(dict.fromkeys(vinegar))}: vinegar of 5 % acidity as the recipe says; "
            "bottled lemon juice may take its place, never less of it"
        )
    rows = [yield_row(batch.item) for batch in mine]
    return f"{'; '.join(said)}.", [row for row in rows if row is not None]


def _vinegar(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    rules = [rule("vinegar_acidity"), rule("do_not_dilute")]
    return (
        f"Vinegar of {value(rules[0])} % acidity or more; never less vinegar or more water than "
        "the recipe says.",
        rules,
    )


def _salt(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    use = rule("salt_use")
    return (
        "Canning or pickling salt; salt with anti-caking agent clouds the brine. In a fermented "
        "pickle the salt keeps it safe: do not cut it.",
        [use],
    )


def _water(household: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    cover, long = rule("water_above_jars"), rule("water_above_jars", condition="processing over")
    rest = rule("rest_before_removal", "boiling_water")
    raw, hot = (rule("preheat_water", condition=pack) for pack in ("raw", "hot"))
    return (
        f"Boiling-water canner: water at {heat(household, number(raw))} for raw packs and "
        f"{heat(household, number(hot))} for hot packs when the jars go in, at least "
        f"{at_least_inch(number(cover), household)} over them all the time; "
        f"{at_least_inch(number(long), household)} where the process is over 30 minutes. "
        f"Heat off and lid off, wait {value(rest)} minutes, then lift the jars out.",
        [cover, long, rest, raw, hot],
    )


def _cooling(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    low, high = (rule("cooling_undisturbed", condition=end) for end in ("minimum", "maximum"))
    return (
        f"Leave the jars alone for {value(low)} to {value(high)} hours while they cool, then "
        "test every seal; a jar that did not seal goes into the refrigerator, and is eaten within "
        "several days.",
        [low, high, *limit_rows("use_within", "unsealed jar")],
    )


def _cucumber_age(household: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    delay, end = rule("pickling_delay"), rule("blossom_end")
    return (
        f"Pickle cucumbers within {value(delay)} hours of the pick, and cut "
        f"{in_units('1/16 inch', '2 mm', household)} off the blossom end, which holds what softens "
        "pickles.",
        [delay, end],
    )


def _standing(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    wait = rule("pickle_wait")
    waits = {f"{batch.item.label}: {batch.item.wait_days / 7:g} weeks" for batch in mine}
    return (
        "Pickles are at their best after standing; do not open them too early "
        f"({'; '.join(sorted(waits))} or so).",
        [wait],
    )


def _fermenting(household: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    warm, cool = rule("ferment_time", "dill"), rule("ferment_time_cool")
    hold, crock = rule("fermented_hold"), rule("crock_capacity")
    said, rules = [], []
    gallon = in_units("a gallon", "one of 3.8 l", household)
    for batch in {b.item.key: b for b in mine}.values():
        low = 60 if batch.item.handbook == "sauerkraut" else 55
        said.append(
            f"{batch.item.label}: {value(warm)} to 28 days at {heat(household, 70, 75)}, "
            f"{value(cool)} to 42 at {heat(household, low, 65)}"
        )
        rules += limit_rows("ferment_days", batch.item.handbook)
    return (
        f"Fermenting. {'; '.join(said)}. Everything lies under the brine and the scum is taken "
        "off; the salt of the recipe keeps it safe and is not cut. Throw the lot away if it turns "
        f"soft, slimy or foul. Dills keep {value(hold)} months in the refrigerator, sauerkraut "
        f"some months. The crock is of stone, glass or food-grade plastic; {gallon} holds "
        f"{at_most_lb(number(crock), household)} at most.",
        [warm, cool, hold, crock, *rules, *limit_rows("container", "fermented vegetables")],
    )


def _use_by(household: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    year = rule("shelf_quality", "canned")
    low, high = (rule("shelf_temp", condition=f"best range {end}") for end in ("low", "high"))
    return (
        f"Label each jar with product and date; best within {value(year)} months, kept dark and "
        f"dry at {heat(household, number(low), number(high))}.",
        [year, low, high],
    )


def _meat(household: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    rules = [
        rule("jerky_heat", "jerky", "beef"),
        rule("jerky_heat_poultry"),
        rule("jerky_dry_temp"),
    ]
    thick = rule("jerky_thickness")
    least_c, most_mm = (number(rules[2]) - 32) / 1.8, 25.4 * number(thick)
    warm = in_units(f"{value(rules[2])} F", f"{math.ceil(least_c)} C", household)
    thin = in_units(f"{value(thick)} inch", f"{math.floor(most_mm)} mm", household)
    return (
        f"Dried meat: {dried_meat(household).safety} Strips of "
        f"{thin} at most, dried at {warm} or more.",
        [*rules, thick],
    )


def _this_week(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    days = min(batch.item.best_by_days for batch in mine)
    said = f"No shelf life: keep it in the refrigerator and eat it within {days:g} days."
    if any(batch.item.key == "cucumber_vinegar_slices" for batch in mine):
        said += (
            " The vinegar has 5 % acidity or more; it is not on the shopping list, for no tested "
            "recipe says how much."
        )
    return said, []


def _squash(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Summer squash and zucchini are not canned plain: no tested process exists. Pickled by the "
        "tested recipe, frozen or dried they are fine.",
        [rule("summer_squash_canning")],
    )


def _spaghetti_squash(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Winter squash and pumpkin are canned in cubes only, never mashed or as a puree, and not "
        "spaghetti squash, which does not stay in cubes: freeze these.",
        [*limit_rows("cube_not_mash", "pumpkin_winter_squash"), _MEMORY],
    )


def _white_flesh(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Yellow-fleshed peaches and nectarines only: some white-fleshed ones have too little acid "
        "for boiling water, and no tested process exists for them. Freeze those.",
        [_MEMORY],
    )


_MEMORY = as_rule("National Center for Home Food Preservation, from memory") | {
    "standing": "memory", "verified": False,
}  # fmt: skip


def _settled(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    said = {
        f"{batch.item.label}, {one.item}: {one.settled}": None
        for batch in mine
        for one in recipe(batch.item)
        if one.settled
    }
    return (
        f"The guide prints two amounts; the shopping list has the larger: {'; '.join(said)}.",
        [as_rule(GUIDE)],
    )


def _recipe_limits(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    said: dict[str, str] = {}
    rules = []
    for batch in mine:
        found = limits_of(batch.item, batch.method)
        said[batch.item.label] = ", ".join(dict.fromkeys(words for words, _ in found))
        rules += [row for _, row in found]
    text = "; ".join(f"{label}: {words}" for label, words in said.items())
    return f"Limits of the recipe. {text}.", rules


# Applies to, words and order: what can hurt somebody comes first.
CAUTIONS: tuple[Caution, ...] = (
    Caution(
        topic="low-acid food",
        applies=lambda b: b.method == "pressure" and b.item.low_acid,
        words=_botulism,
        urgent=True,
    ),
    Caution(
        topic="elevation",
        applies=lambda b: b.process is not None,
        words=_altitude,
        urgent=True,
    ),
    Caution(
        topic="acid in each jar",
        applies=lambda b: b.canned and b.acid == "each_jar",
        words=_each_jar,
        urgent=True,
    ),
    Caution(
        topic="acid in salsa",
        applies=lambda b: b.canned and is_salsa(b.item),
        words=_salsa,
        urgent=True,
    ),
    Caution(
        topic="limits of the recipe",
        applies=lambda b: (
            (b.canned or b.method == "fermenting") and bool(limits_of(b.item, b.method))
        ),
        words=_recipe_limits,
        urgent=True,
    ),
    Caution(
        topic="two amounts",
        applies=lambda b: any(one.settled for one in recipe(b.item)),
        words=_settled,
        urgent=True,
    ),
    Caution(
        topic="white flesh",
        applies=lambda b: b.canned and b.item.crop in ("peach", "nectarine"),
        words=_white_flesh,
        urgent=True,
    ),
    Caution(
        topic="winter squash",
        applies=lambda b: b.canned and b.item.handbook == "pumpkin_winter_squash",
        words=_spaghetti_squash,
        urgent=True,
    ),
    Caution(topic="vinegar", applies=lambda b: b.pickle, words=_vinegar, urgent=True),
    Caution(
        topic="venting and rest",
        applies=lambda b: b.method == "pressure",
        words=_vent,
        urgent=True,
    ),
    Caution(
        topic="sterile jars",
        applies=lambda b: b.process is not None and b.process.sterile_jars,
        words=_sterile,
        urgent=True,
    ),
    Caution(
        topic="dried meat", applies=lambda b: b.item.key == "dried_meat", words=_meat, urgent=True
    ),
    Caution(
        topic="fermenting",
        applies=lambda b: b.method == "fermenting",
        words=_fermenting,
        urgent=True,
    ),
    Caution(
        topic="food for the week", applies=lambda b: b.method == "refrigerating", words=_this_week
    ),
    Caution(topic="tested recipes", applies=lambda b: b.canned, words=_tested),
    Caution(topic="boiling water", applies=lambda b: b.method == "boiling_water", words=_water),
    Caution(topic="cooling", applies=lambda b: b.canned, words=_cooling),
    Caution(
        topic="fresh cucumbers",
        applies=lambda b: b.item.crop == "cucumber" and (b.pickle or b.method == "fermenting"),
        words=_cucumber_age,
    ),
    Caution(
        topic="salt",
        applies=lambda b: b.method == "fermenting" or {VINEGAR, "canning salt"} <= b.takes,
        words=_salt,
    ),
    Caution(topic="standing", applies=lambda b: b.canned and b.item.wait_days > 0, words=_standing),
    Caution(topic="use by", applies=lambda b: b.canned, words=_use_by),
    Caution(
        topic="curing",
        applies=lambda b: b.method == "keeping" and b.item.wait_days > 0,
        words=lambda _, mine: (f"Cure first: {curing_words(b.item for b in mine)}.", []),
    ),
    Caution(
        topic="in store",
        applies=lambda b: b.method == "keeping",
        words=lambda home, mine: storing_words(home, (b.item for b in mine)),
        urgent=True,
    ),
    Caution(
        topic="freezing",
        applies=lambda b: b.method == "freezing",
        words=lambda home, mine: freezing_words(home, (b.item for b in mine)),
    ),
    Caution(
        topic="drying",
        applies=lambda b: b.method == "drying" and b.item.key != "dried_meat",
        words=lambda home, mine: drying_words(home, (b.item for b in mine)),
    ),
    Caution(
        topic="squash",
        applies=lambda b: b.item.crop in ("zucchini", "summer squash"),
        words=_squash,
    ),
)

PRACTICE = "common practice, no source"


def cautions(batches: pd.DataFrame, household: Household) -> pd.DataFrame:
    """Return the cautions that apply to some batches.

    Parameters
    ----------
    batches : pandas.DataFrame
        Table BATCHES or OPTIONS (columns product, method, jar and gauge are read).
    household : Household
        Settings: elevation, targets.

    Returns
    -------
    pandas.DataFrame
        Columns topic, caution, applies_to (labels), source, verified (whether every figure in it
        was read in a publication of a government or extension service); safety first.
    """
    planned = _planned(batches, household)
    rows = []
    for caution in sorted(CAUTIONS, key=lambda one: not one.urgent):
        mine = [batch for batch in planned if caution.applies(batch)]
        if not mine:
            continue
        text, rules = caution.words(household, mine)
        rules = list(rules)
        sources = dict.fromkeys(cited(one) for one in rules)
        rows.append(
            {
                "topic": caution.topic,
                "caution": text,
                "applies_to": ", ".join(dict.fromkeys(batch.item.label for batch in mine)),
                "source": "; ".join(sources) or PRACTICE,
                "verified": bool(rules) and all(one["verified"] for one in rules),
            }
        )
    return pd.DataFrame(rows, columns=["topic", "caution", "applies_to", "source", "verified"])


def _planned(batches: pd.DataFrame, household: Household) -> list[PlannedBatch]:
    keys = [
        (
            str(b["product"]),
            str(b["method"]),
            str(b["jar"]),
            None if pd.isna(b.get("gauge")) else str(b["gauge"]),
        )
        for b in batches.to_dict("records")
    ]
    if "dried_meat" in {match_product(name) for name in household.targets}:
        keys.append(("dried_meat", "drying", "pint_dry", None))
    planned = []
    for key, method, jar, gauge in dict.fromkeys(keys):
        item = product(key)
        found = None
        if method in handbook.METHODS:
            try:
                found = handbook.process(
                    item.handbook,
                    jar=real_jar(household, jar),
                    elevation_m=household.elevation_m,
                    method=method,
                    gauge=gauge,
                    pack=item.pack,
                )
            except UnsafeProcessError:
                found = None
        planned.append(PlannedBatch(item=item, method=method, jar=jar, process=found))
    return planned
