"""Why rows are in a plan and varieties are not, and why targets are missed.

A row is told from the others of its crop: it comes first, lasts longest, brings most for its bed,
or stands in when the best one has a bad year. A variety that is left out is held against the best
one that is not, bed for bed, season by season; it goes only where it hardly ever wins.

Of a target that falls short each limit is lifted in turn, on the same futures, and more plants,
sooner picks and longer keeping are tried.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from harvestcast.arrays import Array, Flags
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import STAYING
from harvestcast.season.kitchen_year import KitchenYear
from harvestcast.season.messages import Said, said
from harvestcast.season.next.futures import SeasonFutures
from harvestcast.season.next.goals import Goals
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.next.programme import Choices
from harvestcast.season.next.search import Outcome, area_by_crop, area_taken, most_at_once, outcome
from harvestcast.season.verdict import judge
from harvestcast.season.yields.plantings import Unit

HELPS = 0.02
"""Gain in the probability met from which a limit counts as binding. Our judgement."""
MORE = (1.1, 1.25, 1.5, 2.0, 3.0, 5.0)
"""Times the plants of a crop that are tried for a target that falls short."""
LATER = 3
"""Weeks by which a half of a sown crop is tried to come later, while its plants still bear."""
SOONER = 2
"""Weeks that a crop is tried to come sooner, or to keep longer."""
WORTH_SAYING = 0.05
"""Gain in the probability met from which something is said to help. Our judgement."""
SPARE_M2 = 0.5
"""Bed area beyond the plan's below which the beds count as full. [m2]"""


def binding_limits(
    futures: Array,
    plants: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    mine: Outcome,
    probability: float,
) -> dict[int, tuple[str, ...]]:
    """Name the limits of every target that falls short.

    Parameters
    ----------
    futures : ndarray, shape (futures, weeks, options)
        Picked each week of one plant. [kg]
    plants : ndarray, shape (options,)
        The plan.
    kitchen, choices, goals
        The kitchen, what can be planted, targets and prices.
    mine : Outcome
        The plan on these futures.
    probability : float
        Wanted.

    Returns
    -------
    dict of int to tuple of str
        Target (products first, then fresh) to the codes of the limits that bind
        (:mod:`harvestcast.season.messages`).
    """
    short = np.flatnonzero(np.nan_to_num(mine.reliability, nan=1.0) < probability - HELPS)
    if not len(short):
        return {}
    free = _lifted(kitchen)
    gains = {
        name: outcome(futures, plants, one, choices, goals).reliability - mine.reliability
        for name, one in free.items()
    }
    more = _more_plants(futures, plants, kitchen, choices, goals, mine)
    found: dict[int, tuple[str, ...]] = {}
    for target in short.tolist():
        names = [name for name, gain in gains.items() if name != ALL and gain[target] >= HELPS]
        if not names and gains[ALL][target] >= HELPS:
            names = ["limit.kitchen"]
        crop = _crop_of(target, kitchen)
        if more[target] >= HELPS:
            names.append(_why_no_more(crop, plants, choices))
        found[target] = tuple(names) or ("limit.season",)
    return found


ALL = "all"


def _lifted(kitchen: KitchenYear) -> Mapping[str, KitchenYear]:
    endless = np.full_like(kitchen.hours, 1e6)
    gear = np.full_like(kitchen.equipment_h, 1e6)
    return {
        "limit.hours": replace(kitchen, hours=endless),
        "limit.equipment": replace(kitchen, equipment_h=gear),
        "limit.freezer": replace(kitchen, freezer_l=float("inf")),
        ALL: replace(kitchen, hours=endless, equipment_h=gear, freezer_l=float("inf")),
    }


def _crop_of(target: int, kitchen: KitchenYear) -> int:
    products = len(kitchen.products)
    if target >= products:
        return target - products
    return int(kitchen.method_crop[np.flatnonzero(kitchen.method_product == target)[0]])


def _more_plants(
    futures: Array,
    plants: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    mine: Outcome,
) -> Array:
    """Return what twice the plants of every crop add to each target, beds and limits aside."""
    options = np.arange(len(plants))
    twice = 2.0 * plants
    for crop in range(len(kitchen.crops)):
        own = options[choices.crop == crop]
        if len(own) and not twice[own].any():
            # None is planted: the most that is allowed, or a bed of ten square metres.
            most, bed = choices.high[own[0]], 10.0 / max(choices.area_m2[own[0]], 1e-6)
            twice[own[0]] = max(most if np.isfinite(most) else bed, choices.step[own[0]])
    done = outcome(futures, twice, kitchen, choices, goals)
    return np.asarray(np.nan_to_num(done.reliability - mine.reliability))


