"""What the kitchen cannot take: surplus per crop and week, why, and a use for all of it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.arrays import Array, Flags
from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.kitchen.handbook.amounts import recipe
from harvestcast.kitchen.handbook.products import jars_in_words, product
from harvestcast.kitchen.messages import Said
from harvestcast.kitchen.solve.follow import follow
from harvestcast.kitchen.solve.inputs import ProgrammeInputs
from harvestcast.kitchen.week.balance import Account, account_for
from harvestcast.records.typed.crops import canonical_crop

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

BEATEN_KG = 0.1
"""A week beats capacity where more than this much of its picks spoils."""

LATER_SPANS = (4, 3, 4, 3, 4, 3, 4)
"""Days taken together after three decided days: spans end with the weeks."""


def followed_ahead(inputs: ProgrammeInputs, shared: Array) -> tuple[Account, Array]:
    """Follow the plan's batches through all weeks.

    Parameters
    ----------
    inputs : ProgrammeInputs
        Draws over all weeks of the outlook.
    shared : numpy.ndarray
        Shared columns of the plan.

    Returns
    -------
    account : Account
        Where the fruit goes.
    hours : numpy.ndarray, shape (draws,)
        Hands-on hours of the first week that are used. [h]
    """
    followed = follow(inputs, shared, buy_again=True)
    account = account_for(followed)
    soon = [number for number, (first, _) in enumerate(inputs.spans) if first < 7]
    columns = followed.plan.put_up[0, soon]
    used = np.where(columns >= 0, account.used[:, columns], 0.0).sum(axis=(1, 3))
    table = inputs.options
    per_kg = (table["hands_on_h"] / table["kg_per_batch"]).to_numpy(float)
    return account, np.asarray(used @ per_kg)


def surplus_frame(
    inputs: ProgrammeInputs, account: Account, as_of: pd.Timestamp, weeks: int
) -> pd.DataFrame:
    """Return the surplus of every crop and week.

    Parameters
    ----------
    inputs : ProgrammeInputs
        Draws over all weeks of the outlook.
    account : Account
        Of :func:`followed_ahead`.
    as_of : pandas.Timestamp
        Last day known; week 1 is the seven days after it.
    weeks : int
        Weeks of the outlook.

    Returns
    -------
    pandas.DataFrame
        Table SURPLUS.

    Notes
    -----
    In each draw the kitchen does the best it can for that draw, at the household's own prices:
    batches as decided on the decided days, part batches as hours and equipment allow later on.
    What then spoils of a week's picks (week 1: also of what was on hand) is that week's surplus
    in that draw. The kitchen knows the draw beforehand here, so this is what will be left over
    whatever it does, and a real season leaves somewhat more. ``p_beats_capacity`` is the share
    of draws in which that is more than a tenth of a kilogram.
    """
    back, rows = inputs.back, []
    for number, crop in enumerate(inputs.crops):
        lost = account.surplus[:, inputs.lane_crop == number].sum(axis=1)
        for week in range(weeks):
            first = 0 if week == 0 else back + 7 * week
            kg = np.clip(lost[:, first : back + 7 * week + 7].sum(axis=1), 0.0, None)
            start = as_of + pd.Timedelta(days=7 * week + 1)
            row = {
                "crop": crop,
                "week": week + 1,
                "start": start,
                "end": start + pd.Timedelta(days=6),
                "mean_kg": float(inputs.weights @ kg),
                "p_beats_capacity": float(inputs.weights @ (kg > BEATEN_KG)),
            }
            levels = np.quantile(kg, frames.QUANTILES)
            row |= dict(zip(frames.quantile_columns("kg"), map(float, levels), strict=True))
            rows.append(row)
    if not rows:
        return frames.SURPLUS.empty()
    table = pd.DataFrame(rows)
    table["p_beats_capacity"] = table["p_beats_capacity"].clip(0.0, 1.0)
    return frames.check_frame(table, frames.SURPLUS)


USED_KG = 0.25
"""Less left over than this, in the mean over draws, asks for no answer."""
TIGHT = 0.9
"""Share of the week's hours from which on there are none left."""
STANDS = frozenset({"cut_again", "once_over"})
"""Habits of crops that can be left where they grow for a week: leaves, roots, squash."""


def uses_of_surplus(
    inputs: ProgrammeInputs,
    account: Account,
    hours: Array,
    every_option: pd.DataFrame,
    units: str,
) -> pd.DataFrame:
    """Return why something is left over in the coming week, and a use for each part of it.

    Parameters
    ----------
    inputs : ProgrammeInputs
        Draws over all weeks of the outlook.
    account, hours : Account, numpy.ndarray
        Of :func:`followed_ahead`.
    every_option : pandas.DataFrame
        Table OPTIONS of every product of the crops, those without a target too.
    units : {"us", "metric"}
        Units of the sentences.

    Returns
    -------
    pandas.DataFrame
        Columns crop, order (0: why; from 1: uses, in order of worth), mass_kg (mean over draws),
        code, facts, words. The amounts of the uses of a crop add up to what is left over.

    Notes
    -----
    Why: fruit on hand that is older than any product takes, oversize fruit that none takes, a crop
    that cannot be put up here, no hours left, or shelves that are full enough. Uses: a product
    without a target that takes the fruit, as many batches as the hours left allow; given away
    beyond the usual week, by as much again; fed, by as much again; left where it grows, of crops
    that stand; and the compost. Where oversize fruit is left over, picking smaller is said too.
    """
    rows: list[tuple[Any, ...]] = []
    there = float(inputs.capacity.hours[:7].sum())
    spare = max(0.0, there - float(inputs.weights @ hours))
    for number, crop in enumerate(inputs.crops):
        parts = _left(inputs, account, number, hours >= TIGHT * there)
        total = sum(parts.values())
        if total < USED_KG:
            continue
        common = {"crop": crop, "units": units}
        for code, kg in sorted(parts.items(), key=lambda part: -part[1]):
            if kg >= 0.1 * total:
                rows.append((crop, 0, kg, Said(code, {**common, "kg": kg})))
        for order, (kg, code, facts) in enumerate(
            _uses(inputs, number, parts, every_option, spare), start=1
        ):
            rows.append((crop, order, kg, Said(code, {**common, "kg": kg, **facts})))
    table = [(crop, order, kg, said.code, dict(said.facts), said.text)
             for crop, order, kg, said in rows]  # fmt: skip
    return pd.DataFrame(table, columns=USES)


