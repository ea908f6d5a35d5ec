"""Pieces of a page: headings, tables, figures; everything typed by a person is escaped here."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from html import escape

import pandas as pd
from matplotlib.axes import Axes

from harvestcast.figures.look import data_uri, to_svg
from harvestcast.words import amounts as wording

FEW_COLUMNS = 2
"""Columns of amounts that stand side by side on a phone."""


@dataclass(frozen=True, slots=True)
class Piece:
    """A finished part of a page; a notebook shows it as the last value of a cell."""

    html: str

    def _repr_html_(self) -> str:
        return self.html

    def __str__(self) -> str:
        return self.html


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One column of a shown table: its heading, how a row is worded, how it is set.

    Parameters
    ----------
    heading : str
        Heading, plain text.
    words : callable
        Row in, plain text out; escaped afterwards.
    number : bool
        Set to the right, with figures of one width.
    whole : bool
        Kept on one line where the screen is wide enough: a day, a time.
    """

    heading: str
    words: Callable[[pd.Series], str]
    number: bool = False
    whole: bool = False


def text(value: object) -> str:
    """Return typed text made safe for a page: one line, no mark-up.

    Examples
    --------
    >>> text('<script>alert("x")</script>')
    '&lt;script&gt;alert(&quot;x&quot;)&lt;/script&gt;'
    """
    return escape(wording.clean(value), quote=True)


def column(name: str) -> Callable[[pd.Series], str]:
    """Return the wording of a column that is shown as it stands; unknown stays empty."""

    def words(row: pd.Series) -> str:
        return "" if pd.isna(row[name]) else str(row[name])

    return words


def join(pieces: Iterable[Piece]) -> Piece:
    """Return pieces one under the other."""
    return Piece("\n".join(piece.html for piece in pieces))


def title(heading: str, under: Sequence[str]) -> Piece:
    """Return the head of a page: its one heading of the first order and lines under it."""
    lines = "".join(f"<p>{text(line)}</p>" for line in under)
    return Piece(f'<header class="head"><h1>{text(heading)}</h1>{lines}</header>')


def paragraph(words: str, kind: str = "") -> Piece:
    """Return a paragraph of plain text; ``kind`` is its class in the style sheet."""
    name = f' class="{text(kind)}"' if kind else ""
    return Piece(f"<p{name}>{text(words)}</p>")


def bullets(items: Iterable[str], empty: str) -> Piece:
    """Return a list of plain texts, or the sentence for none."""
    rows = [f"<li>{text(item)}</li>" for item in items]
    return Piece(f"<ul>{''.join(rows)}</ul>") if rows else paragraph(empty, "none")


def terms(pairs: Iterable[tuple[str, str]]) -> Piece:
    """Return a list of names and what is said of them."""
    rows = "".join(f"<div><dt>{text(a)}</dt><dd>{text(b)}</dd></div>" for a, b in pairs)
    return Piece(f'<dl class="brief">{rows}</dl>')


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
    blank = [not any(cell.words(row) for _, row in frame.iterrows()) for cell in cells]
    cells = [cell for i, cell in enumerate(cells) if i == 0 or not blank[i]]
    # The roles stay when the style sheet stacks the rows, which takes the table's own away.
    head = "".join(
        f'<th scope="col" role="columnheader"{_set(cell)}>{text(cell.heading)}</th>'
        for cell in cells
    )
    body = "".join(_row(row, cells) for _, row in frame.iterrows())
    name = "table stacked" if stacked else "table few" if few else "table"
    return Piece(
        f'<div class="{name}" role="region" tabindex="0" aria-label="{text(caption)}">'
        f'<table role="table"><caption>{text(caption)}</caption>'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>'
        f'<tbody role="rowgroup">{body}</tbody></table></div>'
    )


def _row(row: pd.Series, cells: Sequence[Cell]) -> str:
    first, *rest = cells
    out = [f'<th scope="row" role="rowheader"{_set(first)}>{text(first.words(row))}</th>']
    for cell in rest:
        words = text(cell.words(row))
        if cell.number:  # a range in brackets goes to the next line as a whole
            words = wording.unbroken(words)
        out.append(
            f'<td role="cell"{_set(cell, blank=not words)} data-name="{text(cell.heading)}">'
            f"<span>{words}</span></td>"
        )
    return f'<tr role="row">{"".join(out)}</tr>'


def _set(cell: Cell, *, blank: bool = False) -> str:
    """Return how a cell is set, as its classes; a blank one is not shown where rows are stacked."""
    names = ["number"] if cell.number else ["whole"] if cell.whole else []
    names += ["blank"] if blank else []
    return f' class="{" ".join(names)}"' if names else ""


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
        {"name": cell.heading, **{f"c{i}": cell.words(row) for i, row in enumerate(records)}}
        for cell in measures
    ]
    some = [row for row in flat if any(row[f"c{i}"] for i in range(len(records)))]
    heads = [
        Cell(heading=name.words(row), words=column(f"c{i}"), number=True)
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
    under = f"<figcaption>{text(note)}</figcaption>" if note else ""
    return Piece(
        f'<figure><img src="{data_uri(to_svg(ax))}" width="{width}" height="{height}" '
        f'alt="{text(alt)}">{under}</figure>'
    )


def grid(figures: Iterable[Piece], empty: str) -> Piece:
    """Return figures side by side where the screen is wide enough; or the sentence for none."""
    pieces = [piece.html for piece in figures]
    if not pieces:
        return paragraph(empty, "none")
    return Piece(f'<div class="figures">{"".join(pieces)}</div>')


def notes(marks: Mapping[str, int], heading: str) -> Piece:
    """Return the notes that numbers in a table point to, in small print."""
    said = "; ".join(f"[{number}] {words}" for words, number in marks.items())
    return paragraph(f"{heading}: {said}", "notes") if said else Piece("")


def print_only(piece: Piece) -> Piece:
    """Return a part that only the printed page shows."""
    return Piece(f'<div class="on-paper">{piece.html}</div>')


def sheet(heading: str, parts: Iterable[Piece]) -> Piece:
    """Return parts that print together on a page of their own."""
    inside = "\n".join(part.html for part in parts)
    return Piece(f'<section class="sheet"><h3>{text(heading)}</h3>{inside}</section>')
