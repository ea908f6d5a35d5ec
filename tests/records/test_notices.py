"""What is odd but usable is said, with what was done about it."""

from collections.abc import Callable
from pathlib import Path

import pandas as pd
import pytest

from harvestcast.records.garden import check_garden, open_garden
from tests.records.conftest import GOOD

PICKS, WEATHER, PLANTINGS, PANTRY = (
    GOOD[f"{stem}.csv"] for stem in ("picks", "weather", "plantings", "pantry")
)
Maker = Callable[..., Path]

ODD: dict[str, tuple[dict[str, str | bytes | None], list[tuple[str, float | None, str, str]]]] = {
    "the same line twice": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,3,,,\n" * 2},
        [
            (
                "picks.csv",
                6,
                "the same pick stands in line 5",
                "counted once; if it was a second basket, say so in its note",
            )
        ],
    ),
    "the same line in two files but for a remark": (
        {
            "picks-copy.csv": "date,crop,variety,count,weight_kg,grade,note\n"
            "2026-07-10,cucumber,Fennick,4,0.5,,from the wall\n"
            "2026-07-10,cucumber,Fennick,4,0.5,,basket 2\n"
        },
        [
            (
                "picks.csv",
                2,
                "the same pick, but for note or bed, stands in line 2 of picks-copy.csv",
                "kept as a second basket; if it is the same one, take one of the lines out",
            )
        ],
    ),
    "the same line twice of a variety in two beds": (
        {
            "picks": PICKS + "2026-07-21,cucumber,Fennick,3,,,\n" * 2,
            "plantings": PLANTINGS + "cucumber,Fennick,C,2026-05-20,sown,12\n",
        },
        [
            (
                "picks.csv",
                6,
                "the same pick stands in line 5",
                "counted once; if it came from another bed, write the beds down, or say in its "
                "note that it was a second basket",
            )
        ],
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
                "1 pick of the cherry tomato brick row, which stands in no planting",
                "kept; the tomato brick row is planted: write tomato for its crop here too, or "
                "cherry tomato there",
            )
        ],
    ),
    "the same line in two files": (
        {"picks-copy.csv": PICKS},
        [
            (
                "picks.csv",
                line,
                f"the same pick stands in line {line} of picks-copy.csv",
                "counted once; if it was a second basket, say so in its note",
            )
            for line in (2, 3, 4)
        ],
    ),
    "two spellings": (
        {"picks": PICKS + "2026-07-21,cucumber,FENNICK,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "the cucumber Fennick is also written FENNICK (1 line)",
                "read as Fennick",
            )
        ],
    ),
    "a variety misspelt": (
        {"picks": PICKS + "2026-07-21,cucumber,Fenick,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "1 pick of the cucumber Fenick, which stands in no planting",
                "kept; did you mean Fennick?",
            )
        ],
    ),
    "no variety": (
        {"picks": PICKS + "2026-07-21,cucumber,,3,,,\n2026-07-21,tomato,,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "1 pick of cucumber without a variety",
                "taken as Fennick, the only one planted",
            ),
            (
                "picks.csv",
                6,
                "1 pick of tomato without a variety",
                "kept without one; planted are: Brick Row, Old Lantern",
            ),
        ],
    ),
    "an unknown crop": (
        {
            "picks": PICKS + "2026-07-21,oca,,3,,,\n",
            "plantings": PLANTINGS + "oca,,C,2026-05-01,set_out,3\n",
        },
        [
            (
                "plantings.csv",
                5,
                "the crop is not in the list",
                "kept as typed, with general figures",
            )
        ],
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
                "squash may be summer squash or winter squash",
                'kept under its own name with general figures; write "summer squash" or '
                '"winter squash"',
            )
        ],
    ),
    "a crop without a planting": (
        {"picks": PICKS + "2026-07-21,okra,,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "okra is picked but stands in no planting",
                "kept; without a planting date it has no forecast of its own",
            )
        ],
    ),
    "a pick before its planting": (
        {"picks": PICKS + "2026-05-01,cucumber,Fennick,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "1 pick of cucumber before its planting of 20 May 2026",
                "kept; check the dates of both",
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
                "1 pick of the cucumber Fennick after it was pulled out",
                "kept; check the date of the pick and the day of removal",
            )
        ],
    ),
    "neither count nor weight": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,,,,\n"},
        [
            (
                "picks.csv",
                5,
                "neither count nor weight is given",
                "the line was left out; type 0 where you looked and found none",
            )
        ],
    ),
    "counted but weighs nothing": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,5,0,,\n"},
        [("picks.csv", 5, "fruit was counted but weighs 0", "taken as not weighed")],
    ),
    "a date ahead of the clock": (
        {"picks": PICKS + "2026-07-28,cucumber,Fennick,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "the date lies after today, by this computer's clock",
                "kept as typed",
            ),
            (
                "weather.csv",
                None,
                "the weather ends 8 days before the last pick or pantry line",
                "the days between are not known; add them for a better forecast",
            ),
        ],
    ),
    "a column nobody knows": (
        {"picks": "date,crop,variety,count,moon\n2026-07-21,cucumber,Fennick,3,full\n"},
        [("picks.csv", 1, "the heading is not known here", "its column was not used")],
    ),
    "a title above the heading": (
        {"picks": "My picks\n" + PICKS},
        [("picks.csv", 1, "the line stands above the heading", "it was not read")],
    ),
    "an old kind of file": (
        {"picks-old.xls": b"x"},
        [
            (
                "picks-old.xls",
                None,
                "a file ending in .xls is not read here",
                "left out; save it as .csv or .xlsx",
            )
        ],
    ),
    "the same planting twice": (
        {"plantings": PLANTINGS + "tomato,Brick Row,B,2026-05-25,set_out,6\n"},
        [
            (
                "plantings.csv",
                5,
                "the same planting stands in line 4",
                "both were kept, as two plantings",
            )
        ],
    ),
    "no elevation": (
        {"garden": "people = 3\n"},
        [
            (
                "garden.toml",
                None,
                "no elevation is given",
                "no canning times are shown; add elevation_m or elevation_ft",
            )
        ],
    ),
    "an unknown jar": (
        {"garden": "elevation_m = 1\n[jars]\ngallons = 3\n"},
        [
            (
                "garden.toml",
                3,
                "this is no size of jar the plan knows",
                "not used; known are freezer_bags, half_pint, lids, pint, quart",
            )
        ],
    ),
    "a day twice in the weather": (
        {"weather": WEATHER + "2026-07-20,1,2,\n"},
        [
            (
                "weather.csv",
                5,
                "1 day written more than once in the weather, 1 of them differently (up to 23.0 "
                "degrees C apart)",
                "the first of each was used; what it lacked was taken from the others",
            )
        ],
    ),
    "an empty file": (
        {"pantry": ""},
        [("pantry.csv", None, "the file is empty", "nothing was read from it")],
    ),
    "no pantry book": (
        {"pantry": None},
        [("pantry.csv", None, "there is no such file", "the shelves are taken as empty")],
    ),
}


