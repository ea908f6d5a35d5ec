"""Weekly forecasts of general-purpose forecasters beside ours, on any garden folder.

    python -m tests.benchmarks.rivals FOLDER [--year 2026] [--no-ours] [--halves] [--as-known]
    python -m tests.benchmarks.rivals --real            # the real log, where it stands beside us
    python -m tests.benchmarks.rivals --simulated 7     # an invented garden of that seed

Which weeks are forecast is said in :mod:`tests.benchmarks.cases`. The rivals see weekly totals up
to the origin; the boosted trees see degree-days too, and learn from all series together, those of
earlier seasons in the folder included. The
smoothing constants of TSB and simple smoothing are those of a small grid that do best on the very
weeks they are scored on. Each is made probabilistic with its own errors on the OTHER series, at
all origins, before and after, in three ways (:func:`calibrated`), of which the one that scores best
over the whole garden counts. Its point forecast for the absolute error is its own or the median of
its draws, again whichever scores better, score by score. All that is knowledge a gardener would not
have; it is kind to the rivals. With ``--as-known`` their errors are those of the weeks that were
over at the origin (:func:`calibrated_as_known`), as a gardener on that day would know them.

Errors are divided by the mean of the weeks that came, so a series that ended sooner than anybody
could tell weighs more, and forecasts that lie low do better than they ought to; ``mae_so_far``
divides by the mean week known at the origin instead, and ``wape`` pools kilograms.

Ours forecasts from what was known at the origin; its point forecast is the median of its draws.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.growth.crops.almanac import crop_facts, daily_heat
from harvestcast.growth.scores import crps_ensemble
from tests.benchmarks.cases import Cases, joined, summarise, weekly_cases

Point = Callable[[np.ndarray], float]
Forecasts = tuple[np.ndarray, tuple[np.ndarray, ...]]
Forms = Callable[[Cases, np.ndarray], dict[str, np.ndarray]]
SMALLEST = 0.05  # of the mean week so far: ratios to forecasts smaller than that are not formed
FEW_WEEKS = 20


def _last_week(y: np.ndarray) -> float:
    return float(y[-1])


def _three_weeks(y: np.ndarray) -> float:
    """Weights 3, 2, 1 on the last, last but one and last but two weeks."""
    weights = np.array([1.0, 2.0, 3.0])[-len(y[-3:]) :]
    return float(np.average(y[-3:], weights=weights))


def _model(build: Callable[[], Any], least: int) -> Point:
    """Wrap a statsforecast model; with fewer weeks than it can use, simple smoothing stands in."""

    def point(y: np.ndarray) -> float:
        if len(y) < least:
            return _smooth(0.5)(y)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            try:
                value = float(build().forecast(y=y.astype(float), h=1)["mean"][0])
            except (ArithmeticError, LookupError, NotImplementedError, ValueError):
                FAILED[0] += 1
                return _smooth(0.5)(y)
        if not np.isfinite(value):
            FAILED[0] += 1
            return _smooth(0.5)(y)
        return value

    return point


FAILED = [0]


def _smooth(alpha: float) -> Point:
    def point(y: np.ndarray) -> float:
        level = y[0]
        for value in y[1:]:
            level += alpha * (value - level)
        return float(level)

    return point


def rivals() -> dict[str, list[Point]]:
    """Return the rivals; of several constants listed, the best on the weeks scored counts."""
    from statsforecast import models as m

    grid = (0.2, 0.35, 0.5, 0.7)
    return {
        "last week": [_last_week],
        "last three weeks, 3:2:1": [_three_weeks],
        "simple smoothing": [_smooth(a) for a in grid],
        "simple smoothing, fitted": [_model(m.SimpleExponentialSmoothingOptimized, 3)],
        "TSB": [
            _model(lambda a=a, b=b: m.TSB(alpha_d=a, alpha_p=b), 2)
            for a in grid
            for b in (0.1, 0.2, 0.4)
        ],
        "Croston SBA": [_model(m.CrostonSBA, 2)],
        "IMAPA": [_model(m.IMAPA, 3)],
        "ETS": [_model(lambda: m.AutoETS(season_length=1), 4)],
        "ARIMA": [_model(lambda: m.AutoARIMA(season_length=1), 4)],
        "Theta": [_model(lambda: m.AutoTheta(season_length=1), 4)],
    }


_BOOSTED = {"squared_error": 30, "poisson": 30, "absolute_error": 60}  # loss and number of trees


def boosted(cases: Cases, garden: Any, earlier: list[Cases]) -> list[np.ndarray]:
    """Gradient boosting on degree-day features, refitted at each origin on the weeks known then.

    One model for all series, in three forms of which the best counts: squared error and Poisson
    loss on next week's total over the mean week so far, absolute error on it over the weighted last
    three weeks. Small trees and few of them: with a few hundred weeks more do worse.
    """
    from sklearn.ensemble import HistGradientBoostingRegressor

    own, cases = np.arange(len(cases)), joined([cases, *earlier])
    x = _features(cases, garden)
    so_far = np.array([h.mean() for h in cases.history])
    three = np.array([_three_weeks(h) for h in cases.history])
    out = []
    for loss, trees in _BOOSTED.items():
        scale = three + 0.1 * so_far if loss == "absolute_error" else so_far
        target = np.minimum(cases.observed / scale, 10.0)
        point = three.copy()
        for origin in np.unique(cases.origin[own]):
            known = cases.origin + np.timedelta64(7, "D") <= origin
            now = cases.origin == origin
            if known.sum() < 30:
                continue  # too early in the season: the weighted last three weeks stand in
            model = HistGradientBoostingRegressor(
                loss=loss,
                max_iter=trees,
                learning_rate=0.05,
                max_leaf_nodes=4,
                min_samples_leaf=8,
                categorical_features=[0],
                random_state=1,
            )
            model.fit(x[known], target[known])
            point[now] = model.predict(x[now]) * scale[now]
        out.append(np.maximum(point[own], 0.0))
    return out


def _features(cases: Cases, garden: Any) -> np.ndarray:
    weather = garden.weather[garden.weather["kind"] != "forecast"].drop_duplicates("date")
    days = pd.date_range(weather["date"].min(), weather["date"].max())
    table = weather.set_index("date")[["tmin_c", "tmax_c"]].reindex(days).interpolate()
    doy = days.day_of_year.to_numpy()
    rows = []
    crops = {name: code for code, name in enumerate(sorted(set(cases.crop)))}
    heat_of = {}
    for name in crops:
        facts = crop_facts(name, garden.household)
        heat = daily_heat(facts, table["tmin_c"], table["tmax_c"])
        heat_of[name] = np.concatenate([[0.0], np.cumsum(heat)])
    plantings = garden.plantings.dropna(subset=["date"])
    for i in range(len(cases)):
        h, crop = cases.history[i], cases.crop[i]
        origin = pd.Timestamp(cases.origin[i])
        at = (origin - days[0]).days + 1
        total = heat_of[crop]
        own = plantings[(plantings["crop"] == crop) & (plantings["date"] <= origin)]
        if cases.variety[i] != "all":
            own = own[own["variety"] == cases.variety[i]]
        since = np.nan
        if len(own):
            since = total[at] - total[max((own["date"].min() - days[0]).days, 0)]
        # Heat usual in the coming week: the mean of the same days of the years before.
        usual = [
            total[j + 7] - total[j]
            for j in range(at - 365, 7, -365)
            if abs(int(doy[j]) - int(doy[at - 1])) <= 8
        ]
        mean = h.mean() if h.mean() > 0 else 1.0
        rows.append(
            [
                crops[crop],
                since,
                total[at] - total[max(at - 7 * len(h), 0)],
                total[at] - total[at - 7],
                np.mean(usual) if usual else np.nan,
                origin.day_of_year,
                len(h),
                h[-1] / mean,
                h[-2] / mean if len(h) > 1 else np.nan,
                h[-3:].mean() / mean,
                (h[-3:] > 0).mean(),
            ]
        )
    return np.array(rows, dtype=float)


def calibrated(cases: Cases, point: np.ndarray) -> dict[str, np.ndarray]:
    """Return draws (cases, 400) in three forms, all from the other series only.

    ``ratios``: forecast times observed/forecast; ``errors``: forecast plus errors in units of the
    mean week so far; ``neighbours``: the same with the errors of the 100 cases whose forecast is
    most alike in that unit.
    """
    series = cases.series
    so_far = np.array([h.mean() for h in cases.history])
    floored, relative = np.maximum(point, SMALLEST * so_far), point / so_far
    ratio, error = cases.observed / floored, (cases.observed - point) / so_far
    levels = (np.arange(400) + 0.5) / 400
    forms = {name: np.empty((len(cases), 400)) for name in ("ratios", "errors", "neighbours")}
    for number in np.unique(series):
        own, other = np.flatnonzero(series == number), series != number
        if not other.any():  # a series alone learns from its own errors, those to come included
            other = ~other
        forms["ratios"][own] = floored[own, None] * np.quantile(ratio[other], levels)
        forms["errors"][own] = np.quantile(error[other], levels)
        for i in own:
            alike = np.argsort(np.abs(relative[other] - relative[i]), kind="stable")[:100]
            forms["neighbours"][i] = np.quantile(error[other][alike], levels)
    for name in ("errors", "neighbours"):
        forms[name] = np.maximum(point[:, None] + so_far[:, None] * forms[name], 0.0)
    return forms


def calibrated_as_known(cases: Cases, point: np.ndarray) -> dict[str, np.ndarray]:
    """Return draws (cases, 400) by the ratios of all weeks, of any series, over at the origin.

    Until there are :data:`FEW_WEEKS` of them, ``ratios`` of :func:`calibrated` stand in, which
    know what came later.
    """
    floored = np.maximum(point, SMALLEST * np.array([h.mean() for h in cases.history]))
    ratio, levels = cases.observed / floored, (np.arange(400) + 0.5) / 400
    out = calibrated(cases, point)["ratios"].copy()
    for origin in np.unique(cases.origin):
        over = cases.origin + np.timedelta64(7, "D") <= origin
        if over.sum() >= FEW_WEEKS:
            now = cases.origin == origin
            out[now] = floored[now, None] * np.quantile(ratio[over], levels)
    return {"ratios as known": out}


def _scaled_crps(cases: Cases, draws: np.ndarray) -> float:
    return float((crps_ensemble(cases.observed, draws, estimator="nrg") / cases.mean_week).mean())


def _best(cases: Cases, points: list[np.ndarray], forms: Forms) -> Forecasts:
    """Return the best of several points and forms of spread, by the CRPS of all cases."""
    tried = [(d, p) for p in points for d in forms(cases, p).values()]
    draws, point = min(tried, key=lambda pair: _scaled_crps(cases, pair[0]))
    return draws, (point, np.median(draws, axis=1))


def rival_forecasts(
    cases: Cases, garden: Any, earlier: list[Cases] | None = None, *, forms: Forms = calibrated
) -> dict[str, Forecasts]:
    """Return draws of every rival, and its point forecasts: its own and the draws' median."""
    points = {
        name: [np.maximum([f(h) for h in cases.history], 0.0) for f in candidates]
        for name, candidates in rivals().items()
    }
    points["boosted trees on heat"] = boosted(cases, garden, earlier or [])
    out = {name: _best(cases, several, forms) for name, several in points.items()}
    return out


