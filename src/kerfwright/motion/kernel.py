"""The compiled clock: corner speeds, look-ahead, and the time of every move.

Look-ahead over junction speeds is the textbook backward and forward pass over v² (see
Biagiotti & Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008, chapter 3,
for the trapezoid and triangle). The corner rule is junction deviation: the speed at which a
circle that strays δ from the corner would need just the acceleration a,
v² = a·δ·sin(θ/2) / (1 − sin(θ/2)), with θ the angle between the moves (π: straight on).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.jerk import Motion, add_jerk_s, jerk_of

BoolArray = npt.NDArray[np.bool_]
KindArray = npt.NDArray[np.uint8]

LENGTH_ZERO_MM = 1e-9
SHARE_ZERO = 1e-12
"""Share of a direction below which an axis stands still, and its limits say nothing."""

TINY = 1e-12

FLOATING_POINT = {"contract", "arcp", "nsz"}


class Rules(NamedTuple):
    """How a controller plans ahead; plain numbers, since compiled code takes no models."""

    deviation_mm: float
    """Junction deviation."""
    corner_mm_s: float = -1.0
    """Largest change of either axis' speed at a corner; negative: use the deviation instead."""
    curves: bool = True
    """Whether the acceleration across the path is kept to, however short a curve's pieces are."""
    look_ahead: int = 0
    """Moves that are known ahead, the present one included; 0: all of them."""
    moves_per_s: float = 0.0
    """Moves a second that reach the controller; 0: as many as it likes."""
    waiting_room: int = 1
    """Moves that may wait ready, and so make up for a burst of short ones."""


@njit(cache=True, nogil=True, fastmath=FLOATING_POINT)
def time_moves(
    x: FloatArray,
    y: FloatArray,
    speed: FloatArray,
    kind: KindArray,
    limits: FloatArray,
    stop: BoolArray,
    rules: Rules,
) -> Motion:
    """Time every move.

    Args:
        x: start and ends of n moves, shape (n + 1,), mm.
        y: as ``x``.
        speed: wanted speed of every move, shape (n,), mm/s.
        kind: row of ``limits`` for every move, shape (n,).
        limits: largest x speed, y speed, x acceleration, y acceleration, x jerk and y jerk, a row
            for each kind; a jerk of 0 is unlimited.
        stop: whether the machine must stand still before a move, shape (n,).
        rules: how the controller plans.
    """
    length, top, acceleration, entry2, bend = _limit_moves(x, y, speed, kind, limits, stop, rules)
    n = len(speed)
    if rules.look_ahead > 0:
        _look_ahead(entry2, length, acceleration, rules.look_ahead)
    bent = bend.any()
    brake = acceleration.copy() if bent else acceleration
    for i in range(n - 1, -1, -1):
        if length[i] == 0.0:
            entry2[i] = entry2[i + 1]
            continue
        if bent and (bend[i + 1, 0] != 0.0 or bend[i + 1, 1] != 0.0):
            row = limits[kind[i]]
            brake[i] = _left_along(x, y, i, row, -entry2[i + 1], bend[i + 1])
        entry2[i] = min(entry2[i], entry2[i + 1] + 2.0 * brake[i] * length[i])

    seconds = np.zeros(n)
    entry = np.empty(n)
    leave = np.empty(n)
    reached2 = 0.0
    for i in range(n):
        entry[i] = np.sqrt(reached2)
        if length[i] > 0.0:
            if bent and (bend[i, 0] != 0.0 or bend[i, 1] != 0.0):
                acceleration[i] = _left_along(x, y, i, limits[kind[i]], reached2, bend[i])
            start2 = reached2
            reached2 = min(entry2[i + 1], start2 + 2.0 * acceleration[i] * length[i])
            seconds[i] = ramps_s(length[i], top[i], acceleration[i], brake[i], start2, reached2)
        leave[i] = np.sqrt(reached2)
    if limits[:, 4:].max() > 0.0:
        motion = Motion(seconds, entry, leave, top, acceleration, brake)
        add_jerk_s(motion, length, jerk_of(x, y, kind, limits))
    return Motion(seconds, entry, leave, top, acceleration, brake)


