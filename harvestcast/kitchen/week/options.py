"""Everything this household could put up this week, one row a way of doing it.

A batch is a canner load, a dryer load, a crock, a freezing session or a dish. Where the
household's pantry book shows that its jars or hours differ from the handbook, the rows carry its
own figures already (:mod:`harvestcast.kitchen.household.learned`): do not apply the factors again.
"""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.errors import UnsafeProcessError
from harvestcast.frames import OPTIONS, check_frame
from harvestcast.kitchen.handbook import process_times as handbook
from harvestcast.kitchen.handbook.amounts import (
    GALLON_L,
    LOOSE_BATCH_KG,
    Amounts,
    amounts,
    best_by_days,
    drying,
    kg_per_gallon,
)
from harvestcast.kitchen.handbook.conditions import NO_CONDITIONS, conditions_of
from harvestcast.kitchen.handbook.own_recipes import own_process, own_recipe
from harvestcast.kitchen.handbook.products import (
    PINTS,
    Product,
    match_product,
    product,
    products,
)
from harvestcast.kitchen.household.demand import targets
from harvestcast.kitchen.household.jars import real_jar, tested_size
from harvestcast.kitchen.household.learned import (
    FactorTable,
    factor_of,
    factor_table,
    learned_factors,
)
from harvestcast.kitchen.household.varieties import doubted_crops, doubts
from harvestcast.kitchen.messages import Said, unsafe
from harvestcast.records.household import Equipment, Household
from harvestcast.units import KG_PER_LB, M2_PER_SQFT

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

NEEDS: dict[str, str] = {
    "boiling_water": "boiling_water_canner",
    "pressure": "pressure_canner",
    "freezing": "freezer",
    "drying": "dryer",
    "fermenting": "crock",
    "keeping": "cool_store",
    "refrigerating": "",
}
"""Equipment that each method needs; nothing beyond a refrigerator for food for the week."""

# Usual loads: rules canner_load (USDA AIB 539, rev. 2015, from memory; the published yield tables
# use the same 7 quarts and 9 pints); half-pints in a pressure canner as pints, one layer.
USUAL_LOAD = {
    "boiling_water_canner": {"half_pint": 12, "pint": 9, "quart": 7},
    "pressure_canner": {"half_pint": 9, "pint": 9, "quart": 7},
}

# Minutes of a canner's cycle beside the process time. Rests are rules rest_before_removal: 5 min
# (Univ. of Florida FCS8250) and 10 min (AIB 539, from memory); venting 10 min (rule pressure_vent,
# from memory). Heating, cooling and unloading are planning estimates.
HEAT_UP_MIN = 30.0
REST_MIN = {"boiling_water": 5.0, "pressure": 10.0}
VENT_MIN = 10.0
COME_UP_TO_PRESSURE_MIN = 10.0
LOSE_PRESSURE_MIN = 40.0
UNLOAD_MIN = 10.0
EXTRA_LOAD_H = 0.25
"""Hands-on hours of a second canner load for the same batch. Planning estimate."""

TRAY_KG_M2 = 1.0 * KG_PER_LB / M2_PER_SQFT
"""Fresh produce on a dryer tray: about a pound a square foot. Common practice, no source."""
TRAY_AREA_M2 = M2_PER_SQFT
"""Area of a tray where it is not stated, a square foot. Planning estimate."""
TRAYS = 4
"""Trays of a dryer where they are not stated. Planning estimate."""
FREEZER_L_PER_PINT = 0.6
"""Freezer space of a pint bag, air between bags included. Planning estimate."""

_REFUSED = ["crop", "product", "label", "method", "jar", "reason", "code", "facts"]


