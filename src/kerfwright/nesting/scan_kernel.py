"""Free places on upright lines, from the left on.

On a line every pair of edges forbids an interval of heights, so that the lowest free place is
exact, in holes and pockets too (the interval view of Egeblad, Nielsen & Odgaard 2007, *Fast
neighborhood search for two- and three-dimensional nesting problems*).

All lengths in mm.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.clearance import Clearance, next_hopeful
from kerfwright.nesting.kernel import Laid, Moved, is_free, slide

BEYOND_MM = 1e-10
"""So far beyond a forbidden interval a place is free for certain."""

WINDOW = 2.0
"""Heights are looked at in windows of so many times the part's own."""


@njit(cache=True)
def _forbidden(
    ax: float, ay: float, ux: float, uy: float, vx: float, vy: float, x: float, gap: float
) -> tuple[float, float]:
    """Heights at ``x`` of what is closer than ``gap`` to a parallelogram; low > high if none is.

    The parallelogram has a corner (ax, ay) and the sides u and v. Around it lies a convex area,
    bounded by its sides moved outward and by circles around its corners.
    """
    low, high = math.inf, -math.inf
    for k in range(4):
        px = ax + (ux if k & 1 else 0.0) + (vx if k & 2 else 0.0)
        py = ay + (uy if k & 1 else 0.0) + (vy if k & 2 else 0.0)
        off = gap * gap - (x - px) * (x - px)
        if off >= 0.0:
            half = math.sqrt(off)
            low, high = min(low, py - half), max(high, py + half)
    for k in range(2):
        sx, sy, tx, ty = (ux, uy, vx, vy) if k == 0 else (vx, vy, ux, uy)
        if sx == 0.0:
            continue
        slope = sy / sx
        out = gap / math.sqrt(1.0 + slope * slope)
        rise = out * slope  # how far the side moved outward is moved along x
        for side in range(2):
            px, py = ax + side * tx, ay + side * ty
            for sign in (-1.0, 1.0):
                qx, qy = px - sign * rise, py + sign * out
                if min(qx, qx + sx) <= x <= max(qx, qx + sx):
                    y = qy + (x - qx) * slope
                    low, high = min(low, y), max(high, y)
    return low, high


@njit(cache=True)
def _intervals(laid: Laid, moved: Moved, x: float, y_low: float, y_high: float) -> FloatArray:
    """Heights between ``y_low`` and ``y_high`` that edges forbid at ``x``, shape (n, 2), sorted."""
    found = np.empty((256, 2))
    n = 0
    edge, mine = laid.edge, moved.edge
    for i in range(laid.total):
        gap = laid.gap[i]
        if (
            laid.box[i, 0] - gap > x + moved.width
            or laid.box[i, 2] + gap < x
            or laid.box[i, 1] - gap > y_high + moved.height
            or laid.box[i, 3] + gap < y_low
        ):
            continue
        for k in range(laid.start[i], laid.start[i + 1]):
            ax, ay, bx, by = edge[k, 0], edge[k, 1], edge[k, 2], edge[k, 3]
            left, right = min(ax, bx) - gap, max(ax, bx) + gap
            if left > x + moved.width or right < x:
                continue
            bottom, top = min(ay, by) - gap, max(ay, by) + gap
            if bottom > y_high + moved.height or top < y_low:
                continue
            for m in range(len(mine)):
                cx, dx = mine[m, 0], mine[m, 2]
                if min(cx, dx) + x > right or max(cx, dx) + x < left:
                    continue
                cy, dy = mine[m, 1], mine[m, 3]
                if bottom - max(cy, dy) > y_high or top - min(cy, dy) < y_low:
                    continue
                low, high = _forbidden(ax - cx, ay - cy, bx - ax, by - ay, cx - dx, cy - dy, x, gap)
                if high < y_low or low > y_high:
                    continue
                if n == len(found):
                    more = np.empty((2 * n, 2))
                    more[:n] = found
                    found = more
                found[n, 0], found[n, 1] = low, high
                n += 1
    return found[np.argsort(found[:n, 0])]


@njit(cache=True)
def lowest_free(
    laid: Laid, clear: Clearance, moved: Moved, x: float, y_low: float, y_high: float
) -> tuple[bool, float]:
    """Lowest free height of the moved outline at ``x``; returns (found, y)."""
    window = WINDOW * moved.height + 1.0
    y = y_low
    while y <= y_high:
        y = next_hopeful(clear, moved, x, y, y_high, False)
        if y > y_high:
            break
        end = min(next_hopeful(clear, moved, x, y, y + window, True), y_high)
        forbidden = _intervals(laid, moved, x, y, end)
        k = 0
        while y <= end:
            # over everything that forbids this height, then a trial: it may lie in material
            while k < len(forbidden) and forbidden[k, 0] <= y:
                y = max(y, forbidden[k, 1] + BEYOND_MM)
                k += 1
            if y > end:
                break
            if is_free(laid, -1, moved, x, y):
                return True, y
            if k == len(forbidden):
                y = end + BEYOND_MM
            else:
                y = max(y, forbidden[k, 1] + BEYOND_MM)
                k += 1
    # the last place of all may be missed by less than the rounding
    return is_free(laid, -1, moved, x, y_high), y_high


@njit(cache=True)
def first_free(
    laid: Laid,
    clear: Clearance,
    moved: Moved,
    room: tuple[float, float, float, float],
    lines: FloatArray,
    y_first: float,
) -> tuple[bool, float, float, float, float]:
    """First place of the moved outline on upright ``lines``, slid into contact.

    ``room``: low and high corner of the area; on the first line everything below ``y_first`` is
    taken. Returns (found, x, y, the line and the height it was found at).
    """
    y_high = max(room[3] - moved.height, room[1])
    for n in range(len(lines)):
        y_low = max(room[1], y_first) if n == 0 else room[1]
        found, height = lowest_free(laid, clear, moved, lines[n], min(y_low, y_high), y_high)
        if found:
            x, y = slide(laid, -1, moved, lines[n], height, (room[0], room[1]))
            return True, x, y, lines[n], height
    return False, 0.0, 0.0, 0.0, 0.0
