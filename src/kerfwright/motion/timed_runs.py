"""Toolpaths of timed runs, and how long a machine takes for them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import lru_cache

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.parameters import Parameter, with_values
from kerfwright.motion.timing import move_times_s
from kerfwright.shop.machine import Machine
from kerfwright.shop.timed_run import TimedRun
from kerfwright.toolpath import MOVE_DTYPE, MoveArray, MoveKind, Toolpath

TRAVEL_MM_S = 1e6
"""Asked of a travel: more than any machine moves at, so that its own limits govern."""

RUN_UP_SHARE = 0.25
"""Of a scanning stroke, at each end; the beam being off, it only marks the row's ends."""

BLOCK_MOVES = 96
"""Moves over which the ends of a run are felt at most: further in, every repeat takes as long."""

ROUNDS = 3
"""How often a circle is followed in one go."""

KINDS = {"travel": MoveKind.TRAVEL, "cutting": MoveKind.CUT, "scanning": MoveKind.ROW}


def toolpath_of(
    run: TimedRun, start_mm: tuple[float, float], repeats: int | None = None
) -> Toolpath:
    """The moves of a run, all with the beam off, from its start and back to it."""
    moves = np.tile(_pattern(run), run.repeats if repeats is None else repeats)
    moves["x_mm"] += start_mm[0]
    moves["y_mm"] += start_mm[1]
    return Toolpath(moves, start_mm)


def run_time_s(run: TimedRun, machine: Machine) -> float:
    """Seconds of a run on a machine.

    Of a long run only its beginning, one middle block and its end are computed: what is repeated
    takes as long every time.
    """
    short, cycles = _shortened(run)
    seconds = move_times_s(short, machine)
    if cycles == 0:
        return float(seconds.sum())
    first, middle, last = seconds.reshape(3, -1).sum(axis=1)
    return float(first + last + middle * (run.repeats - 2 * cycles) / cycles)


@lru_cache(maxsize=512)
def _shortened(run: TimedRun) -> tuple[Toolpath, int]:
    """Three blocks of repeats and the repeats in each; 0 if the run is not longer than that."""
    cycles = math.ceil(BLOCK_MOVES / len(_pattern(run)))
    if run.repeats <= 3 * cycles:
        return toolpath_of(run, (0.0, 0.0)), 0
    return toolpath_of(run, (0.0, 0.0), 3 * cycles), cycles


def run_times_s(
    runs: Sequence[TimedRun],
    machine: Machine,
    parameters: Sequence[Parameter],
    values: FloatArray,
) -> FloatArray:
    """Seconds of every run with other values of some parameters, shape (runs,).

    Between two whole numbers of moves ahead, times are interpolated, so that they change evenly.
    """
    ahead = [i for i, p in enumerate(parameters) if p.field == "look_ahead_moves"]
    if not ahead:
        changed = with_values(machine, parameters, values)
        return np.array([run_time_s(run, changed) for run in runs])
    low, high = values.copy(), values.copy()
    low[ahead[0]] = max(math.floor(values[ahead[0]]), 1)
    high[ahead[0]] = low[ahead[0]] + 1.0
    share = min(max(values[ahead[0]] - low[ahead[0]], 0.0), 1.0)
    below, above = (with_values(machine, parameters, some) for some in (low, high))
    return np.array(
        [(1.0 - share) * run_time_s(run, below) + share * run_time_s(run, above) for run in runs]
    )


def touches(run: TimedRun, parameter: Parameter) -> bool:
    """Whether a parameter can have anything to do with a run."""
    if parameter.table not in KINDS:
        return True
    used = {run.limits, "travel"} if run.shape == "settle" else {run.limits}
    both_axes = run.shape in ("zigzag", "stairs", "loops")
    return parameter.table in used and (both_axes or parameter.axis == "xy".index(run.along))


def reach_mm(run: TimedRun) -> tuple[float, float]:
    """How far a run goes from its start in x and in y; no run goes below its start."""
    pattern = _pattern(run)
    return float(pattern["x_mm"].max()), float(pattern["y_mm"].max())


def _pattern(run: TimedRun) -> MoveArray:
    """Moves of one repeat, from (0, 0) and back to it."""
    points, kinds = _SHAPES[run.shape](run)
    moves = np.zeros(len(points), dtype=MOVE_DTYPE)
    x, y = points.T if run.along == "x" else points.T[::-1]
    moves["x_mm"], moves["y_mm"] = np.round(x, run.decimals), np.round(y, run.decimals)
    moves["kind"] = kinds
    moves["speed_mm_s"] = np.where(moves["kind"] == MoveKind.TRAVEL, TRAVEL_MM_S, run.asked_mm_s)
    moves["source"] = -1
    return moves


def _strokes(run: TimedRun) -> tuple[FloatArray, list[int]]:
    if run.limits != "scanning":
        return _on_axis([run.length_mm, 0.0]), [KINDS[run.limits]] * 2
    near = RUN_UP_SHARE * run.length_mm
    far = run.length_mm - near
    forth_and_back = [near, far, run.length_mm, far, near, 0.0]
    return _on_axis(forth_and_back), [MoveKind.RUN_UP, MoveKind.ROW, MoveKind.RUN_UP] * 2


def _zigzag(run: TimedRun) -> tuple[FloatArray, list[int]]:
    half = math.radians(run.turn_deg) / 2.0
    number = np.arange(run.count + 1)
    # each tooth is rounded alike, so that all corners are
    along = round(run.length_mm * math.cos(half), run.decimals) * number
    across = round(run.length_mm * math.sin(half), run.decimals) * (number % 2)
    return _and_back(np.column_stack([along, across])), [KINDS[run.limits]] * (2 * run.count)


def _stairs(run: TimedRun) -> tuple[FloatArray, list[int]]:
    number = np.arange(run.count + 1)
    line = run.length_mm * np.column_stack([(number + 1) // 2, number // 2])
    return _and_back(line.astype(np.float64)), [KINDS[run.limits]] * (2 * run.count)


def _pieces(run: TimedRun) -> tuple[FloatArray, list[int]]:
    ends = run.length_mm * np.arange(run.count + 1, dtype=np.float64)
    return _and_back(_on_axis(ends)), [KINDS[run.limits]] * (2 * run.count)


def _settle(run: TimedRun) -> tuple[FloatArray, list[int]]:
    return _on_axis([run.length_mm, 0.0]), [MoveKind.TRAVEL, KINDS[run.limits]]


def _loops(run: TimedRun) -> tuple[FloatArray, list[int]]:
    # from the lowest point, r to the right of the start, so that the circle stays beside it
    angle = 2.0 * math.pi * np.arange(1, ROUNDS * run.count + 1) / run.count
    lowest = np.array([[run.length_mm, 0.0]])
    circle = lowest + run.length_mm * np.column_stack([np.sin(angle), 1.0 - np.cos(angle)])
    kind = KINDS[run.limits]
    points = np.concatenate([lowest, circle, [[0.0, 0.0]]])
    return np.maximum(points, 0.0), [kind] * len(points)


_SHAPES = {
    "strokes": _strokes,
    "zigzag": _zigzag,
    "stairs": _stairs,
    "pieces": _pieces,
    "settle": _settle,
    "loops": _loops,
}


def _on_axis(along: Sequence[float] | FloatArray) -> FloatArray:
    return np.column_stack([along, np.zeros(len(along))])


def _and_back(line: FloatArray) -> FloatArray:
    return np.concatenate([line[1:], line[-2::-1]])
