"""What goes wrong with one garden, one worker or the whole run harms nothing else."""

import json
import os
import signal
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from harvestcast.gardens.dataset import GardenTables, dataset_shares, write_dataset
from harvestcast.gardens.run import GardensResult, read_results, run_gardens
from tests.gardens.perilous import Perilous
from tests.gardens.same import assert_same, without
from tests.simulated import simulate_garden, write_folder


def test_bad_gardens_get_their_row_and_stop_no_other(
    tables: GardenTables, undisturbed: GardensResult
) -> None:
    names = sorted(tables.gardens["garden"])
    no_settings, bad_count, no_picks, no_date = names[:4]
    stray = names[4] + " too"
    gardens = tables.gardens.set_index("garden")
    gardens.loc[no_settings, "settings"] = json.dumps({"people": -1})
    gardens.loc[stray] = [None, "nowhere"]
    picks = tables.picks[tables.picks["garden"] != no_picks].copy()
    picks.loc[picks["garden"] == bad_count, "count"] = -5.0
    plantings = tables.plantings.copy()
    plantings["date"] = plantings["date"].astype(object)
    plantings.loc[plantings["garden"] == no_date, "date"] = "the ides of May"
    result = run_gardens(
        replace(tables, gardens=gardens.reset_index(), picks=picks, plantings=plantings),
        draws=100,
    )
    errors = result.errors.set_index("garden")
    assert errors["stage"].to_dict() == {
        no_settings: "read",
        bad_count: "read",
        no_picks: "compare",
        no_date: "read",
        stray: "read",
    }
    assert "people" in errors.loc[no_settings, "message"]
    assert "there is no weather station 'nowhere'" in errors.loc[stray, "message"]
    assert "count" in errors.loc[bad_count, "message"]
    assert "nothing was picked" in errors.loc[no_picks, "message"]
    bad = {*names[:4], stray}
    good, usual = without(result, bad), without(undisturbed, bad)
    for name, table in usual.items():
        pd.testing.assert_frame_equal(good[name], table, check_exact=True)
    assert set(good["forecasts"]["garden"]) == {names[4]}


def test_a_broken_folder_is_told_line_by_line(tmp_path: Path) -> None:
    for seed in (1, 2):
        sim = simulate_garden(seed, crops=("cucumber",), weather_years=2, truth=False,
                              as_of="2026-07-25")  # fmt: skip
        folder = write_folder(sim, tmp_path / f"plot {seed}")
    lines = (folder / "picks.csv").read_text("utf-8").splitlines()
    lines[3] = lines[3].replace("2026", "20x6")
    lines[5] = lines[5].replace("2026", "20x6")
    (folder / "picks.csv").write_text("\n".join(lines) + "\n", "utf-8")
    result = run_gardens(tmp_path, draws=100, varieties=False)
    assert result.errors["garden"].tolist() == ["plot 2"]
    message = result.errors["message"][0]
    assert "picks.csv, line 4" in message
    assert "picks.csv, line 6" in message
    assert result.forecasts["garden"].unique().tolist() == ["plot 1"]


def test_an_unreadable_file_is_an_error_of_its_share(
    tables: GardenTables, undisturbed: GardensResult, tmp_path: Path
) -> None:
    root = tmp_path / "dataset"
    shares = write_dataset(root, tables, per_share=2)
    lost = set(shares[0].names())
    (root / "picks" / shares[0].label.replace("part-", "part=") / "rows.parquet").write_bytes(b"x")
    result = run_gardens(root, draws=100, varieties=False)
    assert result.errors[["garden", "stage"]].to_numpy().tolist() == [
        [name, "read"] for name in sorted(lost)
    ]
    usual = without(undisturbed, lost)["forecasts"]
    pd.testing.assert_frame_equal(result.forecasts, usual, check_exact=True)


def test_a_broken_table_of_gardens_is_an_error_of_its_share(
    tables: GardenTables, undisturbed: GardensResult, tmp_path: Path
) -> None:
    root = tmp_path / "dataset"
    shares = write_dataset(root, tables, per_share=2)
    lost = set(shares[0].names())
    place = root / "gardens" / shares[0].label.replace("part-", "part=") / "rows.parquet"
    place.write_bytes(place.read_bytes()[:40])
    result = run_gardens(root, tmp_path / "out", draws=100, varieties=False)
    assert result.errors["garden"].tolist() == [shares[0].label]
    usual = without(undisturbed, lost)["forecasts"]
    pd.testing.assert_frame_equal(result.forecasts, usual, check_exact=True)


