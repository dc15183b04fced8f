"""Chooses, where more than two ends meet, the ways on that let outlines close.

First every line goes the straightest way on. Then three rules mend what that leads astray:

1. A line that leads to a dead end gives way. Where one of several lines that lead round somewhere
   was left over because another went straight on into a dead end, those two are joined.
2. An open line that comes back to a place it has passed is parted there into a closed outline and
   the rest. Ends that run into their own line go first, and of them what makes the longest outline,
   so that as little as possible stays open.
3. A closed outline that passes one place twice is parted there into two, if they meet nowhere else:
   two outlines that touch at a corner.

Lines that cross without one being left over keep on straight, as in a grid.
"""

from __future__ import annotations

from collections import Counter, defaultdict

import numpy as np

from kerfwright.repair.chain import Meeting, Partners, may_meet, straightest_first
from kerfwright.repair.ends import Ends, paired
from kerfwright.repair.lines_kernel import (
    IntArray,
    chains_with_returns,
    follow_partners,
    strip_dead_ends,
)

LEAST_STEPS = 3
"""A closed line has at least three straight pieces."""


def outlines_first(ends: Ends, meeting: Meeting, join_mm: float) -> Partners:
    """Pair the ends that meet anew, so that outlines close; see the rules above."""
    node = np.where(meeting.sizes > 2, meeting.cluster, -1)
    if (node < 0).all():
        return meeting.partners
    junctions = _Junctions(ends, node, meeting.partners.copy(), join_mm)
    junctions.let_dead_ends_give_way(meeting.cluster)
    junctions.part_chains()
    return junctions.partners


