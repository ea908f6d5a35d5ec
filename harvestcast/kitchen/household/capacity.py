"""What the kitchen can do on each day: hours, equipment, jars, lids and room.

Canners and dryers are counted in hours a day, crocks in pieces that stand occupied for weeks,
freezer, refrigerator and cool store in litres. What the household did not say is NaN: it limits
nothing, and :attr:`Capacity.unsaid` names it so that the plan can say so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.kitchen.household.jars import jars_by_size
from harvestcast.records.household import WEEKDAYS, Household

CANNER_HOURS_PER_DAY = 12.0
"""Hours a canner can be on the stove in a day. Common practice, no source."""

DRYER_DAY_STARTS_H = 7.0
DRYER_LAST_LOAD_H = 21.0
"""Clock hours between which somebody is up to load a dryer. Common practice, no source."""

JAR_SIZES = ("half_pint", "pint", "quart")

WITHOUT_HOURS = ("none", "stove", "freezer")
"""Equipment that is not counted in hours: a freezer is counted in litres."""

PLACES = ("refrigerator", "cool_store")
"""Places whose room can run out; a counter has no limit."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Capacity:
    """Capacity of one household over some days.

    Parameters
    ----------
    start : pandas.Timestamp
        First day.
    hours : numpy.ndarray
        Hands-on hours for putting up, shape (days,).
    kinds : tuple of str
        Kinds of equipment counted in hours or pieces (``Equipment.vessel``): pressure canners of
        either gauge are a kind of their own.
    pieces : numpy.ndarray
        Pieces of each kind, shape (kinds,). A fraction is a part more, such as one tray.
    stores : tuple of (str, float)
        Amounts for the whole time: jars by size, ``lids``, ``freezer_bags``, ``freezer_l``,
        ``refrigerator_l``, ``cool_store_l``. NaN: not said, so not limited.
    trays : int
        Trays of all dryers together; 0 where not said.
    stove : float
        Canners of all kinds that can be in use at a time; infinite where not said.
    """

    start: pd.Timestamp
    hours: Array
    kinds: tuple[str, ...]
    pieces: Array
    stores: tuple[tuple[str, float], ...]
    trays: int = 0
    stove: float = float("inf")

    @property
    def days(self) -> int:
        """Number of days."""
        return len(self.hours)

    @property
    def dates(self) -> pd.DatetimeIndex:
        """The days."""
        return pd.date_range(self.start, periods=self.days)

    def number_of(self, kind: str) -> float:
        """Return the pieces of one kind of equipment; infinite where it is not counted.

        Parameters
        ----------
        kind : str
            Kind of equipment, as in the column ``equipment`` of the options.

        Returns
        -------
        float
            Pieces, 0 where the household has none.
        """
        if kind in WITHOUT_HOURS:
            return float("inf")
        return float(self.pieces[self.kinds.index(kind)]) if kind in self.kinds else 0.0

    def store(self, name: str) -> float:
        """Return the amount of one store: jars, lids (pieces) or room (litres); NaN if unsaid."""
        return dict(self.stores).get(name, float("nan"))

    @property
    def unsaid(self) -> tuple[str, ...]:
        """Stores the household said nothing about: they limit nothing."""
        return tuple(name for name, amount in self.stores if np.isnan(amount))

    @property
    def daily(self) -> pd.DataFrame:
        """Table of one row a day: ``day``, ``hands_on_h`` and hours of each kind of equipment."""
        table = pd.DataFrame({"day": self.dates, "hands_on_h": self.hours})
        for kind in self.kinds:
            table[f"{kind}_h"] = self.number_of(kind) * hours_per_piece(kind)
        return table


def hours_per_piece(kind: str) -> float:
    """Return the hours a day that one piece of equipment can be in use.

    Examples
    --------
    >>> hours_per_piece("boiling_water_canner")
    12.0
    """
    return CANNER_HOURS_PER_DAY if kind.endswith("canner") else 24.0


