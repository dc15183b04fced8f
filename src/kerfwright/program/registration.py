"""Two marks read on the bed: how a program must be turned and moved to burn where they lie.

The transform is the rigid one of least squares (Kabsch, 1976; Umeyama, 1991): with two points it
takes the middle of the one pair onto that of the other and turns by the angle between them. Nothing
is scaled: what is measured too long or too short is an error of reading, or another sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.affinity import affine_transform

from kerfwright.cutting.tabs import HoldingTab
from kerfwright.engraving.photo_cells import PhotoPlace
from kerfwright.errors import KerfwrightError
from kerfwright.geometry.affine import Affine, translation
from kerfwright.geometry.regions import as_area
from kerfwright.motion.timing import run_up_mm
from kerfwright.nesting.model import SheetSize
from kerfwright.plan import Intended, PlannedSheet
from kerfwright.program.telling import more, place
from kerfwright.shop.machine import AxisLimits, Machine
from kerfwright.toolpath import MoveKind, Toolpath

Pair = tuple[tuple[float, float], tuple[float, float]]

LEAST_APART_MM = 10.0
"""Nearer marks say nothing about an angle: 0.1 mm beside one turns the sheet by half a degree."""

SHARE_KEPT = 0.999
"""A speed or acceleration that falls by less than this is the same."""

RUN_UP_SHORT_MM = 0.01
"""A run-up may fall short by so much: rounding."""


@dataclass(frozen=True, slots=True)
class Registration:
    """Where a program belongs on the bed: ``transform`` from its coordinates to the machine's.

    ``apart_mm`` says how much further apart the marks were read than they are in the program.
    """

    transform: Affine
    turned_deg: float
    moved_mm: tuple[float, float]
    """By how much the middle between the marks moves."""
    apart_mm: float


def registration_of(marks: Pair, read: Pair, *, tolerance_mm: float) -> Registration:
    """Return the transform that takes two marks of a program to where they were read.

    Raises:
        KerfwrightError: ``program/marks-too-near``; ``program/marks-differ`` where the distances
            differ by more than ``tolerance_mm``.
    """
    planned, found = np.array(marks, dtype=np.float64), np.array(read, dtype=np.float64)
    along, along_found = planned[1] - planned[0], found[1] - found[0]
    apart, apart_found = float(np.hypot(*along)), float(np.hypot(*along_found))
    if min(apart, apart_found) < LEAST_APART_MM:
        raise KerfwrightError(
            "program/marks-too-near",
            file="marks",
            thing=f"the marks lie only {min(apart, apart_found):.2f} mm apart, which says nothing "
            "certain about an angle.",
            remedy="Take two marks as far apart as the sheet allows.",
        )
    if abs(apart_found - apart) > tolerance_mm:
        raise KerfwrightError(
            "program/marks-differ",
            file="marks",
            thing=f"the marks are {apart:.3f} mm apart in the program and were read "
            f"{apart_found:.3f} mm apart, {abs(apart_found - apart):.3f} mm off; "
            f"{tolerance_mm:g} mm are allowed.",
            remedy="Read both marks again, in the same order. If the sheet really is longer or "
            "shorter, plan it again; a larger tolerance allows more.",
        )
    turn = math.atan2(
        along[0] * along_found[1] - along[1] * along_found[0], float(along @ along_found)
    )
    cos, sin = math.cos(turn), math.sin(turn)
    middle, middle_found = planned.mean(axis=0), found.mean(axis=0)
    turned = Affine(cos, sin, -sin, cos)
    transform = translation(*middle_found.tolist()) @ turned @ translation(*(-middle).tolist())
    moved_x, moved_y = (middle_found - middle).tolist()
    return Registration(transform, math.degrees(turn), (moved_x, moved_y), apart_found - apart)


def turned_toolpath(toolpath: Toolpath, transform: Affine) -> Toolpath:
    """Move every end of a toolpath; it still begins where the machine stands, at its zero."""
    moves = toolpath.moves.copy()
    points = transform.apply(np.column_stack([moves["x_mm"], moves["y_mm"]]))
    moves["x_mm"], moves["y_mm"] = points[:, 0], points[:, 1]
    return replace(toolpath, moves=moves)


def turned_sheet(sheet: PlannedSheet, transform: Affine, machine: Machine) -> PlannedSheet:
    """Return what is wanted of a sheet where it lies on the bed; its edge is the bed's then."""
    wanted = sheet.intended
    spots = transform.apply(np.array([[t.x_mm, t.y_mm] for t in wanted.tabs]).reshape(-1, 2))
    intended = Intended(
        cuts=tuple(path.transformed(transform) for path in wanted.cuts),
        scores=tuple(path.transformed(transform) for path in wanted.scores),
        area=_moved(wanted.area, transform),
        photos=tuple(
            PhotoPlace(one.picture.transformed(transform), _moved(one.area, transform))
            for one in wanted.photos
        ),
        relief=_moved(wanted.relief, transform),
        tabs=tuple(
            HoldingTab(x, y, tab.width_mm)
            for (x, y), tab in zip(spots.tolist(), wanted.tabs, strict=True)
        ),
    )
    return replace(
        sheet,
        parts=tuple(part.transformed(transform) for part in sheet.parts),
        intended=intended,
        sheet=SheetSize(sheet.sheet.name, machine.bed_width_mm, machine.bed_height_mm, 1),
    )