@njit(cache=True, fastmath=FLOATING_POINT)
def _left_along(
    x: FloatArray, y: FloatArray, i: int, row: FloatArray, speed2: float, bend: FloatArray
) -> float:
    """Acceleration that a bend leaves for speeding up along a move; for braking, negate v².

    On each axis what the bend needs, v² times the curvature, and what goes along the path add up.
    """
    dx, dy = x[i + 1] - x[i], y[i + 1] - y[i]
    long = math.sqrt(dx * dx + dy * dy)
    ux, uy = dx / long, dy / long
    left_x = row[2] - math.copysign(speed2 * bend[0], ux * speed2 * bend[0])
    left_y = row[3] - math.copysign(speed2 * bend[1], uy * speed2 * bend[1])
    along = min(left_x / max(abs(ux), SHARE_ZERO), left_y / max(abs(uy), SHARE_ZERO))
    return float(max(along, LEAST_SHARE * min(row[2], row[3])))


LEAST_SHARE = 1e-3
"""Share of the acceleration that a bend always leaves: nothing would stand still for ever."""

SMOOTH_TURN = 0.35
"""A larger turn (about 20°) between two moves is a corner, a smaller one may be of a curve."""


@njit(cache=True, fastmath=FLOATING_POINT)
def _limit_moves(
    x: FloatArray,
    y: FloatArray,
    speed: FloatArray,
    kind: KindArray,
    limits: FloatArray,
    stop: BoolArray,
    rules: Rules,
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray, FloatArray]:
    """Length, top speed and acceleration of every move; v² allowed at its start by corners, and
    the curvature there as a vector, shape (n + 1, 2).

    Moves without length are passed over: the corner lies between their neighbours.
    """
    n = len(speed)
    length = np.zeros(n)
    top = np.zeros(n)
    acceleration = np.ones(n)
    entry2 = np.zeros(n + 1)
    bend = np.zeros((n + 1, 2))
    if rules.moves_per_s > 0.0:
        supplied = _supplied_mm_s(x, y, rules.moves_per_s, rules.waiting_room)
    else:
        supplied = np.empty(0)
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
        k = kind[i]
        length[i] = long
        top[i] = min(speed[i], limits[k, 0] / share_x, limits[k, 1] / share_y)
        if len(supplied):
            top[i] = min(top[i], supplied[i])
        acceleration[i] = min(limits[k, 2] / share_x, limits[k, 3] / share_y)
        if not standing:
            slowest = min(top[i], top[last])
            mean = 0.5 * (long + length[last]) if rules.curves else math.inf
            turn_x, turn_y = ux - last_ux, uy - last_uy
            a = min(
                _across(ux, uy, limits[k]),
                _across(last_ux, last_uy, limits[kind[last]]),
                _across(ux + last_ux, uy + last_uy, limits[k]),
            )
            entry2[i] = min(
                slowest * slowest,
                _corner2(turn_x, turn_y, a, rules),
                limits[k, 2] * mean / max(abs(turn_x), TINY),
                limits[k, 3] * mean / max(abs(turn_y), TINY),
            )
            if rules.curves and turn_x * turn_x + turn_y * turn_y < SMOOTH_TURN * SMOOTH_TURN:
                # chords l of a circle turn by φ, and |Δu| / l = 2·sin(φ/2) / l = 1 / r
                bend[i, 0], bend[i, 1] = turn_x / mean, turn_y / mean
        standing = False
        last = i
        last_ux = ux
        last_uy = uy
    return length, top, acceleration, entry2, bend


