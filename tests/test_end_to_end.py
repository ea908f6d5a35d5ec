"""The whole path, from the folder to the report, on the sample and on a real household's log.

The real log is no part of the project; its tests are skipped where it is absent.
"""

from __future__ import annotations

import pickle
import shutil
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
import pytest

import harvestcast as hc
from harvestcast.errors import ElevationError, InputError
from harvestcast.frames import (
    BALANCE,
    BATCHES,
    DRAWS,
    SHOPPING,
    SURPLUS,
    WEEKLY_BY_CROP,
    WEEKLY_BY_VARIETY,
    check_frame,
)
from harvestcast.kitchen.household.capacity import capacity_of, hours_per_piece
from tests.real_log import garden_folder_from_real_log

DRAWS_WANTED = 200
WEEKS = 3
DAYS = 10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Walk:
    """One garden walked through the rooms."""

    as_of: pd.Timestamp
    garden: Any
    outlook: Any
    plan: Any


def _walk(folder: Path, as_of: str | None) -> Walk:
    garden = hc.open_garden(folder)
    outlook = hc.forecast(garden, as_of=as_of, weeks=WEEKS, draws=DRAWS_WANTED, seed=3)
    plan = hc.plan_week(outlook, garden, days=DAYS, scenarios=15, seed=3)
    return Walk(as_of=pd.Timestamp(outlook.as_of), garden=garden, outlook=outlook, plan=plan)


CASES = ["sample", "real 2020-07-05", "real 2020-08-15", "real 2020-10-04"]


@pytest.fixture(scope="module", params=CASES)
def walk(
    request: pytest.FixtureRequest,
    tmp_path_factory: pytest.TempPathFactory,
    sample_folder: Path,
) -> Walk:
    if request.param == "sample":
        return _walk(sample_folder, None)
    as_of = request.param.split()[1]
    # The folder ends on the day of the forecast, so that nothing later can leak into it.
    folder = tmp_path_factory.mktemp("real") / as_of
    return _walk(garden_folder_from_real_log(folder, as_of=as_of), as_of)


def test_draws_are_finite_joint_and_complete(walk: Walk) -> None:
    draws = check_frame(walk.outlook.draws, DRAWS)
    assert np.isfinite(draws["mass_kg"]).all()
    assert (draws["mass_kg"] >= 0).all()
    assert draws["draw"].nunique() == DRAWS_WANTED
    assert draws["date"].min() == walk.as_of + pd.Timedelta(days=1)
    assert draws["date"].max() == walk.as_of + pd.Timedelta(days=7 * WEEKS)
    series = draws.groupby(["crop", "variety"]).size()
    assert (series == DRAWS_WANTED * 7 * WEEKS).all()
    assert len(series) >= 8


