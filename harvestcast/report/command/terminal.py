"""What all commands share: options, progress, messages, exit status."""

from __future__ import annotations

import contextlib
import ctypes
import datetime as dt
import io
import json
import os
import sys
import time
import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from harvestcast.errors import HarvestcastError, InputError, Problem
from harvestcast.words.crops import crops_said_as

if TYPE_CHECKING:
    from harvestcast.records.garden import Garden
    from harvestcast.report.backtest.results import PastWeeks
    from harvestcast.report.season.ahead.results import Ahead
    from harvestcast.report.week.results import Week

F = TypeVar("F", bound=Callable[..., Any])

BAD_INPUT = 1


# Read before the options: a day among them is read as the folder's settings say.
FOLDER = click.argument("folder", type=click.Path(path_type=Path), is_eager=True)
OUT = click.option(
    "--out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="File to write; left out: in the folder 'reports' of the garden.",
)
PDF = click.option("--pdf", is_flag=True, help="Print it to PDF too, where chromium is installed.")
SEED = click.option(
    "--seed", type=click.IntRange(min=0), default=1, show_default=True, help="Seed of the draws."
)
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


class SeasonOf(click.ParamType[int]):
    """A season as 2025, or 2025/26 where it crosses New Year; its number is the first year."""

    name = "season"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> int:
        """Read the season."""
        from harvestcast.records.seasons import read_season

        try:
            year = value if isinstance(value, int) else read_season(str(value))
        except ValueError as error:
            self.fail(f"{error}; write 2025, or 2025/26 where it crosses New Year")
        if not 1900 <= year <= 2100:
            self.fail(f"{value!r} is no season of this time; write 2025, or 2025/26")
        return year


class Progress:
    """One line on standard error that says what is being done; silent when asked."""

    def __init__(self, quiet: bool = False) -> None:
        self._quiet = quiet
        self._started = time.monotonic()
        self._open = False

    def __call__(self, step: str) -> None:
        """Say the next step."""
        if not self._quiet:
            print(f"{', ' if self._open else ''}{step}", end="", file=sys.stderr, flush=True)
        self._open = True

    def counted(self, done: int, total: int) -> None:
        """Say how much of the present step is done; in a terminal only, and in its place."""
        if not self._quiet and self._open and sys.stderr.isatty():
            said = f" {done} of {total}"
            print(said + "\b" * len(said), end="", file=sys.stderr, flush=True)

    def note(self, words: str) -> None:
        """Say something on a line of its own."""
        self.broken()
        print(words, file=sys.stderr)

    def done(self) -> None:
        """End the line."""
        if not self._quiet and self._open:
            print(f": done in {time.monotonic() - self._started:.1f} s", file=sys.stderr)
        self._open = False

    def broken(self) -> None:
        """End the line where a step failed, or where something else is to be said."""
        if not self._quiet and self._open:
            print(file=sys.stderr)
        self._open = False


def strong() -> bool:
    """Return whether headings may be set in bold: a terminal, and NO_COLOR is not set."""
    return sys.stdout.isatty() and not os.environ.get("NO_COLOR")


def show(text: str) -> None:
    """Write text to standard output; letters it cannot write are replaced, never an error."""
    print(text)


_JSON_STREAM = "harvestcast.json"


def show_json(value: Any) -> None:
    """Write one JSON document to standard output, plain ASCII."""
    context = click.get_current_context(silent=True)
    stream = None if context is None else context.meta.get(_JSON_STREAM)
    print(json.dumps(value, indent=2, allow_nan=False), file=stream or sys.stdout, flush=True)


@contextlib.contextmanager
def _json_alone() -> Iterator[None]:
    """Let nothing but :func:`show_json` reach standard output; all else goes to standard error.

    Libraries written in C print to file descriptor 1 whatever Python's ``sys.stdout`` is, so the
    descriptor itself leads elsewhere meanwhile.
    """
    context = click.get_current_context()
    context.meta[_JSON_STREAM] = sys.stdout
    with contextlib.ExitStack() as stack:
        stack.callback(context.meta.pop, _JSON_STREAM)
        if _descriptor(sys.stdout) == 1 and _descriptor(sys.stderr) is not None:
            sys.stdout.flush()
            ours = stack.enter_context(os.fdopen(os.dup(1), "w", encoding="ascii"))
            context.meta[_JSON_STREAM] = ours
            stack.callback(os.dup2, ours.fileno(), 1)
            stack.callback(_flush_c)  # last in, first out: before the descriptor leads back
            os.dup2(sys.stderr.fileno(), 1)
        stack.enter_context(contextlib.redirect_stdout(sys.stderr))
        yield


