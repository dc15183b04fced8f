"""Follows a machine program line by line, as the machine would.

Independent of the writer: grammar, modal groups and the order of execution within a line are
those of the NIST RS274/NGC interpreter, version 3 (Kramer, Proctor & Messina, NISTIR 6556, 2000,
table 8). Where common practice is wider than the report, the practice is followed: G0 and G1
without axis words only choose the motion, and a feed word counts in the units its line sets.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from pathlib import Path
from typing import Literal

from kerfwright.errors import KerfwrightError
from kerfwright.geometry.tolerances import CHORD_MM, COORDINATE_LIMIT_MM
from kerfwright.program.arcs import arc_by_centre, arc_by_radius, uneven_mm
from kerfwright.program.codes import M_NOTED, check_codes
from kerfwright.program.model import Program
from kerfwright.program.record import RAPID, Frame, Record
from kerfwright.program.words import Words, code_of, unknown_word, words_of
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.toolpath import MoveKind

INCH_MM = 25.4
_AXES = "XYZ"
_PARAMETERS = frozenset("XYZIJRPFST")
_NUMBER = r"([+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+))"
_USUAL_WORDS = "XYSF"
_USUAL = re.compile(
    r"(?:N[0-9]+ )?(?:G0?([01]) ?)?"
    + "".join(f"(?:{word}{_NUMBER} ?)?" for word in _USUAL_WORDS)
    + r"\s*"
)
"""Most lines of most programs: a number or none, G0 or G1 or neither, words in this order."""

_LINE, _CLOCKWISE, _COUNTER = 10, 20, 30


def read_program(path: Path, machine: Machine) -> Program:
    """Read and follow a program file, see :func:`interpret`.

    Raises:
        KerfwrightError: ``program/cannot-read``, and those of :func:`interpret`.

    """
    try:
        with path.open(encoding="utf-8-sig", errors="replace") as lines:
            return interpret(lines, machine, path.name)
    except OSError as error:
        raise KerfwrightError(
            "program/cannot-read",
            file=str(path),
            thing=f"the program cannot be read ({error.strerror or error}).",
            remedy="Check the path and that the file may be read.",
        ) from error


def interpret(lines: Iterable[str], machine: Machine, name: str = "program") -> Program:
    """Follow a program from its first line to M2, M30, its second ``%`` or the end of the file.

    The beam starts at (0, 0). Arcs become straight moves within the chord tolerance. On a
    controller of the GRBL type the beam is off in rapid moves, as laser mode has it; on a plain
    one it stays as M3 and S left it.

    Raises:
        KerfwrightError: ``program/...``, naming program and line, for whatever cannot be followed.

    """
    follower = _Follower(machine, name)
    for line in lines:
        if not follower.follow(line):
            break
    return follower.program()


class _Follower:
    """The state of the machine, and the moves it has made."""

    def __init__(self, machine: Machine, name: str) -> None:
        self.name = name
        self.machine = machine
        self.laser_mode = machine.controller.dialect is Dialect.GRBL_TYPE
        self.travel_mm_s = math.hypot(*machine.travel.speed_mm_s)
        self.line = 0
        self.marks = 0

        self.unit_mm = 1.0
        self.absolute = True
        self.absolute_centres = False
        self.air = False
        self.motion: int | None = None
        self.feed_mm_s: float | None = None
        self.s = 0.0
        self.spindle: int | None = None
        self.x = self.y = self.z = 0.0
        self.unplaced = {"X", "Y", "Z"}

        self.record = Record()
        self.moved = False
        self.off_stated = False
        self.off_before_motion = False
        self.units_stated: Literal["mm", "inch"] | None = None
        self.distance_stated: Literal["absolute", "relative"] | None = None
        self.units_first: Literal["mm", "inch"] | None = None
        self.distance_first: Literal["absolute", "relative"] | None = None
        self.ended = False
        self.beam_on_at_end = False

    @property
    def where(self) -> str:
        return f"{self.name}, line {self.line}"

    @property
    def power(self) -> float:
        if self.spindle is None:
            return 0.0
        return self.s / self.machine.controller.full_power_s_word

    def follow(self, line: str) -> bool:
        """Follow one line; False once the program has ended."""
        self.line += 1
        usual = _USUAL.fullmatch(line)
        if usual is not None:
            self._usual(*usual.groups())
            return True
        where = self.where
        code = code_of(line, where)
        if not code:
            return True
        if code == "%":
            self.marks += 1
            return self.marks < 2
        if code[0] == "/":
            words_of(code[1:], where)
            self.record.skipped.append(self.line)
            return True
        self._block(words_of(code, where))
        return not self.ended

    def _usual(self, motion: str | None, *numbers: str | None) -> None:
        """Follow a line of the usual form without taking it apart again."""
        given = {w: float(n) for w, n in zip(_USUAL_WORDS, numbers, strict=True) if n is not None}
        self._settings(given)
        self._motion([] if motion is None else [int(motion) * 10], given)

    def _block(self, words: Words) -> None:
        """Follow a block's words in the report's order, whatever their order in the line."""
        given: dict[str, float] = {}
        codes: dict[str, list[int]] = {"G": [], "M": []}
        for letter, number in words:
            if letter in codes:
                tenths = number * 10.0
                codes[letter].append(round(tenths) if abs(tenths - round(tenths)) < 1e-6 else -1)
            elif letter not in _PARAMETERS:
                raise unknown_word(f"{letter}{number:g}", self.where)
            elif letter in given:
                raise self._fail(
                    "program/repeated-word",
                    f"the word {letter} stands twice in one line.",
                    "Keep the one that is meant.",
                )
            else:
                given[letter] = number
        if codes["G"]:
            check_codes("G", codes["G"], self.where)
            self._units_and_distance(codes["G"])
        self._settings(given)
        if codes["M"]:
            check_codes("M", codes["M"], self.where)
            for code in codes["M"]:
                self._spindle(code)
        self._dwell(codes["G"], given)
        self._motion(codes["G"], given)
        for code in codes["M"]:
            self._stop(code)

    def _units_and_distance(self, codes: list[int]) -> None:
        for code in codes:
            if code in {200, 210}:
                self.unit_mm = INCH_MM if code == 200 else 1.0
                self.units_stated = "inch" if code == 200 else "mm"
            elif code in {900, 910}:
                self.absolute = code == 900
                self.distance_stated = "absolute" if self.absolute else "relative"
            elif code in {901, 911}:
                self.absolute_centres = code == 901

    def _settings(self, given: dict[str, float]) -> None:
        if "F" in given:
            feed = given["F"] * self.unit_mm / 60.0
            if not 0.0 <= feed <= COORDINATE_LIMIT_MM:
                raise self._bad_number("F", given["F"])
            self.feed_mm_s = feed
        if "S" in given:
            if not 0.0 <= given["S"] < math.inf:
                raise self._bad_number("S", given["S"])
            self.s = given["S"]
            self.off_stated |= self.s == 0.0
        if "T" in given:
            self._note(f"T{given['T']:g} (tool)")

    def _spindle(self, code: int) -> None:
        if code in {30, 40}:
            self.spindle = code
            self.record.mode(f"M{code // 10}")
            if not self.moved:
                self.off_stated = self.s == 0.0
        elif code == 50:
            self.spindle = None
            self.record.mode(None)
            self.off_stated = True
        elif code in M_NOTED:
            self.air = code != 90
            controller = self.machine.controller
            if f"M{code // 10}" not in {controller.air_on, controller.air_off}:
                self._note(f"M{code // 10} ({M_NOTED[code]})")

    def _dwell(self, codes: list[int], given: dict[str, float]) -> None:
        if 40 in codes:
            seconds = given.get("P")
            if seconds is None or not 0.0 <= seconds <= 86_400.0:
                raise self._fail(
                    "program/bad-number",
                    "the wait G4 needs its seconds, from 0 to a day, in the word P.",
                    "Write for example G4 P0.5.",
                )
            self._stand(seconds)
        elif "P" in given:
            raise self._fail(
                "program/unused-word", "the word P belongs to no G4.", "Take it out of the line."
            )

    def _stand(self, seconds: float = 0.0, *, pause: bool = False) -> None:
        """Stand still: M4 of laser mode is dark at standstill.

        M3 of laser mode is dark after G0; a wait there is no pierce, nor sure to burn nothing.
        """
        power = 0.0 if self.laser_mode and self.spindle == 40 else self.power
        dark = self.laser_mode and self.motion in {None, RAPID}
        self.record.wait(self.line, seconds, power, may_pierce=not pause and not dark)

    def _motion(self, codes: list[int], given: dict[str, float]) -> None:
        for code in codes:
            if code <= 30 or code == 800:
                self.motion = None if code == 800 else code
        axes = [axis for axis in _AXES if axis in given]
        arc = self.motion in {_CLOCKWISE, _COUNTER}
        if not arc and not given.keys().isdisjoint("IJR"):
            raise self._fail(
                "program/unused-word",
                "one of the words I, J and R belongs to no arc.",
                "Write it in a line with G2 or G3.",
            )
        if not axes and not (arc and ("I" in given or "J" in given)):
            return
        if self.motion is None:
            raise self._fail(
                "program/no-motion",
                "coordinates stand here before any of G0, G1, G2 or G3.",
                "Write the kind of motion before or with the first coordinates.",
            )
        self._first_motion()
        start, start_z = (self.x, self.y), self.z
        if "X" in given:
            self.x = self._coordinate("X", given, self.x)
        if "Y" in given:
            self.y = self._coordinate("Y", given, self.y)
        if "Z" in given:
            self.z = self._coordinate("Z", given, self.z)
        if axes == ["Z"] and not arc:
            dark = self.laser_mode and self.motion == RAPID
            self.record.height(self.line, 0.0 if dark else self.power)
        elif arc:
            self._arc(start, start_z, given)
        else:
            self._line_to(self.x, self.y, start, start_z)
        if self.unplaced and self.absolute:
            self.unplaced.difference_update(axes)

    def _first_motion(self) -> None:
        if not self.moved:
            self.moved = True
            self.off_before_motion = self.off_stated and self.power == 0.0
            self.units_first = self.units_stated
            self.distance_first = self.distance_stated

    def _coordinate(self, axis: str, given: dict[str, float], at_mm: float) -> float:
        value = given[axis] * self.unit_mm + (0.0 if self.absolute else at_mm)
        if abs(value) > COORDINATE_LIMIT_MM:
            raise self._bad_number(axis, given[axis])
        return value

    def _line_to(self, x: float, y: float, start: tuple[float, float], start_z: float) -> None:
        rapid = self.motion == RAPID
        power = 0.0 if rapid and self.laser_mode else self.power
        kind = MoveKind.TRAVEL if rapid else MoveKind.CUT if power > 0.0 else MoveKind.RUN_UP
        if power > 0.0 and self.unplaced:
            self.record.burn_unplaced(self.line, self.unplaced)
        self.record.move(
            self.line,
            (x, y),
            start,
            (start_z, self.z),
            air=self.air,
            speed=self.travel_mm_s if rapid else self._speed(),
            power=power,
            kind=kind,
        )

    def _arc(self, start: tuple[float, float], start_z: float, given: dict[str, float]) -> None:
        clockwise = self.motion == _CLOCKWISE
        end = (self.x, self.y)
        by_centre = "I" in given or "J" in given
        if by_centre == ("R" in given):
            raise self._fail(
                "program/bad-arc",
                "an arc has both a centre (I, J) and a radius (R)."
                if by_centre
                else "an arc has neither a centre (I, J) nor a radius (R).",
                "Give it one of them.",
            )
        if by_centre:
            from_x, from_y = (0.0, 0.0) if self.absolute_centres else start
            centre = (
                from_x + given.get("I", 0.0) * self.unit_mm,
                from_y + given.get("J", 0.0) * self.unit_mm,
            )
            points = arc_by_centre(
                start, end, centre, clockwise=clockwise, chord_mm=CHORD_MM, file=self.where
            )
            self.record.arc(self.line, uneven_mm(start, end, centre))
        else:
            points = arc_by_radius(
                start,
                end,
                given["R"] * self.unit_mm,
                clockwise=clockwise,
                chord_mm=CHORD_MM,
                file=self.where,
            )
        last, last_z = start, start_z
        for x, y in points.tolist():
            self._line_to(x, y, last, last_z)
            last, last_z = (x, y), self.z

    def _speed(self) -> float:
        if not self.feed_mm_s:
            raise self._fail(
                "program/no-feed",
                "a move of G1, G2 or G3 has no speed.",
                "Write a feed word F above 0 before or with the first such move.",
            )
        return self.feed_mm_s

    def _stop(self, code: int) -> None:
        if code in {0, 10, 600}:
            self.record.pauses += 1
            self._stand(pause=True)
        elif code in {20, 300}:
            self.ended = True
            self.beam_on_at_end = self.spindle is not None

    def _note(self, what: str) -> None:
        self.record.notes.setdefault(what, self.line)

    def _bad_number(self, letter: str, number: float) -> KerfwrightError:
        return self._fail(
            "program/bad-number",
            f"{letter}{number:g} is out of range.",
            "Check the number and the units (G20 inches, G21 millimetres).",
        )

    def _fail(self, code: str, thing: str, remedy: str) -> KerfwrightError:
        return KerfwrightError(code, file=self.where, thing=thing, remedy=remedy)

    def program(self) -> Program:
        self.record.finish()
        frame = Frame(
            off_before_motion=self.off_before_motion,
            units=self.units_first if self.moved else self.units_stated,
            distance=self.distance_first if self.moved else self.distance_stated,
            ended=self.ended,
            beam_on_at_end=self.beam_on_at_end if self.ended else self.spindle is not None,
            air_on_at_end=self.air,
            end_z_mm=self.z,
        )
        return self.record.program(self.name, self.line, frame)
