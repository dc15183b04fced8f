"""Pieces and walls as the kernels take them: few points, wide enough, circles inside."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.affine import rotation, scaling
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.nesting.circles import inscribed_circles
from kerfwright.nesting.search.model import Piece, Spot
from kerfwright.nesting.search.overlap_kernel import IntArray, Shapes

CONTACT_MM = 4e-10
"""Outlines are searched so much smaller, so that those which touch do not overlap."""

WALL_INSET_MM = 1e-7
"""Walls are so much smaller: what touches them is inside."""

FEW_POINTS = 36
"""More points than this slow the search down."""

FINEST, COARSEST = 0.0005, 0.004
"""How far outlines are coarsened outward, as shares of their size."""

MOST_CIRCLES = 12
"""Circles that stand for an outline."""


@dataclass(frozen=True, eq=False, slots=True)
class Outlines:
    """All pieces in all turns, and walls.

    ``poses``: angle and mirroring of each outline. ``first``: shape (pieces + 1,), where the
    outlines of each piece begin. ``bare``: shape (outlines,), the same outline without spacing.
    ``walls``: numbers of the outlines that lie fixed, by board.
    """

    shapes: Shapes
    poses: tuple[tuple[float, bool], ...]
    first: tuple[int, ...]
    bare: IntArray
    walls: tuple[tuple[int, ...], ...]

    def outline(self, spot: Spot) -> int:
        """Return the number of a spot's outline, whose turn has to be an allowed one."""
        return min(
            range(self.first[spot.piece], self.first[spot.piece + 1]),
            key=lambda s: (
                self.poses[s][1] != spot.mirrored,
                abs((self.poses[s][0] - spot.turn_deg + 180.0) % 360.0 - 180.0),
            ),
        )


def outlines_of(
    pieces: Sequence[Piece], boards: Sequence[BaseGeometry], spacing_mm: float
) -> Outlines:
    """Prepare everything that a search on ``boards`` needs; spacing goes half to each piece."""
    smallest_mm2 = min((piece.area.area for piece in pieces), default=0.0)
    wide, bare, poses, first = [], [], [], [0]
    for piece in pieces:
        grown = _with_circles(_widened(piece.area, 0.5 * spacing_mm, smallest_mm2))
        true = _with_circles(_widened(piece.area, 0.0, smallest_mm2))
        for mirrored in (False, True) if piece.may_mirror else (False,):
            for turn_deg in dict.fromkeys(piece.turns_deg):
                wide.append(grown.posed(turn_deg, mirrored))
                bare.append(true.posed(turn_deg, mirrored))
                poses.append((turn_deg, mirrored))
        first.append(len(wide))
    walls: list[_Outline] = []
    by_board = []
    for board in boards:
        around = shapely.box(*board.bounds).difference(board)
        parts = as_area(around.buffer(-WALL_INSET_MM, join_style="mitre")).geoms
        number = 2 * len(wide) + len(walls)
        walls += [_with_circles(part) for part in parts]
        by_board.append(tuple(range(number, number + len(parts))))
    return Outlines(
        shapes=_flat([*wide, *bare, *walls]),
        poses=tuple(poses),
        first=tuple(first),
        bare=np.arange(len(wide), 2 * len(wide)),
        walls=tuple(by_board),
    )


@dataclass(frozen=True, eq=False, slots=True)
class _Outline:
    rings: tuple[FloatArray, ...]
    circles: FloatArray
    size: float

    def posed(self, turn_deg: float, mirrored: bool) -> _Outline:
        pose = rotation(turn_deg) @ scaling(-1.0, 1.0) if mirrored else rotation(turn_deg)
        circles = self.circles.copy()
        circles[:, :2] = pose.apply(circles[:, :2])
        return _Outline(tuple(pose.apply(ring) for ring in self.rings), circles, self.size)


def _widened(area: MultiPolygon, by_mm: float, smallest_mm2: float) -> BaseGeometry:
    """At least ``by_mm`` around the area, coarser outward until it has few points."""
    size = math.sqrt(shapely.convex_hull(area).area)
    by_mm -= CONTACT_MM
    best = _grown(area, by_mm, 0.0, smallest_mm2)
    step_mm = FINEST * size
    while len(shapely.get_coordinates(best)) > FEW_POINTS and step_mm <= COARSEST * size:
        coarser = _grown(area, by_mm, step_mm, smallest_mm2)
        best = min(best, coarser, key=lambda a: len(shapely.get_coordinates(a)))
        step_mm *= 2.0
    return best


def _grown(area: MultiPolygon, by_mm: float, step_mm: float, smallest_mm2: float) -> BaseGeometry:
    grown = area.buffer(by_mm + step_mm, join_style="mitre", mitre_limit=2.0)
    if step_mm > 0.0:
        # Douglas-Peucker strays by at most its tolerance; a little less than the growth is safe
        grown = shapely.make_valid(grown.simplify(0.95 * step_mm))
    return shapely.union_all([_without_small_holes(p, smallest_mm2) for p in as_area(grown).geoms])


def _without_small_holes(polygon: Polygon, smallest_mm2: float) -> Polygon:
    holes = [ring for ring in polygon.interiors if Polygon(ring).area >= smallest_mm2]
    return Polygon(polygon.exterior, holes)


def _with_circles(area: BaseGeometry) -> _Outline:
    return _Outline(
        tuple(rings_of(area)),
        inscribed_circles(area, MOST_CIRCLES),
        math.sqrt(shapely.convex_hull(area).area),
    )


def _flat(outlines: Sequence[_Outline]) -> Shapes:
    edges, probes = [], []
    for outline in outlines:
        edges.append(
            np.vstack([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in outline.rings])
        )
        probes.append(np.array([ring[0] for ring in outline.rings]))
    circles = [outline.circles for outline in outlines]
    boxes = [np.concatenate([edge[:, :2].min(axis=0), edge[:, :2].max(axis=0)]) for edge in edges]
    return Shapes(
        np.vstack(edges),
        _starts(edges),
        np.ascontiguousarray(np.vstack(circles).T),
        _starts(circles),
        np.vstack(probes),
        _starts(probes),
        np.array(boxes),
        np.array([outline.size for outline in outlines]),
    )


def _starts(parts: Sequence[FloatArray]) -> IntArray:
    return np.concatenate([[0], np.cumsum([len(part) for part in parts])]).astype(np.int64)
