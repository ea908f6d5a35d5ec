"""The harvest forecast: draws of the coming weeks' picks, per variety and per crop."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import pandas as pd
from threadpoolctl import threadpool_limits

from harvestcast.arrays import Array, Flags, Single
from harvestcast.frames import CHECKS, LEFT_OUT, QUANTILES, STANDING, check_frame
from harvestcast.growth.future.draws import LEAST_EFFECTIVE
from harvestcast.growth.future.fitted import fitted_frame, ready_quantiles
from harvestcast.growth.future.net import (
    NO_NET,
    Net,
    Rehearsed,
    first_weeks,
    lean,
    learn_net,
    pace_quantiles,
    weekly_pace,
)
from harvestcast.growth.future.pace import blend, last_weeks_again
from harvestcast.growth.future.ripening import WARNING_DAYS, Futures, futures
from harvestcast.growth.future.weather import weather_futures
from harvestcast.growth.future.whole import standing_frame
from harvestcast.growth.log.picked import picked_days, picked_weeks
from harvestcast.growth.log.series import day_of
from harvestcast.growth.messages import MESSAGES
from harvestcast.growth.model.fit import Fit, fit_earlier, fit_garden
from harvestcast.records.garden import Garden
from harvestcast.records.typed.crops import canonical_crop
from harvestcast.results import Result, must_be
from harvestcast.units import KG_PER_LB
from harvestcast.words.messages import say

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from harvestcast.words.amounts import Units

By = Literal["crop", "variety"]

REHEARSAL_DRAWS = 200
"""Draws of a past forecast that is only asked how it fared."""
PICKED_LATELY = 21
"""Days within which a variety must have been picked for its week to count in what is learned; the
empty weeks of crops that are over say nothing of how a forecast fares. [d]"""
STATES, MOST_ALIKE = 4096, 4
"""Draws beyond which each state of the garden serves for several, up to so many: what is picked is
uncertain enough to be drawn again from the same state, which costs less than another state."""
FARTHEST = 0.05
"""Posterior spreads from the mode, by the last Newton step, from which on a fit is not believed."""
MOST_LEANING = 0.5
"""Weight of the recent pace from which on the curve is not what is forecast (our judgement)."""
MOST_FILLED = 10
"""Days of a season without weather up to which heat sums are hardly off (our judgement)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False, repr=False)
class Outlook(Result):
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
    mass_kg : ndarray (draws, days, varieties)
        Picks as the household will make them.
    """

    as_of: pd.Timestamp
    weeks: int
    seed: int
    dates: pd.DatetimeIndex
    keys: tuple[tuple[str, str], ...]
    mass_kg: Array
    _fit: Fit
    _ready: Single
    _effective: Array
    _net: Net

    def first(self, draws: int) -> Outlook:
        """Return the outlook of the first draws alone, which are spread as evenly as all are."""
        return replace(self, mass_kg=self.mass_kg[:draws])

    made_by = "harvestcast.forecast(garden)"
    known_by = "first"

    def _brief(self) -> str:
        crops = len({crop for crop, _ in self.keys})
        return (
            f"known up to {self.as_of.date()}, {self.weeks} weeks, {crops} crops, "
            f"{len(self.keys)} varieties, {len(self.mass_kg)} draws"
        )

    def _table(self) -> pd.DataFrame:
        weekly = self.weekly()
        first = weekly[weekly["week"] == 1].sort_values("q50_kg", ascending=False)
        return first[["crop", "start", "end", "q10_kg", "q50_kg", "q90_kg", "q50_count"]]

    def plot(
        self, crop: str | None = None, *, units: Units = "metric", ax: Axes | None = None
    ) -> Axes:
        """Draw the last weeks' picks of a crop as bars and the coming weeks as bands.

        Parameters
        ----------
        crop : str, optional
            Crop; left out: the one of which most is coming.
        units : {"us", "metric"}
            Units of the axis.
        ax : matplotlib.axes.Axes, optional
            Where to draw; left out: axes of their own.

        Returns
        -------
        matplotlib.axes.Axes

        Raises
        ------
        ValueError
            Where the crop has no forecast.
        """
        from harvestcast import figures

        weekly = self.weekly()
        if crop is None and len(weekly):
            crop = str(weekly["crop"].iloc[int(weekly["mean_kg"].to_numpy().argmax())])
        crop = canonical_crop(crop or "") or crop
        own = weekly[weekly["crop"] == crop]
        if not len(own):
            known = ", ".join(dict.fromkeys(weekly["crop"])) or "none"
            raise ValueError(f"{crop!r} has no forecast here; crops that have one: {known}")
        past = picked_weeks(picked_days(self._fit.season), str(crop), self.as_of)
        drawn = figures.weekly_bands(own, past, units=units, title=str(crop).capitalize(), ax=ax)
        return figures.in_session(drawn, ax)

    @property
    def counts(self) -> Array:
        """Picks in whole fruits or pieces (draws, days, varieties)."""
        return np.rint(self._pieces)

    @property
    def _pieces(self) -> Array:
        """Picks in fruits or pieces of the mean weight, not rounded (draws, days, varieties)."""
        return self.mass_kg / np.array([s.fruit_kg for s in self._fit.series])

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
        return check_frame(_checks(self._fit, self._effective, self._net), CHECKS)

    @property
    def leaning(self) -> Net:
        """How far it leans on the recent pace, and what past weeks said of the curve.

        Its fields are the facts of the message ``forecast.leans``
        (:data:`harvestcast.growth.messages.MESSAGES`).
        """
        return self._net

    @property
    def standing(self) -> pd.DataFrame:
        """What stands of crops that are brought in at once (:data:`harvestcast.frames.STANDING`).

        On which day roots and bulbs are dug is the household's choice, so that a week's range says
        little of them; here is what it will find.
        """
        table = standing_frame(self._fit, len(self.dates), seed=self.seed)
        groups, mass, _ = self._grouped("crop")
        taken = dict(zip(groups, (mass[:, :7].sum(axis=1) > 0).mean(axis=0), strict=True))
        taken_of = [float(taken[(crop,)]) for crop in table["crop"]]
        return check_frame(table.assign(p_taken=taken_of), STANDING)

    @property
    def left_out(self) -> pd.DataFrame:
        """Plantings without a forecast and why (:data:`harvestcast.frames.LEFT_OUT`)."""
        return check_frame(self._fit.season.left_out, LEFT_OUT)

    @property
    def fitted(self) -> pd.DataFrame:
        """The season so far and ahead, fitted (:data:`harvestcast.frames.FITTED`).

        NaN where the fit of a variety is not believed; its picks are forecast all the same.
        """
        believed = np.array([_converged(self._fit, row) for row in range(len(self.keys))])
        return fitted_frame(self._fit, ready_quantiles(self._ready), believed, seed=self.seed)

    def weekly(self, by: By = "crop", *, units: Units = "metric") -> pd.DataFrame:
        """Return mean and quantiles of weekly totals, summed per draw first.

        Parameters
        ----------
        by : {"crop", "variety"}
            What a row is about.
        units : {"metric", "us"}
            Unit of the masses: kg, or lb in columns named so.

        Returns
        -------
        DataFrame
            ``crop[, variety], week, start, end, mean_kg, q05_kg ... q95_kg`` (``_lb`` in US
            units) and the same for counts, in fruits of the mean weight and so not rounded.
        """
        groups, mass, count = self._grouped(by)
        weeks = np.arange(self.weeks)
        masses = np.stack([mass[:, 7 * w : 7 * w + 7].sum(axis=1) for w in weeks], axis=1)
        counts = np.stack([count[:, 7 * w : 7 * w + 7].sum(axis=1) for w in weeks], axis=1)
        head = _head(groups, len(weeks), by)
        head["week"] = np.tile(weeks + 1, len(groups))
        head["start"] = np.tile(self.dates[7 * weeks].to_numpy(), len(groups))
        head["end"] = np.tile(self.dates[7 * weeks + 6].to_numpy(), len(groups))
        return _in_units(_summary(head, masses, counts), units)

    def daily(self, by: By = "crop", *, units: Units = "metric") -> pd.DataFrame:
        """Return mean and quantiles of each day's picks, like :meth:`weekly` with ``date``."""
        groups, mass, count = self._grouped(by)
        head = _head(groups, len(self.dates), by)
        head["date"] = np.tile(self.dates.to_numpy(), len(groups))
        return _in_units(_summary(head, mass, count), units)

    def _grouped(self, by: By) -> tuple[list[tuple[str, ...]], Array, Array]:
        if by == "variety":
            return [tuple(k) for k in self.keys], self.mass_kg, self._pieces
        if by != "crop":
            raise ValueError(f"by must be 'crop' or 'variety', not {by!r}")
        crops = sorted({k[0] for k in self.keys})
        member = np.array([[k[0] == crop for crop in crops] for k in self.keys], dtype=float)
        member = member.reshape(len(self.keys), len(crops))
        return [(crop,) for crop in crops], self.mass_kg @ member, self._pieces @ member


