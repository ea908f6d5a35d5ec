"""All sentences of this room that say what is the case: a code and facts in, words out.

Reports, summaries and JSON decide by the code; the sentence is only shown.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

import pandas as pd

from harvestcast.words import amounts as wording
from harvestcast.words import messages
from harvestcast.words.messages import Message

MOST_NAMED = 5
"""Crops that one sentence names at most."""


class Remark(messages.Said):
    """One thing that a report has to say: its code, and the facts the sentence is made of."""

    __slots__ = ()

    @property
    def message(self) -> Message:
        """The message of the code in this room's table."""
        return MESSAGES[self.code]


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
        f"Nothing is forecast: there is no weather up to {wording.long_day(as_of, units)}. Put the "
        "daily file of a station near you into the folder (see 'harvestcast explain weather')"
    )
    if planned:
        said += ". The plan below is only for what is likely in your kitchen now"
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
        f"{wording.long_day(as_of, units)}: the days since count as days without a pick, so all "
        "that follows is for a garden in which nothing was picked. Write down what was, or leave "
        "--as-of out"
    )


def _ended_weather(
    *, last: pd.Timestamp, as_of: pd.Timestamp, days: int, units: wording.Units
) -> str:
    return (
        f"The weather record ends on {wording.long_day(last, units)}, {days} days before "
        f"{wording.long_day(as_of, units)}: the forecast fills the days since from earlier years"
    )


def _since(*, since: pd.Timestamp, news: Sequence[Mapping[str, str]], units: wording.Units) -> str:
    day = wording.long_day(since, units)
    if not news:
        return f"Since {day} all has gone as expected"
    return f"Since {day}: {wording.some([one['text'] for one in news], MOST_NAMED)}"


def _gone_quiet(*, crops: Mapping[str, pd.Timestamp], units: wording.Units) -> str:
    named = [f"{wording.clean(c)} since {wording.day(day, units)}" for c, day in crops.items()]
    return (
        f"nothing picked of {wording.some(named, MOST_NAMED)} while others were, so the "
        "forecast expects it to be over soon. If it is over, write the day under removed in "
        "plantings.csv; if you looked and there was none, write a 0"
    )


def _count_produce(*, crops: Mapping[str, float], units: wording.Units) -> str:
    named = [f"{wording.about_mass(kg, units)} {wording.clean(c)}" for c, kg in crops.items()]
    return (
        f"by the log of picks {wording.some(named, MOST_NAMED)} lie in the kitchen, uncounted. "
        f"Count "
        "them with 'harvestcast on-hand', and the plan goes by the count"
    )


def _items(items: Iterable[str]) -> str:
    """Return items of a shopping list by their first words: a comma would divide them."""
    return wording.listing(item.partition(",")[0] for item in items)


OVERSIZE = 0.05
"""Share of oversize fruit below which nothing is said of it."""


def _overdue(
    *,
    crop: str,
    beds: str,
    last: pd.Timestamp,
    days: int,
    usual_days: float,
    q10_kg: float,
    q50_kg: float,
    q90_kg: float,
    oversize_share: float,
    units: wording.Units,
) -> str:
    where = f" ({wording.clean(beds)})" if beds else ""
    usual = f"{usual_days:.0f} days" if usual_days >= 1.5 else "day"
    hangs = f"{wording.about_mass(q50_kg, units)} ({wording.mass_range(q10_kg, q90_kg, units)})"
    too_big = f", {wording.chance(oversize_share)} of it oversize"
    return (
        f"{wording.clean(crop)}{where}, last picked {wording.day(last, units)}, {days} days ago "
        f"(usually every {usual}): pick today; if it still bears, about {hangs} hangs there"
        f"{too_big if oversize_share >= OVERSIZE else ''}"
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
        f"weather.csv: {have}; ten years are best: put the daily file of a station near you "
        f"(GHCN-Daily) into the folder as it comes, or type {columns}; see 'harvestcast explain "
        "weather'"
    )


