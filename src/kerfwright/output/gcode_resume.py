"""The rest of a program that was interrupted, as a program of its own.

What is left is taken over word for word. Before it the machine is brought to where the interrupted
move begins, with the beam off: an engraving row is entered from its run-up again, a cut is pierced
again.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from kerfwright.output.gcode import FOCUS_ON_SURFACE, MODAL_START
from kerfwright.output.gcode_beam import beam_of
from kerfwright.output.gcode_header import comment_lines, header_lines
from kerfwright.output.gcode_numbers import SECONDS_DECIMALS, feed_words, power_words, rounded
from kerfwright.plan import PlannedSheet
from kerfwright.program.classify import COLLINEAR_MM
from kerfwright.program.model import Program
from kerfwright.program.words import code_of, words_of
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.toolpath import MoveKind, Process

CAUTIONS = (
    "Only if neither the sheet nor the zero has moved since the interruption.",
    "Home the machine first. Run the outline with the beam off before you go on.",
)


def first_move_from(program: Program, line: int) -> int | None:
    """Return the first move of that line or of one after it; ``None`` where none is left."""
    move = int(np.searchsorted(program.line_of_move, line))
    left = program.toolpath.moves["power"][move:] > 0.0
    return move if left.any() else None


def resumed_lines(
    text: Sequence[str], program: Program, move: int, sheet: PlannedSheet, machine: Machine
) -> Iterator[str]:
    """Yield the lines of the program that burns everything from a move on.

    ``text`` are the lines of the whole program, ``program`` what was understood of it; ``move`` is
    the first of its line.
    """
    plain = machine.controller.dialect is Dialect.RS274_NGC
    line = int(program.line_of_move[move])
    before = int(program.line_of_move[move - 1]) if move else 0
    if plain:
        yield "%"
    yield from header_lines(sheet, machine)
    yield from comment_lines("Resumed", f"from line {line} of {program.name}")
    for caution in CAUTIONS:
        yield from comment_lines("Caution", caution)
    yield MODAL_START
    yield from beam_of(machine.controller.dialect).start()
    if program.toolpath.moves["z_mm"].any():
        yield FOCUS_ON_SURFACE
    yield from _entered(text[before : line - 1], program, move, sheet, machine)
    yield _whole_line(text[line - 1], program, move, machine)
    yield from text[line:]


def _entered(
    between: Sequence[str], program: Program, move: int, sheet: PlannedSheet, machine: Machine
) -> Iterator[str]:
    """Bring the machine to the start of a move; ``between`` are the lines that lead to it."""
    controller = machine.controller
    toolpath = program.toolpath
    moves = toolpath.moves
    kind, power = moves["kind"][move], float(moves["power"][move])
    feed = _next_feed(program, move)
    s_word = _power(power, machine)
    if program.air_of_move[move] and controller.air_on:
        yield controller.air_on
    begin = _run_begin(program, move)
    x, y = toolpath.points[begin].tolist()
    yield f"G0 X{rounded(x, 6)} Y{rounded(y, 6)} S0"
    height = float(moves["z_mm"][move])
    prepared = [code for line in between if (code := code_of(line, program.name)) not in {"", "%"}]
    if height != 0.0 and not any("Z" in code for code in prepared):
        yield f"G0 Z{rounded(height, 6)}"
    if begin < move:
        x, y = toolpath.points[move].tolist()
        yield f"G1 X{rounded(x, 6)} Y{rounded(y, 6)} F{feed}"
    elif kind == MoveKind.TRAVEL:
        yield f"F{feed}"
    yield from prepared
    if power == 0.0 or any("M3" in code for code in prepared):
        return
    cut = sheet.recipes.get(Process.CUT)
    cuts = cut is not None and begin == move and _is_cut(program, move, machine, sheet)
    if cut is not None and cuts and cut.pierce_s > 0.0:
        beam = beam_of(controller.dialect)
        yield from beam.pierce(s_word, rounded(cut.pierce_s, SECONDS_DECIMALS), feed)
    elif controller.dialect is Dialect.RS274_NGC:
        yield f"M3 S{s_word}"


def _whole_line(line: str, program: Program, move: int, machine: Machine) -> str:
    """Return the line of a move with every word that it had from lines before it."""
    words = words_of(code_of(line, program.name), program.name)
    given = {letter for letter, _ in words}
    moves = program.toolpath.moves
    power, kind = float(moves["power"][move]), moves["kind"][move]
    out = "".join(f" {letter}{rounded(value, 6)}" for letter, value in words if letter != "N")
    if "G" not in given:
        arc = bool(given & {"I", "J"})
        out = f" {_motion(program, move, arc=arc)}{out}"
    if kind != MoveKind.TRAVEL and "F" not in given:
        out += f" F{_next_feed(program, move)}"
    if machine.controller.dialect is Dialect.GRBL_TYPE and "S" not in given:
        out += f" S{_power(power, machine)}"
    return out[1:]


def _motion(program: Program, move: int, *, arc: bool) -> str:
    if program.toolpath.moves["kind"][move] == MoveKind.TRAVEL:
        return "G0"
    if not arc:
        return "G1"
    (ax, ay), (bx, by), (cx, cy) = program.toolpath.points[move : move + 3]
    return "G3" if (bx - ax) * (cy - by) - (by - ay) * (cx - bx) > 0.0 else "G2"


def _run_begin(program: Program, move: int) -> int:
    """Return where the straight run of an engraving row begins that a move is in."""
    moves, points = program.toolpath.moves, program.toolpath.points
    begin = move
    step = points[move + 1] - points[move]
    while begin > 0 and moves["kind"][begin - 1] != MoveKind.TRAVEL:
        before = points[begin] - points[begin - 1]
        across = abs(before[0] * step[1] - before[1] * step[0])
        straight = across <= COLLINEAR_MM * max(np.hypot(*before), np.hypot(*step))
        if not straight or float(before @ step) <= 0.0:
            break
        begin -= 1
    return begin if moves["kind"][begin] == MoveKind.RUN_UP else move


def _is_cut(program: Program, move: int, machine: Machine, sheet: PlannedSheet) -> bool:
    """Whether a burn has the settings of cuts and of nothing else."""
    moves = program.toolpath.moves
    alike = [
        process
        for process, recipe in sheet.recipes.items()
        if abs(recipe.speed_mm_s - moves["speed_mm_s"][move]) < 1e-2
        and _power(recipe.power, machine) == _power(float(moves["power"][move]), machine)
    ]
    return alike == [Process.CUT]


def _next_feed(program: Program, move: int) -> str:
    """Feed of the first move at burning speed from here on."""
    moves = program.toolpath.moves
    fed = move + int((moves["kind"][move:] != MoveKind.TRAVEL).argmax())
    return feed_words(moves["speed_mm_s"][fed : fed + 1])[0]


def _power(power: float, machine: Machine) -> str:
    return power_words(np.array([power]), machine.controller.full_power_s_word)[0]
