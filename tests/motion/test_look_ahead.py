"""A controller that knows only a few moves ahead must be able to stop at the end of the last.

Source: v² = 2·a·s (any mechanics handbook). While a move is under way, N moves are known, that one
included: at its end N − 1 moves are left to stop in.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from kerfwright.motion.timing import motion_of, time_toolpath, waits_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Toolpath
from moving_machines import cutting, machines, straight_pieces, toolpaths

MakeMachine = Callable[..., Machine]

A = 3100.0


def ahead(machine: Machine, moves: int | None) -> Machine:
    """The machine with a look-ahead, fed as fast as it likes."""
    controller = machine.controller.model_copy(
        update={"look_ahead_moves": moves, "moves_per_s": None}
    )
    return machine.model_copy(update={"controller": controller})


@given(
    lengths=st.lists(st.floats(0.01, 50.0), min_size=1, max_size=20), speed=st.floats(10.0, 900.0)
)
def test_one_move_of_look_ahead_stops_after_every_move(
    machine: Machine, lengths: list[float], speed: float
) -> None:
    x = np.concatenate([[0.0], np.cumsum(lengths)])
    line = cutting(np.column_stack([x, np.zeros(len(x))]), speed)
    from_rest_to_rest = sum(
        length / speed + speed / A if length >= speed**2 / A else 2.0 * np.sqrt(length / A)
        for length in lengths
    )
    seconds = time_toolpath(line, ahead(machine, 1)).total_s
    assert seconds == pytest.approx(from_rest_to_rest, rel=1e-6)


@pytest.mark.parametrize("moves", [2, 3, 8, 16, 100])
@pytest.mark.parametrize("length_mm", [0.01, 0.1, 0.5])
def test_tiny_moves_cannot_outrun_what_is_known_of_them(
    machine: Machine, moves: int, length_mm: float
) -> None:
    line = straight_pieces(2000, length_mm, 900.0)
    seen = ahead(machine, moves)
    motion = motion_of(line, seen, waits_s(line, seen))
    fastest = np.sqrt(2.0 * A * (moves - 1) * length_mm)
    assert motion.entry_mm_s.max() == pytest.approx(min(fastest, 900.0), rel=1e-6)
    # within a move it may still speed up and brake again, half of it each
    within = min(np.sqrt(2.0 * A * (moves - 0.5) * length_mm), 900.0)
    seconds = time_toolpath(line, seen).total_s
    assert seconds >= 2000 * length_mm / within


@pytest.mark.parametrize("moves", [2, 5, 16])
def test_speed_over_many_tiny_moves_in_closed_form(machine: Machine, moves: int) -> None:
    """At steady state each move goes from v to v by way of √(v² + a·l), v = √(2·a·(N − 1)·l)."""
    length_mm = 0.05
    once, twice = (straight_pieces(n, length_mm, 900.0) for n in (4000, 8000))
    seen = ahead(machine, moves)
    more = time_toolpath(twice, seen).total_s - time_toolpath(once, seen).total_s
    v = np.sqrt(2.0 * A * (moves - 1) * length_mm)
    each = 2.0 * (np.sqrt(v * v + A * length_mm) - v) / A
    assert more == pytest.approx(4000 * each, rel=1e-6)


@given(toolpath=toolpaths(), machine=machines(jerk=False))
def test_a_longer_look_ahead_is_never_slower(toolpath: Toolpath, machine: Machine) -> None:
    seconds = [
        time_toolpath(toolpath, ahead(machine, moves)).total_s for moves in (1, 2, 4, 16, 64, None)
    ]
    # whoever comes slower into a bend has a little more left to speed up with
    allowed = 1e-3 if machine.slows_in_curves else 1e-9
    for shorter, longer in pairwise(seconds):
        assert longer <= shorter * (1.0 + allowed)


@given(toolpath=toolpaths(), machine=machines())
def test_knowing_all_moves_is_no_limit(toolpath: Toolpath, machine: Machine) -> None:
    # where curves count, a bend may help to brake, and look-ahead does not rely on it
    machine = machine.model_copy(update={"slows_in_curves": False})
    moves = len(toolpath) + 1
    assert time_toolpath(toolpath, ahead(machine, moves)).total_s == pytest.approx(
        time_toolpath(toolpath, ahead(machine, None)).total_s, rel=1e-9
    )


def test_long_moves_need_no_look_ahead(machine: Machine) -> None:
    """A side of 200 mm is enough to stop in from 300 mm/s: two moves are as good as all."""
    square = cutting(np.array([[0, 0], [200, 0], [200, 200], [0, 200], [0, 0]]), 300.0)
    assert time_toolpath(square, ahead(machine, 2)).total_s == pytest.approx(
        time_toolpath(square, ahead(machine, None)).total_s, rel=1e-12
    )
