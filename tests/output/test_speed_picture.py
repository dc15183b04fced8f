"""The picture of speed over time: well-formed, small, and true to the trace."""

from __future__ import annotations

import re

import numpy as np
import pytest
import resvg_py
from lxml import etree

import planned_square as tile
from kerfwright.motion.moments import moments_at
from kerfwright.motion.trace import Trace, trace_of
from kerfwright.output.gcode import gcode_lines
from kerfwright.output.simulation import program_trace
from kerfwright.output.speed_picture import EXACT_STRETCHES, speed_picture
from kerfwright.output.time_columns import columns_of
from kerfwright.program.classify import classify
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.toolpath import MoveKind, Toolpath
from moving_machines import cutting

MACHINE = tile.machine().model_copy(update={"settle_s": 0.05})
SVG = {"s": "http://www.w3.org/2000/svg"}


def program(text: str | None = None) -> Program:
    lines = gcode_lines(tile.sheet(), MACHINE) if text is None else text.split("|")
    return classify(interpret(lines, MACHINE, "quay <3>.nc"))


def long_program(moves: int) -> Program:
    """Rows to and fro with their beam off at the ends, as a table of moves."""
    one = program("G21 G90|M4 S0|G1 X2 F60000|X20 S300|X22 S0|M2")
    x = np.tile([2.0, 20.0, 22.0, 22.0, 20.0, 2.0, 0.0, 0.0], moves // 8)
    points = np.column_stack([x, 0.1 * (np.arange(len(x)) // 4)])
    table = cutting(points, 1000.0).moves
    kinds = [MoveKind.RUN_UP, MoveKind.ROW, MoveKind.RUN_UP, MoveKind.RUN_UP]
    table["kind"] = np.resize(np.array(kinds), len(table))
    table["power"] = np.where(table["kind"] == MoveKind.ROW, 0.3, 0.0)
    lines = np.arange(len(table)) + 3
    return Program(
        **{
            **{name: getattr(one, name) for name in one.__slots__},
            "toolpath": Toolpath(table),
            "line_of_move": lines,
        }
    )


def picture(one: Program) -> etree._Element:
    text = speed_picture(one, MACHINE, program_trace(one, MACHINE))
    assert resvg_py.svg_to_bytes(svg_string=text)
    return etree.fromstring(text.encode())


def words(root: etree._Element) -> list[str]:
    return ["".join(text.itertext()) for text in root.iterfind(".//s:text", SVG)]


def styles(root: etree._Element) -> set[str]:
    return {path.get("class", "") for path in root.iterfind(".//s:path", SVG)}


SHORT = "G21 G90|M4 S0|G0 X5 Y5|G1 X30 S500 F6000|Y20|G0 X0 Y0|G1 X4 S0 F6000|X9 S100|X12 S0|M5|M2"


def test_a_short_program_is_drawn_move_by_move_each_kind_in_its_own_line() -> None:
    root = picture(program(SHORT))
    assert {"travel", "line", "row", "runup", "still", "beam"} <= styles(root)
    told = words(root)
    for word in ("speed, mm/s", "power, W", "time, s", "travel", "rows", "lines and loops"):
        assert word in told
    assert "quay <3>.nc" in told


def test_no_colour_tells_kinds_apart() -> None:
    root = picture(program(SHORT))
    rules = "".join(style.text or "" for style in root.iterfind(".//s:style", SVG))
    lines = re.findall(r"\.time \.(travel|runup|row|line)[^{]*\{([^}]*)\}", rules)
    assert len({body for _, body in lines}) >= 3
    assert all("stroke:var(--ink)" in body or "dasharray" in body for _, body in lines)
    assert "prefers-color-scheme:dark" in rules


def test_a_long_program_becomes_columns_and_stays_small() -> None:
    one = long_program(500_000)
    trace = program_trace(one, MACHINE)
    assert len(trace) > 500_000
    text = speed_picture(one, MACHINE, trace)
    assert len(text) < 300_000
    assert "lowest to highest" in text


def test_a_program_that_moves_nothing_is_told_so() -> None:
    assert "The program moves nothing." in words(picture(program("G21|M2")))


@pytest.mark.parametrize("columns", [7, 100, 720])
def test_columns_hold_what_even_moments_show(columns: int) -> None:
    """Lowest, highest and mean by very many moments of each column."""
    sheet = tile.sheet()
    trace: Trace = trace_of(sheet.toolpath, MACHINE)
    kinds = sheet.toolpath.moves["kind"][trace.move].astype(np.int64)
    found = columns_of(trace, kinds, len(MoveKind), columns)
    count = 2_000_000 // columns
    times = (np.arange(columns * count) + 0.5) * trace.total_s / (columns * count)
    at = moments_at(trace, sheet.toolpath, times)
    speed = at.speed_mm_s.reshape(columns, count)
    step = 3000.0 * trace.total_s / (columns * count)
    assert found.low_mm_s == pytest.approx(speed.min(axis=1), abs=2 * step)
    assert found.high_mm_s == pytest.approx(speed.max(axis=1), abs=2 * step)
    assert found.mean_mm_s == pytest.approx(speed.mean(axis=1), abs=2 * step)
    power = at.power_w.reshape(columns, count)
    assert found.mean_w == pytest.approx(power.mean(axis=1), abs=0.2)
    assert found.shares.sum(axis=1) == pytest.approx(1.0)
    assert found.mean_mm_s.sum() * found.seconds == pytest.approx(
        sheet.toolpath.lengths_mm.sum(), rel=1e-9
    )
    assert found.mean_w.sum() * found.seconds == pytest.approx(trace.energy_j.sum(), rel=1e-9)


def test_few_stretches_are_few() -> None:
    one = program(SHORT)
    assert len(program_trace(one, MACHINE)) < EXACT_STRETCHES
