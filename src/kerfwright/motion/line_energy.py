"""Where a line receives most energy: in slow corners, ends and starts (compiled)."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from numba import njit

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.moments import place_mm
from kerfwright.motion.trace import Trace
from kerfwright.toolpath import Toolpath

HALVINGS = 40


@dataclass(frozen=True, slots=True)
class PeakLineEnergy:
    """The spot's width of line that receives most energy, and the place of its middle."""

    j_mm: float
    x_mm: float
    y_mm: float
    move: int
    """Move of the toolpath in whose course the middle lies."""


def peak_line_energy(
    trace: Trace,
    toolpath: Toolpath,
    spot_mm: float,
    moves: npt.NDArray[np.bool_] | None = None,
) -> PeakLineEnergy | None:
    """Find the largest energy that one spot's width of the beam's way receives, over that width.

    Exact for the trace. Lines that cross, passes and neighbouring rows are not added up, so that
    it is a figure of the motion alone. With ``moves``, a mask over the toolpath's moves, only
    their burns count. ``None`` where nothing burns.
    """
    counted = trace.energy_j > 0.0
    if moves is not None:
        counted &= moves[trace.move]
    if not counted.any():
        return None
    stretches = np.column_stack(
        [
            trace.length_mm,
            trace.seconds,
            trace.start_mm_s,
            trace.end_mm_s,
            np.where(counted, trace.start_w, 0.0),
            np.where(counted, trace.end_w, 0.0),
        ]
    )
    energy, middle = _peak(stretches, spot_mm)
    reached = np.cumsum(trace.length_mm)
    stretch = np.searchsorted(reached, min(middle, reached[-1]), side="left")[None]
    into = middle - (reached[stretch] - trace.length_mm[stretch])
    x, y = place_mm(trace, toolpath, stretch, into)[0]
    return PeakLineEnergy(energy / spot_mm, float(x), float(y), int(trace.move[stretch[0]]))


SURE = 1.0 + 1e-9
"""A later place must be better by more than rounding to be told instead of the first one."""


@njit(cache=True)
def _peak(stretches: FloatArray, window: float) -> tuple[float, float]:
    """Energy of the best window along the beam's way, and where its middle lies.

    The window slides from stretch to stretch; in between its energy is smooth, and rises and then
    falls only where the strength at its back end and at its front end become equal.

    Args:
        stretches: length, seconds, start and end speed, start and end power, shape (n, 6).
        window: length of the window in mm.
    """
    n = len(stretches)
    length = stretches[:, 0]
    before = np.zeros(n + 1)
    for i in range(n):
        before[i + 1] = before[i] + 0.5 * (stretches[i, 4] + stretches[i, 5]) * stretches[i, 1]
    whole = length.sum()
    if whole <= window:
        return before[n], 0.5 * whole
    back = front = 0
    a, b, at = 0.0, window, 0.0
    best, middle = 0.0, 0.5 * window
    while True:
        while back < n - 1 and a >= length[back]:
            a -= length[back]
            back += 1
        while front < n - 1 and b >= length[front]:
            b -= length[front]
            front += 1
        behind, ahead = stretches[back], stretches[front]
        step = max(min(length[back] - a, length[front] - b), 0.0)
        low, high = 0.0, step
        rises = _strength(b, ahead) > _strength(a, behind)
        if rises and _strength(b + step, ahead) < _strength(a + step, behind):
            for _ in range(HALVINGS):
                half = 0.5 * (low + high)
                if _strength(b + half, ahead) > _strength(a + half, behind):
                    low = half
                else:
                    high = half
        for moved in (low, high):
            inside = before[front] + _energy(b + moved, ahead)
            inside -= before[back] + _energy(a + moved, behind)
            if inside > best * SURE:
                best, middle = inside, at + moved + 0.5 * window
        if front == n - 1 and length[front] - b <= step:
            return best, middle
        at += step
        # the shorter one is used up wholly, whatever rounding says
        a = length[back] if length[back] - a <= step else a + step
        b = length[front] if length[front] - b <= step else b + step


@njit(cache=True)
def _speed(along: float, stretch: FloatArray) -> float:
    start2, end2 = stretch[2] * stretch[2], stretch[3] * stretch[3]
    share = along / stretch[0] if stretch[0] > 0.0 else 0.0
    return math.sqrt(max(start2 + (end2 - start2) * share, 0.0))


@njit(cache=True)
def _energy(along: float, stretch: FloatArray) -> float:
    """Energy of the beginning of a stretch, up to ``along``."""
    mean = 0.5 * (stretch[2] + _speed(along, stretch))
    if mean <= 0.0:
        return 0.0
    t = min(along / mean, stretch[1])
    return float(stretch[4] * t + 0.5 * (stretch[5] - stretch[4]) * t * t / stretch[1])


@njit(cache=True)
def _strength(along: float, stretch: FloatArray) -> float:
    """Energy for each millimetre at ``along``."""
    v0, v1, w0, w1 = stretch[2], stretch[3], stretch[4], stretch[5]
    if w0 == 0.0 and w1 == 0.0:
        return 0.0
    speed = _speed(along, stretch)
    if speed <= 1e-9:
        if min(w0, w1) > 0.0:
            return math.inf
        return float(abs(w1 - w0) / max(abs(v1 - v0), 1e-300))
    power = w0 + (w1 - w0) * (speed - v0) / (v1 - v0) if v1 != v0 else 0.5 * (w0 + w1)
    return float(power / speed)