def weekly_options(
    garden: Garden, as_of: object = None, *, all_of: Collection[str] = ()
) -> pd.DataFrame:
    """Return every way of putting up that this household has for its crops.

    Parameters
    ----------
    garden : Garden
        The garden folder. Crops are those planted or picked, and of their products those that a
        target asks for and the usual offers; with no crop at all, the whole catalogue.
    as_of : date-like, optional
        Last day of the pantry book that counts for the household's own factors; left out: all.
    all_of : collection of str
        Crops of which every product of the catalogue is listed.

    Returns
    -------
    pandas.DataFrame
        Table OPTIONS. ``max_age_days`` counts from the day the fruit is ripe.

    Raises
    ------
    ElevationError
        Where the household has a canner but no elevation.

    See Also
    --------
    left_out_options : what is not offered, and why.
    """
    rows, _ = _considered(garden, as_of, all_of)
    if not rows:
        return OPTIONS.empty()
    return check_frame(pd.DataFrame(rows), OPTIONS)


def left_out_options(garden: Garden, as_of: object = None) -> pd.DataFrame:
    """List what this household cannot put up, and why, in its own words.

    Parameters
    ----------
    garden : Garden
        The garden folder.
    as_of : date-like, optional
        As in :func:`weekly_options`.

    Returns
    -------
    pandas.DataFrame
        Columns crop, product, label, method, jar, reason, and what the reason is made of: code,
        facts.
    """
    _, refused = _considered(garden, as_of)
    return pd.DataFrame(refused, columns=_REFUSED)


@dataclass(frozen=True, slots=True, kw_only=True)
class DriedMeat:
    """Dried meat: weight and room in the dryer only; the recipe is not this library's matter.

    Attributes
    ----------
    fresh_per_dried_low, fresh_per_dried_high : float
        Pounds of meat in a pound dried; publications disagree.
    load_kg : float
        Fresh strips in one load of the household's smallest dryer, kg; NaN without a dryer.
    hours : float
        Hours in the dryer, long end of the range.
    safety : str
        The safety step.
    source : str
        Where the figures stand.
    """

    fresh_per_dried_low: float
    fresh_per_dried_high: float
    load_kg: float
    hours: float
    safety: str
    source: str


def dried_meat(household: Household) -> DriedMeat:
    """Return weights, room and the safety step of dried meat.

    Examples
    --------
    >>> dried_meat(Household()).fresh_per_dried_high
    4.0
    """
    rows = handbook.table("drying")
    rows = rows[rows["product"] == "jerky_beef"]
    ratio = rows["ratio_fresh_per_dried"].dropna()
    hours = rows[rows["verified"] & rows["hours_high"].notna()].iloc[0]
    dryers = [piece for piece in household.equipment if piece.kind == "dryer"]
    return DriedMeat(
        fresh_per_dried_low=float(ratio.min()),
        fresh_per_dried_high=float(ratio.max()),
        load_kg=min((dryer_load_kg(piece) for piece in dryers), default=math.nan),
        hours=float(hours["hours_high"]),
        safety=(
            "Heat the meat to 160 F (71 C), poultry to 165 F (74 C), before it is dried; "
            "a dryer alone does not kill what can be in raw meat."
        ),
        source=f"{hours['source']}; weights from memory; heating: USDA hotline, quoted",
    )


def dryer_load_kg(piece: Equipment) -> float:
    """Return the fresh produce that one dryer takes, kg.

    Examples
    --------
    >>> dryer = Equipment(kind="dryer", trays=5, tray_area_m2=0.1)
    >>> round(dryer_load_kg(dryer), 2)
    2.44
    """
    trays = piece.trays or TRAYS
    return trays * (piece.tray_area_m2 or TRAY_AREA_M2) * TRAY_KG_M2


def canner_load(pieces: list[Equipment], jar: str) -> int:
    """Return the jars that any of these canners takes at a time: the smallest load counts.

    A load that the household does not state is the usual one; a canner with load 0 does not take
    the jar at all and is left aside.

    Examples
    --------
    >>> canner_load([Equipment(kind="boiling_water_canner", pints=8)], "quart")
    7
    """
    loads = []
    for piece in pieces:
        stated = getattr(piece, f"{jar}s")
        loads.append(USUAL_LOAD[piece.kind][jar] if stated is None else stated)
    return min((load for load in loads if load > 0), default=0)


