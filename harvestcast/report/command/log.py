"""Commands for the log: add, check, sheet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from harvestcast.report.command.terminal import (
    BAD_INPUT,
    Progress,
    command,
    notice_line,
    problem_lines,
    problem_rows,
    show,
    show_json,
)

FOLDER = click.argument("folder", type=click.Path(path_type=Path))


@click.command(
    epilog="Example: harvestcast add my_garden cucumber 34 --on yesterday --oversize 3",
    short_help="Write down a pick, or take the last one back.",
    # "-12" is an amount to be answered as one, no option; see the check below.
    context_settings={"ignore_unknown_options": True},
)
@FOLDER
@click.argument("crop", required=False)
@click.argument("amount", nargs=-1)
@click.option("--variety", default="", help="Variety, or words of one that is planted.")
@click.option("--on", default="today", show_default=True, help="Day: yesterday, monday, "
              "2026-07-05.")  # fmt: skip
@click.option("--weight", default="", help="Weight where the amount is a count: 5.2lb.")
@click.option("--oversize", default="", help="Grown too big, beside the amount.")
@click.option("--damaged", default="", help="Damaged, beside the amount.")
@click.option("--bed", default="", help="Bed.")
@click.option("--hours", default="", help="Time spent picking: 0.5, 20 min.")
@click.option("--note", default="", help="Note.")
@click.option("--new-crop", is_flag=True, help="Take a crop that is neither known nor planted.")
@click.option("--undo", is_flag=True, help="Take the last entry, or the last import, back.")
@command
def add(
    folder: Path,
    crop: str | None,
    amount: tuple[str, ...],
    undo: bool,
    as_json: bool,
    progress: Progress,
    **said: Any,
) -> None:
    """Write down a pick, in the words a person would type.

    The amount may be 34, 2 dozen, 3 lb 4 oz, 1/2 kg or none (looked, and found none).
    """
    from harvestcast.records.writing.add import add_pick, undo_last

    for word in (crop or "", *amount):
        if word.startswith("-") and not word.lstrip("-")[:1].isdigit():
            raise click.NoSuchOption(word)
    if undo:
        if crop or amount:
            raise click.UsageError("--undo takes back the last entry; it takes no crop or amount")
        entry = undo_last(folder)
    elif crop is None:
        raise click.UsageError("say which crop, and how much of it")
    else:
        entry = add_pick(folder, crop, " ".join(amount), **said)
    if as_json:
        from harvestcast.report.week.results import plain

        show_json({"ok": True, "kind": "undo" if undo else "add", "file": entry.file,
                   "says": entry.says, "lines": list(entry.lines),
                   "remarks": [{"code": one.code, "facts": plain(one.facts), "text": str(one)}
                               for one in entry.remarks]})  # fmt: skip
        return
    show(f"{'Taken back from' if undo else 'Written to'} {entry.file}: {entry.says}")
    for remark in entry.remarks:
        show(f"  {remark}")


@click.command(
    epilog="Example: harvestcast check my_garden",
    short_help="List all that is wrong, odd or missing in the files.",
)
@FOLDER
@click.option("--products", is_flag=True, help="List instead what can stand under [targets].")
@command
def check(folder: Path, products: bool, as_json: bool, progress: Progress) -> None:
    """Read every file of a garden and list all that is wrong, odd, or still missing.

    Exit status 1 where anything must be mended before a report can be made.
    """
    if products:
        _products(folder, as_json)
        return
    import pandas as pd

    from harvestcast.kitchen.household.settings import settings_problems
    from harvestcast.records.garden import check_garden, open_garden
    from harvestcast.records.settings import read_household
    from harvestcast.records.tables.findings import Findings
    from harvestcast.report.check import (
        NO_ELEVATION,
        odd_things,
        still_missing,
        strange_settings,
    )
    from harvestcast.report.week.results import rows

    problems, notices = check_garden(folder)
    lacking: list[str] = []
    if problems:
        said = {problem.column.replace("elevation_ft", "elevation_m") for problem in problems}
        if folder.is_dir():
            home = read_household(folder, Findings())
            judged = settings_problems(home)
            problems += tuple(problem for problem in judged if problem.column not in said)
            notices = pd.concat([notices, strange_settings(home, folder)], ignore_index=True)
    else:
        garden = open_garden(folder)
        problems = settings_problems(garden.household)
        notices = odd_things(garden)
        lacking = still_missing(garden)
    mended = any(problem.column == "elevation_m" for problem in problems)
    if mended or any(NO_ELEVATION in line for line in lacking):  # once is enough
        lacking = [line for line in lacking if not mended or NO_ELEVATION not in line]
        notices = notices.loc[~notices["code"].eq("elevation.none").fillna(False)]
    found = notices.sort_values(["file", "line"], kind="stable")
    if as_json:
        show_json({"ok": not problems, "kind": "check", "errors": problem_rows(problems),
                   "notices": rows(found), "missing": lacking})  # fmt: skip
    else:
        for line in problem_lines(problems):
            show(f"MEND  {line}")
        for row in rows(found):
            show(f"odd   {notice_line(row)}")
        for line in lacking:
            show(f"next  {line}")
        counts = [f"{_number(len(problems), 'thing')} to mend", _number(len(found), "odd thing")]
        counts += [f"{_number(len(lacking), 'thing')} still to come"] if lacking else []
        show(f"{', '.join(counts)}.")
    if problems:
        raise SystemExit(BAD_INPUT)


def _products(folder: Path, as_json: bool) -> None:
    from harvestcast.records.garden import open_garden
    from harvestcast.report.command.product_list import product_lines, product_list

    listed = product_list(open_garden(folder))
    if as_json:
        show_json({"ok": True, "kind": "products", "products": listed})
        return
    for line in product_lines(listed):
        show(line)


def _number(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


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
                click.echo(str(error), err=True)
    if as_json:
        show_json({"ok": True, "kind": "sheet", "files": [str(path) for path in written]})
        return
    for path in written:
        show(f"Wrote {path}")
    if out is None and fresh != kept:
        show(f"  {kept.name} was left as it is: something is typed in it; harvestcast import takes "
             "it over")  # fmt: skip
