"""What the programme weighs against what, in points, derived from the household's choices."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from harvestcast.arrays import Array
from harvestcast.kitchen.household.capacity import JAR_SIZES
from harvestcast.kitchen.solve.inputs import ProgrammeInputs, option_arrays
from harvestcast.records.household import Choices

# Shares chosen for this library (no source): they only order what is otherwise worth the same.
CEILING_SHARE = 0.25
"""Worth of eating more than is enjoyed, as a share of ``fresh_kg``."""
GIVEN_SHARE = 0.1
"""Worth of giving away, as a share of ``fresh_kg``."""
ANIMALS_SHARE = 0.5
"""Price of feeding to animals, as a share of the price of spoilage."""
WORST_SHARE = 0.1
"""The worst tenth of futures (conditional value at risk at level 0.9)."""

TIERS: tuple[tuple[float, float], ...] = ((0.5, 1.0), (0.8, 0.75), (1.0, 0.5))
"""A jar's worth towards its target: up to this share of the target, this share of
``target_jar``."""
EXTRA_UP_TO = 1.5
"""Beyond this share of the target an extra jar is worth a third of ``extra_jar``."""
UNTARGETED_PINTS = 6.0
"""Pints of a product without a target that count as extra jars before the worth falls."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Worth:
    """Products, and what their jars are worth.

    Parameters
    ----------
    products : tuple of str
        Products that some option makes, sorted.
    room : numpy.ndarray
        Pints that fit into each tier, shape (products, tiers); the last tier is open (inf).
    points : numpy.ndarray
        Points a pint in each tier, shape (products, tiers); falls from tier to tier.
    """

    products: tuple[str, ...]
    room: Array
    points: Array


def jars_worth(inputs: ProgrammeInputs) -> Worth:
    """Return what a pint of each product is worth, tier by tier.

    A target that is still far off is worth most. Targets are counted in jars; a jar counts as
    the pints of that product's smallest offered jar, at most one pint.
    """
    choices = inputs.choices
    smallest = inputs.options.groupby("product")["pint_jars_per_jar"].min().to_dict()
    wanted = inputs.wanted.set_index("product")[["target_jars", "wanted_jars"]].to_dict("index")
    products = tuple(sorted(str(product) for product in smallest))
    shares = [share for share, _ in TIERS]
    room = np.zeros((len(products), len(TIERS) + 2))
    points = np.zeros_like(room)
    points[:, : len(TIERS)] = [choices.target_jar * worth for _, worth in TIERS]
    points[:, -2:] = choices.extra_jar, choices.extra_jar / 3
    room[:, -1] = np.inf
    for number, product in enumerate(products):
        jar = min(1.0, float(smallest[product]))
        target = have = 0.0
        if product in wanted:
            target = float(wanted[product]["target_jars"]) * jar
            have = target - float(wanted[product]["wanted_jars"]) * jar
        edges = np.array([0.0, *shares]) * target
        room[number, : len(TIERS)] = np.diff(np.maximum(edges, have))
        extra = target * EXTRA_UP_TO if target > 0 else UNTARGETED_PINTS
        room[number, -2] = max(0.0, extra - max(target, have))
    # Worth must fall from tier to tier, whatever was typed, or tiers would fill out of order.
    return Worth(products=products, room=room, points=np.minimum.accumulate(points, axis=1))


def kept_free(inputs: ProgrammeInputs, worth: Worth, amounts: Array) -> tuple[Array, float]:
    """Return what a store's jars beyond the targets take, and what the targets still to come need.

    Lids, bags and litres last longer than the plan looks ahead: what a jar beyond its target takes
    today is missing for one that is wanted in three weeks.

    Parameters
    ----------
    inputs : ProgrammeInputs
        What the programme is told.
    worth : Worth
        Products and tiers.
    amounts : ndarray, shape (options,)
        What a batch of each option takes of the store.

    Returns
    -------
    least : ndarray, shape (products,)
        Least that a pint takes, by the most sparing way of making the product.
    kept : float
        So much is kept free: the least that is needed for what is wanted and may still come in.
    """
    table = option_arrays(inputs)
    names = inputs.options["product"].to_numpy(str)
    least, kg = np.zeros((2, len(worth.products)))
    crop = np.zeros(len(worth.products), dtype=np.int64)
    for number, product in enumerate(worth.products):
        mine = names == product
        least[number] = (amounts[mine] / table.pints[mine]).min()
        kg[number] = (table.kg[mine] / table.pints[mine]).min()
        crop[number] = table.crop[mine][0]
    missing = worth.room[:, : len(TIERS)].sum(axis=1)
    needs = np.bincount(crop, missing * kg, minlength=len(inputs.crops))
    comes = np.array([inputs.to_come.get(name, 0.0) for name in inputs.crops])
    share = np.minimum(1.0, comes / np.maximum(needs, 1e-9))
    return least, float((missing * share[crop]) @ least)


def saved_kg(choices: Choices) -> float:
    """Return the points that a kg kept from spoiling saves in the mean.

    With a dislike of bad weeks, part of the price is charged on the worst tenth instead
    (:func:`worst_kg`).
    """
    return choices.spoiled_kg * (1.0 - choices.dislike_of_bad_weeks)


def worst_kg(choices: Choices) -> float:
    """Return the points of a kg spoiled in the mean of the worst futures."""
    return choices.spoiled_kg * choices.dislike_of_bad_weeks


def carry_price(inputs: ProgrammeInputs) -> Array:
    """Return the points a kg carried past the plan costs, shape (crops,).

    Carried fruit has used up part of its life: on average half the plan, at most half a life.
    That share of the price of spoilage is charged, so that the plan does not hide a glut
    behind its last day.
    """
    over = np.minimum(0.5, inputs.days / 2 / np.maximum(inputs.keep, 1))
    return inputs.choices.spoiled_kg * over


BUYABLE: tuple[str, ...] = (*JAR_SIZES, "lids", "freezer_bags")
"""What the plan may buy; a jar comes with its first lid."""


def bought_prices(inputs: ProgrammeInputs) -> Array:
    """Return the price of each of :data:`BUYABLE` in points."""
    choices = inputs.choices
    return np.array(
        [choices.bought_jar if name in JAR_SIZES else choices.bought_lid for name in BUYABLE]
    )
