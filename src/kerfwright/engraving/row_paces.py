"""How fast each row is burned: as the recipe says, or slower where run-ups cost more than burns.

A row of length L at the speed u takes L / u, and turning round 2·u / a. Below the speed √(a·L / 2)
the first is the larger part, above it the second: a row shorter than 2·v² / a is soonest done at
less than the recipe's speed v.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from kerfwright.engraving.burn import RowMotion
from kerfwright.engraving.rows import Rows
from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.paths import FloatArray

SEAM_TRAVEL_MM = 30.0
"""From one group of rows to the next it is taken to be a travel of this length."""


@dataclass(frozen=True, eq=False, slots=True)
class Paced:
    """Rows of groups of segments: ``order`` has the segments group by group, row by row, from
    left to right; each row begins at ``first`` in it and has the number ``pace`` of a motion.

    ``seconds`` is what all rows take, with a travel from each group to the next.
    """

    order: IntArray
    first: IntArray
    pace: IntArray
    seconds: float


def paced(rows: Rows, group: IntArray, motions: Sequence[RowMotion]) -> Paced:
    """Find the fastest pace of every row; ``group`` is by segment."""
    row = rows.row_of
    order = np.lexsort([rows.a, row, group]).astype(np.int64)
    if len(order) == 0:
        nothing = np.empty(0, dtype=np.int64)
        return Paced(order, nothing, nothing, 0.0)
    fresh = (np.diff(group[order]) != 0) | (np.diff(row[order]) != 0)
    first = np.concatenate([[0], np.flatnonzero(fresh) + 1])
    burned = np.add.reduceat((rows.b - rows.a)[order], first)
    gaps = np.where(fresh, 0.0, rows.a[order][1:] - rows.b[order][:-1])
    seconds = np.array([_rows_s(motion, burned, np.append(gaps, 0.0), first) for motion in motions])
    pace = np.argmin(seconds, axis=0)
    travel_s = motions[0].travel.travel_s(np.array(SEAM_TRAVEL_MM)) + motions[0].settle_s
    groups = len(np.unique(group))
    total = float(seconds.min(axis=0).sum() + (groups - 1) * travel_s)
    return Paced(order, first.astype(np.int64), pace.astype(np.int64), total)


def _rows_s(
    motion: RowMotion, burned_mm: FloatArray, gaps_mm: FloatArray, first: IntArray
) -> FloatArray:
    gaps_s: FloatArray = np.where(gaps_mm > 0.0, motion.gap_s(gaps_mm), 0.0)
    return motion.row_s(burned_mm) + np.add.reduceat(gaps_s, first)
