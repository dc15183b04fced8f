"""The compiled clock: corner speeds, look-ahead, and the time of every move.

Look-ahead over junction speeds is the textbook backward and forward pass over v² (see
Biagiotti & Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, chapter 3,
for the trapezoid and triangle). The corner rule is junction deviation: the speed at which a
circle that strays δ from the corner would need just the acceleration a,
v² = a·δ·sin(θ/2) / (1 − sin(θ/2)), with θ the angle between the moves (π: straight on).
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray

BoolArray = npt.NDArray[np.bool_]

LENGTH_ZERO_MM = 1e-9
SHARE_ZERO = 1e-12
"""Share of a direction below which an axis stands still, and its limits say nothing."""

FLOATING_POINT = {"contract", "arcp", "nsz"}


@njit(cache=True, fastmath=FLOATING_POINT)
def time_moves(
    x: FloatArray,
    y: FloatArray,
    speed: FloatArray,
    limits: FloatArray,
    stop: BoolArray,
    deviation_mm: float,
    corner_mm_s: float,
) -> tuple[FloatArray, FloatArray]:
    """Seconds of every move and the speed at which it starts.

    Args:
        x: start and ends of n moves, shape (n + 1,), mm.
        y: as ``x``.
        speed: wanted speed of every move, shape (n,), mm/s.
        limits: largest x speed, y speed, x acceleration and y acceleration of every move,
            shape (n, 4).
        stop: whether the machine must stand still before a move, shape (n,).
        deviation_mm: junction deviation.
        corner_mm_s: largest change of either axis' speed at a corner; negative: use the
            deviation instead.

    """
    length, top, acceleration, entry2 = _limit_moves(
        x, y, speed, limits, stop, deviation_mm, corner_mm_s
    )
    n = len(speed)
    for i in range(n - 1, -1, -1):
        if length[i] == 0.0:
            entry2[i] = entry2[i + 1]
        else:
            entry2[i] = min(entry2[i], entry2[i + 1] + 2.0 * acceleration[i] * length[i])

    seconds = np.zeros(n)
    entry = np.empty(n)
    reached2 = 0.0
    for i in range(n):
        entry[i] = np.sqrt(reached2)
        if length[i] == 0.0:
            continue
        a = acceleration[i]
        start2 = reached2
        reached2 = min(entry2[i + 1], start2 + 2.0 * a * length[i])
        seconds[i] = _trapezoid_s(length[i], top[i], a, start2, reached2)
    return seconds, entry


@njit(cache=True, fastmath=FLOATING_POINT)
def _limit_moves(
    x: FloatArray,
    y: FloatArray,
    speed: FloatArray,
    limits: FloatArray,
    stop: BoolArray,
    deviation_mm: float,
    corner_mm_s: float,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    """Length, top speed and acceleration of every move, and v² allowed at its start by corners.

    Moves without length are passed over: the corner lies between their neighbours.
    """
    n = len(speed)
    length = np.zeros(n)
    top = np.zeros(n)
    acceleration = np.ones(n)
    entry2 = np.zeros(n + 1)
    last = -1
    last_ux = last_uy = 0.0
    standing = True
    for i in range(n):
        standing = standing or stop[i]
        dx = x[i + 1] - x[i]
        dy = y[i + 1] - y[i]
        long = np.sqrt(dx * dx + dy * dy)
        if long <= LENGTH_ZERO_MM:
            continue
        ux = dx / long
        uy = dy / long
        share_x = max(abs(ux), SHARE_ZERO)
        share_y = max(abs(uy), SHARE_ZERO)
        length[i] = long
        top[i] = min(speed[i], limits[i, 0] / share_x, limits[i, 1] / share_y)
        acceleration[i] = min(limits[i, 2] / share_x, limits[i, 3] / share_y)
        if not standing:
            corner = min(top[i], top[last])
            if corner_mm_s >= 0.0:
                change = max(abs(ux - last_ux), abs(uy - last_uy), SHARE_ZERO)
                corner = min(corner, corner_mm_s / change)
            else:
                # sin(θ/2) from the cosine of the turn: 1 is straight on, 0 a reversal
                half_sine = np.sqrt(max(0.5 * (1.0 + ux * last_ux + uy * last_uy), 0.0))
                room = max(1.0 - half_sine, SHARE_ZERO)
                a = min(acceleration[i], acceleration[last])
                corner = min(corner, np.sqrt(a * deviation_mm * half_sine / room))
            entry2[i] = corner * corner
        standing = False
        last = i
        last_ux = ux
        last_uy = uy
    return length, top, acceleration, entry2


@njit(cache=True, fastmath=FLOATING_POINT)
def _trapezoid_s(length: float, top: float, a: float, start2: float, end2: float) -> float:
    """Seconds over ``length`` from and to given v², by trapezoid, or triangle if it is short."""
    v0 = math.sqrt(start2)
    v1 = math.sqrt(end2)
    peak2 = 0.5 * (start2 + end2) + a * length
    if peak2 <= top * top:
        return (2.0 * math.sqrt(peak2) - v0 - v1) / a
    ramps = (2.0 * top * top - start2 - end2) / (2.0 * a)
    return (2.0 * top - v0 - v1) / a + (length - ramps) / top
