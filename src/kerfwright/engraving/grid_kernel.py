"""Compiled loops over the boxes of a grid: area held, rates of rows, connected boxes."""

from __future__ import annotations

import numpy as np
from numba import njit

from kerfwright.engraving.rows_kernel import IntArray, along_s
from kerfwright.geometry.paths import FloatArray


@njit(cache=True, nogil=True)
def fill_boxes(
    edges: FloatArray,
    first: IntArray,
    x: FloatArray,
    heights: FloatArray,
    thick: FloatArray,
    sublines: int,
) -> tuple[FloatArray, IntArray]:
    """Area of polygons in every box of a grid, and the polygon that has most of it.

    Args:
        edges: x0, y0, x1, y1 of every edge, shape (n, 4), polygon by polygon.
        first: polygon p has edges ``first[p]`` to ``first[p + 1]``.
        x: grid lines, shape (columns + 1,).
        heights: level lines on which area is measured, ``sublines`` for every row of boxes.
        thick: height that each of these stands for.
        sublines: how many of them a row of boxes has.

    """
    columns, rows = len(x) - 1, len(heights) // sublines
    held = np.zeros((rows, columns))
    most = np.zeros((rows, columns))
    owner = np.full((rows, columns), -1, dtype=np.int64)
    own = np.zeros((rows, columns))
    for p in range(len(first) - 1):
        e0, e1 = first[p], first[p + 1]
        y0 = min(edges[e0:e1, 1].min(), edges[e0:e1, 3].min())
        y1 = max(edges[e0:e1, 1].max(), edges[e0:e1, 3].max())
        k0, k1 = np.searchsorted(heights, y0), np.searchsorted(heights, y1)
        count = np.zeros(k1 - k0 + 1, dtype=np.int64)
        for e in range(e0, e1):
            low = np.searchsorted(heights, min(edges[e, 1], edges[e, 3]))
            high = np.searchsorted(heights, max(edges[e, 1], edges[e, 3]))
            for k in range(low, high):
                count[k - k0 + 1] += 1
        start = np.cumsum(count)
        fill = start[:-1].copy()
        cross = np.empty(start[-1])
        for e in range(e0, e1):
            low = np.searchsorted(heights, min(edges[e, 1], edges[e, 3]))
            high = np.searchsorted(heights, max(edges[e, 1], edges[e, 3]))
            if low >= high:
                continue
            slope = (edges[e, 2] - edges[e, 0]) / (edges[e, 3] - edges[e, 1])
            for k in range(low, high):
                cross[fill[k - k0]] = edges[e, 0] + slope * (heights[k] - edges[e, 1])
                fill[k - k0] += 1
        row0, row1 = k0 // sublines, (k1 + sublines - 1) // sublines
        left, right = columns, 0
        for k in range(k0, k1):
            on = cross[start[k - k0] : start[k - k0 + 1]]
            on.sort()
            row = k // sublines
            for i in range(0, len(on) - 1, 2):
                c = max(np.searchsorted(x, on[i], side="right") - 1, 0)
                left = min(left, c)
                while c < columns and x[c] < on[i + 1]:
                    long = min(x[c + 1], on[i + 1]) - max(x[c], on[i])
                    own[row, c] += max(long, 0.0) * thick[k]
                    c += 1
                right = max(right, c)
        for row in range(row0, row1):
            for c in range(left, right):
                area = own[row, c]
                if area > 0.0:
                    held[row, c] += area
                    if area > most[row, c]:
                        most[row, c] = area
                        owner[row, c] = p
                    own[row, c] = 0.0
    return held, owner


