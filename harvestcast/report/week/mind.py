"""What a reader must know before anything else: no weather, an old log, no hours, assumed stock."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pandas as pd

from harvestcast.growth.crops.almanac import crop_facts
from harvestcast.report.messages import MOST_NAMED, Remark
from harvestcast.report.week import views
from harvestcast.words import amounts as wording

if TYPE_CHECKING:
    from harvestcast.report.week.results import Week

OLD_DAYS = 7
"""Days after the last day known from which a log is called old."""
GROWING_DAYS = 90
"""Days after the last planting in which a log without picks is nothing strange."""
QUIET_DAYS, QUIET_TIMES = 7, 3
"""A crop has gone quiet after so many days without a pick, and so many times its usual days between
picks; after :data:`harvestcast.report.week.views.LONG_OVER` days nothing is said any more."""
QUIET_PICKS, OTHERS_PICKED = 4, 4
"""Days with a pick before, and days with picks of other crops since, for that to be said."""


def first_of_all(week: Week) -> list[Remark]:
    """Return what is said before the numbers, since it says what they are worth."""
    return [*_no_weather(week), *_old_log(week), *_ended(week), *_since(week)]


def _since(week: Week) -> list[Remark]:
    """Return what has happened since the week was last planned, on an earlier evening."""
    if week.since is None:
        return []
    news = [{"code": one.code, "facts": one.facts, "text": one.text} for one in week.news]
    return [Remark("week.since", {"since": week.since, "news": news, "units": week.units})]


def known_words(week: Week) -> str:
    """Return the last day known, and how long before it the log ends where it is not known.

    Nobody is asked whether a day without a row was a day without a pick, so after the last row of
    all, days are known in name only.
    """
    day, days = wording.long_day(week.as_of, week.units), _silent_days(week)
    return f"as of {day}; the log ends {days} days earlier" if days else f"known up to {day}"


def _silent_days(week: Week) -> int:
    """Return the days between the last pick and the last day known, where they are too many.

    After something was planted they are many before anything can be picked.
    """
    picked, planted = _last(week, "picks"), _last(week, "plantings")
    if pd.isna(picked) or (days := (week.as_of - picked).days) <= OLD_DAYS:
        return 0
    young = planted > picked and (week.as_of - planted).days <= GROWING_DAYS
    return 0 if young else days


def _last(week: Week, table: str) -> Any:
    own = week.spans.loc[week.spans["table"] == table, "last"]
    return own.iloc[0] if len(own) else pd.NaT


def _ended(week: Week) -> list[Remark]:
    said, common = [], {"as_of": week.as_of, "units": week.units}
    if days := _silent_days(week):
        said.append(Remark("log.ended", {"last": _last(week, "picks"), "days": days, **common}))
    weather = _last(week, "weather")
    if pd.notna(weather) and (days := (week.as_of - weather).days) > OLD_DAYS:
        said.append(Remark("weather.ended", {"last": weather, "days": days, **common}))
    return said


def _no_weather(week: Week) -> list[Remark]:
    from harvestcast.growth.log.series import NO_WEATHER

    if not len(week.left_out) or not (week.left_out["code"] == NO_WEATHER).any():
        return []
    planned = bool(len(week.batches))
    return [Remark("weather.none", {"as_of": week.as_of, "planned": planned, "units": week.units})]


def _old_log(week: Week) -> list[Remark]:
    if week.today is None or (days := (week.today - week.as_of).days) <= OLD_DAYS:
        return []
    return [Remark("log.old", {"as_of": week.as_of, "days": days, "units": week.units})]


def no_hours(week: Week) -> list[Remark]:
    """Return why nothing is put up where the household has no hours for it."""
    if not len(week.hours) or (week.hours["hours"] > 0).any():
        return []
    return [Remark("hours.none")]


def overdue(week: Week) -> list[Remark]:
    """Return which crops have waited long for a pick, and what hangs there."""
    return [
        Remark("crop.overdue", {str(k): v for k, v in row.items()} | {"units": week.units})
        for _, row in week.overdue.iterrows()
    ]


def gone_quiet(week: Week) -> list[Remark]:
    """Return which crops are picked no more while others are, and what to write down of them.

    Those of which much may hang there are said to be overdue (:func:`overdue`) instead. Nothing is
    said of what stands for years, nor of what is known to be over.
    """
    got = week.picked.loc[(week.picked["mass_kg"] > 0) | (week.picked["count"] > 0)]
    coming = set(week.coming.loc[week.coming["q90_kg"] > 0, "crop"].astype(str))
    growing = coming - set(week.overdue.get("crop", ()))
    since = {}
    for crop, own in got.groupby("crop", observed=True):
        days = own["date"].drop_duplicates().sort_values()
        perennial = crop_facts(str(crop)).perennial
        if crop not in growing or perennial or len(days) < QUIET_PICKS:
            continue
        last, usual = days.iloc[-1], days.diff().dt.days.median()
        quiet = (week.as_of - last).days
        others = got.loc[got["date"] > last, "date"].nunique()
        if (
            others >= OTHERS_PICKED
            and max(QUIET_DAYS, QUIET_TIMES * usual) <= quiet <= views.LONG_OVER
        ):
            since[str(crop)] = last
    return [Remark("crops.gone_quiet", {"crops": since, "units": week.units})] if since else []


COUNT_DAYS = 14
"""A count of jars or ingredients is old after so many days. Planning estimate."""
MUCH_LYING_KG = 4.0
"""Produce on hand that is worth a count where there has been none. Planning estimate."""


def to_count(week: Week) -> list[Remark]:
    """Return what ought to be counted: what the next batches take, and much that lies there."""
    said = []
    needed = set(week.shopping.loc[week.shopping["needed"] > 0, "item"].astype(str))
    if len(week.stock):
        own = week.stock.loc[week.stock["item"].isin(needed) & (week.stock["used"] > 0)]
        undated = own.loc[own["counted_on"].isna(), "item"].astype(str)
        if len(undated):
            said.append(Remark("count.undated", {"items": sorted(undated)}))
        old = own.loc[(week.as_of - own["counted_on"]).dt.days > COUNT_DAYS]
        if len(old):
            days = int((week.as_of - old["counted_on"].min()).days)
            said.append(Remark("count.old", {"items": sorted(old["item"]), "days": days}))
    table = views.shares(week.balance)
    never = table.loc[~table["crop"].isin(set(week.counted)) & (table["lying_kg"] >= MUCH_LYING_KG)]
    if len(never):
        crops = dict(zip(never["crop"].astype(str), never["lying_kg"].astype(float), strict=True))
        said.append(Remark("count.produce", {"crops": crops, "units": week.units}))
    return said


def lying_words(week: Week) -> str:
    """Return how much of which crop the plan takes to lie there already, and why; or nothing."""
    table = views.shares(week.balance)
    table = table.loc[table["lying_kg"] >= wording.SMALL_KG]
    table = table.sort_values("lying_kg", ascending=False, kind="stable")
    counted = table["crop"].isin(set(week.counted))
    parts = []
    if len(own := table.loc[~counted]):
        parts.append(
            f"an estimate of what is already in your kitchen: {_lying(own, week)} "
            "(recent picks minus what you usually eat and have put up)"
        )
    if len(own := table.loc[counted]):
        parts.append(f"what was counted, with the picks since: {_lying(own, week)}")
    return f"this includes {'; and '.join(parts)}" if parts else ""


def _lying(table: pd.DataFrame, week: Week) -> str:
    named = [
        f"{wording.about_mass(row['lying_kg'], week.units)} {wording.clean(row['crop'])}"
        for _, row in table.head(MOST_NAMED).iterrows()
    ]
    more = len(table) - MOST_NAMED
    named += [f"a little of {more} more" if more > 1 else "a little of 1 more"] if more > 0 else []
    return wording.listing(named)


def eating_words(week: Week) -> str:
    """Return of which crops more is eaten than is enjoyed, and what of it is; or nothing."""
    if not len(week.fresh) or not len(week.balance):
        return ""
    days = week.balance["day"].nunique()
    usual = dict(zip(week.fresh["crop"].astype(str), days * week.fresh["eat_kg_day"], strict=True))
    eaten = week.balance.groupby("crop")["eaten"].sum().sort_values(ascending=False, kind="stable")
    named = [
        f"{wording.clean(crop)} {wording.mass(kg, week.units)} "
        f"({wording.mass(usual[crop], week.units)} is enjoyed)"
        for crop, kg in zip(eaten.index.astype(str), eaten.to_numpy(float), strict=True)
        if kg - usual[crop] >= wording.SMALL_KG
    ]
    if not named:
        return ""
    unit = wording.mass_unit(week.units)
    return (
        f"eaten fresh in these {days} days counts more than is enjoyed where there is plenty: "
        f"{wording.some(named, MOST_NAMED)}. eat_{unit}_per_person_week in garden.toml says what "
        f"is enjoyed, eat_at_most_{unit}_per_person_week the most; without the second it is "
        "worked out from the first"
    )
