"""Every kind of broken folder has its message: file, line, column, value, rule and cure."""

from collections.abc import Callable
from pathlib import Path

import pytest

from harvestcast.errors import InputError
from harvestcast.records.garden import check_garden, open_garden
from tests.records.conftest import GOOD

PICKS, WEATHER, PLANTINGS, PANTRY = (
    GOOD[f"{stem}.csv"] for stem in ("picks", "weather", "plantings", "pantry")
)
UNIT_CURE = (
    "Name the unit in the heading (weight_kg, weight_g, weight_lb, weight_oz; count where it was "
    "counted), in a unit column, or behind the number."
)

BROKEN: dict[str, tuple[dict[str, str | bytes | None], list[str]]] = {
    "a date that is no day": (
        {"picks": PICKS + "2026-13-40,cucumber,Fennick,3,,,\n"},
        [
            "picks.csv, line 5, date ('2026-13-40'): the date is no day of the calendar. "
            "Type it like 2026-07-05."
        ],
    ),
    "a date that may be two days": (
        {"picks": PICKS + "7/5/2026,cucumber,Fennick,3,,,\n"},
        [
            "picks.csv, line 5, date ('7/5/2026'): the date may be 7 May 2026 or 5 July 2026. "
            "Type it like 2026-07-05. Or say in garden.toml which comes first: "
            'date_order = "day_first" or "month_first".'
        ],
    ),
    "a date without a year": (
        {"picks": PICKS + "5 July,cucumber,Fennick,3,,,\n"},
        [
            "picks.csv, line 5, date ('5 July'): the date has no year. Add the year, or put it "
            "in the file's name (picks-2026.csv)."
        ],
    ),
    "a wrong weekday": (
        {"picks": PICKS + "Mon 2026-07-21,cucumber,Fennick,3,,,\n"},
        [
            "picks.csv, line 5, date ('Mon 2026-07-21'): the date names the wrong weekday; "
            "21 July 2026 is a Tuesday. Type it like 2026-07-05."
        ],
    ),
    "a year far ahead of every other": (
        {"picks": PICKS + "2062-07-21,cucumber,Fennick,3,,,\n"},
        [
            "picks.csv, line 5, date ('2062-07-21'): the date lies more than a year after today "
            "and every other date. Mend the year."
        ],
    ),
    "a negative count": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,-3,,,\n"},
        [
            "picks.csv, line 5, count ('-3'): the amount is negative. Type the number without "
            "the minus sign; a pick cannot be less than nothing."
        ],
    ),
    "a missing column": (
        {"picks": "date,crop\n2026-07-21,cucumber\n"},
        [
            "picks.csv, line 1, count: there is no column for the count or the weight (headings "
            'found: date, crop). Add a column headed "count", or rename the one that holds it.'
        ],
    ),
    "a weight without a unit": (
        {"picks": "date,crop,variety,weight\n2026-07-21,cucumber,Fennick,3\n"},
        [f"picks.csv, line 2, weight ('3'): the amount has no unit. {UNIT_CURE}"],
    ),
    "an unknown unit": (
        {"picks": "date,crop,variety,weight,unit\n2026-07-21,cucumber,Fennick,3,stone\n"},
        [
            "picks.csv, line 2, unit ('stone'): the unit is not known here. Use kg, g, lb, oz, "
            "each, dozen; or leave it empty where the heading names the unit."
        ],
    ),
    "a measure that says neither count nor weight": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,2 baskets,,,\n"},
        [
            "picks.csv, line 5, count ('2 baskets'): the amount is measured in baskets, which "
            "says neither count nor weight. Type it like 12 or 2 dozen."
        ],
    ),
    "a number that may be two": (
        {"picks": 'date,crop,variety,count\n2026-07-21,cucumber,Fennick,"1,234"\n'},
        [
            "picks.csv, line 2, count ('1,234'): the amount may be 1.234 or 1234. Write it "
            "without a thousands mark, and with the same decimal mark throughout."
        ],
    ),
    "none counted but a weight": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,0,2,,\n"},
        [
            "picks.csv, line 5, count ('0'): the count is 0 but there is a weight. Mend one; "
            "leave it empty where it was not counted."
        ],
    ),
    "two weights that differ": (
        {
            "picks": "date,crop,variety,weight_kg,weight_lb\n2026-07-21,cucumber,Fennick,1,5\n"
            "2026-07-22,cucumber,Fennick,1,2.2046\n"
        },
        [
            "picks.csv, line 2, weight_kg ('5'): the weight is given twice, and differently. "
            "Keep the right one."
        ],
    ),
    "an unknown grade": (
        {"picks": PICKS + "2026-07-21,cucumber,Fennick,3,,huge,\n"},
        [
            "picks.csv, line 5, grade ('huge'): the grade must be good, oversize or damaged. "
            "Use one of these three; leave it empty for good."
        ],
    ),
    "no crop": (
        {"picks": PICKS + "2026-07-21,,Fennick,2,,,\n"},
        ["picks.csv, line 5, crop: there is no crop. Type the crop's name."],
    ),
    "zero bytes": (
        {"picks": b"date,crop,count\n2026-07-01,\0cucumber,3\n"},
        [
            "picks.csv, line 2: holds zero bytes, so it is no text file or was damaged. Open it "
            "in a spreadsheet or editor and save it again as CSV."
        ],
    ),
    "a quotation mark never closed": (
        {"picks": PICKS + '2026-07-21,cucumber,Fennick,3,,,"a note\n2026-07-22,okra,,1,,,\n'},
        [
            "picks.csv, line 5: cannot be split into columns from here on. Look for a quotation "
            "mark that is opened and not closed, or stands inside a text."
        ],
    ),
    "a workbook that is none": (
        {"picks-2.xlsx": b"not a workbook"},
        [
            "picks-2.xlsx: is no spreadsheet, or is locked by a password. Open it in a "
            "spreadsheet program and save it again, or save it as CSV."
        ],
    ),
    "not said how it was planted": (
        {"plantings": PLANTINGS + "okra,,C,2026-05-20,thrown,3\n"},
        [
            "plantings.csv, line 5, how ('thrown'): it must be said how it was planted: sown or "
            "set_out. Type sown where seed went into the bed, set_out where young plants did."
        ],
    ),
    "pulled out before it was planted": (
        {
            "plantings": "crop,variety,date,how,removed\n"
            "cucumber,Fennick,2026-05-20,sown,2026-05-01\ntomato,Brick Row,2026-05-25,set_out,\n"
        },
        [
            "plantings.csv, line 2, removed ('2026-05-01'): the plants were pulled out before "
            "they were planted. Mend one of the two dates."
        ],
    ),
    "two files of plantings": (
        {"plantings-old.csv": PLANTINGS},
        [
            "plantings.csv: there are two files of plantings: plantings-old.csv too. Put them "
            "together in one file."
        ],
    ),
    "lowest above highest temperature": (
        {"weather": WEATHER + "2026-07-21,30,20,0\n"},
        [
            "weather.csv, line 5, tmin_c ('30'): the lowest temperature lies above the highest "
            "(20). Mend the line; perhaps the two were exchanged."
        ],
    ),
    "degrees F under a heading of C": (
        {"weather": WEATHER + "2026-07-21,12,85,0\n"},
        [
            "weather.csv, line 5, tmax_c ('85'): no such temperature is measured (85 degrees C). "
            "Mend the line, or check the unit in the heading."
        ],
    ),
    "temperatures without a unit": (
        {"weather": "date,tmin,tmax\n2026-07-20,13,25\n"},
        [
            "weather.csv, line 2, tmin: it is not said whether the temperature is in degrees C "
            "or F. Name the unit in the heading: tmin_c or tmin_f.",
            "weather.csv, line 2, tmax: it is not said whether the temperature is in degrees C "
            "or F. Name the unit in the heading: tmax_c or tmax_f.",
        ],
    ),
    "rain in words": (
        {"weather": WEATHER + "2026-07-21,12,25,lots\n"},
        [
            "weather.csv, line 5, rain_mm ('lots'): the value is no number. Type a plain number; "
            "leave it empty or type M where it is missing."
        ],
    ),
    "a pantry line without a change": (
        {"pantry": PANTRY + "2026-07-16,dill pickles,pint,,\n"},
        [
            "pantry.csv, line 3, change: there is no change. Type 7 for seven jars put up, -1 "
            "for one eaten."
        ],
    ),
    "settings that cannot be read": (
        {"garden": "elevation_m = 120\nplace = Hill\n"},
        [
            "garden.toml, line 2 ('place = Hill'): the file cannot be read from here on (invalid "
            'value). Text wants quotation marks (place = "Hill farm"), numbers want none, and '
            "each setting its own line."
        ],
    ),
    "a setting misspelt": (
        {"garden": "elevation_m = 3\nelevaton = 3\n"},
        [
            "garden.toml, line 2, elevaton ('3'): this setting is not known. Did you mean "
            "elevation_m?"
        ],
    ),
    "settings out of range": (
        {"garden": 'elevation_ft = 99999\npeople = 0\nlast_frost = "May"\n[hours]\nmon = 2\n'},
        [
            "garden.toml, line 1, elevation_ft ('99999'): must be at most 16404. Type another "
            "number.",
            "garden.toml, line 2, people ('0'): must be more than 0. Type another number.",
            "garden.toml, line 3, last_frost ('May'): must be a month and a day. Write it like "
            '"05-20" for 20 May.',
            "garden.toml, line 5, hours.mon ('mon'): must be 'monday', 'tuesday', 'wednesday', "
            "'thursday', 'friday', 'saturday' or 'sunday'. Use one of these.",
        ],
    ),
    "a pressure canner without its gauge": (
        {"garden": 'elevation_m = 3\n[[equipment]]\nkind = "pressure_canner"\n'},
        [
            'garden.toml, line 2, equipment.0: a pressure canner needs gauge = "dial" or '
            '"weighted". Mend it in garden.toml.'
        ],
    ),
    "one crop with two sets of settings": (
        {"garden": "elevation_m = 3\n[crops.Cucumbers]\n[crops.cucumber]\n"},
        [
            "garden.toml, line 3, crops.cucumber: cucumber has two sets of settings. Put them "
            "together under one heading."
        ],
    ),
    "an elevation in two units": (
        {"garden": "elevation_m = 100\nelevation_ft = 300\n"},
        [
            "garden.toml: elevation_m is given twice, in two units; keep one. Mend it in "
            "garden.toml."
        ],
    ),
}


