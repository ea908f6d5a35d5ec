"""Degree-days: the heat a crop could use on a day, from the day's lowest and highest temperature.

Every curve method rests on two quantities of the assumed course of temperature over the day:
``E(c)``, the mean excess above a temperature ``c``, and ``F(c)``, the share of the day above it.
All functions are vectorised and free of pandas, except :func:`accumulate`.

References
----------
.. [1] Baskerville G.L., Emin P. (1969) Rapid estimation of heat accumulation from maximum and
   minimum temperatures. Ecology 50:514-517, doi:10.2307/1933912 (sine).
.. [2] Sevacherian V., Stern V.M., Mueller A.J. (1977) Heat accumulation for timing Lygus control
   measures in a safflower-cotton complex. J. Econ. Entomol. 70:399-402 (triangle).
.. [3] Roltsch W.J., Zalom F.G., Strawn A.J., Strand J.F., Pitcairn M.J. (1999) Evaluation of
   several degree-day estimation methods in California climates. Int. J. Biometeorol. 42:169-176
   (comparison; cutoffs).
.. [4] McMaster G.S., Wilhelm W.W. (1997) Growing degree-days: one equation, two interpretations.
   Agric. For. Meteorol. 87:291-300, doi:10.1016/S0168-1923(97)00027-0 (the two averages).
.. [5] Perry K.B., Wehner T.C. (1996) A heat unit accumulation method for predicting cucumber
   harvest date. HortTechnology 6(1):27-30 (reduced ceiling on the day's maximum).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from harvestcast.arrays import Array

METHODS: tuple[str, ...] = (
    "average",
    "clipped_average",
    "reduced_maximum",
    "sine",
    "triangle",
    "double_sine",
    "double_triangle",
)
"""Ways to turn two temperatures a day into degree-days."""

CUTOFFS: tuple[str, ...] = (
    "none",
    "horizontal",
    "intermediate",
    "intermediate_floored",
    "vertical",
)
"""What heat above the upper threshold does."""


def degree_days(
    tmin_c: ArrayLike,
    tmax_c: ArrayLike,
    *,
    base_c: float,
    upper_c: float | None = None,
    method: str = "sine",
    cutoff: str = "horizontal",
    next_tmin_c: ArrayLike | None = None,
) -> Array:
    """Return the degree-days of each day.

    Parameters
    ----------
    tmin_c, tmax_c : array_like
        Lowest and highest temperature of each day, of shapes that broadcast together; days run
        along the last axis. [degC] Any other unit works if all temperatures are in it.
    base_c : float
        Lower threshold: no growth below it. [degC]
    upper_c : float, optional
        Upper threshold; without one no cutoff applies. [degC]
    method : str
        One of :data:`METHODS`. ``average`` floors the daily mean at the base (method 1 of [4]_),
        ``clipped_average`` clips both temperatures into the thresholds first (method 2 of [4]_,
        the 86/50 degF rule of maize), ``reduced_maximum`` uses the maximum alone, taken down by as
        much as it exceeds the ceiling [5]_, ``sine`` [1]_ and ``triangle`` [2]_ follow a course of
        temperature from the day's minimum to its maximum, and their double forms give each half of
        the day its own minimum.
    cutoff : str
        One of :data:`CUTOFFS`; see Notes. The averages and ``reduced_maximum`` have a ceiling of
        their own kind and know only ``none`` and ``horizontal``.
    next_tmin_c : array_like, optional
        Minimum of the following day, for the double methods. Left out: read from ``tmin_c`` along
        the last axis, the last day taking its own. [degC]

    Returns
    -------
    numpy.ndarray
        Degree-days, NaN where a temperature is unknown. [degC d] Never negative, except under
        the cutoff ``intermediate``.

    Raises
    ------
    ValueError
        For an unknown method or cutoff, thresholds out of order, or a minimum above its maximum.

    Notes
    -----
    With the thresholds ``L`` and ``U`` the cutoffs are ``E(L)`` (none), ``E(L) - E(U)``
    (horizontal: growth stays at its rate above U), ``E(L) - 2 E(U)`` (intermediate: the rate falls
    as fast above U as it rose below, and is let go below zero; ``intermediate_floored`` holds it at
    zero from ``2 U - L`` on) and ``E(L) - E(U) - (U - L) F(U)`` (vertical: growth stops above U).
    Authors differ on whether "intermediate" is floored; both are offered.

    References
    ----------
    Numbers refer to the list at the head of this module.

    Examples
    --------
    >>> degree_days([8.0, 18.0], [24.0, 36.0], base_c=10, upper_c=30).round(3).tolist()
    [6.304, 15.475]
    >>> degree_days(15, 25, base_c=10, method="average").item()
    10.0
    """
    low, high = np.broadcast_arrays(np.asarray(tmin_c, float), np.asarray(tmax_c, float))
    _check(low, high, base_c, upper_c, method, cutoff)
    top = None if cutoff == "none" else upper_c
    if method in _PLAIN:
        return _PLAIN[method](low, high, base_c, top)
    curve = _sine if method.endswith("sine") else _triangle
    heat = _cut(curve, low, high, base_c, top, cutoff)
    if method.startswith("double"):
        following = _next_minimum(low, next_tmin_c)
        # A cold front can leave the next night warmer than today's maximum was: the second half of
        # the day then climbs, and its mean excess is that of the same course read backwards.
        second = _cut(
            curve, np.minimum(following, high), np.maximum(following, high), base_c, top, cutoff
        )
        heat = 0.5 * (heat + second)
    return heat


def accumulate(
    weather: pd.DataFrame,
    start: object,
    *,
    base_c: float,
    upper_c: float | None = None,
    method: str = "sine",
    cutoff: str = "horizontal",
) -> pd.Series:
    """Add up degree-days from a day on.

    Parameters
    ----------
    weather : pandas.DataFrame
        Columns ``date``, ``tmin_c``, ``tmax_c``, one row a day, in any order.
    start : date-like
        First day that counts, its own heat included.
    base_c, upper_c, method, cutoff
        As in :func:`degree_days`.

    Returns
    -------
    pandas.Series
        Heat from ``start`` to the end of each day, indexed by every day from ``start`` to the last
        one of ``weather``; NaN from the first unknown day on. [degC d]

    Raises
    ------
    ValueError
        Where ``weather`` ends before ``start`` or has two rows for one day.

    Examples
    --------
    >>> days = pd.date_range("2026-06-01", periods=3)
    >>> weather = pd.DataFrame({"date": days, "tmin_c": 12.0, "tmax_c": 22.0})
    >>> accumulate(weather, "2026-06-02", base_c=10).tolist()
    [7.0, 14.0]
    """
    first = pd.Timestamp(start).normalize()  # type: ignore[arg-type]
    days = weather.set_index("date")[["tmin_c", "tmax_c"]].sort_index()
    if days.index.has_duplicates:
        twice = days.index[days.index.duplicated()][0]
        raise ValueError(f"weather has more than one row for {twice:%Y-%m-%d}")
    if days.empty or days.index[-1] < first:
        raise ValueError(f"weather ends before {first:%Y-%m-%d}")
    every_day = pd.date_range(first, days.index[-1], name="date")
    days = days.reindex(every_day)
    heat = degree_days(
        days["tmin_c"],
        days["tmax_c"],
        base_c=base_c,
        upper_c=upper_c,
        method=method,
        cutoff=cutoff,
    )
    return pd.Series(np.cumsum(heat), index=every_day, name="degree_days")


def _check(
    low: Array, high: Array, base: float, upper: float | None, method: str, cutoff: str
) -> None:
    if method not in METHODS:
        raise ValueError(f"unknown degree-day method {method!r}; choose from {', '.join(METHODS)}")
    if cutoff not in CUTOFFS:
        raise ValueError(f"unknown cutoff {cutoff!r}; choose from {', '.join(CUTOFFS)}")
    if method in _PLAIN and cutoff not in ("none", "horizontal"):
        raise ValueError(f"method {method!r} has no {cutoff} cutoff; use none or horizontal")
    if not np.isfinite(base) or (upper is not None and not upper > base):
        raise ValueError(f"upper threshold {upper} must lie above the base {base}")
    if np.any(low > high):
        where = np.argwhere(low > high)[0].tolist()
        raise ValueError(f"minimum above maximum at position {where}")


def _average(low: Array, high: Array, base: float, upper: float | None) -> Array:
    mean = 0.5 * (low + high)
    if upper is not None:
        mean = np.minimum(mean, upper)
    return np.maximum(mean - base, 0.0)


def _clipped_average(low: Array, high: Array, base: float, upper: float | None) -> Array:
    return 0.5 * (np.clip(low, base, upper) + np.clip(high, base, upper)) - base


def _reduced_maximum(low: Array, high: Array, base: float, upper: float | None) -> Array:
    # The abstract of [5] does not say what happens when the reduced maximum falls below the base;
    # no heat is our choice. ``low`` only serves to keep an unknown day unknown.
    reduced = high if upper is None else np.where(high > upper, 2 * upper - high, high)
    return np.maximum(reduced - base, 0.0) + 0.0 * low


_PLAIN: dict[str, Callable[[Array, Array, float, float | None], Array]] = {
    "average": _average,
    "clipped_average": _clipped_average,
    "reduced_maximum": _reduced_maximum,
}


def _sine(low: Array, high: Array, threshold: float) -> tuple[Array, Array]:
    """Return mean excess above a threshold and share of the day above it, for a sine."""
    mean, swing = 0.5 * (high + low), 0.5 * (high - low)
    with np.errstate(divide="ignore", invalid="ignore"):
        angle = np.arcsin(np.clip((threshold - mean) / swing, -1.0, 1.0))
    crossed = ((mean - threshold) * (np.pi / 2 - angle) + swing * np.cos(angle)) / np.pi
    return _three_cases(low, high, threshold, crossed, 0.5 - angle / np.pi)


def _triangle(low: Array, high: Array, threshold: float) -> tuple[Array, Array]:
    """Return mean excess above a threshold and share of the day above it, for straight lines."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = (high - threshold) / (high - low)
        crossed = 0.5 * share * (high - threshold)
    return _three_cases(low, high, threshold, crossed, share)


