"""The notebooks: thin, stored without outputs, run from top to bottom, the page's own parts."""

import ast
import json
import os
import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import nbformat
import pytest

import harvestcast as hc
from harvestcast.records.writing.report_file import GENERATOR
from harvestcast.report.html import render
from harvestcast.report.html.render import ReportError, write_report
from harvestcast.report.next import page as next_page
from harvestcast.report.season import page as season_page
from harvestcast.report.week import page as week_page

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


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.name)
def test_a_notebook_names_no_path_of_a_machine(path: Path) -> None:
    assert not re.search(r'["\'](/|[A-Z]:\\)', path.read_text("utf-8"))
    assert json.loads(path.read_text("utf-8"))["metadata"]["kernelspec"]["name"] == "python3"


@pytest.mark.parametrize(
    ("name", "module"),
    [("this_week", week_page), ("season_end", season_page), ("next_season", next_page)],
)
def test_a_notebook_shows_the_parts_of_the_page_in_their_order(name: str, module: Any) -> None:
    """One list of parts for both: whoever adds a part to a page adds it to the notebook."""
    stored = nbformat.read(ROOT / "notebooks" / f"{name}.ipynb", as_version=4)
    cells = [cell.source for cell in stored.cells if cell.cell_type == "code"]
    called = [
        found[1] for cell in cells[2:-1] if (found := re.fullmatch(r"\w+\.(\w+)\(\w+\)", cell))
    ]
    assert called == [part.__name__ for part in module.PARTS]
    assert len(called) == len(cells) - 3  # parameters, results, and a cell to try a change in


def _run(name: str, folder: Path, scratch: Path, **settings: Any) -> list[str]:
    """Run a notebook from top to bottom on a folder; return the HTML it shows, cell by cell."""
    nbclient = pytest.importorskip("nbclient", reason="nbclient is not installed")
    book = nbformat.read(ROOT / "notebooks" / f"{name}.ipynb", as_version=4)
    given = {"folder": str(folder), **settings}
    first = next(cell for cell in book.cells if cell.metadata.get("tags") == ["parameters"])
    first.source += "".join(f"\n{key} = {value!r}" for key, value in given.items())
    place = {"metadata": {"path": str(scratch)}}
    nbclient.NotebookClient(book, timeout=1200, kernel_name="python3", resources=place).execute()
    return [
        output["data"]["text/html"]
        for cell in book.cells
        for output in cell.get("outputs", [])
        if "text/html" in output.get("data", {})
    ]


@pytest.mark.notebook
def test_the_weeks_notebook_runs_and_shows_the_page(sample_folder: Path, tmp_path: Path) -> None:
    shown = _run("this_week", sample_folder, tmp_path)
    assert len(shown) == len(week_page.PARTS) + 1
    assert "with the change" in shown[-1]
    assert "cucumber" in shown[1]


@pytest.mark.notebook
def test_a_table_of_picks_becomes_next_weeks_glut(sample_folder: Path, tmp_path: Path) -> None:
    """A DataFrame of counts and daily temperatures: forecast, figure and surplus."""
    nbclient = pytest.importorskip("nbclient", reason="nbclient is not installed")
    book = nbformat.read(ROOT / "notebooks" / "from_a_table.ipynb", as_version=4)
    first = next(cell for cell in book.cells if cell.metadata.get("tags") == ["parameters"])
    first.source += f"\nweather_file = {str(sample_folder / 'weather.csv')!r}"
    place = {"metadata": {"path": str(tmp_path)}}
    nbclient.NotebookClient(book, timeout=600, kernel_name="python3", resources=place).execute()
    kinds = [set(o["data"]) for c in book.cells for o in c.get("outputs", []) if "data" in o]
    assert sum("text/html" in kind for kind in kinds) == 3
    assert sum("image/png" in kind for kind in kinds) == 1
    lines = [x for x in book.cells[2].source.splitlines() if x]
    assert len(lines) <= 10