def turning_faults(before: Toolpath, after: Toolpath, machine: Machine) -> tuple[str, ...]:
    """What a turned toolpath asks of the axes that it did not ask before.

    Along another direction an axis may hold a burn back, which then burns deeper, or the run-up
    before a row may be too short to come to speed.
    """
    return (*_held_back(before, after, machine), *_short_run_ups(before, after, machine))


def _held_back(before: Toolpath, after: Toolpath, machine: Machine) -> list[str]:
    burning = after.burning & (after.lengths_mm > 0.0)
    scanning = np.isin(after.moves["kind"], (MoveKind.ROW, MoveKind.RUN_UP))
    faults = []
    for of_kind, limits in ((scanning, machine.scanning), (~scanning, machine.cutting)):
        wanted = after.moves["speed_mm_s"]
        was = np.minimum(wanted, _along(before, limits.speed_mm_s))
        now = np.minimum(wanted, _along(after, limits.speed_mm_s))
        slower = np.flatnonzero(burning & of_kind & (now < SHARE_KEPT * was))
        if len(slower):
            first = slower[0]
            faults.append(
                f"A burn near {place(*after.points[first + 1])} would run at {now[first]:.1f} mm/s "
                f"instead of {was[first]:.1f}, held back by the slower axis{more(len(slower))}."
            )
    return faults


def _short_run_ups(before: Toolpath, after: Toolpath, machine: Machine) -> list[str]:
    """Run-ups too short along their new direction for the speed that rows were entered at."""
    kind = after.moves["kind"]
    into = np.flatnonzero((kind[:-1] == MoveKind.RUN_UP) & (kind[1:] == MoveKind.ROW))
    short = [
        move
        for move in into.tolist()
        if _missing_mm(before, after, move, machine.scanning) > RUN_UP_SHORT_MM
    ]
    if not short:
        return []
    first = short[0]
    missing_mm = _missing_mm(before, after, first, machine.scanning)
    return [
        f"The run-up to the row near {place(*after.points[first + 1])} is {missing_mm:.2f} mm too "
        f"short along this direction{more(len(short))}."
    ]


def _missing_mm(before: Toolpath, after: Toolpath, move: int, limits: AxisLimits) -> float:
    """Length that a run-up lacks; one that was too short to come to speed need not do so now."""
    was_mm, needed_mm = _run_up(before, move, limits)
    is_mm, needs_mm = _run_up(after, move, limits)
    return needs_mm * min(1.0, was_mm / needed_mm) - is_mm


def _run_up(toolpath: Toolpath, move: int, limits: AxisLimits) -> tuple[float, float]:
    """Length of a run-up, and what the burn after it needs to come to speed, in mm."""
    step = toolpath.points[move + 1] - toolpath.points[move]
    speed = float(toolpath.moves["speed_mm_s"][move + 1])
    angle_deg = math.degrees(math.atan2(step[1], step[0]))
    return float(np.hypot(*step)), run_up_mm(speed, limits, angle_deg)


def _along(toolpath: Toolpath, axes: tuple[float, float]) -> np.ndarray:
    """The most that both axes allow along each move; no bound for moves without length."""
    steps = np.abs(np.diff(toolpath.points, axis=0))
    length = toolpath.lengths_mm
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.where(steps > 0.0, np.asarray(axes) * length[:, None] / steps, np.inf)
    return np.asarray(shares.min(axis=1))


def _moved(area: MultiPolygon, t: Affine) -> MultiPolygon:
    moved = affine_transform(area, [t.a, t.c, t.b, t.d, t.e, t.f])
    return as_area(moved if moved.is_valid else shapely.make_valid(moved))
