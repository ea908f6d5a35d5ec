"""What a table is made of, and the one checker."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd

from harvestcast.errors import FrameError

Kind = Literal["date", "text", "number", "integer", "boolean", "facts"]

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
        return pd.DataFrame({c.name: pd.Series(dtype=_dtype(c)) for c in self.columns})


_DTYPES: dict[str, str] = {
    "date": "datetime64[ns]",
    "text": "string",
    "number": "float64",
    "integer": "int64",
    "boolean": "bool",
    "facts": "object",
}


def _dtype(column: Column) -> str:
    # Whole numbers that may be unknown keep their wholeness in the nullable type.
    if column.kind == "integer" and not column.required:
        return "Int64"
    return _DTYPES[column.kind]


def quantile_columns(unit: str = "") -> list[str]:
    """Return the names of the quantile columns, ``q05_kg`` to ``q95_kg`` for unit ``kg``.

    Examples
    --------
    >>> quantile_columns("kg")[:2]
    ['q05_kg', 'q10_kg']
    """
    suffix = f"_{unit}" if unit else ""
    return [f"q{round(100 * level):02d}{suffix}" for level in QUANTILES]


def number(
    name: str,
    meaning: str,
    unit: str = "",
    low: float | None = 0,
    high: float | None = None,
    required: bool = True,
) -> Column:
    """Return a column of numbers."""
    return Column(name, "number", meaning, unit, low, high, required)


def integer(name: str, meaning: str, low: float | None = 0, required: bool = True) -> Column:
    """Return a column of whole numbers."""
    return Column(name, "integer", meaning, low=low, required=required)


def text(name: str, meaning: str, required: bool = True, one_of: tuple[str, ...] = ()) -> Column:
    """Return a column of text."""
    return Column(name, "text", meaning, required=required, one_of=one_of)


def date(name: str, meaning: str, required: bool = True) -> Column:
    """Return a column of dates."""
    return Column(name, "date", meaning, required=required)


def boolean(name: str, meaning: str) -> Column:
    """Return a column of yes and no."""
    return Column(name, "boolean", meaning)


def facts(name: str, meaning: str) -> Column:
    """Return the column of the facts that a sentence was made from, a dict a row."""
    return Column(name, "facts", meaning, required=False)


def summary(unit: str) -> tuple[Column, ...]:
    """Return the columns that summarise draws: the mean and the quantiles."""
    names = [f"mean_{unit}" if unit else "mean", *quantile_columns(unit)]
    return tuple(
        Column(name, "number", "summary over draws", unit, low=0, required=False) for name in names
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
    >>> from harvestcast.frames import PICKS
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
            tidy[column.name] = _cast(values, column)
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


def _cast(values: pd.Series, column: Column) -> pd.Series:
    dtype = _dtype(column)
    if column.kind == "facts":  # none given is the same as none
        plain = [dict(given) if isinstance(given, Mapping) else {} for given in values]
        return pd.Series(plain, values.index, dtype=object)
    if dtype == "Int64":  # from mixed objects it is reached by way of numbers only
        values = values.astype("float64")
    return values.astype(dtype)  # type: ignore[call-overload]


def _range_breaches(values: pd.Series, column: Column) -> list[str]:
    breaches = []
    if column.kind in ("number", "integer"):
        numbers = values.to_numpy(float, na_value=np.nan)
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
