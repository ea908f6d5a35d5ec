"""The handbook: tested process times, looked up and never computed.

Every figure stands in ``kitchen/data/canning_process.csv`` with the publication it was carried
over from. Only rows that were read in a publication of a government or extension service give
an answer; rows from memory, from retyped copies or from pages of no authority are kept for
comparison and listed by :func:`unverified_rows`, and nothing is guessed in their place.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from importlib import resources
from typing import Any

import pandas as pd

from harvestcast.kitchen.messages import standing_words, unsafe
from harvestcast.records.household import is_number
from harvestcast.records.typed.jar_sizes import jar_size, next_tested
from harvestcast.units import M_PER_FT

MOST_M = 5000.0
"""Highest kitchen, m, as garden.toml takes it; bands without an upper end are not read beyond."""

JARS: dict[str, str] = {"half_pint": "half-pint", "pint": "pint", "quart": "quart"}
"""Jar sizes of the tables, and the words for them."""

METHODS: tuple[str, ...] = ("boiling_water", "pressure")
GAUGES: tuple[str, ...] = ("dial", "weighted")

PACKS: tuple[str, ...] = ("raw", "hot")
ACIDS: dict[str, str] = {
    "each_jar": "bottled lemon juice or citric acid goes into each jar, under pressure too",
    "lemon_juice_in_recipe": "bottled lemon or lime juice is part of the recipe",
    "vinegar_and_lemon_juice_in_recipe": "vinegar and bottled lemon juice are part of the recipe",
    "of_its_fermentation": "the food ferments in salt until it is sour",
    "vinegar_in_recipe": "vinegar of 5 % acidity or more is part of the recipe",
    "none_added": "none is added",
}
"""How a product gets its acid."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Process:
    """One tested process: what to do with one jar size at one elevation.

    Attributes
    ----------
    product : str
        Handbook product, for example ``"green_beans"``.
    jar : str
        Jar size: half_pint, pint or quart.
    pack : str
        ``"raw"`` or ``"hot"``; the time holds for this pack only.
    method : str
        ``"boiling_water"`` or ``"pressure"``.
    gauge : str or None
        Gauge the pressure is for; None in boiling water, or where none was asked for.
    minutes : float
        Process time, minutes.
    pressure_psi : float or None
        Gauge pressure, psi, for ``gauge``; None in boiling water, or where no gauge was asked for.
    dial_psi, weighted_psi : float or None
        The same process on a dial-gauge and on a weighted-gauge canner, psi, where tabulated.
    headspace_in : float
        Headspace, inches.
    acid : str
        How it gets its acid, one of :data:`ACIDS`; the time holds with that acid only.
    lemon_juice_tbsp, citric_acid_tsp : float or None
        Bottled lemon juice, tablespoons, or else citric acid, teaspoons, for each jar; None unless
        ``acid`` is ``"each_jar"``; citric acid None too where the guide prints lemon juice only.
    sterile_jars : bool
        Whether the jars must be sterilised first.
    band : tuple of float
        Lowest and highest elevation of the table's band, feet; infinity where none is printed.
    source : str
        The publication.
    """

    product: str
    jar: str
    pack: str
    method: str
    gauge: str | None
    minutes: float
    pressure_psi: float | None
    dial_psi: float | None
    weighted_psi: float | None
    headspace_in: float
    acid: str
    lemon_juice_tbsp: float | None
    citric_acid_tsp: float | None
    sterile_jars: bool
    band: tuple[float, float]
    source: str


_YES_OR_NO = (
    "verified", "sterile_jars", "low_acid", "takes_oversize", "whole_recipe", "offer", "optional",
    "main",
)  # fmt: skip


@cache
def _stored(name: str) -> pd.DataFrame:
    file = resources.files("harvestcast.kitchen.handbook") / "data" / f"{name}.csv"
    with file.open(encoding="utf-8") as text:
        frame = pd.read_csv(text)
    for column in _YES_OR_NO:
        if column in frame.columns:
            frame[column] = frame[column] == "yes"
    return frame


def table(name: str) -> pd.DataFrame:
    """Return a copy of one table of the handbook.

    Parameters
    ----------
    name : str
        canning_process, canning_yield, recipes, limits, acid, blanching, freezing, drying,
        storage, weights or rules (or another table of the handbook).

    Returns
    -------
    pandas.DataFrame
        The figures as printed (pounds, inches, feet, minutes), with ``source`` (the publication),
        ``standing`` (published, reprinted, repeated, memory) and ``verified`` (published only).

    Examples
    --------
    >>> sorted(table("rules").columns)[:3]
    ['condition', 'rule', 'source']
    """
    return _stored(name).copy()


