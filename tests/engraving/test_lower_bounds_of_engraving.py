"""Lower bounds of engraving stay below every time that is reached, and near it where it is known.

Weak duality (Chvátal, *Linear Programming*, 1983, chapter 5) makes a bound of prices; here it is
held against plans, with rows and loops of many kinds, on machines and areas drawn at random.
"""

from __future__ import annotations

import os
from collections.abc import Callable

import numpy as np
import pytest
from benchmarks._engraving_bound import lower_bound_s
from benchmarks._engraving_cover import cover_bound_s
from benchmarks._engraving_plain import plain_ways_s
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely import MultiPolygon, Point, box
from shapely.affinity import rotate, translate

from axis_limits import limits
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.choose import engrave
from kerfwright.geometry.regions import as_area
from kerfwright.shop.machine import Machine
from kerfwright.shop.material import Recipe

INTERVAL_MM = 0.25
ROUNDING = 1.01


def coarse_cover_s(area: MultiPolygon, burn: Burn, machine: Machine) -> float:
    return cover_bound_s(area, burn, machine, boxes=80, places=4)


@st.composite
def pieces(draw: st.DrawFn) -> MultiPolygon:
    """One to three bars and discs apart from each other, turned any way."""
    made = []
    for number in range(draw(st.integers(1, 3))):
        size = draw(st.floats(3.0, 25.0))
        bar = box(-size, -0.3 * size, size, 0.3 * size)
        shape = draw(st.sampled_from([bar, Point(0.0, 0.0).buffer(size, quad_segs=20)]))
        turned = rotate(shape, draw(st.sampled_from([0.0, 30.0, 45.0, 90.0])))
        made.append(translate(turned, 60.0 + 70.0 * number, 100.0))
    return MultiPolygon(made)


def planned(
    area: MultiPolygon, machine: Machine, speed_mm_s: float
) -> tuple[dict[str, float], Burn]:
    recipe = Recipe(
        machine=machine.name,
        process="engrave",
        speed_mm_s=speed_mm_s,
        power=0.5,
        interval_mm=INTERVAL_MM,
    )
    burn = Burn(speed_mm_s, 0.5, INTERVAL_MM, machine.spot_mm, 0)
    return engrave(area, recipe, machine, source=0).times_s, burn


@settings(max_examples=2 if "CI" in os.environ else 5)
@given(
    area=pieces(),
    rows_mm_s2=st.sampled_from([2000.0, 8000.0, 20000.0]),
    loops_mm_s2=st.sampled_from([500.0, 3000.0]),
    speed_mm_s=st.sampled_from([200.0, 600.0]),
)
def test_no_way_is_faster_than_the_bounds(
    area: MultiPolygon,
    rows_mm_s2: float,
    loops_mm_s2: float,
    speed_mm_s: float,
    make_machine: Callable[..., Machine],
) -> None:
    machine = make_machine(
        scanning=limits(1000.0, rows_mm_s2), cutting=limits(1000.0, loops_mm_s2), spot_mm=0.3
    )
    times, burn = planned(area, machine, speed_mm_s)
    reached = min(*times.values(), *plain_ways_s(area, burn, machine).values())
    for bound in (lower_bound_s, coarse_cover_s):
        found = bound(area, burn, machine)
        assert area.area / INTERVAL_MM / speed_mm_s * 0.95 <= found <= ROUNDING * reached


def test_rows_along_a_long_bar_cannot_be_bettered_and_the_bounds_know_it(
    make_machine: Callable[..., Machine],
) -> None:
    """300 × 5 mm: 20 rows of 300 mm with a turn 2·v / a each; loops stop at its narrow ends."""
    machine = make_machine(
        scanning=limits(1000.0, 4000.0), cutting=limits(1000.0, 300.0), spot_mm=INTERVAL_MM
    )
    bar = as_area(box(100.0, 100.0, 400.0, 105.0))
    times, burn = planned(bar, machine, 500.0)
    rows_s = 20 * (300.0 / 500.0 + 2.0 * 500.0 / 4000.0)
    assert min(times.values()) == pytest.approx(rows_s, rel=0.03)
    assert coarse_cover_s(bar, burn, machine) == pytest.approx(rows_s, rel=0.05)


def test_sharing_makes_the_cover_the_tighter_bound_of_a_square(
    make_machine: Callable[..., Machine],
) -> None:
    """Each place of a square has a long diagonal row, but not all places at once."""
    machine = make_machine(scanning=limits(1000.0, 8000.0), cutting=limits(1000.0, 1000.0))
    square = as_area(box(100.0, 100.0, 140.0, 140.0))
    times, burn = planned(square, machine, 600.0)
    single, shared = (bound(square, burn, machine) for bound in (lower_bound_s, coarse_cover_s))
    assert 1.05 * single < shared < min(times.values())
    assert np.isfinite(shared)


def test_the_cover_knows_what_islands_in_a_row_can_share(
    make_machine: Callable[..., Machine],
) -> None:
    """Twelve squares of 4 mm, 10 mm apart: 16 rows of 114 mm burn them all.

    Rows across the line would be 192. A place's longest row, on the other hand, is had at every
    place of a square only by rows that lie along the line.
    """
    machine = make_machine(
        scanning=limits(1000.0, 4000.0), cutting=limits(1000.0, 300.0), spot_mm=INTERVAL_MM
    )
    squares = [box(100.0 + 10.0 * k, 100.0, 104.0 + 10.0 * k, 104.0) for k in range(12)]
    area = MultiPolygon(squares)
    times, burn = planned(area, machine, 500.0)
    rows_s = 16 * (114.0 / 500.0 + 2.0 * 500.0 / 4000.0)
    assert min(times.values()) == pytest.approx(rows_s, rel=0.03)
    assert coarse_cover_s(area, burn, machine) == pytest.approx(rows_s, rel=0.1)


@pytest.mark.parametrize("corner_mm", [0.0, 30.0])
def test_cells_of_a_frame_take_no_less_than_the_cover(
    corner_mm: float, make_machine: Callable[..., Machine]
) -> None:
    """Bars of a frame end where others begin, so that rows burn a part of what lies on a line."""
    machine = make_machine(
        scanning=limits(1000.0, 4000.0), cutting=limits(1000.0, 300.0), spot_mm=INTERVAL_MM
    )
    frame = box(100.0, 100.0, 300.0, 180.0).difference(box(110.0, 110.0, 290.0, 170.0))
    corner = box(100.0, 100.0, 100.0 + corner_mm, 100.0 + corner_mm)
    area = as_area(frame.union(corner))
    times, burn = planned(area, machine, 500.0)
    assert times["mixed"] < 0.9 * min(times["scan"], times["contour-parallel"])
    assert 0.8 * times["mixed"] <= coarse_cover_s(area, burn, machine) <= times["mixed"]
