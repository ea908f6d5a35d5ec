"""One variety spelt in many ways is one; what was named differently on purpose stays two."""

import json
from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from harvestcast.records.garden import open_garden
from harvestcast.records.typed.varieties import one_name_each
from harvestcast.records.writing.add import add_pick
from harvestcast.season.review.varieties import compare_varieties

Maker = Callable[..., Path]
PLANTINGS = "crop,variety,bed,date,how,plants\n"


@pytest.mark.parametrize(
    ("planted", "typed"),
    [
        ("P\u014dk\u0113n\u014d", "Pokeno"),
        ("Jos\u00e9's Red", "Joses red"),
        ("Jose\u0301s Red", "JOS\u00c9S-RED"),
        ("King\u2019s Long", "King's long"),
        ("\u2018Hob Green\u2019", "hobgreen"),
        ("Smørby", "Smorby"),
        ("Hob Green", "Hob  Green (F1)"),
        ("Old Hob Green", "Hob Green"),
        ("Hob", "Hob tomato"),
    ],
)
def test_spellings_are_one(planted: str, typed: str) -> None:
    assert one_name_each([planted, "Wimble"], [typed]) == {
        planted: planted, "Wimble": "Wimble", typed: planted,
    }  # fmt: skip


@pytest.mark.parametrize(
    ("planted", "picked"),
    [
        (["Wimble", "Wimble VF"], ["Wimble", "Wimble VF"]),  # on purpose
        (["Hob Green", "Hob Red"], ["Hob"]),  # two fit
        (["Hob 12 F1"], ["F1", "12"]),  # nothing but a number or two letters
        (["Hob Green"], ["Hob Red"]),
        (["Hob Green"], ["unnamed"]),
        ([], ["Hob", "Hob Green", "Hob Red"]),
    ],
)
def test_other_names_stay_apart(planted: list[str], picked: list[str]) -> None:
    names = [*planted, *picked]
    assert one_name_each(planted, picked) == dict(zip(names, names, strict=True))


def test_letters_of_other_scripts_are_no_accents() -> None:
    names = ["\u304b\u304d", "\u304c\u304d"]  # ka-ki and ga-ki
    assert one_name_each(names, []) == dict(zip(names, names, strict=True))


def test_without_plantings_names_picked_on_one_day_are_two() -> None:
    days = {"Hob": {1, 2}, "Hob Green": {3}}
    assert one_name_each([], list(days), days=days)["Hob"] == "Hob Green"
    days["Hob Green"] = {2, 3}
    assert one_name_each([], list(days), days=days)["Hob"] == "Hob"


SPELT = ("M\u0101rsh Bishop", "marsh bishop", "Marsh Bishop's", "Bishop", "MarshBishop", "Wimble")


def _garden(make: Maker, settings: str = "") -> Path:
    days = pd.date_range("2026-07-01", periods=48)
    lines = []
    for n, day in enumerate(days):
        kg = f"{0.2 * 5:.2f}" if n % 6 == 0 else ""
        lines.append(f"{day.date()},tomato,{SPELT[n % 6]},5,{kg}\n")
        lines.append(f"{day.date()},tomato,Wimble VF,4,{0.05 * 4:.2f}\n")
    return make(
        f"garden{len(settings)}",
        garden=f"elevation_m = 300\n{settings}",
        plantings=PLANTINGS + "tomato,M\u0101rsh Bishop,A,2026-05-01,set_out,6\n"
        "tomato,Wimble,B,2026-05-01,set_out,6\ntomato,Wimble VF,C,2026-05-01,set_out,6\n",
        picks="date,crop,variety,count,weight_kg\n" + "".join(lines),
    )


def test_season_has_one_row_a_variety(make: Maker) -> None:
    garden = open_garden(_garden(make), today="2026-09-01")
    (notice,) = garden.notices[garden.notices["code"] == "variety.spelling"]["facts"]
    assert notice == {
        "crop": "tomato",
        "variety": SPELT[0],
        "spellings": list(SPELT[1:5]),
        "files": ["picks.csv"],
        "lines": 32,
    }
    rows = compare_varieties(garden, year=2026).table["variety"]
    assert sorted(rows) == sorted([SPELT[0], "Wimble", "Wimble VF"])


def test_one_line_keeps_a_spelling_apart(make: Maker) -> None:
    folder = _garden(make, '[crops.tomato]\nvarieties_apart = ["Bishop"]\n')
    picks = open_garden(folder, today="2026-09-01").picks
    assert set(picks["variety"]) == {SPELT[0], "Bishop", "Wimble", "Wimble VF"}


def test_the_line_to_write_is_said_as_it_works(make: Maker) -> None:
    (done,) = (n for n in _done(_garden(make)) if "varieties_apart" in n)
    header, line = "[crops.tomato]", done[done.index("varieties_apart") : done.index("]") + 1]
    assert header in done and json.loads(line.partition("=")[2]) == list(SPELT[1:5])
    folder = _garden(make, f"{header}\n{line}\n")
    assert set(SPELT) <= set(open_garden(folder, today="2026-09-01").picks["variety"])


def _done(folder: Path) -> list[str]:
    return list(open_garden(folder, today="2026-09-01").notices["done"])


def test_counts_take_the_weight_of_their_variety_in_any_spelling(make: Maker) -> None:
    # Marsh Bishop: 200 g a fruit, weighed under one spelling only; Wimble VF: 50 g a fruit.
    table = compare_varieties(open_garden(_garden(make), today="2026-09-01"), year=2026).table
    each = table.set_index("variety")["fruit_kg"]
    assert each[SPELT[0]] == pytest.approx(0.2, rel=0.05)
    assert each["Wimble VF"] == pytest.approx(0.05, rel=0.05)


def test_add_knows_a_variety_by_any_spelling(make: Maker) -> None:
    folder = make(plantings=PLANTINGS + "tomato,M\u0101rsh Bishop,A,2026-05-01,set_out,6\n")
    for typed in ("marsh-bishop", "MARSHBISHOP", "bishop"):
        assert add_pick(folder, "tomato", 3, variety=typed).picks[0].variety == "M\u0101rsh Bishop"


def test_a_name_kept_apart_is_added_as_it_is_and_must_be_met(make: Maker) -> None:
    planted = PLANTINGS + "tomato,M\u0101rsh Bishop,A,2026-05-01,set_out,6\n"
    settings = 'elevation_m = 1\n[crops.tomato]\nvarieties_apart = ["Bishop"]\n'
    folder = make(garden=settings, plantings=planted, picks=None)
    (notice,) = _of(folder, "variety.apart_absent")
    assert notice == {"crop": "tomato", "known": ["M\u0101rsh Bishop"]}
    add_pick(folder, "tomato", 3, variety="Bishop", on="2026-07-20")
    assert list(open_garden(folder).picks["variety"]) == ["Bishop"]
    assert _of(folder, "variety.apart_absent") == []


def _of(folder: Path, code: str) -> list[object]:
    notices = open_garden(folder, today="2026-09-01").notices
    return list(notices[notices["code"] == code]["facts"])
