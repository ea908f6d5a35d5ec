"""Varieties whose name is that of another crop: no canning time until somebody has said which.

Whoever types "green beans" as a variety of peas, or "Fordhook Lima" as one of snap beans, has two
crops in one line, and a tested time holds for one of them only. Nothing is guessed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pandas as pd

from harvestcast.kitchen.handbook.products import products_of
from harvestcast.kitchen.messages import Said, notice, notices
from harvestcast.records.household import CropSettings, Household
from harvestcast.records.typed.crops import canonical_crop, crop_key

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

OTHER_KINDS: dict[str, str] = {
    "lima": "lima bean",
    "limas": "lima bean",
    "lima bean": "lima bean",
    "lima beans": "lima bean",
    "butter bean": "lima bean",
    "butter beans": "lima bean",
    "butterbean": "lima bean",
    "butterbeans": "lima bean",
    "cowpea": "southern pea",
    "cowpeas": "southern pea",
    "purple hull": "southern pea",
    "crowder": "southern pea",
    "black eyed pea": "southern pea",
    "blackeye pea": "southern pea",
    "chickpea": "chickpea",
    "lentil": "lentil",
    "popcorn": "popcorn",
    "spaghetti": "spaghetti squash",
    "asian pear": "asian pear",
    "apple pear": "asian pear",
    "nashi": "asian pear",
    "white peach": "white-fleshed peach",
    "white nectarine": "white-fleshed nectarine",
}
"""Names of kinds that have a process of their own, or none, under the crop they are typed as: lima
beans and Asian pears have tables of their own in the guide (USDA AIB 539, 2015, p. 4-7 and 2-20);
for the others it has none under that name. Which names mean which: common practice, no source."""

SHAPES: frozenset[str] = frozenset(
    [
        "apple", "apricot", "blackberry", "blueberry", "cherry", "crab apple", "fig", "grape",
        "mint", "mushroom", "nectarine", "peach", "pear", "plum", "raspberry", "rhubarb", "sage",
        "strawberry", "thyme",
    ]
)  # fmt: skip
"""Fruits and herbs that other crops are named after for shape or colour (Yellow Pear, Rhubarb
Chard): none of them is in danger of the wrong time under a crop that needs no less of it."""

PLAIN_WORDS: frozenset[str] = frozenset(["rocket", "slicer", "pickler"])
"""Words that stand for a crop when alone, and are words like others behind a name: Red Rocket.

"Bell" is none of them: a pepper under a crop that needs less time would be given too little of it.
"""

SAME_PROCESS: tuple[frozenset[str], ...] = (
    frozenset(["tomato", "cherry tomato", "green tomato"]),
    frozenset(["zucchini", "summer squash"]),
    frozenset(["winter squash", "pumpkin"]),
)
"""Crops whose tested processes are one."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One line whose variety is known as another crop."""

    file: str
    line: int | None
    crop: str
    variety: str
    other: str

    @property
    def said(self) -> Said:
        """The notice of it."""
        return Said(
            "variety.other_crop",
            {"variety": self.variety, "crop": self.crop, "other": self.other},
        )


def other_crop(crop: str, variety: str, household: Household) -> str | None:
    """Return the other crop that a variety's name is known as; None where it is the crop's own.

    Parameters
    ----------
    crop : str
        Canonical crop that the line names.
    variety : str
        Variety as typed.
    household : Household
        Its aliases of a crop settle a name.

    Returns
    -------
    str or None
        None too where the crop is never canned, so that no time can be the wrong one.

    Examples
    --------
    >>> home = Household(crops={"okra": {"aliases": ["Pea Pod"]}})
    >>> other_crop("pea", "green beans", home), other_crop("snap bean", "Fordhook Lima", home)
    ('snap bean', 'lima bean')
    >>> other_crop("tomato", "Yellow Pear", home), other_crop("okra", "Pea Pod", home)
    (None, None)
    """
    own = household.crops.get(crop, CropSettings()).aliases
    if crop_key(variety) in {crop_key(alias) for alias in own} or not _processes(crop):
        return None
    words = crop_key(variety).split()
    # White flesh is told by any word of the name.
    if crop in ("peach", "nectarine") and "white" in words:
        return f"white-fleshed {crop}"
    for first in range(len(words)):
        last = " ".join(words[first:])
        if last == crop.rpartition(" ")[2] or last == crop:
            return None  # "Dragon Tongue Bean" is a bean of any kind
        if first and last in PLAIN_WORDS:
            return None
        found = OTHER_KINDS.get(last) or canonical_crop(last)
        if found is not None:
            return None if _alike(crop, found) else found
    return None


def _alike(crop: str, other: str) -> bool:
    if other == crop or other in SHAPES:
        return True
    if any({crop, other} <= same for same in SAME_PROCESS):
        return True
    return _processes(crop) <= _processes(other)


def _processes(crop: str) -> set[str]:
    return {item.handbook for item in products_of(crop) if item.canned}


def doubts(garden: Garden) -> tuple[Doubt, ...]:
    """Return the varieties of the log and of the plantings known as another crop.

    Parameters
    ----------
    garden : Garden
        The garden folder; every line of it counts until the name is settled.

    Returns
    -------
    tuple of Doubt
        Each name once, at its first line.
    """
    found: dict[tuple[str, str], Doubt] = {}
    for table, file in ((garden.plantings, "plantings.csv"), (garden.picks, "picks.csv")):
        names = table.drop_duplicates(["crop", "variety"])
        for row in names[["crop", "variety", "file", "line"]].to_dict("records"):
            key = (str(row["crop"]), str(row["variety"]))
            other = other_crop(*key, garden.household)
            if other is not None and key not in found:
                where = file if pd.isna(row["file"]) else str(row["file"])
                line = None if pd.isna(row["line"]) else int(row["line"])
                found[key] = Doubt(where, line, *key, other)
    return tuple(found.values())


def doubted_crops(found: Iterable[Doubt]) -> dict[str, Doubt]:
    """Return the crops that no canning time is given for, each with its first doubt."""
    crops: dict[str, Doubt] = {}
    for doubt in found:
        crops.setdefault(doubt.crop, doubt)
    return crops


def variety_notices(garden: Garden) -> pd.DataFrame:
    """Ask about the varieties that are known as another crop.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame, one row a name, column ``variety``.
    """
    return notices(
        notice(one.said, file=one.file, line=one.line, column="variety", value=one.variety)
        for one in doubts(garden)
    )
