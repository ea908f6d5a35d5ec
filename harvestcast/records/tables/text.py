"""Any table file as rows of text: delimited text of any common kind, .xlsx and .ods.

A table is read with bounded time and memory: what is larger than the limits below is
refused, and said.
"""

from __future__ import annotations

import csv
import gzip
import io
import re
import zlib
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from harvestcast.errors import InputError
from harvestcast.records.tables.findings import refuse

MOST_BYTES = 32 * 1024**2
"""Largest file that is read; a household's log of fifty years stays far below it."""
MOST_ROWS = 200_000
MOST_LINES = 1_048_576
"""Most lines counting empty ones: as many as a spreadsheet can have rows."""
MOST_COLUMNS = 500
MOST_CELL = 10_000
"""Longest text of one cell; a longer one is mostly a quotation mark that was never closed."""
_DELIMITERS = ",;\t|"


@dataclass(frozen=True, slots=True, kw_only=True)
class TextShape:
    """How a text file is written, so that a line can be added in the same hand."""

    encoding: str = "utf-8"
    bom: bytes = b""
    delimiter: str = ","
    newline: str = "\n"
    closed: bool = True
    """Whether the last line ends with a line end."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Table:
    """One table as text: a heading and rows with their line numbers."""

    file: str
    heading: tuple[str, ...]
    heading_line: int
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    shape: TextShape | None = None
    sheet: str = ""
    above: tuple[tuple[int, tuple[str, ...]], ...] = ()
    """Lines above the heading."""

    @property
    def skipped(self) -> tuple[tuple[int, str], ...]:
        """Lines above the heading in words."""
        return tuple((line, " ".join(filter(None, cells))) for line, cells in self.above)

    @property
    def width(self) -> int:
        """Number of columns, up to the last one that has a heading."""
        return max((n for n, text in enumerate(self.heading, 1) if text), default=0)


def read_bytes(path: Path, name: str | None = None, most: int = MOST_BYTES) -> bytes:
    """Return the content of a file within the size limit.

    Parameters
    ----------
    path : pathlib.Path
        File; one that ends in .gz is unpacked within the same limit.
    name : str, optional
        Name to use in messages.
    most : int
        Size limit in bytes.

    Raises
    ------
    harvestcast.errors.InputError
        Where it is no file, cannot be opened, or is too large.
    """
    file = name or path.name
    try:
        if not path.is_file():
            raise refuse("file.is_folder" if path.is_dir() else "file.absent", file)
        if path.stat().st_size > most:
            raise _too_large(file, most)
        with path.open("rb") as raw:
            content = raw.read(most + 1)
        if path.suffix == ".gz":
            with gzip.GzipFile(fileobj=io.BytesIO(content)) as packed:
                content = packed.read(most + 1)
    except (OSError, EOFError, zlib.error) as error:
        reason = getattr(error, "strerror", None) or "it is damaged"
        raise refuse("file.refused", file, reason=reason) from None
    if len(content) > most:
        raise _too_large(file, most)
    return content


def _too_large(file: str, most: int) -> InputError:
    return refuse("file.too_large", file, mb=most // 1024**2)


def decode(content: bytes, file: str) -> tuple[str, TextShape]:
    """Return the text of a file and how it is written.

    Encodings: UTF-8 with and without byte-order mark, UTF-16, else Windows-1252.

    Raises
    ------
    harvestcast.errors.InputError
        Where it is no text.
    """
    bom, encoding = b"", "utf-8"
    if content.startswith(b"\xef\xbb\xbf"):
        bom = content[:3]
    elif content.startswith((b"\xff\xfe", b"\xfe\xff")):
        bom = content[:2]
        encoding = "utf-16-le" if bom == b"\xff\xfe" else "utf-16-be"
    elif content[:400].count(b"\0") > len(content[:400]) // 3:
        # UTF-16 without a mark: every second byte of Latin text is zero.
        encoding = "utf-16-le" if content[1:2] == b"\0" else "utf-16-be"
    try:
        text = content[len(bom) :].decode(encoding)
    except UnicodeDecodeError:
        if encoding != "utf-8":
            raise refuse("file.damaged_text", file) from None
        encoding = "cp1252"
        try:
            text = content.decode(encoding)
        except UnicodeDecodeError:
            raise refuse("file.no_text", file) from None
    nul = text.find("\0")
    if nul >= 0:
        raise refuse("file.zero_bytes", file, text.count("\n", 0, nul) + 1)
    newline = "\r\n" if "\r\n" in text else "\r" if "\r" in text and "\n" not in text else "\n"
    closed = not text or text.endswith(("\n", "\r"))
    return text, TextShape(encoding=encoding, bom=bom, newline=newline, closed=closed)


def find_delimiter(text: str) -> str:
    r"""Return the delimiter that splits the first lines into the most even columns.

    Examples
    --------
    >>> find_delimiter("date;crop;kg\n2026-07-05;cucumber;1,5\n")
    ';'
    """
    lines = [line for line in text[:20_000].splitlines()[:30] if line.strip()]
    best, best_score = ",", 0.0
    for mark in _DELIMITERS:
        try:
            widths = [len(row) for row in csv.reader(lines, delimiter=mark) if row]
        except csv.Error:
            continue
        if not widths or max(widths) < 2:
            continue
        usual = max(set(widths), key=widths.count)
        score = widths.count(usual) / len(widths) * min(usual, 12) if usual > 1 else 0.1
        if score > best_score:
            best, best_score = mark, score
    return best


def parse_text(content: bytes, file: str, delimiter: str | None = None) -> Table:
    """Return the table of a delimited text file.

    Raises
    ------
    harvestcast.errors.InputError
        Where it is no table, or larger than the limits.
    """
    text, shape = decode(content, file)
    mark = delimiter or find_delimiter(text)
    reader = csv.reader(
        io.StringIO(text, newline=""), delimiter=mark, skipinitialspace=True, strict=True
    )
    rows: list[tuple[int, tuple[str, ...]]] = []
    line = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                check_row(cells, file, line, len(rows))
                rows.append((line, tuple(cell.strip() for cell in cells)))
            line = reader.line_num + 1
            if line > MOST_LINES:
                raise refuse("table.lines", file, most=MOST_LINES)
    except csv.Error:
        raise refuse("table.broken", file, line) from None
    return to_table(rows, file, shape=replace(shape, delimiter=mark))


def check_row(cells: Sequence[str], file: str, line: int, number: int) -> None:
    """Refuse a row beyond the limits, ``number`` rows standing above it."""
    if number >= MOST_ROWS:
        raise refuse("table.lines", file, line, most=MOST_ROWS)
    if len(cells) > MOST_COLUMNS:
        raise refuse("table.columns", file, line, most=MOST_COLUMNS)
    for cell in cells:
        if len(cell) > MOST_CELL:
            raise refuse("table.cell", file, line, "", cell[:40], most=MOST_CELL)


def to_table(
    rows: Sequence[tuple[int, tuple[str, ...]]],
    file: str,
    *,
    shape: TextShape | None = None,
    sheet: str = "",
) -> Table:
    """Return a table whose heading is the first row that looks like one."""
    if not rows:
        return Table(file=file, heading=(), heading_line=1, rows=(), shape=shape, sheet=sheet)
    top = 0
    for number, (_, cells) in enumerate(rows[:20]):
        if looks_like_heading(cells):
            top = number
            break
    line, heading = rows[top]
    return Table(
        file=file,
        heading=heading,
        heading_line=line,
        rows=tuple(rows[top + 1 :]),
        shape=shape,
        sheet=sheet,
        above=tuple(rows[:top]),
    )


_NAMES_DAY_OR_CROP = re.compile(
    r"(date|day|when|picked|harvested|crop|vegetable|product|datum|tag|gem\u00fcse|gemuese|kultur|"
    r"jour|l\u00e9gumes?|culture|fecha|cultivo|verduras?|dag|gewas|groente|giorno|ortaggi?o?)\b",
    re.IGNORECASE,
)


def looks_like_heading(cells: Sequence[str]) -> bool:
    """Return whether a row is a heading: a date heading and another text, none of it a number."""
    words = [cell for cell in cells if cell]
    return len(words) > 1 and any(_NAMES_DAY_OR_CROP.match(w) for w in words)