def our_forecasts(
    all_cases: list[Cases],
    garden: Any,
    *,
    draws: int = 1000,
    seed: int = 1,
    forecaster: Callable[..., Any] | None = None,
) -> list[Forecasts]:
    """Return our draws and medians for several lists of cases, one forecast an origin."""
    if forecaster is None:
        from harvestcast.growth.forecast import forecast as forecaster
    origins = np.unique(np.concatenate([c.origin for c in all_cases]))
    out = [np.zeros((len(c), draws)) for c in all_cases]
    for count, origin in enumerate(origins):
        if sys.stderr.isatty():
            print(f"\rorigin {count + 1} of {len(origins)}", end="", file=sys.stderr)
        outlook = forecaster(garden, as_of=pd.Timestamp(origin), weeks=1, draws=draws, seed=seed)
        frame = outlook.draws
        for cases, rows in zip(all_cases, out, strict=True):
            by = ["crop", "variety"] if cases.level == "variety" else ["crop"]
            total = frame.groupby([*by, "draw"])["mass_kg"].sum()
            for i in np.flatnonzero(cases.origin == origin):
                key = (cases.crop[i], cases.variety[i])[: len(by)]
                key = key if len(by) == 2 else key[0]
                if key in total.index:
                    rows[i] = total.loc[key].to_numpy()
    return [(d, (np.median(d, axis=1),)) for d in out]


