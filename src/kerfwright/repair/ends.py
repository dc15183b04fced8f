"""The ends of open lines: where they are, which way they point, which lie near one another.

Open line number i has the ends 2i (its first point) and 2i + 1 (its last).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.lines import Lines
from kerfwright.repair.lines_kernel import BoolArray, IntArray, find_ends
from kerfwright.repair.near_kernel import neighbours_in_grid, pair_members, pair_neighbours


@dataclass(frozen=True, eq=False, slots=True)
class Ends:
    """Both ends of n open lines: 2n points, and unit directions from each into its line."""

    points: FloatArray
    directions: FloatArray
    lengths_mm: FloatArray
    """Length of each line, shape (n,)."""
    counts: IntArray
    """Number of points of each line, shape (n,)."""
    numbers: IntArray
    """Number of each line among all lines, closed ones included."""


@dataclass(frozen=True, eq=False, slots=True)
class NearPairs:
    """Pairs of ends ``first`` < ``second`` with their distance and the turn a joint would make."""

    first: IntArray
    second: IntArray
    distance_mm: FloatArray
    turn_deg: FloatArray
    """0 is straight on, 180 is back the way it came."""

    def where(self, keep: BoolArray) -> NearPairs:
        """Return some of the pairs."""
        return NearPairs(
            self.first[keep], self.second[keep], self.distance_mm[keep], self.turn_deg[keep]
        )

    @property
    def of_one_line(self) -> BoolArray:
        """Which pairs are the two ends of one line."""
        return np.asarray(self.first >> 1 == self.second >> 1)

    def shorter_mm(self, ends: Ends) -> FloatArray:
        """Length of the shorter of the two lines of each pair."""
        one, other = ends.lengths_mm[self.first >> 1], ends.lengths_mm[self.second >> 1]
        return np.asarray(np.minimum(one, other))


def ends_of(lines: Lines, reach_mm: float) -> Ends:
    """Ends of the open lines, all of at least two points.

    A direction is taken to the nearest point along the line that is further than ``reach_mm``
    from the end, so that the last hair's breadth of a curve does not decide it.
    """
    numbers = np.flatnonzero(~lines.closed)
    points, directions = find_ends(lines.points, lines.starts, numbers, reach_mm)
    return Ends(points, directions, lines.lengths_mm[numbers], lines.counts[numbers], numbers)


def paired(ends: Ends, first: IntArray, second: IntArray) -> NearPairs:
    """Distance and turn of given pairs of ends."""
    cosine = -np.einsum("ij,ij->i", ends.directions[first], ends.directions[second])
    distance_mm = np.hypot(*(ends.points[first] - ends.points[second]).T)
    return NearPairs(first, second, distance_mm, np.degrees(np.arccos(np.clip(cosine, -1.0, 1.0))))


def near_pairs(ends: Ends, radius_mm: float, neighbours: int) -> NearPairs:
    """Pairs of ends at most ``radius_mm`` apart.

    Of the places around an end the ``neighbours`` nearest are looked at, and of a crowd of ends
    in one place those that lead most nearly straight on. Without these bounds a star of many
    thousand lines would make millions of pairs.
    """
    order, starts = _places(ends.points)
    place = ends.points[order[starts[:-1]]]
    # Ends of one place lie up to its diagonal apart, so places are looked for a little further.
    near = _near_places(place, radius_mm + 3.0 * SAME_MM, neighbours)
    crowds = np.flatnonzero(np.diff(starts) > CROWD).tolist()
    found = [
        pair_members(order, starts, CROWD),
        pair_neighbours(near, order, starts, CROWD),
        *(_straightest(ends, order[starts[k] : starts[k + 1]]) for k in crowds),
    ]
    first = np.concatenate([one for one, _ in found])
    second = np.concatenate([other for _, other in found])
    if crowds:
        keys = np.unique(first * len(ends.points) + second)
        first, second = keys // len(ends.points), keys % len(ends.points)
    pairs = paired(ends, first, second)
    return pairs.where(pairs.distance_mm <= radius_mm)


CROWD = 8
"""Ends in one place among which every pair is looked at."""

FULL = 64.0
"""Places in a cell, as seen by the average place, beyond which a tree is searched instead."""


def _places(points: FloatArray) -> tuple[IntArray, IntArray]:
    """Ends in order of their places, and where in that order each place begins.

    Ends that lie on both sides of a line of the grid are in neighbouring places.
    """
    cell = np.round(points / SAME_MM).astype(np.int64)
    key = (cell[:, 0] << 32) + cell[:, 1]
    order = np.argsort(key, kind="stable")
    sorted_key = key[order]
    first = np.flatnonzero(sorted_key[1:] != sorted_key[:-1]) + 1
    edges = [np.zeros(min(len(points), 1), dtype=np.int64), first, np.array([len(points)])]
    return order, np.concatenate(edges)


def _near_places(place: FloatArray, reach_mm: float, neighbours: int) -> IntArray:
    """Up to ``neighbours`` nearest other places of each, shape (p, k), -1 for none."""
    wanted = min(neighbours, len(place) - 1)
    if wanted < 1:
        return np.empty((len(place), 0), dtype=np.int64)
    cell = np.floor(place / reach_mm).astype(np.int64)
    key = (cell[:, 1] << 32) + cell[:, 0]
    order = np.argsort(key, kind="stable")
    sizes = np.diff(np.flatnonzero(np.diff(key[order], prepend=key[order[0]] - 1)), append=len(key))
    if float((sizes.astype(np.float64) ** 2).sum()) <= FULL * len(place):
        columns = np.ascontiguousarray(cell.T)
        return np.asarray(
            neighbours_in_grid(place, order, columns[0], columns[1], reach_mm, wanted)
        )
    _, found = cKDTree(place).query(place, k=wanted + 1, distance_upper_bound=reach_mm, workers=-1)
    near = np.asarray(found, dtype=np.int64)
    own = np.arange(len(place))[:, None]
    return np.where((near == own) | (near == len(place)), -1, near)


def _straightest(ends: Ends, crowd: IntArray) -> tuple[IntArray, IntArray]:
    """Pair each end of a crowd with those of nearly the opposite direction."""
    angle = np.arctan2(ends.directions[crowd, 1], ends.directions[crowd, 0]) % (2.0 * np.pi)
    order = np.argsort(angle, kind="stable")
    opposite = np.searchsorted(angle[order], (angle + np.pi) % (2.0 * np.pi))
    steps = np.arange(-CROWD // 2, CROWD // 2)
    others = crowd[order[(opposite[:, None] + steps) % len(crowd)]].ravel()
    one = np.repeat(crowd, CROWD)
    apart = one != others
    one, other = one[apart], others[apart]
    return np.minimum(one, other), np.maximum(one, other)
