"""A closed line is entered wherever that is soonest, at a corner or not."""

from __future__ import annotations

import numpy as np
import pytest

from kerfwright.sequence.order import sequence
from kerfwright.sequence.tour import travel_s
from kerfwright.shop.machine import Machine
from ordered_strokes import axes_of, line, ring, travel_of


def test_long_edge_is_entered_opposite_the_beam(machine: Machine) -> None:
    """From rest to rest over 100 mm at 3.1 m/s² without top speed takes 2·√(s/a)."""
    frame = line([(100, -400), (300, -400), (300, 900), (100, 900)], 0, closed=True)
    toolpath = sequence([frame], [], machine, (0.0, 250.0))
    assert travel_of(toolpath, machine) == pytest.approx(2.0 * np.sqrt(100.0 / 3100.0))
    assert toolpath.points[1, 0] == 100.0


@pytest.mark.parametrize("passes", [1, 3])
def test_line_entered_between_corners_is_burned_whole(machine: Machine, passes: int) -> None:
    frame = line([(100, -400), (300, -400), (300, 900), (100, 900)], 0, closed=True, passes=passes)
    toolpath = sequence([frame], [], machine, (0.0, 250.0))
    assert toolpath.end_mm == tuple(toolpath.points[1])
    assert toolpath.lengths_mm[1:].sum() == pytest.approx(3000.0 * passes)


@pytest.mark.parametrize("seed", range(6))
def test_entries_are_as_good_as_a_thousand_on_each_line(machine: Machine, seed: int) -> None:
    """Beside Bellman's dynamic programme (1957) over 1000 even places on each of three rings.

    The rings must be taken one after another, so that only the entries are free.
    """
    rng = np.random.default_rng(seed)
    corners = int(rng.integers(3, 30))
    rings = [
        ring(*rng.uniform(0.0, 300.0, 2), rng.uniform(5.0, 40.0), k, corners) for k in range(3)
    ]
    axes = axes_of(machine)
    cost, places = np.zeros(1), np.zeros((1, 2))
    for one in rings:
        along = np.linspace(0.0, corners, 1000, endpoint=False)
        numbers = np.arange(corners + 1)
        here = np.column_stack([np.interp(along, numbers, axis) for axis in one.path.line.T])
        apart = np.abs(places[:, None] - here[None])
        slow, weak = (apart / axes[:2]).max(axis=2), (apart / axes[2:]).max(axis=2)
        with np.errstate(invalid="ignore"):
            legs = np.where(slow**2 > weak, slow + weak / slow, 2.0 * np.sqrt(weak))
        cost, places = (cost[:, None] + legs).min(axis=0), here
    ours = travel_of(sequence(rings, [(0, 1), (1, 2)], machine), machine)
    assert ours <= 1.01 * cost.min()


def test_no_tiny_moves_beside_corners(machine: Machine) -> None:
    rng = np.random.default_rng(3)
    rings = [ring(*rng.uniform(0.0, 200.0, 2), 8.0, k, corners=7) for k in range(40)]
    toolpath = sequence(rings, [], machine)
    assert toolpath.lengths_mm[toolpath.burning].min() >= 0.05 - 1e-9


def test_free_entries_save_a_good_part_of_the_travel(machine: Machine) -> None:
    """Beside the same rings entered at one fixed point each, a tour of dots."""
    rng = np.random.default_rng(1)
    places, radii = rng.uniform(0.0, 250.0, (150, 2)), rng.uniform(2.0, 6.0, 150)
    rings = [
        ring(*place, radius, k) for k, (place, radius) in enumerate(zip(places, radii, strict=True))
    ]
    dots = [line(one.path.points[:1], one.source) for one in rings]
    free = travel_of(sequence(rings, [], machine), machine)
    assert free < 0.92 * travel_of(sequence(dots, [], machine), machine)


def test_travel_metric_of_a_single_ring_is_the_nearest_of_its_line(machine: Machine) -> None:
    one = ring(150.0, 90.0, 30.0, 0, corners=48)
    toolpath = sequence([one], [], machine)
    axes = axes_of(machine)
    to_points = min(travel_s(0.0, 0.0, *point, axes) for point in one.path.points)
    assert travel_of(toolpath, machine) <= to_points + 1e-9
