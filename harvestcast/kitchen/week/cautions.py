"""Safety and practice that go with the planned batches, and only with those.

Figures come from ``kitchen/data/rules.csv``; the words are ours. A caution whose figure was not
read in a publication of a government or extension service says so.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from typing import Any

import pandas as pd

from harvestcast.errors import UnsafeProcessError
from harvestcast.kitchen.handbook import process_times as handbook
from harvestcast.kitchen.handbook.amounts import cited
from harvestcast.kitchen.handbook.products import match_product, product
from harvestcast.kitchen.week.caution_words import CAUTIONS, PlannedBatch
from harvestcast.records.household import Household

PRACTICE = "common practice, no source"


def cautions(batches: pd.DataFrame, household: Household) -> pd.DataFrame:
    """Return the cautions that apply to some batches.

    Parameters
    ----------
    batches : pandas.DataFrame
        Table BATCHES or OPTIONS (columns product, method, jar and gauge are read).
    household : Household
        Settings: elevation, targets.

    Returns
    -------
    pandas.DataFrame
        Columns topic, caution, applies_to (labels), source, verified (whether every figure in it
        was read in a publication of a government or extension service); safety first.
    """
    planned = _planned(batches, household)
    rows = []
    for caution in sorted(CAUTIONS, key=lambda one: not one.urgent):
        mine = [batch for batch in planned if caution.applies(batch)]
        if not mine:
            continue
        text, rules = caution.words(household, mine)
        rules = list(rules)
        sources = dict.fromkeys(cited(rule) for rule in rules)
        rows.append(
            {
                "topic": caution.topic,
                "caution": text,
                "applies_to": ", ".join(dict.fromkeys(batch.item.label for batch in mine)),
                "source": "; ".join(sources) or PRACTICE,
                "verified": bool(rules) and all(rule["verified"] for rule in rules),
            }
        )
    return pd.DataFrame(rows, columns=["topic", "caution", "applies_to", "source", "verified"])


def _gauge(batch: Mapping[Hashable, Any]) -> str | None:
    gauge = batch.get("gauge")
    return None if pd.isna(gauge) else str(gauge)


def _planned(batches: pd.DataFrame, household: Household) -> list[PlannedBatch]:
    keys = [
        (
            str(b["product"]),
            str(b["method"]),
            str(b["jar"]),
            None if pd.isna(b.get("gauge")) else str(b["gauge"]),
        )
        for b in batches.to_dict("records")
    ]
    if "dried_meat" in {match_product(name) for name in household.targets}:
        keys.append(("dried_meat", "drying", "pint_dry", None))
    planned = []
    for key, method, jar, gauge in dict.fromkeys(keys):
        item = product(key)
        found = None
        if method in handbook.METHODS:
            try:
                found = handbook.process(
                    item.handbook,
                    jar=jar,
                    elevation_m=household.elevation_m,
                    method=method,
                    gauge=gauge,
                    pack=item.pack,
                )
            except UnsafeProcessError:
                found = None
        planned.append(PlannedBatch(item=item, method=method, jar=jar, process=found))
    return planned
