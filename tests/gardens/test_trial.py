"""The pooled comparison against statsmodels, against dense algebra, and against known truth."""

import warnings

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
import statsmodels.formula.api as smf
from scipy.stats import binom

from harvestcast.gardens.mixed import Trial, fit, lay_out, solve
from harvestcast.gardens.run import GardensResult, run_gardens
from harvestcast.gardens.trial import pool_trial, trial_values
from tests.gardens.many import BETTER, many_gardens
from tests.gardens.trials import trial

MEANS = [0.0, 0.1, 0.25, -0.2]
SPREADS = {"garden": 0.4, "garden x variety": 0.2}
MANY = {**SPREADS, "season": 0.2, "garden x season": 0.15, "variety x season": 0.1}


def _as_trial(values: pd.DataFrame) -> Trial:
    return Trial(
        y=values["value"].to_numpy(),
        sd=values["sd"].to_numpy(),
        garden=values["garden"].astype("category").cat.codes.to_numpy().astype(np.int64),
        season=(values["year"] - values["year"].min()).to_numpy(),
        variety=values["variety"].astype("category").cat.codes.to_numpy().astype(np.int64),
    )


def _mixedlm(values: pd.DataFrame, **model: object):
    with warnings.catch_warnings():
        # statsmodels warns of its own optimiser's path; what it arrives at is compared below.
        warnings.simplefilter("ignore")
        return smf.mixedlm("value ~ 0 + C(variety)", values, **model).fit(reml=True)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_one_season_agrees_with_statsmodels_mixedlm(seed: int) -> None:
    """Equal known variances: its residual variance is ours of garden x variety plus the known."""
    values = trial(np.random.default_rng(seed), gardens=60, means=MEANS, spreads=SPREADS, grown=0.8)
    theirs = _mixedlm(values, groups="garden")
    ours = fit(lay_out(_as_trial(values)), draws=100, rng=np.random.default_rng(0))
    # Both stop their search at a relative change of 1e-6 or so of the likelihood.
    assert ours.solved.mean == pytest.approx(theirs.fe_params.to_numpy(), abs=1e-4)
    errors = np.sqrt(np.diag(ours.solved.covariance))
    assert errors == pytest.approx(theirs.bse_fe.to_numpy(), rel=2e-3)
    assert ours.sd["garden"] == pytest.approx(float(theirs.cov_re.iloc[0, 0]) ** 0.5, rel=5e-3)
    residual = np.hypot(ours.sd["garden x variety"], 0.15)
    assert residual == pytest.approx(theirs.scale**0.5, rel=2e-3)


def test_several_seasons_agree_with_statsmodels_variance_components() -> None:
    """Crossed gardens, seasons and varieties as variance components of one group."""
    values = trial(
        np.random.default_rng(4), gardens=16, means=MEANS[:3], seasons=4, spreads=MANY, sd=0.1
    )
    crossed = {
        "garden": "0 + C(garden)",
        "season": "0 + C(year)",
        "garden_season": "0 + C(garden):C(year)",
        "garden_variety": "0 + C(garden):C(variety)",
        "variety_season": "0 + C(variety):C(year)",
    }
    theirs = _mixedlm(values.assign(one=1), groups="one", vc_formula=crossed, re_formula="0")
    # statsmodels estimates the residual variance, ours is told it: told what theirs found, both
    # are the same model at the same optimum.
    same = values.assign(sd=theirs.scale**0.5)
    ours = fit(lay_out(_as_trial(same)), draws=100, rng=np.random.default_rng(0))
    assert ours.solved.mean == pytest.approx(theirs.fe_params.to_numpy(), abs=2e-3)
    errors = np.sqrt(np.diag(ours.solved.covariance))
    assert errors == pytest.approx(theirs.bse_fe.to_numpy(), rel=0.02)
    components = dict(zip(theirs.model.exog_vc.names, theirs.vcomp, strict=True))
    for name, variance in components.items():
        part = {"garden_season": "garden x season", "garden_variety": "garden x variety",
                "variety_season": "variety x season"}.get(name, name)  # fmt: skip
        assert ours.sd[part] ** 2 == pytest.approx(variance, abs=0.002), name


