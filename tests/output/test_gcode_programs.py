"""How a planned sheet is written as a program."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import planned_square as tile
from kerfwright.nesting.model import SheetSize
from kerfwright.output.gcode import gcode_lines, program_text
from kerfwright.output.gcode_header import LINE_LENGTH, comment_text, minutes
from kerfwright.shop.machine import Dialect
from kerfwright.shop.material import Material
from kerfwright.toolpath import MoveArray, MoveKind, Toolpath, join, moves_along

LASER = Dialect.GRBL_TYPE
PLAIN = Dialect.RS274_NGC


def words(moves: MoveArray, dialect: Dialect = LASER, **controller: object) -> list[str]:
    """The program's lines without its comments."""
    lines = gcode_lines(tile.sheet(moves), tile.machine(dialect, **controller))
    return [line for line in lines if not line.startswith("(")]


def burn_to(*points: tuple[float, float], power: float = 0.5, speed: float = 10.0) -> MoveArray:
    return moves_along(np.array(points), kind=MoveKind.CUT, speed_mm_s=speed, power=power, source=0)


def test_laser_mode() -> None:
    moves = join([tile.travel(1, 2), burn_to((5, 2), (5, 4)), tile.travel(0, 0)])
    assert words(moves) == [
        "G17 G21 G90 G94",
        "M5 S0",
        "M4 S0",
        "G0 X1 Y2",
        "G1 X5 S500 F600",
        "Y4",
        "G0 X0 Y0 S0",
        "M5 S0",
        "M2",
    ]


def test_plain_dialect_switches_on_lines_of_its_own() -> None:
    run_up = moves_along(
        np.array([[2.0, 2.0]]), kind=MoveKind.RUN_UP, speed_mm_s=10.0, power=0.0, source=-1
    )
    moves = join([tile.travel(1, 2), run_up, burn_to((5, 2)), burn_to((5, 4), power=0.25)])
    assert words(moves, PLAIN) == [
        "%",
        "G17 G21 G90 G94",
        "M5 S0",
        "G0 X1 Y2",
        "G1 X2 F600",
        "M3 S500",
        "X5",
        "M3 S250",
        "Y4",
        "M5 S0",
        "M2",
        "%",
    ]


def test_a_toolpath_that_starts_with_a_burn_is_brought_to_its_start() -> None:
    assert words(burn_to((5, 0)))[3:5] == ["G0 X0 Y0", "G1 X5 S500 F600"]


def test_a_sheet_without_moves_is_still_a_whole_program() -> None:
    assert words(tile.travel(0, 0)[:0]) == ["G17 G21 G90 G94", "M5 S0", "M4 S0", "M5 S0", "M2"]


def test_moves_that_vanish_by_rounding_add_up() -> None:
    steps = [(i * 0.0004, (i % 2) * 0.0003) for i in range(1, 26)]
    lines = words(join([tile.travel(0, 0), burn_to(*steps)]))
    burned = [line for line in lines if line.startswith(("G1 ", "X"))]
    assert len(burned) == 10
    assert burned[-1] == "X0.01"


@pytest.mark.parametrize(("decimals", "said"), [(2, "X1.23"), (3, "X1.235"), (6, "X1.234568")])
def test_coordinates_have_the_decimals_of_the_controller(decimals: int, said: str) -> None:
    lines = words(join([tile.travel(1.2345678, 0)]), decimals=decimals)
    assert f"G0 {said} Y0" in lines


def test_no_negative_zero() -> None:
    assert "G0 X0 Y-0.5" in words(tile.travel(-0.0001, -0.5))


@pytest.mark.parametrize(
    ("full", "power", "said"),
    [
        (1000.0, 0.1234, "S123"),
        (255.0, 0.5, "S127.5"),
        (100.0, 0.123, "S12.3"),
        (1.0, 0.5, "S0.5"),
        (1000.0, 0.0001, "S1"),
        (1000.0, 1.0, "S1000"),
        (0.3333, 1.0, "S0.3333"),
    ],
)
def test_power_is_a_share_of_full(full: float, power: float, said: str) -> None:
    lines = words(join([tile.travel(0, 0), burn_to((5, 0), power=power)]), full_power_s_word=full)
    assert f"G1 X5 {said} F600" in lines


