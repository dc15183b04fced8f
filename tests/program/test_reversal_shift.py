"""Rows burned early by half the reversal shift: the beam's delay played through by hand.

A beam that answers t later burns everything v·t further along its way. So of rows to and fro the
ends lie 2·v·t apart, which is what a maker measures.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

import planned_square as tile
from kerfwright.engraving.burn import Burn
from kerfwright.engraving.parts import LayerArea, PartEngraver
from kerfwright.engraving.reversal import as_burned, burned_early, reversal_shift_at
from kerfwright.engraving.scan import scan
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import move_times_s
from kerfwright.output.gcode import gcode_lines
from kerfwright.program.interpreter import interpret
from kerfwright.program.verify import verify
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MoveKind, Toolpath

TABLE = ((300.0, 0.05), (600.0, 0.11), (1000.0, 0.17))


def machine_that_answers_late(shift_mm: float = 0.0, **controller: object) -> Machine:
    table = ((tile.ENGRAVE.speed_mm_s, shift_mm),) if shift_mm else TABLE
    machine = tile.machine(**controller)  # type: ignore[arg-type]
    return machine.model_copy(update={"reversal_shift_mm": table})


def delayed(toolpath: Toolpath, delay_s: float) -> np.ndarray:
    """Where rows come to lie if the beam answers ``delay_s`` late, as x0, x1 of every row."""
    rows = np.flatnonzero(toolpath.moves["kind"] == MoveKind.ROW)
    x0, x1 = toolpath.points[rows, 0], toolpath.points[rows + 1, 0]
    further = toolpath.moves["speed_mm_s"][rows] * delay_s * np.sign(x1 - x0)
    return np.sort(np.column_stack([x0 + further, x1 + further]), axis=1)


def test_shift_is_interpolated_and_held_beyond_what_was_measured() -> None:
    machine = machine_that_answers_late()
    asked = np.array([10.0, 300.0, 450.0, 800.0, 1000.0, 4000.0])
    shift = reversal_shift_at(asked, machine)
    assert shift == pytest.approx([0.05, 0.05, 0.08, 0.14, 0.17, 0.17])


@pytest.mark.parametrize("late_s", [1e-4, -1e-4])
@pytest.mark.parametrize("speed_mm_s", [300.0, 800.0])
def test_rows_of_both_directions_meet_after_the_delay(speed_mm_s: float, late_s: float) -> None:
    burn = Burn(speed_mm_s, 0.5, 0.1, 0.1, 0)
    area = as_area(box(20.0, 20.0, 26.0, 23.0).difference(box(22.0, 20.0, 23.0, 23.0)))
    machine = tile.machine().model_copy(
        update={"reversal_shift_mm": ((speed_mm_s, 2.0 * speed_mm_s * late_s),)}
    )
    plain = scan(area, burn, machine, arrangement="together").toolpath
    ragged = delayed(plain, late_s)
    mended = delayed(burned_early(plain, machine), late_s)
    assert np.ptp(ragged[0::4, 0]) > 0.0 or np.ptp(ragged[:, 0].round(6)) > speed_mm_s * 1e-4
    left = mended[mended[:, 0] < 21.5]
    assert np.ptp(left, axis=0) == pytest.approx([0.0, 0.0], abs=1e-9)
    assert left[0] == pytest.approx([20.0, 22.0])


@given(
    shift_mm=st.floats(-0.4, 0.4),
    angle_deg=st.sampled_from([0.0, 90.0, 30.0]),
    one_way=st.booleans(),
)
def test_every_row_is_still_burned_at_full_speed_and_comes_back_to_its_place(
    shift_mm: float, angle_deg: float, one_way: bool
) -> None:
    burn = Burn(500.0, 0.5, 0.2, 0.2, 0, one_way=one_way)
    machine = tile.machine().model_copy(update={"reversal_shift_mm": ((500.0, shift_mm),)})
    plain = scan(as_area(box(60, 60, 63, 62)), burn, machine, angle_deg=angle_deg).toolpath
    early = burned_early(plain, machine)
    seconds = move_times_s(early, machine)[early.burning].sum()
    assert seconds == pytest.approx(early.lengths_mm[early.burning].sum() / 500.0, rel=1e-3)
    back = as_burned(early, machine)
    rows = np.flatnonzero(plain.moves["kind"] == MoveKind.ROW)
    for ends in (rows, rows + 1):
        assert np.abs(back.points[ends] - plain.points[ends]).max() < 1e-9
        off = np.hypot(*(early.points[ends] - plain.points[ends]).T)
        assert off == pytest.approx(np.full(len(rows), abs(shift_mm) / 2.0))


def test_program_burned_early_is_proven_on_the_machine_that_answers_late_only() -> None:
    late = machine_that_answers_late(0.8)
    planned = tile.sheet()
    early = tile.sheet(burned_early(planned.toolpath, late).moves)
    lines = list(gcode_lines(early, late))
    assert verify(interpret(lines, late), early, late) == ()
    at_once = tile.machine()
    assert verify(interpret(lines, at_once), early, at_once) != ()
    lines = list(gcode_lines(planned, late))
    assert verify(interpret(lines, late), planned, late) != ()


def test_engraver_of_parts_burns_early() -> None:
    late = machine_that_answers_late(0.2)
    square = LayerArea("mark", as_area(box(50.0, 50.0, 60.0, 60.0)), 0.0)
    moved = [
        PartEngraver(tile.ENGRAVE, machine).engrave(square, way="scan", source=1, same=("a",))
        for machine in (late, tile.machine())
    ]
    rows = [one.toolpath.moves["kind"] == MoveKind.ROW for one in moved]
    ends = [one.toolpath.points[1:][row] for one, row in zip(moved, rows, strict=True)]
    assert np.hypot(*(ends[0] - ends[1]).T) == pytest.approx(np.full(len(ends[0]), 0.1))
