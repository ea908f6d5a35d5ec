"""The harvest forecast: draws of the coming weeks' picks, per variety and per crop."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from harvestcast.frames import CHECKS, LEFT_OUT, QUANTILES, check_frame
from harvestcast.growth.ahead import futures
from harvestcast.growth.fit import Fit, fit_garden
from harvestcast.growth.fitted import fitted_frame, ready_quantiles
from harvestcast.growth.pace import blend
from harvestcast.growth.series import day_of
from harvestcast.growth.weather_ahead import weather_futures

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

Array = NDArray[np.float64]
By = Literal["crop", "variety"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outlook:
    """The forecast of a garden; one draw is one possible future of all crops together.

    Parameters
    ----------
    as_of : Timestamp
        Last day known; week 1 is the seven days after it.
    weeks, seed : int
        As asked for.
    dates : DatetimeIndex (days,)
        Days forecast.
    keys : tuple of (crop, variety)
    mass_kg, count : ndarray (draws, days, varieties)
        Picks as the household will make them; ``count`` is NaN where a crop has no fruit weight.
    """

    as_of: pd.Timestamp
    weeks: int
    seed: int
    dates: pd.DatetimeIndex
    keys: tuple[tuple[str, str], ...]
    mass_kg: Array
    counts: Array
    _fit: Fit
    _ready: Array

    @property
    def draws(self) -> pd.DataFrame:
        """Every draw, day and variety (:data:`harvestcast.frames.DRAWS`)."""
        draws, days, n = self.mass_kg.shape
        frame = pd.DataFrame(
            {
                "draw": np.repeat(np.arange(draws), days * n),
                "date": np.tile(np.repeat(self.dates.to_numpy(), n), draws),
                "crop": np.tile([k[0] for k in self.keys], draws * days),
                "variety": np.tile([k[1] for k in self.keys], draws * days),
                "mass_kg": self.mass_kg.ravel(),
                "count": self.counts.ravel(),
            }
        )
        return frame.astype({"crop": "string", "variety": "string"})

    @property
    def checks(self) -> pd.DataFrame:
        """Model checks, passed or failed (:data:`harvestcast.frames.CHECKS`)."""
        return check_frame(_checks(self._fit), CHECKS)

    @property
    def left_out(self) -> pd.DataFrame:
        """Plantings without a forecast and why (:data:`harvestcast.frames.LEFT_OUT`)."""
        return check_frame(self._fit.season.left_out, LEFT_OUT)

    @property
    def fitted(self) -> pd.DataFrame:
        """The season so far and ahead, fitted (:data:`harvestcast.frames.FITTED`)."""
        return fitted_frame(self._fit, self._ready)

    def weekly(self, by: By = "crop") -> pd.DataFrame:
        """Return mean and quantiles of weekly totals, summed per draw first.

        Parameters
        ----------
        by : {"crop", "variety"}

        Returns
        -------
        DataFrame
            ``crop[, variety], week, start, end, mean_kg, q05_kg ... q95_kg`` and the same for
            counts.
        """
        groups, mass, count = self._grouped(by)
        weeks = np.arange(self.weeks)
        masses = np.stack([mass[:, 7 * w : 7 * w + 7].sum(axis=1) for w in weeks], axis=1)
        counts = np.stack([count[:, 7 * w : 7 * w + 7].sum(axis=1) for w in weeks], axis=1)
        head = _head(groups, len(weeks), by)
        head["week"] = np.tile(weeks + 1, len(groups))
        head["start"] = np.tile(self.dates[7 * weeks].to_numpy(), len(groups))
        head["end"] = np.tile(self.dates[7 * weeks + 6].to_numpy(), len(groups))
        return _summary(head, masses, counts)

    def daily(self, by: By = "crop") -> pd.DataFrame:
        """Return mean and quantiles of each day's picks, like :meth:`weekly` with ``date``."""
        groups, mass, count = self._grouped(by)
        head = _head(groups, len(self.dates), by)
        head["date"] = np.tile(self.dates.to_numpy(), len(groups))
        return _summary(head, mass, count)

    def _grouped(self, by: By) -> tuple[list[tuple[str, ...]], Array, Array]:
        if by == "variety":
            return [tuple(k) for k in self.keys], self.mass_kg, self.counts
        if by != "crop":
            raise ValueError(f"by must be 'crop' or 'variety', not {by!r}")
        crops = sorted({k[0] for k in self.keys})
        member = np.array([[k[0] == crop for crop in crops] for k in self.keys], dtype=float)
        member = member.reshape(len(self.keys), len(crops))
        return [(crop,) for crop in crops], self.mass_kg @ member, self.counts @ member


