"""The model that cells are searched with, against the clock of real rows, and its moves.

The clock is :mod:`kerfwright.motion.timing`, whose own checks are in ``tests/motion``.
"""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, box
from shapely.affinity import rotate

from kerfwright.engraving.burn import Burn
from kerfwright.engraving.cell_angles import angles_of, directions_deg
from kerfwright.engraving.cell_grid import grid_of, row_rates_of, sweep_of
from kerfwright.engraving.cells import divide
from kerfwright.engraving.choose import cells_in_words, engrave
from kerfwright.engraving.scan import scan
from kerfwright.geometry.regions import as_area
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe

BURN = Burn(speed_mm_s=1000.0, power=0.5, interval_mm=0.2, spot_mm=0.24, source=0)


def blocks_of_boxes(*corners: tuple[float, float, float, float]) -> MultiPolygon:
    return as_area(shapely.union_all([box(*corner) for corner in corners]))


AREAS = {
    "frame": as_area(box(0, 0, 120, 80).difference(box(6, 6, 114, 74))),
    "cross": blocks_of_boxes((40, 0, 60, 100), (0, 40, 100, 60)),
    "far apart": blocks_of_boxes((0, 0, 30, 30), (400, 0, 430, 30), (0, 300, 30, 330)),
}


@pytest.mark.parametrize("name", AREAS)
@pytest.mark.parametrize("angle_deg", [0.0, 90.0])
def test_rows_of_one_angle_take_what_the_clock_says(
    name: str, angle_deg: float, machine: Machine
) -> None:
    area = AREAS[name]
    grid = grid_of(area, angle_deg, BURN.interval_mm)
    sweep = sweep_of(grid, angle_deg, BURN, machine)
    rates = row_rates_of(grid, sweep, BURN)
    modelled = float((rates * grid.held_mm2 / BURN.interval_mm).sum())
    real = scan(area, BURN, machine, angle_deg=angle_deg)
    assert modelled == pytest.approx(real.times_s[real.arrangement], rel=0.04)


@pytest.mark.parametrize("name", AREAS)
def test_division_is_as_fast_as_it_says_and_no_slower_than_one_angle(
    name: str, machine: Machine
) -> None:
    area = AREAS[name]
    alone = np.full(len(area.geoms), np.inf)
    found = divide(area, [0.0, 90.0], alone, {}, BURN, machine, seams=True)
    best = min(division.seconds for division in found)
    rows = [scan(area, BURN, machine, angle_deg=angle) for angle in (0.0, 90.0)]
    assert best <= 1.04 * min(one.times_s[one.arrangement] for one in rows)


def test_boxes_hold_the_area_and_know_their_piece() -> None:
    area = MultiPolygon([rotate(p, 20.0, origin=(0.0, 0.0)) for p in AREAS["far apart"].geoms])
    grid = grid_of(area, 20.0, BURN.interval_mm)
    assert grid.held_mm2.sum() == pytest.approx(area.area, rel=1e-6)
    for number, polygon in enumerate(area.geoms):
        held = grid.held_mm2[grid.piece == number].sum()
        assert held == pytest.approx(polygon.area, rel=1e-6)


def test_grid_lines_go_through_the_ends_of_edges() -> None:
    grid = grid_of(AREAS["frame"], 0.0, BURN.interval_mm)
    for place in (0.0, 6.0, 114.0, 120.0):
        assert np.abs(grid.x - place).min() < 1e-9


@settings(max_examples=20)
@given(turn_deg=st.floats(0.0, 179.0))
def test_angles_follow_the_edges_however_the_area_is_turned(
    turn_deg: float, machine: Machine
) -> None:
    bars = box(0.0, 0.0, 100.0, 5.0).union(box(0.0, 0.0, 5.0, 60.0))
    area = as_area(rotate(bars, turn_deg, origin=(0.0, 0.0)))
    angles = angles_of(area, 0.0, BURN, machine).of_cells
    assert (angles[1] - angles[0]) % 180.0 == pytest.approx(90.0, abs=1e-6)
    away = [abs((angle - turn_deg + 90.0) % 180.0 - 90.0) for angle in angles]
    assert min(away) < 0.51
    assert len(angles) <= 6


def test_strongest_direction_comes_first() -> None:
    steps = np.array([(10.0, 0.0), (0.0, 30.0), (-10.0, 0.0), (0.0, -30.0), (1.0, 1.0)])
    assert directions_deg(steps, np.hypot(*steps.T))[:2] == [90.0, 0.0]


def test_cells_are_told_in_words(machine: Machine) -> None:
    recipe = Recipe(
        machine="trial machine", process="engrave", speed_mm_s=1000.0, power=0.5, interval_mm=0.2
    )
    work = engrave(AREAS["frame"], recipe, machine, source=0)
    assert work.way == "mixed"
    words = cells_in_words([work])
    assert "2 cells in rows at 0°" in words
    assert "2 cells in rows at 90°" in words
    plain = engrave(MultiPolygon([box(0, 0, 30, 30)]), recipe, machine, source=0)
    assert cells_in_words([plain]) == ""
