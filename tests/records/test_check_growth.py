"""Twice the log is twice the work of a check, whatever stands in it.

Counted are the calls that are made, which no other program on the machine can change.
"""

import sys
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

import pytest

from harvestcast.records.garden import Garden, check_garden, open_garden
from harvestcast.report.check import unlikely_fruit, unlikely_yields

HEAD = "date,crop,variety,bed,count,weight_kg,note\n"
PLANTED = "crop,variety,bed,date,how,plants\ncucumber,Fennick,A,2026-05-20,sown,12\n"


def _days(number: int, cells: Callable[[int], str]) -> str:
    return HEAD + "".join(f"2026-07-{1 + n % 28:02d},cucumber,{cells(n)}\n" for n in range(number))


def _two_files(number: int, one: str, other: str) -> dict[str, str]:
    line = "2026-07-10,cucumber,Fennick,{},3,,{}\n"
    return {
        f"picks-{k}.csv": HEAD + "".join(line.format(*cells(n)) for n in range(number))
        for k, cells in enumerate(
            (
                lambda n: (one.format(n), "" if one else f"a{n}"),
                lambda n: (other.format(n), "" if other else f"b{n}"),
            )
        )
    }


LOGS: dict[str, Callable[[int], dict[str, str]]] = {
    "equal picks with other remarks": lambda n: _two_files(n, "", ""),
    "equal picks of other beds": lambda n: _two_files(n, "A{}", "B{}"),
    "two spellings": lambda n: {
        "picks.csv": _days(n, lambda k: f"{'SORT' if k % 2 else 'sort'} {k // 2 % 20},,{k % 9},,")
    },
    "slipped digits": lambda n: {
        "picks.csv": _days(n, lambda k: f"Fennick,,{900 + k if k % 3 == 0 else 1},,n{k}")
    },
    "weights far apart": lambda n: {
        "picks.csv": _days(n, lambda k: f"Fennick,,,{290 + k / 1e4 if k % 3 == 0 else 1},n{k}")
    },
    "cells that cannot be read": lambda n: {"picks.csv": _days(n, lambda k: f"Fennick,,x{k},,")},
}


def _calls(work: Callable[[], Any]) -> int:
    """Return how many calls a piece of work makes."""
    number = 0

    def count(frame: FrameType, event: str, argument: object) -> None:
        nonlocal number
        number += event in ("call", "c_call")

    before = sys.getprofile()
    sys.setprofile(count)
    try:
        work()
    finally:
        sys.setprofile(before)
    return number


@pytest.mark.parametrize("kind", LOGS)
def test_twice_the_lines_are_twice_the_work(kind: str, tmp_path: Path) -> None:
    done = []
    for number in (100, 200, 400, 800):  # the first one loads what is loaded once
        folder = tmp_path / str(number)
        folder.mkdir()
        files = {"garden.toml": "elevation_m = 1\n", "plantings.csv": PLANTED}
        for name, text in {**files, **LOGS[kind](number)}.items():
            (folder / name).write_text(text)
        done.append(_calls(lambda: check_garden(folder, today="2026-09-25")))  # noqa: B023
    # What is left of the differences is what grows: as fast as the log, or slower.
    assert done[3] - done[2] <= 2.2 * (done[2] - done[1]), done


def _seasons(folder: Path, varieties: int) -> Garden:
    """Return a garden of many varieties over ten years, counted and never weighed."""
    folder.mkdir()
    rows = [(n, year) for n in range(varieties) for year in range(2016, 2026)]
    (folder / "garden.toml").write_text("elevation_m = 1\n")
    (folder / "plantings.csv").write_text(
        "crop,variety,date,how,plants\n"
        + "".join(f"tomato,Sort {n},{year}-05-20,set_out,2\n" for n, year in rows)
    )
    (folder / "picks.csv").write_text(
        "date,crop,variety,count\n"
        + "".join(f"{year}-08-01,tomato,Sort {n},{900 + n}\n" for n, year in rows)
    )
    return open_garden(folder, today="2026-01-01")


class _Counted:
    """A garden that counts how often one of its frames is asked for, and so copied whole."""

    def __init__(self, garden: Garden) -> None:
        self._garden, self.asked = garden, 0

    def __getattr__(self, name: str) -> Any:
        self.asked += 1
        return getattr(self._garden, name)


def test_a_season_more_does_not_go_through_the_whole_log_once_more(tmp_path: Path) -> None:
    gardens = [_seasons(tmp_path / str(n), n) for n in (5, 10, 20, 40)]
    for judge in (unlikely_fruit, unlikely_yields):
        whole = [_Counted(garden) for garden in gardens]
        done = [_calls(lambda: judge(garden)) for garden in whole]  # type: ignore[arg-type] # noqa: B023
        assert len({garden.asked for garden in whole}) == 1
        assert done[3] - done[2] <= 2.2 * (done[2] - done[1]) + 200, done
    assert len(unlikely_fruit(gardens[1])) == 10
