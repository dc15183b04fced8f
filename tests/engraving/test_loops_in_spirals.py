"""Loops joined by passing over from one to the next, from outside in or from inside out."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, box

from engraved_shapes import SHAPES, disc, ring, square
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.contour_parallel import Joining, contour_parallel
from kerfwright.engraving.loop_order import drive, pace_of, tracks_of, tree_of
from kerfwright.engraving.offsets import levels_of
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import Toolpath

BURN = Burn(speed_mm_s=800.0, power=0.5, interval_mm=0.1, spot_mm=0.12, source=0)


def seconds(area: MultiPolygon, machine: Machine, joining: Joining) -> float:
    toolpath = contour_parallel(area, BURN, machine, joining=joining).toolpath
    return time_toolpath(toolpath, machine).total_s


def turns_rad(toolpath: Toolpath) -> FloatArray:
    step = np.diff(toolpath.points, axis=0)
    heading = np.arctan2(step[:, 1], step[:, 0])
    turned: FloatArray = np.abs((np.diff(heading) + np.pi) % (2.0 * np.pi) - np.pi)
    return turned


def test_a_disc_is_one_smooth_line_from_its_edge_to_its_middle(machine: Machine) -> None:
    toolpath = contour_parallel(disc(6.0), BURN, machine, joining="spirals").toolpath
    away = np.hypot(*(toolpath.points - [110.0, 110.0]).T)
    turned = turns_rad(toolpath)
    large = away[1:-1] > 1.0
    assert toolpath.burning.all()
    assert turned[large].max() < np.radians(20.0), "steps would turn twice by about a right angle"
    assert np.diff(away).max() < 0.01, "never outwards again by more than the chords' tolerance"


def test_turns_of_a_spiral_are_at_most_one_interval_apart(machine: Machine) -> None:
    """Along any ray from the middle of a disc, by shapely's own intersections."""
    toolpath = contour_parallel(disc(6.0), BURN, machine, joining="spirals").toolpath
    line = shapely.linestrings(toolpath.points)
    for angle in np.linspace(0.0, 2.0 * np.pi, 37):
        far = (110.0 + 7.0 * np.cos(angle), 110.0 + 7.0 * np.sin(angle))
        met = shapely.intersection(line, shapely.LineString([(110.0, 110.0), far]))
        away = np.sort(np.hypot(*(shapely.get_coordinates(met) - [110.0, 110.0]).T))
        away = away[away > 1.0]
        # each turn may stray by the chords' tolerance of 0.005 mm
        assert np.diff(away).max() < BURN.interval_mm + 0.011
        assert away[-1] == pytest.approx(5.95, abs=0.006), "the outermost turn is a whole loop"


@pytest.mark.parametrize("area", [disc(6.0), ring()], ids=["disc", "ring"])
def test_spirals_save_the_stops_of_round_loops(area: MultiPolygon, machine: Machine) -> None:
    assert seconds(area, machine, "spirals") < 0.97 * seconds(area, machine, "steps")


@pytest.mark.parametrize("name", ["square", "comb", "islands", "letters"])
def test_the_faster_joining_is_taken(name: str, machine: Machine) -> None:
    area = SHAPES[name]()
    least = min(seconds(area, machine, "steps"), seconds(area, machine, "spirals"))
    # pieces choose by themselves, and what lies between them is a little different
    assert seconds(area, machine, "fastest") <= 1.001 * least


def test_a_spiral_burns_hardly_more_than_its_loops(machine: Machine) -> None:
    """The stretch at its end twice, and nothing else: no turn more than there are loops."""
    area = disc(6.0)
    burned = {
        joining: contour_parallel(area, BURN, machine, joining=joining).toolpath.lengths_mm.sum()
        for joining in ("steps", "spirals")
    }
    assert burned["spirals"] == pytest.approx(burned["steps"], rel=0.01)


def test_from_inside_out_burns_the_same_loops() -> None:
    levels = levels_of(square(5.0), BURN, 0.005).levels
    (tracks,) = tracks_of(levels, [], square(5.0))
    lines = {
        inside: drive(tree_of(tracks), pace_of(BURN, 3100.0), from_inside=inside)
        for inside in (False, True)
    }
    sides = {k: [float(np.ptp(line[:, 0])) for line in own] for k, own in lines.items()}
    assert sides[False] == sorted(sides[False], reverse=True), "the outermost comes first"
    assert sides[True] == pytest.approx(sides[False][::-1])


def test_a_piece_alone_is_burned_from_outside_in(machine: Machine) -> None:
    """Backwards takes as long, so that nothing speaks for starting inside."""
    toolpath = contour_parallel(square(5.0), BURN, machine).toolpath
    rim = shapely.boundary(square(5.0))
    start, end = shapely.distance(shapely.points([toolpath.start_mm, toolpath.end_mm]), rim)
    assert start < 0.1
    assert end > 2.0


def test_pieces_are_finished_one_by_one(machine: Machine) -> None:
    """Mixed engraving takes the loops of an area apart into its pieces."""
    dots = [Point(100.0 + 3.0 * (k % 4), 100.0 + 3.0 * (k // 4)).buffer(1.2) for k in range(12)]
    area = as_area(MultiPolygon([*dots, box(99.0, 110.0, 112.0, 112.0)]))
    toolpath = contour_parallel(area, BURN, machine).toolpath
    points = shapely.points(toolpath.points[1:][toolpath.burning])
    owner = shapely.STRtree(list(area.geoms)).nearest(points)
    assert (np.diff(owner) != 0).sum() == len(area.geoms) - 1


def test_the_same_area_gives_the_same_loops(machine: Machine) -> None:
    one, two = (contour_parallel(SHAPES["islands"](), BURN, machine).toolpath for _ in range(2))
    assert np.array_equal(one.moves, two.moves)
