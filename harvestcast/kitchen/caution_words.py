"""The words of the cautions, with the rules their figures come from."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any

import pandas as pd

from harvestcast.kitchen import handbook
from harvestcast.kitchen.amounts import drying, yield_row
from harvestcast.kitchen.catalogue import Product
from harvestcast.kitchen.options import dried_meat
from harvestcast.records.household import Household

GUIDE = "USDA, Complete Guide to Home Canning, Agriculture Information Bulletin 539"

Rule = dict[str, Any]


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
    def recipe(self) -> dict[str, Any]:
        """Row of the yield table; empty where there is none."""
        return (yield_row(self.item) or {}) if self.canned or self.method == "fermenting" else {}

    @property
    def pickle(self) -> bool:
        """Whether its recipe takes vinegar."""
        return pd.notna(self.recipe.get("vinegar_5pct_cups"))


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """One caution: when it applies, and its words with the rules they rest on."""

    topic: str
    applies: Callable[[PlannedBatch], bool]
    words: Callable[[Household, list[PlannedBatch]], tuple[str, Iterable[Rule]]]
    urgent: bool = False


@cache
def _rules() -> tuple[Rule, ...]:
    frame = handbook.table("rules")
    return tuple({str(k): v for k, v in row.items()} for row in frame.to_dict("records"))


def _rule(name: str, subject: str = "", condition: str = "") -> Rule:
    """Return the best-read rule of a name."""
    mine = [
        rule
        for rule in _rules()
        if rule["rule"] == name
        and rule["subject"].startswith(subject)
        and str(rule["condition"]).startswith(condition)
    ]
    if not mine:
        raise KeyError((name, subject, condition))
    return max(mine, key=lambda rule: rule["verified"])


def _value(rule: Rule) -> str:
    return f"{float(rule['value']):g}"


def _tested(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Follow the tested recipe to the letter and check it with your local extension service; "
        "this plan gives times and amounts, not recipes.",
        [_as_rule(GUIDE)],
    )


def _as_rule(source: str) -> Rule:
    return {"source": source, "standing": "published", "verified": True}


def _altitude(household: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    feet = handbook.elevation_in_feet(household.elevation_m)
    bands: dict[str, None] = {}
    for batch in mine:
        if batch.process:
            low, high = batch.process.band
            bands[
                f"above {low - 1:,.0f} ft"
                if high == float("inf")
                else f"{low:,.0f} to {high:,.0f} ft"
            ] = None
    return (
        f"Times and pressures are those for {feet:,} ft ({household.elevation_m:,.0f} m), from the "
        f"bands {', '.join(bands)} of the tables. Cooking anywhere higher needs another row.",
        [_as_rule("the table named beside each batch")],
    )


def _botulism(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Low-acid food: only under pressure, for the whole time at the whole pressure. Botulism "
        "cannot be seen, smelt or tasted; if pressure fell, begin the time again, and throw "
        "away any jar that leaks, bulges, spurts or smells wrong without tasting it.",
        [{"source": GUIDE, "standing": "memory", "verified": False}],
    )


def _vent(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    vent, rest = _rule("pressure_vent"), _rule("rest_before_removal", "pressure")
    return (
        f"Let the pressure canner vent steam for {_value(vent)} minutes before it is closed; start "
        "the clock when the pressure is reached. Let it lose pressure by itself, then wait "
        f"{_value(rest)} minutes before the lid comes off. Read your canner's manual.",
        [vent, rest],
    )


def _sterile(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    under, boil = _rule("sterile_jars_when_under"), _rule("sterilize_boil")
    more = _rule("sterilize_boil_add")
    return (
        f"Jars processed for less than {_value(under)} minutes must be sterile: boil them "
        f"{_value(boil)} minutes below 1,000 ft, and {_value(more)} minute more for every further "
        "1,000 ft.",
        [under, boil, more],
    )


def _tomato_acid(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    lemon = _rule("acidify_lemon_juice", "tomato", "per quart")
    citric = _rule("acidify_citric", "tomato", "per quart")
    pint = _rule("acidify_lemon_juice", "tomato", "per pint")
    citric_pint = _rule("acidify_citric", "tomato", "per pint")
    pressure = _rule("acidify_also_for_pressure")
    return (
        f"Acidify every jar of tomatoes: {_value(lemon)} tablespoons of bottled lemon juice or "
        f"{_value(citric)} teaspoon of citric acid a quart, {_value(pint)} tablespoon or "
        f"{_value(citric_pint)} teaspoon a pint; under pressure too.",
        [lemon, citric, pint, citric_pint, pressure],
    )


def _salsa(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Salsa: bottled lemon or lime juice only, never fresh or vinegar in its place; the share "
        "of onions and peppers must not be raised.",
        [mine[0].recipe],
    )


def _vinegar(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    rules = [_rule("vinegar_acidity"), _rule("do_not_dilute")]
    return (
        f"Vinegar of {_value(rules[0])} % acidity or more; never less vinegar or more water than "
        "the recipe says.",
        rules,
    )


def _salt(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    rule = _rule("salt_use")
    return (
        "Canning or pickling salt; salt with anti-caking agent clouds the brine. In a fermented "
        "pickle the salt keeps it safe: do not cut it.",
        [rule],
    )


def _water(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    cover, long = _rule("water_above_jars"), _rule("water_above_jars", condition="processing over")
    rest = _rule("rest_before_removal", "boiling_water")
    raw = _rule("preheat_water", condition="raw")
    hot = _rule("preheat_water", condition="hot")
    return (
        f"Boiling-water canner: water at {_value(raw)} F for raw packs and {_value(hot)} F for hot "
        f"packs when the jars go in, at least {_value(cover)} inch over them all the time "
        f"({_value(long)} where the process is over 30 minutes). Heat off and lid off, wait "
        f"{_value(rest)} minutes, then lift the jars out.",
        [cover, long, rest, raw, hot],
    )


def _cooling(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    low = _rule("cooling_undisturbed", condition="minimum")
    high = _rule("cooling_undisturbed", condition="maximum")
    return (
        f"Leave the jars alone for {_value(low)} to {_value(high)} hours while they cool, then "
        "test every seal; a jar that did not seal goes into the refrigerator.",
        [low, high],
    )


def _cucumber_age(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    delay, end = _rule("pickling_delay"), _rule("blossom_end")
    return (
        f"Pickle cucumbers within {_value(delay)} hours of the pick, and cut "
        "1/16 inch off the blossom end, which holds what softens pickles.",
        [delay, end],
    )


def _standing(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    rule = _rule("pickle_wait")
    waits = {f"{batch.item.label}: {batch.item.wait_days / 7:g} weeks" for batch in mine}
    return (
        "Pickles are at their best after standing; do not open them too early "
        f"({'; '.join(sorted(waits))} or so).",
        [rule],
    )


def _fermenting(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    warm, cool = _rule("ferment_time", "dill"), _rule("ferment_time_cool")
    hold, crock = _rule("fermented_hold"), _rule("crock_capacity")
    return (
        f"Fermenting: about {_value(warm)} days at 70 to 75 F, {_value(cool)} at 55 to 65 F, the "
        "cucumbers under the brine and the scum taken off daily; throw the lot away if it turns "
        f"soft, slimy or foul. Then {_value(hold)} months in the refrigerator. A gallon holds "
        f"{_value(crock)} lb at most.",
        [warm, cool, hold, crock],
    )


def _use_by(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    year = _rule("shelf_quality", "canned")
    low = _rule("shelf_temp", condition="best range low")
    high = _rule("shelf_temp", condition="best range high")
    return (
        f"Label each jar with product and date; best within {_value(year)} months, kept dark and "
        f"dry at {_value(low)} to {_value(high)} F.",
        [year, low, high],
    )


def _freezing(household: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    cold, more = _rule("freezer_temp"), _rule("blanch_altitude_add")
    rules, text = [cold], f"Freezer at {_value(cold)} F (-18 C) or below; "
    if (household.elevation_m or 0.0) >= 5000 * handbook.FOOT_M:
        rules.append(more)
        text += f"blanch {_value(more)} minute longer at this elevation; "
    return text + "cool blanched produce fast and freeze it at once.", rules


def _drying(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    groups: dict[str, dict[str, None]] = {}
    for batch in mine:
        found = drying(batch.item)
        if found is not None:
            groups.setdefault(f"{found.temperature_f:g} F", {})[batch.item.label] = None
    parts = [f"at {degrees} {', '.join(labels)}" for degrees, labels in groups.items()]
    kept = _rule("dried_storage")
    return (
        f"Drying: {'; '.join(parts)}. Test until leathery or brittle, condition for a week in a "
        f"closed jar, keep cool, dark and dry. Most dried vegetables keep {_value(kept)} months.",
        [kept],
    )


def _meat(household: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    rules = [
        _rule("jerky_heat", "jerky", "beef"),
        _rule("jerky_heat_poultry"),
        _rule("jerky_dry_temp"),
    ]
    thick = _rule("jerky_thickness")
    return (
        f"Dried meat: {dried_meat(household).safety} Strips of {_value(thick)} inch at most, dried "
        f"at {_value(rules[2])} F or more.",
        [*rules, thick],
    )


def _this_week(_: Household, mine: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    days = min(batch.item.best_by_days for batch in mine)
    return f"No shelf life: keep it in the refrigerator and eat it within {days:g} days.", []


def _squash(_: Household, __: list[PlannedBatch]) -> tuple[str, list[Rule]]:
    return (
        "Summer squash and zucchini are not canned plain: no tested process exists. Pickled by the "
        "tested recipe, frozen or dried they are fine.",
        [_rule("summer_squash_canning")],
    )


def _is_canned(batch: PlannedBatch) -> bool:
    return batch.canned


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
        topic="acid in tomatoes",
        applies=lambda b: (
            b.canned and b.item.crop == "tomato" and b.item.handbook != "choice_salsa"
        ),
        words=_tomato_acid,
        urgent=True,
    ),
    Caution(
        topic="acid in salsa",
        applies=lambda b: b.canned and b.item.handbook == "choice_salsa",
        words=_salsa,
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
    Caution(topic="tested recipes", applies=_is_canned, words=_tested),
    Caution(topic="boiling water", applies=lambda b: b.method == "boiling_water", words=_water),
    Caution(topic="cooling", applies=_is_canned, words=_cooling),
    Caution(
        topic="fresh cucumbers",
        applies=lambda b: b.item.crop == "cucumber" and (b.pickle or b.method == "fermenting"),
        words=_cucumber_age,
    ),
    Caution(topic="salt", applies=lambda b: b.pickle or b.method == "fermenting", words=_salt),
    Caution(
        topic="standing",
        applies=lambda b: b.canned and b.item.wait_days > 0,
        words=_standing,
    ),
    Caution(topic="use by", applies=_is_canned, words=_use_by),
    Caution(topic="freezing", applies=lambda b: b.method == "freezing", words=_freezing),
    Caution(
        topic="drying",
        applies=lambda b: b.method == "drying" and b.item.key != "dried_meat",
        words=_drying,
    ),
    Caution(
        topic="squash",
        applies=lambda b: b.item.crop in ("zucchini", "summer squash"),
        words=_squash,
    ),
)
