"""Limits of the safety rules in the household's units, the tables' own beside them.

The tables of the trade are in degrees Fahrenheit, inches, pounds and spoons. A metric household
reads its own units first and the table's figure in brackets. A least figure is rounded up and a
greatest one down, so that a converted limit is never laxer than the one that was tested.
"""

from __future__ import annotations

import math
from typing import Protocol

from harvestcast.kitchen.handbook.process_times import elevation_in_feet
from harvestcast.kitchen.messages import height
from harvestcast.records.household import Household
from harvestcast.units import KG_PER_LB, L_PER_CUP, M_PER_FT


class HasUnits(Protocol):
    """Whatever says in which units it is read: a household, or a report for one."""

    @property
    def units(self) -> str:
        """Units, ``"us"`` or ``"metric"``."""
        ...


TEASPOON_ML = 1000 * L_PER_CUP / 48


def in_units(us: str, metric: str, household: HasUnits) -> str:
    """Return what the tables say, metric first where the household is metric."""
    return us if household.units == "us" else f"{metric} ({us})"


def heat(household: HasUnits, *fahrenheit: float) -> str:
    """Return one temperature, or the ends of a range."""
    celsius = [f"{(one - 32) / 1.8:.0f}" for one in fahrenheit]
    us = f"{' to '.join(f'{one:g}' for one in fahrenheit)} F"
    return in_units(us, f"{' to '.join(celsius)} C", household)


def at_least_inch(number: float, household: HasUnits) -> str:
    """Return a least height; never less in centimetres than in inches."""
    cm = math.ceil(25.4 * number - 1e-9) / 10
    return in_units(f"{number:g} inch{'' if number == 1 else 'es'}", f"{cm:g} cm", household)


def spoons(number: float, teaspoons: int, household: HasUnits) -> str:
    """Return a least amount of acid; never less in millilitres than in spoons."""
    name = "teaspoon" if teaspoons == 1 else "tablespoon"
    ml = math.ceil(2 * number * teaspoons * TEASPOON_ML - 1e-9) / 2
    return in_units(f"{number:g} {name}{'s' if number > 1 else ''}", f"{ml:g} ml", household)


def at_most_lb(number: float, household: HasUnits) -> str:
    """Return a greatest weight; never more in kilograms than in pounds."""
    kg = math.floor(10 * number * KG_PER_LB) / 10
    return in_units(f"{number:g} lb", f"{kg:g} kg", household)


def feet_at_most(feet: int, household: HasUnits) -> str:
    """Return a height that is not to be passed; never more in metres than in feet."""
    return in_units(f"{feet:,} ft", f"{math.floor(feet * M_PER_FT):,} m", household)


def elevation(household: Household) -> str:
    """Return the household's elevation, its own unit first."""
    metres = household.elevation_m
    return height(metres or 0.0, elevation_in_feet(metres), household.units)


def band(low: float, high: float, household: HasUnits) -> str:
    """Return a band of elevations of a table; never higher in metres than in feet."""
    first, last = low if math.isfinite(high) else low - 1, high
    metres = [f"{math.floor(feet * M_PER_FT):,}" for feet in (first, last) if math.isfinite(feet)]
    if math.isfinite(high):
        return in_units(f"{low:,.0f} to {high:,.0f} ft", f"{' to '.join(metres)} m", household)
    return in_units(f"above {first:,.0f} ft", f"above {metres[0]} m", household)
