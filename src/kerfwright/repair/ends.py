"""The ends of open lines: where they are, which way they point, which lie near one another.

Line number i has the ends 2i (its first point) and 2i + 1 (its last).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]


@dataclass(frozen=True, eq=False, slots=True)
class Ends:
    """Both ends of n open lines: 2n points, and unit directions from each into its line."""

    points: FloatArray
    directions: FloatArray
    lengths_mm: FloatArray
    """Length of each line, shape (n,)."""
    counts: IntArray
    """Number of points of each line, shape (n,)."""


@dataclass(frozen=True, eq=False, slots=True)
class NearPairs:
    """Pairs of ends ``first`` < ``second`` with their distance and the turn a joint would make."""

    first: IntArray
    second: IntArray
    distance_mm: FloatArray
    turn_deg: FloatArray
    """0 is straight on, 180 is back the way it came."""

    def where(self, keep: npt.NDArray[np.bool_]) -> NearPairs:
        """Return some of the pairs."""
        return NearPairs(
            self.first[keep], self.second[keep], self.distance_mm[keep], self.turn_deg[keep]
        )

    @property
    def of_one_line(self) -> npt.NDArray[np.bool_]:
        """Which pairs are the two ends of one line."""
        return np.asarray(self.first >> 1 == self.second >> 1)


def lengths_mm(lines: Sequence[FloatArray]) -> FloatArray:
    """Length of each line through points of shape (k, 2), k >= 1."""
    if not lines:
        return np.empty(0)
    counts = np.array([len(line) for line in lines])
    points = np.concatenate(lines)
    starts = np.concatenate([[0], np.cumsum(counts)[:-1]])
    steps = np.zeros(len(points))
    steps[:-1] = np.hypot(*np.diff(points, axis=0).T)
    steps[starts + counts - 1] = 0.0
    return np.asarray(np.add.reduceat(steps, starts))


def ends_of(lines: Sequence[FloatArray], reach_mm: float) -> Ends:
    """Ends of open lines of at least two points.

    A direction is taken to the nearest point along the line that is further than ``reach_mm``
    from the end, so that the last hair's breadth of a curve does not decide it.
    """
    points = np.empty((2 * len(lines), 2))
    ahead = np.empty_like(points)
    for i, line in enumerate(lines):
        points[2 * i], points[2 * i + 1] = line[0], line[-1]
        ahead[2 * i], ahead[2 * i + 1] = line[1], line[-2]
    short = np.hypot(*(ahead - points).T) <= reach_mm
    for end in np.flatnonzero(short).tolist():
        line = lines[end // 2]
        ahead[end] = _beyond(line if end % 2 == 0 else line[::-1], reach_mm)
    steps = ahead - points
    sizes = np.hypot(*steps.T)[:, None]
    return Ends(
        points,
        steps / np.where(sizes > 0.0, sizes, 1.0),
        lengths_mm(lines),
        np.array([len(line) for line in lines], dtype=np.int64),
    )


def _beyond(line: FloatArray, reach_mm: float) -> FloatArray:
    distances = np.hypot(*(line - line[0]).T)
    far = np.flatnonzero(distances > reach_mm)
    return np.asarray(line[far[0] if len(far) else int(np.argmax(distances))])


def near_pairs(ends: Ends, radius_mm: float, neighbours: int) -> NearPairs:
    """Pairs of ends at most ``radius_mm`` apart, at most ``neighbours`` nearest of each end.

    The bound on neighbours keeps a star of many thousand lines from making millions of pairs.
    """
    count = len(ends.points)
    wanted = min(neighbours + 1, count)
    if wanted < 2:
        none = np.empty(0, dtype=np.int64)
        return NearPairs(none, none, np.empty(0), np.empty(0))
    _, found = cKDTree(ends.points).query(
        ends.points, k=wanted, distance_upper_bound=np.nextafter(radius_mm, np.inf)
    )
    one = np.repeat(np.arange(count), wanted)
    other = np.asarray(found).ravel()
    real = (other < count) & (one != other)
    pairs = np.column_stack([one[real], other[real]])
    pairs = np.unique(np.sort(pairs, axis=1), axis=0).astype(np.int64)
    first, second = pairs[:, 0], pairs[:, 1]
    cosine = -np.einsum("ij,ij->i", ends.directions[first], ends.directions[second])
    return NearPairs(
        first,
        second,
        np.hypot(*(ends.points[first] - ends.points[second]).T),
        np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))),
    )
