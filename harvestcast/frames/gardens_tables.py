"""Tables of the gardens room: what came of many gardens, and a trial pooled over them."""

from harvestcast.frames.checker import (
    Column,
    FrameSpec,
    date,
    integer,
    number,
    summary,
    text,
)
from harvestcast.frames.season_tables import BEST, MEASURES, VARIETY_MEASURES
from harvestcast.frames.tables import LEFT_OUT

_GARDEN = text("garden", "name of the garden; unique among those worked on together")
_CROP = text("crop", "crop, canonical lower-case name")
_VARIETY = text("variety", "variety as typed; 'unnamed' where none was given")

GARDENS = FrameSpec(
    "gardens",
    (
        _GARDEN,
        text("settings", "settings as in garden.toml, written as JSON", required=False),
        text("station", "weather station the garden shares with others", required=False),
    ),
    key=("garden",),
)
"""One row a garden: the household's settings, and whose weather it has."""

FORECASTS = FrameSpec(
    "forecasts",
    (
        _GARDEN,
        date("as_of", "last day known"),
        _CROP,
        text("variety", "variety; empty where the forecast is by crop", required=False),
        integer("week", "weeks ahead, from 1", low=1),
        date("start", "first day of the week"),
        date("end", "last day of the week"),
        *summary("kg"),
        *summary("count"),
    ),
    key=("garden", "crop", "variety", "week"),
)
"""Weekly forecasts of many gardens."""

GARDEN_VARIETIES = FrameSpec(
    "garden_varieties",
    (_GARDEN, integer("year", "season"), *VARIETY_MEASURES.columns),
    key=("garden", "year", *VARIETY_MEASURES.key),
)
"""VARIETY_MEASURES of many gardens and seasons."""

GARDEN_BEST = FrameSpec(
    "garden_best",
    (_GARDEN, integer("year", "season"), *BEST.columns),
    key=("garden", "year", *BEST.key),
)
"""BEST of many gardens and seasons."""

GARDEN_LEFT_OUT = FrameSpec("garden_left_out", (_GARDEN, *LEFT_OUT.columns))
"""LEFT_OUT of many gardens."""

STAGES: tuple[str, ...] = ("read", "forecast", "compare", "worker")

ERRORS = FrameSpec(
    "errors",
    (
        _GARDEN,
        text("stage", "what could not be done", one_of=STAGES),
        text("kind", "kind of error"),
        text("message", "what is wrong and what to do about it; one line a problem"),
    ),
    key=("garden", "stage"),
)
"""One row a garden and stage that failed; the other gardens are not touched by it."""

TRIAL_VALUES = FrameSpec(
    "trial_values",
    (
        _GARDEN,
        integer("year", "season"),
        _CROP,
        _VARIETY,
        text("measure", "what was measured", one_of=tuple(MEASURES)),
        number("value", "what the garden showed, on the working scale", low=None),
        number("sd", "standard deviation of that value about what it stands for"),
    ),
    key=("garden", "year", "crop", "variety", "measure"),
)
"""One row a garden, season and variety; shares are log odds, all else logarithms."""

_CHANCE = {"high": 1.0, "required": False}

TRIAL = FrameSpec(
    "trial",
    (
        _CROP,
        _VARIETY,
        text("measure", "what was measured", one_of=tuple(MEASURES)),
        text("unit", "unit of the figures"),
        integer("gardens", "gardens that grew it"),
        integer("seasons", "seasons in which it was grown"),
        number("estimate", "in the typical garden and season", low=None, required=False),
        number("q05", "the same, lower end of 90 %", low=None, required=False),
        number("q95", "the same, upper end of 90 %", low=None, required=False),
        number("log_estimate", "estimate on the working scale", low=None, required=False),
        number("log_se", "its standard error on the working scale", required=False),
        number("against_mean", "ratio to the mean of the crop's varieties", required=False),
        number("against_mean_q05", "the same, lower end of 90 %", required=False),
        number("against_mean_q95", "the same, upper end of 90 %", required=False),
        Column("probability_best", "number", "best over gardens and seasons", low=0, **_CHANCE),  # type: ignore[arg-type]
        Column("probability_best_here", "number", "best in one garden more", low=0, **_CHANCE),  # type: ignore[arg-type]
    ),
    key=("crop", "variety", "measure"),
)
"""Varieties compared over many gardens. ``against_mean`` is a ratio, of odds for shares."""

TRIAL_SPREADS = FrameSpec(
    "trial_spreads",
    (
        _CROP,
        text("measure", "what was measured", one_of=tuple(MEASURES)),
        text("between", "what differs"),
        integer("levels", "how many of them"),
        number("sd", "standard deviation on the working scale (REML)"),
        number("q05", "lower end of 90 %", required=False),
        number("q95", "upper end of 90 %", required=False),
    ),
    key=("crop", "measure", "between"),
)
"""How far gardens, seasons and their combinations with varieties differ."""