def _head(groups: list[tuple[str, ...]], times: int, by: By) -> pd.DataFrame:
    names = ["crop", "variety"][: 1 if by == "crop" else 2]
    rows = [group for group in groups for _ in range(times)]
    return pd.DataFrame(rows, columns=names).astype("string")


def _summary(head: pd.DataFrame, mass: Array, count: Array) -> pd.DataFrame:
    """Append mean and quantiles over draws of arrays (draws, times, groups)."""
    for values, unit in ((mass, "kg"), (count, "count")):
        flat = np.swapaxes(values, 1, 2).reshape(values.shape[0], -1)
        head[f"mean_{unit}"] = flat.mean(axis=0)
        for level, row in zip(QUANTILES, np.quantile(flat, QUANTILES, axis=0), strict=True):
            head[f"q{round(100 * level):02d}_{unit}"] = row
    return head


def forecast(
    garden: Garden,
    as_of: pd.Timestamp | str | None = None,
    weeks: int = 3,
    *,
    draws: int = 400,
    seed: int = 1,
) -> Outlook:
    """Forecast the coming weeks' picks of every variety growing in the garden.

    Parameters
    ----------
    garden : Garden
    as_of : date, optional
        Last day known; the garden's last day if left out. Nothing dated later is read but weather
        forecasts issued by then.
    weeks : int
        Weeks ahead; week 1 is the seven days after ``as_of``.
    draws : int
        Possible futures to draw.
    seed : int
        The same seed gives the same draws.

    Returns
    -------
    Outlook
    """
    last = day_of(garden, as_of)
    days = 7 * weeks
    fit = fit_garden(garden, last, days_ahead=days)
    tmin, tmax = weather_futures(
        garden.weather,
        last,
        days,
        draws=draws,
        seed=seed,
        first_frost=garden.household.first_frost,
        last_frost=garden.household.last_frost,
        last_day=garden.last_day,
    )[:2]
    ahead = futures(fit, tmin, tmax, seed=seed)
    mass, counts = _blended(fit, ahead.mass, seed)
    return Outlook(
        as_of=last,
        weeks=weeks,
        seed=seed,
        dates=pd.date_range(last + pd.Timedelta(days=1), periods=days),
        keys=tuple((s.crop, s.variety) for s in fit.series),
        mass_kg=mass,
        counts=counts,
        _fit=fit,
        _ready=ready_quantiles(ahead.ready),
    )


def _blended(fit: Fit, mass: Array, seed: int) -> tuple[Array, Array]:
    """Draws of mass and count, their level between the curve's and the recent pace."""
    series, unit = fit.series, fit.evidence.unit
    if not series:
        return mass, mass
    number = blend(np.array([s.mass for s in series]), np.rint(mass / unit), unit, seed=seed)
    blended = number * unit
    return blended, np.rint(blended / np.array([s.fruit_kg for s in series]))


def _checks(fit: Fit) -> pd.DataFrame:
    rows = []
    for row, s in enumerate(fit.series):
        best = int(fit.weight[row].argmax())
        left = float(fit.posteriors[best].distance[row])
        rows.append(
            {
                "crop": s.crop,
                "variety": s.variety,
                "check": "fit converged",
                "statistic": left,
                "operator": "<",
                "threshold": 0.05,
                "passed": left < 0.05,
                "comment": "distance from the mode by the next step, in posterior spreads",
            }
        )
    return pd.DataFrame(rows, columns=CHECKS.names)
