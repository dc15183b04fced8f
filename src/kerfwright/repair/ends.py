"""The ends of open lines: where they are, which way they point, which lie near one another.

Line number i has the ends 2i (its first point) and 2i + 1 (its last).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy.spatial import cKDTree

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM

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
    """Pairs of ends at most ``radius_mm`` apart.

    Of the places around an end the ``neighbours`` nearest are looked at, and of a crowd of ends
    in one place those that lead most nearly straight on. Without these bounds a star of many
    thousand lines would make millions of pairs.
    """
    place, members = _places(ends.points)
    pairs = np.concatenate(
        [
            *_pairs_within(ends, members),
            *_pairs_between(place, members, radius_mm, neighbours),
            np.empty((0, 2), dtype=np.int64),
        ]
    )
    pairs = np.unique(np.sort(pairs, axis=1), axis=0)
    first, second = pairs[:, 0], pairs[:, 1]
    cosine = -np.einsum("ij,ij->i", ends.directions[first], ends.directions[second])
    distance_mm = np.hypot(*(ends.points[first] - ends.points[second]).T)
    near = distance_mm <= radius_mm
    turn_deg = np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0)))
    return NearPairs(first, second, distance_mm, turn_deg).where(near)


CROWD = 8
"""Ends in one place among which every pair is looked at."""


def _places(points: FloatArray) -> tuple[FloatArray, list[IntArray]]:
    """Places of ends that coincide, and the numbers of the ends in each.

    Ends that lie on both sides of a line of the grid are in neighbouring places.
    """
    if not len(points):
        return np.empty((0, 2)), []
    cell = np.round(points / SAME_MM).astype(np.int64)
    key = (cell[:, 0] << 32) + cell[:, 1]
    order = np.argsort(key, kind="stable")
    starts = np.flatnonzero(np.diff(key[order], prepend=key[order[0]] - 1))
    return points[order[starts]], np.split(order, starts[1:])


def _pairs_within(ends: Ends, members: list[IntArray]) -> list[IntArray]:
    by_size: dict[int, list[IntArray]] = defaultdict(list)
    for crowd in members:
        by_size[len(crowd)].append(crowd)
    found: list[IntArray] = []
    for size, crowds in by_size.items():
        if size > CROWD:
            found += [_straightest(ends, crowd) for crowd in crowds]
        elif size > 1:
            one, other = np.triu_indices(size, 1)
            rows = np.array(crowds)
            found.append(np.column_stack([rows[:, one].ravel(), rows[:, other].ravel()]))
    return found


def _straightest(ends: Ends, crowd: IntArray) -> IntArray:
    """Pair each end of a crowd with those of nearly the opposite direction."""
    angle = np.arctan2(ends.directions[crowd, 1], ends.directions[crowd, 0]) % (2.0 * np.pi)
    order = np.argsort(angle, kind="stable")
    opposite = np.searchsorted(angle[order], (angle + np.pi) % (2.0 * np.pi))
    steps = np.arange(-CROWD // 2, CROWD // 2)
    others = crowd[order[(opposite[:, None] + steps) % len(crowd)]]
    pairs = np.column_stack([np.repeat(crowd, CROWD), others.ravel()])
    return np.asarray(pairs[pairs[:, 0] != pairs[:, 1]])


def _pairs_between(
    place: FloatArray, members: list[IntArray], radius_mm: float, neighbours: int
) -> list[IntArray]:
    wanted = min(neighbours + 1, len(place))
    if wanted < 2:
        return []
    # Ends of one place lie up to its diagonal apart, so places are looked for a little further.
    reach_mm = radius_mm + 3.0 * SAME_MM
    _, nearest = cKDTree(place).query(place, k=wanted, distance_upper_bound=reach_mm)
    found = np.asarray(nearest, dtype=np.int64)
    one, other = np.repeat(np.arange(len(place)), wanted), found.ravel()
    real = (other < len(place)) & (one != other)
    one, other = one[real], other[real]
    sizes = np.array([len(crowd) for crowd in members])
    first_of = np.array([crowd[0] for crowd in members], dtype=np.int64)
    alone = (sizes[one] == 1) & (sizes[other] == 1)
    pairs = [np.column_stack([first_of[one[alone]], first_of[other[alone]]])]
    crowded = np.flatnonzero(~alone)
    for a, b in zip(one[crowded].tolist(), other[crowded].tolist(), strict=True):
        if a < b or a not in found[b]:
            grid = np.meshgrid(members[a][:CROWD], members[b][:CROWD])
            pairs.append(np.column_stack([axis.ravel() for axis in grid]))
    return pairs
