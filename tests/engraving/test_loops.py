"""Loops that follow the outline."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Polygon, box

from engraved_shapes import SHAPES, bordered_sign, disc, square
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.contour_parallel import contour_parallel
from kerfwright.engraving.loop_order import drive, pace_of, tracks_of, tree_of
from kerfwright.engraving.offsets import levels_of
from kerfwright.geometry.paths import Path
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind

BURN = Burn(speed_mm_s=500.0, power=0.5, interval_mm=0.1, spot_mm=0.12, source=3)


def test_loops_lie_half_an_interval_inside_and_then_one_apart() -> None:
    levels = levels_of(square(5.0), BURN, 0.005).levels
    sides = [np.ptp(rings[0], axis=0) for rings in levels]
    assert len(levels) == 25
    assert np.allclose(sides, 5.0 - 0.1 - 0.2 * np.arange(25)[:, None], atol=1e-5)


@pytest.mark.parametrize("name", ["letters", "islands", "ring", "comb"])
def test_every_level_lies_at_its_depth_and_encloses_shapelys_offset(name: str) -> None:
    area = SHAPES[name]()
    for k, rings in enumerate(levels_of(area, BURN, 0.005).levels):
        depth = 0.05 + 0.1 * k
        points = shapely.points(np.vstack(rings))
        assert abs(shapely.distance(points, area.boundary) - depth).max() < 0.1 * BURN.interval_mm
        wanted = area.buffer(-depth, quad_segs=64)
        enclosed = sum(Path(ring, closed=True).signed_area_mm2 for ring in rings)
        assert enclosed == pytest.approx(wanted.area, abs=0.01 * wanted.length + 1e-3)


@pytest.mark.parametrize("turned", [False, True])
def test_direction_of_outlines_does_not_matter(turned: bool) -> None:
    other = box(30.0, 0.0, 34.0, 4.0)
    both = MultiPolygon([box(0.0, 0.0, 5.0, 5.0), shapely.reverse(other) if turned else other])
    assert sum(len(rings) for rings in levels_of(both, BURN, 0.005).levels) == 25 + 20


def test_many_levels_do_not_drift() -> None:
    """The last of hundreds of loops is still where one offset from the original puts it."""
    hole = disc(3.0)
    area = MultiPolygon([box(60.0, 60.0, 160.0, 160.0).difference(hole)])
    levels = levels_of(area, BURN, 0.005).levels
    k = 200
    wanted = area.buffer(-(0.05 + 0.1 * k), quad_segs=400).boundary
    points = shapely.points(np.vstack(levels[k]))
    assert shapely.distance(points, wanted).max() < 0.1 * BURN.interval_mm


def test_square_is_one_burn_without_travel(machine: Machine) -> None:
    loops = contour_parallel(square(5.0), BURN, machine)
    assert set(loops.toolpath.moves["kind"].tolist()) == {MoveKind.LOOP}


def test_loops_of_a_polygon_are_entered_at_corners(machine: Machine) -> None:
    toolpath = contour_parallel(square(5.0), BURN, machine, joining="steps").toolpath
    assert len(toolpath) == 25 * 5 - 1, "four sides a loop, one step to the next, no side split"


def test_branches_are_finished_before_the_beam_travels_on(machine: Machine) -> None:
    """Two rooms joined by a narrow passage: one travel, or none, between their cores."""
    rooms = shapely.union_all([box(0, 0, 4, 4), box(6, 0, 10, 4), box(3, 1.7, 7, 2.3)])
    toolpath = contour_parallel(MultiPolygon([rooms]), BURN, machine).toolpath
    assert (toolpath.moves["kind"] == MoveKind.TRAVEL).sum() <= 3


def test_every_loop_is_burned_exactly_once_if_joined_by_steps() -> None:
    area = SHAPES["letters"]()
    levels = levels_of(area, BURN, 0.005).levels
    pace = pace_of(BURN, 3100.0)
    pieces = tracks_of(levels, [], area)
    ordered = [line for tracks in pieces for line in drive(tree_of(tracks), pace)]
    assert len(ordered) == sum(len(rings) for rings in levels)
    burned = sorted(round(float(shapely.LineString(line).length), 6) for line in ordered)
    wanted = sorted(
        round(float(shapely.LinearRing(ring).length), 6) for rings in levels for ring in rings
    )
    assert np.allclose(burned, wanted, atol=1e-5)


def test_links_are_burned_only_where_they_are_short_and_inside(machine: Machine) -> None:
    area = SHAPES["islands"]()
    toolpath = contour_parallel(area, BURN, machine).toolpath
    lines = shapely.linestrings(np.stack([toolpath.points[:-1], toolpath.points[1:]], axis=1))
    on = toolpath.burning
    assert shapely.covers(area.buffer(1e-6), lines[on]).all()
    assert (~on).sum() > 0


def test_core_narrower_than_two_intervals_gets_one_stroke(machine: Machine) -> None:
    strip = MultiPolygon([box(0.0, 0.0, 20.0, 0.29)])
    loops = contour_parallel(strip, Burn(500.0, 0.5, 0.1, 0.1, 0), machine)
    assert loops.loops == 1
    assert loops.strokes == 1
    assert loops.uncovered_mm2 < 0.001 * strip.area


def test_stroke_thinner_than_the_beam_is_its_centre_line(machine: Machine) -> None:
    bar = MultiPolygon([Polygon([(0, 0), (20, 5), (20, 5.06), (0, 0.06)])])
    toolpath = contour_parallel(bar, BURN, machine).toolpath
    away = shapely.distance(
        shapely.points(toolpath.points), shapely.LineString([(0, 0.03), (20, 5.03)])
    )
    assert away.max() < 0.02, "a fifth of the interval, at the ends"
    assert toolpath.lengths_mm.sum() == pytest.approx(np.hypot(20, 5), rel=0.02)


@pytest.mark.parametrize("width_mm", [0.05, 0.104, 0.14])
def test_stroke_no_wider_than_the_spot_is_burned_once(width_mm: float, machine: Machine) -> None:
    area = MultiPolygon([Polygon([(0, 0), (20, 5), (20, 5 + width_mm), (0, width_mm)])])
    loops = contour_parallel(area, Burn(500.0, 0.5, 0.1, 0.16, 0), machine)
    assert (loops.loops, loops.strokes) == (0, 1)
    burned_mm = loops.toolpath.lengths_mm[loops.toolpath.burning].sum()
    assert burned_mm == pytest.approx(np.hypot(20, 5), abs=4 * 0.16), "a few spots at its ends"
    assert loops.uncovered_mm2 < 0.001 * area.area


@pytest.mark.parametrize("width_mm", [0.13, 0.16, 0.19, 0.22])
def test_stroke_little_wider_than_the_spot_is_one_loop(width_mm: float, machine: Machine) -> None:
    area = MultiPolygon([box(0.0, 0.0, 20.0, width_mm)])
    loops = contour_parallel(area, Burn(500.0, 0.5, 0.1, 0.12, 0), machine)
    assert (loops.loops, loops.strokes) == (1, 0)
    assert loops.uncovered_mm2 < 0.001 * area.area


def test_curves_keep_few_points(machine: Machine) -> None:
    fine = MultiPolygon([shapely.Point(100, 100).buffer(10.0, quad_segs=2000)])
    moves = len(contour_parallel(fine, BURN, machine).toolpath)
    assert moves < 100 * 130, "about 2π·R / sqrt(8·R·tolerance) a loop, not 8000"


def test_border_is_followed_round_with_few_travels(machine: Machine) -> None:
    toolpath = contour_parallel(bordered_sign(), BURN, machine).toolpath
    assert (toolpath.moves["kind"] == MoveKind.TRAVEL).sum() < 100
    assert len(toolpath) < 10_000
