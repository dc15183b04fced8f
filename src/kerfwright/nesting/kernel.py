"""The compiled part of placing: what is free, and sliding into contact.

Positions follow bottom-left placement (Baker, Coffman & Rivest 1980, *Orthogonal packings in two
dimensions*), turned so that parts gather at the left. :mod:`kerfwright.nesting.scan_kernel` finds
places; here they are tested, and parts are slid into contact.

All lengths in mm.
"""

from __future__ import annotations

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
    """Outlines that lie on a board, as flat arrays; the first ones may be its walls.

    Outline ``i`` has the edges from ``start[i]`` to ``start[i + 1]`` of ``edge``, shape (n, 4),
    of all its rings; one point of each ring lies in ``probe`` from ``probe_start[i]`` on. Its
    bounding box ``box[i]`` is (x low, y low, x high, y high); others keep ``gap[i]`` from it.
    Only the first ``total`` lie there.
    """

    edge: FloatArray
    start: IntArray
    probe: FloatArray
    probe_start: IntArray
    box: FloatArray
    gap: FloatArray
    total: int


class Moved(NamedTuple):
    """The outline to be placed, its bounding box's lower left corner at (0, 0).

    ``circle``: centres and radii of circles inside it, shape (n, 3).
    """

    edge: FloatArray
    probe: FloatArray
    circle: FloatArray
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
def _inside(x: float, y: float, edge: FloatArray, first: int, last: int) -> bool:
    """Whether a point lies within rings, by the even-odd rule."""
    inside = False
    for i in range(first, last):
        ay, by = edge[i, 1], edge[i, 3]
        if (ay > y) != (by > y) and x < edge[i, 0] + (y - ay) / (by - ay) * (
            edge[i, 2] - edge[i, 0]
        ):
            inside = not inside
    return inside


@njit(cache=True)
def _apart(laid: Laid, i: int, moved: Moved, x: float, y: float) -> bool:
    """Whether one outline and the moved one at (x, y) keep the gap."""
    edge, mine = laid.edge, moved.edge
    first, last = laid.start[i], laid.start[i + 1]
    gap = laid.gap[i]
    gap2 = gap * gap
    x_low, x_high = x - gap, x + moved.width + gap
    y_low, y_high = y - gap, y + moved.height + gap
    for k in range(first, last):
        ax, ay, bx, by = edge[k, 0], edge[k, 1], edge[k, 2], edge[k, 3]
        a_low, a_high = min(ax, bx), max(ax, bx)
        b_low, b_high = min(ay, by), max(ay, by)
        if a_high < x_low or a_low > x_high or b_high < y_low or b_low > y_high:
            continue
        for m in range(len(mine)):
            cx, cy, dx, dy = mine[m, 0] + x, mine[m, 1] + y, mine[m, 2] + x, mine[m, 3] + y
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
    for p in range(len(moved.probe)):
        if _inside(moved.probe[p, 0] + x, moved.probe[p, 1] + y, edge, first, last):
            return False
    for p in range(laid.probe_start[i], laid.probe_start[i + 1]):
        if _inside(laid.probe[p, 0] - x, laid.probe[p, 1] - y, mine, 0, len(mine)):
            return False
    return True


@njit(cache=True)
def is_free(laid: Laid, skip: int, moved: Moved, x: float, y: float) -> bool:
    """Whether the moved outline at (x, y) keeps its gap to every outline but ``skip``."""
    for i in range(laid.total):
        gap = laid.gap[i]
        if (
            i == skip
            or laid.box[i, 0] > x + moved.width + gap
            or laid.box[i, 2] < x - gap
            or laid.box[i, 1] > y + moved.height + gap
            or laid.box[i, 3] < y - gap
        ):
            continue
        if not _apart(laid, i, moved, x, y):
            return False
    return True


@njit(cache=True)
def slide(
    laid: Laid, skip: int, moved: Moved, x: float, y: float, low: tuple[float, float]
) -> tuple[float, float]:
    """From a free position move down and left, by turns, as far as halving finds free places.

    ``low``: lower left corner of the area, where sliding ends.
    """
    for _ in range(4):
        before_x, before_y = x, y
        for axis in range(2):
            way = y - low[1] if axis == 0 else x - low[0]
            near, far = 0.0, 1.0
            share = 1.0
            for _ in range(HALVINGS):
                nx = x if axis == 0 else x - share * way
                ny = y - share * way if axis == 0 else y
                if is_free(laid, skip, moved, nx, ny):
                    near = share
                    if share == 1.0:
                        break
                else:
                    far = share
                share = 0.5 * (near + far)
            if axis == 0:
                y -= near * way
            else:
                x -= near * way
        if before_x - x < 1e-6 and before_y - y < 1e-6:
            break
    return x, y
