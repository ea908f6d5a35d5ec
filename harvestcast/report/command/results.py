"""Commands that compute: week, season, next, backtest."""

from __future__ import annotations

import datetime as dt
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from harvestcast.errors import InputError, Problem
from harvestcast.report.command.terminal import Progress, command, show, show_json, strong

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden

# Read before the options: a day among them is read as the folder's settings say.
FOLDER = click.argument("folder", type=click.Path(path_type=Path), is_eager=True)
OUT = click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File to write; left out: in the folder 'reports' of the garden.",
)
PDF = click.option("--pdf", is_flag=True, help="Print it to PDF too, where chromium is installed.")
NO_REPORT = click.option("--no-report", is_flag=True, help="Only the summary, no page.")


class Day(click.ParamType[dt.date]):
    """A day as 2026-07-19, 19 July, 19.7.2026, 'today' or 'yesterday'."""

    name = "date"

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> dt.date:
        """Read the day; one that may be two is read in the order the garden's settings say."""
        from harvestcast.records.settings import read_household
        from harvestcast.records.tables.findings import Findings
        from harvestcast.records.typed.dates import parse_day

        if isinstance(value, dt.date):
            return value
        folder = None if ctx is None else ctx.params.get("folder")
        order: Any = "year_first"
        if isinstance(folder, Path) and folder.is_dir():
            order = read_household(folder, Findings()).date_order
        try:
            return parse_day(str(value), dt.date.today(), order)
        except ValueError as error:
            self.fail(f"{value!r} {error}; write it as 2026-07-19, 19 July or yesterday")


def _some_picks(garden: Garden, folder: Path) -> None:
    if garden.picks.empty:
        raise InputError(
            [
                Problem(
                    file=str(folder),
                    rule="no pick is written down yet",
                    cure="Write picks down (harvestcast add), or take over a log (harvestcast "
                    "import); then there is a season to look at.",
                )
            ]
        )


def may_write(out: Path | None, *, pdf: bool) -> None:
    """Refuse a file that no report may be written to, before anything is computed for it."""
    from harvestcast.records.writing.report_file import check_target

    if out is not None:
        check_target(out, "page")
        if pdf:
            check_target(out.with_suffix(".pdf"), "pdf")


def write(
    kind: str,
    folder: Path,
    out: Path | None,
    name: str,
    results: Any,
    progress: Progress,
    *,
    pdf: bool,
) -> Path:
    """Write the page of a report, and its PDF where asked for; return where the page is."""
    from harvestcast.report.html.render import ReportError, print_pdf, write_report

    progress("writing the report")
    target = out if out is not None else folder / "reports" / f"{name}.html"
    bar = sys.stderr.isatty()
    page = write_report(kind, folder, target, results=results, progress=bar)
    if pdf:
        progress("printing it")
        try:
            print_pdf(page, page.with_suffix(".pdf"))
        except ReportError as error:
            click.echo(f"\n{error}", err=True)
    return page


@click.command(
    epilog="Example: harvestcast week my_garden --as-of 2026-07-19 --out this_week.html",
    short_help="What is coming, what to put up, what to buy.",
)
@FOLDER
@click.option("--as-of", type=Day(), help="Last day known, such as 2026-07-19 or 19 July; left "
              "out: the last day of the log.")  # fmt: skip
@click.option("--weeks", type=click.IntRange(1, 12), default=3, show_default=True)
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Seed of the draws."
)
@OUT
@PDF
@NO_REPORT
@command
def week(
    folder: Path,
    as_of: dt.date | None,
    weeks: int,
    seed: int,
    out: Path | None,
    pdf: bool,
    no_report: bool,
    as_json: bool,
    progress: Progress,
) -> None:
    """Say what is coming, what to put up on which day, what to buy, what is left over.

    Writes the week's report as one HTML file and a short summary to the terminal.
    """
    from harvestcast.report.week.results import results, summary
    from harvestcast.report.week.words import terminal

    may_write(out, pdf=pdf)
    day = None if as_of is None else as_of.isoformat()
    found = results(folder, as_of=day, weeks=weeks, seed=seed, say=progress, today=dt.date.today())
    page = None
    if not no_report:
        name = f"week_{found.as_of.date().isoformat()}"
        page = write("week", folder, out, name, found, progress, pdf=pdf)
    progress.done()
    if as_json:
        show_json(summary(found, None if page is None else str(page)))
        return
    show(terminal(found, strong=strong()))
    if page is not None:
        show(f"\nReport: {page}")


