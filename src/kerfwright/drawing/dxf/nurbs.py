"""B-splines as exact curves: Bézier pieces, arcs of circles and of ellipses.

A B-spline is a chain of Bézier curves, one a knot span, whose control points are the spline's
polar form at the ends of the span (Ramshaw 1987; Farin, *Curves and Surfaces for CAGD*, on
blossoms). A rational one is the same in space, projected by its weight; its quadratic pieces are
conics (Piegl and Tiller, *The NURBS Book*, sections 7.3 and 7.4).
"""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.curves import Arc, Bezier, EllipseArc, Span, ellipse_arc
from kerfwright.geometry.flatten import flattened_beziers
from kerfwright.geometry.paths import FloatArray, Path, concatenated

SAME = 1e-9
"""Share of its size by which numbers of one spline may differ and count as the same."""

_BLUNT = 0.05
"""A conic whose middle weight is less spans nearly half an ellipse or more, and is halved."""

_PARABOLA = 1e-7
_HALVINGS = 18


def nurbs_paths(
    control: FloatArray, knots: FloatArray, weights: FloatArray | None, degree: int, chord_mm: float
) -> list[Path]:
    """Lines along a B-spline over its domain; several where it is torn at a knot.

    Args:
        control: control points in mm, shape (n, 2).
        knots: shape (n + degree + 1,), not falling.
        weights: shape (n,) and positive, or none if they are all alike.
        degree: 1 or more.
        chord_mm: furthest that a straight piece may stray.

    Raises:
        ValueError: the numbers do not make a spline.
    """
    if weights is None or np.ptp(weights) <= SAME * np.abs(weights).max():
        weights = np.ones(len(control))
    _check(control, knots, weights, degree)
    lifted = np.column_stack([control * weights[:, None], weights])
    pieces = bezier_pieces(lifted, knots, degree)
    seen = pieces[..., :2] / pieces[..., 2:]
    size = max(float(np.ptp(control, axis=0).max()), 1e-12)
    torn = np.abs(seen[1:, 0] - seen[:-1, -1]).max(axis=1) > 1e-6 * size
    breaks = [0, *(np.flatnonzero(torn) + 1).tolist(), len(pieces)]
    return [_path(pieces[low:high], chord_mm) for low, high in pairwise(breaks)]


def _check(control: FloatArray, knots: FloatArray, weights: FloatArray, degree: int) -> None:
    count = len(control)
    if degree < 1 or count <= degree:
        raise ValueError("too few control points")
    if len(knots) != count + degree + 1 or len(weights) != count:
        raise ValueError("the numbers of knots, weights and control points do not fit")
    if not (np.isfinite(knots).all() and np.isfinite(weights).all() and (weights > 0.0).all()):
        raise ValueError("knots and weights must be finite, weights positive")
    if (np.diff(knots) < 0.0).any():
        raise ValueError("knots must not fall")
    if not knots[degree] < knots[count]:
        raise ValueError("the spline has no length")


def bezier_pieces(control: FloatArray, knots: FloatArray, degree: int) -> FloatArray:
    """Bézier control points of every knot span, shape (spans, degree + 1, columns).

    The polar form is evaluated by de Boor's algorithm with an argument for each of its steps.
    """
    count = len(control)
    width = knots[count] - knots[degree]
    inner = np.arange(degree, count)
    inner = inner[knots[inner + 1] - knots[inner] > SAME * width]
    starts, ends = knots[inner], knots[inner + 1]
    # one polar value for each number of arguments at the span's end: shape (values, spans, …)
    points = np.broadcast_to(
        control[inner[:, None] + np.arange(-degree, 1)],
        (degree + 1, len(inner), degree + 1, control.shape[1]),
    )
    at_end = np.arange(degree + 1)[:, None]
    for level in range(1, degree + 1):
        at = np.where(level <= at_end, ends, starts)[..., None]
        steps = inner[:, None] + np.arange(level - degree, 1)
        low, high = knots[steps], knots[steps + degree + 1 - level]
        share = ((at - low) / (high - low))[..., None]
        points = (1.0 - share) * points[:, :, :-1] + share * points[:, :, 1:]
    return np.ascontiguousarray(points[:, :, 0].swapaxes(0, 1))


def _path(pieces: FloatArray, chord_mm: float) -> Path:
    weights = pieces[..., 2]
    if (np.ptp(weights, axis=1) <= SAME * weights.max(axis=1)).all():
        return _plain_path(pieces[..., :2] / pieces[..., 2:], chord_mm)
    return concatenated([_rational_path(piece, chord_mm) for piece in pieces], closed=False)


def _plain_path(control: FloatArray, chord_mm: float) -> Path:
    degree = control.shape[1] - 1
    control[1:, 0] = control[:-1, -1]
    if degree == 1:
        return Path(np.vstack([control[:1, 0], control[:, 1]]))
    if degree > 3:
        lifted = np.concatenate([control, np.ones((*control.shape[:2], 1))], axis=2)
        return Path(_within_hulls(lifted, chord_mm))
    points, steps, curves, _ = flattened_beziers(control, chord_mm)
    ends = np.cumsum(steps).tolist()
    spans = tuple(
        Span(first, last, Bezier(curve))
        for first, last, curve in zip([0, *ends[:-1]], ends, curves, strict=True)
    )
    return Path(np.vstack([control[:1, 0], points]), spans=spans)


