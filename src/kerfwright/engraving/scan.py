"""Engraving in parallel rows, to and fro."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn, RowMotion, paced_motions
from kerfwright.engraving.row_groups import group_segments
from kerfwright.engraving.row_paces import paced
from kerfwright.engraving.rows import Rows, rows_of
from kerfwright.engraving.rows_kernel import IntArray, drive_rows
from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.motion.timing import time_toolpath, travel_speed_mm_s
from kerfwright.shop.machine import Machine
from kerfwright.toolpath import MOVE_DTYPE, MoveArray, MoveKind, Toolpath, join, moves_along

Arrangement = Literal["together", "apart"]
"""All rows across the whole area, or groups of pieces one after the other."""


@dataclass(frozen=True, eq=False, slots=True)
class Scan:
    """A scanned area, the faster of its arrangements taken."""

    toolpath: Toolpath
    angle_deg: float
    arrangement: Arrangement
    times_s: dict[Arrangement, float]
    uncovered_mm2: float

    @property
    def seconds(self) -> float:
        """Seconds of the arrangement that was taken."""
        return self.times_s[self.arrangement]


@dataclass(frozen=True, eq=False, slots=True)
class _Group:
    """Segments that share rows."""

    y: FloatArray
    start: IntArray
    a: FloatArray
    b: FloatArray
    jump_after: npt.NDArray[np.bool_]
    pace: IntArray
    """Number of every row's pace."""

    def doors(self, run_ups_mm: FloatArray) -> FloatArray:
        """Where the rows can be entered: before the ends of the lowest and of the highest, shape
        (4, 2); ``run_ups_mm`` are by pace.
        """
        low, high = self.start[1] - 1, self.start[-2]
        bottom, top = self.y[0], self.y[-1]
        first, last = run_ups_mm[self.pace[0]], run_ups_mm[self.pace[-1]]
        return np.array(
            [
                (self.a[0] - first, bottom),
                (self.b[low] + first, bottom),
                (self.a[high] - last, top),
                (self.b[-1] + last, top),
            ]
        )


def scan(
    area: MultiPolygon,
    burn: Burn,
    machine: Machine,
    *,
    angle_deg: float = 0.0,
    arrangement: Arrangement | None = None,
) -> Scan:
    """Engrave ``area`` in rows at ``angle_deg``, counter-clockwise from x.

    Each row is burned at constant speed, the recipe's or where it allows that a slower one
    (:mod:`kerfwright.engraving.row_paces`); run-up and slowing down happen outside the burn, over
    v²/(2a) of the scanning axes. Gaps in a row are crossed at burning speed with the beam off
    unless slowing down and travelling is faster. Both arrangements are timed and the faster is
    taken, unless ``arrangement`` names one. Rows are clipped exactly to the area; their burn ends
    are drawn in as :mod:`kerfwright.engraving.row_ends` says. The toolpath starts at the first
    run-up.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.

    """
    rows = rows_of(area, burn, angle_deg)
    motions = paced_motions(machine, burn, angle_deg)
    together = np.zeros(len(rows.a), dtype=np.int64)
    choices: dict[Arrangement, IntArray] = {}
    if arrangement != "apart":
        choices["together"] = together
    if arrangement != "together":
        choices["apart"] = group_segments(rows, motions, burn.interval_mm)
        if arrangement is None and not choices["apart"].any():
            del choices["apart"]
    made: dict[Arrangement, Toolpath] = {}
    times: dict[Arrangement, float] = {}
    for way, group in choices.items():
        # what slower rows save is a closed form's word; the clock has the last one
        for paces in (motions, motions[:1]) if len(motions) > 1 else (motions,):
            toolpath = _toolpath(_groups(rows, group, paces), rows, burn, paces, machine)
            seconds = time_toolpath(toolpath, machine).total_s
            if way not in times or seconds < times[way]:
                made[way], times[way] = toolpath, seconds
    best = min(times, key=lambda way: times[way])
    return Scan(
        made[best],
        angle_deg,
        best,
        times,
        rows.uncovered_mm2,
    )


def _groups(rows: Rows, group: IntArray, motions: Sequence[RowMotion]) -> list[_Group]:
    found = paced(rows, group, motions)
    row = rows.row_of
    row_pace = np.repeat(found.pace, np.diff(np.append(found.first, len(found.order))))
    jump = np.zeros(len(row), dtype=bool)
    same = row[found.order][1:] == row[found.order][:-1]
    same &= group[found.order][1:] == group[found.order][:-1]
    wide = rows.a[found.order][1:] - rows.b[found.order][:-1]
    for number, motion in enumerate(motions):
        gap = np.flatnonzero(same & (row_pace[:-1] == number))
        jump[gap] = motion.jump_s(wide[gap]) < motion.cross_s(wide[gap])
    cuts = np.flatnonzero(np.diff(group[found.order])) + 1
    made = []
    for place in np.split(np.arange(len(row)), cuts):
        if len(place) == 0:
            continue
        part = found.order[place]
        own, start = np.unique(row[part], return_index=True)
        bounds = np.append(start, len(part)).astype(np.int64)
        pace = row_pace[place][start]
        made.append(_Group(rows.y[own], bounds, rows.a[part], rows.b[part], jump[place], pace))
    return made


