"""The products that can stand under [targets], and which of them this kitchen can put up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from harvestcast import frames
from harvestcast.errors import ElevationError
from harvestcast.kitchen.handbook.products import product, products
from harvestcast.kitchen.messages import NO_TESTED_TIME
from harvestcast.kitchen.week.options import left_out_options, weekly_options
from harvestcast.kitchen.week.refused import UNTESTED
from harvestcast.words import amounts as wording

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

HEAD = (
    "Products for [targets] in garden.toml, under the crop each is made of, with what a target of "
    "each is counted in (a quart is two pints) and what it is put up with."
)


def product_list(garden: Garden) -> list[dict[str, Any]]:
    """Return every product for the pantry, those of crops in the garden first.

    Parameters
    ----------
    garden : Garden
        The garden folder.

    Returns
    -------
    list of dict
        ``product`` and ``label``, ``crop``, ``grown`` (whether it is planted or picked here),
        ``counted_in``, ``put_up_with`` and ``why_not``: why this kitchen cannot put it up, empty
        where it can.
    """
    # Without crops of its own a garden is offered the whole catalogue.
    bare = replace(garden, plantings=frames.PLANTINGS.empty(), picks=frames.PICKS.empty())
    refused: dict[str, list[tuple[str, str]]] = {}
    offered: set[str] = set()
    try:
        offered = set(weekly_options(bare)["product"].astype(str))
        for row in left_out_options(bare).to_dict("records"):
            refused.setdefault(str(row["product"]), []).append((row["code"], row["reason"]))
        without = ""
    except ElevationError:
        without = "no elevation in garden.toml, and there is a canner"
    grown = set(garden.plantings["crop"].astype(str)) | set(garden.picks["crop"].astype(str))
    rows = []
    for key in products()["key"]:
        item = product(str(key))
        if item.for_the_week or item.crop == "meat":
            continue  # food for the week has no shelf to fill
        why = "" if item.key in offered else without or _why_not(refused.get(item.key, []))
        rows.append(
            {
                "product": item.key,
                "label": item.label,
                "crop": item.crop,
                "grown": item.crop in grown,
                "counted_in": item.counted_in,
                "put_up_with": " or ".join(wording.method_words(m) for m in item.methods),
                "why_not": why,
            }
        )
    return sorted(rows, key=lambda row: (not row["grown"], row["crop"]))


def _why_not(refusals: Sequence[tuple[str, str]]) -> str:
    if any(code == UNTESTED for code, _ in refusals):
        return NO_TESTED_TIME
    return "; ".join(dict.fromkeys(reason for _, reason in refusals))


def product_lines(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    r"""Return the list in words, under the name of each crop.

    Examples
    --------
    >>> row = {"label": "salsa", "crop": "tomato", "grown": True, "counted_in": "pints",
    ...        "put_up_with": "boiling-water canner", "why_not": ""}
    >>> print(*product_lines([row])[1:], sep="\n")
    tomato
      salsa: pints; boiling-water canner
    """
    lines, crop = [HEAD], ""
    for row in rows:
        if row["crop"] != crop:
            crop = row["crop"]
            lines.append(f"{wording.clean(crop)}{'' if row['grown'] else ' (not in this garden)'}")
        not_here = f"; not here: {wording.clean(row['why_not'])}" if row["why_not"] else ""
        lines.append(f"  {row['label']}: {row['counted_in']}; {row['put_up_with']}{not_here}")
    return lines
