"""The crop almanac: what is known of a crop before the household has recorded anything.

One row per canonical crop in ``data/crops.csv``, one row per source in ``data/sources.csv``; each
group of figures names its source, and each source says whether it was read or comes from memory.
Figures are published in days, pounds and inches; the tables hold metric numbers, and days are
turned into degree-days here, with the reference climates below.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from types import MappingProxyType

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from harvestcast.arrays import Array
from harvestcast.errors import InputError, Problem
from harvestcast.growth.crops.degree_days import accumulate, degree_days
from harvestcast.records.household import CropSettings, Household

GENERIC = "generic"
"""The prior for a crop the almanac does not know: wide in everything."""

REFERENCE_CLIMATE: Mapping[str, tuple[float, float]] = MappingProxyType(
    {"warm": (16.5, 27.5), "cool": (10.5, 21.5)}
)
"""Daily minimum and maximum that published days are turned into heat with. [degC]

``warm``: late May to early August, ``cool``: mid-April to the end of June, both in the north-
central United States, where most of the published days were counted. Round figures; the tests hold
them against eleven years of daily weather there.
"""

# A published span of days is taken to hold 80 % of varieties and years ...
_WIDTH_OF_80 = 2 * 1.2815515655446004
# ... and a garden's microclimate, the gardener's eye for what is ripe and the days from sowing to
# coming up add to that (our judgement).
_PLACE_LOG_SD = 0.15
# What a household says of its own garden is held to about a tenth (our judgement).
_OWN_LOG_SD = 0.10


@dataclass(frozen=True, slots=True, kw_only=True)
class CropFacts:
    """What the almanac (and the household, where it overrides it) says of one crop.

    ``low`` and ``high`` are the ends of the usual range; it is read as holding 80 % of cases.
    Log standard deviations (``..._log_sd``) are of the natural logarithm.
    """

    crop: str
    known: bool
    """False where the crop is unknown and the generic prior stands in."""
    base_c: float
    upper_c: float | None
    heat_method: str
    """Method of :func:`harvestcast.growth.crops.degree_days.degree_days`; the cutoff is
    horizontal."""
    dd_to_first_pick: float
    """Heat from sowing (perennials: from 1 January) to the first pick. [degC d]"""
    dd_to_first_pick_set_out: float
    """Heat from setting out to the first pick. [degC d]"""
    usually_set_out: bool
    """Set out as young plants as a rule: the published days to the first pick count from there."""
    first_pick_log_sd: float
    perennial: bool
    heat_from_new_year: bool
    """Heat counts from 1 January of the picking year: perennials, and garlic set in autumn."""
    habit: str
    """determinate, indeterminate (picked until frost), cut_again, or once_over."""
    picking_weeks: tuple[float, float]
    dd_picking: float
    """Heat from the first pick to the last, where no frost comes first. [degC d]"""
    picking_log_sd: float
    fruit: str
    """What one of the count is: fruit, pod, head, bunch, ..."""
    fruit_kg: float
    fruit_kg_range: tuple[float, float]
    fruit_log_sd: float
    yield_kg_per_plant: tuple[float, float]
    """Whole season. [kg]"""
    yield_kg_per_m: tuple[float, float]
    """Whole season, per metre of row. [kg/m]"""
    plants_per_m_row: float
    spacing_m2: float
    """Bed area of one plant, its share of the path between rows included. [m2]"""
    tender: bool
    """Killed by the first frost of :attr:`kill_c`."""
    kill_c: float
    """Daily minimum that ends picking. [degC]"""
    pick_every_days: float
    week_log_sd: float
    """Spread of weekly yield about its smooth curve."""
    oversize_share: float
    """Usual share of fruit that grows too big between picks."""
    sources: Mapping[str, str]
    """Group of figures to citation, each beginning with ``read:``, ``memory:``, ..."""

    def fruit_mass(self, of_crop: tuple[float, float], own: tuple[float, float]) -> float:
        """Return what a fruit of a variety is taken to weigh, in kg.

        Parameters
        ----------
        of_crop, own : tuple of float
            Weight and number of the fruits that were both weighed and counted, of the crop and of
            the variety: its own rows are shrunk to the crop's, and those to the almanac's fruit.

        Examples
        --------
        >>> round(crop_facts("okra").fruit_mass((0.0, 0.0), (0.0, 0.0)), 4) == round(
        ...     crop_facts("okra").fruit_kg, 4
        ... )
        True
        """
        prior = self.fruit_kg if np.isfinite(self.fruit_kg) else 0.05
        crop = (of_crop[0] + 5 * prior) / (of_crop[1] + 5)
        return float((own[0] + 10 * crop) / (own[1] + 10))

    @property
    def fruit_sd_kg(self) -> float:
        """Standard deviation of one fruit's weight, in kg."""
        return self.fruit_kg * float(np.sqrt(np.expm1(self.fruit_log_sd**2)))

    @property
    def yield_log_sd(self) -> float:
        """Log standard deviation of the season's yield of one plant."""
        return _log_sd(*self.yield_kg_per_plant)

    def __reduce__(self) -> tuple[object, ...]:
        fields = {name: getattr(self, name) for name in self.__slots__}
        return (_rebuild, ({**fields, "sources": dict(self.sources)},))


