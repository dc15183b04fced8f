"""An area that is filled edge on edge: tiles, and all places where one would touch another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
import shapely
from shapely import Polygon
from shapely.affinity import translate
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.nesting.board import Board, Kind, TurnedOutline, kind_of
from kerfwright.nesting.edge_kernel import ON_MM, anchors, contacts, matched_at
from kerfwright.nesting.footprint import material
from kerfwright.nesting.model import Body

LEAST_EDGE_MM = 2.0
"""Shorter edges are pieces of curves or corners cut off; sharing them saves nothing."""

MITRE_LIMIT = 2.05
"""As the beam lines are compensated: sharper corners are squared off."""

NOISE = 0.3
"""Share of an outline by which later tries misjudge a match, at most."""

SHORT_MM = 1e-6
"""The spacing may fall short by so much, as in the check of layouts."""


def tile_corners(body: Body, kerf_mm: float) -> list[FloatArray]:
    """Corners of the body's beam lines round the outside, one array (n, 2) for each outline."""
    outlines = [Polygon(p.exterior) for p in as_area(material(body)).geoms]
    grown = shapely.buffer(
        shapely.union_all(outlines), kerf_mm / 2.0, join_style="mitre", mitre_limit=MITRE_LIMIT
    )
    tidy = as_area(shapely.remove_repeated_points(grown.simplify(0.0), ON_MM))
    return [ring for polygon in tidy.geoms for ring in rings_of(polygon)[:1]]


def edge_rows(rings: Sequence[FloatArray], mirrored: bool) -> FloatArray:
    """Edges (ax, ay, bx, by) of closed rings that are long enough to share."""
    rows = []
    for ring in rings:
        along = ring[::-1] if mirrored else ring
        rows.append(np.hstack([along, np.roll(along, -1, axis=0)]))
    edges = np.vstack(rows)
    length = np.hypot(edges[:, 2] - edges[:, 0], edges[:, 3] - edges[:, 1])
    return np.ascontiguousarray(edges[length >= LEAST_EDGE_MM])


@dataclass(frozen=True, eq=False, slots=True)
class Pose:
    """A body in an allowed turn with its lower left corner at (0, 0)."""

    body: int
    kind: Kind
    turned: TurnedOutline
    edges: FloatArray
    around_mm: float
    tile: BaseGeometry
    part: BaseGeometry


def poses_of(number: int, body: Body, kerf_mm: float) -> list[Pose]:
    """Return a body in every allowed turn that differs from the others."""
    area = material(body)
    kind = kind_of(number, area, body.turns_deg, kerf_mm, may_mirror=body.may_mirror)
    rings = tile_corners(body, kerf_mm)
    poses = []
    for turned in kind.turns:
        at = turned.placement(number, 0.0, 0.0)
        placed = [at.transform.apply(ring) for ring in rings]
        part = shapely.transform(area, at.transform.apply)
        around = math.fsum(Polygon(ring).length for ring in placed)
        tile = shapely.union_all([Polygon(ring) for ring in placed])
        poses.append(
            Pose(number, kind, turned, edge_rows(placed, turned.mirrored), around, tile, part)
        )
    return poses


@dataclass(frozen=True, slots=True)
class Choice:
    """One way of choosing what to lay down next."""

    largest_first: bool
    """All copies of the largest body first, or whichever matches best."""
    wall_share: float
    reach_share: float


