"""What a garden lacks before a report says anything, and yields that no plant can bear."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import numpy as np
import pandas as pd

from harvestcast.errors import InputError, Problem
from harvestcast.records.tables.findings import Findings
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.report.messages import Remark
from harvestcast.words import amounts as wording

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from harvestcast.records.garden import Garden
    from harvestcast.records.household import Household

BEYOND = 3.0
"""How many times the almanac's high yield of the plants a season must bring to be said. Generous:
a good plant in a long season may bear twice the almanac's high figure, while cherry tomatoes taken
for slicers weigh twelve times too much."""
SMALLER = 0.5
"""Share of the fruit's weight below which another crop of the almanac has much smaller fruit."""
STANDING_DAYS = 400
"""Longest time from planting to pick of a crop that is no perennial."""
FEW_YEARS = 3
"""Years of weather below which the scenarios are few."""
_WEIGHTS = ("amount.fruit_weight", "amount.heavy", "amount.far_weight", "amount.too_much")


def needs_picks(garden: Garden) -> None:
    """Raise where no pick is written down, so that no season can be looked at.

    Raises
    ------
    InputError
    """
    if garden.picks.empty:
        raise InputError(
            [
                Problem(
                    file=str(garden.folder or garden.name),
                    code="log.no_picks",
                    rule="no pick is written down yet",
                    cure="Write picks down (harvestcast add), or take over a log (harvestcast "
                    "import); then there is a season to look at.",
                )
            ]
        )


def still_missing(garden: Garden) -> list[Remark]:
    """Return what is to be written down next before the reports say what they can.

    Parameters
    ----------
    garden : Garden
        A garden without anything to mend.

    Returns
    -------
    list of Remark
        One a thing; empty where all is there.
    """
    home, weather = garden.household, garden.weather
    years = weather.loc[weather["kind"] != "forecast", "date"].dt.year.nunique()
    height = "elevation_ft" if home.units == "us" else "elevation_m"
    seasons = garden.seasons
    logged = not (garden.picks.empty and garden.plantings.empty)
    guessed = seasons.basis not in ("latitude", "hemisphere", "assumed")
    lacks = (
        (garden.plantings.empty, Remark("missing.plantings")),
        (garden.picks.empty, Remark("missing.picks", {"folder": garden.folder or "my_garden"})),
        (years < FEW_YEARS, Remark("missing.weather", {"years": years, "units": home.units})),
        (seasons.basis == "assumed" and logged, Remark("missing.latitude")),
        (
            guessed and seasons.hemisphere == "south",
            Remark("missing.latitude_south", {"basis": seasons.basis}),
        ),
        (home.elevation_m is None, Remark("missing.elevation", {"key": height})),
        (not home.equipment, Remark("missing.equipment")),
        (not any(home.hours.values()), Remark("missing.hours")),
        (not home.targets, Remark("missing.targets")),
    )
    return [remark for lacking, remark in lacks if lacking]


def odd_things(garden: Garden) -> pd.DataFrame:
    """Return all that is odd in a garden, as the check lists it.

    Parameters
    ----------
    garden : Garden
        The garden folder.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame in the order of files and lines: what ``garden.notices`` says of the files,
        and what only the almanac (yields and fruit weights that no plant can bear) and the
        kitchen (lines of the pantry and the kitchen book) can judge.

    Examples
    --------
    >>> from harvestcast.records.garden import garden_from_frames
    >>> len(odd_things(garden_from_frames()))
    0
    """
    from harvestcast.kitchen.household.book import kitchen_notices
    from harvestcast.kitchen.household.pantry import pantry_notices
    from harvestcast.kitchen.household.varieties import variety_notices

    found = [garden.notices, strange_settings(garden.household, garden.folder)]
    found += [unlikely_yields(garden), unlikely_fruit(garden), pantry_notices(garden)]
    found += [kitchen_notices(garden), variety_notices(garden)]
    whole = pd.concat(found, ignore_index=True)
    return whole.sort_values(["file", "line"], kind="stable", ignore_index=True)


