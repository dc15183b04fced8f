"""Which burned segments are worth burning in the same rows."""

from __future__ import annotations

import heapq

import numpy as np

from kerfwright.engraving.burn import RowMotion
from kerfwright.engraving.rows import Rows
from kerfwright.engraving.rows_kernel import IntArray, label_cells


def group_segments(rows: Rows, motion: RowMotion, interval_mm: float) -> IntArray:
    """Group of every segment, so that crossing the gaps inside a group saves turning round.

    Cells of the area (where each row has one piece) start as groups. Two cells side by side
    share a turn in each common row, and pay for the gap between them: the sum over their rows
    says whether they belong together. The pair that saves most is joined first, and the sums of
    the joined group are added up before the next (greedy agglomeration).
    """
    cell = _cells(rows, interval_mm)
    row, long = rows.row_of, rows.b - rows.a
    beside = np.flatnonzero((row[1:] == row[:-1]) & (cell[1:] != cell[:-1]))
    gaps = rows.a[beside + 1] - rows.b[beside]
    saved = motion.turn_s - motion.gap_s(gaps, long[beside], long[beside + 1])
    first = np.minimum(cell[beside], cell[beside + 1])
    second = np.maximum(cell[beside], cell[beside + 1])
    count = int(cell.max()) + 1 if len(cell) else 0
    pair, where = np.unique(first * count + second, return_inverse=True)
    sums = np.bincount(where, saved, minlength=len(pair))
    links: list[dict[int, float]] = [{} for _ in range(count)]
    for key, saving in zip(pair.tolist(), sums.tolist(), strict=True):
        i, j = divmod(key, count)
        links[i][j] = saving
        links[j][i] = saving
    return _agglomerate(links)[cell] if count else cell


def _agglomerate(links: list[dict[int, float]]) -> IntArray:
    """Join groups while a pair saves time; number of the group of every cell."""
    parent = list(range(len(links)))
    heap = [(-saving, i, j) for i, to in enumerate(links) for j, saving in to.items() if i < j]
    heapq.heapify(heap)
    while heap:
        saving, i, j = heapq.heappop(heap)
        if saving >= 0.0:
            break
        if links[i].get(j) != -saving:
            continue  # a join since then changed this pair
        if len(links[i]) < len(links[j]):
            i, j = j, i
        parent[j] = i
        del links[i][j]
        for k, other in links[j].items():
            if k == i:
                continue
            del links[k][j]
            total = links[i].get(k, 0.0) + other
            links[i][k] = links[k][i] = total
            heapq.heappush(heap, (-total, min(i, k), max(i, k)))
        links[j] = {}
    return np.array([_root(parent, i) for i in range(len(parent))], dtype=np.int64)


def _root(parent: list[int], i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


def _cells(rows: Rows, interval_mm: float) -> IntArray:
    """Cell of every segment; one between the even rows joins a neighbour above or below."""
    on_grid = rows.regular >= 0
    row = rows.row_of
    even = np.flatnonzero(on_grid[row])
    start = np.concatenate([[0], np.cumsum(np.diff(rows.start)[on_grid])])
    cell = np.full(len(row), -1, dtype=np.int64)
    cell[even] = label_cells(start, rows.a[even], rows.b[even])
    fresh = int(cell.max()) + 1 if len(even) else 0
    for s in np.flatnonzero(cell < 0):
        owner = _neighbour_cell(rows, int(row[s]), int(s), cell, interval_mm)
        if owner < 0:
            owner = fresh
            fresh += 1
        cell[s] = owner
    return cell


def _neighbour_cell(rows: Rows, row: int, s: int, cell: IntArray, reach_mm: float) -> int:
    for step in (-1, 1, -2, 2):
        other = row + step
        if not 0 <= other < len(rows.y) or abs(rows.y[other] - rows.y[row]) > reach_mm:
            continue
        low, high = rows.start[other], rows.start[other + 1]
        near = low + np.flatnonzero(
            (rows.a[low:high] <= rows.b[s] + reach_mm) & (rows.b[low:high] >= rows.a[s] - reach_mm)
        )
        labelled = near[cell[near] >= 0]
        if len(labelled):
            return int(cell[labelled[0]])
    return -1
