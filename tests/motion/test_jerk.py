"""A limit on jerk against the profile of seven segments, integrated apart from the kernel.

Source: Biagiotti & Melchiorri, *Trajectory Planning for Automatic Machines and Robots*, 2008,
section 3.4, the double S from rest to rest: jerk +J, 0, −J, then level, then −J, 0, +J.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from kerfwright.motion.jerk import s_curve_s
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.toolpath import Toolpath
from moving_machines import cutting, machines, toolpaths

MakeMachine = Callable[..., Machine]

STEPS = 2000


def segments_of(peak: float, a: float, jerk: float) -> list[tuple[float, float]]:
    """Seconds and jerk of the segments that speed up to ``peak`` as fast as the limits allow."""
    if peak * jerk >= a * a:
        building = a / jerk
        return [(building, jerk), (peak / a - building, 0.0), (building, -jerk)]
    building = math.sqrt(peak / jerk)
    return [(building, jerk), (building, -jerk)]


def driven(segments: list[tuple[float, float]]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Way, speed and acceleration over time by summing up jerk step by step."""
    jerk = np.concatenate([np.full(STEPS, j) for _, j in segments])
    step = np.concatenate([np.full(STEPS, t / STEPS) for t, _ in segments])
    acceleration = np.concatenate([[0.0], np.cumsum(jerk * step)])
    speed = np.concatenate([[0.0], np.cumsum(0.5 * (acceleration[:-1] + acceleration[1:]) * step)])
    # Simpson's rule is exact for the parabola of one step
    middle = speed[:-1] + 0.5 * acceleration[:-1] * step + 0.125 * jerk * step * step
    way = np.concatenate([[0.0], np.cumsum((speed[:-1] + 4 * middle + speed[1:]) * step / 6.0)])
    return way, speed, acceleration


def fastest_s(length: float, top: float, a: float, jerk: float) -> float:
    """Seconds of the fastest profile of seven segments, its peak speed found by bisection."""

    def way_up(peak: float) -> float:
        return float(driven(segments_of(peak, a, jerk))[0][-1])

    if 2.0 * way_up(top) <= length:
        peak, level_s = top, (length - 2.0 * way_up(top)) / top
    else:
        peak = brentq(lambda v: 2.0 * way_up(v) - length, 1e-12 * top, top, xtol=1e-14 * top)
        level_s = 0.0
    return 2.0 * sum(t for t, _ in segments_of(peak, a, jerk)) + level_s


@pytest.mark.parametrize("jerk", [1e4, 1e5, 1e6, 1e8])
@pytest.mark.parametrize("length", [0.01, 1.0, 30.0, 322.6, 900.0])
@pytest.mark.parametrize(("top", "a"), [(20.0, 3100.0), (1000.0, 3100.0), (1000.0, 16_000.0)])
def test_one_move_takes_as_long_as_the_seven_segments(
    make_machine: MakeMachine, length: float, top: float, a: float, jerk: float
) -> None:
    expected = fastest_s(length, top, a, jerk)
    assert s_curve_s(length, top, a, jerk) == pytest.approx(expected, rel=1e-6)
    limits = AxisLimits(speed_mm_s=(top, top), acceleration_mm_s2=(a, a), jerk_mm_s3=(jerk, jerk))
    machine = make_machine(cutting=limits)
    move = cutting(np.array([[0.0, 0.0], [length, 0.0]]), 5000.0)
    assert time_toolpath(move, machine).total_s == pytest.approx(expected, rel=1e-6)


