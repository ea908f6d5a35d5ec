"""Seasons lived through, day by day, in simulated gardens, by households that do as told.

    python -m tests.benchmarks.lived_season run DIR 101 120 [plan,mean,afresh,unkept,abundant,load]
    python -m tests.benchmarks.lived_season table DIR

Every seed has a garden of its own (``tests.simulated``, which shares no formula with the model),
one season on record and one to live through, and a kitchen of its own: hours, canners, jars and
targets set by what last season brought. Each evening the household decides for the days
ahead; by day it picks, puts up what was decided for that day with the fruit that is young enough,
eats as usual, gives away and feeds what would not keep until tomorrow, and throws out the rest. It
counts its produce on Sundays, and is ill for three days in the middle of three weeks: nobody cooks.

``plan`` is this library's plan, held to what was decided; ``afresh`` decides anew every time;
``unkept`` is the plan without jars, lids, bags and litres kept free for what is still wanted;
``mean`` is the plan on one future, the mean of all, held to what was decided like ``plan``.
``abundant`` puts up the crop of which most lies there, ``load`` each crop when a full batch of it
lies there; both take the product whose target is farthest off, as long as one is not met. Hours,
freezer and illness bind all alike. Each seed becomes a file in DIR, so a run that was stopped goes
on; forecasts, which no policy moves, are kept there too. Seeds up to 100 were looked at while the
planner was mended; the report is of seeds from 101 on.
"""

from __future__ import annotations

import json
import pickle
import sys
from collections.abc import Callable, Mapping
from contextlib import nullcontext
from dataclasses import dataclass, field, replace
from itertools import pairwise
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from unittest import mock

import numpy as np
import pandas as pd

from harvestcast import frames
from harvestcast.growth.forecast import Outlook, forecast
from harvestcast.kitchen.household.capacity import capacity_of
from harvestcast.kitchen.household.demand import fresh_use, wanted_jars
from harvestcast.kitchen.household.on_hand import picks_by_day
from harvestcast.kitchen.solve import prices
from harvestcast.kitchen.week import plan as plan_module
from harvestcast.kitchen.week.options import weekly_options
from harvestcast.kitchen.week.plan import DECIDED_DAYS, decide_week
from harvestcast.kitchen.week.standing import Standing, option_key, standing_of
from harvestcast.records.garden import Garden
from harvestcast.records.household import Choices
from tests.simulated import Site, as_garden, random_habits, random_plantings, random_varieties
from tests.simulated.climate import simulate_weather
from tests.simulated.garden import grow_garden

YEAR, START, DAYS, ILL = 2026, "07-25", 21, 3
DRAWS, SCENARIOS, AHEAD = 16, 8, 7
LEAST_FILLED = 0.2
"""A batch is not begun for less than this share of it."""
POLICIES = ("plan", "mean", "abundant", "load")
CROPS = ("cucumber", "zucchini", "snap bean", "tomato", "sweet pepper", "sweet corn", "hot pepper")
TARGETS = {
    "cucumber": ("dill pickles", "bread and butter pickles", "cucumber relish"),
    "zucchini": ("frozen grated zucchini", "bread and butter zucchini"),
    "snap bean": ("canned green beans", "frozen green beans"),
    "tomato": ("tomato sauce", "salsa", "whole tomatoes"),
    "sweet pepper": ("frozen peppers", "pickled sweet peppers"),
    "sweet corn": ("frozen corn", "canned sweet corn"),
    "hot pepper": ("frozen hot peppers", "pickled hot peppers"),
}


@dataclass
class Kitchen:
    """What lies in the kitchen, by crop and day of the pick, and what became of the rest."""

    lying: dict[str, dict[pd.Timestamp, float]] = field(default_factory=dict)
    jars: dict[str, float] = field(default_factory=dict)
    vessels: dict[str, float] = field(default_factory=dict)
    sums: dict[str, float] = field(default_factory=dict)
    pantry: list[dict[str, Any]] = field(default_factory=list)
    counts: list[dict[str, Any]] = field(default_factory=list)

    def add(self, name: str, amount: float) -> None:
        """Add to a sum."""
        self.sums[name] = self.sums.get(name, 0.0) + float(amount)

    def there(self, crop: str, since: pd.Timestamp) -> float:
        """Return the fruit picked since a day."""
        return sum(kg for on, kg in self.lying.get(crop, {}).items() if on >= since)

    def take(self, crop: str, kg: float, since: pd.Timestamp, until: pd.Timestamp) -> float:
        """Take fruit picked from a day to another, the oldest first; return how much there was."""
        got = 0.0
        own = self.lying.get(crop, {})
        for day in sorted(own):
            if since <= day <= until and got < kg:
                part = min(own[day], kg - got)
                own[day] -= part
                got += part
        return got


