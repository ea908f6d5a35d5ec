"""What all commands share: options, progress, messages, exit status."""

from __future__ import annotations

import contextlib
import ctypes
import io
import json
import os
import re
import sys
import time
import traceback
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import wraps
from typing import Any, TypeVar

import click

from harvestcast.errors import HarvestcastError, InputError, Problem
from harvestcast.words.days import MONTHS

F = TypeVar("F", bound=Callable[..., Any])

BAD_INPUT = 1


class Progress:
    """One line on standard error that says what is being done; silent when asked."""

    def __init__(self, quiet: bool = False) -> None:
        self._quiet = quiet
        self._started = time.monotonic()
        self._steps = 0

    def __call__(self, step: str) -> None:
        """Say the next step."""
        if not self._quiet:
            print(f"{', ' if self._steps else ''}{step}", end="", file=sys.stderr, flush=True)
        self._steps += 1

    def done(self) -> None:
        """End the line."""
        if not self._quiet and self._steps:
            print(f": done in {time.monotonic() - self._started:.1f} s", file=sys.stderr)

    def broken(self) -> None:
        """End the line where a step failed."""
        if not self._quiet and self._steps:
            print(file=sys.stderr)


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
    from harvestcast.report.week.results import plain

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
        # Numbers, days and what was typed differ within one kind.
        rule = re.sub(r"\d+|'[^']*'|\b(" + "|".join(MONTHS) + r")\b", "#", problem.rule)
        kind = problem.code or rule
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