def cycle_minutes(method: str, process_min: float) -> float:
    """Return how long one load holds a canner, minutes; cooling on the table does not hold it.

    Examples
    --------
    >>> cycle_minutes("boiling_water", 15.0), cycle_minutes("pressure", 20.0)
    (60.0, 130.0)
    """
    extra = HEAT_UP_MIN + REST_MIN[method] + UNLOAD_MIN
    if method == "pressure":
        extra += VENT_MIN + COME_UP_TO_PRESSURE_MIN + LOSE_PRESSURE_MIN
    return process_min + extra


def _considered(
    garden: Garden, as_of: object, all_of: Collection[str] = ()
) -> tuple[list[dict[str, Any]], list[tuple[Any, ...]]]:
    home = garden.household
    if home.elevation_m is None and any(p.kind.endswith("canner") for p in home.equipment):
        raise unsafe("elevation.canner")
    until = garden.pantry["date"].max() if as_of is None else as_of
    factors = factor_table(learned_factors(garden, until))
    doubted = doubted_crops(doubts(garden))
    grown = set(garden.plantings["crop"]) | set(garden.picks["crop"])
    wanted = targets(home)
    rows: list[dict[str, Any]] = []
    refused: list[tuple[Any, ...]] = []
    for key in products()["key"]:
        item = product(key)
        if item.crop not in grown if grown else item.crop == "meat":
            continue
        # The whole catalogue would make the programme large; who wants more of it sets a target.
        asked = item.offer or wanted.get(key) or item.crop in all_of
        if grown and not asked:
            continue
        own = [one for one in home.recipes if match_product(one.product) == key]
        for method in dict.fromkeys([*item.methods, *(one.method for one in own)]):
            canned = method in handbook.METHODS
            for jar in dict.fromkeys([*item.jars, *(one.jar for one in own if canned)]):
                for pieces in _vessels(home, method):
                    doubt = doubted.get(item.crop) if method in handbook.METHODS else None
                    row: dict[str, Any] | Said = (
                        _option(item, method, jar, pieces, home, factors)
                        if doubt is None
                        else doubt.said
                    )
                    if isinstance(row, Said):
                        names = (item.crop, item.key, item.label, method, jar)
                        refused.append((*names, _refusal(row), row.code, dict(row.facts)))
                    else:
                        rows.append(row)
    return rows, refused


def _refusal(said: Said) -> str:
    """Return a refusal as one line, with the gauge of the canner that it is about."""
    gauge = said.facts.get("canner")
    plain = Said(said.code, {k: v for k, v in said.facts.items() if k != "canner"})
    words = plain.sentence if plain.cure else plain.text
    return f"{gauge} gauge: {words}" if gauge else words


def _vessels(home: Household, method: str) -> list[list[Equipment]]:
    """Return the pieces that do a method, those that are alike together; one group at least."""
    alike: dict[str, list[Equipment]] = {}
    for piece in home.equipment:
        if piece.kind == NEEDS[method]:
            alike.setdefault(piece.vessel, []).append(piece)
    return list(alike.values()) or [[]]


