"""What a limit on jerk adds to the time of a toolpath (compiled).

Acceleration that may not jump takes a/J to build up. Between two points where the machine stands
still, a limit on jerk costs what it would cost on one straight move of the same length: never
less than nothing and never more than a/J. At places that are passed slowly a part of it falls due
(Biagiotti & Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, section
3.4, the double S).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

STANDING_MM_S = 0.5
"""A turn back is taken at a speed of nearly nothing; the machine counts as standing there."""


class Motion(NamedTuple):
    """What a machine does along a toolpath of n moves; each field has shape (n,)."""

    seconds: FloatArray
    entry_mm_s: FloatArray
    exit_mm_s: FloatArray
    top_mm_s: FloatArray
    """Speed that a move would reach if it were long enough."""
    up_mm_s2: FloatArray
    """Acceleration while speeding up."""
    down_mm_s2: FloatArray
    """Deceleration while braking."""


@njit(cache=True)
def s_curve_s(length: float, top: float, a: float, jerk: float) -> float:
    """Seconds over ``length`` from rest to rest, speed, acceleration and jerk being limited."""
    build_up = a / jerk
    if top >= a * build_up:
        if length >= top * top / a + top * build_up:
            return length / top + top / a + build_up
        if length >= 2.0 * a * build_up * build_up:
            return build_up + math.sqrt(build_up * build_up + 4.0 * length / a)
    else:
        ramp = math.sqrt(top / jerk)
        if length >= 2.0 * top * ramp:
            return length / top + 2.0 * ramp
    return 4.0 * float((length / (2.0 * jerk)) ** (1.0 / 3.0))


@njit(cache=True)
def _from_rest_s(length: float, top: float, a: float) -> float:
    if length <= top * top / a:
        return 2.0 * math.sqrt(length / a)
    return length / top + top / a


@njit(cache=True)
def jerk_of(
    x: FloatArray, y: FloatArray, kind: npt.NDArray[np.uint8], limits: FloatArray
) -> FloatArray:
    """Jerk that the tighter axis allows along every move, 0 where none is limited."""
    n = len(kind)
    jerk = np.zeros(n)
    for i in range(n):
        across, up = abs(x[i + 1] - x[i]), abs(y[i + 1] - y[i])
        long = math.hypot(across, up)
        k = kind[i]
        if limits[k, 4] > 0.0 and long > 0.0:
            share_x, share_y = max(across / long, 1e-12), max(up / long, 1e-12)
            jerk[i] = min(limits[k, 4] / share_x, limits[k, 5] / share_y)
    return jerk


@njit(cache=True)
def add_jerk_s(motion: Motion, length: FloatArray, jerk: FloatArray) -> None:
    """Add to the first and the last move between two slow places what jerk costs there.

    A slow place is where the speed is at its lowest between two higher ones. How far it is from
    standing still says how much of the cost falls due there: all of it at rest, none where the
    speed hardly changes. ``motion.seconds`` changes.
    """
    n = len(length)
    first, last = -1, -1
    whole, top, peak, low = 0.0, 0.0, 0.0, 0.0
    for i in range(n + 1):
        if i < n and length[i] == 0.0:
            continue
        speed = motion.entry_mm_s[i] if i < n else 0.0
        own = _peak_mm_s(motion, length, i) if i < n else math.inf
        if first >= 0 and speed < (1.0 - LEVEL) * peak and speed < (1.0 - LEVEL) * own:
            up, down = motion.up_mm_s2[first], motion.down_mm_s2[last]
            motion.seconds[first] += (1.0 - low / peak) * _half_s(whole, top, up, jerk[first])
            motion.seconds[last] += (1.0 - speed / peak) * _half_s(whole, top, down, jerk[last])
            first = -1
        if i < n:
            if first < 0:
                first, low = i, speed
                whole, top, peak = 0.0, 0.0, 0.0
            last = i
            whole += length[i]
            top, peak = max(top, motion.top_mm_s[i]), max(peak, own)


@njit(cache=True)
def _half_s(length: float, top: float, a: float, jerk: float) -> float:
    """What jerk adds to one of the two ramps of a move from rest to rest; 0 without a limit."""
    if jerk == 0.0:
        return 0.0
    return 0.5 * max(s_curve_s(length, top, a, jerk) - _from_rest_s(length, top, a), 0.0)


LEVEL = 1e-9
"""Speeds that differ by less than this share are one."""


@njit(cache=True)
def _peak_mm_s(motion: Motion, length: FloatArray, i: int) -> float:
    """Highest speed on a move."""
    start, end = motion.entry_mm_s[i], motion.exit_mm_s[i]
    up, down = motion.up_mm_s2[i], motion.down_mm_s2[i]
    peak2 = down * start**2 + up * end**2 + 2.0 * up * down * length[i]
    reached = math.sqrt(max(peak2 / (up + down), 0.0))
    return float(max(min(reached, motion.top_mm_s[i]), start, end))
