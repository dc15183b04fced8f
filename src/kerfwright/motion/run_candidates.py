"""All timed runs that come into question for a machine."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from kerfwright.motion.timed_runs import reach_mm, run_time_s
from kerfwright.shop.machine import Machine
from kerfwright.shop.timed_run import AxisName, LimitsName, Shape, TimedRun

LEAST_ROOM_MM = 60.0
"""Room inside the margins that runs need in both directions."""

MARGIN_SHARE = 0.05
MARGIN_MM = 20.0
"""Distance kept from the edges of the bed: a share of its shorter side, at most so much."""

ASKED = 1.5
"""Times the speed of the machine file: a faster machine shall show; the controller keeps to its
own limits."""

RUN_S = 30.0
"""About how long a run takes: a hand's error on a stopwatch, 0.2 s, is then under 1 %."""

LEAST_STROKE_MM = 4.0
LEAST_JERKED_STROKE_MM = 0.5
STROKES = 10
TURNS_DEG = (24.0, 45.0, 90.0)
TEETH_MM = (0.3, 0.5, 1.0, 2.0, 4.0)
PIECES_MM = (0.05, 0.1, 0.2, 0.4, 0.8, 1.6, 3.2, 6.4)
SETTLING_MM = (0.2, 0.5, 2.0)
LINE_SHARE = 0.5
"""Of the bed that a line of teeth or pieces covers at most."""

LINE_MOVES = 160
RADII_MM = (30.0, 10.0)
CHORD_SHARE = 0.04
"""Straight moves of a loop, as a share of its radius: so short that no corner slows it down."""


def start_mm(machine: Machine) -> tuple[float, float]:
    """Where the runs start and end: near the lower left corner of the bed."""
    side = min(machine.bed_width_mm, machine.bed_height_mm)
    margin = round(min(MARGIN_MM, MARGIN_SHARE * side), 1)
    return margin, margin


def candidates(machine: Machine) -> list[TimedRun]:
    """Runs of about :data:`RUN_S` that stay inside the bed, with a margin all around."""
    margin = start_mm(machine)
    room = (machine.bed_width_mm - 2 * margin[0], machine.bed_height_mm - 2 * margin[1])
    return [
        run.model_copy(update={"repeats": _repeats(run, machine)})
        for run in _shapes(machine, room)
        if all(reach <= side for reach, side in zip(reach_mm(run), room, strict=True))
    ]


def _repeats(run: TimedRun, machine: Machine) -> int:
    few = 12
    each_s = run_time_s(run.model_copy(update={"repeats": few}), machine) / few
    return max(round(RUN_S / each_s), 1)


def _shapes(machine: Machine, room: tuple[float, float]) -> Iterator[TimedRun]:
    for name in ("travel", "cutting", "scanning"):
        yield from _strokes(machine, name, room)
    yield from _settling(machine)
    yield from _lines(machine, room)
    for radius in RADII_MM:
        count = round(2.0 * math.pi / CHORD_SHARE)
        yield _run(machine, "loops", "cutting", "x", radius, count=count)


def _strokes(machine: Machine, name: LimitsName, room: tuple[float, float]) -> Iterator[TimedRun]:
    jerked = getattr(machine, name).jerk_mm_s3 is not None
    shortest = LEAST_JERKED_STROKE_MM if jerked else LEAST_STROKE_MM
    for axis, side in zip(("x", "y"), room, strict=True):
        along: AxisName = "x" if axis == "x" else "y"
        for length in np.geomspace(shortest, side, STROKES):
            yield _run(machine, "strokes", name, along, math.floor(length * 100.0) / 100.0)


def _settling(machine: Machine) -> Iterator[TimedRun]:
    for length in SETTLING_MM:
        yield _run(machine, "settle", "cutting", "x", length)


def _lines(machine: Machine, room: tuple[float, float]) -> Iterator[TimedRun]:
    controller = machine.controller
    for step in TEETH_MM:
        count = min(int(LINE_SHARE * min(room) / step), LINE_MOVES)
        yield _run(machine, "stairs", "cutting", "x", step, count=count)
    for axis, side in zip(("x", "y"), room, strict=True):
        along: AxisName = "x" if axis == "x" else "y"
        for tooth in TEETH_MM:
            count = min(int(LINE_SHARE * side / tooth), LINE_MOVES)
            for turn in TURNS_DEG:
                yield _run(machine, "zigzag", "cutting", along, tooth, count=count, turn_deg=turn)
        if controller.moves_per_s is not None or controller.look_ahead_moves is not None:
            for piece in PIECES_MM:
                count = max(min(int(LINE_SHARE * side / piece), LINE_MOVES), 2)
                yield _run(machine, "pieces", "cutting", along, piece, count=count)


def _run(
    machine: Machine,
    shape: Shape,
    name: LimitsName,
    along: AxisName,
    length_mm: float,
    *,
    count: int = 1,
    turn_deg: float = 0.0,
) -> TimedRun:
    turn = f"-{turn_deg:g}deg" if turn_deg else ""
    what = {
        "strokes": f"{name}-{along}",
        "settle": "settle",
        "stairs": "stairs",
        "loops": "loops",
    }.get(shape, f"{shape}-{along}")
    size = f"{length_mm:.0f}" if length_mm >= 10.0 else f"{length_mm:.2g}"
    limits = getattr(machine, name)
    asked = ASKED * max(limits.speed_mm_s)
    if shape == "strokes":
        asked = ASKED * limits.speed_mm_s["xy".index(along)]
    return TimedRun(
        name=f"{what}-{size}mm{turn}",
        shape=shape,
        limits=name,
        along=along,
        length_mm=length_mm,
        count=max(count, 1),
        turn_deg=turn_deg,
        asked_mm_s=round(asked, 3),
        decimals=min(machine.controller.decimals, 3),
        repeats=1,
    )
