"""Toolpaths and machines that the clock and its trace are tried on; all invented."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from kerfwright.shop.machine import AxisLimits, Controller, Dialect, Machine
from kerfwright.toolpath import BURNING_KINDS, MOVE_DTYPE, MoveKind, Toolpath, moves_along

MOST_STEP_MM = 120.0


def cutting(points: np.ndarray, speed_mm_s: float = 100.0, power: float = 0.5) -> Toolpath:
    """Cut along points, beginning at the first of them."""
    points = np.asarray(points, dtype=float)
    moves = moves_along(points[1:], kind=MoveKind.CUT, speed_mm_s=speed_mm_s, power=power, source=0)
    return Toolpath(moves, (float(points[0, 0]), float(points[0, 1])))


def straight_pieces(count: int, length_mm: float, speed_mm_s: float) -> Toolpath:
    """A straight line along x in ``count`` moves of one length."""
    x = np.arange(count + 1) * length_mm
    return cutting(np.column_stack([x, np.zeros(count + 1)]), speed_mm_s)


@st.composite
def toolpaths(draw: st.DrawFn) -> Toolpath:
    """Travels, rows and cuts, long, tiny or without length, round bends and corners."""
    moves = []
    x = y = heading = 0.0
    for _ in range(draw(st.integers(1, 12))):
        kind = draw(st.sampled_from(list(MoveKind)))
        speed = draw(st.floats(5.0, 1500.0))
        power = draw(st.sampled_from([0.0, 0.2, 1.0])) if kind in BURNING_KINDS else 0.0
        heading += draw(st.sampled_from([0.0, 0.0, 0.5 * np.pi, np.pi, 2.1]))
        bend = draw(st.sampled_from([0.0, 0.0, 0.02, -0.2]))
        step = draw(st.sampled_from([0.0, 0.05, 1.0, MOST_STEP_MM]))
        for _ in range(draw(st.integers(1, 6))):
            heading += bend
            x += step * np.cos(heading)
            y += step * np.sin(heading)
            source = 0 if power else -1
            moves.append((round(x, 4), round(y, 4), speed, power, kind, source, 0.0, 0.0))
    return Toolpath(np.array(moves, dtype=MOVE_DTYPE))


@st.composite
def machines(draw: st.DrawFn, *, jerk: bool = True) -> Machine:
    """Machines of all sorts: slow, strong, uneven, short-sighted, badly fed, limited in jerk."""

    def limits() -> AxisLimits:
        jerks = [None, (2e4, 5e4), (1e6, 1e6)] if jerk else [None]
        return AxisLimits(
            speed_mm_s=draw(st.sampled_from([(1000.0, 1000.0), (300.0, 90.0)])),
            acceleration_mm_s2=draw(st.sampled_from([(3100.0, 3100.0), (16_000.0, 2_000.0)])),
            jerk_mm_s3=draw(st.sampled_from(jerks)),
        )

    return Machine(
        name="trial machine",
        bed_width_mm=900.0,
        bed_height_mm=600.0,
        power_w=60.0,
        travel=limits(),
        cutting=limits(),
        scanning=limits(),
        junction_deviation_mm=draw(st.sampled_from([0.0, 0.01, 0.2])),
        corner_speed_mm_s=draw(st.sampled_from([None, None, 0.0, 20.0])),
        slows_in_curves=draw(st.booleans()),
        settle_s=draw(st.sampled_from([0.0, 0.02])),
        beam_delay_s=draw(st.sampled_from([0.0, 0.05])),
        controller=Controller(
            dialect=draw(st.sampled_from(list(Dialect))),
            look_ahead_moves=draw(st.sampled_from([None, 1, 3, 16])),
            moves_per_s=draw(st.sampled_from([None, 40.0, 2000.0])),
        ),
        invented=True,
    )