@njit(cache=True, fastmath=FLOATING_POINT)
def _across(ux: float, uy: float, row: FloatArray) -> float:
    """Acceleration that the tighter axis allows square to a direction of any length."""
    long = max(math.sqrt(ux * ux + uy * uy), TINY)
    return float(min(row[2] * long / max(abs(uy), TINY), row[3] * long / max(abs(ux), TINY)))


@njit(cache=True, fastmath=FLOATING_POINT)
def _corner2(turn_x: float, turn_y: float, a: float, rules: Rules) -> float:
    """v² that the controller's rule for corners allows; the turn is the change of direction."""
    if rules.corner_mm_s >= 0.0:
        change = max(abs(turn_x), abs(turn_y), TINY)
        return (rules.corner_mm_s / change) ** 2
    # sin(θ/2): 1 is straight on, 0 a reversal, where the change is as long as both directions
    half_sine = math.sqrt(max(1.0 - 0.25 * (turn_x * turn_x + turn_y * turn_y), 0.0))
    return a * rules.deviation_mm * half_sine / max(1.0 - half_sine, TINY)


@njit(cache=True, fastmath=FLOATING_POINT)
def _look_ahead(
    entry2: FloatArray, length: FloatArray, acceleration: FloatArray, moves: int
) -> None:
    """Keep v² at every start to what can be braked to rest by the last move that is known."""
    known = np.flatnonzero(length > 0.0)
    ahead = 0.0
    end = 0
    for first in range(len(known)):
        # while the move before this one runs, this one and moves - 2 more are known
        end = max(end, first)
        while end < min(first + moves - 1, len(known)):
            ahead += 2.0 * acceleration[known[end]] * length[known[end]]
            end += 1
        i = known[first]
        entry2[i] = min(entry2[i], ahead)
        if end > first:
            ahead = max(ahead - 2.0 * acceleration[i] * length[i], 0.0)


@njit(cache=True, fastmath=FLOATING_POINT)
def _supplied_mm_s(
    x: FloatArray, y: FloatArray, moves_per_s: float, waiting_room: int
) -> FloatArray:
    """Speed at which moves are used up as fast as they come, on average over the waiting ones."""
    n = len(x) - 1
    supplied = np.zeros(n)
    real = np.empty(n, dtype=np.int64)
    along = np.zeros(n + 1)
    count = 0
    for i in range(n):
        long = np.sqrt((x[i + 1] - x[i]) ** 2 + (y[i + 1] - y[i]) ** 2)
        if long > LENGTH_ZERO_MM:
            real[count] = i
            along[count + 1] = along[count] + long
            count += 1
    for k in range(count):
        end = min(k + waiting_room, count)
        supplied[real[k]] = moves_per_s * (along[end] - along[k]) / (end - k)
    return supplied


@njit(cache=True, fastmath=FLOATING_POINT)
def ramps_s(length: float, top: float, up: float, down: float, start2: float, end2: float) -> float:
    """Seconds over ``length`` from and to given v², by trapezoid, or triangle if it is short.

    ``up`` and ``down`` are the accelerations of speeding up and of braking.
    """
    v0 = math.sqrt(start2)
    v1 = math.sqrt(end2)
    peak2 = (down * start2 + up * end2 + 2.0 * up * down * length) / (up + down)
    if peak2 <= top * top:
        peak = math.sqrt(max(peak2, start2, end2))
        return (peak - v0) / up + (peak - v1) / down
    ramps = (top * top - start2) / (2.0 * up) + (top * top - end2) / (2.0 * down)
    return (top - v0) / up + (top - v1) / down + (length - ramps) / top


@njit(cache=True)
def burn_and_rest(
    seconds: FloatArray, kind: KindArray, power: FloatArray, burns: BoolArray
) -> tuple[float, float]:
    """Seconds with the beam on and with it off; ``burns`` has a row for each kind of move."""
    burn_s = rest_s = 0.0
    for i in range(len(seconds)):
        if burns[kind[i]] and power[i] > 0.0:
            burn_s += seconds[i]
        else:
            rest_s += seconds[i]
    return burn_s, rest_s