def test_unequal_known_variances_agree_with_generalised_least_squares() -> None:
    """The whole covariance written out, estimates and errors by statsmodels' GLS."""
    values = trial(
        np.random.default_rng(5), gardens=12, means=MEANS, seasons=3, spreads=MANY,
        sd=(0.05, 0.5), grown=0.7,
    )  # fmt: skip
    layout = lay_out(_as_trial(values))
    sd = {part: 0.1 + 0.07 * n for n, part in enumerate(layout.parts)}
    ours = solve(layout, sd)
    dense, fixed, y = _dense(values, sd)
    theirs = sm.GLS(y, fixed, sigma=dense).fit()
    assert ours.mean == pytest.approx(theirs.params, abs=1e-9)
    # GLS scales its errors by the residuals; with a known covariance the scale is one.
    wanted = np.sqrt(np.diag(theirs.normalized_cov_params))
    assert np.sqrt(np.diag(ours.covariance)) == pytest.approx(wanted, rel=1e-9)


def test_likelihood_is_that_of_the_covariance_written_out() -> None:
    """Patterson and Thompson (1971): residual contrasts; here by their determinants."""
    values = trial(
        np.random.default_rng(6), gardens=9, means=MEANS[:3], seasons=2, spreads=MANY,
        sd=(0.1, 0.3), grown=0.8,
    )  # fmt: skip
    layout = lay_out(_as_trial(values))
    found = []
    for level in (0.1, 0.25, 0.6):
        sd = {part: level * (1 + 0.2 * n) for n, part in enumerate(layout.parts)}
        dense, fixed, y = _dense(values, sd)
        inverse = np.linalg.inv(dense)
        inner = fixed.T @ inverse @ fixed
        rest = y - fixed @ np.linalg.solve(inner, fixed.T @ inverse @ y)
        wanted = -0.5 * (
            np.linalg.slogdet(dense)[1] + np.linalg.slogdet(inner)[1] + rest @ inverse @ rest
        )
        found.append(solve(layout, sd).log_likelihood - wanted)
    assert found == pytest.approx([0.0, 0.0, 0.0], abs=1e-6)


def _dense(values: pd.DataFrame, sd: dict[str, float]):
    columns = {"garden": "garden", "season": "year", "variety": "variety"}
    covariance = np.diag(values["sd"].to_numpy() ** 2)
    for part, spread in sd.items():
        keys = (
            values[[columns[name] for name in part.split(" x ")]].astype(str).agg("|".join, axis=1)
        )
        number = keys.astype("category").cat.codes.to_numpy()
        covariance += spread**2 * (number[:, None] == number[None, :])
    fixed = pd.get_dummies(values["variety"]).to_numpy(float)
    return covariance, fixed, values["value"].to_numpy()


def _covered(runs: int, seed: int, **design: object) -> tuple[int, int, int]:
    """Count how often 90 % intervals of ratios to the mean hold the truth, over trials."""
    truth = np.array(MEANS) - np.mean(MEANS)
    held = asked = right = 0
    chance = 0.0
    for run in range(runs):
        values = trial(np.random.default_rng([seed, run]), means=MEANS, **design)
        table = pool_trial(values, draws=400, seed=run).table
        low, high = np.log(table["against_mean_q05"]), np.log(table["against_mean_q95"])
        held += int(((low < truth) & (truth < high)).sum())
        asked += len(truth)
        right += int(table["probability_best"].argmax() == np.argmax(truth))
        chance += float(table["probability_best"].max())
    assert abs(right - chance) < 4 * np.sqrt(runs) / 2, "probabilities of being best are off"
    return held, asked, right


@pytest.mark.statistics
@pytest.mark.parametrize(
    "design",
    [
        {"gardens": 12, "spreads": SPREADS, "sd": (0.1, 0.5)},
        {"gardens": 8, "spreads": MANY, "sd": (0.1, 0.4), "seasons": 3, "grown": 0.8},
    ],
    ids=["one season", "three seasons"],
)
def test_nine_intervals_in_ten_hold_the_truth(design: dict[str, object]) -> None:
    runs = 60
    held, asked, right = _covered(runs, 7, **design)
    # Intervals of one trial share its luck: count trials, not intervals, for the width.
    low = binom.ppf(0.001, runs, 0.9) / runs
    assert low <= held / asked <= 0.99, f"{held} of {asked}"
    assert right > runs / len(MEANS)


