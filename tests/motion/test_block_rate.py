"""A link or controller that takes R moves a second holds up a path of tiny moves.

Source: counting. n moves take at least n/R seconds but for those that wait ready; moves of length l
go by at R·l mm/s on average.
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given

from kerfwright.motion.timing import motion_of, time_toolpath, waits_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Toolpath
from moving_machines import cutting, machines, straight_pieces, toolpaths


def fed(machine: Machine, rate: float | None, ahead: int | None = None) -> Machine:
    controller = machine.controller.model_copy(
        update={"moves_per_s": rate, "look_ahead_moves": ahead}
    )
    return machine.model_copy(update={"controller": controller})


@pytest.mark.parametrize("rate", [100.0, 1000.0, 5000.0])
@pytest.mark.parametrize("length_mm", [0.02, 0.1])
def test_tiny_moves_go_by_at_the_rate_they_come(
    machine: Machine, rate: float, length_mm: float
) -> None:
    line = straight_pieces(3000, length_mm, 1000.0)
    slow = fed(machine, rate)
    motion = motion_of(line, slow, waits_s(line, slow))
    assert motion.top_mm_s == pytest.approx(rate * length_mm, rel=1e-9)
    ramps = rate * length_mm / 3100.0
    assert time_toolpath(line, slow).total_s == pytest.approx(3000 / rate + ramps, rel=1e-9)


def test_long_moves_are_not_held_up(machine: Machine) -> None:
    square = cutting(np.array([[0, 0], [200, 0], [200, 200], [0, 200], [0, 0]]), 300.0)
    assert time_toolpath(square, fed(machine, 100.0)).total_s == pytest.approx(
        time_toolpath(square, fed(machine, None)).total_s, rel=1e-12
    )


def test_a_few_short_moves_among_long_ones_wait_ready(machine: Machine) -> None:
    """Eight moves of 0.05 mm on a long line: with room for 16 they are there in time."""
    x = np.concatenate([[0.0], 100.0 + 0.05 * np.arange(9), [200.4, 300.4, 400.4]])
    line = cutting(np.column_stack([x, np.zeros(len(x))]), 200.0)
    free = time_toolpath(line, fed(machine, None)).total_s
    assert time_toolpath(line, fed(machine, 500.0, 16)).total_s == pytest.approx(free, rel=0.01)
    assert time_toolpath(line, fed(machine, 500.0, 2)).total_s > free * 1.02


@given(toolpath=toolpaths(), machine=machines(jerk=False))
def test_a_faster_link_is_never_slower(toolpath: Toolpath, machine: Machine) -> None:
    ahead = machine.controller.look_ahead_moves
    seconds = [
        time_toolpath(toolpath, fed(machine, rate, ahead)).total_s
        for rate in (20.0, 100.0, 1000.0, 1e5, None)
    ]
    # whoever comes slower into a bend has a little more left to speed up with
    allowed = 1e-3 if machine.slows_in_curves else 1e-9
    for slower, faster in pairwise(seconds):
        assert faster <= slower * (1.0 + allowed)
