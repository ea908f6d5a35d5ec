"""The command that writes blank picking sheets: sheet."""

from __future__ import annotations

from pathlib import Path

import click

from harvestcast.report.command.terminal import FOLDER, Progress, command, show, show_json


@click.command(
    epilog="Example: harvestcast sheet my_garden",
    short_help="Blank picking sheets, on paper and to type into.",
)
@FOLDER
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path),
              help="File to write: .html to print, .xlsx to fill in. Left out: both, in the "
              "folder 'sheets' of the garden.")  # fmt: skip
@click.option("--pdf", is_flag=True, help="Print it to PDF too, where chromium is installed.")
@command
def sheet(folder: Path, out: Path | None, pdf: bool, as_json: bool, progress: Progress) -> None:
    """Write a blank picking sheet to print, and a spreadsheet with drop-downs.

    Both are made of the crops and varieties of the garden. A spreadsheet in which something is
    typed is left as it is, and a new one is written beside it.
    """
    from harvestcast.records.garden import open_garden
    from harvestcast.records.writing.report_file import check_target
    from harvestcast.records.writing.sheet import free_sheet, write_template
    from harvestcast.report.html.render import ReportError, print_pdf
    from harvestcast.report.html.sheets import write_sheet

    garden = open_garden(folder)
    home = folder / "sheets"
    # The spreadsheet first: where it cannot be written, nothing is.
    kept = home / "picks.xlsx"
    fresh = free_sheet(kept)
    wanted = [out] if out is not None else [fresh, home / "picking_sheet.html"]
    written: list[Path] = []
    for path in wanted:
        if path.suffix.lower() not in (".html", ".xlsx"):
            raise click.BadParameter(f"{path.name}: the file must end in .html or .xlsx")
        if path.suffix.lower() == ".html":
            check_target(path, "page")
            if pdf:
                check_target(path.with_suffix(".pdf"), "pdf")
    if out is None:
        home.mkdir(exist_ok=True)
    for path in wanted:
        make = write_template if path.suffix.lower() == ".xlsx" else write_sheet
        written.append(make(garden, path))
    if pdf:
        for path in [p for p in written if p.suffix.lower() == ".html"]:
            try:
                written.append(print_pdf(path, path.with_suffix(".pdf")))
            except ReportError as error:
                progress.note(str(error))
    if as_json:
        show_json({"ok": True, "kind": "sheet", "files": [str(path) for path in written]})
        return
    for path in written:
        show(f"Wrote {path}")
    if out is None and fresh != kept:
        show(f"  {kept.name} was left as it is: something is typed in it; harvestcast import takes "
             "it over")  # fmt: skip
