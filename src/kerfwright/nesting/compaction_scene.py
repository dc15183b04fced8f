"""What lies on a sheet, as bodies that move whole, and the lines that keep them apart."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
import shapely
from shapely.affinity import affine_transform
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.nesting.compaction_kernel import Convex, IntArray, separating_lines
from kerfwright.nesting.convex_pieces import convex_pieces, hull_of
from kerfwright.nesting.footprint import material
from kerfwright.nesting.model import Body, Placement

CLOSE = 0.1
"""In such a round hulls stand for bodies further apart than this share of the step."""

ALLOWANCE_MM = 0.02
"""Outward allowance of ragged outlines, where the spacing leaves room for it."""

HAIR_MM = 1e-8
"""What contact keeps beyond the spacing, for the solver's rounding."""

SHORT_MM = 1e-6
"""Spacing may fall short by so much, as in the check of layouts."""

OVERLAP_MM2 = 1e-6
"""A smaller common area is rounding, as in the check of layouts."""


@dataclass(frozen=True, slots=True)
class Step:
    """How far bodies may go in one round, and whether their hulls may stand for them."""

    most_mm: float
    hulls: bool

    @property
    def least_gain(self) -> float:
        """Gain, in sizes of a body, below which such steps end: hulls only do the rough work."""
        return 0.5 if self.hulls else 0.0


