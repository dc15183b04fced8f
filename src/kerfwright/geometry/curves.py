"""Arcs and Bézier curves as they were drawn, beside the straight pieces that stand for them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.flatten import arc_points, bezier_points, ellipse_points

FloatArray = npt.NDArray[np.float64]

ROUND = 1e-9
"""Share by which the axes of a circle's image may differ and still count as a circle's."""


@dataclass(frozen=True, slots=True)
class Arc:
    """Part of a circle; a positive sweep runs counter-clockwise."""

    centre: tuple[float, float]
    radius_mm: float
    start_rad: float
    sweep_rad: float

    @property
    def length_mm(self) -> float:
        """Length along the arc."""
        return self.radius_mm * abs(self.sweep_rad)

    def at(self, share: float) -> tuple[float, float]:
        """Point at a share of the sweep, 0 at the start and 1 at the end."""
        angle = self.start_rad + share * self.sweep_rad
        x, y = self.centre
        return x + self.radius_mm * math.cos(angle), y + self.radius_mm * math.sin(angle)

    def points(self, chord_mm: float) -> FloatArray:
        """Points at equal steps, both ends included, shape (n, 2)."""
        return arc_points(self.centre, self.radius_mm, self.start_rad, self.sweep_rad, chord_mm)

    def transformed(self, transform: Affine) -> Arc | EllipseArc:
        """Return the curve moved by ``transform``; an arc where that leaves one."""
        frame = Affine(self.radius_mm, 0.0, 0.0, self.radius_mm, *self.centre)
        return ellipse_arc(transform @ frame, self.start_rad, self.sweep_rad)

    def reversed(self) -> Arc:
        """Return the same arc followed the other way."""
        end = self.start_rad + self.sweep_rad
        return Arc(self.centre, self.radius_mm, end, -self.sweep_rad)

    def split(self, share: float) -> tuple[Arc, Arc]:
        """Return the arc up to a share of its sweep, and from there on."""
        first = share * self.sweep_rad
        middle = self.start_rad + first
        return (
            Arc(self.centre, self.radius_mm, self.start_rad, first),
            Arc(self.centre, self.radius_mm, middle, self.sweep_rad - first),
        )


@dataclass(frozen=True, slots=True)
class EllipseArc:
    """Part of an ellipse: the image under ``frame`` of an arc of the unit circle."""

    frame: Affine
    start_rad: float
    sweep_rad: float

    def points(self, chord_mm: float) -> FloatArray:
        """Points at equal steps of the angle on the unit circle, both ends included."""
        return ellipse_points(self.frame, self.start_rad, self.sweep_rad, chord_mm)

    def transformed(self, transform: Affine) -> Arc | EllipseArc:
        """Return the curve moved by ``transform``; an arc where that leaves one."""
        return ellipse_arc(transform @ self.frame, self.start_rad, self.sweep_rad)

    def reversed(self) -> EllipseArc:
        """Return the same curve followed the other way."""
        return EllipseArc(self.frame, self.start_rad + self.sweep_rad, -self.sweep_rad)

    def split(self, share: float) -> tuple[EllipseArc, EllipseArc]:
        """Return the curve up to a share of its sweep, and from there on."""
        first = share * self.sweep_rad
        return (
            EllipseArc(self.frame, self.start_rad, first),
            EllipseArc(self.frame, self.start_rad + first, self.sweep_rad - first),
        )


@dataclass(frozen=True, eq=False, slots=True)
class Bezier:
    """A quadratic or cubic Bézier curve; ``control`` has shape (3, 2) or (4, 2)."""

    control: FloatArray

    def points(self, chord_mm: float) -> FloatArray:
        """Points at equal steps of the parameter, both ends included."""
        return bezier_points(self.control, chord_mm)

    def transformed(self, transform: Affine) -> Bezier:
        """Return the curve moved by ``transform``."""
        return Bezier(transform.apply(self.control))

    def reversed(self) -> Bezier:
        """Return the same curve followed the other way."""
        return Bezier(np.ascontiguousarray(self.control[::-1]))

    def split(self, share: float) -> tuple[Bezier, Bezier]:
        """Return the curve up to a parameter, and from there on (de Casteljau)."""
        before, after = [], []
        rest = self.control
        while True:
            before.append(rest[0])
            after.append(rest[-1])
            if len(rest) == 1:
                return Bezier(np.array(before)), Bezier(np.array(after[::-1]))
            rest = (1.0 - share) * rest[:-1] + share * rest[1:]


Curve = Arc | EllipseArc | Bezier


def ellipse_arc(frame: Affine, start_rad: float, sweep_rad: float) -> Arc | EllipseArc:
    """Image under ``frame`` of an arc of the unit circle; an :class:`Arc` where it is round."""
    one, other = math.hypot(frame.a, frame.b), math.hypot(frame.c, frame.d)
    lean = abs(frame.a * frame.c + frame.b * frame.d)
    if abs(one - other) > ROUND * one or lean > ROUND * one * other or one == 0.0:
        return EllipseArc(frame, start_rad, sweep_rad)
    turn = math.atan2(frame.b, frame.a)
    centre = (frame.e, frame.f)
    if frame.determinant > 0.0:
        return Arc(centre, one, turn + start_rad, sweep_rad)
    return Arc(centre, one, turn - start_rad, -sweep_rad)


@dataclass(frozen=True, eq=False, slots=True)
class Span:
    """Points ``first`` to ``last`` of a path's line lie on ``curve``, at equal steps of it."""

    first: int
    last: int
    curve: Curve

    @property
    def steps(self) -> int:
        """Straight pieces that stand for the curve."""
        return self.last - self.first

    def moved(self, by: int) -> Span:
        """Return the same curve ``by`` points further along the line."""
        return Span(self.first + by, self.last + by, self.curve)

    def split(self, index: int) -> tuple[Span, Span]:
        """Return the curve up to one of its inner points, and from there on."""
        before, after = self.curve.split((index - self.first) / self.steps)
        return Span(self.first, index, before), Span(index, self.last, after)

    def between(self, low: int, high: int) -> Span | None:
        """Return what of the curve lies between two points of the line."""
        first, last = max(self.first, low), min(self.last, high)
        if first >= last:
            return None
        span = self
        if first > span.first:
            span = span.split(first)[1]
        return span.split(last)[0] if last < span.last else span


Spans = tuple[Span, ...]


def reversed_spans(spans: Sequence[Span], last: int) -> Spans:
    """Spans of an open line followed the other way; ``last`` is the number of its last point."""
    return tuple(
        Span(last - span.last, last - span.first, span.curve.reversed()) for span in reversed(spans)
    )


def rolled_spans(spans: Sequence[Span], vertex: int, count: int) -> Spans:
    """Spans of a closed line of ``count`` points that now begins at ``vertex``."""
    if not 0 < vertex < count:
        return tuple(spans)
    before = [span.between(0, vertex) for span in spans]
    after = [span.between(vertex, count) for span in spans]
    return (
        *(span.moved(-vertex) for span in after if span is not None),
        *(span.moved(count - vertex) for span in before if span is not None),
    )
