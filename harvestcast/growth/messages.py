"""Every sentence of this room: a code and facts in, words out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from harvestcast.words.messages import Message


def _leans(weight: float, width: float, cases: int, came: float) -> str:
    """Say how far the coming week leans on the recent pace, and why."""
    off = ""
    if np.isfinite(came) and abs(came - 1.0) >= 0.1:
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
    return f"Only {years} past year(s) of weather cover these days, so a climate stands in: " + (
        f"{by} {verb} it." if known else f"{by}."
    )


MESSAGES: Mapping[str, Message] = {
    "forecast.leans": Message(
        text=_leans, example={"weight": 0.35, "width": 0.8, "cases": 24, "came": 1.6}
    ),
    "weather.few_years": Message(
        text=_few_years,
        cure="Add earlier years to weather.csv (public station records read as they come).",
        example={"years": 2, "known": ("the days on record", "the latitude in garden.toml")},
    ),
}
