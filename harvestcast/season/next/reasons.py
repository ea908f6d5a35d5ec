"""Why every row of a plan is there, and which varieties stay, go or get another try.

A row is told from the others of its crop: it comes first, lasts longest, brings most for its bed,
or stands in when the best one has a bad year. A variety that is left out is held against the best
one that is not, bed for bed, season by season; it goes only where it hardly ever wins.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import STAYING
from harvestcast.season.messages import Said, said
from harvestcast.season.next.futures import SeasonFutures
from harvestcast.season.next.options import PlantingOption
from harvestcast.season.yields.plantings import Unit

DAYS_APART = 5.0
"""Days between the first or last picks of two rows from which one is called earlier or longer."""
NEVER_WINS = 0.1
"""Chance of bringing more than the best of its crop below which a variety goes. Our judgement."""
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
) -> pd.DataFrame:
    """Return which varieties stay, go or get another try, and on what evidence (STAYING).

    Parameters
    ----------
    options, plants, drawn, units
        As for :func:`row_reasons`.
    logged : mapping of str to sequence of Unit
        Plantings of whole seasons, by crop.
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
        best = max(rivals, key=lambda i: (mean[i], -i)) if rivals else None
        chance = float((a_metre[:, own] > a_metre[:, best]).mean()) if best is not None else np.nan
        if plants[mine].sum() > 0:
            verdict, code = "keep", "staying.keep"
        elif best is None:
            verdict, code = "try_again", "staying.no_use"
        elif chance < NEVER_WINS:
            verdict, code = "drop", "staying.drop"
        else:
            verdict, code = "try_again", "staying.try_again"
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