class _Junctions:
    """The ends of a drawing whose pairs are being changed; ``node`` is -1 away from junctions."""

    def __init__(self, ends: Ends, node: IntArray, partners: Partners, join_mm: float) -> None:
        self.ends = ends
        self.node = node
        self.partners = partners
        self.join_mm = join_mm

    def let_dead_ends_give_way(self, cluster: IntArray) -> None:
        """Rule 1."""
        left_over = (self.node >= 0) & (self.partners < 0)
        if not left_over.any():
            return
        round_about = np.repeat(strip_dead_ends(cluster), 2)
        places = np.unique(self.node[left_over & round_about])
        free: dict[int, list[int]] = defaultdict(list)
        astray: dict[int, list[int]] = defaultdict(list)
        for end in np.flatnonzero(np.isin(self.node, places) & round_about).tolist():
            partner = int(self.partners[end])
            if partner < 0:
                free[int(self.node[end])].append(end)
            elif not round_about[partner]:
                astray[int(self.node[end])].append(end)
        self._pair_straightest(
            [
                (one, other)
                for place, ends in free.items()
                for one in ends
                for other in astray[place]
            ]
        )

    def _pair_straightest(self, pairs: list[tuple[int, int]]) -> None:
        if not pairs:
            return
        ends = np.sort(np.array(pairs, dtype=np.int64), axis=1)
        near = paired(self.ends, ends[:, 0], ends[:, 1])
        near = near.where(may_meet(self.ends, near) & (near.distance_mm <= self.join_mm))
        waiting = set(ends.ravel().tolist())
        for k in straightest_first(self.ends, near).tolist():
            one, other = int(near.first[k]), int(near.second[k])
            if {one, other} <= waiting:
                waiting -= {one, other}
                self._pair(one, other)

    def part_chains(self) -> None:
        """Rules 2 and 3."""
        lines, back, starts, ring = follow_partners(self.partners)
        returning = chains_with_returns(lines, back, starts, ring, self.node)
        for chain in np.flatnonzero(returning).tolist():
            run = slice(int(starts[chain]), int(starts[chain + 1]))
            entries = (2 * lines[run] + back[run]).tolist()
            if ring[chain]:
                self._part_ring(entries)
            else:
                self._part_open(entries)

    def _part_open(self, entries: list[int]) -> None:
        """Take closed outlines out of a chain of lines, each told by the end it is entered at."""
        while loop := self._longest_loop(entries):
            i, j = loop
            if i > 0:
                self._free(entries[i - 1] ^ 1)
            if j < len(entries):
                self._free(entries[j])
            self._close(entries[i:j])
            self._part_ring(entries[i:j])
            entries = entries[:i] + entries[j:]
        if not entries:
            return
        if self._lower_end_first(entries[-1] ^ 1, entries[0]):
            entries = [entry ^ 1 for entry in reversed(entries)]
        self._part_trail(entries, ring=False)

    def _longest_loop(self, entries: list[int]) -> tuple[int, int] | None:
        """Longest part that begins or ends a chain and can close."""
        if not entries:
            return None
        last = len(entries)
        nodes = [*self.node[entries].tolist(), int(self.node[entries[-1] ^ 1])]
        loops = [(0, j) for j in range(1, last + 1) if nodes[j] == nodes[0] >= 0]
        loops += [(i, last) for i in range(1, last) if nodes[i] == nodes[last] >= 0]
        able = [(i, j) for i, j in loops if self._may_close(entries[i:j])]
        return max(able, key=lambda loop: self._measure(entries[loop[0] : loop[1]]), default=None)

    def _part_ring(self, entries: list[int]) -> None:
        begin = next((k for k, end in enumerate(entries) if self.node[end] >= 0), 0)
        self._part_trail(entries[begin:] + entries[:begin], ring=True)

    def _part_trail(self, entries: list[int], *, ring: bool) -> None:
        """Take loops out of a chain on the way along it, whenever it comes back to a place.

        What lies between is free of loops by then. Of a ring only such loops are taken out that
        meet the rest nowhere else.
        """
        nodes = self.node[entries].tolist()
        visits = Counter(node for node in nodes if node >= 0)
        total = self._steps(entries)
        trail: list[int] = []
        at: dict[int, int] = {}
        for entry, node in zip(entries, nodes, strict=True):
            if node >= 0 and node in at:
                loop = trail[at[node] :]
                inside = [int(self.node[end]) for end in loop[1:] if self.node[end] >= 0]
                alone = not ring or all(visits[other] == 1 for other in inside)
                steps = self._steps(loop)
                enough = not ring or total - steps >= LEAST_STEPS
                before = trail[at[node] - 1] ^ 1 if at[node] else (entries[-1] ^ 1 if ring else -1)
                joins = before < 0 or self._may_pair(before, entry)
                if alone and enough and joins and self._may_close(loop):
                    self._close(loop)
                    if before >= 0:
                        self._pair(before, entry)
                    del trail[at[node] :]
                    for other in inside:
                        at.pop(other, None)
                    visits[node] -= 1
                    total -= steps
            if node >= 0:
                at[node] = len(trail)
            trail.append(entry)

    def _may_close(self, loop: list[int]) -> bool:
        return self._steps(loop) >= LEAST_STEPS and self._may_pair(loop[-1] ^ 1, loop[0])

    def _lower_end_first(self, one: int, other: int) -> bool:
        a, b = np.round(self.ends.points[[one, other]], 6).tolist()
        return bool(a < b)

    def _steps(self, entries: list[int]) -> int:
        return int((self.ends.counts[np.array(entries) >> 1] - 1).sum())

    def _measure(self, entries: list[int]) -> tuple[float, float, float]:
        """Length and middle, rounded so that the order of lines does not matter."""
        numbers = np.array(entries)
        middle = (self.ends.points[numbers] + self.ends.points[numbers ^ 1]).mean(axis=0) / 2.0
        length_mm = float(self.ends.lengths_mm[numbers >> 1].sum())
        return round(length_mm, 6), round(float(middle[0]), 6), round(float(middle[1]), 6)

    def _may_pair(self, one: int, other: int) -> bool:
        first, second = min(one, other), max(one, other)
        near = paired(self.ends, np.array([first]), np.array([second]))
        return bool(may_meet(self.ends, near)[0] and near.distance_mm[0] <= self.join_mm)

    def _close(self, entries: list[int]) -> None:
        self._pair(entries[-1] ^ 1, entries[0])

    def _pair(self, one: int, other: int) -> None:
        self._free(one)
        self._free(other)
        self.partners[one], self.partners[other] = other, one

    def _free(self, end: int) -> None:
        former = self.partners[end]
        if former >= 0:
            self.partners[former] = self.partners[end] = -1
