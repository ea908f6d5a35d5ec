"""A season lived through, day by day, with the picks of a log and a household that does as told.

    python -m tests.benchmarks.lived_season plan 2025-07-05 60
    python -m tests.benchmarks.lived_season afresh|mean|abundant|load 2025-07-05 60

Each evening the household decides for the days ahead; the next day it picks what the log says,
puts up what was decided for that day with the fruit that is young enough, eats, gives and feeds as
usual, and throws out what no longer keeps. It counts its produce on Sundays, and is ill for a week
in the middle of the span: nobody cooks then. ``plan`` holds to what was decided, ``afresh`` decides
anew every evening, ``mean`` plans on one future, the mean of all. ``abundant`` puts up the crop of
which most lies there, ``load`` each crop when a full batch of it lies there; both take the product
whose target is farthest off. The sample's garden is invented; its log was not made by this model.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.growth.forecast import forecast
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use, wanted_jars
from harvestcast.kitchen.household.on_hand import picks_by_day
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.plan import DECIDED_DAYS, plan_week
from harvestcast.kitchen.week.standing import Standing, option_key, standing_of
from harvestcast.records.garden import Garden, open_garden
from tests.benchmarks.ten_days import SAMPLE

DRAWS, SCENARIOS, DAYS_AHEAD = 100, 12, 8
LEAST_FILLED = 0.2
"""A batch is not begun for less than this share of it."""


@dataclass
class Kitchen:
    """What lies in the kitchen, by crop and day of the pick, and what became of the rest."""

    lying: dict[str, dict[pd.Timestamp, float]] = field(default_factory=dict)
    jars: dict[str, float] = field(default_factory=dict)
    spoiled: float = 0.0
    hours: float = 0.0
    changed: int = 0
    pantry: list[dict[str, Any]] = field(default_factory=list)
    counts: list[dict[str, Any]] = field(default_factory=list)

    def take(self, crop: str, kg: float, since: pd.Timestamp) -> float:
        """Take fruit picked since a day, the oldest first; return how much there was."""
        got = 0.0
        own = self.lying.get(crop, {})
        for day in sorted(own):
            if day >= since and got < kg:
                part = min(own[day], kg - got)
                own[day] -= part
                got += part
        return got


def as_known(garden: Garden, kitchen: Kitchen) -> Garden:
    """Return the garden with the books of this life."""
    pantry = frames.PANTRY.empty()
    if kitchen.pantry:
        table = pd.DataFrame(kitchen.pantry).reindex(columns=frames.PANTRY.names)
        pantry = frames.check_frame(table, frames.PANTRY)
    book = frames.KITCHEN.empty()
    if kitchen.counts:
        table = pd.DataFrame(kitchen.counts).reindex(columns=frames.KITCHEN.names)
        book = frames.check_frame(table, frames.KITCHEN)
    return replace(garden, pantry=pantry, kitchen=book)


def planned(how: str) -> Callable[..., tuple[dict[Any, int], Standing]]:
    """Return a policy that plans with the library."""

    def decide(
        garden: Garden, evening: pd.Timestamp, standing: Standing | None
    ) -> tuple[dict[Any, int], Standing]:
        outlook = forecast(garden, as_of=evening, weeks=2, draws=DRAWS, seed=1)
        if how == "mean":
            outlook = replace(outlook, mass_kg=outlook.mass_kg.mean(axis=0, keepdims=True))
        plan = plan_week(outlook, garden, days=DAYS_AHEAD, scenarios=SCENARIOS,
                         standing=standing if how == "plan" else None)  # fmt: skip
        own = plan.batches[plan.batches["decided"] | plan.batches["if_kg"].notna()]
        wanted = {(row["day"], option_key(row)): int(row["batches"]) for row in
                  own[own["method"] != "keeping"].to_dict("records")}  # fmt: skip
        return wanted, standing_of(plan, outlook, garden, DECIDED_DAYS)

    return decide


def open_of(standing: Standing) -> set[Any]:
    """Return the batches that are begun only if enough comes in."""
    own = standing.batches[~standing.batches["firm"].astype(bool)]
    return set(zip(own["day"], own["option"].astype(str), strict=True))


def by_rule(how: str, options: pd.DataFrame, missing: dict[str, float], kitchen: Kitchen,
            day: pd.Timestamp, hours: float) -> list[tuple[str, int]]:  # fmt: skip
    """Return the batches that a rule of thumb puts up on a day."""
    chosen: list[tuple[str, int]] = []
    best = options.assign(missing=options["product"].map(missing).fillna(0.0))
    best = best[best["missing"] > 0].sort_values("missing", ascending=False, kind="stable")
    ways = {str(c): own.iloc[0] for c, own in best.groupby("crop", sort=False)}
    young = {
        crop: sum(kg for on, kg in kitchen.lying.get(crop, {}).items()
                  if (day - on).days <= row["max_age_days"])
        for crop, row in ways.items()
    }  # fmt: skip
    for crop in sorted(young, key=lambda c: -young[c]):
        row = ways[crop]
        least = 1.0 if how == "load" else 0.5
        number = int(young[crop] / row["kg_per_batch"] + 1 - least)
        while number > 0 and number * row["hands_on_h"] > hours:
            number -= 1
        if number > 0:
            chosen.append((str(row["option"]), number))
            hours -= number * float(row["hands_on_h"])
    return chosen


def live(how: str, start: str, days: int, folder: Path = SAMPLE) -> Kitchen:
    """Live through a season and return the kitchen at its end."""
    garden = open_garden(folder, today="2027-01-01")
    home = garden.household.model_copy(update={"counted_on": start})
    garden = replace(garden, household=home)
    dates = pd.date_range(start, periods=days)
    ill = dates[len(dates) // 2 : len(dates) // 2 + 7]
    picks = picks_by_day(garden, dates[-1])
    crops = sorted(set(picks["crop"].astype(str)))
    fresh = fresh_use(garden, crops).set_index("crop")
    hours = dict(zip(dates, capacity_of(home, dates[0], days).hours, strict=True))
    kitchen, standing = Kitchen(), None
    decided: dict[Any, int] = {}
    perhaps: set[Any] = set()
    policy = planned(how)
    for evening, day in pairwise(dates):
        known = as_known(garden, kitchen)
        if how in ("plan", "afresh", "mean"):
            before, (decided, standing) = decided, policy(known, evening, standing)
            until = evening + pd.Timedelta(days=DECIDED_DAYS - 1)
            for key in before:
                # A batch that was only for enough fruit was no decision.
                gone = decided.get(key, 0) < before[key]
                if gone and day <= key[0] <= until and key not in perhaps:
                    kitchen.changed += 1
            perhaps = open_of(standing)
        options = weekly_options(known, evening).set_index("option", drop=False)
        for row in picks[picks["date"] == day].to_dict("records"):
            own = kitchen.lying.setdefault(str(row["crop"]), {})
            own[day] = own.get(day, 0.0) + float(row["mass_kg"])
        if how in ("plan", "afresh", "mean"):
            todo = [(key[1], n) for key, n in decided.items() if key[0] == day]
        else:
            wanted = wanted_jars(known, evening).set_index("product")["wanted_jars"].to_dict()
            todo = by_rule(how, options.reset_index(drop=True), wanted, kitchen, day, hours[day])
        for name, number in todo if day not in ill else ():
            if name in options.index:
                put_up(kitchen, options.loc[name], number, day)
        for crop in crops:
            row = fresh.loc[crop]
            oldest = day - pd.Timedelta(days=int(row["keep_days"] + row["ripen_days"]))
            for amount in ("eat_kg_day", "give_kg_day", "animals_kg_day"):
                kitchen.take(crop, float(row[amount]), oldest)
            own = kitchen.lying.get(crop, {})
            kitchen.spoiled += sum(own.pop(on) for on in list(own) if on <= oldest)
            if day.weekday() == 6:
                kitchen.counts.append({"date": day, "what": "counted", "item": crop,
                                       "mass_kg": sum(own.values())})  # fmt: skip
    return kitchen


def put_up(kitchen: Kitchen, option: pd.Series, number: int, day: pd.Timestamp) -> None:
    """Put batches up with the fruit that is young enough."""
    since = day - pd.Timedelta(days=int(option["max_age_days"]))
    crop, full = str(option["crop"]), float(option["kg_per_batch"])
    there = sum(kg for on, kg in kitchen.lying.get(crop, {}).items() if on >= since)
    if there < LEAST_FILLED * full:
        return
    kg = kitchen.take(crop, number * full, since)
    jars = kg / full * float(option["jars_per_batch"])
    key = str(option["product"])
    kitchen.hours += np.ceil(kg / full - 1e-9) * float(option["hands_on_h"])
    pints = jars * float(option["pint_jars_per_jar"])
    kitchen.jars[key] = kitchen.jars.get(key, 0.0) + pints
    if option["method"] != "refrigerating":
        kitchen.pantry.append({"date": day, "product": str(option["label"]), "change": jars,
                               "jar": str(option["jar"]).replace("_", " "),
                               "produce_kg": kg})  # fmt: skip


def main() -> None:
    """Print what one policy made of the season."""
    how, start, days = sys.argv[1], sys.argv[2], int(sys.argv[3])
    kitchen = live(how, start, days)
    garden = open_garden(SAMPLE, today="2027-01-01")
    known = as_known(garden, kitchen)
    last = pd.Timestamp(start) + pd.Timedelta(days=days - 1)
    shelf = wanted_jars(known, last)
    target = shelf[shelf["target_jars"] > 0]
    met = np.minimum(target["stock_jars"], target["target_jars"]).sum()
    beyond = kitchen.jars
    print(f"{how}: {met:.0f} of {target['target_jars'].sum():.0f} jars wanted, "
          f"{(target['wanted_jars'] <= 0).sum()} of {len(target)} targets met, "
          f"{sum(beyond.values()):.0f} pints in all, {kitchen.spoiled:.0f} kg spoiled, "
          f"{kitchen.hours:.0f} h, {kitchen.changed} decided batches changed")  # fmt: skip


if __name__ == "__main__":
    main()
