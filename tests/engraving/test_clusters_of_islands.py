"""Which islands share rows, and at which angle."""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, Polygon, box
from shapely.affinity import rotate, scale, translate

from engraved_shapes import comb, letters
from kerfwright.engraving.burn import Burn, row_motion
from kerfwright.engraving.choose import engrave
from kerfwright.engraving.clusters import clusters
from kerfwright.engraving.row_model import RowModel, finer_angle
from kerfwright.engraving.scan import scan
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import time_toolpath
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.shop.material import Recipe
from kerfwright.shop.order import EngraveWay

SINGLE_WAYS: tuple[EngraveWay, ...] = ("scan", "contour-parallel")

BURN = Burn(800.0, 0.5, 0.1, 0.12, 0)


def grouped(polygons: list[Polygon], machine: Machine) -> list[tuple[tuple[int, ...], float]]:
    area = MultiPolygon(polygons)
    rows_s = {0.0: scan(area, BURN, machine).seconds}
    never = np.full(len(polygons), np.inf)
    given_groups = [((p,), 0.0) for p in range(len(polygons))]
    found = clusters(polygons, given_groups, never, (0.0, 90.0), rows_s, BURN, machine)
    return [(one.members, -1.0 if one.angle_deg is None else one.angle_deg) for one in found]


@pytest.mark.parametrize("angle_deg", [0.0, 33.0, 90.0, 145.0])
def test_islands_in_a_line_share_rows_along_it(angle_deg: float, machine: Machine) -> None:
    line = [Point(200.0 + 12.0 * i, 200.0).buffer(2.0) for i in range(5)]
    turned = [rotate(dot, angle_deg, origin=(224.0, 200.0)) for dot in line]
    ((members, angle),) = grouped(turned, machine)
    assert members == (0, 1, 2, 3, 4)
    assert abs((angle - angle_deg + 90.0) % 180.0 - 90.0) < 1.0


def test_bars_that_lie_any_way_keep_rows_of_their_own(machine: Machine) -> None:
    bars = [
        rotate(box(100.0 + 80.0 * k, 100.0, 140.0 + 80.0 * k, 103.0), angle)
        for k, angle in enumerate((0.0, 50.0, 110.0))
    ]
    found = dict(grouped(bars, machine))
    assert found[(0,)] == pytest.approx(0.0, abs=1.0)
    assert found[(1,)] == pytest.approx(50.0, abs=1.0)
    assert found[(2,)] == pytest.approx(110.0, abs=1.0)


def test_two_lines_of_islands_become_two_groups_with_their_own_angles(machine: Machine) -> None:
    level = [box(100.0 + 15.0 * i, 100.0, 106.0 + 15.0 * i, 104.0) for i in range(4)]
    slanted = [translate(one, 0.0, 140.0) for one in level]
    slanted = [rotate(one, 60.0, origin=(120.0, 240.0)) for one in slanted]
    found = dict(grouped(level + slanted, machine))
    assert found[(0, 1, 2, 3)] == pytest.approx(0.0, abs=1.0)
    assert found[(4, 5, 6, 7)] == pytest.approx(60.0, abs=1.0)


def test_groups_cost_what_the_best_of_all_groupings_costs(machine: Machine) -> None:
    """Against every way to put five islands together (Bell's 52 partitions), level and upright."""
    rng = np.random.default_rng(5)
    islands = []
    for x, y in rng.uniform(100.0, 190.0, (5, 2)):
        wide, high = rng.uniform(3.0, 12.0, 2)
        islands.append(box(x, y, x + wide, y + high))
    apart = [a for a, b in combinations(islands, 2) if a.intersects(b)]
    assert not apart
    area = MultiPolygon(islands)
    angles = (0.0, 90.0)
    rows_s = {0.0: scan(area, BURN, machine).seconds}
    never = np.full(5, np.inf)
    alone = [((p,), 0.0) for p in range(5)]
    found = clusters(islands, alone, never, angles, rows_s, BURN, machine)
    seam_s = _seam_s(machine)
    model = RowModel(islands, BURN, machine)
    more = min(max(rows_s[0.0] / float(model.seconds(range(5), [0.0])[0]), 1.0), 1.6)
    least = min(
        sum(more * float(model.seconds(group, angles).min()) + seam_s for group in partition)
        for partition in _partitions(list(range(5)))
    )
    assert sum(group.seconds for group in found) <= least + 1e-6


def _seam_s(machine: Machine) -> float:
    return float(2.0 * np.sqrt(30.0 / min(machine.travel.acceleration_mm_s2))) + machine.settle_s


def _partitions(items: list[int]) -> list[list[list[int]]]:
    if not items:
        return [[]]
    first, found = items[0], []
    for rest in _partitions(items[1:]):
        found.append([[first], *rest])
        found += [[*rest[:k], [first, *rest[k]], *rest[k + 1 :]] for k in range(len(rest))]
    return found


