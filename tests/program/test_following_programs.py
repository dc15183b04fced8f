"""What the interpreter makes of programs, good and bad."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest

import planned_square as tile
from kerfwright.errors import KerfwrightError
from kerfwright.program.interpreter import interpret, read_program
from kerfwright.program.model import Program
from kerfwright.shop.machine import Dialect
from kerfwright.toolpath import MoveKind

START = ["G21 G90", "M5 S0", "M4 S0"]


def follow(*lines: str, dialect: Dialect = Dialect.GRBL_TYPE) -> Program:
    return interpret(lines, tile.machine(dialect), "job.nc")


def ends(program: Program) -> list[tuple[float, float]]:
    return [(round(float(x), 6), round(float(y), 6)) for x, y in program.toolpath.points[1:]]


def test_positions_speed_and_power_are_modal() -> None:
    program = follow(*START, "G0 X10 Y20", "G1 X30 S500 F6000", "Y25", "X10 S250", "M5", "M2")
    moves = program.toolpath.moves
    assert ends(program) == [(10, 20), (30, 20), (30, 25), (10, 25)]
    assert moves["power"].tolist() == [0.0, 0.5, 0.5, 0.25]
    assert moves["speed_mm_s"][1:].tolist() == [100.0] * 3
    assert moves["kind"].tolist() == [MoveKind.TRAVEL, *[MoveKind.CUT] * 3]
    assert program.line_of_move.tolist() == [4, 5, 6, 7]
    assert (program.ended, program.beam_on_at_end, program.mode) == (True, False, "M4")
    assert program.bounds_mm == (10, 20, 30, 25)


def test_a_fed_move_without_power_is_run_up() -> None:
    program = follow(*START, "G1 X5 F600", "X10 S100", "S0", "X15")
    assert program.toolpath.moves["kind"].tolist() == [
        MoveKind.RUN_UP,
        MoveKind.CUT,
        MoveKind.RUN_UP,
    ]


def test_inches_and_relative_positions() -> None:
    program = follow("G20 G91", "G1 X1 Y2 F60", "X-0.5", "G21 X1.5")
    assert ends(program) == [(25.4, 50.8), (12.7, 50.8), (14.2, 50.8)]
    assert program.toolpath.moves["speed_mm_s"].tolist() == pytest.approx([25.4] * 3)
    assert (program.units, program.distance) == ("inch", "relative")


def test_rapid_moves_burn_only_where_there_is_no_laser_mode() -> None:
    lines = ("G21 G90", "M3 S500", "G0 X10 Y10")
    assert follow(*lines).toolpath.moves["power"].tolist() == [0.0]
    plain = follow(*lines, dialect=Dialect.RS274_NGC)
    assert plain.toolpath.moves["power"].tolist() == [0.5]
    assert plain.toolpath.moves["kind"].tolist() == [MoveKind.TRAVEL]


def on_circle(program: Program, centre: tuple[float, float], radius: float) -> None:
    away = np.hypot(*(program.toolpath.points[1:] - centre).T)
    assert away == pytest.approx(np.full(len(away), radius), abs=1e-6)


def test_a_quarter_turn_by_centre_and_by_radius() -> None:
    for word in ("I0 J10", "R10"):
        program = follow("G21 G90", "G1 X0 Y0 F600", f"G3 X10 Y10 {word}")
        on_circle(program, (0, 10), 10.0)
        assert ends(program)[-1] == (10, 10)
        length = float(program.toolpath.lengths_mm.sum())
        assert length == pytest.approx(math.pi * 5.0, rel=2e-3)


def test_a_negative_radius_goes_the_long_way() -> None:
    program = follow("G21 G90", "F600 G2 X10 Y10 R-10")
    on_circle(program, (0, 10), 10.0)
    length = float(program.toolpath.lengths_mm.sum())
    assert length == pytest.approx(1.5 * math.pi * 10.0, rel=2e-3)


def test_a_whole_circle_needs_its_centre() -> None:
    program = follow("G21 G90", "G0 X20 Y10", "G2 I-5 F600")
    on_circle(program, (15, 10), 5.0)
    assert float(program.toolpath.lengths_mm[1:].sum()) == pytest.approx(10 * math.pi, rel=2e-3)
    assert ends(program)[-1] == (20, 10)
    with pytest.raises(KerfwrightError) as told:
        follow("G0 X20 Y10", "F600 G2 X20 Y10 R5")
    assert told.value.code == "program/bad-arc"


def test_waits_pauses_and_z_are_counted() -> None:
    program = follow("G21 G90", "G4 P0.5", "G0 Z5", "G0 X1 Z2", "M0", "G4 P1.5", "T1", "M8")
    assert program.dwell_s == 2.0
    assert program.pauses == 1
    assert program.z_moves == 1
    assert len(program.toolpath) == 1
    assert program.notes == (
        "line 7: T1 (tool) passed over",
        "line 8: M8 (coolant or air) passed over",
    )


@pytest.mark.parametrize(
    ("mode", "dialect", "burns"),
    [
        ("M3", Dialect.GRBL_TYPE, (3,)),
        ("M4", Dialect.GRBL_TYPE, ()),
        ("M4", Dialect.RS274_NGC, (3,)),
    ],
)
def test_a_wait_with_the_beam_on(mode: str, dialect: Dialect, burns: tuple[int, ...]) -> None:
    program = follow("G21 G90", f"{mode} S100", "G4 P1", dialect=dialect)
    assert program.standing_burn_lines == burns


def test_a_wait_before_a_burn_is_a_pierce_of_that_burn() -> None:
    program = follow(*START, "G0 X5 Y5", "G1 F600 M3 S500", "G4 P0.25", "M4", "X9", "M5", "M2")
    assert program.toolpath.moves["dwell_s"].tolist() == [0.0, 0.25]
    assert program.pierce_lines == program.standing_burn_lines == (6,)
    assert program.dwell_s == 0.0
    assert program.modes == ("M4",)


@pytest.mark.parametrize("then", ["G0 X9", "S100 G1 X9", "M5", "G1 X9 S0"])
def test_a_wait_with_the_beam_on_that_no_burn_follows_is_no_pierce(then: str) -> None:
    program = follow(*START, "G0 X5 Y5", "G1 F600 M3 S500", "G4 P0.25", then)
    assert program.pierce_lines == ()
    assert program.standing_burn_lines == (6,)
    assert program.dwell_s == 0.25


def test_after_a_rapid_move_laser_mode_does_not_pierce() -> None:
    program = follow(*START, "G0 X5 Y5", "M3 S500", "G4 P0.25", "M4", "G1 X9 F600")
    assert program.pierce_lines == ()
    assert program.dwell_s == 0.25


def test_focus_and_air_are_followed() -> None:
    program = follow(*START, "M8", "G0 X5 Y5", "G0 Z-1", "G1 X9 S100 F600", "M9", "Y9", "G0 Z0")
    assert program.toolpath.moves["z_mm"].tolist() == [0.0, -1.0, -1.0]
    assert program.air_of_move.tolist() == [True, True, False]
    assert (program.end_z_mm, program.air_on_at_end, program.z_moves) == (0.0, False, 2)
    assert program.standing_burn_lines == ()


def test_a_burn_along_which_the_head_sinks_is_told() -> None:
    assert follow(*START, "G0 X5 Y5", "G1 X9 Z-1 S100 F600").slanted_burn_lines == (5,)
    assert follow(*START, "G0 X5 Y5", "G1 Z-1 S100 F600").standing_burn_lines == (5,)


def test_nothing_is_followed_after_the_end() -> None:
    assert len(follow("G0 X1", "M30", "G0 X2 Q9").toolpath) == 1
    assert len(follow("%", "G0 X1", "%", "not a program").toolpath) == 1


def test_lines_behind_a_block_delete_sign_are_left_out() -> None:
    program = follow("G0 X1", "/ G0 X2", "/N30 X5")
    assert ends(program) == [(1, 0)]
    assert program.skipped_lines == (2, 3)


def test_a_motion_word_alone_only_chooses_the_motion() -> None:
    assert ends(follow("G21 G90", "G1 F100", "X4")) == [(4, 0)]


@pytest.mark.parametrize(
    ("lines", "code"),
    [
        (["G0 X1 W2"], "program/unknown-word"),
        (["G99.5 X1"], "program/unknown-word"),
        (["M77"], "program/unknown-word"),
        (["G1 X1E3 F5"], "program/unknown-word"),
        (["G0 X"], "program/unknown-word"),
        (["G0 X1.2.3"], "program/unknown-word"),
        (["G0 X#1"], "program/unknown-word"),
        (["G0 X[1+2]"], "program/unknown-word"),
        (["<svg xmlns='...'>"], "program/unknown-word"),
        (["\x00\x01"], "program/unknown-word"),
        (["G0 X١"], "program/unknown-word"),
        (["G92 X0"], "program/unsupported-word"),
        (["G93"], "program/unsupported-word"),
        (["G18"], "program/unsupported-word"),
        (["M6 T1"], "program/unsupported-word"),
        (["G0 G1 X1 F5"], "program/same-group"),
        (["G20 G21"], "program/same-group"),
        (["M3 M5"], "program/same-group"),
        (["G0 X1 X2"], "program/repeated-word"),
        (["G1 X1"], "program/no-feed"),
        (["G1 X1 F0"], "program/no-feed"),
        (["X1 Y2"], "program/no-motion"),
        (["G80", "X1"], "program/no-motion"),
        (["G1 X1 F-5"], "program/bad-number"),
        (["S-1"], "program/bad-number"),
        (["S" + "9" * 400], "program/bad-number"),
        (["G0 X1" + "0" * 400], "program/bad-number"),
        (["G4"], "program/bad-number"),
        (["G0 X1 P2"], "program/unused-word"),
        (["G0 X1 I2"], "program/unused-word"),
        (["G1 F60 G2 X1 Y1"], "program/same-group"),
        (["G2 X1 Y1 F60"], "program/bad-arc"),
        (["G2 X10 Y0 R2 F60"], "program/bad-arc"),
        (["G2 X10 Y0 I2 F60"], "program/bad-arc"),
        (["G0 (open X1"], "program/broken-comment"),
        (["G0 X1 )"], "program/broken-comment"),
        (["(one (two))"], "program/broken-comment"),
    ],
)
def test_what_cannot_be_followed_is_told_with_its_line(lines: list[str], code: str) -> None:
    with pytest.raises(KerfwrightError) as told:
        follow("G21", *lines)
    assert told.value.code == code
    assert told.value.file == f"job.nc, line {1 + len(lines)}"
    assert told.value.remedy
    assert told.value.thing.isprintable()


def test_a_program_file(tmp_path: Path) -> None:
    file = tmp_path / "job.nc"
    file.write_text("\ufeffG21 G90\r\nG0 X1 Y2\r\nM2\r\n", encoding="utf-8")
    program = read_program(file, tile.machine())
    assert (program.name, ends(program)) == ("job.nc", [(1, 2)])


@pytest.mark.parametrize("path", ["absent.nc", "."])
def test_a_file_that_cannot_be_read(path: str, tmp_path: Path) -> None:
    with pytest.raises(KerfwrightError) as told:
        read_program(tmp_path / path, tile.machine())
    assert told.value.code == "program/cannot-read"


HELP = Path(__file__).parents[2] / "docs" / "help" / "program.md"


def test_every_error_of_programs_is_explained() -> None:
    source = Path(__file__).parents[2] / "src" / "kerfwright" / "program"
    codes = {
        word.split('"')[0]
        for file in source.glob("*.py")
        for word in file.read_text(encoding="utf-8").split('"program/')[1:]
    }
    headings = {
        line.removeprefix("## ").strip()
        for line in HELP.read_text(encoding="utf-8").splitlines()
        if line.startswith("## ")
    }
    assert codes
    assert codes <= headings


def test_the_order_and_case_of_words_make_no_difference() -> None:
    """Lines of the usual form take a short way through the interpreter; others must agree."""
    usual = [
        "G21 G90",
        "M4 S0",
        "G0 X1 Y2",
        "G1 X3 S100 F600",
        "Y4 S0",
        "G1",
        "S5 F60",
        "X9.",
        "M2",
    ]
    turned = ["n1 " + "  ".join(reversed(line.lower().split())) for line in usual]
    one, other = follow(*usual), follow(*turned)
    assert len(one.toolpath) == 4
    assert one.toolpath.moves.tolist() == other.toolpath.moves.tolist()
    assert one.line_of_move.tolist() == other.line_of_move.tolist()