@pytest.mark.parametrize("kind", sorted(BROKEN))
def test_a_broken_folder_says_what_and_where(kind: str, make: Callable[..., Path]) -> None:
    files, messages = BROKEN[kind]
    folder = make(**files)
    problems, _ = check_garden(folder, today="2026-07-25")
    assert [str(problem) for problem in problems] == messages
    with pytest.raises(InputError) as caught:
        open_garden(folder, today="2026-07-25")
    assert str(caught.value).splitlines() == messages
    for problem in problems:
        assert problem.file and problem.rule and problem.cure.endswith((".", "?"))


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
    assert problems[-1].rule.startswith("800 more lines break the same rule")


def test_a_file_or_nothing_instead_of_a_folder(make: Callable[..., Path]) -> None:
    folder = make()
    for path, rule in (
        (folder / "picks.csv", "is a file, not a folder"),
        (folder / "nowhere", "there is no such folder"),
    ):
        problems, _ = check_garden(path)
        assert [p.rule for p in problems] == [rule]


def test_a_folder_instead_of_a_file(make: Callable[..., Path]) -> None:
    folder = make(pantry=None)
    (folder / "pantry.csv").mkdir()
    problems, _ = check_garden(folder, today="2026-07-25")
    assert [str(p) for p in problems] == [
        "pantry.csv: is a folder, not a file. Put a file of that name in its place."
    ]
