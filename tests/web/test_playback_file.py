"""The moves that a page plays: their times, their motion, and the form of their file.

Sources: motion with constant acceleration (any textbook of mechanics): a straight of length s from
rest to rest at speed v and acceleration a takes s / v + v / a, and v / a of it speeding up. The
form of the file is this project's own; gzip is RFC 1952.
"""

from __future__ import annotations

import gzip
import itertools
from pathlib import Path

import numpy as np
import pytest
import shapely

from kerfwright.motion.moments import moments_at
from kerfwright.motion.timing import time_toolpath
from kerfwright.motion.trace import trace_of
from kerfwright.plan import Plan
from kerfwright.planner import plan_order
from kerfwright.toolpath import BurnSource, MoveKind, Process, Toolpath, moves_along
from kerfwright.web.playback import sheet_playback, write_playback
from kerfwright.web.playback_file import (
    FULL,
    PROCESSES,
    clocked_moves,
    moves_bytes,
    process_codes,
    read_columns,
)
from kerfwright.web.playback_kept import moves_file, playback_file, sheet_times
from kerfwright.web.playback_model import Playback
from played_order import played_order
from timed_machines import QUAY

NEAR_S = 0.05
"""Corners are cut round in moves that last less."""


@pytest.fixture(scope="module")
def plan(tmp_path_factory: pytest.TempPathFactory) -> Plan:
    return played_order(tmp_path_factory.mktemp("played"))[1]


def columns(toolpath: Toolpath) -> dict[str, np.ndarray]:
    clocked = clocked_moves(toolpath, QUAY)
    return read_columns(moves_bytes(toolpath, clocked, process_codes(toolpath, ())))


def straight(length_mm: float, dwell_s: float = 0.0) -> Toolpath:
    moves = moves_along(
        np.array([(length_mm, 0.0)]), kind=MoveKind.CUT, speed_mm_s=50.0, power=0.6, source=0
    )
    moves["dwell_s"] = dwell_s
    return Toolpath(moves)


def test_a_straight_takes_what_mechanics_says() -> None:
    found = columns(straight(100.0))
    speeding_s = 50.0 / QUAY.cutting.acceleration_mm_s2[0]
    assert found["end_s"][0] - found["wait_s"][0] == pytest.approx(100.0 / 50.0 + speeding_s)
    whole_s = 100.0 / 50.0 + speeding_s
    assert found["up"][0] / FULL == pytest.approx(speeding_s / whole_s, abs=1e-4)
    assert found["down"][0] / FULL == pytest.approx(speeding_s / whole_s, abs=1e-4)
    assert found["top_mm_s"][0] == 50.0


def test_a_pierce_is_waited_for_before_the_move() -> None:
    with_pierce, without = columns(straight(30.0, dwell_s=0.75)), columns(straight(30.0))
    assert with_pierce["wait_s"][0] - without["wait_s"][0] == pytest.approx(0.75)
    assert with_pierce["end_s"][0] - without["end_s"][0] == pytest.approx(0.75)


def test_rows_of_a_photo_are_told_from_engraving() -> None:
    moves = moves_along(
        np.array([(1.0, 0.0), (2.0, 0.0)]), kind=MoveKind.ROW, speed_mm_s=1.0, power=1.0, source=0
    )
    moves["source"][1] = 1
    sources = [BurnSource("a", 1, Process.ENGRAVE), BurnSource("b", 1, Process.PHOTO)]
    codes = process_codes(Toolpath(moves), sources)
    assert [PROCESSES[code] for code in codes] == ["engrave", "photo"]


def test_no_moves_make_a_file_of_none() -> None:
    found = columns(Toolpath(straight(1.0).moves[:0]))
    assert found["points"].tolist() == [[0.0, 0.0]]
    assert len(found["end_s"]) == 0


def test_bytes_of_something_else_are_refused() -> None:
    with pytest.raises(ValueError, match="not a file of moves"):
        read_columns(b"SVG?" + bytes(60))


def test_the_clock_ends_when_the_plan_does(plan: Plan) -> None:
    for sheet in plan.sheets:
        found = read_columns(gzip.decompress(sheet_playback(sheet, plan.machine)[0]))
        assert found["end_s"][-1] == pytest.approx(sheet.times.total_s, rel=1e-9)
        assert time_toolpath(sheet.toolpath, plan.machine).total_s == sheet.times.total_s


