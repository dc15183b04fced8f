"""Rounding the corners of inner loops, as far as the spot covers what is cut off.

A loop's corner that points out of the material is replaced by an arc. Its middle stays behind the
sharp corner by b = r·(1/cos(φ/2) - 1), for a turn φ and radius r. Seen along the corner's bisector
the next loop outside, as it is burned, lies g away from the sharp corner; the spot closes a gap as
wide as itself, so b may be spot - g, less what both lines may stray. Where a corner is blunt
enough, i/cos(φ/2) < spot, each loop may be rounder than the last, and loops come near to circles
as they go inwards (as the curvilinear paths of Bieterman & Sandstrom 2003, *A curvilinear
tool-path method for pocket machining*). The outermost loop stays sharp, and so do corners where an
arc gives no speed: a machine that plans corners by a junction deviation δ takes the sharp corner
as fast as an arc with b = δ.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba import njit

from kerfwright.engraving.burn import Burn
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath, moves_along

Rings = list[FloatArray]

LEAST_TURN_RAD = math.radians(7.0)
"""Smaller turns cost next to nothing."""

WORTH = 1.2
"""A corner is rounded if its edges have room for an arc that allows this much more v²."""

LEAST_CUT_INTERVALS = 0.01

STRAYING = 3.0
"""What two lines may stray apart, in tolerances: one each, and the drift of the offsets."""

WORTH_S = 0.995
"""Rounded loops are taken if they take less than this share of the time."""

FURTHEST = 1.5
"""A sharp loop outside lies i/cos(φ/2) ahead; what is this much further is another line."""


class Rounding(NamedTuple):
    """What rounding has to know of the burn and the machine."""

    closed_mm: float
    """Gap that the spot closes for sure: its width, less what two lines may stray."""
    interval_mm: float
    tolerance_mm: float
    acceleration_mm_s2: float
    deviation_mm: float
    corner_mm_s: float
    """Largest change of an axis' speed at a corner; negative: the deviation counts."""


def rounded_if_faster(
    levels: list[Rings], burn: Burn, machine: Machine, tolerance_mm: float
) -> list[Rings]:
    """Levels with rounded corners, or as they are, whatever takes the machine less time."""
    room_mm = burn.footprint_mm - burn.interval_mm
    if room_mm <= STRAYING * tolerance_mm or not levels:
        return levels
    how = Rounding(
        burn.footprint_mm - STRAYING * tolerance_mm,
        burn.interval_mm,
        tolerance_mm,
        min(machine.cutting.acceleration_mm_s2),
        machine.junction_deviation_mm,
        -1.0 if machine.corner_speed_mm_s is None else machine.corner_speed_mm_s,
    )
    rounder = rounded(levels, how)
    if _loops_s(rounder, burn, machine) < WORTH_S * _loops_s(levels, burn, machine):
        return rounder
    return levels


def sharp_if_faster(
    mitred: list[Rings], levels: list[Rings], burn: Burn, machine: Machine
) -> list[Rings]:
    """Levels that are sharp and mitred where corners turn inwards if they take less time.

    Arcs round such a corner save the machine a stop, and leave remains where the next corner
    outwards is near; which of them counts more, the clock says.
    """
    if not mitred or _loops_s(mitred, burn, machine) >= WORTH_S * _loops_s(levels, burn, machine):
        return levels
    return mitred


def rounded(levels: list[Rings], how: Rounding) -> list[Rings]:
    """Levels with the corners of all but the outermost rounded, each by what lies outside it."""
    if not levels:
        return levels
    out = [levels[0]]
    outside, ends = _edges(levels[0])
    for rings in levels[1:]:
        level = [_rounded_ring(ring, outside, ends, how) for ring in rings]
        out.append(level)
        outside, ends = _edges(level)
    return out


def _loops_s(levels: list[Rings], burn: Burn, machine: Machine) -> float:
    """Seconds of burning along all rings, each travelled to."""
    rings = [ring for level in levels for ring in level]
    points = np.vstack([np.vstack([ring, ring[:1]]) for ring in rings])
    moves = moves_along(
        points, kind=MoveKind.LOOP, speed_mm_s=burn.speed_mm_s, power=burn.power, source=0
    )
    heads = np.cumsum([0] + [len(ring) + 1 for ring in rings[:-1]])
    moves["kind"][heads] = MoveKind.TRAVEL
    start = (float(points[0, 0]), float(points[0, 1]))
    return time_toolpath(Toolpath(moves, start), machine).burn_s


