"""What is installed: the pages' templates travel with the package."""

import tomllib
import zipfile
from pathlib import Path

import pytest

from harvestcast.report.html.page import TEMPLATE

ROOT = Path(__file__).parents[2]


def test_the_command_is_the_one_of_this_package() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    assert project["project"]["scripts"]["harvestcast"] == "harvestcast.report.command.main:main"


def test_the_wheel_holds_the_templates(tmp_path: Path) -> None:
    builder = pytest.importorskip(
        "hatchling.builders.wheel", reason="the build backend is not installed here"
    )
    made = next(builder.WheelBuilder(str(ROOT)).build(directory=str(tmp_path)))
    names = set(zipfile.ZipFile(made).namelist())
    for part in TEMPLATE.iterdir():
        assert f"harvestcast/report/html/template/{part.name}" in names
    assert "harvestcast/records/typed/data/crop_names.csv" in names
    assert "harvestcast/report/guide.md" in names
    assert not [name for name in names if name.startswith(("tests/", "sample_logs/"))]