@pytest.mark.parametrize("kind", sorted(ODD))
def test_what_is_odd_is_said(kind: str, make: Maker) -> None:
    files, said = ODD[kind]
    problems, notices = check_garden(make(**files), today="2026-07-25")
    assert problems == ()
    plain = notices.astype(object).where(notices.notna(), None)
    found = list(plain[["file", "line", "odd", "done"]].itertuples(index=False, name=None))
    assert found == said


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
    assert garden.notices["odd"].to_list() == [
        "one cucumber would weigh 122 kg (10 lines)",
    ]
    assert garden.notices["done"].to_list() == ["kept as typed; grams under a heading of kg or lb?"]
    assert garden.picks["mass_kg"].max() == 619


@pytest.mark.parametrize(
    ("slips", "said"),
    [
        ([3400], "the next most is 19 fruits"),
        ([190], "the next most is 19 fruits"),
        ([3400, 3400], "a large pick is 19 fruits"),
        ([90], None),
    ],
)
def test_a_slipped_digit(make: Maker, slips: list[int], said: str | None) -> None:
    days = [*range(1, 31)]
    lines = "".join(f"2026-06-{d:02},cucumber,Fennick,{10 + d % 10}\n" for d in days)
    for n, count in enumerate(slips):
        lines += f"2026-07-{20 + n},cucumber,Fennick,{count}\n"
    folder = make(picks=f"date,crop,variety,count\n{lines}")
    odd = open_garden(folder, today="2026-07-25").notices
    odd = odd[odd["odd"].str.startswith("far more")]
    expected = [
        (32 + n, f"far more cucumber than any other day; {said}") for n in range(len(slips))
    ]
    assert list(zip(odd["line"], odd["odd"], strict=True)) == (expected if said else [])


def _daily(days: list[str]) -> str:
    return "date,crop,variety,count\n" + "".join(
        f"{day},cucumber,Fennick,{5 + n}\n" for n, day in enumerate(days)
    )


@pytest.mark.parametrize(
    ("days", "said"),
    [
        (
            ["2026-07-08", "2026-07-09", "2026-08-10", "2026-07-11", "2026-07-12"],
            [(4, "far from the lines around it (9 July 2026 and 11 July 2026)")],
        ),
        (
            ["2026-07-08", "2026-07-09", "2025-07-10", "2026-07-11", "2026-07-12"],
            [(4, "far from the lines around it (9 July 2026 and 11 July 2026)")],
        ),
        (
            [f"2026-07-{d:02d}" for d in range(5, 12)] + ["2026-08-12"],
            [(9, "far from the lines before it (11 July 2026)")],
        ),
        ([f"2026-07-{d:02d}" for d in range(5, 12)] + ["2026-08-05"], []),
        ([f"2026-07-{d:02d}" for d in range(5, 12)] + ["2026-08-12", "2026-08-13"], []),
        # Crop after crop, each in its own order, is no log in the order of the days.
        ([f"2026-0{m}-{d:02d}" for m, d in ((7, 1), (8, 1), (7, 2), (8, 2), (7, 3))], []),
    ],
)
def test_a_month_or_a_year_mistaken(
    make: Maker, days: list[str], said: list[tuple[int, str]]
) -> None:
    garden = open_garden(make(picks=_daily(days)), today="2026-11-25")
    found = garden.notices[garden.notices["odd"].str.startswith("far from")]
    assert [tuple(row) for row in found[["line", "odd"]].to_numpy().tolist()] == said


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
