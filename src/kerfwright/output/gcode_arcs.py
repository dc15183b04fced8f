"""Burning moves round a circle, written as arcs (G2, G3) with their centre (I, J).

The centre format is that of NISTIR 6556, section 3.5.3: I and J count from the arc's start, and
both ends may lie up to 0.002 mm unequally far from the centre (given from memory of the report).
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from kerfwright.geometry.arc_fit import LEAST_STEPS, arcs_of
from kerfwright.geometry.curves import Arc
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.tolerances import CHORD_MM
from kerfwright.toolpath import MoveKind, Toolpath

ARC_MM = 1.25 * CHORD_MM
"""Furthest that an arc strays from the moves it replaces. They keep within the chord tolerance of
a curve, and those half a kerf outside a small hole within a little more."""

CENTRE_DECIMALS = 4
"""At least so many decimals of I and J, so that rounding keeps both ends on one circle."""

UNEQUAL_MM = 0.001
"""Furthest that an arc's ends may lie unequally far from its written centre."""

LARGEST_RADIUS_MM = 1000.0
"""Small controllers reckon with 24 binary digits: 0.0001 mm at a metre."""

SAME_TURN = 0.1
"""Share by which rounding may change an arc's turn; a tiny arc could become a whole circle."""

CORNER_COSINE = 0.5
"""Runs are divided where they turn by more than 60°, so that there and back is fitted alike."""

ROUND_KINDS = (MoveKind.LOOP, MoveKind.SCORE, MoveKind.CUT)


@dataclass(frozen=True, slots=True)
class ArcWords:
    """How one arc is written: its motion word and the centre from its start, in mm."""

    clockwise: bool
    i_mm: float
    j_mm: float


def centre_decimals(decimals: int) -> int:
    """Decimals of I and J beside coordinates with so many decimals."""
    return max(decimals, CENTRE_DECIMALS)


def with_arcs(toolpath: Toolpath, decimals: int) -> tuple[Toolpath, dict[int, ArcWords]]:
    """Return fewer moves for the same burns, and which of them are arcs.

    A run is divided at every point that it comes to twice, and each piece is fitted from the same
    end whichever way it is burned: passes over one line come out as one line.
    """
    points = toolpath.points
    keep = np.ones(len(toolpath), dtype=bool)
    at_last: dict[int, ArcWords] = {}
    for first, beyond in _runs(toolpath):
        for piece_first, piece_last in _pieces(points[first : beyond + 1]):
            a, b = first + piece_first, first + piece_last
            for low, high, arc in _arcs(points[a : b + 1]):
                words = _written(points[a + low], points[a + high], arc, decimals)
                if words is not None:
                    keep[a + low : a + high - 1] = False
                    at_last[a + high - 1] = words
    if not at_last:
        return toolpath, {}
    number = np.cumsum(keep) - 1
    arcs = {int(number[move]): words for move, words in at_last.items()}
    return Toolpath(toolpath.moves[keep], toolpath.start_mm), arcs


def _runs(toolpath: Toolpath) -> Iterator[tuple[int, int]]:
    """First move and the one beyond the last of runs that an arc may stand in."""
    moves = toolpath.moves
    round_burn = toolpath.burning & np.isin(moves["kind"], ROUND_KINDS)
    same = np.ones(max(len(moves) - 1, 0), dtype=bool)
    for name in moves.dtype.names or ():
        if name not in {"x_mm", "y_mm"}:
            same &= moves[name][:-1] == moves[name][1:]
    goes_on = np.append([False], round_burn[:-1] & round_burn[1:] & same)[: len(moves)]
    starts = np.flatnonzero(round_burn & ~goes_on)
    ends = np.flatnonzero(round_burn & ~np.append(goes_on[1:], [False])) + 1
    for first, beyond in zip(starts.tolist(), ends.tolist(), strict=True):
        if beyond - first >= LEAST_STEPS:
            yield first, beyond