def strange_settings(household: Household, folder: Path | None) -> pd.DataFrame:
    """Return the settings that only the kitchen can judge, with their lines in ``garden.toml``.

    Targets that name no product known here, canners without a tested row, and recipes of its own
    that are refused.

    Parameters
    ----------
    household : Household
        Settings.
    folder : pathlib.Path or None
        Garden folder they were read from.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame.
    """
    from harvestcast.kitchen.household.jars import jar_notices
    from harvestcast.kitchen.household.settings import (
        recipe_notices,
        stock_notices,
        target_notices,
        vessel_notices,
    )
    from harvestcast.records.settings import FILE, key_lines

    path = None if folder is None else folder / FILE
    known = path is not None and path.is_file()
    text = path.read_text("utf-8", errors="replace") if path is not None and known else ""
    lines = key_lines(text)
    found = [
        target_notices(household, lines),
        stock_notices(household, lines),
        jar_notices(household, lines),
        vessel_notices(household, lines),
        recipe_notices(household, lines),
    ]
    return pd.concat(found, ignore_index=True)


def unlikely_yields(garden: Garden) -> pd.DataFrame:
    """Return notices of seasons, and of single picks, that outdo what the plants can bear.

    Compared with the almanac's high yield a plant; a pick weighed in the wrong unit stands out
    here even where it is the only one of its crop. Nothing is changed.

    Parameters
    ----------
    garden : Garden
        Picks and plantings.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame.
    """
    from harvestcast.growth.crops.almanac import crop_facts

    weighed, seasons = garden.picks, garden.seasons
    weighed = weighed.loc[weighed["mass_kg"] > 0]
    notices = garden.notices
    said = notices.loc[notices["code"].isin(_WEIGHTS), ["file", "line"]]
    known = set(said.itertuples(index=False, name=None))
    bearing = _bearing(garden.plantings, ["crop"], garden.household)
    findings = Findings()
    season_of = seasons.of_each(weighed["date"])
    for (crop, season), picks in weighed.groupby(["crop", season_of], sort=True):
        facts = crop_facts(str(crop), garden.household)
        most = bearing((crop,), picks["date"].max())
        if not facts.known or most is None:
            continue
        largest = picks.iloc[int(np.argmax(picks["mass_kg"].to_numpy(float)))]
        if (largest["file"], largest["line"]) in known:
            continue  # said already, beside the other picks
        alone = float(largest["mass_kg"]) > BEYOND * most
        total = float(picks["mass_kg"].sum())
        if not alone and total <= BEYOND * most:
            continue
        units = garden.household.units
        findings.notice(
            "amount.unlikely_yield",
            _file(largest),
            largest["line"],
            "weight",
            wording.mass(float(largest["mass_kg"]), units),
            crop=str(crop),
            season=seasons.label(int(str(season))),
            alone=alone,
            kg=float(largest["mass_kg"]) if alone else total,
            most_kg=most,
            units=units,
        )
    return findings.notices


def unlikely_fruit(garden: Garden) -> pd.DataFrame:
    """Return notices of varieties counted and not weighed whose fruit is taken for too heavy.

    The weight of a fruit that nobody weighed is that of its crop, and a cherry tomato written as
    "tomato" is taken for a slicer. Said where a season's counts would then weigh more than
    :data:`BEYOND` times what the variety's plants bear, or where its very name or note is that of
    another crop of the almanac with much smaller fruit. Nothing is changed.

    Parameters
    ----------
    garden : Garden
        Picks and plantings.

    Returns
    -------
    pandas.DataFrame
        NOTICES frame, one row a variety, of the season it was counted most in.
    """
    from harvestcast.growth.crops.almanac import crop_facts

    picks, plantings, home = garden.picks, garden.plantings, garden.household
    seasons = garden.seasons
    one = ["crop", "variety"]
    both = picks.loc[(picks["count"] > 0) & (picks["mass_kg"] > 0)]
    of_crop, of_variety = (
        both.groupby(keys)[["mass_kg", "count"]].sum().T.to_dict("list") for keys in ("crop", one)
    )
    notes = dict(iter(plantings.groupby(one)["note"]))
    begun = seasons.of_each(plantings["date"])
    planted = plantings.groupby([*one, begun])["plants"].sum().to_dict()
    bearing = _bearing(plantings, one, home)
    counted = picks.loc[(picks["count"] > 0) & picks["mass_kg"].isna()]
    counted = counted.assign(season=seasons.of_each(counted["date"]), place=np.arange(len(counted)))
    by_season = counted.groupby([*one, "season"]).agg(
        number=("count", "sum"), last=("date", "max"), place=("place", "min")
    )
    named: dict[tuple[str, str, bool], tuple[str, str | None]] = {}
    found: dict[tuple[str, str], tuple[float, pd.Series, dict[str, Any]]] = {}
    for row in by_season.reset_index().to_dict("records"):
        facts = crop_facts(row["crop"], home)
        if not facts.known:
            continue
        key = (row["crop"], row["variety"])
        own = of_variety.get(key, (0.0, 0.0))
        each = facts.fruit_mass(of_crop.get(row["crop"], (0.0, 0.0)), own)
        number = float(row["number"])
        most = bearing(key, row["last"])
        beyond = most is not None and number * each > BEYOND * most
        if (*key, beyond) not in named:
            its = notes.get(key, pd.Series(dtype="string"))
            named[*key, beyond] = _smaller_crop(*key, its, each, every=beyond)
        said, other = named[*key, beyond]
        if not beyond and (other is None or own[1] > 0):
            continue
        if key in found and found[key][0] >= number:
            continue
        said_of = {
            "season": seasons.label(int(row["season"])),
            "number": number,
            "kg": each,
            "whole_kg": number * each,
            "plants": float(planted.get((*key, row["season"]), 0.0)),
            "most_kg": most if beyond else None,
            "said": said,
            "other": other or "",
        }
        found[key] = (number, counted.iloc[row["place"]], said_of)
    findings = Findings()
    for (name, kind), (_, first, said_of) in found.items():
        findings.notice(
            "amount.unlikely_fruit",
            _file(first),
            first["line"],
            "count",
            f"{first['count']:g}",
            crop=name,
            variety=kind,
            units=home.units,
            **said_of,
        )
    return findings.notices


