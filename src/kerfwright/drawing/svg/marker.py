"""Marks at the corners of lines: where they stand, how they are turned and sized.

SVG 1.1 section 11.6, SVG 2 section 13.7; directions by SVG 1.1 appendix F.5.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from lxml import etree

from kerfwright.drawing.svg.clip import Region
from kerfwright.drawing.svg.effects import Effects, Walk
from kerfwright.drawing.svg.geometry import flattened
from kerfwright.drawing.svg.paint import url_of
from kerfwright.drawing.svg.path_data import Arc, Beziers, Lines, Outline
from kerfwright.drawing.svg.place import Place, finite
from kerfwright.drawing.svg.values import (
    BadValueError,
    Measures,
    angle_deg,
    fitted,
    length,
    view_box,
)
from kerfwright.drawing.svg.xml import local_name
from kerfwright.geometry.affine import Affine, rotation, scaling, translation
from kerfwright.geometry.paths import FloatArray

MARKED = frozenset(("path", "line", "polyline", "polygon"))
"""Elements whose corners can have marks."""

_SHARES = {"left": "0%", "top": "0%", "center": "50%", "right": "100%", "bottom": "100%"}

_MOMENT = 1e-6
"""Share of an arc that is straight, for the direction at its end."""


@dataclass(frozen=True, slots=True)
class Corner:
    """A corner of a line in user units, with the direction to which a mark there turns."""

    x: float
    y: float
    direction_deg: float


@dataclass(frozen=True, slots=True)
class Mark:
    """How one ``marker`` is placed: its frame at a corner, its content in the frame, its size."""

    frame: Affine
    content: Affine
    width: float
    height: float
    measures: Measures


def corners_of(outlines: Sequence[Outline]) -> list[Corner]:
    """Every corner of an element in order; a closed subpath's first comes again at its end."""
    return [corner for outline in outlines for corner in _corners(outline)]


def mark_at(
    marker: etree._Element, corner: Corner, *, first: bool, stroke_width: float, measures: Measures
) -> Mark | None:
    """Place a ``marker`` at a corner; ``None`` if its size is nothing and it is not drawn."""
    box = view_box(marker.get("viewBox"))
    width = length(marker.get("markerWidth") or "3", measures, measures.width)
    height = length(marker.get("markerHeight") or "3", measures, measures.height)
    if width <= 0.0 or height <= 0.0:
        return None
    inner = measures.with_viewport(*((box.width, box.height) if box else (width, height)))
    fit = fitted(box, width, height, marker.get("preserveAspectRatio")) if box else Affine()
    ref_x, ref_y = (
        length(_SHARES.get(text, text), inner, whole)
        for text, whole in (
            ((marker.get("refX") or "0").strip(), inner.width),
            ((marker.get("refY") or "0").strip(), inner.height),
        )
    )
    at = fit.apply(np.array([[ref_x, ref_y]]))[0]
    by_stroke = marker.get("markerUnits", "strokeWidth").strip() != "userSpaceOnUse"
    scale = stroke_width if by_stroke else 1.0
    turn_deg = _turn_deg((marker.get("orient") or "0").strip(), corner, first=first)
    frame = (
        translation(corner.x, corner.y)
        @ rotation(turn_deg)
        @ scaling(scale, scale)
        @ translation(-float(at[0]), -float(at[1]))
    )
    return Mark(frame, fit, width, height, inner)


def _turn_deg(orient: str, corner: Corner, *, first: bool) -> float:
    if orient == "auto":
        return corner.direction_deg
    if orient == "auto-start-reverse":
        return corner.direction_deg + (180.0 if first else 0.0)
    try:
        return angle_deg(orient)
    except BadValueError:
        # an attribute in error counts as not given (SVG 2 section 3.1)
        return 0.0


def _corners(outline: Outline) -> list[Corner]:
    points, into, out = [outline.start], [], []
    for end, leaving, arriving in _steps(outline):
        points.append(end)
        out.append(leaving)
        into.append(arriving)
    closing = outline.closed and len(points) > 1
    if closing and points[-1] != points[0]:
        straight = _direction(points[-1], points[0])
        points.append(points[0])
        out.append(straight)
        into.append(straight)
    _fill_gaps(out, into)
    before: list[float | None] = [None, *into]
    after: list[float | None] = [*out, None]
    if closing:
        before[0], after[-1] = before[-1], after[0]
    return [
        Corner(x, y, _between_deg(one, other))
        for (x, y), one, other in zip(points, before, after, strict=True)
    ]


def _steps(
    outline: Outline,
) -> list[tuple[tuple[float, float], float | None, float | None]]:
    """End of each segment, and the directions in which it leaves and arrives, in radians."""
    at, found = outline.start, []
    for piece in outline.pieces:
        match piece:
            case Lines(points):
                for x, y in points.tolist():
                    straight = _direction(at, (x, y))
                    found.append(((x, y), straight, straight))
                    at = (x, y)
            case Beziers(control):
                for curve in control:
                    at = (float(curve[-1, 0]), float(curve[-1, 1]))
                    found.append((at, _tangent(curve), _tangent(curve[::-1], back=True)))
            case Arc():
                at = piece.end
                found.append((at, *_arc_directions(piece)))
    return found


