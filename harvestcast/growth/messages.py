"""All sentences of this room: a code and facts in, words out.

Of a model check ``text`` is what was checked and ``cure`` what that means and what was done.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from harvestcast.words.messages import Message
from harvestcast.words.numbers import plural

_STANDS_IN = {
    "": "",
    "last_weeks": "; in its place stand its last weeks, drawn again",
    "almanac": "; in its place stand the almanac's figures",
}


def _leans(weight: float, width: float, cases: int, came: float) -> str:
    """Say how far the coming week leans on the recent pace, and why."""
    off = ""
    if came == 0.0:
        off = ", since the curve promised picks in weeks in which nothing came"
    elif np.isfinite(came) and abs(came - 1.0) >= 0.1:
        way = "low" if came > 1.0 else "high"
        off = f", since the curve has been {100 * abs(1.0 - 1.0 / came):.0f} % too {way}"
    if weight > 0:
        return f"This week leans on the recent pace by {100 * weight:.0f} %{off}."
    if width < 1.0:
        return "Ranges are narrower than the curve's, since past weeks came nearer to its middle."
    if width > 1.0:
        return "Ranges are wider than the curve's, since past weeks fell farther from its middle."
    return f"The curve has done as well as the recent pace in {cases} past weeks."


def _few_years(years: int, known: Sequence[str]) -> str:
    by = " and ".join(known) if known else "that of a mid-latitude place in the north"
    verb = "set" if len(known) > 1 else "sets"
    covered = f"{plural(years, 'past year')} of weather {'covers' if years == 1 else 'cover'}"
    return f"Only {covered} these days, so a climate stands in: " + (
        f"{by} {verb} it." if known else f"{by}."
    )


MESSAGES: dict[str, Message] = {
    "fit.converged": Message(
        text="fit converged",
        cure=lambda stands_in: (
            "distance from the mode by the next step, in posterior spreads" + _STANDS_IN[stands_in]
        ),
        example={"stands_in": "last_weeks"},
    ),
    "picks.doubted": Message(
        text="no pick beyond belief",
        cure="days on which more was picked than the plants bear in a season, and far more than on "
        "any other day; the forecast leaves them out; correct them in the log",
    ),
    "draws.effective": Message(
        text="draws agree with the model",
        cure="share of the drawn states that still count when each is weighed by the exact "
        "posterior; below the threshold the draws stay as the Gaussian approximation gives them",
    ),
    "weather.filled": Message(
        text="enough days with weather",
        cure="days of the season without a record; their weather comes from other years or the "
        "days around",
    ),
    "weather.none": Message(text="there is no weather up to the day of the forecast"),
    "planting.undated": Message(text="no planting date and not picked yet this season"),
    "forecast.leans": Message(
        text="curve against the recent pace",
        cure=_leans,
        example={"weight": 0.35, "width": 0.8, "cases": 24, "came": 1.6},
    ),
    "weather.few_years": Message(
        text=_few_years,
        cure="Add earlier years to weather.csv (public station records read as they come).",
        example={"years": 2, "known": ("the days on record", "the latitude in garden.toml")},
    ),
}
