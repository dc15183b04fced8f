"""The compiled part of verification: what lies how near to which line.

Straight pieces are sorted into a square grid (rows of cells clipped exactly, so that a long
slanting piece lies only in the cells it crosses); queries look only into the cells within reach.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]
BoolArray = npt.NDArray[np.bool_]

NEAREST_LINES = 16
"""How many different lines around a point are looked at."""


@njit(cache=True)
def fill_grid(
    pieces: FloatArray, x0: float, y0: float, cell: float, nx: int, ny: int
) -> tuple[IntArray, IntArray]:
    """Sort pieces (ax, ay, bx, by), shape (n, 4), into nx × ny cells.

    Returns the start of every cell's list, shape (nx·ny + 1,), and the lists behind one another.
    """
    start = np.zeros(nx * ny + 1, np.int64)
    items = np.empty(0, np.int64)
    for turn in range(2):
        if turn == 1:
            for c in range(nx * ny):
                start[c + 1] += start[c]
            items = np.empty(start[nx * ny], np.int64)
            for c in range(nx * ny, 0, -1):
                start[c] = start[c - 1]
            start[0] = 0
        for k in range(len(pieces)):
            ax, ay, bx, by = pieces[k]
            if ay > by:
                ax, ay, bx, by = bx, by, ax, ay
            row_low = min(max(int((ay - y0) / cell), 0), ny - 1)
            row_high = min(max(int((by - y0) / cell), 0), ny - 1)
            for row in range(row_low, row_high + 1):
                left, right = min(ax, bx), max(ax, bx)
                if row_high > row_low:
                    t0 = min(max((y0 + row * cell - ay) / (by - ay), 0.0), 1.0)
                    t1 = min(max((y0 + (row + 1) * cell - ay) / (by - ay), 0.0), 1.0)
                    xa, xb = ax + t0 * (bx - ax), ax + t1 * (bx - ax)
                    left, right = min(xa, xb), max(xa, xb)
                margin = 1e-6 * cell
                column_low = min(max(int((left - margin - x0) / cell), 0), nx - 1)
                column_high = min(max(int((right + margin - x0) / cell), 0), nx - 1)
                for column in range(column_low, column_high + 1):
                    c = row * nx + column
                    if turn == 0:
                        start[c + 1] += 1
                    else:
                        items[start[c + 1]] = k
                        start[c + 1] += 1
    return start, items


@njit(cache=True)
def _cells(x: float, y: float, reach: float, frame: FloatArray) -> tuple[int, int, int, int]:
    """First and last column, first and last row of the cells within reach; none outside."""
    cell = frame[2]
    low_x = max(math.floor((x - reach - frame[0]) / cell), 0)
    high_x = min(math.floor((x + reach - frame[0]) / cell), int(frame[3]) - 1)
    low_y = max(math.floor((y - reach - frame[1]) / cell), 0)
    high_y = min(math.floor((y + reach - frame[1]) / cell), int(frame[4]) - 1)
    return low_x, high_x, low_y, high_y


@njit(cache=True)
def _apart(x: float, y: float, piece: FloatArray) -> tuple[float, float]:
    """Distance of a point from a piece, and where along the piece (0..1) the nearest point is."""
    dx, dy = piece[2] - piece[0], piece[3] - piece[1]
    square = dx * dx + dy * dy
    t = 0.0
    if square > 0.0:
        t = min(max(((x - piece[0]) * dx + (y - piece[1]) * dy) / square, 0.0), 1.0)
    return math.hypot(x - piece[0] - t * dx, y - piece[1] - t * dy), t


@njit(cache=True)
def nearest(
    points: FloatArray,
    pieces: FloatArray,
    start: IntArray,
    items: IntArray,
    frame: FloatArray,
    reach: float,
) -> tuple[FloatArray, IntArray]:
    """Distance from every point, shape (m, 2), to the nearest piece within reach, and which.

    Infinity and -1 where there is none. ``frame`` is x0, y0, cell, nx, ny.
    """
    away = np.full(len(points), np.inf)
    which = np.full(len(points), -1)
    nx = int(frame[3])
    for i in range(len(points)):
        x, y = points[i]
        low_x, high_x, low_y, high_y = _cells(x, y, reach, frame)
        for row in range(low_y, high_y + 1):
            for c in range(row * nx + low_x, row * nx + high_x + 1):
                for n in range(start[c], start[c + 1]):
                    distance, _ = _apart(x, y, pieces[items[n]])
                    if distance < away[i] and distance <= reach:
                        away[i] = distance
                        which[i] = items[n]
    return away, which


@njit(cache=True)
def visits(
    points: FloatArray,
    directions: FloatArray,
    pieces: FloatArray,
    start: IntArray,
    items: IntArray,
    frame: FloatArray,
    reach: float,
    least_cosine: float,
) -> tuple[IntArray, IntArray]:
    """How many pieces pass alongside every point, and the last of them (-1 for none).

    A piece passes alongside if it is parallel to the point's direction (shape (m, 2), unit
    length), within reach, and the foot of the perpendicular lies on it.
    """
    count = np.zeros(len(points), np.int64)
    last = np.full(len(points), -1)
    seen = np.full(len(pieces), -1)
    nx = int(frame[3])
    for i in range(len(points)):
        x, y = points[i]
        low_x, high_x, low_y, high_y = _cells(x, y, reach, frame)
        for row in range(low_y, high_y + 1):
            for c in range(row * nx + low_x, row * nx + high_x + 1):
                for n in range(start[c], start[c + 1]):
                    k = items[n]
                    if seen[k] == i:
                        continue
                    seen[k] = i
                    ax, ay, bx, by = pieces[k]
                    dx, dy = bx - ax, by - ay
                    square = dx * dx + dy * dy
                    if square == 0.0:
                        continue
                    along = (x - ax) * dx + (y - ay) * dy
                    if along < 0.0 or along >= square:
                        continue
                    length = math.sqrt(square)
                    if abs((x - ax) * dy - (y - ay) * dx) > reach * length:
                        continue
                    turned = directions[i, 0] * dx + directions[i, 1] * dy
                    if abs(turned) < least_cosine * length:
                        continue
                    count[i] += 1
                    last[i] = max(last[i], k)
    return count, last


@njit(cache=True)
def on_size(
    points: FloatArray,
    pieces: FloatArray,
    links: IntArray,
    start: IntArray,
    items: IntArray,
    frame: FloatArray,
    widths: FloatArray,
) -> BoolArray:
    """Whether the beam at every point leaves the wanted edges on size.

    A point is right if it lies half a kerf to the right of a closed line (further out beyond a
    corner, as far as a mitre reaches), on an open line, or between two closed lines that share
    one cut.

    Args:
        points: shape (m, 2), mm.
        pieces: the wanted edges, the material kept on their left, shape (n, 4), mm.
        links: of every piece its line, the pieces before and after it, and 1 if its line is
            closed, shape (n, 4).
        start: as from :func:`fill_grid`.
        items: as from :func:`fill_grid`.
        frame: as :func:`nearest`.
        widths: half the kerf, how far off its edge a shared cut may be on top, tolerance (mm),
            and how many half kerfs a mitre reaches at most.

    """
    half_kerf, shared_mm, tolerance, corner_limit = widths
    right = np.zeros(len(points), np.bool_)
    nx = int(frame[3])
    reach = max(half_kerf * corner_limit, half_kerf + shared_mm) + tolerance
    lines = np.empty(NEAREST_LINES, np.int64)
    away = np.empty(NEAREST_LINES)
    piece = np.empty(NEAREST_LINES, np.int64)
    for i in range(len(points)):
        x, y = points[i]
        found = 0
        low_x, high_x, low_y, high_y = _cells(x, y, reach, frame)
        for row in range(low_y, high_y + 1):
            for c in range(row * nx + low_x, row * nx + high_x + 1):
                for n in range(start[c], start[c + 1]):
                    k = items[n]
                    distance, _ = _apart(x, y, pieces[k])
                    if distance > reach:
                        continue
                    slot = 0
                    while slot < found and lines[slot] != links[k, 0]:
                        slot += 1
                    if slot == NEAREST_LINES:
                        continue
                    if slot == found:
                        found += 1
                        lines[slot] = links[k, 0]
                        away[slot] = np.inf
                    if distance < away[slot]:
                        away[slot] = distance
                        piece[slot] = k
        between = 0
        for slot in range(found):
            k = piece[slot]
            if links[k, 3] == 0:
                right[i] |= away[slot] <= tolerance
                continue
            side, furthest = _side(x, y, pieces, links, k, half_kerf, corner_limit)
            offset = side * away[slot]
            right[i] |= half_kerf - tolerance <= offset <= furthest + tolerance
            between += -tolerance <= offset <= half_kerf + shared_mm + tolerance
        right[i] |= between >= 2
    return right


@njit(cache=True)
def _side(
    x: float,
    y: float,
    pieces: FloatArray,
    links: IntArray,
    k: int,
    half_kerf: float,
    corner_limit: float,
) -> tuple[float, float]:
    """+1 right of a line, -1 left of it; and how far from it half a kerf reaches there.

    At a corner the side is that of the sum of both normals, and a mitre reaches
    h / cos(half the turn).
    """
    _, t = _apart(x, y, pieces[k])
    first = second = k
    if t >= 1.0:
        second = links[k, 2]
    elif t <= 0.0:
        first = links[k, 1]
    ux, uy = pieces[first, 2] - pieces[first, 0], pieces[first, 3] - pieces[first, 1]
    vx, vy = pieces[second, 2] - pieces[second, 0], pieces[second, 3] - pieces[second, 1]
    u, v = math.hypot(ux, uy), math.hypot(vx, vy)
    ux, uy, vx, vy = ux / u, uy / u, vx / v, vy / v
    corner_x, corner_y = pieces[second, 0], pieces[second, 1]
    if first == second:
        corner_x, corner_y = pieces[k, 0], pieces[k, 1]
    across = (x - corner_x) * (uy + vy) - (y - corner_y) * (ux + vx)
    half_cosine = math.sqrt(max(0.5 * (1.0 + ux * vx + uy * vy), 0.0))
    furthest = half_kerf / max(half_cosine, 1.0 / corner_limit)
    return (1.0 if across >= 0.0 else -1.0), furthest
