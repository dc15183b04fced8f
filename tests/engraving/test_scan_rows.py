"""How rows lie, turn round and cross gaps."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, box

from axis_limits import limits
from engraved_shapes import square
from kerfwright.engraving.bed import keep_on_bed
from kerfwright.engraving.burn import Burn, along, row_motion
from kerfwright.engraving.rows_kernel import cross_rows
from kerfwright.engraving.scan import scan
from kerfwright.motion.timing import move_times_s, time_toolpath
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.toolpath import MoveKind, Toolpath

BURN = Burn(speed_mm_s=500.0, power=0.5, interval_mm=0.1, spot_mm=0.1, source=3)


def boxes(*corners: tuple[float, float, float, float]) -> MultiPolygon:
    return MultiPolygon([box(*c) for c in corners])


def row_heights(toolpath: Toolpath) -> list[float]:
    y = toolpath.moves["y_mm"][toolpath.moves["kind"] == MoveKind.ROW]
    return sorted(set(np.round(y, 6).tolist()))


def test_first_row_lies_half_an_interval_inside(machine: Machine) -> None:
    heights = row_heights(scan(square(5.0), BURN, machine).toolpath)
    assert heights[0] == pytest.approx(100.05)
    assert heights[-1] == pytest.approx(104.95)
    assert np.allclose(np.diff(heights), 0.1)


def test_rows_run_both_ways_by_turns(machine: Machine) -> None:
    toolpath = scan(square(5.0), BURN, machine).toolpath
    rows = np.flatnonzero(toolpath.moves["kind"] == MoveKind.ROW)
    run = np.sign(np.diff(toolpath.points[:, 0])[rows])
    assert (run[1:] == -run[:-1]).all()


@pytest.mark.parametrize("angle_deg", [0.0, 25.0, 90.0, 140.0])
def test_every_burn_runs_at_full_speed(
    angle_deg: float, make_machine: Callable[..., Machine]
) -> None:
    """Run-up is v²/(2a) of the axes that scan, the tighter governing: so no burn is slowed."""
    machine = make_machine(
        scanning=AxisLimits(speed_mm_s=(900.0, 700.0), acceleration_mm_s2=(12000.0, 5000.0))
    )
    toolpath = scan(square(8.0), BURN, machine, angle_deg=angle_deg).toolpath
    burning = toolpath.burning
    seconds = move_times_s(toolpath, machine)[burning].sum()
    assert seconds == pytest.approx(toolpath.lengths_mm[burning].sum() / 500.0, rel=1e-6)


@pytest.mark.parametrize("gap_mm", [3.0, 30.0, 90.0, 250.0, 400.0])
@pytest.mark.parametrize("settle_s", [0.0, 0.02])
def test_gap_is_crossed_in_the_faster_of_both_manners(
    gap_mm: float, settle_s: float, make_machine: Callable[..., Machine]
) -> None:
    """Both manners driven by hand and timed by the machine's clock agree with the choice."""
    machine = make_machine(travel=limits(1500.0, 8000.0), settle_s=settle_s)
    area = boxes((100, 100, 105, 100.1), (105 + gap_mm, 100, 110 + gap_mm, 100.1))
    motion = row_motion(machine, BURN, 0.0)
    chosen = scan(area, BURN, machine, arrangement="together").toolpath

    jumps = bool((chosen.moves["kind"] == MoveKind.TRAVEL).any())
    other = chosen.moves[[0, 1, -3, -2, -1]] if jumps else chosen.moves
    if not jumps:
        if gap_mm <= 2 * motion.run_up_mm:
            return
        out, back = chosen.moves[1:2].copy(), chosen.moves[1:2].copy()
        out["x_mm"], back["x_mm"] = 105 + motion.run_up_mm, 105 + gap_mm - motion.run_up_mm
        for move in (out, back):
            move["power"] = 0.0
        out["kind"], back["kind"], back["speed_mm_s"] = MoveKind.RUN_UP, MoveKind.TRAVEL, 1e4
        other = np.concatenate([chosen.moves[:2], out, back, chosen.moves[2:]])
    else:
        other = np.concatenate([chosen.moves[:2], chosen.moves[4:]])
    by_other = time_toolpath(Toolpath(other, chosen.start_mm), machine).total_s
    assert time_toolpath(chosen, machine).total_s <= by_other + 1e-9


