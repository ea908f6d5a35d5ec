"""Commands for the log: start, add, import, check, sheet."""

from __future__ import annotations

import re
import sys
from pathlib import Path
from typing import Any

import click

from harvestcast.report.terminal import (
    BAD_INPUT,
    Progress,
    command,
    problem_rows,
    show,
    show_json,
)

_FOOT_M = 0.3048  # international foot, 1959
FOLDER = click.argument("folder", type=click.Path(path_type=Path))


def elevation_in_metres(typed: str) -> float:
    """Return a typed elevation in metres; the unit must be said.

    Parameters
    ----------
    typed : str
        ``1300 ft``, ``1,300 feet``, ``400 m``.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        Where there is no number or no unit.

    Examples
    --------
    >>> elevation_in_metres("1,000 ft"), elevation_in_metres("400m")
    (304.8, 400.0)
    """
    match = re.fullmatch(
        r"\s*(-?\d{1,3}(?:,\d{3})+|-?\d+)(\.\d+)?\s*(ft|feet|foot|'|m|metres?|meters?)\s*",
        typed.lower(),
    )
    if not match:
        raise ValueError(f"{typed!r} is no elevation; write a number and its unit, such as 1300 ft")
    value = float(match[1].replace(",", "") + (match[2] or ""))
    metres = value * _FOOT_M if match[3][0] in "f'" else value
    if not -430 <= metres <= 5000:
        raise ValueError(f"{typed!r} is no elevation of a garden; from -430 m to 5,000 m")
    return round(metres, 6)


def _elevation(ctx: click.Context, param: click.Parameter, value: str | None) -> float | None:
    if value is None:
        return None
    try:
        return elevation_in_metres(value)
    except ValueError as error:
        raise click.BadParameter(str(error)) from None


@click.command(
    epilog='Example: harvestcast start my_garden --elevation "1300 ft" --crops "cucumber, tomato"',
    short_help="Begin a garden folder.",
)
@FOLDER
@click.option("--place", help="Name of the garden.")
@click.option("--elevation", callback=_elevation, help="Height above the sea, '1300 ft', '400 m'.")
@click.option("--units", type=click.Choice(["us", "metric"]), help="Units of files and reports.")
@click.option("--people", type=click.FloatRange(min=0, min_open=True), help="People who eat.")
@click.option("--crops", help="Crops, divided by commas: 'cucumber, tomato, snap bean'.")
@click.option("--last-frost", help="Usual last frost of spring, 05-10.")
@click.option("--first-frost", help="Usual first frost of autumn, 10-05.")
@click.option("--ask/--no-ask", default=None, help="Ask for what is not given. [default: in a "
              "terminal]")  # fmt: skip
@command
def start(folder: Path, ask: bool | None, as_json: bool, progress: Progress, **given: Any) -> None:
    """Write a new garden folder with commented settings and empty tables.

    Nothing that is there already is touched.
    """
    from harvestcast.records.start import start_garden

    if ask is None:
        ask = sys.stdin.isatty() and not as_json
    if ask:
        given = _asked(given, folder)
    place = given["place"] if given["place"] is not None else folder.resolve().name
    crops = [c for c in (given["crops"] or "").replace(";", ",").split(",") if c.strip()]
    written = start_garden(
        folder,
        place=place,
        elevation_m=given["elevation"],
        units=given["units"] or "metric",
        people=given["people"] or 2,
        crops=crops,
        last_frost=given["last_frost"] or None,
        first_frost=given["first_frost"] or None,
    )
    files = [path.name for path in written]
    if as_json:
        show_json({"ok": True, "kind": "start", "folder": str(folder), "files": files})
        return
    show(f"Made {folder}: {', '.join(files)}.")
    if given["elevation"] is None:
        show("No elevation is set: no canning time is shown until garden.toml has one.")
    show("Next: write what is planted into plantings.csv, look garden.toml over, then")
    show(f"  harvestcast add {folder} CROP COUNT\n  harvestcast check {folder}")


def _asked(given: dict[str, Any], folder: Path) -> dict[str, Any]:
    answers = dict(given)
    if answers["place"] is None:
        answers["place"] = click.prompt("Name of the garden", default=folder.resolve().name)
    if answers["units"] is None:
        choice = click.Choice(["us", "metric"])
        answers["units"] = click.prompt("Units", type=choice, default="metric")
    while answers["elevation"] is None:
        typed = click.prompt(
            "Height above the sea, such as 1300 ft or 400 m (empty: not known)",
            default="",
            show_default=False,
        )
        if not typed.strip():
            break
        try:
            answers["elevation"] = elevation_in_metres(typed)
        except ValueError as error:
            click.echo(str(error), err=True)
    if answers["people"] is None:
        answers["people"] = click.prompt(
            "People who eat from it", type=click.FloatRange(min=0, min_open=True), default=2
        )
    if answers["crops"] is None:
        answers["crops"] = click.prompt("Crops, divided by commas", default="", show_default=False)
    return answers


