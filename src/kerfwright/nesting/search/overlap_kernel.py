"""How much outlines overlap: a measure that falls as they are drawn apart.

Exact overlap areas are slow and say nothing about the way out. The measure used is that of
Gardeyn, Vanden Berghe & Wauters 2025 (arXiv:2509.13329): circles inscribed in both outlines
stand for them, and every pair of circles counts by its depth, also slightly when it is only
near. Whether outlines overlap at all is decided on their edges, exactly.

All lengths in mm.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.kernels import borrowing

IntArray = npt.NDArray[np.int64]

NEAR = 0.01
"""Circles count as near within this share of the outlines' size."""


class Shapes(NamedTuple):
    """Turned outlines as flat arrays; those of outline ``s`` lie from ``start[s]`` on.

    ``edge``: shape (n, 4), ends of edges of all rings. ``circle``: shape (3, n), centres and
    radii of inscribed circles. ``probe``: shape (n, 2), one point of each ring. ``box``: shape
    (outlines, 4), low and high corner. ``size``: root of the hull's area.
    """

    edge: FloatArray
    edge_start: IntArray
    circle: FloatArray
    circle_start: IntArray
    probe: FloatArray
    probe_start: IntArray
    box: FloatArray
    size: FloatArray


@borrowing()
def _inside(shapes: Shapes, s: int, x: float, y: float) -> bool:
    """Whether a point lies in outline ``s``, by the even-odd rule over all its rings."""
    box = shapes.box
    if x < box[s, 0] or x > box[s, 2] or y < box[s, 1] or y > box[s, 3]:
        return False
    edge = shapes.edge
    inside = False
    for e in range(shapes.edge_start[s], shapes.edge_start[s + 1]):
        ay, by = edge[e, 1], edge[e, 3]
        if (ay > y) != (by > y) and x < edge[e, 0] + (y - ay) / (by - ay) * (
            edge[e, 2] - edge[e, 0]
        ):
            inside = not inside
    return inside


@borrowing()
def collide(shapes: Shapes, a: int, b: int, dx: float, dy: float) -> bool:
    """Whether outline ``a`` moved by (dx, dy) touches or overlaps outline ``b``."""
    edge, box = shapes.edge, shapes.box
    x_low, x_high = max(box[a, 0] + dx, box[b, 0]), min(box[a, 2] + dx, box[b, 2])
    y_low, y_high = max(box[a, 1] + dy, box[b, 1]), min(box[a, 3] + dy, box[b, 3])
    if x_low > x_high or y_low > y_high:
        return False
    b_first, b_last = shapes.edge_start[b], shapes.edge_start[b + 1]
    for e in range(shapes.edge_start[a], shapes.edge_start[a + 1]):
        px, py, qx, qy = edge[e, 0] + dx, edge[e, 1] + dy, edge[e, 2] + dx, edge[e, 3] + dy
        e_left, e_right = min(px, qx), max(px, qx)
        e_low, e_high = min(py, qy), max(py, qy)
        if e_right < x_low or e_left > x_high or e_high < y_low or e_low > y_high:
            continue
        ux, uy = qx - px, qy - py
        for f in range(b_first, b_last):
            rx, sx = edge[f, 0], edge[f, 2]
            if (rx < e_left and sx < e_left) or (rx > e_right and sx > e_right):
                continue
            ry, sy = edge[f, 1], edge[f, 3]
            if (ry < e_low and sy < e_low) or (ry > e_high and sy > e_high):
                continue
            one = ux * (ry - py) - uy * (rx - px)
            two = ux * (sy - py) - uy * (sx - px)
            if (one > 0.0 and two > 0.0) or (one < 0.0 and two < 0.0):
                continue
            vx, vy = sx - rx, sy - ry
            one = vx * (py - ry) - vy * (px - rx)
            two = vx * (qy - ry) - vy * (qx - rx)
            if (one > 0.0 and two > 0.0) or (one < 0.0 and two < 0.0):
                continue
            return True
    for p in range(shapes.probe_start[a], shapes.probe_start[a + 1]):
        if _inside(shapes, b, shapes.probe[p, 0] + dx, shapes.probe[p, 1] + dy):
            return True
    for p in range(shapes.probe_start[b], shapes.probe_start[b + 1]):
        if _inside(shapes, a, shapes.probe[p, 0] - dx, shapes.probe[p, 1] - dy):
            return True
    return False


@borrowing()
def _circles_overlap(shapes: Shapes, a: int, b: int, dx: float, dy: float) -> bool:
    circle = shapes.circle
    for p in range(shapes.circle_start[a], shapes.circle_start[a + 1]):
        x, y, r = circle[0, p] + dx, circle[1, p] + dy, circle[2, p]
        for q in range(shapes.circle_start[b], shapes.circle_start[b + 1]):
            ux, uy, both = circle[0, q] - x, circle[1, q] - y, r + circle[2, q]
            if ux * ux + uy * uy < both * both:
                return True
    return False


@borrowing(fastmath={"reassoc", "contract", "nsz"})
def _depths(shapes: Shapes, a: int, b: int, dx: float, dy: float, near: float) -> float:
    """Depths of all pairs of circles, each times the smaller radius."""
    first, last = shapes.circle_start[b], shapes.circle_start[b + 1]
    xs, ys, radii = (
        shapes.circle[0, first:last],
        shapes.circle[1, first:last],
        shapes.circle[2, first:last],
    )
    total = 0.0
    for p in range(shapes.circle_start[a], shapes.circle_start[a + 1]):
        x, y, r = shapes.circle[0, p] + dx, shapes.circle[1, p] + dy, shapes.circle[2, p]
        for q in range(last - first):
            ux, uy = xs[q] - x, ys[q] - y
            depth = r + radii[q] - math.sqrt(ux * ux + uy * uy)
            decayed = near * near / (2.0 * near - min(depth, near))
            total += max(depth, decayed) * min(r, radii[q])
    return total


@borrowing()
def overlap(shapes: Shapes, a: int, b: int, dx: float, dy: float) -> float:
    """How much outline ``a`` moved by (dx, dy) overlaps ``b``; 0 if and only if it does not."""
    box = shapes.box
    if (
        box[a, 0] + dx > box[b, 2]
        or box[a, 2] + dx < box[b, 0]
        or box[a, 1] + dy > box[b, 3]
        or box[a, 3] + dy < box[b, 1]
    ):
        return 0.0
    if not _circles_overlap(shapes, a, b, dx, dy) and not collide(shapes, a, b, dx, dy):
        return 0.0
    size = math.sqrt(shapes.size[a] * shapes.size[b])
    return math.sqrt(_depths(shapes, a, b, dx, dy, NEAR * size) * size) + 1e-12
