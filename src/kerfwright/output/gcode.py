"""A planned sheet as a machine program in RS-274 words.

Words, modal groups and the order of execution within a block are those of the NIST RS274/NGC
interpreter, version 3 (Kramer, Proctor & Messina, NISTIR 6556, 2000). Two dialects differ only in
how the beam is switched, see :class:`GrblType` and :class:`PlainNgc`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from typing import Protocol

import numpy as np

from kerfwright.output.gcode_header import comment_lines, header_lines
from kerfwright.output.gcode_merge import merged
from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.toolpath import MoveKind, Toolpath, join, moves_along

MODAL_START = "G17 G21 G90 G94"
"""XY plane, millimetres, absolute, units per minute: one word of each modal group."""

FEED_DECIMALS = 2
"""Of mm/min: finer than any controller's step rate."""

POWER_STEPS = 1000
"""A power is written to at least this part of full power, and no finer than it needs."""


class _Beam(Protocol):
    """How one dialect switches the beam."""

    def start(self) -> tuple[str, ...]: ...

    def end(self) -> tuple[str, ...]: ...

    def switch(self, power: str) -> tuple[str, str]:
        """Line to write before a move that burns at ``power``, and the power word of the move.

        "0" is a move that does not burn; what need not be written is an empty string.
        """
        ...


class GrblType:
    """Laser mode: M4 once, the power as an S word of the move, in proportion to the real speed.

    S0 is written on travel too, although laser mode keeps the beam off there: the program stays
    safe on a controller whose laser mode somebody has switched off.
    """

    def __init__(self) -> None:
        self._power = "0"

    def start(self) -> tuple[str, ...]:
        """Beam off, then laser mode at no power."""
        return ("M5 S0", "M4 S0")

    def end(self) -> tuple[str, ...]:
        """Beam off, end of program."""
        return ("M5 S0", "M2")

    def switch(self, power: str) -> tuple[str, str]:
        """Write an S word in the move, left out where unchanged."""
        if power == self._power:
            return "", ""
        self._power = power
        return "", f" S{power}"


class PlainNgc:
    """No laser mode: M3 before burns and M5 before every other move, on lines of their own."""

    def __init__(self) -> None:
        self._power = "0"

    def start(self) -> tuple[str, ...]:
        """Beam off."""
        return ("M5 S0",)

    def end(self) -> tuple[str, ...]:
        """Beam off, end of program."""
        return ("M5 S0", "M2")

    def switch(self, power: str) -> tuple[str, str]:
        """Switch the beam on a line of its own where the move needs it otherwise than it is."""
        if power == self._power:
            return "", ""
        self._power = power
        return ("M5" if power == "0" else f"M3 S{power}"), ""


def program_text(sheet: PlannedSheet, machine: Machine) -> str:
    """Return the whole program of a sheet, see :func:`gcode_lines`."""
    return "".join(f"{line}\n" for line in gcode_lines(sheet, machine))


def gcode_lines(sheet: PlannedSheet, machine: Machine) -> Iterator[str]:
    """Yield the program's lines without line ends: ASCII, at most 80 characters each.

    Coordinates are rounded to the controller's decimals. A move that vanishes by rounding is left
    out and its length falls to the next one, since positions are absolute. Burning moves that
    run straight on in one another are written as one.

    Raises:
        ValueError: a coordinate, speed or power that no machine can work with (a defect of the
            plan, not of anybody's input).

    """
    _check(sheet.toolpath)
    plain = machine.controller.dialect is Dialect.RS274_NGC
    beam: _Beam = PlainNgc() if plain else GrblType()
    if plain:
        yield "%"
    yield from header_lines(sheet, machine)
    yield MODAL_START
    yield from beam.start()
    yield from _move_lines(merged(sheet.toolpath), machine, beam)
    yield from beam.end()
    if plain:
        yield "%"


