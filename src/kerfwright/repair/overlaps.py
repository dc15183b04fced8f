"""Keeps every stretch of some paths once: repeats and partial overlaps of lines and arcs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from itertools import groupby

import numpy as np

from kerfwright.geometry.curves import Arc, Curve, Span
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import SAME_MM
from kerfwright.repair.arc_stretches import TURN, kept_arcs
from kerfwright.repair.cell_kernel import NO_END, TINY_MM
from kerfwright.repair.stretches import OVERLAP_MM, SAME_RAD, Stretches, kept_stretches


@dataclass(frozen=True, slots=True)
class Overlap:
    """A stretch of a path that was left out: the path's number, its length, and a point of it."""

    path: int
    length_mm: float
    x_mm: float
    y_mm: float


@dataclass(frozen=True, eq=False, slots=True)
class Merged:
    """What remains of paths of which every stretch is kept once.

    ``length_in_mm`` is ``length_out_mm`` + ``dropped_mm``, path by path: the length of a dropped
    stretch includes the little by which cut ends were moved onto the ends that they meet.
    """

    parts: tuple[tuple[Path, ...], ...]
    """Of every path what remains, in its order and direction; the path itself if all does."""
    dropped: tuple[Overlap, ...]
    length_in_mm: float
    length_out_mm: float

    @property
    def dropped_mm(self) -> float:
        """Length of all stretches that were left out."""
        return math.fsum(overlap.length_mm for overlap in self.dropped)


def merged_overlaps(paths: Sequence[Path], tol_mm: float = OVERLAP_MM) -> Merged:
    """Leave out what of open paths lies on closed ones or, a second time, on open ones.

    Closed paths stay as they are, also where two of them share an edge, and so do open ones that
    go round an area and end where they begin: they are outlines yet to be closed. Arcs are
    compared as arcs first, then all straight pieces; see :mod:`~kerfwright.repair.stretches` for
    what lies on one another. Where a path is cut at an end of another, it then ends in the very
    same point, so that the two can be joined.

    Raises:
        ValueError: the tolerance is negative or not a number.
    """
    before = _lengths_mm(paths)
    rest, losses = _without_repeated_arcs(paths, tol_mm)
    flat = [(number, path) for number, parts in enumerate(rest) for path in parts]
    cut, lost = _without_repeated_lines([path for _, path in flat], tol_mm)
    for one in lost:
        one.path = flat[one.path][0]
    losses = sorted([*losses, *lost], key=lambda one: one.path)
    changed = {one.path for one in losses}
    parts: list[list[Path]] = [[] for _ in paths]
    for (number, _), pieces in zip(flat, cut, strict=True):
        parts[number] += pieces if number in changed else [paths[number]]
    after = _lengths_mm([path for pieces in parts for path in pieces])
    missing_mm = dict(zip(range(len(paths)), before, strict=True))
    owners = [number for number, pieces in enumerate(parts) for _ in pieces]
    for number, length_mm in zip(owners, after, strict=True):
        missing_mm[number] -= length_mm
    _balance(losses, missing_mm)
    return Merged(
        parts=tuple(tuple(pieces) for pieces in parts),
        dropped=tuple(Overlap(one.path, one.length_mm, one.x_mm, one.y_mm) for one in losses),
        length_in_mm=math.fsum(before),
        length_out_mm=math.fsum(after),
    )


@dataclass(slots=True)
class _Loss:
    """An :class:`Overlap` in the making."""

    path: int
    length_mm: float
    x_mm: float
    y_mm: float


def _balance(losses: Sequence[_Loss], missing_mm: dict[int, float]) -> None:
    """Give the longest stretch of each path what of its missing length no other accounts for."""
    for number, group in groupby(losses, key=lambda one: one.path):
        of_path = list(group)
        longest = max(of_path, key=lambda one: one.length_mm)
        longest.length_mm += missing_mm[number] - math.fsum(one.length_mm for one in of_path)


def _stays_whole(path: Path, tol_mm: float) -> bool:
    if path.closed or len(path.points) < 4:
        return path.closed
    if math.dist(path.points[0], path.points[-1]) > SAME_MM:
        return False
    ring = Path(path.points[:-1], closed=True)
    return abs(ring.signed_area_mm2) > tol_mm * ring.length_mm


def _lengths_mm(paths: Sequence[Path]) -> list[float]:
    if not paths:
        return []
    lines = [path.line for path in paths]
    counts = np.array([len(line) for line in lines])
    steps = np.diff(np.vstack(lines), axis=0)
    length = np.append(np.hypot(steps[:, 0], steps[:, 1]), 0.0)
    length[np.cumsum(counts)[counts > 0] - 1] = 0.0
    total = np.zeros(len(paths))
    np.add.at(total, np.repeat(np.arange(len(paths)), counts), length)
    return [float(value) for value in total]


