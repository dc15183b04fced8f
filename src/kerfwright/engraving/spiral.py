"""Passing over from a loop to its neighbour without stopping.

The beam goes round a loop and on into the next one over a stretch that both have beside each
other: it is on the one where the stretch starts, on the other where it ends, and in between at a
share of the way across that grows smoothly (as Bieterman & Sandstrom 2003, *A curvilinear
tool-path method for pocket machining*, and Held & Spielberger 2009, *A smooth spiral tool path
for high speed machining of 2D pockets*, do over a whole turn). The next passing over lies beside
the last, so that two turns are never further apart than two loops: the share across may lag
behind that of the turn before, and never runs ahead of it. The stretch is burned once more where
a spiral ends, which closes its last loop.
"""

from __future__ import annotations

import math

from numba import njit

from kerfwright.engraving.ring_kernel import (
    Line,
    Pace,
    Rings,
    append,
    foot,
    point_at,
    to_corner,
)

SAMPLES = 12
"""Steps of a passing over on a straight line; curves have their own points besides."""

LEAST_INTERVALS = 6.0
"""Shortest stretch for passing over, in intervals."""

BEND_SHARE = 0.25
"""Share of the acceleration that passing over may take across the path."""


@njit(cache=True)
def wanted_mm(speed: float, pace: Pace) -> float:
    """Length over which one interval is crossed with a share of the acceleration.

    y = i/2·(1 - cos(π·x/l)) bends by at most i·π²/(2·l²), and v² times that is the
    acceleration across.
    """
    return math.pi * speed * math.sqrt(0.5 * pace.interval / (BEND_SHARE * pace.acceleration))


@njit(cache=True)
def stretch_on(rings: Rings, ring: int, near: float, pace: Pace) -> tuple[float, float]:
    """Where on a ring to pass over: start and end as ways along it; equal if nowhere.

    On a ring with corners it ends in the middle of the longest side, which lasts longest; on one
    without, it starts at ``near``. A machine between two corners L apart gets to √(a·L), one on
    a circle to √(a·r).
    """
    total = rings.total[ring]
    least = LEAST_INTERVALS * pace.interval
    ahead = to_corner(rings, ring, near)
    if math.isinf(ahead):
        fast = min(pace.speed, math.sqrt(pace.acceleration * total / (2.0 * math.pi)))
        long = min(wanted_mm(fast, pace), 0.5 * total)
        return (near, near + long) if long >= least else (near, near)
    start, longest = 0.0, -1.0
    way, gone = near + ahead, 0.0
    while gone < total - 1e-6:
        side = min(to_corner(rings, ring, way), total)
        if side > longest + 1e-6:
            start, longest = way, side
        way += side
        gone += side
    fast = min(pace.speed, math.sqrt(pace.acceleration * longest))
    long = min(wanted_mm(fast, pace), 0.4 * longest)
    end = start + 0.5 * longest
    return (end - long, end) if long >= least else (near, near)


@njit(cache=True)
def pass_over(
    rings: Rings,
    last: int,
    then: int,
    inward: bool,
    start: float,
    end: float,
    pace: Pace,
    line: Line,
) -> tuple[float, float]:
    """Pass from a stretch of the ring ``last`` to the ring ``then``, and follow it no further.

    Returns the stretch beside it on ``then``; both ends are equal, and nothing is burned, where
    the two rings do not run side by side.
    """
    outer, inner = (last, then) if inward else (then, last)
    left = start
    if not inward:
        x, y = point_at(rings, last, start)
        beside, _ = foot(rings, then, x, y)
        x, y = point_at(rings, last, end)
        beside_end, _ = foot(rings, then, x, y)
        start, end = beside, beside + (beside_end - beside) % rings.total[then]
    long = end - start
    if long < 1e-6 or long > 0.75 * rings.total[outer]:
        return 0.0, 0.0
    began = line.state[0]
    low, count = rings.first[outer], rings.first[outer + 1] - rings.first[outer]
    first = previous = way = 0.0
    span = 0.0
    number = _point_after(rings, outer, start)
    base = math.floor(start / rings.total[outer]) * rings.total[outer]
    at = start
    while True:
        x, y = point_at(rings, outer, at)
        way, away = foot(rings, inner, x, y)
        if at == start:
            first = previous = way if inward else left
        half = 0.5 * rings.total[inner]
        ahead = (way - previous + half) % rings.total[inner] - half
        if away > pace.beside or ahead < -pace.interval:
            line.state[0] = began
            return 0.0, 0.0
        if ahead >= 0.0 or at >= end:  # seen across chords, a point may lie a little behind
            span += ahead
            previous = way
            across = 0.5 - 0.5 * math.cos(math.pi * (at - start) / long)
            inside = across if inward else 1.0 - across
            foot_x, foot_y = point_at(rings, inner, way)
            append(line, x + inside * (foot_x - x), y + inside * (foot_y - y), False)
        if at >= end:
            break
        ahead_at = at + long / SAMPLES
        if number == count:
            number = 0
            base += rings.total[outer]
        vertex = base + rings.along[low + number]
        if vertex <= ahead_at:
            ahead_at = vertex
            number += 1
        at = end if ahead_at > end - 1e-6 else ahead_at
    if span < 1e-6 or span > 0.75 * rings.total[inner]:
        line.state[0] = began
        return 0.0, 0.0
    return (first, first + span) if inward else (start, end)


@njit(cache=True)
def _point_after(rings: Rings, ring: int, way: float) -> int:
    """Number within a ring of the first point after a way along it; its count if none is."""
    low, end = rings.first[ring], rings.first[ring + 1]
    way = way % rings.total[ring]
    for i in range(low, end):
        if rings.along[i] > way + 1e-9:
            return int(i - low)
    return int(end - low)


@njit(cache=True)
def stretch_goes_on(
    rings: Rings,
    ring: int,
    start: float,
    end: float,
    pace: Pace,
) -> tuple[float, float]:
    """The stretch for the next passing over, beside the last; both ends equal if there is none.

    Its start and its end may only move forwards. A corner that has come into it drives its start
    on; it grows to what the speed asks for as long as there is no corner ahead.
    """
    least = LEAST_INTERVALS * pace.interval
    total = rings.total[ring]
    free = to_corner(rings, ring, start)
    while free < end - start:
        start += free + pace.interval
        if start > end - least:
            return end, end
        free = to_corner(rings, ring, start)
    reach = min(free, total)
    fast = min(
        pace.speed,
        math.sqrt(pace.acceleration * (total / (2.0 * math.pi) if free > total else free)),
    )
    wanted = min(wanted_mm(fast, pace), 0.5 * reach)
    end = max(end, start + wanted)
    if end - start < least or end - start > 0.6 * total:
        return end, end
    return start, end
