"""Burns cut where the machine's speed passes a step, so that each piece can have its own power."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.trace import Trace, trace_of
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveArray, Toolpath

LEVELS = 10
"""Steps of speed, up to the recipe's, after which the power is set anew."""

LEAST_MM = 0.25
"""Pieces of a move are whole multiples of this, so that a program does not swell."""

BoolArray = npt.NDArray[np.bool_]


@dataclass(frozen=True, eq=False, slots=True)
class SpeedSteps:
    """A toolpath's moves, some of them in pieces: ``move`` is the number of each piece's.

    ``mean`` is the clock's mean speed on every piece, ``most`` the highest on it; both are shares
    of the speed that was asked for, at most 1.
    """

    moves: MoveArray
    move: IntArray
    mean: FloatArray
    most: FloatArray


def cut_at_speed_steps(
    toolpath: Toolpath, machine: Machine, cut: BoolArray, speed_mm_s: float
) -> SpeedSteps:
    """Cut the moves in ``cut`` where their speed passes a tenth of ``speed_mm_s``.

    The way stays the same.
    """
    length = toolpath.lengths_mm
    trace = trace_of(toolpath, machine, power_follows_speed=False)
    move, end_mm = _pieces(trace, cut, length, speed_mm_s)
    begin_mm = np.where(np.diff(move, prepend=-1) != 0, 0.0, np.roll(end_mm, 1))
    moves = toolpath.moves[move].copy()
    points = toolpath.points
    part = end_mm / np.where(length > 0.0, length, 1.0)[move]
    last = np.diff(move, append=len(length)) != 0
    part[last] = 1.0
    ends = points[move] + part[:, None] * (points[move + 1] - points[move])
    moves["x_mm"], moves["y_mm"] = ends[:, 0], ends[:, 1]
    before = (np.cumsum(length) - length)[move]
    begin, end = before + begin_mm, before + end_mm
    knots, speeds = _knots(trace, np.cumsum(length) - length)
    (begin_s, begin_mm_s), (end_s, end_mm_s) = (
        _clock_at(way, trace, knots, speeds) for way in (begin, end)
    )
    most = np.maximum(begin_mm_s, end_mm_s)
    within = np.searchsorted(end, knots, side="left")
    inside = (within < len(end)) & (begin[np.minimum(within, len(end) - 1)] < knots)
    np.maximum.at(most, within[inside], speeds[inside])
    mean = np.where(end > begin, (end - begin) / np.maximum(end_s - begin_s, 1e-12), most)
    return SpeedSteps(
        moves, move, np.minimum(mean / speed_mm_s, 1.0), np.minimum(most / speed_mm_s, 1.0)
    )


def _clock_at(
    way_mm: FloatArray, trace: Trace, knots: FloatArray, speeds: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Time and speed of the clock at ways along a toolpath, waits left out."""
    at = np.clip((np.searchsorted(knots, way_mm, side="right") - 1) // 2, 0, len(knots) // 2 - 1)
    seconds = trace.seconds[trace.length_mm > 0.0]
    began = np.cumsum(seconds) - seconds
    low, high = speeds[2 * at], speeds[2 * at + 1]
    long = knots[2 * at + 1] - knots[2 * at]
    part = np.clip((way_mm - knots[2 * at]) / np.maximum(long, 1e-12), 0.0, 1.0)
    # with constant acceleration v² goes evenly along the way, and v in time
    speed = np.sqrt(low**2 + part * (high**2 - low**2))
    changes = np.abs(high - low) > 1e-9 * (high + low)
    share = np.where(changes, (speed - low) / np.where(changes, high - low, 1.0), part)
    return began[at] + share * seconds[at], speed


def _pieces(
    trace: Trace, cut: BoolArray, length: FloatArray, speed_mm_s: float
) -> tuple[IntArray, FloatArray]:
    """Move of every piece, and how far along it the piece ends, in mm; in order."""
    low = np.minimum(trace.start_mm_s, trace.end_mm_s) * LEVELS / speed_mm_s
    high = np.maximum(trace.start_mm_s, trace.end_mm_s) * LEVELS / speed_mm_s
    first = np.floor(low).astype(np.int64) + 1
    count = np.maximum(np.ceil(high).astype(np.int64) - first, 0)
    count[~cut[trace.move] | (trace.length_mm <= LEAST_MM)] = 0
    stretch = np.repeat(np.arange(len(trace)), count)
    number = np.arange(len(stretch)) - np.repeat(np.cumsum(count) - count, count)
    level2 = ((first[stretch] + number) * speed_mm_s / LEVELS) ** 2
    start2, end2 = trace.start_mm_s[stretch] ** 2, trace.end_mm_s[stretch] ** 2
    way = trace.along_mm[stretch] + trace.length_mm[stretch] * (level2 - start2) / (end2 - start2)
    at = np.round(way / LEAST_MM).astype(np.int64)
    move = trace.move[stretch]
    inside = (at >= 1) & (at * LEAST_MM < length[move] - 0.5 * LEAST_MM)
    table = np.unique(np.column_stack([move[inside], at[inside]]), axis=0)
    moves = np.concatenate([table[:, 0], np.arange(len(length))])
    ends = np.concatenate([table[:, 1] * LEAST_MM, length])
    order = np.lexsort([ends, moves])
    return moves[order], ends[order]


def _knots(trace: Trace, before_mm: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Ways along a toolpath, and the clock's speeds there; moves begin at ``before_mm``."""
    moving = trace.length_mm > 0.0
    start = before_mm[trace.move[moving]] + trace.along_mm[moving]
    knots = np.column_stack([start, start + trace.length_mm[moving]]).reshape(-1)
    speeds = np.column_stack([trace.start_mm_s[moving], trace.end_mm_s[moving]]).reshape(-1)
    return knots, speeds
