"""Run a notebook with parameters and write it as one page that needs nothing else."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from html import unescape
from pathlib import Path
from typing import Any

from harvestcast.errors import HarvestcastError
from harvestcast.records.writing.report_file import GENERATOR, check_target, write_page, write_pdf
from harvestcast.report.html.handover import put_aside

TEMPLATE = Path(__file__).with_name("template")

KINDS: dict[str, tuple[str, str]] = {
    "week": ("this_week.ipynb", "This week"),
    "season": ("season_end.ipynb", "The season's end"),
    "next": ("next_season.ipynb", "Next season"),
}
"""Kind of report: its notebook and the title of its page."""


class ReportError(HarvestcastError, RuntimeError):
    """A report could not be written."""


def notebook_path(kind: str) -> Path:
    """Return where the notebook of a report stands: in the checkout, or in the installed package.

    Parameters
    ----------
    kind : {"week", "season", "next"}
        Kind of report.

    Returns
    -------
    pathlib.Path

    Raises
    ------
    ReportError
        Where the kind is unknown or the notebook is missing.

    Examples
    --------
    >>> notebook_path("week").name
    'this_week.ipynb'
    """
    if kind not in KINDS:
        raise ReportError(f"there is no report called {kind!r}; there are {', '.join(KINDS)}")
    name = KINDS[kind][0]
    here = Path(__file__).parent
    for folder in (here.parent / "notebooks", here.parents[2] / "notebooks"):
        if (folder / name).is_file():
            return folder / name
    raise ReportError(f"the notebook {name} is missing from the installation")


def write_report(
    kind: str,
    folder: str | Path,
    out: str | Path,
    *,
    results: Any = None,
    progress: bool = False,
    **parameters: Any,
) -> Path:
    """Run the notebook of a report on a garden folder and write it as one HTML file.

    Parameters
    ----------
    kind : {"week", "season", "next"}
        Kind of report.
    folder : path
        The garden folder.
    out : path
        File to write, ending in .html; written whole or not at all, and never over a file that is
        no such page.
    results : object, optional
        Results computed already (picklable), so that the notebook need not compute them again.
    progress : bool
        Show a progress bar on standard error.
    **parameters
        Parameters of the notebook: ``as_of``, ``weeks``, ``year``, ``seed`` ...

    Returns
    -------
    pathlib.Path
        The file written.

    Raises
    ------
    ReportError
        Where a cell fails; the message names the cell's error.
    harvestcast.errors.InputError
        Where the file may not be written.

    Notes
    -----
    The notebook runs in the interpreter that calls this function, whatever kernels are
    registered on the machine, in an empty working folder and without personal start-up files.
    """
    source = notebook_path(kind)
    out = Path(out).absolute()
    check_target(out, "page")
    with tempfile.TemporaryDirectory(prefix="harvestcast-") as scratch:
        given = {"folder": str(Path(folder).absolute()), **parameters}
        if results is not None:
            given["reuse"] = str(put_aside(results, Path(scratch) / "results.pickle"))
        document = _run(source, given, Path(scratch), progress)
        page = page_of(document, KINDS[kind][1])
    return write_page(out, page)


def _run(source: Path, given: Mapping[str, Any], scratch: Path, progress: bool) -> Any:
    import papermill
    from papermill.exceptions import PapermillExecutionError

    ran = scratch / "ran.ipynb"
    plain = {k: str(v) if isinstance(v, Path) else v for k, v in given.items()}
    bar = {"desc": "writing the report", "file": sys.stderr, "leave": False, "ascii": True}
    try:
        return papermill.execute_notebook(
            str(source),
            str(ran),
            parameters=plain,
            kernel_name="python3",
            progress_bar=bar if progress else False,
            cwd=str(scratch),
            kernel_manager_class=_own_kernel(scratch),
        )
    except PapermillExecutionError as error:
        raise ReportError(
            f"cell {error.exec_count} of {source.name} failed: {error.ename}: {error.evalue}"
        ) from error


def _own_kernel(scratch: Path) -> type:
    """Return a kernel manager that starts this interpreter, whatever is registered elsewhere."""
    from jupyter_client.kernelspec import KernelSpec
    from jupyter_client.manager import AsyncKernelManager

    spec = KernelSpec(
        # What a cell has to say comes back as its output; the kernel's own log (it complains of
        # being stopped when a machine is busy) is nothing for the reader of a report.
        argv=[
            sys.executable,
            "-m",
            "ipykernel_launcher",
            "-f",
            "{connection_file}",
            "--log-level=CRITICAL",
        ],
        display_name="harvestcast",
        language="python",
        # Own profile folder: personal start-up files must not run inside a report.
        env={"IPYTHONDIR": str(scratch / "ipython"), "MPLBACKEND": "Agg"},
    )

    class OwnKernel(AsyncKernelManager):
        """Starts the running interpreter."""

        def __init__(self, **given: Any) -> None:
            if os.name == "posix":  # sockets in the scratch folder, which only this user can open
                given.update(transport="ipc", connection_file=str(scratch / "kernel.json"))
            super().__init__(**given)

        @property
        def kernel_spec(self) -> KernelSpec:
            return spec

    return OwnKernel


def page_of(document: Any, title: str) -> str:
    """Return an executed notebook as one page: prose and shown values, no code, no requests.

    Parameters
    ----------
    document : nbformat.NotebookNode
        Executed notebook.
    title : str
        Title of the window where the page has no heading of the first order, plain text.

    Returns
    -------
    str
        HTML.
    """
    from nbconvert.exporters import HTMLExporter
    from nbconvert.filters.markdown_mistune import markdown2html_mistune
    from traitlets.config import Config

    def prose(words: str) -> str:
        # Headings come with a link to themselves that says nothing to a reader.
        html = re.sub(r'<a class="anchor-link".*?</a>', "", str(markdown2html_mistune(words)))
        return re.sub(r"<h2[^>]*>(.*?)</h2>", lambda m: f'<h2 id="{_slug(m[1])}">{m[1]}</h2>', html)

    sections = [
        (_slug(line[3:]), line[3:].strip())
        for cell in document.cells
        if cell.cell_type == "markdown"
        for line in cell.source.splitlines()
        if line.startswith("## ")
    ]
    exporter = HTMLExporter(
        config=Config(),
        template_name=TEMPLATE.name,
        extra_template_basedirs=[str(TEMPLATE.parent)],
        filters={"prose": prose},
        exclude_anchor_links=True,
    )
    resources: dict[str, Any] = {
        "page_generator": GENERATOR,
        "page_style": (TEMPLATE / "style.css").read_text("utf-8"),
        "page_sections": sections,
    }
    shown = [
        output["data"].get("text/html", "")
        for cell in document.cells
        for output in cell.get("outputs", [])
        if "data" in output
    ]
    heading = re.search(r"<h1>(.*?)</h1>", "".join(shown))
    resources["page_title"] = unescape(heading[1]) if heading else title
    page, _ = exporter.from_notebook_node(document, resources=resources)
    return str(page)


def _slug(heading: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", heading.lower()).strip("-")


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
    program = browser()
    if program is None:
        raise ReportError(
            "no PDF: neither chromium nor chrome is on the path; "
            "open the HTML report in any browser and print it from there"
        )
    page, out = Path(page).absolute(), Path(out).absolute()
    check_target(out, "pdf")
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
