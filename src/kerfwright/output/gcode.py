"""A planned sheet as a machine program in RS-274 words.

Words, modal groups and the order of execution within a block are those of the NIST RS274/NGC
interpreter, version 3 (Kramer, Proctor & Messina, NISTIR 6556, 2000). Two dialects differ only in
how the beam is switched, see :mod:`kerfwright.output.gcode_beam`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np
import numpy.typing as npt

from kerfwright.output.gcode_arcs import ArcWords, centre_decimals, with_arcs
from kerfwright.output.gcode_beam import Beam, PlainNgc, beam_of
from kerfwright.output.gcode_header import LINE_LENGTH, comment_lines, header_lines
from kerfwright.output.gcode_merge import merged
from kerfwright.output.gcode_numbers import (
    SECONDS_DECIMALS,
    feed_words,
    number,
    numbers,
    power_words,
    rounded,
)
from kerfwright.plan import PlannedSheet
from kerfwright.shop.machine import Controller, Dialect, Machine
from kerfwright.shop.material import Recipe
from kerfwright.toolpath import (
    BurnSource,
    MoveKind,
    Process,
    Toolpath,
    join,
    moves_along,
    processes_of,
)

MODAL_START = "G17 G21 G90 G94"
"""XY plane, millimetres, absolute, units per minute: one word of each modal group."""

FOCUS_ON_SURFACE = "G0 Z0"
"""Said first by programs that move the focus: one that was stopped in a deeper pass left it so."""

LARGEST_LINE_NUMBER = 99_999
"""NISTIR 6556, section 3.3.1.2 (from memory); lines beyond it have none."""

NUMBER_LENGTH = len(f"N{LARGEST_LINE_NUMBER} ")

BoolArray = npt.NDArray[np.bool_]
Place = tuple[str, str]
"""Numbers of x and y as they are written."""


def program_text(
    sheet: PlannedSheet, machine: Machine, notes: Iterable[tuple[str, str]] = ()
) -> str:
    """Return the whole program of a sheet, see :func:`gcode_lines`."""
    return "".join(f"{line}\n" for line in gcode_lines(sheet, machine, notes))


def gcode_lines(
    sheet: PlannedSheet, machine: Machine, notes: Iterable[tuple[str, str]] = ()
) -> Iterator[str]:
    """Yield the program's lines without line ends: ASCII, at most 79 characters each.

    Coordinates are rounded to the controller's decimals. A move that vanishes by rounding is left
    out and its length falls to the next one, since positions are absolute. Burning moves that
    run straight on in one another are written as one; those round a circle too, where the
    controller takes arcs. ``notes`` are labels and texts of further comments at the head.

    Raises:
        ValueError: a coordinate, speed or power that no machine can work with (a defect of the
            plan, not of anybody's input).

    """
    _check(sheet.toolpath)
    lines = _sheet_lines(sheet, machine, notes)
    return _numbered(lines) if machine.controller.line_numbers else lines


def _sheet_lines(
    sheet: PlannedSheet, machine: Machine, notes: Iterable[tuple[str, str]]
) -> Iterator[str]:
    controller = machine.controller
    plain = controller.dialect is Dialect.RS274_NGC
    beam = beam_of(controller.dialect)
    if plain:
        yield "%"
    yield from header_lines(sheet, machine)
    for label, text in notes:
        yield from comment_lines(label, text)
    yield MODAL_START
    yield from beam.start()
    if sheet.toolpath.moves["z_mm"].any():
        yield FOCUS_ON_SURFACE
    toolpath = merged(sheet.toolpath)
    arcs: dict[int, ArcWords] = {}
    if controller.arcs:
        toolpath, arcs = with_arcs(toolpath, controller.decimals)
    air = air_wanted(toolpath, sheet.sources, sheet.recipes)
    yield from _Writer(controller, beam).lines(toolpath, arcs, air)
    off, end = beam.end()
    yield off
    if controller.air_off and air.any():
        yield controller.air_off
    yield end
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
    whole = Toolpath(join([start, toolpath.moves]), toolpath.start_mm)
    air = np.zeros(len(whole), dtype=bool)
    yield from _Writer(machine.controller, PlainNgc()).lines(whole, {}, air)
    yield from ("M5 S0", "M2")
    if marked:
        yield "%"


def air_wanted(
    toolpath: Toolpath, sources: Sequence[BurnSource], recipes: dict[Process, Recipe]
) -> BoolArray:
    """Whether air blows during each move, shape (n,); a travel has what the burn after it has."""
    blown = [process for process, recipe in recipes.items() if recipe.air]
    if not blown or len(toolpath) == 0:
        return np.zeros(len(toolpath), dtype=bool)
    processes = processes_of(toolpath, sources)
    wanted = np.isin(processes.astype(str), [str(process) for process in blown])
    fed = np.flatnonzero(toolpath.moves["kind"] != MoveKind.TRAVEL)
    after = np.searchsorted(fed, np.arange(len(wanted)))
    return np.asarray(np.append(wanted[fed], [False])[after])


def _numbered(lines: Iterable[str]) -> Iterator[str]:
    """Number the lines that hold words by their place in the file, as faults name them."""
    for place, line in enumerate(lines, start=1):
        bare = line[0] in "(%" or place > LARGEST_LINE_NUMBER
        yield line if bare else f"N{place} {line}"


def _check(toolpath: Toolpath) -> None:
    moves = toolpath.moves
    if not np.isfinite(toolpath.points).all():
        raise ValueError("a toolpath's coordinates must be finite")
    speeds = moves["speed_mm_s"][moves["kind"] != MoveKind.TRAVEL]
    if not (np.isfinite(speeds) & (speeds > 0.0)).all():
        raise ValueError("a toolpath's speeds must be finite and above 0")
    if not ((moves["power"] >= 0.0) & (moves["power"] <= 1.0)).all():
        raise ValueError("a toolpath's powers must lie from 0 to 1")
    if not (np.isfinite(moves["dwell_s"]) & (moves["dwell_s"] >= 0.0)).all():
        raise ValueError("a toolpath must wait a finite time, or not")


class _Writer:
    """Writes moves, each word only where it changes."""

    def __init__(self, controller: Controller, beam: Beam) -> None:
        self._controller = controller
        self._beam = beam
        self._room = LINE_LENGTH - (NUMBER_LENGTH if controller.line_numbers else 0)
        self._at: Place | None = None
        self._z = "0"
        self._motion = self._feed = ""
        self._air = False

    def lines(self, toolpath: Toolpath, arcs: dict[int, ArcWords], air: BoolArray) -> Iterator[str]:
        """Yield the lines of a toolpath; ``arcs`` tells which moves run round a circle."""
        decimals = self._controller.decimals
        steps = np.rint(toolpath.points * 10**decimals).astype(np.int64)
        moves = toolpath.moves
        travel = moves["kind"] == MoveKind.TRAVEL
        burning = np.where(toolpath.burning, moves["power"], 0.0)
        heights = np.rint(moves["z_mm"] * 10**decimals).astype(np.int64)
        special = (moves["dwell_s"] > 0.0) | (np.diff(heights, prepend=0) != 0) | air
        special |= np.append([False], air[:-1])[: len(air)]
        words = list(
            zip(numbers(steps[:, 0], decimals), numbers(steps[:, 1], decimals), strict=True)
        )
        if len(moves) and not travel[0]:
            self._at = words[0]
            self._motion = "G0"
            yield f"G0 X{words[0][0]} Y{words[0][1]}"
        for index, (end, rapid, feed, power, is_special) in enumerate(
            zip(
                words[1:],
                travel.tolist(),
                feed_words(moves["speed_mm_s"]),
                power_words(burning, self._controller.full_power_s_word),
                special.tolist(),
                strict=True,
            )
        ):
            if is_special:
                yield from self._standing(
                    number(int(heights[index]), decimals),
                    bool(air[index]),
                    rounded(float(moves["dwell_s"][index]), SECONDS_DECIMALS),
                    power,
                    feed,
                )
            if end != self._at:
                yield from self._move(end, arcs.get(index), "" if rapid else feed, power)
        if self._z != "0":
            yield from self._height("0")

    def _standing(self, z: str, air: bool, seconds: str, power: str, feed: str) -> Iterator[str]:
        """What is done before a move: focus, air, pierce."""
        if z != self._z:
            yield from self._height(z)
        if air != self._air:
            self._air = air
            word = self._controller.air_on if air else self._controller.air_off
            if word:
                yield word
        if seconds != "0" and power == "0":
            switch, power_word = self._beam.switch("0")
            if switch or power_word:
                yield switch or power_word[1:]
            yield f"G4 P{seconds}"
        elif seconds != "0":
            yield from self._beam.pierce(power, seconds, feed)
            if self._controller.dialect is Dialect.GRBL_TYPE:
                self._motion, self._feed = "G1", feed

    def _height(self, z: str) -> Iterator[str]:
        """Set the focus with the beam off."""
        switch, power_word = self._beam.switch("0")
        if switch:
            yield switch
        self._z, self._motion = z, "G0"
        yield f"G0 Z{z}{power_word}"

    def _move(self, end: Place, arc: ArcWords | None, feed: str, power: str) -> Iterator[str]:
        """One move; ``feed`` is empty for a rapid one."""
        switch, power_word = self._beam.switch(power)
        if switch:
            yield switch
        motion = _motion(arc, rapid=not feed)
        words = "" if motion == self._motion else f" {motion}"
        self._motion = motion
        x, y = end
        if arc is None:
            at_x, at_y = self._at or (None, None)
            words += f" X{x}" if x != at_x else ""
            words += f" Y{y}" if y != at_y else ""
        else:
            places = centre_decimals(self._controller.decimals)
            words += f" X{x} Y{y} I{rounded(arc.i_mm, places)} J{rounded(arc.j_mm, places)}"
        self._at = end
        words += power_word
        if feed and feed != self._feed:
            self._feed = feed
            if len(words) + len(f"F{feed}") > self._room:
                yield f"F{feed}"
            else:
                words += f" F{feed}"
        yield words[1:]


def _motion(arc: ArcWords | None, *, rapid: bool) -> str:
    if arc is not None:
        return "G2" if arc.clockwise else "G3"
    return "G0" if rapid else "G1"
