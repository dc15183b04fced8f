"""Energy that comes together in a small area in a short time.

Source of the laws: E = ∫ P dt, any mechanics handbook. The energy of straight cuts at an even speed
is power over speed times length. All numbers are invented.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.heat import heat_map
from kerfwright.motion.moments import moments_at
from kerfwright.motion.trace import trace_of
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath, join
from moving_machines import machines, toolpaths
from planned_square import CUT, burn, machine, travel

SIDE_MM = 40.0
J_MM = 60.0 * CUT.power / CUT.speed_mm_s


def slits(count: int, apart_mm: float, pause_s: float = 0.0) -> Toolpath:
    """Upright cuts of 20 mm side by side; the machine stands before each of them."""
    pieces = []
    for k in range(count):
        x = 50.0 + k * apart_mm
        piece = burn([(x, 40.0), (x, 60.0)], MoveKind.CUT, CUT)
        piece["dwell_s"][0] = pause_s
        pieces.append(piece)
    return Toolpath(join([*pieces, travel(0.0, 0.0)]))


def most_j_cm2(toolpath: Toolpath, *, window_mm: float = 20.0, window_s: float = 120.0) -> float:
    heat = heat_map(trace_of(toolpath, machine()), toolpath, window_mm=window_mm, window_s=window_s)
    assert heat is not None
    return float(heat.j_cm2.max())


def test_near_cuts_add_up_over_the_square_they_lie_in() -> None:
    """Twelve slits within 11 mm: all their energy lies in a square of 2 cm."""
    expected = 12 * 20.0 * J_MM / 4.0
    assert most_j_cm2(slits(12, 1.0)) == pytest.approx(expected, rel=1e-6)


def test_cuts_far_apart_do_not_add_up() -> None:
    alone = most_j_cm2(slits(1, 1.0))
    assert most_j_cm2(slits(5, 30.0)) == pytest.approx(alone, rel=1e-6)


def test_what_comes_later_than_the_time_asked_does_not_add_up() -> None:
    """A cut takes 1.3 s: with a pause of 30 s no more than five begin and end in 121 s."""
    alone = most_j_cm2(slits(1, 1.0))
    assert most_j_cm2(slits(12, 1.0, 30.0)) < 5.0 * alone
    assert most_j_cm2(slits(12, 1.0, 30.0), window_s=12 * 32.0) == pytest.approx(12.0 * alone)


def test_the_place_and_the_moment_are_told() -> None:
    toolpath = Toolpath(
        join([burn([(10.0, 10.0), (15.0, 10.0)], MoveKind.CUT, CUT), slits(9, 0.5).moves])
    )
    trace = trace_of(toolpath, machine())
    heat = heat_map(trace, toolpath, window_mm=20.0, window_s=120.0)
    assert heat is not None
    most = np.unravel_index(int(np.argmax(heat.j_cm2)), heat.j_cm2.shape)
    assert heat.middles_mm[most] == pytest.approx([52.0, 50.0], abs=10.0)
    last_burn = np.flatnonzero(trace.energy_j)[-1]
    ended_s = trace.begin_s[last_burn] + trace.seconds[last_burn]
    assert heat.reached_s[most] == pytest.approx(ended_s, abs=0.1)


def test_nothing_burned_heats_nothing() -> None:
    toolpath = Toolpath(travel(10.0, 10.0))
    trace = trace_of(toolpath, machine())
    assert heat_map(trace, toolpath, window_mm=20.0, window_s=60.0) is None


def by_brute_force(
    toolpath: Toolpath, of: Machine, window_mm: float, window_s: float, middles: FloatArray
) -> FloatArray:
    """Most joules in each window, from where the beam is at many moments of each stretch."""
    trace = trace_of(toolpath, of)
    within = trace.begin_s[:, None] + trace.seconds[:, None] * np.linspace(0.0, 1.0, 400)[:-1]
    edges = np.append(within, trace.total_s)
    moments = moments_at(trace, toolpath, 0.5 * (edges[1:] + edges[:-1]))
    energy = moments.power_w * np.diff(edges)
    out = np.zeros(middles.shape[:2])
    for place in np.ndindex(out.shape):
        x, y = middles[place]
        inside = np.abs(moments.x_mm - x) <= 0.5 * window_mm
        inside &= np.abs(moments.y_mm - y) <= 0.5 * window_mm
        reached = np.concatenate([[0.0], np.cumsum(energy * inside)])
        back = np.searchsorted(edges, edges - window_s, side="left")
        out[place] = (reached - reached[back]).max()
    return out


@settings(max_examples=60)
@given(toolpath=toolpaths(), of=machines(jerk=False))
def test_every_window_is_as_adding_up_moment_by_moment_says(
    toolpath: Toolpath, of: Machine
) -> None:
    trace = trace_of(toolpath, of)
    if trace.total_s == 0.0:
        return
    window_s = 0.4 * trace.total_s
    heat = heat_map(trace, toolpath, window_mm=SIDE_MM, window_s=window_s)
    if heat is None:
        return
    largest = np.unravel_index(int(np.argmax(heat.j_cm2)), heat.j_cm2.shape)
    middles = heat.middles_mm[largest][None, None]
    found = float(heat.j_cm2[largest]) * (SIDE_MM / 10.0) ** 2
    # windows end on cells and portions of time: what is told lies between a smaller and a larger
    smaller = by_brute_force(toolpath, of, SIDE_MM - 6.0, 0.9 * window_s, middles).item()
    larger = by_brute_force(toolpath, of, SIDE_MM + 6.0, 1.1 * window_s, middles).item()
    assert 0.99 * smaller - 1e-6 <= found <= 1.01 * larger + 1e-6


@settings(max_examples=25)
@given(toolpath=toolpaths(), of=machines())
def test_a_window_as_large_as_everything_holds_all_energy(toolpath: Toolpath, of: Machine) -> None:
    trace = trace_of(toolpath, of)
    heat = heat_map(trace, toolpath, window_mm=1e5, window_s=1e9)
    if heat is not None:
        whole = trace.energy_j.sum() / 1e10 * 100.0
        assert heat.j_cm2.max() == pytest.approx(whole, rel=1e-9)