def _in_units(table: pd.DataFrame, units: Units) -> pd.DataFrame:
    """Return a table with its masses in kg or in lb, in columns named by their unit."""
    if units not in ("metric", "us"):
        raise ValueError(f"units must be 'metric' or 'us', not {units!r}")
    if units == "metric":
        return table
    pounds = {name: table[name] / KG_PER_LB for name in table.columns if name.endswith("_kg")}
    named = {name: f"{name.removesuffix('_kg')}_lb" for name in pounds}
    return table.assign(**pounds).rename(columns=named)


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
    draws: int = 16384,
    seed: int = 1,
    rehearsals: int = 4,
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
        The same seed gives the same draws; with as many draws as by default another one moves the
        median week of a crop by about 1 %.
    rehearsals : int
        Past weeks, 0 to 12, for which the forecast is made again as if it were then: how it fared
        says how far to lean on the recent pace instead (:mod:`harvestcast.growth.future.net`).

    Returns
    -------
    Outlook

    Raises
    ------
    ValueError
        Where ``rehearsals`` is out of range.
    """
    must_be(garden, Garden, "forecast")
    if not 0 <= rehearsals <= 12:
        raise ValueError(f"rehearsals must be from 0 to 12, not {rehearsals}")
    last = day_of(garden, as_of)
    # Matrices are small: a second thread of the linear algebra would only spin between them.
    with threadpool_limits(1, user_api="blas"):
        fit, ahead = _draw(garden, last, weeks, draws, seed)
        number = _blended(fit, ahead.number, seed)
        net = NO_NET
        if fit.series:
            net = _rehearsed(garden, fit, rehearsals, seed)
            number = lean(number, net, *_pace_ahead(fit, draws))
    mass = number * fit.evidence.unit
    return Outlook(
        as_of=last,
        weeks=weeks,
        seed=seed,
        dates=pd.date_range(last + pd.Timedelta(days=1), periods=7 * weeks),
        keys=tuple((s.crop, s.variety) for s in fit.series),
        mass_kg=mass,
        _fit=fit,
        _ready=ahead.ready,
        _effective=ahead.effective,
        _net=net,
    )


def _draw(
    garden: Garden, last: pd.Timestamp, weeks: int, draws: int, seed: int
) -> tuple[Fit, Futures]:
    """Fit a garden and draw its futures, by the curve alone."""
    days = 7 * weeks
    fit = fit_garden(garden, last, days_ahead=days)
    alike = min(max(draws // STATES, 1), MOST_ALIKE)
    weather = _weather(garden, last, days + WARNING_DAYS, -(-draws // alike), seed)
    ahead = futures(fit, *weather, seed=seed, alike=alike, beyond=WARNING_DAYS)
    return fit, replace(ahead, number=ahead.number[:draws])


def _weather(
    garden: Garden, last: pd.Timestamp, days: int, draws: int, seed: int
) -> tuple[Array, Array]:
    """Return possible daily minima and maxima after a day (draws, days)."""
    ahead = weather_futures(
        garden.weather,
        last,
        days,
        draws=draws,
        seed=seed,
        first_frost=garden.household.first_frost,
        last_frost=garden.household.last_frost,
        latitude=garden.household.latitude,
        elevation_m=garden.household.elevation_m,
        last_day=garden.last_day,
        southern=garden.seasons.southern,
    )
    return ahead.tmin_c, ahead.tmax_c


def _blended(fit: Fit, number: Single, seed: int) -> Single:
    """Pieces picked in each draw, their level between the curve's and the recent pace.

    Where a fit failed, the last weeks stand in.
    """
    if not fit.series:
        return number
    failed = [not _converged(fit, row) for row in range(len(fit.series))]
    # What is over has no pace, and a curve that is not believed is no part of its crop's level.
    out_of_it = [s.over or bad for s, bad in zip(fit.series, failed, strict=True)]
    out = blend(
        np.where(np.array(out_of_it)[:, None], np.nan, [s.mass for s in fit.series]),
        number,
        fit.evidence.unit,
        crop=fit.season.crop,
        from_stand=np.array([s.from_stand for s in fit.series]),
    )
    draws, days, _ = out.shape
    for row, s in enumerate(fit.series):
        if failed[row] and not s.over:
            unit = float(fit.evidence.unit[row])
            again = last_weeks_again(s.mass, unit, draws=draws, days=days, seed=seed + row)
            out[:, :, row] = out[:, :, row] if again is None else again
    return out


def _converged(fit: Fit, row: int) -> bool:
    """Whether the fit of a series came near enough to its mode."""
    return _distance(fit, row) < FARTHEST


def _distance(fit: Fit, row: int) -> float:
    return float(fit.posteriors[int(fit.weight[row].argmax())].distance[row])


def _rehearsed(garden: Garden, fit: Fit, rehearsals: int, seed: int) -> Net:
    """Return what the weeks before say of the curve and of the recent pace.

    Each is forecast again as if it were then, by a light fit and the weather as it was known.
    """
    nothing_ripe = garden.household.day_without_row == "nothing_ripe"
    picked = np.array([s.mass for s in fit.series]).reshape(len(fit.series), -1)
    pace = weekly_pace(picked)
    levels = (np.arange(REHEARSAL_DRAWS) + 0.5) / REHEARSAL_DRAWS
    cases: list[Rehearsed] = []
    for ago in range(1, rehearsals + 1):
        week = pace.level.shape[1] - 1 - ago
        if week < 0:
            break
        known = picked[:, : picked.shape[1] - 7 * ago]
        rows = np.flatnonzero(_leans(fit, known) & np.isfinite(pace.level[:, week]))
        if not len(rows):
            break
        then = fit_earlier(fit, 7 * ago, nothing_ripe=nothing_ripe)
        # A crop's varieties share a level, so that all of one that leans are drawn.
        only = np.flatnonzero(np.isin(then.season.crop, then.season.crop[rows]))
        weather = _weather(garden, then.as_of, 7, REHEARSAL_DRAWS, seed)
        ahead = futures(then, *weather, seed=seed, only=only)
        curve = _blended(then, ahead.number, seed).sum(axis=1) * then.evidence.unit
        by_pace = pace_quantiles(pace, week, levels)
        coming = np.nansum(picked[:, known.shape[1] : known.shape[1] + 7], axis=1)
        cases.extend(
            Rehearsed(ago, coming[row], np.sort(curve[:, row]), by_pace[row], pace.mean[row, week])
            for row in rows
        )
    return learn_net(cases)


def _leans(fit: Fit, picked: Array) -> Flags:
    """Whether each series may lean on its pace, by its daily picks so far."""
    lately = np.nan_to_num(picked[:, -PICKED_LATELY:]).sum(axis=1) > 0
    once = np.array([s.facts.habit == "once_over" for s in fit.series], dtype=bool)
    return np.asarray(lately & ~once)


def _pace_ahead(fit: Fit, draws: int) -> tuple[Array, Flags, Array]:
    """Return pieces a week by the recent pace (series, draws), who may lean on it, and who must."""
    n = len(fit.series)
    picked = np.array([s.mass for s in fit.series]).reshape(n, -1)
    pace = weekly_pace(picked)
    levels = (np.arange(draws) + 0.5) / draws
    week = pace.level.shape[1] - 1
    if week < 0:
        return np.full((n, draws), np.nan), np.zeros(n, dtype=bool), np.zeros(n)
    over = np.array([s.over for s in fit.series], dtype=bool)
    # A flush has no pace, and crops from a stand have one of their own
    # (:mod:`harvestcast.growth.future.pace`).
    new = [
        s.facts.habit == "indeterminate" and _seen_from_its_start(fit, row)
        for row, s in enumerate(fit.series)
    ]
    least = np.where(new, first_weeks(pace), 0.0)
    quantiles = pace_quantiles(pace, week, levels) / fit.evidence.unit[:, None]
    return quantiles, _leans(fit, picked) & ~over, least


def _seen_from_its_start(fit: Fit, row: int) -> bool:
    """Whether a series was picked first before it could be expected at half its height.

    Where somebody begins to write in August, the first pick written down is not the first one.
    """
    s = fit.series[row]
    first = int((np.nan_to_num(s.mass) > 0).argmax())
    standing = s.share[:, first] > 0
    heat = s.heat[standing, first] if standing.any() else s.heat[:, first]
    return bool(heat.max() < np.exp(fit.expected[row, 1]))


def _stands_in(fit: Fit, row: int) -> str:
    """Return what a series' draws are made of instead, where its fit is not believed."""
    if _converged(fit, row):
        return ""
    again = last_weeks_again(fit.series[row].mass, 1.0, draws=1, days=1, seed=1)
    return "almanac" if again is None else "last_weeks"


