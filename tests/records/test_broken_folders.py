"""Every kind of broken folder has its message: file, line, column, value, code and facts."""

from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest

from harvestcast.errors import InputError
from harvestcast.records.garden import check_garden, open_garden
from tests.records.conftest import GOOD

PICKS, WEATHER, PLANTINGS, PANTRY = (
    GOOD[f"{stem}.csv"] for stem in ("picks", "weather", "plantings", "pantry")
)
Found = tuple[str, int | None, str, str, str, dict[str, Any]]

BROKEN: dict[str, tuple[dict[str, str | bytes | None], list[Found]]] = {
    "a date that is no day": (
        {"picks": PICKS + "2026-13-40,cucumber,Fennick,3,,,\n"},
        [("picks.csv", 5, "date", "2026-13-40", "date.no_day", {})],
    ),
    "a date that may be two days": (
        {"picks": PICKS + "7/5/2026,cucumber,Fennick,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "date",
                "7/5/2026",
                "date.ambiguous",
                {"first": date(2026, 5, 7), "second": date(2026, 7, 5), "orders": []},
            )
        ],
    ),
    "a date without a year": (
        {"picks": PICKS + "5 July,cucumber,Fennick,3,,,\n"},
        [("picks.csv", 5, "date", "5 July", "date.no_year", {})],
    ),
    "a wrong weekday": (
        {"picks": PICKS + "Mon 2026-07-21,cucumber,Fennick,3,,,\n"},
        [
            (
                "picks.csv",
                5,
                "date",
                "Mon 2026-07-21",
                "date.weekday",
                {"day": date(2026, 7, 21), "weekday": "Tuesday"},
            )
        ],
    ),
    "a year far ahead of every other": (
        {"picks": PICKS + "2062-07-21,cucumber,Fennick,3,,,\n"},
        [("picks.csv", 5, "date", "2062-07-21", "date.far_ahead", {})],
    ),
    "a negative count": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,-3,,,\n"},
        [("picks.csv", 5, "count", "-3", "amount.negative", {"field": "count", "like": "count"})],
    ),
    "a missing column": (
        {"picks": "date,crop\n2026-07-21,cucumber\n"},
        [
            (
                "picks.csv",
                1,
                "count",
                "",
                "column.missing",
                {"field": "count", "meaning": "count or the weight", "headings": "date, crop"},
            )
        ],
    ),
    "a weight without a unit": (
        {"picks": "date,crop,variety,weight\n2026-07-21,cucumber,Fennick,3\n"},
        [("picks.csv", 2, "weight", "3", "number.no_unit", {"field": "mass", "like": "amount"})],
    ),
    "an unknown unit": (
        {"picks": "date,crop,variety,weight,unit\n2026-07-21,cucumber,Fennick,3,stone\n"},
        [
            (
                "picks.csv",
                2,
                "unit",
                "stone",
                "unit.unknown",
                {"units": ["kg", "g", "lb", "oz", "each", "dozen"]},
            )
        ],
    ),
    "a measure that says neither count nor weight": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,2 baskets,,,\n"},
        [
            (
                "picks.csv",
                5,
                "count",
                "2 baskets",
                "amount.volume",
                {"field": "count", "like": "count", "word": "baskets"},
            )
        ],
    ),
    "a number that may be two": (
        {"picks": 'date,crop,variety,count\n2026-07-21,cucumber,Fennick,"1,234"\n'},
        [
            (
                "picks.csv",
                2,
                "count",
                "1,234",
                "number.decimal",
                {"field": "count", "like": "count", "first": "1.234", "second": "1234"},
            )
        ],
    ),
    "none counted but a weight": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,0,2,,\n"},
        [("picks.csv", 5, "count", "0", "amount.weight_of_none", {})],
    ),
    "two weights that differ": (
        {
            "picks": "date,crop,variety,weight_kg,weight_lb\n2026-07-21,cucumber,Fennick,1,5\n"
            "2026-07-22,cucumber,Fennick,1,2.2046\n"
        },
        [("picks.csv", 2, "weight_lb", "5", "amount.two", {"what": "weight"})],
    ),
    "an unknown grade": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,3,,huge,\n"},
        [("picks.csv", 5, "grade", "huge", "grade.unknown", {})],
    ),
    "no crop": (
        {"picks": PICKS + "2026-07-21,,Fennick,2,,,\n"},
        [("picks.csv", 5, "crop", "", "crop.missing", {})],
    ),
    "zero bytes": (
        {"picks": b"date,crop,count\n2026-07-01,\0cucumber,3\n"},
        [("picks.csv", 2, "", "", "file.zero_bytes", {})],
    ),
    "a quotation mark never closed": (
        {"picks": PICKS + '2026-07-21,cucumber,Fennick,3,,,"a note\n2026-07-22,okra,,1,,,\n'},
        [("picks.csv", 5, "", "", "table.broken", {})],
    ),
    "a workbook that is none": (
        {"picks-2.xlsx": b"not a workbook"},
        [("picks-2.xlsx", None, "", "", "sheet.none", {})],
    ),
    "not said how it was planted": (
        {"plantings": PLANTINGS + "okra,,C,2026-05-20,thrown,3\n"},
        [("plantings.csv", 5, "how", "thrown", "planting.how", {})],
    ),
    "not said what stands over it": (
        {
            "plantings": "crop,variety,date,how,cover\n"
            "cucumber,Fennick,2026-05-20,sown,Polytunnel\n"
            "tomato,Brick Row,2026-05-25,set_out,straw\n"
        },
        [("plantings.csv", 3, "cover", "straw", "planting.cover", {})],
    ),
    "pulled out before it was planted": (
        {
            "plantings": "crop,variety,date,how,removed\n"
            "cucumber,Fennick,2026-05-20,sown,2026-05-01\ntomato,Brick Row,2026-05-25,set_out,\n"
        },
        [("plantings.csv", 2, "removed", "2026-05-01", "planting.removed_before", {})],
    ),
    "two files of plantings": (
        {"plantings-old.csv": PLANTINGS},
        [
            (
                "plantings.csv",
                None,
                "",
                "",
                "file.two",
                {"stem": "plantings", "first": "plantings-old.csv"},
            )
        ],
    ),
    "lowest above highest temperature": (
        {"weather": WEATHER + "2026-07-21,30,20,0\n"},
        [("weather.csv", 5, "tmin_c", "30", "weather.exchanged", {"high": "20"})],
    ),
    "degrees F under a heading of C": (
        {"weather": WEATHER + "2026-07-21,12,85,0\n"},
        [("weather.csv", 5, "tmax_c", "85", "weather.temperature", {"celsius": 85.0})],
    ),
    "temperatures without a unit": (
        {"weather": "date,tmin,tmax\n2026-07-20,13,25\n"},
        [
            ("weather.csv", 2, "tmin", "", "weather.no_degrees", {"field": "tmin"}),
            ("weather.csv", 2, "tmax", "", "weather.no_degrees", {"field": "tmax"}),
        ],
    ),
    "rain in words": (
        {"weather": WEATHER + "2026-07-21,12,25,lots\n"},
        [("weather.csv", 5, "rain_mm", "lots", "number.unreadable", {"like": "weather"})],
    ),
    "a pantry line without a change": (
        {"pantry": PANTRY + "2026-07-16,dill pickles,pint,,\n"},
        [("pantry.csv", 3, "change", "", "change.missing", {})],
    ),
    "settings that cannot be read": (
        {"garden": "elevation_m = 120\nplace = Hill\n"},
        [("garden.toml", 2, "", "place = Hill", "setting.broken", {"reason": "invalid value"})],
    ),
    "a setting misspelt": (
        {"garden": "elevation_m = 3\nelevaton = 3\n"},
        [
            (
                "garden.toml",
                2,
                "elevaton",
                "3",
                "setting.unknown",
                {
                    "meant": "elevation_m",
                    "known": [
                        "bed_area_m2",
                        "choices",
                        "counted_on",
                        "crops",
                        "date_order",
                        "day_without_row",
                        "elevation_m",
                        "equipment",
                        "first_frost",
                        "hemisphere",
                        "hours",
                        "jars",
                        "last_frost",
                        "latitude",
                        "people",
                        "place",
                        "recipes",
                        "stock",
                        "stove_places",
                        "targets",
                        "units",
                    ],
                },
            )
        ],
    ),
    "settings out of range": (
        {"garden": 'elevation_ft = 99999\npeople = 0\nlast_frost = "May"\n[hours]\nmon = 2\n'},
        [
            (
                "garden.toml",
                1,
                "elevation_ft",
                "99999",
                "setting.bound",
                {"bound": "at most", "limit": 16404.199475065616},
            ),
            (
                "garden.toml",
                2,
                "people",
                "0",
                "setting.bound",
                {"bound": "more than", "limit": 0.0},
            ),
            ("garden.toml", 3, "last_frost", "May", "setting.month_day", {}),
            (
                "garden.toml",
                5,
                "hours.mon",
                "mon",
                "setting.one_of",
                {
                    "expected": "'monday', 'tuesday', 'wednesday', 'thursday', 'friday', "
                    "'saturday' or 'sunday'"
                },
            ),
        ],
    ),
    "a pressure canner without its gauge": (
        {"garden": 'elevation_m = 3\n[[equipment]]\nkind = "pressure_canner"\n'},
        [("garden.toml", 2, "equipment.0", "", "setting.no_gauge", {})],
    ),
    "one crop with two sets of settings": (
        {"garden": "elevation_m = 3\n[crops.Cucumbers]\n[crops.cucumber]\n"},
        [("garden.toml", 3, "crops.cucumber", "", "setting.crop_twice", {"crop": "cucumber"})],
    ),
    "an elevation in two units": (
        {"garden": "elevation_m = 100\nelevation_ft = 300\n"},
        [("garden.toml", None, "", "", "setting.two_units", {"key": "elevation_m"})],
    ),
}


