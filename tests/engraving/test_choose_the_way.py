"""Which way is taken, and what is said about the others."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import rotate

from engraved_shapes import SHAPES, bordered_sign, hairlines, letters, ring, square
from kerfwright.engraving.choose import EngravedArea, engrave
from kerfwright.errors import KerfwrightError
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay
from kerfwright.toolpath import MoveKind


def recipe(**changes: object) -> Recipe:
    fields: dict[str, object] = {
        "machine": "trial machine",
        "process": "engrave",
        "speed_mm_s": 800.0,
        "power": 0.4,
        "interval_mm": 0.1,
    }
    return Recipe.model_validate(fields | changes)


def engraved(
    area: MultiPolygon, machine: Machine, way: EngraveWay = "fastest", **changes: object
) -> EngravedArea:
    return engrave(area, recipe(**changes), machine, way=way, source=7)


@pytest.mark.parametrize("name", SHAPES)
def test_fastest_takes_no_longer_than_either_way(name: str, machine: Machine) -> None:
    work = engraved(SHAPES[name](), machine)
    assert set(work.times_s) == {"scan", "contour-parallel", "mixed"}
    assert work.times_s[work.way] == min(work.times_s.values())
    assert time_toolpath(work.toolpath, machine).total_s == pytest.approx(work.times_s[work.way])


@pytest.mark.parametrize(
    ("way", "kind"), [("scan", MoveKind.ROW), ("contour-parallel", MoveKind.LOOP)]
)
def test_user_may_overrule_and_still_sees_both_times(
    way: EngraveWay, kind: MoveKind, machine: Machine
) -> None:
    free = engraved(ring(), machine)
    work = engraved(ring(), machine, way)
    assert work.way == way
    assert work.times_s == free.times_s
    assert set(work.toolpath.moves["kind"][work.toolpath.burning].tolist()) == {kind}


def test_area_filled_by_rows_ring_by_loops_and_frame_by_cells(machine: Machine) -> None:
    assert engraved(square(40.0), machine, interval_mm=0.2).way == "scan"
    assert engraved(ring(), machine, interval_mm=0.2).way == "contour-parallel"
    frame = engraved(bordered_sign(300.0, 150.0), machine, interval_mm=0.2)
    assert frame.way == "mixed"
    assert frame.times_s["contour-parallel"] < frame.times_s["scan"]


def test_rows_follow_the_long_direction_of_a_slanted_bar(machine: Machine) -> None:
    bar = MultiPolygon([rotate(box(200.0, 200.0, 300.0, 204.0), 33.0)])
    work = engraved(bar, machine, "scan")
    assert work.angle_deg == pytest.approx(33.0, abs=0.01)
    assert len({label.split("°")[0] for label in work.scan_times_s}) == 3


def test_quarter_turn_of_the_area_takes_the_same_time(machine: Machine) -> None:
    upright = MultiPolygon([rotate(p, 90.0, origin=(150.0, 150.0)) for p in letters().geoms])
    level_times = engraved(letters(), machine).times_s
    upright_times = engraved(upright, machine).times_s
    assert upright_times["scan"] == pytest.approx(level_times["scan"], rel=1e-6)
    for way, seconds in level_times.items():
        # offsets round their points on another side, and a loop may be entered elsewhere
        assert upright_times[way] == pytest.approx(seconds, rel=0.02)


def test_passes_repeat_the_whole_toolpath(machine: Machine) -> None:
    once = engraved(ring(), machine, "contour-parallel")
    thrice = engraved(ring(), machine, "contour-parallel", passes=3)
    burned = once.toolpath.lengths_mm[once.toolpath.burning].sum()
    assert thrice.toolpath.lengths_mm[thrice.toolpath.burning].sum() == pytest.approx(3 * burned)
    assert thrice.times_s["contour-parallel"] >= 3 * once.times_s["contour-parallel"]
    assert thrice.toolpath.end_mm == once.toolpath.end_mm


def test_nothing_to_engrave_gives_no_moves(machine: Machine) -> None:
    work = engraved(MultiPolygon(), machine)
    assert len(work.toolpath) == 0
    assert work.times_s == {"scan": 0.0, "contour-parallel": 0.0, "mixed": 0.0}


def test_settings_of_the_recipe_reach_every_burn(machine: Machine) -> None:
    moves = engraved(letters(), machine).toolpath.moves
    burning = np.isin(moves["kind"], [MoveKind.ROW, MoveKind.LOOP])
    assert set(moves["power"][burning].tolist()) == {0.4}
    assert set(moves["speed_mm_s"][burning].tolist()) == {800.0}
    assert set(moves["source"][burning].tolist()) == {7}


def test_missing_interval_is_one_clear_error(machine: Machine) -> None:
    unset = Recipe.model_construct(**(recipe().model_dump() | {"interval_mm": None}))
    with pytest.raises(KerfwrightError) as fault:
        engrave(square(), unset, machine, source=0)
    assert fault.value.code == "engraving/interval-missing"


def test_interval_in_a_wrong_unit_is_one_clear_error(machine: Machine) -> None:
    with pytest.raises(KerfwrightError) as fault:
        engraved(square(40.0), machine, interval_mm=1e-5)
    assert fault.value.code == "engraving/too-many-rows"


def test_spot_narrower_than_the_interval_is_said(make_machine: Callable[..., Machine]) -> None:
    work = engraved(square(), make_machine(spot_mm=0.06))
    assert [f.code for f in work.findings if f.severity == "note"].count(
        "engraving/spot-narrower-than-interval"
    ) == 1


def test_hairlines_do_not_vanish_beside_a_large_area(machine: Machine) -> None:
    large = MultiPolygon([*hairlines().geoms, box(200.0, 100.0, 280.0, 180.0)])
    ways: tuple[EngraveWay, ...] = ("scan", "contour-parallel", "mixed")
    for way in ways:
        toolpath = engraved(large, machine, way).toolpath
        points, on = toolpath.points, toolpath.burning
        lines = shapely.linestrings(np.stack([points[:-1][on], points[1:][on]], axis=1))
        for hair in hairlines().geoms:
            near = shapely.intersects(lines, hair)
            burned = shapely.union_all(shapely.buffer(lines[near], 0.06))
            assert burned.intersection(hair).area > 0.9 * hair.area


@pytest.mark.parametrize("side_mm", [1e-5, 0.003, 0.02, 0.3])
def test_specks_are_burned_or_counted(side_mm: float, machine: Machine) -> None:
    speck = MultiPolygon([box(50.0, 50.0, 50.0 + side_mm, 50.0 + side_mm)])
    ways: tuple[EngraveWay, ...] = ("scan", "contour-parallel", "mixed")
    for way in ways:
        work = engraved(speck, machine, way)
        assert work.toolpath.burning.any() or work.uncovered_mm2 >= 0.99 * speck.area


@st.composite
def star_shapes(draw: st.DrawFn) -> MultiPolygon:
    """Star-shaped outlines with arms of any length, so with sharp tips and deep notches."""
    count = draw(st.integers(3, 9))
    radii = draw(st.lists(st.floats(0.3, 5.0), min_size=count, max_size=count))
    angles = np.linspace(0.0, 2.0 * np.pi, count, endpoint=False)
    points = 50.0 + np.array(radii)[:, None] * np.column_stack([np.cos(angles), np.sin(angles)])
    return MultiPolygon([Polygon(points)])


@settings(max_examples=25)
@given(area=star_shapes(), interval_mm=st.sampled_from([0.1, 0.23]))
def test_any_star_is_engraved_inside_its_outline(
    area: MultiPolygon, interval_mm: float, machine: Machine
) -> None:
    ways: tuple[EngraveWay, ...] = ("scan", "contour-parallel", "mixed")
    for way in ways:
        work = engraved(area, machine, way, interval_mm=interval_mm)
        points = work.toolpath.points[1:][work.toolpath.burning]
        room = area.buffer(interval_mm / 20.0 + 1e-6)
        assert shapely.covers(room, shapely.points(points)).all()
        assert 0.0 <= work.uncovered_mm2 <= area.area
        burned_mm2 = work.toolpath.lengths_mm[work.toolpath.burning].sum() * interval_mm
        assert burned_mm2 >= 0.8 * (area.area - work.uncovered_mm2) - area.length * interval_mm