def beam_off_lines(
    toolpath: Toolpath, machine: Machine, comments: Iterable[tuple[str, str]]
) -> Iterator[str]:
    """Yield a program that only moves: it says M5 and nothing that switches a beam on.

    ``comments`` are labels and texts for the program's head. The program first goes to the
    toolpath's start.

    Raises:
        ValueError: the toolpath burns, or no machine can work with it.

    """
    _check(toolpath)
    if toolpath.moves["power"].any():
        raise ValueError("a program with the beam off must not burn")
    start = moves_along(
        np.array([toolpath.start_mm]), kind=MoveKind.TRAVEL, speed_mm_s=1.0, power=0.0, source=-1
    )
    marked = machine.controller.dialect is Dialect.RS274_NGC
    if marked:
        yield "%"
    for label, text in comments:
        yield from comment_lines(label, text)
    yield MODAL_START
    yield "M5 S0"
    yield from _move_lines(
        Toolpath(join([start, toolpath.moves]), toolpath.start_mm), machine, PlainNgc()
    )
    yield from ("M5 S0", "M2")
    if marked:
        yield "%"


def _check(toolpath: Toolpath) -> None:
    moves = toolpath.moves
    if not np.isfinite(toolpath.points).all():
        raise ValueError("a toolpath's coordinates must be finite")
    speeds = moves["speed_mm_s"][moves["kind"] != MoveKind.TRAVEL]
    if not (np.isfinite(speeds) & (speeds > 0.0)).all():
        raise ValueError("a toolpath's speeds must be finite and above 0")
    if not ((moves["power"] >= 0.0) & (moves["power"] <= 1.0)).all():
        raise ValueError("a toolpath's powers must lie from 0 to 1")


def _move_lines(toolpath: Toolpath, machine: Machine, beam: _Beam) -> Iterator[str]:
    controller = machine.controller
    decimals = controller.decimals
    steps = np.rint(toolpath.points * 10**decimals).astype(np.int64)
    moves = toolpath.moves
    travel = moves["kind"] == MoveKind.TRAVEL
    feeds = _feed_words(moves["speed_mm_s"])
    powers = _power_words(
        np.where(toolpath.burning, moves["power"], 0.0), controller.full_power_s_word
    )

    at_x: int | None = None
    at_y: int | None = None
    motion = feed = ""
    if len(moves) and not travel[0]:
        at_x, at_y = (int(step) for step in steps[0])
        motion = "G0"
        yield f"G0 X{_number(at_x, decimals)} Y{_number(at_y, decimals)}"
    for x, y, rapid, wanted_feed, power in zip(
        steps[1:, 0].tolist(),
        steps[1:, 1].tolist(),
        travel.tolist(),
        feeds,
        powers,
        strict=True,
    ):
        if x == at_x and y == at_y:
            continue
        switch, power_word = beam.switch(power)
        if switch:
            yield switch
        wanted_motion = "G0" if rapid else "G1"
        words = "" if wanted_motion == motion else f" {wanted_motion}"
        motion = wanted_motion
        if x != at_x:
            words += f" X{_number(x, decimals)}"
        if y != at_y:
            words += f" Y{_number(y, decimals)}"
        at_x, at_y = x, y
        words += power_word
        if not rapid and wanted_feed != feed:
            feed = wanted_feed
            words += f" F{feed}"
        yield words[1:]


def _number(steps: int, decimals: int) -> str:
    """Decimal number for a count of the last decimal, as short as it goes."""
    sign = "-" if steps < 0 else ""
    whole, rest = divmod(abs(steps), 10**decimals)
    if rest == 0:
        return f"{sign}{whole}"
    return f"{sign}{whole}.{rest:0{decimals}d}".rstrip("0")


def _feed_words(speed_mm_s: np.ndarray) -> list[str]:
    steps = np.maximum(np.rint(np.nan_to_num(speed_mm_s) * 60.0 * 10**FEED_DECIMALS), 1.0)
    values, where = np.unique(steps, return_inverse=True)
    words = [_number(int(value), FEED_DECIMALS) for value in values]
    return [words[i] for i in where]


def power_decimals(full_power_s_word: float) -> int:
    """Decimals of an S word, so that a step is at most a thousandth of full power."""
    return max(0, math.ceil(math.log10(POWER_STEPS / full_power_s_word) - 1e-9))


def _power_words(power: np.ndarray, full_power_s_word: float) -> list[str]:
    """S numbers; a power above nothing never becomes nothing, and none is above full."""
    decimals = power_decimals(full_power_s_word)
    full = full_power_s_word * 10**decimals
    steps = np.clip(np.rint(power * full), np.where(power > 0.0, 1.0, 0.0), math.floor(full + 1e-6))
    values, where = np.unique(steps, return_inverse=True)
    words = [_number(int(value), decimals) for value in values]
    return [words[i] for i in where]