def test_the_model_is_turns_burns_and_gaps(machine: Machine) -> None:
    """Two squares of 10 mm, 20 mm apart: by hand, turns and 40 mm in every row."""
    squares = [box(100.0, 100.0, 110.0, 110.0), box(130.0, 100.0, 140.0, 110.0)]
    motion = row_motion(machine, BURN, 0.0)
    crossed = motion.turn_s + 40.0 / motion.speed_mm_s
    by_hand = 10.0 / BURN.interval_mm * crossed
    seconds = float(RowModel(squares, BURN, machine).seconds([0, 1], [0.0])[0])
    assert seconds == pytest.approx(by_hand, rel=0.04)
    assert seconds == pytest.approx(
        scan(as_area(MultiPolygon(squares)), BURN, machine).seconds, rel=0.04
    )


def test_an_angle_is_made_finer_down_to_the_bars_own(machine: Machine) -> None:
    bar = rotate(box(200.0, 200.0, 300.0, 204.0), 33.3)
    model = RowModel([bar], BURN, machine)
    start_s = float(model.seconds([0], [25.0])[0])
    angle, seconds = finer_angle(25.0, start_s, lambda angles: model.seconds([0], angles))
    assert angle == pytest.approx(33.3, abs=0.5)
    assert seconds < 0.5 * start_s


@st.composite
def strewn(draw: st.DrawFn) -> MultiPolygon:
    """Clusters of islands, frames, combs and letters."""
    pieces: list[Polygon] = []
    for number in range(draw(st.integers(1, 3))):
        kind = draw(st.sampled_from(["islands", "frame", "comb", "letters"]))
        if kind == "islands":
            pitch, size = draw(st.floats(4.0, 15.0)), draw(st.floats(0.6, 3.0))
            dot = draw(st.sampled_from([Point(0, 0).buffer(1.0), box(-1.0, -0.4, 1.0, 0.4)]))
            made = shapely.union_all(
                [
                    translate(
                        rotate(scale(dot, size, size), 15.0 * draw(st.integers(0, 11))),
                        pitch * i,
                        pitch * j,
                    )
                    for i in range(draw(st.integers(1, 4)))
                    for j in range(draw(st.integers(1, 3)))
                ]
            )
        elif kind == "frame":
            outer = box(0.0, 0.0, draw(st.floats(10.0, 40.0)), draw(st.floats(8.0, 30.0)))
            made = outer.difference(outer.buffer(-draw(st.floats(0.5, 3.0)), join_style="mitre"))
        else:
            made = comb() if kind == "comb" else letters()
        made = rotate(made, draw(st.sampled_from([0.0, 90.0, 20.0])), origin=(0.0, 0.0))
        x, y = made.bounds[:2]
        pieces += as_area(translate(made, 100.0 + 70.0 * number - x, 150.0 - y)).geoms
    return as_area(shapely.union_all(pieces))


def limits(draw: st.DrawFn, least_mm_s: float, slow_mm_s2: float, fast_mm_s2: float) -> AxisLimits:
    speed = st.floats(least_mm_s, 1500.0)
    acceleration = st.floats(slow_mm_s2, fast_mm_s2)
    return AxisLimits(
        speed_mm_s=(draw(speed), draw(speed)),
        acceleration_mm_s2=(draw(acceleration), draw(acceleration)),
    )


@st.composite
def machine_limits(draw: st.DrawFn) -> dict[str, object]:
    """Slow portals and fast heads, even or with one slow axis."""
    return {
        "scanning": limits(draw, 200.0, 1000.0, 30000.0),
        "cutting": limits(draw, 200.0, 300.0, 8000.0),
        "travel": limits(draw, 200.0, 300.0, 8000.0),
        "settle_s": draw(st.sampled_from([0.0, 0.02])),
        "junction_deviation_mm": draw(st.sampled_from([0.005, 0.01, 0.05])),
        "spot_mm": 0.2,
    }


@settings(max_examples=15)
@given(area=strewn(), fields=machine_limits(), speed_mm_s=st.sampled_from([150.0, 400.0, 1000.0]))
def test_never_slower_than_the_best_single_way_on_any_machine(
    area: MultiPolygon,
    fields: dict[str, object],
    speed_mm_s: float,
    make_machine: Callable[..., Machine],
) -> None:
    machine = make_machine(**fields)
    recipe = Recipe(
        machine=machine.name, process="engrave", speed_mm_s=speed_mm_s, power=0.5, interval_mm=0.2
    )
    work = engrave(area, recipe, machine, source=0)
    for way in SINGLE_WAYS:
        if work.times_s[way] < work.times_s[work.way]:
            # only a way that leaves too much unburned may be faster
            alone = engrave(area, recipe, machine, way=way, source=0)
            assert alone.uncovered_mm2 > 0.001 * area.area >= work.uncovered_mm2
    assert time_toolpath(work.toolpath, machine).total_s == pytest.approx(work.times_s[work.way])
    together = shapely.union_all([cell.area for cell in work.cells])
    assert together.symmetric_difference(area).area < 1e-6