@click.command(
    epilog="Example: harvestcast season my_garden --year 2026",
    short_help="Compare the varieties of a season.",
)
@FOLDER
@click.option(
    "--year", type=click.IntRange(1900, 2100), help="Season; left out: the last one of the log."
)
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Seed of the draws."
)
@OUT
@PDF
@NO_REPORT
@command
def season(
    folder: Path,
    year: int | None,
    seed: int,
    out: Path | None,
    pdf: bool,
    no_report: bool,
    as_json: bool,
    progress: Progress,
) -> None:
    """Compare the varieties of a season, and what it taught the kitchen."""
    from harvestcast.records.garden import open_garden
    from harvestcast.report.season import page as season_page

    may_write(out, pdf=pdf)
    progress("reading the garden")
    garden = open_garden(folder)
    from harvestcast.season.review.varieties import compare_varieties

    _some_picks(garden, folder)
    _say_left_out(garden)
    progress("comparing the varieties")
    review = compare_varieties(garden, year=_season_year(garden, year), seed=seed)
    found = season_page.season_of(garden, review)
    page = None
    if not no_report:
        page = write("season", folder, out, f"season_{review.year}", found, progress, pdf=pdf)
    progress.done()
    if as_json:
        show_json(season_page.summary(found, None if page is None else str(page)))
        return
    show(season_page.terminal(found, strong=strong()))
    if page is not None:
        show(f"\nReport: {page}")


def _say_left_out(garden: Garden) -> None:
    """Say the targets that are left out; on standard error, so that JSON stays JSON."""
    from harvestcast.report.check import strange_settings
    from harvestcast.report.command.terminal import notice_line
    from harvestcast.report.week.results import rows

    for row in rows(strange_settings(garden.household, garden.folder)):
        click.echo(notice_line(row), err=True)


def _season_year(garden: Garden, year: int | None) -> int:
    if year is not None:
        return year
    last = garden.last_day
    return dt.date.today().year if last is None else int(last.year)


@click.command(
    epilog="Example: harvestcast backtest my_garden --year 2026 --weeks 2",
    short_help="How far off past forecasts were.",
)
@FOLDER
@click.option(
    "--year", type=click.IntRange(1900, 2100), help="Season; left out: the last one of the log."
)
@click.option("--weeks", type=click.IntRange(1, 8), default=1, show_default=True,
              help="Weeks ahead.")  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Seed of the draws."
)
@click.option("--out", type=click.Path(dir_okay=False, path_type=Path),
              help="CSV file for every forecast and its score.")  # fmt: skip
@command
def backtest(
    folder: Path,
    year: int | None,
    weeks: int,
    seed: int,
    out: Path | None,
    as_json: bool,
    progress: Progress,
) -> None:
    """Forecast a past season again from what was known, and say how far off it was."""
    from harvestcast.growth.backtest import backtest as score
    from harvestcast.records.garden import open_garden
    from harvestcast.records.writing.report_file import check_target, write_table
    from harvestcast.report.command import backtest_words

    if out is not None:
        check_target(out, "table")
    progress("reading the garden")
    garden = open_garden(folder)
    _some_picks(garden, folder)
    progress("forecasting week after week")
    bar = sys.stderr.isatty()
    scores = score(garden, year, weeks=weeks, by="crop", seed=seed, progress=bar)
    progress.done()
    if out is not None:
        write_table(out, scores)
    table = backtest_words.against_last_week(garden, scores)
    if as_json:
        show_json(backtest_words.summary(garden, scores, table))
        return
    show(backtest_words.terminal(garden, scores, table))


@click.command(
    "next",
    epilog="Example: harvestcast next my_garden --year 2027 --probability 0.9",
    short_help="How many plants to set next year, and when.",
)
@FOLDER
@click.option(
    "--year",
    type=click.IntRange(1900, 2100),
    help="Season to plan; left out: the one after the log's last.",
)
@click.option("--probability", type=click.FloatRange(0.5, 0.99), default=0.9, show_default=True,
              help="Share of years in which each target is met.")  # fmt: skip
@click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Seed of the draws."
)
@OUT
@PDF
@NO_REPORT
@command
def next_(
    folder: Path,
    year: int | None,
    probability: float,
    seed: int,
    out: Path | None,
    pdf: bool,
    no_report: bool,
    as_json: bool,
    progress: Progress,
) -> None:
    """Plan next season's beds so that appetite and pantry are met with little left over."""
    from harvestcast.records.garden import open_garden
    from harvestcast.report.next import page as next_page

    may_write(out, pdf=pdf)
    progress("reading the garden")
    garden = open_garden(folder)
    from harvestcast.season.next.plan import plan_next_season

    _say_left_out(garden)
    progress("planning the beds")
    wanted = year if year is not None else _season_year(garden, None) + 1
    plan = plan_next_season(garden, year=wanted, probability=probability, seed=seed)
    found = next_page.next_of(garden, plan)
    page = None
    if not no_report:
        page = write("next", folder, out, f"next_{plan.year}", found, progress, pdf=pdf)
    progress.done()
    if as_json:
        show_json(next_page.summary(found, None if page is None else str(page)))
        return
    show(next_page.terminal(found, strong=strong()))
    if page is not None:
        show(f"\nReport: {page}")
