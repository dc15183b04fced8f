"""The compiled part of placing: free positions, and sliding into contact.

Positions follow bottom-left placement (Baker, Coffman & Rivest 1980, *Orthogonal packings in two
dimensions*), turned so that parts gather at the left: a part is tried where its bounding box
touches its neighbours' boxes, tested there with its true outline, then slid into contact.

All lengths in mm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]

HALVINGS = 36
"""Halvings of a slide: 1 m ends within 2e-11 m of contact."""

EDGE_MM = 1e-9
"""How far a box may pass the usable area's edge, for rounding."""


class Laid(NamedTuple):
    """Outlines that lie on a board, as flat arrays.

    Outline ``i`` is the points from ``start[i]`` to ``start[i + 1]`` of ``x`` and ``y``; its
    bounding box ``box[i]`` is (x low, y low, x high, y high). Only the first ``total`` lie there.
    """

    x: FloatArray
    y: FloatArray
    start: IntArray
    box: FloatArray
    total: int


class Moved(NamedTuple):
    """The outline to be placed, its bounding box's lower left corner at (0, 0)."""

    x: FloatArray
    y: FloatArray
    width: float
    height: float


@njit(cache=True)
def _to_segment(
    x: float, y: float, ax: float, ay: float, bx: float, by: float
) -> float:  # squared distance
    ux, uy = bx - ax, by - ay
    length = ux * ux + uy * uy
    t = 0.0
    if length > 0.0:
        t = min(1.0, max(0.0, ((x - ax) * ux + (y - ay) * uy) / length))
    dx, dy = x - ax - t * ux, y - ay - t * uy
    return dx * dx + dy * dy


@njit(cache=True)
def _side(ax: float, ay: float, bx: float, by: float, x: float, y: float) -> float:
    return (bx - ax) * (y - ay) - (by - ay) * (x - ax)


@njit(cache=True)
def _inside(x: float, y: float, px: FloatArray, py: FloatArray, first: int, last: int) -> bool:
    inside = False
    j = last - 1
    for i in range(first, last):
        if (py[i] > y) != (py[j] > y) and x < px[i] + (y - py[i]) / (py[j] - py[i]) * (
            px[j] - px[i]
        ):
            inside = not inside
        j = i
    return inside


@njit(cache=True)
def _apart(laid: Laid, i: int, moved: Moved, x: float, y: float, gap: float) -> bool:
    """Whether one outline and the moved one at (x, y) keep ``gap``."""
    px, py, mx, my = laid.x, laid.y, moved.x, moved.y
    first, last = laid.start[i], laid.start[i + 1]
    gap2 = gap * gap
    x_low, x_high = x - gap, x + moved.width + gap
    y_low, y_high = y - gap, y + moved.height + gap
    j = last - 1
    for k in range(first, last):
        ax, ay, bx, by = px[j], py[j], px[k], py[k]
        j = k
        a_low, a_high = min(ax, bx), max(ax, bx)
        b_low, b_high = min(ay, by), max(ay, by)
        if a_high < x_low or a_low > x_high or b_high < y_low or b_low > y_high:
            continue
        n = len(mx) - 1
        for m in range(len(mx)):
            cx, cy, dx, dy = mx[n] + x, my[n] + y, mx[m] + x, my[m] + y
            n = m
            if (
                max(cx, dx) < a_low - gap
                or min(cx, dx) > a_high + gap
                or max(cy, dy) < b_low - gap
                or min(cy, dy) > b_high + gap
            ):
                continue
            if (
                _to_segment(cx, cy, ax, ay, bx, by) < gap2
                or _to_segment(ax, ay, cx, cy, dx, dy) < gap2
                or _to_segment(dx, dy, ax, ay, bx, by) < gap2
                or _to_segment(bx, by, cx, cy, dx, dy) < gap2
            ):
                return False
            if (_side(ax, ay, bx, by, cx, cy) > 0.0) != (_side(ax, ay, bx, by, dx, dy) > 0.0) and (
                _side(cx, cy, dx, dy, ax, ay) > 0.0
            ) != (_side(cx, cy, dx, dy, bx, by) > 0.0):
                return False
    if _inside(mx[0] + x, my[0] + y, px, py, first, last):
        return False
    return not _inside(px[first] - x, py[first] - y, mx, my, 0, len(mx))