def _rebuild(fields: dict[str, object]) -> CropFacts:
    sources = fields.pop("sources")
    return CropFacts(**fields, sources=MappingProxyType(dict(sources)))  # type: ignore[arg-type,call-overload]


def crop_facts(crop: str, household: Household | None = None) -> CropFacts:
    """Return what is known of a crop, the household's own figures taking the almanac's place.

    Parameters
    ----------
    crop : str
        Canonical crop name; an unknown one gets the generic prior and ``known=False``.
    household : Household, optional
        Settings whose ``crops`` may override thresholds, heat to first pick, fruit weight, yield
        per plant, weeks of picking, ``tender`` and ``perennial``.

    Returns
    -------
    CropFacts

    Raises
    ------
    InputError
        Where overrides contradict each other or the almanac (upper threshold below the base).

    Examples
    --------
    >>> facts = crop_facts("tomato")
    >>> facts.base_c, facts.habit, facts.tender
    (10.0, 'indeterminate', True)
    >>> round(facts.dd_to_first_pick_set_out, -1)
    970.0
    >>> crop_facts("moon melon").known
    False
    """
    facts = _facts(crop)
    if household is None or crop not in household.crops:
        return facts
    return _override(facts, household.crops[crop])


def crops() -> tuple[str, ...]:
    """Return the crops of the almanac, in alphabetical order, without the generic prior.

    Examples
    --------
    >>> "zucchini" in crops()
    True
    """
    return tuple(name for name in _table() if name != GENERIC)


def daily_heat(facts: CropFacts, tmin_c: ArrayLike, tmax_c: ArrayLike) -> Array:
    """Return the degree-days of each day by the crop's own thresholds and method. [degC d].

    Examples
    --------
    >>> daily_heat(crop_facts("snap bean"), [12.0], [24.0]).tolist()
    [8.0]
    """
    return degree_days(
        tmin_c, tmax_c, base_c=facts.base_c, upper_c=facts.upper_c, method=facts.heat_method
    )


def heat_start(facts: CropFacts, planted: object, year: int) -> pd.Timestamp:
    """Return the day from which heat counts towards picks of ``year``.

    The planting day, or 1 January where the crop stands from year to year, was planted in an
    earlier year, or its planting day is unknown.

    Examples
    --------
    >>> heat_start(crop_facts("strawberry"), None, 2026)
    Timestamp('2026-01-01 00:00:00')
    """
    day = pd.NaT if planted is None else pd.Timestamp(planted)  # type: ignore[arg-type]
    new_year = pd.Timestamp(year, 1, 1)
    if pd.isna(day) or facts.perennial or facts.heat_from_new_year or day < new_year:
        return new_year
    return day


