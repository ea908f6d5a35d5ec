"""Rows of a linear programme, collected block by block."""

from __future__ import annotations

import numpy as np
from scipy.sparse import coo_array, csc_array

from harvestcast.arrays import Array, Index

Ints = Index


class Rows:
    """Rows ``A x <= b`` as triplets. A builder: it lives only while one programme is set up.

    Examples
    --------
    >>> rows = Rows()
    >>> place = rows.block(2, 5.0)
    >>> rows.add(place, np.array([0, 2]), 3.0)
    >>> matrix, right = rows.matrix(3)
    >>> matrix.toarray().tolist(), right.tolist()
    ([[3.0, 0.0, 0.0], [0.0, 0.0, 3.0]], [5.0, 5.0])
    """

    def __init__(self) -> None:
        self._row: list[Ints] = []
        self._column: list[Ints] = []
        self._value: list[Array] = []
        self._right: list[Array] = []
        self._count = 0

    @property
    def count(self) -> int:
        """Rows so far."""
        return self._count

    def block(self, size: int, right: object = 0.0) -> Ints:
        """Begin some rows with their right-hand sides and return their places."""
        first = self._count
        self._count += size
        self._right.append(np.broadcast_to(np.asarray(right, float), (size,)))
        return np.arange(first, first + size)

    def add(self, row: Ints, column: Ints, value: object) -> None:
        """Add entries; the three arguments broadcast against each other, zeros are dropped."""
        row, column, filled = np.broadcast_arrays(row, column, np.asarray(value, float))
        keep = filled != 0
        self._row.append(row[keep].ravel())
        self._column.append(column[keep].ravel())
        self._value.append(filled[keep].ravel())

    def stock(self, place: Ints, carry: Ints, plants: Ints, per_plant: Array) -> None:
        """Carry out less carry in less picks, for blocks with plants of their own.

        Parameters
        ----------
        place, carry : ndarray of int, shape (blocks, weeks)
            Rows, and columns of what is carried out of each week.
        plants : ndarray of int, shape (blocks, options)
            Columns of plants.
        per_plant : ndarray, shape (blocks, weeks, options)
            Picked of one plant. [kg]
        """
        self.add(place, carry, 1.0)
        self.add(place[:, 1:], carry[:, :-1], -1.0)
        self.add(place[:, :, None], plants[:, None, :], -per_plant)

    def keeping(self, carry: Ints, plants: Ints, per_plant: Array, keep: int) -> None:
        """Carry at most what was picked in the last ``keep`` weeks; see :meth:`stock`."""
        blocks, weeks, _ = per_plant.shape
        if not 0 < keep < weeks:
            return
        place = self.block(blocks * weeks).reshape(blocks, weeks)
        total = np.cumsum(per_plant, axis=1)
        recent = total.copy()
        recent[:, keep:] -= total[:, :-keep]
        self.add(place, carry, 1.0)
        self.add(place[:, :, None], plants[:, None, :], -recent)

    def matrix(self, columns: int) -> tuple[csc_array, Array]:
        """Return the matrix and the right-hand sides."""
        where = (np.concatenate(self._row), np.concatenate(self._column))
        shape = (self._count, columns)
        matrix = coo_array((np.concatenate(self._value), where), shape=shape).tocsc()
        return matrix, np.concatenate(self._right)
