"""Times against the closed forms of uniformly accelerated motion.

Source: any mechanics handbook; for the corner, junction deviation as published with the
controllers that use it: v² = a·δ·sin(θ/2)/(1 − sin(θ/2)).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest

from kerfwright.motion.kernel import Rules, time_moves
from kerfwright.motion.timing import run_up_mm, time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath, moves_along


def straight(length_mm: float, speed_mm_s: float, kind: MoveKind) -> Toolpath:
    return Toolpath(
        moves_along(
            np.array([[length_mm, 0.0]]), kind=kind, speed_mm_s=speed_mm_s, power=0.5, source=0
        )
    )


@pytest.mark.parametrize("length_mm", [0.01, 1.0, 40.0, 322.0, 323.0, 900.0])
def test_one_move_is_a_trapezoid_or_a_triangle(machine: Machine, length_mm: float) -> None:
    v, a = 1000.0, 3100.0
    long_enough = length_mm >= v**2 / a
    expected = length_mm / v + v / a if long_enough else 2 * math.sqrt(length_mm / a)
    seconds = time_toolpath(straight(length_mm, v, MoveKind.CUT), machine).total_s
    assert seconds == pytest.approx(expected, rel=1e-12)


def test_run_up_is_v_squared_over_2a(machine: Machine) -> None:
    assert run_up_mm(1000.0, machine.scanning) == pytest.approx(31.25)
    # along the diagonal both axes share the work, so that the beam gains a factor √2
    assert run_up_mm(1000.0, machine.scanning, 45.0) == pytest.approx(31.25 / math.sqrt(2))


def test_a_row_with_its_run_up_takes_length_over_speed_plus_two_ramps(machine: Machine) -> None:
    speed, length = 1000.0, 50.0
    ramp = run_up_mm(speed, machine.scanning)
    seconds = time_toolpath(straight(length + 2 * ramp, speed, MoveKind.ROW), machine).total_s
    assert seconds == pytest.approx(length / speed + 2 * speed / 16000.0, rel=1e-12)


@pytest.mark.parametrize("turn_deg", [5.0, 30.0, 90.0, 120.0, 179.0])
def test_corner_speed_is_the_junction_deviation_formula(turn_deg: float) -> None:
    # the first move lies along x, where the acceleration is a; the second's is never less
    a, deviation = 3000.0, 0.02
    turn = math.radians(turn_deg)
    x = np.array([0.0, 1000.0, 1000.0 + 1000.0 * math.cos(turn)])
    y = np.array([0.0, 0.0, 1000.0 * math.sin(turn)])
    motion = time_moves(
        x,
        y,
        np.array([1e5, 1e5]),
        np.zeros(2, dtype=np.uint8),
        np.array([[1e6, 1e6, a, a, 0.0, 0.0]]),
        np.zeros(2, dtype=bool),
        Rules(deviation),
    )
    half = math.sin((math.pi - turn) / 2)
    assert motion.entry_mm_s[1] == pytest.approx(
        math.sqrt(a * deviation * half / (1 - half)), rel=1e-9
    )


def test_a_fine_circle_is_taken_at_the_centripetal_limit(
    make_machine: Callable[..., Machine],
) -> None:
    # chords that stray δ from a circle make the junction rule give v² = a·r, since then the
    # turn φ = sqrt(8δ/r) and sin(θ/2) = cos(φ/2) ≈ 1 − φ²/8
    radius, deviation = 40.0, 0.01
    machine = make_machine(junction_deviation_mm=deviation)
    count = round(2 * math.pi / math.sqrt(8 * deviation / radius))
    angle = np.linspace(0.0, 20 * math.pi, 10 * count + 1)
    points = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    toolpath = Toolpath(
        moves_along(points[1:], kind=MoveKind.CUT, speed_mm_s=1e4, power=1.0, source=0),
        start_mm=(radius, 0.0),
    )
    machine = machine.model_copy(
        update={"cutting": machine.cutting.model_copy(update={"speed_mm_s": (1e5, 1e5)})}
    )
    speed = toolpath.lengths_mm.sum() / time_toolpath(toolpath, machine).total_s
    centripetal = math.sqrt(3100.0 * radius)
    # on the diagonals both axes turn the beam, and the limit is √2 times higher
    assert centripetal * 0.98 <= speed <= centripetal * 2**0.25 * 1.02


def test_the_trade_time_of_a_square_in_rows_and_in_loops(machine: Machine) -> None:
    """Solid 50 mm square at 1000 mm/s, interval 0.1 mm: 1:25–1:29 in rows, 2:49 in loops.

    Common practice, no source. By hand-built toolpaths here; by the engraving stage's own in
    its outside check.
    """
    ramp = run_up_mm(1000.0, machine.scanning)
    rows = []
    for number in range(500):
        y = 0.05 + 0.1 * number
        ends = [(-ramp, y), (50.0 + ramp, y)]
        rows.extend(ends if number % 2 == 0 else ends[::-1])
    row_moves = moves_along(
        np.array(rows[1:]), kind=MoveKind.ROW, speed_mm_s=1000.0, power=0.5, source=0
    )
    row_seconds = time_toolpath(Toolpath(row_moves, rows[0]), machine).total_s
    assert row_seconds == pytest.approx(87.0, rel=0.05)

    loops: list[tuple[float, float]] = []
    for number in range(250):
        near, far = 0.05 + 0.1 * number, 49.95 - 0.1 * number
        loops += [(near, near), (far, near), (far, far), (near, far), (near, near)]
    loop_moves = moves_along(
        np.array(loops[1:]), kind=MoveKind.LOOP, speed_mm_s=1000.0, power=0.5, source=0
    )
    loop_seconds = time_toolpath(Toolpath(loop_moves, loops[0]), machine).total_s
    assert loop_seconds == pytest.approx(169.0, rel=0.05)
    assert row_seconds < loop_seconds