def of_own_produce(options: pd.DataFrame, garden: Garden) -> pd.DataFrame:
    """Return the options whose recipes take no fruit or vegetable that nobody grows here.

    Parameters
    ----------
    options : pandas.DataFrame
        Table OPTIONS.
    garden : Garden
        The garden folder; produce in stock, such as onions, counts as grown.

    Returns
    -------
    pandas.DataFrame
        Where a recipe names several ("okra or zucchini"), one of them will do.
    """
    stock = {name.rsplit("_", 1)[0].replace("_", " ") for name in garden.household.stock}
    there = {*garden.plantings["crop"].astype(str), *garden.picks["crop"].astype(str), *stock}
    rows = []
    for key in options["product"].astype(str):
        crops = [
            {canonical_crop(name) for name in re.split(", | or ", one.item)}
            for one in recipe(product(key))
            if one.unit == "kg"
        ]
        rows.append(all(None in any_of or any_of & there for any_of in crops))
    return options[np.array(rows, dtype=bool)]


USES = ["crop", "order", "mass_kg", "code", "facts", "words"]
"""Columns of what becomes of a surplus."""


def _left(inputs: ProgrammeInputs, account: Account, crop: int, busy: Flags) -> dict[str, float]:
    """Return the kg left over of a crop in the first week, by the code of the reason."""
    options = inputs.options[inputs.options["crop"] == inputs.crops[crop]]
    back, parts = inputs.back, dict[str, float]()
    ages = back - np.arange(back)  # of fruit on hand, on the first day of the plan
    for lane in np.flatnonzero(inputs.lane_crop == crop):
        large = bool(inputs.lane_oversize[lane])
        takes = options[options["takes_oversize"]] if large else options
        oldest = float(takes["max_age_days"].max()) if len(takes) else 0.0
        kg = np.clip(account.surplus[:, lane, : back + 7], 0.0, None)
        # By the day it was picked; what still ripens counts from the day it is ripe.
        past = np.zeros(back + 7, dtype=bool)
        past[:back] = (ages - int(inputs.ripen[crop]) > oldest) & (len(takes) > 0)
        rest = kg[:, ~past].sum(axis=1)
        none = "left.oversize" if large and len(options) else "left.no_way"
        found = {"left.too_old": kg[:, past].sum(axis=1)}
        if len(takes):
            found |= {"left.no_hours": rest * busy, "left.not_worth": rest * ~busy}
        else:
            found[none] = rest
        for code, amount in found.items():
            mean = float(inputs.weights @ amount)
            if mean > 1e-6:
                parts[code] = parts.get(code, 0.0) + mean
    return parts


def _uses(
    inputs: ProgrammeInputs,
    crop: int,
    parts: dict[str, float],
    every_option: pd.DataFrame,
    spare: float,
) -> Iterator[tuple[float, str, dict[str, Any]]]:
    """Yield amounts, codes and facts of the uses of what is left over, in order of worth."""
    name = inputs.crops[crop]
    fresh = inputs.fresh.iloc[crop]
    left, old = sum(parts.values()), parts.get("left.too_old", 0.0)
    known = set(inputs.options["product"].astype(str))
    # What is too old for the products that are offered is too old for their like.
    sound, large = left - old, "left.oversize" in parts
    if parts.get("left.no_hours", 0.0) >= parts.get("left.not_worth", 0.0) + 1e-9:
        spare = 0.0  # the hours that are left lie in futures without a surplus
    other = every_option[(every_option["crop"] == name) & ~every_option["product"].isin(known)]
    if large:
        other = other[other["takes_oversize"]]
    other = other.assign(per_kg=other["hands_on_h"] / other["kg_per_batch"])
    for row in other.sort_values(["per_kg", "option"], kind="stable").to_dict("records"):
        fits = min(sound / row["kg_per_batch"], spare / max(row["hands_on_h"], 0.1))
        batches = int(fits + 0.25)  # a batch may be three quarters full
        if batches < 1:
            continue
        kg = min(sound, batches * float(row["kg_per_batch"]))
        jars = kg / float(row["kg_per_batch"]) * float(row["jars_per_batch"])
        filled = jars_in_words(str(row["jar"]), max(1, round(jars)))
        yield kg, "use.product", {"label": str(row["label"]), "filled": filled}
        left -= kg
        break
    for code, most in (("use.give", "give_kg_day"), ("use.feed", "animals_kg_day")):
        kg = min(left, 7 * float(fresh[most]))
        if kg >= USED_KG:
            yield kg, code, {"usual": 7 * float(fresh[most])}
            left -= kg
    if crop_facts(name).habit in STANDS and left - old >= USED_KG:
        yield left - old, "use.leave", {}
        left = old
    if left >= USED_KG:
        yield left, "use.compost", {}
    if any(inputs.lane_oversize[inputs.lane_crop == crop]):
        yield 0.0, "use.pick_smaller", {}
