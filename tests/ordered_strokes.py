"""Strokes to put in order, and the travel of what comes out; shared by several specifications."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.motion.timing import time_toolpath
from kerfwright.sequence.tour import travel_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Process, Stroke, Toolpath, moves_along


def line(
    points: Sequence[Sequence[float]] | FloatArray,
    source: int,
    *,
    closed: bool = False,
    passes: int = 1,
    phase: int = 2,
) -> Stroke:
    path = Path(np.array(points, dtype=np.float64), closed)
    return Stroke(path, Process.CUT, MoveKind.CUT, 20.0, 0.8, source, phase, passes)


def block(points: Sequence[Sequence[float]], source: int, *, phase: int = 0) -> Stroke:
    """Engraving along ``points``, one source all through."""
    there = np.array(points, dtype=np.float64)
    moves = moves_along(there[1:], kind=MoveKind.ROW, speed_mm_s=500.0, power=0.5, source=source)
    toolpath = Toolpath(moves, (float(there[0, 0]), float(there[0, 1])))
    path = Path(there[[0, -1]])
    return Stroke(path, Process.ENGRAVE, MoveKind.ROW, 500.0, 0.5, source, phase, block=toolpath)


def ring(x_mm: float, y_mm: float, radius_mm: float, source: int, corners: int = 24) -> Stroke:
    turn = np.linspace(0.0, 2.0 * np.pi, corners, endpoint=False)
    around = np.column_stack([np.cos(turn), np.sin(turn)])
    return line(np.array([x_mm, y_mm]) + radius_mm * around, source, closed=True)


def axes_of(machine: Machine) -> FloatArray:
    return np.array([*machine.travel.speed_mm_s, *machine.travel.acceleration_mm_s2])


def travel_of(toolpath: Toolpath, machine: Machine) -> float:
    """Seconds of all travels, each from rest to rest."""
    points, axes = toolpath.points, axes_of(machine)
    return sum(
        travel_s(*points[k], *points[k + 1], axes)
        for k in np.flatnonzero(toolpath.moves["kind"] == MoveKind.TRAVEL)
    )


def clock_s(here: tuple[float, float], there: tuple[float, float], machine: Machine) -> float:
    """Seconds of one travel by the clock that times whole toolpaths."""
    moves = moves_along(
        np.array([there]), kind=MoveKind.TRAVEL, speed_mm_s=1e6, power=0.0, source=-1
    )
    return time_toolpath(Toolpath(moves, here), machine).total_s


def order_of(toolpath: Toolpath) -> list[int]:
    """Sources in the order they are burned, each run of equal ones once."""
    sources = toolpath.moves["source"][toolpath.burning].tolist()
    return [s for k, s in enumerate(sources) if k == 0 or s != sources[k - 1]]
