"""Programs read by two general G-code libraries that know nothing of Kerfwright.

`pygcode` keeps track of modal motion; `gcodeparser` reads line by line and does not.
"""

from __future__ import annotations

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines
from pygcode import Line

import planned_square as tile
from kerfwright.output.gcode import gcode_lines
from kerfwright.program.interpreter import interpret
from kerfwright.shop.machine import Dialect

BOTH = pytest.mark.parametrize("dialect", list(Dialect))
State = dict[str, float]


def program(dialect: Dialect) -> list[str]:
    return list(gcode_lines(tile.sheet(), tile.machine(dialect)))


def states_by_pygcode(lines: list[str]) -> list[State]:
    """X, Y, S, F after every block that moves, kept as modal by the letter of its words."""
    now: State = {}
    out: list[State] = []
    for line in lines:
        found = Line(line).block.words
        now.update({w.letter: float(w.value) for w in found if w.letter in "XYSF"})
        if any(w.letter in "XY" for w in found):
            out.append(dict(now))
    return out


def states_by_gcodeparser(lines: list[str]) -> list[State]:
    """As above. The library needs a command in each line, so the modal motion is put in front."""
    now: State = {}
    out: list[State] = []
    motion = ""
    for line in lines:
        if line.startswith(("(", "%")):
            continue
        if line.startswith(("G0", "G1 ")):
            motion = line.split()[0]
        whole = line if line[0] in "GM" else f"{motion} {line}"
        for command in parse_gcode_lines(whole):
            now.update({k: float(v) for k, v in command.params.items() if k in "XYSF"})
            if command.params.keys() & {"X", "Y"}:
                out.append(dict(now))
    return out


@BOTH
def test_both_libraries_read_the_same_moves_as_the_interpreter(dialect: Dialect) -> None:
    lines = program(dialect)
    read = interpret(lines, tile.machine(dialect)).toolpath
    one, other = states_by_pygcode(lines), states_by_gcodeparser(lines)
    assert one == other
    assert len(one) == len(read) > 200
    assert np.array([(s["X"], s["Y"]) for s in one]) == pytest.approx(read.points[1:])
    fed = [(s, m) for s, m in zip(one, read.moves, strict=True) if m["power"] > 0.0]
    assert len(fed) > 50
    for state, move in fed:
        assert state["S"] / 1000.0 == pytest.approx(float(move["power"]))
        assert state["F"] / 60.0 == pytest.approx(float(move["speed_mm_s"]))


@BOTH
def test_pygcode_knows_every_word(dialect: Dialect) -> None:
    for line in program(dialect):
        block = Line(line).block
        unread = [w for w in block.words if w.letter not in "XYSF"]
        assert len([g for g in block.gcodes if g.word.letter in "GM"]) == len(unread)
