"""The command that takes over a log kept in another form, after a preview of every line."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from harvestcast.report.command.terminal import (
    BAD_INPUT,
    FOLDER,
    Progress,
    SeasonOf,
    command,
    notice_line,
    problem_lines,
    problem_rows,
    show,
    show_json,
)
from harvestcast.words.numbers import plural

if TYPE_CHECKING:
    import pandas as pd

    from harvestcast.records.importing.preview import Preview

MOST_LINES = 40
"""Lines of the preview shown unless all are asked for."""
MOST_NAMES = 8
"""Unknown crops that the cure repeats."""
WIDEST = 160
"""Letters of a typed line that the preview repeats."""
_DONE = ("read",)


class _Year(click.ParamType[str]):
    """A year, or a season over New Year, as it was typed."""

    name = "year"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> str:
        """Refuse what is neither."""
        SeasonOf().convert(value, param, ctx)
        return str(value)


@click.command(
    "import",
    epilog="Example: harvestcast import my_garden old_log.xlsx, and then the same with --write. "
    "What each option settles: harvestcast explain import.",
    short_help="Take over a log kept in another form.",
)
@FOLDER
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--write", is_flag=True, help="Take it over; left out: only the preview.")
@click.option("--leave-out-unread", is_flag=True, help="Take over what was understood, although "
              "some lines were not.")  # fmt: skip
@click.option("--date-order", type=click.Choice(["year_first", "month_first", "day_first"]),
              help="How 7/5/2026 is meant.")  # fmt: skip
@click.option("--year", type=_Year(), help="Year of dates that have none, or the season over New "
              "Year that they lie in: 2025, or 2024/25.")  # fmt: skip
@click.option("--unit", type=click.Choice(["each", "dozen", "kg", "g", "lb", "oz"]),
              help="What bare numbers mean.")  # fmt: skip
@click.option("--decimal", type=click.Choice(["point", "comma"]), help="Decimal mark.")
@click.option("--crop", help="Crop of a table that names none.")
@click.option(
    "--column",
    "columns",
    multiple=True,
    metavar="HEADING=WHAT",
    help="What a heading (column, block, sheet) means: 'Which kind=variety', 'Toms=tomato'.",
)
@click.option("--take-alike", is_flag=True, help="Take rows that agree with a pick of the log in "
              "all but note or bed for baskets of their own.")  # fmt: skip
@click.option("--all-lines", is_flag=True, help="Show every line of the preview.")
@command
def import_(
    folder: Path,
    files: tuple[Path, ...],
    write: bool,
    leave_out_unread: bool,
    all_lines: bool,
    columns: tuple[str, ...],
    as_json: bool,
    progress: Progress,
    **asked: Any,
) -> None:
    """Read picks kept in another form: CSV, .xlsx or .ods, any order of columns.

    Shows what was understood of every line and what was not, and writes nothing until --write
    is given. Picks that stand in the garden already are said and not doubled.
    """
    from harvestcast.records.importing.preview import read_foreign
    from harvestcast.records.importing.write import import_into

    preview = read_foreign(list(files), folder=folder, columns=_headings(columns), **asked)
    stopped = bool(preview.problems) and not (write and leave_out_unread)
    taken = None
    if write and not stopped:
        taken = import_into(folder, preview, leave_out_unread=leave_out_unread)
    if as_json:
        show_json(_plain(preview, taken, not stopped))
    else:
        show(_words(preview, all_lines))
        if taken is not None and taken.file:
            likely = f", {taken.alike} most likely too (left out)" if taken.alike else ""
            unread = f"{plural(taken.not_read, 'line')} {'was' if taken.not_read == 1 else 'were'}"
            wrote = f"Wrote {plural(taken.picks, 'pick')} to {taken.file}"
            show(f"{wrote}; {taken.twice} stood there already{likely}, {unread} not read. "
                 f"'harvestcast add {folder} --undo' takes it back.")  # fmt: skip
        elif taken is not None:
            likely = ", or most likely does" if taken.alike else ""
            show(f"Nothing new: every pick stands in the garden already{likely}.")
        elif stopped:
            show("Nothing was written: settle the errors, or leave those lines out with "
                 "--write --leave-out-unread.")  # fmt: skip
        else:
            show("Nothing was written yet: the same command with --write takes it over.")
    if stopped:
        raise SystemExit(BAD_INPUT)


def _headings(columns: tuple[str, ...]) -> dict[str, str]:
    """Return what was said of columns, heading to what it holds."""
    said = {}
    for typed in columns:
        heading, mark, means = typed.rpartition("=")
        if not mark or not heading.strip():
            raise click.BadParameter(f"{typed!r}: write it as 'HEADING=WHAT', 'Which kind=variety'")
        said[heading.strip()] = means.strip()
    return said


def _plain(preview: Preview, taken: Any, ok: bool) -> dict[str, Any]:
    from harvestcast.report.plain import rows

    names = ("file", "picks", "twice", "alike", "not_read")
    return {
        "ok": ok,
        "kind": "import",
        "files": list(preview.files),
        "columns": rows(preview.columns),
        "lines": rows(preview.lines),
        "errors": problem_rows(preview.problems),
        "notices": rows(preview.notices),
        "date_order": preview.date_order,
        "written": None if taken is None else {name: getattr(taken, name) for name in names},
    }


def _words(preview: Preview, all_lines: bool) -> str:
    from harvestcast.report.plain import rows

    out = ["Columns"]
    where = _places(preview)
    alike: dict[tuple[tuple[str, str], ...], list[str]] = {}
    for (file, sheet), own in preview.columns.groupby(["file", "sheet"], sort=False, dropna=False):
        # A sheet a month has the same columns twelve times.
        said = own.loc[own["heading"] != "", ["heading", "taken_for"]]
        place = where.get((str(file), sheet if isinstance(sheet, str) else None), str(file))
        alike.setdefault(tuple(said.itertuples(index=False, name=None)), []).append(place)
    for columns, places in alike.items():
        more = f" and {len(places) - 1} like it" if places[1:] else ""
        for heading, taken in columns:
            taken = taken if taken == "not used" else f"taken for {taken}"
            out.append(f"  {places[0]}{more}: '{heading}' {taken}")
    lines = preview.lines
    counts = lines["became"].value_counts()
    told = ", ".join(f"{number} {name}" for name, number in counts.items())
    out.append(f"Lines: {told or 'none'}")
    shown = lines if all_lines else lines.loc[~lines["became"].isin(_DONE)]
    for _, row in shown.head(len(shown) if all_lines else MOST_LINES).iterrows():
        typed = row["typed"] if len(row["typed"]) <= WIDEST else row["typed"][:WIDEST] + "..."
        place = where.get((row["file"], row["sheet"]), "")
        place += ", " if place else ""
        out.append(f"  {place}line {row['line']} {row['became']}: {typed} -> {row['meaning']}")
    if not all_lines and len(shown) > MOST_LINES:
        out.append(f"  and {len(shown) - MOST_LINES} more; --all-lines shows them")
    out += [f"error    {line}" for line in problem_lines(preview.problems)]
    out += [f"warning  {notice_line(row)}" for row in rows(preview.notices)]
    return "\n".join([*out, *_cures(preview)])


def _places(preview: Preview) -> dict[tuple[str, str | None], str]:
    """Return how each table is named before its lines; empty where there is one table only."""
    pairs = preview.lines[["file", "sheet"]].drop_duplicates().itertuples(index=False, name=None)
    tables = list(pairs)
    if len(tables) < 2:
        return {}
    sheets = [file for file, _ in tables]
    return {
        (file, sheet): f"{file}, sheet {sheet}" if sheet and sheets.count(file) > 1 else file
        for file, sheet in tables
    }


def _cures(preview: Preview) -> list[str]:
    """Return the options that settle what was not read, each said once."""
    from harvestcast.records.importing.preview import COLUMNS_SAID

    met = {problem.code for problem in preview.problems}
    order = preview.date_order
    cures = []
    if met & {"date.ambiguous", "date.no_month"}:
        shown = "" if order is None else " (the others in the file are written so)"
        word = order or "day_first or --date-order month_first"
        cures.append(f"dates that may be two days: --date-order {word}{shown}")
    if "date.no_year" in met:
        this = dt.date.today().year
        season = f"{this - 1}/{this % 100:02d}"
        cures.append(
            f"dates without a year: --year {this}, say, or --year {season} where they run over "
            "New Year"
        )
    if met & {"number.no_unit", "number.no_units"}:
        cures.append("bare numbers: --unit each for counts, or --unit kg, g, lb, oz, dozen")
    if "number.decimal" in met:
        cures.append("numbers such as 1,250: --decimal comma, or --decimal point")
    if "column.no_crop" in met:
        cures.append('a table of one crop: --crop NAME; a sheet or block of one: --column "ITS '
                     'HEADING=NAME"')  # fmt: skip
    if met & {"column.no_crop", "column.none"} and not len(preview.picks):
        cures.append(
            'columns under headings of your own: --column "HEADING=date", for each of them; what a '
            f"column may hold: {', '.join(COLUMNS_SAID)}"
        )
    if preview.alike:
        cures.append(
            "lines that are most likely in the log already (alike): they are left out; "
            "--take-alike takes them in as baskets of their own"
        )
    odd = preview.notices
    headings = odd.loc[odd["code"] == "heading.unknown", "column"].dropna().drop_duplicates()
    if len(headings):
        cures.append(
            f"columns that are not used ({_some(headings)}): "
            f'--column "{headings.iloc[0]}=WHAT IT HOLDS", which may be: '
            f"{', '.join(COLUMNS_SAID)}"
        )
    names = odd.loc[odd["code"] == "crop.unknown", "value"].dropna()
    if len(names):
        cures.append(
            f"crops that are not known ({_some(names)}): under the crop they mean, in garden.toml, "
            f'[crops."that crop"] and below it aliases = ["{names.iloc[0]}"]; or leave them as '
            "crops of their own"
        )
    return ["To settle", *(f"  {cure}" for cure in cures)] if cures else []


def _some(names: pd.Series) -> str:
    return ", ".join(names.head(MOST_NAMES)) + (" ..." if len(names) > MOST_NAMES else "")
