"""Compiled flattening of Bézier curves."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt
from numba import njit

FloatArray = npt.NDArray[np.float64]
IntArray = npt.NDArray[np.int64]

HALVING_SAVES = 0.85
"""A curve is halved where the halves together need less than this share of its steps."""

HALVINGS = 12


@njit(cache=True)
def steps_of(control: FloatArray, chord_mm: float) -> int:
    """Equal steps that one curve needs; ``control`` has shape (3 or 4, 2).

    A step strays by at most an eighth of the second derivative across it (Wang 1984; Sederberg,
    *Computer Aided Geometric Design*, section 10.6). All steps run within the cone of the control
    polygon's sides, so of the part along the curve's own chord only the sine of the cone's half
    angle counts.
    """
    degree = len(control) - 1
    ex, ey = control[degree, 0] - control[0, 0], control[degree, 1] - control[0, 1]
    span = math.hypot(ex, ey)
    ahead = span > 0.0
    if ahead:
        ex, ey = ex / span, ey / span
    sine = 0.0
    for i in range(degree):
        dx, dy = control[i + 1, 0] - control[i, 0], control[i + 1, 1] - control[i, 1]
        side = math.hypot(dx, dy)
        if side > 0.0:
            sine = max(sine, abs(dx * ey - dy * ex) / side)
        ahead = ahead and dx * ex + dy * ey >= 0.0
    bend = 0.0
    for i in range(degree - 1):
        dx = control[i + 2, 0] - 2.0 * control[i + 1, 0] + control[i, 0]
        dy = control[i + 2, 1] - 2.0 * control[i + 1, 1] + control[i, 1]
        whole = math.hypot(dx, dy)
        if ahead:
            whole = min(whole, abs(dx * ey - dy * ex) + abs(dx * ex + dy * ey) * sine)
        bend = max(bend, whole)
    return max(math.ceil(math.sqrt(degree * (degree - 1) * bend / (8.0 * chord_mm))), 1)


@njit(cache=True)
def pieces_of(control: FloatArray, chord_mm: float) -> tuple[FloatArray, IntArray, IntArray]:
    """Halve curves where they bend unevenly, so that each piece has equal steps of its own.

    Args:
        control: shape (n, 3 or 4, 2).
        chord_mm: furthest that a straight piece may stray.

    Returns:
        the pieces' control points, shape (m, 3 or 4, 2); their steps; the curve that each is of.
    """
    count, corners = control.shape[0], control.shape[1]
    pieces = np.empty((max(2 * count, 16), corners, 2))
    steps = np.empty(len(pieces), dtype=np.int64)
    curve = np.empty(len(pieces), dtype=np.int64)
    waiting = np.empty((HALVINGS + 2, corners, 2))
    depth = np.empty(HALVINGS + 2, dtype=np.int64)
    done = 0
    for n in range(count):
        waiting[0], depth[0] = control[n], 0
        held = 1
        while held:
            held -= 1
            needed = steps_of(waiting[held], chord_mm)
            if needed > 2 and depth[held] < HALVINGS:
                first, second = _halves(waiting[held])
                both = steps_of(first, chord_mm) + steps_of(second, chord_mm)
                if both < HALVING_SAVES * needed:
                    deeper = depth[held] + 1
                    waiting[held], depth[held] = second, deeper
                    waiting[held + 1], depth[held + 1] = first, deeper
                    held += 2
                    continue
            if done == len(pieces):
                pieces = np.concatenate((pieces, np.empty_like(pieces)))
                steps = np.concatenate((steps, np.empty_like(steps)))
                curve = np.concatenate((curve, np.empty_like(curve)))
            pieces[done], steps[done], curve[done] = waiting[held], needed, n
            done += 1
    return pieces[:done].copy(), steps[:done].copy(), curve[:done].copy()


@njit(cache=True)
def _halves(control: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Both halves of a curve (de Casteljau)."""
    corners = len(control)
    first, second = np.empty_like(control), np.empty_like(control)
    rest = control.copy()
    for i in range(corners):
        left = corners - 1 - i
        first[i] = rest[0]
        second[left] = rest[left]
        for j in range(left):
            rest[j] = 0.5 * (rest[j] + rest[j + 1])
    return first, second


@njit(cache=True)
def points_of(control: FloatArray, steps: IntArray) -> FloatArray:
    """Points at equal steps along each curve, without its first; the last is the curve's own."""
    degree = control.shape[1] - 1
    points = np.empty((steps.sum(), 2))
    at = 0
    for n in range(len(control)):
        c = control[n]
        for k in range(1, steps[n]):
            t = k / steps[n]
            s = 1.0 - t
            if degree == 2:
                p, q, r = s * s, 2.0 * s * t, t * t
                points[at, 0] = p * c[0, 0] + q * c[1, 0] + r * c[2, 0]
                points[at, 1] = p * c[0, 1] + q * c[1, 1] + r * c[2, 1]
            else:
                p, q, r, u = s * s * s, 3.0 * s * s * t, 3.0 * s * t * t, t * t * t
                points[at, 0] = p * c[0, 0] + q * c[1, 0] + r * c[2, 0] + u * c[3, 0]
                points[at, 1] = p * c[0, 1] + q * c[1, 1] + r * c[2, 1] + u * c[3, 1]
            at += 1
        points[at] = c[degree]
        at += 1
    return points
