"""The household's jars by the sizes that the plan counts in, metric ones among them.

The tables know half pints, pints and quarts. Where a household has jars of 500 ml and no pints, a
pint of the plan is such a jar; it holds a little more, and is processed as the next larger size
that was tested. Where it has both, only the very pints are planned with.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.kitchen.messages import Said, notice, notices
from harvestcast.records.household import Household
from harvestcast.records.typed.jar_sizes import SIZES, jar_size, next_tested
from harvestcast.units import L_PER_PINT

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

OTHERS = frozenset({"lids", "freezer_bags"})


@dataclass(frozen=True, slots=True)
class Jars:
    """Jars that stand for one size of the plan.

    Attributes
    ----------
    name : str
        Size of the tables, or as the household types it.
    number : float
        Jars in stock.
    """

    name: str
    number: float


def jars_by_size(household: Household) -> dict[str, Jars]:
    """Return the household's jars by the size that they stand for in the plan.

    Examples
    --------
    >>> jars_by_size(Household(jars={"500 ml": 12, "quart": 6}))["pint"]
    Jars(name='500 ml', number=12.0)
    """
    found = {
        size: Jars(size, float(household.jars[size])) for size in SIZES if size in household.jars
    }
    for typed, number in household.jars.items():
        size = _size(typed)
        if size is not None and size not in found:
            found[size] = Jars(typed, float(number))
    return found


def real_jar(household: Household, size: str) -> str:
    """Return which jar of the household a size of the plan is.

    Examples
    --------
    >>> home = Household(jars={"500 ml": 12})
    >>> real_jar(home, "pint"), real_jar(home, "quart"), real_jar(home, "pint_bag")
    ('500 ml', 'quart', 'pint_bag')
    """
    found = jars_by_size(household).get(size)
    return size if found is None else found.name


def own_words(garden: Garden) -> dict[str, str]:
    """Return what a garden's household calls its crops and its jars.

    Parameters
    ----------
    garden : Garden
        The garden folder.

    Returns
    -------
    dict of str to str
        For :func:`harvestcast.words.crops.crops_said_as`. Of a size of the plan that a jar of the
        household's stands for, that jar, and the size that it is processed as; with metric units
        bags and dishes by what they hold.
    """
    home = garden.household
    own = {size: one.name for size, one in jars_by_size(home).items() if one.name != size}
    words = dict(garden.crop_words)
    for size, name in own.items():
        words |= {f"jar {size}": f"jar of {name}", f"processed {size}": tested_size(home, size)}
    if home.units == "metric":
        for kind, noun in (("bag", "bag"), ("dish", "dish"), ("dry", "jar")):
            for size in ("half_pint", "pint"):
                litres = own.get(size) if kind == "dry" else None
                held = litres or f"{float(SIZES[size]) * L_PER_PINT:.2g} l"
                dried = ", dried" if kind == "dry" else ""
                words[f"jar {size}_{kind}"] = f"{noun} of {held}{dried}"
    return words


def tested_size(household: Household, size: str) -> str:
    """Return the size that the household's jars of a size of the plan are processed as.

    Examples
    --------
    >>> tested_size(Household(jars={"500 ml": 12}), "pint"), tested_size(Household(), "pint")
    ('quart', 'pint')
    """
    said = jar_size(real_jar(household, size))
    tested = None if said is None else next_tested(said.held)
    return size if tested is None else tested


def _size(typed: str) -> str | None:
    """Return the size that a jar of another measure counts as; None where it is near none."""
    if typed in SIZES or typed in OTHERS:
        return None
    try:
        said = jar_size(typed)
    except ValueError:
        return None
    near = None if said is None else said.size
    return near if said is not None and next_tested(said.held) is not None else None


def jar_notices(household: Household, lines: Mapping[str, int] | None = None) -> pd.DataFrame:
    """Say what becomes of jars that are none of the sizes of the tables.

    Parameters
    ----------
    household : Household
        Settings.
    lines : mapping of str to int, optional
        Line of each key of ``garden.toml``.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame, one row a size; a name that says no size is said elsewhere.

    Examples
    --------
    >>> jar_notices(Household(jars={"1 litre": 6, "500 ml": 12}))["code"].to_list()
    ['jar.too_large', 'jar.processed_as']
    """
    planned = {one.name for one in jars_by_size(household).values()}
    rows = []
    for typed in household.jars:
        if typed in SIZES or typed in OTHERS:
            continue
        try:
            said = jar_size(typed)
        except ValueError:
            continue
        if said is None:
            continue
        tested = next_tested(said.held)
        if tested is None:
            what = Said("jar.too_large", {"jar": typed})
        elif typed in planned:
            facts = {"jar": typed, "counted": said.size, "tested": tested}
            what = Said("jar.processed_as", facts)
        elif said.size is not None:
            what = Said("jar.beside", {"jar": typed, "counted": said.size})
        else:
            what = Said("jar.between", {"jar": typed, "tested": tested})
        line = (lines or {}).get(f"jars.{typed}")
        rows.append(notice(what, file="garden.toml", line=line, column="jars", value=typed))
    return notices(rows)
