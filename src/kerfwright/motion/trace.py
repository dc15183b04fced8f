"""How fast the beam is and how strong, at every moment of a toolpath."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.jerk import STANDING_MM_S, Motion
from kerfwright.motion.kernel import LENGTH_ZERO_MM
from kerfwright.motion.timing import motion_of, waits_s
from kerfwright.shop.machine import Dialect, Machine
from kerfwright.toolpath import Toolpath

IntArray = npt.NDArray[np.int64]

PHASES = 4
"""Of a move: waiting before it, speeding up, going on, braking."""


@dataclass(frozen=True, eq=False, slots=True)
class Trace:
    """Stretches of constant acceleration, one after the other; every field has shape (n,).

    Within a stretch speed and power go evenly from start to end. Where a machine limits jerk,
    everything between two standstills is slowed alike to the time that it takes.
    """

    move: IntArray
    """Move of the toolpath that the stretch is of."""
    begin_s: FloatArray
    seconds: FloatArray
    start_mm_s: FloatArray
    end_mm_s: FloatArray
    along_mm: FloatArray
    """How far along its move the stretch begins."""
    length_mm: FloatArray
    """0 while the machine waits."""
    start_w: FloatArray
    """Power of the beam at the beginning."""
    end_w: FloatArray
    energy_j: FloatArray

    def __len__(self) -> int:
        return len(self.move)

    @property
    def total_s(self) -> float:
        """Seconds of the whole toolpath."""
        return float(self.seconds.sum())


def trace_of(
    toolpath: Toolpath, machine: Machine, *, power_follows_speed: bool | None = None
) -> Trace:
    """Take a toolpath apart into stretches of constant acceleration.

    In laser mode the power follows the speed: the share of the wanted speed is the share of the
    power. Elsewhere it is the move's own all the way, also while the beam slows down. By default
    the controller's dialect tells which.
    """
    if power_follows_speed is None:
        power_follows_speed = machine.controller.dialect is Dialect.GRBL_TYPE
    waits = waits_s(toolpath, machine)
    motion = motion_of(toolpath, machine, waits)
    moved = toolpath.lengths_mm > LENGTH_ZERO_MM
    ramps = _phases(motion, toolpath.lengths_mm, moved)
    _slow_to_the_clock(ramps, motion, moved)
    seconds, start, end, length = (ramps[:, :, column] for column in range(4))
    seconds[:, 0] = waits
    full = np.zeros(seconds.shape)
    full[:, 1:] = (machine.power_w * toolpath.moves["power"])[:, None]
    if power_follows_speed:
        wanted = np.where(toolpath.moves["speed_mm_s"] > 0.0, toolpath.moves["speed_mm_s"], 1.0)
        at_start, at_end = (full * np.minimum(v / wanted[:, None], 1.0) for v in (start, end))
    else:
        at_start = at_end = full
    real = seconds > 0.0
    kept = seconds[real]
    return Trace(
        move=np.repeat(np.arange(len(toolpath)), real.sum(axis=1)),
        begin_s=np.cumsum(kept) - kept,
        seconds=kept,
        start_mm_s=start[real],
        end_mm_s=end[real],
        along_mm=(np.cumsum(length, axis=1) - length)[real],
        length_mm=length[real],
        start_w=at_start[real],
        end_w=at_end[real],
        energy_j=(0.5 * (at_start + at_end) * seconds)[real],
    )


def _phases(motion: Motion, lengths: FloatArray, moved: npt.NDArray[np.bool_]) -> FloatArray:
    """Seconds, speed at start and end and length of every phase but waiting, shape (n, 4, 4)."""
    v0, v1, up, down = (
        motion.entry_mm_s,
        motion.exit_mm_s,
        motion.up_mm_s2,
        motion.down_mm_s2,
    )
    peak2 = (down * v0**2 + up * v1**2 + 2.0 * up * down * lengths) / (up + down)
    peak = np.maximum(np.minimum(np.sqrt(peak2), motion.top_mm_s), np.maximum(v0, v1))
    speeding = (peak**2 - v0**2) / (2.0 * up)
    braking = (peak**2 - v1**2) / (2.0 * down)
    level = np.maximum(lengths - speeding - braking, 0.0)
    out = np.zeros((len(lengths), PHASES, 4))
    out[:, 1] = np.column_stack([(peak - v0) / up, v0, peak, speeding])
    out[:, 2] = np.column_stack([level / np.where(peak > 0.0, peak, 1.0), peak, peak, level])
    out[:, 3] = np.column_stack([(peak - v1) / down, peak, v1, braking])
    out[~moved] = 0.0
    return out


def _slow_to_the_clock(phases: FloatArray, motion: Motion, moved: npt.NDArray[np.bool_]) -> None:
    """Stretch the time of all moves between two standstills by what a limit on jerk costs them.

    One share for all of them keeps the speed without jumps. ``phases`` changes.
    """
    moves = np.flatnonzero(moved)
    if len(moves) == 0:
        return
    first = np.flatnonzero(motion.entry_mm_s[moves] < STANDING_MM_S)
    straight = np.add.reduceat(phases[moves, :, 0].sum(axis=1), first)
    clock = np.add.reduceat(motion.seconds[moves], first)
    share = np.where(straight > 0.0, clock / np.where(straight > 0.0, straight, 1.0), 1.0)
    slower = np.repeat(share, np.diff(np.append(first, len(moves))))[:, None]
    phases[moves, :, 0] *= slower
    phases[moves, :, 1] /= slower
    phases[moves, :, 2] /= slower