def _option(
    item: Product,
    method: str,
    jar: str,
    pieces: list[Equipment],
    home: Household,
    factors: FactorTable,
) -> dict[str, Any] | Said:
    """Return one row of OPTIONS, done in one kind of vessel, or the reason why there is none."""
    kind = NEEDS[method]
    if kind and not pieces:
        return Said("option.no_equipment", {"kind": kind})
    gauge = pieces[0].gauge if method == "pressure" else None
    known = amounts(item, jar)
    if known is None:
        return Said("option.no_amount")
    jar_factor = factor_of(factors, item.key, "jars")
    row: dict[str, Any] = {
        "option": f"{item.key}/{jar}/{f'{method}_{gauge}' if gauge else method}",
        "crop": item.crop,
        "product": item.key,
        "label": item.label,
        "method": method,
        "jar": jar,
        "pint_jars_per_jar": PINTS[jar],
        "equipment": pieces[0].vessel
        if method in ("boiling_water", "pressure", "drying", "fermenting")
        else "none",
        "equipment_h": 0.0,
        "lids_per_batch": 0.0,
        "freezer_l_per_batch": 0.0,
        "max_age_days": item.max_age_days,
        "takes_oversize": item.takes_oversize,
        "best_by_days": best_by_days(item),
        **NO_CONDITIONS,
        "source": f"amounts: {known.source}; hours: planning estimate",
    }
    loads = 1
    if method in ("boiling_water", "pressure"):
        load = canner_load(pieces, jar)
        if load == 0:
            return Said("option.no_canner_for_jar", {"jar": jar})
        process: handbook.Process | Said = Said("option.no_equipment", {"kind": kind})
        recipe = own_recipe(home.recipes, item, tested_size(home, jar), method, gauge)
        if recipe is not None:
            process = own_process(recipe, home.elevation_m)
        if isinstance(process, Said):
            try:
                process = handbook.process(
                    item.handbook,
                    jar=real_jar(home, jar),
                    elevation_m=home.elevation_m,
                    method=method,
                    gauge=gauge,
                    pack=item.pack,
                )
            except UnsafeProcessError as error:
                return Said(error.code, error.facts | ({"canner": gauge} if gauge else {}))
        jars, loads = _canner_batch(item, known, load, jar_factor)
        if process.jar != jar:
            row["source"] = (
                f"jars of {real_jar(home, jar)} processed as {process.jar} jars; {row['source']}"
            )
        row |= {
            "equipment_h": loads * cycle_minutes(method, process.minutes) / 60,
            "lids_per_batch": jars,
            **conditions_of(process).columns(),
            "source": f"process: {process.source}; {row['source']}",
        }
    elif method == "drying":
        dried = drying(item)
        if dried is None:
            return Said("option.no_drying_time")
        jars = min(dryer_load_kg(piece) for piece in pieces) / known.kg_per_jar * jar_factor
        row |= {"equipment_h": dried.hours, "source": f"drying: {dried.source}; {row['source']}"}
    elif method == "fermenting":
        gallons = min(float(piece.free_l or 0.0) for piece in pieces) / GALLON_L
        jars = gallons * kg_per_gallon(item) / known.kg_per_jar * jar_factor
        row["equipment_h"] = 24 * item.wait_days
    elif method == "keeping":
        jars = LOOSE_BATCH_KG
        jar_factor = 1.0
    else:
        jars = known.recipe_jars * (1.0 if method == "freezing" else jar_factor)
        if method == "freezing":
            row["freezer_l_per_batch"] = jars * PINTS[jar] * FREEZER_L_PER_PINT
    kg = jars * known.kg_per_jar / jar_factor
    hours = item.fixed_h + item.h_per_kg * kg + EXTRA_LOAD_H * (loads - 1)
    return row | {
        "kg_per_batch": kg,
        "jars_per_batch": jars,
        "hands_on_h": hours * factor_of(factors, item.key, "hours"),
    }


def _canner_batch(item: Product, known: Amounts, load: int, factor: float) -> tuple[float, int]:
    """Return jars and canner loads of a batch: whole recipes where they fit, else one full load.

    A recipe that must not be divided must not be doubled either: its batch is one recipe.
    """
    if math.isnan(known.recipe_jars):
        return float(load), 1
    recipe = known.recipe_jars * factor
    if item.whole_recipe:
        return recipe, math.ceil(recipe / load - 1e-9)
    # A pickle recipe can be divided to fit the canner.
    return (math.floor(load / recipe + 1e-9) * recipe, 1) if recipe <= load else (float(load), 1)
