"""Finds lines that lie exactly on one another."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kerfwright.geometry.curves import Arc, Span, Spans
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.lines import Lines
from kerfwright.repair.lines_kernel import IntArray
from kerfwright.repair.repeats_kernel import (
    find_repeats,
    mark_outlines,
    mark_units,
    pair_along,
    strays,
)

REACH_MM = 4.0 * SAME_MM
"""If points differ by d, their centre and mean radius differ by at most d, their lie by 3.2 d."""

OUTLINE_REACH_MM = 0.05
"""How far the marks of one round outline may lie apart when it is flattened in two ways."""

SLANT = np.array([0.5419, 0.6180, 0.4142, 0.3028, 0.2361])
"""Direction along which marks are sorted, so that few that differ fall together: irrational."""


def without_doubled_points(lines: Lines, paths: Sequence[Path]) -> list[Path]:
    """Drop points that repeat the one before them exactly, and the last of a closed path its first.

    ``lines`` holds the paths; those without such points are returned as they are.
    """
    out = list(paths)
    points, starts, counts = lines.points, lines.starts[:-1], lines.counts
    if not len(points):
        return out
    doubled = np.zeros(len(points), dtype=bool)
    doubled[1:] = (points[1:] == points[:-1]).all(axis=1)
    doubled[starts] = False
    back_home = (points[starts] == points[starts + counts - 1]).all(axis=1)
    touched = (np.add.reduceat(doubled, starts) > 0) | (lines.closed & (counts > 1) & back_home)
    for i in np.flatnonzero(touched).tolist():
        keep = ~doubled[starts[i] : starts[i] + counts[i]]
        if lines.closed[i]:
            last = np.flatnonzero(keep)[-1]
            if last > 0 and (paths[i].points[last] == paths[i].points[0]).all():
                keep[last] = False
        out[i] = _with_points(paths[i], keep)
    return out


def _with_points(path: Path, keep: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> Path:
    """Leave out points of a path; a curve that loses a point within is lost as a curve."""
    # a left-out point is the one before it, but at the end of a closed line it is the first
    number = np.concatenate([np.cumsum(keep) - 1, [keep.sum()]])
    if path.closed:
        number[np.flatnonzero(keep)[-1] + 1 :] = keep.sum()
    spans = [
        Span(int(number[span.first]), int(number[span.last]), span.curve)
        for span in path.spans
        if number[span.last] - number[span.first] == span.last - span.first
    ]
    return Path(path.points[keep], path.closed, tuple(spans))


def repeats(lines: Lines, unit_starts: IntArray, *, same_way: bool = False) -> IntArray:
    """For every unit the number of the earlier unit that it repeats, -1 for none, shape (u,).

    A unit is one line, or all lines of an area in their order: the lines ``unit_starts[k]`` to
    ``unit_starts[k + 1]``. Two lines are the same if their points lie within ``SAME_MM`` of one
    another, followed either way, and for closed lines from any point on. With ``same_way`` the
    lines of a unit must all run as in the other or all the other way: a nonzero fill (SVG 1.1
    section 11.3) turns a hole into an area if only it turns.
    """
    marks = mark_units(lines.points, lines.starts, unit_starts, 20.0 * SAME_MM)
    order, along = _sorted(marks)
    return np.asarray(
        find_repeats(
            (lines.points, lines.starts, lines.closed, unit_starts),
            marks,
            order,
            along,
            REACH_MM,
            SAME_MM,
            same_way,
        )
    )


def _sorted(marks: FloatArray) -> tuple[IntArray, FloatArray]:
    along = marks @ SLANT[: marks.shape[1]]
    order = np.argsort(along, kind="stable")
    return order, along[order]


def redrawn_outlines(lines: Lines) -> IntArray:
    """For every closed line the number of an earlier one that runs the same way through other
    points, -1 for none, shape (n,).

    No point of either strays more than ``SAME_MM`` from the other, where both are arcs from the
    exact arc.
    """
    of = np.full(len(lines), -1, dtype=np.int64)
    numbers = np.flatnonzero(lines.closed)
    if len(numbers) < 2:
        return of
    marks = mark_outlines(lines.points, lines.starts, numbers)
    order, along = _sorted(marks)
    for a, b in pair_along(marks, order, along, OUTLINE_REACH_MM).tolist():
        one, other = int(numbers[min(a, b)]), int(numbers[max(a, b)])
        if of[one] < 0 and of[other] < 0 and _one_outline(lines, one, other):
            of[other] = one
    return of


def _one_outline(lines: Lines, one: int, other: int) -> bool:
    rings = [(lines.points_of(line), _circles(lines, line)) for line in (one, other)]
    return all(
        not strays(points, of_points, ring, of_ring, SAME_MM)
        for (points, of_points), (ring, of_ring) in (rings, rings[::-1])
    )


def _circles(lines: Lines, line: int) -> FloatArray:
    """Centre and radius of the arc that each step of a closed line stands for, else 0."""
    spans: Spans = lines.spans.get(line, ())
    circles = np.zeros((int(lines.counts[line]), 3))
    for span in spans:
        if isinstance(span.curve, Arc):
            circles[span.first : span.last] = (*span.curve.centre, span.curve.radius_mm)
    return circles


def units_by_owner(lines: Lines) -> IntArray:
    """Where the lines of each shape begin, and their number, for lines in order of their shapes."""
    edges = np.flatnonzero(np.diff(lines.owner)) + 1
    return np.concatenate([[0], edges, [len(lines)]]).astype(np.int64)