@given(
    length=st.floats(0.01, 900.0),
    top=st.floats(5.0, 2000.0),
    a=st.floats(100.0, 30_000.0),
    jerk=st.floats(1e3, 1e8),
)
def test_the_profile_itself_keeps_its_limits(
    length: float, top: float, a: float, jerk: float
) -> None:
    """The integration is no restatement of the formula: it shows way, speed and acceleration."""
    up = segments_of(top, a, jerk)
    way, speed, acceleration = driven([*up, *[(t, -j) for t, j in up]])
    assert speed[-1] == pytest.approx(0.0, abs=1e-6 * top)
    assert speed.max() == pytest.approx(top, rel=1e-6)
    assert np.abs(acceleration).max() <= a * (1 + 1e-9)
    # the time for just this way is that of the closed form
    seconds = 2.0 * sum(t for t, _ in up)
    assert s_curve_s(float(way[-1]), top, a, jerk) == pytest.approx(seconds, rel=1e-6)
    assert s_curve_s(length, top, a, jerk) >= length / top


@given(length=st.floats(0.01, 900.0), top=st.floats(5.0, 2000.0), a=st.floats(100.0, 30_000.0))
def test_a_boundless_jerk_is_the_trapezoid(length: float, top: float, a: float) -> None:
    trapezoid = length / top + top / a if length >= top**2 / a else 2.0 * math.sqrt(length / a)
    assert s_curve_s(length, top, a, 1e15) == pytest.approx(trapezoid, rel=1e-4)


def jerked(machine: Machine, jerk: float | None) -> Machine:
    pair = None if jerk is None else (jerk, jerk)
    return machine.model_copy(
        update={
            name: getattr(machine, name).model_copy(update={"jerk_mm_s3": pair})
            for name in ("travel", "cutting", "scanning")
        }
    )


@given(toolpath=toolpaths(), machine=machines())
def test_a_larger_jerk_is_never_slower(toolpath: Toolpath, machine: Machine) -> None:
    seconds = [
        time_toolpath(toolpath, jerked(machine, jerk)).total_s
        for jerk in (1e3, 1e5, 1e7, 1e9, None)
    ]
    for softer, harder in pairwise(seconds):
        assert harder <= softer * (1.0 + 1e-9)
    assert seconds[-2] == pytest.approx(seconds[-1], rel=1e-3, abs=1e-3)


def test_a_slanted_move_is_held_by_the_tighter_axis(make_machine: MakeMachine) -> None:
    """Along 3:4 the y axis has 0.8 of the jerk: a limit of 8e4 on y allows 1e5 along the move."""
    limits = AxisLimits(
        speed_mm_s=(5000.0, 5000.0),
        acceleration_mm_s2=(3000.0, 4000.0),
        jerk_mm_s3=(1e9, 8e4),
    )
    move = cutting(np.array([[0.0, 0.0], [60.0, 80.0]]), 300.0)
    seconds = time_toolpath(move, make_machine(cutting=limits)).total_s
    assert seconds == pytest.approx(fastest_s(100.0, 300.0, 5000.0, 1e5), rel=1e-6)


@pytest.mark.parametrize("jerk", [1e5, 1e6])
def test_a_nearly_still_corner_costs_nearly_what_a_still_one_costs(
    make_machine: MakeMachine, jerk: float
) -> None:
    """Rows to and fro turn at 20 mm/s instead of 0. Between 1000 and 20 mm/s an S-shaped ramp takes
    a/J longer than a straight one and covers (v₀ + v₁)/2 · a/J of the way meanwhile, so that each
    costs a/J · (v₁ − v₀)/(2·v₁): 0.98 of what it costs from rest. The step of 0.1 mm between two
    rows is hardly slowed any more."""
    rows = [(x, 0.1 * i) for i in range(60) for x in ((0.0, 300.0) if i % 2 == 0 else (300.0, 0.0))]
    toolpath = cutting(np.array(rows), 1000.0)
    strong = AxisLimits(speed_mm_s=(1000.0, 1000.0), acceleration_mm_s2=(16_000.0, 16_000.0))

    def costs_s(deviation_mm: float) -> float:
        machine = make_machine(cutting=strong, junction_deviation_mm=deviation_mm)
        return (
            time_toolpath(toolpath, jerked(machine, jerk)).total_s
            - time_toolpath(toolpath, machine).total_s
        )

    assert 0.8 * costs_s(0.0) < costs_s(0.01) < costs_s(0.0)
