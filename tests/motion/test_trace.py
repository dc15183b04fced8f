"""The trace tells the same as the clock, and obeys the laws of motion and of energy.

Source of the laws: any mechanics handbook: v² = v₀² + 2·a·s, s = ½·(v₀ + v)·t, E = ∫ P dt.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given

from kerfwright.motion.jerk import STANDING_MM_S
from kerfwright.motion.line_energy import peak_line_energy
from kerfwright.motion.moments import moments_at, moments_of_change
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.motion.trace import Trace, trace_of
from kerfwright.shop.machine import AxisLimits, Controller, Dialect, Machine
from kerfwright.toolpath import MoveKind, Toolpath, join, moves_along
from moving_machines import cutting, machines, toolpaths

MakeMachine = Callable[..., Machine]

ROUNDING_MM_S = 1e-6


def limits_of(machine: Machine, kind: int) -> AxisLimits:
    if kind == MoveKind.TRAVEL:
        return machine.travel
    return machine.scanning if kind in (MoveKind.ROW, MoveKind.RUN_UP) else machine.cutting


@given(toolpath=toolpaths(), machine=machines())
def test_the_trace_takes_as_long_as_the_clock_says(toolpath: Toolpath, machine: Machine) -> None:
    trace = trace_of(toolpath, machine)
    clock = time_toolpath(toolpath, machine)
    assert trace.total_s == pytest.approx(clock.total_s, rel=1e-9, abs=1e-9)
    standing = trace.length_mm == 0.0
    assert trace.seconds[standing].sum() == pytest.approx(clock.wait_s, abs=1e-12)
    assert trace.begin_s == pytest.approx(np.cumsum(trace.seconds) - trace.seconds, abs=1e-9)


@given(toolpath=toolpaths(), machine=machines(jerk=False))
def test_without_a_limit_on_jerk_every_move_takes_as_long_as_the_clock_says(
    toolpath: Toolpath, machine: Machine
) -> None:
    trace = trace_of(toolpath, machine)
    of_moves = np.bincount(trace.move, trace.seconds, len(toolpath))
    assert of_moves == pytest.approx(move_times_s(toolpath, machine), rel=1e-9, abs=1e-9)


@given(toolpath=toolpaths(), machine=machines())
def test_every_move_is_gone_through_from_end_to_end(toolpath: Toolpath, machine: Machine) -> None:
    trace = trace_of(toolpath, machine)
    gone = np.bincount(trace.move, trace.length_mm, len(toolpath))
    assert gone == pytest.approx(toolpath.lengths_mm, rel=1e-9, abs=1e-8)
    after = trace.along_mm + trace.length_mm
    same = np.diff(trace.move) == 0
    assert after[:-1][same] == pytest.approx(trace.along_mm[1:][same], rel=1e-9, abs=1e-9)


@given(toolpath=toolpaths(), machine=machines())
def test_speed_never_jumps(toolpath: Toolpath, machine: Machine) -> None:
    trace = trace_of(toolpath, machine)
    if len(trace) == 0:
        return
    # a turn back may be taken at a hair of speed, which counts as standing still
    jumps = np.abs(trace.end_mm_s[:-1] - trace.start_mm_s[1:])
    assert jumps.max(initial=0.0) <= STANDING_MM_S
    unlimited = all(
        limits.jerk_mm_s3 is None for limits in (machine.travel, machine.cutting, machine.scanning)
    )
    if unlimited:
        assert jumps.max(initial=0.0) <= ROUNDING_MM_S
    assert trace.start_mm_s[0] == trace.end_mm_s[-1] == 0.0


@given(toolpath=toolpaths(), machine=machines())
def test_the_machine_stands_still_while_it_waits(toolpath: Toolpath, machine: Machine) -> None:
    trace = trace_of(toolpath, machine)
    for i in np.flatnonzero(trace.length_mm == 0.0).tolist():
        assert trace.start_mm_s[i] == trace.end_mm_s[i] == 0.0
        assert trace.energy_j[i] == 0.0
        assert i == 0 or trace.end_mm_s[i - 1] == pytest.approx(0.0, abs=ROUNDING_MM_S)
        assert trace.start_mm_s[i + 1] == pytest.approx(0.0, abs=ROUNDING_MM_S)


@given(toolpath=toolpaths(), machine=machines())
def test_no_axis_goes_faster_or_harder_than_it_can(toolpath: Toolpath, machine: Machine) -> None:
    trace = trace_of(toolpath, machine)
    steps = np.diff(toolpath.points, axis=0)
    lengths = np.where(toolpath.lengths_mm > 0.0, toolpath.lengths_mm, 1.0)
    shares = np.abs(steps / lengths[:, None])[trace.move]
    kinds = toolpath.moves["kind"][trace.move]
    speed = np.array([limits_of(machine, k).speed_mm_s for k in kinds]).reshape(-1, 2)
    most = np.array([limits_of(machine, k).acceleration_mm_s2 for k in kinds]).reshape(-1, 2)
    top = np.maximum(trace.start_mm_s, trace.end_mm_s)
    assert np.all(top <= toolpath.moves["speed_mm_s"][trace.move] * (1 + 1e-9))
    assert np.all(top[:, None] * shares <= speed * (1 + 1e-9))
    harder = np.abs(trace.end_mm_s - trace.start_mm_s) / trace.seconds
    lasting = trace.seconds > 1e-6
    # in a curve the axis' own change of direction counts against what goes along the path, and
    # may be as large as the limit
    allowed = 2.0 if machine.slows_in_curves else 1.0
    assert np.all((harder[:, None] * shares)[lasting] <= allowed * most[lasting] * (1 + 1e-4))


@given(toolpath=toolpaths(), machine=machines())
def test_each_stretch_is_uniformly_accelerated(toolpath: Toolpath, machine: Machine) -> None:
    trace = trace_of(toolpath, machine)
    moving = trace.length_mm > 1e-6
    v0, v, t, s = (
        values[moving]
        for values in (trace.start_mm_s, trace.end_mm_s, trace.seconds, trace.length_mm)
    )
    assert s == pytest.approx(0.5 * (v0 + v) * t, rel=1e-6, abs=1e-9)
    a = (v - v0) / t
    assert v**2 == pytest.approx(v0**2 + 2.0 * a * s, rel=1e-6, abs=1e-3)


@given(toolpath=toolpaths(), machine=machines())
def test_energy_is_power_over_time(toolpath: Toolpath, machine: Machine) -> None:
    """Integrated by Boole's rule over each stretch, apart from the trace's own sum."""
    trace = trace_of(toolpath, machine)
    times = np.linspace(0.0, 1.0, 5)
    power = trace.start_w[:, None] + (trace.end_w - trace.start_w)[:, None] * times
    weights = np.array([7.0, 32.0, 12.0, 32.0, 7.0]) / 90.0
    assert trace.energy_j == pytest.approx(power @ weights * trace.seconds, rel=1e-9, abs=1e-12)
    asked = machine.power_w * toolpath.moves["power"][trace.move]
    assert np.all(trace.end_w <= asked * (1 + 1e-12))
    if machine.controller.dialect is Dialect.RS274_NGC:
        assert np.all(trace.start_w[trace.length_mm > 0.0] == asked[trace.length_mm > 0.0])


@given(toolpath=toolpaths(), machine=machines())
def test_power_that_follows_speed_gives_every_millimetre_the_same(
    toolpath: Toolpath, machine: Machine
) -> None:
    """P·v/v_asked over v is P/v_asked: the length alone decides."""
    trace = trace_of(toolpath, machine, power_follows_speed=True)
    moves = toolpath.moves
    wanted = machine.power_w * moves["power"] * toolpath.lengths_mm / moves["speed_mm_s"]
    assert np.bincount(trace.move, trace.energy_j, len(moves)) == pytest.approx(
        wanted, rel=1e-6, abs=1e-9
    )


@given(toolpath=toolpaths(), machine=machines())
def test_moments_lie_on_the_path_and_their_speed_is_the_way_over_time(
    toolpath: Toolpath, machine: Machine
) -> None:
    trace = trace_of(toolpath, machine)
    if len(trace) == 0:
        return
    times = np.linspace(0.0, trace.total_s, 2001)
    at = moments_at(trace, toolpath, times)
    assert at.time_s == pytest.approx(times, abs=1e-9)
    start, end = toolpath.points[at.move], toolpath.points[at.move + 1]
    place = np.column_stack([at.x_mm, at.y_mm])
    detour = (
        np.hypot(*(place - start).T) + np.hypot(*(end - place).T) - toolpath.lengths_mm[at.move]
    )
    assert np.abs(detour).max() < 1e-6
    step_s = times[1]
    way = np.hypot(np.diff(at.x_mm), np.diff(at.y_mm))
    # a chord is never longer than what the highest speed about it gives
    fastest = np.maximum(at.speed_mm_s[:-1], at.speed_mm_s[1:]) + 33_000.0 * step_s
    assert np.all(way <= fastest * step_s + 1e-9)


@given(toolpath=toolpaths(), machine=machines())
def test_rows_at_every_change_hold_the_whole_motion(toolpath: Toolpath, machine: Machine) -> None:
    trace = trace_of(toolpath, machine)
    rows = moments_of_change(trace, toolpath)
    seconds = np.diff(rows.time_s)
    assert np.all(seconds >= 0.0)
    if len(rows) == 0:
        return
    assert rows.time_s[-1] == pytest.approx(trace.total_s, abs=1e-9)
    way = (0.5 * (rows.speed_mm_s[:-1] + rows.speed_mm_s[1:]) * seconds).sum()
    assert way == pytest.approx(toolpath.lengths_mm.sum(), rel=1e-6, abs=1e-6)
    energy = (0.5 * (rows.power_w[:-1] + rows.power_w[1:]) * seconds).sum()
    assert energy == pytest.approx(trace.energy_j.sum(), rel=1e-6, abs=1e-6)


def test_a_move_from_rest_to_rest_in_numbers(make_machine: MakeMachine) -> None:
    """310 mm at 310 mm/s with 3100 mm/s²: 0.1 s up, 0.9 s level, 0.1 s down."""
    machine = make_machine(controller=Controller(dialect=Dialect.RS274_NGC))
    trace = trace_of(cutting([[0.0, 0.0], [310.0, 0.0]], 310.0), machine)
    assert trace.seconds == pytest.approx([0.1, 0.9, 0.1])
    assert trace.length_mm == pytest.approx([15.5, 279.0, 15.5])
    assert trace.energy_j == pytest.approx([3.0, 27.0, 3.0])
    followed = trace_of(
        cutting([[0.0, 0.0], [310.0, 0.0]], 310.0), machine, power_follows_speed=True
    )
    assert followed.energy_j == pytest.approx([1.5, 27.0, 1.5])


def brute_peak_j_mm(trace: Trace, spot_mm: float) -> float:
    """The same by very many even moments and windows between any two of them."""
    inside = np.linspace(0.0, 1.0, 20_001)
    energy = [np.zeros(1)]
    along = [np.zeros(1)]
    for i in range(len(trace)):
        t = inside[1:] * trace.seconds[i]
        slope_v = (trace.end_mm_s[i] - trace.start_mm_s[i]) / trace.seconds[i]
        slope_w = (trace.end_w[i] - trace.start_w[i]) / trace.seconds[i]
        along.append(along[-1][-1] + trace.start_mm_s[i] * t + 0.5 * slope_v * t * t)
        energy.append(energy[-1][-1] + trace.start_w[i] * t + 0.5 * slope_w * t * t)
    way, total = np.concatenate(along), np.concatenate(energy)
    begin = way[way <= way[-1] - spot_mm]
    reached = np.interp(begin + spot_mm, way, total) - np.interp(begin, way, total)
    return float(reached.max(initial=0.0) / spot_mm)


@pytest.mark.parametrize("dialect", list(Dialect))
@pytest.mark.parametrize("spot_mm", [0.05, 0.1, 2.0])
def test_peak_line_energy_by_brute_force(
    make_machine: MakeMachine, dialect: Dialect, spot_mm: float
) -> None:
    machine = make_machine(controller=Controller(dialect=dialect), junction_deviation_mm=0.02)
    corner = [[0.0, 0.0], [30.0, 0.0], [30.0, 3.0], [60.0, 1.0], [60.0, 0.4], [20.0, -7.0]]
    toolpath = cutting(np.array(corner), 300.0, 0.7)
    trace = trace_of(toolpath, machine)
    peak = peak_line_energy(trace, toolpath, spot_mm)
    assert peak is not None
    assert peak.j_mm == pytest.approx(brute_peak_j_mm(trace, spot_mm), rel=2e-4)


def test_peak_line_energy_in_closed_form(make_machine: MakeMachine) -> None:
    """A corner taken from rest, P constant: each half of the spot takes √(2·(d/2)/a) seconds."""
    machine = make_machine(controller=Controller(dialect=Dialect.RS274_NGC), corner_speed_mm_s=0.0)
    toolpath = cutting(np.array([[0.0, 0.0], [50.0, 0.0], [50.0, 40.0]]), 300.0, 0.5)
    trace = trace_of(toolpath, machine)
    peak = peak_line_energy(trace, toolpath, 0.2)
    assert peak is not None
    assert peak.j_mm == pytest.approx(30.0 * 2.0 * np.sqrt(2.0 * 0.1 / 3100.0) / 0.2, rel=1e-9)
    assert (peak.x_mm, peak.y_mm) == pytest.approx((50.0, 0.0), abs=1e-6)


def test_ends_of_two_lines_far_apart_are_not_added_up(make_machine: MakeMachine) -> None:
    machine = make_machine(controller=Controller(dialect=Dialect.RS274_NGC))

    def to(x: float, kind: MoveKind, power: float) -> np.ndarray:
        return moves_along(np.array([[x, 0.0]]), kind=kind, speed_mm_s=300.0, power=power, source=0)

    one = Toolpath(to(50.0, MoveKind.CUT, 0.5))
    two = Toolpath(join([one.moves, to(150.0, MoveKind.TRAVEL, 0.0), to(200.0, MoveKind.CUT, 0.5)]))
    peaks = [peak_line_energy(trace_of(t, machine), t, 0.2) for t in (one, two)]
    assert peaks[0] is not None and peaks[1] is not None
    assert peaks[1].j_mm == pytest.approx(peaks[0].j_mm, rel=1e-9)
    only = peak_line_energy(trace_of(two, machine), two, 0.2, np.array([False, False, True]))
    assert only is not None and only.move == 2


def test_nothing_burns_nowhere(machine: Machine) -> None:
    toolpath = cutting(np.array([[0.0, 0.0], [10.0, 0.0]]), 100.0, 0.0)
    assert peak_line_energy(trace_of(toolpath, machine), toolpath, 0.1) is None
    empty = cutting(np.array([[0.0, 0.0]]))
    trace = trace_of(empty, machine)
    assert len(trace) == len(moments_of_change(trace, empty)) == 0
    assert peak_line_energy(trace, empty, 0.1) is None
    assert len(moments_at(trace, empty, np.array([0.0]))) == 0
