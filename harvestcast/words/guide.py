"""The guide to files, settings and safety: one Markdown file, shown topic by topic."""

from __future__ import annotations

import re
import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

WIDTH = 96
"""Letters of a line in the terminal, where it is wide enough."""


@dataclass(frozen=True, slots=True)
class Topic:
    """One topic of the guide; a notebook renders it, ``print`` sets it for a terminal.

    Parameters
    ----------
    name : str
        Word it is asked for by.
    title : str
        What it is about.
    markdown : str
        The whole topic, heading first.
    """

    name: str
    title: str
    markdown: str

    def _repr_markdown_(self) -> str:
        return self.markdown

    def __str__(self) -> str:
        return self.text()

    def text(self, width: int = WIDTH) -> str:
        """Return the topic as plain text, a table as its first column over the others."""
        return "\n".join(_set(self.markdown, width))


@cache
def topics() -> dict[str, Topic]:
    """Return all topics by name, in the order of the guide.

    Examples
    --------
    >>> [*topics()][:3]
    ['files', 'picks', 'plantings']
    """
    whole = Path(__file__).with_name("guide.md").read_text("utf-8")
    found = {}
    for part in filter(None, re.split(r"^(?=## )", whole, flags=re.MULTILINE)):
        name, _, title = part.partition("\n")[0].removeprefix("## ").partition(": ")
        found[name] = Topic(name, title, part.strip() + "\n")
    return found


def explain(topic: str = "files") -> Topic:
    """Return a topic of the guide: what a file holds, what a setting means, what is safe.

    Parameters
    ----------
    topic : str
        One of :func:`topics`.

    Returns
    -------
    Topic

    Raises
    ------
    ValueError
        Where there is no such topic; it names those there are.

    Examples
    --------
    >>> explain("weather").title
    'weather.csv'
    """
    try:
        return topics()[topic]
    except KeyError:
        known = ", ".join(topics())
        raise ValueError(f"there is no topic {topic!r}; there are {known}") from None


def _set(markdown: str, width: int) -> Iterator[str]:
    for block in markdown.strip().split("\n\n"):
        lines = block.splitlines()
        if lines[0].startswith("## "):
            yield lines[0].removeprefix("## ")
        elif lines[0].startswith("|"):
            yield from _table(lines[2:], width)
        elif lines[0].startswith("    "):
            yield from lines
        elif lines[0].startswith("- "):
            for item in re.split(r"\n(?=- )", block):
                yield from textwrap.wrap(_plain(item), width, subsequent_indent="  ")
        else:
            yield from textwrap.wrap(_plain(block), width, break_on_hyphens=False)
        yield ""


def _table(rows: list[str], width: int) -> Iterator[str]:
    for row in rows:
        first, *rest = [_plain(cell.strip()) for cell in row.strip("|").split("|")]
        meaning = "; ".join(cell for cell in rest if cell)
        yield f"  {first}"
        yield from textwrap.wrap(
            meaning, width, initial_indent=" " * 6, subsequent_indent=" " * 6,
            break_on_hyphens=False,
        )  # fmt: skip


def _plain(markdown: str) -> str:
    return re.sub(r"`|\*\*?(?=\S)|(?<=\S)\*\*?", "", markdown)