def test_the_garden_x_variety_spread_widens_one_garden_more() -> None:
    wide = {"garden": 0.3, "garden x variety": 0.5}
    values = trial(np.random.default_rng(8), gardens=400, means=[0.0, 0.2], spreads=wide, sd=0.1)
    table = pool_trial(values, draws=2000).table.set_index("variety")
    best = table.loc["B sort"]
    assert best["probability_best"] > 0.95
    # Normal: P(0.2 + 0.5 sqrt(2) z > 0) = 0.611.
    assert best["probability_best_here"] == pytest.approx(0.61, abs=0.06)


def test_uncertainties_that_do_not_fit_are_noticed() -> None:
    values = trial(
        np.random.default_rng(12), gardens=80, means=[0.0, 0.2], spreads=SPREADS, sd=(0.1, 0.5)
    )
    assert pool_trial(values, draws=200).checks["passed"].all()
    wrong = values.assign(sd=np.where(values["sd"] > 0.3, 1.2, 0.05))
    assert not pool_trial(wrong, draws=200).checks["passed"].all()


def test_a_variety_of_too_few_gardens_has_no_figures() -> None:
    values = trial(np.random.default_rng(9), gardens=10, means=[0.0, 0.1], spreads=SPREADS)
    rare = values.iloc[:2].assign(variety="Z sort", garden=["garden 00000", "garden 00001"])
    table = pool_trial(pd.concat([values, rare], ignore_index=True), draws=200).table
    row = table.set_index("variety").loc["Z sort"]
    assert row["gardens"] == 2
    assert row[["estimate", "q05", "probability_best"]].isna().all()
    assert table.set_index("variety").loc["A sort", "estimate"] > 0


def test_values_are_what_the_gardens_logged(undisturbed: GardensResult) -> None:
    varieties = undisturbed.varieties
    values = trial_values(varieties, "kg_per_plant")
    seen = varieties[varieties["measure"] == "kg_per_plant"].set_index(["garden", "variety"])
    mine = values.set_index(["garden", "variety"])
    assert len(mine) == len(seen) == 10
    logged = np.log(seen["seen"]).reindex(mine.index).astype(float)
    assert (mine["value"] - mine["sd"] ** 2 / 2).to_numpy() == pytest.approx(logged.to_numpy())
    # Between plots 0.2 or so, plants, weekly noise (season room): neither certain nor unknown.
    assert mine["sd"].between(0.1, 1.0).all()
    with pytest.raises(ValueError, match="measure must be one of"):
        trial_values(varieties, "oversize_share")


@pytest.mark.statistics
def test_a_trial_from_logs_to_the_best_variety() -> None:
    """Picks of sixty gardens over a whole season: each variety truly beats the one before."""
    tables = many_gardens(60, seed=2, as_of="2026-10-05", crops=("snap bean",), varieties=3,
                          stations=5, weather_years=2)  # fmt: skip
    result = run_gardens(tables, draws=200, forecasts=False)
    table = pool_trial(trial_values(result.varieties)).table.set_index("variety")
    assert table["gardens"].min() >= 55
    against = np.log(table["against_mean"].to_numpy())
    # Garden x variety spread 0.25, plots and weeks besides: 0.05 of standard error each.
    assert against == pytest.approx([-BETTER, 0.0, BETTER], abs=3 * 0.05)
    width = np.log(table["against_mean_q95"] / table["against_mean_q05"])
    assert width.between(2 * 1.64 * 0.025, 2 * 1.64 * 0.08).all()
    assert table["probability_best"].idxmax() == "C sort"


def test_names_that_differ_in_capitals_are_one_variety(undisturbed: GardensResult) -> None:
    varieties = undisturbed.varieties
    first = varieties["garden"] == varieties["garden"].iloc[0]
    varieties.loc[first, "variety"] = varieties.loc[first, "variety"].str.upper() + " "
    values = trial_values(varieties)
    assert sorted(values["variety"].unique()) == ["A sort", "B sort"]
