"""Layouts of rectangles on a rectangular area: much shorter searched than by outlines.

First the skyline filling with its search over orders (:mod:`.skyline_kernel`); then, where few
enough rectangles leave something over or waste width, the exact search (:mod:`.perfect_kernel`).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.affine import rotation
from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.model import Body, Placement
from kerfwright.nesting.perfect_kernel import FOUND, pack_exactly
from kerfwright.nesting.skyline_kernel import EVEN, IntArray, decoded, search_orders

WORK = 4000
"""Orders tried; each takes some tens of microseconds."""

CHUNK = 500
"""Orders tried before ``stop`` is asked again."""

EXACT_WORK = 1_000_000
"""Rectangles laid down by the exact search in all: about a second."""

MOST_EXACTLY = 60
"""With more rectangles the exact search never ends in time."""

EXACT_WIDTHS = 4
"""Widths tried exactly between the least possible one and the one that was found."""

FINEST_PER_MM = 1000
"""The exact search takes sizes that are whole numbers of micrometres."""

STRAIGHT = 1e-9
"""Share of its box by which a rectangle's area may differ from it, for rounding."""


@dataclass(frozen=True, slots=True)
class _Way:
    """A rectangle as it lies: the turn, its size, and where its corner lay before it was moved."""

    turn_deg: float
    size: tuple[float, float]
    corner: tuple[float, float]


@dataclass(frozen=True, eq=False, slots=True)
class _Task:
    """Rectangles widened by the spacing, on an area widened by it."""

    bodies: tuple[int, ...]
    ways: tuple[tuple[_Way, ...], ...]
    copies: IntArray
    sizes: FloatArray
    """(kind, way, width and height); 0 for a way not allowed."""
    area: tuple[float, float]

    @property
    def total_mm2(self) -> float:
        """Area of all that is wanted."""
        return float((self.copies * self.sizes[:, 0, 0] * self.sizes[:, 0, 1]).sum())


@dataclass(frozen=True, eq=False, slots=True)
class _Packing:
    """Rows of (kind, way, x, y)."""

    rows: FloatArray
    used: float
    reach: float


def all_rectangles(bodies: Sequence[Body]) -> bool:
    """Whether every body is one rectangle (holes aside) that can be laid straight."""
    return bool(bodies) and all(_ways(body) for body in bodies)


def pack_rectangles(
    bodies: Sequence[Body],
    wanted: Counter[int],
    area: BaseGeometry,
    *,
    spacing_mm: float,
    seed: int,
    work: int = WORK,
    exact_work: int = EXACT_WORK,
    stop: Callable[[], bool] | None = None,
) -> tuple[Placement, ...] | None:
    """Fill ``area`` with as much of ``wanted`` (by body number) as it takes, from the left.

    Most area first, then the least width in use. ``area`` is where finished parts may lie, in the
    sheet's coordinates. ``None`` if it is no rectangle, or a wanted body none in any allowed turn:
    then this is no task for rectangles. What lies in a rectangle's holes is no part of it.

    The work is counted, not timed: the same seed gives the same layout unless ``stop`` ends it.
    """
    task = _task(bodies, wanted, area, spacing_mm)
    if task is None:
        return None
    asked = stop or _never
    best = _by_skyline(task, work, seed, asked)
    if best.rows.size and task.copies.sum() <= MOST_EXACTLY and not asked():
        best = _exactly(task, best, exact_work)
    x_low, y_low = area.bounds[:2]
    return tuple(_placement(task, row, x_low, y_low) for row in best.rows)


def _never() -> bool:
    return False


def _placement(task: _Task, row: FloatArray, x_low: float, y_low: float) -> Placement:
    kind, way = int(row[0]), task.ways[int(row[0])][int(row[1])]
    return Placement(
        task.bodies[kind],
        way.turn_deg,
        x_low + float(row[2]) - way.corner[0],
        y_low + float(row[3]) - way.corner[1],
    )


def _task(
    bodies: Sequence[Body], wanted: Counter[int], area: BaseGeometry, spacing_mm: float
) -> _Task | None:
    if area.is_empty or not _is_box(area):
        return None
    numbers = [number for number in sorted(wanted) if wanted[number] > 0]
    ways = [_ways(bodies[number]) for number in numbers]
    if not numbers or not all(ways):
        return None
    x_low, y_low, x_high, y_high = area.bounds
    sizes = np.zeros((len(numbers), 2, 2))
    for kind, those in enumerate(ways):
        for way, one in enumerate(those):
            sizes[kind, way] = one.size[0] + spacing_mm, one.size[1] + spacing_mm
    return _Task(
        bodies=tuple(numbers),
        ways=tuple(ways),
        copies=np.array([wanted[number] for number in numbers], dtype=np.int64),
        sizes=sizes,
        area=(x_high - x_low + spacing_mm, y_high - y_low + spacing_mm),
    )