def _edges(rings: Rings) -> tuple[FloatArray, FloatArray]:
    starts = np.vstack(rings)
    return starts, np.vstack([np.roll(ring, -1, axis=0) for ring in rings])


@njit(cache=True)
def _rounded_ring(
    ring: FloatArray, outside: FloatArray, outside_ends: FloatArray, how: Rounding
) -> FloatArray:
    """A ring with arcs for corners; the edges outside it run from ``outside`` to their ends."""
    acceleration, tolerance = how.acceleration_mm_s2, how.tolerance_mm
    count = len(ring)
    cut = 0
    radii = np.zeros(count)
    for i in range(count):
        ax, ay, long_a = _unit(ring, i - 1, i)
        bx, by, long_b = _unit(ring, i, i + 1)
        turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
        if turn < LEAST_TURN_RAD or turn > 3.0:
            continue
        half_cos = math.cos(0.5 * turn)
        room = 0.5 * min(long_a, long_b) / math.tan(0.5 * turn)
        if how.corner_mm_s >= 0.0:
            sharp = (how.corner_mm_s / (2.0 * math.sin(0.5 * turn))) ** 2
        else:
            sharp = acceleration * how.deviation_mm * half_cos / (1.0 - half_cos)
        if acceleration * room < WORTH * sharp:
            continue
        ux, uy = ax - bx, ay - by
        long = math.hypot(ux, uy)
        ahead = FURTHEST * how.interval_mm / half_cos
        gap = _gap(ring[i, 0], ring[i, 1], ux / long, uy / long, outside, outside_ends, ahead)
        most = how.closed_mm - gap
        if most > LEAST_CUT_INTERVALS * how.interval_mm:
            radii[i] = min(room, most / (1.0 / half_cos - 1.0))
            cut += 3 + int(turn / _step_rad(radii[i], tolerance))
    if cut == 0:
        return ring
    out = np.empty((count + cut, 2))
    n = 0
    for i in range(count):
        if radii[i] == 0.0:
            out[n] = ring[i]
            n += 1
            continue
        ax, ay, _ = _unit(ring, i - 1, i)
        bx, by, _ = _unit(ring, i, i + 1)
        turn = math.atan2(ax * by - ay * bx, ax * bx + ay * by)
        back = radii[i] * math.tan(0.5 * turn)
        x, y = ring[i, 0] - back * ax, ring[i, 1] - back * ay
        centre_x, centre_y = x - radii[i] * ay, y + radii[i] * ax
        steps = 1 + int(turn / _step_rad(radii[i], tolerance))
        steps = max(steps, 2)
        for k in range(steps + 1):
            c, s = math.cos(turn * k / steps), math.sin(turn * k / steps)
            off_x, off_y = x - centre_x, y - centre_y
            out[n, 0] = centre_x + c * off_x - s * off_y
            out[n, 1] = centre_y + s * off_x + c * off_y
            n += 1
    return out[:n]


@njit(cache=True)
def _unit(ring: FloatArray, i: int, j: int) -> tuple[float, float, float]:
    """Direction and length of the edge between two neighbours."""
    a, b = ring[i % len(ring)], ring[j % len(ring)]
    dx, dy = b[0] - a[0], b[1] - a[1]
    long = max(math.sqrt(dx * dx + dy * dy), 1e-12)
    return dx / long, dy / long, long


@njit(cache=True)
def _step_rad(radius: float, tolerance: float) -> float:
    """Turn of a chord with the tolerance for its sagitta."""
    return 2.0 * math.acos(max(1.0 - tolerance / radius, 0.5))


@njit(cache=True)
def _gap(
    x: float,
    y: float,
    ux: float,
    uy: float,
    starts: FloatArray,
    ends: FloatArray,
    longest: float,
) -> float:
    """How far ahead of a point, on a line through it, the last of some edges lies that is not
    further ahead than ``longest``; negative if it lies behind, ``longest`` if there is none.
    """
    best = -np.inf
    for i in range(len(starts)):
        px, py = starts[i, 0] - x, starts[i, 1] - y
        qx, qy = ends[i, 0] - x, ends[i, 1] - y
        p_side, q_side = ux * py - uy * px, ux * qy - uy * qx
        if (p_side > 0.0) == (q_side > 0.0):
            continue
        share = p_side / (p_side - q_side)
        along = ux * (px + share * (qx - px)) + uy * (py + share * (qy - py))
        if best < along <= longest:
            best = along
    return best if best > -np.inf else longest