def test_speed_over_time_gives_the_length_of_every_move(plan: Plan) -> None:
    sheet = plan.sheets[0]
    found = read_columns(gzip.decompress(sheet_playback(sheet, plan.machine)[0]))
    moving = np.diff(found["end_s"], prepend=0.0) - found["wait_s"]
    up, down = (moving * (found[name] / FULL) for name in ("up", "down"))
    entry, top, leaving = (found[name] for name in ("entry_mm_s", "top_mm_s", "exit_mm_s"))
    area = 0.5 * (entry + top) * up + top * (moving - up - down) + 0.5 * (top + leaving) * down
    assert area == pytest.approx(sheet.toolpath.lengths_mm, rel=2e-3, abs=2e-3)


def test_every_move_ends_where_the_machine_then_is(plan: Plan) -> None:
    sheet = plan.sheets[0]
    found = read_columns(gzip.decompress(sheet_playback(sheet, plan.machine)[0]))
    trace = trace_of(sheet.toolpath, plan.machine)
    there = moments_at(trace, sheet.toolpath, found["end_s"].astype(float))
    apart = np.hypot(there.x_mm - found["points"][1:, 0], there.y_mm - found["points"][1:, 1])
    assert apart.max() < 1e-3


def test_processes_and_their_stretches_fill_the_time(plan: Plan) -> None:
    sheet = plan.sheets[0]
    data, about = sheet_playback(sheet, plan.machine)
    found, told = read_columns(gzip.decompress(data)), Playback.model_validate_json(about)
    used = {PROCESSES[code] for code in found["process"]}
    assert used == {"travel", Process.ENGRAVE, Process.SCORE, Process.CUT}
    assert [one.process for one in told.stretches] == ["engrave", "score", "cut"]
    edges = [(one.start_s, one.end_s) for one in told.stretches]
    assert edges[0][0] == 0.0
    assert edges[-1][1] == pytest.approx(sheet.times.total_s)
    assert all(before[1] == after[0] for before, after in itertools.pairwise(edges))


def test_a_part_is_free_once_burned_lines_enclose_it(plan: Plan) -> None:
    sheet = plan.sheets[0]
    data, about = sheet_playback(sheet, plan.machine)
    end_s = read_columns(gzip.decompress(data))["end_s"]
    points = sheet.toolpath.points
    lines = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    cut = sheet.toolpath.burning & (sheet.toolpath.moves["kind"] == MoveKind.CUT)

    def enclosed(spot: shapely.Point, until_s: float) -> bool:
        burned = shapely.union_all(shapely.buffer(lines[cut & (end_s <= until_s)], 0.05))
        areas = shapely.get_parts(burned)
        return any(
            shapely.Polygon(ring).contains(spot) for area in areas for ring in area.interiors
        )

    told = Playback.model_validate_json(about)
    times = [one.free_s for one in told.parts]
    assert len(times) == 3
    for part, free_s in zip(sheet.parts, times, strict=True):
        assert free_s is not None
        spot = part.polygon.representative_point()
        assert enclosed(spot, free_s + NEAR_S)
        assert not enclosed(spot, free_s - NEAR_S)
    assert len(set(times)) == 3


def test_a_part_on_holding_tabs_is_never_free(tmp_path: Path) -> None:
    shop, _ = played_order(tmp_path)
    shop.change("board.toml", "kerf_mm = 0.2", "kerf_mm = 0.2\ntab_width_mm = 0.8")
    shop.change("order.toml", 'name = "boards"', 'name = "boards"\ntabs = 2')
    plan = plan_order(shop.order_file)
    about = sheet_playback(plan.sheets[0], plan.machine)[1]
    assert [one.free_s for one in Playback.model_validate_json(about).parts] == [None] * 3


def test_the_same_plan_gives_the_same_bytes(plan: Plan) -> None:
    assert sheet_playback(plan.sheets[0], plan.machine) == sheet_playback(
        plan.sheets[0], plan.machine
    )


def test_files_of_an_earlier_plan_go(tmp_path: Path, plan: Plan) -> None:
    earlier = [moves_file(tmp_path, 7), playback_file(tmp_path, 7)]
    earlier[0].parent.mkdir()
    for file in earlier:
        file.write_bytes(b"")
    write_playback(plan, tmp_path)
    assert not any(file.exists() for file in earlier)
    assert [one.number for one in sheet_times(tmp_path)] == [1]


def test_a_plan_made_elsewhere_is_not_played_as_the_old_one(tmp_path: Path, plan: Plan) -> None:
    (tmp_path / "plan.json").write_text('{"made": 1}', encoding="utf-8")
    write_playback(plan, tmp_path)
    assert len(sheet_times(tmp_path)) == 1
    (tmp_path / "plan.json").write_text('{"made": 2}', encoding="utf-8")
    assert sheet_times(tmp_path) == ()
