"""What is odd but usable is said, with what was done about it."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from harvestcast.records.garden import check_garden, open_garden
from tests.records.conftest import GOOD

PICKS, WEATHER, PLANTINGS, PANTRY = (
    GOOD[f"{stem}.csv"] for stem in ("picks", "weather", "plantings", "pantry")
)
Found = tuple[str, float | None, str, dict[str, Any]]
Maker = Callable[..., Path]

ODD: dict[str, tuple[dict[str, str | bytes | None], list[Found]]] = {
    "the same line twice": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,3,,,\n" * 2},
        [("picks.csv", 6, "pick.twice", {"line": 5, "file": "", "beds": False})],
    ),
    "the same line in two files but for a remark": (
        {
            "picks-copy.csv": "date,crop,variety,count,weight_kg,grade,note\n"
            "2026-07-10,cucumber,Fennick,4,0.5,,from the wall\n"
            "2026-07-10,cucumber,Fennick,4,0.5,,basket 2\n"
        },
        [("picks.csv", 2, "pick.alike", {"line": 2, "file": "picks-copy.csv"})],
    ),
    "the same line twice of a variety in two beds": (
        {
            "picks": PICKS + "2026-07-21,cucumber,Fennick,3,,,\n" * 2,
            "plantings": PLANTINGS + "cucumber,Fennick,C,2026-05-20,sown,12\n",
        },
        [("picks.csv", 6, "pick.twice", {"line": 5, "file": "", "beds": True})],
    ),
    "a variety planted under another crop": (
        {
            "picks": PICKS + "2026-07-21,cherry tomato,brick row,3,,,\n",
            "plantings": PLANTINGS + "cherry tomato,Wee Bead,C,2026-05-20,set_out,3\n",
        },
        [
            (
                "picks.csv",
                5,
                "variety.not_planted",
                {
                    "crop": "cherry tomato",
                    "picks": 1,
                    "planted": ["Wee Bead"],
                    "variety": "brick row",
                    "meant": "",
                    "elsewhere": "tomato",
                },
            )
        ],
    ),
    "the same line in two files": (
        {"picks-copy.csv": PICKS},
        [
            ("picks.csv", 2, "pick.twice", {"line": 2, "file": "picks-copy.csv", "beds": False}),
            ("picks.csv", 3, "pick.twice", {"line": 3, "file": "picks-copy.csv", "beds": False}),
            ("picks.csv", 4, "pick.twice", {"line": 4, "file": "picks-copy.csv", "beds": False}),
        ],
    ),
    "two spellings": (
        {"picks": PICKS + "2026-07-21,cucumber,FENNICK,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "variety.spelling",
                {
                    "crop": "cucumber",
                    "variety": "Fennick",
                    "spellings": ["FENNICK"],
                    "files": ["picks.csv"],
                    "lines": 1,
                },
            )
        ],
    ),
    "a variety misspelt": (
        {"picks": PICKS + "2026-07-21,cucumber,Fenick,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "variety.not_planted",
                {
                    "crop": "cucumber",
                    "picks": 1,
                    "planted": ["Fennick"],
                    "variety": "Fenick",
                    "meant": "Fennick",
                    "elsewhere": "",
                },
            )
        ],
    ),
    "no variety": (
        {"picks": PICKS + "2026-07-21,cucumber,,3,,,\n2026-07-21,tomato,,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "variety.only_one",
                {"crop": "cucumber", "picks": 1, "planted": "Fennick"},
            ),
            (
                "picks.csv",
                6,
                "variety.missing",
                {"crop": "tomato", "picks": 1, "planted": ["Brick Row", "Old Lantern"]},
            ),
        ],
    ),
    "an unknown crop": (
        {
            "picks": PICKS + "2026-07-21,oca,,3,,,\n",
            "plantings": PLANTINGS + "oca,,C,2026-05-01,set_out,3\n",
        },
        [("plantings.csv", 5, "crop.unknown", {"crop": "oca", "meant": ""})],
    ),
    "a name of two crops": (
        {
            "picks": PICKS + "2026-07-21,Squash,,3,,,\n",
            "plantings": PLANTINGS + "squash,,C,2026-05-01,sown,3\n",
        },
        [
            (
                "plantings.csv",
                5,
                "crop.one_of_two",
                {"crop": "squash", "crops": ["summer squash", "winter squash"]},
            )
        ],
    ),
    "a crop without a planting": (
        {"picks": PICKS + "2026-07-21,okra,,3,,,\n"},
        [("picks.csv", 5, "pick.crop_not_planted", {"crop": "okra"})],
    ),
    "a pick before its planting": (
        {"picks": PICKS + "2026-05-01,cucumber,Fennick,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "pick.before_planting",
                {"crop": "cucumber", "picks": 1, "year": 2026, "planted": date(2026, 5, 20)},
            )
        ],
    ),
    "a pick after it was pulled out": (
        {
            "plantings": "crop,variety,date,how,removed\n"
            "cucumber,Fennick,2026-05-20,sown,2026-07-11\ntomato,Brick Row,2026-05-25,set_out,\n"
        },
        [
            (
                "picks.csv",
                3,
                "pick.after_removal",
                {"crop": "cucumber", "variety": "Fennick", "picks": 1},
            )
        ],
    ),
    "neither count nor weight": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,,,,\n"},
        [("picks.csv", 5, "amount.missing", {})],
    ),
    "counted but weighs nothing": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,5,0,,\n"},
        [("picks.csv", 5, "amount.weightless", {})],
    ),
    "a date ahead of the clock": (
        {"picks": PICKS + "2026-07-28,cucumber,Fennick,3,,,\n"},
        [
            ("picks.csv", 5, "date.after_today", {}),
            ("weather.csv", None, "weather.short", {"days": 8}),
        ],
    ),
    "a column nobody knows": (
        {"picks": "date,crop,variety,count,moon\n2026-07-21,cucumber,Fennick,3,full\n"},
        [("picks.csv", 1, "heading.unknown", {})],
    ),
    "a title above the heading": (
        {"picks": "My picks\n" + PICKS},
        [("picks.csv", 1, "line.above", {})],
    ),
    "an old kind of file": (
        {"picks-old.xls": b"x"},
        [("picks-old.xls", None, "file.not_read", {"ending": ".xls"})],
    ),
    "the same planting twice": (
        {"plantings": PLANTINGS + "tomato,Brick Row,B,2026-05-25,set_out,6\n"},
        [("plantings.csv", 5, "planting.twice", {"line": 4})],
    ),
    "no elevation": (
        {"garden": "people = 3\n"},
        [("garden.toml", None, "elevation.none", {})],
    ),
    "an unknown jar": (
        {"garden": "elevation_m = 1\n[jars]\nbaskets = 3\n"},
        [
            (
                "garden.toml",
                3,
                "jars.unknown",
                {"known": ["freezer_bags", "half_pint", "lids", "pint", "quart"]},
            )
        ],
    ),
    "a day twice in the weather": (
        {"weather": WEATHER + "2026-07-20,1,2,\n"},
        [
            (
                "weather.csv",
                5,
                "weather.twice",
                {"days": 1, "unlike": 1, "apart_c": 23.0, "forecast": False},
            )
        ],
    ),
    "an empty file": (
        {"pantry": ""},
        [("pantry.csv", None, "file.empty", {})],
    ),
    "no pantry book": (
        {"pantry": None},
        [("pantry.csv", None, "file.missing", {"stem": "pantry"})],
    ),
}


@pytest.mark.parametrize("kind", sorted(ODD))
def test_what_is_odd_is_said(kind: str, make: Maker) -> None:
    files, expected = ODD[kind]
    problems, notices = check_garden(make(**files), today="2026-07-25")
    assert problems == ()
    plain = notices.astype(object).where(notices.notna(), None)
    found = list(plain[["file", "line", "code", "facts"]].itertuples(index=False, name=None))
    assert found == expected
    assert notices["odd"].str.len().gt(0).all() and notices["done"].str.len().gt(0).all()


def test_doubles_are_counted_once(make: Maker) -> None:
    garden = open_garden(make(**{"picks-copy.csv": PICKS}), today="2026-07-25")
    assert len(garden.picks) == 3


def test_a_note_tells_two_equal_baskets_apart(make: Maker) -> None:
    text = PICKS + "2026-07-21,cucumber,Fennick,3,,,\n2026-07-21,cucumber,Fennick,3,,,basket 2\n"
    assert len(open_garden(make(picks=text), today="2026-07-25").picks) == 5


def test_grams_under_a_heading_of_kilograms(make: Maker) -> None:
    lines = "".join(f"2026-07-{d},cucumber,Fennick,5,{600 + d}\n" for d in range(10, 20))
    text = "date,crop,variety,count,weight_kg\n" + lines
    garden = open_garden(make(picks=text), today="2026-07-25")
    assert garden.notices["code"].to_list() == ["amount.fruit_weight"]
    facts = garden.notices["facts"].iloc[0]
    assert (facts["crop"], facts["lines"], facts["grams"]) == ("cucumber", 10, True)
    assert facts["kg"] == pytest.approx(122)
    assert garden.picks["mass_kg"].max() == 619


@pytest.mark.parametrize(
    ("slips", "next_most"),
    [([3400], True), ([190], True), ([3400, 3400], False), ([90], None)],
)
def test_a_slipped_digit(make: Maker, slips: list[int], next_most: bool | None) -> None:
    days = [*range(1, 31)]
    lines = "".join(f"2026-06-{d:02},cucumber,Fennick,{10 + d % 10}\n" for d in days)
    for n, count in enumerate(slips):
        lines += f"2026-07-{20 + n},cucumber,Fennick,{count}\n"
    folder = make(picks=f"date,crop,variety,count\n{lines}")
    odd = open_garden(folder, today="2026-07-25").notices
    odd = odd[odd["code"] == "amount.far_count"]
    facts = {"crop": "cucumber", "usual": 19.0, "next_most": next_most}
    expected = [(32 + n, facts) for n in range(len(slips)) if next_most is not None]
    assert list(zip(odd["line"], odd["facts"], strict=True)) == expected


def _daily(days: list[str]) -> str:
    return "date,crop,variety,count\n" + "".join(
        f"{day},cucumber,Fennick,{5 + n}\n" for n, day in enumerate(days)
    )


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (
            ["2026-07-08", "2026-07-09", "2026-08-10", "2026-07-11", "2026-07-12"],
            [(4, [date(2026, 7, 9), date(2026, 7, 11)])],
        ),
        (
            ["2026-07-08", "2026-07-09", "2025-07-10", "2026-07-11", "2026-07-12"],
            [(4, [date(2026, 7, 9), date(2026, 7, 11)])],
        ),
        (
            [f"2026-07-{d:02d}" for d in range(5, 12)] + ["2026-08-12"],
            [(9, [date(2026, 7, 11)])],
        ),
        ([f"2026-07-{d:02d}" for d in range(5, 12)] + ["2026-08-05"], []),
        ([f"2026-07-{d:02d}" for d in range(5, 12)] + ["2026-08-12", "2026-08-13"], []),
        # Crop after crop, each in its own order, is no log in the order of the days.
        ([f"2026-0{m}-{d:02d}" for m, d in ((7, 1), (8, 1), (7, 2), (8, 2), (7, 3))], []),
    ],
)
def test_a_month_or_a_year_mistaken(
    make: Maker, days: list[str], said: list[tuple[int, list[date]]]
) -> None:
    garden = open_garden(make(picks=_daily(days)), today="2026-11-25")
    found = garden.notices[garden.notices["code"] == "date.stray"]
    assert [
        (line, facts["around"]) for line, facts in zip(found["line"], found["facts"], strict=True)
    ] == said


def test_an_ordinary_log_is_left_in_peace(make: Maker) -> None:
    """Ordinary growth, from a first small pick to a glut a hundred times as large."""
    lines = "".join(
        f"2026-07-{d:02d},zucchini,Long Tom,{n},{0.25 * n:.2f}\n"
        for d, n in enumerate([1, 1, 2, 4, 9, 15, 30, 55, 80, 100, 90], 5)
    )
    plantings = "crop,variety,date,how\nzucchini,Long Tom,2026-05-20,sown\n"
    garden = open_garden(
        make(picks=f"date,crop,variety,count,weight_kg\n{lines}", plantings=plantings),
        today="2026-07-25",
    )
    assert garden.notices.empty


def test_last_years_garlic_belongs_to_its_autumn_planting(make: Maker) -> None:
    plantings = PLANTINGS + "garlic,,C,2025-10-15,set_out,60\nasparagus,,D,,,\n"
    picks = PICKS + "2026-07-05,garlic,,60,,,\n2026-05-05,asparagus,,20,,,\n"
    garden = open_garden(make(plantings=plantings, picks=picks), today="2026-07-25")
    assert garden.notices.empty
    assert garden.plantings["date"].isna().sum() == 1
    assert garden.picks["date"].max() == pd.Timestamp("2026-07-20")