def test_finished_shares_are_kept_and_only_changed_ones_redone(
    tables: GardenTables, forecasts_only: GardensResult, tmp_path: Path
) -> None:
    root, out = tmp_path / "dataset", tmp_path / "out"
    shares = write_dataset(root, tables, per_share=2)
    first = run_gardens(root, out, draws=100, varieties=False)
    assert not first.shares["reused"].any()
    again = run_gardens(root, out, draws=100, varieties=False)
    assert again.shares["reused"].all()
    assert_same(again, forecasts_only)
    # A file cut short by a full disk is not taken for a finished one.
    cut = out / "forecasts" / f"{shares[0].label}.parquet"
    cut.write_bytes(cut.read_bytes()[:-9])
    # One pick more in a garden of another share.
    place = root / "picks" / shares[1].label.replace("part-", "part=") / "rows.parquet"
    rows = pd.read_parquet(place)
    pd.concat([rows, rows.iloc[:1]]).to_parquet(place)
    third = run_gardens(root, out, draws=100, varieties=False).shares.set_index("label")["reused"]
    assert third[third].index.tolist() == sorted(share.label for share in shares[2:])
    assert len(third) > 2
    other = run_gardens(root, out, draws=120, varieties=False)
    assert not other.shares["reused"].any()


def test_results_of_earlier_shares_are_cleared_away(
    tables: GardenTables, forecasts_only: GardensResult, tmp_path: Path
) -> None:
    for number, per_share in enumerate((1, 4)):
        root = tmp_path / f"dataset {number}"
        write_dataset(root, tables, per_share=per_share)
        run_gardens(root, tmp_path / "out", draws=100, varieties=False)
    assert len(list((tmp_path / "out" / "forecasts").glob("*.parquet"))) == 2
    assert_same(read_results(tmp_path / "out"), forecasts_only)


def test_a_killed_worker_costs_its_share_one_more_go(
    dataset: Path, undisturbed: GardensResult, tmp_path: Path
) -> None:
    shares = dataset_shares(dataset)
    victim = shares[1].names()[-1]
    risky = Perilous(inner=shares[1], victim=victim, diary=tmp_path, deaths=1)
    result = run_gardens([shares[0], risky, *shares[2:]], draws=100, workers=2)
    assert [path.name for path in tmp_path.glob("death-*")] == ["death-0"]
    assert_same(result, undisturbed)


@pytest.mark.statistics
def test_a_garden_that_kills_every_worker_gets_its_row_and_its_neighbours_their_results(
    dataset: Path, undisturbed: GardensResult, tmp_path: Path
) -> None:
    shares = dataset_shares(dataset)
    place = next(i for i, share in enumerate(shares) if share.size > 1)
    victim = shares[place].names()[0]
    deadly = Perilous(inner=shares[place], victim=victim, diary=tmp_path, deaths=10**6)
    out = tmp_path / "out"
    result = run_gardens([*shares[:place], deadly, *shares[place + 1 :]], out, draws=100, workers=2)
    assert result.errors[["garden", "stage"]].to_numpy().tolist() == [[victim, "worker"]]
    assert "worker processes died on this garden" in result.errors["message"][0]
    for name, table in without(undisturbed, {victim}).items():
        mine = without(result, {victim})[name]
        pd.testing.assert_frame_equal(mine, table, check_exact=True)
    # Once the cause is gone the same folder is finished as if nothing had been.
    assert_same(run_gardens(dataset, out, draws=100), undisturbed)


@pytest.mark.parametrize("workers", [1, pytest.param(2, marks=pytest.mark.statistics)])
def test_a_run_killed_half_way_goes_on_to_the_same_result(
    dataset: Path, undisturbed: GardensResult, tmp_path: Path, workers: int
) -> None:
    shares = dataset_shares(dataset)
    out = tmp_path / "out"
    run = subprocess.Popen(
        [sys.executable, "-m", "tests.gardens.perilous", dataset, out, tmp_path, str(workers)],
        cwd=Path(__file__).parents[2],
        start_new_session=True,
    )
    until = time.monotonic() + 120
    while len(list((out / "done").glob("*.json"))) < len(shares) - 1:
        assert run.poll() is None, "the run ended by itself"
        assert time.monotonic() < until, "the run took too long"
        time.sleep(0.05)
    os.kill(run.pid, signal.SIGKILL)
    run.wait()
    with pytest.raises(FileNotFoundError, match="goes on where it stopped"):
        read_results(out)
    resumed = run_gardens(dataset, out, draws=100)
    assert resumed.shares["reused"].sum() == len(shares) - 1
    assert_same(resumed, undisturbed)