def elevation_in_feet(elevation_m: float | None) -> int:
    """Return the elevation in whole feet, as the tables count it.

    A part of a foot counts as the next whole foot, so 2,000.2 ft falls in the band that begins
    at 2,001 ft: the tables leave no room between their bands, and the higher band is the safe one.

    Parameters
    ----------
    elevation_m : float or None
        Elevation, m.

    Returns
    -------
    int
        Elevation, ft.

    Raises
    ------
    ElevationError
        Where there is no elevation, or it lies below sea level, where the tables have no row.

    Examples
    --------
    >>> elevation_in_feet(609.6), elevation_in_feet(609.61)
    (2000, 2001)
    """
    if elevation_m is None or not is_number(elevation_m) or not math.isfinite(elevation_m):
        raise unsafe("elevation.missing")
    if elevation_m > MOST_M:
        raise unsafe("elevation.too_high", metres=elevation_m, most=MOST_M)
    # Rounding first undoes the binary error of the conversion: 609.6 m is 2,000 ft exactly.
    feet = math.ceil(round(elevation_m / M_PER_FT, 6))
    if feet < 0:
        raise unsafe("elevation.below_sea", feet=feet)
    return feet


def handbook_products() -> list[str]:
    """Return the products of the process table, verified or not.

    Examples
    --------
    >>> "green_beans" in handbook_products()
    True
    """
    return list(dict.fromkeys(_stored("canning_process")["product"]))


def unverified_rows() -> pd.DataFrame:
    """List the rows of the process table that never give an answer, and why.

    Returns
    -------
    pandas.DataFrame
        Columns product, pack, jar, method, gauge, altitude_low_ft, altitude_high_ft, process_min,
        pressure_psi, standing, why, source.

    Examples
    --------
    >>> set(unverified_rows()["product"])
    {'choice_salsa'}
    """
    rows = table("canning_process")
    rows = rows[~rows["verified"]].reset_index(drop=True)
    rows["why"] = rows["standing"].map(standing_words)
    shown = ["product", "pack", "jar", "method", "gauge", "altitude_low_ft", "altitude_high_ft"]
    return rows[[*shown, "process_min", "pressure_psi", "standing", "why", "source"]]


def process(
    product: str,
    *,
    jar: str,
    elevation_m: float | None,
    method: str | None = None,
    gauge: str | None = None,
    pack: str | None = None,
) -> Process:
    """Look up the tested process of a product.

    Parameters
    ----------
    product : str
        Product of the process table, for example ``"quick_fresh_pack_dill_pickles"``
        (see :func:`handbook_products`).
    jar : str
        Jar size: half_pint, pint or quart, or as it is sold ("500 ml"): such a jar is processed as
        the next larger size that has a tested time.
    elevation_m : float or None
        Elevation of the kitchen, m.
    method : str, optional
        ``"boiling_water"`` or ``"pressure"``. Left out: boiling water where the table has it and
        no gauge is named, else pressure.
    gauge : str, optional
        ``"dial"`` or ``"weighted"``. Left out, for pressure: ``dial_psi`` and ``weighted_psi``
        are both given and ``pressure_psi`` is None.
    pack : str, optional
        ``"raw"`` or ``"hot"``. Left out: the pack with the longer time.

    Returns
    -------
    Process
        Minutes, pressure, headspace, pack, whether the jars must be sterile, and the source; its
        ``jar`` is the tested size. Where the table offers several pressures, the one with the
        longest time.

    Raises
    ------
    ElevationError
        Without an elevation, or at one without a row.
    UnsafeProcessError
        For an unknown product, a low-acid product in boiling water, a jar, pack or gauge without a
        row, or a row that was not read in a publication of a government or extension service.

    Notes
    -----
    A look-up in a table of feet with inclusive edges; nothing is interpolated or computed.

    References
    ----------
    USDA, Complete Guide to Home Canning, Agriculture Information Bulletin 539, as carried by the
    publications named in each row.

    Examples
    --------
    >>> process("quick_fresh_pack_dill_pickles", jar="pint", elevation_m=1219.2).minutes
    15.0
    >>> beans = process("green_beans", jar="pint", elevation_m=609.6, gauge="dial")
    >>> beans.minutes, beans.pressure_psi
    (20.0, 11.0)
    """
    product = _key(product)
    method, gauge = _method_and_gauge(method, gauge)
    rows = _process_rows()
    if product not in rows:
        raise unsafe("process.unknown", product=product, near=_nearest(product))
    left = rows[product]
    in_water = any(row["method"] == "boiling_water" for row in left)
    if method is None:
        method = "boiling_water" if in_water and gauge is None else "pressure"
    if method == "boiling_water" and not in_water:
        raise unsafe("process.low_acid", product=product)
    left = _narrow(left, "method", method)
    left = _narrow(left, "jar", _tested_jar(product, jar, left))
    if pack is not None:
        left = _narrow(left, "pack", _key(pack))
    if gauge is not None:
        left = _narrow(left, "gauge", gauge)
    feet = elevation_in_feet(elevation_m)
    band = [row for row in left if row["low_ft"] <= feet <= row["high_ft"]]
    if not band:
        raise unsafe("elevation.no_row", product=product, feet=feet, jar=str(left[0]["jar"]))
    verified = [row for row in band if row["verified"]]
    if not verified:
        standing = band[0]["standing"]
        jar = str(band[0]["jar"])
        raise unsafe("process.untested", product=product, jar=jar, feet=feet, standing=standing)
    return _chosen(verified, gauge)


