"""The household's own factors: jars filled against jars promised, hours taken against planned.

"A recipe for five jars fills four" is learned from the pantry book. The logarithm of each batch's
ratio varies about the product's factor, products about the household's factor, and that about
the handbook's 1; few batches therefore move a factor little.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from harvestcast.kitchen.handbook.amounts import amounts
from harvestcast.kitchen.handbook.products import product
from harvestcast.kitchen.household.pantry import pantry_book

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

HANDBOOK_BATCHES = 4.0
"""Prior strength: the handbook counts as much as four batches of the household."""
HOUSEHOLD_BATCHES = 4.0
"""Prior strength: the household's other products count as much as four batches of this one."""
BATCH_SD = 0.25
"""Prior guess of the batch-to-batch standard deviation of the logarithm (planning estimate)."""
BATCH_SD_BATCHES = 4.0
"""Prior strength of that guess, in batches (degrees of freedom)."""

FactorTable = dict[tuple[str, str], float]

_EVERY = "(household)"
_COLUMNS = ["product", "kind", "batches", "raw", "factor", "low90", "high90"]
_LOADS = {"half_pint": 12.0, "pint": 9.0, "quart": 7.0}  # as in the handbook's canner loads


def learned_factors(garden: Garden, as_of: object) -> pd.DataFrame:
    """Learn how this household's batches differ from the handbook.

    Parameters
    ----------
    garden : Garden
        The garden folder; rows of the pantry book with produce or hours are used.
    as_of : date-like
        Last day that counts.

    Returns
    -------
    pandas.DataFrame
        Columns product (catalogue key, or ``(household)`` for a product without batches of its
        own), kind (``jars``: filled / promised, ``hours``: taken / planned), batches, raw
        (geometric mean of the household's ratios, NaN without any), factor (shrunk towards the
        handbook's 1), low90, high90 (90 % interval of the factor).

    Notes
    -----
    With ``y`` the log ratios of the ``n_j`` batches of product ``j``, mean ``ybar_j``,
    ``y ~ N(theta_j, s^2)``, ``theta_j ~ N(mu, s^2 / 4)``, ``mu ~ N(0, s^2 / 4)`` and ``s^2``
    scaled inverse chi-square with 4 degrees of freedom about 0.25^2: everything has a closed
    form, and the interval is Student's t with 4 + batches degrees of freedom.

    References
    ----------
    Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), sections 3.2 and 5.4 (normal model
    with unknown variance; hierarchical normal model).
    """
    book = pantry_book(garden, as_of)
    ratios = pd.DataFrame(_ratios(book), columns=["product", "kind", "y"])
    tables = [
        shrunk(ratios[ratios["kind"] == kind], kind)  # each kind has a spread of its own
        for kind in ("jars", "hours")
    ]
    return pd.concat(tables, ignore_index=True)


def factor_table(factors: pd.DataFrame) -> FactorTable:
    """Return the factors of :func:`learned_factors` by product and kind, for many look-ups."""
    columns = (factors["product"], factors["kind"], factors["factor"])
    return {(key, kind): float(value) for key, kind, value in zip(*columns, strict=True)}


def factor_of(factors: FactorTable, key: str, kind: str) -> float:
    """Return one product's factor; the household's where it has none of its own.

    Parameters
    ----------
    factors : dict
        From :func:`factor_table`.
    key : str
        Catalogue key.
    kind : str
        ``jars`` or ``hours``.

    Examples
    --------
    >>> factor_of({("(household)", "jars"): 0.9}, "salsa", "jars")
    0.9
    """
    return factors.get((key, kind), factors.get((_EVERY, kind), 1.0))


def _ratios(book: pd.DataFrame) -> list[tuple[str, str, float]]:
    rows = []
    for row in book[book["jars"] > 0].to_dict("records"):
        item = product(row["product"])
        listed = {jar.split("_bag")[0].split("_dry")[0]: jar for jar in item.jars}
        known = amounts(item, listed.get(row["size"], item.usual_jar))
        if known is None or item.methods[0] == "keeping":
            continue
        jars = row["jars"] if row["size"] in listed else row["counted"]
        kg = row["produce_kg"]
        if kg > 0:
            rows.append((item.key, "jars", float(np.log(jars * known.kg_per_jar / kg))))
        if row["hours"] > 0:
            size = known.recipe_jars
            size = _LOADS.get(row["size"], 9.0) if np.isnan(size) else size
            kg = kg if kg > 0 else jars * known.kg_per_jar
            planned = item.fixed_h * max(1.0, jars / size) + item.h_per_kg * kg
            rows.append((item.key, "hours", float(np.log(row["hours"] / planned))))
    return rows


def shrunk(ratios: pd.DataFrame, kind: str) -> pd.DataFrame:
    """Return factors of one kind from log ratios (columns product, y); see the notes above."""
    groups = ratios.groupby("product", sort=True)["y"]
    n, mean = groups.size().to_numpy(float), groups.mean().to_numpy(float)
    weight = n * HOUSEHOLD_BATCHES / (n + HOUSEHOLD_BATCHES)
    total = HANDBOOK_BATCHES + weight.sum()
    mu = float(weight @ mean / total)
    # Quadratic form of the marginal distribution of y, in units of s^2.
    within = float(((ratios["y"] - groups.transform("mean")) ** 2).sum())
    form = within + float(weight @ mean**2) - total * mu**2
    freedom = BATCH_SD_BATCHES + len(ratios)
    sd = np.sqrt((BATCH_SD_BATCHES * BATCH_SD**2 + form) / freedom)
    own = n / (n + HOUSEHOLD_BATCHES)
    centre = np.append(own * mean + (1 - own) * mu, mu)
    variance = np.append(
        1 / (n + HOUSEHOLD_BATCHES) + (1 - own) ** 2 / total, 1 / HOUSEHOLD_BATCHES + 1 / total
    )
    half = stdtrit(freedom, 0.95) * sd * np.sqrt(variance)
    table = pd.DataFrame(
        {
            "product": [*groups.groups, _EVERY],
            "kind": kind,
            "batches": [*n.astype(int), 0],
            "raw": np.append(np.exp(mean), np.nan),
            "factor": np.exp(centre),
            "low90": np.exp(centre - half),
            "high90": np.exp(centre + half),
        }
    )
    return table[_COLUMNS]
