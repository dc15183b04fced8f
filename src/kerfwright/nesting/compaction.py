"""Slides placed parts together, none turned, until no part can give way to another.

Every round puts a line between each two bodies that neither may pass, and finds the best places
under these lines by linear programming; then new lines are put (Z. Li & V. Milenkovic 1995,
*Compaction and separation algorithms for non-convex polygons and their applications*, European
Journal of Operational Research 84). All parts move at once, so that a row gives way together. Parts
that overlap, are too close or lie beyond the area are first pushed apart by as little as the same
lines allow.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import get_args

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.compaction_scene import Scene, Step
from kerfwright.nesting.linear_rows import Rows
from kerfwright.nesting.model import Body, Placement
from kerfwright.shop.order import CompactTo

SIDES: tuple[CompactTo, ...] = get_args(CompactTo)
"""The sides and corners of the sheet to which parts may slide."""

ROUNDS = 40
"""Slides end after so many rounds at most; they seldom need ten."""

LEAST_GAIN_MM = 1e-3
"""A round that wins less in all is the last."""

STEP = 0.2
"""A round that lets bodies into one another's hollows moves them by so much of their size."""

SIDEWAYS = 1e-3
"""Cost of a move across the way that is asked for, so that parts do not wander."""

PUSH = 1e3
"""Cost of what is still missing of the spacing, against moves, while parts are pushed apart."""


@dataclass(frozen=True, slots=True)
class Compaction:
    """Placements in the order given; none worse off as a whole.

    ``gained_mm`` is the distance by which all parts together came closer to the side (0: nothing
    was moved), ``shorter_mm`` how much less of the sheet, in x and y, they reach over.
    ``legal`` is ``False`` where parts overlap, are too close or beyond the area, and could not be
    pushed apart: then the placements are those given.
    """

    placements: tuple[Placement, ...]
    gained_mm: float
    shorter_mm: tuple[float, float]
    rounds: int
    legal: bool


