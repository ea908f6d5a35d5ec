"""All sentences of this room that say what is the case: a code and facts in, words out.

Reports, summaries and JSON decide by the code; the sentence is only shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

import pandas as pd

from harvestcast.words import amounts as wording
from harvestcast.words.messages import Message, say

MOST_NAMED = 5
"""Crops that one sentence names at most."""


@dataclass(frozen=True, slots=True)
class Remark:
    """One thing that a report has to say: its code, and the facts the sentence is made of."""

    code: str
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def text(self) -> str:
        """The sentence, without its full stop."""
        return say(MESSAGES[self.code].text, self.facts)


def texts(remarks: Iterable[Remark]) -> list[str]:
    """Return the sentences of remarks, in their order."""
    return [remark.text for remark in remarks]


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


def _no_weather(*, as_of: pd.Timestamp, planned: bool, units: wording.Units) -> str:
    said = (
        "Nothing is forecast: weather.csv holds no observed day up to "
        f"{wording.long_day(as_of, units)}; put the daily file of a station near you into the "
        "folder (see 'harvestcast check')"
    )
    if planned:
        said += ". What is planned below is only for what is taken to lie in the kitchen now"
    return said


def _old_log(*, as_of: pd.Timestamp, days: int, units: wording.Units) -> str:
    after = as_of + pd.Timedelta(days=1)
    return (
        f"The log ends on {wording.long_day(as_of, units)}, {_ago(days)} ago: all that follows is "
        f"for {wording.day(after, units)} and the days after it, not for today. Write down what "
        "was picked since, or name a day with --as-of"
    )


def _ended_log(*, last: pd.Timestamp, as_of: pd.Timestamp, days: int, units: wording.Units) -> str:
    return (
        f"The log ends on {wording.long_day(last, units)}, {days} days before "
        f"{wording.long_day(as_of, units)}: the days since are taken for days without a pick, and "
        "what is said below for a garden in which nothing was picked. Write down what was, or "
        "leave --as-of out"
    )


def _ended_weather(
    *, last: pd.Timestamp, as_of: pd.Timestamp, days: int, units: wording.Units
) -> str:
    return (
        f"The weather record ends on {wording.long_day(last, units)}, {days} days before "
        f"{wording.long_day(as_of, units)}: the weather since is taken from earlier years"
    )


def _gone_quiet(*, crops: Mapping[str, pd.Timestamp], units: wording.Units) -> str:
    named = [f"{wording.clean(c)} since {wording.day(day, units)}" for c, day in crops.items()]
    return (
        f"nothing picked of {wording.some(named, MOST_NAMED)} while others were; the forecast "
        "reckons with an end. If it is over, write the day under removed in plantings.csv; if you "
        "looked and there was none, write a 0"
    )


def _southern(*, basis: str) -> str:
    told = "weather" if basis == "weather" else "days of frost"
    return (
        f"garden.toml: no latitude; by its {told} the garden lies in the south, so a season runs "
        "from 1 July to 30 June"
    )


def _few_years(*, years: int, units: wording.Units) -> str:
    columns = "date, tmin_f, tmax_f" if units == "us" else "date, tmin_c, tmax_c"
    have = "there is no weather; without it nothing is forecast"
    if years:
        have = (
            f"there is weather of {years} year{'s' if years > 1 else ''}; the weeks ahead are "
            "drawn from the same weeks of past years, and these are few"
        )
    return (
        f"weather.csv: {have}; ten years are best: {columns}, or the daily file of a station near "
        "you (GHCN-Daily), as it comes"
    )


_DAY = pd.Timestamp("2026-07-19")
_LAST = {"last": pd.Timestamp("2026-06-30"), "as_of": _DAY, "days": 19, "units": "us"}

MESSAGES: dict[str, Message] = {
    "weather.none": Message(
        text=_no_weather, example={"as_of": _DAY, "planned": True, "units": "us"}
    ),
    "log.old": Message(text=_old_log, example={"as_of": _DAY, "days": 123, "units": "metric"}),
    "log.ended": Message(text=_ended_log, example=_LAST),
    "weather.ended": Message(text=_ended_weather, example=_LAST),
    "hours.none": Message(
        text="garden.toml gives no hours for putting up on the planned days, so nothing is; write "
        "under [hours] how many there are on which weekday, such as saturday = 4"
    ),
    "crops.gone_quiet": Message(
        text=_gone_quiet,
        example={"crops": {"zucchini": pd.Timestamp("2026-07-10")}, "units": "us"},
    ),
    "missing.plantings": Message(
        text="plantings.csv: nothing is planted yet; write crop, variety, date, how (sown or "
        "set_out) and plants of every bed"
    ),
    "missing.picks": Message(
        text=lambda folder: (
            f"no pick is written down; harvestcast add {wording.clean(folder)} cucumber 12, or "
            "import a log"
        ),
        example={"folder": "my_garden"},
    ),
    "missing.weather": Message(text=_few_years, example={"years": 2, "units": "us"}),
    "missing.latitude": Message(
        text="garden.toml: no latitude, and neither weather nor days of frost tell where the "
        "garden lies, so a season is taken to be a calendar year"
    ),
    "missing.latitude_south": Message(text=_southern, example={"basis": "weather"}),
    "missing.elevation": Message(
        text="garden.toml: no {key}, so no canning time is shown",
        example={"key": "elevation_ft"},
    ),
    "missing.equipment": Message(
        text="garden.toml: no [[equipment]], so nothing but cool storage is planned"
    ),
    "missing.hours": Message(text="garden.toml: no [hours], so no work in the kitchen is planned"),
    "missing.targets": Message(
        text="garden.toml: no [targets], so nothing is said of what the shelf should hold"
    ),
}
"""Code: what it says, with facts to show it by."""