def _file(pick: pd.Series) -> str:
    """Return the file of a pick; a garden built from frames has none."""
    return "picks" if pd.isna(pick["file"]) else str(pick["file"])


def _smaller_crop(
    crop: str, variety: str, notes: pd.Series, each: float, *, every: bool
) -> tuple[str, str | None]:
    """Return what in variety or note names a crop of much smaller fruit, and that crop.

    Of a note only the whole is believed, unless ``every`` word of it is to be tried since the
    counts tell already; then such a crop is named even where nothing written points at it.
    """
    from harvestcast.growth.crops.almanac import crop_facts, crops

    def small(other: str | None) -> bool:
        # Asked last: the facts of a crop take a moment to work out.
        return (
            other is not None
            and other.endswith(f" {crop}")
            and crop_facts(other).fruit_kg < SMALLER * each
        )

    tried = [("name", variety, word) for word in re.findall(r"[^\W\d_]+", variety)]
    for note in notes.dropna():
        tried.append(("note", note, str(note)))
        if every:
            tried += [("note", note, word) for word in re.findall(r"[^\W\d_]+", str(note))]
    for what, text, word in tried:
        for name in (f"{word} {crop}", word):
            other = canonical_crop(name)
            if small(other):
                return f"{what} ({text}) says", other
    return "", next(filter(small, crops()), None) if every else None


def _bearing(
    plantings: pd.DataFrame, keys: list[str], home: Household
) -> Callable[[tuple[Any, ...], pd.Timestamp], float | None]:
    """Return a function of crop (and variety) and last pick: the high yield of its plants, kg.

    None where it is not known. What each planting bears is added up once over the days, so that
    thousands of seasons ask in no time.
    """
    from harvestcast.growth.crops.almanac import crop_facts

    sums: dict[tuple[Any, ...], tuple[bool, Any, Any, Any]] = {}
    for key, own in plantings.groupby(keys, sort=False):
        facts = crop_facts(str(key[0]), home)
        own = own.sort_values("date", na_position="last")
        by_row = own["row_m"].to_numpy(float, na_value=np.nan) * facts.yield_kg_per_m[1]
        plants = own["plants"].to_numpy(float, na_value=np.nan)
        kg = np.fmax(plants * facts.yield_kg_per_plant[1], by_row)
        known = np.concatenate(([0], np.cumsum(np.isfinite(kg))))
        whole = np.concatenate(([0.0], np.cumsum(np.where(np.isfinite(kg), kg, 0.0))))
        days = own["date"].to_numpy("datetime64[D]")
        sums[key] = (facts.perennial, days[~np.isnat(days)], known, whole)

    def most(key: tuple[Any, ...], last: pd.Timestamp) -> float | None:
        if key not in sums:
            return None
        perennial, days, known, whole = sums[key]
        low, high = 0, len(known) - 1
        if not perennial:
            day = last.to_datetime64().astype("datetime64[D]")
            low = int(np.searchsorted(days, day - STANDING_DAYS, side="left"))
            high = int(np.searchsorted(days, day, side="right"))
        kg = float(whole[high] - whole[low])
        return kg if high > low and known[high] - known[low] == high - low and kg > 0 else None

    return most
