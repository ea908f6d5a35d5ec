"""The season ahead: what its page, summary and JSON are made of."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.report.plain import plain, rows
from harvestcast.words.amounts import Units
from harvestcast.words.crops import crops_said_as

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden
    from harvestcast.season.ahead.ahead import SeasonAhead


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Ahead:
    """What the page of the season ahead shows, and the settings it is worded by."""

    place: str
    units: Units
    ahead: SeasonAhead
    kept_out: pd.DataFrame
    crop_words: Mapping[str, str] = field(default_factory=dict)


def ahead_of(garden: Garden, ahead: SeasonAhead) -> Ahead:
    """Put the season ahead beside the settings of its garden."""
    from harvestcast.kitchen.household.demand import wanted_jars
    from harvestcast.kitchen.household.jars import own_words
    from harvestcast.kitchen.week.refused import kept_out

    wanted = wanted_jars(garden, ahead.as_of)
    return Ahead(
        place=garden.household.place or garden.name,
        units=garden.household.units,
        ahead=ahead,
        kept_out=kept_out(garden, wanted, ahead.as_of),
        crop_words=own_words(garden),
    )


def looked_ahead(
    folder: str | Path,
    *,
    as_of: str | None = None,
    seed: int = 1,
    say: Callable[[str], None] | None = None,
) -> Ahead:
    """Open a garden and look ahead over its season.

    Parameters
    ----------
    folder : path
        The garden folder.
    as_of : str, optional
        Last day known; left out: the last day of the log or of the weather record.
    seed : int
        Seed of the draws.
    say : callable, optional
        Told what is being done.
    """
    from harvestcast.records.garden import open_garden

    tell = say or (lambda words: None)
    tell("reading the garden")
    garden = open_garden(folder)
    from harvestcast.kitchen.household.jars import own_words
    from harvestcast.season.ahead.ahead import season_ahead

    with crops_said_as(own_words(garden)):
        tell("looking ahead")
        return ahead_of(garden, season_ahead(garden, as_of, seed=seed))


def summary(season: Ahead, report: str | None = None) -> dict[str, Any]:
    """Return the season ahead as plain values with stable keys, for scripts.

    Returns
    -------
    dict
        ``kind`` ("ahead"), ``place``, ``units``, ``as_of``, ``season``, ``draws``, ``seed``,
        ``report``, ``text``, ``lines``; the tables ``crops``, ``weeks``, ``shelves``, ``limits``,
        ``room``, ``hours`` with the columns of :mod:`harvestcast.frames.season_tables`,
        ``kept_out`` and ``left_out``; metric, unknown is null.
    """
    ahead = season.ahead
    return {
        "kind": "ahead",
        "place": season.place,
        "units": season.units,
        "as_of": plain(ahead.as_of),
        "season": ahead.season,
        "draws": ahead.draws,
        "seed": ahead.seed,
        "report": report,
        "text": list(ahead.text),
        "lines": [{"code": line.code, "facts": plain(line.facts)} for line in ahead.lines],
        "crops": rows(ahead.crops),
        "weeks": rows(ahead.weeks),
        "shelves": rows(ahead.shelves),
        "limits": rows(ahead.limits),
        "room": rows(ahead.room),
        "hours": rows(ahead.hours),
        "kept_out": rows(season.kept_out),
        "left_out": rows(ahead.left_out),
    }
