"""Pieces of a page: headings, tables, figures; the templates escape everything typed."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, wraps
from pathlib import Path
from typing import Any

import pandas as pd
from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup, escape
from matplotlib.axes import Axes

from harvestcast.figures.look import data_uri, to_svg
from harvestcast.records.writing.report_file import GENERATOR
from harvestcast.words import amounts as wording
from harvestcast.words.crops import crops_said_as

TEMPLATE = Path(__file__).with_name("template")
FEW_COLUMNS = 2
"""Columns of amounts that stand side by side on a phone."""

NOTHING = Markup()


@dataclass(frozen=True, slots=True)
class Piece:
    """A finished part of a page; a notebook shows it as the last value of a cell.

    Parameters
    ----------
    html : markupsafe.Markup
        Escaped already.
    name : str
        Heading of a section, which the page's list of sections repeats; else empty.
    """

    html: Markup = NOTHING
    name: str = ""

    def _repr_html_(self) -> str:
        return self.html

    def __html__(self) -> str:
        return self.html

    def __str__(self) -> str:
        return self.html

    @property
    def slug(self) -> str:
        """Where a link within the page leads."""
        return re.sub(r"[^a-z0-9]+", "-", self.name.lower()).strip("-")


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One column of a shown table: its heading, how a row is worded, how it is set.

    Parameters
    ----------
    heading : str
        Heading, plain text.
    words : callable
        Row in, plain text out, or the lines of it; escaped afterwards.
    number : bool
        Set to the right, with figures of one width.
    whole : bool
        Kept on one line where the screen is wide enough: a day, a time.
    """

    heading: str
    words: Callable[[pd.Series], str | Sequence[str]]
    number: bool = False
    whole: bool = False

    def lines(self, row: pd.Series) -> list[str]:
        """Return the lines of the cell of a row; none where there is nothing to say."""
        words = self.words(row)
        lines = [words] if isinstance(words, str) else words
        return [line for line in map(wording.clean, lines) if line]

    def classes(self, lines: list[str] | None = None) -> list[str]:
        """Return how a cell is set; a blank one is not shown where rows are stacked."""
        names = ["number"] if self.number else ["whole"] if self.whole else []
        return [*names, "blank"] if lines == [] else names


@cache
def templates() -> Environment:
    """Return the templates of all pages.

    Whatever is no :class:`markupsafe.Markup` is text that somebody may have typed: it is put on
    one line, stripped of control characters and escaped, wherever a template shows it.
    """
    made = Environment(
        loader=FileSystemLoader(TEMPLATE),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        finalize=lambda value: value if hasattr(value, "__html__") else wording.clean(value),
    )
    made.filters["unbroken"] = _unbroken
    made.globals["generator"] = Markup(GENERATOR)
    return made


def _unbroken(words: str) -> Markup:
    """Return words escaped, a range in brackets kept together: it goes to the next line whole."""
    return Markup(wording.unbroken(escape(wording.clean(words))))


def _piece(_macro: str, **given: Any) -> Piece:
    """Return what a macro of the pieces' template makes."""
    macro = getattr(templates().get_template("pieces.html.j2").module, _macro)
    return Piece(Markup(macro(**given)))


def column(name: str) -> Callable[[pd.Series], str]:
    """Return the wording of a column that is shown as it stands; unknown stays empty."""

    def words(row: pd.Series) -> str:
        return "" if pd.isna(row[name]) else str(row[name])

    return words


def join(pieces: Iterable[Piece]) -> Piece:
    """Return pieces one under the other."""
    return Piece(Markup("\n").join(piece.html for piece in pieces))


def in_own_words(part: Callable[..., Piece]) -> Callable[..., Piece]:
    """Return a part that calls crops what the household does, in a notebook as on the page."""

    @wraps(part)
    def worded(found: Any, *more: Any) -> Piece:
        with crops_said_as(found.crop_words):
            return part(found, *more)

    return worded


def title(heading: str, under: Sequence[str], *parts: Piece) -> Piece:
    """Return the head of a page: its one heading of the first order, lines under it, and parts.

    Examples
    --------
    >>> title('<script>alert("x")</script>', []).html
    Markup('<header class="head"><h1>&lt;script&gt;alert(&#34;x&#34;)&lt;/script&gt;</h1></header>')
    """
    head = _piece("title", heading=heading, under=under)
    return Piece(join([head, *parts]).html, wording.clean(heading))


def section(heading: str, words: str, parts: Iterable[Piece]) -> Piece:
    """Return a section: its heading, what it is about, and its parts."""
    named = Piece(name=heading)
    above = [_piece("heading", words=heading, level=2, id=named.slug)]
    above += [paragraph(words)] if words else []
    return Piece(join([*above, *parts]).html, heading)


def under(heading: str, *parts: Piece) -> Piece:
    """Return parts under a heading within a section."""
    return join([_piece("heading", words=heading, level=3, id=""), *parts])


def paragraph(words: str, kind: str = "") -> Piece:
    """Return a paragraph of plain text; ``kind`` is its class in the style sheet."""
    return _piece("paragraph", words=words, kind=kind)


