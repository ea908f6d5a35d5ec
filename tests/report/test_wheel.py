"""What is installed: everything a package needs travels with it, and nothing else."""

import tarfile
import tomllib
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    """Return the wheel as an installer meets it."""
    builder = pytest.importorskip(
        "hatchling.builders.wheel", reason="the build backend is not installed here"
    )
    folder = tmp_path_factory.mktemp("wheel")
    return zipfile.ZipFile(next(builder.WheelBuilder(str(ROOT)).build(directory=str(folder))))


def test_the_command_is_the_one_of_this_package() -> None:
    assert PROJECT["scripts"]["harvestcast"] == "harvestcast.report.command.main:main"


def test_the_wheel_holds_every_file_of_the_package_and_no_other(wheel: zipfile.ZipFile) -> None:
    package = {
        str(path.relative_to(ROOT))
        for path in (ROOT / "harvestcast").rglob("*")
        if path.is_file() and "__pycache__" not in path.parts
    }
    installed = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert installed == package
    assert "harvestcast/py.typed" in installed


def test_the_wheel_says_what_it_is(wheel: zipfile.ZipFile) -> None:
    name = next(name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
    said = Parser().parsestr(wheel.read(name).decode("utf-8"))
    assert said["Version"] == PROJECT["version"]
    assert said["License-Expression"] == "MIT"
    assert said["Requires-Python"] == PROJECT["requires-python"]
    assert set(said.get_all("Classifier")) == set(PROJECT["classifiers"])
    needed = [line for line in said.get_all("Requires-Dist") if "extra ==" not in line]
    assert len(needed) == len(PROJECT["dependencies"])
    assert said.get_payload().startswith("# harvestcast\n")
    # The first change listed is that of the version that is built.
    assert said.get_payload().split("## Changes")[1].split("**")[1] == PROJECT["version"]


def test_the_source_build_can_be_tested_and_run(tmp_path: Path) -> None:
    builder = pytest.importorskip(
        "hatchling.builders.sdist", reason="the build backend is not installed here"
    )
    made = next(builder.SdistBuilder(str(ROOT)).build(directory=str(tmp_path)))
    with tarfile.open(made) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames()}
    assert {"README.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"} <= names
    assert {"sample_logs/garden.toml", "notebooks/this_week.ipynb", "tests/conftest.py"} <= names
    assert not [name for name in names if name.startswith((".venv", "build/", "dist/"))]
