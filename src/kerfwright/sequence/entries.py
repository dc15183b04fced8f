"""Where a stroke can be entered: an open one at its ends, a closed one anywhere along its line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.sequence.entries_kernel import Rings
from kerfwright.sequence.tour import IntArray, Ways
from kerfwright.toolpath import Stroke

ENTRY_SPACING_MM = 5.0
"""Distance along a closed line between the places where it may be entered at first."""

FEWEST_ENTRIES = 8
MOST_ENTRIES = 48
"""Such places on one closed line; the entry is moved along the line to its best place later."""


@dataclass(frozen=True, eq=False, slots=True)
class Options:
    """The ways into and out of every stroke, in the flat form that the kernels read.

    ``along`` says where each option enters: the number of a point, and beyond the decimal point
    the share of the way to the next one; for an open line 0 is its first point and -1 its last.
    The last option of a closed line is not fixed: it is moved along the line.
    """

    ways: Ways
    along: FloatArray
    rings: Rings

    @classmethod
    def of(cls, strokes: Sequence[Stroke]) -> Options:
        """List the options of all strokes."""
        each = [_ways(stroke) for stroke in strokes]
        first = np.cumsum([0, *(len(ends) for ends, _, _ in each)], dtype=np.int64)
        flips = [
            np.where(flip >= 0, flip + at, -1)
            for (_, flip, _), at in zip(each, first, strict=False)
        ]
        lines = [
            stroke.path.line
            if stroke.block is None and stroke.path.closed
            else np.empty((0, 2), dtype=np.float64)
            for stroke in strokes
        ]
        ends = np.ascontiguousarray(np.vstack([ends for ends, _, _ in each]))
        return cls(
            Ways(first, ends, np.concatenate(flips)),
            np.concatenate([along for _, _, along in each]),
            Rings(
                np.cumsum([0, *map(len, lines)], dtype=np.int64),
                np.ascontiguousarray(np.vstack(lines)),
                np.concatenate([_lengths_mm(line) for line in lines]),
            ),
        )


def _ways(stroke: Stroke) -> tuple[FloatArray, IntArray, FloatArray]:
    """Entry and exit of every option, the option that goes the other way, and where it enters."""
    if stroke.block is not None:
        ends = np.array([[*stroke.block.start_mm, *stroke.block.end_mm]])
        return ends, np.array([-1]), np.zeros(1)
    points = stroke.path.points
    if stroke.path.closed:
        along = _spread(stroke.path.line)
        at = points_at(stroke.path.line, along)
        return np.hstack([at, at]), np.arange(len(along)), along
    one, other = points[0], points[-1]
    along = np.array([0.0, -1.0])
    if stroke.passes % 2 == 0:
        return np.array([[*one, *one], [*other, *other]]), np.array([0, 1]), along
    return np.array([[*one, *other], [*other, *one]]), np.array([1, 0]), along


def _spread(line: FloatArray) -> FloatArray:
    """Places evenly along a closed line, at its points where some are near, and one to move."""
    length_mm = _lengths_mm(line)
    if length_mm[-1] == 0.0:
        return np.zeros(2)
    count = int(np.clip(length_mm[-1] / ENTRY_SPACING_MM, FEWEST_ENTRIES, MOST_ENTRIES))
    wanted_mm = length_mm[-1] * np.arange(count) / count
    along = np.interp(wanted_mm, length_mm, np.arange(len(line)))
    nearest = np.rint(along)
    away_mm = np.abs(length_mm[nearest.astype(np.int64)] - wanted_mm)
    along = np.where(away_mm <= length_mm[-1] / count / 2, nearest, along)
    along = np.unique(along[along < max(len(line) - 1, 1)])
    return np.append(along, along[0])


def points_at(line: FloatArray, along: FloatArray) -> FloatArray:
    """Points of a line at the given places, shape (n, 2), in mm."""
    numbers = np.arange(len(line))
    return np.column_stack([np.interp(along, numbers, line[:, axis]) for axis in range(2)])


def _lengths_mm(line: FloatArray) -> FloatArray:
    """Length of a line up to each of its points."""
    if len(line) == 0:
        return np.empty(0)
    steps = np.diff(line, axis=0)
    return np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))])