def _why_no_more(crop: int, plants: Array, choices: Choices) -> str:
    own = np.flatnonzero(choices.crop == crop)
    if len(own) and (choices.low[own] > 0).all():
        return "limit.standing"
    groups = np.unique(choices.group[own])
    room = [plants[choices.group == g].sum() < choices.group_high[g] - 1e-9 for g in groups]
    if len(own) and not any(room):
        return "limit.most"
    step = float((choices.area_m2 * choices.step)[own].min(initial=np.inf))
    free = choices.room_m2 - area_taken(plants, choices)
    spare = float(free[choices.stands[own].any(axis=0)].min(initial=np.inf))
    if spare < max(SPARE_M2, step):
        return "limit.bed"
    return "limit.not_worth"


@dataclass(frozen=True, slots=True, kw_only=True)
class Remedy:
    """What would help a target that falls short.

    Parameters
    ----------
    plants, area_m2 : float
        Plants of its crop beyond the plan's, and their bed, with which it would be met as often as
        wished; NaN where no number of plants meets it.
    helps : tuple of str
        Codes of what else would help.
    """

    plants: float
    area_m2: float
    helps: tuple[str, ...]


def remedies(
    targets: Sequence[int],
    futures: Array,
    plants: Array,
    kitchen: KitchenYear,
    choices: Choices,
    goals: Goals,
    mine: Outcome,
    probability: float,
    again: Flags | None = None,
) -> dict[int, Remedy]:
    """Return what would help targets that fall short, tried on possible seasons.

    Parameters
    ----------
    targets : sequence of int
        Those that fall short: products first, then fresh.
    futures, plants, kitchen, choices, goals, mine, probability
        As for :func:`binding_limits`.
    again : ndarray of bool, shape (options,), optional
        Options of which another sowing may be made; left out: none.
    """
    if not len(targets):
        return {}
    crops = {_crop_of(target, kitchen) for target in targets}
    theirs = np.isin(choices.crop, sorted(crops))
    times = np.full(len(targets), np.nan)
    for factor in MORE:
        more = np.where(theirs, factor * plants, plants)
        met = outcome(futures, more, kitchen, choices, goals).reliability[list(targets)]
        times = np.where(np.isnan(times) & (met >= probability - HELPS), factor, times)
    sooner = futures.copy()
    sooner[:, :-SOONER, theirs], sooner[:, -SOONER:, theirs] = futures[:, SOONER:, theirs], 0.0
    every = replace(goals, fresh_weeks=np.ones_like(goals.fresh_weeks))
    longer = replace(kitchen, keep_weeks=kitchen.keep_weeks + SOONER)
    base = outcome(futures, plants, kitchen, choices, every).reliability
    tried = {
        "help.sooner": outcome(sooner, plants, kitchen, choices, every).reliability - base,
        "help.keeps": outcome(futures, plants, longer, choices, goals).reliability
        - mine.reliability,
    }
    if again is not None and (again & theirs).any():
        later = _half_later(futures, again & theirs)
        tried["help.later"] = (
            outcome(later, plants, kitchen, choices, goals).reliability - mine.reliability
        )
    found = {}
    for target, factor in zip(targets, times.tolist(), strict=True):
        own = (choices.crop == _crop_of(target, kitchen)) * (factor - 1.0) * plants
        found[target] = Remedy(
            plants=float(np.ceil(own.sum())),
            area_m2=float(own @ choices.area_m2),
            helps=tuple(code for code, gain in tried.items() if gain[target] >= WORTH_SAYING),
        )
    return found


def _half_later(futures: Array, which: Flags) -> Array:
    """Return futures in which half of some options comes later, as long as the first half bears."""
    out = futures.copy()
    mine = futures[:, :, which]
    moved = np.zeros_like(mine)
    moved[:, LATER:] = mine[:, :-LATER]
    weeks = np.arange(mine.shape[1])[:, None]
    last = np.where(mine > 0, weeks, -1).max(axis=1, keepdims=True)
    out[:, :, which] = 0.5 * mine + 0.5 * np.where(weeks <= last, moved, 0.0)
    return out


def binding_line(found: Mapping[int, tuple[str, ...]], labels: Sequence[str]) -> Said:
    """Return the limits, each with the targets it holds back.

    Examples
    --------
    >>> found = {0: ("limit.bed",), 1: ("limit.hours",)}
    >>> binding_line(found, ["pickles", "salsa"]).text
    'What holds targets back: the bed area (pickles); kitchen hours (salsa).'
    """
    by_limit: dict[tuple[str, ...], list[str]] = {}
    for target, limits in found.items():
        by_limit.setdefault(limits, []).append(labels[target])
    return said("plan.binds", limits=tuple(by_limit.items()))


