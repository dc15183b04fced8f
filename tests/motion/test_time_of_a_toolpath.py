"""The clock: what must hold for any toolpath on any machine."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.toolpath import MoveKind, Toolpath, join, moves_along

MakeMachine = Callable[..., Machine]

points_mm = hnp.arrays(
    np.float64,
    st.tuples(st.integers(1, 30), st.just(2)),
    elements=st.floats(-500.0, 500.0, allow_nan=False).map(lambda v: round(v, 3)),
)


def cutting(points: np.ndarray, speed_mm_s: float = 100.0) -> Toolpath:
    return Toolpath(
        moves_along(
            np.asarray(points, dtype=float),
            kind=MoveKind.CUT,
            speed_mm_s=speed_mm_s,
            power=0.5,
            source=0,
        )
    )


@given(points=points_mm, speed=st.floats(1.0, 2000.0))
def test_never_faster_than_the_wanted_speed_and_never_endless(
    machine: Machine, points: np.ndarray, speed: float
) -> None:
    toolpath = cutting(points, speed)
    seconds = time_toolpath(toolpath, machine).total_s
    assert seconds >= toolpath.lengths_mm.sum() / speed * (1 - 1e-9)
    stop_and_go = sum(
        length / speed + speed / 3100.0 + 2 * np.sqrt(length / 3100.0)
        for length in toolpath.lengths_mm
    )
    assert seconds <= stop_and_go + 1e-9


@given(points=points_mm, speed=st.floats(1.0, 900.0))
def test_the_way_back_takes_as_long_as_the_way_there(
    machine: Machine, points: np.ndarray, speed: float
) -> None:
    there = cutting(points, speed)
    line = there.points
    back = Toolpath(
        moves_along(line[::-1][1:], kind=MoveKind.CUT, speed_mm_s=speed, power=0.5, source=0),
        start_mm=(float(line[-1, 0]), float(line[-1, 1])),
    )
    # what a bend leaves for speeding up and for braking is taken at its own end of a move
    assert time_toolpath(back, machine).total_s == pytest.approx(
        time_toolpath(there, machine).total_s, rel=1e-3
    )


@given(points=points_mm)
def test_a_stronger_machine_is_never_slower(make_machine: MakeMachine, points: np.ndarray) -> None:
    weak = make_machine()
    strong = make_machine(
        cutting=AxisLimits(speed_mm_s=(2000.0, 2000.0), acceleration_mm_s2=(6200.0, 6200.0))
    )
    toolpath = cutting(points, 1500.0)
    assert time_toolpath(toolpath, strong).total_s <= time_toolpath(toolpath, weak).total_s * (
        1 + 1e-12
    )


@given(points=points_mm, pieces=st.integers(2, 9))
def test_splitting_straight_moves_changes_nothing(
    machine: Machine, points: np.ndarray, pieces: int
) -> None:
    whole = cutting(points)
    line = whole.points
    steps = np.linspace(0.0, 1.0, pieces + 1)[1:]
    fine = np.concatenate([a + steps[:, None] * (b - a) for a, b in pairwise(line)])
    assert time_toolpath(cutting(fine), machine).total_s == pytest.approx(
        time_toolpath(whole, machine).total_s, rel=1e-6
    )


def test_moves_without_length_take_no_time_and_make_no_corner(machine: Machine) -> None:
    plain = cutting(np.array([[50.0, 0.0], [100.0, 0.0]]))
    doubled = cutting(np.array([[50.0, 0.0], [50.0, 0.0], [100.0, 0.0], [100.0, 0.0]]))
    seconds = move_times_s(doubled, machine)
    assert seconds[1] == seconds[3] == 0.0
    assert seconds.sum() == pytest.approx(move_times_s(plain, machine).sum(), rel=1e-12)


def test_no_moves_take_no_time(machine: Machine) -> None:
    assert time_toolpath(cutting(np.empty((0, 2))), machine).total_s == 0.0


def test_the_slower_axis_governs_a_slanted_move(make_machine: MakeMachine) -> None:
    machine = make_machine(
        cutting=AxisLimits(speed_mm_s=(100.0, 50.0), acceleration_mm_s2=(1e9, 1e9))
    )
    slanted = cutting(np.array([[300.0, 400.0]]), 1000.0)
    # y has 400 mm to go at 50 mm/s, x only 300 mm at 100 mm/s
    assert time_toolpath(slanted, machine).total_s == pytest.approx(8.0, rel=1e-5)


def test_rows_loops_and_travel_each_use_their_own_acceleration(make_machine: MakeMachine) -> None:
    machine = make_machine(
        travel=AxisLimits(speed_mm_s=(1e6, 1e6), acceleration_mm_s2=(100.0, 100.0)),
        cutting=AxisLimits(speed_mm_s=(1e6, 1e6), acceleration_mm_s2=(400.0, 400.0)),
        scanning=AxisLimits(speed_mm_s=(1e6, 1e6), acceleration_mm_s2=(1600.0, 1600.0)),
    )
    for kind, seconds in [
        (MoveKind.TRAVEL, 2.0),
        (MoveKind.CUT, 1.0),
        (MoveKind.SCORE, 1.0),
        (MoveKind.LOOP, 1.0),
        (MoveKind.ROW, 0.5),
        (MoveKind.RUN_UP, 0.5),
    ]:
        moves = moves_along(
            np.array([[100.0, 0.0]]), kind=kind, speed_mm_s=1e6, power=0.5, source=0
        )
        # a triangle: 2·sqrt(L/a)
        assert time_toolpath(Toolpath(moves), machine).total_s == pytest.approx(seconds)


def test_a_right_angle_is_taken_slower_with_a_smaller_deviation(make_machine: MakeMachine) -> None:
    corner = cutting(np.array([[100.0, 0.0], [100.0, 100.0]]), 200.0)
    times = [
        time_toolpath(corner, make_machine(junction_deviation_mm=deviation)).total_s
        for deviation in (0.0, 0.01, 0.1, 1.0)
    ]
    assert times == sorted(times, reverse=True)
    assert times[0] > times[-1]


def test_a_corner_speed_limit_replaces_the_deviation(make_machine: MakeMachine) -> None:
    corner = cutting(np.array([[100.0, 0.0], [100.0, 100.0]]), 200.0)
    stop = time_toolpath(corner, make_machine(corner_speed_mm_s=0.0)).total_s
    two_moves = 2 * (100.0 / 200.0 + 200.0 / 3100.0)
    assert stop == pytest.approx(two_moves)
    assert time_toolpath(corner, make_machine(corner_speed_mm_s=200.0)).total_s == pytest.approx(
        200.0 / 200.0 + 200.0 / 3100.0
    )


def test_waits_come_after_travel_and_before_the_beam_but_not_in_flight(
    make_machine: MakeMachine,
) -> None:
    machine = make_machine(settle_s=0.1, beam_delay_s=0.25)

    def move(x: float, kind: MoveKind, power: float) -> np.ndarray:
        return moves_along(np.array([[x, 0.0]]), kind=kind, speed_mm_s=100.0, power=power, source=0)

    row = Toolpath(
        join(
            [
                move(10.0, MoveKind.TRAVEL, 0.0),
                move(20.0, MoveKind.RUN_UP, 0.0),
                move(40.0, MoveKind.ROW, 0.5),
                move(50.0, MoveKind.RUN_UP, 0.0),
            ]
        )
    )
    assert time_toolpath(row, machine).wait_s == pytest.approx(0.1)
    cut = Toolpath(join([move(10.0, MoveKind.TRAVEL, 0.0), move(20.0, MoveKind.CUT, 0.5)]))
    times = time_toolpath(cut, machine)
    assert times.wait_s == pytest.approx(0.35)
    assert times.total_s == pytest.approx(float(move_times_s(cut, machine).sum()))