@njit(cache=True)
def is_free(laid: Laid, skip: int, moved: Moved, x: float, y: float, gap: float) -> bool:
    """Whether the moved outline at (x, y) keeps ``gap`` from every outline but ``skip``."""
    for i in range(laid.total):
        if (
            i == skip
            or laid.box[i, 0] > x + moved.width + gap
            or laid.box[i, 2] < x - gap
            or laid.box[i, 1] > y + moved.height + gap
            or laid.box[i, 3] < y - gap
        ):
            continue
        if not _apart(laid, i, moved, x, y, gap):
            return False
    return True


@njit(cache=True)
def slide(
    laid: Laid, skip: int, moved: Moved, x: float, y: float, gap: float
) -> tuple[float, float]:
    """From a free position move down and left, by turns, as far as halving finds free places."""
    for _ in range(4):
        before_x, before_y = x, y
        for axis in range(2):
            way = y if axis == 0 else x
            low, high = 0.0, 1.0
            share = 1.0
            for _ in range(HALVINGS):
                nx = x if axis == 0 else x - share * way
                ny = y - share * way if axis == 0 else y
                if is_free(laid, skip, moved, nx, ny, gap):
                    low = share
                    if share == 1.0:
                        break
                else:
                    high = share
                share = 0.5 * (low + high)
            if axis == 0:
                y -= low * way
            else:
                x -= low * way
        if before_x - x < 1e-6 and before_y - y < 1e-6:
            break
    return x, y


@njit(cache=True)
def _candidates(
    laid: Laid,
    moved: Moved,
    area: tuple[float, float],
    spacing: float,
    x_limit: float,
) -> tuple[FloatArray, FloatArray]:
    """Positions where the moved box touches a box or the area's edge on the left and below."""
    w, h, box, count = moved.width, moved.height, laid.box, laid.total
    x_end, y_end = max(area[0] - w, 0.0), max(area[1] - h, 0.0)
    x_most, y_most = min(x_end, x_limit) + EDGE_MM, y_end + EDGE_MM
    places = [(0.0, 0.0), (0.0, y_end)]
    for i in range(-1, count):
        # neighbour i on the left gives x, neighbour j below or above gives y; -1 is the edge
        x = 0.0 if i < 0 else box[i, 2] + spacing
        if x > x_most:
            continue
        y_low = 0.0 if i < 0 else box[i, 1] - spacing - h
        y_high = y_most if i < 0 else box[i, 3] + spacing
        if i >= 0:
            for y in (box[i, 1], box[i, 3] - h, 0.0, y_end):
                if 0.0 <= y <= y_most and y_low < y < y_high:
                    places.append((x, y))  # noqa: PERF401
        for j in range(count):
            if box[j, 0] - spacing < x + w and box[j, 2] + spacing > x:
                for y in (box[j, 3] + spacing, box[j, 1] - spacing - h):
                    if 0.0 <= y <= y_most and y_low <= y <= y_high:
                        places.append((x, y))  # noqa: PERF401
    for j in range(count):
        # flush with the left or the right edge of what lies below
        y = box[j, 3] + spacing
        for x in (box[j, 0], box[j, 2] - w):
            if 0.0 <= x <= x_most and y <= y_most:
                places.append((x, y))  # noqa: PERF401
    return np.array([min(x, x_end) for x, _ in places]), np.array(
        [min(y, y_end) for _, y in places]
    )


@njit(cache=True)
def first_free(
    laid: Laid,
    moved: Moved,
    area: tuple[float, float],
    spacing: float,
    gap: float,
    x_limit: float,
) -> tuple[bool, float, float]:
    """Leftmost, then lowest free place of the moved outline within ``area``, slid into contact.

    ``x_limit``: positions further right are not wanted. Returns (found, x, y).
    """
    if moved.width > area[0] + EDGE_MM or moved.height > area[1] + EDGE_MM:
        return False, 0.0, 0.0
    xs, ys = _candidates(laid, moved, area, spacing, x_limit)
    order = np.argsort(xs + ys * 1e-7)
    last_x, last_y = math.nan, math.nan
    for at in order:
        x, y = xs[at], ys[at]
        if x == last_x and y == last_y:
            continue
        last_x, last_y = x, y
        if is_free(laid, -1, moved, x, y, gap):
            x, y = slide(laid, -1, moved, x, y, gap)
            return True, x, y
    return False, 0.0, 0.0
