"""What a canning time holds for: one frozen value that every rendering of a time is made of.

A tested time is no number by itself. It holds for one pack, jar, headspace, vessel, gauge and
pressure, with its acid, in one band of elevations; where one of them is not known no time is said.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

import pandas as pd

from harvestcast.kitchen.handbook.process_times import ACIDS, GAUGES, JARS, METHODS, PACKS, Process
from harvestcast.kitchen.messages import unsafe

COLUMNS: dict[str, str] = {
    "minutes": "process_min",
    "pressure_psi": "pressure_psi",
    "headspace_in": "headspace_in",
    "pack": "pack",
    "gauge": "gauge",
    "acid": "acid",
    "lemon_juice_tbsp": "lemon_juice_tbsp",
    "citric_acid_tsp": "citric_acid_tsp",
    "band_low_ft": "band_low_ft",
    "band_high_ft": "band_high_ft",
}
"""Attribute of :class:`Conditions` -> column of the tables OPTIONS and BATCHES, which have columns
for method and jar already."""

NO_CONDITIONS: dict[str, Any] = {
    column: None if name in ("pack", "gauge", "acid") else math.nan
    for name, column in COLUMNS.items()
}
"""The same columns of what is not canned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Conditions:
    """A canning time with all that it holds for.

    Attributes
    ----------
    method, jar, pack : str
        As in :class:`harvestcast.kitchen.handbook.process_times.Process`.
    minutes, headspace_in : float
        Process time, minutes, and headspace, inches.
    gauge : str or None
        Gauge of the pressure canner, ``"dial"`` or ``"weighted"``; None in boiling water.
    pressure_psi : float
        Gauge pressure, psi; NaN in boiling water.
    acid : str
        One of :data:`harvestcast.kitchen.handbook.process_times.ACIDS`.
    lemon_juice_tbsp, citric_acid_tsp : float
        Either of them goes into each jar where ``acid`` is ``"each_jar"``; NaN elsewhere, and
        citric acid where the guide prints lemon juice only.
    band_low_ft, band_high_ft : float
        Band of elevations of the table's row, feet; NaN where it has no upper end.

    Raises
    ------
    UnsafeProcessError
        Where a condition is missing: the time must not be shown then.
    """

    method: str
    jar: str
    pack: str
    minutes: float
    headspace_in: float
    gauge: str | None
    pressure_psi: float
    acid: str
    lemon_juice_tbsp: float
    citric_acid_tsp: float
    band_low_ft: float
    band_high_ft: float

    def __post_init__(self) -> None:
        """Refuse a time that lacks a condition."""
        pressed = self.method == "pressure"
        each_jar = self.acid == "each_jar"
        known = {
            "method": self.method in METHODS,
            "jar": self.jar in JARS,
            "pack": self.pack in PACKS,
            "time": self.minutes > 0,
            "headspace": self.headspace_in > 0,
            "gauge": self.gauge in GAUGES if pressed else self.gauge is None,
            "pressure": self.pressure_psi > 0 if pressed else math.isnan(self.pressure_psi),
            "acid": self.acid in ACIDS,
            # Where the guide prints lemon juice only, citric acid stays unknown.
            "amount of acid": not each_jar or self.lemon_juice_tbsp > 0,
            "elevation band": self.band_low_ft >= 0,
        }
        missing = [name for name, there in known.items() if not there]
        if missing:
            raise unsafe("process.condition_missing", missing=missing)

    def columns(self) -> dict[str, Any]:
        """Return the conditions as columns of the tables OPTIONS and BATCHES."""
        own = asdict(self)
        return {column: own[name] for name, column in COLUMNS.items()}


def conditions_of(process: Process) -> Conditions:
    """Return what a process of the handbook holds for.

    Parameters
    ----------
    process : Process
        Looked up for one gauge where it is under pressure.

    Returns
    -------
    Conditions

    Raises
    ------
    UnsafeProcessError
        For a pressure process that was looked up for no gauge: it has no one pressure.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.process_times import process
    >>> beans = process("green_beans", jar="pint", elevation_m=300.0, gauge="weighted")
    >>> said = conditions_of(beans)
    >>> said.pack, said.gauge, said.pressure_psi, said.band_low_ft, said.band_high_ft
    ('hot', 'weighted', 10.0, 0.0, 1000.0)
    """
    low, high = process.band
    return Conditions(
        method=process.method,
        jar=process.jar,
        pack=process.pack,
        minutes=process.minutes,
        headspace_in=process.headspace_in,
        gauge=process.gauge,
        pressure_psi=math.nan if process.pressure_psi is None else process.pressure_psi,
        acid=process.acid,
        lemon_juice_tbsp=_or_nan(process.lemon_juice_tbsp),
        citric_acid_tsp=_or_nan(process.citric_acid_tsp),
        band_low_ft=low,
        band_high_ft=high if math.isfinite(high) else math.nan,
    )


def conditions_of_row(row: Mapping[str, Any] | pd.Series) -> Conditions | None:
    """Return what the time of a row of OPTIONS or BATCHES holds for; None where it has no time.

    Raises
    ------
    UnsafeProcessError
        Where the row has a time and lacks one of its conditions.
    """
    if pd.isna(row["process_min"]):
        return None
    found = {name: row.get(column) for name, column in COLUMNS.items()}
    words = ("pack", "gauge", "acid")
    known: dict[str, Any] = {
        name: _or_nan(value) if name not in words else None if pd.isna(value) else str(value)
        for name, value in found.items()
    }
    return Conditions(method=str(row["method"]), jar=str(row["jar"]), **known)


def _or_nan(value: Any) -> float:
    return math.nan if value is None or pd.isna(value) else float(value)
