"""Curves are written as arcs where the controller takes them, and stay in their place."""

from __future__ import annotations

import math
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

import planned_square as tile
from kerfwright.geometry.curves import Arc, Bezier
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import CHORD_MM
from kerfwright.motion.timing import time_toolpath
from kerfwright.output.gcode import gcode_lines
from kerfwright.output.gcode_arcs import ARC_MM
from kerfwright.output.gcode_header import LINE_LENGTH
from kerfwright.program.interpreter import interpret
from kerfwright.program.model import Program
from kerfwright.shop.machine import Dialect
from kerfwright.toolpath import MoveArray, MoveKind, join, moves_along

ENDS_ON_ONE_CIRCLE_MM = 0.002
"""NISTIR 6556, section 3.5.3: how unequally far an arc's ends may lie from its centre (given from
memory of the report)."""


def burn(points: FloatArray, kind: MoveKind = MoveKind.CUT) -> MoveArray:
    burned = moves_along(points[1:], kind=kind, speed_mm_s=15.0, power=0.8, source=0)
    return join([tile.travel(*points[0]), burned])


def written(moves: MoveArray, dialect: Dialect = Dialect.GRBL_TYPE, **keys: object) -> list[str]:
    machine = tile.machine(dialect, **({"arcs": True} | keys))
    return list(gcode_lines(tile.sheet(moves), machine))


def read(lines: list[str], dialect: Dialect = Dialect.GRBL_TYPE) -> Program:
    return interpret(lines, tile.machine(dialect))


def arcs(lines: list[str]) -> list[str]:
    return [line for line in lines if re.search(r" I-?[\d.]+ J-?[\d.]+", line) and line[0] != "("]


def circle(radius: float = 20.0, sweep: float = 2.0 * math.pi) -> FloatArray:
    return Arc((50.0, 40.0), radius, 0.3, sweep).points(0.01)


def test_a_circle_becomes_two_arcs_of_its_radius() -> None:
    lines = written(burn(circle()))
    found = arcs(lines)
    assert len(found) == 2
    assert found[0].startswith("G3 X")
    for line in found:
        i, j = (float(n) for n in re.search(r"I(\S+) J(\S+)", line).groups())  # type: ignore[union-attr]
        assert math.hypot(i, j) == pytest.approx(20.0, abs=0.002)


def test_clockwise_is_g2() -> None:
    assert arcs(written(burn(circle()[::-1])))[0].startswith("G2 X")


def test_arcs_are_only_written_where_the_machine_takes_them() -> None:
    assert arcs(written(burn(circle()), arcs=False)) == []


def test_rows_and_corners_stay_straight() -> None:
    assert arcs(written(tile.good_moves())) == []


@pytest.mark.parametrize("dialect", list(Dialect))
def test_an_arc_takes_the_time_of_the_pieces_it_stands_for(dialect: Dialect) -> None:
    machine = tile.machine(dialect, arcs=True)
    sheet = tile.sheet(burn(circle()))
    program = interpret(gcode_lines(sheet, machine), machine)
    straight = time_toolpath(sheet.toolpath, machine).total_s
    assert time_toolpath(program.toolpath, machine).total_s == pytest.approx(straight, rel=0.005)


@pytest.mark.parametrize("passes", [2, 3])
def test_passes_there_and_back_are_burned_on_one_line(passes: int) -> None:
    """Arcs that stand for a Bézier curve would come out otherwise from its other end."""
    control = np.array([(10.0, 10.0), (40.0, 60.0), (60.0, -30.0), (90.0, 40.0)])
    there = Bezier(control).points(0.01)
    ways = [there if k % 2 == 0 else there[::-1] for k in range(passes)]
    points = np.vstack([ways[0], *(way[1:] for way in ways[1:])])
    chords = Counter(chord for chord, _ in arc_chords(written(burn(points))))
    assert len(chords) >= 8
    assert set(chords.values()) == {passes}


def arc_chords(lines: list[str]) -> list[tuple[frozenset[tuple[str, str]], str]]:
    """Both ends of every arc, and its line."""
    x = y = ""
    found = []
    for line in lines:
        if line[0] == "(":
            continue
        start = (x, y)
        for axis, value in re.findall(r"([XY])(-?[\d.]+)", line):
            x, y = (value, y) if axis == "X" else (x, value)
        if arcs([line]):
            found.append((frozenset([start, (x, y)]), line))
    return found


