"""The compiled part of matching edges: contact places, and the length two outlines share.

An edge is a row (ax, ay, bx, by) with its outline's material to the left, in mm. Two edges match
where they lie on each other and run opposite ways.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

IntArray = npt.NDArray[np.int64]

ON_MM = 1e-4
"""Edges this close lie on each other; cuts so close become one anyway."""

OPPOSITE = 1e-7
"""Sine of the angle up to which edges count as parallel."""


@njit(cache=True)
def matched_mm(some: FloatArray, x: float, y: float, others: FloatArray) -> float:
    """Length over which edges ``some``, moved by (x, y), match ``others``."""
    total = 0.0
    for i in range(len(some)):
        ax, ay = some[i, 0] + x, some[i, 1] + y
        ux, uy = some[i, 2] - some[i, 0], some[i, 3] - some[i, 1]
        length = math.hypot(ux, uy)
        ux, uy = ux / length, uy / length
        for j in range(len(others)):
            vx, vy = others[j, 2] - others[j, 0], others[j, 3] - others[j, 1]
            size = math.hypot(vx, vy)
            if abs(ux * vy - uy * vx) > OPPOSITE * size or ux * vx + uy * vy >= 0.0:
                continue
            cx, cy = others[j, 0] - ax, others[j, 1] - ay
            if abs(ux * cy - uy * cx) > ON_MM:
                continue
            high = ux * cx + uy * cy
            total += max(0.0, min(length, high) - max(0.0, high - size))
    return total


@njit(cache=True)
def matched_at(
    edges: FloatArray,
    start: IntArray,
    pose: IntArray,
    places: FloatArray,
    others: FloatArray,
) -> FloatArray:
    """The same for many poses: pose p has edges ``start[p]`` to ``start[p + 1]``.

    ``pose`` (n,) and ``places`` (n, 2) say what lies where.
    """
    found = np.empty(len(pose))
    for i in range(len(pose)):
        some = edges[start[pose[i]] : start[pose[i] + 1]]
        found[i] = matched_mm(some, places[i, 0], places[i, 1], others)
    return found


@njit(cache=True)
def anchors(old: FloatArray, new: FloatArray) -> FloatArray:
    """Points on edges where another edge may begin or end: rows (edge, x, y).

    The ends of every new edge, and wherever an end of an old edge lies on a new one or the other
    way round. Edges are numbered with the old ones first.
    """
    found = [(0.0, 0.0, 0.0)]
    for j in range(len(new)):
        found.append((len(old) + j, new[j, 0], new[j, 1]))
        found.append((len(old) + j, new[j, 2], new[j, 3]))
    for i in range(len(old)):
        for j in range(len(new)):
            if _lies_on(new[j, 0], new[j, 1], old[i]):
                found.append((i, new[j, 0], new[j, 1]))
            if _lies_on(new[j, 2], new[j, 3], old[i]):
                found.append((i, new[j, 2], new[j, 3]))
            if _lies_on(old[i, 0], old[i, 1], new[j]):
                found.append((len(old) + j, old[i, 0], old[i, 1]))
            if _lies_on(old[i, 2], old[i, 3], new[j]):
                found.append((len(old) + j, old[i, 2], old[i, 3]))
    return np.array(found)[1:]


@njit(cache=True)
def _lies_on(x: float, y: float, edge: FloatArray) -> bool:
    ux, uy = edge[2] - edge[0], edge[3] - edge[1]
    length = math.hypot(ux, uy)
    px, py = x - edge[0], y - edge[1]
    along = (px * ux + py * uy) / length
    beside = abs(px * uy - py * ux) <= ON_MM * length
    return bool(beside and ON_MM < along < length - ON_MM)


@njit(cache=True)
def contacts(pose: FloatArray, edges: FloatArray, points: FloatArray) -> FloatArray:
    """Moves (x, y) that lay an edge of a pose on an edge, begun or ended at one of its points.

    ``points`` are rows of :func:`anchors`.
    """
    found = [(0.0, 0.0)]
    for k in range(len(points)):
        edge = edges[int(points[k, 0])]
        ux, uy = edge[2] - edge[0], edge[3] - edge[1]
        size = math.hypot(ux, uy)
        for i in range(len(pose)):
            vx, vy = pose[i, 2] - pose[i, 0], pose[i, 3] - pose[i, 1]
            length = math.hypot(vx, vy)
            if abs(ux * vy - uy * vx) <= OPPOSITE * size * length and ux * vx + uy * vy < 0.0:
                found.append((points[k, 1] - pose[i, 0], points[k, 2] - pose[i, 1]))
                found.append((points[k, 1] - pose[i, 2], points[k, 2] - pose[i, 3]))
    return np.array(found)[1:]
