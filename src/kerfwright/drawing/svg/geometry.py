"""Outlines of SVG's shapes, and outlines flattened to paths in millimetres."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
import numpy.typing as npt
from lxml import etree

from kerfwright.drawing.svg.path_data import Arc, Beziers, Lines, Outline, parse_path
from kerfwright.drawing.svg.values import (
    BadValueError,
    Measures,
    length,
    numbers,
)
from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.geometry.curves import Bezier, Curve, Span, ellipse_arc
from kerfwright.geometry.flatten import flattened_beziers
from kerfwright.geometry.paths import FloatArray, Path
from kerfwright.geometry.tolerances import COORDINATE_LIMIT_MM

SAME_END = 1e-9
"""A subpath whose ends differ by less than this share of its coordinates is closed."""

Outlines = tuple[list[Outline], str | None]
"""Subpaths in user units, and what is wrong with the element where something is."""


def outlines_of(kind: str, element: etree._Element, measures: Measures) -> Outlines:
    """Return the outlines of one of SVG's shape elements (SVG 1.1 chapters 8 and 9)."""
    return _OUTLINES[kind](element, measures)


def flattened(
    outlines: Sequence[Outline], to_mm: Affine, chord_mm: float
) -> tuple[tuple[Path, ...], int]:
    """Move outlines by ``to_mm`` and flatten them within ``chord_mm``.

    Returns the paths and the number of outlines left out because they have no length. A bare
    move of the pen, as some programs write behind every path, is no outline.
    Raises :class:`BadValueError` for coordinates beyond :data:`COORDINATE_LIMIT_MM`.
    """
    drawn = [outline for outline in outlines if outline.pieces or outline.closed]
    if not drawn:
        return (), 0
    moved = _Moved(drawn, to_mm, chord_mm)
    lines = [_line_of(outline, moved, to_mm, chord_mm) for outline in drawn]
    paths = _paths(drawn, lines)
    return tuple(paths), len(drawn) - len(paths)


class _Moved:
    """Everything of some outlines moved to mm and all their Béziers flattened, in one go each.

    What belongs to one piece is taken in the order of the pieces.
    """

    def __init__(self, outlines: Sequence[Outline], to_mm: Affine, chord_mm: float) -> None:
        pieces = [piece for outline in outlines for piece in outline.pieces]
        straight = [piece.points for piece in pieces if isinstance(piece, Lines)]
        starts = np.array([outline.start for outline in outlines])
        self.starts = _within_limit(to_mm.apply(starts))
        self.straight = _within_limit(to_mm.apply(np.concatenate([np.empty((0, 2)), *straight])))
        self.taken = 0
        self.curves = {
            corners: _Flattened(
                [p.control for p in pieces if isinstance(p, Beziers) and p.corners == corners],
                to_mm,
                chord_mm,
            )
            for corners in (3, 4)
        }
        self.started = 0

    def start(self) -> FloatArray:
        """First point of the next outline, shape (1, 2)."""
        self.started += 1
        return self.starts[self.started - 1 : self.started]

    def lines(self, piece: Lines) -> FloatArray:
        """Points of the next straight pieces."""
        self.taken += len(piece.points)
        return self.straight[self.taken - len(piece.points) : self.taken]


class _Flattened:
    """Béziers of one degree, flattened together and handed out piece by piece."""

    def __init__(self, controls: Sequence[FloatArray], to_mm: Affine, chord_mm: float) -> None:
        if not controls:
            return
        control = np.concatenate(controls)
        moved = _within_limit(to_mm.apply(control.reshape(-1, 2))).reshape(control.shape)
        self.points, self.steps, self.control, curve = flattened_beziers(moved, chord_mm)
        self.first = np.searchsorted(curve, np.arange(len(control) + 1))
        self.ends = np.concatenate([[0], np.cumsum(self.steps)])
        self.taken = 0

    def go(self, line: _Line, count: int) -> None:
        """Add the next ``count`` curves behind a line."""
        low, high = self.first[self.taken], self.first[self.taken + count]
        self.taken += count
        begin = line.count - 1 - self.ends[low]
        ends = (begin + self.ends[low + 1 : high + 1]).tolist()
        line.spans += [
            Span(last - steps, last, Bezier(control))
            for last, steps, control in zip(
                ends, self.steps[low:high].tolist(), self.control[low:high], strict=True
            )
            if steps > 1
        ]
        line.go(self.points[self.ends[low] : self.ends[high]])