RUN = st.lists(
    st.tuples(
        st.sampled_from(["arc", "line"]),
        st.floats(0.3, 60.0),
        st.floats(-2.5, 2.5),
    ),
    min_size=1,
    max_size=6,
)


def path_of(run: list[tuple[str, float, float]]) -> FloatArray:
    """Arcs and lines one behind the other, each beginning in the direction it likes."""
    points = [np.array([[100.0, 100.0]])]
    heading = 0.0
    for kind, size, turn in run:
        start = points[-1][-1]
        if kind == "arc" and abs(turn) > 0.05:
            side = math.copysign(math.pi / 2.0, turn)
            centre = start + size * np.array([math.cos(heading + side), math.sin(heading + side)])
            arc = Arc((float(centre[0]), float(centre[1])), size, heading - side, turn)
            points.append(arc.points(0.01)[1:])
            heading += turn
        else:
            heading += turn
            points.append((start + size * np.array([math.cos(heading), math.sin(heading)]))[None])
    return np.vstack(points)


@given(run=RUN, decimals=st.integers(2, 5), back=st.booleans(), loop=st.booleans())
@settings(max_examples=120, deadline=None)
def test_arcs_keep_to_the_moves_they_stand_for(
    run: list[tuple[str, float, float]], decimals: int, back: bool, loop: bool
) -> None:
    points = path_of(run)[:: -1 if back else 1]
    lines = written(burn(points, MoveKind.LOOP if loop else MoveKind.SCORE), decimals=decimals)
    program = read(lines)
    if program.uneven_arc is not None:
        assert program.uneven_arc[1] <= ENDS_ON_ONE_CIRCLE_MM
    burning = program.toolpath.moves["power"] > 0.0
    wanted = shapely.LineString(points)
    slack = ARC_MM + 10.0**-decimals + 0.001
    ends = program.toolpath.points[1:][burning]
    assert shapely.distance(wanted, shapely.points(ends)).max() <= slack
    written_line = shapely.LineString(np.vstack([program.toolpath.points[1], ends]))
    # what is read back are chords of the arcs again
    assert shapely.distance(written_line, shapely.points(points)).max() <= slack + CHORD_MM
    length = float(program.toolpath.lengths_mm[burning].sum())
    assert length == pytest.approx(wanted.length, rel=2e-3, abs=len(run) * 4 * 10.0**-decimals)


def test_a_pierce_stays_before_its_cut() -> None:
    moves = burn(circle())
    moves["dwell_s"][1] = 0.25
    program = read(written(moves))
    dwells = program.toolpath.moves["dwell_s"]
    assert dwells[1] == 0.25
    assert dwells.sum() == 0.25
    assert program.modes == ("M4",)


@pytest.mark.parametrize("dialect", list(Dialect))
def test_lines_are_numbered_by_their_place_in_the_file(dialect: Dialect) -> None:
    lines = written(burn(circle()), dialect, line_numbers=True)
    for place, line in enumerate(lines, start=1):
        if line[0] in "(%":
            continue
        assert line.startswith(f"N{place} ")
    bare = [line if line[0] in "(%" else line.partition(" ")[2] for line in lines]
    assert bare == written(burn(circle()), dialect)
    one, other = read(lines, dialect).toolpath.moves, read(bare, dialect).toolpath.moves
    assert one.tolist() == other.tolist()


@pytest.mark.parametrize("dialect", list(Dialect))
def test_no_line_is_longer_than_small_controllers_take(dialect: Dialect) -> None:
    """80 characters with the line's end: common practice of small controllers, no source."""
    far = circle(123.456789) + np.array([1234.567891, -2345.678912])
    moves = burn(far)
    moves["speed_mm_s"] = 1234.567
    moves["power"][1:] = 0.123456
    sheet = replace(tile.sheet(moves))
    machine = tile.machine(
        dialect, arcs=True, line_numbers=True, decimals=6, full_power_s_word=65535.0
    )
    lines = list(gcode_lines(sheet, machine))
    assert max(len(line) + 1 for line in lines) <= 80 == LINE_LENGTH + 1
    assert any(len(line) > 60 for line in arcs(lines))
