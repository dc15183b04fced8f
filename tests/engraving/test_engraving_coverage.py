"""What the beam's footprint covers and where it spills, checked with shapely's own buffers.

Nothing of the planner is used to judge: every burning move is swept by a round spot. The spot is
stated in each test; interval 0.1 mm.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon

from engraved_shapes import SHAPES, hairlines
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.contour_parallel import Loops, contour_parallel
from kerfwright.engraving.scan import Scan, scan
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath

INTERVAL_MM = 0.1


def swept(toolpath: Toolpath, spot_mm: float) -> shapely.Geometry:
    points, on = toolpath.points, toolpath.burning
    lines = shapely.linestrings(np.stack([points[:-1][on], points[1:][on]], axis=1))
    return shapely.union_all(shapely.buffer(lines, 0.5 * spot_mm, quad_segs=32))


def ways(
    area: MultiPolygon, machine: Machine, spot_mm: float, angle_deg: float
) -> tuple[Scan, Loops]:
    burn = Burn(800.0, 0.6, INTERVAL_MM, spot_mm, source=0)
    return scan(area, burn, machine, angle_deg=angle_deg), contour_parallel(area, burn, machine)


@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("spot_mm", [0.1, 0.12, 0.17])
def test_footprint_covers_the_area_and_spills_at_most_half_a_spot(
    name: str, spot_mm: float, machine: Machine
) -> None:
    area = SHAPES[name]()
    angle_deg = {0.1: 0.0, 0.12: 90.0, 0.17: 33.0}[spot_mm]
    for way in ways(area, machine, spot_mm, angle_deg):
        burned = swept(way.toolpath, spot_mm)
        assert burned.intersection(area).area >= 0.999 * area.area
        allowed = area.buffer(0.5 * spot_mm + 1e-3, quad_segs=32)
        assert burned.difference(allowed).area < 1e-6


@pytest.mark.parametrize("name", SHAPES)
def test_uncovered_number_is_what_an_independent_sweep_finds(name: str, machine: Machine) -> None:
    area = SHAPES[name]()
    rows, loops = ways(area, machine, 0.12, 20.0)

    def missing(toolpath: Toolpath) -> float:
        return float(area.area - swept(toolpath, 0.12).intersection(area).area)

    assert rows.uncovered_mm2 == pytest.approx(missing(rows.toolpath), abs=1e-4 * area.area)
    # a stroke that closes one place may also reach into another, which is not counted
    least = missing(loops.toolpath) - 1e-4 * area.area
    assert least <= loops.uncovered_mm2 <= 5e-4 * area.area


def test_beam_centre_never_leaves_the_area(machine: Machine) -> None:
    for shape in SHAPES.values():
        area = shape()
        for way in ways(area, machine, 0.12, 0.0):
            points, on = way.toolpath.points, way.toolpath.burning
            lines = shapely.linestrings(np.stack([points[:-1][on], points[1:][on]], axis=1))
            # curves are followed by chords within a twentieth of the interval
            assert shapely.covers(area.buffer(INTERVAL_MM / 20.0), lines).all()


def test_strokes_thinner_than_an_interval_are_not_lost(machine: Machine) -> None:
    area = hairlines()
    for way in ways(area, machine, 0.12, 0.0):
        burned = swept(way.toolpath, 0.12)
        for hair in area.geoms:
            assert burned.intersection(hair).area >= 0.97 * hair.area


def test_row_ends_stop_short_of_upright_edges_but_close_them(machine: Machine) -> None:
    """Half of sqrt(spot² - interval²): where two neighbouring round ends cross."""
    area = SHAPES["square"]()
    burn = Burn(800.0, 0.6, INTERVAL_MM, 0.14, source=0)
    toolpath = scan(area, burn, machine).toolpath
    right = toolpath.points[:, 0][1:][toolpath.burning].max()
    inset = area.bounds[2] - right
    assert inset == pytest.approx(0.5 * np.sqrt(0.14**2 - 0.1**2))
    burned = swept(toolpath, 0.14)
    assert area.difference(burned).area < 1e-4 * area.area


def test_large_areas_are_burned_once(machine: Machine) -> None:
    """Burned length × interval is the area, as shapely counts it, within 1 %."""
    area = SHAPES["disc"]().buffer(20.0)
    for way in ways(MultiPolygon([area]), machine, 0.1, 0.0):
        burned_mm = way.toolpath.lengths_mm[way.toolpath.burning].sum()
        assert burned_mm * INTERVAL_MM == pytest.approx(area.area, rel=0.01)


def test_beam_is_off_while_travelling_and_running_up(
    make_machine: Callable[..., Machine],
) -> None:
    for way in ways(SHAPES["islands"](), make_machine(settle_s=0.01), 0.12, 0.0):
        moves = way.toolpath.moves
        off = np.isin(moves["kind"], [MoveKind.TRAVEL, MoveKind.RUN_UP])
        assert (moves["power"][off] == 0.0).all()
        assert (moves["power"][~off] > 0.0).all()
        assert (moves["source"][~off] == 0).all()