def _tangent(curve: FloatArray, *, back: bool = False) -> float | None:
    """Direction at a curve's start: towards the first control point that lies elsewhere."""
    for point in curve[1:]:
        if (point != curve[0]).any():
            x, y = (curve[0] - point) if back else (point - curve[0])
            return math.atan2(y, x)
    return None


def _arc_directions(arc: Arc) -> tuple[float | None, float | None]:
    straight = _direction(arc.start, arc.end)
    size = max(abs(arc.rx), abs(arc.ry), math.dist(arc.start, arc.end))
    if straight is None or size == 0.0:
        return straight, straight
    # at a size of 1, where no limit of coordinates is near
    small = scaling(1.0 / size, 1.0 / size) @ translation(-arc.start[0], -arc.start[1])
    paths, _ = flattened([Outline(arc.start, [arc])], small, 1.0)
    if not paths or not paths[0].spans:
        return straight, straight
    curve = paths[0].spans[0].curve
    first = curve.split(_MOMENT)[0].points(1.0)
    last = curve.split(1.0 - _MOMENT)[1].points(1.0)
    return _direction(first[0], first[-1]), _direction(last[0], last[-1])


def _direction(
    start: Sequence[float] | FloatArray, end: Sequence[float] | FloatArray
) -> float | None:
    x, y = float(end[0] - start[0]), float(end[1] - start[1])
    return None if x == y == 0.0 else math.atan2(y, x)


def _fill_gaps(out: list[float | None], into: list[float | None]) -> None:
    """Give segments without length the direction of the one before them, else of the one after."""
    last = next((one for one in out if one is not None), 0.0)
    for i, (leaving, arriving) in enumerate(zip(out, into, strict=True)):
        if leaving is None or arriving is None:
            out[i] = into[i] = last
        else:
            last = arriving


def _between_deg(one: float | None, other: float | None) -> float:
    """Middle of the direction in and the one out."""
    if one is None or other is None:
        return math.degrees(next((d for d in (one, other) if d is not None), 0.0))
    half = math.remainder(other - one, 2.0 * math.pi) / 2.0
    return math.degrees(one + half)


class Markers:
    """Draws the marks on the lines of one drawing, as shapes of their own."""

    def __init__(self, walk: Walk, effects: Effects) -> None:
        self._walk = walk
        self._effects = effects

    def draw(self, outlines: Sequence[Outline], place: Place, name: str) -> None:
        """Draw the marks of one element, behind one another, if it has any."""
        start, middle, end = (self._marker(text, name) for text in place.style.markers)
        if start is middle is end is None:
            return
        corners = corners_of([outline for outline in outlines if outline.pieces or outline.closed])
        before = len(self._walk.shapes)
        for number, corner in enumerate(corners):
            # a line of one corner has a mark for its start and one for its end
            is_first, is_last = number == 0, number == len(corners) - 1
            if start is not None and is_first:
                self._draw_one(start, corner, place, name, first=True)
            if middle is not None and not (is_first or is_last):
                self._draw_one(middle, corner, place, name, first=False)
            if end is not None and is_last:
                self._draw_one(end, corner, place, name, first=False)
        drawn = len(self._walk.shapes) - before
        if drawn:
            self._walk.tally.add("marker", shape=name, count=drawn)

    def _marker(self, text: str, name: str) -> etree._Element | None:
        href = url_of(text)
        if href is None:
            return None
        marker = self._walk.by_id.get(href.removeprefix("#"))
        if marker is None or local_name(marker) != "marker":
            self._walk.tally.add("missing-reference", shape=name, detail=f"mark {href}")
            return None
        return marker if marker not in self._walk.open else None

    def _draw_one(
        self, marker: etree._Element, corner: Corner, place: Place, name: str, *, first: bool
    ) -> None:
        walk = self._walk
        mark = mark_at(
            marker,
            corner,
            first=first,
            stroke_width=place.style.stroke_width,
            measures=place.measures,
        )
        if mark is None:
            return
        frame = finite(place.to_mm @ mark.frame)
        declared = walk.styles.declared(marker)
        style = self._effects.style_around(marker, place.measures)
        inner = replace(
            place,
            to_mm=finite(frame @ mark.content),
            style=style.inherited(declared, place.measures),
            measures=mark.measures,
            copy=place.copy or f"{name} mark",
            depth=place.depth + 1,
        )
        walk.open.add(marker)
        before = walk.so_far
        walk.draw_children(marker, inner)
        if declared.get("overflow", "hidden") not in {"visible", "auto"}:
            edge = Region.frame(frame, mark.width, mark.height)
            self._effects.cut(edge, before, "outside-viewport")
        self._effects.apply(marker, declared, replace(inner, to_mm=frame), before)
        walk.open.discard(marker)