@dataclass(frozen=True)
class Case:
    """A garden, its first day to live through, and the forecast of every evening."""

    garden: Garden
    dates: pd.DatetimeIndex
    outlooks: Mapping[pd.Timestamp, Outlook]


def case_of(seed: int, kept: Path | None = None) -> Case:
    """Return the garden, kitchen and forecasts of a seed."""
    rng = np.random.default_rng([seed, 31])
    site = Site()
    crops = sorted(rng.choice(CROPS, size=4, replace=False))
    kinds = random_varieties(rng, crops, 1)
    habits = replace(random_habits(rng, crops), grades=False, damaged=0.0, away=0.5)
    layout = pd.concat([random_plantings(rng, kinds, site, y) for y in (YEAR - 1, YEAR)])
    plenty = dict(zip(crops, rng.uniform(1.5, 4.0, len(crops)), strict=True))
    layout["plants"] = (layout["plants"] * layout["crop"].map(plenty)).round()
    weather = simulate_weather(np.random.default_rng([seed, 1]), years=range(2018, YEAR + 1),
                               site=site)  # fmt: skip
    grown = grow_garden(seed, varieties=kinds, plantings=layout, weather=weather, habits=habits,
                        site=site, truth=False)  # fmt: skip
    hours = np.append(rng.uniform(1.5, 4, 5) * (rng.random(5) < 0.6), rng.uniform(2, 7, 2))
    settings = {
        "equipment": [
            {"kind": "boiling_water_canner", "pints": 9, "quarts": 7},
            {"kind": "pressure_canner", "gauge": "weighted", "pints": 9, "quarts": 7},
            {"kind": "freezer", "free_l": float(rng.uniform(40, 120))},
            {"kind": "refrigerator", "free_l": float(rng.uniform(40, 80))},
        ],
        "hours": dict(zip(("monday", "tuesday", "wednesday", "thursday", "friday", "saturday",
                           "sunday"), hours.round(1).tolist(), strict=True)),
        "jars": {"half_pint": 24, "pint": 60, "quart": 40, "lids": 80, "freezer_bags": 80},
    }  # fmt: skip
    garden = as_garden(grown, **settings)
    first = pd.Timestamp(f"{YEAR}-{START}")
    dates = pd.date_range(first - pd.Timedelta(days=1), periods=DAYS + 1)
    garden = with_home(garden, targets=_targets(garden, crops, rng),
                       counted_on=f"{dates[0]:%Y-%m-%d}")  # fmt: skip
    file = None if kept is None else kept / f"forecasts-{seed}.pickle"
    if file is not None and file.exists():
        return Case(garden, dates, pickle.loads(file.read_bytes()))
    outlooks = {}
    for evening in dates[:-1]:
        made = forecast(garden, as_of=evening, weeks=2, draws=DRAWS, seed=1, rehearsals=0)
        outlooks[evening] = replace(made, _fit=None, _ready=None)  # type: ignore[arg-type]
    if file is not None:
        _write(file, pickle.dumps(outlooks))
    return Case(garden, dates, outlooks)


def with_home(garden: Garden, **settings: Any) -> Garden:
    """Return a garden with other settings."""
    plain = dict(garden.household) | settings
    return replace(garden, household=type(garden.household).model_validate(plain))


def _targets(garden: Garden, crops: list[str], rng: np.random.Generator) -> dict[str, float]:
    """Return targets: part of what last season left in the same days after the usual meals."""
    last = pd.Timestamp(f"{YEAR - 1}-12-31")
    picks = picks_by_day(garden, last)
    first = pd.Timestamp(f"{YEAR - 1}-{START}")
    picks = picks[picks["date"].between(first, first + pd.Timedelta(days=DAYS - 1))]
    kg = picks.groupby("crop")["mass_kg"].sum()
    fresh = fresh_use(garden, crops).set_index("crop")
    every = weekly_options(garden, last, all_of=crops)
    wanted = {}
    for crop in crops:
        left = float(kg.get(crop, 0.0)) - DAYS * float(fresh.loc[crop, "eat_kg_day"])
        names = list(TARGETS[crop][: 1 + int(rng.integers(2))])
        part = rng.uniform(0.4, 0.9) * rng.dirichlet(np.full(len(names), 3.0))
        for name, share in zip(names, part, strict=True):
            own = every[every["product"] == _key(name)].iloc[0]
            each = float(own["kg_per_batch"] / own["jars_per_batch"] / own["pint_jars_per_jar"])
            if share * left / each >= 4:
                wanted[name] = float(round(share * left / each))
    return wanted


