"""Where rows end at slanted edges, how they turn round, and rows burned in one direction."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from shapely import MultiPolygon, Polygon, box
from shapely.affinity import rotate

from axis_limits import limits
from engraved_shapes import SHAPES, square
from kerfwright.engraving.bed import keep_on_bed
from kerfwright.engraving.burn import STEEPEST_SLANT, Burn, row_motion
from kerfwright.engraving.choose import engrave
from kerfwright.engraving.row_ends import row_ends
from kerfwright.engraving.rows import edges_of
from kerfwright.engraving.scan import Scan, scan
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.program.classify import classify
from kerfwright.program.interpreter import interpret
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import MoveKind, Toolpath

BURN = Burn(speed_mm_s=500.0, power=0.5, interval_mm=0.1, spot_mm=0.12, source=3)
ONE_WAY = Burn(speed_mm_s=500.0, power=0.5, interval_mm=0.1, spot_mm=0.12, source=3, one_way=True)


def swept(toolpath: Toolpath, spot_mm: float) -> shapely.Geometry:
    points, on = toolpath.points, toolpath.burning
    lines = shapely.linestrings(np.stack([points[:-1][on], points[1:][on]], axis=1))
    return shapely.union_all(shapely.buffer(lines, 0.5 * spot_mm, quad_segs=32))


@pytest.mark.parametrize("edge_deg", [25.0, 40.0, 60.0, 75.0, 90.0])
def test_round_ends_of_neighbours_cross_on_the_edge_or_lie_on_it(edge_deg: float) -> None:
    """Circles of radius r around ends d apart cross at √(r² − d²/4) (Pythagoras)."""
    step, spot = 0.1, 0.12
    lean = 10.0 / math.tan(math.radians(edge_deg))
    bar = Polygon([(0.0, 0.0), (20.0, 0.0), (20.0 + lean, 10.0), (lean, 10.0)])
    _, a, b = row_ends(edges_of(as_area(bar), 0.0), 0.05, step, 100, spot)
    ends = shapely.points(np.column_stack([b, 0.05 + step * np.arange(100)]))
    right = shapely.LineString([(20.0, 0.0), (20.0 + lean, 10.0)])
    apart = step / math.sin(math.radians(edge_deg))
    inside = math.sqrt(max(0.25 * spot**2 - 0.25 * apart**2, 0.0))
    assert shapely.distance(ends, right) == pytest.approx(inside, abs=1e-9)
    assert b - a == pytest.approx(20.0 - 2.0 * inside / math.sin(math.radians(edge_deg)))


def test_burns_too_short_to_be_drawn_in_are_not_lost() -> None:
    """A bar 0.05 mm wide: less than what both ends would be drawn in by."""
    row, a, b = row_ends(edges_of(as_area(box(0, 0, 0.05, 1)), 0.0), 0.05, 0.1, 10, 0.14)
    assert row.tolist() == list(range(10))
    assert (b > a).all()
    assert (a + b == pytest.approx(np.full(10, 0.05))) is True


def test_star_needs_few_rows_between_the_even_ones(machine: Machine) -> None:
    """Slanted edges are closed by the rows themselves: 120 even rows, hardly any more."""
    angle = np.linspace(0.0, 2.0 * np.pi, 10, endpoint=False)
    reach = 6.0 * np.where(np.arange(10) % 2 == 0, 1.0, 0.45)
    star = Polygon(100.0 + np.column_stack([reach * np.sin(angle), reach * np.cos(angle)]))
    made = scan(as_area(star), BURN, machine, arrangement="together")
    heights = np.unique(np.round(made.toolpath.points[1:][made.toolpath.burning][:, 1], 6))
    even = math.ceil(np.ptp(np.asarray(star.exterior.coords)[:, 1]) / 0.1)
    assert even <= len(heights) <= 1.05 * even
    assert swept(made.toolpath, 0.12).intersection(star).area >= 0.999 * star.area


def turns_s(made: Scan, machine: Machine) -> tuple[float, int]:
    """Seconds with the beam off between rows, and how many turns there are."""
    seconds = move_times_s(made.toolpath, machine)
    rows = np.flatnonzero(made.toolpath.moves["kind"] == MoveKind.ROW)
    between = seconds[rows[0] : rows[-1]].sum() - seconds[rows[:-1]].sum()
    return float(between), len(rows) - 1


def test_turn_takes_no_longer_than_stopping_and_starting(machine: Machine) -> None:
    """Stopping from v and starting back to v takes 2·v/a (any mechanics handbook)."""
    made = scan(square(), BURN, machine)
    seconds, turns = turns_s(made, machine)
    a = machine.scanning.acceleration_mm_s2[0]
    # the point of the turn is not quite a reversal, and is passed at a crawl
    assert seconds == pytest.approx(turns * 2.0 * BURN.speed_mm_s / a, rel=5e-3)


def test_machine_that_slows_for_the_bend_turns_square(
    make_machine: Callable[..., Machine],
) -> None:
    """A jump of the other axis' speed by v·slant above the corner speed would slow the burn."""
    machine = make_machine(corner_speed_mm_s=1.0)
    motion = row_motion(machine, BURN, 0.0)
    assert motion.steepest == 0.0
    slow = scan(square(), BURN, machine)
    burning = slow.toolpath.burning
    seconds = move_times_s(slow.toolpath, machine)[burning].sum()
    assert seconds == pytest.approx(slow.toolpath.lengths_mm[burning].sum() / 500.0, rel=1e-6)
    brisk = make_machine(corner_speed_mm_s=20.0)
    assert row_motion(brisk, BURN, 0.0).steepest > 0.0


