"""Reads path data (SVG 1.1 section 8.3) into straight, Bézier and elliptical pieces.

A fault in the data ends the path there: everything before it is kept, as SVG 1.1 appendix F.2
asks, and the fault is told.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np

from kerfwright.drawing.svg.values import COMMA, NUMBER, NUMBER_LIMIT, SPACE, bad_number, checked
from kerfwright.geometry.paths import FloatArray


@dataclass(frozen=True, slots=True)
class Arc:
    """An elliptical arc by its ends (SVG 1.1 section 8.3.8)."""

    start: tuple[float, float]
    rx: float
    ry: float
    turn_deg: float
    large: bool
    sweep: bool
    end: tuple[float, float]


@dataclass(frozen=True, eq=False, slots=True)
class Lines:
    """Straight pieces to each of ``points``, shape (n, 2)."""

    points: FloatArray


@dataclass(frozen=True, eq=False, slots=True)
class Beziers:
    """Curves behind one another; ``control`` has shape (n, 3, 2) or (n, 4, 2)."""

    control: FloatArray

    @property
    def corners(self) -> int:
        """Control points of one curve: 3 or 4."""
        return int(self.control.shape[1])


Piece = Lines | Beziers | Arc


@dataclass(eq=False, slots=True)
class Outline:
    """One subpath in user units: a start and the pieces from there."""

    start: tuple[float, float]
    pieces: list[Piece] = field(default_factory=list)
    closed: bool = False


_VALUES = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}

_BLANK = re.compile(rf"{SPACE}*")
_NUMBER = re.compile(NUMBER, re.ASCII)
_COMMAND = re.compile(
    rf"([MmLlHhVvCcSsQqTtAaZz]){SPACE}*((?:{NUMBER}(?:{COMMA}?{NUMBER})*)?){SPACE}*", re.ASCII
)
"""A letter and the numbers behind it; an arc's are read anew, since its flags may run together."""

_ARC = re.compile(
    rf"({NUMBER}){COMMA}?({NUMBER}){COMMA}?({NUMBER}){COMMA}?([01]){COMMA}?([01]){COMMA}?"
    rf"({NUMBER}){COMMA}?({NUMBER})",
    re.ASCII,
)
_COMMA = re.compile(COMMA)


def _repeated(letter: str, count: int) -> re.Pattern[str]:
    values = f"{COMMA}?".join([NUMBER] * count)
    one = rf"{letter}{SPACE}*{values}(?:{COMMA}?{values})*+{SPACE}*+"
    return re.compile(rf"(?:{one})++(?![^A-Za-z])", re.ASCII)


_REPEATED = {letter: _repeated(letter, _VALUES[letter.upper()]) for letter in "LlCcQq"}
"""One command again and again, the letter written each time, as many programs write it."""
_NOT_FINITE = re.compile(r"[+-]?(nan|inf)", re.IGNORECASE)


def parse_path(data: str) -> tuple[list[Outline], str | None]:
    """Return the subpaths of path data, and what is wrong with it where something is.

    Raises :class:`BadValueError` for numbers that are not finite or far beyond any drawing.
    """
    reading = _Reading(data)
    fault = reading.run()
    reading.finish_piece()
    return reading.outlines, fault


