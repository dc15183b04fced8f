"""Joins lines whose ends meet into longer ones, and closes those whose own ends meet."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.curves import Span, Spans, reversed_spans
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.ends import Ends, NearPairs, near_pairs
from kerfwright.repair.lines import Lines
from kerfwright.repair.lines_kernel import (
    BoolArray,
    IntArray,
    follow_partners,
    join_points,
    label_clusters,
    pair_in_order,
)

NEIGHBOURS = 16

BACK_DEG = 179.5
"""A turn beyond this runs back along the line it came from: two lines side by side, not one."""

SHARE = 4.0
"""A joint moves ends by half their distance; a line must be this many times longer than that
distance, or it would be bent out of shape or fold up."""

Partners = IntArray
"""For every end the end that it is joined to, -1 for none."""


@dataclass(frozen=True, eq=False, slots=True)
class Meeting:
    """Ends that meet, paired the straightest way."""

    partners: Partners
    cluster: IntArray
    """For every end the lowest end of those that it meets, directly or through others."""
    sizes: IntArray
    """For every end how many ends meet there."""

    def junctions(self, ends: Ends, partners: Partners) -> FloatArray:
        """Places where more than two ends meet and some were joined, shape (k, 2)."""
        chosen = (self.sizes > 2) & (partners >= 0)
        return np.asarray(ends.points[np.unique(self.cluster[chosen])])


def meeting_ends(ends: Ends, join_mm: float) -> Meeting:
    """Pair the ends that meet.

    Ends that coincide go before ends that are only close. Where more than two ends meet, the
    straightest way on is taken; of what is equally straight, first what closes a line, then by
    the directions on the drawing, so that the order of the lines in the file decides nothing.
    """
    pairs = near_pairs(ends, join_mm, NEIGHBOURS)
    count = len(ends.points)
    cluster = label_clusters(count, pairs.first, pairs.second)
    pairs = pairs.where(may_meet(ends, pairs))
    rivals = np.bincount(pairs.first, minlength=count) + np.bincount(pairs.second, minlength=count)
    contested = (rivals[pairs.first] > 1) | (rivals[pairs.second] > 1)
    partners = np.full(count, -1, dtype=np.int64)
    sure = pairs.where(~contested)
    partners[sure.first], partners[sure.second] = sure.second, sure.first
    rest = pairs.where(contested)
    pair_in_order(rest.first, rest.second, straightest_first(ends, rest), partners)
    return Meeting(partners, cluster, np.bincount(cluster, minlength=count)[cluster])


def may_meet(ends: Ends, pairs: NearPairs) -> BoolArray:
    """Which pairs may be joined: not back along the same way, nor bent out of shape by it."""
    own = pairs.of_one_line
    coincide = pairs.distance_mm <= SAME_MM
    may_close = own & (ends.counts[pairs.first >> 1] >= 4)
    may_join = ~own & (pairs.turn_deg <= BACK_DEG)
    fits = (coincide & ~own) | (SHARE * pairs.distance_mm <= pairs.shorter_mm(ends))
    return np.asarray((may_close | may_join) & fits)


def straightest_first(ends: Ends, pairs: NearPairs) -> IntArray:
    """Order of pairs in which ends are joined."""
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


@dataclass(frozen=True, eq=False, slots=True)
class Linked:
    """Lines after ends have been linked, and what was done."""

    lines: Lines
    pieces: int
    """Lines that went into longer ones."""
    made: int
    """Lines made of more than one."""
    closed: int
    """Lines that were closed."""
    added_mm: float
    """Change of length."""
    first_at: tuple[float, float] | None
    """Where the first of them begins."""


def linked(lines: Lines, numbers: IntArray, partners: Partners, *, meet: bool) -> Linked:
    """Put every chain of linked lines in place of its first line, whose shape it belongs to.

    Args:
        lines: open and closed lines.
        numbers: of the open ones, whose ends ``partners`` counts.
        partners: for every end the one it is linked to.
        meet: ends meet halfway; otherwise a straight piece links them.

    """
    if not (partners >= 0).any():
        return Linked(lines, 0, 0, 0, 0.0, None)
    of_all = np.full(2 * len(lines), -1, dtype=np.int64)
    ends = (2 * numbers[:, None] + np.array([0, 1])).ravel()
    of_all[ends] = np.where(partners >= 0, ends[partners], -1)
    followed = follow_partners(of_all)
    order, back, chain_starts, _ = followed
    points, starts, closed, offset, moved = join_points(
        (lines.points, lines.starts, lines.closed), followed, SAME_MM, meet
    )
    heads = chain_starts[:-1]
    members = np.diff(chain_starts)
    lowest = np.minimum.reduceat(order, heads)
    changed = (members > 1) | (closed & ~lines.closed[lowest])
    copied = np.where(lines.copies[order] > 0, np.arange(len(order)), len(order))
    first_copy = order[np.minimum(np.minimum.reduceat(copied, heads), len(order) - 1)]
    out = Lines(
        points,
        starts,
        closed,
        lines.owner[lowest],
        np.where(changed, -1, lines.source[lowest]),
        _spans(lines, order, back, chain_starts, offset, moved),
        np.add.reduceat(lines.copies[order], heads),
        np.add.reduceat(lines.copies_mm[order], heads),
        lines.copies_at[first_copy],
    )
    before_mm = np.add.reduceat(lines.lengths_mm[order], heads)
    first = int(np.argmax(changed))
    x_mm, y_mm = points[starts[first]].tolist()
    return Linked(
        out,
        int(members[members > 1].sum()),
        int((members > 1).sum()),
        int((changed & closed).sum()),
        float((out.lengths_mm - before_mm)[changed].sum()),
        (x_mm, y_mm) if changed.any() else None,
    )


def _spans(
    lines: Lines,
    order: IntArray,
    back: BoolArray,
    chain_starts: IntArray,
    offset: IntArray,
    moved: BoolArray,
) -> dict[int, Spans]:
    """Exact curves of the chains; one whose end point was moved to meet another is lost."""
    if not lines.spans:
        return {}
    found: dict[int, list[Span]] = {}
    curved = np.zeros(len(lines), dtype=bool)
    curved[list(lines.spans)] = True
    counts = lines.counts
    for m in np.flatnonzero(curved[order]).tolist():
        line = int(order[m])
        spans = lines.spans[line]
        last = int(counts[line]) - 1
        if back[m]:
            spans = reversed_spans(spans, last)
        kept = [
            span
            for span in spans
            if not (moved[m, 0] and span.first == 0) and not (moved[m, 1] and span.last == last)
        ]
        if kept:
            chain = int(np.searchsorted(chain_starts, m, side="right")) - 1
            at = int(offset[m])
            found.setdefault(chain, []).extend(span.moved(at) if at else span for span in kept)
    return {chain: tuple(spans) for chain, spans in found.items()}