def _key(name: str) -> str:
    from harvestcast.kitchen.handbook.products import match_product

    found = match_product(name)
    assert found is not None, name
    return found


def _write(file: Path, content: bytes) -> None:
    part = file.with_suffix(".part")
    part.write_bytes(content)
    part.replace(file)


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


Todo = dict[tuple[pd.Timestamp, str], tuple[int, float]]
"""Batches by day and option, and what must have come in since the evening for them (NaN: none)."""


def decide(
    how: str, garden: Garden, outlook: Outlook, standing: Standing | None
) -> tuple[Todo, Standing]:
    """Return what the library decides on an evening."""
    seen = outlook
    if how == "mean":
        seen = replace(outlook, mass_kg=outlook.mass_kg.mean(axis=0, keepdims=True))
    never: Any = mock.patch.object(plan_module, "_to_come", return_value={})
    with never if how == "unkept" else nullcontext():
        made = decide_week(seen, garden, scenarios=SCENARIOS, days=AHEAD,
                           standing=None if how == "afresh" else standing)  # fmt: skip
    own = made.batches[made.batches["decided"] | made.batches["if_kg"].notna()]
    todo = {(row["day"], option_key(row)): (int(row["batches"]), float(row["if_kg"])) for row in
            own[own["method"] != "keeping"].to_dict("records")}  # fmt: skip
    plan: Any = SimpleNamespace(as_of=outlook.as_of, batches=made.batches, balance=made.balance,
                                shopping=frames.SHOPPING.empty())  # fmt: skip
    # What counts as news is the same for all: what the whole forecast did not hold likely.
    return todo, standing_of(plan, outlook, garden, DECIDED_DAYS)


def by_rule(how: str, options: pd.DataFrame, missing: Mapping[str, float], kitchen: Kitchen,
            day: pd.Timestamp, hours: float) -> list[tuple[str, int]]:  # fmt: skip
    """Return the batches that a rule of thumb puts up on a day."""
    chosen: list[tuple[str, int]] = []
    best = options.assign(missing=options["product"].map(missing).fillna(0.0))
    best = best[best["missing"] > 0].sort_values("missing", ascending=False, kind="stable")
    ways = {str(c): own.iloc[0] for c, own in best.groupby("crop", sort=False)}
    young = {
        crop: kitchen.there(crop, day - pd.Timedelta(days=int(row["max_age_days"])))
        for crop, row in ways.items()
    }
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


def due(todo: Todo, options: pd.DataFrame, came: Mapping[str, float], day: pd.Timestamp,
        hours: float) -> list[tuple[str, int]]:  # fmt: skip
    """Return the batches of a day; those for enough fruit as soon as so much has come in."""
    jobs = []
    for on, name in sorted(todo):
        number, if_kg = todo[on, name]
        row = options.loc[name]
        work = number * float(row["hands_on_h"])
        enough = came.get(str(row["crop"]), 0.0) >= if_kg and work <= hours + 1e-9
        if on == day if np.isnan(if_kg) else enough:
            jobs.append((name, number))
            hours -= work
            if not np.isnan(if_kg):
                del todo[on, name]
    return jobs