class _Reading:
    """Where the pen is while path data is read.

    Plain floats and lists: most commands have few numbers, and an array for each would take
    longer than everything else.
    """

    def __init__(self, data: str) -> None:
        self.data = data
        self.position = 0
        self.outlines: list[Outline] = []
        self.pen = self.start = (0.0, 0.0)
        self.control = (0.0, 0.0)
        """Last control point; reflected only by a command of the same degree."""
        self.last = ""
        self.ended = True
        self.drawing = ""
        """What :attr:`run_of` holds: L straight pieces, Q or C curves."""
        self.run_of: list[float] = []

    def run(self) -> str | None:
        data = self.data
        self.position = _after_blanks(data, 0)
        if data[self.position :].strip() in {"", "none"}:
            return None
        if data[self.position] not in "Mm":
            return self._fault("path data must begin with M")
        while self.position < len(data):
            if (repeated := _REPEATED.get(data[self.position])) is not None:
                found = repeated.match(data, self.position)
                if found is not None:
                    self._repeat(data[self.position], found)
                    continue
            found = _COMMAND.match(data, self.position)
            if found is None:
                return self._fault("a command was expected")
            fault = self._command(found)
            if fault is not None:
                return fault
        return None

    def finish_piece(self) -> None:
        """Put the straight pieces or curves that were gathered behind the outline."""
        if not self.run_of:
            return
        values = np.array(self.run_of).reshape(-1, 2)
        corners = {"L": 1, "Q": 3, "C": 4}[self.drawing]
        piece = Lines(values) if corners == 1 else Beziers(values.reshape(-1, corners, 2))
        self.outlines[-1].pieces.append(piece)
        self.run_of = []

    def _repeat(self, letter: str, found: re.Match[str]) -> None:
        self.position = found.end()
        self._draw(letter.upper(), letter.islower(), _values(found[0]))
        self.last = letter.upper()

    def _command(self, found: re.Match[str]) -> str | None:
        command, numbers = found[1], found[2]
        kind, relative = command.upper(), command.islower()
        if kind == "A":
            self.position = found.start(2)
            return self._arcs(relative)
        if kind == "Z":
            self.finish_piece()
            self.outlines[-1].closed = True
            self.pen, self.ended, self.last = self.start, True, "Z"
            self.position = found.start(2)
            return None
        self.position = found.end()
        values = _values(numbers)
        count = _VALUES[kind]
        whole = len(values) - len(values) % count
        if whole:
            self._draw(kind, relative, values[:whole])
            self.last = kind
        if whole == 0 or whole < len(values):
            return self._fault(f"{command} needs {count} numbers each time")
        return None

    def _draw(self, kind: str, relative: bool, values: list[float]) -> None:
        if kind == "M":
            self.finish_piece()
            x, y = self.pen if relative else (0.0, 0.0)
            self.pen = self.start = (values[0] + x, values[1] + y)
            self.outlines.append(Outline(self.start))
            self.ended = False
            values = values[2:]
            if not values:
                return
            kind = "L"
        if kind in "LHV":
            self._lines(kind, relative, values)
        else:
            self._curves(kind, relative, values)

    def _lines(self, kind: str, relative: bool, values: list[float]) -> None:
        out = self._gathering("L")
        x, y = self.pen
        if kind == "H":
            for value in values:
                x = x + value if relative else value
                out += (x, y)
        elif kind == "V":
            for value in values:
                y = y + value if relative else value
                out += (x, y)
        elif relative:
            for dx, dy in zip(values[::2], values[1::2], strict=True):
                x, y = x + dx, y + dy
                out += (x, y)
        else:
            out += values
            x, y = values[-2:]
        self.pen = (x, y)

    def _curves(self, kind: str, relative: bool, values: list[float]) -> None:
        smooth = kind in "ST"
        out = self._gathering("C" if kind in "CS" else "Q")
        (x, y), (cx, cy) = self.pen, self.control
        if smooth and not (self.last and self.last in ("CS" if kind == "S" else "QT")):
            cx, cy = x, y
        count = _VALUES[kind]
        for at in range(0, len(values), count):
            given = values[at : at + count]
            if relative:
                given = [given[i] + (y if i % 2 else x) for i in range(count)]
            out += (x, y)
            if smooth:
                cx, cy = 2.0 * x - cx, 2.0 * y - cy
                out += (cx, cy)
            out += given
            if count > 2:
                cx, cy = given[-4:-2]
            x, y = given[-2:]
        self.pen, self.control = (x, y), (cx, cy)

    def _arcs(self, relative: bool) -> str | None:
        self.finish_piece()
        drawn = 0
        while True:
            gap = _COMMA.match(self.data, self.position) if drawn else None
            at = gap.end() if gap else self.position
            found = _ARC.match(self.data, at)
            if found is None:
                break
            self.position = found.end()
            rx, ry, turn, x, y = (checked(float(found[i]), found[i]) for i in (1, 2, 3, 6, 7))
            end = (x + self.pen[0], y + self.pen[1]) if relative else (x, y)
            large, sweep = found[4] == "1", found[5] == "1"
            arc = Arc(self.pen, abs(rx), abs(ry), turn, large, sweep, end)
            self._outline().pieces.append(arc)
            self.pen = end
            drawn += 1
        self.last = "A"
        rest = _after_blanks(self.data, self.position)
        if drawn == 0 or _NUMBER.match(self.data, rest):
            return self._fault("A needs seven numbers each time, the fourth and fifth 0 or 1")
        self.position = rest
        return None

    def _gathering(self, what: str) -> list[float]:
        """The list that straight pieces or curves of one degree go on to."""
        if what != self.drawing:
            self.finish_piece()
            self.drawing = what
        self._outline()
        return self.run_of

    def _outline(self) -> Outline:
        if self.ended:
            self.outlines.append(Outline(self.start))
            self.ended = False
        return self.outlines[-1]

    def _fault(self, what: str) -> str:
        at = _after_blanks(self.data, self.position)
        rest = " ".join(self.data[at : at + 20].split())
        if _NOT_FINITE.match(rest):
            raise bad_number(rest)
        return f'{what}, at character {at + 1} ("{rest}")' if rest else f"{what}, at its end"


def _values(text: str) -> list[float]:
    texts = _NUMBER.findall(text)
    values = list(map(float, texts))
    if values and not (max(values) <= NUMBER_LIMIT and min(values) >= -NUMBER_LIMIT):
        worst = max(range(len(values)), key=lambda n: abs(values[n]))
        checked(np.inf, texts[worst])
    return values


def _after_blanks(data: str, position: int) -> int:
    found = _BLANK.match(data, position)
    return found.end() if found else position
