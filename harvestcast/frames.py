"""The nomenclature: columns, units and ranges of every table, and the one checker.

Masses are kilograms as picked, lengths metres, temperatures degrees Celsius, volumes litres,
times days or hours (said in the name). Dates are timezone-naive midnights. Unknown is NaN
(numbers), NaT (dates) or ``<NA>`` (text), never zero and never an empty string.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from harvestcast.errors import FrameError

Kind = Literal["date", "text", "number", "integer", "boolean"]

QUANTILES: tuple[float, ...] = (0.05, 0.10, 0.25, 0.50, 0.75, 0.90, 0.95)
"""Quantile levels that every forecast table shows."""


@dataclass(frozen=True, slots=True)
class Column:
    """One column of a table: its name, kind, unit, allowed range and meaning."""

    name: str
    kind: Kind
    meaning: str
    unit: str = ""
    low: float | None = None
    high: float | None = None
    required: bool = True
    one_of: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class FrameSpec:
    """One table: its name, columns and the columns that together identify a row."""

    name: str
    columns: tuple[Column, ...]
    key: tuple[str, ...] = ()

    @property
    def names(self) -> list[str]:
        """Column names, in order."""
        return [column.name for column in self.columns]

    def empty(self) -> pd.DataFrame:
        """Return a table of this kind without rows."""
        return pd.DataFrame({c.name: pd.Series(dtype=_DTYPES[c.kind]) for c in self.columns})


_DTYPES: dict[str, str] = {
    "date": "datetime64[ns]",
    "text": "string",
    "number": "float64",
    "integer": "int64",
    "boolean": "bool",
}


def quantile_columns(unit: str = "") -> list[str]:
    """Return the names of the quantile columns, ``q05_kg`` to ``q95_kg`` for unit ``kg``.

    Examples
    --------
    >>> quantile_columns("kg")[:2]
    ['q05_kg', 'q10_kg']
    """
    suffix = f"_{unit}" if unit else ""
    return [f"q{round(100 * level):02d}{suffix}" for level in QUANTILES]


def _summary(unit: str) -> tuple[Column, ...]:
    names = [f"mean_{unit}" if unit else "mean", *quantile_columns(unit)]
    return tuple(
        Column(name, "number", "summary over draws", unit, low=0, required=False) for name in names
    )


_CROP = Column("crop", "text", "crop, canonical lower-case name")
_VARIETY = Column("variety", "text", "variety as typed; 'unnamed' where none was given")
_BED = Column("bed", "text", "bed as typed", required=False)
_NOTE = Column("note", "text", "note as typed", required=False)
_FILE = Column("file", "text", "file the row came from", required=False)
_LINE = Column("line", "number", "line in that file, from 1", required=False)

PICKS = FrameSpec(
    "picks",
    (
        Column("date", "date", "day of the pick"),
        _CROP,
        _VARIETY,
        _BED,
        Column(
            "count", "number", "fruits picked; 0 means looked and found none", low=0, required=False
        ),
        Column("mass_kg", "number", "mass picked", "kg", low=0, required=False),
        Column("grade", "text", "grade", one_of=("good", "oversize", "damaged")),
        Column("hours", "number", "hours spent picking", "h", low=0, required=False),
        _NOTE,
        _FILE,
        _LINE,
    ),
)

PLANTINGS = FrameSpec(
    "plantings",
    (
        _CROP,
        _VARIETY,
        _BED,
        Column(
            "date",
            "date",
            "day of sowing or setting out; unknown for old perennials",
            required=False,
        ),
        Column("how", "text", "how it was planted", one_of=("sown", "set_out")),
        Column(
            "plants", "number", "plants standing (or seeds sown, as typed)", low=0, required=False
        ),
        Column("row_m", "number", "row length", "m", low=0, required=False),
        Column("area_m2", "number", "bed area taken", "m2", low=0, required=False),
        Column("removed", "date", "day it was pulled out", required=False),
        _NOTE,
        _FILE,
        _LINE,
    ),
)

WEATHER = FrameSpec(
    "weather",
    (
        Column("date", "date", "day"),
        Column("tmin_c", "number", "daily minimum", "degC", low=-60, high=50),
        Column("tmax_c", "number", "daily maximum", "degC", low=-60, high=60),
        Column("rain_mm", "number", "rain", "mm", low=0, required=False),
        Column(
            "kind", "text", "how the values came about", one_of=("observed", "filled", "forecast")
        ),
        Column("issued", "date", "day a weather forecast was issued", required=False),
    ),
)
"""Observed and filled days: one row a day. Forecast days: one row a day and day of issue."""

PANTRY = FrameSpec(
    "pantry",
    (
        Column("date", "date", "day"),
        Column("product", "text", "product as typed, lower case, single spaces"),
        Column("jar", "text", "jar or bag size", required=False),
        Column("change", "number", "jars put up (+) or eaten (-)", "jars"),
        Column("produce_kg", "number", "produce used", "kg", low=0, required=False),
        Column("hours", "number", "hands-on hours taken", "h", low=0, required=False),
        _NOTE,
        _FILE,
        _LINE,
    ),
)

NOTICES = FrameSpec(
    "notices",
    (
        Column("file", "text", "file"),
        Column("line", "number", "line, from 1", required=False),
        Column("column", "text", "heading or key", required=False),
        Column("value", "text", "what was typed", required=False),
        Column("odd", "text", "what was odd"),
        Column("done", "text", "what was done about it"),
    ),
)

DRAWS = FrameSpec(
    "draws",
    (
        Column("draw", "integer", "number of the possible future, from 0", low=0),
        Column("date", "date", "day"),
        _CROP,
        _VARIETY,
        Column("mass_kg", "number", "mass picked that day", "kg", low=0),
        Column("count", "number", "fruits picked that day", low=0, required=False),
    ),
    key=("draw", "date", "crop", "variety"),
)

_WEEK = (
    Column("week", "integer", "weeks ahead, from 1", low=1),
    Column("start", "date", "first day of the week"),
    Column("end", "date", "last day of the week"),
)
WEEKLY_BY_CROP = FrameSpec(
    "weekly", (_CROP, *_WEEK, *_summary("kg"), *_summary("count")), key=("crop", "week")
)
WEEKLY_BY_VARIETY = FrameSpec(
    "weekly",
    (_CROP, _VARIETY, *_WEEK, *_summary("kg"), *_summary("count")),
    key=("crop", "variety", "week"),
)

CHECKS = FrameSpec(
    "checks",
    (
        _CROP,
        _VARIETY,
        Column("check", "text", "what was checked"),
        Column("statistic", "number", "value found", required=False),
        Column("operator", "text", "how it must compare", one_of=("<", "<=", ">", ">=", "==")),
        Column("threshold", "number", "value it is compared with", required=False),
        Column("passed", "boolean", "whether the check passed"),
        Column("comment", "text", "what it means and what was done", required=False),
    ),
)

FITTED = FrameSpec(
    "fitted",
    (
        Column("date", "date", "day"),
        _CROP,
        _VARIETY,
        Column("degree_days", "number", "heat since planting", "degC d", low=0, required=False),
        Column("ready_q10_kg", "number", "becoming ready that day, 10 % quantile", "kg", low=0),
        Column("ready_q50_kg", "number", "becoming ready that day, median", "kg", low=0),
        Column("ready_q90_kg", "number", "becoming ready that day, 90 % quantile", "kg", low=0),
        Column("curve_q50_kg", "number", "the smooth curve alone, median", "kg", low=0),
    ),
    key=("date", "crop", "variety"),
)
"""The fitted season of every variety, from planting to the end of the forecast."""

LEFT_OUT = FrameSpec(
    "left_out",
    (
        _CROP,
        _VARIETY,
        _BED,
        Column("date", "date", "planting date", required=False),
        Column("reason", "text", "why there is no forecast"),
    ),
)

SCORES = FrameSpec(
    "scores",
    (
        Column("origin", "date", "day the forecast was made on (its last day of data)"),
        _CROP,
        _VARIETY,
        Column("week", "integer", "weeks ahead, from 1", low=1),
        Column("observed", "number", "mass picked that week", "kg", low=0),
        Column("mean", "number", "forecast mean", "kg", low=0),
        *(Column(n, "number", "forecast quantile", "kg", low=0) for n in quantile_columns()),
        Column("crps", "number", "continuous ranked probability score, fair estimator", "kg"),
    ),
    key=("origin", "crop", "variety", "week"),
)

BATCHES = FrameSpec(
    "batches",
    (
        Column("day", "date", "day of the work"),
        _CROP,
        Column("product", "text", "product key of the catalogue"),
        Column("label", "text", "product in household words"),
        Column("method", "text", "boiling_water, pressure, freezing, drying, fermenting, ..."),
        Column("batches", "number", "batches; whole where decided", low=0),
        Column("mass_kg", "number", "produce used, mean over draws", "kg", low=0),
        Column("jar", "text", "jar or bag size", required=False),
        Column("jars", "number", "jars or bags filled, mean over draws", low=0),
        Column("hands_on_h", "number", "hands-on hours", "h", low=0),
        Column("equipment", "text", "what stands occupied"),
        Column("equipment_h", "number", "hours it stands occupied", "h", low=0),
        Column("process_min", "number", "process time", "min", low=0, required=False),
        Column("pressure_psi", "number", "gauge pressure", "psi", low=0, required=False),
        Column("headspace_in", "number", "headspace", "in", low=0, required=False),
        Column("best_by", "date", "use for best quality by", required=False),
        Column("decided", "boolean", "decided now (True) or an outlook for later days (False)"),
        Column("source", "text", "where the process stands", required=False),
    ),
)

BALANCE = FrameSpec(
    "balance",
    (
        Column("day", "date", "day"),
        _CROP,
        *(
            Column(name, "number", meaning, "kg", low=-1e-6)
            for name, meaning in (
                ("carried_in", "lying there in the morning"),
                ("picked", "picked that day"),
                ("eaten", "eaten fresh"),
                ("put_up", "put up"),
                ("given", "given away or fed to animals"),
                ("spoiled", "spoiled or over capacity"),
                ("carried_out", "lying there in the evening"),
            )
        ),
    ),
    key=("day", "crop"),
)
"""Means over draws, kg. What comes in (carried_in, picked) equals what goes out, row by row."""

SURPLUS = FrameSpec(
    "surplus",
    (
        _CROP,
        *_WEEK,
        *_summary("kg"),
        Column(
            "p_beats_capacity", "number", "share of draws whose week beats capacity", low=0, high=1
        ),
    ),
    key=("crop", "week"),
)

OPTIONS = FrameSpec(
    "options",
    (
        Column("option", "text", "key: product/jar/method"),
        _CROP,
        Column("product", "text", "product key of the catalogue"),
        Column("label", "text", "product in household words"),
        Column("method", "text", "boiling_water, pressure, freezing, drying, fermenting, ..."),
        Column("jar", "text", "jar or bag size", required=False),
        Column("kg_per_batch", "number", "produce a full batch takes, as picked", "kg", low=0),
        Column("jars_per_batch", "number", "jars or bags a full batch fills", low=0),
        Column("pint_jars_per_jar", "number", "pints of food in one jar", low=0),
        Column("hands_on_h", "number", "hands-on hours a batch", "h", low=0),
        Column("equipment", "text", "kind of equipment it occupies; 'none' where nothing"),
        Column("equipment_h", "number", "hours it occupies one such piece", "h", low=0),
        Column("lids_per_batch", "number", "new lids a batch takes", low=0),
        Column("freezer_l_per_batch", "number", "freezer space a batch takes", "l", low=0),
        Column("max_age_days", "number", "oldest pick it may use", "d", low=0),
        Column("takes_oversize", "boolean", "whether oversize fruit may be used"),
        Column("best_by_days", "number", "days of best quality once put up", "d", low=0),
        Column("process_min", "number", "process time", "min", low=0, required=False),
        Column("pressure_psi", "number", "gauge pressure", "psi", low=0, required=False),
        Column("headspace_in", "number", "headspace", "in", low=0, required=False),
        Column("source", "text", "where process and amounts stand"),
    ),
    key=("option",),
)
"""Everything this household could put up this week, one row a way of doing it."""

FRESH = FrameSpec(
    "fresh",
    (
        _CROP,
        Column("eat_kg_day", "number", "fresh use the household enjoys", "kg", low=0),
        Column("eat_at_most_kg_day", "number", "ceiling of fresh use", "kg", low=0),
        Column("give_kg_day", "number", "given away at most", "kg", low=0),
        Column("animals_kg_day", "number", "fed to animals at most", "kg", low=0),
        Column("keep_days", "number", "days it keeps fresh in its place", "d", low=0),
        Column("place", "text", "refrigerator, counter or cool_store"),
        Column("litres_per_kg", "number", "space it takes there", "l", low=0),
        Column("ripen_days", "number", "days before it can be used", "d", low=0),
        Column("source", "text", "where the figures stand"),
    ),
    key=("crop",),
)

WANTED = FrameSpec(
    "wanted",
    (
        Column("product", "text", "product key of the catalogue"),
        Column("label", "text", "product in household words"),
        Column("target_jars", "number", "jars a year the household wants", low=0),
        Column("stock_jars", "number", "jars on the shelf at as_of", low=0),
        Column("wanted_jars", "number", "jars still to put up", low=0),
        Column("eaten_jars_week", "number", "pace of eating", low=0, required=False),
        Column("run_out", "date", "day the shelf is empty at that pace", required=False),
    ),
    key=("product",),
)

SHOPPING = FrameSpec(
    "shopping",
    (
        Column("item", "text", "what to buy"),
        Column("needed", "number", "needed for the planned batches", low=0),
        Column("in_stock", "number", "in stock", low=0),
        Column("to_buy", "number", "to buy", low=0),
        Column("unit", "text", "unit of the three amounts"),
        Column("shown", "text", "amount to buy in the household's units"),
        Column("use", "text", "what it is for", required=False),
    ),
    key=("item",),
)

BOTTLENECKS = FrameSpec(
    "bottlenecks",
    (
        Column("resource", "text", "resource in household words"),
        Column("one_more", "text", "one usable unit more"),
        Column("saved_kg", "number", "produce it would save from spoiling", "kg"),
        Column("more_jars", "number", "jars it would add"),
        Column("value", "number", "what it would add to the plan's value", "points"),
        Column("comment", "text", "how sure this is", required=False),
    ),
    key=("resource",),
)


def check_frame(frame: pd.DataFrame, spec: FrameSpec) -> pd.DataFrame:
    """Check a table against its specification and return a tidy copy.

    Parameters
    ----------
    frame : pandas.DataFrame
        Table to check; columns beyond the specification are dropped.
    spec : FrameSpec
        What it must look like.

    Returns
    -------
    pandas.DataFrame
        Copy with the columns in order, the right dtypes and a fresh index.

    Raises
    ------
    FrameError
        With every breach named (table, column, rows, value, rule), not only the first.

    Examples
    --------
    >>> check_frame(PICKS.empty(), PICKS).columns[0]
    'date'
    """
    missing = [n for n in spec.names if n not in frame.columns]
    if missing:
        raise FrameError(f"table {spec.name}: missing column(s) {', '.join(missing)}")
    tidy = frame.loc[:, spec.names].reset_index(drop=True)
    breaches: list[str] = []
    for column in spec.columns:
        values = tidy[column.name]
        if column.required and values.isna().any():
            rows = list(values.index[values.isna()][:5])
            breaches.append(f"{column.name}: empty in row(s) {rows}, but it is required")
            continue
        try:
            tidy[column.name] = _cast(values, column.kind)
        except (TypeError, ValueError) as error:
            breaches.append(f"{column.name}: must be {column.kind}; {error}")
            continue
        breaches.extend(_range_breaches(tidy[column.name], column))
    if spec.key and not breaches and tidy.duplicated(list(spec.key)).any():
        rows = list(tidy.index[tidy.duplicated(list(spec.key))][:5])
        breaches.append(f"{', '.join(spec.key)}: not unique in row(s) {rows}")
    if breaches:
        raise FrameError(f"table {spec.name}: " + "; ".join(breaches))
    return tidy


def _cast(values: pd.Series, kind: Kind) -> pd.Series:
    return values.astype(_DTYPES[kind])  # type: ignore[call-overload]


def _range_breaches(values: pd.Series, column: Column) -> list[str]:
    breaches = []
    if column.kind in ("number", "integer"):
        numbers = values.to_numpy(float)
        bad = np.isinf(numbers)
        if column.low is not None:
            bad |= numbers < column.low
        if column.high is not None:
            bad |= numbers > column.high
        if bad.any():
            rows = np.flatnonzero(bad)[:5].tolist()
            breaches.append(
                f"{column.name}: {numbers[rows].tolist()} in row(s) {rows} outside "
                f"{column.low} to {column.high} {column.unit}".rstrip()
            )
    if column.one_of:
        strange = sorted(set(values.dropna()) - set(column.one_of))
        if strange:
            breaches.append(f"{column.name}: {strange} not one of {list(column.one_of)}")
    return breaches