def _descriptor(stream: Any) -> int | None:
    try:
        return int(stream.fileno())
    except (AttributeError, OSError, ValueError):  # closed, or no file at all
        return None


def _flush_c() -> None:
    """Write out what C libraries have printed so far and still hold."""
    with contextlib.suppress(AttributeError, OSError, TypeError):
        (ctypes.cdll.msvcrt if sys.platform == "win32" else ctypes.CDLL(None)).fflush(None)


def problem_rows(problems: Iterable[Problem]) -> list[dict[str, Any]]:
    """Return problems as plain rows.

    Examples
    --------
    >>> problem_rows([Problem(file="picks.csv", line=3, rule="no", cure="yes")])[0]["line"]
    3
    """
    from harvestcast.report.plain import plain

    names = ("code", "file", "line", "column", "value", "rule", "cure")
    return [
        {**{name: getattr(problem, name) for name in names}, "facts": plain(problem.facts)}
        for problem in problems
    ]


SHOWN_ALIKE = 4
"""Problems of one kind in one file that are shown one by one; of more, the lines are named."""


def problem_lines(problems: Iterable[Problem]) -> list[str]:
    """Return problems in words, those of one kind in one place gathered, no line left out.

    Examples
    --------
    >>> many = [Problem(file="p.csv", line=n, rule="no 1", cure="Go.") for n in (3, 4, 5, 9, 11)]
    >>> for line in problem_lines(many):
    ...     print(line)
    p.csv, line 3: no 1. Go.
    5 lines of p.csv are alike, this one first: 3 to 5, 9, 11
    """
    kinds: dict[tuple[str, str, str], list[Problem]] = {}
    for problem in problems:
        kind = problem.code or problem.rule
        kinds.setdefault((problem.file, problem.column, kind), []).append(problem)
    shown = []
    for (file, _, _), alike in kinds.items():
        lines = sorted({p.line for p in alike if p.line is not None})
        if len(alike) <= SHOWN_ALIKE or len(lines) < len(alike) // 2:
            shown += [str(problem) for problem in alike]
            continue
        shown.append(str(alike[0]))
        shown.append(f"{len(lines)} lines of {file} are alike, this one first: {_spans(lines)}")
    return shown


def _spans(lines: Sequence[int]) -> str:
    spans: list[list[int]] = []
    for line in lines:
        if spans and line == spans[-1][1] + 1:
            spans[-1][1] = line
        else:
            spans.append([line, line])
    words = [f"{a}" if a == b else f"{a} to {b}" for a, b in spans]
    return ", ".join(words)


def notice_line(row: dict[str, Any]) -> str:
    """Return a notice in one line: file, line, column, what was typed, what was done."""
    where = row["file"] if row["line"] is None else f"{row['file']}, line {row['line']:.0f}"
    where += f", {row['column']}" if row["column"] else ""
    typed = f" ({row['value']!r})" if row["value"] else ""
    return f"{where}{typed}: {row['odd']}; {row['done']}"


def in_words_of(garden: Garden | Week | Ahead | PastWeeks) -> None:
    """Say crops and jars as the garden's household calls them until the command ends."""
    from harvestcast.kitchen.household.jars import own_words
    from harvestcast.records.garden import Garden

    words = own_words(garden) if isinstance(garden, Garden) else garden.crop_words
    click.get_current_context().with_resource(crops_said_as(words))


def _debugging() -> bool:
    return bool(os.environ.get("HARVESTCAST_DEBUG"))


def _fail(lines: Iterable[str], errors: list[dict[str, Any]], as_json: bool) -> None:
    if as_json:
        show_json({"ok": False, "errors": errors})
    for line in lines:
        print(line, file=sys.stderr)
    raise SystemExit(BAD_INPUT)


