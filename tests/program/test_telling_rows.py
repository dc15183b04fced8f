"""Rows of an engraving are told from loops and cuts, so that the clock counts them right."""

from __future__ import annotations

import pytest

import planned_square as tile
from kerfwright.motion.timing import time_toolpath
from kerfwright.output.gcode import gcode_lines
from kerfwright.program.classify import classify
from kerfwright.program.interpreter import interpret
from kerfwright.shop.machine import AxisLimits, Dialect
from kerfwright.toolpath import MoveKind


@pytest.mark.parametrize("dialect", list(Dialect))
def test_only_burns_between_run_ups_are_rows(dialect: Dialect) -> None:
    sheet = tile.sheet()
    machine = tile.machine(dialect)
    told = classify(interpret(gcode_lines(sheet, machine), machine)).toolpath.moves["kind"]
    wanted = sheet.toolpath.moves["kind"]
    assert (told == MoveKind.ROW).sum() == (wanted == MoveKind.ROW).sum() == 50
    assert (told == MoveKind.CUT).sum() == 8 + 1


def test_a_row_may_have_gaps_and_shades() -> None:
    lines = "G21 G90|M4 S0|G1 X2 F600|X4 S100|X5 S0|X7 S100|X8 S200|X10 S0|Y1|X8|X2 S50|X0 S0"
    kinds = classify(interpret(lines.split("|"), tile.machine())).toolpath.moves["kind"]
    off, row = MoveKind.RUN_UP, MoveKind.ROW
    assert kinds.tolist() == [off, row, off, row, row, off, off, off, row, off]


def test_a_burn_around_a_corner_is_no_row() -> None:
    lines = "G21 G90|M4 S0|G1 X2 F600|X4 S100|Y2|Y4 S0"
    kinds = classify(interpret(lines.split("|"), tile.machine())).toolpath.moves["kind"]
    assert MoveKind.ROW not in kinds


def test_the_clock_agrees_with_the_plan() -> None:
    machine = tile.machine().model_copy(
        update={
            "scanning": AxisLimits(
                speed_mm_s=(1000.0, 1000.0), acceleration_mm_s2=(16000.0, 16000.0)
            )
        }
    )
    sheet = tile.sheet()
    planned = time_toolpath(sheet.toolpath, machine)
    read = time_toolpath(
        classify(interpret(gcode_lines(sheet, machine), machine)).toolpath, machine
    )
    assert read.burn_s == pytest.approx(planned.burn_s, rel=1e-6)
    assert read.total_s == pytest.approx(planned.total_s, rel=1e-3)


def test_a_program_without_moves() -> None:
    assert len(classify(interpret(["M2"], tile.machine())).toolpath) == 0
