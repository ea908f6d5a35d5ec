"""A garden folder becomes checked, frozen frames in metric units."""

import dataclasses
import pickle
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from harvestcast.errors import FrameError
from harvestcast.frames import NOTICES, PANTRY, PICKS, PLANTINGS, WEATHER, check_frame
from harvestcast.records.garden import Garden, garden_from_frames, open_garden
from harvestcast.records.household import Household

Maker = Callable[..., Path]
TODAY = "2026-07-25"


def test_frames_are_as_specified(make: Maker) -> None:
    garden = open_garden(make(), today=TODAY)
    for name, spec in (
        ("picks", PICKS),
        ("plantings", PLANTINGS),
        ("weather", WEATHER),
        ("pantry", PANTRY),
        ("notices", NOTICES),
    ):
        frame = getattr(garden, name)
        pd.testing.assert_frame_equal(frame, check_frame(frame, spec))
    assert garden.picks["mass_kg"].to_list() == [0.5, 0.9, 1.2]
    assert garden.picks["line"].to_list() == [2, 3, 4]
    assert garden.household.elevation_m == 120
    assert garden.last_day == pd.Timestamp("2026-07-20")
    assert garden.name == "garden"


def test_frames_leave_as_copies_and_the_garden_is_frozen(make: Maker) -> None:
    garden = open_garden(make(), today=TODAY)
    mine = garden.picks
    mine.loc[0, "mass_kg"] = 99.0
    assert garden.picks.loc[0, "mass_kg"] == 0.5
    with pytest.raises(dataclasses.FrozenInstanceError):
        garden.name = "other"  # type: ignore[misc]
    shorter = dataclasses.replace(garden, picks=garden.picks.iloc[:1])
    assert len(shorter.picks) == 1 and len(garden.picks) == 3


def test_a_garden_survives_pickling(make: Maker) -> None:
    garden = open_garden(make(), today=TODAY)
    twin = pickle.loads(pickle.dumps(garden))
    assert twin.household == garden.household
    pd.testing.assert_frame_equal(twin.weather, garden.weather)


def test_customary_units_are_converted_at_the_door(make: Maker) -> None:
    garden = open_garden(
        make(
            garden='units = "us"\nelevation_ft = 1000\n',
            picks="date,crop,variety,weight_lb\n2026-07-10,cucumber,Fennick,2\n"
            "2026-07-11,cucumber,Fennick,3 lb 4 oz\n",
            plantings="crop,variety,date,how,row_ft\ncucumber,Fennick,2026-05-20,sown,10\n",
            weather="date,tmin_f,tmax_f,rain_in\n2026-07-09,50,86,1\n2026-07-10,32,212,0\n".replace(
                "212", "104"
            ),
            pantry="date,product,jar,change,produce_lb\n2026-07-10,Dill  Pickles,Pint,7,10\n",
        ),
        today=TODAY,
    )
    # NIST SP 811 (2008), section B.8 and B.9: 1 lb = 0.45359237 kg, 1 ft = 0.3048 m,
    # t/degC = (t/degF - 32)/1.8, 1 in = 25.4 mm (all exact; written from memory).
    assert garden.household.elevation_m == pytest.approx(304.8)
    assert garden.picks["mass_kg"].to_list() == pytest.approx([0.90718474, 3.25 * 0.45359237])
    assert garden.plantings["row_m"].to_list() == pytest.approx([3.048])
    assert garden.weather["tmin_c"].to_list() == pytest.approx([10, 0])
    assert garden.weather["tmax_c"].to_list() == pytest.approx([30, 40])
    assert garden.weather["rain_mm"].to_list() == pytest.approx([25.4, 0])
    assert garden.pantry["produce_kg"].to_list() == pytest.approx([4.5359237])
    assert garden.pantry["product"].to_list() == ["dill pickles"]