def bullets(items: Iterable[str], empty: str) -> Piece:
    """Return a list of plain texts, or the sentence for none."""
    rows = list(items)
    return _piece("bullets", items=rows) if rows else paragraph(empty, "none")


def terms(pairs: Iterable[tuple[str, Sequence[str]]], kind: str = "") -> Piece:
    """Return a list of names and what is said of each, a line or several.

    ``kind`` is its class in the style sheet besides: ``columns`` stands beside each other.
    """
    return _piece("terms", pairs=list(pairs), kind=kind)


def table(
    frame: pd.DataFrame,
    cells: Sequence[Cell],
    *,
    caption: str,
    empty: str,
    stacked: bool = False,
    few: bool = False,
) -> Piece:
    """Return a table of a frame, one row each; or the sentence for none.

    Parameters
    ----------
    frame : pandas.DataFrame
        Rows to show, in order.
    cells : sequence of Cell
        Columns; the first one names the row, others are left out where all is empty.
    caption : str
        What the table holds.
    empty : str
        What is said where there are no rows.
    stacked : bool
        On a narrow screen: one block a row, rather than a table that scrolls in its own frame.
    few : bool
        So few columns that it stays a table on a narrow screen, and no wider than it needs to be
        on a wide one.

    Returns
    -------
    Piece
    """
    if not len(frame):
        return paragraph(empty, "none")
    words = [[cell.lines(row) for cell in cells] for _, row in frame.iterrows()]
    kept = [i for i in range(len(cells)) if i == 0 or any(row[i] for row in words)]
    return _piece(
        "table",
        caption=caption,
        cells=[cells[i] for i in kept],
        rows=[[row[i] for i in kept] for row in words],
        kind="stacked" if stacked else "few" if few else "",
    )


def turned(frame: pd.DataFrame, cells: Sequence[Cell], *, caption: str) -> Piece:
    """Return a table turned on its side: a column a row of the frame, a row a measure.

    Parameters
    ----------
    frame : pandas.DataFrame
        A few rows of many columns.
    cells : sequence of Cell
        The first one names the columns; the others are the rows, left out where all are empty.
    caption : str
        What the table holds.

    Returns
    -------
    Piece
    """
    name, *measures = cells
    records = [row for _, row in frame.iterrows()]
    flat = [
        {
            "name": cell.heading,
            **{f"c{i}": " ".join(cell.lines(row)) for i, row in enumerate(records)},
        }
        for cell in measures
    ]
    some = [row for row in flat if any(row[f"c{i}"] for i in range(len(records)))]
    heads = [
        Cell(heading=" ".join(name.lines(row)), words=column(f"c{i}"), number=True)
        for i, row in enumerate(records)
    ]
    shown = [Cell(heading=name.heading, words=column("name")), *heads]
    few = len(records) <= FEW_COLUMNS
    return table(pd.DataFrame(some), shown, caption=caption, empty="", stacked=not few, few=few)


def figure(ax: Axes, alt: str, note: str = "") -> Piece:
    """Return a drawn figure as part of the page, with its alternative text.

    Parameters
    ----------
    ax : matplotlib.axes.Axes
        The figure, as a function of :mod:`harvestcast.figures` returns it.
    alt : str
        The same in words.
    note : str
        Caption under the figure; left out: none.

    Returns
    -------
    Piece
    """
    drawn = ax.get_figure(root=True)
    assert drawn is not None
    width, height = (round(96 * inches) for inches in drawn.get_size_inches())
    # A picture is our own writing, and long: nothing in it is looked at letter by letter.
    source = Markup(data_uri(to_svg(ax)))
    return _piece("figure", source=source, width=width, height=height, alt=alt, note=note)


def grid(figures: Iterable[Piece], empty: str) -> Piece:
    """Return figures side by side where the screen is wide enough; or the sentence for none."""
    pieces = list(figures)
    if not pieces:
        return paragraph(empty, "none")
    return _piece("box", tag="div", kind="figures", parts=pieces)


def folded(summary: str, *parts: Piece, long: bool = False) -> Piece:
    """Return parts folded away under the words that unfold them.

    On a narrow screen, or on every one where they are long.
    """
    return _piece("folded", summary=summary, parts=parts, kind="long" if long else "")


def notes(marks: Mapping[str, int], heading: str) -> Piece:
    """Return the notes that numbers in a table point to, in small print."""
    said = "; ".join(f"[{number}] {words}" for words, number in marks.items())
    return paragraph(f"{heading}: {said}", "notes") if said else Piece()


def first_page(*parts: Piece) -> Piece:
    """Return the parts of the first screen, which print together on the first page."""
    return _piece("box", tag="section", kind="first", parts=parts)


def print_only(piece: Piece) -> Piece:
    """Return a part that only the printed page shows."""
    return _piece("box", tag="div", kind="on-paper", parts=[piece])


def sheet(heading: str, parts: Iterable[Piece]) -> Piece:
    """Return parts that print together on a page of their own."""
    inside = [_piece("heading", words=heading, level=3, id=""), *parts]
    return _piece("box", tag="section", kind="sheet", parts=inside)
