"""Points along closed rings, by their way along the ring; compiled.

Rings lie behind one another in flat arrays: ring t has the points ``first[t]`` to
``first[t + 1]``, the first one not repeated, and ``along`` holds every point's way from the
ring's first point.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

BoolArray = npt.NDArray[np.bool_]
IntArray = npt.NDArray[np.int64]

SAME_WAY_MM = 1e-9
SAME_POINT_MM = 1e-4


class Rings(NamedTuple):
    """Rings and open lines; ``total`` is the length of each, rings with their closing edge."""

    points: FloatArray
    first: IntArray
    along: FloatArray
    total: FloatArray
    corner: BoolArray
    """Whether the machine nearly stops at a point anyway, for every point."""


class Tree(NamedTuple):
    """The loops and strokes of a piece, and what each loop was offset from."""

    rings: Rings
    """The loops, and behind them the open strokes."""
    boxes: FloatArray
    """Least x, least y, greatest x and greatest y of each, shape (n, 4)."""
    loops: int
    """How many of the lines are loops."""
    parent: IntArray
    """Loop that each was offset from, -1 for none."""
    child_first: IntArray
    """Where the children of each loop start in ``children``."""
    children: IntArray


class Pace(NamedTuple):
    """What decides how loops are joined: lengths in mm, mm/s and mm/s²."""

    interval: float
    link: float
    """Longest step that a corner is entered over."""
    beside: float
    """How far apart two loops may lie where the beam passes from one to the other."""
    speed: float
    acceleration: float


class Line(NamedTuple):
    """A line that grows: ``points`` has room for all of it, ``state[0]`` is its length so far."""

    points: FloatArray
    step: BoolArray
    """Whether a point is the first of a new line, reached by a step from the one before."""
    state: IntArray


@njit(cache=True)
def append(line: Line, x: float, y: float, step: bool) -> None:
    """Put a point at the end of a line, unless it is the one there: hair's breadths would bend."""
    at = line.state[0]
    if at > 0 and not step:
        last = line.points[at - 1]
        if abs(last[0] - x) < SAME_POINT_MM and abs(last[1] - y) < SAME_POINT_MM:
            return
    line.points[at, 0] = x
    line.points[at, 1] = y
    line.step[at] = step
    line.state[0] = at + 1


@njit(cache=True)
def point_at(rings: Rings, ring: int, way: float) -> tuple[float, float]:
    """Point at a way along a ring, which may be more than once round."""
    low, end = rings.first[ring], rings.first[ring + 1]
    way = way % rings.total[ring]
    edge = low + np.searchsorted(rings.along[low:end], way, side="right") - 1
    after = edge + 1 if edge + 1 < end else low
    x, y = rings.points[edge]
    dx, dy = rings.points[after, 0] - x, rings.points[after, 1] - y
    long = math.sqrt(dx * dx + dy * dy)
    share = min((way - rings.along[edge]) / long, 1.0) if long > 0.0 else 0.0
    return x + share * dx, y + share * dy


@njit(cache=True)
def follow(rings: Rings, ring: int, start: float, end: float, line: Line) -> None:
    """Follow a ring from one way along it to a later one, at most once round and a bit."""
    low, count = rings.first[ring], rings.first[ring + 1] - rings.first[ring]
    total = rings.total[ring]
    own = rings.along[low : low + count]
    base = math.floor(start / total) * total
    number = np.searchsorted(own, start - base + SAME_WAY_MM, side="right")
    while True:
        if number == count:
            number = 0
            base += total
        if base + own[number] >= end - SAME_WAY_MM:
            break
        point = rings.points[low + number]
        append(line, point[0], point[1], False)
        number += 1
    x, y = point_at(rings, ring, end)
    append(line, x, y, False)


@njit(cache=True)
def foot(rings: Rings, ring: int, x: float, y: float) -> tuple[float, float]:
    """Way along a ring to its point nearest to (x, y), and how far away that is."""
    low, end = rings.first[ring], rings.first[ring + 1]
    best2 = np.inf
    way = 0.0
    for i in range(low, end):
        j = i + 1 if i + 1 < end else low
        ax, ay = rings.points[i, 0], rings.points[i, 1]
        dx, dy = rings.points[j, 0] - ax, rings.points[j, 1] - ay
        squared = dx * dx + dy * dy
        share = 0.0
        if squared > 0.0:
            share = min(max(((x - ax) * dx + (y - ay) * dy) / squared, 0.0), 1.0)
        away2 = (ax + share * dx - x) ** 2 + (ay + share * dy - y) ** 2
        if away2 < best2:
            best2 = away2
            way = rings.along[i] + share * math.sqrt(squared)
    return way % rings.total[ring], math.sqrt(best2)


@njit(cache=True)
def to_corner(rings: Rings, ring: int, way: float) -> float:
    """How far it is along a ring from a way to the next corner; infinite without corners."""
    low, end = rings.first[ring], rings.first[ring + 1]
    total = rings.total[ring]
    way = way % total
    round_again = np.inf
    for i in range(low, end):
        if rings.corner[i]:
            ahead = float(rings.along[i] - way)
            if ahead > SAME_WAY_MM:
                return ahead
            round_again = min(round_again, ahead + total)
    return round_again
