"""Time of a toolpath on a machine."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.kernel import LENGTH_ZERO_MM, SHARE_ZERO, time_moves
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.toolpath import MoveKind, Toolpath


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of a toolpath on a machine; the three parts add up to ``total_s``."""

    burn_s: float
    travel_s: float
    """Beam off: travel, run-up and turning round."""
    wait_s: float
    """Settling and beam delays."""

    @property
    def total_s(self) -> float:
        """All seconds."""
        return self.burn_s + self.travel_s + self.wait_s


def move_times_s(toolpath: Toolpath, machine: Machine) -> FloatArray:
    """Seconds of every move, the waiting before it included, shape (n,).

    The machine starts and ends at rest and looks ahead over the whole toolpath.
    """
    waits = _waits_s(toolpath, machine)
    return _motion_s(toolpath, machine, waits) + waits


def time_toolpath(toolpath: Toolpath, machine: Machine) -> Times:
    """Seconds of the whole toolpath, from rest to rest."""
    waits = _waits_s(toolpath, machine)
    motion = _motion_s(toolpath, machine, waits)
    burn_s = float(motion @ toolpath.burning)
    travel_s = float(motion @ ~toolpath.burning)
    return Times(burn_s=burn_s, travel_s=travel_s, wait_s=float(waits.sum()))


def run_up_mm(speed_mm_s: float, limits: AxisLimits, angle_deg: float = 0.0) -> float:
    """Distance from rest to ``speed_mm_s`` along an angle: v²/(2a), the tighter axis governing."""
    angle = math.radians(angle_deg)
    share_x, share_y = max(abs(math.cos(angle)), SHARE_ZERO), max(abs(math.sin(angle)), SHARE_ZERO)
    acceleration = min(
        limits.acceleration_mm_s2[0] / share_x, limits.acceleration_mm_s2[1] / share_y
    )
    return speed_mm_s**2 / (2.0 * acceleration)


def travel_speed_mm_s(machine: Machine) -> float:
    """Speed asked of a travel: both axes flat out; each axis' own limit still holds."""
    return math.hypot(*machine.travel.speed_mm_s)


def _motion_s(toolpath: Toolpath, machine: Machine, waits_s: FloatArray) -> FloatArray:
    moves = toolpath.moves
    points = toolpath.points
    table = _limits_by_kind(machine)
    seconds, _ = time_moves(
        np.ascontiguousarray(points[:, 0]),
        np.ascontiguousarray(points[:, 1]),
        np.ascontiguousarray(moves["speed_mm_s"]),
        table[moves["kind"]],
        waits_s > 0.0,
        machine.junction_deviation_mm,
        -1.0 if machine.corner_speed_mm_s is None else machine.corner_speed_mm_s,
    )
    return seconds


def _limits_by_kind(machine: Machine) -> FloatArray:
    """Limits for :func:`~kerfwright.motion.kernel.time_moves`, a row for each kind of move."""
    table = np.empty((len(MoveKind), 4))
    table[:] = (*machine.cutting.speed_mm_s, *machine.cutting.acceleration_mm_s2)
    scanning = (*machine.scanning.speed_mm_s, *machine.scanning.acceleration_mm_s2)
    table[MoveKind.TRAVEL] = (*machine.travel.speed_mm_s, *machine.travel.acceleration_mm_s2)
    table[MoveKind.ROW] = scanning
    table[MoveKind.RUN_UP] = scanning
    return table


def _waits_s(toolpath: Toolpath, machine: Machine) -> FloatArray:
    """Waiting before every move: settling after a travel, and the beam's delay as it goes on.

    A beam that goes on in flight, after a run-up, does not wait: the controller switches it
    while moving.
    """
    if machine.settle_s == 0.0 and machine.beam_delay_s == 0.0:
        return np.zeros(len(toolpath))
    moved = toolpath.lengths_mm > LENGTH_ZERO_MM
    kinds: npt.NDArray[np.uint8] = toolpath.moves["kind"][moved]
    after_travel = np.zeros(len(kinds), dtype=bool)
    if len(kinds):
        after_travel[0] = kinds[0] != MoveKind.TRAVEL
        after_travel[1:] = (kinds[:-1] == MoveKind.TRAVEL) & (kinds[1:] != MoveKind.TRAVEL)
    burning = toolpath.burning[moved]
    waits = np.zeros(len(toolpath))
    waits[moved] = after_travel * machine.settle_s + (after_travel & burning) * machine.beam_delay_s
    return waits
