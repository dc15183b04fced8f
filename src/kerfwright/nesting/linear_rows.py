"""Rows of a linear programme, gathered one kind of limit after the other."""

from __future__ import annotations

import numpy as np
from scipy.optimize import linprog
from scipy.sparse import coo_array

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.compaction_kernel import IntArray


class Rows:
    """Rows of a linear programme, each at most its limit."""

    def __init__(self) -> None:
        self._row: list[IntArray] = []
        self._column: list[IntArray] = []
        self._value: list[FloatArray] = []
        self._limit: list[FloatArray] = []
        self._count = 0

    def add_at_most_each(
        self, column: IntArray, sign: float, limit_column: IntArray, limit: FloatArray | float
    ) -> None:
        """Add sign · column − limit column ≤ limit, one row for each column."""
        n = len(column)
        row = self._count + np.arange(n)
        self._row += [row, row]
        self._column += [column, limit_column]
        self._value += [np.full(n, sign), np.full(n, -1.0)]
        self._limit.append(np.broadcast_to(np.asarray(limit, dtype=np.float64), (n,)))
        self._count += n

    def add_lines(
        self,
        pairs: IntArray,
        lines: FloatArray,
        needed: FloatArray,
        loose: int,
        missing_column: int = 0,
        missing: IntArray | None = None,
    ) -> None:
        """Add for every line between bodies i and j: what j moves across it less i's, and room.

        Rows ``missing`` may fall short by a column of their own, from ``missing_column`` on.
        """
        row = self._count + np.arange(len(pairs))
        for axis in range(2):
            across = lines[:, axis]
            self._row.append(row)
            self._column.append(axis * loose + pairs[:, 0])
            self._value.append(across)
            moves = pairs[:, 1] < loose
            self._row.append(row[moves])
            self._column.append(axis * loose + pairs[moves, 1])
            self._value.append(-across[moves])
        if missing is not None:
            self._row.append(row[missing])
            self._column.append(missing_column + np.arange(len(missing)))
            self._value.append(np.full(len(missing), -1.0))
        self._limit.append(lines[:, 2] - needed)
        self._count += len(pairs)

    def solved(self, cost: FloatArray, bounds: FloatArray) -> FloatArray | None:
        """Return the cheapest solution, or ``None`` if the solver found none."""
        cells = (np.concatenate(self._row), np.concatenate(self._column))
        matrix = coo_array((np.concatenate(self._value), cells), (self._count, len(cost)))
        # the stubs know dense rows only; the solver takes sparse ones as well
        solution = linprog(  # type: ignore[call-overload]
            cost,
            A_ub=matrix.tocsr(),
            b_ub=np.concatenate(self._limit),
            bounds=bounds,
            method="highs",
            options={"primal_feasibility_tolerance": 1e-9},
        )
        return np.asarray(solution.x) if solution.status == 0 else None
