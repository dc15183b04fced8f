"""What lies on a board, in arrays that grow: outlines, and lines beside them."""

from __future__ import annotations

from typing import TypeVar

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting import kernel
from kerfwright.nesting.outline import TurnedOutline

Numbers = TypeVar("Numbers", FloatArray, kernel.IntArray)

LINES_A_PART = 8
"""A part is also tried on lines so close that this many cross it."""

MOST_LINES = 400
"""Lines at equal distances across the whole sheet, at most."""


class Outlines:
    """Edges of all walls and copies in arrays that grow."""

    def __init__(self) -> None:
        self.total = 0
        self.edge = np.empty((1024, 4))
        self.probe = np.empty((64, 2))
        self.start = np.zeros(65, dtype=np.int64)
        self.probe_start = np.zeros(65, dtype=np.int64)
        self.box = np.empty((64, 4))
        self.gap = np.zeros(64)

    @property
    def laid(self) -> kernel.Laid:
        """The arrays as the kernel takes them."""
        return kernel.Laid(
            self.edge, self.start, self.probe, self.probe_start, self.box, self.gap, self.total
        )

    def add(self, moved: kernel.Moved, gap_mm: float) -> None:
        """Append an outline where it is."""
        i = self.total
        if i + 1 >= len(self.box):
            self.box, self.gap = _longer(self.box, 2 * i), _longer(self.gap, 2 * i)
            self.start = _longer(self.start, 2 * i + 1)
            self.probe_start = _longer(self.probe_start, 2 * i + 1)
        last = int(self.start[i]) + len(moved.edge)
        last_probe = int(self.probe_start[i]) + len(moved.probe)
        self.edge = _longer(self.edge, last)
        self.probe = _longer(self.probe, last_probe)
        self.start[i + 1], self.probe_start[i + 1] = last, last_probe
        self.gap[i] = gap_mm
        self.total += 1
        self.edge[self.start[i] : last] = moved.edge
        self.probe[self.probe_start[i] : last_probe] = moved.probe

    def move(self, i: int, moved: kernel.Moved, x_mm: float, y_mm: float) -> None:
        """Write outline ``i`` with its lower left corner at a place."""
        first, last = int(self.start[i]), int(self.start[i + 1])
        self.edge[first:last] = moved.edge + np.array([x_mm, y_mm, x_mm, y_mm])
        first, last = int(self.probe_start[i]), int(self.probe_start[i + 1])
        self.probe[first:last] = moved.probe + np.array([x_mm, y_mm])
        self.box[i] = (x_mm, y_mm, x_mm + moved.width, y_mm + moved.height)


def _longer(array: Numbers, length: int) -> Numbers:
    if length <= len(array):
        return array
    grown = np.zeros((2 * length, *array.shape[1:]), dtype=array.dtype)
    grown[: len(array)] = array
    return grown


class Lines:
    """Upright lines on which parts are tried: beside what lies there, and across holes.

    Each is (x, share, since, in a hole): a part's left edge goes to x less that share of its
    width; the line is there since the board had ``since`` outlines.
    """

    def __init__(self) -> None:
        self._lines = np.empty((64, 4))
        self._count = 0

    def add(self, lines: FloatArray) -> None:
        """Add lines, shape (n, 4)."""
        self._lines = _longer(self._lines, self._count + len(lines))
        self._lines[self._count : self._count + len(lines)] = lines
        self._count += len(lines)

    def add_part(self, turned: TurnedOutline, x_mm: float, spacing_mm: float, since: int) -> None:
        """Add the lines of a copy at ``x_mm``."""
        right = x_mm + turned.size[0]
        lines = [(right + spacing_mm, 0.0), (x_mm, 0.0), (right, 1.0)]
        self.add(np.array([(*line, since, 0.0) for line in lines]))
        for low, high in turned.hole_spans + x_mm:
            lines = [(low + spacing_mm, 0.0), (0.5 * (low + high), 0.5), (high - spacing_mm, 1.0)]
            self.add(np.array([(*line, since, 1.0) for line in lines]))

    def forget(self, since: int) -> None:
        """Drop the lines of everything after the first ``since`` outlines."""
        kept = self._lines[: self._count]
        kept = kept[kept[:, 2] <= since]
        self._count = 0
        self.add(kept)

    def for_width(
        self, width_mm: float, room: tuple[float, float], before: float, known: int
    ) -> FloatArray:
        """Lines for a part from left to right, those left of ``before`` only in new holes."""
        low, high = room
        step = max(width_mm / LINES_A_PART, (high - low) / MOST_LINES, 1e-3)
        even = np.append(np.arange(low, high, step), high)
        lines = self._lines[: self._count]
        beside = lines[:, 0] - lines[:, 1] * width_mm
        kept = (beside >= low) & (beside <= high + kernel.EDGE_MM)
        kept &= (beside >= before) | ((lines[:, 3] > 0.0) & (lines[:, 2] > known))
        found = np.unique(np.concatenate([even[even >= before], beside[kept]]))
        return np.asarray(np.minimum(found, high))