def tested_rows(product: str, method: str, gauge: str | None) -> list[dict[str, Any]]:
    """Return the verified rows of a product for one method and gauge; none where there are none.

    Parameters
    ----------
    product : str
        Product of the process table.
    method : str
        ``"boiling_water"`` or ``"pressure"``.
    gauge : str or None
        ``"dial"`` or ``"weighted"``; None in boiling water.

    Returns
    -------
    list of dict
        Columns of the table; ``low_ft`` and ``high_ft`` are the band, infinity where it is open.

    Examples
    --------
    >>> {row["jar"] for row in tested_rows("green_beans", "pressure", "dial")} == {"pint", "quart"}
    True
    """
    return [
        dict(row)
        for row in _process_rows().get(product, ())
        if row["verified"] and (row["method"], row["gauge"]) == (method, gauge or "")
    ]


def has_tested_row(gauge: str, elevation_m: float) -> bool:
    """Return whether a pressure canner of a gauge has any tested row at an elevation.

    Examples
    --------
    >>> has_tested_row("dial", 2438.4), has_tested_row("dial", 2438.5)  # 8,000 ft and above
    (True, False)
    >>> has_tested_row("weighted", 2438.5)
    True
    """
    feet = elevation_in_feet(elevation_m)
    rows = (row for mine in _process_rows().values() for row in mine if row["gauge"] == gauge)
    return any(row["verified"] and row["low_ft"] <= feet <= row["high_ft"] for row in rows)


@cache
def _process_rows() -> dict[str, list[dict[str, Any]]]:
    """Return the rows of the process table by product, bands with their open end filled in."""
    frame = table("canning_process")
    frame["low_ft"] = frame.pop("altitude_low_ft")
    frame["high_ft"] = frame.pop("altitude_high_ft").fillna(math.inf)
    frame["gauge"] = frame["gauge"].fillna("")
    rows: dict[str, list[dict[str, Any]]] = {}
    for row in frame.to_dict("records"):
        rows.setdefault(row["product"], []).append({str(k): v for k, v in row.items()})
    return rows


@cache
def _acid_rows() -> dict[str, dict[str, Any]]:
    rows = _stored("acid").to_dict("records")
    return {str(row["product"]): {str(k): v for k, v in row.items()} for row in rows}


def acid_of(product: str, jar: str) -> dict[str, Any]:
    """Return how a product of the process table gets its acid, and how much goes into one jar.

    Parameters
    ----------
    product : str
        Product of the process table.
    jar : str
        Jar size.

    Returns
    -------
    dict
        ``acid``, one of :data:`ACIDS`; ``lemon_juice_tbsp`` and ``citric_acid_tsp``, None unless
        it goes into each jar.

    Raises
    ------
    KeyError
        For a jar size without a printed amount, where acid goes into each jar.

    Examples
    --------
    >>> acid_of("tomatoes_crushed", "quart")["lemon_juice_tbsp"], acid_of("beets", "pint")["acid"]
    (2.0, 'none_added')
    """
    row = _acid_rows()[product]
    amounts: dict[str, float | None] = dict.fromkeys(("lemon_juice_tbsp", "citric_acid_tsp"))
    if row["acid"] == "each_jar":
        for name in amounts:
            printed = float(row[f"{name}_{jar}"])
            amounts[name] = None if math.isnan(printed) else printed
    return {"acid": str(row["acid"]), **amounts}