def reference_year() -> pd.DataFrame:
    """Return a smooth reference year for crops whose first pick is published as a date.

    A cosine with a mean of 8.5 degC, coldest in mid-January, warmest in mid-July, 17.5 degC either
    side, and 10 degC between night and day: about Minneapolis and Saint Paul in recent years.
    Columns ``date`` (2025), ``tmin_c``, ``tmax_c``.
    """
    days = pd.date_range("2025-01-01", "2025-12-31")
    mean = 8.5 - 17.5 * np.cos(2 * np.pi * (np.arange(365) - 14) / 365)
    return pd.DataFrame({"date": days, "tmin_c": mean - 5.0, "tmax_c": mean + 5.0})


def _log_sd(low: float, high: float) -> float:
    return float(np.log(high / low) / _WIDTH_OF_80)


def _middle(low: float, high: float) -> float:
    return float(np.sqrt(low * high))


def _read(name: str) -> list[dict[str, str]]:
    path = resources.files("harvestcast.growth.crops").joinpath("data", name)
    with path.open("r", encoding="utf-8") as handle:
        return list(csv.DictReader(handle))


@cache
def _table() -> Mapping[str, Mapping[str, str]]:
    return MappingProxyType({row["crop"]: row for row in _read("crops.csv")})


@cache
def _sources() -> Mapping[str, str]:
    rows = _read("sources.csv")
    return MappingProxyType({row["key"]: f"{row['mark']}: {row['citation']}" for row in rows})


@cache
def _facts(crop: str) -> CropFacts:
    known = crop in _table() and crop != GENERIC
    row = _table()[crop if known else GENERIC]
    base, method = float(row["base_c"]), row["heat_method"]
    upper = float(row["upper_c"]) if row["upper_c"] else None
    sown, set_out, first_sd = _first_pick(row, base, upper, method)
    weeks = (float(row["picking_weeks_low"]), float(row["picking_weeks_high"]))
    fruit = (float(row["fruit_kg_low"]), float(row["fruit_kg_high"]))
    groups = [name for name in row if name.endswith("_source")]
    return CropFacts(
        crop=crop,
        known=known,
        base_c=base,
        upper_c=upper,
        heat_method=method,
        dd_to_first_pick=sown,
        dd_to_first_pick_set_out=set_out,
        usually_set_out=row["counted_from"] == "set_out",
        first_pick_log_sd=first_sd,
        perennial=row["perennial"] == "true",
        heat_from_new_year=row["counted_from"] == "new_year",
        habit=row["habit"],
        picking_weeks=weeks,
        dd_picking=7 * _middle(*weeks) * _heat_per_day("warm", base, upper, method),
        picking_log_sd=float(np.hypot(_log_sd(*weeks), _PLACE_LOG_SD)),
        fruit=row["fruit"],
        fruit_kg=_middle(*fruit),
        fruit_kg_range=fruit,
        fruit_log_sd=_log_sd(*fruit),
        yield_kg_per_plant=(
            float(row["yield_kg_per_plant_low"]),
            float(row["yield_kg_per_plant_high"]),
        ),
        yield_kg_per_m=(float(row["yield_kg_per_m_low"]), float(row["yield_kg_per_m_high"])),
        plants_per_m_row=1 / float(row["in_row_m"]),
        spacing_m2=float(row["in_row_m"]) * float(row["between_rows_m"]),
        tender=row["tender"] == "true",
        kill_c=float(row["kill_c"]),
        pick_every_days=float(row["pick_every_days"]),
        week_log_sd=float(row["week_log_sd"]),
        oversize_share=float(row["oversize_share"]),
        sources=MappingProxyType(
            {name.removesuffix("_source"): _sources()[row[name]] for name in groups}
        ),
    )


def _heat_per_day(climate: str, base: float, upper: float | None, method: str) -> float:
    low, high = REFERENCE_CLIMATE[climate]
    return degree_days(low, high, base_c=base, upper_c=upper, method=method).item()


