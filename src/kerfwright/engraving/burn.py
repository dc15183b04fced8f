"""How an area is burned, and the closed forms that its ways are judged by."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.kernel import SHARE_ZERO
from kerfwright.motion.timing import run_up_mm
from kerfwright.shop.machine import AxisLimits, Dialect, Machine
from kerfwright.shop.material import Recipe

UNCOVERED_SHARE = 0.0004
"""Share of an area that the planner may leave unburned: less than half of the 0.1 % that a plan
promises, so that the roundings of both ways never use up the promise."""

STEEPEST_SLANT = 0.1
"""Run-ups may lean this much towards the next row, as height over length."""

SHORT_ROW_MM = 4.0
"""The run-up is taken that is best for rows of this length: of longer ones it is a small part."""

LEANING_LONGER = 1.001 / STEEPEST_SLANT
"""Run-ups made longer so that they can lean get a hair more than that takes."""

SHORTEST_MEAN = 0.5
"""A bend lies between a run-up and a burn, whose mean length is at least this share of it."""

MOST_BEND_SHARE = 0.5
"""Bends that need more than this share of an axis' acceleration are not made."""


@dataclass(frozen=True, slots=True)
class Burn:
    """Settings of one engraving; ``source`` goes into every burning move."""

    speed_mm_s: float
    power: float
    interval_mm: float
    spot_mm: float
    source: int
    one_way: bool = False
    """Rows all burned in one direction, coming back with the beam off."""
    slowest: float = 1.0
    """Share of the speed from which on rows burn while they speed up and slow down."""

    @property
    def footprint_mm(self) -> float:
        """Width that one line is counted to burn: the spot, and never less than the interval.

        A spot narrower than the interval leaves stripes that the recipe asked for; they are
        not counted as uncovered.
        """
        return max(self.spot_mm, self.interval_mm)


def burn_of(recipe: Recipe, machine: Machine, source: int) -> Burn:
    """Read the burn of an engraving or photo from its recipe.

    Raises:
        ValueError: the recipe has no interval, which its file's reader refuses.
    """
    if recipe.interval_mm is None:
        raise ValueError("the recipe must have an interval")
    return Burn(
        recipe.speed_mm_s,
        recipe.power,
        recipe.interval_mm,
        machine.spot_mm,
        source,
        one_way=recipe.row_direction == "one",
        slowest=slowest_of(recipe),
    )


def slowest_of(recipe: Recipe) -> float:
    """Share of the speed from which on rows burn: all of it where slopes have their own powers."""
    return 1.0 if recipe.shoulder_mm > 0.0 else recipe.slowest_row


def standstill_share(recipe: Recipe, machine: Machine) -> float:
    """Share of the power that is right at a standstill: 0 where the power follows the speed."""
    if recipe.corner_power is None or scales_itself(machine):
        return 0.0
    return recipe.corner_power


def power_share(share: FloatArray, recipe: Recipe, machine: Machine) -> FloatArray:
    """Share of the power that burns as deep as all of it at shares of the recipe's speed."""
    standstill = standstill_share(recipe, machine)
    return standstill + (1.0 - standstill) * share


def scales_itself(machine: Machine) -> bool:
    """Whether the controller lowers the power with the speed."""
    return machine.controller.dialect is Dialect.GRBL_TYPE


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
    one_way: bool = False
    """Whether the beam comes back to where the row began before it burns the next."""
    steepest: float = 0.0
    """Steepest slant of run-ups towards the next row; 0 where they must run straight on."""
    entry_mm_s: float = math.inf
    """Speed at both ends of a row, if less than the burning speed."""
    acceleration_mm_s2: float = math.inf
    """With which rows that are entered so come to the burning speed."""

    @property
    def row_speed_mm_s(self) -> float:
        """Length of a row over its seconds without a turn: half the speed if it is driven twice."""
        return 0.5 * self.speed_mm_s if self.one_way else self.speed_mm_s

    def row_s(self, length_mm: FloatArray) -> FloatArray:
        """Seconds of rows without gaps, turns included."""
        return self.turn_s + self.along_s(length_mm)

    def along_s(self, length_mm: FloatArray) -> FloatArray:
        """Seconds from end to end of rows, gaps crossed and coming back included."""
        back_s = length_mm * (1.0 / self.row_speed_mm_s - 1.0 / self.speed_mm_s)
        v, u, a = self.speed_mm_s, self.entry_mm_s, self.acceleration_mm_s2
        if u >= v:
            return length_mm / v + back_s
        longest = np.minimum(length_mm, (v * v - u * u) / a)
        peak = np.sqrt(u * u + a * longest)
        return 2.0 * (peak - u) / a + (length_mm - longest) / v + back_s

    @property
    def closed_form(self) -> FloatArray:
        """What :func:`~kerfwright.engraving.rows_kernel.along_s` has to know, and a turn's seconds;
        shape (5,).
        """
        return np.array(
            [
                self.speed_mm_s,
                min(self.entry_mm_s, self.speed_mm_s),
                self.acceleration_mm_s2,
                1.0 / self.row_speed_mm_s - 1.0 / self.speed_mm_s,
                self.turn_s,
            ]
        )

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
                self.turn_s - 4.0 * self.run_up_mm / min(self.entry_mm_s, self.speed_mm_s),
                self.steepest,
                float(self.one_way),
            ]
        )

    def cross_s(
        self, gap_mm: FloatArray, before_mm: FloatArray, after_mm: FloatArray
    ) -> FloatArray:
        """Seconds more for a row that goes on over a gap, beam off, than for what lies before and
        after it; less than nothing where that saves slowing down.
        """
        over = self.along_s(before_mm + gap_mm + after_mm)
        return over - self.along_s(before_mm) - self.along_s(after_mm)

    def jump_s(self, gap_mm: FloatArray) -> FloatArray:
        """Seconds over a gap by running out, travelling and running up; infinite if too short.

        The travel is entered at the speed u of a row's ends. A machine that must settle after a
        travel ends it at rest, any other at u again.
        """
        middle = np.abs(gap_mm) - 2.0 * self.run_up_mm
        u = min(self.entry_mm_s, self.speed_mm_s)
        top, a = self.travel.speed_mm_s, self.travel.acceleration_mm_s2
        end = 0.0 if self.settle_s > 0.0 else u
        distance = np.maximum(middle, 0.0)
        mean2 = 0.5 * (u * u + end * end)
        peak = np.minimum(np.sqrt(mean2 + a * distance), top)
        ramps = (peak * peak - mean2) / a
        travel_s = (2.0 * peak - u - end) / a + np.maximum(distance - ramps, 0.0) / peak
        run_ups_s = (3.0 if self.settle_s > 0.0 else 2.0) * self.run_up_mm / u
        possible = (middle > 0.0) & (peak > u) & (top > u)
        back_s = np.abs(gap_mm) * (1.0 / self.row_speed_mm_s - 1.0 / self.speed_mm_s)
        return np.where(possible, travel_s + self.settle_s + run_ups_s + back_s, np.inf)

    def gap_s(self, gap_mm: FloatArray, before_mm: FloatArray, after_mm: FloatArray) -> FloatArray:
        """Seconds over a gap by the faster of the two."""
        return np.minimum(self.cross_s(gap_mm, before_mm, after_mm), self.jump_s(gap_mm))


