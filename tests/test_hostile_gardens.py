"""Whatever a small garden holds, every command ends in an answer or an error of its own."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from click.testing import CliRunner, Result

from harvestcast.errors import ElevationError, InputError
from harvestcast.growth.backtest import backtest
from harvestcast.kitchen.handbook.process_times import process
from harvestcast.records.garden import garden_from_frames
from harvestcast.report.command.main import main

DAYS = pd.date_range("2024-01-01", "2026-07-31")
WEATHER = "date,tmin_c,tmax_c\n" + "".join(
    f"{day.date()},{low:.1f},{low + 12:.1f}\n"
    for day, low in zip(DAYS, 8 - 9 * np.cos((DAYS.day_of_year - 20) / 58.1), strict=True)
)
PLANTED = "crop,variety,date,how,plants\n"
PICKED = "date,crop,variety,count,weight_kg\n"


def _files(folder: Path, **files: str) -> None:
    folder.mkdir()
    (folder / "garden.toml").write_text("elevation_m = 100\n")
    (folder / "weather.csv").write_text(WEATHER)
    for stem, text in files.items():
        (folder / f"{stem}.csv").write_text(text)


def zeros(folder: Path) -> None:
    """Looked four times and found none."""
    days = ("2025-07-01", "2025-07-08", "2026-07-01", "2026-07-09")
    _files(
        folder,
        plantings=PLANTED
        + "".join(f"cucumber,Fennick,{year}-05-20,sown,9\n" for year in (2025, 2026)),
        picks=PICKED + "".join(f"{day},cucumber,Fennick,0,\n" for day in days),
    )


def one_pick(folder: Path) -> None:
    """One pick of a crop that nobody knows, without a planting."""
    _files(folder, picks=f"{PICKED}2026-07-09,\u2603 moon melon,,1,\n")


def beyond_measure(folder: Path) -> None:
    """A million fruit a day of a plant that stands nowhere, in two days."""
    _files(
        folder,
        plantings=f"{PLANTED}zucchini,Long Tom,2026-07-08,set_out,0\n",
        picks=PICKED
        + "2026-07-09,zucchini,Long Tom,1000000,\n2026-07-10,zucchini,Long Tom,1,0.000001\n",
    )


def planted_only(folder: Path) -> None:
    """Plantings of a century ago and of next year."""
    _files(
        folder,
        plantings=f"{PLANTED}tomato,Old,1926-05-20,set_out,3\ntomato,New,2026-12-31,set_out,3\n",
    )
    (folder / "weather.csv").write_text("\n".join(WEATHER.splitlines()[:2]) + "\n")


def nothing(folder: Path) -> None:
    """An empty folder."""
    folder.mkdir()


def links_in_a_circle(folder: Path) -> None:
    """A log, and its settings, that are links to each other."""
    _files(folder)
    for name in ("picks.csv", "garden.toml"):
        (folder / name).unlink(missing_ok=True)
        (folder / name).symlink_to(f"{name}.link")
        (folder / f"{name}.link").symlink_to(name)


def a_circle(folder: Path) -> None:
    """A folder that is a link to itself."""
    folder.symlink_to(folder)


GARDENS: list[Callable[[Path], None]] = [
    zeros,
    one_pick,
    beyond_measure,
    planted_only,
    nothing,
    links_in_a_circle,
    a_circle,
]
COMMANDS: list[list[str]] = [
    ["check"],
    ["check", "--products"],
    ["add", "cucumber", "3", "--on", "2026-07-12"],
    ["add", "--undo"],
    ["import", "{log}", "--write"],
    ["sheet", "--out", "{out}.html"],
    ["week", "--no-report", "--as-of", "2026-07-20"],
    ["week", "--no-report", "--seed", "-1"],
    ["ahead", "--no-report", "--as-of", "2026-06-10"],
    ["season", "--no-report"],
    ["season", "--no-report", "--year", "99999"],
    ["next", "--no-report"],
    ["backtest"],
    ["start", "--units", "metric", "--no-ask"],
]


def _run(words: list[str]) -> Result:
    return CliRunner().invoke(main, words)


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
@pytest.mark.parametrize("garden", GARDENS, ids=lambda make: make.__name__)
def test_every_command_ends_in_an_answer_of_its_own(
    garden: Callable[[Path], None], command: list[str], tmp_path: Path
) -> None:
    garden(tmp_path / "garden")
    log = tmp_path / "log.csv"
    log.write_text("date,crop,count\n2026-07-05,okra,4\n")
    name, *rest = [word.format(log=log, out=tmp_path / "sheet") for word in command]
    told = _run([name, str(tmp_path / "garden"), *rest])
    assert told.exit_code in (0, 1, 2), told.output
    assert told.exception is None or isinstance(told.exception, SystemExit), told.exception
    assert "unforeseen" not in told.output and "Traceback" not in told.output, told.output


def test_many_hostile_gardens_at_once(tmp_path: Path) -> None:
    for make in (zeros, one_pick, nothing, links_in_a_circle):
        make(tmp_path / make.__name__)
    told = _run(["gardens", str(tmp_path), "--out", str(tmp_path / "out"), "--workers", "1"])
    assert told.exit_code in (0, 1, 2), told.output
    assert "unforeseen" not in told.output and "Traceback" not in told.output, told.output


def test_a_season_of_zeros_is_refused_in_words() -> None:
    days = pd.to_datetime(["2026-07-01", "2026-07-09", "2026-07-20"])
    picks = pd.DataFrame({"date": days, "crop": "okra", "count": [0, 0, 0]})
    with pytest.raises(InputError):
        backtest(garden_from_frames(picks=picks), progress=False)


def test_no_elevation_is_too_large_for_an_answer() -> None:
    with pytest.raises(ElevationError):
        process("quick_fresh_pack_dill_pickles", jar="pint", elevation_m=1e308)