def _first_pick(
    row: Mapping[str, str], base: float, upper: float | None, method: str
) -> tuple[float, float, float]:
    """Return heat to first pick from sowing and from setting out, and its log sd."""
    low, high, counted = row["first_low"], row["first_high"], row["counted_from"]
    if counted == "new_year":
        year = accumulate(reference_year(), "2025-01-01", base_c=base, upper_c=upper, method=method)
        ends = (float(year[f"2025-{low}"]), float(year[f"2025-{high}"]))
        middle = _middle(*ends)
        return middle, middle, float(np.hypot(_log_sd(*ends), _PLACE_LOG_SD))
    a_day = _heat_per_day(row["climate"], base, upper, method)
    # The nursery weeks are warm ones, but a plant loses about half of their lead when it is moved:
    # half of their heat is what setting out saves (our judgement).
    nursery = 0.5 * float(row["nursery_days"]) * _heat_per_day("warm", base, upper, method)
    ends = (float(low), float(high))
    if counted != "sown_dd":
        ends = (ends[0] * a_day, ends[1] * a_day)
    middle, spread = _middle(*ends), float(np.hypot(_log_sd(*ends), _PLACE_LOG_SD))
    if counted == "set_out":
        return middle + nursery, middle, spread
    return middle, max(middle - nursery, 0.4 * middle), spread


def _override(facts: CropFacts, own: CropSettings) -> CropFacts:
    base = facts.base_c if own.base_c is None else own.base_c
    upper = facts.upper_c if own.upper_c is None else own.upper_c
    if upper is not None and upper <= base:
        problem = Problem(
            file="garden.toml",
            column=f"crops.{facts.crop}",
            value=f"base_c {base:g}, upper_c {upper:g}",
            rule="the upper threshold must lie above the base",
            cure="Change one of the two; the almanac's value stands where a key is left out.",
        )
        raise InputError([problem])
    scale = _heat_per_day("warm", base, upper, facts.heat_method) / _heat_per_day(
        "warm", facts.base_c, facts.upper_c, facts.heat_method
    )
    sources = dict(facts.sources)
    said = "garden.toml: the household's own figure"
    changes: dict[str, object] = {}
    if scale != 1:
        # The same days of the reference climate, counted by the household's thresholds.
        changes |= {"base_c": base, "upper_c": upper}
        for name in ("dd_to_first_pick", "dd_to_first_pick_set_out", "dd_picking"):
            changes[name] = getattr(facts, name) * scale
        sources["heat"] = said
    if own.degree_days_to_first_pick:
        first = own.degree_days_to_first_pick
        # Said of the crop as the household plants it, sown or set out.
        changes |= {"dd_to_first_pick": first, "dd_to_first_pick_set_out": first}
        changes["first_pick_log_sd"] = _OWN_LOG_SD
        sources["first"] = said
    if own.weeks_of_picking is not None:
        weeks = own.weeks_of_picking
        changes["picking_weeks"] = (weeks, weeks)
        per_day = _heat_per_day("warm", base, upper, facts.heat_method)
        changes |= {"dd_picking": 7 * weeks * per_day, "picking_log_sd": 2 * _OWN_LOG_SD}
        sources["picking"] = said
    if own.fruit_kg is not None:
        changes |= {"fruit_kg": own.fruit_kg, "fruit_kg_range": (own.fruit_kg, own.fruit_kg)}
        changes["fruit_log_sd"] = _OWN_LOG_SD
        sources["fruit"] = said
    if own.yield_kg_per_plant is not None:
        factor = own.yield_kg_per_plant / _middle(*facts.yield_kg_per_plant)
        # A household knows its yield to about a quarter either way (our judgement).
        changes["yield_kg_per_plant"] = (
            0.8 * own.yield_kg_per_plant,
            1.25 * own.yield_kg_per_plant,
        )
        row_low, row_high = facts.yield_kg_per_m
        changes["yield_kg_per_m"] = (row_low * factor, row_high * factor)
        sources |= {"plant": said, "row": said}
    for name in ("tender", "perennial"):
        value = getattr(own, name)
        if value is not None:
            changes[name] = value
            sources["cold"] = said
    if changes.get("perennial"):
        changes["heat_from_new_year"] = True
    return replace(facts, **changes, sources=MappingProxyType(sources))  # type: ignore[arg-type]


def weighed_and_counted(picks: pd.DataFrame) -> tuple[float, float]:
    """Return weight and number of the fruits of picks that have both. [kg, fruits]."""
    both = picks[(picks["count"] > 0) & (picks["mass_kg"] > 0)]
    return float(both["mass_kg"].sum()), float(both["count"].sum())