def compacted(
    bodies: Sequence[Body],
    placements: Sequence[Placement],
    area: BaseGeometry,
    *,
    spacing_mm: float,
    to: CompactTo = "bottom-left",
    fixed: frozenset[int] = frozenset(),
    rounds: int = ROUNDS,
    stop: Callable[[], bool] | None = None,
) -> Compaction:
    """Slide everything on one sheet towards a side or a corner, ``spacing_mm`` apart.

    ``area`` is where finished parts may lie, a polygon or several, with holes, in the sheet's
    coordinates; ``fixed`` holds the numbers of placements that stay where they are. Bodies keep
    their turns. Gaps that a part cannot reach by sliding stay. Outlines of more than 64
    points (convex ones: 200) end within 0.1 mm of contact, others in contact.
    """
    still = Compaction(tuple(placements), 0.0, (0.0, 0.0), 0, True)
    if not placements or shapely.is_empty(area):
        return replace(still, legal=not placements)
    scene = Scene.of(bodies, placements, area, spacing_mm, fixed)
    moved = np.zeros((len(placements), 2))
    if not scene.is_legal(moved):
        pushed = _pushed_apart(scene, rounds)
        if pushed is None:
            return replace(still, legal=False)
        moved = pushed
    way = _Way.to(to)
    start, done = moved, 0
    for step in (Step(scene.far_mm, hulls=True), Step(STEP * scene.size_mm, hulls=False)):
        while done < rounds and scene.loose and not (stop is not None and stop()):
            trial = _slid(scene, moved, way, step)
            done += 1
            if trial is None or not scene.is_legal(trial):
                break
            gain = way.cost(scene, moved) - way.cost(scene, trial)
            if gain > 0.0:
                moved = trial
            if gain < LEAST_GAIN_MM + step.least_gain * scene.size_mm:
                break
    gained = float(((moved - start) @ -way.cost_of_move).sum())
    before, after = scene.reach(start), scene.reach(moved)
    return Compaction(
        tuple(
            replace(p, x_mm=p.x_mm + dx, y_mm=p.y_mm + dy)
            for p, (dx, dy) in zip(placements, moved.tolist(), strict=True)
        ),
        max(gained, 0.0),
        (float(before[0] - after[0]), float(before[1] - after[1])),
        done,
        True,
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Way:
    """Towards where, as cost of a millimetre in x and y; 0 is sideways."""

    cost_of_move: FloatArray

    @classmethod
    def to(cls, side: CompactTo) -> _Way:
        words = side.split("-")
        x = ("left" in words) - ("right" in words)
        y = ("bottom" in words) - ("top" in words)
        return cls(np.array([x, y], dtype=np.float64))

    def cost(self, scene: Scene, moved: FloatArray) -> float:
        """What a round makes smaller: how far all parts reach, then where each lies."""
        far = scene.far_ends(self.cost_of_move) + moved * self.cost_of_move
        total = float((moved * self.cost_of_move).sum())
        return total + len(moved) * float((far.max(axis=0) * np.abs(self.cost_of_move)).sum())


def _slid(scene: Scene, moved: FloatArray, way: _Way, step: Step) -> FloatArray | None:
    """One round: the best places under the lines that hold now."""
    n = scene.loose
    pairs, lines, needed = scene.lines(moved, step)
    low, high = (np.clip(room, -step.most_mm, step.most_mm) for room in scene.edge_room(moved))
    sideways = way.cost_of_move == 0.0
    # columns: moves in x, moves in y, distance moved sideways, reach in x and y
    cost = np.concatenate([np.repeat(way.cost_of_move, n), np.full(n, SIDEWAYS), np.zeros(2)])
    cost[3 * n :] = np.abs(way.cost_of_move) * len(moved)
    rows = Rows()
    # what is short of the spacing by rounding or a coarse outline only must not get shorter
    rows.add_lines(pairs, lines, np.minimum(needed, lines[:, 2]), n)
    far = scene.far_ends(way.cost_of_move) + moved * way.cost_of_move
    most = far[scene.order[n:]].max(axis=0, initial=-math.inf)
    for axis in range(2):
        column = axis * n + np.arange(n)
        if sideways[axis]:
            rows.add_at_most_each(column, 1.0, 2 * n + np.arange(n), 0.0)
            rows.add_at_most_each(column, -1.0, 2 * n + np.arange(n), 0.0)
        else:
            sign = float(way.cost_of_move[axis])
            ends = far[scene.order[:n], axis]
            rows.add_at_most_each(column, sign, np.full(n, 3 * n + axis), -ends)
    bounds = np.vstack(
        [
            np.column_stack([np.minimum(low[:, 0], 0.0), np.maximum(high[:, 0], 0.0)]),
            np.column_stack([np.minimum(low[:, 1], 0.0), np.maximum(high[:, 1], 0.0)]),
            np.column_stack([np.zeros(n), np.full(n, math.inf)]),
            np.column_stack([most, np.full(2, math.inf)]),
        ]
    )
    moves = rows.solved(cost, bounds)
    if moves is None:
        return None
    result = moved.copy()
    result[scene.order[:n]] += moves[: 2 * n].reshape(2, n).T
    return result


def _pushed_apart(scene: Scene, rounds: int) -> FloatArray | None:
    """Moves that make everything legal, each as small as can be, or ``None``."""
    moved = np.zeros((len(scene.order), 2))
    for _ in range(rounds):
        if scene.loose == 0:
            return None
        pushed = _push(scene, moved)
        if pushed is None:
            return None
        moved = pushed
        if scene.is_legal(moved):
            return moved
    return None


def _push(scene: Scene, moved: FloatArray) -> FloatArray | None:
    n = scene.loose
    pairs, lines, needed = scene.lines(moved, Step(scene.size_mm, hulls=True))
    low, high = scene.edge_room(moved)
    missing = np.flatnonzero(lines[:, 2] < needed)
    # columns: moves in x and y, their lengths, what stays missing at lines, and at the edges
    wide = 4 * n + len(missing) + 2 * n
    rows = Rows()
    rows.add_lines(pairs, lines, needed, n, 4 * n, missing)
    for axis in range(2):
        column, length = axis * n + np.arange(n), (2 + axis) * n + np.arange(n)
        edge = 4 * n + len(missing) + axis * n + np.arange(n)
        rows.add_at_most_each(column, 1.0, length, 0.0)
        rows.add_at_most_each(column, -1.0, length, 0.0)
        rows.add_at_most_each(column, 1.0, edge, high[:, axis])
        rows.add_at_most_each(column, -1.0, edge, -low[:, axis])
    cost = np.full(wide, PUSH)
    cost[: 2 * n] = 0.0
    cost[2 * n : 4 * n] = 1.0
    bounds = np.column_stack([np.zeros(wide), np.full(wide, math.inf)])
    bounds[: 2 * n, 0] = -math.inf
    moves = rows.solved(cost, bounds)
    if moves is None:
        return None
    result = moved.copy()
    result[scene.order[:n]] += moves[: 2 * n].reshape(2, n).T
    return result
