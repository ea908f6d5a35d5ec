"""True is no number in garden.toml, nor is anything in quotation marks; every setting is tried."""

from pathlib import Path

import pytest
from pydantic import BaseModel

from harvestcast.errors import ElevationError, InputError
from harvestcast.kitchen.handbook.process_times import process
from harvestcast.kitchen.household.what_if import changed_household
from harvestcast.records.household import Choices, CropSettings, Equipment, Household
from harvestcast.records.settings import parse_household
from harvestcast.records.tables.findings import Findings

CUSTOMARY = {"m": "ft", "kg": "lb", "l": "gal", "m2": "ft2"}


def _numbers(model: type[BaseModel]) -> list[str]:
    """Return the settings of a model that are numbers."""
    found = []
    for name, one in model.model_json_schema()["properties"].items():
        kinds = {part.get("type") for part in one.get("anyOf", [one])}
        if kinds & {"number", "integer"}:
            found.append(name)
    return found


def _settings() -> list[tuple[str, str]]:
    """Return a heading and a key for every number of garden.toml, customary twins included."""
    found = [("", name) for name in _numbers(Household)]
    found += [("[crops.cucumber]", name) for name in _numbers(CropSettings)]
    found += [("[choices]", name) for name in _numbers(Choices)]
    piece = '[[equipment]]\nkind = "crock"\nfree_l = 4'
    found += [(piece, name) for name in _numbers(Equipment) if name != "free_l"]
    found += [('[[equipment]]\nkind = "crock"', "free_l"), ("[hours]", "monday")]
    found += [("[jars]", "pint"), ("[stock]", "vinegar_l"), ("[targets]", '"dill pickles"')]
    for heading, name in list(found):
        for metric, twin in CUSTOMARY.items():
            if name.endswith(f"_{metric}"):
                found.append((heading, name.removesuffix(metric) + twin))
    return found


def test_the_settings_are_found() -> None:
    names = {name for _, name in _settings()}
    assert len(names) > 35
    assert {"elevation_m", "elevation_ft", "people", "number", "trays", "hour", "base_c"} <= names


@pytest.mark.parametrize("value", ["true", "false", '"3"'])
@pytest.mark.parametrize(("heading", "name"), _settings())
def test_what_is_no_number_is_refused_by_name(heading: str, name: str, value: str) -> None:
    findings = Findings()
    parse_household(f"{heading}\n{name} = {value}\n", findings)
    (problem,) = findings.problems
    assert problem.code in ("setting.number", "setting.whole"), problem
    assert problem.value == value.strip('"')
    assert problem.line == heading.count("\n") + 2
    assert problem.column.endswith(name.strip('"'))


@pytest.mark.parametrize("change", [
    {"elevation_m": True}, {"elevation_ft": True}, {"hours": {"saturday": True}},
    {"more_hours": {"saturday": True}}, {"more_jars": {"lids": "12"}}, {"jars": {"pint": True}},
    {"targets": {"dill pickles": True}}, {"choices": {"hour": True}},
])  # fmt: skip
def test_a_change_takes_no_truth_for_a_number(change: dict) -> None:
    with pytest.raises(InputError, match="number"):
        changed_household(Household(), change)


@pytest.mark.parametrize(
    "elevation", [True, False, "300", float("nan"), float("inf"), 1e308, 5001.0]
)
def test_no_time_is_given_for_what_is_no_elevation(elevation: object) -> None:
    with pytest.raises(ElevationError):
        process("quick_fresh_pack_dill_pickles", jar="pint", elevation_m=elevation)


def test_whole_numbers_and_lists_are_read_as_before(tmp_path: Path) -> None:
    findings = Findings()
    home = parse_household(
        'elevation_m = 300\npeople = 2\n[crops.kale]\naliases = ["borecole"]\n'
        '[[equipment]]\nkind = "dryer"\nnumber = 2\ntray_area_in2 = 150\n',
        findings,
    )
    assert not findings.problems
    assert (home.elevation_m, home.people, home.equipment[0].number) == (300.0, 2.0, 2)
    assert home.crops["kale"].aliases == ("borecole",)
