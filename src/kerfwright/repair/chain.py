"""Joins lines whose ends meet into longer ones, and closes those whose own ends meet."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.ends import Ends, IntArray, NearPairs, near_pairs

NEIGHBOURS = 16

BACK_DEG = 179.5
"""A turn beyond this runs back along the line it came from: two lines side by side, not one."""

SHARE = 4.0
"""A joint moves ends by half their distance; a line must be this many times longer than that
distance, or it would be bent out of shape or fold up."""

Partners = IntArray
"""For every end the end that it is joined to, -1 for none."""


@dataclass(frozen=True, eq=False, slots=True)
class Chain:
    """Lines to follow one after another: numbers, and whether each is followed backwards."""

    lines: tuple[tuple[int, bool], ...]
    closed: bool


def meeting_ends(ends: Ends, join_mm: float) -> tuple[Partners, FloatArray]:
    """Pair the ends that meet, and return the places where more than two of them do, (k, 2).

    Ends that coincide go before ends that are only close. Where more than two ends meet, the
    straightest way on is taken; of what is equally straight, first what closes a line, then by
    the directions on the drawing, so that the order of the lines in the file decides nothing.
    """
    pairs = near_pairs(ends, join_mm, NEIGHBOURS)
    places = _junctions(ends, pairs)
    own = pairs.of_one_line
    shorter = np.minimum(ends.lengths_mm[pairs.first >> 1], ends.lengths_mm[pairs.second >> 1])
    coincide = pairs.distance_mm <= SAME_MM
    may_close = own & (ends.counts[pairs.first >> 1] >= 4)
    may_join = ~own & (pairs.turn_deg <= BACK_DEG)
    fits = (coincide & ~own) | (SHARE * pairs.distance_mm <= shorter)
    pairs = pairs.where((may_close | may_join) & fits)
    order = _straightest_first(ends, pairs)
    partners = np.full(len(ends.points), -1, dtype=np.int64)
    for k in order.tolist():
        i, j = pairs.first[k], pairs.second[k]
        if partners[i] < 0 and partners[j] < 0:
            partners[i], partners[j] = j, i
    return partners, places


def _straightest_first(ends: Ends, pairs: NearPairs) -> IntArray:
    heading = np.arctan2(ends.directions[:, 1], ends.directions[:, 0]) % (2.0 * np.pi)
    one, other = heading[pairs.first], heading[pairs.second]
    lengths_mm = ends.lengths_mm[pairs.first >> 1] + ends.lengths_mm[pairs.second >> 1]
    return np.lexsort(
        (
            pairs.second,
            pairs.first,
            np.round(lengths_mm, 6),
            np.round(np.maximum(one, other), 6),
            np.round(np.minimum(one, other), 6),
            ~pairs.of_one_line,
            np.round(pairs.turn_deg, 6),
            pairs.distance_mm > SAME_MM,
        )
    )


def _junctions(ends: Ends, pairs: NearPairs) -> FloatArray:
    count = len(ends.points)
    links = coo_matrix((np.ones(len(pairs.first)), (pairs.first, pairs.second)), (count, count))
    _, cluster = connected_components(links, directed=False)
    _, first, sizes = np.unique(cluster, return_index=True, return_counts=True)
    return np.asarray(ends.points[first[sizes > 2]])


def chains(partners: Partners) -> list[Chain]:
    """Follow the pairs from line to line; a chain begins with the line of the lowest number
    where it is closed, and runs in that line's direction."""
    count = len(partners) // 2
    seen = np.zeros(count, dtype=bool)
    partner = partners.tolist()
    found: list[Chain] = []
    for line in range(count):
        if seen[line]:
            continue
        ahead, closed = _follow(partner, 2 * line + 1)
        behind = [] if closed else _follow(partner, 2 * line)[0]
        before = [(number, not backwards) for number, backwards in reversed(behind)]
        chain = (*before, (line, False), *ahead)
        seen[[number for number, _ in chain]] = True
        found.append(Chain(chain, closed))
    return found


def _follow(partner: list[int], end: int) -> tuple[list[tuple[int, bool]], bool]:
    """Lines that come after the one that is left at ``end``; whether they lead back to it."""
    passed: list[tuple[int, bool]] = []
    home = end ^ 1
    while (entry := partner[end]) >= 0:
        if entry == home:
            return passed, True
        passed.append((entry >> 1, entry % 2 == 1))
        end = entry ^ 1
    return passed, False


def joined(lines: Sequence[FloatArray], chain: Chain) -> tuple[FloatArray, bool]:
    """Points of a chain, ends that do not coincide meeting halfway; and whether it is closed.

    A closed chain that would be left with fewer than three points stays open.
    """
    pieces = [lines[number][:: -1 if back else 1].copy() for number, back in chain.lines]
    closed = chain.closed and sum(len(piece) - 1 for piece in pieces) >= 3
    for before, after in pairwise(pieces):
        _meet(before, after)
    if closed:
        _meet(pieces[-1], pieces[0])
    points = np.concatenate([pieces[0], *(piece[1:] for piece in pieces[1:])])
    return (points[:-1] if closed else points), closed


def _meet(before: FloatArray, after: FloatArray) -> None:
    if np.hypot(*(before[-1] - after[0])) > SAME_MM:
        before[-1] = (before[-1] + after[0]) / 2.0
    after[0] = before[-1]
