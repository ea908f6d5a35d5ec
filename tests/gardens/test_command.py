"""The command for many gardens."""

import json
from pathlib import Path

import pandas as pd
from click.testing import CliRunner

from harvestcast.report.command.gardens import gardens
from tests.simulated import simulate_garden, write_folder


def test_gardens_from_folders_to_tables(tmp_path: Path) -> None:
    for seed in (1, 2, 3):
        sim = simulate_garden(
            seed, crops=("cucumber",), weather_years=2, truth=False, as_of="2026-08-10"
        )
        folder = write_folder(sim, tmp_path / "all" / f"school {seed}")
    (folder / "garden.toml").write_text("people = -3\n", "utf-8")
    arguments = [str(tmp_path / "all"), "--out", str(tmp_path / "out"), "--trial", "--csv"]
    told = CliRunner().invoke(gardens, arguments)
    assert told.exit_code == 0, told.output
    assert "3 gardens" in told.stdout
    assert "school 3, read: garden.toml" in told.stdout
    assert "fewer than three gardens" in told.stdout
    forecasts = pd.read_csv(tmp_path / "out" / "forecasts.csv")
    assert forecasts["garden"].unique().tolist() == ["school 1", "school 2"]
    assert len(pd.read_parquet(tmp_path / "out" / "forecasts")) == len(forecasts)
    again = CliRunner().invoke(gardens, [*arguments, "--json"])
    said = json.loads(again.stdout)
    assert said["gardens_with_errors"] == 1
    assert said["shares_kept"] >= 1
    assert said["errors"][0]["garden"] == "school 3"
    assert {row["variety"] for row in said["trial"]} == set(pd.read_csv(
        tmp_path / "out" / "trial.csv")["variety"])  # fmt: skip


def test_a_folder_without_gardens_is_said(tmp_path: Path) -> None:
    told = CliRunner().invoke(gardens, [str(tmp_path), "--out", str(tmp_path / "out")])
    assert told.exit_code == 1
    assert "neither garden folders nor a dataset" in told.output
    wrong = CliRunner().invoke(gardens, [str(tmp_path), "--out", "o", "--trial", "--no-varieties"])
    assert wrong.exit_code == 2
