"""What all results have in common: frames leave as copies, and they show themselves briefly."""

from __future__ import annotations

from html import escape
from typing import Any, ClassVar

import pandas as pd

SHOWN_ROWS, SHOWN_COLUMNS = 12, 10
"""Rows and columns of a result's table that a notebook shows; the table itself has them all."""


class Result:
    """A finished, frozen result.

    Whoever changes a frame of it changes a copy. A subclass says in :meth:`_brief` what it is in
    one line, and in :meth:`_table` which table a notebook shows.
    """

    __slots__ = ()
    made_by: ClassVar[str] = ""
    """The call that makes one."""
    known_by: ClassVar[str] = ""
    """An attribute by which a stand-in of another class will do; empty where none does."""

    def __getattribute__(self, name: str) -> Any:
        value = object.__getattribute__(self, name)
        return value.copy() if isinstance(value, pd.DataFrame) else value

    def _brief(self) -> str:
        raise NotImplementedError

    def _table(self) -> pd.DataFrame:
        raise NotImplementedError

    def __repr__(self) -> str:
        return f"{type(self).__name__}({self._brief()})"

    def _repr_html_(self) -> str:
        table = self._table()
        more = f"<p>{len(table) - SHOWN_ROWS} more rows</p>" if len(table) > SHOWN_ROWS else ""
        shown = table.head(SHOWN_ROWS).to_html(
            index=False, float_format="{:.3g}".format, border=0, max_cols=SHOWN_COLUMNS
        )
        return f"<p><b>{type(self).__name__}</b> {escape(self._brief())}</p>{shown}{more}"


def must_be(value: object, kind: type[Result], verb: str) -> None:
    """Refuse a wrong argument of a verb in a sentence.

    Raises
    ------
    TypeError
        Where the value is of another kind; it says which verb makes the right one.
    """
    stands_in = bool(kind.known_by) and hasattr(value, kind.known_by)
    if not (isinstance(value, kind) or stands_in):
        given = type(value).__name__
        raise TypeError(
            f"{verb} needs an object of type {kind.__name__}, not {given}: {kind.made_by} makes one"
        )
