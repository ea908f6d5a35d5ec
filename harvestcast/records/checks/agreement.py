"""Does the pick log agree with the plantings and with itself? What does not is said."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from difflib import get_close_matches
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.arrays import Flags
from harvestcast.records.checks.amounts import say_unlikely
from harvestcast.records.checks.dates import say_stray_dates
from harvestcast.records.household import Household
from harvestcast.records.logs.folder import kept_apart
from harvestcast.records.settings import FILE
from harvestcast.records.tables.findings import Findings
from harvestcast.records.tables.rows import MOST_CROPS
from harvestcast.records.typed.crops import PERENNIALS, canonical_crop, likely_crop, two_crops
from harvestcast.records.typed.varieties import UNNAMED, one_name_each, variety_key
from harvestcast.words.crops import crop_word

STANDING_DAYS = 400
"""Longest time from planting to pick of a crop that is no perennial (garlic, leeks)."""
MOST_VARIETIES = 3000
_SAME = ["date", "crop", "variety", "bed", "count", "mass_kg", "grade", "note"]
_ALIKE = [name for name in _SAME if name not in ("bed", "note")]


def settle_log(
    picks: pd.DataFrame,
    plantings: pd.DataFrame,
    household: Household,
    findings: Findings,
    unread: Collection[str] = (),
) -> tuple[pd.DataFrame, pd.DataFrame]:
    """Return picks and plantings with one spelling a variety and no line twice.

    Parameters
    ----------
    picks, plantings : pandas.DataFrame
        PICKS and PLANTINGS frames as read.
    household : Household
        Settings; says which further crops are perennial.
    findings : Findings
        Takes a notice for everything that was odd or changed.
    unread : collection of str
        Crops with a planting that could not be read. Whether their picks stand in a planting is
        not known, so nothing is said of it.
    """
    if _too_many_names(picks, "picks", findings) | _too_many_names(
        plantings, "plantings", findings
    ):
        return picks, plantings
    plantings, picks = _one_spelling(plantings, picks, household, findings)
    picks = _name_the_only_one(picks, plantings[~plantings["crop"].isin(unread)], findings)
    picks = _drop_twice(picks, plantings, findings)
    picks = _drop_poorer(picks, findings)
    _say_alike(picks, findings)
    perennial = PERENNIALS | {c for c, s in household.crops.items() if s.perennial}
    sure = picks[~picks["crop"].isin(unread)]
    _against_plantings(sure, plantings, perennial, findings)
    say_unlikely(picks, findings, household.units)
    say_stray_dates(picks, findings)
    return picks, plantings


def _too_many_names(frame: pd.DataFrame, stem: str, findings: Findings) -> bool:
    """Refuse names that cannot be crops or varieties; they would also be slow to compare."""
    crops = frame["crop"].nunique()
    varieties = len(frame[["crop", "variety"]].drop_duplicates())
    for column, number, most in (
        ("crop", crops, MOST_CROPS),
        ("variety", varieties, MOST_VARIETIES),
    ):
        if number > most:
            files = sorted(frame["file"].dropna().unique())
            file = str(files[0]) if files else stem
            findings.problem("crop.too_many", file, None, column, "", number=number, column=column)
    return crops > MOST_CROPS or varieties > MOST_VARIETIES


def _one_spelling(
    plantings: pd.DataFrame, picks: pd.DataFrame, household: Household, findings: Findings
) -> tuple[pd.DataFrame, pd.DataFrame]:
    sown = plantings.groupby("crop", sort=False)["variety"].unique()
    days: dict[str, dict[str, set[Any]]] = {}
    for (crop, variety), dates in picks.groupby(["crop", "variety"], sort=False)["date"]:
        days.setdefault(str(crop), {})[str(variety)] = set(dates)
    read_as: dict[tuple[str, str], str] = {}
    for crop in dict.fromkeys([*sown.index, *days]):
        own = days.get(crop, {})
        apart = kept_apart(household, crop)
        chosen = one_name_each(list(sown.get(crop, ())), list(own), apart=apart, days=own)
        read_as |= {(crop, typed): read for typed, read in chosen.items()}
        for name in apart:
            if name not in chosen:
                place = (FILE, None, f"crops.{crop}.varieties_apart", name)
                findings.notice("variety.apart_absent", *place, crop=crop, known=sorted(chosen))
    if all(typed == read for (_, typed), read in read_as.items()):
        return plantings, picks
    frames = (plantings, picks)
    named = [
        pd.array([read_as[pair] for pair in zip(f["crop"], f["variety"], strict=True)], "string")
        for f in frames
    ]
    lines = pd.concat([f.assign(read=read) for f, read in zip(frames, named, strict=True)])
    for (crop, read), other in lines[lines["variety"] != lines["read"]].groupby(
        ["crop", "read"], sort=False
    ):
        first = other.iloc[0]
        findings.notice(
            "variety.spelling",
            str(first["file"]),
            int(first["line"]),
            "variety",
            first["variety"],
            crop=str(crop),
            variety=str(read),
            spellings=list(dict.fromkeys(other["variety"])),
            files=list(dict.fromkeys(other["file"])),
            lines=len(other),
        )
    plantings, picks = (f.assign(variety=read) for f, read in zip(frames, named, strict=True))
    return plantings, picks


def _name_the_only_one(
    picks: pd.DataFrame, plantings: pd.DataFrame, findings: Findings
) -> pd.DataFrame:
    """Give picks without a variety to the only variety their crop was planted with."""
    without = picks["variety"] == UNNAMED
    if not without.any():
        return picks
    varieties = plantings.groupby("crop")["variety"].unique()
    only = {crop: names[0] for crop, names in varieties.items() if len(names) == 1}
    named = picks.loc[without, "crop"].map(only)
    given = named[named.notna() & (named != UNNAMED)]
    for crop, lines in picks.loc[given.index].groupby("crop", sort=False):
        findings.notice(
            "variety.only_one",
            str(lines["file"].iloc[0]),
            int(lines["line"].iloc[0]),
            "variety",
            "",
            crop=crop,
            picks=len(lines),
            planted=only[crop],
        )
    variety = picks["variety"].mask(picks.index.isin(given.index), named.astype("string"))
    return picks.assign(variety=variety)


def _drop_twice(picks: pd.DataFrame, plantings: pd.DataFrame, findings: Findings) -> pd.DataFrame:
    twice = picks.duplicated(_SAME)
    if not twice.any():
        return picks
    beds = plantings.groupby(["crop", "variety"])["bed"].nunique().to_dict()
    lines: dict[tuple[Any, ...], tuple[str, int]] = {}
    known = [[None if pd.isna(v) else v for v in row] for row in picks[_SAME].to_numpy(object)]
    places = zip(picks["file"], picks["line"], strict=True)
    for values, (file, line), again in zip(known, places, twice, strict=True):
        key = tuple(values)
        if not again:
            lines[key] = (str(file), int(line))
            continue
        first_file, first_line = lines[key]
        findings.notice(
            "pick.twice",
            str(file),
            int(line),
            "",
            f"{str(values[0])[:10]} {crop_word(values[1])} {values[2]}",
            line=first_line,
            file="" if first_file == file else first_file,
            # Of two beds two baskets may well be alike, and the log does not tell from which.
            beds=values[3] is None and beds.get((values[1], values[2]), 0) > 1,
        )
    return picks[~twice].reset_index(drop=True)


def _drop_poorer(picks: pd.DataFrame, findings: Findings) -> pd.DataFrame:
    """Count a pick of two files once where one of them lacks its count or its weight."""
    if picks["file"].nunique() < 2:
        return picks
    rest = [name for name in _SAME if name not in ("count", "mass_kg")]
    one = picks["count"].isna() ^ picks["mass_kg"].isna()
    poorer: list[Any] = []
    for name, more in (("count", "weight"), ("mass_kg", "count")):
        keys = [*rest, "amount", "which"]
        # To the gram: two files may write one weight in two units.
        whole = picks.assign(amount=picks[name].round(3))
        # The first such line of one file answers to the first of the other, and so on.
        whole["which"] = whole.groupby([*rest, "amount", "file", one], dropna=False).cumcount()
        pairs = (
            whole[one & picks[name].notna()]
            .reset_index()
            .merge(whole[picks["count"].notna() & picks["mass_kg"].notna()], on=keys)
        )
        pairs = pairs[pairs["file_x"] != pairs["file_y"]].drop_duplicates("index")
        poorer += pairs["index"].to_list()
        for row in pairs.to_dict("records"):
            findings.notice(
                "pick.twice_poorer",
                str(row["file_x"]),
                int(row["line_x"]),
                "",
                f"{str(row['date'])[:10]} {crop_word(row['crop'])} {row['variety']}",
                line=int(row["line_y"]),
                file=str(row["file_y"]),
                more=more,
            )
    return picks.drop(index=poorer).reset_index(drop=True)


def _say_alike(picks: pd.DataFrame, findings: Findings) -> None:
    """Say picks of two files that agree in all but a remark, or a bed that only one names.

    Within one file such lines are two baskets; two files may both hold the same one.
    """
    if picks["file"].nunique() < 2:
        return
    several = picks[picks.duplicated(_ALIKE, keep=False)]
    for _, group in several.groupby(_ALIKE, sort=False, dropna=False):
        if group["file"].nunique() < 2:
            continue
        # A line that says which basket of the day it is was meant as one more.
        told = group["note"].str.contains("basket", case=False, na=False)
        first: dict[Any, dict[Any, Any]] = {}  # the first line of each bed in the files before
        for _, own in group[~told].sort_values(["file", "line"]).groupby("file", sort=True):
            for row in own.to_dict("records"):
                same = _one_basket(row, first)
                if same is not None:
                    findings.notice(
                        "pick.alike",
                        str(row["file"]),
                        int(row["line"]),
                        "",
                        f"{str(row['date'])[:10]} {crop_word(row['crop'])} {row['variety']}",
                        line=int(same["line"]),
                        file=str(same["file"]),
                    )
            for row in own.drop_duplicates("bed").to_dict("records"):
                first.setdefault(None if pd.isna(row["bed"]) else row["bed"], row)


def _one_basket(
    row: Mapping[Any, Any], first: Mapping[Any, dict[Any, Any]]
) -> dict[Any, Any] | None:
    """Return the earliest line that may be the same basket: of one bed, or of none that is known.

    ``first`` holds the first line of each bed, in the order of files and lines.
    """
    if pd.isna(row["bed"]):
        return next(iter(first.values()), None)
    met = [first[bed] for bed in (row["bed"], None) if bed in first]
    return min(met, key=lambda one: (one["file"], one["line"]), default=None)


def _against_plantings(
    picks: pd.DataFrame, plantings: pd.DataFrame, perennial: frozenset[str], findings: Findings
) -> None:
    if picks.empty or plantings.empty:
        return
    planted = {str(crop): group for crop, group in plantings.groupby("crop")}
    year = picks["date"].dt.year
    for (crop, _), group in picks.groupby(["crop", year], sort=True):
        crop = str(crop)
        beds = planted.get(crop)
        first = group.iloc[0]
        place = (str(first["file"]), int(first["line"]))
        if beds is None:
            unclear = canonical_crop(crop) is None and (
                two_crops(crop) is not None or likely_crop(crop, list(planted)) is not None
            )
            if unclear:
                continue  # said already, with the crop that was probably meant
            findings.notice("pick.crop_not_planted", *place, "crop", crop, crop=crop)
            continue
        dates = beds["date"]
        if crop in perennial or dates.isna().any():
            continue
        early = list(group["date"][~_in_a_planting(group["date"], dates)])
        if not early:
            continue
        later = dates[dates > early[-1]]
        row = group[group["date"] == early[0]].iloc[0]
        where = (str(row["file"]), int(row["line"]), "date", str(early[0].date()))
        facts = {"crop": crop, "picks": len(early), "year": early[0].year}
        if len(later):
            findings.notice("pick.before_planting", *where, **facts, planted=later.min().date())
        else:
            findings.notice("pick.no_planting", *where, **facts)
    _varieties(picks, plantings, findings)
    _after_removal(picks, plantings, findings)


def _in_a_planting(picked: pd.Series, planted: pd.Series) -> Flags:
    """Return which days lie within the longest time after the last planting before them."""
    days = np.sort(planted.to_numpy("datetime64[D]"))
    picks = picked.to_numpy("datetime64[D]")
    place = np.searchsorted(days, picks, side="right") - 1
    age = (picks - days[np.maximum(place, 0)]).astype(int)
    return (place >= 0) & (age <= STANDING_DAYS)


def _varieties(picks: pd.DataFrame, plantings: pd.DataFrame, findings: Findings) -> None:
    planted = plantings.groupby("crop")["variety"].agg(set).to_dict()
    keys = {crop: {variety_key(n): n for n in sorted(own)} for crop, own in planted.items()}
    crops_of: dict[str, str] = {}
    for crop, own in keys.items():
        for key in own:
            crops_of.setdefault(key, str(crop))
    for (crop, variety), group in picks.groupby(["crop", "variety"], sort=True):
        if crop not in planted or variety in planted[crop]:
            continue
        row = group.iloc[0]
        place = (str(row["file"]), int(row["line"]), "variety", variety)
        facts = {"crop": str(crop), "picks": len(group), "planted": sorted(planted[crop])[:6]}
        if variety == UNNAMED:
            findings.notice("variety.missing", *place, **facts)
            continue
        key = variety_key(str(variety))
        close = get_close_matches(key, list(keys[crop]), n=1, cutoff=0.8)
        findings.notice(
            "variety.not_planted",
            *place,
            **facts,
            variety=str(variety),
            meant=keys[crop][close[0]] if close else "",
            elsewhere=crops_of.get(key, ""),
        )


def _after_removal(picks: pd.DataFrame, plantings: pd.DataFrame, findings: Findings) -> None:
    """Say picks of a variety all of whose plantings had been pulled out by then."""
    by_variety = plantings.groupby(["crop", "variety"])["removed"]
    gone = by_variety.max().where(by_variety.count() == by_variety.size())
    if gone.isna().all():
        return
    pairs = pd.MultiIndex.from_frame(picks[["crop", "variety"]])
    days = gone.reindex(pairs).to_numpy("datetime64[ns]")
    late = picks[(picks["date"] > days) & ~(picks["count"] == 0)]
    for (crop, variety), group in late.groupby(["crop", "variety"], sort=True):
        first = group.iloc[0]
        findings.notice(
            "pick.after_removal",
            str(first["file"]),
            int(first["line"]),
            "date",
            str(first["date"])[:10],
            crop=str(crop),
            variety=str(variety),
            picks=len(group),
        )
