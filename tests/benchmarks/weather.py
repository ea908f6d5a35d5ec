"""Degree-days of the next 7 and 21 days from one season of record, against simple forecasts.

    python -m tests.benchmarks.weather [--use judge] [--cases 120] [--place]

Places and houses are those of ``data/stations`` beside the checkout; constants of
:mod:`harvestcast.growth.future.climate` were fitted on those marked ``tune``. A case is a record of
14 to 240 days that ends on a random day; degree-days are above 10 and up to 30 degC, by the mean of
both clipped. Beside ours:

- ``persistence``: as many days before, spread by how such spans have differed in the record;
- ``own``: the climatology of the record, all its spans;
- ``years``: the same days, give or take five, of all other years of the station, later ones
  included: ten to twenty years that nobody with one season of record has.

``--place``: latitude and elevation are told.
"""

from __future__ import annotations

import argparse
from typing import Any

import numpy as np
import pandas as pd

from harvestcast.growth.future.climate import UNSAID, Place, climate_draws
from harvestcast.growth.scores import crps_ensemble
from tests.conftest import shared_file

SPANS = (7, 21)
LENGTHS = (14, 30, 60, 120, 240)
DRAWS = 200


def stations(use: str) -> dict[str, tuple[pd.DataFrame, Any]]:
    """Return daily temperatures and the description of each station of one use."""
    listed = pd.read_csv(shared_file("data/stations/stations.csv"))
    rows = pd.read_csv(shared_file("data/stations/daily.csv.gz"), parse_dates=["date"])
    out = {}
    for station in listed[listed["use"] == use].itertuples():
        own = rows[rows["station"] == station.station].set_index("date")[["tmin_c", "tmax_c"]]
        days = pd.date_range(own.index[0], own.index[-1])
        own = own.reindex(days).interpolate(limit=5, limit_area="inside")
        out[str(station.station)] = (own, station)
    return out


def degree_days(temperatures: np.ndarray) -> np.ndarray:
    """Return degree-days of days (..., 2) of minimum and maximum."""
    return np.maximum(np.clip(temperatures, 10.0, 30.0).mean(axis=-1) - 10.0, 0.0)


def scores(use: str, cases: int, *, place: bool, seed: int = 1) -> pd.DataFrame:
    """Return a row a case and span: CRPS of ours and of the simple forecasts, whether 80 % held."""
    rng = np.random.default_rng(seed)
    rows = []
    for name, (record, station) in stations(use).items():
        values = record.to_numpy(float)
        for _ in range(cases):
            cut = _cut(values, rng)
            if cut is None:
                continue
            at, length = cut
            said = _place(station) if place and "house" not in station.climate else UNSAID
            draws = climate_draws(
                record.iloc[at - length : at],
                record.index[at : at + max(SPANS)],
                draws=DRAWS,
                rng=np.random.default_rng(at),
                place=said,
            )
            for span in SPANS:
                came = degree_days(values[at : at + span]).sum()
                ours = degree_days(draws)[:, :span].sum(axis=1)
                low, high = np.quantile(ours, [0.1, 0.9])
                rows.append(
                    {"station": name, "span": span, "held": low <= came <= high}
                    | {
                        who: float(crps_ensemble(came[None], some[None], estimator="nrg")[0])
                        for who, some in (
                            ("ours", ours),
                            *_simple(values, at, length, span).items(),
                        )
                    }
                )
    return pd.DataFrame(rows)


def _place(station: Any) -> Place:
    high = station.elevation_m
    return Place(station.latitude, None if np.isnan(high) else high)


def _cut(values: np.ndarray, rng: np.random.Generator) -> tuple[int, int] | None:
    """Return where a record ends and how long it is, or None where none was found."""
    for _ in range(50):
        length = int(rng.choice(LENGTHS))
        if len(values) - max(SPANS) <= length:
            continue
        at = int(rng.integers(length, len(values) - max(SPANS)))
        before, after = values[at - length : at], values[at : at + max(SPANS)]
        known = not np.isnan(after).any() and not np.isnan(before[-7:]).any()
        if known and np.isnan(before).mean() < 0.2:
            return at, length
    return None


def _simple(values: np.ndarray, at: int, length: int, span: int) -> dict[str, np.ndarray]:
    daily = degree_days(values)
    before = daily[at - length : at].copy()
    before[np.isnan(before)] = np.nanmean(before)
    part = min(span, length)
    sums = np.convolve(before, np.ones(part), "valid") * span / part
    change = sums[part:] - sums[:-part] if len(sums) > part else np.zeros(0)
    if len(change) < 5:  # too short a record to say how spans differ: two degree-days a day
        change = np.append(change, np.linspace(-2.0, 2.0, 20) * span)
    out = {
        "persistence": np.maximum(sums[-1] + np.concatenate((change, -change)), 0.0),
        "own": sums,
    }
    other = [
        daily[first : first + span].sum()
        for year in range(-25, 26)
        for first in (at + round(365.25 * year) + move for move in (-5, 0, 5))
        if year and 0 <= first <= len(daily) - span
    ]
    other = [one for one in other if np.isfinite(one)]
    return out | ({"years": np.array(other)} if len(other) >= 5 else {})


def table(found: pd.DataFrame) -> pd.DataFrame:
    """Return a row a span and station: ours over the others, and what 80 % ranges held."""
    mean = found.groupby(["span", "station"]).mean()
    out = mean[["ours"]].copy()
    out["over known"] = mean["ours"] / mean[["persistence", "own"]].min(axis=1)
    for who in ("persistence", "own", "years"):
        out[f"over {who}"] = mean["ours"] / mean[who]
    return out.assign(held=mean["held"])


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--use", choices=("tune", "judge"), default="judge")
    parser.add_argument("--cases", type=int, default=120, help="records a station")
    parser.add_argument("--place", action="store_true", help="latitude and elevation are told")
    options = parser.parse_args()
    print(table(scores(options.use, options.cases, place=options.place)).round(2).to_string())


if __name__ == "__main__":
    main()
