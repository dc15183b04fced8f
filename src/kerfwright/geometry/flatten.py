"""Curves into straight pieces that stray no further than a stated chord tolerance.

The number of pieces comes from closed forms, not from trial: for an arc the sagitta
r(1 - cos(half step)), for a Bézier curve the bound on the second difference of its control
points (Wang 1984; Sederberg, *Computer Aided Geometric Design*, section 10.6), narrowed to what
of it lies across the curve.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.affine import Affine

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]


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
    steps = bezier_steps(control[None], chord_mm)
    return np.vstack([control[:1], _evaluated(control[None], steps)])


def bezier_steps(control: FloatArray, chord_mm: float) -> IntArray:
    """Equal steps that each of the curves ``control``, shape (n, 3 or 4, 2), needs.

    A step strays by at most an eighth of the second derivative across it. All steps run within
    the cone of the control polygon's sides, so of the part along the curve's own chord only the
    sine of the cone's half angle counts.
    """
    degree = control.shape[1] - 1
    sides = np.diff(control, axis=1)
    second = np.diff(sides, axis=1)
    chord = control[:, -1] - control[:, 0]
    span = np.hypot(chord[:, 0], chord[:, 1])
    along = chord / np.where(span > 0.0, span, 1.0)[:, None]
    across_each = np.abs(second[..., 0] * along[:, None, 1] - second[..., 1] * along[:, None, 0])
    along_each = np.abs((second * along[:, None]).sum(axis=2))
    lengths = np.hypot(sides[..., 0], sides[..., 1])
    leaning = np.abs(sides[..., 0] * along[:, None, 1] - sides[..., 1] * along[:, None, 0])
    sine = (leaning / np.where(lengths > 0.0, lengths, 1.0)).max(axis=1)
    ahead = ((sides * along[:, None]).sum(axis=2) >= 0.0).all(axis=1) & (span > 0.0)
    whole = np.hypot(second[..., 0], second[..., 1])
    leaned = np.minimum(across_each + along_each * sine[:, None], whole)
    bend = np.where(ahead[:, None], leaned, whole).max(axis=1)
    steps = np.ceil(np.sqrt(degree * (degree - 1) * bend / (8.0 * chord_mm)))
    return np.asarray(np.maximum(steps, 1.0), dtype=np.int64)


HALVING_SAVES = 0.85
"""A curve is halved where the halves together need less than this share of its steps."""

HALVINGS = 12


def flattened_beziers(
    control: FloatArray, chord_mm: float
) -> tuple[FloatArray, IntArray, FloatArray]:
    """Flatten curves that follow one another, with steps that adapt to how they bend.

    A curve that bends in one place and is nearly straight in another is halved there (de
    Casteljau), so that each piece has equal steps of its own.

    Args:
        control: shape (n, 3 or 4, 2), each curve beginning where the one before ends.
        chord_mm: furthest that a straight piece may stray.

    Returns:
        the points after the first curve's start, the steps of every piece, the pieces' control
        points of shape (m, 3 or 4, 2).
    """
    place = np.arange(len(control), dtype=np.float64)
    steps = bezier_steps(control, chord_mm)
    pieces, places, counts = [control], [place], [steps]
    width = 0.5
    for _ in range(HALVINGS):
        whole, at, needed = pieces.pop(), places.pop(), counts.pop()
        bent = np.flatnonzero(needed > 2)
        first, second = _halves(whole[bent])
        first_steps, second_steps = bezier_steps(first, chord_mm), bezier_steps(second, chord_mm)
        better = first_steps + second_steps < HALVING_SAVES * needed[bent]
        kept = np.ones(len(whole), dtype=bool)
        kept[bent[better]] = False
        pieces += [whole[kept], np.concatenate([first[better], second[better]])]
        places += [at[kept], np.concatenate([at[bent[better]], at[bent[better]] + width])]
        counts += [needed[kept], np.concatenate([first_steps[better], second_steps[better]])]
        width /= 2.0
        if not better.any():
            break
    order = np.argsort(np.concatenate(places), kind="stable")
    all_pieces, all_steps = np.concatenate(pieces)[order], np.concatenate(counts)[order]
    return _evaluated(all_pieces, all_steps), all_steps, all_pieces


def _halves(control: FloatArray) -> tuple[FloatArray, FloatArray]:
    before, after = [control[:, 0]], [control[:, -1]]
    rest = control
    while rest.shape[1] > 1:
        rest = 0.5 * (rest[:, :-1] + rest[:, 1:])
        before.append(rest[:, 0])
        after.append(rest[:, -1])
    return np.stack(before, axis=1), np.stack(after[::-1], axis=1)


def _evaluated(control: FloatArray, steps: IntArray) -> FloatArray:
    """Points at equal steps along each curve, without its first; the last is the curve's own."""
    ends = np.cumsum(steps)
    curve = np.repeat(np.arange(len(control)), steps)
    number = np.arange(1, int(ends[-1]) + 1 if len(ends) else 1) - np.repeat(ends - steps, steps)
    t = (number / np.repeat(steps, steps))[:, None]
    s = 1.0 - t
    if control.shape[1] == 3:
        p0, p1, p2 = (control[curve, i] for i in range(3))
        points = s * s * p0 + 2.0 * s * t * p1 + t * t * p2
    else:
        p0, p1, p2, p3 = (control[curve, i] for i in range(4))
        points = s**3 * p0 + 3.0 * s * s * t * p1 + 3.0 * s * t * t * p2 + t**3 * p3
    if len(ends):
        points[ends - 1] = control[:, -1]
    return np.asarray(points)