def _is_box(area: BaseGeometry) -> bool:
    x_low, y_low, x_high, y_high = area.bounds
    box_mm2 = (x_high - x_low) * (y_high - y_low)
    return bool(box_mm2 > 0.0 and abs(box_mm2 - area.area) <= STRAIGHT * box_mm2)


def _ways(body: Body) -> tuple[_Way, ...]:
    """Return the different ways to lay a rectangle straight, none for another shape."""
    if len(body.footprint) != 1:
        return ()
    ring = shapely.get_coordinates(body.footprint[0].exterior)
    ways: list[_Way] = []
    for turn_deg in body.turns_deg:
        points = rotation(turn_deg).apply(ring)
        if not _is_box(Polygon(points)):
            continue
        (x, y), (width, height) = points.min(axis=0).tolist(), np.ptp(points, axis=0).tolist()
        known = (math.dist(way.size, (width, height)) <= EVEN for way in ways)
        if not any(known):
            ways.append(_Way(turn_deg, (width, height), (x, y)))
    return tuple(ways)


def _by_skyline(task: _Task, work: int, seed: int, stop: Callable[[], bool]) -> _Packing:
    kinds = np.repeat(np.arange(len(task.copies)), task.copies)
    best: _Packing | None = None
    best_order = kinds
    for key in _first_orders(task):
        order = kinds[np.argsort(-key[kinds], kind="stable")]
        spots = np.empty((len(order), 3))
        packing = _packing(order, spots, *decoded(order, task.sizes, task.area, spots))
        if best is None or _rank(packing) < _rank(best):
            best, best_order = packing, order
    assert best is not None
    for chunk in range(math.ceil(work / CHUNK)):
        if len(task.copies) == 1 or _is_perfect(task, best) or stop():
            break
        tries = min(CHUNK, work - chunk * CHUNK)
        spots, order, used, reach = search_orders(
            best_order, task.sizes, task.area, tries, (seed + chunk) % 2**31
        )
        packing = _packing(order, spots, used, reach)
        if _rank(packing) <= _rank(best):
            best, best_order = packing, order
    return best


def _first_orders(task: _Task) -> list[FloatArray]:
    longer, shorter = task.sizes[:, 0].max(axis=1), task.sizes[:, 0].min(axis=1)
    return [longer * shorter, longer, task.sizes[:, 0, 0], task.sizes[:, 0, 1], longer + shorter]


def _packing(order: IntArray, spots: FloatArray, used: float, reach: float) -> _Packing:
    laid = spots[:, 0] >= 0.0
    return _Packing(np.column_stack([order[laid], spots[laid]]), used, reach)


def _rank(packing: _Packing) -> tuple[float, float]:
    """Lower is better: more area, then less width."""
    return (-round(packing.used, 3), round(packing.reach, 6))


def _is_perfect(task: _Task, packing: _Packing) -> bool:
    """Whether everything lies in the least width that its area takes."""
    least = task.total_mm2 / task.area[1]
    return packing.used >= task.total_mm2 - 1e-3 and packing.reach <= least + EVEN


def _exactly(task: _Task, best: _Packing, work: int) -> _Packing:
    """Try to lay everything down in less width than was found, or at all."""
    whole = _whole_sizes(task.sizes)
    if whole is None or _is_perfect(task, best):
        return best
    sizes, unit_mm = whole
    width, top = (math.floor(side / unit_mm + EVEN) for side in task.area)
    sides = sizes[:, 0, 0] * sizes[:, 0, 1]
    least = max(math.ceil(int((task.copies * sides).sum()) / top), 1)
    all_laid = len(best.rows) == int(task.copies.sum())
    most = min(width, math.ceil(best.reach / unit_mm - EVEN) - 1) if all_laid else width
    if least > most:
        return best
    # the largest first; the first of two ways is the one with the lower number
    order = np.argsort(-sides, kind="stable")
    for narrow in sorted({least + (most - least) * i // EXACT_WIDTHS for i in range(EXACT_WIDTHS)}):
        found, _, rows = pack_exactly(
            sizes[order], task.copies[order], narrow, top, work // EXACT_WIDTHS
        )
        if found == FOUND:
            rows = rows[rows[:, 0] >= 0]
            kinds = order[rows[:, 0]]
            spots = rows[:, 2:] * unit_mm
            right = spots[:, 0] + task.sizes[kinds, rows[:, 1], 0]
            return _Packing(
                np.column_stack([kinds, rows[:, 1], spots]), task.total_mm2, float(right.max())
            )
    return best


def _whole_sizes(sizes: FloatArray) -> tuple[npt.NDArray[np.int64], float] | None:
    """Return sizes as whole numbers of the largest possible unit, and that unit."""
    fine = sizes * FINEST_PER_MM
    whole = np.round(fine).astype(np.int64)
    if np.abs(fine - whole).max() > EVEN * FINEST_PER_MM:
        return None
    unit = int(np.gcd.reduce(whole.ravel()))
    return whole // unit, unit / FINEST_PER_MM