NAMED = 4
"""Crops and targets named at most."""
LEAST_WORTH_SAYING = 0.05
"""Share of a target below which it helps nobody to hear how far it could be lowered."""


def bed_by_crop(plants: Array, choices: Choices, crops: int) -> Array:
    """Return the most bed area each crop takes at a time, shape (crops,). [m2]."""
    return np.asarray(area_by_crop(plants, choices, crops).max(axis=1, initial=0.0))


def comments(
    binds: Mapping[int, tuple[str, ...]],
    plants: Array,
    unlimited: Array | None,
    kitchen: KitchenYear,
    choices: Choices,
    units: str,
    help_of: Mapping[int, Remedy],
) -> dict[int, Said]:
    """Return why targets fall short, and what would help.

    Parameters
    ----------
    binds : mapping of int to tuple of str
        Target to limits, see :func:`binding_limits`.
    help_of : mapping of int to Remedy
        What would help, see :func:`remedies`.
    plants, unlimited : ndarray, shape (options,)
        The plan, and the layout without the limit of the bed area; None where that does not bind.
    kitchen, choices
        The kitchen and what can be planted.
    units : str
        The household's: ``us`` or ``metric``.
    """
    more = np.zeros(len(kitchen.crops))
    if unlimited is not None:
        now, wanted = (bed_by_crop(one, choices, len(more)) for one in (plants, unlimited))
        more = wanted - now
    of_crop = kitchen.target_crops
    return {
        target: said(
            "target.falls_short",
            limits=limits,
            more_m2=float(more[of_crop[target]]) if "limit.bed" in limits else 0.0,
            units=units,
            plants=help_of[target].plants,
            area=help_of[target].area_m2,
            helps=help_of[target].helps,
        )
        for target, limits in binds.items()
    }


def shortage_lines(
    plants: Array,
    unlimited: Array | None,
    kitchen: KitchenYear,
    choices: Choices,
    mine: Outcome,
    probability: float,
    units: str,
) -> list[Said]:
    """Return how much bed is missing, which crops gave up most and what would be met instead.

    Parameters
    ----------
    plants, unlimited : ndarray, shape (options,)
        The plan, and the layout without the limit of the bed area; None where that does not bind.
    kitchen, choices
        The kitchen and what can be planted.
    mine : Outcome
        The plan on fresh futures.
    probability : float
        Wanted of every target.
    units : str
        The household's: ``us`` or ``metric``.
    """
    if unlimited is None:
        return []
    crops = len(kitchen.crops)
    now, wanted = (bed_by_crop(one, choices, crops) for one in (plants, unlimited))
    total = most_at_once(unlimited, choices)
    less = wanted - now
    there = choices.bed_m2 + (choices.glass_m2 or 0.0)
    order = [int(c) for c in np.argsort(-less) if less[c] > max(0.5, 0.1 * wanted[c])][:NAMED]
    gave = [(kitchen.crops[c], float(now[c]), float(wanted[c])) for c in order]
    short = np.nan_to_num(mine.reliability, nan=1.0) < probability - 0.02
    short &= np.isin(kitchen.target_crops, order)
    can = 1.0 - np.quantile(mine.short, probability, axis=0)
    lower = [
        (kitchen.target_labels[target], float(can[target]))
        for target in np.argsort(can, kind="stable").tolist()
        if short[target] and can[target] >= LEAST_WORTH_SAYING
    ][:NAMED]
    return [
        said("beds.short", units=units, there=there, wanted=total, gave=gave),
        said("beds.mend", units=units, probability=probability, lower=lower),
    ]


DAYS_APART = 5.0
"""Days between the first or last picks of two rows from which one is called earlier or longer."""
POOR = 0.25
"""Share of the seasons that are the poorest of a row."""


