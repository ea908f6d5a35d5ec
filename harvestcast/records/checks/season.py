"""Latitude, weather and the usual days of frost must agree on when the garden's season is."""

from __future__ import annotations

import numpy as np
import pandas as pd

from harvestcast.records.household import Household
from harvestcast.records.seasons import Seasons, frosts_tell, seasons_of, warm_half
from harvestcast.records.settings import FILE
from harvestcast.records.tables.findings import Findings
from harvestcast.words.days import spoken

FAR_DAYS = 60
"""Days between the usual last frost of the settings and that of the weather from which on it is
said: a sheltered garden is some weeks ahead of its station, not two months. Our judgement."""
FEWEST_SEASONS = 3
"""Seasons of weather below which their last frosts are not asked."""
WHOLE = 300
"""Days of weather that make a season count."""


def say_season(household: Household, weather: pd.DataFrame, findings: Findings) -> None:
    """Say settings, weather and days of frost that contradict each other.

    Parameters
    ----------
    household : Household
        Settings.
    weather : pandas.DataFrame
        WEATHER frame.
    findings : Findings
        Takes a problem where latitude and hemisphere contradict each other, and notices.
    """
    seasons = seasons_of(household, weather)
    if household.latitude is not None and household.hemisphere not in (None, seasons.hemisphere):
        findings.problem(
            "season.hemisphere",
            FILE,
            None,
            "hemisphere",
            household.hemisphere,
            latitude=household.latitude,
            hemisphere=seasons.hemisphere,
        )
        return
    told = frosts_tell(household)
    frost = "last_frost" if household.last_frost is not None else "first_frost"
    if told is not None and told != seasons.hemisphere:
        findings.notice(
            "season.frost",
            FILE,
            None,
            frost,
            str(getattr(household, frost)),
            told=told,
            hemisphere=seasons.hemisphere,
            basis=seasons.basis,
            start=_first_day(seasons),
            frost=frost,
        )
    elif household.last_frost is not None and household.first_frost is not None:
        spring, autumn = (
            seasons.day(day, 2024) for day in (household.last_frost, household.first_frost)
        )
        if autumn <= spring:
            findings.notice(
                "season.frosts",
                FILE,
                None,
                "first_frost",
                household.first_frost,
                last_frost=household.last_frost,
            )
    warm = warm_half(weather)
    if warm is not None and warm != seasons.hemisphere:
        findings.notice(
            "season.weather",
            FILE,
            None,
            seasons.basis,
            "",
            told=warm,
            hemisphere=seasons.hemisphere,
            basis=seasons.basis,
            start=_first_day(seasons),
        )
    elif household.last_frost is not None and told == seasons.hemisphere:
        _say_far_frost(household.last_frost, weather, seasons, findings)


def _first_day(seasons: Seasons) -> str:
    return spoken(seasons.span(2024).start).rsplit(" ", 1)[0]


def _say_far_frost(
    last_frost: str, weather: pd.DataFrame, seasons: Seasons, findings: Findings
) -> None:
    """Say a usual last frost that lies far from those of the weather record."""
    seen = weather[weather["kind"] != "forecast"]
    seen = seen.assign(season=seasons.of_each(seen["date"]))
    away = []
    for season in sorted({int(one) for one in seen["season"]}):
        days = seen[seen["season"] == season]
        if len(days) < WHOLE:
            continue
        start = seasons.span(season).start
        spring = days[(days["tmin_c"] <= 0) & (days["date"] < start + pd.Timedelta(days=182))]
        if len(spring):
            away.append(float((spring["date"].max() - seasons.day(last_frost, season)).days))
    if len(away) < FEWEST_SEASONS or abs(np.median(away)) <= FAR_DAYS:
        return
    found = seasons.day(last_frost, 2024) + pd.Timedelta(days=float(np.median(away)))
    findings.notice(
        "season.last_frost",
        FILE,
        None,
        "last_frost",
        last_frost,
        usual=spoken(found).rsplit(" ", 1)[0],
    )
