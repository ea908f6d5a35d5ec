"""What to order for a plan, and when to sow indoors: a seed list, and days before setting out.

Figures stand in ``data/planting.csv``, each with its source and whether it was read there, in a
reprint, or comes from memory: weeks from sowing indoors to setting out (extension services), seeds
in a gram (a trade chart), the least share that must come up of seed in commerce (USDA,
7 CFR 201.31), plant families and years between crops of one family.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from types import MappingProxyType
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.arrays import Array
from harvestcast.frames import check_frame
from harvestcast.frames.season_tables import SEEDS
from harvestcast.season.next.options import PlantingOption

SPARE = {"sown": 1.1, "set_out": 1.3}
"""Seeds for each plant that is to stand, beside those that do not come up: gaps and thinning in
the bed; weak seedlings and hardening off. Common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlantingFigures:
    """Figures for planting one crop; NaN and "" where unknown.

    Parameters
    ----------
    family : str
        Plant family.
    years_apart : float
        Years after which a bed may bear the family again, at least.
    weeks_low, weeks_high : float
        From sowing indoors to setting out.
    seeds_per_gram, germination : float
        Seeds in a gram, and least share of seed in commerce that comes up.
    viability_years : float
        Years that seed keeps.
    sources : mapping of str to (str, str)
        Source of ``family``, ``weeks``, ``seeds`` and ``germination``, and how it was seen:
        read, reprint or memory.
    """

    family: str
    years_apart: float
    weeks_low: float
    weeks_high: float
    seeds_per_gram: float
    germination: float
    viability_years: float
    sources: Mapping[str, tuple[str, str]]


@cache
def _figures() -> Mapping[str, PlantingFigures]:
    path = files("harvestcast.season.next") / "data" / "planting.csv"
    with path.open(encoding="utf-8") as file:
        table = pd.read_csv(file, keep_default_na=False)
    found = {}
    for row in table.to_dict("records"):

        def number(name: str, row: Mapping[Any, Any] = row) -> float:
            return float(row[name]) if row[name] != "" else float("nan")

        found[str(row["crop"])] = PlantingFigures(
            family=str(row["family"]),
            years_apart=number("years_apart"),
            weeks_low=number("weeks_low"),
            weeks_high=number("weeks_high"),
            seeds_per_gram=number("seeds_per_gram"),
            germination=number("germination_pct") / 100,
            viability_years=number("viability_years"),
            sources=MappingProxyType(
                {
                    what: (str(row[f"{what}_source"]), str(row[f"{seen}_read"]))
                    for what, seen in (
                        ("family", "family"),
                        ("weeks", "weeks"),
                        ("seeds", "seeds"),
                        ("germination", "seeds"),
                    )
                }
            ),
        )
    return MappingProxyType(found)


def planting_figures(crop: str) -> PlantingFigures:
    """Return the figures for planting a crop.

    Examples
    --------
    >>> tomato = planting_figures("tomato")
    >>> tomato.family, tomato.years_apart, tomato.weeks_low, tomato.weeks_high
    ('Solanaceae', 2.0, 6.0, 8.0)
    >>> planting_figures("moonroot").family
    ''
    """
    nan = float("nan")
    unknown = PlantingFigures(
        family="", years_apart=nan, weeks_low=nan, weeks_high=nan, seeds_per_gram=nan,
        germination=nan, viability_years=nan, sources=MappingProxyType({}),
    )  # fmt: skip
    return _figures().get(crop, unknown)


def seeds_for(plants: float, how: str, figures: PlantingFigures) -> tuple[float, float]:
    """Return the seeds to order, and their grams; NaN where the crop is not grown from seed.

    Examples
    --------
    Of tomatoes 75 % come up at least; 14 plants and three in ten to spare:

    >>> seeds, grams = seeds_for(14, "set_out", planting_figures("tomato"))
    >>> seeds, round(grams, 2)
    (25.0, 0.06)
    """
    seeds = np.ceil(plants * SPARE[how] / figures.germination)
    return float(seeds), float(seeds / figures.seeds_per_gram)


def indoor_days(date: pd.Timestamp, how: str, figures: PlantingFigures) -> tuple[Any, Any]:
    """Return the first and last day to sow indoors; NaT where nothing is, or no weeks are known.

    Examples
    --------
    >>> first, last = indoor_days(pd.Timestamp("2027-05-18"), "set_out", planting_figures("tomato"))
    >>> first.date().isoformat(), last.date().isoformat()
    ('2027-03-23', '2027-04-06')
    """
    if how != "set_out" or not np.isfinite(figures.weeks_low):
        return pd.NaT, pd.NaT
    weeks = figures.weeks_high, figures.weeks_low
    first, last = (date - pd.Timedelta(weeks=float(number)) for number in weeks)
    return first, last


def seed_table(options: Sequence[PlantingOption], plants: Array) -> pd.DataFrame:
    """Return what to order: one row a variety, its sowings together (SEEDS).

    Parameters
    ----------
    options : sequence of PlantingOption
        What could be planted.
    plants : ndarray, shape (options,)
        The plan.
    """
    rows = []
    kinds = sorted({(o.crop, o.variety) for o, n in zip(options, plants, strict=True)
                    if n > 0 and not o.standing})  # fmt: skip
    for crop, variety in kinds:
        figures = planting_figures(crop)
        mine = [
            (option, float(number))
            for option, number in zip(options, plants, strict=True)
            if (option.crop, option.variety) == (crop, variety) and number > 0
        ]
        ordered = [seeds_for(number, option.how, figures) for option, number in mine]
        days = [indoor_days(option.date, option.how, figures) for option, _ in mine]
        rows.append(
            {
                "crop": crop,
                "variety": variety,
                "sowings": len(mine),
                "plants": round(sum(number for _, number in mine)),
                "row_m": round(sum(number * option.row_m for option, number in mine), 2),
                "seeds": sum(seeds for seeds, _ in ordered),
                "grams": round(sum(grams for _, grams in ordered), 2),
                "germination": figures.germination,
                "keeps_years": figures.viability_years,
                "indoors_from": days[0][0],
                "indoors_to": days[0][1],
                "in_bed": mine[0][0].date,
            }
        )
    return check_frame(pd.DataFrame(rows, columns=SEEDS.names), SEEDS)