def dryer_day(longest_load_h: float) -> tuple[float, float]:
    """Return the hours of loads begun in a day, and how far the last may run into the next.

    A dryer's day goes from seven in the morning to seven in the morning. Its last load goes in
    at nine in the evening at the latest and may run on over midnight and past seven; the hours
    past seven are taken from the next day.

    Parameters
    ----------
    longest_load_h : float
        Hours of the longest load, more than 0.

    Returns
    -------
    hours : float
        Hours of loads that one dryer can begin in a day when it is empty at seven.
    over : float
        Hours that one dryer may run on past seven the next morning.

    Examples
    --------
    >>> dryer_day(6.0)  # loads at 7, 13 and 19 o'clock; a fourth would go in at 1 o'clock
    (20.0, 0.0)
    >>> dryer_day(14.0)  # loads at 7 and 21 o'clock; the second is ready at 11 the next day
    (24.0, 4.0)
    """
    open_h = DRYER_LAST_LOAD_H - DRYER_DAY_STARTS_H
    return min(24.0, open_h + longest_load_h), max(0.0, open_h + longest_load_h - 24.0)


def capacity_of(household: Household, start: pd.Timestamp, days: int) -> Capacity:
    """Return what a household's kitchen can do over some days.

    Parameters
    ----------
    household : Household
        Settings: hours per weekday, equipment, jars.
    start : pandas.Timestamp
        First day.
    days : int
        Number of days, at least 1.

    Returns
    -------
    Capacity
        Hours of each day, pieces of equipment and amounts of jars, lids and room. A size of jar
        that is left out counts as none where another size is given, and as unsaid where the
        household gives no jars at all. No freezer means no freezer room.

    Raises
    ------
    ValueError
        Where ``days`` is less than 1.

    Examples
    --------
    >>> import pandas as pd
    >>> from harvestcast.records.household import Household
    >>> friday = pd.Timestamp("2026-08-07")
    >>> capacity_of(Household(hours={"saturday": 4}), friday, 2).hours.tolist()
    [0.0, 4.0]
    """
    if days < 1:
        raise ValueError("days: at least 1")
    first = pd.Timestamp(start).normalize()
    dates = pd.date_range(first, periods=days)
    by_weekday = {str(day): float(hours) for day, hours in household.hours.items()}
    hours = np.array([by_weekday.get(WEEKDAYS[d.weekday()], 0.0) for d in dates])
    hours.flags.writeable = False
    counted: dict[str, float] = {}
    room = {"freezer": 0.0, **dict.fromkeys(PLACES, float("nan"))}
    trays = 0
    for piece in household.equipment:
        if piece.kind in room:
            before = 0.0 if np.isnan(room[piece.kind]) else room[piece.kind]
            room[piece.kind] = before + piece.number * float(piece.free_l or 0.0)
        else:
            counted[piece.vessel] = counted.get(piece.vessel, 0.0) + piece.number
        if piece.kind == "dryer" and piece.trays is not None:
            trays += piece.number * piece.trays
    kinds = tuple(sorted(counted))
    pieces = np.array([counted[kind] for kind in kinds], float)
    pieces.flags.writeable = False
    return Capacity(
        start=first,
        hours=hours,
        kinds=kinds,
        pieces=pieces,
        stores=(*_jar_stores(household), *((f"{place}_l", room[place]) for place in room)),
        trays=trays,
        stove=float(household.stove_places or np.inf),
    )


def _jar_stores(household: Household) -> tuple[tuple[str, float], ...]:
    said, jars = household.jars, jars_by_size(household)
    none = 0.0 if jars else float("nan")
    sizes = tuple((size, jars[size].number if size in jars else none) for size in JAR_SIZES)
    rest = tuple((name, float(said.get(name, float("nan")))) for name in ("lids", "freezer_bags"))
    return sizes + rest


def jar_store(jar: object) -> str | None:
    """Return which store a jar or bag comes from; None where none is counted.

    Examples
    --------
    >>> jar_store("quart"), jar_store("pint bag"), jar_store(None)
    ('quart', 'freezer_bags', None)
    """
    if pd.isna(jar):  # type: ignore[call-overload]
        return None
    name = str(jar).lower().replace("-", "_").replace(" ", "_")
    if "bag" in name:
        return "freezer_bags"
    return name if name in JAR_SIZES else None