def _three_cases(
    low: Array, high: Array, threshold: float, crossed: Array, share: Array
) -> tuple[Array, Array]:
    above, below = threshold <= low, threshold >= high
    # A flat day exactly at the threshold counts as above in both quantities; its excess is zero.
    excess = np.where(above, 0.5 * (low + high) - threshold, np.where(below, 0.0, crossed))
    part = np.where(above, 1.0, np.where(below, 0.0, share))
    unknown = np.isnan(low) | np.isnan(high)
    return np.where(unknown, np.nan, excess), np.where(unknown, np.nan, part)


def _cut(
    curve: Callable[[Array, Array, float], tuple[Array, Array]],
    low: Array,
    high: Array,
    base: float,
    upper: float | None,
    cutoff: str,
) -> Array:
    heat = curve(low, high, base)[0]
    if upper is None:
        return heat
    excess, share = curve(low, high, upper)
    if cutoff == "horizontal":
        heat = heat - excess
    elif cutoff == "vertical":
        heat = heat - excess - (upper - base) * share
    else:
        heat = heat - 2 * excess
        if cutoff == "intermediate_floored":
            return np.maximum(heat + curve(low, high, 2 * upper - base)[0], 0.0)
        return heat
    # Rounding may leave -1e-16 where the terms cancel.
    return np.maximum(heat, 0.0)


def _next_minimum(low: Array, given: ArrayLike | None) -> Array:
    if given is not None:
        return np.broadcast_to(np.asarray(given, float), low.shape)
    if low.ndim == 0:
        return low
    return np.concatenate([low[..., 1:], low[..., -1:]], axis=-1)