@dataclass(slots=True)
class _Losses:
    """Notes the stretches of a path that are left out, each from where it begins to its end."""

    path: int
    told: list[_Loss] = field(default_factory=list)
    goes_on: bool = False

    def add(self, length_mm: float, point: Sequence[float]) -> None:
        """Go on with a stretch, or begin one at a point."""
        if not self.goes_on:
            self.told.append(_Loss(self.path, 0.0, point[0], point[1]))
        self.told[-1].length_mm += length_mm
        self.goes_on = True

    def end(self) -> None:
        """Here something is kept."""
        self.goes_on = False


@dataclass(slots=True)
class _Pen:
    """Draws the parts that a path is cut into."""

    parts: list[Path] = field(default_factory=list)
    points: list[FloatArray] = field(default_factory=list)
    spans: list[Span] = field(default_factory=list)
    count: int = 0

    def draw(self, points: FloatArray, spans: Sequence[Span] = ()) -> None:
        """Go on through points, the first of which is where the pen is, if it is down."""
        if self.count:
            points = points[1:]
            spans = [span.moved(self.count - 1) for span in spans]
        self.points.append(points)
        self.spans += spans
        self.count += len(points)

    def draw_curve(self, points: FloatArray, curve: Curve) -> None:
        """Go on along a curve at equal steps."""
        self.draw(points, (Span(0, len(points) - 1, curve),))

    def lift(self) -> None:
        """End a part; one without length is none."""
        if self.points:
            points = np.concatenate(self.points)
            if (points != points[0]).any():
                self.parts.append(Path(points, spans=tuple(self.spans)))
        self.points, self.spans, self.count = [], [], 0


def _without_repeated_arcs(
    paths: Sequence[Path], tol_mm: float
) -> tuple[list[list[Path]], list[_Loss]]:
    places = [
        (number, k)
        for number, path in enumerate(paths)
        for k, span in enumerate(path.spans)
        if isinstance(span.curve, Arc) and abs(span.curve.sweep_rad) < TURN + SAME_RAD
    ]
    rest = [[path] for path in paths]
    if not places:
        return rest, []
    spans = [paths[number].spans[k] for number, k in places]
    arcs = np.array(
        [
            (*span.curve.centre, span.curve.radius_mm, span.curve.start_rad, span.curve.sweep_rad)
            for span in spans
            if isinstance(span.curve, Arc)
        ]
    )
    whole = np.array([_stays_whole(paths[number], tol_mm) for number, _ in places])
    kept = kept_arcs(arcs, tol_mm, priority=whole.astype(np.int64), whole=whole)
    shares = kept.span_rad / np.minimum(np.abs(arcs[kept.arc, 4]), TURN)[:, None]
    first = np.searchsorted(kept.arc, np.arange(len(places) + 1))
    by_path: dict[int, dict[int, list[_Share]]] = {}
    for a, (number, k) in enumerate(places):
        found = [
            _Share(low, high, *(_end_of_arc(paths, places, end) for end in ends))
            for (low, high), ends in zip(
                shares[first[a] : first[a + 1]].tolist(),
                kept.bounds[first[a] : first[a + 1]].tolist(),
                strict=True,
            )
        ]
        tiny = arcs[a, 2] * abs(arcs[a, 4]) <= TINY_MM
        if not tiny and [(share.low, share.high) for share in found] != [(0.0, 1.0)]:
            by_path.setdefault(number, {})[k] = found
    dropped: list[_Loss] = []
    for number, shares_of in by_path.items():
        losses = _Losses(number)
        rest[number] = _path_without_arcs(paths[number], shares_of, losses)
        dropped += losses.told
    return rest, dropped


@dataclass(frozen=True, eq=False, slots=True)
class _Share:
    """What is kept of an arc, as shares of its sweep, and points of others where it is cut."""

    low: float
    high: float
    start: FloatArray | None
    end: FloatArray | None


def _end_of_arc(
    paths: Sequence[Path], places: Sequence[tuple[int, int]], end: int
) -> FloatArray | None:
    if end == NO_END:
        return None
    number, k = places[end >> 1]
    path, span = paths[number], paths[number].spans[k]
    return np.asarray(path.line[span.last if end & 1 else span.first])


def _path_without_arcs(
    path: Path, shares_of: dict[int, list[_Share]], losses: _Losses
) -> list[Path]:
    """Parts of an open path of whose arcs only some shares are kept."""
    pen = _Pen()
    line, done = path.line, 0
    for k, shares in sorted(shares_of.items()):
        span = path.spans[k]
        assert isinstance(span.curve, Arc)
        if span.first > done:
            losses.end()
            _draw_line(pen, path, done, span.first)
        passed = 0.0
        length_mm = float(np.hypot(*np.diff(line[span.first : span.last + 1], axis=0).T).sum())
        for share in [*shares, _Share(1.0, 1.0, None, None)]:
            if share.low > passed:
                pen.lift()
                losses.add((share.low - passed) * length_mm, span.curve.at(passed))
            if share.high > share.low:
                losses.end()
                pen.draw_curve(*_part_of_arc(line, span, share))
            passed = share.high
        done = span.last
    if done < len(line) - 1:
        losses.end()
        _draw_line(pen, path, done, len(line) - 1)
    losses.end()
    pen.lift()
    return pen.parts