@pytest.mark.parametrize("kind", sorted(BROKEN))
def test_a_broken_folder_says_what_and_where(kind: str, make: Callable[..., Path]) -> None:
    files, expected = BROKEN[kind]
    folder = make(**files)
    problems, _ = check_garden(folder, today="2026-07-25")
    found = [(p.file, p.line, p.column, p.value, p.code, dict(p.facts)) for p in problems]
    assert found == expected
    with pytest.raises(InputError) as caught:
        open_garden(folder, today="2026-07-25")
    assert caught.value.problems == problems
    for problem in problems:
        assert problem.file and problem.rule and problem.cure.endswith((".", "?"))
        assert str(problem) in str(caught.value)


def test_the_folder_they_are_made_from_is_sound(make: Callable[..., Path]) -> None:
    problems, notices = check_garden(make(), today="2026-07-25")
    assert problems == () and notices.empty


def test_all_files_are_said_at_once(make: Callable[..., Path]) -> None:
    folder = make(
        garden="people = -1\n",
        picks=PICKS + "never,cucumber,,1,,,\n",
        plantings=PLANTINGS + "okra,,,2026-99-01,sown,\n",
        weather=WEATHER + "2026-07-21,30,20,0\n",
        pantry=PANTRY + "2026-07-16,,pint,2,\n",
    )
    problems, _ = check_garden(folder, today="2026-07-25")
    assert [(p.file, p.line) for p in problems] == [
        ("garden.toml", 1),
        ("plantings.csv", 5),
        ("picks.csv", 5),
        ("pantry.csv", 3),
        ("weather.csv", 5),
    ]


def test_a_thousand_lines_of_one_kind_are_counted_not_all_listed(
    make: Callable[..., Path],
) -> None:
    folder = make(picks=PICKS + "2026-07-21,cucumber,Fennick,x,,,\n" * 1000)
    problems, _ = check_garden(folder, today="2026-07-25")
    assert len(problems) == 201
    last = problems[-1]
    assert (last.code, last.facts["number"], last.facts["of"]) == (
        "more.problems",
        800,
        "amount.unknown_unit",
    )


def test_a_file_or_nothing_instead_of_a_folder(make: Callable[..., Path]) -> None:
    folder = make()
    for path, code in (
        (folder / "picks.csv", "folder.is_file"),
        (folder / "nowhere", "folder.missing"),
    ):
        problems, _ = check_garden(path)
        assert [p.code for p in problems] == [code]


def test_a_folder_instead_of_a_file(make: Callable[..., Path]) -> None:
    folder = make(pantry=None)
    (folder / "pantry.csv").mkdir()
    problems, _ = check_garden(folder, today="2026-07-25")
    assert [(p.file, p.code) for p in problems] == [("pantry.csv", "file.is_folder")]
