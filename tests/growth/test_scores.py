"""Scores against reference libraries, published definitions and hand-made values."""

import re

import numpy as np
import pandas as pd
import pytest
import scoringrules
from scipy.stats import kstest, nbinom, norm, poisson
from sklearn.metrics import mean_pinball_loss

from harvestcast.frames import QUANTILES, SCORES, quantile_columns
from harvestcast.growth.scores import (
    coverage,
    crps_ensemble,
    interval_score,
    mase,
    pinball,
    pit,
    pit_histogram,
    pit_interval,
    score_table,
    wape,
)


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
    if metric.startswith("crps_"):
        distribution = {
            "crps_normal": lambda: norm(given["mu"], given["sigma"]),
            "crps_negbinom": lambda: nbinom(given["n"], given["p"]),
            "crps_poisson": lambda: poisson(given["lambda"]),
        }[metric]()
        # 40,001 slices leave an error of about the spread over the number of slices.
        value = crps_ensemble(given["y"], _ensemble(distribution), estimator="nrg")
        return value.item(), 1e-4 * distribution.std()
    if metric == "pinball":
        return pinball(given["y"], given["q"], given["tau"]).item(), 1e-12
    if "interval" in metric and "PIT" not in metric:
        low, high = (float(v) for v in re.search(r"\[(\d+),(\d+)\]", inputs).groups())
        level = 1 - given["alpha"]
        if "pinball" in metric:
            parts = pinball(given["y"], [low, high], [given["alpha"] / 2, 1 - given["alpha"] / 2])
            return 2 / given["alpha"] * parts.sum(), 1e-9
        return interval_score(given["y"], low, high, level=level).item(), 1e-9
    observed, forecast, train = [4, 7, 0, 9], [5, 5, 2, 8], [3, 5, 2, 8, 7, 6, 9]
    if metric.startswith("MASE"):
        return mase(observed, forecast, train), 1e-12
    assert metric == "WAPE"
    return wape(observed, forecast), 1e-12


def test_every_row_of_the_metric_check_table(shared) -> None:
    rows = pd.read_csv(shared("science/metric_checks.csv"))
    assert len(rows) == 54
    for row in rows.itertuples():
        if "PIT" in row.metric:
            given = _numbers(row.inputs)
            low, high = pit_interval(given["y"], _ensemble(nbinom(given["n"], given["p"])))
            assert low.item() == pytest.approx(row.value, abs=5e-5)
            assert high.item() == pytest.approx(row.reference, abs=5e-5)
            continue
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


def test_pinball_and_interval_agree_with_reference_libraries() -> None:
    rng = np.random.default_rng(12)
    y, q = rng.gamma(2, 3, 200), rng.gamma(2, 3, 200)
    for level in (0.05, 0.3, 0.9):
        ours = pinball(y, q, level)
        np.testing.assert_allclose(ours, scoringrules.quantile_score(y, q, level))
        assert ours.mean() == pytest.approx(mean_pinball_loss(y, q, alpha=level))
    np.testing.assert_allclose(
        interval_score(y, q, q + 2, level=0.9), scoringrules.interval_score(y, q, q + 2, 0.1)
    )


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


def test_wape_and_mase_of_nothing_are_unknown() -> None:
    assert np.isnan(wape([0, 0], [1, 2]))
    assert np.isnan(mase([1], [2], [3, 3, 3]))
    assert np.isnan(mase([1], [2], [3]))


def test_unknown_stays_unknown() -> None:
    assert np.isnan(crps_ensemble(np.nan, [1.0, 2.0]))
    assert np.isnan(pinball(np.nan, 1.0, 0.5))
    assert np.isnan(pit(np.nan, [1.0, 2.0], seed=1))
    assert np.isnan(coverage([1.0, np.nan], 0, 2))


def test_coverage_counts_the_ends_as_inside() -> None:
    assert coverage([0, 1, 2, 3], 1, 2) == 0.5


@pytest.mark.parametrize("rate", [0.3, 2.0, 40.0])
def test_pit_of_an_honest_count_forecast_is_uniform(rate: float) -> None:
    rng = np.random.default_rng(15)
    observed, draws = rng.poisson(rate, 4000), rng.poisson(rate, (4000, 50))
    values = pit(observed, draws, seed=2)
    assert values.min() >= 0
    assert values.max() <= 1
    assert kstest(values, "uniform").pvalue > 0.001
    too_narrow = pit(observed, np.full((4000, 50), rate), seed=2)
    assert kstest(too_narrow, "uniform").pvalue < 1e-6


def test_pit_histogram_holds_its_limits_for_an_honest_forecast_only() -> None:
    rng = np.random.default_rng(16)
    y, z = rng.normal(size=2000), rng.normal(size=(2000, 99))
    good = pit_histogram(pit(y, z, seed=3), level=0.999)
    assert good["number"].sum() == 2000
    assert good["share"].between(good["share_low"], good["share_high"]).all()
    narrow = pit_histogram(pit(y, 0.5 * z, seed=3), level=0.999)
    assert narrow["share"].iloc[0] > narrow["share_high"].iloc[0]


def test_the_score_table_pools_numerators_and_denominators() -> None:
    rng = np.random.default_rng(17)
    rows = []
    for crop in ("okra", "tomato"):
        for week in range(40):
            draws = rng.gamma(2, 1.5, 300)
            q = np.quantile(draws, QUANTILES)
            y = rng.gamma(2, 1.5)
            origin = pd.Timestamp("2025-06-01") + pd.Timedelta(days=week)
            rows.append((origin, crop, "first", 1, y, draws.mean(), *q, crps_ensemble(y, draws)))
    scores = pd.DataFrame(rows, columns=SCORES.names)
    assert SCORES.names[6:-1] == quantile_columns()
    table = score_table(scores).set_index("crop")
    okra = scores[scores["crop"] == "okra"]
    expected = np.abs(okra["observed"] - okra["q50"]).sum() / okra["observed"].sum()
    assert table.loc["okra", "wape"] == pytest.approx(expected)
    assert table.loc["okra", "mae_kg"] == pytest.approx(expected * okra["observed"].mean())
    assert table["coverage_80"].between(0.6, 0.95).all()
    whole = score_table(scores, by=())
    assert whole["forecasts"].item() == 80
    assert whole["crps_kg"].item() == pytest.approx(scores["crps"].mean())


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: crps_ensemble(1.0, [1.0, 2.0], estimator="best"), "unknown estimator"),
        (lambda: crps_ensemble([1.0], [1.0, 2.0]), "axes"),
        (lambda: crps_ensemble(1.0, [1.0]), "too few"),
        (lambda: pinball(1.0, 1.0, 1.0), "between 0 and 1"),
        (lambda: interval_score(1.0, 0, 2, level=80), "between 0 and 1"),
        (lambda: mase([1], [1], [1, 2], lag=0), "at least 1"),
    ],
)
def test_bad_arguments_are_refused(call, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()