class _Line:
    """A path on its way: points so far, and the exact curves among them."""

    def __init__(self, start: FloatArray) -> None:
        self.pieces = [start]
        self.spans: list[Span] = []
        self.count = 1

    def go(self, points: FloatArray) -> None:
        """Add points behind the last one."""
        self.pieces.append(points)
        self.count += len(points)

    def curve(self, curve: Curve, points: FloatArray) -> None:
        """Add the points of a curve, without its first."""
        self.spans.append(Span(self.count - 1, self.count - 1 + len(points), curve))
        self.go(points)


def _line_of(outline: Outline, moved: _Moved, to_mm: Affine, chord_mm: float) -> _Line:
    line = _Line(moved.start())
    for piece in outline.pieces:
        match piece:
            case Lines():
                line.go(moved.lines(piece))
            case Beziers():
                moved.curves[piece.corners].go(line, len(piece.control))
            case Arc():
                _add_arc(line, piece, to_mm, chord_mm)
    return line


def _paths(outlines: Sequence[Outline], lines: Sequence[_Line]) -> list[Path]:
    """Paths of lines without the points that repeat the one before, and of those with a length."""
    points = np.concatenate([piece for line in lines for piece in line.pieces])
    ends = np.cumsum([line.count for line in lines])
    starts = ends - [line.count for line in lines]
    moving = np.ones(len(points), dtype=bool)
    moving[1:] = (points[1:] != points[:-1]).any(axis=1)
    moving[starts] = True
    stays = np.add.reduceat(~moving, starts)
    reach = SAME_END * np.maximum.reduceat(np.abs(points).max(axis=1), starts)
    meets = np.abs(points[ends - 1] - points[starts]).max(axis=1) <= reach
    paths: list[Path] = []
    for n, (outline, line) in enumerate(zip(outlines, lines, strict=True)):
        own = points[starts[n] : ends[n]]
        spans = line.spans
        if stays[n]:
            kept = moving[starts[n] : ends[n]]
            spans, own = _renumbered(spans, kept[1:]), own[kept]
        home = bool(meets[n]) and len(own) > 1
        if home:
            own = own[:-1]
        if len(own) < 2:
            continue
        # a closed line of two points is one straight line there and back
        closed = (home or outline.closed) and len(own) > 2
        paths.append(Path(own, closed, tuple(spans) if closed or not home else ()))
    return paths


def _renumbered(spans: Sequence[Span], moving: npt.NDArray[np.bool_]) -> list[Span]:
    """Spans once points that repeat the one before are gone; one that loses a point is no more."""
    new = np.concatenate([[0], np.cumsum(moving)]).tolist()
    return [
        Span(new[span.first], new[span.last], span.curve)
        for span in spans
        if new[span.last] - new[span.first] == span.steps
    ]


def _add_arc(line: _Line, arc: Arc, to_mm: Affine, chord_mm: float) -> None:
    end = _within_limit(to_mm.apply(np.array([arc.end])))
    full = arc.turn_deg == _FULL_TURN
    if arc.start == arc.end and not full:
        return
    reach = max(abs(arc.start[0] - arc.end[0]), abs(arc.start[1] - arc.end[1]))
    flat = min(arc.rx, arc.ry) <= _FLAT * max(arc.rx, arc.ry)
    if flat or (not full and reach < _TINY * max(arc.rx, arc.ry)):
        line.go(end)
        return
    if not full and max(arc.rx, arc.ry) < _FLAT * reach:
        # only their ratio counts once they are too small to reach (SVG 1.1 appendix F.6.6)
        larger = reach / max(arc.rx, arc.ry)
        arc = replace(arc, rx=arc.rx * larger, ry=arc.ry * larger)
    frame, start_rad, sweep_rad = _centred(arc)
    frame = to_mm @ frame
    if not frame.largest_scale < _STRAIGHT_MM:
        line.go(end)
        return
    # a few points first: an arc that runs far out would take too many
    few = start_rad + np.linspace(0.0, sweep_rad, 33)
    _within_limit(frame.apply(np.column_stack([np.cos(few), np.sin(few)])))
    curve = ellipse_arc(frame, start_rad, sweep_rad)
    points = curve.points(chord_mm)[1:]
    points[-1] = end[0]
    line.curve(curve, points)


