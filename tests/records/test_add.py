"""A pick is written down in the file's own hand, once, whatever happens."""

import datetime as dt
import os
import random
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from harvestcast.errors import InputError
from harvestcast.records.garden import open_garden
from harvestcast.records.messages import Remark
from harvestcast.records.writing.add import add_pick, undo_last
from harvestcast.records.writing.safely import folder_lock
from harvestcast.records.writing.start import start_garden
from tests.records.conftest import GOOD, refused

Maker = Callable[..., Path]
TODAY = dt.date(2026, 7, 25)
HAND = "crop;Datum;date;Variety;how many;weight kg;moon;note"


def add(folder: Path, *words: str, **more: object) -> object:
    return add_pick(folder, *words, today=TODAY, **more)  # type: ignore[arg-type]


def added(before: bytes, folder: Path, file: str = "picks.csv") -> bytes:
    after = (folder / file).read_bytes()
    assert after.startswith(before)
    return after[len(before) :]


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-be", "cp1252"])
@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("closed", [True, False])
@pytest.mark.parametrize("mark", [";", ","])
def test_only_the_line_is_added_in_the_files_own_hand(
    make: Maker, encoding: str, end: str, closed: bool, mark: str
) -> None:
    decimal = "," if mark != "," else "."
    rows = [
        "crop|day|Variety|how many|weight kg|moon|note",
        f"cucumber|2026-07-10|Fennick|4|0{decimal}5|full|grün",
    ]
    text = end.join(row.replace("|", mark) for row in rows) + (end if closed else "")
    content = text.encode(encoding)
    folder = make(picks=content)
    add(folder, "cucumbers", "3", weight="1.25 kg", on="yesterday", note="früh")
    plain = encoding.replace("-sig", "") if encoding != "utf-16" else "utf-16-le"
    line = f"cucumber|2026-07-24|Fennick|3|1{decimal}25||früh".replace("|", mark)
    assert added(content, folder).decode(plain) == ("" if closed else end) + line + end
    picks = open_garden(folder, today=TODAY).picks
    assert picks["mass_kg"].to_list() == pytest.approx([0.5, 1.25])
    assert picks["note"].to_list() == ["grün", "früh"]
    undo_last(folder)
    assert (folder / "picks.csv").read_bytes() == content


@pytest.mark.parametrize(
    ("words", "more", "line"),
    [
        (("cucumber", "34"), {}, "2026-07-25,cucumber,Fennick,34,,,"),
        (("Cukes", "2 dozen"), {"on": "friday"}, "2026-07-24,cucumber,Fennick,24,,,"),
        (("tomato", "3 lb 4 oz"), {"variety": "bri"}, "2026-07-25,tomato,Brick Row,,1.4742,,"),
        (("tomato", "none"), {}, "2026-07-25,tomato,,0,,,"),
        (("tomato", "1/2 kg"), {"variety": "New One"}, "2026-07-25,tomato,New One,,0.5,,"),
        (("cucumber", "3"), {"grade": "oversize"}, "2026-07-25,cucumber,Fennick,3,,oversize,"),
        (("cucumber", "3"), {"note": "=1+1"}, "2026-07-25,cucumber,Fennick,3,,,'=1+1"),
        (("cucumber", "3"), {"note": "a\nb, c"}, '2026-07-25,cucumber,Fennick,3,,,"a b, c"'),
        (("cucumber", 5), {"on": "12 July"}, "2026-07-12,cucumber,Fennick,5,,,"),
    ],
)
def test_short_forms(make: Maker, words: tuple[str, ...], more: dict[str, str], line: str) -> None:
    folder = make()
    before = (folder / "picks.csv").read_bytes()
    add(folder, *words, **more)
    assert added(before, folder).decode() == line + "\n"


def test_oversize_beside_the_good_ones(make: Maker) -> None:
    folder = make()
    entry = add(folder, "cucumber", "34", weight="5.2lb", oversize="3", note="wet")
    assert entry.lines == (  # type: ignore[attr-defined]
        "2026-07-25,cucumber,Fennick,34,2.3587,,wet",
        "2026-07-25,cucumber,Fennick,3,,oversize,",
    )
    assert entry.says == "cucumber Fennick, 2026-07-25: 34, 2.36 kg; 3 oversize"  # type: ignore[attr-defined]
    undo_last(folder)
    assert (folder / "picks.csv").read_text() == GOOD["picks.csv"]


