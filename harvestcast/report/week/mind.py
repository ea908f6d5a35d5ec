"""What a reader must know before anything else: no weather, an old log, no hours, assumed stock."""

from __future__ import annotations

from typing import Any

import pandas as pd

from harvestcast.report.week import views
from harvestcast.report.week.results import Week
from harvestcast.words import amounts as wording

OLD_DAYS = 7
"""Days after the last day known from which a log is called old."""
GROWING_DAYS = 90
"""Days after the last planting in which a log without picks is nothing strange."""
QUIET_DAYS, QUIET_TIMES, LONG_OVER = 7, 3, 35
"""A crop has gone quiet after so many days without a pick, and so many times its usual days between
picks; after the last number of days it is taken to be over, and nothing is said any more."""
QUIET_PICKS, OTHERS_PICKED = 4, 4
"""Days with a pick before, and days with picks of other crops since, for that to be said."""
MOST_LYING = 5
"""Crops taken to lie there that are named at most."""


def first_of_all(week: Week) -> list[str]:
    """Return what is said before the numbers, since it says what they are worth."""
    return [*_no_weather(week), *_old_log(week), *_ended(week)]


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


def _ended(week: Week) -> list[str]:
    said, day = [], wording.long_day(week.as_of, week.units)
    if _silent_days(week):
        last = wording.long_day(_last(week, "picks"), week.units)
        said.append(
            f"The log ends on {last}, {_silent_days(week)} days before {day}: the days "
            "since are taken for days without a pick, and what is said below for a garden in which "
            "nothing was picked. Write down what was, or leave --as-of out"
        )
    weather = _last(week, "weather")
    if pd.notna(weather) and (days := (week.as_of - weather).days) > OLD_DAYS:
        said.append(
            f"The weather record ends on {wording.long_day(weather, week.units)}, {days} days "
            f"before {day}: the weather since is taken from earlier years"
        )
    return said


def _no_weather(week: Week) -> list[str]:
    from harvestcast.growth.log.series import NO_WEATHER

    if not len(week.left_out) or not (week.left_out["code"] == NO_WEATHER).any():
        return []
    said = (
        "Nothing is forecast: weather.csv holds no observed day up to "
        f"{wording.long_day(week.as_of, week.units)}; put the daily file of a station near you "
        "into the folder (see 'harvestcast check')"
    )
    if len(week.batches):
        said += ". What is planned below is only for what is taken to lie in the kitchen now"
    return [said]


def _old_log(week: Week) -> list[str]:
    if week.today is None or (days := (week.today - week.as_of).days) <= OLD_DAYS:
        return []
    after = week.as_of + pd.Timedelta(days=1)
    return [
        f"The log ends on {wording.long_day(week.as_of, week.units)}, {_ago(days)} ago: all that "
        f"follows is for {wording.day(after, week.units)} and the days after it, not for today. "
        "Write down what was picked since, or name a day with --as-of"
    ]


def _ago(days: int) -> str:
    """Return a span of time in the largest unit that fits twice.

    Examples
    --------
    >>> _ago(9), _ago(20), _ago(123), _ago(800)
    ('9 days', '3 weeks', '4 months', '2 years')
    """
    for size, name in ((365, "years"), (30.4, "months"), (7, "weeks")):
        if days >= 2 * size:
            return f"{days / size:.0f} {name}"
    return f"{days} days"


def no_hours(week: Week) -> list[str]:
    """Return why nothing is put up where the household has no hours for it."""
    if not len(week.hours) or (week.hours["hours"] > 0).any():
        return []
    return [
        "garden.toml gives no hours for putting up on the planned days, so nothing is; write "
        "under [hours] how many there are on which weekday, such as saturday = 4"
    ]


def gone_quiet(week: Week) -> list[str]:
    """Return which crops are picked no more while others are, and what to write down of them."""
    got = week.picked.loc[(week.picked["mass_kg"] > 0) | (week.picked["count"] > 0)]
    growing = set(week.coming["crop"].astype(str))
    named = []
    for crop, own in got.groupby("crop", observed=True):
        days = own["date"].drop_duplicates().sort_values()
        if crop not in growing or len(days) < QUIET_PICKS:
            continue
        last, usual = days.iloc[-1], days.diff().dt.days.median()
        since = (week.as_of - last).days
        others = got.loc[got["date"] > last, "date"].nunique()
        if others >= OTHERS_PICKED and max(QUIET_DAYS, QUIET_TIMES * usual) <= since <= LONG_OVER:
            named.append(f"{wording.clean(str(crop))} since {wording.day(last, week.units)}")
    if not named:
        return []
    return [
        f"nothing picked of {wording.some(named, MOST_LYING)} while others were; the forecast "
        "reckons with an end. If it is over, write the day under removed in plantings.csv; if you "
        "looked and there was none, write a 0"
    ]


def lying_words(week: Week) -> str:
    """Return how much of which crop the plan takes to lie there already, and why; or nothing."""
    table = views.shares(week.balance)
    table = table.loc[table["lying_kg"] >= wording.SMALL_KG]
    table = table.sort_values("lying_kg", ascending=False, kind="stable")
    if not len(table):
        return ""
    named = [
        f"{wording.about_mass(row['lying_kg'], week.units)} {wording.clean(row['crop'])}"
        for _, row in table.head(MOST_LYING).iterrows()
    ]
    more = len(table) - MOST_LYING
    named += [f"a little of {more} more" if more > 1 else "a little of 1 more"] if more > 0 else []
    return (
        f"taken to lie in the kitchen at the start: {wording.listing(named)} (recent picks, less "
        "usual eating and what the pantry book says was put up; nobody has counted it)"
    )


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
        f"{wording.some(named, MOST_LYING)}. eat_{unit}_per_person_week in garden.toml says what "
        f"is enjoyed, eat_at_most_{unit}_per_person_week the most; without the second it is "
        "reckoned from the first"
    )
