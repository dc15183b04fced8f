"""Many lines in flat arrays, on their way through the repair."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from operator import attrgetter

import numpy as np

from kerfwright.geometry.curves import Spans
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.repair.lines_kernel import BoolArray, IntArray, measure_lines
from kerfwright.repair.tally import Dropped


@dataclass(frozen=True, eq=False, slots=True)
class Lines:
    """n lines, their points one behind the other, in the order of the drawing."""

    points: FloatArray
    starts: IntArray
    """Number of each line's first point and, last, the number of all points, shape (n + 1,)."""
    closed: BoolArray
    owner: IntArray
    """Number of the shape that each line belongs to."""
    source: IntArray
    """Number of the path that a line was read from if it is still as it was drawn, else -1."""
    spans: dict[int, Spans]
    """Exact curves of the lines that have any."""
    copies: IntArray
    """How many repeats of each line, or of what it was joined from, were left out."""
    copies_mm: FloatArray
    """Length of those repeats."""
    copies_at: FloatArray
    """A point of the first of them, shape (n, 2)."""
    lengths_mm: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        lengths = measure_lines(self.points, self.starts, self.closed)
        object.__setattr__(self, "lengths_mm", lengths)

    def __len__(self) -> int:
        return len(self.closed)

    @property
    def counts(self) -> IntArray:
        """Number of points of each line."""
        return np.diff(self.starts)

    @property
    def first_points(self) -> FloatArray:
        """First point of each line, shape (n, 2)."""
        return self.points[self.starts[:-1]]

    def points_of(self, line: int) -> FloatArray:
        """Points of one line."""
        return self.points[self.starts[line] : self.starts[line + 1]]

    def path(self, line: int) -> Path:
        """Return one line as a path."""
        return Path(self.points_of(line), bool(self.closed[line]), self.spans.get(line, ()))

    def where(self, keep: BoolArray) -> Lines:
        """Return some of the lines; itself if they are all."""
        if keep.all():
            return self
        counts = self.counts[keep]
        spans: dict[int, Spans] = {}
        if self.spans:
            new = np.cumsum(keep) - 1
            spans = {int(new[i]): curves for i, curves in self.spans.items() if keep[i]}
        return Lines(
            self.points[np.repeat(keep, self.counts)],
            starts_of(counts),
            self.closed[keep],
            self.owner[keep],
            self.source[keep],
            spans,
            self.copies[keep],
            self.copies_mm[keep],
            self.copies_at[keep],
        )

    def with_copies(self, of: IntArray, dropped: IntArray) -> Lines:
        """Note that the lines ``dropped`` repeat the lines ``of``, and are about to be left out."""
        copies, copies_mm, copies_at = (
            self.copies.copy(),
            self.copies_mm.copy(),
            self.copies_at.copy(),
        )
        new = np.flatnonzero(copies[of] == 0)[::-1]
        copies_at[of[new]] = self.first_points[dropped[new]]
        np.add.at(copies, of, 1 + self.copies[dropped])
        np.add.at(copies_mm, of, self.lengths_mm[dropped] + self.copies_mm[dropped])
        return replace(self, copies=copies, copies_mm=copies_mm, copies_at=copies_at)

    def by_place(self) -> IntArray:
        """Numbers of the lines by their length and where they end, whichever way they run."""
        ends = np.hstack([self.first_points, self.points[self.starts[1:] - 1]])
        x0, y0, x1, y1 = np.round(ends, 6).T
        turned = (x1 < x0) | ((x1 == x0) & (y1 < y0))
        lower = (np.where(turned, y1, y0), np.where(turned, x1, x0))
        upper = (np.where(turned, y0, y1), np.where(turned, x0, x1))
        return np.lexsort((*upper, *lower, np.round(self.lengths_mm, 6), self.closed))

    def dropped_copies(self, line: int) -> Dropped:
        """Return the repeats of a line that were left out."""
        x_mm, y_mm = self.copies_at[line].tolist()
        return Dropped(float(self.copies_mm[line]), x_mm, y_mm, int(self.copies[line]))

    def exchanged(self, new: Mapping[int, Sequence[Path]]) -> Lines:
        """Return the lines with some of them replaced by others of the same shape.

        The first of the new lines takes over the repeats of the one that it replaces.
        """
        if not new:
            return self
        paths: list[Path] = []
        old: list[int] = []
        leads: list[bool] = []
        for line in range(len(self)):
            pieces = new[line] if line in new else (self.path(line),)
            paths += pieces
            old += [line] * len(pieces)
            leads += [k == 0 for k in range(len(pieces))]
        out = lines_of(paths, self.owner[old])
        lead = np.array(leads, dtype=bool)
        source = self.source[old]
        source[np.isin(old, list(new))] = -1
        return replace(
            out,
            source=source,
            copies=np.where(lead, self.copies[old], 0),
            copies_mm=np.where(lead, self.copies_mm[old], 0.0),
            copies_at=self.copies_at[old],
        )


def starts_of(counts: IntArray) -> IntArray:
    """Where each of several runs of ``counts`` begins, and their sum."""
    return np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(counts, dtype=np.int64)])


def lines_of(paths: Sequence[Path], owners: Sequence[int] | IntArray) -> Lines:
    """Put paths that all have points into flat arrays."""
    count = len(paths)
    points = list(map(attrgetter("points"), paths))
    return Lines(
        np.concatenate(points, dtype=np.float64) if points else np.empty((0, 2)),
        starts_of(np.fromiter(map(len, points), dtype=np.int64, count=count)),
        np.fromiter(map(attrgetter("closed"), paths), dtype=bool, count=count),
        np.asarray(owners, dtype=np.int64),
        np.arange(count),
        {i: path.spans for i, path in enumerate(paths) if path.spans},
        np.zeros(count, dtype=np.int64),
        np.zeros(count),
        np.zeros((count, 2)),
    )