class Table:
    """An area being filled, with all places at which a part would touch what lies there."""

    def __init__(
        self, area: BaseGeometry, kerf_mm: float, spacing_mm: float, poses: Sequence[Pose]
    ) -> None:
        self.poses = poses
        self.board = Board(area, kerf_mm)
        self.matched_mm = 0.0
        self._spacing_mm = max(spacing_mm, kerf_mm)
        self._pose_edges = np.vstack([pose.edges for pose in poses])
        self._pose_start = np.cumsum([0, *(len(pose.edges) for pose in poses)], dtype=np.int64)
        self._body = np.array([pose.body for pose in poses])
        self._area = np.array([pose.kind.area_mm2 for pose in poses])
        self._around = np.array([pose.around_mm for pose in poses])
        self._width = np.array([pose.turned.size[0] for pose in poses])
        self._pose = np.empty(0, dtype=np.int64)
        self._places = np.empty((0, 2))
        self._parts_mm, self._wall_mm = np.empty(0), np.empty(0)
        self._tiles: list[BaseGeometry] = []
        self._parts: list[BaseGeometry] = []
        # a tile reaches half a kerf past the area in which its part may lie
        roomy = as_area(area.buffer(kerf_mm / 2.0, join_style="mitre", mitre_limit=5.0))
        rings = [ring[::-1] for polygon in roomy.geoms for ring in rings_of(polygon)]
        self._wall = edge_rows(rings, mirrored=False)
        self._edges = np.empty((0, 4))
        self._add_edges(self._wall)
        self._add_corners()

    def lay_best(
        self, bodies: frozenset[int], way: Choice, noise: np.random.Generator | None
    ) -> int | None:
        """Lay the copy of one of ``bodies`` that matches the largest share of its outline.

        Returns its body, ``None`` if none of them has a free place left.
        """
        open_ones = np.flatnonzero(np.isin(self._body[self._pose], list(bodies)))
        pose, places = self._pose[open_ones], self._places[open_ones]
        right = places[:, 0] + self._width[pose]
        further = np.maximum(right - self.board.reach_mm[0], 0.0) / self._width[pose]
        matched = self._parts_mm[open_ones] + way.wall_share * self._wall_mm[open_ones]
        share = matched / self._around[pose] - way.reach_share * further
        if noise is not None:
            share += NOISE * noise.random(len(share))
        # of equal shares what reaches least far to the right, then the largest, then the lowest
        order = np.lexsort(
            (places[:, 1], -self._area[pose], np.round(right, 3), -np.round(share, 6))
        )
        dropped: list[int] = []
        found: int | None = None
        for at in order.tolist():
            x_mm, y_mm = places[at].tolist()
            dropped.append(int(open_ones[at]))
            if self._may_lie(self.poses[int(pose[at])], x_mm, y_mm):
                found = at
                break
        # nothing is taken off again: a place that is not free never will be
        matched_mm = 0.0 if found is None else float(self._parts_mm[open_ones[found]])
        self._drop(dropped)
        if found is None:
            return None
        one = self.poses[int(pose[found])]
        self._lay(one, (float(places[found, 0]), float(places[found, 1])), matched_mm)
        return one.body

    def _drop(self, which: Sequence[int]) -> None:
        kept = np.ones(len(self._pose), dtype=bool)
        kept[list(which)] = False
        self._pose, self._places = self._pose[kept], self._places[kept]
        self._parts_mm, self._wall_mm = self._parts_mm[kept], self._wall_mm[kept]

    def _may_lie(self, pose: Pose, x_mm: float, y_mm: float) -> bool:
        if not self.board.is_free(pose.turned, x_mm, y_mm):
            return False
        if not self._parts:
            return True
        part = translate(pose.part, x_mm, y_mm)
        near = shapely.distance(part, self._parts) < self._spacing_mm - SHORT_MM
        if not near.any():
            return True
        tile = translate(pose.tile, x_mm, y_mm)
        return bool(np.all(shapely.distance(tile, np.array(self._tiles)[near]) <= ON_MM))

    def _lay(self, pose: Pose, place: tuple[float, float], matched_mm: float) -> None:
        self.board.put(pose.kind, pose.turned, *place)
        self.matched_mm += matched_mm
        self._parts.append(translate(pose.part, *place))
        self._tiles.append(translate(pose.tile, *place))
        new = pose.edges + np.array([*place, *place])
        self._parts_mm += self._matched(self._pose, self._places, new)
        self._add_edges(new)

    def _matched(
        self, pose: npt.NDArray[np.int64], places: FloatArray, others: FloatArray
    ) -> FloatArray:
        return np.asarray(matched_at(self._pose_edges, self._pose_start, pose, places, others))

    def _add_edges(self, new: FloatArray) -> None:
        """Note the places that new edges offer."""
        points = anchors(self._edges, new)
        self._edges = np.vstack([self._edges, new])
        for number, pose in enumerate(self.poses):
            self._add_places(number, contacts(pose.edges, self._edges, points))

    def _add_corners(self) -> None:
        """Note the left corners of the area's box, where a first part may lie."""
        x_low, y_low, _, y_high = self.board.area.bounds
        for number, pose in enumerate(self.poses):
            corners = [(x_low, y_low), (x_low, y_high - pose.turned.size[1])]
            self._add_places(number, np.array(corners))

    def _add_places(self, number: int, places: FloatArray) -> None:
        x_low, y_low, x_high, y_high = self.board.area.bounds
        low = np.array([x_low, y_low]) - ON_MM
        high = np.array([x_high, y_high]) + ON_MM - self.poses[number].turned.size
        inside = ((places > low) & (places < high)).all(axis=1)
        places = np.unique(np.round(places[inside], 9), axis=0)
        pose = np.full(len(places), number, dtype=np.int64)
        parts = self._edges[len(self._wall) :]
        self._pose = np.concatenate([self._pose, pose])
        self._places = np.vstack([self._places, places])
        self._parts_mm = np.concatenate([self._parts_mm, self._matched(pose, places, parts)])
        self._wall_mm = np.concatenate([self._wall_mm, self._matched(pose, places, self._wall)])