def row_motion(machine: Machine, burn: Burn, angle_deg: float) -> RowMotion:
    """Work out the numbers for rows at ``angle_deg``; run-up is u²/(2a) of the scanning axes, with
    the speed u at the ends of rows.
    """
    scanning = along(machine.scanning, angle_deg)
    across = along(machine.scanning, angle_deg + 90.0)
    speed = min(burn.speed_mm_s, scanning.speed_mm_s)
    acceleration = scanning.acceleration_mm_s2
    lowest = min(burn.slowest * burn.speed_mm_s, speed)
    step_s = float(Line(speed, across.acceleration_mm_s2).travel_s(np.array(burn.interval_mm)))

    def straight(entry: float) -> RowMotion:
        return RowMotion(
            speed_mm_s=speed,
            run_up_mm=run_up_mm(entry, machine.scanning, angle_deg),
            travel=along(machine.travel, angle_deg),
            settle_s=machine.settle_s,
            turn_s=2.0 * entry / acceleration + step_s,
            entry_mm_s=entry,
            acceleration_mm_s2=acceleration,
        )

    if burn.one_way:
        # out, back over both run-ups and in again, all with the acceleration of rows
        back_s = lowest * lowest / (acceleration * speed)
        turn_s = (2.0 * lowest + speed) / acceleration + back_s
        return replace(straight(lowest), turn_s=turn_s, one_way=True)
    # a run-up long enough to lean, at half the interval over its length, may be worth its way
    long_enough = min(math.sqrt(LEANING_LONGER * acceleration * burn.interval_mm), speed)
    ways = [straight(lowest)]
    for entry in {lowest, max(lowest, long_enough)}:
        leaning = _leaning(straight(entry), burn.interval_mm, across, machine, angle_deg)
        ways += [] if leaning is None else [leaning]
    return min(ways, key=lambda way: float(way.row_s(np.array(SHORT_ROW_MM))))


def _leaning(
    straight: RowMotion, interval_mm: float, across: Line, machine: Machine, angle_deg: float
) -> RowMotion | None:
    """Run-ups that lean half an interval towards the next row, so that two meet in one point.

    Nothing if the machine would slow down for the bends between run-ups and rows, as its clock
    (:mod:`kerfwright.motion.kernel`) limits corners and curves. What a bend of curvature
    φ / mean length needs of an axis, v² times that, is missing along the row, which the run-up
    makes up for by its length.
    """
    speed, run_mm = straight.entry_mm_s, straight.run_up_mm
    slant = 0.5 * interval_mm / run_mm
    if machine.corner_speed_mm_s is not None:
        corner = machine.corner_speed_mm_s / slant
    else:
        # 1 − cos(φ / 2) is φ² / 8 for small bends
        corner = math.sqrt(8.0 * across.acceleration_mm_s2 * machine.junction_deviation_mm) / slant
    if slant > STEEPEST_SLANT or corner < speed:
        return None
    bent = speed * speed * slant / (SHORTEST_MEAN * run_mm)
    angle = math.radians(angle_deg)
    left = []
    for limit, share, other in zip(
        machine.scanning.acceleration_mm_s2,
        (abs(math.cos(angle)), abs(math.sin(angle))),
        (abs(math.sin(angle)), abs(math.cos(angle))),
        strict=True,
    ):
        if bent * other > MOST_BEND_SHARE * limit:
            return None
        left.append((limit - bent * other) / max(share, slant))
    run_mm = max(run_mm, speed * speed / (2.0 * min(left)))
    return replace(
        straight,
        run_up_mm=run_mm,
        turn_s=2.0 * speed / along(machine.scanning, angle_deg).acceleration_mm_s2
        + 4.0 * (run_mm - straight.run_up_mm) / speed,
        steepest=slant * 1.001,
    )
