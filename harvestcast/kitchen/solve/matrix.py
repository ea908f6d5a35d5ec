"""Rows and columns of a programme while they are being written down.

These two lists live only inside :func:`harvestcast.kitchen.solve.block.build_block`; what it
returns is frozen.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np
from scipy import sparse

Term = tuple[int, float]
"""A column and its coefficient."""

Terms = list[Term]


@dataclass(slots=True)
class Matrix:
    """Rows under construction; lives only inside the builder's functions."""

    limit: list[float] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    equal: list[bool] = field(default_factory=list)
    entries: dict[str, list[tuple[int, int, float]]] = field(default_factory=dict)

    def row(
        self, limit: float, name: str = "", *, equal: bool = False, **parts: Iterable[Term]
    ) -> int:
        """Write one row down: the parts' terms add up to at most (or exactly) the limit."""
        number = len(self.limit)
        self.limit.append(limit)
        self.names.append(name)
        self.equal.append(equal)
        for part, terms in parts.items():
            self.entries.setdefault(part, []).extend((number, c, v) for c, v in terms)
        return number

    def matrix(self, part: str, columns: int) -> sparse.csr_array:
        """Return the coefficients of one part, shape (rows, columns)."""
        entries = self.entries.get(part, [])
        rows, cols, values = zip(*entries, strict=True) if entries else ((), (), ())
        shape = (len(self.limit), columns)
        return sparse.csr_array(
            (np.array(values, float), (np.array(rows, int), np.array(cols, int))), shape=shape
        )


@dataclass(slots=True)
class Columns:
    """Columns under construction; lives only inside the builder's functions.

    ``uses`` lists the columns that use fruit: column, lane, day, oldest age accepted, first
    ready day (slot) accepted.
    """

    cost: list[float] = field(default_factory=list)
    upper: list[float] = field(default_factory=list)
    uses: list[tuple[int, int, int, int, int]] = field(default_factory=list)

    def add(self, cost: float, upper: float = np.inf) -> int:
        """Write one column down and return its number."""
        self.cost.append(cost)
        self.upper.append(upper)
        return len(self.cost) - 1

    def use(self, cost: float, upper: float, lane: int, day: int, age: int, first: int) -> int:
        """Write down a column that uses fruit and return its number."""
        column = self.add(cost, upper)
        self.uses.append((column, lane, day, age, first))
        return column
