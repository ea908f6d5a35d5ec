"""Temperatures under glass: the days of a house or tunnel, from those of the open beside it.

By day the sun warms what stands under cover, the more the clearer the sky; the gardener opens doors
and lids before it gets too hot. By night a cover holds a little of that warmth, and what is grown
there is kept from frost. How clear a day was shows in its range of temperature: the sun's radiation
goes with the root of it (Hargreaves and Samani 1982, doi:10.1061/JRCEA4.0001390, cited from
memory). How much warmer it gets is our judgement, for houses and tunnels without a heating; what
the garden's own picks say of first pick and level corrects it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from harvestcast.arrays import Array

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

NIGHT_C, LEAST_C = 2.0, 1.0
"""By how much nights are warmer under cover, and the least they fall to. [degC] Our judgement."""
SUN_C = 2.4
"""By how much a day's maximum is higher, for each root of a degree of the day's range outside (8
degrees for a clear day's 11). [degC] Our judgement."""
AIRED_C, LEFT_C = 30.0, 2.0
"""Maximum at which the gardener airs, and what remains above the outside then. [degC] Our
judgement."""


def under_cover(tmin_c: Array, tmax_c: Array) -> tuple[Array, Array]:
    """Return minimum and maximum under cover, given those outside.

    Parameters
    ----------
    tmin_c, tmax_c : ndarray
        Of the days outside, of one shape. [degC]

    Returns
    -------
    tmin_c, tmax_c : ndarray
        [degC]

    Examples
    --------
    A night of frost and a clear day after it; a hot one:

    >>> low, high = under_cover(np.array([-3.0, 16.0]), np.array([8.0, 34.0]))
    >>> low.round(1).tolist(), high.round(1).tolist()
    ([1.0, 18.0], [16.0, 36.0])
    """
    low = np.maximum(tmin_c + NIGHT_C, LEAST_C)
    warmed = tmax_c + SUN_C * np.sqrt(np.maximum(tmax_c - tmin_c, 0.0))
    high = np.maximum(np.minimum(warmed, AIRED_C), tmax_c + LEFT_C)
    return low, np.maximum(high, low)


def at_the_plants(
    garden: Garden, tmin_c: Array, tmax_c: Array, *, covered: bool
) -> tuple[Array, Array]:
    """Return minimum and maximum where the plants stand, given those of the garden's weather.

    Under cover those of :func:`under_cover`, but where the weather is that of the house already.
    """
    if not covered or weather_is_inside(garden):
        return tmin_c, tmax_c
    return under_cover(tmin_c, tmax_c)


def weather_is_inside(garden: Garden) -> bool:
    """Return whether a garden's weather is that of its house: all is covered, and it never froze.

    Where anything stands in the open, or a frost is on record, the weather is that of the open.
    """
    cover = garden.plantings["cover"]
    if not len(cover) or cover.isna().any():
        return False
    observed = garden.weather["kind"] != "forecast"
    return not bool((garden.weather["tmin_c"][observed] <= 0.0).any())
