"""Blocks and rules of the NIST RS274/NGC interpreter, version 3.

Kramer, Proctor & Messina, *The NIST RS274NGC Interpreter, Version 3*, NISTIR 6556, August 2000.
The blocks are given from memory of the report's section 3.3 and of its tables 4 and 8.
"""

from __future__ import annotations

import pytest

import planned_square as tile
from kerfwright.errors import KerfwrightError
from kerfwright.program.interpreter import interpret
from kerfwright.program.words import code_of, words_of
from kerfwright.shop.machine import Dialect


def words(line: str) -> list[tuple[str, float]]:
    return words_of(code_of(line, "block"), "block")


def end(*lines: str) -> tuple[float, float]:
    return interpret(lines, tile.machine(Dialect.RS274_NGC)).toolpath.end_mm


def test_white_space_means_nothing_even_within_numbers() -> None:
    assert (
        words("g0x +0. 12 34y 7")
        == words("g0 x+0.1234 y7")
        == [
            ("G", 0.0),
            ("X", 0.1234),
            ("Y", 7.0),
        ]
    )


@pytest.mark.parametrize("line", ["N0003 G1", "n3g1", "N99999 G01", "g01.0", "G+1"])
def test_line_numbers_and_leading_zeros(line: str) -> None:
    assert words(line) == [("G", 1.0)]


@pytest.mark.parametrize("number", ["1", "+1", "1.", "01.000", "1.0"])
def test_numbers(number: str) -> None:
    assert words(f"X{number}") == [("X", 1.0)]


def test_numbers_without_whole_part() -> None:
    assert words("X.5 Y-.25") == [("X", 0.5), ("Y", -0.25)]


def test_words_may_stand_in_any_order() -> None:
    assert end("G21 G90", "y2 f600 x1 g1") == end("G21 G90", "G1 X1 Y2 F600") == (1, 2)


def test_comments_are_ignored_and_do_not_nest() -> None:
    assert words("G80 M5 (stop motion) X2 (and here)") == [("G", 80), ("M", 5), ("X", 2)]
    with pytest.raises(KerfwrightError):
        words("(one (two))")


def test_blank_lines_are_allowed() -> None:
    assert end("", "  ", "G0 X1", "\t") == (1, 0)


def test_a_file_between_percent_signs() -> None:
    assert end("", "%", "G0 X1", "%", "G0 X2") == (1, 0)


def test_speed_power_and_units_come_before_motion_in_a_block() -> None:
    """Table 8: feed and spindle words, then units and distance mode, act before the motion."""
    lines = ["X1 G1 M3 S500 G91 G20 F60"]
    moves = interpret(lines, tile.machine(Dialect.RS274_NGC)).toolpath.moves
    assert moves["x_mm"].tolist() == [25.4]
    assert moves["power"].tolist() == [0.5]


def test_a_stop_comes_after_the_motion_of_its_block() -> None:
    assert end("M2 G0 X5") == (5, 0)


@pytest.mark.parametrize("block", ["G0 G1", "G90 G91", "G20 G21", "M0 M2", "M3 M5", "G61 G64"])
def test_one_word_of_a_modal_group_in_a_block(block: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        end(f"{block} X1 F5")
    assert told.value.code == "program/same-group"


@pytest.mark.parametrize("line", ["N1.5 G0 X1", "N-1 G0 X1", "G0 N5 X1", "N5 N6 G0 X1"])
def test_a_line_number_is_whole_and_stands_first_and_once(line: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        end(line)
    assert told.value.code == "program/unknown-word"


def test_line_numbers_may_repeat_and_run_backwards() -> None:
    assert end("N20 G0 X1", "N20 Y1", "N10 X3") == (3, 1)


def test_centres_of_arcs_are_relative_unless_said_otherwise() -> None:
    """Section 3.5.3; G90.1 is no part of the report but common practice beside it, no source."""
    start = ["G21 G90 F600", "G1 X10 Y10"]
    relative = interpret([*start, "G3 X0 Y20 I-10 J0"], tile.machine(Dialect.RS274_NGC))
    absolute = interpret([*start, "G90.1", "G3 X0 Y20 I0 J10"], tile.machine(Dialect.RS274_NGC))
    again = interpret([*start, "G90.1", "G91.1 G3 X0 Y20 I-10 J0"], tile.machine(Dialect.RS274_NGC))
    assert relative.toolpath.moves.tolist() == absolute.toolpath.moves.tolist()
    assert relative.toolpath.moves.tolist() == again.toolpath.moves.tolist()


@pytest.mark.parametrize("words", ["I-10 J0 R10", "J1 R9"])
def test_an_arc_has_a_centre_or_a_radius(words: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        end("G21 G90 F600", "G1 X10 Y10", f"G3 X0 Y20 {words}")
    assert told.value.code == "program/bad-arc"


def test_i_or_j_left_out_is_nothing() -> None:
    """Section 3.5.3.2: one of the two may be left out."""
    one = interpret(["G21 F600", "G3 X0 Y20 J10"], tile.machine(Dialect.RS274_NGC))
    other = interpret(["G21 F600", "G3 X0 Y20 I0 J10"], tile.machine(Dialect.RS274_NGC))
    assert one.toolpath.moves.tolist() == other.toolpath.moves.tolist()


def test_an_arc_may_climb() -> None:
    """Section 3.5.3: with a Z word an arc becomes a helix."""
    program = interpret(
        ["G21 F600", "G1 X10 Y0", "G3 X-10 I-10 Z4"], tile.machine(Dialect.RS274_NGC)
    )
    assert program.end_z_mm == 4.0
    assert program.toolpath.end_mm == (-10.0, 0.0)


@pytest.mark.parametrize("plane", ["G18", "G19"])
def test_arcs_in_other_planes_are_refused(plane: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        end(plane)
    assert told.value.code == "program/unsupported-word"


def test_unequal_ends_of_an_arc_are_measured() -> None:
    """Section 3.5.3: more than 0.002 mm is an error there; programs from elsewhere are let pass."""
    machine = tile.machine(Dialect.RS274_NGC)
    program = interpret(["G21 F600", "G1 X10 Y0", "G3 X-10.01 Y0 I-10"], machine)
    assert program.uneven_arc is not None
    assert program.uneven_arc[0] == 3
    assert program.uneven_arc[1] == pytest.approx(0.01)
    assert interpret(["G21 F600", "G3 X0 Y20 J10"], machine).uneven_arc == (2, 0.0)


def test_words_of_different_groups_go_together() -> None:
    assert end("G17 G21 G90 G94 G40 G49 G54 G61 G1 M3 M8 X1 F60") == (1, 0)
