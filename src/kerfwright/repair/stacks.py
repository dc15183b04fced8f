"""Finds whole parts that lie on one another, among the repeats that were left out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from kerfwright.repair.lines import Lines
from kerfwright.repair.outlines import polygons_of
from kerfwright.repair.tally import Dropped, Ledger

FULL = 0.01
"""Share by which the repeats of a line may be shorter or longer than the line itself."""


@dataclass(frozen=True, slots=True)
class _Kept:
    """A line that is kept: its group and number, and how many times over it was left out."""

    group: int
    line: int
    times: int


@dataclass(frozen=True, eq=False, slots=True)
class Stacks:
    """Copies of whole parts that were left out, and their lines."""

    copies: int
    dropped: list[Dropped]


def note_copies(groups: Sequence[tuple[Lines, Ledger, bool]]) -> Stacks:
    """Write the repeats into their ledgers, but for those that are copies of whole parts.

    A part is a closed line with all that lies within it, on whatever layer; it was stacked if
    every one of its lines was there more than once. Each group comes with whether it is
    drawn as lines, which may be outlines, rather than as filled areas.
    """
    copied = [np.flatnonzero(lines.copies > 0).tolist() for lines, _, _ in groups]
    stacked = _stacked_lines(groups) if any(copied) else {}
    dropped: list[Dropped] = []
    for group, (lines, book, _) in enumerate(groups):
        for line in copied[group]:
            entry = lines.dropped_copies(line)
            (dropped if (group, line) in stacked else book.repeats).append(entry)
    return Stacks(sum(stacked.values()), dropped)


def _stacked_lines(groups: Sequence[tuple[Lines, Ledger, bool]]) -> dict[tuple[int, int], int]:
    """Lines of parts that were stacked; the outline has the number of copies, the others 0."""
    outlines: list[_Kept] = []
    polygons: list[shapely.Polygon] = []
    everything: list[_Kept] = []
    points = []
    for group, (lines, _, drawn_as_lines) in enumerate(groups):
        times = _times(lines)
        everything += [_Kept(group, line, int(often)) for line, often in enumerate(times)]
        points.append(_inner_points(lines))
        if drawn_as_lines:
            able = np.flatnonzero(lines.closed & (lines.counts >= 3) & (times > 0))
            outlines += [_Kept(group, int(line), int(times[line])) for line in able]
            polygons += polygons_of(lines, able).tolist()
    within: dict[int, list[_Kept]] = defaultdict(list)
    tree = shapely.STRtree(shapely.points(np.concatenate(points)))
    hits = tree.query(shapely.buffer(polygons, 0.0), predicate="contains")
    for outline, point in hits.T.tolist():
        if everything[point].group != outlines[outline].group or (
            everything[point].line != outlines[outline].line
        ):
            within[outline].append(everything[point])
    found: dict[tuple[int, int], int] = {}
    for outline, inside in sorted(within.items(), key=lambda item: -polygons[item[0]].area):
        part = outlines[outline]
        if (part.group, part.line) in found or any(kept.times < 1 for kept in inside):
            continue
        found |= {(kept.group, kept.line): 0 for kept in inside}
        found[part.group, part.line] = min(kept.times for kept in (part, *inside))
    return found


def _times(lines: Lines) -> np.ndarray[tuple[int], np.dtype[np.int64]]:
    """How many times over each line was there besides once."""
    share = lines.copies_mm / np.maximum(lines.lengths_mm, 1e-12)
    whole = np.round(share)
    return np.where(np.abs(share - whole) <= FULL, whole, 0.0).astype(np.int64)


def _inner_points(lines: Lines) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """The middle of the first step of each line."""
    first = lines.starts[:-1]
    second = np.minimum(first + 1, lines.starts[1:] - 1)
    return np.asarray((lines.points[first] + lines.points[second]) / 2.0)