def test_what_is_not_understood_is_said_at_once_and_nothing_written(make: Maker) -> None:
    folder = make()
    before = sorted((p.name, p.read_bytes()) for p in folder.iterdir())
    with pytest.raises(InputError) as caught:
        add(folder, "cucmber", "lots", on="tomorrow", weight="5", grade="huge", hours="ages")
    found = caught.value.problems
    assert {p.file for p in found} == {"what you typed"} and {p.line for p in found} == {None}
    assert [(p.column, p.value, p.code) for p in found] == [
        ("crop", "cucmber", "crop.not_known"),
        ("on", "tomorrow", "date.unreadable"),
        ("amount", "lots", "amount.unknown_unit"),
        ("weight", "5", "number.no_unit"),
        ("grade", "huge", "grade.unknown"),
        ("hours", "ages", "hours.unreadable"),
    ]
    assert found[0].facts["meant"] == "cucumber" and found[2].facts["word"] == "lots"
    assert "5lb or 5kg" in found[3].cure
    assert sorted((p.name, p.read_bytes()) for p in folder.iterdir()) == before


@pytest.mark.parametrize(
    ("more", "code"),
    [
        ({"on": "2026-07-26"}, "date.future"),
        ({"on": "5/7/2026"}, "date.ambiguous"),
        ({"amount": ""}, "amount.none_typed"),
        ({"amount": "-2"}, "amount.negative"),
        ({"amount": "3 kg", "weight": "3 kg"}, "amount.given_twice"),
        ({"crop": "squash"}, "crop.not_known"),
        ({"crop": ""}, "crop.missing"),
    ],
)
def test_refused(make: Maker, more: dict[str, str], code: str) -> None:
    with refused(code):
        add(make(), **{"crop": "cucumber", "amount": "3", **more})


def test_an_equal_basket_is_told_apart(make: Maker) -> None:
    folder = make()
    for _ in range(3):
        add(folder, "cucumber", "12")
    picks = open_garden(folder, today=TODAY).picks
    assert picks["count"].fillna(0).sum() == 4 + 7 + 36
    assert picks["note"].dropna().to_list() == ["basket 2", "basket 3"]


def test_a_file_without_room_for_a_part_is_left_alone(make: Maker) -> None:
    text = "date,crop,count\n2026-07-10,cucumber,4\n"
    folder = make(picks=text)
    entry = add(folder, "cucumber", "3", weight="1 kg")
    assert (folder / "picks.csv").read_text() == text
    assert entry.file == "picks-2026-added.csv"  # type: ignore[attr-defined]
    assert open_garden(folder, today=TODAY).picks["count"].to_list() == [4, 3]


@pytest.mark.parametrize(
    "content", [b"date,crop,count\n1,2,\0\n", b'date,crop,count\n2026-07-10,"okra,3\n', b"\xff"]
)
def test_a_broken_log_loses_no_pick(make: Maker, content: bytes) -> None:
    folder = make(picks=content)
    entry = add(folder, "cucumber", "3")
    assert (folder / "picks.csv").read_bytes() == content
    assert entry.file == "picks-2026-added.csv"  # type: ignore[attr-defined]


def test_letters_the_file_cannot_hold_go_to_another(make: Maker) -> None:
    content = "date,crop,count,note\n2026-07-10,cucumber,4,grün\n".encode("cp1252")
    folder = make(picks=content)
    entry = add(folder, "cucumber", "3", note="🍅")
    assert (folder / "picks.csv").read_bytes() == content
    assert entry.file == "picks-2026-added.csv"  # type: ignore[attr-defined]
    assert "🍅" in open_garden(folder, today=TODAY).picks["note"].to_list()


