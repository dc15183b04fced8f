"""Time of a toolpath on a machine."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.jerk import Motion
from kerfwright.motion.kernel import LENGTH_ZERO_MM, SHARE_ZERO, Rules, burn_and_rest, time_moves
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.toolpath import BURNS_BY_KIND, MoveKind, Toolpath


@dataclass(frozen=True, slots=True)
class Times:
    """Seconds of a toolpath on a machine; the three parts add up to ``total_s``."""

    burn_s: float
    travel_s: float
    """Beam off: travel, run-up and turning round."""
    wait_s: float
    """Settling, beam delays, piercing and setting the focus."""

    @property
    def total_s(self) -> float:
        """All seconds."""
        return self.burn_s + self.travel_s + self.wait_s


def move_times_s(toolpath: Toolpath, machine: Machine) -> FloatArray:
    """Seconds of every move, the waiting before it included, shape (n,).

    The machine starts and ends at rest and looks ahead over the whole toolpath.
    """
    waits = waits_s(toolpath, machine)
    return motion_of(toolpath, machine, waits).seconds + waits


def time_toolpath(toolpath: Toolpath, machine: Machine) -> Times:
    """Seconds of the whole toolpath, from rest to rest."""
    waits = waits_s(toolpath, machine)
    seconds = motion_of(toolpath, machine, waits).seconds
    moves = toolpath.moves
    burn_s, travel_s = burn_and_rest(seconds, moves["kind"], moves["power"], BURNS_BY_KIND)
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


def motion_of(toolpath: Toolpath, machine: Machine, waits: FloatArray) -> Motion:
    """What the machine does along a toolpath; it stands still wherever it waits."""
    moves = toolpath.moves
    x, y = np.empty(len(moves) + 1), np.empty(len(moves) + 1)
    x[0], y[0] = toolpath.start_mm
    x[1:], y[1:] = moves["x_mm"], moves["y_mm"]
    return time_moves(
        x,
        y,
        np.ascontiguousarray(moves["speed_mm_s"]),
        np.ascontiguousarray(moves["kind"]),
        _limits_by_kind(machine),
        waits > 0.0,
        _rules_of(machine),
    )


def _rules_of(machine: Machine) -> Rules:
    ahead = machine.controller.look_ahead_moves
    rate = machine.controller.moves_per_s
    return Rules(
        deviation_mm=machine.junction_deviation_mm,
        corner_mm_s=-1.0 if machine.corner_speed_mm_s is None else machine.corner_speed_mm_s,
        curves=machine.slows_in_curves,
        look_ahead=ahead or 0,
        moves_per_s=rate or 0.0,
        waiting_room=ahead or WAITING_ROOM,
    )


WAITING_ROOM = 16
"""Moves that wait ready in a controller of which nothing is known but their rate."""


def _limits_by_kind(machine: Machine) -> FloatArray:
    """Limits for :func:`~kerfwright.motion.kernel.time_moves`, a row for each kind of move."""
    table = np.empty((len(MoveKind), 6))
    table[:] = _row_of(machine.cutting)
    table[MoveKind.TRAVEL] = _row_of(machine.travel)
    table[MoveKind.ROW] = table[MoveKind.RUN_UP] = _row_of(machine.scanning)
    return table


def _row_of(limits: AxisLimits) -> tuple[float, ...]:
    return *limits.speed_mm_s, *limits.acceleration_mm_s2, *(limits.jerk_mm_s3 or (0.0, 0.0))


def waits_s(toolpath: Toolpath, machine: Machine) -> FloatArray:
    """Waiting before every move: settling after a travel, the beam's delay as it goes on, piercing
    and setting the focus.

    A beam that goes on in flight, after a run-up, does not wait: the controller switches it
    while moving.
    """
    standing = toolpath.moves["dwell_s"] + _focusing_s(toolpath, machine)
    if machine.settle_s == 0.0 and machine.beam_delay_s == 0.0:
        return standing
    moved = toolpath.lengths_mm > LENGTH_ZERO_MM
    kinds: npt.NDArray[np.uint8] = toolpath.moves["kind"][moved]
    after_travel = np.zeros(len(kinds), dtype=bool)
    if len(kinds):
        after_travel[0] = kinds[0] != MoveKind.TRAVEL
        after_travel[1:] = (kinds[:-1] == MoveKind.TRAVEL) & (kinds[1:] != MoveKind.TRAVEL)
    burning = toolpath.burning[moved]
    standing[moved] += after_travel * machine.settle_s
    standing[moved] += (after_travel & burning) * machine.beam_delay_s
    return standing


def _focusing_s(toolpath: Toolpath, machine: Machine) -> FloatArray:
    """Seconds to move the focus up or down before each move; it begins on the surface."""
    if machine.focus_speed_mm_s is None:
        return np.zeros(len(toolpath))
    step_mm = np.abs(np.diff(toolpath.moves["z_mm"], prepend=0.0))
    return np.asarray(step_mm / machine.focus_speed_mm_s)
