"""All sentences of this room: a code and facts in, words out.

Of a model check ``text`` is what was checked and ``cure`` what that means and what was done.
"""

from __future__ import annotations

from harvestcast.words.messages import Message

_STANDS_IN = {
    "": "",
    "last_weeks": "; in its place stand its last weeks, drawn again",
    "almanac": "; in its place stand the almanac's figures",
}

MESSAGES: dict[str, Message] = {
    "fit.converged": Message(
        text="fit converged",
        cure=lambda stands_in: (
            "distance from the mode by the next step, in posterior spreads" + _STANDS_IN[stands_in]
        ),
        example={"stands_in": "last_weeks"},
    ),
    "picks.doubted": Message(
        text="picks can be meant",
        cure="days with more than the plants bear in a season and far more than on any other day; "
        "left out of the forecast, mend them in the log",
    ),
    "draws.effective": Message(
        text="draws agree with the model",
        cure="share of states tried that count once weighed by the exact posterior; below the "
        "threshold they are left as the Gaussian approximation gave them",
    ),
    "weather.filled": Message(
        text="weather known",
        cure="days of the season without a record, taken from other years or the days around",
    ),
    "net.weight": Message(
        text="curve against the recent pace",
        cure="weight of the recent pace in the coming week, from {cases} past weeks; the curve's "
        "ranges are taken {width} times as wide",
        example={"cases": "34", "width": "1.10"},
    ),
    "weather.none": Message(text="no observed day in weather.csv up to the day of the forecast"),
    "planting.undated": Message(text="no planting date and not picked yet this season"),
}
