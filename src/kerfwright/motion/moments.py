"""Where the beam is at given moments of a toolpath, how fast and how strong."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.trace import IntArray, Trace
from kerfwright.toolpath import Toolpath

JUMP_MM_S = 1e-6
JUMP_W = 1e-6
"""Changes of speed and power at one moment that are no rounding."""


@dataclass(frozen=True, eq=False, slots=True)
class Moments:
    """Rows in the order of time; every field has shape (n,)."""

    time_s: FloatArray
    x_mm: FloatArray
    y_mm: FloatArray
    speed_mm_s: FloatArray
    power_w: FloatArray
    move: IntArray
    """Move of the toolpath that the moment belongs to."""
    standing: npt.NDArray[np.bool_]
    """Whether the machine waits before that move."""

    def __len__(self) -> int:
        return len(self.time_s)


def moments_of_change(trace: Trace, toolpath: Toolpath) -> Moments:
    """Begin of every stretch, and its end where speed or power jump there, and the very end.

    Between two rows speed and power change evenly; two rows at one moment are a jump.
    """
    count = len(trace)
    ends = np.zeros(count, dtype=bool)
    if count:
        ends[-1] = True
        ends[:-1] = (np.abs(trace.end_mm_s[:-1] - trace.start_mm_s[1:]) > JUMP_MM_S) | (
            np.abs(trace.end_w[:-1] - trace.start_w[1:]) > JUMP_W
        )
    stretch = np.concatenate([np.arange(count), np.flatnonzero(ends)])
    share = np.concatenate([np.zeros(count), np.ones(np.count_nonzero(ends))])
    order = np.lexsort((share, stretch))
    return _moments(trace, toolpath, stretch[order], share[order])


def moments_at(trace: Trace, toolpath: Toolpath, times_s: FloatArray) -> Moments:
    """Moments at times from 0 to the trace's total; at a jump, what comes after it."""
    if len(trace) == 0:
        return _moments(trace, toolpath, np.empty(0, dtype=np.int64), np.empty(0))
    stretch = np.maximum(np.searchsorted(trace.begin_s, times_s, side="right") - 1, 0)
    share = (times_s - trace.begin_s[stretch]) / trace.seconds[stretch]
    return _moments(trace, toolpath, stretch, np.clip(share, 0.0, 1.0))


def place_mm(
    trace: Trace, toolpath: Toolpath, stretch: IntArray, into_mm: FloatArray
) -> FloatArray:
    """Points that lie ``into_mm`` into stretches, shape (n, 2)."""
    move = trace.move[stretch]
    lengths = toolpath.lengths_mm[move]
    share = (trace.along_mm[stretch] + into_mm) / np.where(lengths > 0.0, lengths, 1.0)
    share = np.clip(share, 0.0, 1.0)[:, None]
    points = toolpath.points
    return np.asarray(points[move] * (1.0 - share) + points[move + 1] * share)


def _moments(trace: Trace, toolpath: Toolpath, stretch: IntArray, share: FloatArray) -> Moments:
    start, end = trace.start_mm_s[stretch], trace.end_mm_s[stretch]
    seconds = share * trace.seconds[stretch]
    speed = start + share * (end - start)
    points = place_mm(trace, toolpath, stretch, 0.5 * (start + speed) * seconds)
    power = trace.start_w[stretch] + share * (trace.end_w[stretch] - trace.start_w[stretch])
    return Moments(
        # rounding must not put an end behind the beginning of what follows
        time_s=np.minimum(
            trace.begin_s[stretch] + seconds, np.append(trace.begin_s[1:], np.inf)[stretch]
        ),
        x_mm=points[:, 0],
        y_mm=points[:, 1],
        speed_mm_s=speed,
        power_w=power,
        move=trace.move[stretch],
        standing=trace.length_mm[stretch] == 0.0,
    )