@dataclass(eq=False, slots=True)
class Scene:
    """Everything on the sheet where it lay at first: bodies, then what is out of bounds."""

    areas: list[BaseGeometry]
    usable: BaseGeometry
    spacing_mm: float
    order: IntArray
    """Numbers of the placements that may move, then of those that stay."""
    loose: int
    hulls: Convex
    pieces: Convex
    pieces_of: IntArray
    boxes: FloatArray
    """Bounding boxes of the hulls."""
    bounds: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        self.bounds = np.asarray(shapely.bounds(self.areas), dtype=np.float64)

    @classmethod
    def of(
        cls,
        bodies: Sequence[Body],
        placements: Sequence[Placement],
        area: BaseGeometry,
        spacing_mm: float,
        fixed: frozenset[int],
    ) -> Scene:
        """Take bodies and the area's surroundings apart; bodies numbered ``fixed`` stay."""
        allowance_mm = min(ALLOWANCE_MM, spacing_mm / 4.0)
        materials = {p.body: material(bodies[p.body]) for p in placements}
        cut_up: dict[tuple[int, float, object], tuple[FloatArray, list[FloatArray], Placement]] = {}
        areas, hulls, pieces = [], [], []
        for p in placements:
            t = p.transform
            placed = affine_transform(materials[p.body], [t.a, t.c, t.b, t.d, t.e, t.f])
            areas.append(placed)
            key = (p.body, t.a, (t.b, t.c, t.d))
            if key not in cut_up:
                cut = convex_pieces(placed, allowance_mm=allowance_mm)
                hull = hull_of(shapely.multipoints(np.vstack(cut)))
                cut_up[key] = (hull, cut, p)
            hull, cut, first = cut_up[key]
            shift = np.array([p.x_mm - first.x_mm, p.y_mm - first.y_mm])
            hulls.append(hull + shift)
            pieces.append([piece + shift for piece in cut])
        stay = sorted(i for i in fixed if 0 <= i < len(placements))
        order = [i for i in range(len(placements)) if i not in fixed] + stay
        loose = len(placements) - len(stay)
        hulls, pieces = [hulls[i] for i in order], [pieces[i] for i in order]
        for barrier in _barriers(area):
            hulls.append(barrier)
            pieces.append([barrier])
        return cls(
            areas=areas,
            usable=area,
            spacing_mm=spacing_mm,
            order=np.array(order, dtype=np.int64),
            loose=loose,
            hulls=_flat(hulls),
            pieces=_flat([piece for body in pieces for piece in body]),
            pieces_of=np.cumsum([0, *map(len, pieces)], dtype=np.int64),
            boxes=np.array([[*hull.min(axis=0), *hull.max(axis=0)] for hull in hulls]),
        )

    @property
    def size_mm(self) -> float:
        """The longer side of a body, as a rule."""
        return float(np.median((self.bounds[:, 2:] - self.bounds[:, :2]).max(axis=1)))

    @property
    def far_mm(self) -> float:
        """The longer side of the area."""
        x_low, y_low, x_high, y_high = self.usable.bounds
        return float(max(x_high - x_low, y_high - y_low))

    def lines(self, moved: FloatArray, step: Step) -> tuple[IntArray, FloatArray, FloatArray]:
        """Return pairs of bodies, the lines between them, and the room needed."""
        parts = len(self.order)
        all_moved = np.zeros((len(self.boxes), 2))
        all_moved[:parts] = moved[self.order]
        needed = np.full(len(self.boxes), self.spacing_mm + HAIR_MM)
        needed[parts:] = HAIR_MM
        near_mm = self.spacing_mm + 2.0 * math.sqrt(2.0) * step.most_mm
        pairs, lines = separating_lines(
            self.hulls,
            self.pieces,
            self.pieces_of,
            self.boxes,
            all_moved,
            self.loose,
            needed,
            (0.0 if step.hulls else CLOSE * step.most_mm, near_mm),
        )
        return pairs, lines, np.minimum(needed[pairs[:, 0]], needed[pairs[:, 1]])

    def edge_room(self, moved: FloatArray) -> tuple[FloatArray, FloatArray]:
        """How far the loose bodies may move down or left, and up or right, shape (loose, 2)."""
        bounds = self.bounds[self.order[: self.loose]]
        x_low, y_low, x_high, y_high = self.usable.bounds
        by = moved[self.order[: self.loose]]
        low = np.array([x_low, y_low]) - bounds[:, :2] - by
        high = np.array([x_high, y_high]) - bounds[:, 2:] - by
        return low, high

    def far_ends(self, cost_of_move: FloatArray) -> FloatArray:
        """Furthest ends of the bodies, against the way, shape (n, 2)."""
        return np.where(cost_of_move >= 0.0, self.bounds[:, 2:], -self.bounds[:, :2])

    def reach(self, moved: FloatArray) -> FloatArray:
        """Width and height of everything together."""
        high = (self.bounds[:, 2:] + moved).max(axis=0)
        return np.asarray(high - (self.bounds[:, :2] + moved).min(axis=0))

    def is_legal(self, moved: FloatArray) -> bool:
        """Whether the true outlines lie in the area and keep the spacing."""
        placed = [
            affine_transform(area, [1.0, 0.0, 0.0, 1.0, dx, dy])
            for area, (dx, dy) in zip(self.areas, moved.tolist(), strict=True)
        ]
        roomy = self.usable.buffer(SHORT_MM, join_style="mitre")
        shapely.prepare(roomy)
        if not bool(np.all(shapely.covers(roomy, placed))):
            return False
        reach_mm = max(self.spacing_mm - SHORT_MM, 0.0)
        tree = shapely.STRtree(placed)
        one, other = tree.query(placed, predicate="dwithin", distance=reach_mm)
        for i, j in zip(one.tolist(), other.tolist(), strict=True):
            if i < j and (
                self.spacing_mm > SHORT_MM or placed[i].intersection(placed[j]).area > OVERLAP_MM2
            ):
                return False
        return True


def _barriers(area: BaseGeometry) -> list[FloatArray]:
    """Convex pieces of what the box around the area has beyond it."""
    beyond = shapely.box(*area.bounds).difference(area)
    return convex_pieces(beyond, allowance_mm=0.0)


def _flat(rings: Sequence[FloatArray]) -> Convex:
    points = np.vstack(rings)
    start = np.cumsum([0, *map(len, rings)], dtype=np.int64)
    return Convex(np.ascontiguousarray(points[:, 0]), np.ascontiguousarray(points[:, 1]), start)