def live(how: str, case: Case) -> Kitchen:
    """Live through a season and return the kitchen at its end."""
    garden, dates = case.garden, case.dates
    ill = dates[len(dates) // 2 : len(dates) // 2 + ILL]
    picks = picks_by_day(garden, dates[-1])
    crops = sorted(set(picks["crop"].astype(str)))
    fresh = fresh_use(garden, crops).set_index("crop")
    hours = dict(zip(dates, capacity_of(garden.household, dates[0], len(dates)).hours, strict=True))
    kitchen, standing = Kitchen(), None
    todo: Todo = {}
    came: dict[str, float] = {}
    policy = how in ("plan", "mean", "afresh", "unkept")
    options = weekly_options(garden, dates[0]).set_index("option", drop=False)
    for evening, day in pairwise(dates):
        known = as_known(garden, kitchen)
        if policy and evening in case.outlooks:
            before = todo
            todo, standing = decide(how, known, case.outlooks[evening], standing)
            last = evening + pd.Timedelta(days=DECIDED_DAYS - 1)
            for key, (number, if_kg) in before.items():
                # A batch that was only for enough fruit was no decision.
                gone = todo.get(key, (0, 0.0))[0] < number
                if gone and np.isnan(if_kg) and day <= key[0] <= last:
                    kitchen.add("changed", 1)
            came = {}
        for row in picks[picks["date"] == day].to_dict("records"):
            crop = str(row["crop"])
            own = kitchen.lying.setdefault(crop, {})
            own[day] = own.get(day, 0.0) + float(row["mass_kg"])
            came[crop] = came.get(crop, 0.0) + float(row["mass_kg"])
            kitchen.add("picked", row["mass_kg"])
        oldest = {
            crop: day - pd.Timedelta(days=int(row["keep_days"] + row["ripen_days"]))
            for crop, row in fresh.to_dict("index").items()
        }
        if policy:
            jobs = due(todo, options, came, day, hours[day])
        else:
            wanted = wanted_jars(known, evening).set_index("product")["wanted_jars"].to_dict()
            jobs = by_rule(how, options.reset_index(drop=True), wanted, kitchen, day, hours[day])
        for name, number in jobs if day not in ill else ():
            put_up(kitchen, garden, options.loc[name], number, day)
        for crop in crops:
            row = fresh.loc[crop]
            meal = float(row["eat_kg_day"])
            kitchen.add("eaten", kitchen.take(crop, meal, oldest[crop], day))
            for use in ("give", "animals"):
                kg = kitchen.take(crop, float(row[f"{use}_kg_day"]), oldest[crop], oldest[crop])
                kitchen.add(use, kg)
            own = kitchen.lying.get(crop, {})
            kitchen.add("spoiled", sum(own.pop(on) for on in list(own) if on <= oldest[crop]))
            if day.weekday() == 6:
                kitchen.counts.append({"date": day, "what": "counted", "item": crop,
                                       "mass_kg": sum(own.values())})  # fmt: skip
    return kitchen


def put_up(kitchen: Kitchen, garden: Garden, option: pd.Series, number: int,
           day: pd.Timestamp) -> None:  # fmt: skip
    """Put batches up with the fruit that is young enough, as far as the freezer has room."""
    since = day - pd.Timedelta(days=int(option["max_age_days"]))
    crop, full = str(option["crop"]), float(option["kg_per_batch"])
    litres = float(option["freezer_l_per_batch"])
    if litres > 0:
        free = next(p.free_l for p in garden.household.equipment if p.kind == "freezer")
        number = min(number, (float(free or 0) - kitchen.sums.get("freezer", 0.0)) / litres)  # type: ignore[assignment]
    there = kitchen.there(crop, since)
    if min(there, number * full) < LEAST_FILLED * full:
        return
    kg = kitchen.take(crop, number * full, since, day)
    loads = kg / full
    jars = loads * float(option["jars_per_batch"])
    key = str(option["product"])
    kitchen.add("hours", np.ceil(loads - 1e-9) * float(option["hands_on_h"]))
    kitchen.add("freezer", loads * litres)
    kitchen.add("put_up", kg)
    pints = jars * float(option["pint_jars_per_jar"])
    if option["method"] == "refrigerating":
        return
    kitchen.jars[key] = kitchen.jars.get(key, 0.0) + pints
    vessel = str(option["jar"])
    kitchen.vessels[vessel] = kitchen.vessels.get(vessel, 0.0) + jars
    kitchen.pantry.append({"date": day, "product": str(option["label"]), "change": jars,
                           "jar": vessel.replace("_", " "), "produce_kg": kg})  # fmt: skip


def outcome(case: Case, kitchen: Kitchen) -> dict[str, Any]:
    """Return what a life came to, with its worth at the household's own prices."""
    home, choices = case.garden.household, Choices()
    shelf = wanted_jars(as_known(case.garden, kitchen), case.dates[-1]).set_index("product")
    target = shelf[shelf["target_jars"] > 0]
    points = 0.0
    for product in sorted({*kitchen.jars, *shelf.index}):
        have = kitchen.jars.get(product, 0.0)
        goal = float(target["target_jars"].get(product, 0.0))
        edges = [0.0, *(share * goal for share, _ in prices.TIERS)]
        worths = [choices.target_jar * worth for _, worth in prices.TIERS]
        extra = goal * prices.EXTRA_UP_TO if goal else prices.UNTARGETED_PINTS
        edges += [max(extra, goal), np.inf]
        worths += [choices.extra_jar, choices.extra_jar / 3]
        for (low, high), worth in zip(pairwise(edges), worths, strict=True):
            points += worth * max(0.0, min(have, high) - low)
    bought = 0.0
    for jar, used in kitchen.vessels.items():
        stock = float(home.jars.get("freezer_bags" if jar == "pint_bag" else jar, 0.0))
        price = choices.bought_lid if jar == "pint_bag" else choices.bought_jar
        bought += price * max(0.0, used - stock)
    sums = {name: round(kg, 3) for name, kg in kitchen.sums.items()}
    get = kitchen.sums.get
    points += choices.fresh_kg * (get("eaten", 0.0) + prices.GIVEN_SHARE * get("give", 0.0))
    points -= choices.hour * get("hours", 0.0) + bought
    points -= choices.spoiled_kg * (get("spoiled", 0.0) + 0.5 * get("animals", 0.0))
    done = np.minimum(target["stock_jars"], target["target_jars"])
    return {
        **sums,
        "wanted": float(target["target_jars"].sum()),
        "filled": float(done.sum()),
        "targets": len(target),
        "met": int((target["wanted_jars"] <= 0.5).sum()),
        "within_a_tenth": int((done >= 0.9 * target["target_jars"]).sum()),
        "pints": sum(kitchen.jars.values()),
        "value": points,
        "bought": bought,
        "by_product": {key: [float(kitchen.jars.get(key, 0.0)), float(row["target_jars"])]
                       for key, row in target.iterrows()},
    }  # fmt: skip


def run(place: Path, first: int, last: int, policies: tuple[str, ...]) -> None:
    """Live each seed's season by every policy; one file a seed."""
    place.mkdir(parents=True, exist_ok=True)
    for seed in range(first, last + 1):
        file = place / f"seed-{seed}.json"
        done = json.loads(file.read_text("utf-8")) if file.exists() else {}
        todo = [how for how in policies if how not in done]
        if not todo:
            continue
        case = case_of(seed, place)
        for how in todo:
            done[how] = outcome(case, live(how, case))
        _write(file, json.dumps(done, indent=1).encode())
        print(seed, {how: round(one["value"]) for how, one in done.items()}, flush=True)


COLUMNS: dict[str, Callable[[dict[str, Any]], float]] = {
    "jars of what was wanted, %": lambda one: 100 * one["filled"] / one["wanted"],
    "targets met, %": lambda one: 100 * one["met"] / one["targets"],
    "within a tenth, %": lambda one: 100 * one["within_a_tenth"] / one["targets"],
    "pints in all": lambda one: one["pints"],
    "worth, points": lambda one: one["value"],
    "spoiled, kg": lambda one: one.get("spoiled", 0.0),
    "hours": lambda one: one.get("hours", 0.0),
    "changed": lambda one: one.get("changed", 0.0),
}


def table(place: Path) -> None:
    """Print means over seeds, and their differences to the plan, with standard errors."""
    found = [json.loads(f.read_text("utf-8")) for f in sorted(place.glob("seed-*.json"))]
    print(f"{len(found)} seeds")
    policies = list(dict.fromkeys(how for one in found for how in one))
    for title, base in (("mean (standard error)", None), ("less the plan", "plan")):
        print(f"| {title} | {' | '.join(COLUMNS)} |")
        for how in policies:
            if how == base:
                continue
            cells = []
            for value in COLUMNS.values():
                each = np.array([value(one[how]) - (value(one[base]) if base else 0.0)
                                 for one in found if how in one])  # fmt: skip
                error = each.std(ddof=1) / np.sqrt(len(each)) if len(each) > 1 else np.nan
                cells.append(f"{each.mean():.1f} ({error:.1f})")
            print(f"| {how} | {' | '.join(cells)} |")


def main() -> None:
    """Run or tell."""
    match sys.argv[1:]:
        case ["run", place, first, last, *which]:
            policies = tuple(which[0].split(",")) if which else POLICIES
            run(Path(place), int(first), int(last), policies)
        case ["table", place]:
            table(Path(place))
        case ["forecasts", place, first, last]:
            Path(place).mkdir(parents=True, exist_ok=True)
            for seed in range(int(first), int(last) + 1):
                case_of(seed, Path(place))
        case _:
            sys.exit(__doc__)


if __name__ == "__main__":
    main()