@given(
    speed_mm_s=st.floats(20.0, 1500.0),
    acceleration=st.floats(500.0, 30_000.0),
    interval_mm=st.floats(0.03, 0.4),
    angle_deg=st.sampled_from([0.0, 30.0, 45.0, 90.0, 170.0]),
    corner_mm_s=st.sampled_from([None, 0.5, 5.0, 30.0]),
)
def test_leaning_run_ups_never_slow_a_burn_nor_cost_time(
    speed_mm_s: float,
    acceleration: float,
    interval_mm: float,
    angle_deg: float,
    corner_mm_s: float | None,
    make_machine: Callable[..., Machine],
) -> None:
    machine = make_machine(
        scanning=AxisLimits(
            speed_mm_s=(2000.0, 1200.0), acceleration_mm_s2=(acceleration, 0.4 * acceleration)
        ),
        corner_speed_mm_s=corner_mm_s,
    )
    burn = Burn(speed_mm_s, 0.5, interval_mm, interval_mm, 0)
    motion = row_motion(machine, burn, angle_deg)
    area = as_area(rotate(box(100.0, 100.0, 108.0, 100.0 + 6.0 * interval_mm), angle_deg))
    made = scan(area, burn, machine, angle_deg=angle_deg, arrangement="together")
    burning = made.toolpath.burning
    seconds = move_times_s(made.toolpath, machine)[burning].sum()
    burned_mm = made.toolpath.lengths_mm[burning].sum()
    assert seconds == pytest.approx(burned_mm / motion.speed_mm_s, rel=2e-3)
    assert motion.steepest <= 1.001 * STEEPEST_SLANT
    taken, turns = turns_s(made, machine)
    if motion.steepest > 0.0:
        # less where the point of the turn, no full reversal, is passed at a crawl
        assert taken <= 1.01 * turns * motion.turn_s


def test_leaning_run_ups_are_read_back_as_rows(machine: Machine) -> None:
    toolpath = scan(square(3.0), BURN, machine).toolpath
    lines = ["G21 G90", "M4 S0", f"G0 X{toolpath.start_mm[0]:.3f} Y{toolpath.start_mm[1]:.3f}"]
    for move in toolpath.moves:
        power = 1000.0 * move["power"]
        lines.append(f"G1 X{move['x_mm']:.3f} Y{move['y_mm']:.3f} F30000 S{power:g}")
    told = classify(interpret(lines, machine)).toolpath.moves["kind"]
    wanted = toolpath.moves["kind"]
    assert (told == MoveKind.ROW).sum() == (wanted == MoveKind.ROW).sum() > 20