def _draw_line(pen: _Pen, path: Path, first: int, last: int) -> None:
    """Draw a path's line from one of its points to another, curves included."""
    between = [span.between(first, last) for span in path.spans]
    spans = [span.moved(-first) for span in between if span is not None]
    pen.draw(path.line[first : last + 1], spans)


def _part_of_arc(line: FloatArray, span: Span, share: _Share) -> tuple[FloatArray, Arc]:
    """Points at equal steps of a share of an arc, about as many as it had, and the arc."""
    arc = span.curve
    assert isinstance(arc, Arc)
    steps = max(1, math.ceil((share.high - share.low) * span.steps - 1e-9))
    points = np.array(
        [arc.at(share.low + (share.high - share.low) * k / steps) for k in range(steps + 1)]
    )
    start = line[span.first] if share.low == 0.0 else share.start
    end = line[span.last] if share.high == 1.0 else share.end
    if start is not None:
        points[0] = start
    if end is not None:
        points[-1] = end
    return points, Arc(
        arc.centre,
        arc.radius_mm,
        arc.start_rad + share.low * arc.sweep_rad,
        (share.high - share.low) * arc.sweep_rad,
    )


def _without_repeated_lines(
    paths: Sequence[Path], tol_mm: float
) -> tuple[list[list[Path]], list[_Loss]]:
    rest = [[path] for path in paths]
    if not paths:
        return rest, []
    lines = [path.line for path in paths]
    counts = np.array([len(line) for line in lines])
    points = np.vstack(lines)
    within = np.ones(len(points), dtype=bool)
    within[np.cumsum(counts)[counts > 0] - 1] = False
    starts = np.flatnonzero(within)
    segments = np.hstack([points[starts], points[starts + 1]])
    owner = np.repeat(np.arange(len(paths)), counts)[starts]
    whole = np.array([_stays_whole(path, tol_mm) for path in paths], dtype=bool)[owner]
    kept = kept_stretches(segments, tol_mm, priority=whole.astype(np.int64), whole=whole)
    lengths = np.hypot(*(segments[:, 2:] - segments[:, :2]).T)
    uncut = (kept.span_mm[:, 0] == 0.0) & (kept.span_mm[:, 1] == lengths[kept.segment])
    is_cut = lengths > TINY_MM
    is_cut[kept.segment[uncut]] = False
    first = np.searchsorted(owner, np.arange(len(paths))).tolist()
    cut = np.flatnonzero(is_cut).tolist()
    drawn = _Drawn(segments, lengths, kept)
    dropped: list[_Loss] = []
    for number, those in groupby(cut, key=lambda row: int(owner[row])):
        losses = _Losses(number)
        rest[number] = _path_without_lines(paths[number], first[number], list(those), drawn, losses)
        dropped += losses.told
    return rest, dropped


class _Drawn:
    """Segments of all paths and what is kept of them."""

    def __init__(self, segments: FloatArray, length_mm: FloatArray, kept: Stretches) -> None:
        self.ends = segments.reshape(-1, 2).tolist()
        self.length_mm: list[float] = length_mm.tolist()
        self.first = np.searchsorted(kept.segment, np.arange(len(segments) + 1)).tolist()
        self.spans = kept.span_mm.tolist()
        self.bounds = kept.bounds.tolist()

    def stretches(self, row: int) -> list[tuple[float, float, FloatArray]]:
        """From and to along a segment and both end points of every stretch kept of it."""
        found = []
        for k in range(self.first[row], self.first[row + 1]):
            points = [
                self.ends[end] if end != NO_END else self.at(row, along)
                for along, end in zip(self.spans[k], self.bounds[k], strict=True)
            ]
            found.append((*self.spans[k], np.array(points)))
        return found

    def at(self, row: int, along_mm: float) -> list[float]:
        """Point of a segment; exactly its end at its length."""
        (ax, ay), (bx, by) = self.ends[2 * row : 2 * row + 2]
        share = along_mm / self.length_mm[row]
        return [bx, by] if share == 1.0 else [ax + share * (bx - ax), ay + share * (by - ay)]


def _path_without_lines(
    path: Path, first: int, cut: list[int], drawn: _Drawn, losses: _Losses
) -> list[Path]:
    """Parts of an open path of whose segments ``cut`` only some stretches are kept.

    ``first`` is the number of the path's first segment among all.
    """
    pen = _Pen()
    done, last = 0, len(path.points) - 1
    for row in cut:
        if row - first > done:
            losses.end()
            _draw_line(pen, path, done, row - first)
        passed = 0.0
        length_mm = drawn.length_mm[row]
        for low, high, points in [*drawn.stretches(row), (length_mm, length_mm, path.points[:0])]:
            if low > passed:
                pen.lift()
                losses.add(low - passed, drawn.at(row, passed))
            if high > low:
                losses.end()
                pen.draw(points)
            passed = high
        done = row - first + 1
    if done < last:
        losses.end()
        _draw_line(pen, path, done, last)
    losses.end()
    pen.lift()
    return pen.parts
