"""What is installed: the notebooks and the page's template travel with the package."""

import tomllib
import zipfile
from pathlib import Path

import pytest

from harvestcast.report.html.render import KINDS, TEMPLATE, notebook_path

ROOT = Path(__file__).parents[2]


def test_the_project_file_takes_the_notebooks_along() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    wheel = project["tool"]["hatch"]["build"]["targets"]["wheel"]
    assert wheel["force-include"] == {"notebooks": "harvestcast/report/notebooks"}
    assert project["project"]["scripts"]["harvestcast"] == "harvestcast.report.command.main:main"


def test_the_wheel_holds_notebooks_and_template(tmp_path: Path) -> None:
    builder = pytest.importorskip(
        "hatchling.builders.wheel", reason="the build backend is not installed here"
    )
    made = next(builder.WheelBuilder(str(ROOT)).build(directory=str(tmp_path)))
    names = set(zipfile.ZipFile(made).namelist())
    for notebook, _ in KINDS.values():
        assert f"harvestcast/report/notebooks/{notebook}" in names
    for part in ("index.html.j2", "style.css", "conf.json"):
        assert f"harvestcast/report/html/template/{part}" in names
    assert "harvestcast/records/typed/data/crop_names.csv" in names
    assert not [name for name in names if name.startswith(("tests/", "sample_logs/"))]


def test_an_installed_notebook_is_preferred(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from harvestcast.report.html import render as notebook

    installed = tmp_path / "harvestcast" / "report" / "notebooks"
    installed.mkdir(parents=True)
    (installed / "this_week.ipynb").write_text("{}", "utf-8")
    monkeypatch.setattr(notebook, "__file__", str(installed.parent / "html" / "render.py"))
    assert notebook_path("week") == installed / "this_week.ipynb"


def test_the_template_is_complete() -> None:
    assert {p.name for p in TEMPLATE.iterdir()} >= {"index.html.j2", "style.css", "conf.json"}