def table(cases: Cases, forecasts: dict[str, Forecasts], *, halves: bool = False) -> pd.DataFrame:
    """Return one row a forecaster and set of cases; ``halves``: every other series apart."""
    everything = np.ones(len(cases), bool)
    sets = {"all": everything, "in season": cases.in_season}
    if halves:
        odd = cases.series % 2 == 1
        sets |= {"even series": ~odd, "odd series": odd}
    rows = [
        {"level": cases.level, "cases": name, "n": keep.sum(), "forecaster": forecaster}
        | summarise(cases, draws, points, keep)
        for name, keep in sets.items()
        for forecaster, (draws, points) in forecasts.items()
    ]
    return pd.DataFrame(rows)


def _garden(options: argparse.Namespace, scratch: str) -> Any:
    from harvestcast.records.garden import open_garden

    if options.real:
        from tests.real_log import garden_folder_from_real_log

        return open_garden(garden_folder_from_real_log(scratch))
    if options.simulated is not None:
        from tests.simulated import as_garden, simulate_garden

        years = tuple(range(2026 - options.seasons + 1, 2027))
        return as_garden(simulate_garden(options.simulated, years=years, truth=False))
    if options.folder is None:
        raise SystemExit("give a garden folder, --real or --simulated SEED")
    return open_garden(options.folder)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("folder", nargs="?", help="a garden folder")
    parser.add_argument("--real", action="store_true", help="the real log")
    parser.add_argument("--simulated", type=int, metavar="SEED", help="an invented garden")
    parser.add_argument("--seasons", type=int, default=1, help="seasons of the invented garden")
    parser.add_argument("--year", type=int, help="season to forecast; the last one if left out")
    parser.add_argument("--no-ours", action="store_true", help="rivals only")
    parser.add_argument("--halves", action="store_true", help="also every other series apart")
    parser.add_argument(
        "--as-known", action="store_true", help="rivals learn from weeks that were over only"
    )
    parser.add_argument("--draws", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        garden = _garden(options, scratch)
    years = garden.picks["date"].dt.year
    year = options.year or years.max()
    levels = [weekly_cases(garden, year, level) for level in ("variety", "crop")]
    forms = calibrated_as_known if options.as_known else calibrated
    ours: list[Forecasts | None] = [None, None]
    if not options.no_ours:
        ours = our_forecasts(levels, garden, draws=options.draws, seed=options.seed)
    for cases, own in zip(levels, ours, strict=True):
        past = [weekly_cases(garden, y, cases.level) for y in sorted(set(years[years < year]))]
        forecasts = rival_forecasts(cases, garden, past, forms=forms)
        if own is not None:
            forecasts["ours"] = own
        print(f"\n{len(cases)} weeks of {len(np.unique(cases.series))} series, by {cases.level}")
        shown = table(cases, forecasts, halves=options.halves).drop(columns="level")
        print(shown.round(3).to_string(index=False))
    print(f"\nfits that failed and were replaced by simple smoothing: {FAILED[0]}")


if __name__ == "__main__":
    main()
