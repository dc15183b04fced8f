"""Lines that run out and back on themselves: each stretch is kept once, small spikes not at all."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.curves import Span
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.lines import Lines
from kerfwright.repair.lines_kernel import lines_that_turn_back, turns_back
from kerfwright.repair.tally import Dropped


@dataclass(frozen=True, eq=False, slots=True)
class Retraced:
    """Lines that no longer run back on themselves, and the lengths that were left out."""

    lines: Lines
    spikes: list[Dropped]
    folds: list[Dropped]


@dataclass(frozen=True, slots=True)
class _Way:
    """How far a line runs back on itself from a tip: points passed on either side of it."""

    tip: int
    left: int
    right: int
    base_is_left: bool
    """The furthest point that both sides come to is one of the left side, else of the right."""
    whole: bool
    """A closed line runs all the way back, or a side of an open one does up to its end."""


def without_retraces(lines: Lines, spike_mm: float) -> Retraced:
    """Keep once what lines run along twice, out and back.

    An open line that ends on itself loses that end; a closed line that folds up becomes an open
    one. A spike out of a line of at most ``spike_mm`` is left out; a longer one becomes a line of
    its own.
    """
    spikes: list[Dropped] = []
    folds: list[Dropped] = []
    new: dict[int, list[Path]] = {}
    turning = lines_that_turn_back(lines.points, lines.starts, lines.closed, SAME_MM)
    for line in np.flatnonzero(turning).tolist():
        path = lines.path(line)
        pieces = _unfolded(path, spike_mm, spikes, folds)
        if pieces[0] is not path:
            new[line] = pieces
    return Retraced(lines.exchanged(new), spikes, folds)


def _unfolded(
    path: Path, spike_mm: float, spikes: list[Dropped], folds: list[Dropped]
) -> list[Path]:
    done: list[Path] = []
    waiting = [path]
    while waiting:
        path = waiting.pop(0)
        pieces = _at_first_tip(path, spike_mm, spikes, folds)
        if pieces is None:
            done.append(path)
        else:
            waiting = [*pieces, *waiting]
    return done


def _at_first_tip(
    path: Path, spike_mm: float, spikes: list[Dropped], folds: list[Dropped]
) -> list[Path] | None:
    """Parts of a line without the first stretch that it runs along twice, None if it has none."""
    points = path.points
    tip = -1
    while (tip := turns_back(points, 0, len(points), path.closed, tip + 1, SAME_MM)) >= 0:
        way = _way_back(points, path.closed, tip)
        if way is None:
            continue
        x_mm, y_mm = points[tip].tolist()
        if way.whole:
            pieces = [_folded(path, way)]
            book = folds
        else:
            rest, spike = _parted(path, way)
            small = spike.length_mm <= spike_mm
            pieces = [rest] if small else [rest, spike]
            book = spikes if small else folds
        lost_mm = path.length_mm - sum(piece.length_mm for piece in pieces)
        book.append(Dropped(lost_mm, x_mm, y_mm))
        return pieces
    return None


def _way_back(points: FloatArray, closed: bool, tip: int) -> _Way | None:
    count = len(points)
    most_left, most_right = (count - 1, count - 1) if closed else (tip, count - 1 - tip)
    left = right = 0
    base_is_left = True
    runs_back = False
    while left < most_left and right < most_right and left + right < count - 1:
        at_left, at_right, to_left, to_right = points[
            [
                (tip - left) % count,
                (tip + right) % count,
                (tip - left - 1) % count,
                (tip + right + 1) % count,
            ]
        ].tolist()
        if closed and left + right == count - 2:
            # the one point left over is the other tip
            left += 1
            continue
        if math.dist(to_left, at_left) <= SAME_MM:
            left += 1
            continue
        if math.dist(to_right, at_right) <= SAME_MM:
            right += 1
            continue
        if math.dist(to_left, to_right) <= SAME_MM:
            left, right, base_is_left = left + 1, right + 1, True
        elif _lies_ahead(to_right, at_left, to_left, at_right):
            right, base_is_left = right + 1, False
        elif _lies_ahead(to_left, at_right, to_right, at_left):
            left, base_is_left = left + 1, True
        else:
            break
        runs_back = True
    if not runs_back and not (closed and count == 2):
        return None
    all_passed = left + right >= count - 1
    whole = all_passed if closed else left == most_left or right == most_right
    return _Way(tip, left, right, base_is_left, whole)


def _lies_ahead(point: list[float], start: list[float], stop: list[float], of: list[float]) -> bool:
    """Whether a point lies on a straight piece, and further along it than ``of``."""
    dx, dy = stop[0] - start[0], stop[1] - start[1]
    long = math.hypot(dx, dy)
    if long <= SAME_MM:
        return False
    along = ((point[0] - start[0]) * dx + (point[1] - start[1]) * dy) / long
    before = ((of[0] - start[0]) * dx + (of[1] - start[1]) * dy) / long
    aside = abs((point[0] - start[0]) * dy - (point[1] - start[1]) * dx) / long
    return aside <= SAME_MM and max(before, 0.0) < along <= long


def _folded(path: Path, way: _Way) -> Path:
    """One of the two sides of a line that folds up, the one with more points."""
    if path.closed:
        path = path.entered_at(way.tip)
        ring = Path(path.line, spans=path.spans)
        other_tip = len(path.points) - way.left
        if way.left >= way.right:
            return _part(ring, other_tip, len(path.points))
        met = math.dist(ring.points[way.right], ring.points[other_tip]) <= SAME_MM
        return _part(ring, 0, way.right if met else other_tip)
    last = len(path.points) - 1
    if way.right == last - way.tip:
        return _part(path, 0, way.tip)
    return _part(path, way.tip, last)


def _parted(path: Path, way: _Way) -> tuple[Path, Path]:
    """The line without what it runs along twice, and that as a line from the base to the tip."""
    count = len(path.points)
    if path.closed:
        path = path.entered_at((way.tip + way.right + 1) % count)
        tip = count - 1 - way.right
    else:
        tip = way.tip
    low, high = tip - way.left, tip + way.right
    base = low if way.base_is_left else high
    spike = _part(path, low, tip) if way.base_is_left else _part(path, tip, high)
    before = _part(path, 0, low if way.base_is_left else low - 1)
    after = _part(path, high + 1, count - 1) if high + 1 < count else None
    points = [before.points]
    if not way.base_is_left:
        points.append(path.points[base : base + 1])
    spans = list(before.spans)
    if after is not None:
        shift = sum(map(len, points))
        spans += [span.moved(shift) for span in after.spans]
        points.append(after.points)
    return Path(np.concatenate(points), path.closed, tuple(spans)), spike


def _part(path: Path, low: int, high: int) -> Path:
    """Points ``low`` to ``high`` of a path as an open line, with their curves."""
    parts = [span.between(low, high) for span in path.spans]
    spans: list[Span] = [span.moved(-low) for span in parts if span is not None]
    return Path(path.points[low : high + 1].copy(), spans=tuple(spans))