def _checks(fit: Fit, effective: Array, net: Net) -> pd.DataFrame:
    rows: list[tuple[object, ...]] = []

    def add(
        code: str, found: float, operator: str, threshold: float, passed: bool,
        crop: str = "all", variety: str = "all", **facts: object,
    ) -> None:  # fmt: skip
        said = MESSAGES[code]
        check, comment = say(said.text, facts), say(said.cure, facts)
        rows.append((crop, variety, code, check, found, operator, threshold, passed, comment))

    for row, s in enumerate(fit.series):
        own = {"crop": s.crop, "variety": s.variety}
        add(
            "fit.converged", _distance(fit, row), "<", FARTHEST, _converged(fit, row),
            **own, stands_in=_stands_in(fit, row),
        )  # fmt: skip
        if s.doubted:
            add("picks.doubted", float(s.doubted), "==", 0.0, False, **own)
        share = float(effective[row])
        add("draws.effective", share, ">", LEAST_EFFECTIVE, share > LEAST_EFFECTIVE, **own)
    filled = fit.season.weather_filled
    if filled:
        add("weather.filled", float(filled), "<=", float(MOST_FILLED), filled <= MOST_FILLED)
    if net.cases:
        add(
            "forecast.leans", net.weight, "<", MOST_LEANING, net.weight < MOST_LEANING,
            **net._asdict(),
        )  # fmt: skip
    return pd.DataFrame(rows, columns=CHECKS.names)