@pytest.mark.parametrize(
    "text",
    [
        "Date;Vegetable;Variety;Weight (g)\n2026-07-10;Cucumbers;Fennick;500\n",
        "day\tcrop\tcultivar\tgrams\n10 July 2026\tcuke\tFennick\t500\n",
        "date|what|variety|how much|unit\n2026-07-10|CUCUMBER|Fennick|0,5|Kilos\n",
        "when,veg,variety,amount\n2026-07-10,cucumber,Fennick,1/2 kg\n",
        "My picks\n\ndate,crop,variety,amount,unit\n2026-07-10,cucumber,Fennick,500,grams\n",
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_one_pick_in_many_hands(make: Maker, text: str, encoding: str) -> None:
    garden = open_garden(make(picks=text.encode(encoding)), today=TODAY)
    picks = garden.picks
    assert picks["crop"].to_list() == ["cucumber"]
    assert picks["variety"].to_list() == ["Fennick"]
    assert picks["mass_kg"].to_list() == pytest.approx([0.5])
    assert picks["date"].to_list() == [pd.Timestamp("2026-07-10")]


def test_what_a_count_of_none_means(make: Maker) -> None:
    text = (
        "date,crop,variety,count,weight_kg\n2026-07-10,cucumber,Fennick,0,\n"
        "2026-07-11,cucumber,Fennick,,0\n2026-07-12,cucumber,Fennick,3,\n"
        "2026-07-13,cucumber,Fennick,none,\n"
    )
    picks = open_garden(make(picks=text), today=TODAY).picks
    assert picks["count"].to_list() == [0, 0, 3, 0]
    assert picks["mass_kg"].fillna(-1).to_list() == [0, 0, -1, 0]


def test_grades_may_stand_in_columns_of_their_own(make: Maker) -> None:
    text = "date,crop,variety,count,oversize\n2026-07-10,cucumber,Fennick,12,3\n"
    picks = open_garden(make(picks=text), today=TODAY).picks
    assert picks[["count", "grade"]].to_numpy().tolist() == [[12, "good"], [3, "oversize"]]


def test_several_pick_files_are_one_log(make: Maker) -> None:
    more = {"picks-2025.csv": "date,crop,count\n2025-07-01,cucumber,2\n"}
    garden = open_garden(make(**more), today=TODAY)
    assert garden.picks["file"].to_list() == ["picks-2025.csv", *["picks.csv"] * 3]


def test_the_households_own_names_hold_everywhere(make: Maker) -> None:
    garden = open_garden(
        make(
            garden='elevation_m = 1\n[crops."Winter Squash"]\naliases = ["squash", "Big ones"]\n'
            "[crops.Oca]\nfruit_kg = 0.03\n",
            picks="date,crop,variety,count\n2026-07-18,Squash,,2\n2026-07-19,big ones,,1\n"
            "2026-07-20,oca,,9\n",
            plantings="crop,date,how\nwinter squash,2026-05-20,sown\noca,2026-05-20,set_out\n",
        ),
        today=TODAY,
    )
    assert set(garden.household.crops) == {"winter squash", "oca"}
    assert garden.picks["crop"].to_list() == ["winter squash", "winter squash", "oca"]
    assert garden.notices.empty


def test_empty_logs_are_empty_frames(make: Maker) -> None:
    garden = open_garden(
        make(
            picks="date,crop,count\n",
            plantings="crop,date,how\n",
            weather="date,tmin_c,tmax_c\n",
            pantry="date,product,change\n",
        ),
        today=TODAY,
    )
    assert garden.last_day is None
    assert all(len(getattr(garden, n)) == 0 for n in ("picks", "plantings", "weather", "pantry"))


def test_a_garden_without_files() -> None:
    days = pd.date_range("2026-07-01", periods=3)
    garden = garden_from_frames(
        picks=pd.DataFrame({"date": days[::-1], "crop": "kale", "mass_kg": [1.0, np.nan, 0.0]}),
        weather=pd.DataFrame({"date": days, "tmin_c": 10.0, "tmax_c": 20.0}),
        name="trial",
        household=Household(people=3),
    )
    assert garden.picks["date"].is_monotonic_increasing
    assert set(garden.picks["variety"]) == {"unnamed"} and set(garden.picks["grade"]) == {"good"}
    assert set(garden.weather["kind"]) == {"observed"}
    assert garden.folder is None and garden.last_day == days[2]
    for name, spec in (("picks", PICKS), ("plantings", PLANTINGS), ("weather", WEATHER)):
        frame = getattr(garden, name)
        pd.testing.assert_frame_equal(frame, check_frame(frame, spec))


def test_a_frame_that_breaks_its_specification_is_refused() -> None:
    days = pd.to_datetime(["2026-07-01"])
    bad = pd.DataFrame({"date": days, "crop": ["kale"], "mass_kg": [-1.0]})
    with pytest.raises(FrameError, match="mass_kg"):
        garden_from_frames(picks=bad)


def test_the_invented_garden_opens(sample_folder: Path) -> None:
    garden = open_garden(sample_folder)
    assert isinstance(garden, Garden)
    assert garden.picks["crop"].nunique() >= 8
    assert garden.weather["date"].dt.year.nunique() >= 9


def test_a_real_log_opens_line_by_line(shared: Callable[[str], Path], make: Maker) -> None:
    """Every line of a real log is read; totals agree with an independent reading of the file."""
    source = shared("data/home_garden_2020/picks.csv")
    weather = shared("data/home_garden_2020/weather.csv")
    garden = open_garden(
        make(
            picks=source.read_bytes(),
            weather=weather.read_bytes(),
            plantings="crop,date,how\n",
            pantry=None,
        )
    )
    plain = pd.read_csv(source)
    assert len(garden.picks) == len(plain)
    assert garden.picks["mass_kg"].sum() == pytest.approx(plain["weight"].sum() / 1000)
    by_crop = garden.picks.groupby("crop")["mass_kg"].sum()
    assert by_crop["tomato"] == pytest.approx(
        plain.loc[plain["vegetable"] == "tomatoes", "weight"].sum() / 1000
    )
    days = pd.read_csv(weather, parse_dates=["date"])
    record = garden.weather.set_index("date")["tmax_c"].reindex(days["date"]).to_numpy()
    fahrenheit = pd.to_numeric(days["tmax_f"], errors="coerce").to_numpy()
    assert np.nanmax(np.abs(record - (fahrenheit - 32) / 1.8)) < 0.01
    traces = (days["precip_in"] == "T").to_numpy()
    rain = garden.weather.set_index("date")["rain_mm"].reindex(days["date"]).to_numpy()
    assert traces.sum() > 100 and (rain[traces] == 0).all()


@pytest.mark.parametrize(
    ("heading", "typed", "read"),
    [
        ("cover", "glass", "glass"),
        ("Cover", "High tunnel", "glass"),
        ("under", "Greenhouse", "glass"),
        ("Abdeckung", "Gew\u00e4chshaus", "glass"),
        ("abri", "serre", "glass"),
        ("cover", "", None),
    ],
)
def test_what_stands_over_a_planting_is_read_as_one_word(
    make: Callable[..., Path], heading: str, typed: str, read: str | None
) -> None:
    head = f"crop,variety,date,how,{heading}\n"
    folder = make(
        plantings=head + f"cucumber,Fennick,2026-05-20,sown,{typed}\n"
        "tomato,Brick Row,2026-05-25,set_out,\n"
    )
    cover = open_garden(folder).plantings["cover"]
    assert (None if pd.isna(cover[0]) else cover[0]) == read and pd.isna(cover[1])
