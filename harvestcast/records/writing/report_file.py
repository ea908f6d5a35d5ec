"""Write a report, and never over a file that is not a report.

Whoever mistypes ``--out`` must not lose a log. Each kind of report carries a mark inside, by which
one written before is known: a page its generator, a PDF its last line, a table its own heading.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Literal

from harvestcast.records.tables.findings import refuse
from harvestcast.records.writing.one_pick import safe_text
from harvestcast.records.writing.safely import cannot_write, replace_file

if TYPE_CHECKING:
    import pandas as pd

Kind = Literal["page", "pdf", "table"]

GENERATOR = '<meta name="generator" content="harvestcast">'
"""Stands in the head of every page that is written, and of no other."""
_PDF_MARK = b"\n%harvestcast report\n"
_HEAD = 4096
_ENDINGS: dict[Kind, tuple[str, ...]] = {
    "page": (".html", ".htm"),
    "pdf": (".pdf",),
    "table": (".csv",),
}
_LOGS = ("picks", "weather", "plantings", "pantry", "kitchen.")


def check_target(path: Path, kind: Kind, heading: bytes = b"") -> None:
    """Refuse a file that a report may not be written to.

    Parameters
    ----------
    path : pathlib.Path
        File that is wanted; it may be missing.
    kind : {"page", "pdf", "table"}
        What is to be written there.
    heading : bytes
        First line of the table; left empty, a table that stands there is looked at later.

    Raises
    ------
    harvestcast.errors.InputError
        Where its name has another ending, where a garden would read it as a log, or where
        something else than an earlier report of this kind stands there.
    """
    if path.suffix.casefold() not in _ENDINGS[kind]:
        raise refuse("report.ending", str(path), kind=kind, ending=_ENDINGS[kind][0])
    if (path.parent / "garden.toml").exists() and path.name.casefold().startswith(_LOGS):
        raise refuse("report.log", str(path), free=path.with_name("report" + path.suffix).name)
    try:
        size = path.stat().st_size
        if path.is_file():
            with path.open("rb") as file:
                head = file.read(_HEAD)
                file.seek(max(size - len(_PDF_MARK), 0))
                tail = file.read()
        else:
            head = tail = b""
    except FileNotFoundError:
        return
    except OSError as error:
        raise cannot_write(path.name, error) from None
    known = {
        "page": head.startswith(b"<!DOCTYPE html>") and GENERATOR.encode() in head,
        "pdf": head.startswith(b"%PDF-") and tail == _PDF_MARK,
        "table": head.partition(b"\n")[0].rstrip() == heading if heading else bool(head),
    }
    if not known[kind]:
        raise refuse("report.other", str(path))


def write_page(path: str | Path, html: str) -> Path:
    """Write a page that holds :data:`GENERATOR`, whole or not at all; return its path.

    Raises
    ------
    harvestcast.errors.InputError
        As :func:`check_target`, or where the system refuses to write.
    """
    return _write(Path(path), "page", html.encode("utf-8"))


def write_pdf(path: str | Path, content: bytes) -> Path:
    """Write a PDF with the mark at its end, as :func:`write_page` does a page."""
    return _write(Path(path), "pdf", content.rstrip() + _PDF_MARK)


def write_table(path: str | Path, frame: pd.DataFrame) -> Path:
    """Write a frame as CSV, as :func:`write_page` does a page.

    Texts are written so that no spreadsheet takes them for a formula.
    """
    content = csv_text(frame).encode("utf-8")
    return _write(Path(path), "table", content, content.partition(b"\n")[0])


def csv_text(frame: pd.DataFrame) -> str:
    r"""Return a frame as CSV in which no text can be run as a formula.

    Examples
    --------
    >>> import pandas as pd
    >>> csv_text(pd.DataFrame({"crop": ["=1+1", "beet"], "kg": [-1.5, 2.0]}))
    "crop,kg\n'=1+1,-1.5\nbeet,2.0\n"
    """
    safe = frame.copy()
    for name in safe.select_dtypes(exclude=["number", "bool", "datetime"]):
        safe[name] = safe[name].astype(object).map(_safe)
    return safe.rename(columns=_safe).to_csv(index=False, lineterminator="\n")


def _safe(cell: object) -> object:
    return safe_text(cell) if isinstance(cell, str) else cell


def _write(path: Path, kind: Kind, content: bytes, heading: bytes = b"") -> Path:
    check_target(path, kind, heading)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise cannot_write(path.parent.name, error) from None
    replace_file(path, content)
    return path
