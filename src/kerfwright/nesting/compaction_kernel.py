"""The compiled part of compaction: lines that keep bodies apart.

Two convex pieces stay apart as long as a line between them does not let either pass. The line
taken is the one with the most room now (the *locality heuristic* of Z. Li & V. Milenkovic 1995,
*Compaction and separation algorithms for non-convex polygons and their applications*, European
Journal of Operational Research 84).

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


class Convex(NamedTuple):
    """Convex rings, counter-clockwise: ring k is points ``start[k]`` to ``start[k + 1]``."""

    x: FloatArray
    y: FloatArray
    start: IntArray


@njit(cache=True)
def _nearest(u: float, v: float, rings: Convex, k: int) -> float:
    """How far ring k reaches against the direction (u, v)."""
    low = math.inf
    for i in range(rings.start[k], rings.start[k + 1]):
        low = min(low, u * rings.x[i] + v * rings.y[i])
    return low


@njit(cache=True)
def _past_edges(
    a: Convex, k: int, b: Convex, m: int, dx: float, dy: float
) -> tuple[float, float, float]:
    """Room between an edge of ring k and ring m, which is moved by (dx, dy), at most."""
    best, best_u, best_v = -math.inf, 1.0, 0.0
    first, last = a.start[k], a.start[k + 1]
    j = last - 1
    for i in range(first, last):
        ex, ey = a.x[i] - a.x[j], a.y[i] - a.y[j]
        length = math.hypot(ex, ey)
        if length > 0.0:
            u, v = ey / length, -ex / length
            room = _nearest(u, v, b, m) + u * dx + v * dy - (u * a.x[i] + v * a.y[i])
            if room > best:
                best, best_u, best_v = room, u, v
        j = i
    return best, best_u, best_v


@njit(cache=True)
def room_between(
    a: Convex, k: int, b: Convex, m: int, dx: float, dy: float
) -> tuple[float, float, float]:
    """Room between ring k and ring m moved by (dx, dy), and the direction (u, v) across it.

    Negative if they overlap: then it is the least way out.
    """
    room, u, v = _past_edges(a, k, b, m, dx, dy)
    other, other_u, other_v = _past_edges(b, m, a, k, -dx, -dy)
    if other > room:
        room, u, v = other, -other_u, -other_v
    if room <= 0.0:
        return room, u, v
    near, near_u, near_v = math.inf, 1.0, 0.0
    for i in range(a.start[k], a.start[k + 1]):
        for j in range(b.start[m], b.start[m + 1]):
            x, y = b.x[j] + dx - a.x[i], b.y[j] + dy - a.y[i]
            square = x * x + y * y
            if square < near:
                near, near_u, near_v = square, x, y
    length = math.sqrt(near)
    if length > room:
        near_u, near_v = near_u / length, near_v / length
        across = _nearest(near_u, near_v, b, m) + near_u * dx + near_v * dy
        across += _nearest(-near_u, -near_v, a, k)
        if across > room:
            return across, near_u, near_v
    return room, u, v


@njit(cache=True)
def separating_lines(
    hulls: Convex,
    pieces: Convex,
    pieces_of: IntArray,
    boxes: FloatArray,
    moved: FloatArray,
    loose: int,
    needed: FloatArray,
    ranges: tuple[float, float],
) -> tuple[IntArray, FloatArray]:
    """Lines between all pairs of bodies less than ``near`` apart of which one is loose.

    The first ``loose`` bodies are. Body i has hull i, the box ``boxes[i]`` (x low, y low, x high,
    y high) and pieces ``pieces_of[i]`` to ``pieces_of[i + 1]``, all moved by ``moved[i]``, and
    needs ``needed[i]`` of room. ``ranges`` are (close, near): hulls stand for bodies with
    ``close`` more room than needed. Returns pairs (i, j), shape (m, 2), and (u, v, room), shape
    (m, 3).
    """
    close, near = ranges
    n = len(pieces_of) - 1
    pairs = [(0, 0)]
    lines = [(0.0, 0.0, 0.0)]
    for i in range(loose):
        for j in range(i + 1, n):
            dx, dy = moved[j, 0] - moved[i, 0], moved[j, 1] - moved[i, 1]
            if (
                boxes[j, 0] + dx - boxes[i, 2] > near
                or boxes[i, 0] - boxes[j, 2] - dx > near
                or boxes[j, 1] + dy - boxes[i, 3] > near
                or boxes[i, 1] - boxes[j, 3] - dy > near
            ):
                continue
            room, u, v = room_between(hulls, i, hulls, j, dx, dy)
            many = pieces_of[i + 1] - pieces_of[i] + pieces_of[j + 1] - pieces_of[j] > 2
            if room > near:
                continue
            hull_does = min(needed[i], needed[j]) + close
            if room >= hull_does or not many:
                pairs.append((i, j))
                lines.append((u, v, room))
                continue
            for k in range(pieces_of[i], pieces_of[i + 1]):
                room, u, v = room_between(pieces, k, hulls, j, dx, dy)
                if room > near:
                    continue
                if room >= hull_does:
                    pairs.append((i, j))
                    lines.append((u, v, room))
                    continue
                for m in range(pieces_of[j], pieces_of[j + 1]):
                    room, u, v = room_between(pieces, k, pieces, m, dx, dy)
                    if room <= near:
                        pairs.append((i, j))
                        lines.append((u, v, room))
    return np.array(pairs)[1:], np.array(lines)[1:]