def test_the_log_of_the_year_is_chosen(make: Maker) -> None:
    head = "date,crop,count\n"
    folder = make(picks=None, **{"picks-2025.csv": head, "picks-2026.csv": head})
    assert add(folder, "cucumber", "3").file == "picks-2026.csv"  # type: ignore[attr-defined]
    assert add(folder, "cucumber", "3", on="2025-08-01").file == "picks-2025.csv"  # type: ignore[attr-defined]
    assert add(folder, "cucumber", "3", on="2024-08-01").file == "picks-2024.csv"  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    "logs",
    [
        {"picks-2025.csv": "date,crop,count\n", "picks-2026.csv": "date,crop,count\n"},
        {"picks.csv": "date,crop,count\n2025-07-01,cucumber,4\n2026-07-01,cucumber,4\n"},
    ],
)
def test_a_pick_of_an_earlier_season_is_said(make: Maker, logs: dict[str, str]) -> None:
    folder = make(picks=None, **logs)
    remarks = add(folder, "cucumber", "3", on="2025-08-01").remarks  # type: ignore[attr-defined]
    assert remarks == (Remark("log.earlier_season", {"year": "2025", "newest": "2026"}),)
    assert add(folder, "cucumber", "3").remarks == ()  # type: ignore[attr-defined]


def test_a_unit_column_is_filled(make: Maker) -> None:
    folder = make(picks="date,crop,variety,amount,unit\n2026-07-10,cucumber,Fennick,500,g\n")
    assert add(folder, "cucumber", "2 lb").lines == ("2026-07-25,cucumber,Fennick,2,lb",)  # type: ignore[attr-defined]
    assert add(folder, "cucumber", "7").lines == ("2026-07-25,cucumber,Fennick,7,each",)  # type: ignore[attr-defined]
    picks = open_garden(folder, today=TODAY).picks
    assert picks["mass_kg"].to_list()[:2] == pytest.approx([0.5, 2 * 0.45359237], abs=1e-4)


def test_undo_goes_back_step_by_step_and_no_further(make: Maker) -> None:
    folder = make()
    for count in ("1", "2", "3"):
        add(folder, "cucumber", count)
    said = [undo_last(folder).says for _ in range(3)]
    assert [text.rpartition(" ")[2] for text in said] == ["3", "2", "1"]
    assert (folder / "picks.csv").read_text() == GOOD["picks.csv"]
    with refused("entry.none"):
        undo_last(folder)


def test_undo_takes_the_line_wherever_it_stands_but_only_unchanged(make: Maker) -> None:
    folder = make()
    add(folder, "cucumber", "41")
    path = folder / "picks.csv"
    lines = path.read_text().splitlines(keepends=True)
    path.write_text("".join([*lines[:2], lines[-1], *lines[2:-1]]))
    undo_last(folder)
    assert path.read_text() == GOOD["picks.csv"]
    add(folder, "cucumber", "41")
    path.write_text(path.read_text().replace(",41,", ",42,"))
    with refused("entry.changed"):
        undo_last(folder)
    assert ",42," in path.read_text()


def test_a_note_from_elsewhere_cannot_reach_outside_the_folder(make: Maker) -> None:
    folder = make()
    outside = folder.parent / "outside.csv"
    outside.write_text("date,crop,count\nx\n")
    (folder / ".harvestcast-entries").write_text(
        '[{"file": "../outside.csv", "added": "x\\n", "before": "", "after": "", "says": ""}]'
    )
    with refused("entry.none"):
        undo_last(folder)
    assert outside.read_text().endswith("x\n")


def test_a_held_lock_is_waited_for_and_then_said(make: Maker) -> None:
    folder = make()
    with (
        folder_lock(folder),
        refused("folder.locked"),
        folder_lock(folder, wait_s=0.05),
    ):
        pass
    with folder_lock(folder, wait_s=0.05):
        pass


@pytest.mark.skipif(os.name != "posix" or os.geteuid() == 0, reason="needs rights to be refused")
def test_a_folder_that_cannot_be_written_to(make: Maker) -> None:
    folder = make()
    folder.chmod(0o500)
    try:
        with refused("file.not_written"):
            add(folder, "cucumber", "3")
    finally:
        folder.chmod(0o700)


WRITER = """
import datetime as dt, sys
from harvestcast.records.writing.add import add_pick
folder, first, number = sys.argv[1], int(sys.argv[2]), int(sys.argv[3])
print("ready", flush=True)
for n in range(first, first + number):
    add_pick(folder, "okra", str(n), today=dt.date(2026, 7, 25))
    print(n, flush=True)
"""


def _start(folder: Path, first: int, number: int) -> "subprocess.Popen[str]":
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(folder), str(first), str(number)],
        stdout=subprocess.PIPE,
        text=True,
    )