_TINY = 1e-14
"""Ends closer than this share of the radius leave no direction to find the centre by."""

_FLAT = 1e-9
"""An ellipse so much flatter than long is a straight line."""

_STRAIGHT_MM = 1e11
"""An arc of this radius bends less than 0.02 mm within the coordinate limit."""

_FULL_TURN = math.inf
"""``turn_deg`` of the one arc that a circle or ellipse is; never read from a file."""


def _centred(arc: Arc) -> tuple[Affine, float, float]:
    """Frame of the unit circle, start angle and sweep of an arc (SVG 1.1 appendix F.6.5, F.6.6)."""
    (x1, y1), (x2, y2) = arc.start, arc.end
    if arc.turn_deg == _FULL_TURN:
        return translation(x1 - arc.rx, y1) @ scaling(arc.rx, arc.ry), 0.0, 2.0 * math.pi
    turn = rotation(math.fmod(arc.turn_deg, 360.0))
    half_x, half_y = (x1 - x2) / 2.0, (y1 - y2) / 2.0
    # the turned half chord in units of the radii: (x1'/rx, y1'/ry) of F.6.5.1
    u = (turn.a * half_x + turn.b * half_y) / arc.rx
    v = (turn.c * half_x + turn.d * half_y) / arc.ry
    reach = math.hypot(u, v)
    grow = max(reach, 1.0)
    u, v = u / grow, v / grow
    square = u * u + v * v
    share = math.sqrt(max(1.0 - square, 0.0) / square) if reach < 1.0 else 0.0
    share = -share if arc.large == arc.sweep else share
    centre_u, centre_v = share * v, -share * u
    frame = turn @ scaling(arc.rx * grow, arc.ry * grow)
    centre = frame.apply(np.array([[centre_u, centre_v]]))[0]
    start = math.atan2(v - centre_v, u - centre_u)
    sweep = (math.atan2(-v - centre_v, -u - centre_u) - start) % (2.0 * math.pi)
    if not arc.sweep:
        sweep -= 2.0 * math.pi
    middle = translation(float(centre[0]) + (x1 + x2) / 2.0, float(centre[1]) + (y1 + y2) / 2.0)
    return middle @ frame, start, sweep


def _within_limit(points: FloatArray) -> FloatArray:
    worst = float(np.abs(points).max(initial=0.0))
    if not worst <= COORDINATE_LIMIT_MM:
        raise BadValueError(
            "drawing/coordinates",
            f"a point of it lies {worst / 1000.0:.3g} m from the page's corner.",
            "Find the stray or damaged element and delete it.",
        )
    return points


def _path_outlines(element: etree._Element, _measures: Measures) -> Outlines:
    return parse_path(element.get("d", ""))