def command(draw: F) -> F:
    """Give a command the common options, and turn what goes wrong into messages.

    The command takes ``as_json`` and ``progress``. Exit status: 0 done, 1 bad input (said line
    by line) or something unforeseen, 2 wrong use of the command line.
    """

    @click.option("--json", "as_json", is_flag=True, help="Write JSON to standard output.")
    @click.option("--quiet", is_flag=True, help="No progress line.")
    @click.option("--debug", is_flag=True, help="Show where an unforeseen error came from.")
    @wraps(draw)
    def guarded(*args: Any, as_json: bool, quiet: bool, debug: bool, **kwargs: Any) -> Any:
        _tolerant_output()
        progress = Progress(quiet)
        with _json_alone() if as_json else contextlib.nullcontext():
            try:
                return draw(*args, as_json=as_json, progress=progress, **kwargs)
            except InputError as error:
                progress.broken()
                rows = problem_rows(error.problems)
                number = len(rows)
                tail = f"{number} problem{'s' if number != 1 else ''}; nothing was written."
                _fail([*problem_lines(error.problems), tail], rows, as_json)
            except HarvestcastError as error:
                progress.broken()
                limits = [f"  - {limit}" for limit in getattr(error, "limits", ())]
                _fail([str(error), *limits], [_row(error)], as_json)
            except BrokenPipeError:
                raise  # whoever reads has seen enough, as 'head' has: click ends quietly
            except OSError as error:
                progress.broken()
                what = error.strerror or str(error)
                where = f"{error.filename}: " if error.filename else ""
                _fail([f"{where}{what}"], [_row(error)], as_json)
            except (click.exceptions.ClickException, click.exceptions.Exit, click.Abort):
                progress.broken()
                raise
            except Exception as error:
                progress.broken()
                if debug or _debugging():
                    traceback.print_exc()
                _fail(
                    [
                        f"Something unforeseen went wrong: {type(error).__name__}: {error}",
                        "This is a fault of the program, not of your files. Please report it "
                        "with what you typed, the version ('harvestcast --version') and the "
                        "output of the same command with --debug.",
                    ],
                    [_row(error)],
                    as_json,
                )

    return guarded  # type: ignore[return-value]


def _row(error: Exception) -> dict[str, Any]:
    return problem_rows([Problem(file="", rule=str(error), cure="")])[0]


def _tolerant_output() -> None:
    # A terminal without the letters of a typed name shows a stand-in instead of failing.
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError, io.UnsupportedOperation):
            stream.reconfigure(errors="backslashreplace")  # type: ignore[union-attr]


def may_write(out: Path | None, *, pdf: bool, **_: Any) -> None:
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
    page = write_report(kind, folder, target, results=results)
    if pdf:
        progress("printing it")
        try:
            print_pdf(page, page.with_suffix(".pdf"))
        except ReportError as error:
            progress.note(str(error))
    return page


def deliver(
    kind: str,
    name: str,
    results: Any,
    *,
    summary: Callable[..., dict[str, Any]],
    terminal: Callable[..., str],
    folder: Path,
    out: Path | None,
    pdf: bool,
    no_report: bool,
    as_json: bool,
    progress: Progress,
) -> None:
    """Write the page of a report, unless it is not wanted, and say its results.

    Parameters
    ----------
    kind, name : str
        Kind of report, and the name of its file where none is given.
    results : object
        The report's results.
    summary, terminal : callable
        Results in; plain values, or the words of the terminal out.
    folder, out, pdf, no_report, as_json, progress
        As the command line gives them.
    """
    page = None
    if not no_report:
        page = write(kind, folder, out, name, results, progress, pdf=pdf)
    progress.done()
    if as_json:
        show_json(summary(results, None if page is None else str(page)))
        return
    show(terminal(results, strong=strong()))
    if page is not None:
        show(f"\nReport: {page}")


def say_left_out(garden: Garden, progress: Progress) -> None:
    """Say the targets that are left out; on standard error, so that JSON stays JSON."""
    from harvestcast.report.check import strange_settings
    from harvestcast.report.plain import rows

    for row in rows(strange_settings(garden.household, garden.folder)):
        progress.note(notice_line(row))
