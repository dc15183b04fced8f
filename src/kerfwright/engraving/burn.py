"""How an area is burned, and the closed forms that its ways are judged by."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.kernel import SHARE_ZERO
from kerfwright.motion.timing import run_up_mm
from kerfwright.shop.machine import AxisLimits, Machine

UNCOVERED_SHARE = 0.0004
"""Share of an area that the planner may leave unburned: less than half of the 0.1 % that a plan
promises, so that the roundings of both ways never use up the promise."""


@dataclass(frozen=True, slots=True)
class Burn:
    """Settings of one engraving; ``source`` goes into every burning move."""

    speed_mm_s: float
    power: float
    interval_mm: float
    spot_mm: float
    source: int

    @property
    def footprint_mm(self) -> float:
        """Width that one line is counted to burn: the spot, and never less than the interval.

        A spot narrower than the interval leaves stripes that the recipe asked for; they are
        not counted as uncovered.
        """
        return max(self.spot_mm, self.interval_mm)

    @property
    def row_end_inset_mm(self) -> float:
        """How far a row's burn stops short of the outline: half of √(spot² − interval²).

        Two neighbouring round burn ends, one interval apart, cross at that distance beyond
        their centres. So the outline is closed between the rows and spilled over as little as
        that allows.
        """
        return 0.5 * math.sqrt(max(self.footprint_mm**2 - self.interval_mm**2, 0.0))


@dataclass(frozen=True, slots=True)
class Line:
    """Largest speed and acceleration along one direction; the tighter axis governs."""

    speed_mm_s: float
    acceleration_mm_s2: float

    def travel_s(self, distance_mm: FloatArray) -> FloatArray:
        """Seconds from rest to rest: trapezoid, or triangle 2·√(L/a) if the way is short."""
        v, a = self.speed_mm_s, self.acceleration_mm_s2
        distance = np.abs(distance_mm)
        return np.where(distance < v * v / a, 2.0 * np.sqrt(distance / a), distance / v + v / a)


def along(limits: AxisLimits, angle_deg: float) -> Line:
    """Limits along the direction ``angle_deg``."""
    angle = math.radians(angle_deg)
    share_x, share_y = max(abs(math.cos(angle)), SHARE_ZERO), max(abs(math.sin(angle)), SHARE_ZERO)
    (vx, vy), (ax, ay) = limits.speed_mm_s, limits.acceleration_mm_s2
    return Line(min(vx / share_x, vy / share_y), min(ax / share_x, ay / share_y))


@dataclass(frozen=True, slots=True)
class RowMotion:
    """The numbers that decide what happens between two burns of rows along one direction."""

    speed_mm_s: float
    run_up_mm: float
    travel: Line
    settle_s: float
    turn_s: float
    """Slowing down after a row, one interval across, and the next row's run-up."""

    @property
    def numbers(self) -> FloatArray:
        """What :func:`~kerfwright.engraving.rows_kernel.drive_rows` has to know of the machine."""
        return np.array(
            [
                self.speed_mm_s,
                self.run_up_mm,
                self.travel.speed_mm_s,
                self.travel.acceleration_mm_s2,
                self.settle_s,
                self.turn_s - 4.0 * self.run_up_mm / self.speed_mm_s,
            ]
        )

    def cross_s(self, gap_mm: FloatArray) -> FloatArray:
        """Seconds over a gap at burning speed, beam off."""
        return np.abs(gap_mm) / self.speed_mm_s

    def jump_s(self, gap_mm: FloatArray) -> FloatArray:
        """Seconds over a gap by running out, travelling and running up; infinite if too short.

        The travel is entered at burning speed v. A machine that must settle after a travel ends
        it at rest, any other at v again.
        """
        middle = np.abs(gap_mm) - 2.0 * self.run_up_mm
        v, top, a = self.speed_mm_s, self.travel.speed_mm_s, self.travel.acceleration_mm_s2
        end = 0.0 if self.settle_s > 0.0 else v
        distance = np.maximum(middle, 0.0)
        mean2 = 0.5 * (v * v + end * end)
        peak = np.minimum(np.sqrt(mean2 + a * distance), top)
        ramps = (peak * peak - mean2) / a
        travel_s = (2.0 * peak - v - end) / a + np.maximum(distance - ramps, 0.0) / peak
        run_ups_s = (3.0 if self.settle_s > 0.0 else 2.0) * self.run_up_mm / v
        possible = (middle > 0.0) & (peak > v) & (top > v)
        return np.where(possible, travel_s + self.settle_s + run_ups_s, np.inf)

    def gap_s(self, gap_mm: FloatArray) -> FloatArray:
        """Seconds over a gap by the faster of the two."""
        return np.minimum(self.cross_s(gap_mm), self.jump_s(gap_mm))


def row_motion(machine: Machine, burn: Burn, angle_deg: float) -> RowMotion:
    """Work out the numbers for rows at ``angle_deg``; run-up is v²/(2a) of the scanning axes."""
    scanning = along(machine.scanning, angle_deg)
    across = along(machine.scanning, angle_deg + 90.0)
    speed = min(burn.speed_mm_s, scanning.speed_mm_s)
    step_s = float(Line(speed, across.acceleration_mm_s2).travel_s(np.array(burn.interval_mm)))
    return RowMotion(
        speed_mm_s=speed,
        run_up_mm=run_up_mm(speed, machine.scanning, angle_deg),
        travel=along(machine.travel, angle_deg),
        settle_s=machine.settle_s,
        turn_s=2.0 * speed / scanning.acceleration_mm_s2 + step_s,
    )