@pytest.mark.parametrize("settle_s", [0.0, 0.02])
def test_closed_form_of_a_jump_is_the_clocks(
    settle_s: float, make_machine: Callable[..., Machine]
) -> None:
    machine = make_machine(travel=limits(1500.0, 8000.0), settle_s=settle_s)
    motion = row_motion(machine, BURN, 0.0)
    for gap_mm in (400.0, 700.0):
        area = boxes((100, 100, 105, 100.1), (105 + gap_mm, 100, 110 + gap_mm, 100.1))
        toolpath = scan(area, BURN, machine, arrangement="together").toolpath
        seconds = move_times_s(toolpath, machine)
        rows = np.flatnonzero(toolpath.moves["kind"] == MoveKind.ROW)
        between = seconds[rows[0] + 1 : rows[1]].sum()
        assert between == pytest.approx(
            float(motion.gap_s(np.array(gap_mm), np.array(5.0), np.array(5.0))), rel=1e-6
        )
        assert float(motion.jump_s(np.array(gap_mm))) < gap_mm / 500.0


def test_far_pieces_are_scanned_one_by_one_and_near_ones_together(machine: Machine) -> None:
    far = scan(boxes((0, 0, 10, 20), (500, 0, 510, 20)), BURN, machine)
    near = scan(boxes((0, 0, 10, 20), (12, 0, 22, 20)), BURN, machine)
    assert far.arrangement == "apart"
    assert far.times_s["apart"] < far.times_s["together"]
    assert near.arrangement == "together"


def test_legs_of_a_frame_are_scanned_apart(machine: Machine) -> None:
    frame = shapely.difference(box(0, 0, 400, 200), box(10, 10, 390, 190))
    both = scan(MultiPolygon([frame]), BURN, machine)
    assert both.times_s["apart"] < 0.5 * both.times_s["together"]
    burned = both.toolpath.lengths_mm[both.toolpath.burning].sum()
    assert burned * 0.1 == pytest.approx(frame.area, rel=0.01)


def test_run_ups_are_shortened_at_the_edge_of_the_bed(machine: Machine) -> None:
    corner = MultiPolygon([box(0.0, 0.0, 30.0, 30.0)])
    for angle_deg in (0.0, 90.0, 45.0):
        whole = scan(corner, BURN, machine, angle_deg=angle_deg).toolpath
        kept, findings = keep_on_bed(whole, machine, angle_deg)
        assert whole.points.min() < 0.0 <= kept.points.min() + 1e-9
        assert [f.code for f in findings] == ["engraving/short-run-up"]
        assert np.allclose(
            kept.lengths_mm[kept.burning], whole.lengths_mm[whole.burning], rtol=1e-9
        )
    middle = scan(square(5.0), BURN, machine).toolpath
    assert keep_on_bed(middle, machine, 0.0) == (middle, ())


def test_tighter_axis_governs_along_a_slanted_row() -> None:
    scanning = AxisLimits(speed_mm_s=(1000.0, 500.0), acceleration_mm_s2=(16000.0, 4000.0))
    line = along(scanning, 45.0)
    assert line.speed_mm_s == pytest.approx(500.0 * np.sqrt(2))
    assert line.acceleration_mm_s2 == pytest.approx(4000.0 * np.sqrt(2))


def test_line_through_a_vertex_is_crossed_an_even_number_of_times() -> None:
    diamond = np.array([(0, -1), (1, 0), (0, 1), (-1, 0)], dtype=float)
    edges = np.hstack([diamond, np.roll(diamond, -1, axis=0)])
    start, x = cross_rows(edges, -1.0, 0.5, 5)
    assert start.tolist() == [0, 2, 4, 6, 8, 8]
    assert x.tolist() == [0, 0, -0.5, 0.5, -1, 1, -0.5, 0.5]