def _pieces(points: FloatArray) -> Iterator[tuple[int, int]]:
    """First and last point of pieces without a sharp corner or a point that comes twice."""
    before, after = np.diff(points[:-1], axis=0), np.diff(points[1:], axis=0)
    lengths = np.hypot(*before.T) * np.hypot(*after.T)
    corner = (before * after).sum(axis=1) < CORNER_COSINE * lengths
    ends = {0, len(points) - 1, *(np.flatnonzero(corner) + 1).tolist()}
    keys = [tuple(point) for point in points.tolist()]
    twice: set[tuple[float, ...]] = set()
    seen: set[tuple[float, ...]] = set()
    for key in keys:
        if key in seen:
            twice.add(key)
            seen.clear()
        seen.add(key)
    ends |= {number for number, key in enumerate(keys) if key in twice}
    for first, last in pairwise(sorted(ends)):
        if last - first >= LEAST_STEPS:
            yield first, last


def _arcs(points: FloatArray) -> Iterator[tuple[int, int, Arc]]:
    """First point, last point and arc of what is round in a piece."""
    last = len(points) - 1
    backwards = tuple(points[0]) > tuple(points[-1])
    if tuple(points[0]) == tuple(points[-1]):
        backwards = tuple(points[1]) > tuple(points[-2])
    for low, high, arc in _near_arcs(points[::-1] if backwards else points):
        if backwards:
            yield last - high, last - low, arc.reversed()
        else:
            yield low, high, arc


def _near_arcs(points: FloatArray) -> Iterator[tuple[int, int, Arc]]:
    """As :func:`_arcs`, in the order of the points.

    Fitting keeps points and arc near one another, and the arc near chords between points on it;
    a long chord between points beside it may still be too far off, and divides the piece.
    """
    for span in arcs_of(points, ARC_MM):
        arc = span.curve
        if not isinstance(arc, Arc):
            continue
        far = _far_chord(points[span.first : span.last + 1], arc)
        if far is None:
            yield span.first, span.last, arc
            continue
        middle = span.first + far
        for first, last in ((span.first, middle), (middle + 1, span.last)):
            for low, high, part in _near_arcs(points[first : last + 1]):
                yield first + low, first + high, part


def _far_chord(points: FloatArray, arc: Arc) -> int | None:
    """Return a chord between neighbouring points from which the arc strays too far, if any."""
    starts = points[:-1] - arc.centre
    steps = np.diff(points, axis=0)
    square = np.maximum((steps**2).sum(axis=1), 1e-18)
    share = np.clip(-(starts * steps).sum(axis=1) / square, 0.0, 1.0)
    nearest = np.hypot(*(starts + share[:, None] * steps).T)
    off = np.abs(nearest - arc.radius_mm)
    worst = int(off.argmax())
    return worst if off[worst] > ARC_MM + 1e-9 else None


def _written(start: FloatArray, end: FloatArray, arc: Arc, decimals: int) -> ArcWords | None:
    """Words of an arc between rounded ends; ``None`` where rounding would make another of it."""
    if arc.radius_mm > LARGEST_RADIUS_MM:
        return None
    start, end = np.round(start, decimals), np.round(end, decimals)
    chord = end - start
    length = float(np.hypot(*chord))
    if length < 10.0**-decimals:
        return None
    # the centre that lies equally far from both rounded ends, beside their middle
    across = np.array([-chord[1], chord[0]]) / length
    middle = (start + end) / 2.0
    centre = middle + across * float((np.array(arc.centre) - middle) @ across)
    i_mm, j_mm = np.round(centre - start, centre_decimals(decimals)).tolist()
    to_start = np.array([-i_mm, -j_mm])
    to_end = chord + to_start
    unequal = abs(float(np.hypot(*to_start)) - float(np.hypot(*to_end)))
    clockwise = arc.sweep_rad < 0.0
    turn = math.atan2(to_start[0] * to_end[1] - to_start[1] * to_end[0], float(to_start @ to_end))
    turn = (-turn if clockwise else turn) % (2.0 * math.pi)
    if unequal > UNEQUAL_MM or abs(turn - abs(arc.sweep_rad)) > SAME_TURN * abs(arc.sweep_rad):
        return None
    return ArcWords(clockwise, i_mm, j_mm)
