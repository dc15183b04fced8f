"""Bodies as they are placed: outlines with holes, in every pose that is allowed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from kerfwright.geometry.affine import rotation, scaling
from kerfwright.geometry.paths import FloatArray
from kerfwright.geometry.regions import as_area, rings_of
from kerfwright.nesting import kernel
from kerfwright.nesting.circles import inscribed_circles
from kerfwright.nesting.model import Placement

INSET_MM = 1e-7
"""Without spacing outlines are tested this much smaller, so that touching is no overlap."""

MOST_CIRCLES = 6
"""Circles inside an outline by which places are ruled out quickly."""


@dataclass(frozen=True, eq=False, slots=True)
class TurnedOutline:
    """A footprint in an allowed pose, moved to the corner (0, 0).

    ``tested`` are the rings that must keep clear, each of shape (n, 2); ``corner`` is where the
    turned footprint's lower left corner lay; ``key`` is the same for outlines that coincide.
    A ``mirrored`` one is mirrored left to right before it is turned.
    """

    turn_deg: float
    mirrored: bool
    tested: tuple[FloatArray, ...]
    moved: kernel.Moved
    size: tuple[float, float]
    corner: tuple[float, float]
    hole_spans: FloatArray
    """Low and high x of each hole's box, shape (holes, 2)."""
    key: bytes

    def placement(self, body: int, x_mm: float, y_mm: float) -> Placement:
        """Put the lower left corner at (x_mm, y_mm)."""
        return Placement(
            body, self.turn_deg, x_mm - self.corner[0], y_mm - self.corner[1], self.mirrored
        )


@dataclass(frozen=True, eq=False, slots=True)
class Kind:
    """What all copies of a body have in common while they are placed.

    ``ring`` is the outline with its holes filled, for engines that take no other. ``area_mm2`` is
    the footprint's area, ``outer_mm2`` the area with holes filled: what may have others in its
    holes has to be placed before them. ``turns`` are the poses that differ from one another,
    ``poses`` all that are allowed.
    """

    body: int
    ring: FloatArray
    area_mm2: float
    outer_mm2: float
    turns: tuple[TurnedOutline, ...]
    poses: tuple[TurnedOutline, ...]

    def turned(self, turn_deg: float, mirrored: bool = False) -> TurnedOutline:
        """Return the outline for one of the allowed poses."""
        return next(
            turn for turn in self.poses if (turn.turn_deg, turn.mirrored) == (turn_deg, mirrored)
        )


def kind_of(
    body: int,
    outline: FloatArray | BaseGeometry,
    turns_deg: Iterable[float],
    spacing_mm: float,
    *,
    may_mirror: bool = False,
) -> Kind:
    """Prepare a footprint, a ring or an area with holes; poses that repeat another are left out."""
    area = _oriented(as_area(outline if isinstance(outline, BaseGeometry) else Polygon(outline)))
    tested = _inset(area) if spacing_mm == 0.0 else area
    circles = inscribed_circles(tested, MOST_CIRCLES)
    turns: dict[bytes, TurnedOutline] = {}
    poses = []
    for mirrored in (False, True) if may_mirror else (False,):
        for turn_deg in dict.fromkeys(turns_deg):
            turned = _turned_outline(rings_of(area), rings_of(tested), circles, turn_deg, mirrored)
            turns.setdefault(turned.key, turned)
            poses.append(turned)
    outer = max(area.geoms, key=lambda polygon: Polygon(polygon.exterior).area)
    ring = rings_of(shapely.geometry.polygon.orient(Polygon(outer.exterior)))[0]
    return Kind(
        body, ring, float(area.area), float(Polygon(ring).area), tuple(turns.values()), tuple(poses)
    )


def _turned_outline(
    rings: Sequence[FloatArray],
    tested: Sequence[FloatArray],
    circles: FloatArray,
    turn_deg: float,
    mirrored: bool,
) -> TurnedOutline:
    pose = rotation(turn_deg) @ scaling(-1.0, 1.0) if mirrored else rotation(turn_deg)
    turned = [pose.apply(ring) for ring in rings]
    points = np.vstack(turned)
    low, high = points.min(axis=0), points.max(axis=0)
    clear = tuple(pose.apply(ring) - low for ring in tested)
    inside = np.column_stack([pose.apply(circles[:, :2]) - low, circles[:, 2] - INSET_MM])
    size = (float(high[0] - low[0]), float(high[1] - low[1]))
    spans = [
        (ring[:, 0].min() - low[0], ring[:, 0].max() - low[0])
        for ring in turned
        if _is_clockwise(ring) != mirrored
    ]
    return TurnedOutline(
        turn_deg=turn_deg,
        mirrored=mirrored,
        tested=clear,
        moved=kernel.Moved(edges_of(clear), probes_of(clear), inside, *size),
        size=size,
        corner=(float(low[0]), float(low[1])),
        hole_spans=np.array(spans).reshape(-1, 2),
        key=b"|".join(sorted(_key(ring - low) for ring in turned)),
    )


def _is_clockwise(ring: FloatArray) -> bool:
    x, y = ring.T
    return bool(np.dot(x, np.roll(y, -1)) < np.dot(np.roll(x, -1), y))


def _key(ring: FloatArray) -> bytes:
    rounded = np.round(ring, 6) + 0.0
    if _is_clockwise(rounded):
        rounded = rounded[::-1]
    return np.roll(rounded, -int(np.lexsort(rounded.T)[0]), axis=0).tobytes()


def edges_of(rings: Sequence[FloatArray]) -> FloatArray:
    """Ends of all edges, shape (n, 4)."""
    return np.ascontiguousarray(
        np.vstack([np.hstack([ring, np.roll(ring, -1, axis=0)]) for ring in rings])
    )


def probes_of(rings: Sequence[FloatArray]) -> FloatArray:
    """One point of each ring, shape (n, 2)."""
    return np.array([ring[0] for ring in rings])


def _inset(area: MultiPolygon) -> MultiPolygon:
    smaller = area.buffer(-INSET_MM, join_style="mitre", mitre_limit=100.0)
    whole = len(as_area(smaller).geoms) == len(area.geoms)
    return _oriented(as_area(smaller)) if whole else area


def _oriented(area: MultiPolygon) -> MultiPolygon:
    return MultiPolygon([shapely.geometry.polygon.orient(polygon) for polygon in area.geoms])