def _rational_path(piece: FloatArray, chord_mm: float) -> Path:
    """Line along one rational Bézier curve, shape (degree + 1, 3)."""
    weights = piece[:, 2]
    if np.ptp(weights) <= SAME * weights.max():
        return _plain_path((piece[:, :2] / weights[:, None])[None], chord_mm)
    quadratic = _as_quadratic(piece)
    curves = None if quadratic is None else conic_curves(quadratic)
    if curves is None:
        return Path(_within_hulls(piece[None], chord_mm))
    pieces: list[Path] = []
    for curve in curves:
        points = curve.points(chord_mm)
        pieces.append(Path(points, spans=(Span(0, len(points) - 1, curve),)))
    whole = concatenated(pieces, closed=False)
    whole.points[0] = piece[0, :2] / weights[0]
    whole.points[-1] = piece[-1, :2] / weights[-1]
    return whole


def _as_quadratic(piece: FloatArray) -> FloatArray | None:
    """A quadratic curve in space, also one that was raised to degree 3."""
    if len(piece) == 3:
        return piece
    if len(piece) != 4:
        return None
    raised = np.abs(np.diff(piece, n=3, axis=0)).max()
    if raised > SAME * np.abs(piece).max():
        return None
    middle = (3.0 * (piece[1] + piece[2]) - piece[0] - piece[3]) / 4.0
    return np.stack([piece[0], middle, piece[3]])


def conic_curves(piece: FloatArray, halvings: int = 4) -> list[Arc | EllipseArc | Bezier] | None:
    """A rational quadratic Bézier curve, shape (3, 3), as arcs or as a parabola.

    In standard form its ends weigh 1 and its middle w: an ellipse below 1, a parabola at 1. The
    arc of a unit circle with half angle α has w = cos α and its middle control point at 1 / w;
    the frame is the affine map from there. A hyperbola (w > 1) is no curve of these: ``None``.
    """
    start, middle, end = piece
    w = float(middle[2] / math.sqrt(start[2] * end[2]))
    if w < _BLUNT:
        if halvings == 0:
            return None
        half = (start + 2.0 * middle + end) / 4.0
        first = conic_curves(np.stack([start, (start + middle) / 2.0, half]), halvings - 1)
        second = conic_curves(np.stack([half, (middle + end) / 2.0, end]), halvings - 1)
        return None if first is None or second is None else first + second
    corners = piece[:, :2] / piece[:, 2:]
    if abs(w - 1.0) <= _PARABOLA:
        return [Bezier(corners)]
    if w > 1.0:
        return None
    sine_squared = 1.0 - w * w
    x_axis = (corners[1] - (corners[0] + corners[2]) / 2.0) * (w / sine_squared)
    y_axis = (corners[2] - corners[0]) / (2.0 * math.sqrt(sine_squared))
    centre = corners[1] - x_axis / w
    frame = Affine(*x_axis.tolist(), *y_axis.tolist(), *centre.tolist())
    half_rad = math.acos(w)
    return [ellipse_arc(frame, -half_rad, 2.0 * half_rad)]


def _within_hulls(pieces: FloatArray, chord_mm: float) -> FloatArray:
    """Flatten rational curves of any degree, shape (n, degree + 1, 3), one behind the other.

    Each is halved until its control points are within the tolerance of its chord, as the curve
    lies in their hull.
    """
    for _ in range(_HALVINGS):
        seen = pieces[..., :2] / pieces[..., 2:]
        bent = _stray(seen) > chord_mm
        if not bent.any():
            return np.vstack([seen[:1, 0], seen[:, -1]])
        doubled = np.repeat(pieces, np.where(bent, 2, 1), axis=0)
        first = np.flatnonzero(bent) + np.arange(np.count_nonzero(bent))
        doubled[first], doubled[first + 1] = _halves(pieces[bent])
        pieces = doubled
    raise ValueError("the spline bends without end")


def _halves(pieces: FloatArray) -> tuple[FloatArray, FloatArray]:
    before, after, rest = [pieces[:, 0]], [pieces[:, -1]], pieces
    while rest.shape[1] > 1:
        rest = (rest[:, :-1] + rest[:, 1:]) / 2.0
        before.append(rest[:, 0])
        after.append(rest[:, -1])
    return np.stack(before, axis=1), np.stack(after[::-1], axis=1)


def _stray(seen: FloatArray) -> FloatArray:
    """Largest distance of inner control points from the stretch between each curve's ends."""
    chord = seen[:, -1] - seen[:, 0]
    out = seen[:, 1:-1] - seen[:, :1]
    along = np.einsum("ij,ij->i", chord, chord)
    share = np.einsum("ikj,ij->ik", out, chord) / np.where(along > 0.0, along, 1.0)[:, None]
    off = out - np.clip(share, 0.0, 1.0)[..., None] * chord[:, None]
    return np.asarray(np.hypot(off[..., 0], off[..., 1]).max(axis=1))
