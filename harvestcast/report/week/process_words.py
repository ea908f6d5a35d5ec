"""How a batch is put up, in words: the one place where a canning time is said.

Terminal and page say the same facts;
:class:`harvestcast.kitchen.handbook.conditions.Conditions` refuses a time that lacks one of them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import pandas as pd

from harvestcast.kitchen.handbook.both_units import HasUnits, band, spoons
from harvestcast.kitchen.handbook.conditions import Conditions, conditions_of_row
from harvestcast.words import amounts as wording
from harvestcast.words.crops import processed_as

_ACID: dict[str, str] = {
    "lemon_juice_in_recipe": "bottled lemon or lime juice as in the recipe, never less",
    "vinegar_in_recipe": "vinegar of 5 % acidity as in the recipe, never less",
    "vinegar_and_lemon_juice_in_recipe": (
        "vinegar of 5 % acidity and bottled lemon juice as in the recipe, never less"
    ),
    "of_its_fermentation": "acid of its own fermentation, salt as in the recipe",
    "none_added": "no acid added",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class ProcessWords:
    """How a batch is put up, in two parts.

    Attributes
    ----------
    how : str
        Vessel with its gauge; for what is canned time and pressure.
    holds_for : str
        What the time holds for besides: jar, pack, headspace, acid, band of elevations. Empty for
        what is not canned.
    """

    how: str
    holds_for: str

    @property
    def line(self) -> str:
        """Both in a line."""
        return f"{self.how}: {self.holds_for}" if self.holds_for else self.how


def process_words(row: Mapping[str, Any] | pd.Series, household: HasUnits) -> ProcessWords:
    """Return how the batch of a row of OPTIONS or BATCHES is put up.

    Parameters
    ----------
    row : mapping or pandas.Series
        Row of the table OPTIONS or BATCHES.
    household : HasUnits
        Whose units the words use.

    Returns
    -------
    ProcessWords

    Raises
    ------
    UnsafeProcessError
        Where the row has a time and lacks one of its conditions.

    Examples
    --------
    >>> from harvestcast.kitchen.handbook.conditions import conditions_of
    >>> from harvestcast.kitchen.handbook.process_times import process
    >>> from harvestcast.records.household import Household
    >>> said = {"jar": "pint", "elevation_m": 300, "gauge": "dial", "pack": "raw"}
    >>> beans = conditions_of(process("green_beans", **said))
    >>> row = {"method": "pressure", "jar": "pint", **beans.columns()}
    >>> said = process_words(row, Household(units="us"))
    >>> print(said.how)
    dial-gauge pressure canner, 20 min at 11 psi
    >>> print(said.holds_for)
    pints, raw pack, headspace 1 in, no acid added, for 0 to 2,000 ft
    """
    found = conditions_of_row(row)
    if found is None:
        return ProcessWords(how=wording.method_words(row["method"]), holds_for="")
    units: wording.Units = "us" if household.units == "us" else "metric"
    gauge = f"{found.gauge}-gauge " if found.gauge else ""
    how = f"{gauge}{wording.method_words(found.method)}, {wording.minutes(found.minutes)}"
    if found.gauge:
        how += f" at {wording.pressure(found.pressure_psi, units)}"
    high = float("inf") if pd.isna(found.band_high_ft) else found.band_high_ft
    jars = wording.plural(wording.jar_words(found.jar, float("nan")))
    tested = processed_as(found.jar)
    holds_for = (
        f"{jars} as {wording.plural(tested)}" if tested else jars,
        f"{found.pack} pack",
        f"headspace {wording.headspace(found.headspace_in, units)}",
        _acid_words(found, household),
        f"for {band(found.band_low_ft, high, household)}",
    )
    return ProcessWords(how=how, holds_for=", ".join(holds_for))


def _acid_words(found: Conditions, household: HasUnits) -> str:
    if found.acid != "each_jar":
        return _ACID[found.acid]
    lemon = f"in each jar {spoons(found.lemon_juice_tbsp, 3, household)} of bottled lemon juice"
    if pd.isna(found.citric_acid_tsp):
        return lemon
    return f"{lemon} or {spoons(found.citric_acid_tsp, 1, household)} of citric acid"
