"""The guide says what the program reads: every column, setting, option and command."""

import re

import click
import pytest
from click.testing import CliRunner, Result
from pydantic import BaseModel

import harvestcast as hc
from harvestcast.kitchen.handbook.process_times import ACIDS
from harvestcast.records.household import Choices, CropSettings, Equipment, Household, Recipe
from harvestcast.records.logs.kitchen import WHATS
from harvestcast.records.logs.plantings import HOW
from harvestcast.records.tables.headings import (
    KITCHEN_FIELDS,
    PANTRY_FIELDS,
    PICK_FIELDS,
    PLANTING_FIELDS,
    WEATHER_FIELDS,
    field_of,
)
from harvestcast.report.command.main import main
from harvestcast.words.guide import explain, topics


def _coded(topic: str) -> list[str]:
    return re.findall(r"`([^`]+)`", explain(topic).markdown)


def _columns(topic: str) -> list[str]:
    """Return the headings that the topic's table and its example name."""
    text = explain(topic).markdown
    first = re.findall(r"^\| (`.*?) \|", text, flags=re.M)
    example = re.findall(r"^    (date,.*|crop,.*)$", text, flags=re.M)
    named = re.findall(r"`([^`]+)`", " ".join(first))
    return [*named, *(name for line in example for name in line.split(","))]


@pytest.mark.parametrize(
    ("topic", "fields", "besides"),
    [
        ("picks", PICK_FIELDS, {"amount", "unit", "oversize", "damaged"}),
        ("plantings", PLANTING_FIELDS, {"unit"}),
        ("weather", WEATHER_FIELDS, {"kind", "unit", "station"}),
        ("kitchen", KITCHEN_FIELDS, set()),
    ],
)
def test_every_column_named_is_read_and_every_column_read_is_named(
    topic: str, fields: dict[str, str], besides: set[str]
) -> None:
    """``besides``: other ways to write what a named column holds."""
    meant = {name: field_of(name, fields) for name in _columns(topic)}
    assert [name for name, field in meant.items() if field is None] == []
    assert set(fields) - besides == {field[0] for field in meant.values() if field is not None}


@pytest.mark.parametrize("model", [Household, CropSettings, Equipment, Recipe, Choices])
def test_every_setting_is_explained(model: type[BaseModel]) -> None:
    text = explain("settings").markdown
    named = set(re.findall(r"[a-z_0-9]+", " ".join(re.findall(r"`([^`]+)`", text))))
    assert set(model.model_fields) - named - {"crops", "choices"} == set()


def test_no_setting_is_explained_that_is_none() -> None:
    first = re.findall(r"^\| (`.*?) \|", explain("settings").markdown, flags=re.M)
    named = {key for cell in first for key in re.findall(r"`([^`]+)`", cell)}
    models = (Household, CropSettings, Equipment, Recipe, Choices)
    assert named <= {key for model in models for key in model.model_fields}


def test_the_words_of_a_column_are_those_that_are_read() -> None:
    said = {word.replace(" ", "_") for word in _coded("kitchen")}
    assert set(WHATS.values()) <= said
    assert {"sown", "set_out"} <= set(_coded("plantings")) and {"sown", "set_out"} <= set(HOW)
    assert {f'"{acid}"' for acid in ACIDS} <= set(_coded("settings"))
    pantry = next(code for code in _coded("kitchen") if "product," in code)
    assert all(field_of(name, PANTRY_FIELDS) for name in pantry.split(", "))


def test_every_option_of_import_is_explained_and_every_option_named_is_one() -> None:
    assert isinstance(main, click.Group)
    options = {name for param in main.commands["import"].params for name in param.opts}
    named = set(re.findall(r"--[a-z][a-z-]+", explain("import").markdown))
    assert named - {"--undo"} <= options
    assert options - named == {"folder", "files", "--all-lines", "--json", "--quiet", "--debug"}


def test_commands_that_the_guide_names_are_there() -> None:
    assert isinstance(main, click.Group)
    text = "".join(topic.markdown for topic in topics().values())
    assert set(re.findall(r"harvestcast ([a-z]+) my_garden", text)) <= set(main.commands)


def _letters(text: str) -> str:
    return "".join(re.findall(r"[^\W_]", text))


def _run(*arguments: str) -> Result:
    return CliRunner().invoke(main, arguments)


def test_the_command_prints_a_topic() -> None:
    listed = _run("explain").stdout
    assert all(f"harvestcast explain {name} " in listed for name in topics())
    told = _run("explain", "settings").stdout
    assert "|" not in told and "`" not in told and max(map(len, told.splitlines())) <= 96
    for name, topic in topics().items():
        # Nothing is lost but the headings of tables and the marks of Markdown.
        bare = re.sub(r"^\|.*\|\n\|[ |-]*\|\n", "", topic.markdown, flags=re.M)
        told = _run("explain", name).stdout
        assert _letters(told) == _letters(bare), name
    assert _run("explain", "nonsense").exit_code == 2


def test_python_and_notebooks_have_it_too() -> None:
    topic = hc.explain("safety")
    assert topic._repr_markdown_().startswith("## safety")
    assert "It never computes a time." in " ".join(str(topic).split())
    with pytest.raises(ValueError, match="there are files, picks"):
        hc.explain("nonsense")
