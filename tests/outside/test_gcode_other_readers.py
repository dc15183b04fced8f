"""Programs read by two general G-code libraries that know nothing of Kerfwright.

`pygcode` keeps track of modal motion; `gcodeparser` reads line by line and does not.
"""

from __future__ import annotations

import math
import re
from collections import Counter

import numpy as np
import pytest
from gcodeparser import parse_gcode_lines
from pygcode import Line, Machine

import planned_square as tile
import worked_sheets as worked
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


WORDS = re.compile(r"([A-Z])(-?\d*\.?\d+)")
CURVED = pytest.mark.parametrize("name", worked.PROGRAMS)


def curved(name: str, *, numbers: bool = False) -> list[str]:
    """A program with arcs, pierces, focus steps and air, as far as it has them."""
    machine = worked.machine(name)
    controller = machine.controller.model_copy(update={"arcs": True, "line_numbers": numbers})
    machine = machine.model_copy(update={"controller": controller})
    return list(gcode_lines(worked.sheet(name), machine))


@CURVED
def test_pygcode_moves_along_the_same_arcs(name: str) -> None:
    """Its virtual machine keeps position and modes by itself; arcs are checked from I and J."""
    machine = Machine()
    ends: list[tuple[float, float]] = []
    radii: list[tuple[float, float]] = []
    for text in curved(name):
        block = Line(text).block
        before = machine.pos.values
        machine.process_block(block)
        after = machine.pos.values
        if any(word.letter in "XY" for word in block.words):
            ends.append((after["X"], after["Y"]))
        given = {word.letter: float(word.value) for word in block.words}
        if "I" in given:
            centre = before["X"] + given["I"], before["Y"] + given["J"]
            radii.append(
                (
                    math.dist(centre, (before["X"], before["Y"])),
                    math.dist(centre, (after["X"], after["Y"])),
                )
            )
    assert len(radii) > 3
    assert np.abs(np.diff(np.array(radii), axis=1)).max() < 0.002
    read = interpret(curved(name), worked.machine(name))
    last_of_line = np.append(np.diff(read.line_of_move) != 0, [True])
    assert np.array(ends) == pytest.approx(read.toolpath.points[1:][last_of_line], abs=1e-9)


@CURVED
def test_both_libraries_read_every_word(name: str) -> None:
    """N, Z, I, J, P and the M words: by each library as by a plain search for letter and number."""
    for text in curved(name, numbers=True):
        if text[0] in "(%":
            continue
        wanted = [(letter, float(number)) for letter, number in WORDS.findall(text)]
        block = Line(text).block
        assert [(w.letter, float(w.value)) for w in block.words] == wanted
        bare = text.partition(" ")[2]
        whole = bare if bare[0] in "GM" else f"G1 {bare}"
        commands = parse_gcode_lines(whole)
        read = {key: float(value) for one in commands for key, value in one.params.items()}
        assert read == {letter: number for letter, number in wanted if letter not in "NGM"}


@CURVED
def test_pygcode_sees_the_same_waits_focus_and_air(name: str) -> None:
    seen = Counter(
        str(gcode.word_key or gcode.word)
        for text in curved(name)
        for gcode in Line(text).block.gcodes
    )
    read = interpret(curved(name), worked.machine(name))
    assert seen["G04"] == int((read.toolpath.moves["dwell_s"] > 0.0).sum())
    assert seen["M08"] == seen["M09"] == int(read.air_of_move.any())
    heights = [w.value for t in curved(name) for w in Line(t).block.words if w.letter == "Z"]
    assert len(heights) == read.z_moves
