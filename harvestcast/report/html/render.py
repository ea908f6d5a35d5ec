"""Write the page of a report as one file that needs nothing else, and print it."""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Sequence
from importlib import import_module
from pathlib import Path
from typing import Any

from harvestcast.errors import HarvestcastError
from harvestcast.records.writing.report_file import check_target, write_page, write_pdf
from harvestcast.report.html.page import Piece, templates

KINDS: dict[str, str] = {
    "week": "harvestcast.report.week.page",
    "ahead": "harvestcast.report.season.ahead.page",
    "season": "harvestcast.report.season.page",
    "next": "harvestcast.report.next.page",
    "backtest": "harvestcast.report.backtest.page",
}
"""Kind of report: the module whose function ``parts`` makes its parts from a garden folder."""


class ReportError(HarvestcastError, RuntimeError):
    """A report could not be written."""


def write_report(
    kind: str,
    folder: str | Path,
    out: str | Path,
    *,
    results: Any = None,
    progress: Callable[[str], None] | None = None,
    **parameters: Any,
) -> Path:
    """Make the parts of a report of a garden folder and write them as one HTML file.

    Parameters
    ----------
    kind : {"week", "ahead", "season", "next", "backtest"}
        Kind of report.
    folder : path
        The garden folder.
    out : path
        File to write, ending in .html; written whole or not at all, and never over a file that is
        no such page.
    results : object, optional
        Results computed already: :class:`harvestcast.report.week.results.Week`,
        :class:`harvestcast.report.season.ahead.results.Ahead`,
        :class:`harvestcast.report.season.results.SeasonEnd`,
        :class:`harvestcast.report.next.results.NextSeason` or
        :class:`harvestcast.report.backtest.results.PastWeeks`.
    progress : callable, optional
        Told what is being done.
    **parameters
        What the results are made with where they are not given, and what is tried besides:
        ``as_of``, ``weeks``, ``seed``, ``change`` of a week; ``as_of``, ``seed`` of the season
        ahead; ``year``, ``seed``, ``measure`` of a
        season; ``year``, ``probability``, ``seed``, ``change`` of the next one; ``year``,
        ``weeks``, ``seed`` of a back-test.

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    ReportError
        Where there is no such report, or it has no such parameter.
    harvestcast.errors.InputError
        Where the file may not be written.
    TypeError
        Where the results are those of another report.
    """
    if kind not in KINDS:
        raise ReportError(f"there is no report called {kind!r}; there are {', '.join(KINDS)}")
    module = import_module(KINDS[kind])
    wrong = sorted(set(parameters) - set(module.PARAMETERS))
    if wrong:
        raise ReportError(
            f"the report {kind!r} has no parameter {', '.join(map(repr, wrong))}; "
            f"there are {', '.join(module.PARAMETERS)}"
        )
    check_target(Path(out).absolute(), "page")
    tell = progress or (lambda words: None)
    parts = module.parts(Path(folder), results=results, say=tell, **parameters)
    return write_page(Path(out).absolute(), page_of(parts))


def page_of(parts: Sequence[Piece]) -> str:
    """Return the parts of a report as one page, which asks for nothing.

    Parameters
    ----------
    parts : sequence of Piece
        The head of the page first; those with a name are listed at its top, the first left out.

    Returns
    -------
    str
        HTML.
    """
    head, *rest = parts
    named = [part for part in rest if part.name]  # the first stands right below the list
    return (
        templates()
        .get_template("index.html.j2")
        .render(title=head.name, parts=parts, sections=named[1:])
    )


def browser() -> str | None:
    """Return the headless browser on the path that can print a page, or None."""
    for name in ("chromium", "chromium-browser", "google-chrome", "chrome"):
        found = shutil.which(name)
        if found:
            return found
    return None


def _sandbox() -> list[str]:
    """Return the flag without which the administrator of a machine cannot start the browser."""
    administrator = hasattr(os, "geteuid") and os.geteuid() == 0
    return ["--no-sandbox"] if administrator else []


def print_pdf(page: str | Path, out: str | Path, *, timeout_s: float = 120) -> Path:
    """Print a page to PDF with a browser that is on the path.

    Parameters
    ----------
    page : path
        HTML file.
    out : path
        PDF to write; never over a file that is no PDF of this function.
    timeout_s : float
        Seconds until the browser is given up.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    ReportError
        Where there is no such browser, or it fails.
    """
    page, out = Path(page).absolute(), Path(out).absolute()
    check_target(out, "pdf")
    program = browser()
    if program is None:
        raise ReportError(
            "no PDF: neither chromium nor chrome is on the path; "
            "open the HTML report in any browser and print it from there"
        )
    with tempfile.TemporaryDirectory(prefix="harvestcast-") as scratch:
        made = Path(scratch) / "page.pdf"
        command = [
            program, "--headless", *_sandbox(), "--disable-gpu", "--disable-quic",
            "--no-first-run", "--disable-background-networking", "--disable-component-update",
            "--disable-sync", f"--user-data-dir={scratch}/profile", "--no-pdf-header-footer",
            f"--print-to-pdf={made}", page.as_uri(),
        ]  # fmt: skip
        try:
            ended = subprocess.run(command, capture_output=True, timeout=timeout_s, check=False)
        except subprocess.TimeoutExpired as error:
            raise ReportError(f"no PDF: {program} took more than {timeout_s:g} s") from error
        if ended.returncode or not made.exists():
            raise ReportError(f"no PDF: {program} ended with status {ended.returncode}")
        return write_pdf(out, made.read_bytes())