def _toolpath(
    groups: list[_Group],
    rows: Rows,
    burn: Burn,
    motions: Sequence[RowMotion],
    machine: Machine,
) -> Toolpath:
    """Burn the groups nearest first, each from whichever end of its rows is nearest."""
    if not groups:
        return Toolpath(join([]))
    speed = travel_speed_mm_s(machine)
    numbers = _numbers(motions)
    turn = rotation(rows.angle_deg)
    doors = np.array([group.doors(numbers[:, 1]) for group in groups])
    left = np.ones(len(groups), dtype=bool)
    pieces: list[MoveArray] = []
    start: FloatArray | None = None
    at = np.min(doors.reshape(-1, 2), axis=0)
    for _ in groups:
        away = np.hypot(doors[:, :, 0] - at[0], doors[:, :, 1] - at[1])
        away[~left] = np.inf
        chosen, door = divmod(int(np.argmin(away)), 4)
        left[chosen] = False
        points, kind, pace = _drive(groups[chosen], door, numbers)
        at = points[-1]
        placed = turn.apply(points)
        if start is None:
            start = placed[0]
        else:
            pieces.append(
                moves_along(
                    placed[:1], kind=MoveKind.TRAVEL, speed_mm_s=speed, power=0.0, source=-1
                )
            )
        pieces.append(_moves(placed[1:], kind, pace, burn, speed))
    assert start is not None
    return Toolpath(join(pieces), (float(start[0]), float(start[1])))


def _numbers(motions: Sequence[RowMotion]) -> FloatArray:
    return np.array([motion.numbers for motion in motions])


def _drive(group: _Group, door: int, numbers: FloatArray) -> tuple[FloatArray, IntArray, IntArray]:
    """Points, kinds and paces of a group's moves, entered at one of its four doors."""
    order = np.arange(len(group.y))
    points, kind, row = drive_rows(
        group.y,
        group.start,
        np.column_stack([group.a, group.b]),
        group.jump_after,
        order if door < 2 else order[::-1].copy(),
        door % 2 == 0,
        numbers,
        group.pace,
    )
    return points, kind, group.pace[row]


def row_blocks(
    area: MultiPolygon, burn: Burn, machine: Machine, *, angle_deg: float, least_mm2: float
) -> tuple[list[tuple[Toolpath, ...]], float]:
    """Burn ``area`` in rows at ``angle_deg``, apart where that is faster, each block by itself.

    Returns the blocks, in no order and without the travel between them, each entered at its four
    corners in turn, and the area that stays uncovered in mm²: less than ``least_mm2`` in any
    space between two rows.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.

    """
    rows = rows_of(area, burn, angle_deg, least_mm2=least_mm2)
    motions = paced_motions(machine, burn, angle_deg)
    if len(rows.a) == 0:
        return [], rows.uncovered_mm2
    speed = travel_speed_mm_s(machine)
    numbers = _numbers(motions)
    turn = rotation(angle_deg)
    blocks = []
    for group in _groups(rows, group_segments(rows, motions, burn.interval_mm), motions):
        toolpaths = []
        for door in range(4):
            points, kind, pace = _drive(group, door, numbers)
            placed = turn.apply(points)
            start = (float(placed[0, 0]), float(placed[0, 1]))
            toolpaths.append(Toolpath(_moves(placed[1:], kind, pace, burn, speed), start))
        blocks.append(tuple(toolpaths))
    return blocks, rows.uncovered_mm2


def _moves(
    points: FloatArray, kind: IntArray, pace: IntArray, burn: Burn, travel_mm_s: float
) -> MoveArray:
    share = np.array(burn.paces)[pace]
    moves = np.zeros(len(points), dtype=MOVE_DTYPE)
    moves["x_mm"], moves["y_mm"] = points[:, 0], points[:, 1]
    moves["kind"] = kind
    travels = kind == MoveKind.TRAVEL
    moves["speed_mm_s"] = np.where(travels, travel_mm_s, share * burn.speed_mm_s)
    moves["power"] = np.where(kind == MoveKind.ROW, burn.power_at(share), 0.0)
    moves["source"] = np.where(travels, -1, burn.source)
    return moves


def repeated(toolpath: Toolpath, passes: int, machine: Machine) -> Toolpath:
    """Return the toolpath burned ``passes`` times over, travelling back between."""
    if passes == 1 or len(toolpath) == 0:
        return toolpath
    back = moves_along(
        np.array([toolpath.start_mm]),
        kind=MoveKind.TRAVEL,
        speed_mm_s=travel_speed_mm_s(machine),
        power=0.0,
        source=-1,
    )
    again = join([back, toolpath.moves])
    return replace(toolpath, moves=join([toolpath.moves, *[again] * (passes - 1)]))