def row_reasons(
    options: Sequence[PlantingOption], plants: Array, drawn: SeasonFutures, units: str
) -> dict[int, Said]:
    """Return why each planted option is there.

    Parameters
    ----------
    options : sequence of PlantingOption
        What could be planted.
    plants : ndarray, shape (options,)
        The plan.
    drawn : SeasonFutures
        Possible seasons of one plant each.
    units : str
        The household's: ``us`` or ``metric``.

    Returns
    -------
    dict of int to Said
        By place in ``options``; rows of one crop are told apart from each other.
    """
    rows = np.flatnonzero(plants > 0).tolist()
    area = np.array([option.area_m2 for option in options])
    kg = drawn.per_plant.sum(axis=1)  # (draws, options)
    yields = kg.mean(axis=0) / area
    first, last = (_middle(days) for days in (drawn.first_pick, drawn.last_pick))
    found: dict[int, Said] = {}
    for row in rows:
        option = options[row]
        others = [o for o in rows if options[o].crop == option.crop and o != row]
        if option.standing or not others:
            found[row] = said("row.stands" if option.standing else "row.alone")
            continue
        earliest = min(others, key=lambda o: (first[o], o))
        longest = max(others, key=lambda o: (last[o], -o))
        best = max(others, key=lambda o: (yields[o], -o))
        if first[row] <= first[earliest] - DAYS_APART:
            days = round(first[earliest] - first[row])
            found[row] = said("row.first", days=days, other=_name(options, earliest, row))
        elif last[row] >= last[longest] + DAYS_APART:
            days = round(last[row] - last[longest])
            found[row] = said("row.longest", days=days, other=_name(options, longest, row))
        elif yields[row] >= yields[best]:
            found[row] = said(
                "row.yields", units=units, other=_name(options, best, row),
                kg_m2=float(yields[row]), other_kg_m2=float(yields[best]),
            )  # fmt: skip
        else:
            poor = kg[:, best] <= np.quantile(kg[:, best], POOR)
            holds = float((kg[poor, row] >= np.median(kg[:, row])).mean())
            found[row] = said("row.stands_in", other=_name(options, best, row), share=holds)
    return found


def _middle(days: Array) -> Array:
    """Return the median day of each option, inf where nothing comes in half of the seasons."""
    known = np.isfinite(days)
    enough = known.mean(axis=0) >= 0.5
    middle = np.full(days.shape[1], np.inf)
    middle[enough] = np.nanmedian(days[:, enough], axis=0)
    return middle


def _name(options: Sequence[PlantingOption], other: int, row: int) -> str | pd.Timestamp:
    """Return the other row's variety; its day where both are sowings of one variety."""
    same = options[other].variety == options[row].variety
    return options[other].date if same else options[other].variety


def staying_table(
    options: Sequence[PlantingOption],
    plants: Array,
    drawn: SeasonFutures,
    logged: Mapping[str, Sequence[Unit]],
    units: str,
    *,
    full: bool = False,
) -> pd.DataFrame:
    """Return which varieties stay, go or get another try, and on what evidence (STAYING).

    Parameters
    ----------
    options, plants, drawn, units
        As for :func:`row_reasons`.
    logged : mapping of str to sequence of Unit
        Plantings of whole seasons, by crop.
    full : bool
        Whether the beds are full.
    """
    area = np.array([option.area_m2 for option in options])
    a_metre = drawn.per_plant.sum(axis=1) / area  # (draws, options)
    mean = a_metre.mean(axis=0)
    kinds = sorted({(o.crop, o.variety) for o in options if not o.standing})
    rows = []
    for crop, variety in kinds:
        mine = [i for i, o in enumerate(options) if (o.crop, o.variety) == (crop, variety)]
        kept = [i for i, o in enumerate(options) if o.crop == crop and plants[i] > 0]
        own = max(mine, key=lambda i: (plants[i] * area[i], mean[i], -i))
        units_of = [u for u in logged.get(crop, ()) if u.variety == variety]
        evidence = {
            "seasons": len({u.year for u in units_of}),
            "plants": float(sum(u.plants for u in units_of)),
        }
        rivals = [i for i in kept if options[i].variety != variety]
        found = judge(a_metre, own, rivals, planted=bool(plants[mine].sum() > 0))
        verdict, best, chance = found.verdict, found.against, found.chance
        code = f"staying.{verdict}"
        if verdict == "try_again" and best is None:
            code = "staying.no_bed" if full else "staying.no_use"
        line = said(
            code,
            units=units,
            kg_m2=float(mean[own]),
            other=options[best].variety if best is not None else "",
            other_kg_m2=float(mean[best]) if best is not None else np.nan,
            chance=chance,
            **evidence,
        )
        rows.append(
            {
                "crop": crop,
                "variety": variety,
                "verdict": verdict,
                "plants": float(plants[mine].sum()),
                "this_year": float(sum(options[i].this_year for i in mine)),
                "kg_per_m2": float(mean[own]),
                "against": options[best].variety if best is not None else None,
                "against_kg_per_m2": float(mean[best]) if best is not None else np.nan,
                "chance_better": chance,
                "seasons_logged": evidence["seasons"],
                "plants_logged": evidence["plants"],
                "code": code,
                "says": line.text,
            }
        )
    return check_frame(pd.DataFrame(rows, columns=STAYING.names), STAYING)
