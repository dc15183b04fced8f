"""Closes small gaps between the ends of lines, and finds those that are too wide for it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.chain import Chain, Partners
from kerfwright.repair.ends import Ends, NearPairs, near_pairs

NEIGHBOURS = 8

BACK_DEG = 170.0
"""Ends of lines side by side, such as drawn hatching, turn by more: no gap of one line."""

SHARE = 4.0
"""A line is closed only over a gap this many times shorter than itself: short open strokes, such
as the hook of a letter, are open because they are drawn so."""

NEAR_MM = 5.0
"""Ends up to this far apart are worth a remark if they were left apart."""


@dataclass(frozen=True, slots=True)
class Gap:
    """Two ends of lines and the middle between them."""

    width_mm: float
    x_mm: float
    y_mm: float


def gaps_to_close(ends: Ends, gap_mm: float) -> tuple[Partners, list[Gap]]:
    """Pair the ends across gaps of at most ``gap_mm``, the narrowest gap first."""
    pairs = near_pairs(ends, gap_mm, NEIGHBOURS)
    pairs = pairs.where(_own_with_bend(ends, pairs) | _narrower_than_both(ends, pairs))
    grown = _Grown(ends.lengths_mm)
    partners = np.full(len(ends.points), -1, dtype=np.int64)
    gaps: list[Gap] = []
    for k in _narrowest_first(ends, pairs):
        i, j = int(pairs.first[k]), int(pairs.second[k])
        width_mm = float(pairs.distance_mm[k])
        if partners[i] >= 0 or partners[j] >= 0:
            continue
        if grown.are_one(i >> 1, j >> 1):
            fits = SHARE * width_mm <= grown.length_mm(i >> 1)
        else:
            fits = bool(pairs.turn_deg[k] <= BACK_DEG)
        if fits:
            grown.bridge(i >> 1, j >> 1, width_mm)
            partners[i], partners[j] = j, i
            gaps.append(_gap(ends, i, j, width_mm))
    return partners, gaps


def gaps_left(ends: Ends) -> list[Gap]:
    """Pairs of ends that are each other's nearest, up to ``NEAR_MM`` apart, widest last."""
    pairs = near_pairs(ends, NEAR_MM, NEIGHBOURS)
    own_length_mm = ends.lengths_mm[pairs.first >> 1]
    closing = _own_with_bend(ends, pairs) & (SHARE * pairs.distance_mm <= own_length_mm)
    linking = _narrower_than_both(ends, pairs) & (pairs.turn_deg <= BACK_DEG)
    pairs = pairs.where(closing | linking)
    order = _narrowest_first(ends, pairs)
    nearest: dict[int, int] = {}
    for k in order:
        nearest.setdefault(int(pairs.first[k]), k)
        nearest.setdefault(int(pairs.second[k]), k)
    return [
        _gap(ends, i, j, float(pairs.distance_mm[k]))
        for k in order
        if nearest[i := int(pairs.first[k])] == nearest[j := int(pairs.second[k])] == k
    ]


def bridged(lines: Sequence[FloatArray], chain: Chain) -> FloatArray:
    """Points of a chain whose lines are linked by straight pieces."""
    return np.concatenate([lines[number][:: -1 if back else 1] for number, back in chain.lines])


def _own_with_bend(ends: Ends, pairs: NearPairs) -> npt.NDArray[np.bool_]:
    """Which pairs are the ends of one line that could enclose an area."""
    bent = ends.counts[pairs.first >> 1] >= 3
    return np.asarray(pairs.of_one_line & bent & (pairs.distance_mm > SAME_MM))


def _narrower_than_both(ends: Ends, pairs: NearPairs) -> npt.NDArray[np.bool_]:
    """Which pairs are ends of two lines that are both longer than the gap between them."""
    shorter = np.minimum(ends.lengths_mm[pairs.first >> 1], ends.lengths_mm[pairs.second >> 1])
    gap = (pairs.distance_mm > SAME_MM) & (pairs.distance_mm <= shorter)
    return np.asarray(~pairs.of_one_line & gap)


def _narrowest_first(ends: Ends, pairs: NearPairs) -> list[int]:
    """Order of pairs by distance; of equally narrow ones first what closes a line, then the
    straightest, then by place, so that the order of the lines in the file decides nothing."""
    x, y = np.round((ends.points[pairs.first] + ends.points[pairs.second]) / 2.0, 6).T
    turn, distance = np.round(pairs.turn_deg, 6), np.round(pairs.distance_mm, 9)
    both_mm = ends.lengths_mm[pairs.first >> 1] + ends.lengths_mm[pairs.second >> 1]
    own_first = ~pairs.of_one_line
    keys = (pairs.second, pairs.first, np.round(both_mm, 6), y, x, turn, own_first, distance)
    return [int(k) for k in np.lexsort(keys)]


def _gap(ends: Ends, i: int, j: int, width_mm: float) -> Gap:
    x_mm, y_mm = ((ends.points[i] + ends.points[j]) / 2.0).tolist()
    return Gap(width_mm, x_mm, y_mm)


class _Grown:
    """Which lines hang together by now, and how long they are together."""

    def __init__(self, lengths: FloatArray) -> None:
        self._parent = list(range(len(lengths)))
        self._length_mm: list[float] = lengths.tolist()

    def are_one(self, one: int, other: int) -> bool:
        """Whether two lines hang together."""
        return self._root(one) == self._root(other)

    def length_mm(self, line: int) -> float:
        """Length of everything that hangs together with a line, bridges included."""
        return self._length_mm[self._root(line)]

    def bridge(self, one: int, other: int, width_mm: float) -> None:
        """Let two lines hang together over a gap."""
        a, b = self._root(one), self._root(other)
        self._length_mm[a] += width_mm
        if a != b:
            self._parent[b] = a
            self._length_mm[a] += self._length_mm[b]

    def _root(self, line: int) -> int:
        while self._parent[line] != line:
            self._parent[line] = self._parent[self._parent[line]]
            line = self._parent[line]
        return line