def test_burns_straight_on_are_one_move() -> None:
    straight = burn_to((1, 1), (2, 2), (3, 3.00005), (4, 4), (4, 5), (4, 3))
    lines = words(join([tile.travel(0, 0), straight]))
    assert lines[4:7] == ["G1 X4 Y4 S500 F600", "Y5", "Y3"]


def test_a_slow_bend_is_not_straightened() -> None:
    turn = np.linspace(0.0, 0.5, 400)
    bend = [(100 * np.sin(t), 100 * (1 - np.cos(t))) for t in turn]
    lines = words(join([tile.travel(0, 0), burn_to(*bend[1:])]), decimals=5)
    ends = np.array([[float(w[1:]) for w in line.split() if w[0] in "XY"] for line in lines[5:-2]])
    assert len(ends) > 20
    assert np.hypot(ends[:, 0], ends[:, 1] - 100.0) == pytest.approx(100.0, abs=1e-4)


def test_burns_of_other_power_or_speed_stay_apart() -> None:
    moves = [tile.travel(0, 0), burn_to((1, 0)), burn_to((2, 0), power=0.6)]
    lines = words(join([*moves, burn_to((3, 0), power=0.6, speed=20.0)]))
    assert lines[4:7] == ["G1 X1 S500 F600", "X2 S600", "X3 F1200"]


def test_the_header_tells_what_the_program_is_for() -> None:
    text = program_text(tile.sheet(), tile.machine())
    for said in (
        "(Sheet: 01-birch-plywood-offcut)",
        "(Machine: trial)",
        "(Material: birch plywood, 3 mm)",
        "(Parts: 1)",
        "(Time: 1 min 11 s)",
        "Never leave a running laser unattended",
        "manual of the machine",
        "Test before use",
    ):
        assert said in text


EVIL = [
    "a) G0 X999 (b",
    "line\nG0 X999\r\nM3 S1000",
    "50 % off; G1 X9",
    "Sperrholz größer als Ø 3 – „fein“",
    "!~?\x18 reset",
    "MSG, hello",
    "合板 " * 40,
    "word" * 60,
    "\u2028G0 X1\x85M3",
    "",
]


@pytest.mark.parametrize("text", EVIL)
@pytest.mark.parametrize("dialect", list(Dialect))
def test_names_never_break_out_of_their_comment(text: str, dialect: Dialect) -> None:
    good = tile.sheet()
    material = Material.model_construct(
        **(good.material.model_dump() | {"name": text, "cautions": (text,)})
    )
    sheet = replace(good, material=material, sheet=SheetSize(text, 100.0, 80.0, 1))
    machine = tile.machine(dialect).model_copy(update={"name": text})
    lines = program_text(sheet, machine).split("\n")
    for line in lines:
        assert line.isascii()
        assert line == "" or line.isprintable()
        assert len(line) <= LINE_LENGTH
        if line.startswith("("):
            assert line.endswith(")")
            assert not set(line[1:-1]) & set("()%;!?~$")
            assert not line[1:].lstrip().upper().startswith(("MSG", "PRINT", "DEBUG"))
    bare = [line for line in lines if not line.startswith("(")]
    usual = program_text(good, tile.machine(dialect)).split("\n")
    assert bare == [line for line in usual if not line.startswith("(")]


def test_letters_with_marks_keep_their_letter() -> None:
    assert comment_text("Größe 3×4 – Ährenöl") == "Grosse 3x4 - Ahrenol"


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(0.4, "0 s"), (59.6, "1 min 0 s"), (71.0, "1 min 11 s"), (3600.0, "1 h 0 min 0 s")],
)
def test_times_are_readable(seconds: float, said: str) -> None:
    assert minutes(seconds) == said


@pytest.mark.parametrize(
    "moves",
    [burn_to((np.nan, 0)), burn_to((1, 0), speed=0.0), burn_to((1, 0), power=1.5)],
)
def test_a_toolpath_that_no_machine_can_follow_is_refused(moves: MoveArray) -> None:
    sheet = replace(tile.sheet(), toolpath=Toolpath(moves))
    with pytest.raises(ValueError, match="must"):
        program_text(sheet, tile.machine())
