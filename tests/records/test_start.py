"""A begun garden checks clean and never overwrites."""

from pathlib import Path

import pytest

from harvestcast.errors import InputError
from harvestcast.records.garden import check_garden, open_garden
from harvestcast.records.typed.crops import crop_names
from harvestcast.records.writing.add import add_pick
from harvestcast.records.writing.start import start_garden
from tests.records.conftest import refused


@pytest.mark.parametrize("units", ["us", "metric"])
@pytest.mark.parametrize("full", [True, False])
def test_a_begun_garden_checks_clean(units: str, full: bool, tmp_path: Path) -> None:
    folder = tmp_path / "new" / "garden"
    settings = (
        {
            "place": 'The "Hill" \\ farm\n(invented)',
            "elevation_m": 312.5,
            "people": 4.5,
            "crops": [*crop_names(), "Oca root", "Zucchinis"],
            "last_frost": "05-12",
            "first_frost": "09-30",
            "date_order": "month_first",
        }
        if full
        else {"elevation_m": 0}
    )
    files = start_garden(folder, units=units, **settings)  # type: ignore[arg-type]
    problems, notices = check_garden(folder)
    assert problems == () and notices.empty
    garden = open_garden(folder)
    assert garden.household.units == units
    assert files[-1] == folder / "garden.toml" and len(files) == 5
    text = (folder / "garden.toml").read_text("utf-8")
    assert text.count("#") > 20
    if full:
        assert garden.household.elevation_m == pytest.approx(312.5, abs=0.02)
        assert garden.household.place == 'The "Hill" \\ farm (invented)'
        assert set(garden.household.crops) == {*crop_names(), "oca root"}
        assert garden.household.date_order == "month_first"


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_setting_that_is_only_a_remark_works_once_the_mark_is_taken_away(
    units: str, tmp_path: Path
) -> None:
    start_garden(tmp_path / "g", units=units)  # type: ignore[arg-type]
    path = tmp_path / "g" / "garden.toml"
    lines = []
    for line in path.read_text("utf-8").splitlines():
        bare = line.removeprefix("# ")
        setting = bare.startswith(("[", '"')) or " = " in bare.split("#")[0]
        sentence = bare.rstrip().endswith((".", "?", ",")) or " us " in bare
        lines.append(bare if setting and not sentence else line)
    path.write_text("\n".join(lines), "utf-8")
    problems, notices = check_garden(tmp_path / "g")
    assert problems == () and notices.empty
    household = open_garden(tmp_path / "g").household
    assert {e.kind for e in household.equipment} == {
        "boiling_water_canner",
        "pressure_canner",
        "dryer",
        "freezer",
        "refrigerator",
    }
    assert household.hours and household.jars and household.targets and household.crops
    assert household.elevation_m is not None and household.last_frost == "05-10"


def test_nothing_that_stands_there_is_touched(tmp_path: Path) -> None:
    (tmp_path / "picks-old.csv").write_text("date,crop,count\n2025-07-01,okra,3\n")
    (tmp_path / "letter.txt").write_text("dear aunt")
    files = start_garden(tmp_path, elevation_m=10)
    assert "picks" not in {file.name.split("-")[0] for file in files}
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    with refused("folder.is_garden"):
        start_garden(tmp_path, elevation_m=99)
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_what_cannot_be_used_is_said_and_nothing_is_written(tmp_path: Path) -> None:
    with pytest.raises(InputError) as caught:
        start_garden(
            tmp_path / "g",
            elevation_m=9000,
            people=-1,
            last_frost="5/10",
            crops=["squash", "cucmber"],
            equipment=["pressure canner", "wok"],
        )
    found = caught.value.problems
    assert {p.file for p in found} == {"what you typed"} and {p.line for p in found} == {None}
    assert [(p.column, p.value, p.code) for p in found] == [
        ("crops", "squash", "crop.two_meanings"),
        ("crops", "cucmber", "crop.misspelt"),
        ("equipment", "pressure canner", "equipment.gauge"),
        ("equipment", "wok", "equipment.unknown"),
        ("last_frost", "5/10", "date.no_season_day"),
        ("elevation_m", "9000", "setting.bound"),
        ("people", "-1", "setting.bound"),
    ]
    assert not (tmp_path / "g").exists()


def test_frost_days_and_equipment_as_people_say_them(tmp_path: Path) -> None:
    start_garden(
        tmp_path / "g",
        units="us",
        last_frost="10 May",
        first_frost="Oct 5",
        equipment=["Weighted pressure canner", "dehydrator", "fridge"],
    )
    problems, _ = check_garden(tmp_path / "g")
    assert problems == ()
    home = open_garden(tmp_path / "g").household
    assert (home.last_frost, home.first_frost) == ("05-10", "10-05")
    assert [piece.kind for piece in home.equipment] == ["pressure_canner", "dryer", "refrigerator"]
    assert home.equipment[0].gauge == "weighted"


def test_two_pressure_canners_are_two_pieces(tmp_path: Path) -> None:
    asked = ["weighted pressure canner", "dial pressure canner"]
    start_garden(tmp_path / "g", elevation_m=300, equipment=asked)
    home = open_garden(tmp_path / "g").household
    assert [piece.vessel for piece in home.equipment] == [
        "weighted_gauge_pressure_canner",
        "dial_gauge_pressure_canner",
    ]


def test_a_file_in_the_way(tmp_path: Path) -> None:
    (tmp_path / "g").write_text("")
    with refused("folder.is_file"):
        start_garden(tmp_path / "g")


def test_picks_can_be_added_from_the_first_minute(tmp_path: Path) -> None:
    start_garden(tmp_path / "g", units="us", elevation_m=10, crops=["okra"])
    entry = add_pick(tmp_path / "g", "okra", "2 dozen", weight="1 lb 2 oz")
    garden = open_garden(tmp_path / "g")
    assert garden.picks["count"].to_list() == [24]
    assert garden.picks["mass_kg"].to_list() == pytest.approx([1.125 * 0.45359237], abs=1e-4)
    assert entry.file.startswith("picks-20")
