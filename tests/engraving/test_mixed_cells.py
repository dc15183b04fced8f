"""Areas burned cell by cell: which cells, that nothing is lost at a seam, and that it pays.

Coverage is judged by shapely's own buffers of the burning moves, as in
``test_engraving_coverage.py``; times by the clock of the whole toolpath. A row of length L takes
L/v, v/a for each of its two run-ups and 2·√(i/a) for the step to the next (any mechanics
handbook).
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box
from shapely.affinity import rotate, translate

from engraved_shapes import SHAPES, bordered_sign, comb, letters, square
from kerfwright.engraving.choose import EngravedArea, engrave
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay
from kerfwright.toolpath import MoveKind, Toolpath

SPOT_MM = 0.24
INTERVAL_MM = 0.2


def engraved(
    area: MultiPolygon,
    machine: Machine,
    way: EngraveWay = "fastest",
    *,
    speed_mm_s: float = 1000.0,
    **changes: object,
) -> EngravedArea:
    fields: dict[str, object] = {
        "machine": machine.name,
        "process": "engrave",
        "speed_mm_s": speed_mm_s,
        "power": 0.5,
        "interval_mm": INTERVAL_MM,
    }
    return engrave(area, Recipe.model_validate(fields | changes), machine, way=way, source=3)


@pytest.fixture
def wide_beam(make_machine: Callable[..., Machine]) -> Machine:
    return make_machine(spot_mm=SPOT_MM)


def swept(toolpath: Toolpath, spot_mm: float = SPOT_MM) -> shapely.Geometry:
    points, on = toolpath.points, toolpath.burning
    lines = shapely.linestrings(np.stack([points[:-1][on], points[1:][on]], axis=1))
    return shapely.union_all(shapely.buffer(lines, 0.5 * spot_mm, quad_segs=16))


def large_comb() -> MultiPolygon:
    teeth = [box(100.0 + 6.0 * i, 108.0, 102.0 + 6.0 * i, 150.0) for i in range(10)]
    return as_area(shapely.union_all([box(100.0, 100.0, 156.0, 108.0), *teeth]))


def frame(width_mm: float = 120.0, height_mm: float = 80.0, bar_mm: float = 5.0) -> MultiPolygon:
    outer = box(100.0, 100.0, 100.0 + width_mm, 100.0 + height_mm)
    return as_area(outer.difference(outer.buffer(-bar_mm, join_style="mitre")))


def strewn() -> MultiPolygon:
    """Three level bars, three upright ones and a ring, far from each other."""
    bars = [box(100.0, 100.0 + 60.0 * i, 150.0, 104.0 + 60.0 * i) for i in range(3)]
    bars += [box(300.0 + 60.0 * i, 100.0, 304.0 + 60.0 * i, 150.0) for i in range(3)]
    ring = Point(600.0, 300.0).buffer(50.0, 60).difference(Point(600.0, 300.0).buffer(46.0, 60))
    return as_area(shapely.union_all([*bars, ring]))


MIXED: dict[str, Callable[[], MultiPolygon]] = {
    "comb": large_comb,
    "frame": frame,
    "strewn": strewn,
    "slanted frame": lambda: as_area(rotate(frame(), 27.0, origin=(150.0, 150.0))),
}


def test_border_of_a_sign_is_four_bars_along_their_length(machine: Machine) -> None:
    work = engraved(bordered_sign(), machine, interval_mm=0.1)
    assert work.way == "mixed"
    assert sorted(cell.angle_deg or 0.0 for cell in work.cells) == [0.0, 0.0, 90.0, 90.0]
    v, a, interval = 1000.0, 16_000.0, 0.1
    area_s = bordered_sign().area / interval / v
    rows = 2 * 13.0 / interval * 2
    turns_s = rows * (2.0 * v / a + 2.0 * math.sqrt(interval / a))
    assert work.times_s["mixed"] == pytest.approx(area_s + turns_s, rel=0.02)


def test_teeth_of_a_comb_are_burned_along_their_length(wide_beam: Machine) -> None:
    work = engraved(large_comb(), wide_beam)
    assert work.way == "mixed"
    upright = [cell for cell in work.cells if cell.angle_deg == 90.0]
    assert len(upright) == 10
    for cell in upright:
        width, height = np.ptp(np.array(cell.area.bounds).reshape(2, 2), axis=0)
        assert width == pytest.approx(2.0, abs=0.01)
        assert height == pytest.approx(42.0, abs=0.5)


@pytest.mark.parametrize("name", MIXED)
def test_cells_cover_the_area_with_no_seam_left_and_no_spill(name: str, wide_beam: Machine) -> None:
    area = MIXED[name]()
    work = engraved(area, wide_beam, "mixed")
    assert len(work.cells) > 1
    burned = swept(work.toolpath)
    assert burned.intersection(area).area >= 0.999 * area.area
    allowed = area.buffer(0.5 * SPOT_MM + 1e-3, quad_segs=16)
    assert burned.difference(allowed).area < 1e-6
    missing = area.area - burned.intersection(area).area
    assert work.uncovered_mm2 == pytest.approx(missing, abs=2e-4 * area.area)


@pytest.mark.parametrize("name", MIXED)
def test_cells_are_the_area_and_overlap_by_little_more_than_their_seams(
    name: str, wide_beam: Machine
) -> None:
    area = MIXED[name]()
    work = engraved(area, wide_beam, "mixed")
    together = shapely.union_all([cell.area for cell in work.cells])
    assert together.symmetric_difference(area).area < 1e-6
    twice = sum(cell.area.area for cell in work.cells) - area.area
    assert -1e-6 <= twice <= 0.01 * area.area


@pytest.mark.parametrize("name", MIXED)
def test_mixed_pays_and_its_time_is_that_of_the_clock(name: str, wide_beam: Machine) -> None:
    work = engraved(MIXED[name](), wide_beam)
    assert work.way == "mixed"
    assert work.times_s["mixed"] < 0.95 * min(
        work.times_s["scan"], work.times_s["contour-parallel"]
    )
    taken = time_toolpath(work.toolpath, wide_beam).total_s
    assert work.times_s["mixed"] == pytest.approx(taken)
    assert sum(cell.seconds for cell in work.cells) <= taken + 1e-6


def test_bars_of_a_slanted_frame_follow_their_own_direction(wide_beam: Machine) -> None:
    work = engraved(MIXED["slanted frame"](), wide_beam)
    level = engraved(frame(), wide_beam)
    angles = {round(cell.angle_deg or 0.0, 2) for cell in work.cells}
    assert angles == {27.0, 117.0}
    assert work.times_s["mixed"] == pytest.approx(level.times_s["mixed"], rel=0.1)


def test_rows_along_each_cell_are_at_its_angle(wide_beam: Machine) -> None:
    work = engraved(large_comb(), wide_beam, "mixed")
    points, kinds = work.toolpath.points, work.toolpath.moves["kind"]
    rows = kinds == MoveKind.ROW
    step = np.diff(points, axis=0)[rows]
    middle = shapely.points(0.5 * (points[:-1] + points[1:])[rows])
    angle = np.degrees(np.arctan2(step[:, 1], step[:, 0])) % 180.0
    for cell in work.cells:
        inner = shapely.covers(cell.area.buffer(-0.5), middle)
        away = (angle[inner] - (cell.angle_deg or 0.0) + 90.0) % 180.0 - 90.0
        assert inner.any()
        assert np.abs(away).max() < 1e-6


def test_where_cells_save_nothing_mixed_is_the_best_single_way(wide_beam: Machine) -> None:
    work = engraved(square(40.0), wide_beam, "mixed")
    assert work.way == "mixed"
    assert work.times_s["mixed"] == work.times_s["scan"]
    assert len(work.cells) == 1
    assert engraved(square(40.0), wide_beam).way == "scan"


def test_pieces_go_their_own_way_where_that_is_faster(wide_beam: Machine) -> None:
    work = engraved(strewn(), wide_beam, seamless=True)
    ways = {(cell.way, cell.angle_deg) for cell in work.cells}
    assert ways == {("scan", 0.0), ("scan", 90.0), ("contour-parallel", None)}


def test_seamless_recipe_cuts_no_connected_piece(wide_beam: Machine) -> None:
    cut = engraved(large_comb(), wide_beam)
    whole = engraved(large_comb(), wide_beam, seamless=True)
    assert len(cut.cells) > 1
    assert len(whole.cells) == 1
    assert whole.times_s["mixed"] > cut.times_s["mixed"]
    both = as_area(shapely.union_all([frame(), translate(large_comb(), 300.0, 0.0)]))
    work = engraved(both, wide_beam, "mixed", seamless=True)
    for cell in work.cells:
        for polygon in cell.area.geoms:
            assert any(polygon.equals(piece) for piece in both.geoms)


def test_finish_keeps_rows_at_one_angle_or_loops(wide_beam: Machine) -> None:
    free = engraved(frame(), wide_beam)
    assert free.way == "mixed"
    rows = engraved(frame(), wide_beam, finish="rows")
    assert rows.way == "scan"
    assert rows.times_s["mixed"] == rows.times_s["scan"] == free.times_s["scan"]
    loops = engraved(frame(), wide_beam, finish="loops")
    assert loops.way == "contour-parallel"
    assert set(loops.toolpath.moves["kind"][loops.toolpath.burning].tolist()) == {MoveKind.LOOP}


def test_order_asking_by_name_is_more_particular_than_the_finish(wide_beam: Machine) -> None:
    assert engraved(frame(), wide_beam, "scan", finish="loops").way == "scan"


def test_passes_repeat_the_cells(wide_beam: Machine) -> None:
    once = engraved(large_comb(), wide_beam, "mixed")
    twice = engraved(large_comb(), wide_beam, "mixed", passes=2)
    burned = once.toolpath.lengths_mm[once.toolpath.burning].sum()
    assert twice.toolpath.lengths_mm[twice.toolpath.burning].sum() == pytest.approx(2 * burned)


def test_plan_is_the_same_at_every_run(wide_beam: Machine) -> None:
    one, other = (engraved(strewn(), wide_beam, "mixed") for _ in range(2))
    assert np.array_equal(one.toolpath.moves, other.toolpath.moves)


@st.composite
def artworks(draw: st.DrawFn) -> MultiPolygon:
    """Frames, combs, crosses, letters, rings and strewn islands, turned any way."""
    pieces: list[Polygon] = []
    for number in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["frame", "comb", "cross", "ring", "letters", "bar"]))
        wide = draw(st.floats(0.5, 4.0))
        long = draw(st.floats(6.0, 30.0))
        if kind == "frame":
            outer = box(0.0, 0.0, long + 2.5 * wide, 0.6 * long + 2.5 * wide)
            made = outer.difference(outer.buffer(-wide, join_style="mitre"))
        elif kind == "comb":
            teeth = [box(2.0 * wide * i, 0.0, 2.0 * wide * i + wide, long) for i in range(4)]
            made = shapely.union_all([box(0.0, 0.0, 7.0 * wide, wide), *teeth])
        elif kind == "cross":
            made = box(-long, -wide, long, wide).union(box(-wide, -long, wide, long))
        elif kind == "ring":
            made = Point(0.0, 0.0).buffer(long, 30).difference(Point(0.0, 0.0).buffer(long - wide))
        elif kind == "letters":
            made = letters()
        else:
            made = box(0.0, 0.0, long, wide)
        turned = rotate(made, draw(st.sampled_from([0.0, 90.0, 33.0])))
        x, y = turned.bounds[:2]
        moved = translate(turned, 100.0 + 70.0 * number - x, 100.0 - y)
        pieces += as_area(moved).geoms
    return as_area(shapely.union_all(pieces))


@settings(max_examples=12)
@given(area=artworks(), seamless=st.booleans(), speed_mm_s=st.sampled_from([300.0, 1000.0]))
def test_fastest_is_never_slower_than_any_way_and_covers_all(
    area: MultiPolygon, seamless: bool, speed_mm_s: float, make_machine: Callable[..., Machine]
) -> None:
    machine = make_machine(spot_mm=SPOT_MM, settle_s=0.005)
    work = engraved(area, machine, speed_mm_s=speed_mm_s, seamless=seamless)
    assert work.times_s[work.way] == min(work.times_s.values())
    assert time_toolpath(work.toolpath, machine).total_s == pytest.approx(work.times_s[work.way])
    mixed = engraved(area, machine, "mixed", speed_mm_s=speed_mm_s, seamless=seamless)
    burned = swept(mixed.toolpath)
    assert burned.intersection(area).area >= 0.999 * area.area
    allowed = area.buffer(0.5 * SPOT_MM + 1e-3, quad_segs=16)
    assert burned.difference(allowed).area < 1e-6
    together = shapely.union_all([cell.area for cell in mixed.cells])
    assert together.symmetric_difference(area).area < 1e-6


@pytest.mark.parametrize("name", SHAPES)
def test_small_shapes_are_never_slower_by_cells(name: str, machine: Machine) -> None:
    work = engraved(SHAPES[name](), machine, interval_mm=0.1)
    assert work.times_s["mixed"] <= min(work.times_s["scan"], work.times_s["contour-parallel"])


def test_dense_comb_of_thin_teeth_stays_covered(machine: Machine) -> None:
    area = comb()
    work = engraved(area, machine, "mixed", interval_mm=0.1)
    assert swept(work.toolpath, 0.1).intersection(area).area >= 0.999 * area.area


def bow_and_shank() -> MultiPolygon:
    """A half ring of 10 mm with a straight bar of 10 mm on it, as an anchor has."""
    whole = Point(200.0, 200.0).buffer(55.0, quad_segs=60)
    half = whole.difference(Point(200.0, 200.0).buffer(45.0, quad_segs=60)).intersection(
        box(100.0, 100.0, 300.0, 200.0)
    )
    return as_area(half.union(box(195.0, 150.0, 205.0, 260.0)))


def test_bend_of_a_piece_is_burned_in_loops_beside_rows(wide_beam: Machine) -> None:
    area = bow_and_shank()
    work = engraved(area, wide_beam)
    assert work.way == "mixed"
    assert {cell.way for cell in work.cells} == {"scan", "contour-parallel"}
    looped = shapely.union_all([c.area for c in work.cells if c.way == "contour-parallel"])
    bow, shank = box(100.0, 100.0, 300.0, 185.0), box(195.0, 210.0, 205.0, 260.0)
    assert looped.intersection(bow).area > 0.5 * area.intersection(bow).area
    assert looped.intersection(shank).area < 0.1 * shank.area
    assert work.times_s["mixed"] < 0.96 * min(
        work.times_s["scan"], work.times_s["contour-parallel"]
    )
    burned = swept(work.toolpath)
    assert burned.intersection(area).area >= 0.999 * area.area
    assert burned.difference(area.buffer(0.5 * SPOT_MM + 1e-3, quad_segs=16)).area < 1e-6
    together = shapely.union_all([cell.area for cell in work.cells])
    assert together.symmetric_difference(area).area < 1e-6


def test_seamless_or_rows_only_keep_loops_out_of_a_piece(wide_beam: Machine) -> None:
    whole = engraved(bow_and_shank(), wide_beam, seamless=True)
    assert len(whole.cells) == 1
    rows = engraved(bow_and_shank(), wide_beam, finish="rows")
    assert {cell.way for cell in rows.cells} == {"scan"}


def test_rows_right_across_take_the_angle_that_turns_fastest(wide_beam: Machine) -> None:
    """At 45° both axes share a turn: each gives its own limit, so it takes 1/√2 of the time."""
    disc = as_area(Point(300.0, 300.0).buffer(12.0, quad_segs=60))
    work = engraved(disc, wide_beam, finish="rows")
    assert work.angle_deg in (45.0, 135.0)
    level = min(seconds for name, seconds in work.scan_times_s.items() if name.startswith("0°"))
    assert work.times_s["scan"] < 0.85 * level


@settings(max_examples=8)
@given(area=artworks(), one_way=st.booleans())
def test_one_direction_is_never_faster_than_both(
    area: MultiPolygon, one_way: bool, make_machine: Callable[..., Machine]
) -> None:
    machine = make_machine(spot_mm=SPOT_MM)
    direction = "one" if one_way else "both"
    work = engraved(area, machine, row_direction=direction)
    assert work.times_s[work.way] == min(work.times_s.values())
    both = [s for name, s in work.scan_times_s.items() if "to and fro" in name]
    assert len(both) <= 1
    assert all(seconds <= work.times_s["scan"] for seconds in both)
    rows = work.toolpath.moves["kind"] == MoveKind.ROW
    assert work.toolpath.moves["power"][rows].min(initial=1.0) > 0.0
