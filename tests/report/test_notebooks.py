"""The notebooks: thin, stored without outputs, run from top to bottom, written as one page."""

import ast
import json
import os
import re
import sys
from pathlib import Path
from types import SimpleNamespace

import nbformat
import pytest

import harvestcast as hc
from harvestcast.records.writing.report_file import GENERATOR
from harvestcast.report.html import render as notebook
from harvestcast.report.html.render import ReportError, notebook_path, write_report

ROOT = Path(__file__).parents[2]
NOTEBOOKS = sorted((ROOT / "notebooks").glob("*.ipynb"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_a_notebook_is_stored_without_outputs(path: Path) -> None:
    stored = nbformat.read(path, as_version=4)
    nbformat.validate(stored)
    for cell in stored.cells:
        assert not cell.get("outputs")
        assert cell.get("execution_count") is None


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_a_notebook_calls_and_defines_nothing(path: Path) -> None:
    stored = nbformat.read(path, as_version=4)
    code = [cell for cell in stored.cells if cell.cell_type == "code"]
    assert code[0].metadata.get("tags") == ["parameters"]
    assert sum("parameters" in c.metadata.get("tags", []) for c in code) == 1
    for cell in code:
        for node in ast.walk(ast.parse(cell.source)):
            assert not isinstance(node, ast.FunctionDef | ast.ClassDef | ast.Lambda)
    assert sum(cell.cell_type == "markdown" for cell in stored.cells) >= 5


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_a_notebook_names_no_path_of_a_machine(path: Path) -> None:
    assert not re.search(r'["\'](/|[A-Z]:\\)', path.read_text("utf-8"))
    assert json.loads(path.read_text("utf-8"))["metadata"]["kernelspec"]["name"] == "python3"


def test_every_report_has_its_notebook() -> None:
    for kind in notebook.KINDS:
        assert notebook_path(kind) in NOTEBOOKS
    with pytest.raises(ReportError, match="no report called"):
        notebook_path("month")


@pytest.mark.notebook
def test_the_page_is_one_file_that_asks_for_nothing(
    week_html: Path, made_up: SimpleNamespace
) -> None:
    html = week_html.read_text("utf-8")
    assert html.startswith("<!DOCTYPE html>")
    assert '<html lang="en">' in html
    assert "<script" not in html.lower()
    assert not re.findall(r"""(?:src|href)=["'](?!data:|#)""", html)
    assert not re.search(r"url\(|@import", html)
    assert "default-src 'none'" in html
    heading = re.search(r"<title>(.*?)</title>", html)
    assert heading is not None
    assert "Fernhollow &lt;script&gt;" in heading[1]
    assert "import harvestcast" not in html  # the code is not shown
    ids = re.findall(r'id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    for link in re.findall(r'href="#([^"]+)"', html):
        assert link in ids


@pytest.mark.notebook
def test_a_foreign_kernel_is_not_used(
    tmp_path: Path, made_up: SimpleNamespace, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A kernel called python3 that a user registered elsewhere, and start-up files, stay out."""
    kernels = tmp_path / "jupyter" / "kernels" / "python3"
    kernels.mkdir(parents=True)
    trap = {"argv": [sys.executable, "-c", "raise SystemExit(3)"], "display_name": "trap",
            "language": "python"}  # fmt: skip
    (kernels / "kernel.json").write_text(json.dumps(trap), "utf-8")
    startup = tmp_path / "ipython" / "profile_default" / "startup"
    startup.mkdir(parents=True)
    (startup / "00-trap.py").write_text("raise SystemExit('start-up file ran')", "utf-8")
    monkeypatch.setenv("JUPYTER_PATH", str(tmp_path / "jupyter"))
    monkeypatch.setenv("JUPYTER_DATA_DIR", str(tmp_path / "jupyter"))
    monkeypatch.setenv("IPYTHONDIR", str(tmp_path / "ipython"))
    (tmp_path / "harvestcast.py").write_text("raise SystemExit('wrong module')", "utf-8")
    monkeypatch.chdir(tmp_path)
    out = write_report("week", tmp_path, tmp_path / "r.html", results=made_up.week())
    assert "Fernhollow" in out.read_text("utf-8")


@pytest.mark.notebook
def test_a_failing_cell_is_said_and_no_file_is_left(tmp_path: Path) -> None:
    out = tmp_path / "r.html"
    out.write_text(page := f"<!DOCTYPE html>{GENERATOR}the old report", "utf-8")
    with pytest.raises(ReportError, match=r"this_week\.ipynb failed: TypeError"):
        write_report("week", tmp_path, out, results={"no": "week"})
    assert out.read_text("utf-8") == page
    assert [path.name for path in tmp_path.iterdir()] == ["r.html"]


def test_no_pdf_without_a_browser(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert notebook.browser() is None
    with pytest.raises(ReportError, match="neither chromium nor chrome"):
        notebook.print_pdf(tmp_path / "a.html", tmp_path / "a.pdf")


def test_a_browser_that_fails_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if os.name != "posix":
        pytest.skip("the stand-in for a browser is a shell script")
    fake = tmp_path / "chromium"
    fake.write_text("#!/bin/sh\nexit 7\n", "utf-8")
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}/bin{os.pathsep}/usr/bin")
    with pytest.raises(ReportError, match="status 7"):
        notebook.print_pdf(tmp_path / "a.html", tmp_path / "a.pdf")


def test_the_verbs_load_their_rooms_late() -> None:
    assert set(hc.__all__) <= set(dir(hc))
    assert callable(hc.write_report)
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = hc.nonsense
