"""Less power where loops slow down, for controllers that hold the power as it was set.

A beam that goes slower burns deeper. Controllers with a laser mode lower the power with the speed
themselves; for others the recipe's ``corner_power`` c says how much of the power P is right at a
standstill, and at the speed v on the way to the recipe's V the loop is burned at
P · (c + (1 - c) · v / V). Speeds are the clock's. A loop is cut where the speed passes a tenth
of V.
"""

from __future__ import annotations

import numpy as np

from kerfwright.engraving.burn import scales_itself
from kerfwright.engraving.rows_kernel import IntArray
from kerfwright.findings import Finding, Severity
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.trace import Trace, trace_of
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Toolpath

LEVELS = 10
"""Steps of speed, up to the recipe's, after which the power is set anew."""

LEAST_MM = 0.25
"""Pieces of a move are whole multiples of this, so that a program does not swell."""


def with_corner_power(toolpath: Toolpath, recipe: Recipe, machine: Machine) -> Toolpath:
    """Return the toolpath with its loops burned at less power where the machine slows down.

    The way stays the same; long moves are cut into pieces. Without ``corner_power`` in the
    recipe, or where the controller scales the power itself, nothing changes.
    """
    share = recipe.corner_power
    looped = toolpath.burning & (toolpath.moves["kind"] == MoveKind.LOOP)
    if share is None or share >= 1.0 or scales_itself(machine) or not looped.any():
        return toolpath
    length = toolpath.lengths_mm
    trace = trace_of(toolpath, machine, power_follows_speed=False)
    move, end_mm = _pieces(trace, looped, length, recipe.speed_mm_s)
    begin_mm = np.where(np.diff(move, prepend=-1) != 0, 0.0, np.roll(end_mm, 1))
    moves = toolpath.moves[move].copy()
    points = toolpath.points
    part = end_mm / np.where(length > 0.0, length, 1.0)[move]
    last = np.diff(move, append=len(length)) != 0
    part[last] = 1.0
    ends = points[move] + part[:, None] * (points[move + 1] - points[move])
    moves["x_mm"], moves["y_mm"] = ends[:, 0], ends[:, 1]
    before = np.cumsum(length) - length
    middle = before[move] + 0.5 * (begin_mm + end_mm)
    speed = np.minimum(_speed_at(trace, before, middle) / recipe.speed_mm_s, 1.0)
    lowered = moves["power"] * (share + (1.0 - share) * speed)
    moves["power"] = np.where(looped[move], lowered, moves["power"])
    return Toolpath(moves, toolpath.start_mm)


def corner_power_findings(recipe: Recipe, machine: Machine) -> tuple[Finding, ...]:
    """Say that the key is not used where the controller does the same itself."""
    if recipe.corner_power is None or not scales_itself(machine):
        return ()
    return (
        Finding(
            Severity.NOTE,
            "engraving/corner-power-unused",
            f"{machine.name} lowers the power with the speed itself, so the recipe's "
            f"corner_power = {recipe.corner_power:g} is not used.",
            "Leave corner_power out of this recipe.",
        ),
    )


def _pieces(
    trace: Trace, looped: np.ndarray, length: FloatArray, speed_mm_s: float
) -> tuple[IntArray, FloatArray]:
    """Move of every piece, and how far along it the piece ends, in mm; in order."""
    low = np.minimum(trace.start_mm_s, trace.end_mm_s) * LEVELS / speed_mm_s
    high = np.maximum(trace.start_mm_s, trace.end_mm_s) * LEVELS / speed_mm_s
    first = np.floor(low).astype(np.int64) + 1
    count = np.maximum(np.ceil(high).astype(np.int64) - first, 0)
    count[~looped[trace.move] | (trace.length_mm <= LEAST_MM)] = 0
    stretch = np.repeat(np.arange(len(trace)), count)
    number = np.arange(len(stretch)) - np.repeat(np.cumsum(count) - count, count)
    level2 = ((first[stretch] + number) * speed_mm_s / LEVELS) ** 2
    start2, end2 = trace.start_mm_s[stretch] ** 2, trace.end_mm_s[stretch] ** 2
    # with constant acceleration v² goes evenly along the way
    way = trace.along_mm[stretch] + trace.length_mm[stretch] * (level2 - start2) / (end2 - start2)
    cut = np.round(way / LEAST_MM).astype(np.int64)
    move = trace.move[stretch]
    inside = (cut >= 1) & (cut * LEAST_MM < length[move] - 0.5 * LEAST_MM)
    table = np.unique(np.column_stack([move[inside], cut[inside]]), axis=0)
    moves = np.concatenate([table[:, 0], np.arange(len(length))])
    ends = np.concatenate([table[:, 1] * LEAST_MM, length])
    order = np.lexsort([ends, moves])
    return moves[order], ends[order]


def _speed_at(trace: Trace, before_mm: FloatArray, way_mm: FloatArray) -> FloatArray:
    """Speed of the clock at ways along a toolpath; moves begin at ``before_mm``."""
    moving = trace.length_mm > 0.0
    start = before_mm[trace.move[moving]] + trace.along_mm[moving]
    knots = np.column_stack([start, start + trace.length_mm[moving]]).reshape(-1)
    speeds = np.column_stack([trace.start_mm_s[moving], trace.end_mm_s[moving]]).reshape(-1)
    found: FloatArray = np.sqrt(np.interp(way_mm, knots, speeds**2))
    return found