@njit(cache=True, nogil=True)
def row_rates(
    order: IntArray,
    start: IntArray,
    at: FloatArray,
    half: FloatArray,
    burned: FloatArray,
    motion: FloatArray,
) -> FloatArray:
    """Seconds for a mm of burn in every box, if all that its line holds is burned at one angle.

    A gap too wide to be worth crossing parts a line into chains, each with its own turn.
    ``burned`` is the mean length of burn of a row over every box; ``motion`` is a
    :attr:`~kerfwright.engraving.burn.RowMotion.closed_form`.
    """
    speed, turn = 1.0 / (1.0 / motion[0] + motion[3]), motion[4]
    # going on at speed saves slowing down and speeding up once more too
    saved = turn + (motion[0] - motion[1]) ** 2 / (motion[2] * motion[0])
    rate = np.empty(len(order))
    for line in range(len(start) - 1):
        s, end = start[line], start[line + 1]
        while s < end:
            t = s + 1
            total = burned[order[s]]
            while t < end:
                p, q = order[t - 1], order[t]
                if (at[q] - half[q] - at[p] - half[p]) / speed > saved:
                    break
                total += burned[q]
                t += 1
            p, q = order[s], order[t - 1]
            long = at[q] + half[q] - at[p] + half[p]
            seconds = (turn + along_s(long, motion)) / max(total, 1e-12)
            for i in range(s, t):
                rate[order[i]] = seconds
            s = t
    return rate


@njit(cache=True, nogil=True)
def join_boxes(label: IntArray, piece: IntArray) -> IntArray:
    """Number connected boxes of one label and one piece, -1 where ``label`` is negative.

    Both have shape (rows, columns).
    """
    rows, columns = label.shape
    parent = np.arange(rows * columns)
    for r in range(rows):
        for c in range(columns):
            if label[r, c] < 0:
                continue
            for rr, cc in ((r, c - 1), (r - 1, c)):
                if rr < 0 or cc < 0:
                    continue
                if label[rr, cc] == label[r, c] and piece[rr, cc] == piece[r, c]:
                    i = _root(parent, r * columns + c)
                    j = _root(parent, rr * columns + cc)
                    parent[max(i, j)] = min(i, j)
    number = np.full((rows, columns), -1, dtype=np.int64)
    found = 0
    for r in range(rows):
        for c in range(columns):
            if label[r, c] < 0:
                continue
            i = _root(parent, r * columns + c)
            if i == r * columns + c:
                number[r, c] = found
                found += 1
            else:
                number[r, c] = number[i // columns, i % columns]
    return number


@njit(cache=True)
def _root(parent: IntArray, i: int) -> int:
    while parent[i] != i:
        parent[i] = parent[parent[i]]
        i = parent[i]
    return i


@njit(cache=True, nogil=True)
def spread_over_boxes(
    points: FloatArray,
    moves: IntArray,
    seconds: FloatArray,
    length: FloatArray,
    x: FloatArray,
    y: FloatArray,
    number: IntArray,
    pitch: float,
) -> tuple[FloatArray, FloatArray]:
    """Seconds and length of some moves by the boxes that they cross.

    Args:
        points: start of move 0 and ends of all, in the frame of the grid, shape (n + 1, 2).
        moves: the moves to spread.
        seconds: time of every move, shape (n,).
        length: length of every move, shape (n,).
        x: grid lines that part the columns.
        y: grid lines that part the rows.
        number: of the box in every row and column, -1 for none.
        pitch: a move is sampled once for each such length of it, and at least once.

    Returns:
        Seconds and lengths by box, as many as ``number`` has places.

    """
    taken, burned = np.zeros(number.size), np.zeros(number.size)
    for move in moves:
        samples = max(int(np.ceil(length[move] / pitch)), 1)
        for k in range(samples):
            share = (k + 0.5) / samples
            at_x = points[move, 0] + share * (points[move + 1, 0] - points[move, 0])
            at_y = points[move, 1] + share * (points[move + 1, 1] - points[move, 1])
            column = np.searchsorted(x, at_x, side="right") - 1
            row = np.searchsorted(y, at_y, side="right") - 1
            if 0 <= column < number.shape[1] and 0 <= row < number.shape[0]:
                box = number[row, column]
                if box >= 0:
                    taken[box] += seconds[move] / samples
                    burned[box] += length[move] / samples
    return taken, burned
