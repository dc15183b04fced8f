"""Pieces put together to strokes, as long and as straight as they go.

At every node the pieces are paired, the straightest pair first, and what is paired is burned in
one go: so no more open strokes are left than half the number of odd nodes, as few as a graph
allows (Euler 1736; Hierholzer 1873).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.cutting.shared_edges import IntArray
from kerfwright.geometry.paths import FloatArray


@dataclass(frozen=True, slots=True)
class Trail:
    """Pieces in the order in which they are burned; ``nodes`` has one more unless closed."""

    pieces: tuple[int, ...]
    nodes: tuple[int, ...]
    closed: bool

    def cut_at(self, apart: Sequence[bool]) -> list[Trail]:
        """Split where ``apart``, one flag for each piece, changes."""
        n = len(self.pieces)
        changes = [i for i in range(n) if apart[i] != apart[i - 1] and (i > 0 or self.closed)]
        if not changes:
            return [self]
        starts = changes if self.closed else [0, *changes]
        ends = [*starts[1:], starts[0] + n if self.closed else n]
        ring = self.nodes + self.nodes if self.closed else self.nodes
        twice = self.pieces + self.pieces
        return [
            Trail(twice[a:b], (ring + ring[:1])[a : b + 1], closed=False)
            for a, b in zip(starts, ends, strict=True)
        ]


def trails(nodes: FloatArray, ends: IntArray, kinds: Sequence[int]) -> list[Trail]:
    """Put pieces together; only pieces of the same kind are burned in one go.

    Args:
        nodes: shape (m, 2), mm.
        ends: the two nodes of every piece, shape (k, 2).
        kinds: one for each piece.

    """
    partner = _paired(nodes, ends, kinds)
    found: list[Trail] = []
    done = [False] * len(ends)
    ends_of = ends.tolist()

    def follow(piece: int, side: int) -> Trail:
        """From the given side of a piece onwards."""
        first = (piece, side)
        pieces, through = [], [ends_of[piece][side]]
        while True:
            done[piece] = True
            pieces.append(piece)
            through.append(ends_of[piece][1 - side])
            onwards = partner.get((piece, 1 - side))
            if onwards is None:
                return Trail(tuple(pieces), tuple(through), closed=False)
            if onwards == first:
                return Trail(tuple(pieces), tuple(through[:-1]), closed=True)
            piece, side = onwards

    open_ends = ((piece, side) for piece in range(len(ends)) for side in (0, 1))
    found += [
        follow(piece, side)
        for piece, side in open_ends
        if not done[piece] and (piece, side) not in partner
    ]
    found += [follow(piece, 0) for piece in range(len(ends)) if not done[piece]]
    return found


def _paired(
    nodes: FloatArray, ends: IntArray, kinds: Sequence[int]
) -> dict[tuple[int, int], tuple[int, int]]:
    """Which end of a piece goes on at which end of another; ends are (piece, 0 or 1)."""
    meeting: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for piece, (a, b) in enumerate(ends.tolist()):
        meeting.setdefault((a, kinds[piece]), []).append((piece, 0))
        meeting.setdefault((b, kinds[piece]), []).append((piece, 1))
    away = nodes[ends[:, 1]] - nodes[ends[:, 0]]
    away /= np.hypot(away[:, 0], away[:, 1])[:, None]
    outward = np.stack([away, -away], axis=1).tolist()
    partner: dict[tuple[int, int], tuple[int, int]] = {}
    for those in meeting.values():
        # Straight on is a cosine of -1; rounded, so that equals are taken in order
        bends = sorted(
            (round(_cosine(outward, one, other), 9), one, other)
            for i, one in enumerate(those)
            for other in those[i + 1 :]
        )
        for _, one, other in bends:
            if one not in partner and other not in partner:
                partner[one] = other
                partner[other] = one
    return partner


def _cosine(
    outward: list[list[list[float]]], one: tuple[int, int], other: tuple[int, int]
) -> float:
    (ux, uy), (vx, vy) = outward[one[0]][one[1]], outward[other[0]][other[1]]
    return ux * vx + uy * vy
