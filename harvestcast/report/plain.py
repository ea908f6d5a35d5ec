"""Results as plain values for scripts: unknown is null, a date its ISO text."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd


def plain(value: Any) -> Any:
    """Return a value as JSON knows it: unknown is null, a date its ISO text.

    Examples
    --------
    >>> plain(float("nan")) is None, plain(pd.Timestamp("2026-07-19")), plain(np.float64(2.5))
    (True, '2026-07-19', 2.5)
    """
    if isinstance(value, Mapping):
        return {str(k): plain(v) for k, v in value.items()}
    if isinstance(value, list | tuple):
        return [plain(v) for v in value]
    if value is None or value is pd.NaT or value is pd.NA:
        return None
    if isinstance(value, pd.Timestamp):
        return value.date().isoformat()
    if isinstance(value, np.bool_ | bool):
        return bool(value)
    if isinstance(value, np.integer | int):
        return int(value)
    if isinstance(value, np.floating | float):
        return round(float(value), 6) if np.isfinite(value) else None
    return str(value)


def rows(frame: pd.DataFrame) -> list[dict[str, Any]]:
    """Return a table as a list of plain rows.

    Examples
    --------
    >>> rows(pd.DataFrame({"crop": ["kale"], "mean_kg": [np.nan]}))
    [{'crop': 'kale', 'mean_kg': None}]
    """
    return [plain(row) for row in frame.to_dict("records")]