def directions(toolpath: Toolpath) -> set[tuple[float, float]]:
    rows = toolpath.moves["kind"] == MoveKind.ROW
    steps = np.diff(toolpath.points, axis=0)[rows]
    unit = np.round(steps / np.hypot(steps[:, 0], steps[:, 1])[:, None], 6) + 0.0
    return {(float(x), float(y)) for x, y in unit}


@pytest.mark.parametrize("name", ["square", "letters", "comb", "islands"])
@pytest.mark.parametrize("angle_deg", [0.0, 33.0])
def test_rows_of_one_direction_all_run_the_same_way_and_burn_the_same(
    name: str, angle_deg: float, machine: Machine
) -> None:
    area = SHAPES[name]()
    one = scan(area, ONE_WAY, machine, angle_deg=angle_deg, arrangement="together")
    both = scan(area, BURN, machine, angle_deg=angle_deg, arrangement="together")
    assert len(directions(one.toolpath)) == 1
    assert len(directions(both.toolpath)) == 2
    burned = [swept(made.toolpath, 0.12) for made in (one, both)]
    assert burned[0].symmetric_difference(burned[1]).area < 1e-6
    assert one.seconds > both.seconds


def test_time_of_one_direction_is_the_closed_form(machine: Machine) -> None:
    """Out and in again 2·v/a, back over row and run-ups at v with a: (L + v²/a)/v + v/a."""
    made = scan(square(), ONE_WAY, machine)
    seconds, turns = turns_s(made, machine)
    v, a = 500.0, machine.scanning.acceleration_mm_s2[0]
    motion = row_motion(machine, ONE_WAY, 0.0)
    row_mm = float(made.toolpath.lengths_mm[made.toolpath.burning][0])
    assert seconds / turns == pytest.approx(4.0 * v / a + row_mm / v, rel=1e-3)
    assert seconds / turns == pytest.approx(
        motion.turn_s + row_mm / motion.row_speed_mm_s - row_mm / v, rel=1e-3
    )


def test_way_back_is_a_travel_where_that_is_faster(make_machine: Callable[..., Machine]) -> None:
    machine = make_machine(travel=limits(3000.0, 16_000.0))
    slow = scan(square(200.0), ONE_WAY, machine)
    assert (slow.toolpath.moves["kind"] == MoveKind.TRAVEL).sum() > 1000
    by_rows = scan(square(200.0), ONE_WAY, make_machine())
    assert slow.seconds < by_rows.seconds


def test_recipe_of_one_direction_says_what_it_costs(machine: Machine) -> None:
    fields = {
        "machine": machine.name,
        "process": "engrave",
        "speed_mm_s": 800.0,
        "power": 0.5,
        "interval_mm": 0.2,
    }
    both = engrave(square(30.0), Recipe.model_validate(fields), machine, source=0)
    one_way = Recipe.model_validate(fields | {"row_direction": "one", "finish": "rows"})
    one = engrave(square(30.0), one_way, machine, source=0)
    assert [finding.code for finding in both.findings if "direction" in finding.code] == []
    (said,) = [finding for finding in one.findings if finding.code == "engraving/one-direction"]
    assert f"{one.times_s['scan']:.0f} s" in said.what
    assert f"{both.times_s['scan']:.0f} s" in said.what
    assert len(directions(one.toolpath)) == 1
    assert time_toolpath(one.toolpath, machine).total_s == pytest.approx(one.times_s["scan"])


def test_rows_of_one_direction_stay_on_the_bed(machine: Machine) -> None:
    corner = MultiPolygon([box(0.0, 0.0, 30.0, 30.0)])
    whole = scan(corner, ONE_WAY, machine).toolpath
    kept, findings = keep_on_bed(whole, machine)
    assert whole.points.min() < 0.0 <= kept.points.min() + 1e-9
    assert [finding.code for finding in findings] == ["engraving/short-run-up"]
    assert directions(kept) == directions(whole)
