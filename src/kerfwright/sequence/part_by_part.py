"""Burns a sheet part by part: each part's marks, then its cuts, before the next part's.

Parts that share edges are worked as one, and parts in the holes of others come first, as the
phases of their cuts say. Which part follows which is a tour like that of strokes, with the path
on each part as one finished block.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from kerfwright.sequence.cooling import Cooling
from kerfwright.sequence.order import Sequenced, in_order, sequence
from kerfwright.sequence.tour import IntArray
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Stroke, Toolpath, join


def in_order_by_part(
    strokes: Sequence[Stroke],
    before: Sequence[tuple[int, int]],
    part_of: Sequence[int],
    machine: Machine,
    start_mm: tuple[float, float] = (0.0, 0.0),
    cooling: Cooling | None = None,
) -> Sequenced:
    """Put strokes in order part by part; ``part_of`` numbers the part of each stroke.

    Strokes and ``before`` are as for :func:`kerfwright.sequence.order.in_order`. Parts between
    which ``before`` has a pair are worked as one. Only cuts of one part are kept apart by
    ``cooling``.
    """
    pairs = np.asarray(before, dtype=np.int64).reshape(-1, 2)
    groups = _groups(np.asarray(part_of, dtype=np.int64), pairs)
    works = [_Work(strokes, pairs, members) for members in groups]
    spans = np.zeros((len(strokes), 2), dtype=np.int64)
    here, moves, count = start_mm, [], 0
    for number in _tour(works, machine, start_mm):
        work = works[number]
        done = in_order(work.strokes, work.before, machine, here, cooling)
        spans[work.members] = done.spans + count
        moves.append(done.toolpath.moves)
        count += len(done.toolpath)
        here = done.toolpath.end_mm
    return Sequenced(Toolpath(join(moves), start_mm), spans)


class _Work:
    """What is burned on one part, or on parts that share edges."""

    def __init__(self, strokes: Sequence[Stroke], pairs: IntArray, members: IntArray) -> None:
        local = np.full(len(strokes), -1, dtype=np.int64)
        local[members] = np.arange(len(members))
        own = local[pairs]
        self.members = members
        self.strokes = [strokes[int(s)] for s in members]
        self.before = [(int(i), int(j)) for i, j in own[(own >= 0).all(axis=1)]]
        self.phase = max(stroke.phase for stroke in self.strokes)

    def as_block(self, machine: Machine, here: tuple[float, float], number: int) -> Stroke | None:
        """Return the whole work as one stroke, from its first burn on."""
        toolpath = sequence(self.strokes, self.before, machine, here)
        if len(toolpath) == 0:
            return None
        moves, start_mm = toolpath.moves, toolpath.start_mm
        if moves["kind"][0] == MoveKind.TRAVEL:
            start_mm = float(moves["x_mm"][0]), float(moves["y_mm"][0])
            moves = moves[1:]
        moves = moves.copy()
        moves["source"] = number
        return replace(self.strokes[0], phase=self.phase, block=Toolpath(moves, start_mm))


def _groups(part_of: IntArray, pairs: IntArray) -> list[IntArray]:
    """Strokes of each part, or of parts that depend on one another, in the order given."""
    count = int(part_of.max(initial=-1)) + 1
    ends = part_of[pairs]
    linked = coo_array((np.ones(len(ends)), (ends[:, 0], ends[:, 1])), shape=(count, count))
    _, group_of_part = connected_components(linked, directed=False) if count else (0, part_of)
    group_of = group_of_part[part_of]
    return [np.flatnonzero(group_of == group) for group in np.unique(group_of)]


def _tour(works: Sequence[_Work], machine: Machine, start_mm: tuple[float, float]) -> list[int]:
    """Order of the works; those without a move come last."""
    blocks = [work.as_block(machine, start_mm, number) for number, work in enumerate(works)]
    given = [block for block in blocks if block is not None]
    sources = sequence(given, (), machine, start_mm).moves["source"]
    numbers = dict.fromkeys(int(source) for source in sources if source >= 0)
    return [*numbers, *(number for number in range(len(works)) if number not in numbers)]
