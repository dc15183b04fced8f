"""What is written is what is read: any toolpath, both dialects."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

import planned_square as tile
from kerfwright.output.gcode import gcode_lines
from kerfwright.program.interpreter import interpret
from kerfwright.shop.machine import Dialect
from kerfwright.toolpath import MOVE_DTYPE, MoveKind, Toolpath

MOVE = st.tuples(
    st.integers(-3000, 3000).map(lambda n: n / 10.0),
    st.integers(-3000, 3000).map(lambda n: n / 10.0),
    st.sampled_from([5.0, 12.34, 400.0, 1000.0]),
    st.sampled_from([0.001, 0.2, 0.999, 1.0]),
    st.sampled_from(list(MoveKind)),
)
State = tuple[float, float, float, bool]


def toolpath_of(rows: list[tuple[float, float, float, float, MoveKind]]) -> Toolpath:
    moves = np.zeros(len(rows), dtype=MOVE_DTYPE)
    for move, (x, y, speed, power, kind) in zip(moves, rows, strict=True):
        burning = kind not in (MoveKind.TRAVEL, MoveKind.RUN_UP)
        power_used = power if burning else 0.0
        move["x_mm"], move["y_mm"], move["speed_mm_s"] = x, y, speed
        move["power"], move["kind"] = power_used, kind
    return Toolpath(moves)


def steps(toolpath: Toolpath) -> list[tuple[float, float, float, float, bool]]:
    """End, speed (travel has none), power and rapid of every move that goes anywhere.

    Burns that run straight on with the same settings are one, as the writer is free to merge them;
    kinds of burns are not told in a program, so they are not compared.
    """
    out: list[tuple[float, float, float, float, bool]] = []
    x0 = y0 = 0.0
    start = (0.0, 0.0)
    for x, y, speed, power, kind, *_ in toolpath.moves.tolist():
        if abs(x - x0) < 1e-9 and abs(y - y0) < 1e-9:
            continue
        rapid = kind == MoveKind.TRAVEL
        step = (round(x, 3), round(y, 3), 0.0 if rapid else round(speed, 3), round(power, 3), rapid)
        if out and power > 0.0 and out[-1][2:] == step[2:]:
            ax, ay, bx, by = x0 - start[0], y0 - start[1], x - x0, y - y0
            if abs(ax * by - ay * bx) < 1e-6 and ax * bx + ay * by > 0.0:
                out[-1] = step
                x0, y0 = x, y
                continue
        start = (x0, y0)
        out.append(step)
        x0, y0 = x, y
    return out


@given(rows=st.lists(MOVE, max_size=30), dialect=st.sampled_from(list(Dialect)))
@settings(max_examples=150, deadline=None)
def test_written_and_read_is_the_same_toolpath(
    rows: list[tuple[float, float, float, float, MoveKind]], dialect: Dialect
) -> None:
    wanted = toolpath_of(rows)
    machine = tile.machine(dialect)
    program = interpret(gcode_lines(tile.sheet(wanted.moves), machine), machine)
    assert steps(program.toolpath) == steps(wanted)
    assert program.ended
    assert not program.beam_on_at_end
    assert program.off_before_motion or len(program.toolpath) == 0
    rapid = program.toolpath.moves["kind"] == MoveKind.TRAVEL
    assert not (program.toolpath.moves["power"][rapid] > 0.0).any()


FINE = st.tuples(
    st.floats(-50.0, 50.0),
    st.floats(-50.0, 50.0),
    st.floats(0.01, 1000.0),
    st.floats(0.0, 1.0),
    st.sampled_from(list(MoveKind)),
)


@given(
    rows=st.lists(FINE, min_size=1, max_size=20),
    dialect=st.sampled_from(list(Dialect)),
    decimals=st.integers(2, 6),
    full=st.sampled_from([1.0, 100.0, 255.0, 1000.0, 12000.0]),
)
@settings(max_examples=150, deadline=None)
def test_rounding_stays_within_half_a_step(
    rows: list[tuple[float, float, float, float, MoveKind]],
    dialect: Dialect,
    decimals: int,
    full: float,
) -> None:
    wanted = toolpath_of(rows)
    machine = tile.machine(dialect, decimals=decimals, full_power_s_word=full)
    program = interpret(gcode_lines(tile.sheet(wanted.moves), machine), machine)
    half = 0.5 * 10.0**-decimals + 1e-9
    end = np.array(program.toolpath.end_mm) - np.array(wanted.end_mm)
    assert np.abs(end).max() <= half
    read, asked = program.toolpath, wanted
    if len(read) == len(asked):
        assert np.abs(read.points - asked.points).max() <= half
        assert np.abs(read.moves["power"] - asked.moves["power"]).max() <= 1e-3
        fed = asked.moves["kind"] != MoveKind.TRAVEL
        slip = np.abs(read.moves["speed_mm_s"] - asked.moves["speed_mm_s"])[fed]
        assert slip.max(initial=0.0) <= 0.005 / 60.0 + 1e-9
    burned = (read.moves["power"] > 0.0).any()
    long = asked.lengths_mm > 3.0 * 10.0**-decimals
    assert burned or not (asked.burning & long).any()
