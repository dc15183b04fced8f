"""Closes small gaps between the ends of lines, and finds those that are too wide for it."""

from __future__ import annotations

from collections.abc import Collection

import numpy as np

from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.chain import Partners
from kerfwright.repair.crosses import arms_of_a_cross
from kerfwright.repair.ends import Ends, NearPairs, near_pairs
from kerfwright.repair.lines import Lines
from kerfwright.repair.lines_kernel import BoolArray, IntArray, bridge_in_order
from kerfwright.repair.tally import Gap

NEIGHBOURS = 8

BACK_DEG = 170.0
"""Ends of lines side by side, such as drawn hatching, turn by more: no gap of one line."""

SHARE = 4.0
"""A line is closed only over a gap this many times shorter than itself: short open strokes, such
as the hook of a letter, are open because they are drawn so."""

NEAR_MM = 5.0
"""Ends up to this far apart are worth a remark if they were left apart."""


def gaps_to_close(
    ends: Ends, gap_mm: float, barred: Collection[tuple[int, int]] = ()
) -> tuple[Partners, list[Gap]]:
    """Pair the ends across gaps of at most ``gap_mm``, the narrowest gap first.

    ``barred`` pairs of ends, the lower one first, are left apart.
    """
    pairs = near_pairs(ends, gap_mm, NEIGHBOURS)
    pairs = pairs.where(_own_with_bend(ends, pairs) | _narrower_than_both(ends, pairs))
    if barred:
        both = zip(pairs.first.tolist(), pairs.second.tolist(), strict=True)
        pairs = pairs.where(np.array([pair not in barred for pair in both], dtype=bool))
    partners = np.full(len(ends.points), -1, dtype=np.int64)
    order = _narrowest_first(ends, pairs)
    chosen = bridge_in_order(
        (pairs.first, pairs.second, pairs.distance_mm, pairs.turn_deg),
        order,
        ends.lengths_mm.copy(),
        partners,
        SHARE,
        BACK_DEG,
    )
    return partners, _gaps(ends, pairs, order[chosen])


def gaps_left(lines: Lines, ends: Ends) -> list[Gap]:
    """Pairs of ends that are each other's nearest, up to ``NEAR_MM`` apart, widest last.

    The arms of a cross are no gap; lines that only run over at a corner are one.
    """
    pairs = near_pairs(ends, NEAR_MM, NEIGHBOURS)
    own_length_mm = ends.lengths_mm[pairs.first >> 1]
    closing = _own_with_bend(ends, pairs) & (SHARE * pairs.distance_mm <= own_length_mm)
    linking = _narrower_than_both(ends, pairs) & (pairs.turn_deg <= BACK_DEG)
    pairs = pairs.where(closing | linking)
    pairs = pairs.where(~arms_of_a_cross(lines, ends, pairs))
    order = _narrowest_first(ends, pairs)
    rank = np.full(len(ends.points), len(order), dtype=np.int64)
    places = np.arange(len(order))
    np.minimum.at(rank, pairs.first[order], places)
    np.minimum.at(rank, pairs.second[order], places)
    nearest = (rank[pairs.first[order]] == places) & (rank[pairs.second[order]] == places)
    return _gaps(ends, pairs, order[nearest])


def _own_with_bend(ends: Ends, pairs: NearPairs) -> BoolArray:
    """Which pairs are the ends of one line that could enclose an area."""
    bent = ends.counts[pairs.first >> 1] >= 3
    return np.asarray(pairs.of_one_line & bent & (pairs.distance_mm > SAME_MM))


def _narrower_than_both(ends: Ends, pairs: NearPairs) -> BoolArray:
    """Which pairs are ends of two lines that are both longer than the gap between them."""
    gap = (pairs.distance_mm > SAME_MM) & (pairs.distance_mm <= pairs.shorter_mm(ends))
    return np.asarray(~pairs.of_one_line & gap)


def _narrowest_first(ends: Ends, pairs: NearPairs) -> IntArray:
    """Order of pairs by distance; of equally narrow ones first what closes a line, then the
    straightest, then by place, so that the order of the lines in the file decides nothing."""
    x, y = np.round((ends.points[pairs.first] + ends.points[pairs.second]) / 2.0, 6).T
    turn, distance = np.round(pairs.turn_deg, 6), np.round(pairs.distance_mm, 9)
    both_mm = ends.lengths_mm[pairs.first >> 1] + ends.lengths_mm[pairs.second >> 1]
    own_first = ~pairs.of_one_line
    keys = (pairs.second, pairs.first, np.round(both_mm, 6), y, x, turn, own_first, distance)
    return np.lexsort(keys)


def _gaps(ends: Ends, pairs: NearPairs, numbers: IntArray) -> list[Gap]:
    middles = (ends.points[pairs.first[numbers]] + ends.points[pairs.second[numbers]]) / 2.0
    widths = pairs.distance_mm[numbers].tolist()
    return [Gap(width, x, y) for width, (x, y) in zip(widths, middles.tolist(), strict=True)]