def _use(words: str, kg: float) -> Message:
    """Return the message of a use; its amount stands in the place of the braces, if it is known."""
    return Message(
        text=lambda units, kg=None, **_: words.format(
            "" if kg is None else f" {wording.about_mass(kg, units)}"
        ),
        example={"kg": kg, "units": "us"},
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
        text="garden.toml gives no hours for putting up on the planned days, so nothing is "
        "planned; write "
        "under [hours] how many there are on which weekday, such as saturday = 4"
    ),
    "count.undated": Message(
        text=lambda items: (
            f"garden.toml does not say when {_items(items)} were counted: taken as counted before "
            "the season's first batch, less what was used since. Count them with 'harvestcast "
            "on-hand', or add counted_on"
        ),
        example={"items": ["new lids", "pint jars"]},
    ),
    "count.old": Message(
        text=lambda items, days: (
            f"{_items(items)}: last counted up to {days} days ago; count again with 'harvestcast "
            "on-hand'"
        ),
        example={"items": ["new lids", "pint jars"], "days": 21},
    ),
    "count.produce": Message(
        text=_count_produce,
        example={"crops": {"cucumber": 20.9, "snap bean": 7.3}, "units": "us"},
    ),
    # What to do with a surplus, shorter than the kitchen's own sentences; without kg, where nobody
    # knows how much there will be, if any.
    "use.product": Message(
        text=lambda units, label, filled, kg=None, **_: (
            f"put up as {wording.clean(label)}"
            if kg is None
            else f"put up {wording.about_mass(kg, units)} (about {filled} of "
            f"{wording.clean(label)})"
        ),
        example={"kg": 1.6, "units": "us", "label": "sliced dill pickles", "filled": "6 pints"},
    ),
    "use.give": _use("give away{} more", 1.8),
    "use.feed": _use("feed animals{} more", 1.4),
    "use.leave": _use("leave{} where it grows for now", 1.4),
    "use.compost": _use("compost{}", 1.4),
    "use.pick_smaller": Message(text="pick smaller, and every day"),
    "week.since": Message(
        text=_since,
        example={
            "since": pd.Timestamp("2026-07-24"),
            "news": [{"text": "2 lb more cucumber came in than expected"}],
            "units": "us",
        },
    ),
    "crops.gone_quiet": Message(
        text=_gone_quiet,
        example={"crops": {"zucchini": pd.Timestamp("2026-07-10")}, "units": "us"},
    ),
    "crop.overdue": Message(
        text=_overdue,
        example={
            "crop": "snap bean",
            "beds": "north 2",
            "last": pd.Timestamp("2026-07-08"),
            "days": 11,
            "usual_days": 2.0,
            "q10_kg": 3.1,
            "q50_kg": 18.0,
            "q90_kg": 24.0,
            "oversize_share": 0.33,
            "units": "us",
        },
    ),
    "missing.plantings": Message(
        text="plantings.csv: nothing is planted yet; write crop, date, how (sown or set out) and "
        "how many plants, a line for each variety and bed"
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
        "garden lies, so a season is counted as a calendar year; write, say, latitude = 44"
    ),
    "missing.latitude_south": Message(text=_southern, example={"basis": "weather"}),
    "missing.elevation": Message(
        text="garden.toml has no {key}: without it no canning time is shown",
        example={"key": "elevation_ft"},
    ),
    "missing.equipment": Message(
        text="garden.toml has no [[equipment]]: without it only cool storage is planned"
    ),
    "missing.hours": Message(
        text="garden.toml has no [hours]: without them no work in the kitchen is planned; write, "
        "say, saturday = 4 below [hours]"
    ),
    "missing.targets": Message(
        text='garden.toml has no [targets]: write, say, "dill pickles" = 20 below [targets], '
        "jars a year, and what is put up goes by them"
    ),
}
"""Code: what it says, with facts to show it by."""