def _key(text: str) -> str:
    return re.sub(r"[\s_-]+", "_", str(text).strip().lower())


def _method_and_gauge(method: str | None, gauge: str | None) -> tuple[str | None, str | None]:
    """Bring method and gauge to the words of the table; ``pressure_dial`` names both at once."""
    gauge = None if gauge is None else _key(gauge).removesuffix("_gauge")
    if method is not None:
        method = _key(method)
        named = method.removeprefix("pressure_")
        if named in GAUGES:
            if gauge not in (None, named):
                raise unsafe("process.gauge_contradicts", method=method, gauge=gauge)
            method, gauge = "pressure", named
    if method not in (None, *METHODS):
        raise unsafe("process.method_unknown", method=method)
    if gauge not in (None, *GAUGES):
        raise unsafe("process.gauge_unknown", gauge=gauge)
    if method == "boiling_water" and gauge is not None:
        raise unsafe("process.gauge_in_water")
    return method, gauge


def _nearest(product: str) -> list[str]:
    return get_close_matches(product, list(_process_rows()), n=3, cutoff=0.6)


def _tested_jar(product: str, jar: str, rows: list[dict[str, Any]]) -> str:
    """Return the size of the table that a jar is processed as."""
    key = _key(jar)
    if key in JARS:
        return key
    try:
        said = jar_size(str(jar))
    except ValueError:
        said = None
    if said is None:
        return key  # the table has no such jar, and the refusal says which it has
    sizes = [size for size in JARS if any(row["jar"] == size for row in rows)]
    tested = next_tested(said.held, sizes)
    if tested is None:
        raise unsafe("process.jar_too_large", product=product, jar=str(jar), largest=sizes[-1])
    return tested


def _narrow(rows: list[dict[str, Any]], column: str, value: str) -> list[dict[str, Any]]:
    left = [row for row in rows if row[column] == value]
    if left:
        return left
    have = list(dict.fromkeys(row[column] for row in rows if row[column]))
    raise unsafe(
        "process.no_row", product=rows[0]["product"], column=column, value=value, have=have
    )


def _chosen(rows: list[dict[str, Any]], gauge: str | None) -> Process:
    """Take one process of those that are left: longest time, then highest pressure, hot pack."""
    if gauge is None and {row["gauge"] for row in rows} == set(GAUGES):
        # The minutes must hold for either canner; where they differ the gauge must be named.
        either = [{(r["pack"], r["process_min"]) for r in rows if r["gauge"] == g} for g in GAUGES]
        both = either[0] & either[1]
        if not both:
            raise unsafe("process.gauge_needed", product=rows[0]["product"])
        rows = [row for row in rows if (row["pack"], row["process_min"]) in both]
    pressure = [0.0 if math.isnan(row["pressure_psi"]) else row["pressure_psi"] for row in rows]
    order = sorted(
        range(len(rows)), key=lambda i: (-rows[i]["process_min"], -pressure[i], rows[i]["pack"])
    )
    rows = [rows[i] for i in order]
    row = rows[0]
    same = [r for r in rows if (r["pack"], r["process_min"]) == (row["pack"], row["process_min"])]
    psi: dict[str, float | None] = dict.fromkeys(GAUGES)
    for one in reversed(same):  # the highest pressure comes last, and stays
        if one["gauge"]:
            psi[one["gauge"]] = float(one["pressure_psi"])
    return Process(
        product=row["product"],
        jar=row["jar"],
        pack=row["pack"],
        method=row["method"],
        gauge=gauge,
        minutes=float(row["process_min"]),
        pressure_psi=None if gauge is None else psi[gauge],
        dial_psi=psi["dial"],
        weighted_psi=psi["weighted"],
        headspace_in=float(row["headspace_in"]),
        **acid_of(row["product"], row["jar"]),
        sterile_jars=bool(row["sterile_jars"]),
        band=(
            float(max(r["low_ft"] for r in same)),
            float(min(r["high_ft"] for r in same)),
        ),
        source=row["source"],
    )