def test_weeks_are_the_sums_of_the_draws(walk: Walk) -> None:
    """Totals are added up within each draw first and summarised after."""
    draws = walk.outlook.draws
    weekly = check_frame(walk.outlook.weekly(by="crop"), WEEKLY_BY_CROP)
    week = (draws["date"] - walk.as_of).dt.days.sub(1) // 7 + 1
    sums = draws.groupby(["crop", week, "draw"])["mass_kg"].sum()
    mean = sums.groupby(level=[0, 1]).mean()
    q90 = sums.groupby(level=[0, 1]).quantile(0.9)
    keys = pd.MultiIndex.from_frame(weekly[["crop", "week"]])
    np.testing.assert_allclose(weekly["mean_kg"], mean.reindex(keys), rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(weekly["q90_kg"], q90.reindex(keys), rtol=1e-6, atol=1e-9)
    quantiles = weekly[[f"q{q}_kg" for q in ("05", "10", "25", "50", "75", "90", "95")]]
    assert (np.diff(quantiles.to_numpy(), axis=1) >= -1e-12).all()
    check_frame(walk.outlook.weekly(by="variety"), WEEKLY_BY_VARIETY)


def test_every_planting_has_a_forecast_or_a_reason(walk: Walk) -> None:
    draws = walk.outlook.draws
    known = set(zip(draws["crop"], draws["variety"], strict=True))
    left = walk.outlook.left_out
    known |= set(zip(left["crop"], left["variety"], strict=True))
    plantings = walk.garden.plantings
    season = plantings[
        (plantings["date"] <= walk.as_of)
        & (plantings["date"] > walk.as_of - pd.Timedelta(days=200))
    ]
    assert set(zip(season["crop"], season["variety"], strict=True)) <= known
    assert left["reason"].notna().all()


def test_what_comes_in_goes_out(walk: Walk) -> None:
    balance = check_frame(walk.plan.balance, BALANCE)
    going_in = balance["carried_in"] + balance["picked"]
    going_out = balance[["eaten", "put_up", "given", "spoiled", "carried_out"]].sum(axis=1)
    np.testing.assert_allclose(going_in, going_out, atol=1e-6)
    for _, days in balance.groupby("crop"):
        days = days.sort_values("day")
        np.testing.assert_allclose(
            days["carried_in"].to_numpy()[1:], days["carried_out"].to_numpy()[:-1], atol=1e-6
        )
    assert balance["picked"].sum() > 0


def test_batches_fit_into_the_kitchen(walk: Walk) -> None:
    """Hours, canners, jars and lids of every day are kept."""
    batches = check_frame(walk.plan.batches, BATCHES)
    home = walk.garden.household
    decided = batches[batches["decided"]]
    whole = decided["batches"].to_numpy()
    np.testing.assert_allclose(whole, np.round(whole), atol=1e-6)
    kept = capacity_of(home, walk.as_of + pd.Timedelta(days=1), DAYS)
    assert batches["day"].isin(kept.dates).all()
    hours = batches.groupby("day")["hands_on_h"].sum().reindex(kept.dates, fill_value=0.0)
    assert (hours.to_numpy() <= kept.hours + 1e-6).all()
    busy = batches.groupby(["day", "equipment"])["equipment_h"].sum()
    for (_, kind), used in busy.items():
        if kind.endswith("canner"):
            assert used <= kept.number_of(kind) * hours_per_piece(kind) + 1e-6
    canned = batches[batches["method"].isin(["boiling_water", "pressure"])]
    shopping = walk.plan.shopping.set_index("item")["to_buy"]
    for size in ("pint", "quart", "half_pint"):
        used = canned.loc[canned["jar"] == size, "jars"].sum()
        bought = shopping.get(f"{size.replace('_', '-')} jars", 0.0)
        assert used <= home.jars.get(size, 0.0) + bought + 1e-6
    lids = canned["jars"].sum()
    assert lids <= home.jars["lids"] + shopping.get("new lids", 0.0) + 1e-6
    # No canned food without its time, and a pressure wherever it is pressure.
    assert canned["process_min"].notna().all()
    assert canned.loc[canned["method"] == "pressure", "pressure_psi"].notna().all()
    assert canned["source"].notna().all()


def test_nothing_more_is_put_up_than_was_picked(walk: Walk) -> None:
    balance = walk.plan.balance
    came = balance.groupby("crop")["picked"].sum()
    lay = balance.sort_values("day").groupby("crop")["carried_in"].first()
    used = walk.plan.batches.groupby("crop")["mass_kg"].sum()
    limit = (came + lay).reindex(used.index)
    assert (used <= limit + 1e-6).all()


def test_surplus_and_shopping_are_sound(walk: Walk) -> None:
    surplus = check_frame(walk.plan.surplus, SURPLUS)
    assert surplus["p_beats_capacity"].between(0, 1).all()
    shopping = check_frame(walk.plan.shopping, SHOPPING)
    short = (shopping["needed"] - shopping["in_stock"]).clip(lower=0)
    assert (shopping["to_buy"] >= short - 1e-6).all()
    assert str(walk.plan.solve.status)
    assert walk.plan.solve.gap >= 0


def test_everything_can_be_sent_to_another_process(walk: Walk) -> None:
    for thing in (walk.garden, walk.outlook, walk.plan):
        pickle.loads(pickle.dumps(thing))


def test_the_same_seed_gives_the_same_forecast(sample_folder: Path) -> None:
    garden = hc.open_garden(sample_folder)
    one = hc.forecast(garden, weeks=1, draws=50, seed=11)
    same = hc.forecast(garden, weeks=1, draws=50, seed=11)
    other = hc.forecast(garden, weeks=1, draws=50, seed=12)
    pd.testing.assert_frame_equal(one.draws, same.draws)
    assert not one.draws["mass_kg"].equals(other.draws["mass_kg"])


def test_nothing_after_the_day_changes_the_forecast(tmp_path: Path) -> None:
    """The folder that ends on the day and the whole one forecast the same, draw by draw."""
    day = "2020-07-26"
    short = hc.open_garden(garden_folder_from_real_log(tmp_path / "short", as_of=day))
    whole = hc.open_garden(garden_folder_from_real_log(tmp_path / "whole"))
    one = hc.forecast(short, as_of=day, weeks=2, draws=60, seed=5)
    other = hc.forecast(whole, as_of=day, weeks=2, draws=60, seed=5)
    pd.testing.assert_frame_equal(one.draws, other.draws)


def test_the_first_tomato_comes_within_its_interval(tmp_path: Path) -> None:
    """Three weeks ahead, from planting dates and heat alone: the 90 % interval holds the day."""
    whole = hc.open_garden(garden_folder_from_real_log(tmp_path / "whole"))
    tomatoes = whole.picks[whole.picks["crop"] == "tomato"]
    observed = tomatoes["date"].min()
    day = observed - pd.Timedelta(days=21)
    outlook = hc.forecast(whole, as_of=day, weeks=7, draws=400, seed=1)
    draws = outlook.draws
    picked = draws[(draws["crop"] == "tomato") & (draws["mass_kg"] > 0)]
    first = picked.groupby("draw")["date"].min()
    first = first.reindex(range(400)).fillna(day + pd.Timedelta(days=50))
    low, high = first.quantile([0.05, 0.95])
    assert low <= observed <= high
    assert pd.Timedelta(days=7) <= high - low <= pd.Timedelta(days=42)
    assert low > day


def test_the_real_garden_in_august(tmp_path: Path) -> None:
    """Mid-August: the weeks that came lie inside wide and outside narrow intervals as promised."""
    whole = hc.open_garden(garden_folder_from_real_log(tmp_path / "whole"))
    inside, total = 0, 0
    for day in ("2020-07-19", "2020-08-02", "2020-08-16", "2020-08-30", "2020-09-13"):
        weekly = hc.forecast(whole, as_of=day, weeks=1, draws=200, seed=2).weekly(by="crop")
        ahead = (whole.picks["date"] - pd.Timestamp(day)).dt.days
        came = whole.picks[(ahead >= 1) & (ahead <= 7)].groupby("crop")["mass_kg"].sum()
        weekly = weekly[weekly["mean_kg"] > 0.2]
        came = came.reindex(weekly["crop"], fill_value=0.0).to_numpy()
        inside += int(((came >= weekly["q05_kg"]) & (came <= weekly["q95_kg"])).sum())
        total += len(came)
    assert total >= 50
    # 90 % intervals. Weeks share their weather and their pickers, so they are no independent
    # trials: the bound is wide on purpose and only catches a forecast that is plainly wrong.
    assert inside / total >= 0.75


def test_october_frost_ends_the_tender_crops(tmp_path: Path) -> None:
    """After the killing frost no tomato or zucchini grows, whatever was picked before."""
    whole = hc.open_garden(garden_folder_from_real_log(tmp_path / "whole"))
    weather = whole.weather
    cold = weather[(weather["date"] >= "2020-09-01") & (weather["tmin_c"] <= -3)]
    day = cold["date"].min() + pd.Timedelta(days=7)
    weekly = hc.forecast(whole, as_of=day, weeks=2, draws=200, seed=2).weekly(by="crop")
    zucchini = weekly[weekly["crop"] == "zucchini"]
    before = (
        whole.picks[(whole.picks["crop"] == "zucchini") & (whole.picks["date"].dt.month == 8)][
            "mass_kg"
        ].sum()
        / 4.4
    )
    assert zucchini["mean_kg"].max() < 0.05 * before


def test_without_elevation_nothing_is_canned(tmp_path: Path, sample_folder: Path) -> None:
    """A canner without an elevation is refused; without canners there is a plan, and no canning."""
    folder = tmp_path / "garden"
    shutil.copytree(sample_folder, folder)
    settings = (folder / "garden.toml").read_text("utf-8")
    lines = [line for line in settings.splitlines() if not line.startswith("elevation_ft")]
    (folder / "garden.toml").write_text("\n".join(lines), "utf-8")
    garden = hc.open_garden(folder)
    outlook = hc.forecast(garden, weeks=2, draws=60, seed=1)
    with pytest.raises(ElevationError, match="elevation"):
        hc.plan_week(outlook, garden, scenarios=5)
    parts = "\n".join(lines).split("\n\n")
    without = [part for part in parts if "canner" not in part]
    assert len(without) == len(parts) - 2
    (folder / "garden.toml").write_text("\n\n".join(without), "utf-8")
    garden = hc.open_garden(folder)
    plan = hc.plan_week(hc.forecast(garden, weeks=2, draws=60, seed=1), garden, scenarios=5)
    assert len(plan.batches) > 0
    assert not set(plan.batches["method"]) & {"boiling_water", "pressure"}


def test_all_bad_input_is_said_at_once(tmp_path: Path, sample_folder: Path) -> None:
    """A bad date, a negative count, tmin above tmax, an unknown key: four problems, one error."""
    folder = tmp_path / "garden"
    shutil.copytree(sample_folder, folder)
    with (folder / "picks-2026.csv").open("a", encoding="utf-8") as file:
        file.write("2026-13-45,cucumbers,Crispwick,3,,,,\n")
        file.write("2026-07-24,cucumbers,Crispwick,-3,,,,\n")
    with (folder / "weather.csv").open("a", encoding="utf-8") as file:
        file.write("2026-07-26,80,60,0\n")
    settings = (folder / "garden.toml").read_text("utf-8")
    (folder / "garden.toml").write_text("elevatoin_ft = 3\n" + settings, "utf-8")
    with pytest.raises(InputError) as caught:
        hc.open_garden(folder)
    problems = caught.value.problems
    said = {(p.file, p.line) for p in problems}
    lines = len((sample_folder / "picks-2026.csv").read_text("utf-8").splitlines())
    assert ("picks-2026.csv", lines + 1) in said
    assert ("picks-2026.csv", lines + 2) in said
    assert any(p.file == "weather.csv" for p in problems)
    assert any(p.file == "garden.toml" for p in problems)
    assert all(p.rule and p.cure for p in problems)
