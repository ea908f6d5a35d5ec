"""From joint draws to the tables of a variety review."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import combinations

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import (
    BEST,
    BY_BED,
    CALENDAR,
    CUMULATIVE,
    DATED,
    MEASURES,
    TOLD_APART,
    VARIETY_MEASURES,
    VARIETY_TABLE,
)
from harvestcast.season.messages import said
from harvestcast.season.yields.learned import CropDraws
from harvestcast.season.yields.measures import heaviest_run, shaken
from harvestcast.season.yields.observed import Observed
from harvestcast.season.yields.plantings import UNNAMED, Unit

Seen = Mapping[str, Mapping[str, Sequence[Observed]]]

APART = 10 / 11
"""Probability beyond which two varieties count as told apart: ten to one."""

INTERVAL = (0.05, 0.5, 0.95)


def with_derived(crop: CropDraws, units: Sequence[Unit]) -> CropDraws:
    """Add the measures that follow from others by the spacing: per row metre and per bed area."""
    expected, again = dict(crop.expected), dict(crop.again)
    for name, size in (("kg_per_row_m", "row_m"), ("kg_per_m2", "area_m2")):
        dense = np.array([_plants_per(units, variety, size) for variety in crop.varieties])
        expected[name] = expected["kg_per_plant"] * dense
        again[name] = again["kg_per_plant"] * dense
    return CropDraws(
        crop=crop.crop,
        varieties=crop.varieties,
        expected=expected,
        again=again,
        effective=crop.effective,
    )


def _plants_per(units: Sequence[Unit], variety: str, size: str) -> float:
    mine = [unit for unit in units if unit.variety == variety]
    total = sum(getattr(unit, size) for unit in mine)
    return float(sum(unit.plants for unit in mine) / total) if total > 0 else float("nan")


def measures_table(crop: CropDraws, seen: Seen, units: Sequence[Unit]) -> pd.DataFrame:
    """Return the long table of one crop (VARIETY_MEASURES)."""
    rows = []
    for place, variety in enumerate(crop.varieties):
        mine = [unit for unit in units if unit.variety == variety]
        plants = sum(unit.plants for unit in mine)
        for name, (unit_name, _, _) in MEASURES.items():
            draws = crop.expected[name][:, place]
            if np.isnan(draws).any():
                continue
            low, middle, high = np.quantile(draws, INTERVAL)
            again = np.quantile(crop.again[name][:, place], (0.05, 0.95))
            rows.append(
                {
                    "crop": crop.crop,
                    "variety": variety,
                    "measure": name,
                    "unit": unit_name,
                    "plants": plants,
                    "plantings": len(mine),
                    "seen": _seen(name, variety, seen, mine),
                    "estimate": middle,
                    "q05": low,
                    "q95": high,
                    "again_q05": again[0],
                    "again_q95": again[1],
                }
            )
    return pd.DataFrame(rows, columns=VARIETY_MEASURES.names)


def _seen(name: str, variety: str, seen: Seen, units: Sequence[Unit]) -> float:
    """As logged: sums over plantings for yields, the mean over plantings for the rest."""
    total = sum(float(unit.mass.sum()) for unit in units)
    sizes = {"kg_per_plant": "plants", "kg_per_row_m": "row_m", "kg_per_m2": "area_m2"}
    if name in sizes:
        return total / sum(getattr(unit, sizes[name]) for unit in units)
    found = seen.get(name, {}).get(variety, [])
    return float(np.mean([one.seen for one in found])) if found else float("nan")


def best_table(crop: CropDraws) -> pd.DataFrame:
    """Return the probability of being best of the crop, per measure with a better side (BEST).

    A variety that shows nothing of a measure keeps its row, with an unknown probability.
    """
    rows = []
    for name, (_, better, _) in MEASURES.items():
        draws = crop.expected[name]
        known = np.atleast_1d(~np.isnan(draws).any(axis=0))
        if not better or known.sum() < 2:
            continue
        signed = np.where(known, draws if better == "more" else -draws, -np.inf)
        # Equals (no fruit of either grew too big, say) share the place.
        first = signed == signed.max(axis=1, keepdims=True)
        share = np.mean(first / first.sum(axis=1, keepdims=True), axis=0)
        for place, variety in enumerate(crop.varieties):
            chance = share[place] if known[place] else np.nan
            rows.append((crop.crop, variety, name, better, chance))
    return pd.DataFrame(rows, columns=BEST.names)


def told_apart_table(crop: CropDraws) -> pd.DataFrame:
    """Return every pair of varieties on every measure with a better side (TOLD_APART)."""
    rows = []
    for name, (_, better, meaning) in MEASURES.items():
        draws = crop.expected[name]
        if not better:
            continue
        known = np.flatnonzero(~np.isnan(draws).any(axis=0))
        for one, other in combinations(known, 2):
            wins = np.sign(draws[:, one] - draws[:, other])
            chance = float(0.5 + 0.5 * (wins.mean() if better == "more" else -wins.mean()))
            first, second = crop.varieties[one], crop.varieties[other]
            if chance < 0.5:
                first, second, chance = second, first, 1 - chance
            apart = chance >= APART
            line = said(
                "told.apart" if apart else "told.alike",
                meaning=meaning,
                first=first,
                other=second,
                chance=chance,
            )
            rows.append((crop.crop, name, first, second, chance, apart, line.code, line.text))
    return pd.DataFrame(rows, columns=TOLD_APART.names)


def wide_table(
    crops: Sequence[CropDraws], units: Mapping[str, Sequence[Unit]], long: pd.DataFrame
) -> pd.DataFrame:
    """Return one row a variety with estimates, intervals and dates (VARIETY_TABLE)."""
    rows = []
    by_key = {key: part.set_index("measure") for key, part in long.groupby(["crop", "variety"])}
    for crop in crops:
        for place, variety in enumerate(crop.varieties):
            mine = [unit for unit in units[crop.crop] if unit.variety == variety]
            row: dict[str, object] = {
                "crop": crop.crop,
                "variety": variety,
                "plants": sum(unit.plants for unit in mine),
                "plantings": len(mine),
                "mass_kg": sum(float(unit.mass.sum()) for unit in mine),
                "count": sum(_count(unit) for unit in mine),
                "counted_from": min(unit.counted_from for unit in mine),
                "how_sure": _how_sure(variety, mine),
            }
            found = by_key.get((crop.crop, variety))
            for name in MEASURES:
                for end, column in (("", "estimate"), ("_q05", "q05"), ("_q95", "q95")):
                    known = found is not None and name in found.index
                    row[name + end] = (
                        found.loc[name, column] if known and found is not None else np.nan
                    )
            row |= _dates(crop, place, mine)
            rows.append(row)
    return check_frame(pd.DataFrame(rows, columns=VARIETY_TABLE.names), VARIETY_TABLE)


def _how_sure(variety: str, units: Sequence[Unit]) -> str:
    plants = sum(unit.plants for unit in units)
    if not np.isfinite(plants):
        return said("sure.unnamed" if variety == UNNAMED else "sure.no_number").text
    if plants <= 1:
        return said("sure.one_plant").text
    number = sum(max(unit.plantings, 1) for unit in units)
    return said(
        "sure.plants", plants=plants, plantings=number, parts=len(units), few=plants <= 3
    ).text


def _dates(crop: CropDraws, place: int, units: Sequence[Unit]) -> dict[str, object]:
    """Turn heat and days into dates of this season by the heat of the variety's first planting.

    The first pick is the logged one, a fact without an interval; no share of the harvest lies
    before it.
    """
    unit = min(units, key=lambda one: one.first_day)
    row: dict[str, object] = {f"{n}{e}": pd.NaT for n in DATED for e in ("", "_q05", "_q95")}
    logged = first_logged(units)
    pairs = {"date_10": "dd_10", "date_50": "dd_50", "date_90": "dd_90"}
    if logged is None:
        pairs["first_pick_date"] = "first_pick_dd"
    else:
        row["first_pick_date"] = logged
    for date, measure in pairs.items():
        draws = crop.expected[measure][:, place]
        if np.isnan(draws).any():
            continue
        for end, level in zip(("_q05", "", "_q95"), INTERVAL, strict=True):
            day = day_of_heat(unit, float(np.quantile(draws, level)))
            row[date + end] = day if logged is None else max(day, logged)
    if unit.mass.sum() > 0:
        start = int(heaviest_run(sum_by_day(units)[1], 7)[1])
        row["peak_week_start"] = sum_by_day(units)[0] + pd.Timedelta(days=start)
    return row


def first_logged(units: Sequence[Unit]) -> pd.Timestamp | None:
    """Return the day of the first pick in the log; None where nothing was found."""
    days = [one.dates[int(np.argmax(one.mass > 0))] for one in units if one.mass.sum() > 0]
    return min(days) if days else None


def _count(unit: Unit) -> float:
    """Return the fruits picked; unknown where mostly weights were written down."""
    return float(unit.count.sum()) if unit.counted else float("nan")


def day_of_heat(unit: Unit, heat: float) -> pd.Timestamp:
    """Return the day of this season on which a planting had gathered that much heat.

    Beyond the last pick the heat of the last two weeks is carried on; two months at most.
    """
    if heat <= unit.heat[-1]:
        return unit.first_day + pd.Timedelta(days=int(np.searchsorted(unit.heat, heat)))
    back = min(14, len(unit.heat) - 1)
    a_day = max((unit.heat[-1] - unit.heat[-1 - back]) / max(back, 1), 0.5)
    more = min(int(np.ceil((heat - unit.heat[-1]) / a_day)), 60)
    return unit.first_day + pd.Timedelta(days=len(unit.heat) - 1 + more)


def sum_by_day(units: Sequence[Unit]) -> tuple[pd.Timestamp, Array]:
    """Return the first day and the daily mass of several plantings together."""
    first = min(unit.first_day for unit in units)
    last = max(unit.dates[-1] for unit in units)
    total = np.zeros(int((last - first).days) + 1)
    for unit in units:
        at = int((unit.first_day - first).days)
        total[at : at + len(unit.mass)] += unit.mass
    return first, total


def by_bed_table(units: Sequence[Unit]) -> pd.DataFrame:
    """Return one row a planting (BY_BED)."""
    rows = [
        (
            unit.crop,
            unit.variety,
            unit.bed,
            unit.planted,
            unit.plants,
            unit.area_m2,
            *_picked_between(unit),
            unit.mass.sum(),
            _count(unit),
            unit.mass.sum() / unit.plants,
            unit.mass.sum() / unit.area_m2,
            "; ".join(unit.notes) or None,
        )
        for unit in units
    ]
    return check_frame(pd.DataFrame(rows, columns=BY_BED.names), BY_BED)


def _picked_between(unit: Unit) -> tuple[object, object]:
    days = unit.dates[(unit.mass > 0) | (unit.count > 0)]
    return (days[0], days[-1]) if len(days) else (pd.NaT, pd.NaT)


def calendar_table(units: Sequence[Unit]) -> pd.DataFrame:
    """Return picks per variety and week, weeks from Monday (CALENDAR)."""
    parts = []
    for unit in units:
        count = unit.count if unit.counted else np.nan
        part = pd.DataFrame({"date": unit.dates, "mass_kg": unit.mass, "count": count})
        part["days_picked"] = (unit.mass > 0).astype(int)
        part["crop"], part["variety"] = unit.crop, unit.variety
        parts.append(part[unit.looked])
    if not parts:
        return CALENDAR.empty()
    days = pd.concat(parts, ignore_index=True)
    days["start"] = days["date"] - pd.to_timedelta(days["date"].dt.day_of_week, unit="D")
    weeks = days.groupby(["crop", "variety", "start"], as_index=False)[
        ["mass_kg", "count", "days_picked"]
    ].sum(min_count=1)
    total = weeks.groupby(["crop", "variety"])["mass_kg"].transform("sum")
    weeks["share"] = weeks["mass_kg"] / total.where(total > 0)
    return check_frame(weeks, CALENDAR)


def cumulative_table(
    crop: CropDraws, units: Sequence[Unit], noise_sd: float, rng: np.random.Generator
) -> pd.DataFrame:
    """Return the running harvest per variety with the band of its expected course (CUMULATIVE).

    Each draw takes the picks with their weekly noise shaken and is scaled to a draw of the
    expected yield, so that the band holds both what the plant was worth and when it bore.
    """
    parts = []
    for place, variety in enumerate(crop.varieties):
        mine = [unit for unit in units if unit.variety == variety]
        first, mass = sum_by_day(mine)
        if not mass.sum() > 0:
            continue
        plants = sum(unit.plants for unit in mine)
        worth = crop.expected["kg_per_plant"][:, place] * plants
        drawn = shaken(mass, noise_sd=noise_sd, draws=len(worth), rng=rng)
        running = np.cumsum(drawn, axis=1)
        running *= (worth / running[:, -1])[:, None]
        low, middle, high = np.quantile(running, INTERVAL, axis=0)
        early = min(mine, key=lambda one: one.first_day)
        heat = np.full(len(mass), np.nan)
        heat[: len(early.heat)] = early.heat
        longest = max(mine, key=lambda one: len(one.heat))
        if len(longest.heat) == len(mass):
            heat = longest.heat
        start = max(int(np.flatnonzero(mass > 0)[0]) - 7, 0)
        parts.append(
            pd.DataFrame(
                {
                    "crop": crop.crop,
                    "variety": variety,
                    "date": pd.date_range(first, periods=len(mass)),
                    "degree_days": heat,
                    "plants": plants,
                    "picked_kg": np.cumsum(mass),
                    "q05_kg": low,
                    "q50_kg": middle,
                    "q95_kg": high,
                }
            ).iloc[start:]
        )
    if not parts:
        return CUMULATIVE.empty()
    return check_frame(pd.concat(parts, ignore_index=True), CUMULATIVE)