@pytest.mark.notebook
def test_the_seasons_notebook_shows_what_the_page_shows(
    sample_folder: Path, tmp_path: Path
) -> None:
    shown = _run("season_end", sample_folder, tmp_path)
    page = write_report("season", sample_folder, tmp_path / "s.html", year=2025).read_text("utf-8")
    assert len(shown) == len(season_page.PARTS) + 1
    for part in shown[:-1]:
        assert part in page
    assert "Ranked by: Steady weeks" in shown[-1]
    for variety in ("Long Friar", "Marsh Bishop"):
        assert variety in page


@pytest.fixture
def cucumbers(sample_folder: Path, tmp_path: Path) -> Path:
    """Return a folder with the cucumbers of the sample alone, and one target."""
    small = tmp_path / "cucumbers"
    small.mkdir()
    for path in sample_folder.glob("*.csv"):
        lines = path.read_text("utf-8").splitlines(keepends=True)
        kept = [x for x in lines[1:] if "weather" in path.name or "ucumber" in x]
        (small / path.name).write_text("".join([*lines[:1], *kept]), "utf-8")
    settings = (sample_folder / "garden.toml").read_text("utf-8")
    targets = re.search(r"^\[targets\]\n(?:.*=.*\n)+", settings, flags=re.M)
    assert targets is not None
    few = settings.replace(targets[0], '[targets]\n"dill pickles" = 20\n')
    (small / "garden.toml").write_text(few, "utf-8")
    return small


@pytest.mark.notebook
def test_the_next_seasons_notebook_shows_the_page(cucumbers: Path, tmp_path: Path) -> None:
    shown = _run("next_season", cucumbers, tmp_path)
    assert len(shown) == len(next_page.PARTS) + 1
    assert hc.open_garden(cucumbers).household.place.split(" ")[0] in shown[0]
    assert "Crispwick" in shown[1] and "Kettle Red" not in shown[1]


def test_what_a_change_would_do_stands_on_the_page(cucumbers: Path, tmp_path: Path) -> None:
    out = write_report("next", cucumbers, tmp_path / "n.html", year=2027, change={"people": 3})
    html = out.read_text("utf-8")
    assert "What if" in html and "with the change" in html


def test_there_are_three_reports_with_parameters_of_their_own(tmp_path: Path) -> None:
    with pytest.raises(ReportError, match="no report called 'month'"):
        write_report("month", tmp_path, tmp_path / "m.html")
    with pytest.raises(ReportError, match="'week' has no parameter 'year'"):
        write_report("week", tmp_path, tmp_path / "m.html", year=2026)
    assert not list(tmp_path.iterdir())


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
    ids = re.findall(r'id="([^"]+)"', html)
    assert len(ids) == len(set(ids))
    for link in re.findall(r'href="#([^"]+)"', html):
        assert link in ids


def test_results_of_another_report_are_refused_and_no_file_is_left(
    tmp_path: Path, made_up: SimpleNamespace
) -> None:
    out = tmp_path / "r.html"
    out.write_text(page := f"<!DOCTYPE html>{GENERATOR}the old report", "utf-8")
    for kind, wrong in (("week", {"no": "week"}), ("season", made_up.week()), ("next", 3)):
        with pytest.raises(TypeError, match=r"page is made of a"):
            write_report(kind, tmp_path, out, results=wrong)
    assert out.read_text("utf-8") == page
    assert [path.name for path in tmp_path.iterdir()] == ["r.html"]


def test_no_pdf_without_a_browser(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    assert render.browser() is None
    with pytest.raises(ReportError, match="neither chromium nor chrome"):
        render.print_pdf(tmp_path / "a.html", tmp_path / "a.pdf")


def test_a_browser_that_fails_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if os.name != "posix":
        pytest.skip("the stand-in for a browser is a shell script")
    fake = tmp_path / "chromium"
    fake.write_text("#!/bin/sh\nexit 7\n", "utf-8")
    fake.chmod(0o755)
    monkeypatch.setenv("PATH", f"{tmp_path}{os.pathsep}/bin{os.pathsep}/usr/bin")
    with pytest.raises(ReportError, match="status 7"):
        render.print_pdf(tmp_path / "a.html", tmp_path / "a.pdf")


def test_the_verbs_load_their_rooms_late() -> None:
    assert set(hc.__all__) <= set(dir(hc))
    assert callable(hc.write_report)
    with pytest.raises(AttributeError, match="no attribute 'nonsense'"):
        _ = hc.nonsense