def _counts(folder: Path) -> list[int]:
    # Opening raises where anything must be mended.
    return [int(count) for count in open_garden(folder, today=TODAY).picks["count"]]


@pytest.mark.parametrize(
    ("writers", "picks"), [(3, 6), pytest.param(4, 100, marks=pytest.mark.statistics)]
)
def test_many_terminals_at_once_lose_and_double_nothing(
    writers: int, picks: int, tmp_path: Path
) -> None:
    start_garden(tmp_path / "g", elevation_m=1, today=TODAY)
    running = [_start(tmp_path / "g", 1 + k * picks, picks) for k in range(writers)]
    said = [process.communicate()[0].split()[1:] for process in running]
    assert all(process.returncode == 0 for process in running)
    assert sorted(_counts(tmp_path / "g")) == list(range(1, 1 + writers * picks))
    assert sorted(int(n) for part in said for n in part) == list(range(1, 1 + writers * picks))


VICTIMS = """
import datetime as dt, os, sys
from harvestcast.records.writing.add import add_pick
from harvestcast.records.messages import Remark
for line in sys.stdin:
    first = int(line)
    child = os.fork()
    if child == 0:
        for n in range(first, first + 1000):
            add_pick(sys.argv[1], "okra", str(n), today=dt.date(2026, 7, 25))
            os.write(1, f"{n}\\n".encode())
        os._exit(0)
    os.write(1, f"started {child}\\n".encode())
    os.waitpid(child, 0)
    os.write(1, b"ended\\n")
"""
"""Starts a process of its own for every line it reads, and says when that process is gone."""


@pytest.mark.skipif(not hasattr(os, "fork"), reason="kills processes that were forked")
@pytest.mark.parametrize("kills", [10, pytest.param(100, marks=pytest.mark.statistics)])
def test_a_kill_at_any_moment_loses_and_doubles_nothing(kills: int, tmp_path: Path) -> None:
    """What was confirmed stands once; what was not stands once or not at all."""
    folder = tmp_path / "g"
    start_garden(folder, elevation_m=1, today=TODAY)
    moments = random.Random(1)
    first, confirmed, interrupted = 1, set(), 0
    with subprocess.Popen(
        [sys.executable, "-c", VICTIMS, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as starter:
        assert starter.stdin is not None and starter.stdout is not None
        for _ in range(kills):
            starter.stdin.write(f"{first}\n")
            starter.stdin.flush()
            done = []
            while not (line := starter.stdout.readline()).startswith("started"):
                done.append(int(line))  # the new process may be faster than its parent
            time.sleep(moments.uniform(0.0, 0.12))
            os.kill(int(line.split()[1]), signal.SIGKILL)
            while (line := starter.stdout.readline()) != "ended\n":
                done.append(int(line))
            confirmed |= set(done)
            standing = _counts(folder)
            assert len(standing) == len(set(standing))
            assert set(standing) >= confirmed
            assert set(standing) <= confirmed | {max([first - 1, *done]) + 1} | set(range(1, first))
            leftovers = [p for p in folder.iterdir() if p.name.startswith(".harvestcast-new")]
            unsaid = {n for n in standing if n >= first} - set(done)
            interrupted += bool(unsaid) or bool(leftovers)
            first = max([first, *standing, *(n + 1 for n in done)]) + 1
        starter.stdin.close()
    assert kills < 100 or interrupted >= 5  # moments that hit the middle of a write
    last = add_pick(folder, "okra", str(first), today=TODAY)
    assert undo_last(folder).lines == last.lines
    assert len(_counts(folder)) == len(standing)
    leftovers = [p for p in folder.iterdir() if p.name.startswith(".harvestcast-new")]
    assert leftovers == []


def test_a_variety_typed_as_the_crop_is_led_to_its_crop(tmp_path: Path) -> None:
    (tmp_path / "plantings.csv").write_text(
        "date,crop,variety,how,plants\n2026-05-14,cucumbers,Long Friar,sown,10\n", "utf-8"
    )
    with pytest.raises(InputError) as told:
        add_pick(tmp_path, "long friar", "12", on="2026-07-19", today=dt.date(2026, 7, 20))
    (problem,) = told.value.problems
    assert (problem.code, problem.facts["belongs"]) == (
        "crop.not_known",
        ["cucumber", "Long Friar"],
    )
    assert '--variety "Long Friar"' in problem.cure
