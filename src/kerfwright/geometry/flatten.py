"""Curves into straight pieces that stray no further than a stated chord tolerance.

The number of pieces comes from closed forms, not from trial: for an arc the sagitta
r(1 - cos(half step)), for a Bézier curve the bound on the second difference of its control
points (Wang 1984; Sederberg, *Computer Aided Geometric Design*, section 10.6), narrowed to what
of it lies across the curve.
"""

from __future__ import annotations

import math

import numpy as np

from kerfwright.geometry.affine import Affine
from kerfwright.geometry.bezier_kernel import (
    FloatArray,
    IntArray,
    pieces_of,
    points_of,
    steps_of,
)


def arc_steps(radius_mm: float, sweep_rad: float, chord_mm: float) -> int:
    """Pieces for an arc so that each sagitta is at most ``chord_mm``."""
    if radius_mm <= chord_mm:
        return max(3, math.ceil(abs(sweep_rad) / (math.pi / 2)))
    half_step = math.acos(max(1.0 - chord_mm / radius_mm, -1.0))
    return max(1, math.ceil(abs(sweep_rad) / (2.0 * half_step) - 1e-9))


def arc_points(
    centre: tuple[float, float],
    radius_mm: float,
    start_rad: float,
    sweep_rad: float,
    chord_mm: float,
) -> FloatArray:
    """Points along a circular arc, both ends included, shape (n + 1, 2)."""
    angles = start_rad + np.linspace(0.0, sweep_rad, arc_steps(radius_mm, sweep_rad, chord_mm) + 1)
    return np.column_stack(
        [centre[0] + radius_mm * np.cos(angles), centre[1] + radius_mm * np.sin(angles)]
    )


def ellipse_points(
    frame: Affine, start_rad: float, sweep_rad: float, chord_mm: float
) -> FloatArray:
    """Points along the image of a unit-circle arc under ``frame``, both ends included.

    The image of a chord strays from the image of its arc by at most the circle's sagitta
    times the frame's largest stretch.
    """
    steps = arc_steps(frame.largest_scale, sweep_rad, chord_mm)
    angles = start_rad + np.linspace(0.0, sweep_rad, steps + 1)
    return frame.apply(np.column_stack([np.cos(angles), np.sin(angles)]))


def bezier_points(control: FloatArray, chord_mm: float) -> FloatArray:
    """Points along a quadratic or cubic Bézier at equal steps, both ends included.

    ``control`` has shape (3, 2) or (4, 2), already in mm.
    """
    curve = np.ascontiguousarray(control)
    steps = np.array([steps_of(curve, chord_mm)], dtype=np.int64)
    return np.vstack([curve[:1], points_of(curve[None], steps)])


def flattened_beziers(
    control: FloatArray, chord_mm: float
) -> tuple[FloatArray, IntArray, FloatArray, IntArray]:
    """Flatten curves with steps that adapt to how they bend.

    A curve that bends in one place and is nearly straight in another is halved there, so that
    each piece has equal steps of its own.

    Args:
        control: shape (n, 3 or 4, 2).
        chord_mm: furthest that a straight piece may stray.

    Returns:
        all points but each curve's first, one for every step; the steps of every piece; the
        pieces' control points of shape (m, 3 or 4, 2); the number of the curve that each piece
        is of, rising.
    """
    pieces, steps, curve = pieces_of(np.ascontiguousarray(control), chord_mm)
    return points_of(pieces, steps), steps, pieces, curve