@click.command(
    epilog="Example: harvestcast add my_garden cucumber 34 --on yesterday --oversize 3",
    short_help="Write down a pick, or take the last one back.",
)
@FOLDER
@click.argument("crop", required=False)
@click.argument("amount", nargs=-1)
@click.option("--variety", default="", help="Variety, or the beginning of one that is planted.")
@click.option("--on", default="today", show_default=True, help="Day: yesterday, monday, "
              "2026-07-05.")  # fmt: skip
@click.option("--weight", default="", help="Weight where the amount is a count: 5.2lb.")
@click.option("--oversize", default="", help="Grown too big, beside the amount.")
@click.option("--damaged", default="", help="Damaged, beside the amount.")
@click.option("--bed", default="", help="Bed.")
@click.option("--hours", default="", help="Time spent picking: 0.5, 20 min.")
@click.option("--note", default="", help="Note.")
@click.option("--new-crop", is_flag=True, help="Take a crop that is neither known nor planted.")
@click.option("--undo", is_flag=True, help="Take the last entry back.")
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
    from harvestcast.records.entry import add_pick, undo_last

    if undo:
        if crop or amount:
            raise click.UsageError("--undo takes back the last entry; it takes no crop or amount")
        entry = undo_last(folder)
    elif crop is None:
        raise click.UsageError("say which crop, and how much of it")
    else:
        entry = add_pick(folder, crop, " ".join(amount), **said)
    if as_json:
        show_json({"ok": True, "kind": "undo" if undo else "add", "file": entry.file,
                   "says": entry.says, "lines": list(entry.lines),
                   "remarks": list(entry.remarks)})  # fmt: skip
        return
    show(f"{'Taken back from' if undo else 'Written to'} {entry.file}: {entry.says}")
    for remark in entry.remarks:
        show(f"  {remark}")


@click.command(
    epilog="Example: harvestcast check my_garden",
    short_help="List all that is wrong or odd in the files.",
)
@FOLDER
@command
def check(folder: Path, as_json: bool, progress: Progress) -> None:
    """Read every file of a garden and list all that is wrong, and all that is odd.

    Exit status 1 where anything must be mended before a report can be made.
    """
    from harvestcast.kitchen.settings import settings_problems
    from harvestcast.records.garden import check_garden, open_garden
    from harvestcast.report.week import rows

    problems, notices = check_garden(folder)
    if not problems:
        problems = settings_problems(open_garden(folder).household)
    found = notices.sort_values(["file", "line"], kind="stable")
    if as_json:
        show_json({"ok": not problems, "kind": "check", "errors": problem_rows(problems),
                   "notices": rows(found)})  # fmt: skip
    else:
        for problem in problems:
            show(f"MEND  {problem}")
        for row in rows(found):
            show(f"odd   {_notice(row)}")
        show(f"{_number(len(problems), 'thing')} to mend, {_number(len(found), 'odd thing')}.")
    if problems:
        raise SystemExit(BAD_INPUT)


def _number(count: int, noun: str) -> str:
    return f"{count} {noun}{'' if count == 1 else 's'}"


def _notice(row: dict[str, Any]) -> str:
    where = row["file"] if row["line"] is None else f"{row['file']}, line {row['line']:.0f}"
    where += f", {row['column']}" if row["column"] else ""
    typed = f" ({row['value']!r})" if row["value"] else ""
    return f"{where}{typed}: {row['odd']}; {row['done']}"


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

    Both are made of the crops and varieties of the garden.
    """
    from harvestcast.records.garden import open_garden
    from harvestcast.records.sheet import write_template
    from harvestcast.report.notebook import ReportError, print_pdf
    from harvestcast.report.sheets import write_sheet

    garden = open_garden(folder)
    home = folder / "sheets"
    wanted = [out] if out is not None else [home / "picking_sheet.html", home / "picks.xlsx"]
    written: list[Path] = []
    for path in wanted:
        if path.suffix.lower() not in (".html", ".xlsx"):
            raise click.BadParameter(f"{path.name}: the file must end in .html or .xlsx")
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
