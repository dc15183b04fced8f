"""Closed outlines that need a look: those that cross themselves, and those of hardly any width."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
import shapely

from kerfwright.drawing.model import Shape
from kerfwright.repair.lines import Lines
from kerfwright.repair.lines_kernel import IntArray
from kerfwright.repair.tally import Doubtful

CROSSING = re.compile(r"^Self-intersection\[(\S+) (\S+)\]$")
"""How GEOS names the place where a ring crosses itself; a ring that only touches itself at a
corner has another name there."""


def doubtful_outlines(
    lines: Lines, shapes: Sequence[Shape], thin_mm: float
) -> tuple[list[Doubtful], list[Doubtful]]:
    """Outlines thinner than ``thin_mm``, and outlines that cross themselves.

    The width of an outline is twice its area over half its way round: that of a long strip.
    """
    numbers = np.flatnonzero(lines.closed & (lines.counts >= 3))
    polygons = polygons_of(lines, numbers)
    sound = shapely.is_valid(polygons)
    width_mm = 2.0 * shapely.area(polygons) / np.maximum(lines.lengths_mm[numbers], 1e-12)
    slivers = [
        _doubtful(lines, shapes, line, tuple(lines.first_points[line].tolist()), float(width))
        for line, width in zip(
            numbers[sound & (width_mm < thin_mm)].tolist(),
            width_mm[sound & (width_mm < thin_mm)],
            strict=True,
        )
    ]
    reasons = shapely.is_valid_reason(polygons[~sound]).tolist()
    crossings = [
        _doubtful(lines, shapes, line, (float(at[1]), float(at[2])))
        for line, reason in zip(numbers[~sound].tolist(), reasons, strict=True)
        if (at := CROSSING.match(reason))
    ]
    return slivers, crossings


def polygons_of(lines: Lines, numbers: IntArray) -> np.ndarray[tuple[int], np.dtype[np.object_]]:
    """Areas within closed lines of at least three points."""
    if not len(numbers):
        return np.empty(0, dtype=object)
    counts = lines.counts[numbers] + 1
    first = lines.starts[numbers]
    begins = np.cumsum(counts) - counts
    index = np.arange(counts.sum()) - np.repeat(begins - first, counts)
    index[begins + counts - 1] = first
    rings = shapely.linearrings(
        lines.points[index], indices=np.repeat(np.arange(len(counts)), counts)
    )
    return np.asarray(shapely.polygons(rings))


def _doubtful(
    lines: Lines, shapes: Sequence[Shape], line: int, at: tuple[float, ...], width_mm: float = 0.0
) -> Doubtful:
    x_mm, y_mm = at
    return Doubtful(shapes[int(lines.owner[line])].name, x_mm, y_mm, width_mm)
