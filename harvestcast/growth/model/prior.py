"""What is expected of a variety before its own picks say anything.

In a first season that is the crop almanac: heat to the first pick, length of picking, yield per
plant. The spread is wide on purpose: published yields per plant of one crop differ several-fold
between gardens.
"""

from __future__ import annotations

import numpy as np

from harvestcast.arrays import Array
from harvestcast.growth.log.series import FLOOR, Series
from harvestcast.growth.model.curve import PARAMETERS

# Spread of the log level beyond the almanac's own range: soil, water, spacing, pests, gardener.
PLACE_LOG_SD = 0.6
# Plants unknown: a handful, within a factor of about five either way.
PLANTS_UNKNOWN, PLANTS_UNKNOWN_LOG_SD = 6.0, 1.0
# Numbers written for sown crops are often seeds: fewer stand after thinning (our judgement).
SOWN_LOG_SHIFT, SOWN_LOG_SD = -0.5, 0.7
# The span between the half-heights is a little shorter than first pick to last pick.
SPAN_OF_PICKING = 1.0
# Rise and fall as shares of the span, and how sure that is.
RISE, FALL, EDGE_LOG_SD = 0.12, 0.20, 0.5
# Half the full height comes so many rises after the first pick.
RISES_TO_HALF = 1.2
SPAN_LOG_SD = 0.45
# Weeks of picking of crops that bear until frost are cut short by it where most were counted, so
# the heat they could bear through is more by so much (our judgement).
BEARS_ON = 1.3
# Student's degrees of freedom of the first pick and the level: what the log shows far from the
# almanac's figure widens it instead of being taken for chance.
TAIL = 3.0
# Days of picking that say what the level is, before the fit does. [d]
PACE_DAYS = 14
UNDATED_LOG_SD = 0.15


def curve_prior(series: Series) -> tuple[Array, Array]:
    """Return prior mean and spread of the curve parameters of one series.

    How much it was picked says nothing here yet (:func:`widened`).

    Parameters
    ----------
    series : Series

    Returns
    -------
    mean, sd : ndarray (5,)
        In the order of :data:`harvestcast.growth.model.curve.PARAMETERS`.
    """
    facts = series.facts
    usual_span = SPAN_OF_PICKING * facts.dd_picking
    span = usual_span * (BEARS_ON if facts.habit in ("indeterminate", "cut_again") else 1.0)
    first = facts.dd_to_first_pick_set_out if series.set_out else facts.dd_to_first_pick
    first_sd = facts.first_pick_log_sd
    if facts.perennial or facts.heat_from_new_year:
        first = facts.dd_to_first_pick
    if not series.dated and not facts.perennial:
        rows = np.flatnonzero(np.nan_to_num(series.mass) > 0)
        if len(rows):  # no planting date: the first pick itself says when it began
            first, first_sd = float(series.heat[0, rows[0]]), UNDATED_LOG_SD
    yield_kg = np.sqrt(np.prod(facts.yield_kg_per_plant))
    plants, level_sd = series.plants, float(np.hypot(facts.yield_log_sd, PLACE_LOG_SD))
    if not np.isfinite(plants):
        plants, level_sd = PLANTS_UNKNOWN, float(np.hypot(level_sd, PLANTS_UNKNOWN_LOG_SD))
    shift = 0.0
    if not series.set_out:
        shift, level_sd = SOWN_LOG_SHIFT, float(np.hypot(level_sd, SOWN_LOG_SD))
    mean = np.array(
        [
            np.log(yield_kg * plants / usual_span) + shift,
            np.log(max(first, 30.0) + RISES_TO_HALF * RISE * usual_span),
            np.log(span),
            np.log(RISE * usual_span / span),
            np.log(FALL * usual_span / span),
        ]
    )
    sd = np.array(
        [
            level_sd,
            first_sd,
            float(np.hypot(facts.picking_log_sd, SPAN_LOG_SD)),
            EDGE_LOG_SD,
            EDGE_LOG_SD,
        ]
    )
    assert len(mean) == len(PARAMETERS)
    return mean, sd


def widened(series: Series, mean: Array, sd: Array) -> Array:
    """Return spreads of a prior with heavy tails, given how far the log lies from its middle.

    A Student's t is a normal whose variance is itself unknown; given a value ``z`` spreads away the
    variance is expected to be ``(tail + z**2) / (tail + 1)`` times the usual one (Lange, Little and
    Taylor 1989, doi:10.2307/2290063, cited from memory). The values are rough: heat at the first
    pick, and what was picked by degree-day since.
    """
    rows = np.flatnonzero(np.nan_to_num(series.mass) > 0)
    if not len(rows):
        return sd
    out = sd.copy()
    begun = series.share[:, rows[0]] > 0
    heat = series.heat[begun] if begun.any() else series.heat
    at = heat[:, rows[0]].max()
    half = np.log(max(at, 30.0) + RISES_TO_HALF * np.exp(mean[2] + mean[3]))
    out[1] *= _tail((half - mean[1]) / sd[1])
    days = len(series.mass) - rows[0]
    if days >= PACE_DAYS:
        warmth = np.maximum(series.daily[rows[0] :], FLOOR).sum()
        level = np.log(np.nansum(series.mass) / warmth)
        out[0] *= _tail((level - mean[0]) / sd[0])
    return out


def _tail(z: float) -> float:
    return float(np.sqrt(max((TAIL + z**2) / (TAIL + 1.0), 1.0)))
