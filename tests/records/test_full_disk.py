"""Where the disk is full, a file is written whole or not at all."""

import errno
import resource
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from harvestcast.records.garden import open_garden
from harvestcast.records.writing.safely import new_file, replace_file
from harvestcast.records.writing.sheet import write_template
from harvestcast.records.writing.start import start_garden
from tests.records.conftest import GOOD, refused


@contextmanager
def room_for(most: int) -> Iterator[None]:
    """Let this process write no file longer than that: the system refuses as on a full disk."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))


@pytest.mark.parametrize("most", [0, 40, 500])
def test_no_half_begun_garden_stays(most: int, tmp_path: Path) -> None:
    with room_for(most), refused("file.not_written"):
        start_garden(tmp_path / "g")
    assert list(tmp_path.iterdir()) == []
    kept = tmp_path / "g"
    kept.mkdir()
    (kept / "picks.csv").write_text("mine")
    with room_for(most), refused("file.not_written"):
        start_garden(kept)
    assert [(p.name, p.read_text()) for p in kept.iterdir()] == [("picks.csv", "mine")]


def test_no_empty_sheet_stays(
    make: Callable[..., Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    garden = open_garden(make(), today="2026-07-25")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with refused("file.not_written") as caught:
        write_template(garden, tmp_path / "picks.xlsx")
    (problem,) = caught.value.problems  # type: ignore[union-attr]
    assert problem.facts["reason"].startswith("No space left")
    assert not (tmp_path / "picks.xlsx").exists()
    assert len(list((tmp_path / "garden").iterdir())) == len(GOOD)


def test_neither_way_of_writing_leaves_a_piece(tmp_path: Path) -> None:
    old = tmp_path / "old.csv"
    old.write_bytes(b"whole")
    with room_for(3):
        for write, path in ((new_file, tmp_path / "new.csv"), (replace_file, old)):
            with refused("file.not_written"):
                write(path, b"too long")
    assert [(p.name, p.read_bytes()) for p in tmp_path.iterdir()] == [("old.csv", b"whole")]
    with pytest.raises(FileExistsError):
        new_file(old, b"x")
    assert [(p.name, p.read_bytes()) for p in tmp_path.iterdir()] == [("old.csv", b"whole")]
