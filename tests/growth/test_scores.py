"""Scores against reference libraries, published definitions and hand-made values."""

import re

import numpy as np
import pandas as pd
import pytest
import scoringrules
from scipy.stats import nbinom, norm, poisson

from harvestcast.growth.scores import coverage, crps_ensemble


def _ensemble(distribution, m: int = 40_001) -> np.ndarray:
    """Quantiles in the middle of m equal slices: as good as the distribution itself."""
    return distribution.ppf((np.arange(m) + 0.5) / m)


def _numbers(text: str) -> dict[str, float]:
    return {k: float(v) for k, v in re.findall(r"(\w+)=(-?[\d.]+)", text)}


def _value_of_row(metric: str, inputs: str) -> tuple[float, float]:
    """Return our value of one row of the check table, and the tolerance it is held to."""
    given = _numbers(inputs)
    if metric.startswith("crps_sample"):
        draws = [float(v) for v in re.search(r"x=([\d.,]+)", inputs)[1].split(",")]
        kind = "fair" if "fair" in metric else "nrg"
        return crps_ensemble(given["y"], draws, estimator=kind).item(), 1e-12
    distribution = {
        "crps_normal": lambda: norm(given["mu"], given["sigma"]),
        "crps_negbinom": lambda: nbinom(given["n"], given["p"]),
        "crps_poisson": lambda: poisson(given["lambda"]),
    }[metric]()
    # 40,001 slices leave an error of about the spread over the number of slices.
    value = crps_ensemble(given["y"], _ensemble(distribution), estimator="nrg")
    return value.item(), 1e-4 * distribution.std()


def test_every_row_of_the_metric_check_table_about_crps(shared) -> None:
    rows = pd.read_csv(shared("science/metric_checks.csv"))
    rows = rows[rows["metric"].str.startswith("crps_")]
    assert len(rows) > 10
    for row in rows.itertuples():
        value, tolerance = _value_of_row(row.metric, row.inputs)
        assert value == pytest.approx(row.value, abs=tolerance), row
        assert value == pytest.approx(row.reference, abs=tolerance), row


def test_known_values() -> None:
    """CRPS of a standard normal at its centre: (sqrt(2) - 1) / sqrt(pi), from the definition."""
    value = crps_ensemble(0.0, _ensemble(norm()), estimator="nrg").item()
    assert value == pytest.approx((np.sqrt(2) - 1) / np.sqrt(np.pi), abs=1e-4)


@pytest.mark.parametrize("estimator", ["nrg", "fair"])
def test_crps_agrees_with_scoringrules(estimator: str) -> None:
    rng = np.random.default_rng(11)
    draws = rng.gamma(1.3, 4, (6, 5, 80)) * (rng.random((6, 5, 80)) > 0.2)
    observed = rng.gamma(1.3, 4, (6, 5))
    ours = crps_ensemble(observed, draws, estimator=estimator)
    theirs = scoringrules.crps_ensemble(observed, draws, estimator=estimator)
    np.testing.assert_allclose(ours, theirs, rtol=1e-11, atol=1e-11)


def test_crps_of_one_value_is_the_absolute_error() -> None:
    assert crps_ensemble([3.0, 9.0], [[5.0], [5.0]], estimator="nrg").tolist() == [2.0, 4.0]
    np.testing.assert_allclose(crps_ensemble(3.0, np.full(9, 5.0)), 2.0)


def test_the_fair_estimator_does_not_depend_on_the_number_of_draws() -> None:
    rng = np.random.default_rng(13)
    observed = rng.normal(size=4000)
    few = crps_ensemble(observed, rng.normal(size=(4000, 4)))
    many = crps_ensemble(observed, rng.normal(size=(4000, 200)))
    spread = np.hypot(few.std(), many.std()) / np.sqrt(4000)
    assert abs(few.mean() - many.mean()) < 4 * spread
    nrg = crps_ensemble(observed, rng.normal(size=(4000, 4)), estimator="nrg")
    assert nrg.mean() > many.mean() + 4 * spread  # the other one pays for few draws


def test_the_honest_forecast_wins() -> None:
    """The score is proper: truth beats a shifted, a narrower and a wider forecast."""
    rng = np.random.default_rng(14)
    y = rng.normal(size=3000)
    z = rng.normal(size=(3000, 200))
    honest = crps_ensemble(y, z).mean()
    for other in (z + 0.5, 0.5 * z, 2 * z):
        assert crps_ensemble(y, other).mean() > honest


def test_unknown_stays_unknown() -> None:
    assert np.isnan(crps_ensemble(np.nan, [1.0, 2.0]))
    assert np.isnan(coverage([1.0, np.nan], 0, 2))


def test_coverage_counts_the_ends_as_inside() -> None:
    assert coverage([0, 1, 2, 3], 1, 2) == 0.5


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: crps_ensemble(1.0, [1.0, 2.0], estimator="best"), "unknown estimator"),
        (lambda: crps_ensemble([1.0], [1.0, 2.0]), "axes"),
        (lambda: crps_ensemble(1.0, [1.0]), "too few"),
    ],
)
def test_bad_arguments_are_refused(call, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