def _rect_outlines(element: etree._Element, measures: Measures) -> Outlines:
    x, y, width, height = _lengths(element, measures, "x", "y", "width", "height")
    if width < 0.0 or height < 0.0:
        return [], "its width or height is negative"
    if width == 0.0 or height == 0.0:
        return [Outline((x, y))], None
    rx, ry = (_radius(element, measures, name) for name in ("rx", "ry"))
    rx, ry = rx if rx is not None else ry, ry if ry is not None else rx
    rx, ry = min(rx or 0.0, width / 2.0), min(ry or 0.0, height / 2.0)
    right, bottom = x + width, y + height
    if rx == 0.0 or ry == 0.0:
        corners = np.array([[right, y], [right, bottom], [x, bottom]])
        return [Outline((x, y), [Lines(corners)], closed=True)], None
    sides = [
        ((x + rx, y), (right - rx, y), (right, y + ry)),
        ((right, y + ry), (right, bottom - ry), (right - rx, bottom)),
        ((right - rx, bottom), (x + rx, bottom), (x, bottom - ry)),
        ((x, bottom - ry), (x, y + ry), (x + rx, y)),
    ]
    outline = Outline(sides[0][0], closed=True)
    for _, corner, end in sides:
        outline.pieces.append(Lines(np.array([corner])))
        outline.pieces.append(Arc(corner, rx, ry, 0.0, large=False, sweep=True, end=end))
    return [outline], None


def _circle_outlines(element: etree._Element, measures: Measures) -> Outlines:
    x, y, radius = _lengths(element, measures, "cx", "cy", "r")
    return _ellipse(x, y, radius, radius)


def _ellipse_outlines(element: etree._Element, measures: Measures) -> Outlines:
    x, y = _lengths(element, measures, "cx", "cy")
    rx, ry = (_radius(element, measures, name) for name in ("rx", "ry"))
    rx, ry = rx if rx is not None else ry, ry if ry is not None else rx
    return _ellipse(x, y, rx or 0.0, ry or 0.0)


def _ellipse(x: float, y: float, rx: float, ry: float) -> Outlines:
    if rx < 0.0 or ry < 0.0:
        return [], "its radius is negative"
    start = (x + rx, y)
    if rx == 0.0 or ry == 0.0:
        return [Outline(start)], None
    full = Arc(start, rx, ry, _FULL_TURN, large=True, sweep=True, end=start)
    return [Outline(start, [full], closed=True)], None


def _line_outlines(element: etree._Element, measures: Measures) -> Outlines:
    x1, y1, x2, y2 = _lengths(element, measures, "x1", "y1", "x2", "y2")
    return [Outline((x1, y1), [Lines(np.array([[x2, y2]]))])], None


def _polyline_outlines(element: etree._Element, _measures: Measures) -> Outlines:
    return _through_points(element, closed=False)


def _polygon_outlines(element: etree._Element, _measures: Measures) -> Outlines:
    return _through_points(element, closed=True)


def _through_points(element: etree._Element, *, closed: bool) -> Outlines:
    values = numbers(element.get("points", ""))
    odd = "its points have an x without a y" if len(values) % 2 else None
    points = np.array(values[: len(values) - len(values) % 2]).reshape(-1, 2)
    if not len(points):
        return [], odd
    start = (float(points[0, 0]), float(points[0, 1]))
    return [Outline(start, [Lines(points[1:])], closed=closed)], odd


def _lengths(element: etree._Element, measures: Measures, *names: str) -> list[float]:
    return [_length(element, measures, name) or 0.0 for name in names]


def _radius(element: etree._Element, measures: Measures, name: str) -> float | None:
    value = _length(element, measures, name)
    return value if value is None or value >= 0.0 else None


def _length(element: etree._Element, measures: Measures, name: str) -> float | None:
    text = element.get(name)
    if text is None or text.strip() in {"", "auto"}:
        return None
    if name in {"x", "cx", "rx", "x1", "x2", "width"}:
        percent_of = measures.width
    elif name == "r":
        percent_of = measures.diagonal
    else:
        percent_of = measures.height
    return length(text, measures, percent_of)


_OUTLINES: dict[str, Callable[[etree._Element, Measures], Outlines]] = {
    "path": _path_outlines,
    "rect": _rect_outlines,
    "circle": _circle_outlines,
    "ellipse": _ellipse_outlines,
    "line": _line_outlines,
    "polyline": _polyline_outlines,
    "polygon": _polygon_outlines,
}

SHAPES = frozenset(_OUTLINES)
"""Names of the elements that have an outline."""
