"""Engraving in parallel rows, to and fro."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
import numpy.typing as npt
from shapely import MultiPolygon

from kerfwright.engraving.burn import Burn, RowMotion, row_motion
from kerfwright.engraving.row_groups import group_segments
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

    def doors(self, run_up_mm: float) -> FloatArray:
        """Where the rows can be entered: before the ends of the lowest and of the highest, shape
        (4, 2).
        """
        low, high = self.start[1] - 1, self.start[-2]
        bottom, top = self.y[0], self.y[-1]
        return np.array(
            [
                (self.a[0] - run_up_mm, bottom),
                (self.b[low] + run_up_mm, bottom),
                (self.a[high] - run_up_mm, top),
                (self.b[-1] + run_up_mm, top),
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

    Each row is burned at constant speed; run-up and slowing down happen outside the burn, over
    v²/(2a) of the scanning axes. Where the recipe allows it, rows burn from a lower speed u on and
    run up over u²/(2a) only (:mod:`kerfwright.engraving.row_ramps` sees to their power). Gaps in a
    row are crossed at speed with the beam off unless slowing down and travelling is faster. Both
    arrangements are timed and the faster is taken, unless ``arrangement`` names one. Rows are
    clipped exactly to the area; their burn ends are drawn in as
    :mod:`kerfwright.engraving.row_ends` says. The toolpath starts at the first run-up.

    Raises:
        KerfwrightError: ``engraving/too-many-rows``.

    """
    rows = rows_of(area, burn, angle_deg)
    motion = row_motion(machine, burn, angle_deg)
    together = np.zeros(len(rows.a), dtype=np.int64)
    choices: dict[Arrangement, IntArray] = {}
    if arrangement != "apart":
        choices["together"] = together
    if arrangement != "together":
        choices["apart"] = group_segments(rows, motion, burn.interval_mm)
        if arrangement is None and not choices["apart"].any():
            del choices["apart"]
    made: dict[Arrangement, Toolpath] = {}
    times: dict[Arrangement, float] = {}
    for way, group in choices.items():
        made[way] = _toolpath(_groups(rows, group, motion), rows, burn, motion, machine)
        times[way] = time_toolpath(made[way], machine).total_s
    best = min(times, key=lambda way: times[way])
    return Scan(
        made[best],
        angle_deg,
        best,
        times,
        rows.uncovered_mm2,
    )


def _groups(rows: Rows, group: IntArray, motion: RowMotion) -> list[_Group]:
    row = rows.row_of
    order = np.lexsort([rows.a, row, group]).astype(np.int64)
    same = (np.diff(row[order]) == 0) & (np.diff(group[order]) == 0)
    gap = np.flatnonzero(same)
    left, right = order[gap], order[gap + 1]
    long, wide = rows.b - rows.a, rows.a[right] - rows.b[left]
    jump = np.zeros(len(row), dtype=bool)
    jump[gap] = motion.jump_s(wide) < motion.cross_s(wide, long[left], long[right])
    cuts = np.flatnonzero(np.diff(group[order])) + 1
    made = []
    for place in np.split(np.arange(len(row)), cuts):
        if len(place) == 0:
            continue
        part = order[place]
        own, start = np.unique(row[part], return_index=True)
        bounds = np.append(start, len(part)).astype(np.int64)
        made.append(_Group(rows.y[own], bounds, rows.a[part], rows.b[part], jump[place]))
    return made


def _toolpath(
    groups: list[_Group],
    rows: Rows,
    burn: Burn,
    motion: RowMotion,
    machine: Machine,
) -> Toolpath:
    """Burn the groups nearest first, each from whichever end of its rows is nearest."""
    if not groups:
        return Toolpath(join([]))
    speed = travel_speed_mm_s(machine)
    numbers = motion.numbers
    turn = rotation(rows.angle_deg)
    doors = np.array([group.doors(motion.run_up_mm) for group in groups])
    left = np.ones(len(groups), dtype=bool)
    pieces: list[MoveArray] = []
    start: FloatArray | None = None
    at = np.min(doors.reshape(-1, 2), axis=0)
    for _ in groups:
        away = np.hypot(doors[:, :, 0] - at[0], doors[:, :, 1] - at[1])
        away[~left] = np.inf
        chosen, door = divmod(int(np.argmin(away)), 4)
        left[chosen] = False
        points, kind = _drive(groups[chosen], door, numbers)
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
        pieces.append(_moves(placed[1:], kind, burn, speed))
    assert start is not None
    return Toolpath(join(pieces), (float(start[0]), float(start[1])))


def _drive(group: _Group, door: int, numbers: FloatArray) -> tuple[FloatArray, IntArray]:
    """Points and kinds of a group's moves, entered at one of its four doors."""
    order = np.arange(len(group.y))
    return drive_rows(
        group.y,
        group.start,
        np.column_stack([group.a, group.b]),
        group.jump_after,
        order if door < 2 else order[::-1].copy(),
        door % 2 == 0,
        numbers,
    )


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
    motion = row_motion(machine, burn, angle_deg)
    if len(rows.a) == 0:
        return [], rows.uncovered_mm2
    speed = travel_speed_mm_s(machine)
    turn = rotation(angle_deg)
    blocks = []
    for group in _groups(rows, group_segments(rows, motion, burn.interval_mm), motion):
        toolpaths = []
        for door in range(4):
            points, kind = _drive(group, door, motion.numbers)
            placed = turn.apply(points)
            start = (float(placed[0, 0]), float(placed[0, 1]))
            toolpaths.append(Toolpath(_moves(placed[1:], kind, burn, speed), start))
        blocks.append(tuple(toolpaths))
    return blocks, rows.uncovered_mm2


def _moves(points: FloatArray, kind: IntArray, burn: Burn, travel_mm_s: float) -> MoveArray:
    moves = np.zeros(len(points), dtype=MOVE_DTYPE)
    moves["x_mm"], moves["y_mm"] = points[:, 0], points[:, 1]
    moves["kind"] = kind
    travels = kind == MoveKind.TRAVEL
    moves["speed_mm_s"] = np.where(travels, travel_mm_s, burn.speed_mm_s)
    moves["power"] = np.where(kind == MoveKind.ROW, burn.power, 0.0)
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
