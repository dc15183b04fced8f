"""Reads path data (SVG 1.1 section 8.3) into straight, Bézier and elliptical pieces.

A fault in the data ends the path there: everything before it is kept, as SVG 1.1 appendix F.2
asks, and the fault is told.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

import numpy as np

from kerfwright.drawing.svg_values import COMMA, NUMBER, NUMBER_LIMIT, SPACE, bad_number, checked
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
_LIST = re.compile(rf"{NUMBER}(?:{COMMA}?{NUMBER})*", re.ASCII)
_ARC = re.compile(
    rf"({NUMBER}){COMMA}?({NUMBER}){COMMA}?({NUMBER}){COMMA}?([01]){COMMA}?([01]){COMMA}?"
    rf"({NUMBER}){COMMA}?({NUMBER})",
    re.ASCII,
)
_COMMA = re.compile(COMMA)
_NOT_FINITE = re.compile(r"[+-]?(nan|inf)", re.IGNORECASE)


def parse_path(data: str) -> tuple[list[Outline], str | None]:
    """Return the subpaths of path data, and what is wrong with it where something is.

    Raises :class:`BadValueError` for numbers that are not finite or far beyond any drawing.
    """
    reading = _Reading(data)
    fault = reading.run()
    return reading.outlines, fault


class _Reading:
    """Where the pen is while path data is read."""

    def __init__(self, data: str) -> None:
        self.data = data
        self.position = 0
        self.outlines: list[Outline] = []
        self.pen = np.zeros(2)
        self.start = np.zeros(2)
        self.control = np.zeros(2)
        """Last control point; reflected only by a command of the same degree."""
        self.last = ""
        self.ended = True

    def run(self) -> str | None:
        data = self.data
        self.position = _after_blanks(data, 0)
        if data[self.position :].strip() in {"", "none"}:
            return None
        if data[self.position] not in "Mm":
            return self._fault("path data must begin with M")
        while self.position < len(data):
            command = data[self.position]
            if command not in "MmLlHhVvCcSsQqTtAaZz":
                return self._fault("a command was expected")
            self.position = _after_blanks(data, self.position + 1)
            fault = self._command(command)
            if fault is not None:
                return fault
            self.position = _after_blanks(data, self.position)
        return None

    def _command(self, command: str) -> str | None:
        kind, relative = command.upper(), command.islower()
        if kind == "Z":
            self.outlines[-1].closed = True
            self.pen, self.ended, self.last = self.start, True, "Z"
            return None
        if kind == "A":
            return self._arcs(relative)
        values = self._numbers()
        count = _VALUES[kind]
        whole = len(values) - len(values) % count
        if whole:
            self._draw(kind, relative, values[:whole])
        if whole == 0 or whole < len(values):
            return self._fault(f"{command} needs {count} numbers each time")
        return None

    def _numbers(self) -> FloatArray:
        found = _LIST.match(self.data, self.position)
        if found is None:
            return np.empty(0)
        self.position = found.end()
        texts = _NUMBER.findall(found[0])
        values = np.array([float(text) for text in texts])
        if not np.all(np.abs(values) <= NUMBER_LIMIT):
            checked(np.inf, texts[int(np.argmax(np.abs(values)))])
        return values

    def _draw(self, kind: str, relative: bool, values: FloatArray) -> None:
        if kind == "M":
            self.pen = self.start = values[:2] + self.pen * relative
            self.outlines.append(Outline(_pair(self.start)))
            self.ended = False
            values = values[2:]
            self.last = kind
            if not len(values):
                return
            kind = "L"
        if kind in "HV":
            values = self._along_axis(kind, relative, values)
            kind, relative = "L", False
        if kind == "L":
            points = values.reshape(-1, 2)
            points = self.pen + np.cumsum(points, axis=0) if relative else points
            self._add(Lines(points))
            self.pen = points[-1]
        else:
            self._curves(kind, relative, values)
        self.last = kind

    def _along_axis(self, kind: str, relative: bool, values: FloatArray) -> FloatArray:
        axis = 0 if kind == "H" else 1
        points = np.tile(self.pen, (len(values), 1))
        points[:, axis] = self.pen[axis] + np.cumsum(values) if relative else values
        return points.ravel()

    def _curves(self, kind: str, relative: bool, values: FloatArray) -> None:
        given = values.reshape(-1, _VALUES[kind] // 2, 2)
        ends = given[:, -1]
        if relative:
            ends = self.pen + np.cumsum(ends, axis=0)
        starts = np.vstack([self.pen, ends[:-1]])
        if relative:
            given = given + starts[:, None]
        columns = [starts, *(given[:, i] for i in range(given.shape[1] - 1)), ends]
        if kind in "ST":
            columns.insert(1, self._reflected(kind, starts, given))
        control = np.stack(columns, axis=1)
        self._add(Beziers(control))
        self.pen, self.control = control[-1, -1], control[-1, -2]

    def _reflected(self, kind: str, starts: FloatArray, given: FloatArray) -> FloatArray:
        family = "CS" if kind == "S" else "QT"
        before = self.control if self.last and self.last in family else self.pen
        if kind == "S":
            return np.asarray(2.0 * starts - np.vstack([before, given[:-1, 0]]))
        out = np.empty_like(starts)
        for i, start in enumerate(starts):
            before = out[i] = 2.0 * start - before
        return out

    def _arcs(self, relative: bool) -> str | None:
        drawn = 0
        while True:
            gap = _COMMA.match(self.data, self.position) if drawn else None
            at = gap.end() if gap else self.position
            found = _ARC.match(self.data, at)
            if found is None:
                break
            self.position = found.end()
            rx, ry, turn, x, y = (checked(float(found[i]), found[i]) for i in (1, 2, 3, 6, 7))
            end = np.array([x, y]) + self.pen * relative
            large, sweep = found[4] == "1", found[5] == "1"
            self._add(Arc(_pair(self.pen), abs(rx), abs(ry), turn, large, sweep, _pair(end)))
            self.pen = end
            drawn += 1
        self.last = "A"
        rest = _after_blanks(self.data, self.position)
        if drawn == 0 or _NUMBER.match(self.data, rest):
            return self._fault("A needs seven numbers each time, the fourth and fifth 0 or 1")
        return None

    def _add(self, piece: Piece) -> None:
        if self.ended:
            self.outlines.append(Outline(_pair(self.start)))
            self.ended = False
        self.outlines[-1].pieces.append(piece)

    def _fault(self, what: str) -> str:
        at = _after_blanks(self.data, self.position)
        rest = " ".join(self.data[at : at + 20].split())
        if _NOT_FINITE.match(rest):
            raise bad_number(rest)
        return f'{what}, at character {at + 1} ("{rest}")' if rest else f"{what}, at its end"


def _after_blanks(data: str, position: int) -> int:
    found = _BLANK.match(data, position)
    return found.end() if found else position


def _pair(point: FloatArray) -> tuple[float, float]:
    return float(point[0]), float(point[1])
