"""The garden's own season: when it begins, what it is called, and from what that is known.

North of the equator a season is a calendar year; south of it, it runs from 1 July to 30 June. A
season is numbered by the year in which it begins, everywhere: in tables, in ``--year``, in file
names. Where it crosses New Year people see both years, "2025/26".

Writing a pick down asks for a season's name too, so tables are loaded only where they are needed.
"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from harvestcast.records.household import Household

if TYPE_CHECKING:
    import pandas as pd

Hemisphere = Literal["north", "south"]
Basis = Literal["latitude", "hemisphere", "weather", "frosts", "assumed"]

WARMER_BY_C = 3.0
"""Degrees by which June to August must differ in the mean from December to February before the
weather tells the hemisphere: less may be chance, or the tropics. Our judgement. [degC]"""
DAYS_OF_EACH = 20
"""Days of weather that each of these quarters must have for that."""
SOUTH_STARTS = 7
"""Month in which a season begins south of the equator: about six months from summer's height."""

_SEASON = re.compile(r"\s*(\d{4})(?:\s*[/-]\s*(\d{2}|\d{4}))?\s*")


class Span(NamedTuple):
    """First and last day of a season."""

    start: pd.Timestamp
    end: pd.Timestamp


@dataclass(frozen=True, slots=True, kw_only=True)
class Seasons:
    """How the seasons of one garden lie in the calendar.

    Parameters
    ----------
    hemisphere : {"north", "south"}
        Where the garden lies.
    basis : {"latitude", "hemisphere", "weather", "frosts", "assumed"}
        What that is known from; ``assumed`` where nothing tells it.

    Examples
    --------
    >>> south = Seasons(hemisphere="south", basis="latitude")
    >>> south.of(dt.date(2026, 2, 10)), south.label(2025)
    (2025, '2025/26')
    """

    hemisphere: Hemisphere = "north"
    basis: Basis = "assumed"

    @property
    def southern(self) -> bool | None:
        """Whether the garden lies south of the equator; None where nothing tells it."""
        return None if self.basis == "assumed" else self.hemisphere == "south"

    @property
    def month(self) -> int:
        """Month whose first day begins a season, 1 or 7."""
        return SOUTH_STARTS if self.hemisphere == "south" else 1

    def of(self, day: dt.date) -> int:
        """Return the season that holds a day."""
        return int(day.year) - (day.month < self.month)

    def of_each(self, days: pd.Series) -> pd.Series:
        """Return the season that holds each day; NaN for no day."""
        return days.dt.year - (days.dt.month < self.month)

    def span(self, season: int) -> Span:
        """Return the first and the last day of a season."""
        import pandas as pd

        start = pd.Timestamp(season, self.month, 1)
        return Span(start, start + pd.DateOffset(years=1) - pd.Timedelta(days=1))

    def start(self, day: pd.Timestamp) -> pd.Timestamp:
        """Return the first day of the season that holds a day."""
        return self.span(self.of(day)).start

    def label(self, season: int) -> str:
        """Return what people call a season: "2025", or "2025/26" where it crosses New Year."""
        return str(season) if self.month == 1 else f"{season}/{(season + 1) % 100:02d}"

    def day(self, month_day: str, season: int) -> pd.Timestamp:
        """Return the day ``MM-DD`` of a season; 29 February is the 28th.

        Examples
        --------
        >>> Seasons(hemisphere="south").day("02-29", 2025)
        Timestamp('2026-02-28 00:00:00')
        """
        import pandas as pd

        text = month_day.replace("02-29", "02-28")
        return pd.Timestamp(f"{season + (int(text[:2]) < self.month)}-{text}")


def seasons_of(household: Household, weather: pd.DataFrame | None = None) -> Seasons:
    """Return how the seasons of a garden lie in the calendar.

    Latitude and hemisphere say it where the settings give one; else the weather does (which half of
    the year is the warm one), else the usual days of frost. Where nothing tells it a season is
    taken to be a calendar year.

    Parameters
    ----------
    household : Household
        Settings: ``latitude``, ``hemisphere``, ``last_frost``, ``first_frost``.
    weather : pandas.DataFrame, optional
        WEATHER frame; left out: not asked.

    Examples
    --------
    >>> seasons_of(Household(latitude=-41.2)).label(2025)
    '2025/26'
    """
    if household.latitude is not None:
        return Seasons(hemisphere="south" if household.latitude < 0 else "north", basis="latitude")
    if household.hemisphere is not None:
        return Seasons(hemisphere=household.hemisphere, basis="hemisphere")
    found = None if weather is None else warm_half(weather)
    if found is not None:
        return Seasons(hemisphere=found, basis="weather")
    told = frosts_tell(household)
    return Seasons() if told is None else Seasons(hemisphere=told, basis="frosts")


def warm_half(weather: pd.DataFrame) -> Hemisphere | None:
    """Return the hemisphere whose summer is the warm half of a weather record; None if unclear."""
    import numpy as np

    seen = (weather["kind"] != "forecast").to_numpy(bool)
    mean = weather[["tmin_c", "tmax_c"]].to_numpy(float)[seen].mean(axis=1)
    month = weather["date"].dt.month.to_numpy()[seen]
    known = np.isfinite(mean)
    june, december = (mean[known & np.isin(month, m)] for m in ((6, 7, 8), (12, 1, 2)))
    if min(len(june), len(december)) < DAYS_OF_EACH:
        return None
    warmer = float(june.mean() - december.mean())
    if abs(warmer) < WARMER_BY_C:
        return None
    return "north" if warmer > 0 else "south"


def frosts_tell(household: Household) -> Hemisphere | None:
    """Return the hemisphere that the usual days of frost tell; None where none is given.

    The last frost of spring falls in the second half of the year south of the equator, the first
    one of autumn in its first half.
    """
    if household.last_frost is not None:
        return "south" if int(household.last_frost[:2]) >= SOUTH_STARTS else "north"
    if household.first_frost is not None:
        return "south" if int(household.first_frost[:2]) < SOUTH_STARTS else "north"
    return None


def read_season(text: str) -> int:
    """Return the season that was typed as "2025" or "2025/26".

    Raises
    ------
    ValueError
        Where it is neither, or its two years do not follow each other.

    Examples
    --------
    >>> read_season("2025/26"), read_season("2025")
    (2025, 2025)
    """
    match = _SEASON.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is no season")
    first = int(match[1])
    if match[2] is not None and int(match[2]) % 100 != (first + 1) % 100:
        raise ValueError(f"{text!r} is no season: the second year does not follow the first")
    return first
